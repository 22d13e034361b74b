package mixed

import "math"

// hessian returns −∂²L/∂θ² by central differences of the analytic gradient,
// with steps of a hundredth of the standard error that the search's inverse
// Hessian tells, symmetrised.
func (f *fitted) hessian(grad func(theta, g []float64) float64) []float64 {
	n := len(f.theta)
	out := make([]float64, n*n)
	up, down := make([]float64, n), make([]float64, n)
	th := append([]float64(nil), f.theta...)
	for i := 0; i < n; i++ {
		h := 0.01 * math.Sqrt(math.Abs(f.h[i*n+i]))
		h = math.Min(math.Max(h, 1e-5), 1e-2)
		if math.IsNaN(h) {
			h = 1e-3
		}
		th[i] = f.theta[i] + h
		a := grad(th, up)
		th[i] = f.theta[i] - h
		b := grad(th, down)
		th[i] = f.theta[i]
		if math.IsInf(a, -1) || math.IsInf(b, -1) {
			return nil
		}
		for j := range up {
			out[i*n+j] = -(up[j] - down[j]) / (2 * h)
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

// finish makes sure that the climb stands on a maximum: with the Hessian by
// differences it takes Newton steps, damped where the Hessian is not positive
// definite, until the promised gain is nothing, and keeps the inverse as the
// covariance (in h; nil if the information is not positive definite there). A
// climb that ended without a maximum stays as it is.
func finish(f *fitted, nodes int) {
	const rounds = 12
	n := len(f.theta)
	if n == 0 || f.end == searchLimit || math.IsInf(f.value, -1) {
		return
	}
	obj := f.ws.use(f.m).eval
	if nodes > 1 {
		obj = newQuadrature(f.ws, nodes).evalGrad
	}
	g := make([]float64, n)
	start := f.h
	for round := 0; round < rounds; round++ {
		f.h = start
		hess := f.hessian(obj)
		f.h = nil
		if hess == nil {
			return
		}
		f.value = obj(f.theta, g)
		factor, proper := dampedFactor(hess, n)
		step := append([]float64(nil), g...)
		cholSolve(factor, n, step)
		gain := dot(step, g) / 2
		if gain < 1e-8 {
			f.polish(obj, step, proper)
			if f.end = searchDone; proper {
				f.h = cholInverse(factor, n)
				f.settleCovariance(obj)
			}
			return
		}
		if !f.advance(obj, step, gain) {
			break
		}
	}
	f.end = searchStuck
}

// settleCovariance takes the Hessian once more, at the place that polish left and
// with steps from its own inverse: the steps of the search depend on its way, and
// with them the fifth digit of a standard error.
func (f *fitted) settleCovariance(obj func(theta, g []float64) float64) {
	hess := f.hessian(obj)
	if hess == nil {
		return
	}
	if factor, proper := dampedFactor(hess, len(f.theta)); proper {
		f.h = cholInverse(factor, len(f.theta))
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
	return f.h
}
