package mixed

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Restricted is what the restricted likelihood tells of a fit with few groups: SDs that allow
// for the fixed effects having been estimated from the same groups, and with them standard errors
// and degrees of freedom.
//
// It maximises L(γ, σ) − ½ log det I(γ, σ), I the expected information about γ with the intercepts
// eliminated: Laplace's approximation of the likelihood with the fixed effects integrated out
// (Patterson & Thompson 1971, Biometrika 58:545–554, for normal data; Noh & Lee 2007, J.
// Multivariate Anal. 98:896–915, for counts). Every SD takes part, also one that is zero at the maximum of L.
// A contrast has the variance V = c'I⁻¹c there and Satterthwaite's degrees of freedom 2V²/(g'Ag), g the derivatives of
// V in the log SDs and A their covariance (Giesbrecht & Burns 1985, Biometrics 41:477–486; Fai &
// Cornelius 1996, J. Stat. Comput. Simul. 54:363–378). Papers from memory. Estimates stay where the fit has them.
type Restricted struct {
	r       *Result
	SDs     []float64 // by level
	inverse []float64 // I⁻¹, q × q
	sds     []float64 // A, SDs × SDs
	slopes  [][]float64
}

// smallestSD bounds the SDs of the restricted likelihood from below: a log SD is flat near zero.
const smallestSD = 0.02

// Restricted works out the restricted likelihood's companion of the fit; nil where there is no
// estimate, no random level, something runs away, the family is not binomial or the fit was by quadrature, and where
// no maximum was found.
func (r *Result) Restricted() *Restricted {
	if !r.Ending.Usable() || r.cov == nil || r.ran != nil || r.Quadrature > 1 || r.opts.Family != Binomial || len(r.Random) == 0 {
		return nil
	}
	s := newRestriction(r)
	theta := s.start()
	h := s.firstInverse(theta)
	if h == nil {
		return nil
	}
	search := search{f: s.value, tol: 1e-6, limit: 60, stop: r.opts.stop(), maxStep: s.most, upper: s.upper}
	if _, end := search.run(theta, h); end == searchLimit || math.IsInf(s.value(theta, s.g), -1) {
		return nil
	}
	return s.finish(theta)
}

// restriction is the search of Restricted.
type restriction struct {
	r           *Result
	m           *model
	ws          *workspace
	info        []float64
	g, most, th []float64
	upper       []float64
}

func newRestriction(r *Result) *restriction {
	all := make([]int, len(r.Random))
	for k := range all {
		all[k] = k
	}
	m := r.fit.m.frame.model(affine{base: r.fit.m.base, toBeta: r.fit.m.toBeta, q: r.fit.m.q}, all, false)
	n := m.dim()
	s := &restriction{r: r, m: m, ws: newWorkspace(m), info: make([]float64, m.q*m.q), g: make([]float64, n), th: make([]float64, n)}
	for i := range n {
		most, upper := 1.0, math.Inf(1)
		if i >= m.q {
			upper = logSDMax
		}
		s.most, s.upper = append(s.most, most), append(s.upper, upper)
	}
	return s
}

// start is the fit, its SDs no smaller than a tenth.
func (s *restriction) start() []float64 {
	theta := append([]float64(nil), s.r.fit.theta[:s.m.q]...)
	for _, v := range s.r.Random {
		theta = append(theta, math.Log(math.Max(v.SD, 0.1)))
	}
	return theta
}

func (s *restriction) firstInverse(theta []float64) []float64 {
	if math.IsInf(s.ws.eval(theta, s.g), -1) {
		return nil
	}
	c := &climber{}
	return c.firstInverse(s.ws)
}

// logDet is log det I at θ and leaves I in info; NaN where there is none.
func (s *restriction) logDet(theta []float64) float64 {
	if math.IsInf(s.ws.eval(theta, nil), -1) {
		return math.NaN()
	}
	s.ws.fixedInformation(s.info)
	a := append([]float64(nil), s.info...)
	if !cholesky(a, s.m.q) {
		return math.NaN()
	}
	return logDetChol(a, s.m.q)
}

// floor is how far θ's log SDs are below the smallest: a parabola there keeps the search from
// running along a likelihood without slope.
func (s *restriction) floor(theta []float64, grad []float64) (v float64) {
	for i := s.m.q; i < len(theta); i++ {
		if d := math.Log(smallestSD) - theta[i]; d > 0 {
			v -= d * d
			if grad != nil {
				grad[i] += 2 * d
			}
		}
	}
	return v
}

// value is L − ½ log det I; the gradient of the second part by forward differences.
func (s *restriction) value(theta, grad []float64) float64 {
	v := s.ws.eval(theta, grad)
	if math.IsInf(v, -1) {
		return v
	}
	at := s.logDet(theta)
	if math.IsNaN(at) {
		return math.Inf(-1)
	}
	const h = 1e-4
	copy(s.th, theta)
	for i := range s.th {
		s.th[i] = theta[i] + h
		grad[i] -= (s.logDet(s.th) - at) / (2 * h)
		s.th[i] = theta[i]
	}
	return v - at/2 + s.floor(theta, grad)
}

// finish takes I⁻¹, the covariance of the log SDs and the derivatives of I⁻¹ in them.
func (s *restriction) finish(theta []float64) *Restricted {
	q, a := s.m.q, len(s.r.Random)
	out := &Restricted{r: s.r}
	invert := func(th []float64) []float64 {
		if math.IsNaN(s.logDet(th)) {
			return nil
		}
		l := append([]float64(nil), s.info...)
		cholesky(l, q)
		return cholInverse(l, q)
	}
	if out.inverse = invert(theta); out.inverse == nil {
		return nil
	}
	const step = 0.02
	hess := make([]float64, a*a)
	up, down := make([]float64, len(theta)), make([]float64, len(theta))
	th := append([]float64(nil), theta...)
	for k := range a {
		out.SDs = append(out.SDs, math.Exp(theta[q+k]))
		th[q+k] = theta[q+k] + step
		s.value(th, up)
		hi := invert(th)
		th[q+k] = theta[q+k] - step
		s.value(th, down)
		lo := invert(th)
		th[q+k] = theta[q+k]
		if hi == nil || lo == nil {
			return nil
		}
		slope := make([]float64, q*q)
		for i := range slope {
			slope[i] = (hi[i] - lo[i]) / (2 * step)
		}
		out.slopes = append(out.slopes, slope)
		for j := range a {
			hess[k*a+j] -= (up[q+j] - down[q+j]) / (4 * step)
			hess[j*a+k] -= (up[q+j] - down[q+j]) / (4 * step)
		}
	}
	factor, _ := dampedFactor(hess, a)
	out.sds = cholInverse(factor, a)
	for _, v := range out.sds {
		if !isFinite(v) {
			return nil
		}
	}
	return out
}

// Contrast gives the standard error of c'β by the restricted likelihood and its degrees of
// freedom; NaN where c is not determined.
func (s *Restricted) Contrast(c []float64) (se, df float64) {
	if !s.r.rank.estimable(c) || maxAbs(c) == 0 {
		return math.NaN(), math.NaN()
	}
	return s.of(c, nil)
}

// of is Contrast for a combination whose derivatives in the log SDs are d (nil for none).
func (s *Restricted) of(c, d []float64) (se, df float64) {
	q := s.r.fit.m.q
	g := s.r.toTheta(c)[:q]
	v := quadForm(s.inverse, g, g)
	slope := make([]float64, len(s.slopes))
	for k, m := range s.slopes {
		slope[k] = quadForm(m, g, g)
	}
	df = 2 * v * v / quadForm(s.sds, slope, slope)
	if d != nil {
		v += quadForm(s.sds, d, d)
	}
	return math.Sqrt(v), df
}

// StudentLimits are limits of an estimate by Student's t with the stated standard error and degrees of
// freedom (at least 1).
func StudentLimits(estimate, se, df, level float64) (lower, upper float64) {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Max(df, 1)}.Quantile(0.5 + level/2)
	return estimate - t*se, estimate + t*se
}

// MeanLimits are the limits of the proportion of Mean by the restricted likelihood and Student's t, with most
// degrees of freedom at most; NaN where Mean has no two-sided ones.
func (s *Restricted) MeanLimits(pieces []Piece, most float64) (lower, upper, df float64) {
	r, nan := s.r, math.NaN()
	for _, p := range pieces {
		if !r.rank.estimable(p.X) {
			return nan, nan, nan
		}
	}
	if len(pieces) == 0 {
		return nan, nan, nan
	}
	m := r.meanAt(pieces, r.beta, r.sds())
	c, d := r.meanSlopes(pieces)
	se, df := s.of(c, d)
	df = math.Min(df, most)
	p := m.Proportion
	if r.opts.Link == Logit {
		lower, upper = StudentLimits(math.Log(p/(1-p)), se/(p*(1-p)), df, r.Level)
		return 1 / (1 + math.Exp(-lower)), 1 / (1 + math.Exp(-upper)), df
	}
	h := -math.Log1p(-p)
	lower, upper = StudentLimits(math.Log(h), se/((1-p)*h), df, r.Level)
	return -math.Expm1(-math.Exp(lower)), -math.Expm1(-math.Exp(upper)), df
}
