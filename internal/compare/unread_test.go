package compare

import (
	"math"
	"math/rand/v2"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/rates"
)

// TestUnreadByHand: 10 baits; at 1 h 3 are consumed and 2 not read; at 24 h 7 are
// consumed. To 1 h: 3 of the 8 read. To 24 h: 4 consumed, of the 5 present at 1 h
// (hazard 23 b) and the 2 unread ones (a + 23 b), in all ways to split 4: the
// likelihood of a sum of two binomials, written out here.
func TestUnreadByHand(t *testing.T) {
	ds := []assay.Deployment{
		row("A", "s", "sand", 10, []float64{1, 24}, []int{3, 7}, nil, []int{2, 0}),
		row("B", "s", "sand", 25, []float64{1, 24}, []int{5, 15}, nil, nil),
	}
	r := run(t, ds, Options{Random: noSpread})
	logLik := func(a, b float64) float64 {
		p := func(h float64) float64 { return -math.Expm1(-h) }
		sum := 0.0
		for k := 2; k <= 4; k++ {
			sum += math.Exp(binomialLog(float64(k), 5, p(23*b)) + binomialLog(float64(4-k), 2, p(a+23*b)))
		}
		return binomialLog(3, 8, p(a)) + math.Log(sum) + binomialLog(5, 25, p(a)) + binomialLog(10, 20, p(23*b))
	}
	a := math.Exp(r.term(t, "baseline").Estimate.Or(0))
	b := a * math.Exp(r.term(t, "interval2").Estimate.Or(0))
	near(t, "loglik", r.LogLik, logLik(a, b), 1e-9)
	for _, f := range []float64{0.999, 1.001} {
		if logLik(a*f, b) > logLik(a, b) || logLik(a, b*f) > logLik(a, b) {
			t.Error("no maximum")
		}
	}
	if r.Intervals != 4 || r.Deployments != 2 {
		t.Errorf("%d intervals of %d rows", r.Intervals, r.Deployments)
	}
	c := run(t, ds, Options{Random: noSpread, Bands: "checks"})
	if !c.says("merged-intervals-left-out") || c.Intervals != 3 {
		t.Errorf("one effect a check: %d intervals, %+v", c.Intervals, c.Messages)
	}
}

// withUnread hides some baits of each row at the first check.
func withUnread(ds []assay.Deployment, rng *rand.Rand) []assay.Deployment {
	for i := range ds {
		c := ds[i].Checks
		u := rng.IntN(6)
		seen := 0 // consumed among the hidden ones
		for range u {
			if rng.IntN(ds[i].Baits) < c[0].Consumed.Or(0) {
				seen++
			}
		}
		seen = min(seen, c[0].Consumed.Or(0))
		c[0].Consumed, c[0].Unread = assay.Some(c[0].Consumed.Or(0)-seen), assay.Some(min(u, ds[i].Baits-c[0].Consumed.Or(0)+seen))
	}
	return ds
}

// TestUnreadLikelihoodIsThatOfRates: two rooms evaluate the likelihood of a season
// with unread baits, without random intercepts and with a ratio of one, each with
// code of its own.
func TestUnreadLikelihoodIsThatOfRates(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	ds := withUnread(truth{sites: 5, rows: 3, baits: 25, rates: map[string]float64{"sand": 0.3}, later: 0.2}.draw(rng), rng)
	r := run(t, ds, Options{Random: noSpread})
	a := math.Exp(r.term(t, "baseline").Estimate.Or(0))
	b := a * math.Exp(r.term(t, "interval2").Estimate.Or(0))
	want, late := 0.0, 0
	hazard := func(from, to float64) float64 {
		first := max(0, min(1, to)-min(1, from))
		return a*first + b*(to-from-first)
	}
	for i := range ds {
		ivs, _ := rates.Intervals(&ds[i], assay.BaitGone, assay.TetherGone)
		for _, iv := range ivs {
			hs := []float64{hazard(iv.FromH, iv.ToH)}
			for _, l := range iv.Late {
				hs = append(hs, hazard(l.FromH, iv.ToH))
				late++
			}
			want += iv.Split(hs, nil)
		}
	}
	if late < 5 {
		t.Fatalf("only %d intervals hold unread baits", late)
	}
	near(t, "loglik", r.LogLik, want, 1e-8)
	// and with intercepts, a covariate and a bootstrap it runs through
	r = run(t, ds, Options{Covariates: []string{"temp"}, By: "site", Bootstrap: 5})
	if !r.Converged || !r.Test.PBootstrap.Known() {
		t.Errorf("%s, %+v", r.Ending, r.Test)
	}
}
