package web

import (
	"errors"
	"net/http"
	"strconv"
	"strings"

	"soakline/internal/entry"
	"soakline/internal/logbook"
	"soakline/internal/task"
	"soakline/internal/words"
)

// typedNow is what is to be told of a sheet under way.
type typedNow struct {
	Wrong  error
	Doubts []string
	Sure   bool
	Looked bool
	values map[string]string // canonical, where all of it reads
}

// typeForm is the form of one paper sheet.
type typeForm struct {
	ID, Key, Head, Level, How string
	Known                     bool
	TypedBy                   string
	Who, Before               []typeField
	Setting, After, Sketch    []typeField
	Checks                    []typeCheck
	Keys                      []typeKey
	Reasons                   []listItem
	Wrong, Doubts             []string
	Sure                      bool
	Read                      []fact
	Row                       *rowView
	Scans                     []scanItem
	Typings                   []string
	Notes                     typeField
	LevelHref                 string
}

// typeField is one field of the sheet.
type typeField struct {
	Name, Label, Value, Hint string
	Figures                  int // of the boxes on the paper; 0 for a line to write on
	Wrong                    bool
	List                     []listItem
	First                    bool // where the typing begins
	Sum                      string
}

type listItem struct {
	N    string
	Text string
}

type typeKey struct{ Figure, Sign, Text string }

type typeCheck struct {
	N              int
	Soak           string
	Times          []typeField
	Counts         []typeField
	Boxes          []typeBox
	Reader, WhyNot typeField
	Heads          []typeField
	Baits          int
}

type typeBox struct {
	Name, Value string
	N           int
	Wrong       bool
}

// typeFormer makes the fields of one form.
type typeFormer struct {
	l     words.Language
	typed map[string]string
	wrong map[string]bool
	lists map[string][]string
	first bool // one field has been marked as the first
}

func (f *typeFormer) field(name, slug string, figures int, pairs ...any) typeField {
	x := typeField{Name: name, Label: sentence(sayPairs(f.l, slug, pairs...)), Value: f.typed[name], Figures: figures, Wrong: f.wrong[columnOf(name)]}
	for i, t := range f.lists[listOf(name)] {
		x.List = append(x.List, listItem{strconv.Itoa(i + 1), t})
	}
	if x.Value == "" && !f.first {
		x.First, f.first = true, true
	}
	return x
}

// columnOf is the column that a fault of a field is told of.
func columnOf(name string) string {
	switch name {
	case entry.Date:
		return "deployed_at"
	case entry.Position:
		return "latitude"
	case entry.Last:
		return "last_latitude"
	}
	return name
}

// listOf is the list from which a field may be typed by number.
func listOf(name string) string {
	if strings.HasPrefix(name, "reader_of_check") {
		return "observers"
	}
	return name
}

func (d *Desk) showTyping(w http.ResponseWriter, r *http.Request, b *opened, status int, t *typing, typed map[string]string, now typedNow) error {
	l := d.language()
	v := typeForm{ID: t.id, Key: t.key, Known: t.key != "", TypedBy: strings.TrimSpace(r.FormValue("typed-by")), Doubts: now.Doubts, Sure: now.Sure, Head: t.entry.Record.Head}
	if h := r.PostFormValue("head"); h != "" {
		v.Head = h
	}
	if v.TypedBy == "" {
		v.TypedBy = d.name()
	}
	f := &typeFormer{l: l, typed: typed, wrong: map[string]bool{}, lists: t.set.Lists}
	if now.Wrong != nil {
		var faulty *task.FaultyValues
		if errors.As(now.Wrong, &faulty) {
			for _, x := range faulty.Faults {
				f.wrong[x.Column] = true
			}
		}
		p, _ := explain(l, now.Wrong)
		v.Wrong = p.Lines
	}
	if t.again {
		v.How = "again"
	}
	v.Level = "counts"
	other := "stakes"
	if t.stakes {
		v.Level, other = other, v.Level
	}
	v.LevelHref = typeHref(firstOf(t.key, t.id), v.How) + "&level=" + other
	f.fill(&v, t)
	if now.values != nil {
		if err := d.readBack(r, &v, t, now); err != nil {
			return err
		}
	}
	err := b.book.View(r.Context(), func(tx *logbook.Tx) error {
		list, err := task.Typings(tx, t.key)
		for _, x := range list {
			v.Typings = append(v.Typings, typedLine(l, x, d.o.Now().Location()))
		}
		return err
	})
	if err != nil {
		return err
	}
	if v.Scans, err = scansOf(r, b, t); err != nil {
		return err
	}
	slug := "web.type.sheet"
	switch {
	case t.again:
		slug = "web.type.sheet-again"
	case t.id == "":
		slug = "web.type.sheet-new"
	}
	return d.show(w, r, b, status, "typing", l.Say(slug, words.P{"id": t.id}), v)
}

func firstOf(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// fill lays the fields out in the order of the paper sheet.
func (f *typeFormer) fill(v *typeForm, t *typing) {
	v.Who = []typeField{f.field("deployment_id", "field.deployment_id", 0)}
	if t.id != "" { // it stands printed on the sheet
		v.Who = nil
	}
	v.Who = append(v.Who, f.field("site", "paper.field.site", 0), f.field("habitat", "paper.field.habitat", 0),
		f.field(entry.Date, "paper.field.date", 8), f.field("observers", "paper.field.names", 0))
	v.Before = []typeField{f.field("watch_read_at", "paper.field.watch", 4), f.field("watch_against", "paper.field.watch-against", 0)}
	v.Setting = []typeField{f.field("people_out", "paper.field.heads-out", 2), f.field("people_back", "paper.field.heads-back", 2), f.field("deployed_at", "paper.field.first-in", 4), f.field("deployed_until", "paper.field.last-in", 4), f.field("baits_deployed", "paper.field.stakes-out", 2),
		f.field("depth_min_m", "paper.field.depth-min", 3), f.field("depth_max_m", "paper.field.depth-max", 3), f.field("depth_at", "paper.field.depth-at", 4),
		f.field(entry.Position, "paper.field.first-position", 0), f.field(entry.Last, "paper.field.last-position", 0), f.field("row_bearing_deg", "paper.field.bearing", 3), f.field("bait_batch", "paper.field.batch", 0),
		f.field("temperature_c", "paper.field.temperature", 3), f.field("visibility_m", "paper.field.visibility", 2), f.field("near_other_habitat", "web.type.near", 1)}
	for k := range t.set.Protocol.Checks {
		v.Checks = append(v.Checks, f.check(t, k+1))
	}
	v.After = []typeField{f.field("stakes_retrieved", "web.type.stakes-back", 2), f.field("retrieved_at", "paper.field.back-at", 4), f.field("stakes_left", "paper.field.stakes-left", 0)}
	side := f.field("first_stake_side", "paper.field.stake-1", 1)
	for i, s := range entry.Sides {
		side.List = append(side.List, listItem{strconv.Itoa(i + 1), f.l.Say("paper.side."+s, nil)})
	}
	v.Sketch = []typeField{side, f.field("landmarks", "web.type.landmarks", 0)}
	v.Notes = f.field("notes", "paper.head.notes", 0)
	for _, k := range entry.Keys {
		v.Keys = append(v.Keys, typeKey{k.Figure, k.Sign, f.l.Say("entry.fate-"+string(k.Fate), nil)})
	}
	for i, why := range entry.WhyNot {
		v.Reasons = append(v.Reasons, listItem{strconv.Itoa(i + 1), f.l.Say("paper.why."+why, nil)})
	}
}

func (f *typeFormer) check(t *typing, k int) typeCheck {
	n := strconv.Itoa(k)
	c := typeCheck{N: k, Soak: strconv.FormatFloat(t.set.Protocol.Checks[k-1].SoakH, 'f', -1, 64) + " h", Baits: t.set.Protocol.Baits}
	if x := atoi(f.typed["baits_deployed"]); x > 0 && x <= entry.MaxStakes {
		c.Baits = x
	}
	c.Times = []typeField{f.field("check"+n+"_at", "paper.field.read-from", 4), f.field("check"+n+"_until", "paper.field.read-until", 4)}
	for _, x := range []struct{ name, slug string }{{entry.PresentAt(k), "present"}, {"consumed_by_check" + n, "consumed"}, {"lost_by_check" + n, "not-known"}, {"unread_at_check" + n, "unread"}} {
		if t.stakes {
			break // the boxes say it
		}
		c.Counts = append(c.Counts, f.field(x.name, "paper.fate."+x.slug, 2))
	}
	for i := 1; i <= c.Baits && t.stakes; i++ {
		x := typeBox{Name: entry.FateAt(k, i), N: i}
		x.Value = f.typed[x.Name]
		x.Wrong = x.Value != "" && !strings.Contains("1234", x.Value)
		c.Boxes = append(c.Boxes, x)
	}
	c.Reader = f.field("reader_of_check"+n, "paper.field.reader", 0)
	c.WhyNot = f.field("why_no_check"+n, "paper.field.why-not-short", 1)
	c.Heads = []typeField{f.field("people_out_at_check"+n, "paper.field.heads-out", 2), f.field("people_back_at_check"+n, "paper.field.heads-back", 2)}
	return c
}

// readBack says what was understood: every field in full, and the row drawn.
func (d *Desk) readBack(r *http.Request, v *typeForm, t *typing, now typedNow) error {
	l := d.language()
	for _, c := range entry.Columns(len(t.set.Protocol.Checks), t.stakes) {
		if x := now.values[c]; x != "" && c != "deployment_id" {
			v.Read = append(v.Read, fact{fieldName(l, c), shownValue(c, x)})
		}
	}
	dep, ok := assayOf(now.values)
	if !ok || len(dep.Checks) == 0 {
		return nil
	}
	var err error
	v.Row, err = oneRow(r.Context(), l, &dep, t.set.Protocol, nil)
	return err
}
