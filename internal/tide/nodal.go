package tide

import "math"

// law is the formula of Schureman's node factor and argument that a constituent
// follows.
type law uint8

const (
	lawNone law = iota // f = 1, u = 0
	lawMm
	lawMf
	lawO1
	lawJ1
	lawOO1
	lawM2
	lawKJ2
	lawK1
	lawK2
	lawL2
	lawM1
	lawM3
	lawMSf
)

// laws gives the law of each astronomical constituent: Schureman (1958), Table 2,
// for those in it. Others of Foreman's list follow the term of the moon's
// declination that they are an elliptic or evectional part of (BET1, ALP1 and SIG1
// that of O1, CHI1 and THE1 that of J1, UPS1 that of OO1, OQ2, EPS2 and GAM2
// that of M2; TAU1 is his MP1, the compound M2 − P1); the tests hold them against Foreman's satellites. Solar terms have none.
var laws = map[string]law{
	"MSM": lawMm, "MM": lawMm, "MSF": lawMSf, "MF": lawMf,
	"ALP1": lawO1, "2Q1": lawO1, "SIG1": lawO1, "Q1": lawO1, "RHO1": lawO1, "O1": lawO1, "BET1": lawO1,
	"TAU1": lawM2, "NO1": lawM1, "CHI1": lawJ1, "K1": lawK1, "THE1": lawJ1, "J1": lawJ1, "OO1": lawOO1, "UPS1": lawOO1,
	"OQ2": lawM2, "EPS2": lawM2, "2N2": lawM2, "MU2": lawM2, "N2": lawM2, "NU2": lawM2, "GAM2": lawM2, "H1": lawM2,
	"M2": lawM2, "H2": lawM2, "LDA2": lawM2, "L2": lawL2, "K2": lawK2, "ETA2": lawKJ2, "M3": lawM3,
}

// at is the node factor f and the node argument u (radians) by a law.
//
// Schureman (1958), formulas of f by number: Mm 73, Mf 74, O1 75, J1 76, OO1 77,
// M2 78, KJ2 79, M3 149, M1 206, L2 215, K1 227, K2 235; u by Table 2, with Q of
// M1 by formula 203 and R of L2 by formula 214. MSf takes f of M2 and the opposite
// of its u, as the compound S2 − M2 (Table 14, note). (Formulas from memory of
// the book, each checked against published values or against Foreman's satellites.)
func (w law) at(o orbit) (f, u float64) {
	sinI, cosI := math.Sincos(o.i)
	sinH, cosH := math.Sincos(o.i / 2)
	switch w {
	case lawMm:
		return (2.0/3 - sinI*sinI) / 0.5021, 0
	case lawMf:
		return sinI * sinI / 0.1578, -2 * o.xi
	case lawO1:
		return sinI * cosH * cosH / 0.3800, 2*o.xi - o.nu
	case lawJ1:
		return 2 * sinI * cosI / 0.7214, -o.nu
	case lawOO1:
		return sinI * sinH * sinH / 0.0164, -2*o.xi - o.nu
	case lawM2:
		return math.Pow(cosH, 4) / 0.9154, 2*o.xi - 2*o.nu
	case lawMSf:
		return math.Pow(cosH, 4) / 0.9154, 2*o.nu - 2*o.xi
	case lawKJ2:
		return sinI * sinI / 0.1565, -2 * o.nu
	case lawK1:
		s2 := 2 * sinI * cosI
		return math.Sqrt(0.8965*s2*s2 + 0.6001*s2*math.Cos(o.nu) + 0.1006), -o.nu1
	case lawK2:
		ss := sinI * sinI
		return math.Sqrt(19.0444*ss*ss + 2.7702*ss*math.Cos(2*o.nu) + 0.0981), -o.nu2
	case lawL2:
		t := sinH * sinH / (cosH * cosH)
		r := math.Atan2(math.Sin(2*o.p), 1/(6*t)-math.Cos(2*o.p))
		return math.Pow(cosH, 4) / 0.9154 * math.Sqrt(1-12*t*math.Cos(2*o.p)+36*t*t), 2*o.xi - 2*o.nu - r
	case lawM1:
		q := math.Atan2(0.483*math.Sin(o.p), math.Cos(o.p))
		return sinI * cosH * cosH / 0.3800 * math.Sqrt(2.310+1.435*math.Cos(2*o.p)), q - o.p - o.nu
	case lawM3:
		return math.Pow(cosH, 6) / 0.8758, 3*o.xi - 3*o.nu
	}
	return 1, 0
}

// nodes are what node factors at one time need.
type nodes struct {
	kind          Nodal
	k             sky
	orbit         orbit
	diurnal, semi float64 // Foreman's latitude factors
}

// nodesAt prepares node factors; the latitude matters for satellites only. Near
// the equator the third-degree ratios grow without bound, so it is taken as at
// least 5 degrees from it, as Foreman (1977) does.
func nodesAt(k sky, kind Nodal, latitudeDeg float64) nodes {
	n := nodes{kind: kind, k: k}
	if kind != Satellites {
		n.orbit = orbitOf(k)
		return n
	}
	if math.Abs(latitudeDeg) < 5 {
		latitudeDeg = math.Copysign(5, latitudeDeg)
	}
	s := math.Sin(latitudeDeg * rad)
	n.diurnal = 0.36309 * (1 - 5*s*s) / s
	n.semi = 2.59808 * s
	return n
}

// factor gives f and u (degrees) of a constituent: for a compound the product
// of its parts' factors and the sum of their arguments.
func (n *nodes) factor(c *Constituent) (f, u float64) {
	if len(c.parts) > 0 {
		f = 1
		for _, p := range c.parts {
			pf, pu := n.factor(p.of)
			f *= math.Pow(pf, math.Abs(p.factor))
			u += p.factor * pu
		}
		return f, u
	}
	if n.kind != Satellites {
		f, u = c.law.at(n.orbit)
		return f, u / rad
	}
	re, im := 1.0, 0.0
	for _, s := range c.sats {
		r := s.ratio
		switch s.latitude {
		case 1:
			r *= n.diurnal
		case 2:
			r *= n.semi
		}
		sin, cos := math.Sincos((s.p*n.k[perigeeP] + s.n*n.k[nodeN] + s.p1*n.k[solarP1] + s.offset) * rad)
		re += r * cos
		im += r * sin
	}
	return math.Hypot(re, im), math.Atan2(im, re) / rad
}
