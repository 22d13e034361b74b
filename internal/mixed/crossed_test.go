package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// crossedData is a season with a chain of the levels and two crossed factors; with fine
// leaves, the innermost level decides the crossed groups, else observations of one
// innermost group differ in them.
func crossedData(rng *rand.Rand, levels int, fine bool) *Data {
	d := NewData([]string{"one", "x", "later"}, []string{"a", "b", "c"}[:levels]).Crossed("observer", "batch")
	for i := range 24 {
		o, b := rng.IntN(4), rng.IntN(3)
		x := rng.NormFloat64()
		for k := range 3 {
			if !fine {
				o, b = rng.IntN(4), rng.IntN(3)
			}
			g := append([]int{i / 8, i / 4, i}[:levels:levels], o, b)
			r := 8 + rng.IntN(8)
			y := rng.IntN(r + 1)
			p := []Piece{{Exposure: 0.5 + rng.Float64(), X: []float64{1, x, float64(k)}}}
			if k == 2 {
				p = append(p, Piece{Exposure: 1, X: []float64{1, x, 0}})
			}
			if err := d.Add(y, r, g, p...); err != nil {
				panic(err)
			}
		}
	}
	return d
}

// dense is Laplace's approximation by a dense matrix, written without the tree: Newton
// on all intercepts at once, from the observations as they were added.
func dense(d *Data, beta []float64, sds []float64) float64 {
	nl := len(sds)
	number := make([]map[[4]int]int, nl)
	n := 0
	col := make([][]int, d.Len())
	for k := range sds {
		number[k] = map[[4]int]int{}
	}
	for i := range col {
		g := d.groups[i*nl : (i+1)*nl]
		for k := range sds {
			key := [4]int{g[k]}
			if k < len(d.levels) { // a group within its outer groups
				copy(key[:], g[:k+1])
			}
			at, ok := number[k][key]
			if !ok {
				at = n
				number[k][key] = n
				n++
			}
			col[i] = append(col[i], at)
		}
	}
	z := make([]float64, n)
	for it := 0; ; it++ {
		K, g, f := make([]float64, n*n), make([]float64, n), 0.0
		for a, v := range z {
			K[a*n+a], g[a] = 1, -v
			f -= v * v / 2
		}
		for i := range col {
			h := 0.0
			for s := d.firstPiece(i); s < d.pieceEnd[i]; s++ {
				h += d.exposure[s] * math.Exp(dot(d.x[s*len(beta):(s+1)*len(beta)], beta))
			}
			v := math.Log(h)
			for k, a := range col[i] {
				v += sds[k] * z[a]
			}
			y, r := float64(d.events[i]), float64(d.trials[i])
			t := cloglogTerm(y, r, v)
			f += t.l + lchoose(r, y)
			for k, a := range col[i] {
				g[a] += sds[k] * t.v
				for k2, a2 := range col[i] {
					K[a*n+a2] -= sds[k] * sds[k2] * t.vv
				}
			}
		}
		if !cholesky(K, n) {
			return math.NaN()
		}
		if it == 60 {
			return f - logDetChol(K, n)/2
		}
		cholSolve(K, n, g)
		for a := range z {
			z[a] += g[a]
		}
	}
}

// TestCrossedAgainstDense holds the border and its gradient against the dense matrix
// and its differences, on chains of none to three levels.
func TestCrossedAgainstDense(t *testing.T) {
	for levels := range 4 {
		for _, fine := range []bool{true, false} {
			rng := rand.New(rand.NewPCG(11, uint64(levels)))
			d := crossedData(rng, levels, fine)
			f, a := frameOf(t, d, Cloglog, Binomial)
			act := make([]int, f.nSD())
			for k := range act {
				act[k] = k
			}
			if len(act) != levels+2 {
				t.Fatalf("%d SDs for %d levels", len(act), levels)
			}
			m := f.model(a, act, false)
			ws := newWorkspace(m)
			theta := make([]float64, m.dim())
			for i := range theta {
				theta[i] = 0.4 * rng.NormFloat64()
			}
			at := func(th []float64) float64 {
				x := &fitted{m: m, theta: th}
				return dense(d, x.beta(), x.sds())
			}
			grad := make([]float64, len(theta))
			if got, want := ws.eval(theta, grad), at(theta); math.Abs(got-want) > 1e-8 {
				t.Errorf("%d levels, fine %v: %.10f, dense %.10f", levels, fine, got, want)
			}
			for i := range theta {
				const h = 1e-4
				th := append([]float64(nil), theta...)
				th[i] += h
				up := at(th)
				th[i] -= 2 * h
				if num := (up - at(th)) / (2 * h); math.Abs(num-grad[i]) > 1e-5*(1+math.Abs(num)) {
					t.Errorf("%d levels, fine %v, θ[%d]: gradient %.8f, differences %.8f", levels, fine, i, grad[i], num)
				}
			}
		}
	}
}

// TestCrossedLeftOut: a crossed factor with one group, or with the groups of a level, is
// left out and named; so is one with the groups of an earlier one.
func TestCrossedLeftOut(t *testing.T) {
	d := NewData([]string{"one"}, []string{"site"}).Crossed("constant", "team", "observer", "boat")
	for i := range 40 {
		s := i / 4
		if err := d.Add(i%5, 9, []int{s, 1, s + 7, i % 3, 5 - i%3}, Piece{Exposure: 1, X: []float64{1}}); err != nil {
			t.Fatal(err)
		}
	}
	r, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	said := map[string]string{}
	for _, n := range r.Notices {
		if n.Slug == SlugOneGroup || n.Slug == SlugLevelsCoincide {
			said[n.Group] = n.Slug + n.Other
		}
	}
	if len(r.Random) != 2 || said["constant"] != SlugOneGroup || said["team"] != SlugLevelsCoincide+"site" || said["boat"] != SlugLevelsCoincide+"observer" {
		t.Errorf("%v %v", r.Random, said)
	}
	if _, err := Fit(d, Options{Quadrature: 5}); err == nil {
		t.Error("quadrature with crossed factors was not refused")
	}
}

// TestCrossedBootstrap: the bootstrap draws crossed intercepts; over many draws their
// part of the predictor's variance is what the fit says, within 10 %.
func TestCrossedBootstrap(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	d := NewData([]string{"one"}, []string{"site"}).Crossed("observer")
	for i := range 60 {
		p := 1 - math.Exp(-math.Exp(float64(i%6)/3-1))
		y := 0
		for range 20 {
			if rng.Float64() < p {
				y++
			}
		}
		must(t, d.Add(y, 20, []int{i / 6, i % 6}, Piece{Exposure: 1, X: []float64{1}}))
	}
	r, err := Fit(d, Options{})
	must(t, err)
	s := newSimulation(r, BootstrapOptions{Seed: 3})
	sum, sq, n := 0.0, 0.0, 0.0
	for rep := range uint64(1500) {
		s.draw(rep)
		v := s.predictor[0] - s.base[0]
		sum, sq, n = sum+v, sq+v*v, n+1
	}
	sd, want := math.Sqrt(sq/n-sum*sum/n/n), math.Hypot(r.Random[0].SD, r.Random[1].SD)
	if want < 0.3 || math.Abs(sd/want-1) > 0.1 {
		t.Errorf("SD of the draws %.3f, of the fit %.3f", sd, want)
	}
}
