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
	for i := 0; i < n; i++ {
		for j := 0; j < i; j++ {
			s := (out[i*n+j] + out[j*n+i]) / 2
			out[i*n+j], out[j*n+i] = s, s
		}
	}
	return out
}

// finish makes sure that the climb stands on a maximum: with the Hessian by
// differences it takes Newton steps until the promised gain is nothing, and
// keeps the inverse as the covariance (in h). A climb that ended without a
// maximum stays as it is.
func finish(f *fitted, nodes int) {
	n := len(f.theta)
	if n == 0 || f.end == searchLimit || math.IsInf(f.value, -1) {
		return
	}
	obj := f.ws.eval
	if nodes > 1 {
		obj = newQuadrature(f.ws, nodes).evalGrad
	}
	g := make([]float64, n)
	for round := 0; round < 4; round++ {
		hess := f.hessian(obj)
		if hess == nil || !cholesky(hess, n) {
			f.h = nil
			return
		}
		f.h = cholInverse(hess, n)
		f.value = obj(f.theta, g)
		step := append([]float64(nil), g...)
		cholSolve(hess, n, step)
		gain := dot(step, g) / 2
		if gain < 1e-8 {
			f.end = searchDone
			return
		}
		th := append([]float64(nil), f.theta...)
		for i := range th {
			th[i] += step[i]
		}
		v := obj(th, g)
		if !(v > f.value-1e-10*math.Abs(f.value)) {
			f.end = searchStuck
			return
		}
		f.theta, f.value = th, v
	}
	f.end = searchStuck
}

// covariance returns the covariance of θ; nil if the information is not
// positive definite.
func (f *fitted) covariance() []float64 {
	if len(f.theta) == 0 {
		return []float64{}
	}
	return f.h
}
