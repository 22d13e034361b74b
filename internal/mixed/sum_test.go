package mixed

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestSumByHand: 3 of 2 + 2 trials, p = ½ in the first part (hazard ln 2) and ¾ in
// the second (2 ln 2). Splits: (1,2): 2·¼ · 9/16 = 9/32; (2,1): ¼ · 2·¾·¼ = 3/32.
// Together 12/32.
func TestSumByHand(t *testing.T) {
	d := NewData([]string{"one"}, nil)
	one := []float64{1}
	if err := d.AddSum(3, nil, Part{2, []Piece{{math.Ln2, one, false}}}, Part{2, []Piece{{2 * math.Ln2, one, false}}}); err != nil {
		t.Fatal(err)
	}
	f, a := frameOf(t, d, Cloglog, Binomial)
	if got := newWorkspace(f.plain(a)).eval(f.project(a, []float64{0}), nil); math.Abs(got-math.Log(12.0/32)) > 1e-14 {
		t.Errorf("log-likelihood %v, want log(12/32)", got)
	}
}

// TestSumOfEqualParts: parts with the same hazard are one binomial, with and without
// intercepts, and so is the whole fit.
func TestSumOfEqualParts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole, parts := NewData([]string{"one", "x"}, []string{"site"}), NewData([]string{"one", "x"}, []string{"site"})
		for i := range 12 {
			a, b := rapid.IntRange(1, 9).Draw(t, "a"), rapid.IntRange(1, 9).Draw(t, "b")
			y := rapid.IntRange(0, a+b).Draw(t, "y")
			if i < 2 {
				y = i + 1 // never nothing, never everything
			}
			p := []Piece{{0.5, []float64{1, float64(i % 2)}, false}}
			if whole.Add(y, a+b, []int{i / 3}, p...) != nil || parts.AddSum(y, []int{i / 3}, Part{a, p}, Part{b, p}) != nil {
				t.Fatal("refused")
			}
		}
		one, err1 := Fit(whole, Options{})
		sum, err2 := Fit(parts, Options{})
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		if one.Ending == Separation || sum.Ending == Separation {
			return // a sum's rising direction is not taken to its limit
		}
		if one.Ending != sum.Ending || math.Abs(one.LogLik-sum.LogLik) > 1e-7 {
			t.Fatalf("%s %.10f, %s %.10f", one.Ending, one.LogLik, sum.Ending, sum.LogLik)
		}
		for j := range one.Fixed {
			if math.Abs(one.Fixed[j].Estimate-sum.Fixed[j].Estimate) > 1e-5 || math.Abs(one.Fixed[j].SE-sum.Fixed[j].SE) > 1e-4 {
				t.Fatalf("%+v, %+v", one.Fixed[j], sum.Fixed[j])
			}
		}
	})
}

// TestSumRefused: the logit link and the beta-binomial know no sums.
func TestSumRefused(t *testing.T) {
	d := NewData([]string{"one"}, nil)
	p := []Piece{{1, []float64{1}, false}}
	if err := d.AddSum(1, nil, Part{2, p}, Part{2, p}); err != nil {
		t.Fatal(err)
	}
	for _, o := range []Options{{Link: Logit}, {Family: BetaBinomial}} {
		if _, err := Fit(d, o); err == nil {
			t.Errorf("%+v was fitted", o)
		}
	}
	if d.AddSum(1, nil, Part{2, nil}) == nil || d.AddSum(5, nil, Part{2, p}, Part{2, p}) == nil {
		t.Error("impossible sums were taken")
	}
}
