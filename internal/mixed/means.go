package mixed

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// Mean is what the fit says of a trial under stated conditions.
type Mean struct {
	// LogHazard is log Σ exposure·exp(x'β) of a typical group, all intercepts
	// zero (with the logit link, the logit). −Inf where no event can happen at
	// the supremum of the likelihood.
	LogHazard float64
	// Typical is the probability of an event in a typical group.
	Typical float64
	// Proportion is the probability integrated over all random intercepts;
	// Lower and Upper are its limits by the delta method over (β, log σ) on the
	// scale of the link. Where a term runs away, one side is NaN or certain.
	Proportion, Lower, Upper float64
	Bound                    Bound
	// UpperLogHazard bounds LogHazard where a part of it runs to zero (Bound upper),
	// by the same profile; else NaN.
	UpperLogHazard float64
}

const meanNodes = 61

// Mean evaluates the fit for a trial exposed to the pieces.
//
// The intercepts' sum is normal with variance Σσ²; its integral is taken by
// Gauss–Hermite quadrature with 61 nodes. With the beta-binomial family the
// probability is the mean of the beta. It panics if a design row has another
// length than the terms.
func (r *Result) Mean(pieces []Piece) Mean {
	nan := math.NaN()
	none := Mean{nan, nan, nan, nan, nan, NoBound, nan}
	if !r.Ending.Usable() {
		return none
	}
	var finite []Piece
	running, certain := []Piece(nil), false
	for _, p := range pieces {
		if len(p.X) != len(r.Fixed) {
			panic("mixed: design row and terms differ in length")
		}
		switch {
		case !r.rank.estimable(p.X):
			return none
		case r.ran == nil || r.red.estimable(p.X):
			finite = append(finite, p)
		case dot(p.X, r.ran) > flatTolerance:
			certain = true
		case dot(p.X, r.ran) < -flatTolerance:
			running = append(running, p)
		default:
			return none
		}
	}
	if certain {
		return r.certainMean(pieces)
	}
	m := r.meanAt(finite, r.beta, r.sds())
	if len(running) > 0 {
		return r.runningMean(m, pieces, running)
	}
	r.meanLimits(&m, finite)
	return m
}

// sds returns the SD of every level.
func (r *Result) sds() []float64 {
	s := make([]float64, len(r.Random))
	for k := range s {
		s[k] = r.Random[k].SD
	}
	return s
}

// hazards returns the hazard that takes the intercepts and the one that does not.
func hazards(pieces []Piece, beta []float64) (main, back float64) {
	for _, p := range pieces {
		h := p.Exposure * math.Exp(dot(p.X, beta))
		if p.Background {
			back += h
		} else {
			main += h
		}
	}
	return main, back
}

// meanAt evaluates without limits.
func (r *Result) meanAt(pieces []Piece, beta, sds []float64) Mean {
	a, b := hazards(pieces, beta)
	m := Mean{LogHazard: math.Log(a + b), Lower: math.NaN(), Upper: math.NaN(), Bound: NoBound, UpperLogHazard: math.NaN()}
	m.Typical = r.probability(a, b)
	m.Proportion = r.integrate(sds, func(u float64) float64 { return r.probability(a*math.Exp(u), b) })
	return m
}

func (r *Result) probability(main, back float64) float64 {
	if r.opts.Link == Logit {
		return main / (1 + main)
	}
	return -math.Expm1(-main - back)
}

func (r *Result) integrate(sds []float64, f func(u float64) float64) float64 {
	v := dot(sds, sds)
	if v == 0 {
		return f(0)
	}
	x, w := make([]float64, meanNodes), make([]float64, meanNodes)
	quad.Hermite{}.FixedLocations(x, w, math.Inf(-1), math.Inf(1))
	s := 0.0
	for i := range x {
		s += w[i] * f(math.Sqrt(2*v)*x[i])
	}
	return s / math.Sqrt(math.Pi)
}

// meanLimits sets the limits of m by the delta method.
func (r *Result) meanLimits(m *Mean, pieces []Piece) {
	if r.cov == nil || len(pieces) == 0 {
		return
	}
	c, d := r.meanSlopes(pieces)
	g := r.toTheta(c)
	q := r.fit.m.q
	for i, k := range r.fit.m.active {
		g[q+i] = d[k]
	}
	se := math.Sqrt(quadForm(r.cov, g, g))
	z := distuv.UnitNormal.Quantile(0.5 + r.Level/2)
	p := m.Proportion
	if r.opts.Link == Logit {
		at, d := math.Log(p/(1-p)), z*se/(p*(1-p))
		m.Lower, m.Upper = 1/(1+math.Exp(-at+d)), 1/(1+math.Exp(-at-d))
	} else {
		h := -math.Log1p(-p)
		d := z * se / ((1 - p) * h)
		m.Lower, m.Upper = -math.Expm1(-h*math.Exp(-d)), -math.Expm1(-h*math.Exp(d))
	}
	m.Bound = TwoSided
}

// meanSlopes are the derivatives of an integrated probability in the fixed effects and in the
// log SDs.
func (r *Result) meanSlopes(pieces []Piece) (c, d []float64) {
	a, b := hazards(pieces, r.beta)
	sds := r.sds()
	v := dot(sds, sds)
	slope := func(main float64) (dMain, dBack float64) { // of the probability in log main, log back
		if r.opts.Link == Logit {
			return main / ((1 + main) * (1 + main)), 0
		}
		e := math.Exp(-main - b)
		return main * e, b * e
	}
	dMain := r.integrate(sds, func(u float64) float64 { s, _ := slope(a * math.Exp(u)); return s })
	dBack := r.integrate(sds, func(u float64) float64 { _, s := slope(a * math.Exp(u)); return s })
	dU := r.integrate(sds, func(u float64) float64 { s, _ := slope(a * math.Exp(u)); return s * u })
	c, d = make([]float64, len(r.Fixed)), make([]float64, len(sds))
	for _, p := range pieces {
		h := p.Exposure * math.Exp(dot(p.X, r.beta))
		f := dMain * h / a
		if p.Background {
			f = dBack * h / b
		}
		for j, x := range p.X {
			c[j] += f * x
		}
	}
	for k := range d {
		if v > 0 {
			d[k] = dU * sds[k] * sds[k] / v // u scales with √v: du/dlog σ = u σ²/v
		}
	}
	return c, d
}

// runningMean bounds a mean with pieces whose hazard has gone to zero: the
// profile bound of the first such piece's log hazard, with the other parameters
// where the likelihood is largest under it.
func (r *Result) runningMean(m Mean, pieces, running []Piece) Mean {
	c := running[0].X
	_, upper, b := r.oneSided(c, 0)
	if len(running) == len(pieces) {
		m.Lower = 0
	}
	if b != UpperOnly {
		return m
	}
	f := r.fitAt(c, upper)
	if f == nil {
		return m
	}
	there := r.meanAt(pieces, f.beta(), f.sds())
	m.Upper, m.UpperLogHazard = there.Proportion, there.LogHazard
	m.Bound = UpperOnly
	return m
}

// certainMean is the mirror of runningMean: probability 1 at the supremum.
func (r *Result) certainMean(pieces []Piece) Mean {
	m := Mean{LogHazard: math.Inf(1), Typical: 1, Proportion: 1, Lower: math.NaN(), Upper: 1, Bound: NoBound, UpperLogHazard: math.NaN()}
	for _, p := range pieces {
		if r.red.estimable(p.X) || dot(p.X, r.ran) <= flatTolerance {
			continue
		}
		lower, _, b := r.oneSided(p.X, 0)
		if b != LowerOnly {
			return m
		}
		if f := r.fitAt(p.X, lower); f != nil {
			m.Lower, m.Bound = r.meanAt(pieces, f.beta(), f.sds()).Proportion, LowerOnly
		}
		return m
	}
	return m
}

// beta returns the fixed effects where the climb ended.
func (f *fitted) beta() []float64 {
	m := f.m
	b := make([]float64, len(m.terms))
	for j := range b {
		b[j] = m.base[j] + dot(m.toBeta[j*m.q:(j+1)*m.q], f.theta[:m.q])
	}
	return b
}

// sds returns the SD of every level where the climb ended.
func (f *fitted) sds() []float64 {
	s := make([]float64, f.m.nSD())
	for a, k := range f.m.active {
		s[k] = math.Exp(f.theta[f.m.q+a])
	}
	return s
}
