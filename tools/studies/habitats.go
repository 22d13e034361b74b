package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/words"
)

func everyStudy() []study {
	return []study{rateStudy(), lossStudy(), bandStudy(), testStudy(), limitStudy(), lateStudy(), separationStudy(), controlStudy()}
}

func mustCompare(ds []assay.Deployment, o compare.Options) *compare.Result {
	o.NoRepeat, o.Workers = true, 1
	r, err := compare.Run(context.Background(), ds, o)
	if err != nil {
		panic(err)
	}
	return r
}

func told(r *compare.Result, slug string) float64 {
	return says(r.Messages, func(m words.Message) string { return m.Slug }, slug)
}

// belowAlpha is 1 where p is known and at most 5 %, NaN where it is missing.
func belowAlpha(p assay.Maybe[float64]) float64 {
	v, ok := p.Get()
	if !ok {
		return math.NaN()
	}
	return is(v <= 0.05)
}

var alike = []habitat{{"reef", 0.25}, {"sand", 0.25}}

const (
	optimistic  = "test-too-optimistic"
	narrow      = "limits-too-narrow"
	replicates  = 199
	firstGlance = 39
)

// testStudy: the size of the tests where nothing differs.
func testStudy() study {
	s := study{name: "tests", title: "Tests where nothing differs",
		about: fmt.Sprintf("Two or three habitats of one rate, rows of 25 baits, soaks off nominal, 3 %% of the baits lost; SDs 0.5 between sites, 0.5 habitat within site (where crossed), 0.4 between rows. "+
			"How often a difference is found: by the likelihood ratio against chi-squared, by Wald's limits of the first pair, and by the parametric bootstrap of both (B = %d; a season whose first %d replicates settle it is not carried further, which changes no decision). "+
			"`pseudo` leaves habitat within site out of the model, as nobody should.", replicates, firstGlance),
		columns: []column{
			{name: "chi-squared", kind: atMost, high: 0.065, told: optimistic}, {name: "Wald", kind: atMost, high: 0.065, told: optimistic},
			{name: "bootstrap of the ratio", kind: atMost, high: 0.065}, {name: "bootstrap of the pair", kind: atMost, high: 0.065},
			{name: "pseudo, chi-squared", kind: share}, {name: optimistic, kind: said},
		}}
	base := season{baits: 25, habitats: alike, later: 0.2, site: 0.5, sh: 0.5, row: 0.4, lost: 0.03}
	for _, c := range []struct {
		name        string
		sites, rows int
		between     bool
		three, flat bool
		draws       int
		boot        bool
	}{
		{"6 sites, crossed, 4 rows", 6, 4, false, false, false, 1500, true},
		{"6 sites, 3 and 3, 4 rows", 6, 4, true, false, false, 400, true},
		{"6 sites, crossed, three habitats, 2 rows", 6, 2, false, true, false, 150, true},
		{"4 sites, crossed, 4 rows", 4, 4, false, false, false, 150, true},
		{"6 sites, crossed, 4 rows, no differences at all", 6, 4, false, false, true, 150, true},
		{"12 sites, crossed, 3 rows", 12, 3, false, false, false, 400, false},
		{"12 sites, 6 and 6, 4 rows", 12, 4, true, false, false, 400, false},
		{"30 sites, crossed, 2 rows", 30, 2, false, false, false, 200, false},
		{"30 sites, 15 and 15, 3 rows", 30, 3, true, false, false, 200, false},
	} {
		t := base
		t.sites, t.rows, t.between = c.sites, c.rows, c.between
		if c.three {
			t.habitats = append([]habitat{{"grass", 0.25}}, alike...)
		}
		if c.flat {
			t.site, t.sh, t.row = 0, 0, 0
		}
		s.lines = append(s.lines, line{c.name, c.draws, func(rng *rand.Rand, seed uint64) []float64 { return t.tests(rng, seed, c.boot) }})
	}
	return s
}

func (s season) tests(rng *rand.Rand, seed uint64, boot bool) []float64 {
	ds := s.draw(rng)
	o := compare.Options{Seed: seed}
	r := mustCompare(ds, o)
	nan := math.NaN()
	out := []float64{belowAlpha(r.Test.P), nan, nan, nan, nan, told(r, optimistic)}
	if len(r.Contrasts) > 0 {
		out[1] = belowAlpha(r.Contrasts[0].P)
	}
	if boot && len(r.Contrasts) > 0 {
		o.Bootstrap = firstGlance
		r = mustCompare(ds, o)
		// replicate i is the same whatever their number: with as many at least as
		// large as 10 of 200 already seen, p stays above 5 %
		settled := func(p assay.Maybe[float64]) bool {
			v, ok := p.Get()
			return ok && v*(firstGlance+1)-1 >= 0.05*(replicates+1)-1e-9
		}
		if !settled(r.Test.PBootstrap) || !settled(r.Contrasts[0].PBootstrap) {
			o.Bootstrap = replicates
			r = mustCompare(ds, o)
		}
		out[2], out[3] = belowAlpha(r.Test.PBootstrap), belowAlpha(r.Contrasts[0].PBootstrap)
	}
	if !s.between {
		out[4] = belowAlpha(mustCompare(ds, compare.Options{Random: []string{"site", "deployment"}}).Test.P)
	}
	return out
}

// limitStudy: limits of the ratio and of the proportions where habitats differ.
func limitStudy() study {
	s := study{name: "limits", title: "Limits where habitats differ",
		about: "Rates of 0.30 and 0.10 per hour, a ratio of 3; otherwise as above. How often the limits of the ratio hold it, those of the mean proportion consumed at 1 h and at 24 h, " +
			"and of the rate of a typical row up to 24 h (all of the habitat with the larger rate); the mean of the estimated log ratio less the true one.",
		columns: []column{
			{name: "ratio", kind: atLeast, low: 0.935, told: narrow}, {name: "proportion, 1 h", kind: atLeast, low: 0.935, told: narrow}, {name: "proportion, 24 h", kind: atLeast, low: 0.935, told: narrow},
			{name: "rate of a typical row", kind: atLeast, low: 0.935, told: narrow}, {name: "bias of the log ratio", kind: plain},
			{name: "ratio, few sites", kind: atLeast, low: 0.935}, {name: "1 h, few sites", kind: atLeast, low: 0.935}, {name: "24 h, few sites", kind: atLeast, low: 0.935},
			{name: "rate, few sites", kind: atLeast, low: 0.935}, {name: narrow, kind: said},
		}}
	for _, c := range []struct {
		name        string
		sites, rows int
		between     bool
		draws       int
	}{
		{"4 sites, crossed, 4 rows", 4, 4, false, 1500}, {"6 sites, crossed, 4 rows", 6, 4, false, 1500}, {"6 sites, 3 and 3, 4 rows", 6, 4, true, 1500},
		{"12 sites, crossed, 3 rows", 12, 3, false, 1500}, {"12 sites, 6 and 6, 4 rows", 12, 4, true, 1500},
		{"20 sites, crossed, 2 rows", 20, 2, false, 1500}, {"30 sites, crossed, 2 rows", 30, 2, false, 1500}, {"30 sites, 15 and 15, 3 rows", 30, 3, true, 1500},
	} {
		t := season{sites: c.sites, rows: c.rows, between: c.between, baits: 25, habitats: []habitat{{"reef", 0.30}, {"sand", 0.10}}, later: 0.2, site: 0.5, sh: 0.5, row: 0.4, lost: 0.03}
		s.lines = append(s.lines, line{c.name, c.draws, func(rng *rand.Rand, seed uint64) []float64 {
			r := mustCompare(t.draw(rng), compare.Options{Reference: "sand", Seed: seed})
			nan := math.NaN()
			out := []float64{nan, nan, nan, nan, nan, nan, nan, nan, nan, told(r, narrow)}
			if len(r.Contrasts) == 0 || r.Contrasts[0].A != "reef" {
				return out
			}
			k := r.Contrasts[0]
			out[0], out[4] = holds(k.Lower, k.Upper, 3), math.Log(k.RateRatio.Or(nan))-math.Log(3)
			out[5] = holdsFew(k.LowerT, k.UpperT, 3)
			for _, m := range r.Means {
				if m.Level != "reef" {
					continue
				}
				if m.SoakH == 1 {
					out[1] = holds(m.Lower, m.Upper, t.marginal(0.30, 1))
					out[6] = holdsFew(m.LowerT, m.UpperT, t.marginal(0.30, 1))
				} else {
					out[7], out[8] = holdsFew(m.LowerT, m.UpperT, t.marginal(0.30, 24)), holdsFew(m.RateLowerTPerH, m.RateUpperTPerH, t.hazard(0.30, 24)/24)
					out[2], out[3] = holds(m.Lower, m.Upper, t.marginal(0.30, 24)), holds(m.RateLowerPerH, m.RateUpperPerH, t.hazard(0.30, 24)/24)
				}
			}
			return out
		}})
	}
	return s
}

// holdsFew is holds, NaN where there are no such limits.
func holdsFew(lower, upper assay.Maybe[float64], truth float64) float64 {
	if !lower.Known() || !upper.Known() {
		return math.NaN()
	}
	return holds(lower, upper, truth)
}

// lateStudy: one habitat always read at 1.5 h instead of 1 h; nothing differs.
func lateStudy() study {
	s := study{name: "late", title: "One habitat always read late",
		about: "The rows of one of two habitats of one rate are always read at 1.5 h instead of 1 h; 12 sites, 3 rows of 50 baits in each habitat, SDs 0.3 (site) and 0.2 (row). " +
			"Mean ratio of the two (geometric) with nominal bands, which must lie in 0.98 to 1.02, and with one effect for each check.",
		columns: []column{{name: "ratio, nominal bands", kind: within, low: 0.98, high: 1.02}, {name: "ratio, one effect a check", kind: plain}}}
	for _, later := range []float64{0.1, 0.3, 1} {
		t := season{sites: 12, rows: 3, baits: 50, habitats: []habitat{{"reef", 0.4}, {"sand", 0.4}}, later: later, site: 0.3, row: 0.2,
			soaksH: func(_ *rand.Rand, habitat string) []float64 {
				if habitat == "sand" {
					return []float64{1.5, 24}
				}
				return []float64{1, 24}
			}}
		s.lines = append(s.lines, line{fmt.Sprintf("the rate after the first hour is %g of that in it", later), 200, func(rng *rand.Rand, _ uint64) []float64 {
			ds := t.draw(rng)
			out := make([]float64, 2)
			for i, bands := range []string{"nominal", "checks"} {
				r := mustCompare(ds, compare.Options{Bands: bands, Random: []string{"site", "deployment"}})
				// near 1 the mean of the ratio is that of its logarithm but for half its
				// variance, which is taken off draw by draw
				se := r.Fixed[len(r.Fixed)-1].SE.Or(0)
				out[i] = r.Contrasts[0].RateRatio.Or(math.NaN()) * math.Exp(-se*se/2)
			}
			return out
		}})
	}
	return s
}

// separationStudy: a habitat in which often nothing is consumed at all.
func separationStudy() study {
	s := study{name: "separation", title: "Nothing consumed in one habitat",
		about: "Rates of 0.30 per hour and so little in the second habitat that in many seasons nothing is consumed there; 2 rows of 25 baits at each site, soaks 1 h and 24 h. " +
			"Share of seasons with the one-sided bound of the ratio; how often that bound holds the true ratio among them (must be 95 % or more); and limits of either kind over all seasons, in which two-sided limits may be short.",
		columns: []column{{name: "seasons with the bound", kind: share}, {name: "bound holds", kind: atLeast, low: 0.95, told: narrow}, {name: "all limits hold", kind: share}, {name: narrow, kind: said}}}
	for _, c := range []struct {
		sites    int
		rate, sd float64
	}{{6, 0.0004, 0}, {6, 0.0004, 0.5}, {6, 0.0008, 0.5}, {12, 0.0002, 0.5}, {6, 0.0004, 1}} {
		t := season{sites: c.sites, rows: 2, baits: 25, habitats: []habitat{{"reef", 0.30}, {"sand", c.rate}}, later: 0.2, site: c.sd, sh: c.sd / 2, row: c.sd, soaksH: onTime}
		s.lines = append(s.lines, line{fmt.Sprintf("%d sites, rate %g, SDs %g, %g and %g", c.sites, c.rate, t.site, t.sh, t.row), 600, func(rng *rand.Rand, _ uint64) []float64 {
			r := mustCompare(t.draw(rng), compare.Options{})
			nan := math.NaN()
			if len(r.Contrasts) == 0 {
				return []float64{nan, nan, nan, nan}
			}
			k := r.Contrasts[0]
			hit := holds(k.Lower, k.Upper, c.rate/0.30)
			out := []float64{is(k.Bound == compare.UpperBound), nan, hit, told(r, narrow)}
			if out[0] == 1 {
				out[1] = hit
			}
			return out
		}})
	}
	return s
}

// controlStudy: loss without consumers, measured in shielded rows.
func controlStudy() study {
	s := study{name: "controls", title: "Control rows subtracted",
		about: "Consumers take 0.20 and 0.05 per hour, a ratio of 4; every row also loses baits at the stated rate, which 2 shielded rows at each site measure. 3 rows of 25 baits in each habitat, soaks 1 h and 8 h. " +
			"Bias of the log ratio and how often its limits hold 4, with the controls subtracted, and the bias when they are left out.",
		columns: []column{{name: "bias of the log ratio", kind: plain}, {name: "limits", kind: atLeast, low: 0.935, told: narrow}, {name: "bias, controls left out", kind: plain}, {name: "no answer", kind: share}, {name: narrow, kind: said}}}
	for _, c := range []struct {
		sites        int
		control, sd  float64
		random       []string
		randomNaming string
	}{
		{8, 0.02, 0, []string{}, "no differences"}, {8, 0.02, 0.3, []string{"site", "deployment"}, "SDs 0.3 and 0.3"},
		{20, 0.02, 0.3, []string{"site", "deployment"}, "SDs 0.3 and 0.3"}, {8, 0.0005, 0.3, []string{"site", "deployment"}, "SDs 0.3 and 0.3"},
	} {
		t := season{sites: c.sites, rows: 3, baits: 25, habitats: []habitat{{"reef", 0.20}, {"sand", 0.05}}, site: c.sd, row: c.sd, shielded: 2, shieldedRate: c.control,
			soaksH: func(*rand.Rand, string) []float64 { return []float64{1, 8} }}
		s.lines = append(s.lines, line{fmt.Sprintf("%d sites, %s, loss %g per hour", c.sites, c.randomNaming, c.control), 400, func(rng *rand.Rand, _ uint64) []float64 {
			ds := t.draw(rng)
			nan := math.NaN()
			o := compare.Options{Reference: "sand", Random: c.random, Controls: "subtract"}
			r := mustCompare(ds, o)
			out := []float64{nan, nan, nan, 1, told(r, narrow)}
			if r.Converged && len(r.Contrasts) > 0 {
				k := r.Contrasts[0]
				out[0], out[1], out[3] = math.Log(k.RateRatio.Or(nan))-math.Log(4), holds(k.Lower, k.Upper, 4), 0
			}
			o.Controls = "leave-out"
			if r := mustCompare(ds, o); len(r.Contrasts) > 0 {
				out[2] = math.Log(r.Contrasts[0].RateRatio.Or(nan)) - math.Log(4)
			}
			return out
		}})
	}
	return s
}
