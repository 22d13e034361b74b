package compare

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/assay"
)

// drawSmall is a season of a few sites with enough consumption to tell.
func drawSmall(t *rapid.T, exact bool) []assay.Deployment {
	s := truth{
		sites: rapid.IntRange(2, 5).Draw(t, "sites"), rows: rapid.IntRange(1, 2).Draw(t, "rows"), baits: 20,
		rates: map[string]float64{"reef": 0.3, "sand": 0.15, "weed": 0.2}, later: 0.2,
		site: 0.5, sh: 0.3, dep: 0.3, lost: 0.05,
	}
	if rapid.Bool().Draw(t, "two habitats") {
		delete(s.rates, "weed")
	}
	if exact {
		s.soaksH = func(*rand.Rand, string) []float64 { return []float64{1, 24} }
	}
	return s.draw(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
}

// property is a rapid check of few, costly cases.
func property(t *testing.T, f func(t *rapid.T)) {
	t.Helper()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		if n++; n > 12 { // each case fits several models
			return
		}
		f(t)
	})
}

// TestNominalIsChecksWhenOnTime: with every soak nominal and no merged interval
// the bands are the checks.
func TestNominalIsChecksWhenOnTime(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, true)
		same(t, run(t, ds, Options{}), run(t, ds, Options{Bands: "checks"}), 1e-8)
	})
}

func TestOrderChangesNothing(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, false)
		o := Options{Covariates: []string{"temp"}}
		a := run(t, ds, o)
		other := slices.Clone(ds)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 1)).Shuffle(len(other), func(i, j int) { other[i], other[j] = other[j], other[i] })
		same(t, a, run(t, other, o), 1e-8)
	})
}

// TestControlsAndPracticeChangeNothing: rows of either kind change no
// uncorrected result, to the byte.
func TestControlsAndPracticeChangeNothing(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, false)
		a := run(t, ds, Options{})
		more := slices.Clone(ds)
		for i, d := range drawSmall(t, false) {
			d.ID = "extra" + d.ID
			if i%2 == 0 {
				d.Control = assay.Shielded
			} else {
				d.Practice = assay.Some(true)
			}
			d.Habitat = "elsewhere"
			more = slices.Insert(more, rapid.IntRange(0, len(more)).Draw(t, "place"), d)
		}
		b := run(t, more, Options{})
		if len(b.Excluded) != len(more)-len(ds) {
			t.Fatalf("%d excluded", len(b.Excluded))
		}
		b.Excluded = a.Excluded
		b.Controls.Loss = a.Controls.Loss // the table of the control rows themselves
		if mustMarshal(t, a) != mustMarshal(t, b) {
			t.Fatal("rows that do not enter changed the result")
		}
	})
}

// TestReferenceAndNames: another reference level, or other names in another order,
// mirror the contrasts and leave means, likelihood and test alone.
func TestReferenceAndNames(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, false)
		a, b := run(t, ds, Options{}), run(t, ds, Options{Reference: "sand"})
		renamed := slices.Clone(ds)
		for i := range renamed {
			if renamed[i].Habitat == "reef" {
				renamed[i].Habitat = "zz reef"
			}
		}
		c := run(t, renamed, Options{})
		for k, other := range []*Result{b, c} {
			name := func(s string) string {
				if k == 1 && s == "reef" {
					return "zz reef"
				}
				return s
			}
			if math.Abs(a.LogLik.Or(0)-other.LogLik.Or(1)) > 1e-7 || math.Abs(a.Test.Chi2.Or(0)-other.Test.Chi2.Or(1)) > 1e-6 {
				t.Fatalf("loglik %v, %v", a.LogLik, other.LogLik)
			}
			for _, m := range a.Means {
				i := slices.IndexFunc(other.Means, func(n Mean) bool { return n.Level == name(m.Level) && n.SoakH == m.SoakH })
				if math.Abs(other.Means[i].Proportion.Or(9)-m.Proportion.Or(0)) > 1e-8 {
					t.Fatalf("mean of %s: %v, %v", m.Level, m, other.Means[i])
				}
			}
			for _, x := range a.Contrasts {
				found := false
				for _, y := range other.Contrasts {
					ratio := y.RateRatio.Or(0)
					if y.A == name(x.B) && y.B == name(x.A) {
						ratio = 1 / ratio
					} else if y.A != name(x.A) || y.B != name(x.B) {
						continue
					}
					found = true
					if math.Abs(math.Log(ratio/x.RateRatio.Or(0))) > 1e-6 || math.Abs(y.P.Or(9)-x.P.Or(0)) > 1e-5 {
						t.Fatalf("contrast %v, %v", x, y)
					}
				}
				if !found {
					t.Fatalf("no contrast for %s/%s", x.A, x.B)
				}
			}
		}
	})
}

// TestFarCovariate: a covariate shifted by 2026 gives the same fit; the baseline
// takes up the shift.
func TestFarCovariate(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, false)
		far := slices.Clone(ds)
		for i := range far {
			far[i].Covariates = map[string]string{"temp": "20" + far[i].Covariates["temp"]} // 15.3 becomes 2015.3
		}
		o := Options{Covariates: []string{"temp"}}
		a, b := run(t, ds, o), run(t, far, o)
		slope := a.term(t, "temp")
		near(t, "slope", b.term(t, "temp").Estimate, slope.Estimate.Or(0), 1e-6*(1+math.Abs(slope.Estimate.Or(0))))
		near(t, "its SE", b.term(t, "temp").SE, slope.SE.Or(0), 1e-4)
		near(t, "loglik", b.LogLik, a.LogLik.Or(0), 1e-7)
		near(t, "baseline", b.term(t, "baseline").Estimate, a.term(t, "baseline").Estimate.Or(0)-2000*slope.Estimate.Or(0), 2e-3)
		for i := range a.Means {
			near(t, "mean", b.Means[i].Proportion, a.Means[i].Proportion.Or(0), 1e-6)
		}
	})
}

// TestStakesAreCounts: fates bait by bait give what the counts give when no bait
// was unread.
func TestStakesAreCounts(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, false)
		byStake := slices.Clone(ds)
		for i := range byStake {
			byStake[i].Stakes = fatesOf(&ds[i])
		}
		same(t, run(t, ds, Options{}), run(t, byStake, Options{}), 1e-9)
	})
}

// fatesOf writes the counts as fates: first the consumed, last the lost.
func fatesOf(d *assay.Deployment) (all []assay.StakeFate) {
	for s := 1; s <= d.Baits; s++ {
		for _, c := range d.Checks {
			f := assay.StakeFate{Stake: s, Check: c.Number, Fate: assay.Present}
			switch {
			case s <= c.Consumed.Or(0):
				f.Fate, f.How = assay.Consumed, assay.BaitGone
			case s > d.Baits-c.Lost.Or(0):
				f.Fate = assay.Lost
			}
			all = append(all, f)
		}
	}
	return all
}

// TestSplittingAnInterval: a check that finds what the next one finds anyway adds
// nothing where the bands stay: a visit at 24 h and nothing consumed after it.
func TestAddedCheckWithoutCounts(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, true)
		other := slices.Clone(ds)
		for i := range other { // a planned visit that was not made
			other[i].Checks = append(slices.Clone(other[i].Checks), assay.Check{Number: 3, WhyNot: "weather"})
		}
		same(t, run(t, ds, Options{}), run(t, other, Options{}), 1e-9)
	})
}

// TestBootstrapDoesNotDependOnCores: the same seed gives the same bytes with one
// worker and with three, and another seed gives others.
func TestBootstrapDoesNotDependOnCores(t *testing.T) {
	ds := truth{sites: 4, rows: 2, baits: 15, rates: map[string]float64{"reef": 0.3, "sand": 0.2}, later: 0.2, site: 0.4, dep: 0.3, lost: 0.1}.
		draw(rand.New(rand.NewPCG(5, 1)))
	o := Options{Bootstrap: 19, Seed: 7, Workers: 1}
	a := mustMarshal(t, run(t, ds, o))
	o.Workers = 3
	if b := mustMarshal(t, run(t, ds, o)); a != b {
		t.Error("one worker and three differ")
	}
	// p is a count over B + 1
	r := run(t, ds, o)
	for _, p := range []assay.Maybe[float64]{r.Test.PBootstrap, r.Contrasts[0].PBootstrap} {
		if v, ok := p.Get(); !ok || math.Abs(v*20-math.Round(v*20)) > 1e-9 || v < 0.05-1e-9 || v > 1 {
			t.Errorf("bootstrap p = %v", p)
		}
	}
	if o.Bootstrap = 0; run(t, ds, o).Test.PBootstrap.Known() {
		t.Error("a bootstrap p without a bootstrap")
	}
}

func TestCancel(t *testing.T) {
	ds := truth{sites: 4, rows: 2, baits: 15, rates: map[string]float64{"reef": 0.3, "sand": 0.2}, later: 0.2, site: 0.4}.
		draw(rand.New(rand.NewPCG(5, 1)))
	ctx, cancel := context.WithCancel(context.Background())
	told := 0
	_, err := Run(ctx, ds, Options{Bootstrap: 100000, Workers: 2, Progress: func(done, of int) {
		if told++; done >= 3 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) || told > 50 {
		t.Errorf("err %v after %d", err, told)
	}
	if !strings.Contains(err.Error(), "stopped") {
		t.Errorf("%v does not say that it stopped", err)
	}
	if _, err := Run(ctx, ds, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled comparison gave %v", err)
	}
}
