package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"soakline/internal/assay"
	"soakline/internal/mixed"
)

// means tells each level at each nominal soak, at the covariates' mean.
func (f *frame) means(r *Result, fit *mixed.Result) {
	x := f.typical()
	soaks := f.soaksH
	if f.o.Check > 0 && f.o.Check <= len(soaks) {
		soaks = soaks[f.o.Check-1 : f.o.Check]
	}
	for l, name := range f.levels {
		for k, soak := range soaks {
			m := Mean{Level: name, SoakH: soak}
			if f.o.Link == "logit" && k > 0 {
				r.Means = append(r.Means, m) // a product of several intervals' odds: not told
				f.say("logit-means-first-only")
				continue
			}
			pieces := f.meanPieces(l, soak, x)
			v := fit.Mean(pieces)
			m.Proportion, m.Lower, m.Upper = maybe(v.Proportion), maybe(v.Lower), maybe(v.Upper)
			m.ProportionTypical = maybe(v.Typical)
			if f.o.Link == "cloglog" {
				f.rateLimits(&m, fit, pieces, v)
			}
			r.Means = append(r.Means, m)
		}
	}
}

// rateLimits sets the rate of a typical row over the soak and its limits, by the
// delta method on the log scale: the gradient of log Σ Δ exp(x'β) is the mean of
// the pieces' x, weighted by their share of the hazard.
// Where a part of the hazard has run to zero, the upper limit is the profile's.
func (f *frame) rateLimits(m *Mean, fit *mixed.Result, pieces []mixed.Piece, v mixed.Mean) {
	rate := math.Exp(v.LogHazard) / m.SoakH
	m.RateTypicalPerH = maybe(rate)
	if v.Bound == mixed.UpperOnly {
		m.RateUpperPerH = maybe(math.Exp(v.UpperLogHazard) / m.SoakH)
		if rate == 0 {
			m.RateLowerPerH = assay.Some(0.0)
		}
		return
	}
	c := f.hazardSlope(fit, pieces)
	if c == nil {
		return // a band without a finite effect
	}
	se := fit.Contrast(c).SE
	z := distuv.UnitNormal.Quantile(0.5 + f.o.Level/2)
	m.RateLowerPerH, m.RateUpperPerH = maybe(rate*math.Exp(-z*se)), maybe(rate*math.Exp(z*se))
}

// hazardSlope is the gradient of log Σ Δ exp(x'β) in β; nil where a part has no finite effect.
func (f *frame) hazardSlope(fit *mixed.Result, pieces []mixed.Piece) []float64 {
	c := make([]float64, len(f.terms))
	total := 0.0
	for _, p := range pieces {
		v := fit.Estimate(p.X)
		if math.IsNaN(v) {
			return nil
		}
		h := p.Exposure * math.Exp(v)
		total += h
		for j := range c {
			c[j] += h * p.X[j]
		}
	}
	for j := range c {
		c[j] /= total
	}
	return c
}

// meanPieces are the stretches of a typical row of one level up to a soak; the
// rate changes at the nominal checks.
func (f *frame) meanPieces(level int, soakH float64, x []float64) []mixed.Piece {
	if f.o.Link == "logit" {
		return []mixed.Piece{{Exposure: 1, X: f.design(0, level, x)}}
	}
	if f.o.Check > 0 {
		return []mixed.Piece{{Exposure: soakH, X: f.design(0, level, x)}}
	}
	var pieces []mixed.Piece
	from := 0.0
	for b, end := range f.soaksH {
		if b == len(f.soaksH)-1 {
			end = math.Inf(1)
		}
		if h := math.Min(end, soakH) - from; h > 0 {
			k := slices.Index(f.bands, b+1)
			if k < 0 {
				k = 0 // a band that nothing touches has no effect of its own
			}
			pieces = append(pieces, mixed.Piece{Exposure: h, X: f.design(k, level, x)})
		}
		from = end
	}
	return pieces
}
