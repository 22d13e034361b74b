package report

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/words"
)

// NumberTable is one table of the second layer, its cells ready to print: the
// same on the report, on paper and on the desk.
type NumberTable struct {
	Name    string // means, contrasts, …
	Caption string
	Head    []string
	Lines   [][]string
	Words   int      // so many leading columns hold words of the reader's language; the others data
	Notes   []string // sentences below it
}

// numbers gathers a comparison's tables.
type numbers struct {
	l   words.Language
	k   *compare.Result
	out []NumberTable
}

// NumberTables are the tables of a comparison in the order in which they are
// read; one that would be empty is left out. Where seasons were simulated, the
// limits and p of the contrasts are those of the simulated seasons, and what
// large-sample theory says stands in a table of its own, so that neither is read
// beside the other by mistake.
func NumberTables(l words.Language, k *compare.Result) []NumberTable {
	if k == nil {
		return nil
	}
	w := &numbers{l: l, k: k}
	w.means("means", l.Say("report.h-means", nil), k.Means)
	w.contrasts()
	w.bands()
	w.tests()
	w.fixed()
	w.random()
	w.curves()
	w.controls()
	w.atUpperBound()
	return w.out
}

func (w *numbers) say(slug string, pairs ...any) string {
	with := words.P{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return w.l.Say("report."+slug, with)
}

// heads are headings of the catalogue, by the end of their slug.
func (w *numbers) heads(slugs ...string) []string {
	out := make([]string, len(slugs))
	for i, s := range slugs {
		out[i] = w.say("col-" + s)
	}
	return out
}

func (w *numbers) add(t NumberTable) {
	if len(t.Lines) > 0 {
		w.out = append(w.out, t)
	}
}

// cell writes a number that may be missing.
func maybeCell(m assay.Maybe[float64], format string) string {
	if x, ok := m.Get(); ok && !math.IsNaN(x) {
		return words.Number(x, format)
	}
	return "–"
}

func (w *numbers) means(name, caption string, means []compare.Mean) {
	t := NumberTable{Name: name, Caption: caption, Head: append([]string{w.factor()}, w.heads("soak", "share", "lower", "upper", "rate", "lower", "upper")...)}
	for _, m := range means {
		lower, upper := m.HeadlineLimits()
		slow, quick := m.HeadlineRateLimits()
		t.Lines = append(t.Lines, []string{m.Level, words.Number(m.SoakH, ""), maybeCell(m.Proportion, "3"), maybeCell(lower, "3"), maybeCell(upper, "3"),
			maybeCell(m.RateTypicalPerH, ""), maybeCell(slow, ""), maybeCell(quick, "")})
	}
	w.add(t)
}

// factor is what is compared, in words where the catalogue has one.
func (w *numbers) factor() string {
	if slug := "fitness.compared." + w.k.By; words.Has(slug) {
		return w.l.Say(slug, nil)
	}
	return w.k.By
}

// ratioHead is the heading of a ratio: of rates, or with the logit link of odds.
func (w *numbers) ratioHead() string {
	if w.k.Link == "logit" {
		return "odds"
	}
	return "ratio"
}

// ratioLine is a contrast's ratio with limits; a bound on one side is marked.
func ratioLine(k compare.Contrast, lower, upper assay.Maybe[float64]) []string {
	ratio := k.RateRatio
	if !ratio.Known() {
		ratio = k.OddsRatio
	}
	line := []string{k.A + " / " + k.B, maybeCell(ratio, "2"), maybeCell(lower, "2"), maybeCell(upper, "2")}
	switch {
	case k.Bound == compare.UpperBound && upper.Known():
		line[3] = "≤ " + line[3]
	case k.Bound == compare.LowerBound && lower.Known():
		line[2] = "≥ " + line[2]
	}
	return line
}

func (w *numbers) contrasts() {
	k := w.k
	oneSided := slices.ContainsFunc(k.Contrasts, func(c compare.Contrast) bool { return c.Bound != compare.TwoSided })
	quick := NumberTable{Name: "contrasts", Caption: w.say("h-contrasts"), Head: w.heads("pair", w.ratioHead(), "lower", "upper", "lower-all", "upper-all", "p", "p-adjusted")}
	for _, c := range k.Contrasts {
		quick.Lines = append(quick.Lines, append(ratioLine(c, c.Lower, c.Upper), maybeCell(c.LowerSimultaneous, "2"), maybeCell(c.UpperSimultaneous, "2"), maybeCell(c.P, "p"), maybeCell(c.PAdjusted, "p")))
	}
	if k.Test.Replicates == 0 {
		if oneSided {
			quick.Notes = append(quick.Notes, w.say("note-one-sided"))
		}
		w.add(quick)
		return
	}
	t := NumberTable{Name: "contrasts", Caption: w.say("h-contrasts-simulated", "n", k.Test.Replicates), Head: w.heads("pair", w.ratioHead(), "lower", "upper", "p-adjusted", "p-simulated")}
	for _, c := range k.Contrasts {
		lower, upper := c.HeadlineLimits()
		p, _ := c.Headline()
		t.Lines = append(t.Lines, append(ratioLine(c, lower, upper), maybeCell(p, "p"), maybeCell(c.PBootstrap, "p")))
	}
	if oneSided {
		t.Notes = append(t.Notes, w.say("note-one-sided"))
	}
	w.add(t)
	quick.Name, quick.Caption, quick.Notes = "contrasts-quick", w.say("h-contrasts-quick"), nil
	w.add(quick)
}

// BandWords is the stretch of time that a ratio is of: "0 to 1 h", "from 1 h",
// or the check.
func BandWords(l words.Language, b compare.BandContrast) string {
	from, ok := b.FromH.Get()
	if !ok {
		return l.Say("report.band-check", words.P{"n": b.Band})
	}
	if to, ok := b.ToH.Get(); ok {
		return l.Say("report.band", words.P{"from": words.Number(from, ""), "to": words.Number(to, "")})
	}
	return l.Say("report.band-from", words.P{"from": words.Number(from, "")})
}

func (w *numbers) bands() {
	t := NumberTable{Name: "bands", Caption: w.say("h-bands"), Words: 1, Head: w.heads("band", "pair", "ratio", "lower", "upper", "p")}
	for _, b := range w.k.BandContrasts {
		c := compare.Contrast{A: b.A, B: b.B, RateRatio: b.RateRatio, Bound: b.Bound}
		t.Lines = append(t.Lines, append(append([]string{BandWords(w.l, b)}, ratioLine(c, b.Lower, b.Upper)...), maybeCell(b.P, "p")))
	}
	t.Notes = []string{w.say("note-bands")}
	w.add(t)
}

// tests are the likelihood-ratio tests: of all levels, of one ratio for all
// times, and of everything else that can be left out.
func (w *numbers) tests() {
	k := w.k
	t := NumberTable{Name: "tests", Caption: w.say("h-tests"), Words: 1, Head: w.heads("test", "chi2", "df", "p-chi2")}
	line := func(name string, chi2, p assay.Maybe[float64], df int, more ...string) {
		t.Lines = append(t.Lines, append([]string{name, maybeCell(chi2, "2"), strconv.Itoa(df), maybeCell(p, "p")}, more...))
	}
	var simulated, none []string
	if k.Test.Replicates > 0 {
		t.Head = append(t.Head, w.heads("p-simulated", "p-between", "replicates", "failed")...)
		simulated = []string{maybeCell(k.Test.PBootstrap, "p"), maybeCell(k.Test.PBootstrapLower, "p") + " – " + maybeCell(k.Test.PBootstrapUpper, "p"),
			strconv.Itoa(k.Test.Replicates), strconv.Itoa(k.Test.Failed)}
		none = []string{"–", "–", "–", "–"}
	}
	if k.Test.Chi2.Known() {
		line(w.say("test-alike"), k.Test.Chi2, k.Test.P, k.Test.DF, simulated...)
	}
	if k.BandsTest.Chi2.Known() {
		line(w.say("test-bands"), k.BandsTest.Chi2, k.BandsTest.P, k.BandsTest.DF, none...)
	}
	for _, x := range k.TermTests {
		line(w.say("test-without", "terms", strings.Join(x.Terms, ", ")), x.Chi2, x.P, x.DF, none...)
	}
	if p, ok := k.Test.SmallestP.Get(); ok {
		t.Notes = append(t.Notes, w.say("note-smallest", "p", p))
	}
	w.add(t)
}

func (w *numbers) fixed() {
	profiled := slices.ContainsFunc(w.k.Fixed, func(t compare.Term) bool { return t.ProfileLower.Known() || t.ProfileUpper.Known() })
	head := []string{"term", "estimate", "se", "z", "p", "lower", "upper"}
	if profiled {
		head = append(head, "lower-profile", "upper-profile")
	}
	t := NumberTable{Name: "fixed", Caption: w.say("h-fixed"), Head: w.heads(append(head, "shrunk")...)}
	for _, x := range w.k.Fixed {
		line := []string{x.Term, maybeCell(x.Estimate, "3"), maybeCell(x.SE, "3"), maybeCell(x.Z, "2"), maybeCell(x.P, "p"), maybeCell(x.Lower, "3"), maybeCell(x.Upper, "3")}
		switch {
		case x.Bound == compare.UpperBound && x.Upper.Known():
			line[6] = "≤ " + line[6]
		case x.Bound == compare.LowerBound && x.Lower.Known():
			line[5] = "≥ " + line[5]
		}
		if profiled {
			line = append(line, maybeCell(x.ProfileLower, "3"), maybeCell(x.ProfileUpper, "3"))
		}
		t.Lines = append(t.Lines, append(line, maybeCell(x.Shrunk, "3")))
	}
	w.add(t)
}

func (w *numbers) random() {
	limited := slices.ContainsFunc(w.k.Random, func(s compare.Spread) bool { return s.Lower.Known() || s.Upper.Known() })
	t := NumberTable{Name: "random", Caption: w.say("h-random"), Words: 1, Head: w.heads("group", "levels", "sd")}
	if limited {
		t.Head = append(t.Head, w.heads("lower-profile", "upper-profile")...)
	}
	for _, s := range w.k.Random {
		line := []string{compare.GroupName(s.Group).In(w.l), strconv.Itoa(s.Levels), maybeCell(s.SD, "3")}
		if limited {
			line = append(line, maybeCell(s.Lower, "3"), maybeCell(s.Upper, "3"))
		}
		t.Lines = append(t.Lines, line)
	}
	w.add(t)
}

// curves are the knots of smooth curves.
func (w *numbers) curves() {
	t := NumberTable{Name: "curves", Caption: w.say("h-curves"), Head: w.heads("term", "knots")}
	for _, c := range w.k.Curves {
		knots := make([]string, len(c.Knots))
		for i, x := range c.Knots {
			knots[i] = words.Number(x, "")
		}
		if len(knots) > 0 {
			t.Lines = append(t.Lines, []string{c.Column, strings.Join(knots, ", ")})
		}
	}
	w.add(t)
}

// controlKind is a kind of control row in words.
func controlKind(l words.Language, kind string) string {
	return l.Say("methods.control-"+kind, nil)
}

func (w *numbers) controls() {
	t := NumberTable{Name: "controls", Caption: w.say("h-controls"), Words: 1, Head: w.heads("control", "check", "soak", "rows", "gone", "loss", "lower", "upper")}
	for _, c := range w.k.Controls.Loss {
		line := []string{controlKind(w.l, c.Kind), strconv.Itoa(c.Check), words.Number(c.SoakH, "2"), strconv.Itoa(c.Deployments),
			strconv.Itoa(c.Consumed) + " / " + strconv.Itoa(c.Baits), maybeCell(c.Proportion, "3"), maybeCell(c.Lower, "3"), maybeCell(c.Upper, "3")}
		switch c.Bound {
		case compare.UpperBound:
			line[7] = "≤ " + line[7]
		case compare.LowerBound:
			line[6] = "≥ " + line[6]
		}
		t.Lines = append(t.Lines, line)
	}
	slug := "note-controls-left-out"
	if w.k.Controls.Used != "none" {
		slug = "note-controls-subtracted"
	}
	t.Notes = []string{w.say("note-controls"), w.say(slug)}
	w.add(t)
}

// atUpperBound is the comparison with the most subtracted that control rows
// without any loss leave possible.
func (w *numbers) atUpperBound() {
	b := w.k.Controls.AtUpperBound
	if b == nil {
		return
	}
	caption := w.say("h-at-bound", "hours", b.BaitHours, "rate", b.RateUpperPerH)
	t := NumberTable{Name: "at-bound", Caption: caption, Head: w.heads("pair", w.ratioHead(), "lower", "upper", "p", "p-adjusted")}
	for _, c := range b.Contrasts {
		t.Lines = append(t.Lines, append(ratioLine(c, c.Lower, c.Upper), maybeCell(c.P, "p"), maybeCell(c.PAdjusted, "p")))
	}
	slug := "note-at-bound-stays"
	if b.Turns {
		slug = "note-at-bound-turns"
	}
	t.Notes = []string{w.say(slug)}
	w.add(t)
	w.means("means-at-bound", caption, b.Means)
}

// ControlSentences tell, in plain words, what went without consumers: for each
// kind of control row how many baits were gone by its last check.
func ControlSentences(l words.Language, k *compare.Result) []string {
	if k == nil {
		return nil
	}
	var out []string
	for i, c := range k.Controls.Loss {
		if i+1 < len(k.Controls.Loss) && k.Controls.Loss[i+1].Kind == c.Kind {
			continue // not its last check
		}
		slug := "answer.control"
		switch {
		case c.Consumed == 0:
			slug = "answer.control-none"
		case !c.Upper.Known():
			slug = "answer.control-all"
		}
		out = append(out, l.Say(slug, words.P{"kind": controlKind(l, c.Kind), "rows": c.Deployments, "n": c.Consumed, "of": c.Baits, "soak": SoakWords(c.SoakH),
			"lower": 100 * c.Lower.Or(0), "upper": 100 * c.Upper.Or(1)}))
	}
	if b := k.Controls.AtUpperBound; b != nil {
		slug := "answer.control-bound"
		if b.Turns {
			slug = "answer.control-bound-turns"
		}
		out = append(out, l.Say(slug, nil))
	}
	return out
}
