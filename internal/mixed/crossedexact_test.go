package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// trapezoid integrates exp(f)·φ over z in ±7 with n steps; for what looks like a normal
// density of SD s it is exact to about exp(−2π²(s n/14)²).
func trapezoid(n int, f func(z float64) float64) float64 {
	h := 14.0 / float64(n)
	sum := 0.0
	for i := 0; i <= n; i++ {
		z := -7 + h*float64(i)
		sum += math.Exp(f(z) - z*z/2)
	}
	return sum * h / math.Sqrt(2*math.Pi)
}

// exactCrossed is the log-likelihood of cells (observer a, batch b) of two crossed
// factors with two groups each by brute force: the four intercepts are integrated over
// grids of n steps, the two batches outside, and inside, where they are fixed, each
// observer by itself. It knows nothing of modes, trees or borders.
func exactCrossed(n int, y, r [2][2]int, eta, sa, sb float64) float64 {
	constant := 0.0
	for a := range 2 {
		for b := range 2 {
			constant += lchoose(float64(r[a][b]), float64(y[a][b]))
		}
	}
	cell := func(a, b int, za, zb float64) float64 {
		return cloglogTerm(float64(y[a][b]), float64(r[a][b]), eta+sa*za+sb*zb).l
	}
	return constant + math.Log(trapezoid(n, func(z0 float64) float64 {
		return math.Log(trapezoid(n, func(z1 float64) float64 {
			sum := 0.0
			for a := range 2 {
				sum += math.Log(trapezoid(n, func(za float64) float64 { return cell(a, 0, za, z0) + cell(a, 1, za, z1) }))
			}
			return sum
		}))
	}))
}

// Quadrature is refused where factors cross (TestCrossedLeftOut), so Laplace's value is
// held against the exact one: off by at most 0.02 with 5 and 25 baits a cell and by 0.005
// with 200, an error that falls with the baits. docs/methods/mixed.md states these figures.
func TestCrossedAgainstBruteForce(t *testing.T) {
	worst := map[int]float64{}
	for _, c := range []struct {
		baits, steps, draws int
		most                float64
	}{{5, 40, 6, 0.02}, {25, 40, 6, 0.02}, {200, 90, 2, 0.005}} {
		rng := rand.New(rand.NewPCG(21, 1))
		for range c.draws {
			d := NewData([]string{"one"}, nil).Crossed("observer", "batch")
			za, zb := [2]float64{rng.NormFloat64(), rng.NormFloat64()}, [2]float64{rng.NormFloat64(), rng.NormFloat64()}
			var y, r [2][2]int
			for a := range 2 {
				for b := range 2 {
					p := -math.Expm1(-math.Exp(-0.7 + 0.6*za[a] + 0.4*zb[b]))
					r[a][b] = c.baits
					y[a][b] = min(c.baits, int(math.Round(p*float64(c.baits))))
					must(t, d.Add(y[a][b], c.baits, []int{a, b}, Piece{Exposure: 1, X: []float64{1}}))
				}
			}
			f, at := frameOf(t, d, Cloglog, Binomial)
			m := f.model(at, []int{0, 1}, false)
			theta := []float64{-0.7, math.Log(0.6), math.Log(0.4)}
			if len(theta) != m.dim() {
				t.Fatalf("%d parameters", m.dim())
			}
			x := &fitted{m: m, theta: theta}
			got := newWorkspace(m).eval(theta, nil)
			want := exactCrossed(c.steps, y, r, x.beta()[0], x.sds()[0], x.sds()[1])
			off := math.Abs(got - want)
			worst[c.baits] = math.Max(worst[c.baits], off)
			if !(off <= c.most) {
				t.Errorf("%d baits, y %v: Laplace %.6f, exact %.6f", c.baits, y, got, want)
			}
		}
	}
	if !(worst[200] < worst[5] && worst[200] < worst[25]) {
		t.Errorf("the error does not fall with the number of baits: %v", worst)
	}
	t.Logf("worst: %v", worst)
}
