package compare

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/mixed"
)

func rowAt(n int, site, habitat string, control assay.Control, consumed ...int) assay.Deployment {
	at := time.Date(2025, 7, 1, 8, n%60, 0, 0, time.UTC)
	d := assay.Deployment{ID: fmt.Sprintf("R%d", n), Site: site, Habitat: habitat, Control: control, SetOut: assay.Moment{At: at}, Baits: 25}
	for k, c := range consumed {
		d.Checks = append(d.Checks, assay.Check{Number: k + 1, At: assay.Moment{At: at.Add([]time.Duration{time.Hour, 24 * time.Hour}[k])}, Consumed: assay.Some(c), Lost: assay.Some(0)})
	}
	return d
}

// Counted by hand. Three sites with both habitats: each may change them over,
// 2³ = 8 ways, of which two look alike to a test of both at once: 2/8. Six sites
// with one habitat each, three and three: 6!/(3! 3!) = 20 ways, two alike: 1/10.
// Two and four: 6!/(2! 4!) = 15 ways, none alike: 1/15.
func TestSmallestPByHand(t *testing.T) {
	season := func(habitats ...string) []assay.Deployment {
		var ds []assay.Deployment
		for i, h := range habitats {
			for _, r := range h {
				ds = append(ds, rowAt(len(ds), fmt.Sprint("s", i), string(r), "", 5+len(ds)%3, 14+len(ds)%5))
			}
		}
		return ds
	}
	for _, c := range []struct {
		ds   []assay.Deployment
		want float64
	}{
		{season("ab", "ab", "ab"), 2.0 / 8}, {season("a", "a", "a", "b", "b", "b"), 1.0 / 10}, {season("a", "a", "b", "b", "b", "b"), 1.0 / 15},
		{season("abc", "abc"), 6.0 / 36}, {season("ab", "a", "b"), 1.0 / 4},
	} {
		r, err := Run(context.Background(), c.ds, Options{Random: []string{"site"}, NoRepeat: true})
		if err != nil {
			t.Fatal(err)
		}
		if p, ok := r.Test.SmallestP.Get(); !ok || math.Abs(p-c.want) > 1e-12 {
			t.Errorf("smallest p %v, want %v", p, c.want)
		}
		if !r.Has("smallest-p") {
			t.Errorf("%v is not told", c.want)
		}
	}
}

// The critical value of 9 seasons at 0.8 is the 8th in order (0.8 × 10); at 0.95
// there are too few (9.5 rounds up to the 10th of 9). A missing value is the largest.
func TestCriticalByHand(t *testing.T) {
	list := []float64{3, 1, 9, math.NaN(), 2, 5, 4, 7, 6}
	if c := critical(list, 0.8); c != 9 {
		t.Errorf("critical value %v, want 9", c)
	}
	if c := critical(list, 0.95); !math.IsNaN(c) {
		t.Errorf("critical value %v of too few", c)
	}
}

// p and limits of the simulated seasons agree: a ratio of 1 lies outside exactly
// where p is at most 1 − level; and auto gives a p that a fixed number gives too.
func TestCalibratedAgrees(t *testing.T) {
	var ds []assay.Deployment
	for i := range 24 {
		ds = append(ds, rowAt(i, fmt.Sprint("s", i/6), []string{"a", "b", "c"}[i%3], "", []int{2, 3, 9}[i%3]+i*5%4, []int{8, 9, 20}[i%3]+i*7%5))
	}
	o := Options{Random: []string{"site", "deployment"}, BootstrapAuto: true, Seed: 3, NoRepeat: true}
	r, err := Run(context.Background(), ds, o)
	if err != nil {
		t.Fatal(err)
	}
	if r.Test.Stopped != "settled" || r.Test.Replicates%100 != 99 {
		t.Errorf("stopped %s after %d", r.Test.Stopped, r.Test.Replicates)
	}
	for _, c := range r.Contrasts {
		lower, upper := c.HeadlineLimits()
		p, _ := c.PBootstrap.Get()
		if out := lower.Or(0) > 1 || upper.Or(9) < 1; out != (p <= 0.05) {
			t.Errorf("%s/%s: p %v but limits [%v, %v]", c.A, c.B, p, lower.Or(0), upper.Or(0))
		}
		if a, _ := c.Headline(); a.Or(0) < p {
			t.Errorf("adjusted %v under %v", a.Or(0), p)
		}
	}
	o.BootstrapAuto, o.Bootstrap = false, r.Test.Replicates
	fixed, err := Run(context.Background(), ds, o)
	if err != nil || fixed.Test.PBootstrap.Or(-1) != r.Test.PBootstrap.Or(-2) || fixed.Test.Stopped != "fixed" {
		t.Errorf("fixed %v, auto %v (%v)", fixed.Test.PBootstrap.Or(-1), r.Test.PBootstrap.Or(-2), err)
	}
}

// Worked by hand. Nothing lost of 50: at most 1 − 0.05^(1/50) = 1 − exp(−2.995732/50)
// = 0.058155. Two rows of 25 with 1 and 3 gone: p = 4/50; the ratio's variance is
// 2/1 × (1² + 1²)/50² = 0.0016, that of independent baits 0.08 × 0.92/50 = 0.001472,
// design effect 1.086957; (z/t)² with one degree of freedom (1.959964/12.706205)²
// = 0.023794; N = 50/1.086957 × 0.023794 = 1.094519. With so few the limits are wide.
func TestControlLossByHand(t *testing.T) {
	l := lossOf([]float64{0, 0}, []float64{25, 25}, 0.95)
	if l.Bound != UpperBound || l.Lower.Known() || math.Abs(l.Upper.Or(0)-0.058155) > 1e-6 {
		t.Errorf("nothing lost: %+v", l)
	}
	l = lossOf([]float64{1, 3}, []float64{25, 25}, 0.95)
	if p := l.Proportion.Or(0); p != 0.08 || l.Upper.Or(0) < 0.8 || l.Lower.Or(1) > 0.001 {
		t.Errorf("4 of 50 in two rows: %+v", l)
	}
	// Independent rows (binomial variance or less) keep all baits but for Student's
	// degrees of freedom: nine rows, 2 of 25 each.
	l = lossOf([]float64{2, 2, 2, 2, 2, 2, 2, 2, 2}, []float64{25, 25, 25, 25, 25, 25, 25, 25, 25}, 0.95)
	if l.Lower.Or(0) < 0.04 || l.Upper.Or(1) > 0.14 {
		t.Errorf("18 of 225 in nine even rows: %+v", l)
	}
}

// Kinds of control rows are told apart, only shielded ones are subtracted, and
// shielded rows that lost nothing leave a bound that is carried on.
func TestControlKindsApart(t *testing.T) {
	ds := []assay.Deployment{
		rowAt(1, "k", "a", "", 4, 12), rowAt(2, "k", "b", "", 9, 20), rowAt(3, "p", "a", "", 3, 9), rowAt(4, "p", "b", "", 8, 18),
		rowAt(5, "k", "a", assay.Shielded, 0, 0), rowAt(6, "p", "b", assay.Shielded, 0, 0),
		rowAt(7, "k", "a", assay.PartlyShielded, 2, 5), rowAt(8, "p", "a", assay.Handling, 1, 1),
	}
	r, err := Run(context.Background(), ds, Options{Random: []string{}, Controls: "subtract"})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]int{}
	for _, l := range r.Controls.Loss {
		got[fmt.Sprint(l.Kind, l.Check)] = l.Consumed
	}
	want := map[string]int{"shielded1": 0, "shielded2": 0, "partly_shielded1": 2, "partly_shielded2": 5, "handling1": 1, "handling2": 1}
	for k, n := range want {
		if got[k] != n || len(got) != len(want) {
			t.Errorf("losses %v, want %v", got, want)
		}
	}
	b := r.Controls.AtUpperBound
	if r.Controls.Used != "shielded" || b == nil {
		t.Fatalf("nothing carried on: %+v", r.Controls)
	}
	// 2 rows × 25 baits × 24 h; −ln(0.05)/1200 = 2.995732/1200 = 0.00249644.
	if b.BaitHours != 1200 || math.Abs(b.RateUpperPerH-0.00249644) > 1e-8 {
		t.Errorf("bound %v of %v bait-hours", b.RateUpperPerH, b.BaitHours)
	}
	// Without random intercepts and with two bands the model of each habitat is
	// free up to proportional hazards; taking a hazard off makes the slower habitat
	// slower still, so that the ratio b/a grows.
	x, y := r.Contrasts[0].RateRatio.Or(0), b.Contrasts[0].RateRatio.Or(0)
	if !(y > x && x > 1) {
		t.Errorf("ratio %v, with the bound subtracted %v", x, y)
	}
	// One habitat, one check, by hand: 5 of 25 after 1 h give 0.223144 per hour; with
	// 0.01 known to belong to handling, 0.213144 is left.
	one, err := once(context.Background(), []assay.Deployment{rowAt(1, "k", "a", "", 5), rowAt(2, "k", "b", "", 15)}, Options{Random: []string{}, controlAt: 0.01}, &mixed.Result{})
	if err != nil || math.Abs(math.Exp(one.Fixed[0].Estimate.Or(9))-0.213144) > 1e-5 {
		t.Errorf("rate left %v (%v)", math.Exp(one.Fixed[0].Estimate.Or(9)), err)
	}
	plain, err := Run(context.Background(), ds, Options{Random: []string{}})
	if err != nil || plain.Controls.Used != "none" || plain.Controls.AtUpperBound != nil || len(plain.Controls.Loss) != 6 {
		t.Errorf("left out: %+v (%v)", plain.Controls, err)
	}
}
