package mixed

import (
	"math"
	"slices"
)

// goneEvents: a design row whose pieces together are expected to bring fewer
// events than this is taken to have no hazard at all, if that costs nothing.
const goneEvents = 1e-3

// fitLimited maximises the marginal likelihood of the frame over a, taken to
// the limit of whatever runs away. Where hazards add, a rate can be highest at zero
// without any observation saying so alone (more loss in the controls than
// outside); the likelihood with random intercepts decides, both ways.
//
// Of the options it takes where the first climb starts (near), whether a covariance is asked
// for, and the context.
func (f *frame) fitLimited(a affine, nodes, starts int, o Options) (*fitted, limited, int) {
	near, stop := o.near, o.stop()
	var start []float64
	if beta := near.on(f.terms); beta != nil {
		start = f.project(a, beta)
	}
	l, gamma := limited{f: f, a: a}, start
	if !near.holds() && f.maySeparate() {
		if gamma = f.held(a, start); gamma == nil {
			l = f.limit(a)
		}
	}
	c := &climber{f: l.f, a: l.a, nodes: nodes, tol: 1e-9, starts: starts, near: near, quick: o.LikelihoodOnly, every: o.every, stop: stop}
	if l.ran == nil {
		if c.gamma0 = start; start == nil {
			c.gamma0 = gamma
		}
	}
	best := c.maximise()
	if l.before != nil {
		if b, ok := c.undo(best, l); ok {
			best, l = b, *l.before
		}
	}
	evals := c.evals
	for round := 0; round < len(f.terms); round++ {
		n, d := best.gone()
		if n == nil {
			break
		}
		k := &climber{f: n.f, a: n.a, nodes: nodes, tol: 1e-9, starts: 1, stop: stop}
		next := k.maximise()
		if near := k.climb(best.m.on(n.f, n.a), best.onto(n.f, n.a, best.beta()), k.tol, nil); near.value > next.value {
			next = k.subModels(near)
		}
		evals += k.evals
		if !(next.value >= best.value-zeroGain) {
			break
		}
		best = next
		l = limited{f: n.f, a: n.a, ran: add(l.ran, d)}
	}
	return best, l, evals
}

// undo climbs the frame as it was before the first direction that the
// likelihood had to decide, from just inside it; ok if that leads higher.
func (c *climber) undo(best *fitted, l limited) (*fitted, bool) {
	b := l.before
	beta := best.beta()
	for j, d := range l.ran {
		beta[j] += 4 * d
	}
	up := c.climb(best.m.on(b.f, b.a), best.onto(b.f, b.a, beta), c.tol, nil)
	return up, up.end == searchDone && up.value > best.value+zeroGain
}

// on is the model with the same SDs on another frame.
func (m *model) on(f *frame, a affine) *model {
	return f.model(a, m.active, m.kappaFree)
}

// onto is θ of the fit with β in its place, for the same SDs on another frame.
func (f *fitted) onto(g *frame, a affine, beta []float64) []float64 {
	return append(g.project(a, beta), f.theta[f.m.q:]...)
}

// gone looks for design rows whose hazard has gone to zero in the fit, and for
// observations whose events have become certain, where the rest of the data do
// not determine them. It returns the frame without them and the direction in
// which they went; nil if there are none.
func (f *fitted) gone() (*limited, []float64) {
	m := f.m
	if math.IsInf(f.value, -1) || m.q == 0 || !f.ws.use(f.m).setTheta(f.theta) {
		return nil, nil
	}
	move := f.moves()
	if !slices.ContainsFunc(move, func(v float64) bool { return v != 0 }) {
		return nil, nil
	}
	n := *m.frame
	n.logExp = append([]float64(nil), m.logExp...)
	n.exposure = append([]float64(nil), m.exposure...)
	n.y, n.r = append([]float64(nil), m.y...), append([]float64(nil), m.r...)
	any := false
	for i := range n.r {
		if n.r[i] == 0 {
			continue
		}
		left, certain := false, false
		for s := m.pieceStart[i]; s < m.pieceStart[i+1]; s++ {
			if math.IsInf(n.logExp[s], -1) {
				continue
			}
			switch move[m.row[s]] {
			case -1:
				n.logExp[s], n.exposure[s] = math.Inf(-1), 0
				any = true
			case 1:
				certain = true
			default:
				left = true
			}
		}
		switch {
		case certain && (n.y[i] < n.r[i] || n.sum(i) != nil), !certain && !left && n.y[i] > 0:
			return nil, nil
		case certain:
			n.y[i], n.r[i] = 0, 0
			any = true
		case !left:
			n.r[i] = 0
		}
	}
	a := affine{base: m.base, toBeta: m.toBeta, q: m.q}
	if !any {
		return nil, nil
	}
	l := &limited{f: &n, a: n.narrow(a)}
	if l.a.q == a.q {
		return nil, nil
	}
	return l, f.wentAlong(move)
}

// moves tells of each distinct row whether its hazard is gone (−1: hardly an
// event expected from all its pieces together), or so high that every
// observation it is a part of, all of them nothing but events, is certain (+1).
func (f *fitted) moves() []float64 {
	m := f.m
	events, free := make([]float64, m.nRows), make([]bool, m.nRows)
	least := make([]float64, m.nRows)
	for i := range least {
		least[i] = math.Inf(1)
	}
	rate := make([]float64, m.nRows)
	for i := range rate {
		rate[i] = math.Exp(f.ws.lin[i])
	}
	for i := range m.r {
		for s := m.pieceStart[i]; s < m.pieceStart[i+1]; s++ {
			if m.r[i] == 0 || math.IsInf(m.logExp[s], -1) {
				continue
			}
			row := m.row[s]
			h := rate[row] * m.exposure[s]
			events[row] += m.r[i] * h
			least[row] = math.Min(least[row], h)
			free[row] = free[row] || m.y[i] < m.r[i]
		}
	}
	sure := 12.0 // e^−12 is 6e-6
	if m.link == Logit {
		sure = 1e5
	}
	move := make([]float64, m.nRows)
	for row := range move {
		if events[row] < goneEvents {
			move[row] = -1
		} else if !free[row] && least[row] > sure {
			move[row] = 1
		}
	}
	return move
}

// wentAlong returns the direction of β that moves the linear predictors as
// told, as nearly as there is one.
func (f *fitted) wentAlong(move []float64) []float64 {
	m := f.m
	p := len(m.terms)
	xg := f.ws.rowsInGamma()
	gamma := make([]float64, m.q)
	total := 0.0
	for i, w := range m.usedRows() {
		total += w
		for g := range gamma {
			gamma[g] += w * move[i] * xg[i*m.q+g]
		}
	}
	d := make([]float64, p)
	for j := range d {
		for g := range gamma {
			d[j] += m.toBeta[j*m.q+g] * gamma[g] / math.Max(total, 1)
		}
	}
	return d
}
