package compare

import (
	"context"
	"fmt"
	"math"
	"slices"

	"soakline/internal/assay"
	"soakline/internal/mixed"
)

// withTime says whether the factor is taken together with time.
func (f *frame) withTime() bool {
	return slices.ContainsFunc(f.extra, func(c column) bool { return c.touches(ofLevel) && c.touches(ofBand) })
}

// bandWeights are the bands' shares in a contrast: all in the first where the ratio is
// the same in all; else as the consumed baits fall into them, an interval over
// several bands counted in the one it lies in longest.
func (f *frame) bandWeights() []float64 {
	w := make([]float64, max(1, len(f.bands)))
	if !f.withTime() {
		w[0] = 1
		return w
	}
	total := 0.0
	for _, s := range f.spans {
		if f.rows[s.row].control {
			continue
		}
		at, most := 0, 0.0
		for k, b := range f.bands {
			h := oneIf(b == s.check)
			if !f.byCheck() {
				h = f.overlapH(b-1, s.fromH, s.toH)
			}
			if h > most {
				at, most = k, h
			}
		}
		w[at] += float64(s.consumed)
		total += float64(s.consumed)
	}
	for k := range w {
		w[k] /= math.Max(total, 1)
	}
	if total == 0 {
		w[0] = 1
	}
	return w
}

// overTime tests whether the ratios are the same in all bands (proportional hazards)
// against a ratio for each. Where they are not, at the level of the limits, the one
// ratio is an average, which is said, and the ratio of each band is told.
func (f *frame) overTime(ctx context.Context, r *Result, fit *mixed.Result) error {
	if !f.asksOverTime(fit) {
		return nil
	}
	if f.withTime() {
		var terms []string
		for _, c := range f.extra {
			if c.touches(ofLevel) && c.touches(ofBand) {
				terms = append(terms, c.term)
			}
		}
		null, err := fit.Without(terms...)
		if err != nil {
			return fmt.Errorf("the model with one ratio for all bands: %w", err)
		}
		f.takeBandsTest(r, fit.Ratio(null))
		f.bandContrasts(r, f, fit)
		return ctx.Err()
	}
	wide, apart := f.ahead.wide, f.ahead.apart
	if apart == nil {
		var err error
		wide = f.bandsApart()
		if apart, err = wide.fitFrom(fit, true); err != nil {
			return err
		}
	}
	ratio := apart.Ratio(fit)
	f.takeBandsTest(r, ratio)
	if ratio.P < 1-f.o.Level {
		f.say("ratio-changes", "by", f.o.By, "p", ratio.P)
		var err error
		if apart, err = wide.fitFrom(apart, false); err != nil {
			return err
		}
		f.bandContrasts(r, wide, apart)
	}
	return ctx.Err()
}

func (f *frame) asksOverTime(fit *mixed.Result) bool {
	return !f.repeated && f.o.Link != "logit" && f.o.Check == 0 && len(f.bands) > 1 && len(f.levels) > 1 && fit.Ending.Usable()
}

// bandsApart is the frame with the factor taken together with time.
func (f *frame) bandsApart() *frame {
	w := *f
	w.ahead = ahead{}
	w.extra = slices.Clone(f.extra)
	levels, lt := f.atomsOf(f.o.By)
	bands, bt := f.atomsOf(theTime)
	for i, a := range levels {
		for j, b := range bands {
			w.extra = append(w.extra, column{term: lt[i] + " with " + bt[j], a: a, b: b})
		}
	}
	w.nameTerms()
	return &w
}

func (f *frame) takeBandsTest(r *Result, t mixed.RatioTest) {
	r.BandsTest = BandsTest{Chi2: maybe(t.Chi2), DF: t.DF, P: maybe(t.P)}
}

// bandContrasts tells the ratio of every pair of levels in every band, at the
// covariates' mean.
func (f *frame) bandContrasts(r *Result, wide *frame, fit *mixed.Result) {
	x := wide.typical()
	for j := range wide.levels {
		for i := range j {
			for k, b := range wide.bands {
				c := fit.Contrast(minus(wide.design(k, j, x), wide.design(k, i, x)))
				t := BandContrast{A: f.levels[j], B: f.levels[i], Band: b, RateRatio: maybe(math.Exp(c.Estimate)),
					Lower: maybe(math.Exp(c.Lower)), Upper: maybe(math.Exp(c.Upper)), P: maybe(c.P), Bound: TwoSided}
				if c.Bound == mixed.UpperOnly || c.Bound == mixed.LowerOnly {
					t.Bound = Bound(c.Bound)
				}
				if !f.byCheck() {
					t.FromH = assay.Some(0.0)
					if b > 1 {
						t.FromH = assay.Some(f.bandEndH[b-2])
					}
					if b < len(f.bandEndH) {
						t.ToH = assay.Some(f.bandEndH[b-1])
					}
				}
				r.BandContrasts = append(r.BandContrasts, t)
			}
		}
	}
}

// testParts tests each covariate, what bends its line, and what is taken together.
func (f *frame) testParts(ctx context.Context, r *Result, fit *mixed.Result) error {
	if f.repeated || !fit.Ending.Usable() {
		return nil
	}
	for _, p := range f.parts {
		null, err := fit.Without(p.terms...)
		if err != nil {
			return err
		}
		t := fit.Ratio(null)
		r.TermTests = append(r.TermTests, TermTest{Terms: p.terms, Chi2: maybe(t.Chi2), DF: t.DF, P: maybe(t.P)})
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}
