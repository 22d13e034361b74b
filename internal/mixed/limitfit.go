package mixed

import "math"

// goneEvents: a design row whose pieces together are expected to bring fewer
// events than this is taken to have no hazard at all, if that costs nothing.
const goneEvents = 1e-3

// fitLimited maximises the marginal likelihood of the frame over a, taken to
// the limit of whatever runs away. Where hazards add, a rate can be highest at zero
// without any observation saying so alone (more loss in the controls than
// outside); the likelihood with random intercepts decides, both ways.
func (f *frame) fitLimited(a affine, nodes, starts int) (*fitted, limited, int) {
	l := f.limit(a)
	c := &climber{f: l.f, a: l.a, nodes: nodes, tol: 1e-9, starts: starts}
	best := c.maximise()
	if l.before != nil {
		if b, ok := c.undo(best, l); ok {
			best, l = b, *l.before
		}
	}
	evals := c.evals
	if !f.multi && !f.hasBack {
		return best, l, evals
	}
	for round := 0; round < len(f.terms); round++ {
		n, d := best.gone()
		if n == nil {
			break
		}
		k := &climber{f: n.f, a: n.a, nodes: nodes, tol: 1e-9, starts: 1}
		next := k.maximise()
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
	m := *best.m
	m.frame, m.base, m.toBeta, m.q = b.f, b.a.base, b.a.toBeta, b.a.q
	theta := append(b.f.project(b.a, beta), best.theta[best.m.q:]...)
	up := c.climb(&m, theta, c.tol, nil)
	return up, up.end == searchDone && up.value > best.value+zeroGain
}

// gone looks for design rows whose hazard has gone to zero in the fit, and
// which the rest of the data do not determine. It returns the frame without
// them and the direction in which they went; nil if there are none.
func (f *fitted) gone() (*limited, []float64) {
	m := f.m
	if math.IsInf(f.value, -1) || !f.ws.setTheta(f.theta) {
		return nil, nil
	}
	events := make([]float64, m.nRows)
	for i := range m.r {
		for s := m.pieceStart[i]; s < m.pieceStart[i+1]; s++ {
			if m.r[i] > 0 && !math.IsInf(m.logExp[s], -1) {
				events[m.row[s]] += m.r[i] * math.Exp(f.ws.lin[m.row[s]]+m.logExp[s])
			}
		}
	}
	off := func(row int32) bool { return events[row] < goneEvents }
	n := *m.frame
	n.logExp = append([]float64(nil), m.logExp...)
	n.y, n.r = append([]float64(nil), m.y...), append([]float64(nil), m.r...)
	any := false
	for i := range n.r {
		left := false
		for s := m.pieceStart[i]; s < m.pieceStart[i+1]; s++ {
			if math.IsInf(n.logExp[s], -1) {
				continue
			}
			if off(m.row[s]) {
				n.logExp[s] = math.Inf(-1)
				any = any || n.r[i] > 0
			} else {
				left = true
			}
		}
		if !left && n.y[i] > 0 {
			return nil, nil
		}
		if !left {
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
	return l, f.wentAlong(events)
}

// wentAlong returns the direction of β that moves the rows without events by −1
// and the others not at all, as nearly as there is one.
func (f *fitted) wentAlong(events []float64) []float64 {
	m := f.m
	p := len(m.terms)
	xg := f.ws.rowsInGamma()
	gamma := make([]float64, m.q)
	total := 0.0
	for i, w := range m.usedRows() {
		total += w
		if w > 0 && events[i] < goneEvents {
			for g := range gamma {
				gamma[g] -= w * xg[i*m.q+g]
			}
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
