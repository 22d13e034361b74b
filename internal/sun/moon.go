package sun

import (
	"math"
	"time"
)

// Moon is how the moon stands at an instant, seen from the Earth's centre.
type Moon struct {
	At                  time.Time
	IlluminatedFraction float64 // of the disc, 0..1
	ElongationDeg       float64 // moon minus sun in apparent ecliptic longitude, 0..360
}

// lunarTerm is one line of Meeus's table 47.A or 47.B: multiples of D, M, M′
// and F, and coefficients: of the longitude (10⁻⁶ degrees) and the distance
// (10⁻³ km), or of the latitude (10⁻⁶ degrees).
type lunarTerm struct {
	d, m, mm, f float64
	sine, cos   float64
}

// Meeus, table 47.A, whole.
var longitudeTerms = []lunarTerm{
	{0, 0, 1, 0, 6288774, -20905355}, {2, 0, -1, 0, 1274027, -3699111}, {2, 0, 0, 0, 658314, -2955968},
	{0, 0, 2, 0, 213618, -569925}, {0, 1, 0, 0, -185116, 48888}, {0, 0, 0, 2, -114332, -3149},
	{2, 0, -2, 0, 58793, 246158}, {2, -1, -1, 0, 57066, -152138}, {2, 0, 1, 0, 53322, -170733},
	{2, -1, 0, 0, 45758, -204586}, {0, 1, -1, 0, -40923, -129620}, {1, 0, 0, 0, -34720, 108743},
	{0, 1, 1, 0, -30383, 104755}, {2, 0, 0, -2, 15327, 10321}, {0, 0, 1, 2, -12528, 0},
	{0, 0, 1, -2, 10980, 79661}, {4, 0, -1, 0, 10675, -34782}, {0, 0, 3, 0, 10034, -23210},
	{4, 0, -2, 0, 8548, -21636}, {2, 1, -1, 0, -7888, 24208}, {2, 1, 0, 0, -6766, 30824},
	{1, 0, -1, 0, -5163, -8379}, {1, 1, 0, 0, 4987, -16675}, {2, -1, 1, 0, 4036, -12831},
	{2, 0, 2, 0, 3994, -10445}, {4, 0, 0, 0, 3861, -11650}, {2, 0, -3, 0, 3665, 14403},
	{0, 1, -2, 0, -2689, -7003}, {2, 0, -1, 2, -2602, 0}, {2, -1, -2, 0, 2390, 10056},
	{1, 0, 1, 0, -2348, 6322}, {2, -2, 0, 0, 2236, -9884}, {0, 1, 2, 0, -2120, 5751},
	{0, 2, 0, 0, -2069, 0}, {2, -2, -1, 0, 2048, -4950}, {2, 0, 1, -2, -1773, 4130},
	{2, 0, 0, 2, -1595, 0}, {4, -1, -1, 0, 1215, -3958}, {0, 0, 2, 2, -1110, 0},
	{3, 0, -1, 0, -892, 3258}, {2, 1, 1, 0, -810, 2616}, {4, -1, -2, 0, 759, -1897},
	{0, 2, -1, 0, -713, -2117}, {2, 2, -1, 0, -700, 2354}, {2, 1, -2, 0, 691, 0},
	{2, -1, 0, -2, 596, 0}, {4, 0, 1, 0, 549, -1423}, {0, 0, 4, 0, 537, -1117},
	{4, -1, 0, 0, 520, -1571}, {1, 0, -2, 0, -487, -1739}, {2, 1, 0, -2, -399, 0},
	{0, 0, 2, -2, -381, -4421}, {1, 1, 1, 0, 351, 0}, {3, 0, -2, 0, -340, 0},
	{4, 0, -3, 0, 330, 0}, {2, -1, 2, 0, 327, 0}, {0, 2, 1, 0, -323, 1165},
	{1, 1, -1, 0, 299, 0}, {2, 0, 3, 0, 294, 0}, {2, 0, -1, -2, 0, 8752},
}

// Meeus, table 47.B, without the terms under 0.0008°: the latitude serves the
// illuminated fraction only.
var latitudeTerms = []lunarTerm{
	{0, 0, 0, 1, 5128122, 0}, {0, 0, 1, 1, 280602, 0}, {0, 0, 1, -1, 277693, 0}, {2, 0, 0, -1, 173237, 0},
	{2, 0, -1, 1, 55413, 0}, {2, 0, -1, -1, 46271, 0}, {2, 0, 0, 1, 32573, 0}, {0, 0, 2, 1, 17198, 0},
	{2, 0, 1, -1, 9266, 0}, {0, 0, 2, -1, 8822, 0}, {2, -1, 0, -1, 8216, 0}, {2, 0, -2, -1, 4324, 0},
	{2, 0, 1, 1, 4200, 0}, {2, 1, 0, -1, -3359, 0}, {2, -1, -1, 1, 2463, 0}, {2, -1, 0, 1, 2211, 0},
	{2, -1, -1, -1, 2065, 0}, {0, 1, -1, -1, -1870, 0}, {4, 0, -1, -1, 1828, 0}, {0, 1, 0, 1, -1794, 0},
	{0, 0, 0, 3, -1749, 0}, {0, 1, -1, 1, -1565, 0}, {1, 0, 0, 1, -1491, 0}, {0, 1, 1, 1, -1475, 0},
	{0, 1, 1, -1, -1410, 0}, {0, 1, 0, -1, -1344, 0}, {1, 0, 0, -1, -1335, 0}, {0, 0, 3, 1, 1107, 0},
	{4, 0, 0, -1, 1021, 0}, {4, 0, -1, 1, 833, 0},
}

// moonAt is the moon's apparent geocentric longitude and latitude, degrees, and
// its distance, km, at T centuries of dynamical time. Meeus, chapter 47.
func moonAt(T float64) (longitude, latitude, distanceKm float64) {
	L := turn(poly(T, 218.3164477, 481267.88123421, -0.0015786, 1/538841.0, -1/65194000.0))
	D := turn(poly(T, 297.8501921, 445267.1114034, -0.0018819, 1/545868.0, -1/113065000.0))
	M := turn(poly(T, 357.5291092, 35999.0502909, -0.0001536, 1/24490000.0))
	N := turn(poly(T, 134.9633964, 477198.8675055, 0.0087414, 1/69699.0, -1/14712000.0)) // M′
	F := turn(poly(T, 93.2720950, 483202.0175233, -0.0036539, -1/3526000.0, 1/863310000.0))
	A1, A2, A3 := 119.75+131.849*T, 53.09+479264.290*T, 313.45+481266.484*T
	E := eccentricity(T)

	sl := 3958*sind(A1) + 1962*sind(L-F) + 318*sind(A2)
	sr := 0.0
	for _, t := range longitudeTerms {
		arg := t.d*D + t.m*M + t.mm*N + t.f*F
		w := math.Pow(E, math.Abs(t.m))
		sl += w * t.sine * sind(arg)
		sr += w * t.cos * cosd(arg)
	}
	sb := -2235*sind(L) + 382*sind(A3) + 175*sind(A1-F) + 175*sind(A1+F) + 127*sind(L-N) - 115*sind(L+N)
	for _, t := range latitudeTerms {
		sb += math.Pow(E, math.Abs(t.m)) * t.sine * sind(t.d*D+t.m*M+t.mm*N+t.f*F)
	}
	node := 125.04452 - 1934.136261*T
	nut := nutation(T, 280.4665+36000.7698*T, L, node)
	return turn(L + sl/1e6 + nut), sb / 1e6, 385000.56 + sr/1000
}

// eccentricity is Meeus's E, eq. 47.6: the change of the eccentricity of the
// Earth's orbit, which goes with every multiple of the sun's anomaly.
func eccentricity(T float64) float64 { return poly(T, 1, -0.002516, -0.0000074) }

// MoonAt tells how the moon stands at an instant. The elongation holds to about
// 0.01°, the illuminated fraction to 0.0002.
//
// Source: Meeus, chapter 48 (eq. 48.1 to 48.3).
func MoonAt(at time.Time) Moon {
	s := seconds(at)
	lon, lat, km := moonAt(centuries(s))
	q := sunAt(s)
	elongation := turn(lon - q.longitude)
	psi := math.Acos(min(max(cosd(lat)*cosd(elongation), -1), 1)) // between the two, as seen from the Earth
	sunKm := q.distanceAU * 149597870.7
	phase := math.Atan2(sunKm*math.Sin(psi), km-sunKm*math.Cos(psi))
	return Moon{At: at.UTC(), ElongationDeg: elongation, IlluminatedFraction: (1 + math.Cos(phase)) / 2}
}
