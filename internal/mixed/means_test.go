package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestMeanAgainstSimpson: the integral over the intercepts on a fine grid, and
// the limits' standard error by numerical differences of the whole function.
func TestMeanAgainstSimpson(t *testing.T) {
	for _, link := range []Link{Cloglog, Logit} {
		d := season(3, 96, [3]float64{0.6, 0.3, 0.4})
		r, err := Fit(d, Options{Link: link})
		must(t, err)
		ps := []Piece{{Exposure: 1, X: []float64{1, 0, 1, 20}}}
		if link == Cloglog {
			ps = append(ps, Piece{Exposure: 23, X: []float64{1, 1, 1, 20}})
		}
		m := r.Mean(ps)
		s := 0.0
		for _, v := range r.Random {
			s += v.SD * v.SD
		}
		s = math.Sqrt(s)
		want := simpson(600, func(z float64) float64 {
			a, _ := hazards(ps, r.beta)
			return math.Log(r.probability(a*math.Exp(s*z), 0))
		})
		if math.Abs(m.Proportion-want) > 1e-8 || !(m.Lower < want && want < m.Upper) {
			t.Errorf("link %d: %+v, want %.10f", link, m, want)
		}
		// delta method by differences of the link of the proportion in θ
		scale := func(p float64) float64 {
			if link == Logit {
				return math.Log(p / (1 - p))
			}
			return math.Log(-math.Log1p(-p))
		}
		f := r.fit
		g := make([]float64, len(f.theta))
		for i := range g {
			at := func(h float64) float64 {
				c := &fitted{m: f.m, theta: append([]float64(nil), f.theta...)}
				c.theta[i] += h
				return scale(r.meanAt(ps, c.beta(), c.sds()).Proportion)
			}
			g[i] = (at(1e-5) - at(-1e-5)) / 2e-5
		}
		se := math.Sqrt(quadForm(r.cov, g, g))
		if got := (scale(m.Upper) - scale(m.Lower)) / (2 * 1.959963984540054); math.Abs(got-se) > 1e-6*se {
			t.Errorf("link %d: se %.8f, differences give %.8f", link, got, se)
		}
	}
}

// TestBackground: control rows carry the background alone, the others both;
// without intercepts and with one rate each the answer is by hand: H_c =
// −log(1 − 10/50), H_both = −log(1 − 50/100), so the rest is ln(0.8/0.5) = ln 1.6.
func TestBackground(t *testing.T) {
	d := NewData([]string{"control", "consumers"}, []string{"site"})
	for s := 0; s < 2; s++ {
		must(t, d.Add(5, 25, []int{s}, Piece{Exposure: 1, X: []float64{1, 0}, Background: true}))
		must(t, d.Add(25, 50, []int{s}, Piece{Exposure: 1, X: []float64{1, 0}, Background: true}, Piece{Exposure: 1, X: []float64{0, 1}}))
	}
	r, err := Fit(d, Options{})
	must(t, err)
	if math.Abs(r.Fixed[0].Estimate-math.Log(-math.Log(0.8))) > 1e-6 || math.Abs(r.Fixed[1].Estimate-math.Log(math.Log(1.6))) > 1e-6 {
		t.Errorf("%s %+v", r.Ending, r.Fixed)
	}
	// variance of H_both − H_c by hand: p/(n(1−p)) each
	h := math.Log(1.6)
	se := math.Sqrt(0.5/(100*0.5)+0.2/(50*0.8)) / h
	if math.Abs(r.Fixed[1].SE-se) > 1e-5 {
		t.Errorf("se %.7f, by hand %.7f", r.Fixed[1].SE, se)
	}

	// More loss in the controls than outside: the consumers' hazard is zero with
	// a one-sided bound, the control's is that of all trials together.
	d = NewData([]string{"control", "consumers"}, nil)
	must(t, d.Add(20, 50, nil, Piece{Exposure: 1, X: []float64{1, 0}, Background: true}))
	must(t, d.Add(10, 50, nil, Piece{Exposure: 1, X: []float64{1, 0}, Background: true}, Piece{Exposure: 1, X: []float64{0, 1}}))
	r, err = Fit(d, Options{})
	must(t, err)
	if c := r.Fixed[1]; r.Ending != Separation || !c.Separated || c.Bound != UpperOnly || !(c.Upper < 0) {
		t.Errorf("%s %+v", r.Ending, c)
	}
	if math.Abs(r.Fixed[0].Estimate-math.Log(-math.Log(0.7))) > 1e-5 {
		t.Errorf("control %+v, want 30 of 100", r.Fixed[0])
	}
}

// TestNothingAndEverything: one level without events, one with nothing but
// events: every term runs away and the likelihood's supremum is 1.
func TestNothingAndEverything(t *testing.T) {
	var d [2]*Data
	d[0], d[1] = NewData([]string{"one", "b"}, nil), NewData([]string{"one", "b"}, []string{"site"})
	for s := 0; s < 4; s++ {
		x := []float64{1, float64(s % 2)}
		must(t, d[0].Add(5*(s%2), 5, nil, Piece{Exposure: 1, X: x}))
		must(t, d[1].Add(5*(s%2), 5, []int{s}, Piece{Exposure: 1, X: x}))
	}
	r, err := Fit(d[0], Options{})
	must(t, err)
	if r.Ending != Separation || math.Abs(r.LogLik) > 1e-9 || !r.Fixed[0].Separated || !r.Fixed[1].Separated {
		t.Errorf("%s %v %+v", r.Ending, r.LogLik, r.Fixed)
	}
	// by hand: at rate h of the first level the likelihood is exp(−10h), the
	// other level at its limit of 1
	if w := math.Log(-math.Log(0.05) / 10); math.Abs(r.Fixed[0].Upper-w) > 1e-6 || r.Fixed[0].Bound != UpperOnly {
		t.Errorf("%+v, want upper %.6f", r.Fixed[0], w)
	}
	// the bound of b: max over h of −10h + 10 log(1 − exp(−h·e^b)) is log 0.05
	best := math.Inf(-1)
	for h := 1e-4; h < 3; h *= 1.0005 {
		best = math.Max(best, -10*h+10*log1mexp(h*math.Exp(r.Fixed[1].Lower)))
	}
	if math.Abs(best-math.Log(0.05)) > 1e-5 || r.Fixed[1].Bound != LowerOnly {
		t.Errorf("%+v: log-likelihood there %.6f, want %.6f", r.Fixed[1], best, math.Log(0.05))
	}
	// With a random intercept of unknown SD half of the sites may be without
	// events at any rate: the likelihood of the two never falls below ¼, so
	// these four sites bound nothing, and that is said.
	r, err = Fit(d[1], Options{})
	must(t, err)
	if r.Ending != Separation || r.Fixed[0].Bound != NoBound || r.Notices[len(r.Notices)-1].Slug != SlugBoundNotFound {
		t.Errorf("%s %+v %+v", r.Ending, r.Fixed, r.Notices)
	}
}

// TestNeverBelowSubModel: random small data, from nearly no spread to much; no
// model with an SD fixed at zero may have a higher likelihood than the answer,
// whatever the start.
func TestNeverBelowSubModel(t *testing.T) {
	for seed := uint64(1); seed <= 30; seed++ {
		rng := rand.New(rand.NewPCG(seed, 77))
		var sd [3]float64
		for k := range sd {
			if rng.IntN(2) == 0 {
				sd[k] = rng.Float64()
			}
		}
		d := season(seed, 32, sd)
		r, err := Fit(d, Options{})
		must(t, err)
		if !r.Ending.Usable() {
			t.Errorf("seed %d: %s", seed, r.Ending)
			continue
		}
		f := r.fit.m.frame
		c := &climber{f: f, a: affine{r.fit.m.base, r.fit.m.toBeta, r.fit.m.q}, nodes: 1, tol: 1e-10}
		for mask := 0; mask < 8; mask++ {
			var act []int
			for k := 0; k < 3; k++ {
				if mask>>k&1 == 1 {
					act = append(act, k)
				}
			}
			for _, s := range []float64{0.05, 0.4, 1.5} {
				m := f.model(c.a, act, false)
				theta := append([]float64(nil), r.fit.theta[:m.q]...)
				for range act {
					theta = append(theta, math.Log(s))
				}
				if sub := c.climb(m, theta, 1e-10, nil); sub.value > r.LogLik+2e-5 {
					t.Errorf("seed %d: levels %v from SD %v reach %.8f, the fit %.8f (%s %+v)", seed, act, s, sub.value, r.LogLik, r.Ending, r.Random)
				}
			}
		}
	}
}
