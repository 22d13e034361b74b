package mixed

import (
	"math"
	"slices"
)

// known is what one fit tells another of nearly the same data or terms: where to start,
// and how steep the likelihood is there.
type known struct {
	terms []string
	beta  []float64 // by term; nil where it says nothing
	sds   []float64
	// Second derivatives of −L at its maximum: by term and log SD (terms × SDs), and among
	// the log SDs. With them the standard errors of the log SDs. nil unless the covariance
	// stands and every SD is above zero.
	cross, spread, logSE []float64
	// held says that nothing runs away in the fit that is started: it is that of a
	// model inside one in which nothing does, of the same counts.
	held bool
}

// holds says whether it is known that nothing runs away.
func (k *known) holds() bool { return k != nil && k.held }

// known tells of the fit; nil if it holds no estimate.
func (r *Result) known() *known {
	if !r.Ending.Usable() {
		return nil
	}
	k := &known{terms: r.whole.terms, sds: r.sds()}
	if r.ran != nil {
		return k
	}
	k.beta = r.beta
	if r.cov == nil {
		if o := r.opts.near; o != nil && slices.Equal(o.terms, k.terms) && len(o.sds) == len(k.sds) {
			k.cross, k.spread, k.logSE = o.cross, o.spread, o.logSE
		}
		return k
	}
	k.takeCurvature(r)
	return k
}

// takeCurvature: with β of the columns that stand = Bγ, the derivatives in β and log σ are
// B'⁻¹ times those in γ and log σ; B is an upper triangle.
func (k *known) takeCurvature(r *Result) {
	m := r.fit.m
	a, q := len(k.sds), m.q
	n := q + a
	if a == 0 || len(m.active) != a || m.kappaFree || len(r.rank.kept) != q {
		return
	}
	p := append([]float64(nil), r.cov...)
	if !cholesky(p, n) {
		return
	}
	p = cholInverse(p, n)
	k.cross, k.spread = make([]float64, len(k.terms)*a), make([]float64, a*a)
	for s := range a {
		for g, j := range r.rank.kept {
			v := p[g*n+q+s]
			for _, i := range r.rank.kept[:g] {
				v -= m.toBeta[i*q+g] * k.cross[i*a+s]
			}
			k.cross[j*a+s] = v / m.toBeta[j*q+g]
		}
		copy(k.spread[s*a:(s+1)*a], p[(q+s)*n+q:])
		k.logSE = append(k.logSE, r.Random[s].LogSE)
	}
}

// without moves to where the named terms are zero, by the fit's own quadratic: θ − VC'(CVC')⁻¹Cθ,
// the rows of C being those terms. It keeps the place where that cannot be.
func (k *known) without(r *Result, drop []bool) {
	m := r.fit.m
	n := len(r.fit.theta)
	k.held = r.ran == nil
	if r.cov == nil || k.beta == nil || len(m.active) != len(k.sds) {
		return
	}
	var vc [][]float64
	var rows [][]float64
	for _, j := range r.rank.kept {
		if !drop[j] {
			continue
		}
		c := make([]float64, n)
		copy(c, m.toBeta[j*m.q:(j+1)*m.q])
		v := make([]float64, n)
		for i := range v {
			v[i] = dot(r.cov[i*n:(i+1)*n], c)
		}
		rows, vc = append(rows, c), append(vc, v)
	}
	d := len(rows)
	if d == 0 || d == m.q {
		return
	}
	s, x := make([]float64, d*d), make([]float64, d)
	for i, c := range rows {
		x[i] = dot(c, r.fit.theta)
		for j, v := range vc {
			s[i*d+j] = dot(c, v)
		}
	}
	if !cholesky(s, d) {
		return
	}
	cholSolve(s, d, x)
	theta := append([]float64(nil), r.fit.theta...)
	for j, v := range vc {
		for i := range theta {
			theta[i] -= x[j] * v[i]
		}
	}
	moved := *r.fit
	moved.theta = theta
	k.beta = moved.beta()
	sds := moved.sds()
	for i := range sds { // a quadratic far from home is not to be believed for long
		sds[i] = math.Min(math.Max(sds[i], k.sds[i]/1.5), 1.5*k.sds[i])
	}
	k.sds = sds
}

// on gives β of other terms: the same where the name is, 0 elsewhere; nil if nothing is known.
func (k *known) on(terms []string) []float64 {
	if k == nil || k.beta == nil {
		return nil
	}
	b := make([]float64, len(terms))
	for j, t := range terms {
		if i := slices.Index(k.terms, t); i >= 0 {
			b[j] = k.beta[i]
		}
	}
	return b
}

// curvature adds to the information about γ (the upper left q × q of the n × n h) what is
// known about the log SDs; false if that does not fit the model.
func (k *known) curvature(m *model, h []float64) bool {
	if k == nil || k.spread == nil || len(m.active) != len(k.sds) || m.nSD() != len(k.sds) || m.kappaFree || m.held > 0 {
		return false
	}
	a, q := len(k.sds), m.q
	n := q + a
	for s := range a {
		for t := range a {
			h[(q+s)*n+q+t] = k.spread[s*a+t]
		}
		for j, name := range m.terms {
			i := slices.Index(k.terms, name)
			if i < 0 {
				continue
			}
			for g := range q {
				h[g*n+q+s] += m.toBeta[j*q+g] * k.cross[i*a+s]
			}
		}
		for g := range q {
			h[(q+s)*n+g] = h[g*n+q+s]
		}
	}
	return true
}
