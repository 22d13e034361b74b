package mixed

import (
	"math"
	"slices"
)

// model is a frame with the part of the parameter space that is searched:
// β = base + toBeta·γ, which levels have an SD above zero, and κ.
// θ = (γ, log σ of the active levels, log κ if the family has one and it is free).
type model struct {
	*frame
	base      []float64 // p
	toBeta    []float64 // p × q
	q         int
	active    []int // levels with a free SD
	kappaFree bool  // log κ is the last of θ; else κ = 0 (binomial)
	held      int   // 1 + the SD that is held at heldSD; 0 if none is
	heldSD    float64
}

func (m *model) dim() int {
	n := m.q + len(m.active)
	if m.kappaFree {
		n++
	}
	return n
}

// workspace holds everything an evaluation writes, so that it allocates
// nothing. One goroutine at a time.
type workspace struct {
	m      *model
	beta   []float64
	lin    []float64 // x'β by distinct row
	coef   []float64 // gradient by distinct row
	gbeta  []float64
	share  []float64 // by piece: its share of its observation's hazard
	w      []float64 // by observation: log hazard without intercepts (−Inf if none)
	hazard []float64 // by observation: exp(w), where plain
	rate   []float64 // by distinct row: exp(x'β), where plain
	plain  bool
	// atMode says that the leaves' numbers belong to the mode at linWas and sigmaWas
	// (see extrapolate).
	atMode bool
	flat   bool // every SD is zero
	fresh  bool // nothing is known of the mode
	// memo is the last evaluation with a gradient, if it was the last of all.
	memo struct {
		ok          bool
		theta, grad []float64
		value       float64
	}
	linWas, sigmaWas []float64
	back             []float64 // by observation: background hazard
	t1               []float64 // derivatives in v by observation
	t2               []float64
	t3               []float64
	s1               []float64 // derivatives with s by observation
	s2               []float64
	s3               []float64
	sigma            []float64
	kappa            float64
	levels           []levelSpace
	leaf             levelSpace // data sums by leaf, for no levels at all too
	border           *border    // of the crossed factors; nil if there are none
	evals            int
	sums             []sumSpace
}

// levelSpace holds the numbers of one level's nodes.
type levelSpace struct {
	z       []float64 // standardised intercepts
	zNew    []float64
	shift   []float64 // Σ σz from the root down to the node
	g       []float64 // Σ derivative of the data below, children eliminated
	s       []float64 // Σ −second derivative below, children eliminated
	d       []float64 // pivot 1 + σ²s
	inverse []float64 // 1/d
	raw     []float64 // Σ derivative of the data below
	rhs     []float64
	delta   []float64 // solution
	dsh     []float64 // Σ σ·delta from the root down
	a       []float64 // posterior variance of shift
	t       []float64 // leaf only: Σ −third derivative
	c       []float64 // leaf only: Σ coefficient
}

func newWorkspace(m *model) *workspace {
	n := m.nObs()
	ws := &workspace{m: m, plain: m.plainCloglog(), fresh: true}
	width := 8
	if ws.plain {
		width = 5
	}
	all := make([]float64, width*n)
	cut := func(k int) []float64 { c := all[:k:k]; all = all[k:]; return c }
	ws.w, ws.t1, ws.t2, ws.t3 = cut(n), cut(n), cut(n), cut(n)
	if ws.plain {
		ws.hazard = cut(n)
	} else {
		ws.back, ws.s1, ws.s2, ws.s3 = cut(n), cut(n), cut(n), cut(n)
	}
	ws.share = make([]float64, len(m.row))
	ws.beta, ws.gbeta = make([]float64, len(m.terms)), make([]float64, len(m.terms))
	ws.lin, ws.coef, ws.rate = make([]float64, m.nRows), make([]float64, m.nRows), make([]float64, m.nRows)
	ws.linWas, ws.sigmaWas = make([]float64, m.nRows), make([]float64, len(m.size))
	ws.sums = m.sumSpaces()
	ws.sigma = make([]float64, len(m.size))
	for _, k := range m.size {
		ws.levels = append(ws.levels, newLevelSpace(k))
	}
	ws.leaf = newLevelSpace(len(m.leafStart) - 1)
	ws.border = m.newBorder()
	return ws
}

func newLevelSpace(k int) levelSpace {
	all := make([]float64, 14*k)
	cut := func() []float64 { c := all[:k:k]; all = all[k:]; return c }
	return levelSpace{z: cut(), zNew: cut(), shift: cut(), g: cut(), s: cut(), d: cut(),
		raw: cut(), rhs: cut(), delta: cut(), dsh: cut(), a: cut(), t: cut(), c: cut(), inverse: cut()}
}

// use turns the workspace to another model of a frame with the same layout.
func (ws *workspace) use(m *model) *workspace {
	if ws.m.frame != m.frame {
		ws.atMode = false
	}
	if ws.m != m {
		ws.memo.ok = false
	}
	ws.m = m
	return ws
}

// reset forgets the intercepts of earlier evaluations.
func (ws *workspace) reset() {
	ws.atMode, ws.fresh = false, true
	for k := range ws.levels {
		for i := range ws.levels[k].z {
			ws.levels[k].z[i] = 0
		}
	}
	if ws.border != nil {
		clear(ws.border.z)
	}
}

// setTheta spreads θ over β, the linear predictors, σ and κ; false if a number
// is beyond use.
func (ws *workspace) setTheta(theta []float64) bool {
	m := ws.m
	p := len(m.terms)
	for j := 0; j < p; j++ {
		ws.beta[j] = m.base[j] + dot(m.toBeta[j*m.q:(j+1)*m.q], theta[:m.q])
	}
	for k := range ws.sigma {
		ws.sigma[k] = 0
	}
	if ws.border != nil {
		clear(ws.border.sigma)
	}
	set := func(k int, sd float64) {
		if k < len(m.levels) {
			ws.sigma[k] = sd
		} else {
			ws.border.sigma[k-len(m.levels)] = sd
		}
	}
	for a, k := range m.active {
		set(k, math.Exp(theta[m.q+a]))
	}
	if m.held > 0 {
		set(m.held-1, m.heldSD)
	}
	ws.flat = len(m.active) == 0 && m.held == 0
	ws.kappa = 0
	if m.kappaFree {
		ws.kappa = math.Exp(theta[len(theta)-1])
	}
	for i := range ws.lin {
		ws.lin[i] = dot(m.rows[i*p:(i+1)*p], ws.beta)
		if !(math.Abs(ws.lin[i]) < maxV) {
			return false
		}
	}
	ws.predict()
	return true
}

// eliminate runs the tree from the leaves up. The data enter as s and g by
// leaf; rhs of a node is σ·(Σ g below) − z (Newton) or σ·(Σ g below) (withZ
// false). It returns false if a pivot is not positive.
//
// For node n with σ = σ of its level: pivot D = 1 + σ²S; what is left for the
// parent is S/D and g − σ S rhs/D.
func (ws *workspace) eliminate(g []float64, withZ, clip bool) bool {
	m := ws.m
	last := len(ws.levels) - 1
	ok := true
	for k := last; k >= 0; k-- {
		lv := &ws.levels[k]
		if k == last {
			copy(lv.s, ws.leaf.s)
			copy(lv.g, g)
			if clip {
				for n, v := range lv.s {
					lv.s[n] = math.Max(v, 0)
				}
			}
		}
		sg := ws.sigma[k]
		for n, s := range lv.s {
			d := 1 + sg*sg*s
			if !(d > 0) {
				ok = false
			}
			lv.d[n], lv.inverse[n] = d, 1/d
			lv.rhs[n] = sg * lv.g[n]
			if withZ {
				lv.rhs[n] -= lv.z[n]
			}
		}
		if k > 0 {
			up := &ws.levels[k-1]
			clear(up.s)
			clear(up.g)
			for n, par := range m.parent[k] {
				s := lv.s[n] * lv.inverse[n]
				up.s[par] += s
				up.g[par] += lv.g[n] - sg*s*lv.rhs[n]
			}
		}
	}
	return ok
}

// substitute runs the tree down: delta solves the system, dsh its shifts.
func (ws *workspace) substitute() {
	for k := range ws.levels {
		lv := &ws.levels[k]
		sg := ws.sigma[k]
		for n := range lv.delta {
			above := 0.0
			if k > 0 {
				above = ws.levels[k-1].dsh[ws.m.parent[k][n]]
			}
			lv.delta[n] = (lv.rhs[n] - sg*lv.s[n]*above) * lv.inverse[n]
			lv.dsh[n] = above + sg*lv.delta[n]
		}
	}
}

// eval returns Laplace's approximation of the log-likelihood at θ,
//
//	L = F(ẑ) − ½ log det K,  K = I + C'WC = −∂²F/∂z²
//
// with F the joint log-density of data and standardised intercepts z, ẑ its
// maximum, W the true second derivatives (Tierney & Kadane 1986, J. Am. Stat.
// Assoc. 81:82–86; Breslow & Clayton 1993, J. Am. Stat. Assoc. 88:9–25, eq. 4).
// If grad is not nil it receives the gradient. It returns −Inf where there is
// no such approximation.
func (ws *workspace) eval(theta, grad []float64) float64 {
	memo := &ws.memo
	if grad != nil && memo.ok && slices.Equal(theta, memo.theta) {
		copy(grad, memo.grad)
		return memo.value
	}
	memo.ok = false
	ws.evals++
	near := ws.atMode
	ws.atMode = false
	copy(ws.linWas, ws.lin)
	copy(ws.sigmaWas, ws.sigma)
	if !ws.setTheta(theta) {
		return math.Inf(-1)
	}
	if near && !ws.flat {
		ws.extrapolate()
	}
	if ws.flat {
		return ws.evalFlat(grad)
	}
	if ws.fresh && ws.plain && ws.border == nil {
		ws.firstModes()
	}
	ws.fresh = false
	f, ok := ws.mode()
	if !ok || math.IsNaN(f) {
		ws.reset()
		if f, ok = ws.mode(); !ok || math.IsNaN(f) {
			ws.reset()
			return math.Inf(-1)
		}
	}
	ws.atMode = ws.plain && ws.border == nil
	for k := range ws.levels {
		if ws.sigma[k] == 0 {
			continue // pivots of 1
		}
		f -= logProduct(ws.levels[k].d) / 2
	}
	f += ws.m.constant - ws.border.logDet()/2
	if grad != nil {
		ws.gradient(grad)
		memo.theta, memo.grad = append(memo.theta[:0], theta...), append(memo.grad[:0], grad...)
		memo.value, memo.ok = f, true
	}
	return f
}

// evalFlat is eval where every SD is zero: the likelihood without intercepts.
func (ws *workspace) evalFlat(grad []float64) float64 {
	ws.reset()
	f := ws.dataPass(false)
	if math.IsNaN(f) {
		return math.Inf(-1)
	}
	if grad != nil {
		clear(grad)
		clear(ws.leaf.a)
		clear(ws.leaf.dsh)
		ws.observations(grad)
		ws.inGamma(grad)
	}
	return f + ws.m.constant
}

// logProduct is Σ log x of positive numbers: products of some of them, as far as they
// stay ordinary numbers, cost one logarithm.
func logProduct(xs []float64) float64 {
	sum, p := 0.0, 1.0
	for _, x := range xs {
		q := p * x
		if !(q > 1e-200 && q < 1e200) {
			sum += math.Log(p) + math.Log(x)
			q = 1
		}
		p = q
	}
	return sum + math.Log(p)
}
