package publish

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"maps"
	"slices"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/sheet"
)

// Release is the frozen list of what one publication held (release.json): each
// row by its identifier, with the SHA-256 of its published values.
type Release struct {
	Title   string            `json:"title"`
	Version string            `json:"version"`
	Date    string            `json:"date"`
	Rows    map[string]string `json:"rows"`
	// Withdrawn holds the identifiers of rows that earlier releases held: they
	// are never given to another row.
	Withdrawn []string `json:"withdrawn"`
	Changes   []change `json:"changes"`
}

// change is what happened to one row since the release before.
type change struct {
	Event string `json:"event_id"`
	Kind  string `json:"change"` // added, corrected, withdrawn, back
	Why   string `json:"why,omitempty"`
}

// ReadRelease reads a release.json.
func ReadRelease(text []byte) (*Release, error) {
	var p Release
	if err := json.Unmarshal(text, &p); err != nil || p.Rows == nil {
		return nil, refuse("previous-unreadable")
	}
	return &p, nil
}

// writeRows writes the list of rows as jsonBytes writes it at this indent, one by
// one, since a large one is not to be held as text as well.
func (p *Release) writeRows(w io.Writer, indent string) error {
	if len(p.Rows) == 0 {
		_, err := io.WriteString(w, "{}")
		return err
	}
	b := bufio.NewWriter(w)
	b.WriteByte('{')
	for i, id := range slices.Sorted(maps.Keys(p.Rows)) {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString("\n" + indent + "  " + text(id) + ": " + text(p.Rows[id]))
	}
	b.WriteString("\n" + indent + "}")
	return b.Flush()
}

// text is a text as JSON.
func text(s string) string { return strings.TrimSuffix(string(jsonBytes(s)), "\n") }

// write writes release.json.
func (p *Release) write(w io.Writer) error {
	const empty = "\"rows\": {}"
	rest := *p
	rest.Rows = map[string]string{}
	head, tail, ok := strings.Cut(string(jsonBytes(rest)), "\n  "+empty)
	if !ok {
		panic("publish: release.json has no rows")
	}
	if _, err := io.WriteString(w, head+"\n  "+strings.TrimSuffix(empty, "{}")); err != nil {
		return err
	}
	if err := p.writeRows(w, "  "); err != nil {
		return err
	}
	_, err := io.WriteString(w, tail)
	return err
}

// hashOf is the SHA-256 of a row's published canonical values.
func hashOf(d row) string {
	v := sheet.Values(d.Deployment)
	names := make([]string, 0, len(v))
	for n := range v {
		names = append(names, n)
	}
	sort.Strings(names)
	h := sha256.New()
	for _, n := range names {
		h.Write([]byte(n + "=" + strconv.Quote(v[n]) + "\n"))
	}
	return hex.EncodeToString(h.Sum(nil))
}

// freeze lists what this release holds and what changed since the one before.
func (r *release) freeze() (*Release, error) {
	out := &Release{Title: r.m.Title, Version: r.m.Version, Date: r.m.Date, Rows: map[string]string{}, Withdrawn: []string{}, Changes: []change{}}
	before := r.in.Previous
	if before == nil {
		before = &Release{}
	}
	gone := map[string]bool{}
	for _, id := range before.Withdrawn {
		gone[id] = true
	}
	for k := range r.keep {
		d := r.row(k)
		hash := hashOf(d)
		out.Rows[d.Event] = hash
		if r.in.Previous == nil {
			continue
		}
		why := ""
		if key := r.in.Deployments[r.keep[k]].Key; key != "" && r.in.Why != nil && d.Generalised == "" {
			why = r.guard(r.in.Why(key), "")
		}
		switch old, there := before.Rows[d.Event]; {
		case !there && gone[d.Event]:
			out.Changes = append(out.Changes, change{d.Event, "back", why})
			delete(gone, d.Event)
		case !there:
			out.Changes = append(out.Changes, change{d.Event, "added", why})
		case old != hash:
			out.Changes = append(out.Changes, change{d.Event, "corrected", why})
		}
	}
	var withdrawn []string
	for id := range before.Rows {
		if _, there := out.Rows[id]; !there {
			withdrawn = append(withdrawn, id)
		}
	}
	sort.Strings(withdrawn)
	for _, id := range withdrawn {
		why := ""
		if key, ok := strings.CutPrefix(id, "urn:uuid:"); ok && r.in.Why != nil {
			why = r.guard(r.in.Why(key), "")
		}
		out.Changes = append(out.Changes, change{id, "withdrawn", why})
		gone[id] = true
	}
	for id := range gone {
		out.Withdrawn = append(out.Withdrawn, id)
	}
	sort.Strings(out.Withdrawn)
	return out, nil
}

// Counts tells how many rows were added, corrected and withdrawn since the
// release before.
func (p *Release) Counts() map[string]int {
	n := map[string]int{}
	for _, c := range p.Changes {
		kind := c.Kind
		if kind == "back" {
			kind = "added"
		}
		n[kind]++
	}
	return n
}
