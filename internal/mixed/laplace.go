package mixed

import "math"

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
	back   []float64 // by observation: background hazard
	t1     []float64 // derivatives in v by observation
	t2     []float64
	t3     []float64
	s1     []float64 // derivatives with s by observation
	s2     []float64
	s3     []float64
	sigma  []float64
	kappa  float64
	levels []levelSpace
	leaf   levelSpace // data sums by leaf, for no levels at all too
	evals  int
	sums   []sumSpace
}

// levelSpace holds the numbers of one level's nodes.
type levelSpace struct {
	z     []float64 // standardised intercepts
	zNew  []float64
	shift []float64 // Σ σz from the root down to the node
	g     []float64 // Σ derivative of the data below, children eliminated
	s     []float64 // Σ −second derivative below, children eliminated
	d     []float64 // pivot 1 + σ²s
	raw   []float64 // Σ derivative of the data below
	rhs   []float64
	delta []float64 // solution
	dsh   []float64 // Σ σ·delta from the root down
	a     []float64 // posterior variance of shift
	t     []float64 // leaf only: Σ −third derivative
	c     []float64 // leaf only: Σ coefficient
}

func newWorkspace(m *model) *workspace {
	n := m.nObs()
	ws := &workspace{m: m}
	all := make([]float64, 8*n)
	cut := func(k int) []float64 { c := all[:k:k]; all = all[k:]; return c }
	ws.w, ws.back, ws.t1, ws.t2, ws.t3 = cut(n), cut(n), cut(n), cut(n), cut(n)
	ws.s1, ws.s2, ws.s3 = cut(n), cut(n), cut(n)
	ws.share = make([]float64, len(m.row))
	ws.beta, ws.gbeta = make([]float64, len(m.terms)), make([]float64, len(m.terms))
	ws.lin, ws.coef = make([]float64, m.nRows), make([]float64, m.nRows)
	ws.sums = m.sumSpaces()
	ws.sigma = make([]float64, len(m.levels))
	for _, k := range m.size {
		ws.levels = append(ws.levels, newLevelSpace(k))
	}
	ws.leaf = newLevelSpace(len(m.leafStart) - 1)
	return ws
}

func newLevelSpace(k int) levelSpace {
	all := make([]float64, 13*k)
	cut := func() []float64 { c := all[:k:k]; all = all[k:]; return c }
	return levelSpace{z: cut(), zNew: cut(), shift: cut(), g: cut(), s: cut(), d: cut(),
		raw: cut(), rhs: cut(), delta: cut(), dsh: cut(), a: cut(), t: cut(), c: cut()}
}

// reset forgets the intercepts of earlier evaluations.
func (ws *workspace) reset() {
	for k := range ws.levels {
		for i := range ws.levels[k].z {
			ws.levels[k].z[i] = 0
		}
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
	for a, k := range m.active {
		ws.sigma[k] = math.Exp(theta[m.q+a])
	}
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

// predict fills w, back and share from lin.
func (ws *workspace) predict() {
	m := ws.m
	inf := math.Inf(-1)
	for i := range ws.w {
		from, to := m.pieceStart[i], m.pieceStart[i+1]
		if s := m.sum(i); s != nil {
			ws.predictSum(i, s)
			continue
		}
		if to-from == 1 && !m.hasBack {
			ws.w[i] = ws.lin[m.row[from]] + m.logExp[from]
			ws.share[from] = 1
			continue
		}
		top := inf
		for s := from; s < to; s++ {
			ws.share[s] = ws.lin[m.row[s]] + m.logExp[s]
			if !m.background[s] && ws.share[s] > top {
				top = ws.share[s]
			}
		}
		sum, back := 0.0, 0.0
		for s := from; s < to; s++ {
			if m.background[s] {
				ws.share[s] = math.Exp(ws.share[s])
				back += ws.share[s]
			} else if top > inf {
				ws.share[s] = math.Exp(ws.share[s] - top)
				sum += ws.share[s]
			}
		}
		for s := from; s < to; s++ {
			if m.background[s] {
				if back > 0 {
					ws.share[s] /= back
				}
			} else if sum > 0 {
				ws.share[s] /= sum
			} else {
				ws.share[s] = 0
			}
		}
		ws.back[i] = back
		ws.w[i] = inf
		if sum > 0 {
			ws.w[i] = top + math.Log(sum)
		}
	}
}

// leafData evaluates the data of leaf j at shift t: log-likelihood returned,
// derivatives kept by observation and summed by leaf.
func (ws *workspace) leafData(j int, t float64) float64 {
	m := ws.m
	if m.plainCloglog() {
		return ws.cloglogLeaf(j, t)
	}
	var l, g, s, third float64
	for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
		if m.r[i] == 0 {
			ws.t1[i], ws.t2[i], ws.t3[i], ws.s1[i], ws.s2[i], ws.s3[i] = 0, 0, 0, 0, 0, 0
			continue
		}
		k := ws.term(int(i), ws.w[i]+t)
		ws.t1[i], ws.t2[i], ws.t3[i] = k.v, k.vv, k.vvv
		if m.hasBack || m.kappaFree {
			ws.s1[i], ws.s2[i], ws.s3[i] = k.s, k.sv, k.svv
		}
		l += k.l
		g += k.v
		s -= k.vv
		third -= k.vvv
	}
	ws.leaf.raw[j], ws.leaf.s[j], ws.leaf.t[j] = g, s, third
	return l
}

// plainCloglog says whether every observation is a binomial with the
// complementary log-log link and no background.
func (m *model) plainCloglog() bool {
	return m.family == Binomial && m.link == Cloglog && !m.hasBack && m.sumOf == nil
}

// cloglogLeaf is leafData for plainCloglog, where almost all time is spent: the
// formulas of cloglogTerm without its calls.
func (ws *workspace) cloglogLeaf(j int, t float64) float64 {
	m := ws.m
	var l, g, s, third float64
	for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
		y, r := m.y[i], m.r[i]
		v := math.Min(ws.w[i]+t, maxV)
		if r == 0 || math.IsInf(v, -1) {
			ws.t1[i], ws.t2[i], ws.t3[i] = 0, 0, 0
			if r > 0 && y > 0 {
				l = v
			}
			continue
		}
		h := math.Exp(v)
		d1 := -(r - y) * h
		d2, d3 := d1, d1
		l += d1
		if y > 0 {
			lq, q, mm := logAndQ(v, h)
			l += y * lq
			d1 += y * q
			d2 += y * q * mm
			d3 += y * q * (mm*mm - h - q*mm)
		}
		ws.t1[i], ws.t2[i], ws.t3[i] = d1, d2, d3
		g += d1
		s -= d2
		third -= d3
	}
	ws.leaf.raw[j], ws.leaf.s[j], ws.leaf.t[j] = g, s, third
	return l
}

func (ws *workspace) term(i int, v float64) term {
	m := ws.m
	switch {
	case m.sum(i) != nil:
		return ws.sumTerm(i, v)
	case m.family == BetaBinomial:
		return betaBinomialTerm(m.link, m.y[i], m.r[i], v, ws.kappa)
	case m.link == Logit:
		return logitTerm(m.y[i], m.r[i], v)
	case m.hasBack:
		return backgroundTerm(m.y[i], m.r[i], v, ws.back[i])
	case math.IsInf(v, -1):
		if m.y[i] > 0 {
			return term{l: v}
		}
		return term{}
	}
	return cloglogTerm(m.y[i], m.r[i], v)
}

// dataPass evaluates every leaf at the intercepts z (field zNew if fresh) and
// returns Σ log-likelihood − ½ z'z.
func (ws *workspace) dataPass(fresh bool) float64 {
	m := ws.m
	f := 0.0
	for k := range ws.levels {
		lv := &ws.levels[k]
		z := lv.z
		if fresh {
			z = lv.zNew
		}
		for n, v := range z {
			lv.shift[n] = ws.sigma[k] * v
			if k > 0 {
				lv.shift[n] += ws.levels[k-1].shift[m.parent[k][n]]
			}
			f -= v * v / 2
		}
	}
	if len(ws.levels) == 0 {
		return f + ws.leafData(0, 0)
	}
	last := ws.levels[len(ws.levels)-1].shift
	for j, t := range last {
		f += ws.leafData(j, t)
	}
	return f
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
		for n := range lv.s {
			lv.d[n] = 1 + sg*sg*lv.s[n]
			if !(lv.d[n] > 0) {
				ok = false
			}
			lv.rhs[n] = sg * lv.g[n]
			if withZ {
				lv.rhs[n] -= lv.z[n]
			}
		}
		if k > 0 {
			up := &ws.levels[k-1]
			for n := range up.s {
				up.s[n], up.g[n] = 0, 0
			}
			for n, par := range m.parent[k] {
				up.s[par] += lv.s[n] / lv.d[n]
				up.g[par] += lv.g[n] - sg*lv.s[n]*lv.rhs[n]/lv.d[n]
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
			lv.delta[n] = (lv.rhs[n] - sg*lv.s[n]*above) / lv.d[n]
			lv.dsh[n] = above + sg*lv.delta[n]
		}
	}
}

// mode finds the intercepts that maximise the joint log-density by damped
// Newton on the tree; it returns that density and whether it is a maximum.
// On return s, d of every level belong to the mode (unclipped).
func (ws *workspace) mode() (float64, bool) {
	const limit = 100
	f := ws.dataPass(false)
	if len(ws.levels) == 0 {
		return f, !math.IsNaN(f)
	}
	if math.IsNaN(f) || math.IsInf(f, -1) {
		ws.reset()
		if f = ws.dataPass(false); math.IsNaN(f) || math.IsInf(f, -1) {
			return f, false
		}
	}
	for it := 0; it < limit; it++ {
		proper := ws.eliminate(ws.leaf.raw, true, false)
		if !proper {
			ws.eliminate(ws.leaf.raw, true, true)
		}
		ws.substitute()
		gain := 0.0 // g'K⁻¹g, from K = L·diag(d)·L' and rhs = L⁻¹g
		for k := range ws.levels {
			lv := &ws.levels[k]
			for n, d := range lv.d {
				gain += lv.rhs[n] * lv.rhs[n] / d
			}
		}
		if gain < 1e-22 {
			return f, proper
		}
		step := 1.0
		for {
			for k := range ws.levels {
				lv := &ws.levels[k]
				for n, d := range lv.delta {
					lv.zNew[n] = lv.z[n] + step*d
				}
			}
			fn := ws.dataPass(true)
			if fn >= f-1e-12*(1+math.Abs(f)) {
				f = fn
				break
			}
			step /= 2
			if step < 1e-10 {
				ws.dataPass(false)
				return f, proper && gain < 1e-6
			}
		}
		for k := range ws.levels {
			ws.levels[k].z, ws.levels[k].zNew = ws.levels[k].zNew, ws.levels[k].z
		}
		if gain < 1e-8 && step == 1 {
			// quadratic: the next gain is far below the rounding of f
			return f, ws.eliminate(ws.leaf.raw, true, false)
		}
	}
	return f, false
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
	ws.evals++
	if !ws.setTheta(theta) {
		return math.Inf(-1)
	}
	f, ok := ws.mode()
	if !ok || math.IsNaN(f) {
		ws.reset()
		if f, ok = ws.mode(); !ok || math.IsNaN(f) {
			ws.reset()
			return math.Inf(-1)
		}
	}
	for k := range ws.levels {
		for _, d := range ws.levels[k].d {
			f -= math.Log(d) / 2
		}
	}
	if grad != nil {
		ws.gradient(grad)
	}
	return f + ws.m.constant
}
