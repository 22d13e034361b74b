package place

import (
	"fmt"
	"math"
)

// UTM is a position on the universal transverse Mercator grid.
type UTM struct {
	Zone      int  // 1..60
	South     bool // northing counted from 10 000 km at the equator
	EastingM  float64
	NorthingM float64
}

// Grid constants (DMA TM 8358.2): scale on the central meridian, false easting
// and southern false northing in metres, limits of latitude.
const (
	gridScale       = 0.9996
	falseEastingM   = 500000
	falseNorthingM  = 10000000
	gridLatMin      = -80.0
	gridLatMax      = 84.0
	rectifyingM     = equatorialM / (1 + thirdN) * (1 + thirdN*thirdN*(1./4+thirdN*thirdN*(1./64+thirdN*thirdN/256))) // A, eq. 14
	bandLetters     = "CDEFGHJKLMNPQRSTUVWX"
	gridEastMarginM = 400000 // farthest from the central meridian that is read, metres
)

// Coefficients of the Krüger series, Karney (2011) eqs 35 and 36.
var (
	krugerAlpha = krugerTerms([6][6]float64{
		{1. / 2, -2. / 3, 5. / 16, 41. / 180, -127. / 288, 7891. / 37800},
		{0, 13. / 48, -3. / 5, 557. / 1440, 281. / 630, -1983433. / 1935360},
		{0, 0, 61. / 240, -103. / 140, 15061. / 26880, 167603. / 181440},
		{0, 0, 0, 49561. / 161280, -179. / 168, 6601661. / 7257600},
		{0, 0, 0, 0, 34729. / 80640, -3418889. / 1995840},
		{0, 0, 0, 0, 0, 212378941. / 319334400},
	})
	krugerBeta = krugerTerms([6][6]float64{
		{1. / 2, -2. / 3, 37. / 96, -1. / 360, -81. / 512, 96199. / 604800},
		{0, 1. / 48, 1. / 15, -437. / 1440, 46. / 105, -1118711. / 3870720},
		{0, 0, 17. / 480, -37. / 840, -209. / 4480, 5569. / 90720},
		{0, 0, 0, 4397. / 161280, -11. / 504, -830251. / 7257600},
		{0, 0, 0, 0, 4583. / 161280, -108847. / 3991680},
		{0, 0, 0, 0, 0, 20648693. / 638668800},
	})
)

// krugerTerms sums row j over powers n, n², … n⁶.
func krugerTerms(rows [6][6]float64) (c [6]float64) {
	for j, row := range rows {
		p := 1.0
		for _, v := range row {
			p *= thirdN
			c[j] += v * p
		}
	}
	return c
}

// CentralMeridian returns the longitude in the middle of a zone, degrees.
func CentralMeridian(zone int) float64 { return float64(6*zone - 183) }

// StandardZone returns the zone a position belongs to, with the wider zones of
// south-west Norway (32V) and of Svalbard (31X, 33X, 35X, 37X).
func StandardZone(latDeg, lonDeg float64) int {
	lon := NormalLongitude(lonDeg)
	if lon == 180 {
		lon = -180
	}
	zone := min(int(math.Floor((lon+180)/6))+1, 60)
	switch {
	case latDeg >= 56 && latDeg < 64 && lon >= 3 && lon < 6:
		return 32
	case latDeg >= 72 && lon >= 0 && lon < 42:
		return 31 + 2*int(math.Floor((lon+3)/12))
	}
	return zone
}

// band returns the letter of the 8° band of a latitude (X has 12°).
func band(latDeg float64) byte {
	i := int(math.Floor((latDeg + 80) / 8))
	if latDeg < 0 {
		i = min(i, 9) // a hair south of the equator must not round to it
	}
	return bandLetters[min(max(i, 0), len(bandLetters)-1)]
}

// bandLimits returns the latitudes between which a band letter holds; ok is
// false for a letter that names none.
func bandLimits(letter byte) (lo, hi float64, ok bool) {
	for i := range len(bandLetters) {
		if bandLetters[i] == letter {
			lo = -80 + 8*float64(i)
			hi = lo + 8
			if letter == 'X' {
				hi = 84
			}
			return lo, hi, true
		}
	}
	return 0, 0, false
}

// ToUTM returns a position on the grid of its standard zone.
// It returns an error outside 80° S to 84° N, where the grid is polar.
func ToUTM(latDeg, lonDeg float64) (UTM, error) {
	if !ValidPosition(latDeg, lonDeg) || latDeg < gridLatMin || latDeg > gridLatMax {
		return UTM{}, fmt.Errorf("place: (%v, %v) has no UTM position; the grid runs from 80° S to 84° N", latDeg, lonDeg)
	}
	return ToZone(latDeg, lonDeg, StandardZone(latDeg, lonDeg)), nil
}

// ToZone is ToUTM on the grid of a given zone, 1..60; within 6° of its central
// meridian errors are a few nanometres.
//
// Source: Karney (2011), eqs 7 to 11 and 35.
func ToZone(latDeg, lonDeg float64, zone int) UTM {
	phi := arcDeg(latDeg)
	d, e := lonDifference(CentralMeridian(zone), lonDeg)
	lam := arcDeg(d + e)
	u := UTM{Zone: zone, South: latDeg < 0}
	tau := conformal(phi.s / math.Max(phi.c, tiny))
	xi := math.Atan2(tau, lam.c)
	eta := math.Asinh(lam.s / math.Hypot(tau, lam.c))
	x, y := eta, xi
	for j := range 6 {
		k := 2 * float64(j+1)
		s, c := math.Sincos(k * xi)
		y += krugerAlpha[j] * s * math.Cosh(k*eta)
		x += krugerAlpha[j] * c * math.Sinh(k*eta)
	}
	u.EastingM = falseEastingM + gridScale*rectifyingM*x
	u.NorthingM = gridScale * rectifyingM * y
	if u.South {
		u.NorthingM += falseNorthingM
	}
	return u
}

// Position returns latitude and longitude of a grid position, degrees. The
// latitude may come out on the other side of the equator: grids overlap there.
// NaN if a number is not finite or the zone is not 1..60.
//
// Source: Karney (2011), eqs 15 to 21 and 36.
func (u UTM) Position() (latDeg, lonDeg float64) {
	north := u.NorthingM
	if u.South {
		north -= falseNorthingM
	}
	xi := north / (gridScale * rectifyingM)
	eta := (u.EastingM - falseEastingM) / (gridScale * rectifyingM)
	if u.Zone < 1 || u.Zone > 60 || !(math.Abs(xi) < 2) || !(math.Abs(eta) < 2) {
		return math.NaN(), math.NaN()
	}
	x, y := eta, xi
	for j := range 6 {
		k := 2 * float64(j+1)
		s, c := math.Sincos(k * xi)
		y -= krugerBeta[j] * s * math.Cosh(k*eta)
		x -= krugerBeta[j] * c * math.Sinh(k*eta)
	}
	s, c := math.Sincos(y)
	sh := math.Sinh(x)
	tau := geographic(s / math.Hypot(sh, c))
	lam := math.Atan2(sh, c) / degree
	return math.Atan(tau) / degree, NormalLongitude(CentralMeridian(u.Zone) + lam)
}

// conformal returns the tangent of the conformal latitude (eqs 7 to 9).
func conformal(tau float64) float64 {
	e := math.Sqrt(eSq)
	h := math.Hypot(1, tau)
	sigma := math.Sinh(e * math.Atanh(e*tau/h))
	return tau*math.Hypot(1, sigma) - sigma*h
}

// geographic undoes conformal by Newton's method (eqs 19 to 21).
func geographic(tauC float64) float64 {
	tau := tauC / (1 - eSq)
	for range 8 {
		t := conformal(tau)
		d := (tauC - t) / math.Hypot(1, t) * (1 + (1-eSq)*tau*tau) / ((1 - eSq) * math.Hypot(1, tau))
		tau += d
		if math.Abs(d) <= 1e-16*math.Max(1, math.Abs(tau)) {
			break
		}
	}
	return tau
}
