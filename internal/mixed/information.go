package mixed

import "math"

// fixedInformation writes the information about γ (q × q, row-major) at the
// last evaluation: expected information of each observation given its
// intercepts at the mode, Σ w gg' with g the gradient of log H, less what the
// intercepts take, which the tree eliminates like everything else:
// M − σ² m m'/D per node. Its inverse is the covariance of γ at known SDs.
func (ws *workspace) fixedInformation(info []float64) {
	m := ws.m
	q := m.q
	for i := range info {
		info[i] = 0
	}
	if ws.plain && !m.multi && ws.border == nil {
		ws.plainInformation(info)
		return
	}
	xg := ws.rowsInGamma()
	nl := len(ws.levels)
	nLeaf := len(m.leafStart) - 1
	qq, all := q, info
	if ws.border != nil {
		qq += ws.border.n
		all = make([]float64, qq*qq)
	}
	vec := make([]float64, nLeaf*qq)
	wt := make([]float64, nLeaf)
	gr := make([]float64, q)
	for j := 0; j < nLeaf; j++ {
		t := ws.leaf.shift[j]
		for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
			if m.r[i] == 0 {
				continue
			}
			w, sv := ws.expected(int(i), t, xg, gr)
			for a := 0; a < q; a++ {
				vec[j*qq+a] += w * sv * gr[a]
				for b := 0; b <= a; b++ {
					all[a*qq+b] += w * gr[a] * gr[b]
				}
			}
			wt[j] += w * sv * sv
		}
	}
	if ws.border != nil {
		ws.borderInformation(all, vec, wt, qq)
	}
	for k := nl - 1; k >= 0 && !ws.flat; k-- {
		vec, wt = ws.informationUp(k, vec, wt, all, qq)
	}
	if ws.border != nil {
		ws.eliminateBorder(all, info, qq)
	}
	for a := 0; a < q; a++ {
		for b := 0; b < a; b++ {
			info[b*q+a] = info[a*q+b]
		}
	}
}

// plainInformation is fixedInformation for plainCloglog with one piece an observation and
// no border: the gradient of a log hazard is its design row, so that weights are
// summed by row.
func (ws *workspace) plainInformation(info []float64) {
	m := ws.m
	q := m.q
	xg := ws.rowsInGamma()
	byRow := make([]float64, m.nRows)
	nLeaf := len(m.leafStart) - 1
	vec, wt := make([]float64, nLeaf*q), make([]float64, nLeaf)
	for j := range wt {
		et := math.Exp(math.Min(ws.leaf.shift[j], maxV))
		v := vec[j*q : (j+1)*q]
		for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
			h := math.Max(math.Min(ws.hazard[i]*et, topHazard), 1e-300)
			qh, _ := quickQ(h)
			w := m.r[i] * h * qh
			row := int(m.row[i])
			byRow[row] += w
			wt[j] += w
			for a, x := range xg[row*q : (row+1)*q] {
				v[a] += w * x
			}
		}
	}
	for row, w := range byRow {
		x := xg[row*q : (row+1)*q]
		for a := 0; a < q; a++ {
			for b := 0; b <= a; b++ {
				info[a*q+b] += w * x[a] * x[b]
			}
		}
	}
	for k := len(ws.levels) - 1; k >= 0 && !ws.flat; k-- {
		vec, wt = ws.informationUp(k, vec, wt, info, q)
	}
	for a := 0; a < q; a++ {
		for b := 0; b < a; b++ {
			info[b*q+a] = info[a*q+b]
		}
	}
}

// informationUp eliminates the nodes of level k from the information and
// returns what is left for their parents.
func (ws *workspace) informationUp(k int, vec, wt, info []float64, q int) (up, upW []float64) {
	m := ws.m
	s2 := ws.sigma[k] * ws.sigma[k]
	if k > 0 {
		up, upW = make([]float64, m.size[k-1]*q), make([]float64, m.size[k-1])
	}
	for n := 0; n < m.size[k]; n++ {
		d := 1 + s2*wt[n]
		v := vec[n*q : (n+1)*q]
		for a := 0; a < q; a++ {
			for b := 0; b <= a; b++ {
				info[a*q+b] -= s2 * v[a] * v[b] / d
			}
		}
		if k > 0 {
			par := int(m.parent[k][n])
			upW[par] += wt[n] / d
			for a := 0; a < q; a++ {
				up[par*q+a] += v[a] / d
			}
		}
	}
	return up, upW
}

// rowsInGamma returns the distinct design rows in the coordinates searched.
func (ws *workspace) rowsInGamma() []float64 {
	m := ws.m
	q, p := m.q, len(m.terms)
	xg := make([]float64, m.nRows*q)
	for i := 0; i < m.nRows; i++ {
		for j, x := range m.rows[i*p : (i+1)*p] {
			if x == 0 {
				continue
			}
			for g := 0; g < q; g++ {
				xg[i*q+g] += x * m.toBeta[j*q+g]
			}
		}
	}
	return xg
}

// expected returns the expected information w of observation i about its log
// hazard (its logit) at shift t, writes the gradient of that log hazard in γ,
// and returns its derivative in the shift (1 without background).
func (ws *workspace) expected(i int, t float64, xg, gr []float64) (w, sv float64) {
	m := ws.m
	q := m.q
	for g := range gr {
		gr[g] = 0
	}
	if s := m.sum(i); s != nil {
		return ws.sumExpected(i, s, t, xg, gr)
	}
	b := math.Exp(math.Min(ws.w[i]+t, maxV))
	h := math.Max(b, 1e-300)
	fb, fa := 1.0, 0.0
	if m.hasBack {
		h = b + ws.back[i]
		if h > 0 {
			fb, fa = b/h, ws.back[i]/h
		}
	}
	for s := m.pieceStart[i]; s < m.pieceStart[i+1]; s++ {
		f := fb
		if m.background[s] {
			f = fa
		}
		f *= ws.share[s]
		row := xg[int(m.row[s])*q : (int(m.row[s])+1)*q]
		for g, x := range row {
			gr[g] += f * x
		}
	}
	r := m.r[i]
	if m.kappaFree && r > 1 {
		r = r * (1 + ws.kappa) / (1 + r*ws.kappa) // over the design effect 1 + (r−1)ρ
	}
	if m.link == Logit {
		k := logitTerm(0, r, ws.w[i]+t)
		return -k.vv, 1
	}
	_, qh, _ := logAndQ(0, h)
	return r * h * qh, fb
}
