package compare

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"time"

	"soakline/internal/assay"
)

var setOut = time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)

// tester is what *testing.T and *rapid.T share.
type tester interface {
	Helper()
	Fatal(args ...any)
	Fatalf(format string, args ...any)
	Errorf(format string, args ...any)
}

func at(h float64) assay.Moment {
	return assay.Moment{At: setOut.Add(time.Duration(math.Round(h*3600)) * time.Second)}
}

// row is a deployment of n baits read at the soaks; lost and unread may be nil.
func row(id, site, habitat string, n int, soaksH []float64, consumed, lost, unread []int) assay.Deployment {
	d := assay.Deployment{ID: id, Site: site, Habitat: habitat, SetOut: at(0), Baits: n, Covariates: map[string]string{}}
	for k, h := range soaksH {
		c := assay.Check{Number: k + 1, At: at(h), Consumed: assay.Some(consumed[k]), Lost: assay.Some(0)}
		if lost != nil {
			c.Lost = assay.Some(lost[k])
		}
		if unread != nil {
			c.Unread = assay.Some(unread[k])
		}
		d.Checks = append(d.Checks, c)
	}
	return d
}

// truth is a season to be drawn.
type truth struct {
	sites, rows, baits int
	rates              map[string]float64 // 1/h in the first hour, by habitat
	later              float64            // rate after the first hour over the rate in it
	site, sh, dep      float64            // SDs
	soaksH             func(rng *rand.Rand, habitat string) []float64
	lost               float64 // share of the baits present lost before the second check
	between            bool    // one habitat a site
}

func usual(rng *rand.Rand, _ string) []float64 {
	return []float64{0.9 + 0.3*rng.Float64(), 22 + 4*rng.Float64()}
}

// draw simulates bait by bait: each has its time of consumption from the
// piecewise constant rate, independently of the code under test.
func (s truth) draw(rng *rand.Rand) []assay.Deployment {
	if s.soaksH == nil {
		s.soaksH = usual
	}
	var ds []assay.Deployment
	habitats := make([]string, 0, len(s.rates))
	for h := range s.rates {
		habitats = append(habitats, h)
	}
	slices.Sort(habitats)
	for i := range s.sites {
		us := s.site * rng.NormFloat64()
		for j, h := range habitats {
			if s.between && j != i%len(habitats) {
				continue
			}
			uh := s.sh * rng.NormFloat64()
			for range s.rows {
				u := us + uh + s.dep*rng.NormFloat64()
				soaks := s.soaksH(rng, h)
				c, l := make([]int, len(soaks)), make([]int, len(soaks))
				for range s.baits {
					when := timeOf(rng.ExpFloat64(), s.rates[h]*math.Exp(u), s.later)
					lostAt := math.Inf(1)
					if rng.Float64() < s.lost {
						lostAt = (soaks[0] + soaks[len(soaks)-1]) / 2
					}
					for k, t := range soaks {
						switch {
						case when <= math.Min(t, lostAt):
							c[k]++
						case lostAt <= t:
							l[k]++
						}
					}
				}
				d := row(fmt.Sprintf("D%03d", len(ds)+1), fmt.Sprintf("s%02d", i+1), h, s.baits, soaks, c, l, nil)
				d.Covariates["temp"] = strconv.FormatFloat(math.Round(100*(15+5*rng.Float64()))/100, 'f', -1, 64)
				ds = append(ds, d)
			}
		}
	}
	return ds
}

// timeOf is the time at which the cumulative hazard reaches e, the rate being
// rate for an hour and later times that after it.
func timeOf(e, rate, later float64) float64 {
	if e <= rate {
		return e / rate
	}
	return 1 + (e-rate)/(rate*later)
}

func run(t tester, ds []assay.Deployment, o Options) *Result {
	t.Helper()
	o.NoRepeat = true
	r, err := Run(context.Background(), ds, o)
	if err != nil {
		t.Fatal(err)
	}
	mustMarshal(t, r)
	return r
}

// mustMarshal fails on NaN and infinity, which JSON has no word for.
func mustMarshal(t tester, r *Result) string {
	t.Helper()
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func (r *Result) term(t tester, name string) Term {
	t.Helper()
	for _, f := range r.Fixed {
		if f.Term == name {
			return f
		}
	}
	t.Fatalf("no term %s among %v", name, r.Fixed)
	return Term{}
}

func (r *Result) says(slug string) bool {
	for _, m := range r.Messages {
		if m.Slug == slug {
			return true
		}
	}
	return false
}

func near(t tester, what string, got assay.Maybe[float64], want, tol float64) {
	t.Helper()
	v, ok := got.Get()
	if !ok || !(math.Abs(v-want) <= tol) {
		t.Errorf("%s = %v (known %v), want %.10g", what, v, ok, want)
	}
}

func missing(t tester, what string, got assay.Maybe[float64]) {
	t.Helper()
	if v, ok := got.Get(); ok {
		t.Errorf("%s = %v, want none", what, v)
	}
}

// same fails unless two results hold the same numbers to tol, log-likelihood,
// terms, spreads, means and contrasts, by name.
func same(t tester, a, b *Result, tol float64) {
	t.Helper()
	close := func(what string, x, y assay.Maybe[float64], tol float64) {
		t.Helper()
		u, okU := x.Get()
		v, okV := y.Get()
		if okU != okV || okU && math.Abs(u-v) > tol*(1+math.Abs(u)) {
			t.Fatalf("%s: %v (%v) and %v (%v)", what, u, okU, v, okV)
		}
	}
	close("loglik", a.LogLik, b.LogLik, tol)
	if len(a.Fixed) != len(b.Fixed) || len(a.Random) != len(b.Random) || len(a.Means) != len(b.Means) || len(a.Contrasts) != len(b.Contrasts) {
		t.Fatalf("tables differ in length")
	}
	for _, f := range a.Fixed {
		g := b.term(t, f.Term)
		// an estimate moves by its SE times the root of what the climb left over
		loose := tol * (1 + 100*f.SE.Or(0))
		close(f.Term, f.Estimate, g.Estimate, loose)
		close("SE of "+f.Term, f.SE, g.SE, 100*tol)
	}
	for i := range a.Random {
		close("SD of "+a.Random[i].Group, a.Random[i].SD, b.Random[i].SD, 1e3*tol)
	}
	for _, m := range a.Means {
		i := slices.IndexFunc(b.Means, func(n Mean) bool { return n.Level == m.Level && n.SoakH == m.SoakH })
		close("mean of "+m.Level, m.Proportion, b.Means[i].Proportion, 10*tol)
	}
}
