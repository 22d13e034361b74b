package mixed

import (
	"math"
	"slices"
)

// quadraticReach is how far, as a change of a log rate or a log SD, one Newton step is followed;
// under it the likelihood of counts is still much like its quadratic (our own limit). A
// step within a standard error is followed whatever its size.
const quadraticReach = 0.3

// Toward takes one Newton step from the fit towards that of the same model on other data, with
// the fit's own curvature: what it would come to, roughly, for the price of one evaluation. The
// answer holds estimates and their covariance, no likelihood. nil where the data have other
// terms or levels, nothing is estimated, something runs away, or the step leads too far to be
// believed.
func (r *Result) Toward(d *Data) *Result {
	if !r.Ending.Usable() || r.cov == nil || r.ran != nil || !slices.Equal(r.data.terms, d.terms) || r.fit.m.kappaFree || r.Quadrature > 1 {
		return nil
	}
	l := newLayout(d)
	if !slices.Equal(l.levels, r.whole.levels) || !slices.Equal(l.crossed, r.whole.crossed) {
		return nil
	}
	f, err := newFrame(l, d.events, d.trials, r.opts.Link, r.opts.Family)
	if err != nil {
		return nil
	}
	m := *r.fit.m
	m.frame = f
	n := len(r.fit.theta)
	g := make([]float64, n)
	ws := newWorkspace(&m)
	r.known().setModes(ws)
	if math.IsInf(ws.eval(r.fit.theta, g), -1) {
		return nil
	}
	at := *r.fit
	at.theta = append([]float64(nil), r.fit.theta...)
	for i := range at.theta {
		step := dot(r.cov[i*n:(i+1)*n], g)
		at.theta[i] += step
		if i >= m.q && !(math.Abs(step) < math.Max(quadraticReach, math.Sqrt(r.cov[i*n+i]))) {
			return nil
		}
	}
	to := &Result{Ending: r.Ending, LogLik: math.NaN(), AIC: math.NaN(), Level: r.Level, opts: r.opts, data: r.data, whole: r.whole,
		start: r.start, rank: r.rank, red: r.red, fit: &at, cov: r.cov, dropped: r.dropped, Fixed: r.Fixed, Random: r.Random}
	to.beta = at.beta()
	p := len(to.beta)
	moved := make([]float64, p)
	for j := range moved {
		moved[j] = to.beta[j] - r.beta[j]
	}
	for i, w := range r.whole.usedRows() {
		x := r.whole.rows[i*p : (i+1)*p]
		if w > 0 && !(math.Abs(dot(x, moved)) < math.Max(quadraticReach, r.wald(x).SE)) {
			return nil
		}
	}
	return to
}

// WaldChi2 is the quadratic form of the named terms in the inverse of their covariance, which
// the likelihood ratio of Without comes to where the likelihood is quadratic. Aliased terms play no
// part; NaN where there is no covariance or something runs away.
func (r *Result) WaldChi2(terms ...string) float64 {
	if !r.Ending.Usable() || r.cov == nil || r.ran != nil {
		return math.NaN()
	}
	var rows [][]float64
	var x []float64
	for _, j := range r.rank.kept {
		if slices.Contains(terms, r.whole.terms[j]) && !r.dropped[j] {
			c := make([]float64, len(r.fit.theta))
			copy(c, r.fit.m.toBeta[j*r.fit.m.q:(j+1)*r.fit.m.q])
			rows, x = append(rows, c), append(x, r.beta[j])
		}
	}
	d := len(rows)
	v := make([]float64, d*d)
	for i, a := range rows {
		for j, b := range rows {
			v[i*d+j] = quadForm(r.cov, a, b)
		}
	}
	if !cholesky(v, d) {
		return math.NaN()
	}
	y := slices.Clone(x)
	cholSolve(v, d, y)
	return dot(x, y)
}
