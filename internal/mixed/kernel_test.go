package mixed

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestKernels: every derivative of every likelihood term against central
// differences of the one before, and the series against the closed form where
// they meet.
func TestKernels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := float64(rapid.IntRange(1, 30).Draw(t, "r"))
		y := float64(rapid.IntRange(0, int(r)).Draw(t, "y"))
		v := rapid.Float64Range(-9, 2.5).Draw(t, "v")
		s := rapid.Float64Range(-6, 1.5).Draw(t, "s")
		kinds := map[string]func(v, s float64) term{
			"cloglog":      func(v, _ float64) term { return cloglogTerm(y, r, v) },
			"logit":        func(v, _ float64) term { return logitTerm(y, r, v) },
			"background":   func(v, s float64) term { return backgroundTerm(y, r, v, math.Exp(s)) },
			"beta-logit":   func(v, s float64) term { return betaBinomialTerm(Logit, y, r, v, math.Exp(s)) },
			"beta-cloglog": func(v, s float64) term { return betaBinomialTerm(Cloglog, y, r, v, math.Exp(s)) },
		}
		for name, f := range kinds {
			const h = 1e-5
			k, a, b := f(v, s), f(v+h, s), f(v-h, s)
			c, d := f(v, s+h), f(v, s-h)
			near := func(what string, got, up, down, size float64) {
				if num := (up - down) / (2 * h); math.Abs(got-num) > 1e-5*(1+math.Abs(num)+math.Abs(size)) {
					t.Errorf("%s y=%v r=%v v=%v s=%v: %s %.10g, differences %.10g", name, y, r, v, s, what, got, num)
				}
			}
			near("first", k.v, a.l, b.l, k.l)
			near("second", k.vv, a.v, b.v, k.v)
			near("third", k.vvv, a.vv, b.vv, k.vv)
			if name != "cloglog" && name != "logit" {
				near("s", k.s, c.l, d.l, k.l)
				near("sv", k.sv, c.v, d.v, k.v)
				near("svv", k.svv, c.vv, d.vv, k.vv)
			}
		}
	})
	for _, h := range []float64{1e-9, 0.01, 0.1, smallHazard - 1e-9, smallHazard + 1e-9, math.Ln2, 3, 30, 800} {
		l, q, m := logAndQ(math.Log(h), h)
		wq := h / math.Expm1(h) // the closed forms, by other functions
		if math.Abs(l-log1mexp(h)) > 1e-14*(1+math.Abs(l)) || math.Abs(q-wq) > 1e-14 || math.Abs(m-(1-h-wq)) > 1e-13 {
			t.Errorf("h=%v: %v %v %v", h, l, q, m)
		}
	}
	// values: y = 2 of 3 at h = ln 2: 3 log ½ (by hand)
	if k := cloglogTerm(2, 3, math.Log(math.Ln2)); math.Abs(k.l-3*math.Log(0.5)) > 1e-15 {
		t.Errorf("%v", k.l)
	}
	// 1 of 2 with Beta(1, 1): uniform over 0, 1, 2, so 1/3 = 2·½·½/… ; here
	// without its coefficient 2: log(1/6); μ = ½, κ = 1/2
	if k := betaBinomialTerm(Logit, 1, 2, 0, 0.5); math.Abs(k.l-math.Log(1.0/6)) > 1e-15 {
		t.Errorf("%v", math.Exp(k.l))
	}
}

// TestGradientProperty: the gradient of Laplace's approximation, at random θ on
// random trees, against central differences of the value.
func TestGradientProperty(t *testing.T) {
	kinds := []struct {
		kind string
		link Link
		fam  Family
	}{{"plain", Cloglog, Binomial}, {"multi", Cloglog, Binomial}, {"background", Cloglog, Binomial},
		{"plain", Logit, Binomial}, {"plain", Logit, BetaBinomial}, {"multi", Cloglog, BetaBinomial}}
	rapid.Check(t, func(rt *rapid.T) {
		c := kinds[rapid.IntRange(0, len(kinds)-1).Draw(rt, "kind")]
		levels := rapid.IntRange(1, 3).Draw(rt, "levels")
		d := randomData(stream(rapid.Uint64().Draw(rt, "seed"), 99, 0), levels, c.kind)
		f, a := frameOf(t, d, c.link, c.fam)
		act := make([]int, levels)
		for k := range act {
			act[k] = k
		}
		m := f.model(a, act, c.fam == BetaBinomial)
		ws := newWorkspace(m)
		theta := make([]float64, m.dim())
		for i := range theta {
			theta[i] = rapid.Float64Range(-0.8, 0.8).Draw(rt, "theta")
		}
		grad := make([]float64, len(theta))
		if math.IsInf(ws.eval(theta, grad), -1) {
			return
		}
		for i := range theta {
			// Richardson's extrapolation: central differences alone are off by
			// h²/6 of the third derivative, which can be large.
			difference := func(h float64) float64 {
				th := append([]float64(nil), theta...)
				th[i] += h
				up := ws.eval(th, nil)
				th[i] -= 2 * h
				return (up - ws.eval(th, nil)) / (2 * h)
			}
			const h = 1e-4
			num := (4*difference(h/2) - difference(h)) / 3
			if math.Abs(num-grad[i]) > 2e-5*(1+math.Abs(num)) {
				rt.Errorf("%v, %d levels, θ[%d]: gradient %.8f, differences %.8f", c, levels, i, grad[i], num)
			}
		}
	})
}
