package mixed

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// quadrature evaluates the marginal likelihood by adaptive Gauss–Hermite
// quadrature, level within level down the tree:
//
//	I_n(s) = ∫ φ(z) Π over children I_c(s + σz) dz
//
// with nodes centred at the mode of z given s and scaled by the pivot of the
// elimination, as the Gaussian approximation at the joint mode tells them
// (Liu & Pierce 1994, Biometrika 81:624–629; Rabe-Hesketh, Skrondal & Pickles
// 2005, J. Econometrics 128:301–323, for nested levels). With one node it is
// Laplace's approximation. Cost: observations × nodes^levels.
type quadrature struct {
	ws       *workspace
	x, logW  []float64 // nodes × √2; log weight + x²
	children [][]int32 // per level: first child of each node in the level below
}

func newQuadrature(ws *workspace, n int) *quadrature {
	q := &quadrature{ws: ws, x: make([]float64, n), logW: make([]float64, n)}
	quad.Hermite{}.FixedLocations(q.x, q.logW, math.Inf(-1), math.Inf(1))
	for i, x := range q.x {
		q.logW[i] = math.Log(q.logW[i]) + x*x - math.Log(math.Pi)/2
		q.x[i] = math.Sqrt2 * x
	}
	m := ws.m
	for k := 0; k+1 < len(m.size); k++ {
		first := make([]int32, m.size[k]+1)
		for _, par := range m.parent[k+1] {
			first[par+1]++
		}
		for i := 1; i < len(first); i++ {
			first[i] += first[i-1]
		}
		q.children = append(q.children, first)
	}
	return q
}

// eval returns the log-likelihood at θ; −Inf where Laplace's mode fails.
func (q *quadrature) eval(theta []float64) float64 {
	ws := q.ws
	v := ws.eval(theta, nil)
	if math.IsInf(v, -1) || len(ws.levels) == 0 {
		return v
	}
	sum := ws.m.constant
	for n := 0; n < ws.m.size[0]; n++ {
		sum += q.node(0, n, 0, 0)
	}
	return sum
}

// node returns log I_n(s) for node n of level k; away is s less its value at
// the joint mode.
func (q *quadrature) node(k, n int, s, away float64) float64 {
	ws := q.ws
	lv := &ws.levels[k]
	sigma := ws.sigma[k]
	if sigma == 0 {
		return q.below(k, n, s, away)
	}
	centre := lv.z[n] - sigma*lv.s[n]/lv.d[n]*away
	scale := 1 / math.Sqrt(lv.d[n])
	top, sum := math.Inf(-1), 0.0
	for i, x := range q.x {
		z := centre + scale*x
		v := q.logW[i] - z*z/2 + q.below(k, n, s+sigma*z, away+sigma*(z-lv.z[n]))
		if v <= top {
			sum += math.Exp(v - top)
		} else if !math.IsInf(v, -1) {
			sum = sum*math.Exp(top-v) + 1
			top = v
		}
	}
	return top + math.Log(sum*scale)
}

// below sums the children of node n of level k, or its data, at shift s.
func (q *quadrature) below(k, n int, s, away float64) float64 {
	ws := q.ws
	m := ws.m
	sum := 0.0
	if k+1 < len(ws.levels) {
		for c := q.children[k][n]; c < q.children[k][n+1]; c++ {
			sum += q.node(k+1, int(c), s, away)
		}
		return sum
	}
	for i := m.leafStart[n]; i < m.leafStart[n+1]; i++ {
		if m.r[i] > 0 {
			sum += ws.logLik(int(i), ws.w[i]+s)
		}
	}
	return sum
}

// logLik is the value of term without its derivatives.
func (ws *workspace) logLik(i int, v float64) float64 {
	m := ws.m
	y, r := m.y[i], m.r[i]
	if m.family == Binomial && m.link == Cloglog && !m.hasBack && m.sum(i) == nil && !math.IsInf(v, -1) {
		v = math.Min(v, maxV)
		h := math.Exp(v)
		l := -(r - y) * h
		switch {
		case y == 0:
		case h < smallHazard:
			lq, _, _ := logAndQ(v, h)
			l += y * lq
		default:
			l += y * quickLog(1-math.Exp(-h))
		}
		return l
	}
	return ws.term(i, v).l
}

// evalGrad returns the value and, if grad is not nil, the gradient by central
// differences.
func (q *quadrature) evalGrad(theta, grad []float64) float64 {
	v := q.eval(theta)
	if grad == nil || math.IsInf(v, -1) {
		return v
	}
	const h = 1e-4
	th := append([]float64(nil), theta...)
	for i := range th {
		th[i] = theta[i] + h
		up := q.eval(th)
		th[i] = theta[i] - h
		grad[i] = (up - q.eval(th)) / (2 * h)
		th[i] = theta[i]
	}
	return v
}

// laplaceTolerance: Laplace's approximation is called inaccurate when
// quadrature would move a parameter by more than this share of its standard
// error (our own limit: a fifth changes a 95 % interval's coverage by under
// half a per cent).
const laplaceTolerance = 0.2

// LaplaceShift returns by how many standard errors the estimates would move
// under adaptive quadrature with the stated nodes per level, the largest over
// all parameters, told by one Newton step from the Laplace fit; 0 for a fit
// that was made by quadrature or has no random level, NaN if there is none.
// A shift beyond a fifth deserves the notice laplace-inaccurate, which Notice
// says.
func (r *Result) LaplaceShift(nodes int) (shift float64, n *Notice) {
	shift, _ = r.laplaceShift(nodes, shiftGroups)
	if shift > laplaceTolerance {
		n = &Notice{Slug: SlugLaplaceInaccurate, Value: shift}
	}
	return shift, n
}

// LaplaceClose says, by a few outermost groups and three nodes, that quadrature would not move
// the estimates by more than so many standard errors: what those groups tell, and twice
// what it is uncertain by, stays below it. A look before LaplaceShift, at a small part of its price.
func (r *Result) LaplaceClose(within float64) bool {
	shift, spread := r.laplaceShift(3, closeGroups)
	return shift+2*spread < within
}

// closeGroups is the number of groups that LaplaceClose looks at.
const closeGroups = 16

// laplaceShift is LaplaceShift by most outermost groups at most; spread is the standard error that their
// differing gives it, 0 where all were looked at.
func (r *Result) laplaceShift(nodes, most int) (shift, spread float64) {
	nan := math.NaN()
	if !r.Ending.Usable() || r.cov == nil || len(r.whole.crossed) > 0 {
		return nan, nan
	}
	if r.Quadrature > 1 || len(r.fit.m.active) == 0 || nodes < 2 {
		return 0, 0
	}
	groups := r.fit.correction(nodes, most)
	d, n := len(r.fit.theta), float64(len(groups))
	for i := range d {
		sum, square := 0.0, 0.0
		for _, g := range groups {
			step := dot(r.cov[i*d:(i+1)*d], g)
			sum += step
			square += step * step
		}
		se := math.Sqrt(r.cov[i*d+i])
		if s := math.Abs(sum) / se; !(s <= shift) {
			shift = s
		}
		if len(groups) < r.fit.m.size[0] {
			spread = math.Max(spread, math.Sqrt(math.Max(0, square-sum*sum/n)*n/(n-1))/se)
		}
	}
	return shift, spread
}

// shiftGroups bounds the outermost groups whose likelihood is integrated for LaplaceShift;
// from more, evenly spaced ones stand for all.
const shiftGroups = 60

// correction is the gradient of the quadrature's log-likelihood at the Laplace fit,
// where Laplace's own is zero: that of the difference between the two, by forward
// differences. Outermost groups are independent, so that some of them stand for all.
func (f *fitted) correction(nodes, most int) (g [][]float64) {
	m := *f.m
	size := m.size[0]
	every := (size + most - 1) / most
	if every > 1 {
		m.frame = m.everyGroup(every)
	}
	ws := newWorkspace(&m)
	fine, coarse := newQuadrature(ws, nodes), newQuadrature(ws, 1)
	n := m.size[0]
	difference := func(theta, to []float64) {
		if math.IsInf(ws.eval(theta, nil), -1) {
			to[0] = math.NaN()
			return
		}
		for k := range to {
			to[k] = (fine.node(0, k, 0, 0) - coarse.node(0, k, 0, 0)) * float64(size) / float64(n)
		}
	}
	const h = 1e-4
	at, up := make([]float64, n), make([]float64, n)
	difference(f.theta, at)
	th := append([]float64(nil), f.theta...)
	for range n {
		g = append(g, make([]float64, len(th)))
	}
	for i := range th {
		th[i] = f.theta[i] + h
		difference(th, up)
		for k := range g {
			g[k][i] = (up[k] - at[k]) / h
		}
		th[i] = f.theta[i]
	}
	return g
}
