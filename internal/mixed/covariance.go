package mixed

import (
	"math"
	"sync"
)

// twinObservations: from here on a Hessian is worked in two halves side by side.
const twinObservations = 1000

// hessian returns −∂²L/∂θ² at the last evaluation by central differences of the analytic
// gradient with the stated steps, symmetrised; nil if there is none. With many
// observations two workspaces take half of the columns each, also on one core, so that
// the answer does not depend on the number of cores.
func (f *fitted) hessian(steps []float64, nodes int) []float64 {
	n := len(f.theta)
	out := make([]float64, n*n)
	if f.m.nObs() < twinObservations || n < 2 {
		if !f.columns(f.ws, nodes, steps, out, 0, n) {
			return nil
		}
	} else {
		var ok [2]bool
		var wait sync.WaitGroup
		twin := f.ws.twin()
		wait.Go(func() { ok[1] = f.columns(twin, nodes, steps, out, n/2, n) })
		ok[0] = f.columns(f.ws, nodes, steps, out, 0, n/2)
		wait.Wait()
		if !ok[0] || !ok[1] {
			return nil
		}
	}
	for _, v := range out {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
	}
	for i := 0; i < n; i++ {
		for j := 0; j < i; j++ {
			s := (out[i*n+j] + out[j*n+i]) / 2
			out[i*n+j], out[j*n+i] = s, s
		}
	}
	return out
}

// columns fills some columns of the Hessian; false if an evaluation fails.
func (f *fitted) columns(ws *workspace, nodes int, steps, out []float64, from, to int) bool {
	n := len(f.theta)
	grad := objective(ws, nodes)
	up, down := make([]float64, n), make([]float64, n)
	th := append([]float64(nil), f.theta...)
	for i := from; i < to; i++ {
		h := steps[i]
		th[i] = f.theta[i] + h
		a := grad(th, up)
		th[i] = f.theta[i] - h
		b := grad(th, down)
		th[i] = f.theta[i]
		if math.IsInf(a, -1) || math.IsInf(b, -1) {
			return false
		}
		for j := range up {
			out[i*n+j] = -(up[j] - down[j]) / (2 * h)
		}
	}
	return true
}

// twin is another workspace in the same state.
func (ws *workspace) twin() *workspace {
	t := newWorkspace(ws.m)
	t.fresh = ws.fresh
	for k := range ws.levels {
		copy(t.levels[k].z, ws.levels[k].z)
		copy(t.levels[k].shift, ws.levels[k].shift)
	}
	if ws.border != nil {
		copy(t.border.z, ws.border.z)
	}
	if t.atMode = ws.atMode; t.atMode {
		copy(t.lin, ws.lin)
		copy(t.sigma, ws.sigma)
		copy(t.t2, ws.t2)
		copy(t.leaf.raw, ws.leaf.raw)
		copy(t.leaf.s, ws.leaf.s)
		copy(t.leaf.shift, ws.leaf.shift)
	}
	return t
}

// steps are a hundredth of the standard errors that the expected information tells at the
// last evaluation. They depend on the place alone, not on the search's way, since
// with them goes the fifth digit of a standard error.
func (f *fitted) steps() []float64 {
	n, q := len(f.theta), f.m.q
	out := make([]float64, n)
	info := make([]float64, q*q)
	f.ws.fixedInformation(info)
	var inv []float64
	if cholesky(info, q) {
		inv = cholInverse(info, q)
	}
	for i := range out {
		h := 1e-3
		if i >= q {
			h = 0.01 / math.Sqrt(f.ws.spreadInformation(i-q))
		} else if inv != nil {
			h = 0.01 * math.Sqrt(inv[i*q+i])
		}
		if math.IsNaN(h) {
			h = 1e-3
		}
		out[i] = math.Min(math.Max(h, 1e-5), 1e-2)
	}
	return out
}

// objective returns the function climbed.
func objective(ws *workspace, nodes int) func(theta, grad []float64) float64 {
	if nodes > 1 {
		return newQuadrature(ws, nodes).evalGrad
	}
	return ws.eval
}

// closeGain: where less is to be gained, the place is as good as the maximum's.
const closeGain = 1e-11

// finish makes sure that the climb stands on a maximum: with the Hessian by
// differences it takes Newton steps, damped where the Hessian is not positive
// definite, until the promised gain is below 1e-8, and keeps the inverse as the
// covariance (nil if the information is not positive definite there). Where more than 1e-11 was
// to be gained, the Hessian is taken once more at the place that the last step leads to,
// since with the place goes the sixth digit of a standard error. A
// climb that ended without a maximum stays as it is.
func finish(f *fitted, nodes int) {
	const rounds = 12
	n := len(f.theta)
	if n == 0 || f.finished || f.end == searchLimit || math.IsInf(f.value, -1) {
		return
	}
	f.finished = true
	obj := objective(f.ws.use(f.m), nodes)
	g := make([]float64, n)
	for round := 0; round < rounds; round++ {
		f.cov = nil
		f.value = obj(f.theta, g)
		hess := f.hessian(f.steps(), nodes)
		if hess == nil {
			return
		}
		factor, proper := dampedFactor(hess, n)
		step := append([]float64(nil), g...)
		cholSolve(factor, n, step)
		gain := dot(step, g) / 2
		switch {
		case gain < closeGain && proper:
			f.end, f.cov = searchDone, cholInverse(factor, n)
			for i, d := range step {
				f.theta[i] += d
			}
			return
		case gain < 1e-8:
			f.polish(obj, step, proper)
			if f.end = searchDone; proper {
				f.cov = cholInverse(factor, n)
				f.settleCovariance(obj, nodes)
			}
			return
		}
		if !f.advance(obj, step, gain) {
			break
		}
	}
	f.end = searchStuck
}

// settleCovariance takes the Hessian once more, at the place that polish left.
func (f *fitted) settleCovariance(obj func(theta, g []float64) float64, nodes int) {
	if math.IsInf(obj(f.theta, nil), -1) {
		return
	}
	hess := f.hessian(f.steps(), nodes)
	if hess == nil {
		return
	}
	if factor, proper := dampedFactor(hess, len(f.theta)); proper {
		f.cov = cholInverse(factor, len(f.theta))
	}
}

// polish takes the last step, which changes the value by nothing that can be
// seen, but brings the place to the arithmetic's limit, so that the same data in
// another order give the same numbers.
func (f *fitted) polish(obj func(theta, g []float64) float64, step []float64, proper bool) {
	if !proper {
		return
	}
	th := append([]float64(nil), f.theta...)
	for i, d := range step {
		th[i] += d
	}
	if v := obj(th, nil); v > f.value-1e-9 {
		copy(f.theta, th)
		f.value = v
	}
}

// dampedFactor returns the Cholesky factor of the matrix, with as much added to
// its diagonal as it needs; proper if it needed nothing.
func dampedFactor(hess []float64, n int) (factor []float64, proper bool) {
	top := 0.0
	for i := 0; i < n; i++ {
		top = math.Max(top, math.Abs(hess[i*n+i]))
	}
	for add := 0.0; ; add = math.Max(4*add, 1e-4*top+1e-8) {
		factor = append(factor[:0], hess...)
		for i := 0; i < n; i++ {
			factor[i*n+i] += add
		}
		if cholesky(factor, n) {
			return factor, add == 0
		}
	}
}

// advance moves along the step, halved until the value rises.
func (f *fitted) advance(obj func(theta, g []float64) float64, step []float64, gain float64) bool {
	th := make([]float64, len(step))
	for s := 1.0; s > 1e-4; s /= 2 {
		for i := range th {
			th[i] = f.theta[i] + s*math.Max(-1, math.Min(1, step[i]))
		}
		if v := obj(th, nil); v > f.value+1e-4*s*gain || s == 1 && v > f.value-1e-11*math.Abs(f.value) {
			copy(f.theta, th)
			f.value = v
			return true
		}
	}
	return false
}

// covariance returns the covariance of θ; nil if the information is not
// positive definite.
func (f *fitted) covariance() []float64 {
	if len(f.theta) == 0 {
		return []float64{}
	}
	return f.cov
}
