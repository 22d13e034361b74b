package mixed

import "math"

// search is our own quasi-Newton maximiser: BFGS on the inverse Hessian
// (Nocedal & Wright 2006, Numerical Optimization, 6.1) with backtracking and
// expansion, started from a stated inverse Hessian.
type search struct {
	f       func(theta, grad []float64) float64
	maxStep []float64 // largest move of each coordinate in one step
	upper   []float64 // largest value of each coordinate
	tol     float64   // stop when ½ g'Hg is below it
	limit   int
	stop    func() bool // if set, asked before each step whether to give up
	// hopeless, if set, is asked after each step with the place, its value and ½ g'Hg.
	hopeless func(theta []float64, value, gain float64) bool
	// value and g, if g is set, are those at the place where the search starts.
	value float64
	g     []float64
}

type searchEnd int

const (
	searchDone searchEnd = iota
	searchLimit
	searchStuck
	searchHopeless
)

// run climbs from theta (overwritten with the place reached) with inverse
// Hessian h (n × n, overwritten). It returns the value there.
func (s *search) run(theta, h []float64) (value float64, end searchEnd) {
	n := len(theta)
	g, gn := make([]float64, n), make([]float64, n)
	d, tn, y := make([]float64, n), make([]float64, n), make([]float64, n)
	if s.g != nil {
		value = s.value
		copy(g, s.g)
	} else {
		value = s.f(theta, g)
	}
	if n == 0 {
		return value, searchDone
	}
	if math.IsInf(value, -1) || math.IsNaN(value) {
		return math.Inf(-1), searchStuck
	}
	h0 := append([]float64(nil), h...)
	restarted := false
	for it := 0; it < s.limit && (s.stop == nil || !s.stop()); it++ {
		slope := 0.0
		for i := range d {
			d[i] = dot(h[i*n:(i+1)*n], g)
			slope += d[i] * g[i]
		}
		if slope/2 < s.tol && slope >= 0 {
			return value, searchDone
		}
		if slope <= 0 || math.IsNaN(slope) {
			copy(h, h0)
			if restarted {
				return value, searchStuck
			}
			restarted = true
			continue
		}
		if s.hopeless != nil && it > 1 && s.hopeless(theta, value, slope/2) {
			return value, searchHopeless
		}
		vn, ok := s.line(theta, d, g, gn, tn, value, slope)
		if !ok {
			if restarted {
				// no step upwards: at the limit of the arithmetic if the
				// promised gain is small
				if slope/2 < 1e-6 {
					return value, searchDone
				}
				return value, searchStuck
			}
			restarted = true
			copy(h, h0)
			continue
		}
		restarted = false
		sy := 0.0
		for i := range y {
			y[i] = g[i] - gn[i] // of −f
			d[i] = tn[i] - theta[i]
			sy += d[i] * y[i]
		}
		value = vn
		copy(theta, tn)
		copy(g, gn)
		updateInverse(h, d, y, sy, n)
	}
	return value, searchLimit
}

// line looks along d for a point of sufficient increase; tn and gn receive it.
func (s *search) line(theta, d, g, gn, tn []float64, value, slope float64) (float64, bool) {
	step := 1.0
	for i, v := range d {
		if m := math.Abs(v); m*step > s.maxStep[i] {
			step = s.maxStep[i] / m
		}
	}
	try := func(step float64) float64 {
		for i := range tn {
			tn[i] = math.Min(theta[i]+step*d[i], s.upper[i])
		}
		return s.f(tn, gn)
	}
	for k := 0; k < 40; k++ {
		v := try(step)
		if !math.IsNaN(v) && v >= value+1e-4*step*slope-1e-13*math.Abs(value) {
			if sn := dot(gn, d); k == 0 && sn > 0.8*slope && step == 1 {
				// still climbing as steeply: the model of the step was too short
				keepT, keepG := append([]float64(nil), tn...), append([]float64(nil), gn...)
				far := 4.0
				for i, x := range d {
					if m := math.Abs(x); m*far > s.maxStep[i] {
						far = s.maxStep[i] / m
					}
				}
				if far > 1 {
					if v2 := try(far); v2 > v && !math.IsNaN(v2) {
						return v2, true
					}
					copy(tn, keepT)
					copy(gn, keepG)
				}
			}
			return v, true
		}
		if math.IsInf(v, -1) || math.IsNaN(v) {
			step /= 4
			continue
		}
		// maximum of the parabola through value, slope and v, kept in (0.1, 0.5)
		q := slope * step * step / (2 * (value + slope*step - v))
		step = math.Min(math.Max(q, 0.1*step), 0.5*step)
	}
	return value, false
}

// updateInverse is the BFGS update, left out where curvature is not positive.
func updateInverse(h, s, y []float64, sy float64, n int) {
	hy := make([]float64, n)
	yhy := 0.0
	for i := range hy {
		hy[i] = dot(h[i*n:(i+1)*n], y)
		yhy += y[i] * hy[i]
	}
	if sy <= 1e-10*math.Sqrt(dot(s, s)*dot(y, y)) || !(sy > 0) {
		return
	}
	c := (1 + yhy/sy) / sy
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			h[i*n+j] += c*s[i]*s[j] - (hy[i]*s[j]+s[i]*hy[j])/sy
		}
	}
}
