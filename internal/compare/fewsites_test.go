package compare

import (
	"context"
	"slices"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// TestLimitsForFewSites: with 6 sites crossed they stand, wider than Wald's, with at most the 5 degrees
// of freedom that a comparison within 6 sites leaves (6 − 1; of a mean too), and are told first; the
// message says so. With 30 sites, and where they cannot be worked out, they are missing, and the
// message says which.
func TestLimitsForFewSites(t *testing.T) {
	run := func(n int, o Options) *Result {
		o.NoRepeat = true
		r, err := Run(context.Background(), drawn(n), o)
		if err != nil {
			t.Fatal(err)
		}
		mustMarshal(t, r)
		return r
	}
	r := run(48, Options{})
	c := r.Contrasts[0]
	if df := c.DF.Or(99); !(df >= 1 && df <= 5) || !(c.LowerT.Or(9) < c.Lower.Or(0)) || !(c.UpperT.Or(0) > c.Upper.Or(9)) {
		t.Errorf("%+v", c)
	}
	if lower, _ := c.HeadlineLimits(); lower != c.LowerT {
		t.Errorf("told first: %v", lower)
	}
	for _, m := range r.Means {
		lower, upper := m.HeadlineLimits()
		slow, quick := m.HeadlineRateLimits()
		if df := m.DF.Or(99); !(df >= 1 && df <= 5) || lower != m.LowerT || upper != m.UpperT || slow != m.RateLowerTPerH || quick != m.RateUpperTPerH ||
			!(lower.Or(9) < m.Lower.Or(0)) || !(upper.Or(0) > m.Upper.Or(9)) || !(slow.Or(9) < m.RateLowerPerH.Or(0)) || !(quick.Or(0) > m.RateUpperPerH.Or(9)) {
			t.Errorf("%+v", m)
		}
	}
	if !r.tells("limits-too-narrow", "limits-too-narrow-told") {
		t.Errorf("%v", r.Messages)
	}
	// One habitat has no ratio: its means are told with the same limits, and said to be.
	alone := slices.DeleteFunc(drawn(48), func(d assay.Deployment) bool { return d.Habitat != r.Means[0].Level })
	one, err := Run(context.Background(), alone, Options{NoRepeat: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(one.Contrasts) != 0 || !one.Means[0].LowerT.Known() || !one.tells("limits-too-narrow", "limits-too-narrow-told") {
		t.Errorf("one habitat: %+v, %v", one.Means, one.Messages)
	}
	if many := run(240, Options{}); many.Contrasts[0].LowerT.Known() || many.Means[0].DF.Known() || many.says("limits-too-narrow") {
		t.Errorf("30 sites: %+v", many.Contrasts[0])
	}
	for name, o := range map[string]Options{"quadrature": {Quadrature: 3}, "beta-binomial": {Check: 1, Family: "betabinomial", Link: "logit"}} {
		if few := run(48, o); few.Contrasts[0].LowerT.Known() || !few.tells("limits-too-narrow", "limits-too-narrow-none") {
			t.Errorf("%s: %+v %v", name, few.Contrasts[0], few.Messages)
		}
	}
}

// tells says whether a message was given with a sentence as its last part.
func (r *Result) tells(slug, then string) bool {
	for _, m := range r.Messages {
		if ref, ok := m.With["then"].(words.Ref); ok && m.Slug == slug && ref.Slug == then {
			return true
		}
	}
	return false
}
