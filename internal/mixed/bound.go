package mixed

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// separatedTerms fills the penalised value and the one-sided bound of every
// separated term.
func (r *Result) separatedTerms() {
	shrunk := r.penalised()
	unit := make([]float64, len(r.Fixed))
	for j := range r.Fixed {
		t := &r.Fixed[j]
		if !t.Separated {
			continue
		}
		from := 0.0
		if shrunk != nil {
			t.Shrunk = shrunk[j]
			from = shrunk[j]
		}
		unit[j] = 1
		t.Lower, t.Upper, t.Bound = r.oneSided(unit, from)
		if t.Bound == NoBound {
			r.Notices = append(r.Notices, Notice{Slug: SlugBoundNotFound, Term: t.Name})
		}
		unit[j] = 0
	}
}

// penalised maximises Laplace's log-likelihood plus half the log-determinant of
// the fixed effects' expected information (Firth 1993, Biometrika 80:27–38,
// whose penalty is Jeffreys' prior; with random intercepts, the information
// given the intercepts at their mode, the intercepts eliminated). SDs that are
// zero in the fit stay zero. It returns β, nil if no maximum was found.
func (r *Result) penalised() []float64 {
	red := r.fit.m
	m := r.whole.model(r.start, red.active, red.kappaFree)
	ws := newWorkspace(m)
	n, q := m.dim(), m.q
	info := make([]float64, q*q)
	value := func(theta []float64) float64 {
		v := ws.eval(theta, nil)
		if math.IsInf(v, -1) {
			return v
		}
		ws.fixedInformation(info)
		if !cholesky(info, q) {
			return math.Inf(-1)
		}
		return v + logDetChol(info, q)/2
	}
	s := search{tol: 1e-9, limit: maxIterations, maxStep: make([]float64, n), upper: make([]float64, n)}
	for i := range s.maxStep {
		s.maxStep[i], s.upper[i] = 1, math.Inf(1)
		if i >= q {
			s.upper[i] = logSDMax
		}
	}
	th := make([]float64, n)
	s.f = func(theta, grad []float64) float64 {
		v := value(theta)
		copy(th, theta)
		for i := range th {
			const h = 1e-4
			th[i] = theta[i] + h
			up := value(th)
			th[i] = theta[i] - h
			grad[i] = (up - value(th)) / (2 * h)
			th[i] = theta[i]
		}
		return v
	}
	plain := newWorkspace(r.whole.plain(r.start))
	gamma, _ := plain.glm(r.whole.flatStart(r.start), 0.3)
	theta := append(append(make([]float64, 0, n), gamma...), r.fit.theta[red.q:]...)
	c := &climber{f: r.whole, a: r.start}
	if math.IsInf(ws.eval(theta, nil), -1) {
		return nil
	}
	h := c.firstInverse(ws)
	if _, end := s.run(theta, h); end != searchDone {
		return nil
	}
	beta := make([]float64, len(m.terms))
	for j := range beta {
		beta[j] = m.base[j] + dot(m.toBeta[j*q:(j+1)*q], theta[:q])
	}
	return beta
}

// at returns the largest log-likelihood with c'β = b; −Inf or NaN if there is
// none.
func (r *Result) at(c []float64, b float64) float64 {
	m, _ := r.climbAt(c, b)
	if m == nil {
		return math.NaN()
	}
	return m.value
}

// fitAt returns the fit with c'β = b; nil if it is not an ordinary maximum.
func (r *Result) fitAt(c []float64, b float64) *fitted {
	m, ran := r.climbAt(c, b)
	if ran != nil {
		return nil
	}
	return m
}

func (r *Result) climbAt(c []float64, b float64) (*fitted, []float64) {
	a, ok := r.constrained(c, b)
	if !ok {
		return nil, nil
	}
	o := Options{near: &known{sds: r.sds()}, LikelihoodOnly: true, Context: r.opts.Context}
	m, l, evals := r.whole.fitLimited(a, r.Quadrature, 1, o)
	r.Evaluations += evals
	if m.end == searchLimit || m.end == searchStuck {
		return nil, nil
	}
	return m, l.ran
}

// constrained returns the part of the parameter space where c'β = b.
func (r *Result) constrained(c []float64, b float64) (affine, bool) {
	p := len(r.whole.terms)
	pivot := -1
	for _, j := range r.rank.kept {
		if pivot < 0 || math.Abs(c[j]) > math.Abs(c[pivot]) {
			pivot = j
		}
	}
	if pivot < 0 || c[pivot] == 0 {
		return affine{}, false
	}
	a := affine{base: make([]float64, p), q: r.rank.rank - 1}
	a.base[pivot] = b / c[pivot]
	a.toBeta = make([]float64, p*a.q)
	g := 0
	for _, j := range r.rank.kept {
		if j == pivot {
			continue
		}
		a.toBeta[j*a.q+g] = 1
		a.toBeta[pivot*a.q+g] = -c[j] / c[pivot]
		g++
	}
	return r.whole.narrow(a), true
}

// oneSided returns the one-sided limit of c'β, which runs away: the place where
// the profile likelihood has fallen from its supremum by −ln(1 − level), so
// that the data's likelihood there is 1 − level of its supremum. Without
// random intercepts and other terms that is the exact one-sided limit of a
// probability (no event in n: (1 − p)^n = 1 − level). from is where the search
// starts.
//
// What was found is kept: several means and contrasts ask for the same.
func (r *Result) oneSided(c []float64, from float64) (lower, upper float64, b Bound) {
	key := fmt.Sprint(c)
	r.boundsLock.Lock()
	defer r.boundsLock.Unlock()
	if k, ok := r.bounds[key]; ok {
		return k.lower, k.upper, k.b
	}
	lower, upper, b = r.searchOneSided(c, from)
	if r.bounds == nil {
		r.bounds = map[string]keptBound{}
	}
	r.bounds[key] = keptBound{lower, upper, b}
	return lower, upper, b
}

type keptBound struct {
	lower, upper float64
	b            Bound
}

func (r *Result) searchOneSided(c []float64, from float64) (lower, upper float64, b Bound) {
	lower, upper, b = math.NaN(), math.NaN(), NoBound
	run := dot(c, r.ran)
	if math.Abs(run) < flatTolerance*r.scale(c) {
		return
	}
	side := -math.Copysign(1, run) // towards the finite side
	drop := -math.Log1p(-r.Level)
	fall := func(x float64) float64 { return r.LogLik - r.at(c, x) - drop }
	step := 0.5 * r.scale(c)
	lo, flo := from, fall(from)
	for k := 0; k < 12 && flo > 0; k++ { // started beyond it
		lo -= side * step * math.Pow(2, float64(k))
		flo = fall(lo)
	}
	hi, fhi := lo, flo
	for k := 0; k < 12 && fhi <= 0; k++ {
		lo, flo = hi, fhi
		hi += side * step * math.Pow(2, float64(k))
		fhi = fall(hi)
	}
	if !(flo <= 0 && fhi > 0) || math.IsInf(fhi, 0) {
		return
	}
	x := illinois(fall, lo, flo, hi, fhi, 1e-7*r.scale(c))
	if math.IsNaN(x) {
		return
	}
	if side > 0 {
		return lower, x, UpperOnly
	}
	return x, upper, LowerOnly
}

// scale is the change of c'β, moved along c, that moves some linear predictor
// by one.
func (r *Result) scale(c []float64) float64 {
	p := len(r.whole.terms)
	most := 0.0
	for i := 0; i < r.whole.nRows; i++ {
		most = math.Max(most, math.Abs(dot(r.whole.rows[i*p:(i+1)*p], c)))
	}
	return dot(c, c) / math.Max(most, 1e-300)
}

func maxAbs(c []float64) float64 {
	m := 0.0
	for _, v := range c {
		m = math.Max(m, math.Abs(v))
	}
	return m
}

// illinois finds a root of f between lo and hi, where f has opposite signs, by
// regula falsi with the Illinois modification (Dowell & Jarratt 1971, BIT
// 11:168–174). NaN if f is NaN somewhere.
func illinois(f func(float64) float64, lo, flo, hi, fhi, tol float64) float64 {
	for k := 0; k < 60 && math.Abs(hi-lo) > tol; k++ {
		x := hi - fhi*(hi-lo)/(fhi-flo)
		fx := f(x)
		if math.IsNaN(fx) {
			return fx
		}
		if math.Abs(fx) < 1e-9 {
			return x
		}
		if (fx > 0) == (fhi > 0) {
			flo /= 2
		} else {
			lo, flo = hi, fhi
		}
		hi, fhi = x, fx
	}
	return hi
}

// Contrast is a linear combination of the fixed effects.
//
// Where the combination runs away (Separated), Estimate, SE, Z are NaN, one
// limit stands by profile likelihood, and P is the likelihood-ratio test of
// c'β = 0. Where aliasing leaves it undetermined, everything is NaN.
type Contrast struct {
	Wald
	Bound     Bound
	Separated bool
}

// Contrast evaluates c'β, c with one value a term (zero for what plays no part).
// It panics if c has another length.
func (r *Result) Contrast(c []float64) Contrast {
	if len(c) != len(r.Fixed) {
		panic("mixed: contrast and terms differ in length")
	}
	nan := math.NaN()
	none := Contrast{Wald: Wald{nan, nan, nan, nan, nan, nan}, Bound: NoBound}
	if !r.Ending.Usable() || !r.rank.estimable(c) || maxAbs(c) == 0 {
		return none
	}
	if r.ran == nil || r.red.estimable(c) {
		return Contrast{Wald: r.wald(c), Bound: TwoSided}
	}
	none.Separated = true
	none.Lower, none.Upper, none.Bound = r.oneSided(c, 0)
	chi2 := 2 * (r.LogLik - r.at(c, 0))
	if chi2 > 0 {
		none.P = distuv.ChiSquared{K: 1}.Survival(chi2)
	} else if chi2 <= 0 {
		none.P = 1
	}
	return none
}

// Estimate is the c'β of Contrast alone: NaN where it runs away or is not determined.
func (r *Result) Estimate(c []float64) float64 {
	if !r.Ending.Usable() || !r.rank.estimable(c) || r.ran != nil && !r.red.estimable(c) {
		return math.NaN()
	}
	return dot(c, r.beta)
}

// Covariance returns the covariance of two contrasts, NaN where one of them
// has none.
func (r *Result) Covariance(a, b []float64) float64 {
	if !r.Ending.Usable() || r.cov == nil {
		return math.NaN()
	}
	for _, c := range [][]float64{a, b} {
		if !r.rank.estimable(c) || r.ran != nil && !r.red.estimable(c) {
			return math.NaN()
		}
	}
	return quadForm(r.cov, r.toTheta(a), r.toTheta(b))
}
