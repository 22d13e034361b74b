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

// zero finds where a falling function crosses 0 between lo and hi, from a start
// inside, by Newton's steps kept inside the bracket; f gives the value and a slope,
// which may be approximate. found is false where f stays on one side up to an end.
func zero(f func(x float64) (v, slope float64), start, lo, hi float64) (x float64, found bool) {
	a, b := lo, hi
	x = start
	for range 200 {
		v, slope := f(x)
		switch {
		case v == 0:
			return x, true
		case v > 0:
			a = x
		default: // NaN too: a step too far
			b = x
		}
		next := x - v/slope
		if slope < 0 && next > x+farthest {
			next = x + farthest
		} else if slope < 0 && next < x-farthest {
			next = x - farthest
		}
		if !(slope < 0 && next > a && next < b) {
			next = a + (b-a)/2
		}
		if math.Abs(next-x) <= 1e-13*(1+math.Abs(x)) || b-a <= 1e-13*(1+math.Abs(x)) {
			return next, next > lo+1e-6 && next < hi-1e-6
		}
		x = next
	}
	return x, b-a < 1e-6
}

// farthest is the longest step of zero: on the log scales it is used on, a
// factor of 20.
const farthest = 3

// either finds where a function with one peak at x, positive there, crosses 0 on
// each side; start is a guess of the distance.
func either(f func(x float64) (v, slope float64), x, start, limit float64) (below, above float64, foundBelow, foundAbove bool) {
	above, foundAbove = zero(f, min(x+start, (x+limit)/2), x, limit)
	mirror := func(z float64) (float64, float64) { v, s := f(-z); return v, -s }
	below, foundBelow = zero(mirror, min(-x+start, (-x+limit)/2), -x, limit)
	return -below, above, foundBelow, foundAbove
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
