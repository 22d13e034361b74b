package gear

import "soakline/internal/assay"

// Agreement of two lists of yes and no on the same things.
type Agreement struct {
	N     int
	Same  int
	Kappa assay.Maybe[float64] // none where chance alone would always agree
}

// Agree counts where two lists say the same and works out Cohen's kappa,
// (po - pe) / (1 - pe): po is the share said alike, pe the share that two would
// say alike who each keep their own share of yes but do not look. It panics when
// the lists are of unequal length.
//
// Source: Cohen (1960), Educational and Psychological Measurement 20:37-46,
// equation 1 (from memory).
func Agree(a, b []bool) Agreement {
	if len(a) != len(b) {
		panic("gear: lists of unequal length")
	}
	g := Agreement{N: len(a)}
	yesA, yesB := 0, 0
	for i := range a {
		if a[i] == b[i] {
			g.Same++
		}
		if a[i] {
			yesA++
		}
		if b[i] {
			yesB++
		}
	}
	if g.N == 0 {
		return g
	}
	// In whole numbers, so that 1 - pe is exactly 0 where it should be.
	n := g.N
	byChance := yesA*yesB + (n-yesA)*(n-yesB) // pe n²
	if byChance == n*n {
		return g
	}
	g.Kappa = assay.Some(float64(g.Same*n-byChance) / float64(n*n-byChance))
	return g
}
