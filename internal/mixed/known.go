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
	about                []float64   // spreadInformation there
	modes                [][]float64 // intercepts by level; nil where the data are others
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
	for _, lv := range r.fit.ws.levels {
		k.modes = append(k.modes, slices.Clone(lv.z))
	}
	k.beta = r.beta
	if r.cov == nil {
		if o := r.opts.near; o != nil && slices.Equal(o.terms, k.terms) && len(o.sds) == len(k.sds) {
			k.cross, k.spread, k.logSE, k.about = o.cross, o.spread, o.logSE, o.about
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
		k.about = append(k.about, r.fit.ws.spreadInformation(s))
	}
}

// without moves to where the marked terms are gone: β stays, and the climb takes the nearest
// that the other terms allow. What the terms said of a leaf becomes a difference between
// groups, at the levels at which it varies: the SDs' squares gain its variance components, by
// the method of moments (analysis of variance of the leaves' values, groups within groups).
func (k *known) without(r *Result, drop []bool) {
	k.held, k.modes = r.ran == nil, nil
	m := r.fit.m
	if k.beta == nil || len(m.active) != len(k.sds) || len(m.levels) != len(m.size) || len(m.size) == 0 {
		return
	}
	p := len(m.terms)
	said := make([]float64, m.nRows)
	for i := range said {
		for j, x := range m.rows[i*p : (i+1)*p] {
			if drop[j] {
				said[i] += x * k.beta[j]
			}
		}
	}
	mean, count := make([]float64, len(m.leafStart)-1), make([]float64, len(m.leafStart)-1)
	for j := range mean {
		for s := m.pieceStart[m.leafStart[j]]; s < m.pieceStart[m.leafStart[j+1]]; s++ {
			mean[j] += said[m.row[s]]
			count[j]++
		}
		mean[j] /= math.Max(count[j], 1)
	}
	k.sds = append([]float64(nil), k.sds...)
	below := 0.0 // variance between the nodes of the level below, over their number in a node
	for l := len(m.size) - 1; l >= 0; l-- {
		above, groups := 1, []int32(nil)
		if l > 0 {
			above, groups = m.size[l-1], m.parent[l]
		}
		between, up := varianceWithin(mean, groups, above)
		k.sds[l] = math.Sqrt(math.Max(k.sds[l]*k.sds[l]+between-below, 0.25*k.sds[l]*k.sds[l]))
		below = between * float64(above) / float64(m.size[l])
		mean = up
	}
}

// varianceWithin is the variance of x within the groups (all one if nil), and their means.
func varianceWithin(x []float64, groups []int32, n int) (v float64, means []float64) {
	means = make([]float64, n)
	count := make([]float64, n)
	at := func(i int) int32 {
		if groups == nil {
			return 0
		}
		return groups[i]
	}
	for i, y := range x {
		means[at(i)] += y
		count[at(i)]++
	}
	for g := range means {
		means[g] /= math.Max(count[g], 1)
	}
	for i, y := range x {
		d := y - means[at(i)]
		v += d * d
	}
	return v / math.Max(float64(len(x)-n), 1), means
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
// known about the log SDs, in the proportion in which spreadInformation changed from the known
// place to the present one; false if that does not fit the model.
func (k *known) curvature(ws *workspace, h []float64) bool {
	m := ws.m
	if k == nil || k.spread == nil || len(m.active) != len(k.sds) || m.nSD() != len(k.sds) || m.kappaFree || m.held > 0 {
		return false
	}
	a, q := len(k.sds), m.q
	n := q + a
	grown := make([]float64, a)
	for s := range grown {
		grown[s] = math.Sqrt(ws.spreadInformation(s) / k.about[s])
	}
	for s := range a {
		for t := range a {
			h[(q+s)*n+q+t] = k.spread[s*a+t] * grown[s] * grown[t]
		}
		for j, name := range m.terms {
			i := slices.Index(k.terms, name)
			if i < 0 {
				continue
			}
			for g := range q {
				h[g*n+q+s] += m.toBeta[j*q+g] * k.cross[i*a+s] * grown[s]
			}
		}
		for g := range q {
			h[(q+s)*n+g] = h[g*n+q+s]
		}
	}
	return true
}

// setModes puts the intercepts where they are known to be near.
func (k *known) setModes(ws *workspace) {
	if k == nil || len(k.modes) != len(ws.levels) || ws.border != nil {
		return
	}
	for i := range ws.levels {
		if len(k.modes[i]) != len(ws.levels[i].z) {
			return
		}
	}
	for i := range ws.levels {
		copy(ws.levels[i].z, k.modes[i])
	}
	ws.fresh = false
}
