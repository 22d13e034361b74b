package rates

import "math"

// root finds x in [a, b] with f(x) = 0, f(a) and f(b) of opposite sign, by
// bisection sped up with the Illinois form of false position; it stops when the
// bracket is tol wide. Where the signs agree it gives the end with the smaller |f|.
func root(f func(float64) float64, a, b, tol float64) float64 {
	fa, fb := f(a), f(b)
	if fa == 0 {
		return a
	}
	if fb == 0 {
		return b
	}
	if (fa > 0) == (fb > 0) {
		if math.Abs(fa) < math.Abs(fb) {
			return a
		}
		return b
	}
	for step := 0; step < 200 && b-a > tol; step++ {
		x := a + (b-a)*fa/(fa-fb)
		// Every third step halves, so that the bracket shrinks whatever f is.
		if step%3 == 2 || !(x > a && x < b) {
			x = a + (b-a)/2
		}
		fx := f(x)
		switch {
		case fx == 0:
			return x
		case (fx > 0) == (fa > 0):
			a, fa = x, fx
			fb /= 2
		default:
			b, fb = x, fx
			fa /= 2
		}
		// The halved value steers the next step only; its sign is what counts.
	}
	return a + (b-a)/2
}

// outward steps from x by factors of two in step until sign(f) differs from
// sign(f(x)) or x leaves limit; it gives the bracket.
func outward(f func(float64) float64, x, step, limit float64) (a, b float64, found bool) {
	positive := f(x) > 0
	for at := x; ; step *= 2 {
		next := at + step
		if math.Abs(next) > limit {
			return 0, 0, false
		}
		if (f(next) > 0) != positive {
			return min(at, next), max(at, next), true
		}
		at = next
	}
}

// highest finds the maximum of a function with one peak on [a, b] by golden
// section, to tol in x.
func highest(f func(float64) float64, a, b, tol float64) (x, fx float64) {
	g := (math.Sqrt(5) - 1) / 2
	l, r := b-g*(b-a), a+g*(b-a)
	fl, fr := f(l), f(r)
	for b-a > tol {
		if fl < fr {
			a, l, fl = l, r, fr
			r = a + g*(b-a)
			fr = f(r)
		} else {
			b, r, fr = r, l, fl
			l = b - g*(b-a)
			fl = f(l)
		}
	}
	if fl > fr {
		return l, fl
	}
	return r, fr
}
