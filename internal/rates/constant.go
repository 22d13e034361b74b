package rates

import (
	"math"

	"soakline/internal/assay"
)

// Estimate is a number with its limits. A part that the data do not determine
// is missing: an upper limit alone is a one-sided bound.
type Estimate struct {
	Estimate assay.Maybe[float64] `json:"estimate"`
	Lower    assay.Maybe[float64] `json:"lower"`
	Upper    assay.Maybe[float64] `json:"upper"`
}

// ConstantRate is the maximum-likelihood rate of consumption, taken as the same
// over the whole soak, of the interval-censored counts in ivs, in 1/h, with its
// profile-likelihood interval at level, and the log-likelihood at the estimate
// (binomial constants included; the supremum where the estimate is at 0 or ∞).
//
// Nothing consumed: 0, 0 and the one-sided upper bound −ln(1−level)/T, T the
// bait-hours seen. Everything consumed by the first look at it: no estimate, the
// one-sided lower bound at which that had probability 1−level, no upper limit.
// No bait seen: all missing.
//
// docs/methods/rates.md, "Constant rate".
func ConstantRate(ivs []Interval, level float64) (Estimate, float64) {
	return newHazard(ivs, func(h float64) float64 { return h }).constant(level)
}

// hazard is the data for a hazard proportional to a known function of soak:
// group g of interval i has summed hazard λ·u[i][g].
type hazard struct {
	ivs       []Interval
	u         []float64 // of the groups of all intervals, one after the other
	baitHours float64   // Σ baits × u
	consumed  int
	baits     int
	hs, ex    []float64 // scratch, of the groups of one interval
}

// newHazard sets the data up with the integrated baseline cum(soak).
func newHazard(ivs []Interval, cum func(h float64) float64) *hazard {
	d := &hazard{ivs: ivs}
	most := 1
	for k := range ivs {
		iv := &ivs[k]
		to := cum(iv.ToH)
		add := func(fromH float64, n int) {
			u := to - cum(fromH)
			d.u = append(d.u, u)
			d.baitHours += float64(n) * u
			d.baits += n
		}
		add(iv.FromH, iv.AtRisk)
		for _, l := range iv.Late {
			add(l.FromH, l.AtRisk)
		}
		most = max(most, 1+len(iv.Late))
		d.consumed += iv.Consumed
	}
	d.hs, d.ex = make([]float64, most), make([]float64, most)
	return d
}

// logLik is the log-likelihood at rate λ > 0, without binomial constants where
// there is one group, and its derivative times λ (the score in log λ). By
// Fisher's identity the score is that of the expected split.
func (d *hazard) logLik(rate float64) (ll, score float64) {
	g := 0
	for k := range d.ivs {
		iv := &d.ivs[k]
		if iv.Late == nil {
			h := rate * d.u[g]
			ll += binomialLogLik(iv.Consumed, iv.AtRisk, h)
			score += groupScore(float64(iv.Consumed), float64(iv.AtRisk), h)
			g++
			continue
		}
		groups := 1 + len(iv.Late)
		for j := range groups {
			d.hs[j] = rate * d.u[g+j]
		}
		ll += iv.Split(d.hs[:groups], d.ex[:groups])
		score += groupScore(d.ex[0], float64(iv.AtRisk), d.hs[0])
		for j, l := range iv.Late {
			score += groupScore(d.ex[j+1], float64(l.AtRisk), d.hs[j+1])
		}
		g += groups
	}
	return ll, score
}

// groupScore is h · d/dh of y log(1−e^(−h)) − (r−y)h.
func groupScore(y, r, h float64) float64 {
	s := -(r - y) * h
	if y > 0 {
		s += y * h / math.Expm1(h)
	}
	return s
}

func (d *hazard) constants() float64 {
	s := 0.0
	for k := range d.ivs {
		if d.ivs[k].Late == nil {
			s += logChoose(d.ivs[k].AtRisk, d.ivs[k].Consumed)
		}
	}
	return s
}

// logLimit bounds log λ from the scale of the data; a rate outside e^±logLimit
// per typical length is none that counts can show.
const logLimit = 60

func (d *hazard) constant(level float64) (Estimate, float64) {
	var e Estimate
	if d.baits == 0 || !(d.baitHours > 0) {
		return e, math.NaN()
	}
	drop := -math.Log1p(-level) // one-sided: likelihood ratio 1 − level
	if d.consumed == 0 {
		e.Estimate, e.Lower = assay.Some(0.0), assay.Some(0.0)
		e.Upper = assay.Some(drop / d.baitHours)
		return e, 0
	}
	unit := math.Log(float64(d.baits) / d.baitHours)
	at := func(x float64) float64 { ll, _ := d.logLik(math.Exp(unit + x)); return ll }
	if d.consumed == d.baits {
		below := func(x float64) float64 { return at(x) + drop }
		if a, b, ok := outward(below, 10, -1, logLimit); ok {
			e.Lower = assay.Some(math.Exp(unit + root(below, a, b, 1e-13)))
		}
		if len(d.ivs) == 1 && d.ivs[0].Late == nil { // the closed form of it
			e.Lower = assay.Some(-math.Log1p(-math.Pow(1-level, 1/float64(d.baits))) / d.u[0])
		}
		return e, 0
	}
	rate, top := d.peak()
	if math.IsNaN(top) {
		return e, top
	}
	x := math.Log(rate) - unit
	e.Estimate = assay.Some(rate)
	cut := func(v float64) float64 { return at(v) - top + chi1(level)/2 }
	if a, b, ok := outward(cut, x, -0.5, logLimit); ok {
		e.Lower = assay.Some(math.Exp(unit + root(cut, a, b, 1e-12)))
	}
	if a, b, ok := outward(cut, x, 0.5, logLimit); ok {
		e.Upper = assay.Some(math.Exp(unit + root(cut, a, b, 1e-12)))
	}
	return e, top + d.constants()
}

// peak is the rate of greatest likelihood and the log-likelihood there, without
// the constants of single groups, where something was consumed and something not.
func (d *hazard) peak() (rate, ll float64) {
	unit := math.Log(float64(d.baits) / d.baitHours)
	score := func(x float64) float64 { _, s := d.logLik(math.Exp(unit + x)); return s }
	start := d.guess()
	a, b, ok := outward(score, start, sign(score(start)), logLimit)
	if !ok {
		return math.NaN(), math.NaN()
	}
	rate = math.Exp(unit + root(score, a, b, 1e-13))
	ll, _ = d.logLik(rate)
	return rate, ll
}

// guess starts the search at the rate of as many consumed per bait-hour, which
// is too low by a factor that the search makes up.
func (d *hazard) guess() float64 {
	return math.Log(float64(d.consumed) / float64(d.baits))
}

func sign(x float64) float64 {
	if x < 0 {
		return -0.5
	}
	return 0.5
}
