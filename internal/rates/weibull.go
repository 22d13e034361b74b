package rates

import (
	"math"

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
	if math.Abs(x) > shapeLimit-0.01 {
		return WeibullFit{}
	}
	fit := WeibullFit{LogLik: assay.Some(top + w.constants)}
	fit.Shape.Estimate = assay.Some(math.Exp(x))
	_, logScale := w.at(x)
	fit.ScaleH.Estimate = assay.Some(math.Exp(logScale))
	half := chi1(level) / 2
	shape := func(v float64) float64 { ll, _ := w.at(v); return ll - top + half }
	fit.Shape.Lower = across(shape, x, -0.2, shapeLimit)
	fit.Shape.Upper = across(shape, x, 0.2, shapeLimit)
	scale := func(v float64) float64 { return w.atScale(v) - top + half }
	fit.ScaleH.Lower = across(scale, logScale, -0.2, logLimit)
	fit.ScaleH.Upper = across(scale, logScale, 0.2, logLimit)
	return fit
}

// across is exp of the root of f on the side of step from x.
func across(f func(float64) float64, x, step, limit float64) assay.Maybe[float64] {
	a, b, ok := outward(f, x, step, limit)
	if !ok {
		return assay.None[float64]()
	}
	return assay.Some(math.Exp(root(f, a, b, 1e-9)))
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
	rate, ll := d.peak()
	return ll, math.Log(w.lastH) - math.Log(rate)/shape
}

// atScale is the likelihood's maximum over the shape for a log scale.
func (w *weibull) atScale(logScale float64) float64 {
	_, ll := highest(func(x float64) float64 {
		shape := math.Exp(x)
		d := newHazard(w.ivs, func(h float64) float64 { return math.Exp(shape * (math.Log(h) - logScale)) })
		ll, _ := d.logLik(1)
		if math.IsNaN(ll) {
			return math.Inf(-1)
		}
		return ll
	}, -shapeLimit, shapeLimit, 1e-6)
	return ll
}

func (w *weibull) best() (logShape, ll float64) {
	return highest(func(x float64) float64 { ll, _ := w.at(x); return ll }, -shapeLimit, shapeLimit, 1e-8)
}

// Constancy tests whether the rate is the same over the soak: twice the gain in
// log-likelihood of a Weibull curve over a constant rate, against chi-squared
// with one degree of freedom. With two intervals the Weibull curve is free to
// meet both, so the gain is that of the product-limit curve.
type Constancy struct {
	Chi2 float64 `json:"chi2"`
	DF   int     `json:"df"`
	P    float64 `json:"p"`
}

// constancy is missing where there are not two intervals with baits, nothing was
// consumed, or everything went in the first interval.
func constancy(c *curve, constant float64) assay.Maybe[Constancy] {
	steps, consumed, baits := 0, 0, 0
	for place := 1; place < len(c.known); place++ {
		if c.known[place] && c.exposed[place] > 0 {
			steps++
		}
	}
	for k := range c.r.intervals {
		consumed += c.r.intervals[k].Consumed
		baits += c.r.intervals[k].Baits()
	}
	if steps < 2 || consumed == 0 || consumed == baits || math.IsNaN(constant) {
		return assay.None[Constancy]()
	}
	w := newWeibull(c.r.intervals)
	var free float64
	if steps == 2 {
		free = c.logLik + w.constants
	} else {
		_, free = w.best()
		free += w.constants
	}
	chi2 := max(0, 2*(free-constant))
	return assay.Some(Constancy{Chi2: chi2, DF: 1, P: math.Erfc(math.Sqrt(chi2 / 2))})
}
