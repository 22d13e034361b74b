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
// there is one group, its derivative in log λ and, with the split of late baits
// held as expected, the second derivative. By Fisher's identity the score is
// that of the expected split.
func (d *hazard) logLik(rate float64) (ll, score, curve float64) {
	add := func(y, r, h float64) {
		s, c := groupScore(y, r, h)
		score += s
		curve += c
	}
	g := 0
	for k := range d.ivs {
		iv := &d.ivs[k]
		if iv.Late == nil {
			h := rate * d.u[g]
			ll += binomialLogLik(iv.Consumed, iv.AtRisk, h)
			add(float64(iv.Consumed), float64(iv.AtRisk), h)
			g++
			continue
		}
		groups := 1 + len(iv.Late)
		for j := range groups {
			d.hs[j] = rate * d.u[g+j]
		}
		ll += iv.Split(d.hs[:groups], d.ex[:groups])
		add(d.ex[0], float64(iv.AtRisk), d.hs[0])
		for j, l := range iv.Late {
			add(d.ex[j+1], float64(l.AtRisk), d.hs[j+1])
		}
		g += groups
	}
	return ll, score, curve
}

// groupScore is the first and second derivative, in log h, of
// y log(1−e^(−h)) − (r−y)h.
func groupScore(y, r, h float64) (score, curve float64) {
	score = -(r - y) * h
	curve = score
	if y > 0 {
		e := math.Expm1(h)
		g := h / e
		if math.IsInf(e, 1) {
			g = 0
		}
		score += y * g
		curve += y * g * (1 - h - g)
	}
	return score, curve
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
	if d.consumed == d.baits {
		above := func(x float64) (float64, float64) { // falling in −x
			ll, score, _ := d.logLik(math.Exp(unit - x))
			return ll + drop, -score
		}
		if x, ok := zero(above, 0, -logLimit, logLimit); ok {
			e.Lower = assay.Some(math.Exp(unit - x))
		}
		if len(d.ivs) == 1 && d.ivs[0].Late == nil { // the closed form of it
			e.Lower = assay.Some(-math.Log1p(-math.Pow(1-level, 1/float64(d.baits))) / d.u[0])
		}
		return e, 0
	}
	rate, top, curve := d.peak()
	if math.IsNaN(top) {
		return e, top
	}
	e.Estimate = assay.Some(rate)
	half := chi1(level) / 2
	cut := func(x float64) (float64, float64) {
		ll, score, _ := d.logLik(math.Exp(unit + x))
		return ll - top + half, score
	}
	guess := 1.0
	if curve < 0 {
		guess = math.Sqrt(-2 * half / curve)
	}
	below, above, okBelow, okAbove := either(cut, math.Log(rate)-unit, guess, logLimit)
	if okBelow {
		e.Lower = assay.Some(math.Exp(unit + below))
	}
	if okAbove {
		e.Upper = assay.Some(math.Exp(unit + above))
	}
	return e, top + d.constants()
}

// peak is the rate of greatest likelihood and the log-likelihood there, without
// the constants of single groups, with its curvature in log rate, where something
// was consumed and something not.
func (d *hazard) peak() (rate, ll, curve float64) {
	unit := math.Log(float64(d.baits) / d.baitHours)
	score := func(x float64) (float64, float64) {
		_, s, c := d.logLik(math.Exp(unit + x))
		return s, c
	}
	// So many consumed per bait-hour is too low a rate, but near enough.
	start := math.Log(float64(d.consumed) / float64(d.baits))
	x, ok := zero(score, start, -logLimit, logLimit)
	if !ok {
		return math.NaN(), math.NaN(), 0
	}
	rate = math.Exp(unit + x)
	ll, _, curve = d.logLik(rate)
	return rate, ll, curve
}
