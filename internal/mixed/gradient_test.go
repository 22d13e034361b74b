package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// randomData makes small data of every shape from a seed.
func randomData(rng *rand.Rand, levels int, kind string) *Data {
	names := []string{"outer", "middle", "inner"}[3-levels:]
	d := NewData([]string{"one", "band2", "x"}, names)
	for a := 0; a < 4; a++ {
		for b := 0; b < 2; b++ {
			for c := 0; c < 2; c++ {
				x := rng.NormFloat64()
				g := []int{a, b, c}[3-levels:]
				for k := 0; k < 2; k++ {
					r := 1 + rng.IntN(9)
					y := rng.IntN(r + 1)
					ps := []Piece{{Exposure: 0.5 + rng.Float64(), X: []float64{1, float64(k), x}}}
					if kind == "multi" || kind == "background" {
						ps = append(ps, Piece{Exposure: 0.3 + rng.Float64(), X: []float64{1, 1, x}})
					}
					if kind == "background" {
						ps = append(ps, Piece{Exposure: rng.Float64() + 0.1, X: []float64{0.5, 0, -0.2}, Background: true})
					}
					if kind == "sum" || kind == "sum background" { // a part seen over the second piece only
						late := append([]Piece(nil), ps...)
						late = append(late, Piece{Exposure: 0.3 + rng.Float64(), X: []float64{1, 1, x}})
						if kind == "sum background" {
							b := Piece{Exposure: rng.Float64() + 0.1, X: []float64{0.5, 0, -0.2}, Background: true}
							ps, late = append(ps, b), append(late, b)
						}
						if err := d.AddSum(y, g, Part{r, ps}, Part{1 + rng.IntN(4), late}); err != nil {
							panic(err)
						}
						continue
					}
					if err := d.Add(y, r, g, ps...); err != nil {
						panic(err)
					}
				}
			}
		}
	}
	return d
}

func frameOf(t testing.TB, d *Data, link Link, fam Family) (*frame, affine) {
	l := newLayout(d)
	f, err := newFrame(l, d.events, d.trials, link, fam)
	if err != nil {
		t.Fatal(err)
	}
	return f, newBasis(f.rows, f.usedRows(), f.nRows, len(f.terms)).affine()
}

func TestGradientAgainstDifferences(t *testing.T) {
	for _, c := range []struct {
		kind string
		link Link
		fam  Family
	}{{"plain", Cloglog, Binomial}, {"multi", Cloglog, Binomial}, {"background", Cloglog, Binomial},
		{"sum", Cloglog, Binomial}, {"sum background", Cloglog, Binomial},
		{"plain", Logit, Binomial}, {"plain", Logit, BetaBinomial}, {"multi", Cloglog, BetaBinomial}} {
		for levels := 1; levels <= 3; levels++ {
			rng := rand.New(rand.NewPCG(7, uint64(levels)))
			f, a := frameOf(t, randomData(rng, levels, c.kind), c.link, c.fam)
			act := make([]int, levels)
			for k := range act {
				act[k] = k
			}
			m := f.model(a, act, c.fam == BetaBinomial)
			ws := newWorkspace(m)
			theta := make([]float64, m.dim())
			for i := range theta {
				theta[i] = 0.3 * rng.NormFloat64()
			}
			grad := make([]float64, len(theta))
			ws.eval(theta, grad)
			for i := range theta {
				h := 1e-4
				th := append([]float64(nil), theta...)
				th[i] += h
				up := ws.eval(th, nil)
				th[i] -= 2 * h
				num := (up - ws.eval(th, nil)) / (2 * h)
				if math.Abs(num-grad[i]) > 1e-5*(1+math.Abs(num)) {
					t.Errorf("%s link %d family %d, %d levels, θ[%d]: gradient %.8f, differences %.8f", c.kind, c.link, c.fam, levels, i, grad[i], num)
				}
			}
		}
	}
}
