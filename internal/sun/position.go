package sun

import (
	"math"
	"time"
)

// solar is where the sun stands, geocentric, apparent: degrees and astronomical
// units; sidereal is Greenwich apparent sidereal time in degrees.
type solar struct {
	longitude, declination, rightAscension float64
	distanceAU                             float64
	sidereal                               float64
}

// obliquity is the mean obliquity of the ecliptic, degrees. Meeus, eq. 22.2.
func obliquity(T float64) float64 {
	return poly(T, 23.4392911, -0.0130041667, -1.6389e-7, 5.0361e-7)
}

// nutation in longitude, degrees, to 0.5″. Meeus, chapter 22, low accuracy.
func nutation(T, sunLongitude, moonLongitude, node float64) float64 {
	return (-17.20*sind(node) - 1.32*sind(2*sunLongitude) - 0.23*sind(2*moonLongitude) + 0.21*sind(2*node)) / 3600
}

// sunAt is the sun at s seconds since J2000.
//
// Meeus (1998), chapter 25, low accuracy: apparent longitude with aberration
// and nutation, and the true obliquity; with the five perturbations by Venus
// (A, B), Jupiter (C), the moon (D) and of long period (E) of Meeus (1988),
// Astronomical Formulae for Calculators, 4th edition, chapter 18, which bring
// the largest error of the longitude in 2017 to 2049 from 34″ to 18″ (PyEphem).
// Sidereal time is equation 12.4 with the equation of the equinoxes.
func sunAt(s float64) solar {
	T := centuries(s)
	L0 := poly(T, 280.46646, 36000.76983, 0.0003032)
	M := poly(T, 357.52911, 35999.05029, -0.0001537)
	e := poly(T, 0.016708634, -0.000042037, -0.0000001267)
	center := poly(T, 1.914602, -0.004817, -0.000014)*sind(M) + poly(T, 0.019993, -0.000101)*sind(2*M) + 0.000289*sind(3*M)
	T19 := T + 1 // the terms count from 1900.0
	terms := 0.00134*cosd(153.23+22518.7541*T19) + 0.00154*cosd(216.57+45037.5082*T19) +
		0.00200*cosd(312.69+32964.3577*T19) + 0.00179*sind(350.74+445267.1142*T19-0.00144*T19*T19) +
		0.00178*sind(231.19+20.20*T19)
	node := 125.04 - 1934.136*T
	nut := -0.00478*sind(node) - 0.00037*sind(2*L0) // in longitude: the two largest terms

	p := solar{distanceAU: 1.000001018 * (1 - e*e) / (1 + e*cosd(M+center))}
	p.longitude = turn(L0 + center + terms - 0.00569 + nut)
	eps := obliquity(T) + 0.00256*cosd(node)
	sinL, cosL := math.Sincos(p.longitude * degree)
	sinE, cosE := math.Sincos(eps * degree)
	p.rightAscension = math.Atan2(cosE*sinL, cosL) / degree
	p.declination = math.Asin(sinE*sinL) / degree
	days := s / daySeconds
	p.sidereal = turn(280.46061837 + math.Mod(360.98564736629*days, 360) + 0.000387933*T*T + nut*cosE)
	return p
}

// place holds what the altitude needs of a position.
type place struct{ sinLat, cosLat, lonDeg float64 }

func placeAt(latDeg, lonDeg float64) place {
	s, c := math.Sincos(latDeg * degree)
	return place{s, c, lonDeg}
}

// altitude of the sun's centre above the horizon as seen from the place,
// without refraction, degrees. The sun's parallax (8.794″ at the horizon) is
// taken off; it makes 2 s of a sunset at middle latitude and far more where the
// sun hardly rises.
func (p place) altitude(s float64) float64 {
	q := sunAt(s)
	sinD, cosD := math.Sincos(q.declination * degree)
	sinAlt := p.sinLat*sinD + p.cosLat*cosD*math.Cos((q.sidereal+p.lonDeg-q.rightAscension)*degree)
	alt := math.Asin(min(max(sinAlt, -1), 1))
	return alt/degree - 8.794/3600/q.distanceAU*math.Cos(alt)
}

// AltitudeDeg is the altitude of the sun's centre above the horizon, degrees,
// without refraction, at a WGS84 position. Within 0.01° of an independent
// ephemeris (see the tests).
func AltitudeDeg(latDeg, lonDeg float64, at time.Time) float64 {
	return placeAt(latDeg, lonDeg).altitude(seconds(at))
}

// RoughAltitudeDeg is AltitudeDeg within 0.1° in the years FirstYear to LastYear,
// at a tenth of its cost: for telling day from night where a degree decides nothing.
// Low precision formulas for the sun's coordinates of the Astronomical Almanac,
// page C5 (0.01° between 1950 and 2050), sidereal time by its linear term, no
// parallax.
func RoughAltitudeDeg(latDeg, lonDeg float64, at time.Time) float64 {
	n := seconds(at) / 86400 // days from J2000.0
	g := (357.528 + 0.9856003*n) * degree
	sinG, cosG := math.Sincos(g)
	longitude := (280.460 + 0.9856474*n + 1.915*sinG + 0.020*2*sinG*cosG) * degree
	obliquity := (23.439 - 0.0000004*n) * degree
	sinL, cosL := math.Sincos(longitude)
	sinD := math.Sin(obliquity) * sinL
	rightAscension := math.Atan2(math.Cos(obliquity)*sinL, cosL)
	hour := (280.46061837+360.98564736629*n+lonDeg)*degree - rightAscension
	sinLat, cosLat := math.Sincos(latDeg * degree)
	sinAlt := sinLat*sinD + cosLat*math.Sqrt(max(1-sinD*sinD, 0))*math.Cos(hour)
	return math.Asin(min(max(sinAlt, -1), 1)) / degree
}
