package mixed

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// legendre holds the nodes and weights of Gauss–Legendre quadrature on [−1, 1].
var legendreX, legendreW = func() ([]float64, []float64) {
	x, w := make([]float64, 20), make([]float64, 20)
	quad.Legendre{}.FixedLocations(x, w, -1, 1)
	return x, w
}()

// inside1 is Inside for rank 1: every constraint bounds the same variable.
func (m *MaxNormal) inside1(c float64) float64 {
	most := 0.0
	for _, l := range m.load {
		most = math.Max(most, math.Abs(l[0]))
	}
	return math.Erf(c / most / math.Sqrt2)
}

// inside2 is Inside for rank 2, as in the comparison of three levels: the
// integral over the first variable x of φ(x) times the probability that the second
// lies between the lines that the constraints draw. The lines' crossings are where
// the integrand has kinks, so each stretch between them is smooth and
// Gauss–Legendre quadrature with 20 nodes is good to 1e-12.
func (m *MaxNormal) inside2(c float64) float64 {
	end := 9.0 // beyond is 1e-19
	type line struct{ at, slope float64 }
	var lines []line // upper and lower, as functions of x
	for i, l := range m.load {
		if m.last[i] == 0 {
			end = math.Min(end, c/math.Abs(l[0]))
			continue
		}
		s := math.Abs(l[1])
		lines = append(lines, line{c / s, -l[0] / l[1]}, line{-c / s, -l[0] / l[1]})
	}
	cuts := []float64{-end, end}
	for x := -8.0; x <= 8; x++ {
		if math.Abs(x) < end {
			cuts = append(cuts, x)
		}
	}
	for i, a := range lines {
		for _, b := range lines[:i] {
			if x := (b.at - a.at) / (a.slope - b.slope); math.Abs(x) < end {
				cuts = append(cuts, x)
			}
		}
	}
	slices.Sort(cuts)
	sum := 0.0
	for k := 1; k < len(cuts); k++ {
		half, mid := (cuts[k]-cuts[k-1])/2, (cuts[k]+cuts[k-1])/2
		if half < 1e-14 {
			continue
		}
		for j, w := range legendreW {
			x := mid + half*legendreX[j]
			lo, hi := math.Inf(-1), math.Inf(1)
			for i, l := range lines {
				if v := l.at + l.slope*x; i%2 == 0 {
					hi = math.Min(hi, v)
				} else {
					lo = math.Max(lo, v)
				}
			}
			if hi > lo {
				sum += half * w * distuv.UnitNormal.Prob(x) * (distuv.UnitNormal.CDF(hi) - distuv.UnitNormal.CDF(lo))
			}
		}
	}
	return sum
}
