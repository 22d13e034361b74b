package methods

import (
	"slices"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/mixed"
	"soakline/internal/words"
)

func (w *writer) inference() {
	k := w.in.Compare
	w.section("inference")
	if k.Test.DF > 0 && k.Test.Chi2.Known() {
		w.say("test", words.P{"by": w.factor(), "df": k.Test.DF})
		switch {
		case k.Test.Replicates > 0:
			w.say("bootstrap", words.P{"n": k.Test.Replicates, "failed": k.Test.Failed}, "davison1997")
			switch k.Test.Stopped {
			case "settled":
				w.say("stopped", words.P{"most": compare.MostReplicates, "level": 1 - k.ConfLevel, "risk": mixed.DefaultRisk}, "robbins1970")
			case "limit":
				w.say("stopped-limit", words.P{"n": k.Test.Replicates, "risk": mixed.DefaultRisk}, "robbins1970")
			}
			w.say("p-limits", words.P{"lower": k.Test.PBootstrapLower.Or(0), "upper": k.Test.PBootstrapUpper.Or(1)})
		default:
			w.say("chi2", words.P{"sites": k.Sites})
		}
	} else {
		w.say("test-none", nil)
	}
	if n := len(k.Contrasts); n > 0 {
		w.say("contrasts", words.P{"n": n, "level": k.ConfLevel})
		switch {
		case n == 1:
			w.say("adjust-one", nil)
		case k.Test.Replicates > 0 && k.Adjust != "none":
			w.say("adjust-holm-simulated", words.P{"n": n}, "holm1979")
		case k.Adjust == "holm":
			w.say("adjust-holm", words.P{"n": n}, "holm1979")
		case k.Adjust == "simultaneous":
			w.say("adjust-simultaneous", words.P{"n": n}, "hothorn2008")
		default:
			w.say("adjust-none", words.P{"n": n})
		}
	}
	if k.BandsTest.P.Known() {
		w.say("bands-test", words.P{"p": k.BandsTest.P.Or(1), "df": k.BandsTest.DF})
	}
	if p, ok := k.Test.SmallestP.Get(); ok {
		w.say("smallest", words.P{"p": p})
	}
	w.say("limits", words.P{"level": k.ConfLevel})
	if low, high, ok := degrees(k); ok {
		w.say("limits-few", words.P{"low": words.Number(low, "3"), "high": words.Number(high, "3")}, "patterson1971", "noh2007", "giesbrecht1985")
	}
	if slices.ContainsFunc(k.Contrasts, func(c compare.Contrast) bool { return c.LowerBootstrap.Known() }) {
		w.say("limits-bootstrap", nil)
	}
	if slices.ContainsFunc(k.Fixed, func(t compare.Term) bool {
		return t.Shrunk.Known() || t.Bound == compare.UpperBound || t.Bound == compare.LowerBound
	}) {
		w.say("separation", nil, "firth1993")
	}
}

// degrees are the fewest and most degrees of freedom of limits for few sites; false where
// there are none.
func degrees(k *compare.Result) (low, high float64, ok bool) {
	var all []float64
	for _, m := range k.Means {
		if v, has := m.DF.Get(); has {
			all = append(all, v)
		}
	}
	for _, c := range k.Contrasts {
		if v, has := c.DF.Get(); has {
			all = append(all, v)
		}
	}
	if len(all) == 0 {
		return 0, 0, false
	}
	return slices.Min(all), slices.Max(all), true
}

func (w *writer) hasControlTerms() bool {
	return slices.ContainsFunc(w.in.Compare.Fixed, func(t compare.Term) bool { return t.Term == "control" })
}

func (w *writer) controls() {
	k := w.in.Compare
	w.section("controls")
	total, list := 0, words.List{}
	for _, kind := range []assay.Control{assay.Shielded, assay.PartlyShielded, assay.Handling} {
		if n := w.facts.Controls[kind]; n > 0 {
			total += n
			list = append(list, words.Ref{Slug: "methods.control-kind", With: words.P{"n": n, "kind": words.Ref{Slug: "methods.control-" + string(kind)}}})
		}
	}
	if total == 0 {
		w.say("controls-none", nil)
		return
	}
	w.say("controls-were", words.P{"n": total, "list": list})
	if w.hasControlTerms() {
		w.say("controls-subtracted", nil, "abbott1925")
	} else {
		w.say("controls-left-out", nil)
	}
	if len(k.Controls.Loss) > 0 {
		w.say("controls-limits", nil, "korn1998")
	}
	if b := k.Controls.AtUpperBound; b != nil {
		w.say("controls-bound", words.P{"rate": b.RateUpperPerH, "hours": b.BaitHours})
	}
}

func (w *writer) sensitivity() {
	in := w.in
	w.section("sensitivity")
	if len(in.Variants) == 0 {
		w.say("sensitivity-none", nil)
		return
	}
	sites, list, turned := 0, words.List{}, words.List{}
	for _, v := range in.Variants {
		if compare.Turns(in.Compare, v.Result) {
			turned = append(turned, v.Name())
		}
		if v.Slug == "without-site" {
			sites++
			continue
		}
		list = append(list, v.Name())
	}
	if sites > 0 {
		list = append(list, words.Ref{Slug: "methods.each-site", With: words.P{"n": sites}})
	}
	w.say("sensitivity", words.P{"list": list})
	if len(turned) == 0 {
		w.say("sensitivity-stays", nil)
	} else {
		w.say("sensitivity-turns", words.P{"n": len(turned), "list": turned})
	}
}

// plan says which parts were settled before the data, where a logbook may keep that.
func (w *writer) plan() {
	lines := w.in.Compare.Plan.Sentences(w.in.Lang)
	if len(lines) == 0 {
		return
	}
	w.section("plan")
	s := &w.out.Sections[len(w.out.Sections)-1]
	s.Paragraphs = append(s.Paragraphs, lines...)
	if p := w.in.Compare.Plan; p.Has() {
		w.say("plan-hash", words.P{"hash": p.SHA256})
	}
}

// checks are the checks of the model that were made, each with its p.
func (w *writer) checks() {
	c := w.in.Checks
	if c == nil {
		return
	}
	w.section("checks")
	w.say("checks", words.P{"seasons": c.Seasons}, "dunn1996")
	if c.Refits > 0 {
		w.say("checks-refitted", words.P{"refits": c.Refits})
	}
	if c.Runs {
		w.say("checks-runs", nil, "wald1940")
	}
	if c.Distance {
		w.say("checks-distance", nil, "moran1950")
	}
	w.say("checks-holm", nil, "holm1979")
	s := &w.out.Sections[len(w.out.Sections)-1]
	s.Paragraphs = append(append(s.Paragraphs, c.Sentences...), c.Balance...)
	switch {
	case c.Sites == 0:
	case len(c.Turned) == 0:
		w.say("checks-sites", words.P{"n": c.Sites})
	default:
		w.say("checks-sites-turn", words.P{"n": c.Sites, "sites": c.Turned})
	}
}

// remarks are what the comparison itself wants told.
func (w *writer) remarks() {
	k := w.in.Compare
	if len(k.Messages) == 0 {
		return
	}
	w.section("remarks")
	s := &w.out.Sections[len(w.out.Sections)-1]
	for _, m := range k.Messages {
		s.Paragraphs = append(s.Paragraphs, m.In(w.in.Lang))
	}
}

func (w *writer) software() {
	w.section("software")
	seed := 0
	if w.in.Compare != nil {
		seed = int(w.in.Compare.Seed)
	} else if w.in.Rates != nil {
		seed = int(w.in.Rates.Seed)
	}
	w.say("software", words.P{"version": w.in.Version, "seed": words.Number(float64(seed), "0"), "hash": w.in.Hash})
	w.out.References = append(w.out.References, software(w.in.Version))
}
