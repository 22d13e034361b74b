package place

import "math"

// The series of Karney (2013), to sixth order in ε. Each function names its
// equation; the fractions are as printed there.

// epsilon returns the expansion parameter ε for k = e'·cos α0 (eqs 9, 16).
func epsilon(k2 float64) float64 {
	r := math.Sqrt(1 + k2)
	return k2 / (2*(1+r) + k2)
}

// seriesA1 is A1 − 1 (eq. 17); the one is kept apart for the sake of digits.
func seriesA1(e float64) float64 {
	e2 := e * e
	t := e2 * (1./4 + e2*(1./64+e2/256))
	return (t + e) / (1 - e)
}

// seriesC1 holds C1l (eq. 18), l = 1..6 at index l−1.
func seriesC1(e float64) [6]float64 {
	e2 := e * e
	e3, e4 := e*e2, e2*e2
	return [6]float64{
		e * (-1./2 + e2*(3./16-e2/32)),
		e2 * (-1./16 + e2*(1./32-e2*9/2048)),
		e3 * (-1./48 + e2*3/256),
		e4 * (-5./512 + e2*3/512),
		-7. / 1280 * e4 * e,
		-7. / 2048 * e4 * e2,
	}
}

// seriesC1p holds C'1l of the reverted distance series (eq. 21).
func seriesC1p(e float64) [6]float64 {
	e2 := e * e
	e3, e4 := e*e2, e2*e2
	return [6]float64{
		e * (1./2 + e2*(-9./32+e2*205/1536)),
		e2 * (5./16 + e2*(-37./96+e2*1335/4096)),
		e3 * (29./96 - e2*75/128),
		e4 * (539./1536 - e2*2391/2560),
		3467. / 7680 * e4 * e,
		38081. / 61440 * e4 * e2,
	}
}

// seriesA2 is A2 − 1 (eq. 42).
func seriesA2(e float64) float64 {
	e2 := e * e
	t := e2 * (1./4 + e2*(9./64+e2*25/256))
	return t*(1-e) - e
}

// seriesC2 holds C2l (eq. 43).
func seriesC2(e float64) [6]float64 {
	e2 := e * e
	e3, e4 := e*e2, e2*e2
	return [6]float64{
		e * (1./2 + e2*(1./16+e2/32)),
		e2 * (3./16 + e2*(1./32+e2*35/2048)),
		e3 * (5./48 + e2*5/256),
		e4 * (35./512 + e2*7/512),
		63. / 1280 * e4 * e,
		77. / 2048 * e4 * e2,
	}
}

// seriesA3 is A3 (eq. 24) for the flattening of WGS84.
func seriesA3(e float64) float64 {
	const n = thirdN
	return 1 - e*((1./2-n/2)+
		e*((1./4+n/8-n*n*3/8)+
			e*((1./16+n*3/16+n*n/16)+
				e*((3./64+n/32)+
					e*3/128))))
}

// seriesC3 holds C3l (eq. 25), l = 1..5; the sixth place is zero.
func seriesC3(e float64) [6]float64 {
	const n = thirdN
	const n2 = n * n
	return [6]float64{
		e * ((1./4 - n/4) + e*((1./8-n2/8)+e*((3./64+n*3/64-n2/64)+e*((5./128+n/64)+e*3/128)))),
		e * e * ((1./16 - n*3/32 + n2/32) + e*((3./64-n/32-n2*3/64)+e*((3./128+n/128)+e*5/256))),
		e * e * e * ((5./192 - n*3/64 + n2*5/192) + e*((3./128-n*5/192)+e*7/512)),
		e * e * e * e * ((7./512 - n*7/256) + e*7/512),
		21. / 2560 * e * e * e * e * e,
		0,
	}
}

// sineSeries returns Σ c[l−1] sin 2lσ by Clenshaw's summation.
func sineSeries(c *[6]float64, sigma arc) float64 {
	x := 2 * (sigma.c - sigma.s) * (sigma.c + sigma.s) // 2 cos 2σ
	var u1, u2 float64
	for l := 5; l >= 0; l-- {
		u1, u2 = c[l]+float64(x*u1)-u2, u1
	}
	return 2 * sigma.s * sigma.c * u1
}

// reducedLatitude returns the parametric latitude β, tan β = (1−f) tan φ
// (eq. 6), its cosine kept above zero so that a pole has a direction.
func reducedLatitude(phi arc) arc {
	b := arc{oneMinusF * phi.s, phi.c}.unit()
	b.c = math.Max(tiny, b.c)
	return b
}
