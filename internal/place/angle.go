package place

import "math"

// WGS84 as defined (NIMA TR8350.2): equatorial radius in metres, flattening.
const (
	equatorialM = 6378137.0
	flattening  = 1 / 298.257223563
)

// Quantities that follow from the two above, named as in Karney (2013).
const (
	oneMinusF = 1 - flattening                // b/a
	polarM    = equatorialM * oneMinusF       // b, metres
	thirdN    = flattening / (2 - flattening) // n, third flattening
	eSq       = flattening * (2 - flattening) // e², first eccentricity squared
	ePrimeSq  = eSq / (oneMinusF * oneMinusF) // e'², second eccentricity squared
	tiny      = 1.4916681462400413e-154       // square root of the smallest normal number
	machEps   = 2.220446049250313e-16         // spacing of float64 at 1
	degree    = math.Pi / 180                 // one degree in radians
	rootEps   = 1.4901161193847656e-08        // square root of machEps
	strip     = 1000 * rootEps                // width of the strip beside the antipodal cut
	shortArc  = 0.1 * rootEps / 0.0409095954  // below this arc (rad) the sphere of local radius is exact to rounding; divisor √(f(1−f/2)/2)
	inversion = 6 * thirdN * math.Pi          // extent of the near-antipodal zone, in units of cos²β
)

// arc is an angle held as its sine and cosine, so that quadrants stay exact.
type arc struct{ s, c float64 }

// unit returns the arc scaled so that s² + c² = 1.
func (a arc) unit() arc {
	h := math.Hypot(a.s, a.c)
	return arc{a.s / h, a.c / h}
}

// rad returns the angle in radians, in [−π, π].
func (a arc) rad() float64 { return math.Atan2(a.s, a.c) }

// arcDeg returns the arc of an angle in degrees, exact at multiples of 90.
func arcDeg(deg float64) arc {
	r := math.Mod(deg, 360)
	q := math.Round(r / 90)
	s, c := math.Sincos((r - 90*q) * degree)
	return arc{s, c}.quarter(int(q))
}

// settle drops what is under 2⁻⁵⁷ of a degree (a picometre): angles closer to
// zero than that would ask for divisions by almost nothing.
func settle(deg float64) float64 {
	const z = 1. / 16
	a := math.Abs(deg)
	if a < z {
		a = z - (z - a)
	}
	return math.Copysign(a, deg)
}

// quarter turns the arc by q right angles, exactly.
func (a arc) quarter(q int) arc {
	switch q & 3 {
	case 1:
		return arc{a.c, -a.s}
	case 2:
		return arc{-a.s, -a.c}
	case 3:
		return arc{-a.c, a.s}
	}
	return a
}

// deg returns the angle of the arc in degrees, in [−180, 180], exact in the
// four directions and with full relative accuracy near them.
func (a arc) deg() float64 {
	s, c := math.Abs(a.s), math.Abs(a.c)
	var d float64
	if s <= c {
		d = math.Atan2(s, c) / degree
	} else {
		d = 90 - math.Atan2(c, s)/degree
	}
	if math.Signbit(a.c) {
		d = 180 - d
	}
	return math.Copysign(d, a.s)
}

// twoSum returns the rounded sum of u and v and its exact rounding error
// (Knuth, The Art of Computer Programming, vol. 2, 4.2.2, theorem B).
func twoSum(u, v float64) (sum, err float64) {
	sum = u + v
	up := sum - v
	vpp := sum - up
	up -= u
	vpp -= v
	return sum, -(up + vpp)
}

// lonDifference returns to − from in degrees, reduced to [−180, 180], with the
// rounding error of it, so that positions a few metres apart lose no digits.
func lonDifference(from, to float64) (diff, err float64) {
	d, e := twoSum(math.Remainder(-from, 360), math.Remainder(to, 360))
	d, e = twoSum(math.Remainder(d, 360), e)
	if d == 0 || math.Abs(d) == 180 {
		// The sign that the operands had, so that east stays east.
		sign := to - from
		if e != 0 {
			sign = -e
		}
		d = math.Copysign(d, sign)
	}
	return d, e
}

// NormalLongitude returns the same longitude in (−180, 180].
func NormalLongitude(lonDeg float64) float64 {
	l := math.Remainder(lonDeg, 360)
	if l == -180 {
		return 180
	}
	return l + 0 // no −0
}

// ValidPosition reports whether both are finite, latitude lies in [−90, 90]
// and longitude in [−180, 360].
func ValidPosition(latDeg, lonDeg float64) bool {
	return latDeg >= -90 && latDeg <= 90 && lonDeg >= -180 && lonDeg <= 360
}
