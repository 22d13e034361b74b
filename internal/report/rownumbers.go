package report

import (
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// RowTables are what each row says by itself: the rate of every interval; the
// constant rate, whether it was constant and the median survival; the share gone
// by the protocol's soaks; and, of rows with three checks or more, a Weibull
// curve. docs/methods/rates.md states each.
func RowTables(l words.Language, r *rates.Result) []NumberTable {
	if r == nil || len(r.Deployments) == 0 {
		return nil
	}
	w := &numbers{l: l}
	names := rateNames(r)
	w.intervals(r, names)
	w.constant(r, names)
	w.nominal(r, names)
	w.weibull(r, names)
	return w.out
}

// rateNames are the rows' identifiers, with the site where two rows share one.
func rateNames(r *rates.Result) []string {
	holders := map[string]int{}
	for _, d := range r.Deployments {
		holders[d.DeploymentID]++
	}
	out := make([]string, len(r.Deployments))
	for i, d := range r.Deployments {
		out[i] = d.DeploymentID
		if holders[d.DeploymentID] > 1 && d.Site != "" {
			out[i] += " (" + d.Site + ")"
		}
	}
	return out
}

// rateCells are an estimate and its limits; a limit that stands alone is marked
// as one-sided.
func rateCells(e rates.Estimate) []string {
	line := []string{maybeCell(e.Estimate, ""), maybeCell(e.Lower, ""), maybeCell(e.Upper, "")}
	switch x, known := e.Estimate.Get(); {
	case known && x == 0 && e.Upper.Known():
		line[1], line[2] = "–", "≤ "+line[2]
	case !known && e.Lower.Known() && !e.Upper.Known():
		line[1] = "≥ " + line[1]
	case !known && e.Upper.Known() && !e.Lower.Known():
		line[2] = "≤ " + line[2]
	}
	return line
}

func (w *numbers) intervals(r *rates.Result, names []string) {
	t := NumberTable{Name: "row-intervals", Caption: w.say("h-row-intervals"), Head: w.heads("row", "check", "from", "to", "at-risk", "went", "rate", "lower", "upper")}
	for i, d := range r.Deployments {
		for _, c := range d.Checks {
			t.Lines = append(t.Lines, append([]string{names[i], strconv.Itoa(c.Check), words.Number(c.FromH, "2"), words.Number(c.SoakH, "2"), strconv.Itoa(c.AtRisk), strconv.Itoa(c.ConsumedInInterval)},
				rateCells(c.RateInInterval)...))
		}
	}
	t.Notes = []string{w.say("note-row-intervals", "level", r.Level)}
	w.add(t)
}

func (w *numbers) constant(r *rates.Result, names []string) {
	t := NumberTable{Name: "row-constant", Caption: w.say("h-row-constant"), Head: w.heads("row", "rate", "lower", "upper", "chi2-constant", "p-constant", "median", "lower", "upper", "half-gone")}
	for i, d := range r.Deployments {
		chi2, p := "–", "–"
		if c, ok := d.Constant.Get(); ok {
			chi2, p = words.Number(c.Chi2, "2"), words.Number(c.P, "p")
		}
		half := maybeCell(d.HalfGone.FromH, "2")
		switch {
		case d.HalfGone.ToH.Known():
			half += " – " + maybeCell(d.HalfGone.ToH, "2")
		case d.HalfGone.FromH.Known():
			half = "> " + half
		}
		line := append([]string{names[i]}, rateCells(d.RatePerH)...)
		line = append(append(line, chi2, p), rateCells(d.MedianH)...)
		t.Lines = append(t.Lines, append(line, half))
	}
	t.Notes = []string{w.say("note-row-constant", "level", 1-r.Level)}
	w.add(t)
}

func (w *numbers) nominal(r *rates.Result, names []string) {
	t := NumberTable{Name: "row-nominal", Caption: w.say("h-row-nominal"), Head: w.heads("row", "soak", "share", "lower", "upper")}
	modelled := false
	for i, d := range r.Deployments {
		for _, n := range d.Nominal {
			share := maybeCell(n.Proportion, "3")
			if n.Modelled && n.Proportion.Known() {
				share, modelled = share+" *", true
			}
			t.Lines = append(t.Lines, []string{names[i], words.Number(n.SoakH, ""), share, maybeCell(n.Lower, "3"), maybeCell(n.Upper, "3")})
		}
	}
	if modelled {
		t.Notes = []string{w.say("note-row-nominal")}
	}
	w.add(t)
}

func (w *numbers) weibull(r *rates.Result, names []string) {
	t := NumberTable{Name: "row-weibull", Caption: w.say("h-row-weibull"), Head: w.heads("row", "shape", "lower", "upper", "scale", "lower", "upper", "loglik")}
	for i, d := range r.Deployments {
		x, ok := d.Weibull.Get()
		if !ok {
			continue
		}
		line := append([]string{names[i]}, rateCells(x.Shape)...)
		t.Lines = append(t.Lines, append(append(line, rateCells(x.ScaleH)...), maybeCell(x.LogLik, "3")))
	}
	t.Notes = []string{w.say("note-row-weibull")}
	w.add(t)
}

// RowPlain says in plain words how the rate of one row went along: the same all
// the time, with what that rate comes to, or faster at first or later; nothing where
// that cannot be told.
func RowPlain(l words.Language, d rates.Deployment, level float64) []string {
	c, ok := d.Constant.Get()
	if !ok || len(d.Checks) < 2 {
		return nil
	}
	if c.P < 1-level {
		first, last := rateOf(d.Checks[0].RateInInterval), rateOf(d.Checks[len(d.Checks)-1].RateInInterval)
		if first > last {
			return []string{l.Say("row-plain.faster-first", nil)}
		}
		return []string{l.Say("row-plain.faster-later", nil)}
	}
	out := []string{l.Say("row-plain.steady", nil)}
	if m, ok := d.MedianH.Estimate.Get(); ok && d.MedianH.Lower.Known() {
		with := words.P{"soak": SoakWords(m), "lower": SoakWords(d.MedianH.Lower.Or(0))}
		slug := "row-plain.half-open"
		if u, ok := d.MedianH.Upper.Get(); ok {
			slug, with["upper"] = "row-plain.half", SoakWords(u)
		}
		out = append(out, l.Say(slug, with))
	}
	return out
}

// rateOf is an estimate to compare with another: where everything went there is
// only a lower limit.
func rateOf(e rates.Estimate) float64 {
	pick := func(m ...assay.Maybe[float64]) float64 {
		for _, x := range m {
			if v, ok := x.Get(); ok {
				return v
			}
		}
		return 0
	}
	return pick(e.Estimate, e.Lower)
}
