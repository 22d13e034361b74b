package compare

import (
	"math"
	"slices"

	"soakline/internal/assay"
	"soakline/internal/mixed"
)

// calibrated sets what simulated seasons say of the test and the contrasts.
func (f *frame) calibrated(r *Result, fit *mixed.Result, b *mixed.Bootstrap, vectors [][]float64) {
	t := &r.Test
	t.PBootstrap, t.Replicates, t.Failed, t.Stopped = maybe(b.P), b.Replicates, b.Failed, "fixed"
	t.PBootstrapLower, t.PBootstrapUpper = maybe(b.PLower), maybe(b.PUpper)
	switch {
	case b.Settled:
		t.Stopped = "settled"
	case f.o.BootstrapAuto:
		t.Stopped = "limit"
		f.say("not-settled", "n", b.Replicates, "level", 1-f.o.Level)
	}
	adjusted := b.ContrastP
	if f.o.Adjust != "none" {
		adjusted = mixed.Holm(b.ContrastP)
	}
	for i := range r.Contrasts {
		c := &r.Contrasts[i]
		c.PBootstrap, c.PBootstrapAdjusted = maybe(b.ContrastP[i]), maybe(adjusted[i])
		w := fit.Contrast(vectors[i])
		if c.Bound != TwoSided || !c.P.Known() {
			continue
		}
		half := critical(b.ContrastT[i], f.o.Level) * w.SE
		c.LowerBootstrap, c.UpperBootstrap = maybe(math.Exp(w.Estimate-half)), maybe(math.Exp(w.Estimate+half))
	}
	if b.Failed > 0 {
		f.say("refits-failed", "n", b.Failed, "of", b.Replicates)
	}
}

// critical is the value that |t*| exceeds with probability 1 − level: the k-th of
// n in order, k = level (n + 1) rounded up; a season without a value counts as
// larger than any. Missing where there are too few seasons for that.
//
// Source: Davison & Hinkley (1997), Bootstrap Methods and their Application,
// section 5.2.1 (studentised limits; symmetrical, and with t* from seasons
// without a difference, as the test has them).
func critical(t []float64, level float64) float64 {
	all := slices.Clone(t)
	for i, x := range all {
		if math.IsNaN(x) {
			all[i] = math.Inf(1)
		}
	}
	slices.Sort(all)
	k := int(math.Ceil(level*float64(len(all)+1) - 1e-9))
	if k > len(all) {
		return math.NaN()
	}
	return all[k-1]
}

// saySmallest names the smallest p that the layout allows where it is larger than
// the level leaves room for, or than the p that is told.
func (f *frame) saySmallest(r *Result) {
	least, ok := r.Test.SmallestP.Get()
	p, _ := r.Headline()
	told, known := p.Get()
	if ok && (least > (1-f.o.Level)/5 || known && told < least && least > 1e-4) {
		f.say("smallest-p", "p", least, "ways", math.Round(1/least), "sites", r.Sites, "by", f.o.By)
	}
}

// Headline is the p of the test that is told first, and whether it was calibrated
// by simulated seasons.
func (r *Result) Headline() (p assay.Maybe[float64], calibrated bool) {
	if r.Test.PBootstrap.Known() {
		return r.Test.PBootstrap, true
	}
	return r.Test.P, false
}

// Headline is the p of a contrast that is told first: by simulated seasons where
// there are any, adjusted for the family.
func (c Contrast) Headline() (p assay.Maybe[float64], calibrated bool) {
	if c.PBootstrapAdjusted.Known() {
		return c.PBootstrapAdjusted, true
	}
	return c.PAdjusted, false
}

// HeadlineLimits are the limits that go with Headline. Where the p is a simulated
// one the limits are too, and missing where too few seasons were simulated to tell
// them; a one-sided bound, which is a likelihood's, stands either way.
func (c Contrast) HeadlineLimits() (lower, upper assay.Maybe[float64]) {
	if c.PBootstrap.Known() && c.Bound == TwoSided {
		return c.LowerBootstrap, c.UpperBootstrap
	}
	if c.LowerT.Known() && c.UpperT.Known() {
		return c.LowerT, c.UpperT
	}
	return c.Lower, c.Upper
}
