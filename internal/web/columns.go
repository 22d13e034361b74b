package web

import (
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/intake"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// mapView is how the columns of one shape of table are read.
type mapView struct {
	N       int
	Name    string
	Columns []columnView
}

type columnView struct {
	Name    string // of the form field
	Heading string
	Samples string
	Why     string
	To      string
	Groups  []optionGroup
}

type optionGroup struct {
	Label   string
	Options []option
}

// mapViews shows each map with a reason for each guess and what else each
// column could be.
func mapViews(l words.Language, h *hold, x *looked) []mapView {
	var out []mapView
	why := map[string]string{}
	for _, r := range x.proposal.Reasons {
		if r.Heading != "" {
			why[r.Heading+"\x00"+r.To] = l.Say(r.Slug, r.With)
		}
	}
	for n, m := range x.proposal.Maps {
		v := mapView{N: n, Name: m.Name}
		t := tableOf(h.tables, m.Fingerprint)
		checks := 2
		for _, c := range m.Columns {
			if _, k, ok := sheet.Find(sheet.Wide, strings.SplitN(c.To, ":", 2)[0]); ok {
				checks = max(checks, k)
			}
		}
		for i, c := range m.Columns {
			if c.Heading == "" {
				continue
			}
			col := columnView{Name: "c" + strconv.Itoa(n) + "." + strconv.Itoa(i), Heading: c.Heading, To: c.To, Why: why[c.Heading+"\x00"+c.To], Groups: targets(l, m.Table, c, checks)}
			if col.Why == "" {
				col.Why = l.Say("web.map.chosen", nil)
			}
			col.Why = sentence(col.Why)
			if t != nil {
				col.Samples = samples(t, i)
			}
			v.Columns = append(v.Columns, col)
		}
		out = append(out, v)
	}
	return out
}

func tableOf(tables []intake.Table, print string) *intake.Table {
	for i := range tables {
		if intake.Fingerprint(&tables[i]) == print {
			return &tables[i]
		}
	}
	return nil
}

// samples are a few different values of a column.
func samples(t *intake.Table, col int) string {
	var seen []string
	long := 0
	for i := 0; i < t.Len() && i < 400 && len(seen) < 3; i++ {
		text, _ := t.Cell(i, col)
		if r := []rune(text); len(r) > 24 {
			text = string(r[:23]) + "…"
		}
		if text != "" && !slices.Contains(seen, text) {
			if long += len(text); long > 44 && len(seen) > 0 {
				break // one line is enough to know a column by
			}
			seen = append(seen, text)
		}
	}
	return strings.Join(seen, " · ")
}

// targets lists what a column may be: the datasheet's columns with their ways
// of being written, a column of the team's own, or nothing.
func targets(l words.Language, table sheet.Table, c intake.Column, checks int) []optionGroup {
	found := false
	opt := func(value, label string) option {
		found = found || value == c.To
		return option{value, label, value == c.To}
	}
	row, own := optionGroup{Label: l.Say("web.map.row", nil)}, optionGroup{Label: l.Say("web.map.own", nil)}
	own.Options = []option{opt("skip", l.Say("web.map.skip", nil)), opt("covariate:"+c.Heading, l.Say("web.map.covariate", nil))}
	groups := make([]optionGroup, checks)
	for k := range groups {
		groups[k].Label = l.Say("web.form.check", words.P{"n": k + 1})
	}
	if table == sheet.Wide {
		row.Options = append(row.Options, opt("position", l.Say("web.map.position", nil)))
	}
	for _, def := range sheet.Columns(table) {
		if !def.PerCheck() {
			row.Options = append(row.Options, ways(l, def, def.Name, opt)...)
			continue
		}
		for k := range groups {
			groups[k].Options = append(groups[k].Options, ways(l, def, def.For(k+1), opt)...)
		}
	}
	out := []optionGroup{own, row}
	for _, g := range groups {
		if len(g.Options) > 0 {
			out = append(out, g)
		}
	}
	if !found {
		out[0].Options = append(out[0].Options, option{c.To, targetName(l, c.To), true})
	}
	return out
}

// ways are the ways one column of the datasheet may be written in a file.
func ways(l words.Language, def sheet.Column, name string, opt func(value, label string) option) []option {
	out := []option{opt(name, targetName(l, name))}
	add := func(endings ...string) {
		for _, e := range endings {
			out = append(out, opt(name+":"+e, targetName(l, name+":"+e)))
		}
	}
	switch {
	case def.Kind == sheet.Instant && strings.HasPrefix(name, "check"):
		add("date", "time", "after")
	case def.Kind == sheet.Instant:
		add("date", "time")
	case strings.HasPrefix(name, "consumed"):
		add("left", "each")
	case strings.HasPrefix(name, "lost"):
		add("each")
	}
	return out
}

// targetName says in words what a column is read as.
func targetName(l words.Language, to string) string {
	base, ending, has := strings.Cut(to, ":")
	switch {
	case to == "skip":
		return l.Say("web.map.skip", nil)
	case to == "position":
		return l.Say("web.map.position", nil)
	case base == "covariate":
		return l.Say("web.map.covariate", nil)
	case base == "fate":
		return l.Say("web.map.fate", words.P{"of": ending})
	case has:
		return l.Say("web.map.way-"+ending, words.P{"field": fieldRef(base)})
	}
	return fieldName(l, base)
}

// chosenMaps are the maps with the selects of a form put in.
func chosenMaps(x *looked, form url.Values) (maps []intake.Map, changed bool) {
	for n, m := range x.proposal.Maps {
		m.Columns = slices.Clone(m.Columns)
		for i := range m.Columns {
			to := form.Get("c" + strconv.Itoa(n) + "." + strconv.Itoa(i))
			if to != "" && to != m.Columns[i].To {
				m.Columns[i].To, changed = to, true
			}
		}
		if changed { // what was settled for the old reading may not hold for this one
			m.Counts, m.BlankEaten, m.BlankLost, m.CheckDates = "", "", "", ""
		}
		maps = append(maps, m)
	}
	return maps, changed
}

// keepMaps keeps maps as a person corrected them, so that the next reading of
// such a sheet takes them.
func keepMaps(ctx context.Context, book *logbook.Book, maps []intake.Map, by task.By) error {
	if len(maps) == 0 {
		return nil
	}
	return book.Change(ctx, func(tx *logbook.Tx) error {
		for _, m := range maps {
			text, err := m.MarshalText()
			if err != nil {
				return err
			}
			key := ""
			for r, err := range tx.Records("map") {
				if err != nil {
					return err
				}
				if r.State == logbook.Live && (r.Fields["fingerprint"] == m.Fingerprint || r.Fields["code"] == m.Name) {
					key = r.Key
				}
			}
			fields := map[string]string{"code": m.Name, "text": string(text), "fingerprint": m.Fingerprint}
			if _, err := tx.Put(logbook.Record{Kind: "map", Key: key, Fields: fields}, logbook.Stamp{Who: by.Who, When: by.When, Why: by.Why}); err != nil {
				return err
			}
		}
		return nil
	})
}

// readingContext is what a logbook knows that helps to read a file.
func readingContext(tx *logbook.Tx, answers map[string]string, maps []intake.Map) (intake.Context, error) {
	c := intake.Context{Answers: answers, Maps: maps}
	s, err := task.SettingsOf(tx)
	if err != nil {
		return c, err
	}
	c.Zone = s.Zone
	if c.Sites, err = task.Sites(tx); err != nil {
		return c, err
	}
	habitats, err := task.Habitats(tx)
	for _, h := range habitats {
		c.Habitats = append(c.Habitats, intake.Entry{Name: h.Name, Synonyms: h.Synonyms})
	}
	if err != nil || maps != nil {
		return c, err
	}
	for r, err := range tx.Records("map") {
		if err != nil {
			return c, err
		}
		if m, err := intake.ParseMap([]byte(r.Fields["text"])); err == nil && r.State == logbook.Live {
			c.Maps = append(c.Maps, m)
		}
	}
	return c, nil
}
