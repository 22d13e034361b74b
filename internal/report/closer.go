package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"sort"
	"time"

	"soakline/internal/figure"
	"soakline/internal/fitness"
	"soakline/internal/words"
)

// CloserPicture is one drawing of a closer look, with the sentences that say
// what it shows.
type CloserPicture struct {
	Name      string // of its files
	Title     string
	Sentences []string
	Off       bool // one of its tests is off
	Draw      func(figure.Frame) (*figure.Drawing, error)
}

// closerPart is one drawing on the page.
type closerPart struct {
	CloserPicture
	Picture template.HTML
}

// CloserPictures are the drawings of a closer look, in the order in which they
// are read. A test without a drawing of its own stands under the one it belongs to.
func CloserPictures(l words.Language, r *fitness.Result) []CloserPicture {
	if r == nil {
		return nil
	}
	var out []CloserPicture
	scatter := func(name string, s figure.Scatter, tests ...string) {
		p := CloserPicture{Name: name, Title: s.Title}
		for _, slug := range tests {
			if t, ok := r.Test(slug); ok {
				p.Sentences, p.Off = append(p.Sentences, t.Sentence(l)), p.Off || t.Off
			}
		}
		if len(p.Sentences) > 0 {
			s.Desc = p.Sentences[0]
		}
		p.Draw = func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawScatter(s, f) }
		out = append(out, p)
	}
	if len(r.Envelope) > 0 {
		scatter("residuals", uniformPicture(l, r), fitness.Uniform)
	}
	if s, ok := earlyLatePicture(l, r); ok {
		scatter("early-late", s, fitness.EarlyLate)
	}
	if t, ok := r.Test(fitness.Extra); ok && t.P.Known() && len(r.ExtraDrawn) > 0 {
		scatter("extra-variation", drawnPicture(l, fitness.Extra, r.ExtraDrawn, t), fitness.Extra)
	}
	if t, ok := r.Test(fitness.Dispersion); ok && t.P.Known() {
		scatter("dispersion", drawnPicture(l, fitness.Dispersion, r.Dispersed, t), fitness.Dispersion)
	}
	if len(r.RunsOfRows) > 0 {
		scatter("runs", runsPicture(l, r), fitness.Runs)
	}
	if t, ok := r.Test(fitness.Date); ok && t.P.Known() {
		scatter("date", driftPicture(l, r, fitness.Date), fitness.Date)
	}
	if t, ok := r.Test(fitness.TimeOfDay); ok && t.P.Known() {
		scatter("time-of-day", driftPicture(l, r, fitness.TimeOfDay), fitness.TimeOfDay)
	}
	if t, ok := r.Test(fitness.Distance); ok && t.P.Known() {
		scatter("distance", distancePicture(l, r), fitness.Distance)
	}
	if p, ok := withoutSitePicture(l, r); ok {
		out = append(out, p)
	}
	if s, ok := balancePicture(l, r); ok {
		p := CloserPicture{Name: "balance", Title: s.Title, Draw: func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawScatter(s, f) }}
		p.Sentences, p.Off = BalanceSentences(l, r), len(r.Messages) > 0
		s.Desc = p.Sentences[0]
		out = append(out, p)
	}
	return out
}

// BalanceSentences say what coincides with what is compared, or that nothing does.
func BalanceSentences(l words.Language, r *fitness.Result) []string {
	var out []string
	for _, m := range r.Messages {
		out = append(out, m.In(l))
	}
	if out == nil {
		var looked words.List
		for _, b := range r.Balance {
			looked = append(looked, words.Ref{Slug: "fitness.factor." + b.Factor})
		}
		if len(looked) == 0 {
			return []string{l.Say("closer.balance.nothing", nil)}
		}
		out = []string{l.Say("closer.balance.even", words.P{"by": r.ByWord(l), "list": looked})}
	}
	return out
}

// CloserUndrawn are the sentences of tests that have no drawing: those that
// could not be made.
func CloserUndrawn(l words.Language, r *fitness.Result) []string {
	if r == nil {
		return nil
	}
	drawn := map[string]bool{}
	for _, p := range CloserPictures(l, r) {
		for _, s := range p.Sentences {
			drawn[s] = true
		}
	}
	var out []string
	for _, t := range r.Tests {
		if s := t.Sentence(l); !drawn[s] {
			out = append(out, s)
		}
	}
	return out
}

// CloserPlain is what is off, in the words of the first layer; none where
// nothing is.
func CloserPlain(l words.Language, r *fitness.Result) []string {
	if r == nil {
		return nil
	}
	var out []string
	for _, m := range r.Messages {
		out = append(out, m.In(l))
	}
	for _, t := range r.Off() {
		if s := t.Plain(l); !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	if len(out) > 0 {
		out[len(out)-1] += " " + l.Say("fitness.plain.more", nil)
	}
	return out
}

func uniformPicture(l words.Language, r *fitness.Result) figure.Scatter {
	s := figure.Scatter{Title: l.Say("closer.uniform.title", nil), XLabel: l.Say("closer.uniform.x", nil), YLabel: l.Say("closer.uniform.y", nil),
		XHi: 1, YHi: 1, Diagonal: true, LineWord: l.Say("closer.uniform.line", nil), BandWord: l.Say("closer.uniform.band", nil)}
	var g figure.ScatterGroup
	for _, o := range r.Envelope {
		g.Points = append(g.Points, [2]float64{o.Expected, o.Seen})
		s.Band = append(s.Band, figure.ScatterBand{X: o.Expected, Lower: o.Lower, Upper: o.Upper})
	}
	s.Groups = []figure.ScatterGroup{g}
	return s
}

// byLevel sorts rows into groups of points, one for each level.
func byLevel(r *fitness.Result, point func(i int) ([2]float64, bool)) []figure.ScatterGroup {
	groups := make([]figure.ScatterGroup, len(r.Levels))
	for k, level := range r.Levels {
		groups[k].Label = level
		for i := range r.Rows {
			if p, ok := point(i); ok && r.Rows[i].Level == level {
				groups[k].Points = append(groups[k].Points, p)
			}
		}
	}
	return groups
}

// scores bounds an axis of normal scores, so that drawings can be set side by side.
const scoreEnd = 4

func score(z float64) float64 { return math.Max(-scoreEnd, math.Min(scoreEnd, z)) }

func earlyLatePicture(l words.Language, r *fitness.Result) (figure.Scatter, bool) {
	s := figure.Scatter{Title: l.Say("closer.early-late.title", nil), XLabel: l.Say("closer.early-late.x", nil), YLabel: l.Say("closer.early-late.y", nil),
		XLo: -scoreEnd, XHi: scoreEnd, YLo: -scoreEnd, YHi: scoreEnd, Diagonal: true, LineWord: l.Say("closer.early-late.line", nil)}
	ends := r.Ends()
	any := false
	s.Groups = byLevel(r, func(i int) ([2]float64, bool) {
		any = any || ends[i][0] != ends[i][1]
		return [2]float64{score(ends[i][0]), score(ends[i][1])}, r.Rows[i].LaterMinus.Known()
	})
	return s, any
}

// drawnPicture shows a statistic of the season among those of simulated and refitted
// seasons, which stand in order, each at the share of them up to it.
func drawnPicture(l words.Language, slug string, all []float64, t fitness.Test) figure.Scatter {
	s := figure.Scatter{Title: l.Say("closer."+slug+".title", nil), XLabel: l.Say("closer."+slug+".x", nil), YLabel: l.Say("closer.drawn.y", nil),
		YHi: 1, Upright: []float64{t.Statistic.Or(0)}, LineWord: l.Say("closer.drawn.line", nil)}
	var drawn []float64
	for _, v := range all {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			drawn = append(drawn, v)
		}
	}
	sort.Float64s(drawn)
	g := figure.ScatterGroup{Label: l.Say("closer.drawn.points", nil)}
	for i, v := range drawn {
		g.Points = append(g.Points, [2]float64{v, (float64(i) + 0.5) / float64(len(drawn))})
	}
	s.Groups = []figure.ScatterGroup{g}
	return s
}

func runsPicture(l words.Language, r *fitness.Result) figure.Scatter {
	s := figure.Scatter{Title: l.Say("closer.runs.title", nil), XLabel: l.Say("closer.runs.x", nil), YLabel: l.Say("closer.runs.y", nil),
		Diagonal: true, LineWord: l.Say("closer.runs.line", nil)}
	for _, c := range r.Runs {
		g := figure.ScatterGroup{Label: l.Say("closer.runs.check", words.P{"n": c.Check})}
		for _, v := range r.RunsOfRows {
			if v.Check == c.Check {
				g.Points = append(g.Points, [2]float64{v.Expected, float64(v.Runs)})
			}
		}
		s.Groups = append(s.Groups, g)
	}
	return s
}

func driftPicture(l words.Language, r *fitness.Result, slug string) figure.Scatter {
	s := figure.Scatter{Title: l.Say("closer."+slug+".title", nil), XLabel: l.Say("closer."+slug+".x", words.P{"first": r.FirstDay}), YLabel: l.Say("closer.normal", nil),
		YLo: -scoreEnd, YHi: scoreEnd, Across: []float64{0}, LineWord: l.Say("closer.zero", nil)}
	s.Groups = byLevel(r, func(i int) ([2]float64, bool) {
		at := r.Rows[i].Day
		if slug == fitness.TimeOfDay {
			at = r.Rows[i].HourLocal
		}
		x, ok := at.Get()
		return [2]float64{x, score(r.Rows[i].Normal)}, ok
	})
	return s
}

func distancePicture(l words.Language, r *fitness.Result) figure.Scatter {
	s := figure.Scatter{Title: l.Say("closer.distance.title", nil), XLabel: l.Say("closer.distance.x", nil), YLabel: l.Say("closer.distance.y", nil)}
	km := fitness.DistancesKm(r.Sites)
	var g figure.ScatterGroup
	for i := range r.Sites {
		for j := range i {
			g.Points = append(g.Points, [2]float64{km[i][j], math.Abs(r.Sites[i].Mean - r.Sites[j].Mean)})
		}
	}
	s.Groups = []figure.ScatterGroup{g}
	return s
}

// withoutSitePicture shows the pair whose ratio is farthest from 1.
func withoutSitePicture(l words.Language, r *fitness.Result) (CloserPicture, bool) {
	var a, b string
	best := -1.0
	for _, w := range r.WithoutSite {
		if x, ok := w.Ratio.Get(); ok && w.Site == "" && x > 0 && math.Abs(math.Log(x)) > best {
			best, a, b = math.Abs(math.Log(x)), w.A, w.B
		}
	}
	if best < 0 {
		return CloserPicture{}, false
	}
	s := figure.Strips{Title: l.Say("closer.without-site.title", words.P{"a": a, "b": b}), AxisLabel: l.Say("contrasts.axis", nil), Log: true, Mark: 1, MarkOn: true}
	var turns []string
	for _, w := range r.WithoutSite {
		if w.Turns && !slices.Contains(turns, w.Site) {
			turns = append(turns, w.Site)
		}
		if w.A != a || w.B != b {
			continue
		}
		name := l.Say("closer.without-site.all", nil)
		if w.Site != "" {
			name = l.Say("closer.without-site.one", words.P{"site": w.Site})
		}
		s.Groups = append(s.Groups, figure.Strip{Label: name, Value: words.Number(number(w.Ratio), "2"), ValueSub: words.Number(number(w.Lower), "2") + "–" + words.Number(number(w.Upper), "2"),
			Estimate: number(w.Ratio), Lower: number(w.Lower), Upper: number(w.Upper)})
	}
	sentence := l.Say("closer.without-site.stays", nil)
	if len(turns) > 0 {
		sentence = l.Say("closer.without-site.turns", words.P{"sites": turns})
	}
	s.Desc = sentence
	return CloserPicture{Name: "without-site", Title: s.Title, Sentences: []string{sentence}, Off: len(turns) > 0,
		Draw: func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawStrips(s, f) }}, len(s.Groups) > 1
}

func balancePicture(l words.Language, r *fitness.Result) (figure.Scatter, bool) {
	s := figure.Scatter{Title: l.Say("closer.balance.title", words.P{"by": r.ByWord(l)}), XLabel: l.Say("closer.balance.x", words.P{"first": r.FirstDay}),
		YLabel: l.Say("closer.balance.y", nil)}
	any := false
	s.Groups = byLevel(r, func(i int) ([2]float64, bool) {
		x, ok := r.Rows[i].Day.Get()
		any = any || ok
		return [2]float64{x, r.Rows[i].HourLocal.Or(0)}, ok
	})
	return s, any
}

// CloserBalance is the table of what lies how over what is compared: factor,
// value, and the rows of each level.
func CloserBalance(l words.Language, r *fitness.Result) (head []string, lines [][]string) {
	head = append([]string{"", l.Say("closer.value", nil)}, r.Levels...)
	for _, b := range r.Balance {
		factor := l.Say("fitness.factor."+b.Factor, nil)
		add := func(value string, rows []int) {
			line := []string{factor, value}
			for _, n := range rows {
				line = append(line, fmt.Sprint(n))
			}
			lines = append(lines, line)
			factor = ""
		}
		for _, v := range b.Values {
			add(b.ValueWord(l, v.Value), v.Rows)
		}
		if slices.ContainsFunc(b.Missing, func(n int) bool { return n > 0 }) {
			add(l.Say("fitness.missing", nil), b.Missing)
		}
	}
	return head, lines
}

// CloserFigures gives every drawing of a closer look as SVG, PNG at 300 dpi and
// PDF. at is the date that its PDFs carry.
func CloserFigures(l words.Language, r *fitness.Result, at time.Time) ([]Figure, error) {
	var out []Figure
	for _, p := range CloserPictures(l, r) {
		files, err := asFiles(picture{p.Name, p.Draw}, l, at)
		if err != nil {
			return nil, err
		}
		out = append(out, files...)
	}
	return out, nil
}

// CloserTables puts a closer look into tidy tables.
func CloserTables(r *fitness.Result) []Table {
	tests := Table{Name: "tests", Columns: columns("test", "statistic", "p", "p_adjusted", "counted_from", "counted_n", "why_not")}
	for _, t := range r.Tests {
		var n any
		if t.N > 0 {
			n = t.N
		}
		tests.Lines = append(tests.Lines, []any{t.Slug, value(t.Statistic), value(t.P), value(t.PAdjusted), t.By, n, t.Why})
	}
	residuals := Table{Name: "residuals", Columns: columns("deployment_id", "site", "level", "check", "consumed", "residual", "normal_score")}
	for _, v := range r.Residuals {
		residuals.Lines = append(residuals.Lines, []any{v.DeploymentID, v.Site, v.Level, v.Check, v.Consumed, v.Residual, v.Normal})
	}
	rows := Table{Name: "rows", Columns: columns("deployment_id", "site", "level", "residual", "normal_score", "day", "hour_local", "later_minus")}
	for _, v := range r.Rows {
		rows.Lines = append(rows.Lines, []any{v.DeploymentID, v.Site, v.Level, v.Residual, v.Normal, value(v.Day), value(v.HourLocal), value(v.LaterMinus)})
	}
	balance := Table{Name: "balance", Columns: columns("factor", "value", "level", "rows")}
	for _, b := range r.Balance {
		for _, v := range b.Values {
			for k, n := range v.Rows {
				balance.Lines = append(balance.Lines, []any{b.Factor, v.Value, r.Levels[k], n})
			}
		}
	}
	without := Table{Name: "without-site", Columns: columns("site", "a", "b", "ratio", "lower", "upper", "p")}
	for _, w := range r.WithoutSite {
		without.Lines = append(without.Lines, []any{w.Site, w.A, w.B, value(w.Ratio), value(w.Lower), value(w.Upper), value(w.P)})
	}
	return []Table{tests, residuals, rows, balance, without}
}
