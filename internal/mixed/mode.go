package mixed

import "math"

const (
	modeLimit = 100
	// modeNear: from here on Newton's next step is the last; being quadratic, what it
	// leaves to gain is far below the rounding of the density.
	modeNear = 1e-10
)

// mode finds the intercepts that maximise the joint log-density by Newton on the
// tree; it returns that density and whether it is a maximum. On return s, d of every
// level belong to the mode (unclipped).
func (ws *workspace) mode() (float64, bool) {
	if len(ws.levels) == 0 {
		f := ws.dataPass(false)
		return f, !math.IsNaN(f)
	}
	if ws.plain && ws.border == nil {
		if f, ok := ws.quickMode(); ok {
			return f, true
		}
	}
	return ws.carefulMode()
}

// quickMode takes full Newton steps as long as what they promise shrinks. With the plain
// complementary log-log likelihood the density is concave, so that where it ends is the
// one maximum; it says false where a step promises no less than the one before.
func (ws *workspace) quickMode() (float64, bool) {
	ws.shifts(false)
	before := math.Inf(1)
	for it := 0; it < modeLimit; it++ {
		gain, proper := ws.quickUp()
		if !proper || !(gain < 0.8*before) {
			break
		}
		before = gain
		ws.quickDown()
		if gain < modeNear {
			f := ws.dataPass(false)
			if !isFinite(f) {
				break
			}
			return f, ws.eliminate(ws.leaf.raw, true, false)
		}
	}
	for k := range ws.levels {
		for _, z := range ws.levels[k].z {
			if !isFinite(z) {
				ws.reset()
			}
		}
	}
	return 0, false
}

// extrapolate moves the intercepts from the mode of the last evaluation to where it lies
// at the present parameters, to first order: Newton's step for derivatives that are
// carried along by the second ones, so that it costs no likelihood.
func (ws *workspace) extrapolate() {
	m := ws.m
	for i, v := range ws.lin {
		ws.linWas[i] = v - ws.linWas[i]
		if !(math.Abs(ws.linWas[i]) < 1) {
			return
		}
	}
	copy(ws.leaf.rhs, ws.leaf.shift)
	ws.shifts(false)
	i := int(m.leafStart[0])
	for j, s := range ws.leaf.s {
		g := ws.leaf.raw[j] - s*(ws.leaf.shift[j]-ws.leaf.rhs[j])
		for end := int(m.leafStart[j+1]); i < end; i++ {
			if !m.multi {
				g += ws.t2[i] * ws.linWas[m.row[i]]
				continue
			}
			for p := m.pieceStart[i]; p < m.pieceStart[i+1]; p++ {
				g += ws.t2[i] * ws.share[p] * ws.linWas[m.row[p]]
			}
		}
		ws.leaf.g[j] = g
	}
	if len(ws.levels) > 0 && ws.eliminate(ws.leaf.g, true, false) {
		ws.quickDown()
	}
}

// firstModes sets the intercepts near their mode where nothing is known of it: each observation
// tells a hazard, −log(1 − (y + ½)/(r + 1)), with the information of its count; a leaf lies at
// their weighted mean on the log scale, and the tree shrinks what its leaves say.
func (ws *workspace) firstModes() {
	m := ws.m
	for j := range ws.leaf.s {
		var s, g float64
		for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
			if m.r[i] == 0 || !(ws.hazard[i] > 0) {
				continue
			}
			h := -math.Log1p(-(m.y[i] + 0.5) / (m.r[i] + 1))
			q, _ := quickQ(h)
			w := m.r[i] * h * q
			s += w
			g += w * math.Log(h/ws.hazard[i])
		}
		ws.leaf.s[j], ws.leaf.g[j] = s, g
	}
	if ws.eliminate(ws.leaf.g, true, false) {
		ws.shifts(false)
		ws.quickDown()
	}
}

// carefulMode halves Newton's steps until the density rises.
func (ws *workspace) carefulMode() (float64, bool) {
	f := ws.dataPass(false)
	if math.IsNaN(f) || math.IsInf(f, -1) {
		ws.reset()
		if f = ws.dataPass(false); math.IsNaN(f) || math.IsInf(f, -1) {
			return f, false
		}
	}
	for it := 0; it < modeLimit; it++ {
		gain, proper := ws.solve(ws.leaf.raw, true, false, false)
		if !proper {
			gain, _ = ws.solve(ws.leaf.raw, true, true, false)
		}
		if gain < 1e-22 {
			return f, proper
		}
		step := 1.0
		for {
			ws.stepTo(step)
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
		ws.accept()
		if gain < modeNear && step == 1 {
			_, proper = ws.solve(ws.leaf.raw, true, false, false)
			return f, proper
		}
	}
	return f, false
}

// stepTo sets zNew to z + step·delta.
func (ws *workspace) stepTo(step float64) {
	for k := range ws.levels {
		lv := &ws.levels[k]
		for n, d := range lv.delta {
			lv.zNew[n] = lv.z[n] + step*d
		}
	}
	ws.border.stepTo(step)
}

func (ws *workspace) accept() {
	for k := range ws.levels {
		ws.levels[k].z, ws.levels[k].zNew = ws.levels[k].zNew, ws.levels[k].z
	}
	ws.border.accept()
}
