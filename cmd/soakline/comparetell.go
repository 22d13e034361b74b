package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/compare"
	"soakline/internal/words"
)

func (a *app) printCompare(r *compare.Result) {
	pct := fmt.Sprintf("%g %%", 100*r.ConfLevel)
	a.print(a.out, a.say("cmd.compare.rests", "n", r.Deployments, "sites", r.Sites, "intervals", r.Intervals))
	a.print(a.out, "")
	t := a.table(r.By, a.say("cmd.rates.col-soak"), a.say("cmd.compare.col-share"), pct, a.say("cmd.compare.col-typical"))
	for _, m := range r.Means {
		lower, upper := m.HeadlineLimits()
		t.row(m.Level, words.Number(m.SoakH, ""), number(m.Proportion, "3"), number(lower, "3")+" – "+number(upper, "3"), number(m.RateTypicalPerH, ""))
	}
	t.print()
	a.printContrasts(r, pct)
	if r.Test.P.Known() || r.Test.PBootstrap.Known() || r.BandsTest.P.Known() {
		a.print(a.out, "")
	}
	if p, ok := r.Test.PBootstrap.Get(); ok {
		a.print(a.out, a.say("cmd.compare.test-bootstrap", "chi2", r.Test.Chi2.Or(0), "df", r.Test.DF, "p", p, "n", r.Test.Replicates, "failed", r.Test.Failed,
			"lower", r.Test.PBootstrapLower.Or(0), "upper", r.Test.PBootstrapUpper.Or(1)))
	} else if p, ok := r.Test.P.Get(); ok {
		a.print(a.out, a.say("cmd.compare.test", "chi2", r.Test.Chi2.Or(0), "df", r.Test.DF, "p", p))
	}
	a.printTerms(r, pct)
	a.printSpreads(r, pct)
	a.printControls(r, pct)
	a.printRepeats(r)
	a.printFoot(len(r.Excluded), func(f func(id, slug string)) {
		for _, e := range r.Excluded {
			f(e.DeploymentID, e.Slug)
		}
	})
	a.print(a.out, "")
	for _, m := range r.Messages {
		a.print(a.out, m.In(a.lang))
	}
	a.print(a.out, a.say("cmd.compare.end", "loglik", number(r.LogLik, "3"), "aic", number(r.AIC, "2"), "ending", words.Ref{Slug: "ending." + r.Ending}))
	a.print(a.out, a.say("cmd.seed", "seed", strconv.FormatUint(r.Seed, 10)))
}

// printContrasts tells the calibrated p and limits first where there are any.
func (a *app) printContrasts(r *compare.Result, pct string) {
	if len(r.Contrasts) == 0 {
		return
	}
	_, simulated := r.Headline()
	head := []string{a.say("cmd.compare.col-ratio-of"), a.say("cmd.compare.col-ratio"), pct}
	if simulated {
		head = append(head, a.say("cmd.compare.col-p-headline"), a.say("cmd.compare.col-p-bootstrap"), a.say("cmd.compare.col-p-quick"))
	} else {
		head = append(head, a.say("cmd.compare.col-p-adjusted"), "p")
	}
	a.print(a.out, "")
	t := a.table(head...)
	for _, k := range r.Contrasts {
		ratio := k.RateRatio
		if !ratio.Known() {
			ratio = k.OddsRatio
		}
		p, _ := k.Headline()
		lower, upper := k.HeadlineLimits()
		line := []any{k.A + " / " + k.B, number(ratio, ""), number(lower, "") + " – " + number(upper, ""), number(p, "p")}
		if simulated {
			line = append(line, number(k.PBootstrap, "p"), number(k.P, "p"))
		} else {
			line = append(line, number(k.P, "p"))
		}
		t.row(line...)
	}
	t.print()
}

// ratioOf is a contrast's ratio, or its one-sided bound.
func ratioOf(k compare.Contrast) string {
	ratio := k.RateRatio
	if !ratio.Known() {
		ratio = k.OddsRatio
	}
	switch {
	case ratio.Known():
		return number(ratio, "2")
	case k.Bound == compare.UpperBound:
		return "≤ " + number(k.Upper, "2")
	case k.Bound == compare.LowerBound:
		return "≥ " + number(k.Lower, "2")
	}
	return "–"
}

// printSpreads prints how far rows of one site, and so on, lie apart; limits
// stand beside where they were asked for.
func (a *app) printSpreads(r *compare.Result, pct string) {
	heads := []string{a.say("cmd.compare.col-spread"), a.say("cmd.compare.col-levels"), "SD"}
	limited := slices.ContainsFunc(r.Random, func(s compare.Spread) bool { return s.Lower.Known() || s.Upper.Known() })
	if limited {
		heads = append(heads, pct)
	}
	t := a.table(heads...)
	for _, s := range r.Random {
		cells := []any{compare.GroupName(s.Group).In(a.lang), s.Levels, number(s.SD, "3")}
		switch {
		case s.Lower.Known():
			cells = append(cells, number(s.Lower, "3")+" – "+number(s.Upper, "3"))
		case limited:
			cells = append(cells, "")
		}
		t.row(cells...)
	}
	a.print(a.out, "")
	t.print()
}

// printTerms prints what was tested beside the factor, and the ratio of each
// stretch of time where it changes.
func (a *app) printTerms(r *compare.Result, pct string) {
	if p, ok := r.BandsTest.P.Get(); ok {
		a.print(a.out, a.say("cmd.compare.bands-test", "chi2", r.BandsTest.Chi2.Or(0), "df", r.BandsTest.DF, "p", p))
	}
	if len(r.BandContrasts) > 0 {
		a.print(a.out, "")
		t := a.table(a.say("cmd.compare.col-ratio-of"), a.say("cmd.compare.col-band"), a.say("cmd.compare.col-ratio"), pct, "p")
		for _, k := range r.BandContrasts {
			when := a.say("cmd.compare.band-check", "n", k.Band)
			if from, ok := k.FromH.Get(); ok {
				when = words.Number(from, "") + " – " + number(k.ToH, "") + " h"
				if _, ends := k.ToH.Get(); !ends {
					when = a.say("cmd.compare.band-from", "from", from)
				}
			}
			t.row(k.A+" / "+k.B, when, number(k.RateRatio, ""), number(k.Lower, "")+" – "+number(k.Upper, ""), number(k.P, "p"))
		}
		t.print()
	}
	if len(r.TermTests) > 0 {
		a.print(a.out, "")
		t := a.table(a.say("cmd.compare.col-term"), "χ²", a.say("cmd.compare.col-df"), "p")
		for _, k := range r.TermTests {
			t.row(strings.Join(k.Terms, ", "), number(k.Chi2, "2"), k.DF, number(k.P, "p"))
		}
		t.print()
	}
}

// printControls tells what went in the control rows, kind by kind.
func (a *app) printControls(r *compare.Result, pct string) {
	if len(r.Controls.Loss) == 0 {
		return
	}
	a.print(a.out, "")
	t := a.table(a.say("cmd.compare.col-control"), a.say("cmd.rates.col-check"), a.say("cmd.rates.col-soak"), a.say("cmd.rates.col-row"), a.say("cmd.rates.col-gone"), a.say("cmd.compare.col-loss"), pct)
	for _, c := range r.Controls.Loss {
		limits := number(c.Lower, "3") + " – " + number(c.Upper, "3")
		switch c.Bound {
		case compare.UpperBound:
			limits = "≤ " + number(c.Upper, "3")
		case compare.LowerBound:
			limits = "≥ " + number(c.Lower, "3")
		}
		t.row(words.Ref{Slug: "methods.control-" + c.Kind}.In(a.lang), c.Check, words.Number(c.SoakH, "2"), c.Deployments, fmt.Sprintf("%d / %d", c.Consumed, c.Baits), number(c.Proportion, "3"), limits)
	}
	t.print()
}

// printRepeats tells what each repetition came to.
func (a *app) printRepeats(r *compare.Result) {
	if r.Sensitivity == nil {
		return
	}
	a.print(a.out, "")
	if len(r.Sensitivity) == 0 {
		a.print(a.out, a.say("cmd.compare.repeat-none"))
		return
	}
	t := a.table(a.say("cmd.compare.col-changed"), a.say("cmd.rates.col-row"), "p", a.say("cmd.compare.col-ratio-of"), a.say("cmd.compare.col-ratio"), a.say("cmd.compare.col-turns"))
	for _, v := range r.Sensitivity {
		name := compare.Variant{Slug: v.Variant, Site: v.Site}.Name().In(a.lang)
		turns := a.say("cmd.compare.turns-no")
		if v.Turns {
			turns = a.say("cmd.compare.turns-yes")
		}
		if len(v.Contrasts) == 0 {
			t.row(name, v.Deployments, number(v.Test.P, "p"), "–", "–", turns)
		}
		for i, k := range v.Contrasts {
			if i > 0 {
				t.row("", "", "", k.A+" / "+k.B, ratioOf(k), "")
				continue
			}
			t.row(name, v.Deployments, number(v.Test.P, "p"), k.A+" / "+k.B, ratioOf(k), turns)
		}
	}
	t.print()
}
