package methods

import (
	"slices"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// Section is one heading of the methods section with its paragraphs.
type Section struct {
	Slug       string // rows, sample, soaks, proportions, model, inference, …
	Title      string
	Paragraphs []string
	Symbols    []string // formulas, one a line
}

// Document is the methods section for what was really done.
type Document struct {
	Title      string
	Invented   string // the warning, where the data are invented
	Sections   []Section
	References []Reference
}

// writer gathers sections and the works that they cite.
type writer struct {
	in    Input
	facts Facts
	out   Document
}

// Write writes the methods section. What was not done is not told of.
func Write(in Input) Document {
	w := &writer{in: in, facts: FactsOf(in), out: Document{Title: in.Title}}
	if in.Invented {
		w.out.Invented = in.Lang.Say("invented", nil)
	}
	w.rows()
	w.sample()
	w.soaks()
	w.proportions()
	if in.Compare != nil {
		w.model()
		w.inference()
		w.controls()
		w.sensitivity()
		w.checks()
		w.plan()
		w.remarks()
	}
	w.software()
	slices.SortStableFunc(w.out.References, func(a, b Reference) int { return strings.Compare(a.Key, b.Key) })
	return w.out
}

// Paragraphs are the section's sentences without headings and formulas.
func (d Document) Paragraphs() []string {
	var out []string
	for _, s := range d.Sections {
		if len(s.Paragraphs) > 0 {
			out = append(out, strings.Join(s.Paragraphs, " "))
		}
		out = append(out, s.Symbols...)
	}
	return out
}

func (w *writer) section(slug string) {
	w.out.Sections = append(w.out.Sections, Section{Slug: slug, Title: w.in.Lang.Say("methods.h-"+slug, nil)})
}

func (w *writer) say(slug string, with words.P, cites ...string) {
	s := &w.out.Sections[len(w.out.Sections)-1]
	s.Paragraphs = append(s.Paragraphs, w.in.Lang.Say("methods."+slug, with))
	for _, key := range cites {
		w.cite(key)
	}
}

func (w *writer) cite(key string) {
	for _, r := range w.out.References {
		if r.Key == key {
			return
		}
	}
	for _, r := range works {
		if r.Key == key {
			w.out.References = append(w.out.References, r)
			return
		}
	}
	panic("methods: no work with key " + key)
}

func hours(soaks []assay.Nominal) []string {
	var out []string
	for _, s := range soaks {
		out = append(out, words.Number(s.SoakH, "")+" h")
	}
	return out
}

func (w *writer) rows() {
	p := w.in.Usual
	w.section("rows")
	w.say("layout", words.P{"baits": p.Baits, "spacing": p.SpacingM, "form": form(p.BaitForm), "size": p.BaitSizeMM, "protocol": w.in.UsualName})
	if len(w.facts.BaitKinds) > 0 {
		w.say("bait-kinds", words.P{"kinds": w.facts.BaitKinds})
	}
	if w.facts.OtherLayout > 0 {
		w.say("other-layout", words.P{"n": w.facts.OtherLayout})
	}
	ways := words.List{}
	for _, h := range p.CountsAsConsumed {
		ways = append(ways, words.Ref{Slug: "methods.way-" + strings.ReplaceAll(string(h), " ", "-")})
	}
	if len(ways) > 0 {
		w.say("threshold", words.P{"share": p.ConsumedFraction, "ways": ways})
	}
}

// form is the form of a bait in words.
func form(of string) any {
	if of == "disc" || of == "square" {
		return words.Ref{Slug: "methods.form-" + of}
	}
	return of
}

func (w *writer) sample() {
	f, l := w.facts, w.in.Lang
	w.section("sample")
	list := words.List{}
	for _, g := range f.Groups {
		list = append(list, words.Ref{Slug: "methods.habitat", With: words.P{"habitat": g.Habitat, "rows": g.Rows, "sites": g.Sites}})
	}
	if f.Rows == 0 {
		w.say("sample-none", nil)
		return
	}
	w.say("sample", words.P{"rows": f.Rows, "baits": f.Baits, "sites": len(f.Sites), "habitats": len(f.Groups), "list": list})
	if f.First.Known() {
		w.say("dates", words.P{"from": f.First.Local().Format("2006-01-02"), "to": f.Last.Local().Format("2006-01-02")})
	}
	w.say("fates", words.P{"consumed": f.Consumed, "lost": f.Lost, "of": f.Baits, "unread": f.Unread})
	if n := len(f.Excluded); n == 0 {
		w.say("excluded-none", nil)
	} else {
		reasons, rows := words.List{}, 0
		for _, e := range f.Excluded {
			rows += len(e.IDs)
			reasons = append(reasons, words.Ref{Slug: "methods.excluded-reason", With: words.P{"n": len(e.IDs), "why": l.Say("left-out."+e.Slug, nil)}})
		}
		w.say("excluded", words.P{"n": rows, "list": reasons})
	}
	if f.Open > 0 {
		w.say("open", words.P{"n": f.Open})
	}
}

func (w *writer) soaks() {
	f := w.facts
	w.section("soaks")
	w.say("soak-is", words.P{"soaks": hours(w.in.Usual.Checks)})
	for _, c := range f.Checks {
		w.say("soak-check", words.P{"check": c.Check, "n": c.Read, "median": c.MedianH, "shortest": c.ShortestH, "longest": c.LongestH})
	}
	if f.Readings > 0 {
		w.say("late", words.P{"n": f.OffNominal, "of": f.Readings})
	}
}

func (w *writer) proportions() {
	r := w.in.Rates
	w.section("proportions")
	w.say("risk", nil, "kaplan1958")
	if r == nil {
		return
	}
	cite := map[rates.Method]string{rates.Wilson: "wilson1927", rates.ClopperPearson: "clopper1934", rates.Jeffreys: "brown2001"}[r.Interval]
	w.say("interval-"+string(r.Interval), words.P{"level": r.Level}, cite)
	if len(r.Groups) == 0 {
		return
	}
	w.say("curves", nil, "turnbull1976")
	bands := map[rates.Band]bool{}
	for _, g := range r.Groups {
		bands[g.Band] = true
	}
	if bands[rates.ResampledBand] {
		w.say("curves-resampled", nil)
	}
	if bands[rates.SmallSampleBand] {
		w.say("curves-small", nil, "korn1998")
	}
	if bands[rates.NoBand] {
		w.say("curves-none", nil)
	}
}

// shape is how a covariate enters, read from the names of its terms.
type shape struct {
	plain, squared, curves, split []string
	together                      words.List
}

// shapes are the terms of a fit that are neither time, nor the factor, nor
// control rows.
func shapes(k *compare.Result) shape {
	var s shape
	add := func(to *[]string, name string) {
		if !slices.Contains(*to, name) {
			*to = append(*to, name)
		}
	}
	seen := map[[2]string]bool{}
	for _, t := range k.Fixed {
		if a, b, pair := strings.Cut(t.Term, " with "); pair {
			p := [2]string{bareName(a), bareName(b)}
			var with [2]any
			for i := range p {
				with[i] = p[i]
				if isBand(p[i], "interval") {
					p[i], with[i] = "time", words.Ref{Slug: "methods.time"}
				}
			}
			if !seen[p] {
				seen[p] = true
				s.together = append(s.together, words.Ref{Slug: "methods.pair", With: words.P{"a": with[0], "b": with[1]}})
			}
			continue
		}
		name := bareName(t.Term)
		switch {
		case name == "baseline" || name == k.By || isBand(name, "interval") || name == "control" || isBand(name, "control-interval"):
		case strings.HasSuffix(t.Term, "-squared"):
			add(&s.squared, name)
		case strings.HasSuffix(t.Term, "-within"), strings.HasSuffix(t.Term, "-between"):
			add(&s.split, name)
		case slices.ContainsFunc(k.Curves, func(c compare.Curve) bool { return c.Column == name }):
			add(&s.curves, name)
		default:
			add(&s.plain, name)
		}
	}
	s.plain = slices.DeleteFunc(s.plain, func(n string) bool { return slices.Contains(s.squared, n) })
	return s
}

// bareName is the column that a term is of; the bands of time are time.
func bareName(term string) string {
	name, _, _ := strings.Cut(term, "=")
	for _, end := range []string{"-squared", "-within", "-between"} {
		name = strings.TrimSuffix(name, end)
	}
	if at := strings.LastIndex(name, "-curve"); at > 0 && isBand(name[at:], "-curve") {
		name = name[:at]
	}
	return name
}

func isBand(name, prefix string) bool {
	rest, ok := strings.CutPrefix(name, prefix)
	return ok && rest != "" && strings.Trim(rest, "0123456789") == ""
}

// factor is what is compared, in words.
func (w *writer) factor() any {
	by := w.in.Compare.By
	if slices.Contains([]string{"habitat", "site", "season", "team"}, by) {
		return words.Ref{Slug: "methods.by-" + by}
	}
	return by
}

func (w *writer) model() {
	k := w.in.Compare
	w.section("model")
	with := words.P{"by": w.factor(), "n": k.Deployments, "sites": k.Sites, "intervals": k.Intervals, "level": ""}
	if len(k.Levels) > 0 {
		with["level"] = k.Levels[0].Level
	}
	slug, cite := "model-"+k.Link+"-"+k.Bands, "prentice1978"
	switch {
	case k.Family == "betabinomial":
		slug, cite = "model-betabinomial-"+k.Link, "williams1975"
	case k.Link == "logit":
		slug, cite = "model-logit", "breslow1993"
	}
	w.say(slug, with, cite)
	w.say("entered", with)
	s := shapes(k)
	for _, x := range []struct {
		slug  string
		names []string
	}{{"covariates", s.plain}, {"covariates-squared", s.squared}, {"covariates-curve", s.curves}, {"covariates-split", s.split}} {
		if len(x.names) > 0 {
			w.say(x.slug, words.P{"names": x.names})
		}
	}
	if len(s.together) > 0 {
		w.say("together", words.P{"list": s.together})
	}
	if k.Bands == "nominal" && k.Link == "cloglog" && len(k.BandsH) > 0 {
		ends := make([]string, len(k.BandsH))
		for i, h := range k.BandsH {
			ends[i] = words.Number(h, "") + " h"
		}
		w.say("bands", words.P{"ends": ends})
	}
	w.chain()
	w.symbols()
	if k.Quadrature > 1 {
		w.say("quadrature", words.P{"n": k.Quadrature}, "pinheiro1995")
	} else {
		w.say("laplace", nil, "breslow1993")
	}
	w.say("ended", words.P{"ending": words.Ref{Slug: "ending." + k.Ending}})
}

// chain tells the random intercepts, outermost first.
func (w *writer) chain() {
	k := w.in.Compare
	list, zero := words.List{}, words.List{}
	for _, s := range k.Random {
		list = append(list, words.Ref{Slug: "methods.chain-level", With: words.P{"group": compare.GroupName(s.Group), "n": s.Levels}})
		if sd, ok := s.SD.Get(); ok && sd == 0 {
			zero = append(zero, compare.GroupName(s.Group))
		}
	}
	if len(list) == 0 {
		w.say("chain-none", nil)
		return
	}
	w.say("chain", words.P{"list": list})
	if len(zero) > 0 {
		w.say("chain-zero", words.P{"list": zero})
	}
}

// symbols writes the model as a formula.
func (w *writer) symbols() {
	k, l := w.in.Compare, w.in.Lang
	s := &w.out.Sections[len(w.out.Sections)-1]
	u := ""
	for i := range k.Random {
		u += " + u_" + strconv.Itoa(i+1)
	}
	add := func(slug string) { s.Symbols = append(s.Symbols, l.Say("methods.symbols-"+slug, words.P{"u": u})) }
	switch {
	case k.Family == "betabinomial":
		add("betabinomial-" + k.Link)
		add("betabinomial-variance")
	case k.Link == "logit":
		add("logit")
	case k.Bands == "nominal" && len(k.BandsH) > 0:
		add("nominal")
	default:
		add("checks")
	}
	for i, g := range k.Random {
		s.Symbols = append(s.Symbols, l.Say("methods.symbols-intercept", words.P{"n": i + 1, "group": compare.GroupName(g.Group)}))
	}
	if w.hasControlTerms() {
		add("control")
	}
}
