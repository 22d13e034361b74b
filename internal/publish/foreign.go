package publish

import (
	"bytes"
	"encoding/xml"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/pattern"
)

// Foreign is what an archive made elsewhere says of its rows beside their
// values: what each was called, and under which licence it came. The rows stand
// in the lines of its table, the first on line 2.
type Foreign struct {
	IDs      []string
	Licences []string
}

// On gives identifier and licence of the row on a line of the table.
func (f *Foreign) On(line int) (id, licence string) {
	if i := line - 2; i >= 0 && i < len(f.IDs) {
		return f.IDs[i], f.Licences[i]
	}
	return "", ""
}

// checkNames are words in the type of an event that say it is a reading of a
// row, not a row; common practice, no source.
var checkNames = pattern.New(`(?i)\b(check|reading|revisit|lectura|revisi[oó]n|chequeo)s?\b`)

// derived are columns that say again what another says, or say nothing of a row
// by itself.
var derived = []string{"year", "month", "day", "startDayOfYear", "endDayOfYear", "footprintWKT", "footprintSRS", "parentEventID", "eventType", "eventCategory", "license", "type", "modified", "accessRights"}

// tables gives the events of an archive made elsewhere as tables that intake
// reads: one line for each row, cells that are empty filled from the events
// above it, and, where readings are events of their own, one line for each.
// Events above the rows have no line.
func (x *Archive) tables(name string) ([]Source, *Foreign, error) {
	t := newForeignTable(x)
	rows, checks := t.split()
	keep := t.columns(rows)
	f := &Foreign{}
	lines := [][]string{t.heads(keep)}
	for _, i := range rows {
		v := t.inherited(i)
		id := v["eventID"]
		if id == "" {
			id = t.ids[i]
		}
		f.IDs = append(f.IDs, id)
		f.Licences = append(f.Licences, licenceAt(or(v["license"], x.Licence)))
		line := make([]string, len(keep))
		for k, h := range keep {
			line[k] = clean(v[h])
		}
		lines = append(lines, line)
	}
	b, err := csvBytes(lines)
	if err != nil {
		return nil, nil, err
	}
	out := []Source{{name + "-event.csv", b}}
	if len(checks) == 0 {
		return out, f, nil
	}
	b, err = csvBytes(t.checkLines(rows, checks))
	return append(out, Source{name + "-check.csv", b}), f, err
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// foreignTable is the core of an archive with its links.
type foreignTable struct {
	x      *Archive
	ids    []string
	values []map[string]string
	at     map[string]int
	parent []int // -1 for none
	below  map[int][]int
}

func newForeignTable(x *Archive) *foreignTable {
	t := &foreignTable{x: x, ids: x.ids, at: map[string]int{}, below: map[int][]int{}}
	for i, l := range x.Lines {
		v := map[string]string{}
		for c, text := range l {
			if text != "" {
				v[x.Header[c]] = text
			}
		}
		if from, to, ok := strings.Cut(v["eventDate"], "/"); ok {
			v["eventDate"], v["eventDateEnd"] = from, to
		}
		t.values = append(t.values, v)
		t.at[t.ids[i]] = i
	}
	for i, v := range t.values {
		p, ok := t.at[v["parentEventID"]]
		if !ok || p == i {
			p = -1
		}
		t.parent = append(t.parent, p)
		if p >= 0 {
			t.below[p] = append(t.below[p], i)
		}
	}
	return t
}

// split says which events are rows and which are readings of them: readings say
// so by their type; rows have nothing but readings below them.
func (t *foreignTable) split() (rows, checks []int) {
	reading := func(i int) bool { return t.parent[i] >= 0 && checkNames.MatchString(t.values[i]["eventType"]) }
	for i := range t.values {
		switch {
		case reading(i):
			checks = append(checks, i)
		case !slices.ContainsFunc(t.below[i], func(k int) bool { return !reading(k) }):
			rows = append(rows, i)
		}
	}
	return rows, checks
}

// inherited are the values of an event, empty ones taken from those above it.
func (t *foreignTable) inherited(i int) map[string]string {
	v := map[string]string{}
	own := true
	for k, steps := i, 0; k >= 0 && steps < 20; k, steps = t.parent[k], steps+1 {
		for h, text := range t.values[k] {
			if _, there := v[h]; !there && (own || !slices.Contains([]string{"eventID", "fieldNumber", "eventRemarks", "fieldNotes", "samplingEffort", "sampleSizeValue", "sampleSizeUnit", "eventDateEnd"}, h)) {
				v[h] = text
			}
		}
		own = false
	}
	return v
}

// columns are the headings that some row fills. Where the rows have numbers of
// their own, these name them; what the archive called them is kept beside.
func (t *foreignTable) columns(rows []int) []string {
	used, numbers := map[string]bool{}, map[string]bool{}
	for _, i := range rows {
		v := t.inherited(i)
		for h := range v {
			used[h] = true
		}
		if n := v["fieldNumber"]; n != "" {
			numbers[n] = true
		}
	}
	ownNumbers := len(numbers) > 0 && len(numbers) == len(rows)
	var out []string
	for _, h := range append(slices.Clone(t.x.Header), "eventDateEnd") {
		if used[h] && !slices.Contains(derived, h) && !slices.Contains(out, h) && (h != "eventID" || !ownNumbers) && (h != "fieldNumber" || ownNumbers) {
			out = append(out, h)
		}
	}
	return out
}

func (t *foreignTable) heads(keep []string) []string {
	out := make([]string, len(keep))
	for i, h := range keep {
		out[i] = clean(h)
	}
	return out
}

// checkLines are the readings under the names of the rows they belong to,
// numbered by their time.
func (t *foreignTable) checkLines(rows, checks []int) [][]string {
	byNumber := !slices.Contains(t.columns(rows), "eventID")
	var heads []string
	for _, h := range t.x.Header {
		about := slices.Contains(derived, h) || strings.HasPrefix(h, "decimal") || slices.Contains([]string{"eventID", "fieldNumber", "eventDate", "habitat", "locality", "locationID", "samplingProtocol", "samplingEffort", "sampleSizeUnit", "geodeticDatum",
			"coordinateUncertaintyInMeters", "minimumDepthInMeters", "maximumDepthInMeters", "countryCode", "datasetID", "datasetName"}, h)
		if !about && slices.ContainsFunc(checks, func(i int) bool { return t.values[i][h] != "" }) {
			heads = append(heads, h)
		}
	}
	lines := [][]string{append([]string{"deployment_id", "check", "checked_at"}, t.heads(heads)...)}
	for _, row := range rows {
		id := t.ids[row]
		if v := t.values[row]; byNumber {
			id = v["fieldNumber"]
		} else if v["eventID"] != "" {
			id = v["eventID"]
		}
		list := slices.Clone(t.below[row])
		slices.SortStableFunc(list, func(a, b int) int { return strings.Compare(t.values[a]["eventDate"], t.values[b]["eventDate"]) })
		for n, i := range list {
			v := t.values[i]
			line := []string{clean(id), strconv.Itoa(n + 1), v["eventDate"]}
			for _, h := range heads {
				line = append(line, clean(v[h]))
			}
			lines = append(lines, line)
		}
	}
	return lines
}

// emlLicence is the licence that the description of an archive tells.
func emlLicence(b []byte) string {
	if plainXML(b) != nil {
		return ""
	}
	var path []string
	d := xml.NewDecoder(bytes.NewReader(b))
	found := ""
	for {
		tok, err := d.Token()
		if err != nil {
			return found
		}
		switch e := tok.(type) {
		case xml.StartElement:
			path = append(path, e.Name.Local)
			for _, a := range e.Attr {
				if e.Name.Local == "ulink" && a.Name.Local == "url" && slices.Contains(path, "intellectualRights") && found == "" {
					found = a.Value
				}
			}
		case xml.EndElement:
			path = path[:max(0, len(path)-1)]
		case xml.CharData:
			if n := len(path); n >= 2 && path[n-2] == "licensed" && path[n-1] == "identifier" && strings.TrimSpace(string(e)) != "" {
				return strings.TrimSpace(string(e))
			}
		}
	}
}
