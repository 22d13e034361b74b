package compare

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// season is an ordinary one, from which the hard cases are cut.
func season(seed uint64) []assay.Deployment {
	return truth{sites: 6, rows: 2, baits: 25, rates: map[string]float64{"reef": 0.35, "sand": 0.12}, later: 0.2,
		site: 0.4, sh: 0.2, dep: 0.3, lost: 0.05}.draw(rand.New(rand.NewPCG(seed, 3)))
}

// counts sets the consumed baits of a row, nothing lost.
func counts(d *assay.Deployment, consumed ...int) {
	d.Checks = slices.Clone(d.Checks)
	for k := range d.Checks {
		d.Checks[k].Consumed, d.Checks[k].Lost = assay.Some(consumed[k]), assay.Some(0)
	}
}

// TestLevelWithoutConsumption: the rows of a third habitat, in which nothing was
// consumed, leave likelihood-ratio statements to that level and do not touch what
// the other two have between them: its hazard is zero at the supremum, so the
// likelihood is that of the other rows alone.
func TestLevelWithoutConsumption(t *testing.T) {
	ds := season(1)
	alone := run(t, ds, Options{})
	for i := range 6 {
		d := row("Z"+strconv.Itoa(i), ds[4*i].Site, "weed", 25, []float64{1, 24}, []int{0, 0}, nil, nil)
		ds = append(ds, d)
	}
	r := run(t, ds, Options{})
	if r.Ending != "separation" || !r.Converged {
		t.Fatalf("ended %s", r.Ending)
	}
	near(t, "loglik", r.LogLik, alone.LogLik.Or(0), 1e-6)
	for _, f := range alone.Fixed {
		near(t, f.Term, r.term(t, f.Term).Estimate, f.Estimate.Or(0), 1e-5)
		near(t, "SE of "+f.Term, r.term(t, f.Term).SE, f.SE.Or(0), 1e-4)
	}
	weed := r.term(t, "habitat=weed")
	missing(t, "estimate", weed.Estimate)
	if !weed.Upper.Known() || !weed.Shrunk.Known() || weed.Bound != UpperBound {
		t.Errorf("weed: %+v", weed)
	}
	for _, k := range r.Contrasts {
		if k.A == "sand" {
			near(t, "ratio", k.RateRatio, alone.Contrasts[0].RateRatio.Or(0), 1e-5)
			continue
		}
		missing(t, "ratio", k.RateRatio)
		if !k.P.Known() || !k.PAdjusted.Known() || !k.Upper.Known() || k.Lower.Known() {
			t.Errorf("contrast of the empty level: %+v", k)
		}
	}
	for _, m := range r.Messages {
		if m.Slug == "separation" && m.With["term"] != "habitat=weed" {
			t.Errorf("separation of %v", m.With)
		}
	}
	if r.Test.DF != 2 || !r.Test.P.Known() {
		t.Errorf("test %+v", r.Test)
	}
}

// TestNoEventInOneBand: nothing was consumed after the first check anywhere. The
// second band's rate is zero; the first band's terms are those of the first
// checks alone.
func TestNoEventInOneBand(t *testing.T) {
	ds := season(2)
	first := slices.Clone(ds)
	for i := range ds {
		c := ds[i].Checks[0].Consumed.Or(0)
		ds[i].Checks = slices.Clone(ds[i].Checks)
		ds[i].Checks[0].At, ds[i].Checks[1].At = at(1), at(24)
		counts(&ds[i], c, c)
		first[i].Checks = ds[i].Checks[:1]
	}
	r, alone := run(t, ds, Options{}), run(t, first, Options{})
	missing(t, "interval2", r.term(t, "interval2").Estimate)
	if b := r.term(t, "interval2").Bound; b != UpperBound {
		t.Errorf("bound %s", b)
	}
	near(t, "baseline", r.term(t, "baseline").Estimate, alone.term(t, "baseline").Estimate.Or(0), 1e-5)
	near(t, "sand", r.term(t, "habitat=sand").Estimate, alone.term(t, "habitat=sand").Estimate.Or(0), 1e-5)
	near(t, "loglik", r.LogLik, alone.LogLik.Or(0), 1e-6)
	near(t, "chi2", r.Test.Chi2, alone.Test.Chi2.Or(0), 1e-5)
	if m := r.Means[1]; m.SoakH != 24 || math.Abs(m.Proportion.Or(9)-r.Means[0].Proportion.Or(0)) > 1e-9 || !m.Upper.Known() {
		t.Errorf("mean at 24 h %+v", m)
	}
}

func TestNothingOrEverythingConsumed(t *testing.T) {
	for consumed, ending := range map[int]string{0: "no-events", 25: "only-events"} {
		ds := season(3)
		for i := range ds {
			counts(&ds[i], consumed, consumed)
			if consumed == 25 {
				ds[i].Checks = ds[i].Checks[:1]
			}
		}
		r := run(t, ds, Options{Bootstrap: 9})
		if r.Ending != ending || r.Converged || !r.says(ending) || len(r.Contrasts) > 0 || r.Test.P.Known() || r.Test.PBootstrap.Known() || r.LogLik.Known() {
			t.Errorf("%s: %+v", ending, r)
		}
		for _, f := range r.Fixed {
			missing(t, f.Term, f.Estimate)
		}
		for _, s := range r.Random {
			missing(t, "SD", s.SD)
		}
		if r.Deployments != 24 || len(r.Means) == 0 {
			t.Errorf("%d deployments, %d means", r.Deployments, len(r.Means))
		}
	}
}

// TestOneSite: no site SD can be told, and habitat within site and row keep theirs.
func TestOneSite(t *testing.T) {
	ds := truth{sites: 1, rows: 5, baits: 25, rates: map[string]float64{"reef": 0.35, "sand": 0.12}, later: 0.2, dep: 0.3}.
		draw(rand.New(rand.NewPCG(4, 3)))
	r := run(t, ds, Options{})
	if r.Sites != 1 || !r.says("one-group") || !r.Converged {
		t.Errorf("%+v", r.Messages)
	}
	for _, s := range r.Random {
		if s.Group == "site" {
			t.Errorf("a spread between sites from one site: %v", s)
		}
	}
	if !r.Contrasts[0].RateRatio.Known() {
		t.Error("no ratio")
	}
}

// TestFourDeployments and one row a site: a model is fitted, and what it cannot
// carry is said.
func TestFourDeployments(t *testing.T) {
	ds := season(5)[:4]
	r := run(t, ds, Options{})
	if r.Deployments != 4 || !r.Converged {
		t.Errorf("ended %s", r.Ending)
	}
	for i := range ds { // one row a site
		ds[i].Site = "s" + strconv.Itoa(i)
	}
	r = run(t, ds, Options{})
	if !r.Converged || !r.says("site-habitat-not-separable") || !r.says("levels-coincide") {
		t.Errorf("%s %+v", r.Ending, r.Messages)
	}
	one := run(t, ds[:1], Options{})
	if !one.says("one-level") {
		t.Errorf("%+v", one.Messages)
	}
	none := run(t, nil, Options{})
	if none.Ending != "no-trials" || !none.says("nothing-to-compare") {
		t.Errorf("%+v", none)
	}
}

func TestOneRowASite(t *testing.T) {
	ds := truth{sites: 16, rows: 1, baits: 25, rates: map[string]float64{"reef": 0.35, "sand": 0.12}, later: 0.2, site: 0.5, between: true}.
		draw(rand.New(rand.NewPCG(6, 3)))
	r := run(t, ds, Options{})
	if len(r.Random) != 1 || r.Random[0].Levels != 16 || !r.says("levels-coincide") || !r.Converged {
		t.Errorf("%+v %+v", r.Random, r.Messages)
	}
}

func TestMissingCovariateIsExcludedAndListed(t *testing.T) {
	ds := season(7)
	delete(ds[3].Covariates, "temp")
	ds[5].Covariates["temp"] = ""
	r := run(t, ds, Options{Covariates: []string{"temp"}})
	want := []Excluded{{ds[3].ID, "no-covariate"}, {ds[5].ID, "no-covariate"}}
	if !slices.Equal(r.Excluded, want) || r.Deployments != len(ds)-2 {
		t.Errorf("%v, %d", r.Excluded, r.Deployments)
	}
	rest := slices.Delete(slices.Delete(slices.Clone(ds), 5, 6), 3, 4)
	same(t, r, run(t, rest, Options{Covariates: []string{"temp"}}), 1e-9)
}

// TestOneCheckFamilies: one row a site and habitat, so that the beta-binomial has
// one observation a group; where its κ is zero it is the binomial.
func TestOneCheckFamilies(t *testing.T) {
	ds := season(8)
	for _, link := range []string{"cloglog", "logit"} {
		for _, check := range []int{1, 2} {
			o := Options{Check: check, Link: link, Random: noSpread}
			b := run(t, ds, o)
			o.Family = "betabinomial"
			bb := run(t, ds, o)
			if !b.Converged || !bb.Converged || bb.LogLik.Or(-1e9) < b.LogLik.Or(0)-1e-6 {
				t.Errorf("%s check %d: binomial %v, beta-binomial %v", link, check, b.LogLik, bb.LogLik)
			}
			if b.Intervals != len(ds) {
				t.Errorf("%d intervals", b.Intervals)
			}
			if link == "cloglog" && check == 2 && !bb.Contrasts[0].RateRatio.Known() {
				t.Error("no ratio")
			}
		}
	}
}

// TestMergedInterval: a check that was not made. Nominal bands keep the interval
// over both steps with its exact likelihood, a + 23 b by hand; one effect a check
// leaves it out and says so.
func TestMergedInterval(t *testing.T) {
	ds := []assay.Deployment{
		row("A", "s", "sand", 25, []float64{1, 24}, []int{5, 15}, nil, nil),
		row("B", "s", "sand", 25, []float64{1, 24}, []int{0, 16}, nil, nil),
	}
	ds[1].Checks[0] = assay.Check{Number: 1, WhyNot: "tide"}
	r := run(t, ds, Options{Random: noSpread})
	logLik := func(a, b float64) float64 {
		p := func(h float64) float64 { return -math.Expm1(-h) }
		return binomialLog(5, 25, p(a)) + binomialLog(10, 20, p(23*b)) + binomialLog(16, 25, p(a+23*b))
	}
	a := math.Exp(r.term(t, "baseline").Estimate.Or(0))
	b := a * math.Exp(r.term(t, "interval2").Estimate.Or(0))
	near(t, "loglik", r.LogLik, logLik(a, b), 1e-9)
	for _, f := range []float64{0.999, 1.001} {
		if logLik(a*f, b) > logLik(a, b) || logLik(a, b*f) > logLik(a, b) {
			t.Error("no maximum")
		}
	}
	c := run(t, ds, Options{Random: noSpread, Bands: "checks"})
	if !c.says("merged-intervals-left-out") || c.Intervals != 2 || c.Excluded[0].Slug != "merged-interval" {
		t.Errorf("%+v %v", c.Messages, c.Excluded)
	}
}

// TestLateHabitat holds the case that nominal bands are for: one habitat is always read at
// 1.5 h instead of 1 h, and nothing differs. With most of what happens in the first
// hour, one effect a check finds a ratio of about 0.8, exact overlap about 1. The
// mean of 40 large seasons: a log ratio's SD here is about 0.03 a season.
func TestLateHabitat(t *testing.T) {
	mean := map[string]float64{}
	const n = 40
	for i := range uint64(n) {
		ds := truth{sites: 12, rows: 3, baits: 50, rates: map[string]float64{"reef": 0.4, "sand": 0.4}, later: 0.1, site: 0.3, dep: 0.2,
			soaksH: func(_ *rand.Rand, habitat string) []float64 {
				if habitat == "sand" {
					return []float64{1.5, 24}
				}
				return []float64{1, 24}
			}}.draw(rand.New(rand.NewPCG(i, 9)))
		for _, bands := range []string{"nominal", "checks"} {
			r := run(t, ds, Options{Bands: bands, Random: []string{"site", "deployment"}})
			mean[bands] += math.Log(r.Contrasts[0].RateRatio.Or(math.NaN())) / n
		}
	}
	nominal, checks := math.Exp(mean["nominal"]), math.Exp(mean["checks"])
	if !(nominal > 0.98 && nominal < 1.02) {
		t.Errorf("nominal bands: ratio %.3f, want 0.98 to 1.02", nominal)
	}
	if !(checks > 0.7 && checks < 0.88) {
		t.Errorf("one effect a check: ratio %.3f, want about 0.8", checks)
	}
}

// TestControlsSubtract: rows lose baits at 0.02 /h without any consumer; the sand's
// consumers take 0.05 /h, the reef's 0.20. Uncorrected the ratio is
// 0.22 / 0.07 = 3.1, corrected 4. Large seasons, so the mean over 10 is near.
func TestControlsSubtract(t *testing.T) {
	raw, corrected, control := 0.0, 0.0, 0.0
	const n = 10
	for i := range uint64(n) {
		rng := rand.New(rand.NewPCG(i, 11))
		ds := truth{sites: 10, rows: 3, baits: 100, rates: map[string]float64{"reef": 0.22, "sand": 0.07, "shut": 0.02}, later: 1,
			soaksH: func(*rand.Rand, string) []float64 { return []float64{1, 8} }}.draw(rng)
		for k := range ds {
			if ds[k].Habitat == "shut" {
				ds[k].Habitat, ds[k].Control = "sand", assay.Shielded
			}
		}
		o := Options{Reference: "sand", Random: noSpread}
		raw += run(t, ds, o).Contrasts[0].RateRatio.Or(math.NaN()) / n
		o.Controls = "subtract"
		r := run(t, ds, o)
		if !r.Converged {
			t.Fatal(r.Ending)
		}
		corrected += r.Contrasts[0].RateRatio.Or(math.NaN()) / n
		control += math.Exp(r.term(t, "control").Estimate.Or(math.NaN())) / n
		// the uncertainty of the controls is carried on
		if a, b := run(t, ds, Options{Reference: "sand", Random: noSpread}).term(t, "habitat=reef").SE, r.term(t, "habitat=reef").SE; b.Or(0) <= a.Or(9) {
			t.Errorf("SE %v uncorrected, %v corrected", a, b)
		}
	}
	if math.Abs(raw-22.0/7) > 0.15 || math.Abs(corrected-4) > 0.25 || math.Abs(control-0.02) > 0.002 {
		t.Errorf("uncorrected %.2f (3.14), corrected %.2f (4), control %.4f (0.02)", raw, corrected, control)
	}
	if r := run(t, season(1), Options{Controls: "subtract"}); !r.says("no-controls") {
		t.Error("controls that are not there were subtracted")
	}
}

// TestControlsLoseMore: consumers' hazard is then 0, with a bound.
func TestControlsLoseMore(t *testing.T) {
	var ds []assay.Deployment
	for i := range 4 {
		s := "s" + strconv.Itoa(i)
		ds = append(ds, row("A"+s, s, "reef", 25, []float64{1}, []int{12}, nil, nil), row("B"+s, s, "sand", 25, []float64{1}, []int{1}, nil, nil))
		c := row("C"+s, s, "sand", 25, []float64{1}, []int{4}, nil, nil)
		c.Control = assay.Shielded
		ds = append(ds, c)
	}
	r := run(t, ds, Options{Controls: "subtract", Random: noSpread})
	// pooled: sand and controls share one hazard, 4 + 16 of 200
	near(t, "control", r.term(t, "control").Estimate, math.Log(-math.Log(1-20.0/200)), 1e-4)
	f := r.term(t, "habitat=sand")
	if f.Bound != UpperBound || f.Estimate.Known() || !r.says("separation") {
		t.Errorf("sand %+v, %v", f, r.Messages)
	}
}

// TestLostBaitsDecide: the two habitats are alike only if what was lost in one of
// them survived.
func TestLostBaitsDecide(t *testing.T) {
	var ds []assay.Deployment
	for i := range 8 {
		s := "s" + strconv.Itoa(i)
		ds = append(ds, row("A"+s, s, "reef", 25, []float64{1, 24}, []int{6, 8}, []int{0, 9}, nil), row("B"+s, s, "sand", 25, []float64{1, 24}, []int{6, 8}, []int{0, 0}, nil))
	}
	r, err := Run(t.Context(), ds, Options{})
	if err != nil || !r.says("loss-decides") {
		t.Errorf("%v %+v", err, r.Messages)
	}
	v, err := Sensitivity(t.Context(), ds, Options{})
	if err != nil || len(v) != 2+8 {
		t.Errorf("%v, %d variants", err, len(v))
	}
}

// TestBetaBinomialSeasons: rows where nearly all or nearly none of the baits
// went. A new season of such rows has, in each habitat of 6, about Bin(6, ½) full
// rows, so that 5 of 6 against 1 of 6 or more comes by chance with probability
// 2 (36 + 15 + 6 + 1 + 6 + 15) / 4096 = 0.039 (counted by hand). Seasons whose
// counts do not vary more than binomial ones would give half of that.
func TestBetaBinomialSeasons(t *testing.T) {
	var ds []assay.Deployment
	for i := range 12 {
		habitat, gone := "reef", 24
		if i >= 6 {
			habitat, gone = "sand", 1
		}
		if i%6 == 0 {
			gone = 25 - gone
		}
		ds = append(ds, row("B"+strconv.Itoa(i), "s"+strconv.Itoa(i), habitat, 25, []float64{1, 24}, []int{0, gone}, nil, nil))
	}
	r := run(t, ds, Options{Check: 2, Link: "logit", Family: "betabinomial", Random: noSpread, Bootstrap: 999, Seed: 1})
	p := r.Test.PBootstrap.Or(-1)
	t.Logf("chi-squared p %v, bootstrap p %v", r.Test.P.Or(-1), p)
	// ± 0.013 is two standard errors of 999 seasons about 0.039; the seed is fixed.
	if math.Abs(p-0.039) > 0.013 {
		t.Errorf("p %v, about 0.039 by counting", p)
	}
}

// TestControlsLoseLater: nothing went from the controls by the first check, some
// by the second. The effect of the second stretch runs up because it is set
// against an empty first one, which is what is told; not everything went.
func TestControlsLoseLater(t *testing.T) {
	ds := season(4)
	for i := range 4 {
		c := row("C"+strconv.Itoa(i), ds[4*i].Site, "sand", 25, []float64{1, 24}, []int{0, 2}, nil, nil)
		c.Control = assay.Shielded
		ds = append(ds, c)
	}
	r := run(t, ds, Options{Controls: "subtract"})
	want := map[string]string{"control": "compare.side-none", "control-interval2": "compare.side-none-before"}
	for _, m := range r.Messages {
		if m.Slug != "separation" {
			continue
		}
		term, _ := m.With["term"].(string)
		if side, _ := m.With["side"].(words.Ref); side.Slug != want[term] {
			t.Errorf("%s: told as %s, want %s", term, side.Slug, want[term])
		}
		delete(want, term)
	}
	if len(want) > 0 {
		t.Errorf("nothing is said of %v", want)
	}
}
