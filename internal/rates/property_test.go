package rates

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// drawRow is any possible deployment, with losses and unread baits.
func drawRow(t *rapid.T, unread bool) assay.Deployment {
	n := rapid.IntRange(1, 30).Draw(t, "n")
	k := rapid.IntRange(1, 4).Draw(t, "checks")
	soaks, c, l, u := []float64{}, []int{}, []int{}, []int{}
	h, cs, ls := 0.0, 0, 0
	for range k {
		h += rapid.Float64Range(0.1, 20).Draw(t, "soak")
		cs += rapid.IntRange(0, n-cs-ls).Draw(t, "consumed")
		ls += rapid.IntRange(0, (n-cs-ls)/2).Draw(t, "lost")
		us := 0
		if unread {
			us = rapid.IntRange(0, n-cs-ls).Draw(t, "unread")
		}
		soaks, c, l, u = append(soaks, math.Round(h*60)/60), append(c, cs), append(l, ls), append(u, us)
	}
	return row("A", n, soaks, c, l, u)
}

func TestProportionProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRow(t, rapid.Bool().Draw(t, "unread"))
		res, err := Compute(t.Context(), []assay.Deployment{d}, Options{Interval: rapid.SampledFrom(Methods).Draw(t, "method")})
		if err != nil || len(res.Deployments) != 1 {
			t.Fatal(err, res.Excluded)
		}
		before := 0.0
		for _, c := range res.Deployments[0].Checks {
			if c.IfLostSurvived > c.IfLostConsumed || c.AtRisk < 0 || c.ConsumedInInterval > c.AtRisk {
				t.Fatalf("%+v", c)
			}
			p, ok := c.Proportion.Get()
			if !ok {
				continue
			}
			const eps = 1e-6
			if p < c.IfLostSurvived-eps || p > c.IfLostConsumed+eps {
				t.Fatalf("p %v outside its bounds %v %v", p, c.IfLostSurvived, c.IfLostConsumed)
			}
			if p < before-eps || p < c.Lower.Or(9)-eps || p > c.Upper.Or(-9)+eps {
				t.Fatalf("p %v after %v, %v to %v", p, before, c.Lower, c.Upper)
			}
			before = p
		}
		r := res.Deployments[0].RatePerH
		if v, ok := r.Estimate.Get(); ok && (v < r.Lower.Or(math.Inf(1)) || v > r.Upper.Or(-1)) {
			t.Fatalf("rate %+v", r)
		}
		if _, err := json.Marshal(res); err != nil {
			t.Fatal(err)
		}
	})
}

// A bait lost after the last check never changes what earlier checks say.
func TestLaterLossChangesNothingEarlier(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawRow(t, false)
		more := d
		more.Checks = slices.Clone(d.Checks)
		last := &more.Checks[len(more.Checks)-1]
		room := d.Baits - last.Consumed.Or(0) - last.Lost.Or(0)
		extra := rapid.IntRange(0, room).Draw(t, "extra")
		last.Lost = assay.Some(last.Lost.Or(0) + extra)
		a, err1 := Compute(t.Context(), []assay.Deployment{d}, Options{})
		b, err2 := Compute(t.Context(), []assay.Deployment{more}, Options{})
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		for k := range len(d.Checks) - 1 {
			if a.Deployments[0].Checks[k] != b.Deployments[0].Checks[k] {
				t.Fatalf("check %d: %+v and %+v", k+1, a.Deployments[0].Checks[k], b.Deployments[0].Checks[k])
			}
		}
	})
}

// Whatever stands in a record, nothing panics and nothing is NaN.
func TestAnyRecord(t *testing.T) {
	any := rapid.Custom(func(t *rapid.T) assay.Deployment {
		k := rapid.IntRange(0, 4).Draw(t, "checks")
		count := rapid.SliceOfN(rapid.IntRange(-2, 12), k, k)
		d := row("A", rapid.IntRange(-1, 10).Draw(t, "n"), rapid.SliceOfN(rapid.Float64Range(-2, 30), k, k).Draw(t, "soak"),
			count.Draw(t, "c"), count.Draw(t, "l"), count.Draw(t, "u"))
		for range rapid.IntRange(0, 8).Draw(t, "stakes") {
			d.Stakes = append(d.Stakes, assay.StakeFate{Stake: rapid.IntRange(0, 4).Draw(t, "stake"), Check: rapid.IntRange(0, 5).Draw(t, "check"),
				Fate: rapid.SampledFrom([]assay.Fate{assay.Present, assay.Consumed, assay.Lost, assay.Unread, ""}).Draw(t, "fate"),
				How:  rapid.SampledFrom([]assay.How{"", assay.BaitGone, assay.StakeGone}).Draw(t, "how")})
		}
		d.StakesRetrieved = known(rapid.IntRange(-1, 12).Draw(t, "retrieved"))
		return d
	})
	rapid.Check(t, func(t *rapid.T) {
		ds := rapid.SliceOfN(any, 1, 8).Draw(t, "deployments")
		res, err := Compute(t.Context(), ds, Options{Group: ByHabitat})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := json.Marshal(res); err != nil { // NaN and Inf are errors there
			t.Fatal(err)
		}
		res.InWords(words.Spanish)
		for _, m := range res.Messages {
			for _, r := range m.Text {
				if r == '⟨' {
					t.Fatalf("%s", m.Text)
				}
			}
		}
	})
}

// From a known constant rate the interval covers as stated, and the test of
// constancy is wrong no more often than it says.
func TestRateCovers(t *testing.T) {
	for _, rate := range []float64{0.01, 0.1, 0.5} {
		covered, alarms, n := 0, 0, 600
		for k := range n {
			r := stream(3, fmt.Sprint("coverage", rate), k)
			c := []int{0, 0}
			for range 25 {
				switch x := r.ExpFloat64() / rate; {
				case x < 1:
					c[0]++
					c[1]++
				case x < 24:
					c[1]++
				}
			}
			d := compute(t, Options{}, row("A", 25, []float64{1, 24}, c, []int{0, 0}, nil)).Deployments[0]
			if d.RatePerH.Lower.Or(0) <= rate && rate <= d.RatePerH.Upper.Or(math.Inf(1)) {
				covered++
			}
			if v, ok := d.Constant.Get(); ok && v.P < 0.05 {
				alarms++
			}
		}
		// 600 draws of a true 95 % fall below 0.925 about once in 300; of a true 5 %
		// rise above 0.075 as often.
		if float64(covered)/float64(n) < 0.925 || float64(alarms)/float64(n) > 0.075 {
			t.Errorf("rate %v: coverage %d of %d, false alarms %d", rate, covered, n, alarms)
		}
		t.Logf("rate %v: coverage %.3f, false alarms %.3f", rate, float64(covered)/float64(n), float64(alarms)/float64(n))
	}
}
