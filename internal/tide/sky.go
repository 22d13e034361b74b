package tide

import (
	"math"
	"time"
)

// epochUnix is 1899-12-31 12:00 UTC, the zero of both sets of mean longitudes.
const epochUnix = -2209032000

// hours are counted from the epoch. Julian and other calendars do not matter:
// an hour is 3600 s of UTC, whose leap seconds (under a minute) are not seen here.
func hoursOf(t time.Time) float64 {
	return float64(t.Unix()-epochUnix)/3600 + float64(t.Nanosecond())/3.6e12
}

func timeOf(hours float64) time.Time {
	whole := math.Floor(hours)
	ns := math.Round((hours - whole) * 3.6e12)
	return time.Unix(epochUnix+int64(whole)*3600, int64(ns)).UTC()
}

// element is the place of one of the six numbers that count a constituent.
const (
	tau = iota // mean lunar time
	moonS
	sunH
	perigeeP
	nodeN // N' = -N, longitude of the ascending node with its sign turned
	solarP1
	elements
)

// sky is the mean longitudes of moon, sun, perigee, node and solar perigee at
// one time, in degrees, not reduced to a turn so that differences over time hold.
type sky [elements]float64

// Nodal is whose node factors and arguments are used.
type Nodal string

// The conventions.
const (
	Schureman  Nodal = "schureman"  // Schureman (1958), formulas of pages 157-169
	Satellites Nodal = "satellites" // Foreman (1977), satellites of Table 5; needs the latitude
)

// skyAt gives the mean longitudes at hours from the epoch.
//
// Schureman (1958), Table 1, p. 162, in degrees, minutes and seconds per Julian
// century there; Foreman (1977) gives degrees a day after the Astronomical
// Ephemeris (1961), and the powers of days/10000. They differ by under 0.004°.
// (Coefficients from memory, checked by the speeds in Foreman's table, by the
// published runs in the tests, and against each other.)
func skyAt(hours float64, n Nodal) sky {
	d := hours / 24
	var k sky
	if n == Satellites {
		x := d / 1e4
		k[moonS] = 270.434164 + 13.1763965268*d - 0.0000850*x*x + 0.000000039*x*x*x
		k[sunH] = 279.696678 + 0.9856473354*d + 0.00002267*x*x
		k[perigeeP] = 334.329556 + 0.1114040803*d - 0.0007739*x*x - 0.00000026*x*x*x
		k[nodeN] = -259.183275 + 0.0529539222*d - 0.0001557*x*x - 0.000000050*x*x*x
		k[solarP1] = 281.220844 + 0.0000470684*d + 0.0000339*x*x + 0.000000070*x*x*x
	} else {
		c := d / 36525
		const turn = 1296000.0 // arc seconds
		k[moonS] = (dms(270, 26, 14.72) + (1336*turn+1108411.20)*c + 9.09*c*c + 0.0068*c*c*c) / 3600
		k[sunH] = (dms(279, 41, 48.04) + 129602768.13*c + 1.089*c*c) / 3600
		k[perigeeP] = (dms(334, 19, 40.87) + (11*turn+392515.94)*c - 37.24*c*c - 0.045*c*c*c) / 3600
		k[nodeN] = -(dms(259, 10, 57.12) - (5*turn+482912.63)*c + 7.58*c*c + 0.008*c*c*c) / 3600
		k[solarP1] = (dms(281, 13, 15.0) + 6189.03*c + 1.63*c*c + 0.012*c*c*c) / 3600
	}
	// The epoch is noon; the hour angle counts from midnight.
	k[tau] = 15*(hours+12) + k[sunH] - k[moonS]
	return k
}

func dms(d, m, s float64) float64 { return d*3600 + m*60 + s }

// hourly is the change of each element in degrees an hour, for the speeds.
var hourly = sky{
	15 + (0.9856473354-13.1763965268)/24, 13.1763965268 / 24, 0.9856473354 / 24,
	0.1114040803 / 24, 0.0529539222 / 24, 0.0000470684 / 24,
}

const rad = math.Pi / 180

// orbit is what Schureman's node factors need: the inclination I of the moon's
// orbit to the equator and the angles ξ, ν, ν', 2ν”, and P = p − ξ, in radians.
type orbit struct {
	i, xi, nu, nu1, nu2, p float64
}

// orbitOf follows Schureman (1958): I, ν and ξ from the spherical triangle of
// Table 6 (ω = 23.452°, i = 5.145°), ν' by formula 224, 2ν” by formula 232.
func orbitOf(k sky) orbit {
	const (
		omega = 23.452 * rad
		incl  = 5.145 * rad
	)
	n := -k[nodeN] * rad
	n = math.Remainder(n, 2*math.Pi)
	var o orbit
	o.i = math.Acos(math.Cos(incl)*math.Cos(omega) - math.Sin(incl)*math.Sin(omega)*math.Cos(n))
	sn, cn := math.Sincos(n / 2)
	a := math.Atan2(math.Cos((omega-incl)/2)*sn, math.Cos((omega+incl)/2)*cn)
	b := math.Atan2(math.Sin((omega-incl)/2)*sn, math.Sin((omega+incl)/2)*cn)
	o.xi = n - a - b // a = (N−ξ+ν)/2, b = (N−ξ−ν)/2
	o.nu = a - b
	s2 := math.Sin(2 * o.i)
	o.nu1 = math.Atan2(s2*math.Sin(o.nu), s2*math.Cos(o.nu)+0.3347)
	ss := math.Sin(o.i) * math.Sin(o.i)
	o.nu2 = math.Atan2(ss*math.Sin(2*o.nu), ss*math.Cos(2*o.nu)+0.0727)
	o.p = math.Remainder(k[perigeeP]*rad-o.xi, 2*math.Pi)
	return o
}
