package mixed

import "math"

// fitted is the place where a climb of the marginal likelihood ended.
type fitted struct {
	m     *model
	theta []float64
	value float64
	end   searchEnd
	ws    *workspace
	h     []float64 // last inverse Hessian of the search
	// cov is the covariance, once finish has looked (finished); nil if the information is
	// not positive definite.
	cov      []float64
	finished bool
}

// climber holds what all climbs of one frame share.
type climber struct {
	f      *frame
	a      affine
	nodes  int     // quadrature nodes; 1 is Laplace
	tol    float64 // stop when the gain promised is below it
	starts int     // starting vectors of SDs tried
	gamma0 []float64
	near   *known     // where the first start lies; nil for none
	quick  bool       // no covariance is asked for
	every  bool       // nothing is sure
	first  []float64  // inverse Hessian of the next climb; nil for firstInverse's
	evals  int        // of all climbs
	ws     *workspace // of all climbs, one after the other
	stop   func() bool
}

const (
	maxIterations = 300
	logSDMax      = 3.4 // an SD of 30: every group all or nothing
	logKappaMax   = 4.6
	logSmall      = -1.6 // an SD of 0.2: climbs start above it, since near zero a log SD is flat
	zeroGain      = 1e-5 // an SD above zero must gain more log-likelihood than this
)

func (f *frame) model(a affine, active []int, kappa bool) *model {
	return &model{frame: f, base: a.base, toBeta: a.toBeta, q: a.q, active: active, kappaFree: kappa}
}

// climb starts at θ; hopeless as in search.
func (c *climber) climb(m *model, theta []float64, tol float64, hopeless func(theta []float64, v, g float64) bool) *fitted {
	if c.ws == nil {
		c.ws = newWorkspace(m)
		c.near.setModes(c.ws)
	}
	ws := c.ws.use(m)
	before := ws.evals
	n := m.dim()
	out := &fitted{m: m, theta: append([]float64(nil), theta...), ws: ws}
	s := search{f: objective(ws, c.nodes), tol: tol, limit: maxIterations, hopeless: hopeless, stop: c.stop,
		maxStep: make([]float64, n), upper: make([]float64, n)}
	for i := range s.maxStep {
		s.maxStep[i], s.upper[i] = 3, math.Inf(1)
		if i >= m.q {
			s.maxStep[i], s.upper[i] = 1.5, logSDMax
		}
	}
	if m.kappaFree {
		s.upper[n-1] = logKappaMax
	}
	s.g = make([]float64, n)
	s.value = s.f(out.theta, s.g)
	if math.IsInf(s.value, -1) || math.IsNaN(s.value) {
		out.value, out.end = math.Inf(-1), searchStuck
		return out
	}
	if out.h, c.first = c.first, nil; len(out.h) != n*n {
		out.h = c.firstInverse(ws)
	}
	out.value, out.end = s.run(out.theta, out.h)
	c.evals += ws.evals - before
	return out
}

// firstInverse is the inverse Hessian the search starts with, at the last evaluation: the
// expected information about γ, with what another fit tells of the log SDs or else
// what the pivots tell of each (see spreadInformation).
func (c *climber) firstInverse(ws *workspace) []float64 {
	m := ws.m
	n, q := m.dim(), m.q
	info := make([]float64, q*q)
	ws.fixedInformation(info)
	for g := 0; g < q; g++ {
		info[g*q+g] += 1e-8 + 1e-10*info[g*q+g]
	}
	h := make([]float64, n*n)
	for g := 0; g < q; g++ {
		copy(h[g*n:g*n+q], info[g*q:(g+1)*q])
	}
	if c.near.curvature(ws, h) && cholesky(h, n) {
		return cholInverse(h, n)
	}
	clear(h)
	if !cholesky(info, q) {
		for g := 0; g < q; g++ {
			h[g*n+g] = 1
		}
	} else {
		inv := cholInverse(info, q)
		for a := 0; a < q; a++ {
			copy(h[a*n:a*n+q], inv[a*q:(a+1)*q])
		}
	}
	for i := q; i < n; i++ {
		h[i*n+i] = 1 / ws.spreadInformation(i-q)
	}
	return h
}

// spreadInformation is about the information on the a-th log SD (or log κ), the fixed effects
// known: 2Σρ², ρ = 1 − 1/D being the reliability of a group's intercept, as for normal
// data whose variances are known (the information on a log variance is ½Σρ²). It steers
// searches and steps of differences.
func (ws *workspace) spreadInformation(a int) float64 {
	m := ws.m
	if a == len(m.active) {
		return float64(1+m.nObs()) / 4
	}
	k := m.active[a]
	groups := float64(m.groupsOf(k))
	if k >= len(m.levels) {
		return groups / 2
	}
	sum := 0.0
	for _, d := range ws.levels[k].d {
		rho := 1 - 1/d
		sum += rho * rho
	}
	return math.Max(2*sum, groups/20)
}

// startingSDs are the deterministic starts: even, the outermost level large,
// the innermost large, everything small, everything large.
func startingSDs(levels, starts int) [][]float64 {
	var out [][]float64
	fill := func(all, first, last float64) {
		v := make([]float64, levels)
		for i := range v {
			v[i] = all
		}
		v[0] = first
		if levels > 1 {
			v[levels-1] = last
		}
		out = append(out, v)
	}
	fill(0.5, 0.5, 0.5)
	fill(0.15, 1.2, 0.15)
	if levels > 1 {
		fill(0.15, 0.15, 1.2)
	}
	fill(0.1, 0.1, 0.1)
	fill(3, 3, 3)
	if starts < len(out) {
		out = out[:max(starts, 1)]
	}
	return out
}

// maximise finds the maximum over γ, all SDs and κ. Every start is climbed,
// all but the first coarsely unless it leads higher; then each sub-model with
// one SD (or κ) at zero is climbed as far as needed to know that it lies
// lower, and taken where it does not. Where the first climb's end is sure to be the
// maximum, it stands.
func (c *climber) maximise() *fitted {
	all := make([]int, c.f.nSD())
	for k := range all {
		all[k] = k
	}
	kappa := c.f.family == BetaBinomial
	gamma := c.gamma0
	few := c.fromFew()
	if few != nil {
		gamma = few.theta[:c.a.q]
	}
	if gamma == nil {
		gamma, _ = newWorkspace(c.f.model(c.a, nil, false)).glm(c.f.flatStart(c.a), ridgeLoose)
	}
	full := c.f.model(c.a, all, kappa)
	theta := make([]float64, full.dim())
	copy(theta, gamma)
	if len(theta) == len(gamma) {
		return c.climb(full, theta, c.tol, nil)
	}
	var best *fitted
	sds := [][]float64{nil}
	if len(all) > 0 {
		sds = startingSDs(len(all), c.starts)
		var first []float64
		if few != nil {
			first = few.sds()
		} else if c.near != nil {
			first = c.near.sds
		}
		if len(first) == len(all) {
			for k, v := range first {
				sds[0][k] = math.Min(math.Max(v, 0.1), 3)
			}
		}
	}
	for _, sd := range sds {
		for k, v := range sd {
			theta[c.a.q+k] = math.Log(v)
		}
		if kappa {
			theta[len(theta)-1] = math.Log(0.1)
		}
		if best == nil {
			tol := c.tol
			if !c.quick && c.nodes == 1 {
				tol = closeGain // a step or two more save a second Hessian
			}
			best = c.climb(full, theta, tol, nil)
			if c.sure(best) {
				return best
			}
			continue
		}
		best = c.challenge(best, full, theta)
	}
	return c.subModels(best)
}

// With many innermost groups the first start is where a part of the outermost ones lead:
// each evaluation there costs so much less.
const (
	fewLeaves    = 800 // of the whole
	fewEvery     = 6
	fewOutermost = 30 // outermost, of the part
)

// fromFew climbs every sixth outermost group; nil where there are too few of them, a start
// is known already, or the part does not determine the terms.
func (c *climber) fromFew() *fitted {
	f := c.f
	if c.near != nil && c.near.beta != nil || c.nodes > 1 || len(f.size) == 0 || len(f.levels) == 0 || len(f.crossed) > 0 || !f.plain(c.a).plainCloglog() ||
		len(f.leafStart) <= fewLeaves || f.size[0] < fewEvery*fewOutermost {
		return nil
	}
	part := &climber{f: f.everyGroup(fewEvery), a: c.a, nodes: 1, stop: c.stop}
	ws := newWorkspace(part.f.plain(c.a))
	start := c.gamma0
	if start == nil {
		start = part.f.flatStart(c.a)
	}
	gamma, v := ws.glm(start, ridgeLoose)
	if math.IsInf(v, -1) {
		return nil
	}
	all := make([]int, f.nSD())
	theta := append([]float64(nil), gamma...)
	for k := range all {
		all[k] = k
		theta = append(theta, math.Log(0.5))
	}
	up := part.climb(part.f.model(c.a, all, false), theta, 0.02, nil)
	n := len(theta)
	if up.end != searchDone || math.IsInf(up.ws.eval(up.theta, nil), -1) {
		return nil
	}
	hess := up.hessian(up.steps(), 1)
	if hess == nil || !cholesky(hess, n) {
		return nil
	}
	h := cholInverse(hess, n)
	for i := range n {
		if !(h[i*n+i] < 1) {
			return nil
		}
	}
	for i := range h {
		h[i] *= float64(part.f.size[0]) / float64(f.size[0])
	}
	c.first = h
	return up
}

const (
	// sureLogSE: an SD whose logarithm has a standard error of this lies four standard errors
	// from zero.
	sureLogSE  = 0.25
	sureGroups = 20
)

// sure says that a climb ended at the maximum beyond doubt: every SD rests on twenty groups or more
// and lies four standard errors or more from zero. The likelihood is then as good as
// quadratic around it, falls by about eight towards each sub-model, and has never been
// seen to have a second maximum (our own limits; TestSureIsHighest looks for one). A fit without a
// covariance of its own takes the standard errors of the fit it started from, in proportion
// to the SDs.
func (c *climber) sure(f *fitted) bool {
	m := f.m
	if c.every || c.nodes > 1 || f.end != searchDone || m.kappaFree || m.hasBack || len(m.active) == 0 {
		return false
	}
	n := len(f.theta)
	inherits := c.near != nil && c.near.logSE != nil && len(c.near.logSE) == len(m.active)
	se := func(i int) float64 {
		own := math.Sqrt(f.h[(m.q+i)*n+m.q+i])
		if !inherits {
			return own
		}
		return math.Max(own, c.near.logSE[i]*c.near.sds[i]*math.Exp(-f.theta[m.q+i]))
	}
	for i, k := range m.active {
		if m.groupsOf(k) < sureGroups || !(se(i) <= sureLogSE) {
			return false
		}
	}
	if c.quick {
		return inherits
	}
	finish(f, c.nodes)
	if f.end != searchDone || f.cov == nil {
		return false
	}
	for i := range m.active {
		if !(math.Sqrt(f.cov[(m.q+i)*n+m.q+i]) <= sureLogSE) {
			return false
		}
	}
	return true
}

// challenge climbs m from θ until it is clear that it does not lead above best;
// else it is climbed to its end.
func (c *climber) challenge(best *fitted, m *model, theta []float64) *fitted {
	rough := c.climb(m, theta, 1e-3, func(at []float64, v, gain float64) bool {
		return v+10*gain < best.value || best.within(at)
	})
	if rough.value < best.value-0.05 && rough.end != searchLimit || rough.near(best) || best.within(rough.theta) {
		return best
	}
	next := c.climb(m, rough.theta, c.tol, nil)
	if next.value > best.value {
		return next
	}
	return best
}

// within reports whether θ lies less than a standard error, as the search's
// inverse Hessian tells it, from where the climb ended, in every coordinate: in
// its basin, where another climb would end at the same place.
func (a *fitted) within(theta []float64) bool {
	n := len(a.theta)
	if n != len(theta) {
		return false
	}
	for i, v := range a.theta {
		most := a.h[i*n+i]
		if i >= a.m.q {
			most = math.Min(most, 0.1) // a log SD near zero is flat without being a maximum
		}
		if d := v - theta[i]; d*d > most {
			return false
		}
	}
	return true
}

// near reports whether two climbs of one model end at the same place.
func (a *fitted) near(b *fitted) bool {
	if len(a.m.active) != len(b.m.active) || a.m.kappaFree != b.m.kappaFree {
		return false
	}
	for i := range a.theta {
		if math.Abs(a.theta[i]-b.theta[i]) > 0.1 {
			return false
		}
	}
	return a.value > b.value-0.05
}

// without returns the model with one SD fewer (k < number active) or without
// κ, and θ for it.
func (a *fitted) without(k int) (*model, []float64) {
	m := *a.m
	theta := append([]float64(nil), a.theta[:m.q+k]...)
	theta = append(theta, a.theta[m.q+k+1:]...)
	if k < len(m.active) {
		m.active = append(append([]int(nil), m.active[:k]...), m.active[k+1:]...)
	} else {
		m.kappaFree = false
	}
	return &m, theta
}

// subModels compares the fit with every model that has one SD (or κ) fewer, as
// long as that leads on. Each is climbed from the fit, and once more with its
// small SDs raised, since near zero a log SD is flat.
func (c *climber) subModels(best *fitted) *fitted {
	for again := true; again; {
		again = false
		for k := 0; k < len(best.theta)-best.m.q && !again; k++ {
			m, theta := best.without(k)
			raised := append([]float64(nil), theta...)
			differs := false
			for i := m.q; i < len(theta); i++ {
				raised[i] = math.Max(theta[i], logSmall)
				differs = differs || raised[i] != theta[i]
			}
			if sub := c.noLower(best, m, theta); sub != nil {
				best, again = sub, true
			}
			if !differs {
				continue
			}
			if sub := c.noLower(best, m, raised); sub != nil && (!again || sub.value > best.value) {
				best, again = sub, true
			}
		}
	}
	return best
}

// noLower climbs m from θ; nil if it is clear that it stays below best.
func (c *climber) noLower(best *fitted, m *model, theta []float64) *fitted {
	sub := c.climb(m, theta, c.tol, func(_ []float64, v, gain float64) bool {
		return v+10*gain < best.value-zeroGain
	})
	if sub.value >= best.value-zeroGain && !math.IsInf(sub.value, -1) {
		return sub
	}
	return nil
}
