package web

import (
	"slices"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/sheet"
	"soakline/internal/words"
)

// fieldRef is the short name of a column on pages and forms. A further column
// of the team's own goes by its own name.
func fieldRef(column string) words.Ref {
	if c, k, ok := sheet.Find(sheet.Wide, column); ok {
		return words.Ref{Slug: "field." + strings.Replace(c.Name, "{K}", "", 1), With: words.P{"check": k}}
	}
	if slug := "field." + column; words.Has(slug) && column != "other" {
		return words.Ref{Slug: slug}
	}
	return words.Ref{Slug: "field.other", With: words.P{"name": column}}
}

func fieldName(l words.Language, column string) string {
	r := fieldRef(column)
	return l.Say(r.Slug, r.With)
}

// input is one field of a form.
type input struct {
	Name, Label, Hint string
	Value             string
	Kind              string // text, number, word, flag, notes
	Unit              string
	Options           []option
	Required          bool
	Wrong             bool
	Seldom            bool   // folded away inside its group
	List              string // id of the list of known values
}

type option struct {
	Value, Label string
	Chosen       bool
}

// inputGroup is a part of a form.
type inputGroup struct {
	Title  string
	Closed bool // folded away at first
	Inputs []input
}

// Seldom says whether the group has fields that are folded away.
func (g inputGroup) Seldom() bool {
	return slices.ContainsFunc(g.Inputs, func(in input) bool { return in.Seldom })
}

// SeldomOpen says whether one of them is filled in or wrong.
func (g inputGroup) SeldomOpen() bool {
	return slices.ContainsFunc(g.Inputs, func(in input) bool { return in.Seldom && (in.Value != "" || in.Wrong) })
}

// often are the fields of a check that most sheets have.
var often = []string{"check{K}_at", "consumed_by_check{K}", "lost_by_check{K}"}

// rowForm is the form of a record, made from the datasheet's columns: what is
// required first, then the checks that are there and one more, then the rest.
func rowForm(l words.Language, values map[string]string, wrong map[string]bool, protocols []string) []inputGroup {
	first := inputGroup{Title: l.Say("web.form.first", nil)}
	rest := inputGroup{Title: l.Say("web.form.rest", nil), Closed: true}
	checks := 0
	seen := map[string]bool{}
	for name := range values {
		if _, k, ok := sheet.Find(sheet.Wide, name); ok {
			checks = max(checks, k)
		}
	}
	groups := []inputGroup{}
	for k := 1; k <= max(2, checks+1); k++ {
		groups = append(groups, inputGroup{Title: l.Say("web.form.check", words.P{"n": k}), Closed: k > 2 && k > checks})
	}
	for _, c := range sheet.Columns(sheet.Wide) {
		if c.PerCheck() {
			for k := range groups {
				groups[k].Inputs = append(groups[k].Inputs, inputOf(l, c, c.For(k+1), values, wrong, protocols))
				seen[c.For(k+1)] = true
			}
			continue
		}
		seen[c.Name] = true
		in := inputOf(l, c, c.Name, values, wrong, protocols)
		if c.Required || c.Asked && c.Kind == sheet.Degrees {
			first.Inputs = append(first.Inputs, in)
		} else {
			rest.Inputs = append(rest.Inputs, in)
			rest.Closed = rest.Closed && !in.Wrong
		}
	}
	out := append([]inputGroup{first}, groups...)
	out = append(out, rest)
	other := inputGroup{Title: l.Say("web.form.other", nil), Closed: true}
	for _, name := range sortedNames(values) {
		if c, _, ok := sheet.Find(sheet.Wide, name); !seen[name] && !(ok && c.Kept) {
			other.Inputs = append(other.Inputs, input{Name: name, Label: fieldName(l, name), Value: values[name], Kind: "text", Wrong: wrong[name]})
		}
	}
	if len(other.Inputs) > 0 {
		out = append(out, other)
	}
	return out
}

func inputOf(l words.Language, c sheet.Column, name string, values map[string]string, wrong map[string]bool, protocols []string) input {
	in := input{Name: name, Label: fieldName(l, name), Hint: sentence(l.Say(c.Slug(), nil)) + ".", Value: shownValue(name, values[name]), Kind: "text", Unit: c.Unit, Required: c.Required, Wrong: wrong[name]}
	choose := func(list []string, say func(string) string) {
		in.Kind = "word"
		in.Options = []option{{"", l.Say("web.form.not-said", nil), in.Value == ""}}
		there := in.Value == ""
		for _, w := range list {
			in.Options = append(in.Options, option{w, say(w), w == in.Value})
			there = there || w == in.Value
		}
		if !there {
			in.Options = append(in.Options, option{in.Value, in.Value, true})
		}
	}
	in.Seldom = c.PerCheck() && !slices.Contains(often, c.Name)
	if c.Name == "site" || c.Name == "habitat" {
		in.List = "known-" + c.Name
	}
	switch {
	case c.Kind == sheet.Word:
		choose(c.Words, func(w string) string { return l.Say("word."+strings.ReplaceAll(w, " ", "-"), nil) })
	case c.Kind == sheet.Flag:
		choose([]string{"yes", "no"}, func(w string) string { return l.Say("word."+w, nil) })
	case c.Name == "protocol" && len(protocols) > 0:
		choose(protocols, func(w string) string { return w })
	case c.Kind == sheet.Count, c.Kind == sheet.Number, c.Kind == sheet.Degrees:
		in.Kind = "number"
	case c.Kind == sheet.Instant:
		in.Kind = "instant"
	case c.Name == "notes":
		in.Kind = "notes"
	}
	return in
}

// shownValue is a canonical text as a person reads and types it: a time with
// a blank between day and clock and without the name of its zone, which stands
// with the site.
func shownValue(name, text string) string {
	c, _, ok := sheet.Find(sheet.Wide, name)
	if !ok || c.Kind != sheet.Instant {
		return text
	}
	text, _, _ = strings.Cut(text, "[")
	if len(text) > 10 && text[10] == 'T' {
		text = text[:10] + " " + text[11:]
	}
	return text
}

func sortedNames(m map[string]string) []string {
	names := make([]string, 0, len(m))
	for n := range m {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// formValues reads the form of a record: every column that it holds.
func formValues(form map[string][]string) map[string]string {
	v := map[string]string{}
	for name, list := range form {
		if column, ok := strings.CutPrefix(name, "v:"); ok && len(list) > 0 {
			v[column] = strings.TrimSpace(list[0])
		}
	}
	return v
}

func atoi(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return 0
	}
	return n
}
