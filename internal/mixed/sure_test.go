package mixed

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// unevenSeason draws rows of 5 to 30 trials at sites of 2 to 8 rows, three habitats, with
// SDs of 0.3 to 1.5 and rates from rare to nearly all.
func unevenSeason(seed uint64, sites int) *Data {
	rng := rand.New(rand.NewPCG(seed, 77))
	d := NewData([]string{"baseline", "interval2", "b", "c"}, []string{"site", "site-habitat", "deployment"})
	sd := [3]float64{0.3 + 1.2*rng.Float64(), 0.3 + rng.Float64(), 0.3 + rng.Float64()}
	level, id := -4+3*rng.Float64(), 0
	for s := range sites {
		site := sd[0] * rng.NormFloat64()
		var sh [3]float64
		for h := range sh {
			sh[h] = sd[1] * rng.NormFloat64()
		}
		for range 2 + rng.IntN(7) {
			h := rng.IntN(3)
			u := site + sh[h] + sd[2]*rng.NormFloat64()
			r := 5 + rng.IntN(26)
			for k, dt := range []float64{1 + rng.Float64(), 22 + 2*rng.Float64()} {
				x := []float64{1, float64(k), 0, 0}
				if h > 0 {
					x[1+h] = 1
				}
				y := 0
				for range r {
					if rng.Float64() < -math.Expm1(-dt*math.Exp(level-float64(k)+0.6*float64(h)+u)) {
						y++
					}
				}
				if err := d.Add(y, r, []int{s, h, id}, Piece{Exposure: dt, X: x}); err != nil {
					panic(err)
				}
				r -= y
			}
			id++
		}
	}
	return d
}

// TestSureIsHighest: where a climb is taken as sure, the climb from every start and into
// every sub-model ends no higher, and at the same place. The search with every start
// is the independent method.
func TestSureIsHighest(t *testing.T) {
	sure := 0
	for seed := range uint64(24) {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			d := unevenSeason(seed, 24+int(seed)*4)
			a, err := Fit(d, Options{})
			must(t, err)
			b, err := Fit(d, Options{every: true})
			must(t, err)
			if a.Evaluations == b.Evaluations {
				return // nothing was sure
			}
			sure++
			if math.Abs(a.LogLik-b.LogLik) > 1e-7 {
				t.Errorf("%.9f, from every start %.9f", a.LogLik, b.LogLik)
			}
			for j := range a.Fixed {
				x, y := a.Fixed[j], b.Fixed[j]
				if math.Abs(x.Estimate-y.Estimate) > 1e-5*x.SE || math.Abs(x.SE-y.SE) > 1e-5*x.SE {
					t.Errorf("%s %v (%v), from every start %v (%v)", x.Name, x.Estimate, x.SE, y.Estimate, y.SE)
				}
			}
			n, err := a.Without("b", "c")
			must(t, err)
			o, err := b.Without("b", "c")
			must(t, err)
			if math.Abs(n.LogLik-o.LogLik) > 1e-7 {
				t.Errorf("without: %.9f, from every start %.9f", n.LogLik, o.LogLik)
			}
		})
	}
	if sure < 8 {
		t.Errorf("only %d of 24 were sure", sure)
	}
}

// TestQuickLog: the library's logarithm.
func TestQuickLog(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200000 {
		x := math.Exp(30 * (2*rng.Float64() - 1))
		if w := math.Log(x); math.Abs(quickLog(x)-w) > 4e-16*math.Max(1, math.Abs(w)) {
			t.Fatalf("log %v: %v, want %v", x, quickLog(x), w)
		}
	}
	for _, x := range []float64{1, 2, 0.5, 1 - 1e-16, 1 + 1e-15, 1.9999999999999998} {
		if math.Abs(quickLog(x)-math.Log(x)) > 4e-16 {
			t.Errorf("log %v: %v, want %v", x, quickLog(x), math.Log(x))
		}
	}
	xs := []float64{1, 3e150, 2e80, 5, 1e-210, 7}
	want := 0.0
	for _, x := range xs {
		want += math.Log(x)
	}
	if got := logProduct(xs); math.Abs(got-want) > 1e-12*math.Abs(want) {
		t.Errorf("product %v, want %v", got, want)
	}
}

// TestModeFromNearby: an evaluation that starts from the mode of another place gives what
// one from nothing gives.
func TestModeFromNearby(t *testing.T) {
	for _, d := range []*Data{season(3, 80, [3]float64{0.6, 0.4, 0.5}), unevenSeason(5, 30)} {
		r, err := Fit(d, Options{})
		must(t, err)
		m := r.fit.m
		ws, fresh := newWorkspace(m), newWorkspace(m)
		n := len(r.fit.theta)
		g, h := make([]float64, n), make([]float64, n)
		rng := rand.New(rand.NewPCG(4, 4))
		for range 20 {
			th := append([]float64(nil), r.fit.theta...)
			for i := range th {
				th[i] += 0.2 * rng.NormFloat64()
			}
			fresh.reset()
			a, b := ws.eval(th, g), fresh.eval(th, h)
			if math.Abs(a-b) > 1e-9 {
				t.Errorf("%.12f from nearby, %.12f from nothing", a, b)
			}
			for i := range g {
				if math.Abs(g[i]-h[i]) > 1e-6*(1+math.Abs(h[i])) {
					t.Errorf("gradient %v from nearby, %v from nothing", g, h)
				}
			}
		}
	}
}
