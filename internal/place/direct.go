package place

import "math"

// From solves the direct problem: it starts at a position, follows the
// geodesic that leaves at azimuthDeg for distanceM metres (backwards if
// negative) and returns where it ends and the azimuth there, onward.
// The longitude returned lies in (−180, 180]. Errors of the method are under
// 15 nanometres for any distance on the Earth.
//
// Anything not finite, and a latitude outside [−90, 90], gives NaN throughout.
//
// Source: Karney (2013), section 3.
func From(latDeg, lonDeg, azimuthDeg, distanceM float64) (lat2Deg, lon2Deg, azimuth2Deg float64) {
	g := newDeparture(latDeg, lonDeg, azimuthDeg)
	return g.at(distanceM)
}

// departure is a geodesic from one point in one direction, prepared so that
// many points on it cost little: what Karney's section 3 computes once.
type departure struct {
	lon1           float64 // degrees, as given
	alpha0         arc     // azimuth where it crosses the equator northwards
	sigma1, omega1 arc     // arc and spherical longitude from that crossing
	a1, b11        float64 // A1 − 1; B1(σ1)
	a3, b31        float64 // −f sin α0 A3; B3(σ1)
	c1p, c1, c3    [6]float64
}

func newDeparture(latDeg, lonDeg, azimuthDeg float64) departure {
	if !(latDeg >= -90 && latDeg <= 90) {
		latDeg = math.NaN()
	}
	beta1 := reducedLatitude(arcDeg(settle(latDeg)))
	alpha1 := arcDeg(settle(azimuthDeg))
	g := departure{lon1: lonDeg}
	// Eq. 5: Clairaut's relation gives α0.
	g.alpha0 = arc{alpha1.s * beta1.c, math.Hypot(alpha1.c, alpha1.s*beta1.s)}
	// Eqs 11, 12: σ1 and ω1; an eastward start on the equator has σ1 = 0.
	g.sigma1 = arc{beta1.s, 1}
	g.omega1 = arc{g.alpha0.s * beta1.s, 1}
	if beta1.s != 0 || alpha1.c != 0 {
		g.sigma1.c = beta1.c * alpha1.c
		g.omega1.c = g.sigma1.c
	}
	g.sigma1 = g.sigma1.unit()
	e := epsilon(ePrimeSq * g.alpha0.c * g.alpha0.c)
	g.a1, g.c1, g.c1p = seriesA1(e), seriesC1(e), seriesC1p(e)
	g.b11 = sineSeries(&g.c1, g.sigma1)
	g.a3, g.c3 = -flattening*g.alpha0.s*seriesA3(e), seriesC3(e)
	g.b31 = sineSeries(&g.c3, g.sigma1)
	return g
}

// at returns the point distanceM along the geodesic.
func (g *departure) at(distanceM float64) (latDeg, lonDeg, azimuthDeg float64) {
	// τ2 = τ1 + s/(b A1), then σ2 by the reverted series (eqs 7, 20).
	tau12 := distanceM / (polarM * (1 + g.a1))
	st, ct := math.Sincos(tau12)
	sb, cb := math.Sincos(g.b11)
	tau1 := arc{g.sigma1.s*cb + g.sigma1.c*sb, g.sigma1.c*cb - g.sigma1.s*sb}
	tau2 := arc{tau1.s*ct + tau1.c*st, tau1.c*ct - tau1.s*st}
	sigma12 := tau12 + (sineSeries(&g.c1p, tau2) + g.b11)
	ss, cs := math.Sincos(sigma12)
	sigma2 := arc{g.sigma1.s*cs + g.sigma1.c*ss, g.sigma1.c*cs - g.sigma1.s*ss}
	// Eqs 13, 14, 12: β2, α2, ω2.
	beta2 := arc{g.alpha0.c * sigma2.s, math.Hypot(g.alpha0.s, g.alpha0.c*sigma2.c)}
	if beta2.c == 0 { // a meridian through a pole: the direction is that of the limit
		beta2.c, sigma2.c = tiny, tiny
	}
	omega2 := arc{g.alpha0.s * sigma2.s, sigma2.c}
	alpha2 := arc{g.alpha0.s, g.alpha0.c * sigma2.c}
	omega12 := arc{omega2.s*g.omega1.c - omega2.c*g.omega1.s, omega2.c*g.omega1.c + omega2.s*g.omega1.s}.rad()
	// Eq. 8: longitude on the ellipsoid.
	lambda12 := omega12 + g.a3*(sigma12+(sineSeries(&g.c3, sigma2)-g.b31))
	latDeg = arc{beta2.s, oneMinusF * beta2.c}.deg()
	lonDeg = NormalLongitude(NormalLongitude(g.lon1) + NormalLongitude(lambda12/degree))
	return latDeg, lonDeg, alpha2.deg()
}
