package mixed

import "math"

// A term is the log-likelihood of one observation, without its constant, and
// its derivatives with respect to v, the linear predictor with the random
// intercepts in, and to s, a second scalar: log of the background hazard, or
// log κ of the beta-binomial.
type term struct {
	l, v, vv, vvv float64
	s, sv, svv    float64
}

// smallHazard: below it logAndQ takes series that need no logarithm of a
// difference; their first term left out is under 1e-16 there.
const smallHazard = 0.25

// logAndQ returns what the likelihood of events in an interval of hazard h = e^v
// is made of: l = log(1 − exp(−h)), q = h/(e^h − 1) and m = 1 − h − q; the
// derivatives of l in v are q, q·m, q(m² − h − q·m). Below a hazard of 0.25 they are
// the series of the Bernoulli numbers (Abramowitz & Stegun 1964, 23.1.1), which
// keeps the digits that 1 − h − q would lose:
//
//	q = 1 − h/2 + h²/12 − h⁴/720 + h⁶/30240 − h⁸/1209600 + h¹⁰/47900160 − …
//	l = v − h/2 + h²/24 − h⁴/2880 + h⁶/181440 − h⁸/9676800 + h¹⁰/479001600 − …
func logAndQ(v, h float64) (l, q, m float64) {
	if h < smallHazard {
		h2 := h * h
		b := h2 * (1.0/12 + h2*(-1.0/720+h2*(1.0/30240+h2*(-1.0/1209600+h2*(1.0/47900160)))))
		l = v - h/2 + h2*(1.0/24+h2*(-1.0/2880+h2*(1.0/181440+h2*(-1.0/9676800+h2*(1.0/479001600)))))
		return l, 1 - h/2 + b, -h/2 - b
	}
	e := math.Exp(-h)
	d := 1 - e
	q = h * e / d
	return math.Log(d), q, 1 - h - q
}

// quickQ is q and m of logAndQ.
func quickQ(h float64) (q, m float64) {
	if h < smallHazard {
		h2 := h * h
		b := h2 * (1.0/12 + h2*(-1.0/720+h2*(1.0/30240+h2*(-1.0/1209600+h2*(1.0/47900160)))))
		return 1 - h/2 + b, -h/2 - b
	}
	e := math.Exp(-h)
	q = h * e / (1 - e)
	return q, 1 - h - q
}

// log1mexp returns log(1 − exp(−h)) for h > 0 without loss of digits.
func log1mexp(h float64) float64 {
	if h < math.Ln2 {
		return math.Log(-math.Expm1(-h))
	}
	return math.Log1p(-math.Exp(-h))
}

// maxV bounds the linear predictor so that no exponential overflows; a
// likelihood there is zero for all purposes.
const maxV = 300.0

// cloglogTerm: y·log(1 − e^−h) − (r − y)h with h = e^v.
func cloglogTerm(y, r, v float64) (t term) {
	h := math.Exp(math.Min(v, maxV))
	t.v = -(r - y) * h
	t.l, t.vv, t.vvv = t.v, t.v, t.v
	if y > 0 {
		l, q, m := logAndQ(math.Min(v, maxV), h)
		t.l += y * l
		t.v += y * q
		t.vv += y * q * m
		t.vvv += y * q * (m*m - h - q*m)
	}
	return t
}

// logitTerm: y·v − r·log(1 + e^v).
func logitTerm(y, r, v float64) (t term) {
	var p, q float64
	if v > 0 {
		e := math.Exp(-v)
		p, q = 1/(1+e), e/(1+e)
		t.l = -(r-y)*v - r*math.Log1p(e)
	} else {
		e := math.Exp(v)
		p, q = e/(1+e), 1/(1+e)
		t.l = y*v - r*math.Log1p(e)
	}
	t.v = y - r*p
	t.vv = -r * p * q
	t.vvv = t.vv * (q - p)
	return t
}

// backgroundTerm: hazard h = a + e^v, a the background's; s = log a.
// v may be −Inf (background only) and a may be 0.
func backgroundTerm(y, r, v, a float64) (t term) {
	b := math.Exp(math.Min(v, maxV))
	h := a + b
	f1, f2, f3 := -(r - y), 0.0, 0.0
	t.l = f1 * h
	if y > 0 {
		e := math.Exp(-h)
		d := -math.Expm1(-h)
		t.l += y * log1mexp(h)
		f1 += y * e / d
		f2 = -y * e / (d * d)
		f3 = y * e * (1 + e) / (d * d * d)
	}
	t.v = f1 * b
	t.vv = f2*b*b + f1*b
	t.vvv = f3*b*b*b + 3*f2*b*b + f1*b
	t.s = f1 * a
	t.sv = f2 * a * b
	t.svv = f3*a*b*b + f2*a*b
	return t
}

// betaBinomialTerm: Σ_{j<y} log(μ + jκ) + Σ_{j<r−y} log(1 − μ + jκ) −
// Σ_{j<r} log(1 + jκ), which is the beta-binomial in the form that becomes the
// binomial at κ = 0 (from Skellam 1948, J. R. Stat. Soc. B 10:257–261, with
// the gamma functions written out); s = log κ.
func betaBinomialTerm(link Link, y, r, v, kappa float64) (t term) {
	var mu, nu, d1, d2, d3 float64 // μ, 1 − μ and the derivatives of μ in v
	if link == Logit {
		if v > 0 {
			e := math.Exp(-v)
			mu, nu = 1/(1+e), e/(1+e)
		} else {
			e := math.Exp(v)
			mu, nu = e/(1+e), 1/(1+e)
		}
		d1 = mu * nu
		d2 = d1 * (nu - mu)
		d3 = d1 * (1 - 6*mu*nu)
	} else {
		h := math.Exp(math.Min(v, 6.5)) // e^−e^6.5 is the smallest number there is
		mu, nu = -math.Expm1(-h), math.Exp(-h)
		d1 = h * nu
		d2 = d1 * (1 - h)
		d3 = d1 * (1 - 3*h + h*h)
	}
	// derivatives in μ (g) and κ
	var l, g1, g2, g3, k0, k1, k2 float64
	for j := 0.0; j < y; j++ {
		a := 1 / (mu + j*kappa)
		l -= math.Log(a)
		g1 += a
		g2 -= a * a
		g3 += 2 * a * a * a
		k0 += j * a
		k1 -= j * a * a
		k2 += 2 * j * a * a * a
	}
	for j := 0.0; j < r-y; j++ {
		a := 1 / (nu + j*kappa)
		l -= math.Log(a)
		g1 -= a
		g2 -= a * a
		g3 -= 2 * a * a * a
		k0 += j * a
		k1 += j * a * a
		k2 += 2 * j * a * a * a
	}
	for j := 0.0; j < r; j++ {
		l -= math.Log1p(j * kappa)
		k0 -= j / (1 + j*kappa)
	}
	t.l = l
	t.v = g1 * d1
	t.vv = g2*d1*d1 + g1*d2
	t.vvv = g3*d1*d1*d1 + 3*g2*d1*d2 + g1*d3
	t.s = kappa * k0
	t.sv = kappa * k1 * d1
	t.svv = kappa * (k2*d1*d1 + k1*d2)
	return t
}
