package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// simpson integrates exp(f)·φ over z in ±9 with n steps.
func simpson(n int, f func(z float64) float64) float64 {
	h := 18.0 / float64(n)
	s := 0.0
	for i := 0; i <= n; i++ {
		z := -9 + h*float64(i)
		w := 2.0 + 2*float64(i%2)
		if i == 0 || i == n {
			w = 1
		}
		s += w * math.Exp(f(z)-z*z/2) / math.Sqrt(2*math.Pi)
	}
	return s * h / 3
}

// TestQuadratureAgainstBruteForce: two nested levels, integrals on a fine grid
// (Simpson's rule), which knows nothing of modes or trees.
func TestQuadratureAgainstBruteForce(t *testing.T) {
	for _, c := range []struct {
		kind string
		link Link
		fam  Family
	}{{"plain", Cloglog, Binomial}, {"multi", Cloglog, Binomial}, {"background", Cloglog, Binomial}, {"sum", Cloglog, Binomial}, {"plain", Logit, Binomial}, {"plain", Logit, BetaBinomial}} {
		rng := rand.New(rand.NewPCG(3, 4))
		d := randomData(rng, 2, c.kind)
		f, a := frameOf(t, d, c.link, c.fam)
		m := f.model(a, []int{0, 1}, c.fam == BetaBinomial)
		ws := newWorkspace(m)
		theta := make([]float64, m.dim())
		theta[m.q], theta[m.q+1] = math.Log(0.8), math.Log(0.5)
		got := newQuadrature(ws, 31).eval(theta)
		want := f.constant
		for s := 0; s < m.size[0]; s++ {
			want += math.Log(simpson(240, func(z float64) float64 {
				sum := 0.0
				for j, par := range m.parent[1] {
					if int(par) != s {
						continue
					}
					sum += math.Log(simpson(240, func(z2 float64) float64 {
						l := 0.0
						for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
							l += ws.term(int(i), ws.w[i]+0.8*z+0.5*z2).l
						}
						return l
					}))
				}
				return sum
			}))
		}
		if math.Abs(got-want) > 1e-6 {
			t.Errorf("%s link %d family %d: quadrature %.9f, brute force %.9f", c.kind, c.link, c.fam, got, want)
		}
		if one, lap := newQuadrature(ws, 1).eval(theta), ws.eval(theta, nil); math.Abs(one-lap) > 1e-9 {
			t.Errorf("%s: one node gives %.10f, Laplace %.10f", c.kind, one, lap)
		}
	}
}

// TestQuadraturePublished: cbpp at many nodes; the values are exact integrals
// made with R 4.2.2 (lme4 1.1-31 with 25 nodes for the SD, brute force for the
// log-likelihood, whose constants lme4 leaves out).
func TestQuadraturePublished(t *testing.T) {
	for _, c := range []struct {
		link       Link
		loglik, sd float64
	}{{Cloglog, -91.74519, 0.59031}, {Logit, -91.98337, 0.64752}} {
		r, err := Fit(cbpp(t), Options{Link: c.link, Quadrature: 25})
		if err != nil {
			t.Fatal(err)
		}
		if r.Ending != Converged || math.Abs(r.LogLik-c.loglik) > 2e-5 || math.Abs(r.Random[0].SD-c.sd) > 2e-5 {
			t.Errorf("link %d: %s loglik %.6f SD %.6f, want %.5f, %.5f", c.link, r.Ending, r.LogLik, r.Random[0].SD, c.loglik, c.sd)
		}
		lap, err := Fit(cbpp(t), Options{Link: c.link})
		if err != nil {
			t.Fatal(err)
		}
		if s, n := lap.LaplaceShift(15); n != nil || s == 0 {
			t.Errorf("link %d: shift %.4f called inaccurate on data where Laplace is good", c.link, s)
		}
	}
}
