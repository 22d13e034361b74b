package fitness

import (
	"context"
	"math"
	"slices"
	"sort"
	"testing"

	"soakline/internal/compare"
)

// model is a season that the fitted model is true of.
var model = Truth{Sites: 8, RowsPerHabitat: 2, Baits: 25, SDSite: 0.4, SDSiteHabitat: 0.3, SDDeployment: 0.4}

func lookAt(t *testing.T, truth Truth, rep, refits int) *Result {
	t.Helper()
	r, err := Look(context.Background(), truth.Season(7, rep), compare.Options{Seed: uint64(rep)}, Options{Seasons: 199, Refits: refits, Seed: uint64(rep)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func pOf(t *testing.T, r *Result, slug string) float64 {
	t.Helper()
	v, ok := r.Test(slug)
	q, known := v.P.Get()
	if !ok || !known {
		t.Fatalf("no test %s: %+v", slug, v)
	}
	return q
}

// Where the model is true, no test rejects more often than it says. 120 seasons
// at 5 %: 6 expected, 14 or more in one of a thousand (binomial, 1 − F(13) =
// 0.0021). The residuals of simulated reference seasons carry estimated
// parameters, so fewer are expected.
func TestTestsKeepTheirSize(t *testing.T) {
	truth := model
	truth.Stakes = true
	rejected, n, err := Study(context.Background(), truth, Options{Seasons: 99, Seed: 3}, 120, 0.05)
	if err != nil {
		t.Fatal(err)
	}
	for _, slug := range []string{Uniform, EarlyLate, Extra, Runs, Date, TimeOfDay, Distance} {
		if n[slug] < 110 {
			t.Errorf("%s was made in %d of 120 seasons", slug, n[slug])
		}
		if rejected[slug] > 13 {
			t.Errorf("%s rejects in %d of %d seasons of its own model", slug, rejected[slug], n[slug])
		}
		t.Log(slug, rejected[slug], n[slug])
	}
}

// The test of extra variation keeps its size by its refits: with 19 of them p is
// at most 1/20 in one of 20 seasons. 40 seasons: 2 expected, 8 or more in one of
// a thousand (1 − F(7) = 0.0007).
func TestExtraKeepsItsSize(t *testing.T) {
	truth := model
	truth.Sites = 6
	rejected, n, err := Study(context.Background(), truth, Options{Seasons: 99, Refits: 19, Seed: 4}, 40, 0.0500001)
	if err != nil {
		t.Fatal(err)
	}
	for _, slug := range []string{Extra, Dispersion} {
		t.Log(slug, rejected[slug], n[slug])
		if n[slug] < 38 || rejected[slug] > 7 {
			t.Errorf("%s rejects in %d of %d seasons of its own model", slug, rejected[slug], n[slug])
		}
	}
}

// Residuals of many seasons from the model, one drawn row of each, so that they
// are independent, are uniform: Kolmogorov's distance under its limit for p =
// 0.001, 1.95/√n (Massey 1951, J. Am. Stat. Assoc. 46:68–78, from memory). Row
// residuals are looked at as well as a check's.
func TestResidualsAreUniform(t *testing.T) {
	var check, row []float64
	for rep := range 150 {
		r := lookAt(t, model, rep, 0)
		check = append(check, r.Residuals[(rep*5)%len(r.Residuals)].Residual)
		row = append(row, r.Rows[(rep*3)%len(r.Rows)].Residual)
	}
	for name, u := range map[string][]float64{"check": check, "row": row} {
		if d := kolmogorov(u); d > 1.95/math.Sqrt(float64(len(u))) {
			t.Errorf("%s residuals: distance %g from the straight line", name, d)
		}
		if u[0] < 0 || u[len(u)-1] > 1 {
			t.Errorf("%s residuals lie outside 0 to 1", name)
		}
	}
}

// Each planted fault is found by its own test, in the middle of five seasons at
// least.
func TestPlantedFaultsAreFound(t *testing.T) {
	with := func(change func(*Truth)) Truth {
		truth := model
		change(&truth)
		return truth
	}
	for _, c := range []struct {
		slug   string
		truth  Truth
		refits int
		most   float64
	}{
		{Extra, with(func(x *Truth) { x.SDInterval = 1 }), 39, 0.0251},
		{Dispersion, with(func(x *Truth) { x.SDInterval = 1 }), 39, 0.0251},
		// The second habitat's first check was made 1 h later than written; over 25 such
		// seasons the middle p was 0.02 to 0.035 by how the residuals were drawn.
		{EarlyLate, with(func(x *Truth) { x.ReadLateH, x.RatePerH, x.RateLaterPerH = 1, 0.04, 0.04 }), 0, 0.05},
		{Date, with(func(x *Truth) { x.PerDay, x.SDSite = 0.05, 0.2 }), 0, 0.02},
		{Distance, with(func(x *Truth) { x.PerKm, x.Sites, x.SDSite = 0.08, 14, 0.1 }), 0, 0.02},
		{Runs, with(func(x *Truth) { x.Stakes, x.Clumped = true, true }), 0, 1e-6},
	} {
		var ps []float64
		for rep := range 5 {
			ps = append(ps, pOf(t, lookAt(t, c.truth, rep, c.refits), c.slug))
		}
		sort.Float64s(ps)
		t.Log(c.slug, ps)
		if ps[2] > c.most {
			t.Errorf("%s: p of five seasons with the fault %v; the middle should be %g at most", c.slug, ps, c.most)
		}
	}
}

// The same seed gives the same look on one core and on two, and another seed another.
func TestSameSeedSameLook(t *testing.T) {
	at := func(seed uint64, workers int) *Result {
		r, err := Look(context.Background(), model.Season(1, 1), compare.Options{Seed: 1}, Options{Seasons: 99, Refits: 9, Seed: seed, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	a, b, c := at(1, 1), at(1, 2), at(2, 1)
	for i := range a.Tests {
		if a.Tests[i].P != b.Tests[i].P {
			t.Errorf("%s: p %v on one core, %v on two", a.Tests[i].Slug, a.Tests[i].P, b.Tests[i].P)
		}
	}
	same := func(x, y *Result) bool {
		return slices.EqualFunc(x.Residuals, y.Residuals, func(v, w Residual) bool { return v == w })
	}
	if !same(a, b) || same(a, c) {
		t.Error("residuals do not follow the seed alone")
	}
}
