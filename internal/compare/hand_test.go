package compare

import (
	"math"
	"testing"

	"soakline/internal/assay"
)

var noSpread = []string{}

func lchoose(n, k float64) float64 {
	a, _ := math.Lgamma(n + 1)
	b, _ := math.Lgamma(k + 1)
	c, _ := math.Lgamma(n - k + 1)
	return a - b - c
}

func binomialLog(y, r, p float64) float64 {
	l := lchoose(r, y)
	if y > 0 {
		l += y * math.Log(p)
	}
	if y < r {
		l += (r - y) * math.Log1p(-p)
	}
	return l
}

// TestOneRowByHand: one row of 25, read at 1 h and 25 h, 5 then 15 consumed and
// 3 lost in between. Without random intercepts the two bands are saturated:
// y1 of r1 = 5 of 25, y2 of r2 = 10 of 17, rates −ln(1−y/r)/Δ.
func TestOneRowByHand(t *testing.T) {
	ds := []assay.Deployment{row("A", "s", "sand", 25, []float64{1, 25}, []int{5, 15}, []int{0, 3}, nil)}
	h1, h2 := -math.Log(1-5.0/25), -math.Log(1-10.0/17)/24
	want := binomialLog(5, 25, 5.0/25) + binomialLog(10, 17, 10.0/17)
	for _, bands := range []string{"nominal", "checks"} {
		r := run(t, ds, Options{Random: noSpread, Bands: bands})
		near(t, "baseline", r.term(t, "baseline").Estimate, math.Log(h1), 1e-7)
		near(t, "loglik", r.LogLik, want, 1e-9)
		if bands == "checks" {
			near(t, "interval2", r.term(t, "interval2").Estimate, math.Log(h2/h1), 1e-7)
			// Var(log H) of one binomial: p / (r (1−p) H²)
			se := math.Sqrt(0.2 / (25 * 0.8 * h1 * h1))
			near(t, "se", r.term(t, "baseline").SE, se, 1e-5)
		}
	}
	// with a nominal second soak of 24 h nothing changes: the last band has no end
	r := run(t, ds, Options{Random: noSpread})
	near(t, "interval2", r.term(t, "interval2").Estimate, math.Log(h2/h1), 1e-7)
	// the mean at 24 h: hazard h1 + 23 h2
	near(t, "mean 1 h", r.Means[0].Proportion, 0.2, 1e-7)
	near(t, "mean 24 h", r.Means[1].Proportion, 1-math.Exp(-h1-23*h2), 1e-7)
	near(t, "rate", r.Means[1].RateTypicalPerH, (h1+23*h2)/24, 1e-7)
	if !r.says("one-level") || r.Test.P.Known() {
		t.Error("one habitat was compared")
	}
}

// TestBandsByHand: rows read at 1 h, and one at 1.5 h. The interval to 1.5 h
// overlaps the second band by half an hour, so its hazard is a + b/2 with a, b the
// rates of the bands. Three observations of first checks and second checks; the
// likelihood is evaluated here directly on a grid around the estimate.
func TestBandsByHand(t *testing.T) {
	ds := []assay.Deployment{
		row("A", "s", "sand", 25, []float64{1, 24}, []int{5, 15}, nil, nil),
		row("B", "s", "sand", 25, []float64{1.5, 24}, []int{8, 18}, nil, nil),
	}
	r := run(t, ds, Options{Random: noSpread})
	logLik := func(a, b float64) float64 {
		p := func(h float64) float64 { return -math.Expm1(-h) }
		return binomialLog(5, 25, p(a)) + binomialLog(10, 20, p(23*b)) + binomialLog(8, 25, p(a+b/2)) + binomialLog(10, 17, p(22.5*b))
	}
	a := math.Exp(r.term(t, "baseline").Estimate.Or(0))
	b := a * math.Exp(r.term(t, "interval2").Estimate.Or(0))
	near(t, "loglik", r.LogLik, logLik(a, b), 1e-9)
	for _, f := range []float64{0.999, 1.001} {
		if logLik(a*f, b) > logLik(a, b) || logLik(a, b*f) > logLik(a, b) {
			t.Errorf("no maximum at %v, %v", a, b)
		}
	}
}

// TestTwoLevelsByHand: 6 of 20 against 12 of 24 at one check of 1 h. The ratio is
// ln(1−12/24) / ln(1−6/20); the odds ratio (12/12)/(6/14); chi-squared is twice the
// difference to the pooled 18 of 44.
func TestTwoLevelsByHand(t *testing.T) {
	ds := []assay.Deployment{
		row("A", "s", "reef", 20, []float64{1}, []int{6}, nil, nil),
		row("B", "s", "sand", 24, []float64{1}, []int{12}, nil, nil),
	}
	full := binomialLog(6, 20, 0.3) + binomialLog(12, 24, 0.5)
	chi2 := 2 * (full - binomialLog(6, 20, 18.0/44) - binomialLog(12, 24, 18.0/44))
	r := run(t, ds, Options{Random: noSpread, Check: 1})
	near(t, "ratio", r.Contrasts[0].RateRatio, math.Log(0.5)/math.Log(0.7), 1e-6)
	near(t, "chi2", r.Test.Chi2, chi2, 1e-8)
	near(t, "loglik", r.LogLik, full, 1e-9)
	near(t, "aic", r.AIC, 4-2*full, 1e-8)
	if k := r.Contrasts[0]; k.A != "sand" || k.B != "reef" {
		t.Errorf("contrast %s/%s", k.A, k.B)
	}
	// Wald limits of the log ratio: variances p/(r(1−p)H²) add
	v := 0.5/(24*0.5*math.Pow(math.Log(0.5), 2)) + 0.3/(20*0.7*math.Pow(math.Log(0.7), 2))
	near(t, "upper", r.Contrasts[0].Upper, math.Log(0.5)/math.Log(0.7)*math.Exp(1.959964*math.Sqrt(v)), 1e-4)

	r = run(t, ds, Options{Random: noSpread, Check: 1, Link: "logit"})
	near(t, "odds", r.Contrasts[0].OddsRatio, 14.0/6, 1e-6)
	missing(t, "rate ratio", r.Contrasts[0].RateRatio)
	near(t, "logit chi2", r.Test.Chi2, chi2, 1e-8) // both saturated: the same likelihoods
	// 1/6 + 1/14 + 1/12 + 1/12: Woolf's variance of a log odds ratio
	near(t, "se", r.term(t, "habitat=sand").SE, math.Sqrt(1.0/6+1.0/14+2.0/12), 1e-5)
}

// TestNothingConsumedAtOneLevel: with no random intercepts the sand has its own
// likelihood exp(−T·rate), T = 75 bait-hours, so its rate is at most
// −ln(0.05)/T (5.2), and the mean at 1 h at most 1 − 0.05^(1/75). The bound of the
// term is the profile over the reference's rate, found here by bisection.
func TestNothingConsumedAtOneLevel(t *testing.T) {
	var ds []assay.Deployment
	for i, c := range []int{4, 6, 5} {
		id := string(rune('A' + i))
		ds = append(ds, row("r"+id, "s"+id, "reef", 25, []float64{1}, []int{c}, nil, nil),
			row("z"+id, "s"+id, "sand", 25, []float64{1}, []int{0}, nil, nil))
	}
	r := run(t, ds, Options{Random: noSpread})
	f := r.term(t, "habitat=sand")
	missing(t, "estimate", f.Estimate)
	missing(t, "se", f.SE)
	missing(t, "z", f.Z)
	missing(t, "p", f.P)
	missing(t, "lower", f.Lower)
	if f.Bound != UpperBound || !r.says("separation") {
		t.Errorf("bound %s", f.Bound)
	}
	near(t, "baseline", r.term(t, "baseline").Estimate, math.Log(-math.Log(1-15.0/75)), 1e-7)
	// profile: ℓ(h, x) = 15 ln(1−e^−h) − 60 h − 75 h e^x, h maximised for given x
	profile := func(x float64) float64 {
		best := math.Inf(-1)
		for h := 1e-4; h < 1; h += 1e-5 {
			best = math.Max(best, 15*math.Log(-math.Expm1(-h))-60*h-75*h*math.Exp(x))
		}
		return best
	}
	top := profile(-40)
	lo, hi := -8.0, 2.0
	for range 30 {
		if mid := (lo + hi) / 2; top-profile(mid) > -math.Log(0.05) {
			hi = mid
		} else {
			lo = mid
		}
	}
	near(t, "upper", f.Upper, lo, 1e-4)
	for _, m := range r.Means {
		if m.Level == "sand" {
			near(t, "mean", m.Proportion, 0, 0)
			near(t, "upper of the mean", m.Upper, 1-math.Pow(0.05, 1.0/75), 1e-6)
			near(t, "upper rate", m.RateUpperPerH, -math.Log(0.05)/75, 1e-6)
			near(t, "lower rate", m.RateLowerPerH, 0, 0)
		}
	}
	k := r.Contrasts[0]
	missing(t, "ratio", k.RateRatio)
	missing(t, "ratio's lower", k.Lower)
	near(t, "ratio's upper", k.Upper, math.Exp(lo), 1e-4)
	// p of the likelihood ratio: 15 of 75 and 0 of 75 against 15 of 150
	chi2 := 2 * (15*math.Log(0.2) + 60*math.Log(0.8) - 15*math.Log(0.1) - 135*math.Log(0.9))
	near(t, "chi2", r.Test.Chi2, chi2, 1e-6)
	near(t, "p", k.P, math.Erfc(math.Sqrt(chi2/2)), 1e-6)
	if f.Shrunk.Or(0) > -2 || !f.Shrunk.Known() {
		t.Errorf("shrunk %v", f.Shrunk)
	}
}
