package rates

import (
	"math"
	"slices"

	"soakline/internal/assay"
)

// WeibullFit is S(t) = exp(−(t/scale)^shape): shape 1 is a constant rate, above
// 1 a rate that rises with soak, below 1 one that falls. Limits are by profile
// likelihood. A maximum that lies at no finite shape leaves both missing.
type WeibullFit struct {
	Shape  Estimate             `json:"shape"`
	ScaleH Estimate             `json:"scale_h"`
	LogLik assay.Maybe[float64] `json:"loglik"`
}

// shapeLimit bounds |log shape|: beyond it all consumption sits at one look or
// spreads evenly over the logarithm of time, and the likelihood is flat.
const shapeLimit = 6

// Weibull fits the intervals by maximum likelihood: for a given shape the rest is
// a constant rate in soak^shape, so one search over the shape is left.
// docs/methods/rates.md, "Weibull". It needs something consumed and something
// that outlived a look; else everything is missing.
func Weibull(ivs []Interval, level float64) WeibullFit {
	w := newWeibull(ivs)
	if !w.able {
		return WeibullFit{}
	}
	x, top := w.best()
	for _, side := range []float64{-0.1, 0.1} { // flat or breaking down: no peak
		if ll, _ := w.at(x + side); !(top-ll > 1e-7) || math.IsInf(ll, -1) {
			return WeibullFit{}
		}
	}
	fit := WeibullFit{LogLik: assay.Some(top + w.constants)}
	fit.Shape.Estimate = assay.Some(math.Exp(x))
	_, logScale := w.at(x)
	fit.ScaleH.Estimate = expIfFinite(logScale)
	if !fit.ScaleH.Estimate.Known() { // so flat that no soak would do
		return WeibullFit{}
	}
	half := chi1(level) / 2
	shape := func(v float64) float64 { ll, _ := w.at(v); return ll - top + half }
	fit.Shape.Lower = across(shape, x, -0.2, shapeLimit)
	fit.Shape.Upper = across(shape, x, 0.2, shapeLimit)
	if se := w.scaleError(x, logScale, top); se > 0 {
		z := math.Sqrt(chi1(level))
		fit.ScaleH.Lower, fit.ScaleH.Upper = expIfFinite(logScale-z*se), expIfFinite(logScale+z*se)
	}
	return fit
}

// expIfFinite is e^x where that is a number above 0.
func expIfFinite(x float64) assay.Maybe[float64] {
	if v := math.Exp(x); v > 0 && !math.IsInf(v, 1) && !math.IsNaN(v) {
		return assay.Some(v)
	}
	return assay.None[float64]()
}

// across is exp of the root of f on the side of step from x.
func across(f func(float64) float64, x, step, limit float64) assay.Maybe[float64] {
	for at := x + step; math.Abs(at) <= limit; at += step {
		if f(at) <= 0 {
			return assay.Some(math.Exp(root(f, min(at-step, at), max(at-step, at), 1e-9)))
		}
	}
	return assay.None[float64]()
}

type weibull struct {
	ivs       []Interval
	lastH     float64
	constants float64
	able      bool
}

func newWeibull(ivs []Interval) *weibull {
	w := &weibull{ivs: ivs}
	consumed, baits := 0, 0
	for k := range ivs {
		w.lastH = max(w.lastH, ivs[k].ToH)
		consumed += ivs[k].Consumed
		baits += ivs[k].Baits()
	}
	w.able = consumed > 0 && consumed < baits
	w.constants = newHazard(ivs, func(h float64) float64 { return h }).constants()
	return w
}

// at is the likelihood's maximum for a log shape, and the log scale at it, hours.
func (w *weibull) at(logShape float64) (ll, logScale float64) {
	shape := math.Exp(logShape)
	d := newHazard(w.ivs, func(h float64) float64 { return math.Pow(h/w.lastH, shape) })
	rate, ll, _ := d.peak()
	if math.IsNaN(ll) {
		return math.Inf(-1), math.NaN()
	}
	return ll, math.Log(w.lastH) - math.Log(rate)/shape
}

// scaleError is the standard error of the log scale from the observed information
// in (log shape, log scale), taken by differences; 0 where there is none.
func (w *weibull) scaleError(logShape, logScale, top float64) float64 {
	const d = 1e-3
	at := func(i, j float64) float64 {
		shape := math.Exp(logShape + i*d)
		h := newHazard(w.ivs, func(t float64) float64 {
			if t == 0 {
				return 0
			}
			return math.Exp(shape * (math.Log(t) - logScale - j*d))
		})
		ll, _, _ := h.logLik(1)
		return ll
	}
	a := -(at(1, 0) + at(-1, 0) - 2*top) / (d * d)
	b := -(at(1, 1) + at(-1, -1) - at(1, -1) - at(-1, 1)) / (4 * d * d)
	c := -(at(0, 1) + at(0, -1) - 2*top) / (d * d)
	if v := a / (a*c - b*b); v > 0 && !math.IsInf(v, 1) {
		return math.Sqrt(v)
	}
	return 0
}

func (w *weibull) best() (logShape, ll float64) {
	return highest(func(x float64) float64 { ll, _ := w.at(x); return ll }, -shapeLimit, shapeLimit, 1e-6)
}

// Constancy tests whether the rate is the same over the soak: Rao's score test of
// Weibull shape 1, with one degree of freedom. It needs only the constant rate,
// and holds its level with few baits, where twice the gain in log-likelihood does
// not (docs/methods/rates.md, "Test of a constant rate").
type Constancy struct {
	Chi2 float64 `json:"chi2"`
	DF   int     `json:"df"`
	P    float64 `json:"p"`
}

// constancy is missing where there are not two looks with baits, nothing was
// consumed, or everything went by the first look at it.
//
// With H_i = λ(t^k − s^k) over an interval from s to t, at k = 1: dH/dlog λ = λ(t −
// s), dH/dk = λ(t log t − s log s); the score of an interval is (y − r q)/q and
// its information r (1 − q)/q, each times those derivatives. With two intervals
// the statistic is Pearson's Σ (y − r q)² / (r q (1 − q)). Late baits come in with
// their expected split and the information of a known one, which is too much, so
// the test is then on the careful side.
func constancy(ivs []Interval, rate Estimate) assay.Maybe[Constancy] {
	lambda, ok := rate.Estimate.Get()
	if !ok || lambda <= 0 || !severalEnds(ivs) {
		return assay.None[Constancy]()
	}
	var u, ikk, ikl, ill float64
	var hs, ex []float64
	for k := range ivs {
		iv := &ivs[k]
		groups := 1 + len(iv.Late)
		hs, ex = hs[:0], slices.Grow(ex[:0], groups)[:groups]
		hs = append(hs, lambda*(iv.ToH-iv.FromH))
		for _, l := range iv.Late {
			hs = append(hs, lambda*(iv.ToH-l.FromH))
		}
		iv.Split(hs, ex)
		for g, h := range hs {
			from, r := iv.FromH, float64(iv.AtRisk)
			if g > 0 {
				from, r = iv.Late[g-1].FromH, float64(iv.Late[g-1].AtRisk)
			}
			q := -math.Expm1(-h)
			slope := lambda * (timesLog(iv.ToH) - timesLog(from))
			info := r * (1 - q) / q
			u += slope * (ex[g] - r*q) / q
			ikk += info * slope * slope
			ikl += info * slope * h
			ill += info * h * h
		}
	}
	v := ikk - ikl*ikl/ill
	if !(v > 1e-12*ikk) {
		return assay.None[Constancy]()
	}
	chi2 := u * u / v
	return assay.Some(Constancy{Chi2: chi2, DF: 1, P: math.Erfc(math.Sqrt(chi2 / 2))})
}

func timesLog(t float64) float64 {
	if t == 0 {
		return 0
	}
	return t * math.Log(t)
}

// severalEnds says whether baits were looked at over more than one stretch of soak.
func severalEnds(ivs []Interval) bool {
	for k := range ivs {
		if ivs[k].FromH != ivs[0].FromH || ivs[k].ToH != ivs[0].ToH || ivs[k].Late != nil {
			return true
		}
	}
	return false
}
