package rates

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/words"
)

func near(t *testing.T, what string, got assay.Maybe[float64], want, tol float64) {
	t.Helper()
	v, ok := got.Get()
	switch {
	case math.IsNaN(want) && ok:
		t.Errorf("%s = %v, want none", what, v)
	case !math.IsNaN(want) && !ok:
		t.Errorf("%s is missing, want %v", what, want)
	case ok && !(math.Abs(v-want) <= tol):
		t.Errorf("%s = %.12g, want %.12g", what, v, want)
	}
}

func nearEstimate(t *testing.T, what string, got Estimate, estimate, lower, upper, tol float64) {
	t.Helper()
	near(t, what, got.Estimate, estimate, tol)
	near(t, what+" lower", got.Lower, lower, tol)
	near(t, what+" upper", got.Upper, upper, tol)
}

var none = math.NaN()

func TestLostAfterFirstCheck(t *testing.T) {
	// n = 25, C = (10, 13), L = (0, 10): r = (25, 5), S = 15/25 · 2/5 = 0.24.
	// Greenwood: Var(log S) = 10/(25·15) + 3/(5·2) = 0.3266667,
	// n_e = p/(S·V) = 0.76/(0.24 · 0.3266667) = 9.693878.
	// Wilson with z = 1.959964: z²/n_e = 0.3962751; middle (0.76 + 0.1981376)/1.3962751
	// = 0.6862104; half width sqrt((0.76·0.24 + 0.3962751/4)·0.3962751/1.3962751²·(1/0.3962751))…
	// written as z·sqrt(p(1−p)/n_e + z²/(4n_e²))/1.3962751 = 0.2391900.
	d := compute(t, Options{}, row("A", 25, []float64{1, 24}, []int{10, 13}, []int{0, 10}, nil)).Deployments[0]
	c := d.Checks[1]
	near(t, "p", c.Proportion, 0.76, 1e-12)
	near(t, "lower", c.Lower, 0.6862104-0.2391910, 1e-6)
	near(t, "upper", c.Upper, 0.6862104+0.2391900, 1e-6)
	if c.AtRisk != 5 || c.ConsumedInInterval != 3 || c.Consumed != 13 || c.Lost != 10 {
		t.Errorf("check 2 = %+v", c)
	}
	if c.IfLostSurvived != 0.52 || c.IfLostConsumed != 0.92 {
		t.Errorf("bounds %v %v, want 0.52 0.92", c.IfLostSurvived, c.IfLostConsumed)
	}
}

func TestNoOneLeftToTell(t *testing.T) {
	// All 15 survivors of check 1 were lost by check 2: r_2 = 25 − 10 − 15 = 0
	// while a bait may survive, so no proportion, but still the bounds.
	c := compute(t, Options{}, row("A", 25, []float64{1, 24}, []int{10, 10}, []int{0, 15}, nil)).Deployments[0].Checks[1]
	near(t, "p", c.Proportion, none, 0)
	near(t, "lower", c.Lower, none, 0)
	if c.IfLostSurvived != 0.4 || c.IfLostConsumed != 1 || c.AtRisk != 0 {
		t.Errorf("%+v", c)
	}
	// Everything read at check 1 was consumed: S = 0 by then, and r_2 = 0 leaves it so.
	c = compute(t, Options{}, row("A", 25, []float64{1, 24}, []int{15, 15}, []int{10, 10}, nil)).Deployments[0].Checks[1]
	near(t, "p", c.Proportion, 1, 0)
}

func TestCheckWithoutCountsMerges(t *testing.T) {
	d := row("A", 25, []float64{1, 4, 24}, []int{3, -1, 9}, []int{0, -1, 1}, nil)
	ivs, said := Intervals(&d)
	// r_2 = 25 − 3 − 1 = 21 over 1 h to 24 h, y = 6.
	if len(ivs) != 2 || len(said) != 0 {
		t.Fatalf("%+v %v", ivs, said)
	}
	got := ivs[1]
	if got.Check != 3 || got.FromCheck != 1 || got.FromH != 1 || got.ToH != 24 || got.AtRisk != 21 || got.Consumed != 6 || !got.Merged() || ivs[0].Merged() {
		t.Errorf("%+v", ivs)
	}
}

func TestRateClosedForms(t *testing.T) {
	for _, c := range []struct {
		what            string
		d               assay.Deployment
		est, lower, upp float64
	}{
		// Bait-hours: 25·1 + 25·23 = 600.
		{"nothing", row("A", 25, []float64{1, 24}, []int{0, 0}, []int{0, 0}, nil), 0, 0, -math.Log(0.05) / 600},
		// 5 lost by check 2: 25·1 + 20·23 = 485.
		{"nothing, lost", row("A", 25, []float64{1, 24}, []int{0, 0}, []int{0, 5}, nil), 0, 0, -math.Log(0.05) / 485},
		// (1 − e^(−λ·1.5))^25 = 0.05.
		{"all", row("A", 25, []float64{1.5, 24}, []int{25, 25}, []int{0, 0}, nil), none, -math.Log(1-math.Pow(0.05, 1.0/25)) / 1.5, none},
		// 3 lost before anything was seen: r_1 = 22.
		{"all, lost", row("A", 25, []float64{2, 24}, []int{22, 22}, []int{3, 3}, nil), none, -math.Log(1-math.Pow(0.05, 1.0/22)) / 2, none},
		// The first check was not read: all went by 24 h.
		{"all by the second", row("A", 25, []float64{1, 24}, []int{-1, 25}, []int{-1, 0}, nil), none, -math.Log(1-math.Pow(0.05, 1.0/25)) / 24, none},
		{"all lost", row("A", 25, []float64{1, 24}, []int{0, 0}, []int{25, 25}, nil), none, none, none},
		// One interval with y of r: λ = −ln(1 − 10/25)/2; limits where
		// 2·25·(0.4 ln(0.4/q) + 0.6 ln(0.6/(1−q))) = 3.841459, found by hand-coded
		// bisection in TestProfileByBisection.
		{"some", row("A", 25, []float64{2}, []int{10}, []int{0}, nil), -math.Log(0.6) / 2, bisect(0.4, 25, -1) / 2, bisect(0.4, 25, 1) / 2},
	} {
		got := compute(t, Options{}, c.d).Deployments[0]
		nearEstimate(t, c.what, got.RatePerH, c.est, c.lower, c.upp, 1e-10)
	}
}

// bisect is the hazard at which the binomial deviance of a share p of n reaches
// the 95 % point of chi-squared, below (side −1) or above p.
func bisect(p, n float64, side float64) float64 {
	a, b := p, 1-1e-12
	if side < 0 {
		a, b = p, 1e-12
	}
	for range 200 {
		q := (a + b) / 2
		if 2*n*(p*math.Log(p/q)+(1-p)*math.Log((1-p)/(1-q))) < 3.841458820694124 {
			a = q
		} else {
			b = q
		}
	}
	return -math.Log(1 - a)
}

func TestRateAgainstR(t *testing.T) {
	rows := map[string]assay.Deployment{
		"late-loss": row("A", 25, []float64{1, 24}, []int{10, 13}, []int{0, 10}, nil),
		"plain":     row("A", 25, []float64{1, 24}, []int{9, 21}, []int{0, 0}, nil),
		"slow":      row("A", 25, []float64{1.1, 26}, []int{0, 6}, []int{0, 1}, nil),
		"four":      row("A", 25, []float64{1, 3, 9, 24}, []int{3, 9, 15, 22}, []int{0, 0, 1, 2}, nil),
	}
	names, want := reference(t, "row")
	for k, w := range want {
		d := compute(t, Options{}, rows[names[k][0]]).Deployments[0]
		nearEstimate(t, names[k][0], d.RatePerH, w[1], w[2], w[3], 1e-7)
		if len(w) > 4 {
			fit, _ := d.Weibull.Get()
			near(t, "scale", fit.ScaleH.Estimate, w[4], 1e-4)
			near(t, "shape", fit.Shape.Estimate, w[5], 1e-5)
			// Twice the gain over a constant rate, which the score test is near.
			if gain := fit.LogLik.Or(0) - d.LogLik.Or(0); math.Abs(gain-w[6]) > 1e-6 {
				t.Errorf("gain of the Weibull curve %v, R says %v", gain, w[6])
			}
			if test, _ := d.Constant.Get(); math.Abs(test.Chi2-2*w[6]) > 0.02 || test.DF != 1 {
				t.Errorf("test of constancy %+v, likelihood ratio %v", test, 2*w[6])
			}
			if lo, hi := fit.Shape.Lower.Or(9), fit.Shape.Upper.Or(0); !(lo < w[5] && w[5] < hi) || math.Abs(hi/w[5]-w[5]/lo) > 0.2 {
				t.Errorf("shape %v to %v around %v", lo, hi, w[5])
			}
		}
	}
}

func TestBCDeterModels(t *testing.T) {
	// Klein and Moeschberger's data: exponential with a rate for each treatment,
	// log-likelihood −157.6; Weibull with a common shape, −149.8 (digits from R,
	// testdata/reference.txt). Two baits' times are known to the month; R takes
	// their density, so the probability of a stretch of 0.001 is divided by it.
	_, want := reference(t, "survreg-both")
	ivs := map[string][]Interval{}
	for treat, rs := range bcdeter(t) {
		for _, r := range rs {
			ivs[treat] = append(ivs[treat], r.intervals...)
		}
	}
	_, a := ConstantRate(ivs["1"], 0.95)
	_, b := ConstantRate(ivs["2"], 0.95)
	const density = -2 * -6.907755278982137 // 2 ln 1000
	if got := a + b + density; math.Abs(got-want[0][2]) > 2e-3 {
		t.Errorf("exponential %v, want %v", got, want[0][2])
	}
	w1, w2 := newWeibull(ivs["1"]), newWeibull(ivs["2"])
	_, top := highest(func(x float64) float64 {
		l1, _ := w1.at(x)
		l2, _ := w2.at(x)
		return l1 + l2
	}, -2, 2, 1e-8)
	if got := top + density; math.Abs(got-want[1][2]) > 2e-3 {
		t.Errorf("Weibull %v, want %v", got, want[1][2])
	}
}

func TestRateNotConstant(t *testing.T) {
	// With two intervals the score test is Pearson's: at the constant rate λ,
	// q = (1 − e^(−λ), 1 − e^(−23λ)), y = (10, 1) of r = (25, 15).
	res := compute(t, Options{}, row("A", 25, []float64{1, 24}, []int{10, 11}, []int{0, 0}, nil))
	d := res.Deployments[0]
	rate, _ := d.RatePerH.Estimate.Get()
	pearson := func(y, r, q float64) float64 { return (y - r*q) * (y - r*q) / (r * q * (1 - q)) }
	want := pearson(10, 25, -math.Expm1(-rate)) + pearson(1, 15, -math.Expm1(-23*rate))
	got, ok := d.Constant.Get()
	if !ok || math.Abs(got.Chi2-want) > 1e-9 || got.P > 1e-6 {
		t.Errorf("%+v, want %v", got, want)
	}
	if len(res.Messages) != 1 || res.Messages[0].Slug != RateNotConstant {
		t.Errorf("messages %+v", res.Messages)
	}
	// A rate that is constant by construction: y = 25(1 − e^(−λ)) and so on.
	d = compute(t, Options{}, row("A", 1000, []float64{1, 2}, []int{500, 750}, []int{0, 0}, nil)).Deployments[0]
	if got, _ := d.Constant.Get(); got.Chi2 > 1e-9 || got.P < 0.999 {
		t.Errorf("constant by construction: %+v", got)
	}
	nearEstimate(t, "rate", Estimate{Estimate: d.RatePerH.Estimate}, math.Ln2, none, none, 1e-12)
	near(t, "median", d.MedianH.Estimate, 1, 1e-12)
}

func TestNominal(t *testing.T) {
	// Check 2 at 26 h: between 1 h and 26 h log S falls from ln 0.8 to ln 0.4, and
	// 24 h lies 23/25 of the way: S = 0.8 · 0.5^(23/25).
	d := compute(t, Options{}, row("A", 25, []float64{1, 26}, []int{5, 15}, []int{0, 0}, nil)).Deployments[0]
	if n := d.Nominal; len(n) != 2 || n[0].Modelled || !n[1].Modelled {
		t.Fatalf("%+v", n)
	}
	near(t, "at 1 h", d.Nominal[0].Proportion, 0.2, 1e-12)
	near(t, "at 24 h", d.Nominal[1].Proportion, 1-0.8*math.Pow(0.5, 23.0/25), 1e-12)
	// A check at 19 h speaks for 24 h, one at 1 h does not; all consumed at 26 h
	// leaves 24 h between what was seen and everything.
	d = compute(t, Options{}, row("A", 25, []float64{19}, []int{5}, []int{0}, nil)).Deployments[0]
	near(t, "from 19 h", d.Nominal[1].Proportion, 1-math.Pow(0.8, 24.0/19), 1e-12)
	near(t, "1 h", d.Nominal[0].Proportion, 1-math.Pow(0.8, 1.0/19), 1e-12)
	d = compute(t, Options{}, row("A", 25, []float64{1}, []int{5}, []int{0}, nil)).Deployments[0]
	near(t, "from 1 h", d.Nominal[1].Proportion, none, 0)
	d = compute(t, Options{}, row("A", 25, []float64{1, 26}, []int{5, 25}, []int{0, 0}, nil)).Deployments[0]
	near(t, "before all were gone", d.Nominal[1].Proportion, none, 0)
	near(t, "its upper", d.Nominal[1].Upper, 1, 0)
	near(t, "its lower", d.Nominal[1].Lower, d.Checks[0].Lower.Or(9), 1e-12)
}

func TestExcludedAndFlow(t *testing.T) {
	ds := make([]assay.Deployment, 0, 8)
	for _, id := range []string{"in", "control", "practice", "blocked", "unread", "twice", "asked", "answered"} {
		ds = append(ds, row(id, 25, []float64{1, 24}, []int{3, 9}, []int{0, 0}, nil))
	}
	ds[1].Control = assay.Shielded
	ds[2].Practice = assay.Some(true)
	ds[4].Checks = nil
	ds[5] = row("twice", 25, []float64{1, 24}, []int{9, 3}, []int{0, 0}, nil) // fewer than before
	res := compute(t, Options{Planned: 10, Findings: []assay.Finding{
		{Slug: "too-many", Severity: assay.Block, DeploymentID: "blocked"},
		{Slug: "soak", Severity: assay.Ask, DeploymentID: "asked"},
		{Slug: "soak", Severity: assay.Ask, DeploymentID: "answered", Answered: true},
		{Slug: "size", Severity: assay.Note, DeploymentID: "in"},
	}}, ds...)
	want := []Excluded{{"control", "control", ""}, {"practice", "practice", ""}, {"blocked", "blocked", "too-many"}, {"unread", "never-read", ""}, {"twice", "impossible", ""}}
	if !slices.Equal(res.Excluded, want) {
		t.Errorf("excluded %+v", res.Excluded)
	}
	res.InWords(words.English)
	last := res.Messages[len(res.Messages)-1]
	if last.DeploymentID != "twice" || last.Text != "twice: check 2 has fewer consumed or lost baits than the check before, though both are counted from setting out" {
		t.Errorf("message %+v", last)
	}
	if f := res.Flow; f != (Flow{Planned: 10, SetOut: 8, Read: 7, Analysed: 3, Asked: 1}) {
		t.Errorf("flow %+v", f)
	}
	for k, id := range []string{"in", "asked", "answered"} {
		if res.Deployments[k].DeploymentID != id {
			t.Errorf("deployment %d is %s", k, res.Deployments[k].DeploymentID)
		}
	}
}

func TestFindingOfOneOfTwoNamesakes(t *testing.T) {
	a, b := row("D1", 25, []float64{1}, []int{3}, []int{0}, nil), row("D1", 25, []float64{1}, []int{4}, []int{0}, nil)
	a.Where, b.Where = assay.Place{File: "a.csv", Line: 2}, assay.Place{File: "b.csv", Line: 2}
	block := assay.Finding{Slug: "x", Severity: assay.Block, DeploymentID: "D1", At: assay.Place{File: "b.csv", Line: 2, Column: "check1_at"}}
	res := compute(t, Options{Findings: []assay.Finding{block}}, a, b)
	if len(res.Deployments) != 1 || res.Deployments[0].Checks[0].Consumed != 3 {
		t.Errorf("the line was not told apart: %+v", res.Deployments)
	}
	block.At = assay.Place{}
	if res = compute(t, Options{Findings: []assay.Finding{block}}, a, b); len(res.Deployments) != 0 {
		t.Errorf("a finding without a place must keep out both")
	}
	a.Key, b.Key = "k1", "k2"
	block.Key = "k1"
	if res = compute(t, Options{Findings: []assay.Finding{block}}, a, b); len(res.Deployments) != 1 || res.Deployments[0].Checks[0].Consumed != 4 {
		t.Errorf("the key was not used: %+v", res.Deployments)
	}
}

func TestLostDerived(t *testing.T) {
	base := func(lost []int, retrieved int) assay.Deployment {
		d := row("A", 25, []float64{1, 24}, []int{4, 9}, lost, nil)
		d.StakesRetrieved = known(retrieved)
		return d
	}
	for _, c := range []struct {
		what string
		d    assay.Deployment
		want []int
		note string
	}{
		{"written", base([]int{1, 2}, 20), []int{1, 2}, ""},
		// min(25 − 22, 25 − 9) = 3, by the last check only.
		{"retrieved", base(nil, 22), []int{0, 3}, LostFromRetrieved},
		// min(25 − 5, 25 − 9) = 16: consumed baits cannot be lost.
		{"few retrieved", base(nil, 5), []int{0, 16}, LostFromRetrieved},
		{"all retrieved", base(nil, 25), []int{0, 0}, LostFromRetrieved},
		{"more retrieved than set", base(nil, 27), []int{0, 0}, LostFromRetrieved},
		{"nothing known", base(nil, -1), []int{0, 0}, LostTakenAsNone},
		{"gap at the end", base([]int{2, -1}, -1), []int{2, 2}, LostCarriedForward},
		{"gap at the end, retrieved", base([]int{2, -1}, 20), []int{2, 5}, LostFromRetrieved},
		{"gap before", base([]int{-1, 3}, -1), []int{0, 3}, ""},
	} {
		got, note := Lost(&c.d)
		if !slices.Equal(got, c.want) || note != c.note {
			t.Errorf("%s: %v %q, want %v %q", c.what, got, note, c.want, c.note)
		}
	}
}

func TestJSONKeys(t *testing.T) {
	d := row("A", 25, []float64{1, 24}, []int{25, 25}, []int{0, 0}, nil)
	out, err := json.Marshal(compute(t, Options{Group: ByHabitat}, d))
	if err != nil {
		t.Fatal(err)
	}
	if string(out[:13]) != `{"contract":1` {
		t.Errorf("begins %s", out[:40])
	}
	var res struct {
		Deployments []struct {
			ID     string `json:"deployment_id"`
			Checks []map[string]any
			Rate   map[string]any `json:"rate_per_h"`
		}
		Groups []struct {
			Group       string
			Deployments int
			Survival    []map[string]any
		}
		Excluded []any
	}
	if err := json.Unmarshal(out, &res); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"check", "soak_h", "at_risk", "consumed", "consumed_in_interval", "lost", "proportion", "lower", "upper", "proportion_if_lost_survived", "proportion_if_lost_consumed"} {
		if _, ok := res.Deployments[0].Checks[0][key]; !ok {
			t.Errorf("a check has no %s", key)
		}
	}
	if v, ok := res.Deployments[0].Rate["estimate"]; !ok || v != nil {
		t.Errorf("rate estimate %v, want null", v)
	}
	if res.Deployments[0].Rate["lower"] == nil || res.Excluded == nil {
		t.Errorf("%s", out)
	}
	s := res.Groups[0].Survival
	if s[0]["from_h"] != 0.0 || s[0]["survival"] != 1.0 || s[0]["lower"] != nil {
		t.Errorf("group %v", s)
	}
}

func TestEverySlugHasWords(t *testing.T) {
	for _, slug := range []string{LostFromRetrieved, LostTakenAsNone, LostCarriedForward, NeverRead, Impossible, impossibleHow, checkUntimed, unreadRun,
		unreadNever, stakesNotListed, stakesTooMany, bandShort, limitsFew, ControlRow, PracticeRow, Blocked, RateNotConstant,
		"rates-too-few-for-band", "rates-band-small-sample", "rates-soaks-rounded", "rates-option-interval", "rates-option-level",
		"rates-option-group", "rates-option-replicates", "rates-impossible-no-baits", "rates-impossible-time", "rates-impossible-fewer",
		"rates-impossible-too-many", "rates-impossible-present-again"} {
		if !words.Has(slug) {
			t.Errorf("the catalogue lacks %s", slug)
		}
	}
	for _, o := range []Options{{Interval: "normal"}, {Level: 95}, {Group: "depth"}, {Replicates: 3}} {
		if _, err := Compute(t.Context(), nil, o); err == nil {
			t.Errorf("%+v was taken", o)
		}
	}
}
