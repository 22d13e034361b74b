package mixed

import "math"

// affine is the part of the space of β that is searched: β = base + toBeta·γ.
type affine struct {
	base, toBeta []float64
	q            int
}

func (b *basis) affine() affine {
	return affine{base: make([]float64, b.p), toBeta: b.toBeta, q: b.rank}
}

// usedRows returns, for each distinct row, the number of pieces of
// observations with trials whose hazard is not off.
func (f *frame) usedRows() []float64 {
	w := make([]float64, f.nRows)
	for i := range f.y {
		if f.r[i] == 0 {
			continue
		}
		for s := f.pieceStart[i]; s < f.pieceStart[i+1]; s++ {
			if !math.IsInf(f.logExp[s], -1) {
				w[f.row[s]]++
			}
		}
	}
	return w
}

// flatStart returns γ whose linear predictors come nearest to the same rate
// (probability, with the logit link) everywhere.
func (f *frame) flatStart(a affine) []float64 {
	var events, exposure float64
	for i := range f.y {
		events += f.y[i]
		h := 0.0
		for s := f.pieceStart[i]; s < f.pieceStart[i+1]; s++ {
			h += math.Exp(f.logExp[s])
		}
		if f.link == Logit {
			h = 1
		}
		exposure += (f.r[i] - f.y[i]/2) * h
	}
	level := math.Log((events + 0.5) / (exposure + 0.5))
	w := f.usedRows()
	p := len(f.terms)
	gamma := make([]float64, a.q)
	total := 0.0
	for i, wi := range w {
		if wi == 0 {
			continue
		}
		total += wi
		row := f.rows[i*p : (i+1)*p]
		miss := level - dot(row, a.base)
		for g := range gamma {
			x := 0.0
			for j, v := range row {
				x += v * a.toBeta[j*a.q+g]
			}
			gamma[g] += wi * x * miss
		}
	}
	for g := range gamma {
		gamma[g] /= math.Max(total, 1)
	}
	return gamma
}

// glm climbs the likelihood without random intercepts, less ½·ridge·|γ − from|²,
// by Fisher scoring with halving; from is not changed. It returns γ and the
// value without the penalty.
func (ws *workspace) glm(from []float64, ridge float64) ([]float64, float64) {
	return ws.glmFrom(from, from, ridge)
}

// glmFrom is glm starting elsewhere than at the centre of the penalty.
func (ws *workspace) glmFrom(start, from []float64, ridge float64) ([]float64, float64) {
	const limit = 200
	q := ws.m.q
	gamma := append([]float64(nil), start...)
	grad, info, step, trial := make([]float64, q), make([]float64, q*q), make([]float64, q), make([]float64, q)
	penalty := func(g []float64) float64 {
		s := 0.0
		for i := range g {
			s += (g[i] - from[i]) * (g[i] - from[i])
		}
		return ridge * s / 2
	}
	value := ws.eval(gamma, grad)
	if math.IsInf(value, -1) {
		return gamma, value
	}
	for it := 0; it < limit && q > 0; it++ {
		ws.fixedInformation(info)
		for g := 0; g < q; g++ {
			step[g] = grad[g] - ridge*(gamma[g]-from[g])
			info[g*q+g] += ridge + 1e-13*info[g*q+g]
		}
		first := append([]float64(nil), step...)
		if !cholesky(info, q) {
			break
		}
		cholSolve(info, q, step)
		gain := dot(first, step)
		// what is left to gain, or a step loses, cannot be told from the rounding of
		// a sum of many log-likelihoods
		noise := 1e-12 + 5e-14*math.Abs(value)
		if gain < noise {
			break
		}
		for f := 1.0; ; f /= 2 {
			if f < 1e-8 {
				ws.eval(gamma, grad)
				return gamma, value
			}
			for g := range trial {
				trial[g] = gamma[g] + f*step[g]
			}
			v := ws.eval(trial, grad)
			if v-penalty(trial) >= value-penalty(gamma)+1e-4*f*gain-noise {
				copy(gamma, trial)
				value = v
				break
			}
		}
	}
	return gamma, value
}

// plain returns the model of the frame without random intercepts.
func (f *frame) plain(a affine) *model {
	return &model{frame: f, base: a.base, toBeta: a.toBeta, q: a.q}
}
