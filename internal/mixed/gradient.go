package mixed

// gradient writes dL/dθ at the mode. With a = ∂ log det K/∂W by leaf (the
// posterior variance of its shift) and p = K⁻¹ ∂ log det K/∂z, whose shift by
// leaf is P, a change δ of the linear predictor of observation i changes L by
//
//	δ·(ℓ₁ + ½ a ℓ₃ − ½ P ℓ₂)
//
// (the second term moves W, the third moves ẑ, by the implicit function
// theorem), and a change of s by δ·(ℓ_s + ½ a ℓ_svv − ½ P ℓ_sv), ℓ₁ to ℓ₃
// being the derivatives of its log-likelihood. The SD of level k moves
// each shift by z, the log-determinant directly, and the equation of the mode.
// The adjoint is a second run of the tree, so the gradient costs less than the
// mode.
func (ws *workspace) gradient(grad []float64) {
	m := ws.m
	for i := range grad {
		grad[i] = 0
	}
	nl := len(ws.levels)
	ws.variances(grad)
	// q by leaf: a·T; then K p = q
	for j := range ws.leaf.g {
		a := 0.0
		if nl > 0 {
			a = ws.levels[nl-1].a[j]
		}
		ws.leaf.a[j] = a
	}
	if ws.border != nil {
		ws.borderVariances(grad)
	}
	for j, a := range ws.leaf.a {
		ws.leaf.g[j] = a * ws.leaf.t[j]
	}
	ws.solve(ws.leaf.g, false, false, true)
	for j := range ws.leaf.dsh {
		ws.leaf.dsh[j] = 0
		if nl > 0 {
			ws.leaf.dsh[j] = ws.levels[nl-1].dsh[j]
		}
		if ws.border != nil {
			ws.leaf.dsh[j] += ws.borderShift(j, ws.border.delta)
		}
	}
	ws.observations(grad)
	if nl > 0 && len(m.active) > 0 {
		ws.sumUp()
	}
	if ws.border != nil {
		ws.borderSums()
	}
	for a, k := range m.active {
		if f := k - len(m.levels); f >= 0 {
			grad[m.q+a] += ws.border.sigma[f] * ws.borderSlope(f)
			continue
		}
		lv := &ws.levels[k]
		s := 0.0
		for n := range lv.z {
			s += lv.c[n]*lv.z[n] - lv.delta[n]*lv.raw[n]/2
		}
		grad[m.q+a] += ws.sigma[k] * s
	}
	ws.inGamma(grad)
}

// inGamma adds the gradient in β to that in γ.
func (ws *workspace) inGamma(grad []float64) {
	m := ws.m
	for g := 0; g < m.q; g++ {
		for j := range ws.gbeta {
			grad[g] += m.toBeta[j*m.q+g] * ws.gbeta[j]
		}
	}
}

// variances runs down the tree for a = var(shift) under K⁻¹ and adds the
// direct part of the log-determinant to the gradient in log σ:
// −σ² Σ_n (S/D − a_above S²/D²).
func (ws *workspace) variances(grad []float64) {
	m := ws.m
	next := 0
	for k := range ws.levels {
		lv := &ws.levels[k]
		s2 := ws.sigma[k] * ws.sigma[k]
		sum := 0.0
		for n, d := range lv.d {
			above := 0.0
			if k > 0 {
				above = ws.levels[k-1].a[m.parent[k][n]]
			}
			v := 1 / d
			ratio := lv.s[n] * v
			sum += ratio - above*ratio*ratio
			lv.a[n] = (above*v + s2) * v
		}
		if next < len(m.active) && m.active[next] == k {
			grad[m.q+next] = -s2 * sum
			next++
		}
	}
}

// observations sums the coefficient of every observation by leaf, by distinct
// design row and over log κ.
func (ws *workspace) observations(grad []float64) {
	m := ws.m
	for i := range ws.coef {
		ws.coef[i] = 0
	}
	second := m.hasBack || m.kappaFree
	if ws.plain && !m.multi {
		ws.plainObservations()
	}
	for j := range ws.leaf.c {
		if ws.plain && !m.multi {
			break
		}
		a, p, c := ws.leaf.a[j], ws.leaf.dsh[j], 0.0
		for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
			if m.r[i] == 0 {
				continue
			}
			if s := m.sum(int(i)); s != nil {
				c += ws.sumCoefficients(int(i), s, a, p)
				continue
			}
			ci := ws.t1[i] + a*ws.t3[i]/2 - p*ws.t2[i]/2
			c += ci
			di := 0.0
			if second {
				di = ws.s1[i] + a*ws.s3[i]/2 - p*ws.s2[i]/2
			}
			if m.kappaFree {
				grad[len(grad)-1] += di
			}
			for s := m.pieceStart[i]; s < m.pieceStart[i+1]; s++ {
				if m.background[s] {
					ws.coef[m.row[s]] += di * ws.share[s]
				} else {
					ws.coef[m.row[s]] += ci * ws.share[s]
				}
			}
		}
		ws.leaf.c[j] = c
	}
	p := len(m.terms)
	for j := range ws.gbeta {
		ws.gbeta[j] = 0
	}
	for i, c := range ws.coef {
		if c != 0 {
			for j, x := range m.rows[i*p : (i+1)*p] {
				ws.gbeta[j] += c * x
			}
		}
	}
}

// plainObservations is the sum over observations for plainCloglog with one piece each.
func (ws *workspace) plainObservations() {
	m := ws.m
	n := len(m.y)
	t1, t2, t3, row := ws.t1[:n], ws.t2[:n], ws.t3[:n], m.row[:n]
	i := int(m.leafStart[0])
	for j := range ws.leaf.c {
		a, p, c := ws.leaf.a[j]/2, ws.leaf.dsh[j]/2, 0.0
		for end := int(m.leafStart[j+1]); i < end; i++ {
			ci := t1[i] + a*t3[i] - p*t2[i]
			c += ci
			ws.coef[row[i]] += ci
		}
		ws.leaf.c[j] = c
	}
}

// sumUp sums raw derivatives and coefficients of the leaves into every level.
func (ws *workspace) sumUp() {
	last := len(ws.levels) - 1
	copy(ws.levels[last].raw, ws.leaf.raw)
	copy(ws.levels[last].c, ws.leaf.c)
	for k := last; k > 0; k-- {
		lv, up := &ws.levels[k], &ws.levels[k-1]
		for n := range up.raw {
			up.raw[n], up.c[n] = 0, 0
		}
		for n, par := range ws.m.parent[k] {
			up.raw[par] += lv.raw[n]
			up.c[par] += lv.c[n]
		}
	}
}
