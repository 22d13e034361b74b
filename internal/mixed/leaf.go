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

// quickUp evaluates the data of every leaf at its shift, without the value and the third
// derivative, and eliminates the tree: the first half of a Newton step for the intercepts.
// It returns the gain that the step promises and whether every pivot is positive. The
// hazard is exp(w)·e^t, so that one exponential a leaf and one an observation with
// events are all it takes. For plainCloglog without a border.
func (ws *workspace) quickUp() (gain float64, proper bool) {
	m := ws.m
	last := len(ws.levels) - 1
	lv := &ws.levels[last]
	n := len(lv.z)
	sg := ws.sigma[last]
	z, shift, sOut, rhs, inv := lv.z[:n], lv.shift[:n], lv.s[:n], lv.rhs[:n], lv.inverse[:n]
	start := m.leafStart[:n+1]
	y, r, hazard := m.y, m.r, ws.hazard
	var upS, upG []float64
	var parent []int32
	if last > 0 {
		upS, upG, parent = ws.levels[last-1].s, ws.levels[last-1].g, m.parent[last][:n]
		clear(upS)
		clear(upG)
	}
	proper = true
	i := int(start[0])
	for j := range z {
		et := math.Exp(math.Min(shift[j], maxV))
		var g, s float64
		for end := int(start[j+1]); i < end; i++ {
			h := hazard[i] * et
			if h > topHazard {
				h = topHazard
			}
			yi := y[i]
			d1 := (yi - r[i]) * h
			d2 := d1
			if yi > 0 {
				q, mm := quickQ(h)
				q *= yi
				d1 += q
				d2 += q * mm
			}
			g += d1
			s -= d2
		}
		d := 1 + sg*sg*s
		proper = proper && d > 0
		v, x := 1/d, sg*g-z[j]
		sOut[j], rhs[j], inv[j] = s, x, v
		gain += x * x * v
		if last > 0 {
			p := parent[j]
			s *= v
			upS[p] += s
			upG[p] += g - sg*s*x
		}
	}
	for k := last - 1; k >= 0; k-- {
		more, ok := ws.quickNodes(k)
		gain += more
		proper = proper && ok
	}
	return gain, proper
}

// quickNodes eliminates the nodes of level k, above the leaves.
func (ws *workspace) quickNodes(k int) (gain float64, proper bool) {
	lv := &ws.levels[k]
	sg := ws.sigma[k]
	var up *levelSpace
	if k > 0 {
		up = &ws.levels[k-1]
		clear(up.s)
		clear(up.g)
	}
	proper = true
	for j, s := range lv.s {
		d := 1 + sg*sg*s
		proper = proper && d > 0
		v, x := 1/d, sg*lv.g[j]-lv.z[j]
		lv.rhs[j], lv.inverse[j] = x, v
		gain += x * x * v
		if k > 0 {
			p := ws.m.parent[k][j]
			s *= v
			up.s[p] += s
			up.g[p] += lv.g[j] - sg*s*x
		}
	}
	return gain, proper
}

// quickDown takes the Newton step that quickUp prepared: intercepts and shifts.
func (ws *workspace) quickDown() {
	for k := range ws.levels {
		lv := &ws.levels[k]
		sg := ws.sigma[k]
		n := len(lv.z)
		z, shift, s, rhs, inv, dsh := lv.z[:n], lv.shift[:n], lv.s[:n], lv.rhs[:n], lv.inverse[:n], lv.dsh[:n]
		if k == 0 {
			for j := range z {
				d := rhs[j] * inv[j]
				z[j] += d
				dsh[j] = sg * d
				shift[j] += dsh[j]
			}
			continue
		}
		parent, above := ws.m.parent[k][:n], ws.levels[k-1].dsh
		for j := range z {
			a := above[parent[j]]
			d := (rhs[j] - sg*s[j]*a) * inv[j]
			z[j] += d
			dsh[j] = a + sg*d
			shift[j] += dsh[j]
		}
	}
}

// cloglogPass is leafData of every leaf for plainCloglog, where almost all time is
// spent: the formulas of cloglogTerm without its calls. It returns the sum.
func (ws *workspace) cloglogPass() (l float64) {
	m := ws.m
	n := len(ws.leaf.shift)
	shift, raw, sum, third := ws.leaf.shift[:n], ws.leaf.raw[:n], ws.leaf.s[:n], ws.leaf.t[:n]
	start := m.leafStart[:n+1]
	all := len(m.y)
	y, r, hazard, w := m.y, m.r[:all], ws.hazard[:all], ws.w[:all]
	t1, t2, t3 := ws.t1[:all], ws.t2[:all], ws.t3[:all]
	i := int(start[0])
	for j, t := range shift {
		et := math.Exp(math.Min(t, maxV))
		var g, s, c float64
		for end := int(start[j+1]); i < end; i++ {
			h := hazard[i] * et
			if h > topHazard {
				h = topHazard
			}
			yi := y[i]
			d1 := (yi - r[i]) * h
			d2, d3 := d1, d1
			l += d1
			if yi > 0 {
				if h == 0 && math.IsInf(w[i], -1) {
					t1[i], t2[i], t3[i] = 0, 0, 0
					l = w[i]
					continue
				}
				var lq, q, mm float64
				if h < smallHazard {
					lq, q, mm = logAndQ(math.Min(w[i]+t, maxV), h)
				} else {
					e := math.Exp(-h)
					d := 1 - e
					q = h * e / d
					lq, mm = quickLog(d), 1-h-q
				}
				l += yi * lq
				d := yi * q
				d1 += d
				d2 += d * mm
				d3 += d * (mm*mm - h - q*mm)
			}
			t1[i], t2[i], t3[i] = d1, d2, d3
			g += d1
			s -= d2
			c -= d3
		}
		raw[j], sum[j], third[j] = g, s, c
	}
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
	if ws.plain {
		return f + ws.cloglogPass()
	}
	if len(ws.levels) == 0 {
		return f + ws.leafData(0, 0)
	}
	for j, t := range ws.leaf.shift {
		f += ws.leafData(j, t)
	}
	return f
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
