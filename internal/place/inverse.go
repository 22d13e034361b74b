package place

import "math"

// Between solves the inverse problem: the shortest distance in metres between
// two positions along the ellipsoid and its azimuths in degrees, at the first
// position and (onward) at the second. It converges for every pair of points,
// antipodal ones included; errors are under 15 nanometres.
//
// Where the shortest path is not unique (antipodal points, poles) one of them
// is returned, as Karney's section 4 orders them. Two equal positions give
// distance 0 and azimuths of no meaning.
// Anything not finite, and a latitude outside [−90, 90], gives NaN throughout.
//
// Source: Karney (2013), sections 4 and 5.
func Between(lat1Deg, lon1Deg, lat2Deg, lon2Deg float64) (distanceM, azimuth1Deg, azimuth2Deg float64) {
	lon12, lonErr := lonDifference(lon1Deg, lon2Deg)
	if !(math.Abs(lat1Deg) <= 90 && math.Abs(lat2Deg) <= 90) || math.IsNaN(lon12) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	// Bring the pair into the canonical form φ1 ≤ 0, φ1 ≤ φ2 ≤ −φ1, λ12 ≥ 0
	// (eqs 44); the signs undo it at the end.
	east := math.Copysign(1, lon12)
	lon12, lonErr = settle(lon12*east), lonErr*east
	lat1Deg, lat2Deg = settle(lat1Deg), settle(lat2Deg)
	swapped := math.Abs(lat1Deg) < math.Abs(lat2Deg)
	if swapped {
		lat1Deg, lat2Deg = lat2Deg, lat1Deg
	}
	north := 1.0
	if !(lat1Deg < 0 || (lat1Deg == 0 && math.Signbit(lat1Deg))) {
		north = -1
	}
	p := newPair(lat1Deg*north, lat2Deg*north, lon12, lonErr)
	s, a1, a2 := p.solve()
	swapSign := 1.0
	if swapped {
		a1, a2 = a2, a1
		swapSign = -1
	}
	a1 = arc{a1.s * east, a1.c * swapSign * north}
	a2 = arc{a2.s * east, a2.c * swapSign * north}
	return math.Max(0, s), a1.deg(), a2.deg()
}

// pair is the inverse problem in canonical form.
type pair struct {
	beta1, beta2 arc     // reduced latitudes
	dn1, dn2     float64 // √(1 + e'² sin²β)
	lambda12     float64 // radians, ≥ 0
	lam          arc     // the same, as an arc
	lonRest      float64 // 180° − longitude difference, degrees, without loss of digits
}

func newPair(lat1, lat2, lon12, lonErr float64) *pair {
	p := &pair{beta1: reducedLatitude(arcDeg(lat1)), beta2: reducedLatitude(arcDeg(lat2))}
	// The same |φ| must give bitwise the same |β|: the formulas below test it.
	if lat2 == lat1 {
		p.beta2 = p.beta1
	} else if lat2 == -lat1 {
		p.beta2 = arc{-p.beta1.s, p.beta1.c}
	}
	p.dn1 = math.Sqrt(1 + ePrimeSq*p.beta1.s*p.beta1.s)
	p.dn2 = math.Sqrt(1 + ePrimeSq*p.beta2.s*p.beta2.s)
	p.lambda12 = (lon12 + lonErr) * degree
	p.lonRest = (180 - lon12) - lonErr
	if lon12 > 90 {
		r := arcDeg(p.lonRest)
		p.lam = arc{r.s, -r.c}
	} else {
		d, c := arcDeg(lon12), lonErr*degree
		p.lam = arc{d.s + c*d.c, d.c - c*d.s}
	}
	return p
}

// solve returns distance and azimuths of the canonical problem.
func (p *pair) solve() (distanceM float64, alpha1, alpha2 arc) {
	if p.beta1.c <= tiny || p.lam.s == 0 { // from a pole, or along a meridian
		alpha1, alpha2 = arc{p.lam.s, p.lam.c}, arc{0, 1}
		sigma1 := arc{p.beta1.s, alpha1.c * p.beta1.c}
		sigma2 := arc{p.beta2.s, alpha2.c * p.beta2.c}
		sigma12 := arcBetween(sigma1, sigma2)
		s, m := p.lengths(thirdN, sigma12, sigma1, sigma2)
		// Over the pole is the shortest way unless it passes a conjugate point.
		if sigma12 < 1 || m >= 0 {
			if sigma12 < 3*tiny {
				s = 0
			}
			return s * polarM, alpha1, alpha2
		}
	}
	if p.beta1.s == 0 && p.beta2.s == 0 && p.lonRest >= flattening*180 { // along the equator
		return equatorialM * p.lambda12, arc{1, 0}, arc{1, 0}
	}
	a1, a2, sigma12 := p.start()
	if sigma12 >= 0 { // so short that the start is the answer
		return sigma12 * polarM * p.meanDn(), a1, a2
	}
	return p.newton(a1)
}

// meanDn is √(1 + e'² sin²β) at a middle latitude.
func (p *pair) meanDn() float64 {
	s := (p.beta1.s + p.beta2.s) * (p.beta1.s + p.beta2.s)
	c := (p.beta1.c + p.beta2.c) * (p.beta1.c + p.beta2.c)
	return math.Sqrt(1 + ePrimeSq*s/(s+c))
}

// arcBetween returns σ2 − σ1 in [0, π], with full accuracy when small.
func arcBetween(a, b arc) float64 {
	return math.Atan2(math.Max(0, a.c*b.s-a.s*b.c), a.c*b.c+a.s*b.s)
}

// lengths returns s12/b (eq. 7) and the reduced length m12/b (eq. 38).
func (p *pair) lengths(eps, sigma12 float64, sigma1, sigma2 arc) (s, m float64) {
	a1, c1 := seriesA1(eps), seriesC1(eps)
	a2, c2 := seriesA2(eps), seriesC2(eps)
	b1 := sineSeries(&c1, sigma2) - sineSeries(&c1, sigma1)
	b2 := sineSeries(&c2, sigma2) - sineSeries(&c2, sigma1)
	s = (1 + a1) * (sigma12 + b1)
	j := (a1-a2)*sigma12 + ((1+a1)*b1 - (1+a2)*b2) // eq. 40
	m = p.dn2*(sigma1.c*sigma2.s) - p.dn1*(sigma1.s*sigma2.c) - sigma1.c*sigma2.c*j
	return s, m
}

// start returns a first azimuth for Newton's method; for a very short line it
// returns both azimuths and the arc sigma12 ≥ 0, else sigma12 is −1.
func (p *pair) start() (alpha1, alpha2 arc, sigma12 float64) {
	b1, b2 := p.beta1, p.beta2
	diff := arc{b2.s*b1.c - b2.c*b1.s, b2.c*b1.c + b2.s*b1.s}
	sumS := b2.s*b1.c + b2.c*b1.s
	short := diff.c >= 0 && diff.s < .5 && b2.c*p.lambda12 < .5
	omega := p.lam
	if short { // the sphere of local radius: ω12 = λ12 / w̄ (eqs 48 to 50)
		s, c := math.Sincos(p.lambda12 / (oneMinusF * p.meanDn()))
		omega = arc{s, c}
	}
	// Great circle: eq. 49, written so that nothing cancels on either side.
	alpha1 = arc{b2.c * omega.s, 0}
	if omega.c >= 0 {
		alpha1.c = diff.s + b2.c*b1.s*omega.s*omega.s/(1+omega.c)
	} else {
		alpha1.c = sumS - b2.c*b1.s*omega.s*omega.s/(1-omega.c)
	}
	sSigma := math.Hypot(alpha1.s, alpha1.c)
	cSigma := b1.s*b2.s + b1.c*b2.c*omega.c
	switch {
	case short && sSigma < shortArc:
		v := 1 - omega.c
		if omega.c >= 0 {
			v = omega.s * omega.s / (1 + omega.c)
		}
		alpha2 = arc{b1.c * omega.s, diff.s - b1.c*b2.s*v}
		if sSigma == 0 {
			return arc{0, 1}, arc{0, 1}, 0
		}
		return alpha1.unit(), alpha2.unit(), math.Atan2(sSigma, cSigma)
	case cSigma >= 0 || sSigma >= inversion*b1.c*b1.c:
		// far from antipodal: the great circle is near enough
	default:
		alpha1 = p.antipodalStart(sumS)
	}
	if !(alpha1.s > 0) {
		alpha1 = arc{1, 0}
	}
	return alpha1.unit(), arc{}, -1
}

// antipodalStart solves the inverse problem in the plane tangent at the
// antipode, where the geodesics touch an astroid (section 5, eqs 51 to 57).
func (p *pair) antipodalStart(sumS float64) arc {
	b1, b2 := p.beta1, p.beta2
	lamScale := flattening * b1.c * seriesA3(epsilon(b1.s*b1.s*ePrimeSq)) * math.Pi
	x := -p.lonRest * degree / lamScale
	y := sumS / (lamScale * b1.c)
	if y > -200*machEps && x > -1-strip {
		s := math.Min(1, -x)
		return arc{s, -math.Sqrt(1 - s*s)}
	}
	k := astroid(x, y)
	s, c := math.Sincos(lamScale * -x * k / (1 + k))
	return arc{b2.c * s, sumS - b2.c*b1.s*s*s/(1+c)}
}

// astroid returns the positive root k of x²/(1+k)² + y²/k² = 1 (eq. 55 divided
// out). The left side falls and is convex, so Newton's method from the lower
// bound max(|y|, |x| − 1) climbs to the root without overshooting.
func astroid(x, y float64) float64 {
	x, y = math.Abs(x), math.Abs(y)
	k := math.Max(y, x-1)
	if y == 0 {
		return math.Max(k, 0)
	}
	for range 60 {
		u, v := x/(1+k), y/k
		g := u*u + v*v - 1
		step := g / (2 * (u*u/(1+k) + v*v/k))
		k += step
		if !(step > 1e-12*k) {
			break
		}
	}
	return k
}

// trial is what one starting azimuth leads to.
type trial struct {
	v, dv          float64 // longitude reached − wanted (radians), its slope in α1
	alpha2         arc
	sigma1, sigma2 arc
	sigma12, eps   float64
}

// try follows the geodesic that leaves at alpha1 to the latitude of the second
// point and compares longitudes (section 4, eqs 45, 46).
func (p *pair) try(alpha1 arc) trial {
	b1, b2 := p.beta1, p.beta2
	if b1.s == 0 && alpha1.c == 0 {
		alpha1.c = -tiny // an equatorial start must leave the equator
	}
	alpha0 := arc{alpha1.s * b1.c, math.Hypot(alpha1.c, alpha1.s*b1.s)}
	var t trial
	t.alpha2 = arc{alpha1.s, math.Abs(alpha1.c)}
	if b2.c != b1.c {
		t.alpha2.s = alpha0.s / b2.c
	}
	if b2.c != b1.c || math.Abs(b2.s) != -b1.s {
		d := (b1.s - b2.s) * (b1.s + b2.s) // cos²β2 − cos²β1 where cos is flat
		if b1.c < -b1.s {
			d = (b2.c - b1.c) * (b1.c + b2.c)
		}
		q := alpha1.c * b1.c
		t.alpha2.c = math.Sqrt(math.Max(0, q*q+d)) / b2.c
	}
	s1, s2 := arc{b1.s, alpha1.c * b1.c}, arc{b2.s, t.alpha2.c * b2.c}
	w1, w2 := arc{alpha0.s * b1.s, s1.c}, arc{alpha0.s * b2.s, s2.c}
	t.sigma1, t.sigma2 = s1.unit(), s2.unit()
	t.sigma12 = arcBetween(t.sigma1, t.sigma2)
	w := arc{math.Max(0, w1.c*w2.s-w1.s*w2.c), w1.c*w2.c + w1.s*w2.s}
	eta := math.Atan2(w.s*p.lam.c-w.c*p.lam.s, w.c*p.lam.c+w.s*p.lam.s)
	t.eps = epsilon(alpha0.c * alpha0.c * ePrimeSq)
	c3 := seriesC3(t.eps)
	b3 := sineSeries(&c3, t.sigma2) - sineSeries(&c3, t.sigma1)
	t.v = eta - flattening*seriesA3(t.eps)*alpha0.s*(t.sigma12+b3)
	if t.alpha2.c == 0 {
		t.dv = -2 * oneMinusF * p.dn1 / b1.s
	} else {
		_, m := p.lengths(t.eps, t.sigma12, t.sigma1, t.sigma2)
		t.dv = m * oneMinusF / (t.alpha2.c * b2.c)
	}
	return t
}

// newton finds the azimuth whose geodesic meets the second point. The root is
// the only one in (0, π) and the longitude rises through it, so a bracket is
// kept and halved whenever Newton's step is of no use.
func (p *pair) newton(alpha1 arc) (distanceM float64, a1, a2 arc) {
	lo, hi := arc{tiny, 1}, arc{tiny, -1}
	best := math.Inf(1)
	var t trial
	for step := 0; step < 100; step++ {
		t = p.try(alpha1)
		v := math.Abs(t.v)
		if v <= machEps || (v <= 16*machEps && v >= best) {
			break
		}
		best = math.Min(best, v)
		if t.v > 0 {
			hi = alpha1
		} else {
			lo = alpha1
		}
		if step < 20 && t.dv > 0 {
			d := -t.v / t.dv
			if math.Abs(d) < math.Pi {
				s, c := math.Sincos(d)
				next := arc{alpha1.s*c + alpha1.c*s, alpha1.c*c - alpha1.s*s}
				if next.s > 0 {
					if next == alpha1 {
						break
					}
					alpha1 = next.unit()
					continue
				}
			}
		}
		mid := arc{(lo.s + hi.s) / 2, (lo.c + hi.c) / 2}.unit()
		if math.Abs(mid.s-lo.s)+math.Abs(mid.c-lo.c) < machEps || math.Abs(mid.s-hi.s)+math.Abs(mid.c-hi.c) < machEps {
			break
		}
		alpha1 = mid
	}
	s, _ := p.lengths(t.eps, t.sigma12, t.sigma1, t.sigma2)
	return s * polarM, alpha1, t.alpha2
}
