package mixed

import "math"

// predict fills w, back and share from lin.
func (ws *workspace) predict() {
	if ws.plain {
		ws.predictPlain()
		return
	}
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

// topHazard is e^maxV.
var topHazard = math.Exp(maxV)

// predictPlain is predict for plainCloglog: hazards by multiplication, one
// exponential a distinct row.
func (ws *workspace) predictPlain() {
	m := ws.m
	for i, v := range ws.lin {
		ws.rate[i] = math.Exp(v)
	}
	for i := range ws.w {
		from, to := m.pieceStart[i], m.pieceStart[i+1]
		if to-from == 1 {
			row := m.row[from]
			ws.hazard[i], ws.share[from] = m.exposure[from]*ws.rate[row], 1
			ws.w[i] = ws.lin[row] + m.logExp[from]
			continue
		}
		sum := 0.0
		for s := from; s < to; s++ {
			ws.share[s] = m.exposure[s] * ws.rate[m.row[s]]
			sum += ws.share[s]
		}
		if sum > 0 {
			for s := from; s < to; s++ {
				ws.share[s] /= sum
			}
		}
		ws.hazard[i], ws.w[i] = sum, math.Log(sum)
	}
}

// leafData evaluates the data of leaf j at shift t: log-likelihood returned,
// derivatives kept by observation and summed by leaf.
func (ws *workspace) leafData(j int, t float64) float64 {
	m := ws.m
	if ws.plain {
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

// quickLeaf is leafData for plainCloglog without the value and the third derivative:
// what Newton's steps need. The hazard is exp(w)·e^t, so that one exponential a leaf
// and one an observation with events are all it takes.
func (ws *workspace) quickLeaf(j int, t float64) {
	m := ws.m
	et := math.Exp(math.Min(t, maxV))
	var g, s float64
	for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
		y, r := m.y[i], m.r[i]
		h := ws.hazard[i] * et
		if h > topHazard {
			h = topHazard
		}
		d1 := (y - r) * h
		d2 := d1
		if y > 0 {
			q, mm := quickQ(h)
			q *= y
			d1 += q
			d2 += q * mm
		}
		g += d1
		s -= d2
	}
	ws.leaf.raw[j], ws.leaf.s[j] = g, s
}

// cloglogLeaf is leafData for plainCloglog, where almost all time is spent: the
// formulas of cloglogTerm without its calls.
func (ws *workspace) cloglogLeaf(j int, t float64) float64 {
	m := ws.m
	et := math.Exp(math.Min(t, maxV))
	var l, g, s, third float64
	for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
		y, r := m.y[i], m.r[i]
		h := ws.hazard[i] * et
		if h > topHazard {
			h = topHazard
		}
		d1 := (y - r) * h
		d2, d3 := d1, d1
		l += d1
		if y > 0 {
			if math.IsInf(ws.w[i], -1) {
				ws.t1[i], ws.t2[i], ws.t3[i] = 0, 0, 0
				l = ws.w[i]
				continue
			}
			lq, q, mm := logAndQ(math.Min(ws.w[i]+t, maxV), h)
			l += y * lq
			q *= y
			d1 += q
			d2 += q * mm
			d3 += q * (mm*mm - h - q/y*mm)
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
	f := -ws.shifts(fresh)
	if len(ws.levels) == 0 {
		return f + ws.leafData(0, 0)
	}
	for j, t := range ws.leaf.shift {
		f += ws.leafData(j, t)
	}
	return f
}

// quickPass is dataPass without the value.
func (ws *workspace) quickPass() {
	ws.shifts(false)
	for j, t := range ws.leaf.shift {
		ws.quickLeaf(j, t)
	}
}

// shifts sets the shift of every node and leaf and returns ½ z'z.
func (ws *workspace) shifts(fresh bool) float64 {
	f := 0.0
	for k := range ws.levels {
		lv := &ws.levels[k]
		z := lv.z
		if fresh {
			z = lv.zNew
		}
		sg := ws.sigma[k]
		for n, v := range z {
			lv.shift[n] = sg * v
			f += v * v / 2
		}
		if k > 0 {
			up := ws.levels[k-1].shift
			for n, par := range ws.m.parent[k] {
				lv.shift[n] += up[par]
			}
		}
	}
	if len(ws.levels) == 0 {
		ws.leaf.shift[0] = 0
		return f
	}
	copy(ws.leaf.shift, ws.levels[len(ws.levels)-1].shift)
	if b := ws.border; b != nil {
		z := b.z
		if fresh {
			z = b.zNew
		}
		for j := range ws.leaf.shift {
			ws.leaf.shift[j] += ws.borderShift(j, z)
		}
		f += b.prior(z)
	}
	return f
}
