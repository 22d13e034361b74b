package plan

import (
	"cmp"
	"strconv"
	"strings"

	"soakline/internal/words"
)

func text(n uint64) string { return strconv.FormatUint(n, 10) }

func hours(list []float64) string {
	var s []string
	for _, h := range list {
		s = append(s, number(h))
	}
	return strings.Join(s, ", ")
}

// Value is a value of a plan's text in words: the word itself where the catalogue
// has no other for it.
func Value(l words.Language, part, value string) string {
	if value == "" && part == "reference" {
		return l.Say("plan.value.first", nil)
	}
	if value == "" {
		return l.Say("plan.value.none", nil)
	}
	var out []string
	for _, v := range strings.Split(value, ", ") {
		for _, prefix := range []string{"plan.value." + part + ".", "random."} {
			if prefix == "random." && part != "random" {
				continue
			}
			if slug := prefix + strings.ReplaceAll(v, " ", "-"); words.Has(slug) {
				v = l.Say(slug, nil)
				break
			}
		}
		out = append(out, v)
	}
	return strings.Join(out, ", ")
}

// Title is a part in a few words.
func (p Part) Title(l words.Language) string {
	name := p.Name
	if p.Part == "together" {
		a, b, _ := strings.Cut(name, ",")
		name = l.Say("plan.pair", words.P{"a": Value(l, "together", a), "b": Value(l, "together", b)})
	}
	return l.Say("plan.part."+p.Part, words.P{"name": name})
}

// Sentence says of a part that is not as planned what was planned and what was done.
func (p Part) Sentence(l words.Language) string {
	with := words.P{"part": p.Title(l), "planned": Value(l, p.Part, p.Planned), "done": Value(l, p.Part, p.Done)}
	switch {
	case p.Status == Changed:
		return l.Say("plan.changed", with)
	case p.Status == Exploratory && p.Part == "by":
		return l.Say("plan.other-question", with)
	case p.Part == "left-out":
		return l.Say("plan.left-out-"+string(p.Status), with)
	case p.Status == Exploratory && p.Name == "" && p.Done != "yes":
		return l.Say("plan.added", with)
	case p.Status == NotDone && p.Name == "" && p.Planned != "yes":
		return l.Say("plan.missing", with)
	}
	return with["part"].(string)
}

// Head says which plan counts, and how it stands to the data; empty where there
// is none.
func (s *Standing) Head(l words.Language) string {
	switch {
	case s == nil:
		return ""
	case !s.Has():
		return l.Say("plan.none", nil)
	}
	slug := "plan.before"
	if !s.BeforeData {
		slug = "plan.after"
	}
	return l.Say(slug, words.P{"date": s.day(), "hash": s.SHA256[:min(12, len(s.SHA256))], "n": max(s.RowsThen, s.RowsBefore)})
}

func (s *Standing) day() string { return s.WrittenAt[:min(10, len(s.WrittenAt))] }

// Plain says in one sentence for everybody whether the comparison was planned;
// empty where there is no plan.
func (s *Standing) Plain(l words.Language) string {
	if !s.Has() {
		return ""
	}
	n := 0
	other := false
	for _, p := range s.Parts {
		if p.Status == Changed || p.Status == Exploratory {
			n++
			other = other || p.Part == "by"
		}
	}
	with := words.P{"date": s.day(), "n": n, "rows": max(s.RowsThen, s.RowsBefore)}
	switch {
	case other:
		return l.Say("plan.plain-other", with)
	case !s.BeforeData && n > 0:
		return l.Say("plan.plain-after-parts", with)
	case !s.BeforeData:
		return l.Say("plan.plain-after", with)
	case n > 0:
		return l.Say("plan.plain-parts", with)
	}
	return l.Say("plan.plain-before", with)
}

// Deviates says whether anything in the result was not planned.
func (s *Standing) Deviates() bool {
	return s.Has() && len(s.With(Changed))+len(s.With(Exploratory)) > 0
}

// Sentences tell a result's standing: which plan, what is as planned, what is not,
// and what of the plan is not here. A logbook without a plan gives one line.
func (s *Standing) Sentences(l words.Language) []string {
	if s == nil {
		return nil
	}
	out := []string{s.Head(l)}
	for _, o := range s.Others {
		with := words.P{"date": o.WrittenAt[:min(10, len(o.WrittenAt))], "hash": o.SHA256[:min(12, len(o.SHA256))], "why": cmp.Or(o.Why, "–")}
		slug := "plan.beside"
		switch {
		case o.Broken:
			slug = "plan.broken"
		case o.Withdrawn:
			slug = "plan.withdrawn"
		}
		out = append(out, l.Say(slug, with))
	}
	if !s.Has() {
		return out
	}
	out = append(out, s.line(l, "plan.as-planned", Planned)...)
	for _, x := range []struct {
		slug   string
		status Status
	}{{"plan.h-changed", Changed}, {"plan.h-exploratory", Exploratory}, {"plan.h-judge", Judge}, {"plan.h-not-done", NotDone}} {
		out = append(out, s.told(l, x.slug, x.status)...)
	}
	return out
}

// line lists the parts of a status by their titles, none where there are none.
func (s *Standing) line(l words.Language, slug string, status Status) []string {
	var titles []string
	for _, p := range s.With(status) {
		titles = append(titles, p.Title(l))
	}
	if titles == nil {
		return nil
	}
	return []string{l.Say(slug, words.P{"list": titles})}
}

// told lists the parts of a status by their sentences.
func (s *Standing) told(l words.Language, slug string, status Status) []string {
	var list []string
	for _, p := range s.With(status) {
		list = append(list, p.Sentence(l))
	}
	if list == nil {
		return nil
	}
	return []string{l.Say(slug, words.P{"list": strings.Join(list, "; ")})}
}
