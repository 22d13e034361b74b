package rates

import (
	"encoding/json"
	"math"
	"testing"

	"soakline/internal/assay"
)

func near(t *testing.T, what string, got assay.Maybe[float64], want, tol float64) {
	t.Helper()
	v, ok := got.Get()
	switch {
	case math.IsNaN(want) && ok:
		t.Errorf("%s = %v, want none", what, v)
	case !math.IsNaN(want) && !ok:
		t.Errorf("%s is missing, want %v", what, want)
	case ok && math.Abs(v-want) > tol:
		t.Errorf("%s = %.10g, want %.10g", what, v, want)
	}
}

var none = math.NaN()

func TestLostAfterFirstCheck(t *testing.T) {
	// n = 25, C = (10, 13), L = (0, 10): r = (25, 5), S = 15/25 · 2/5 = 0.24.
	// Greenwood: Var(log S) = 10/(25·15) + 3/(5·2) = 0.326667,
	// n_e = p/(S·V) = 0.76/(0.24·0.326667) = 9.69388.
	// Wilson with 9.69388: worked with R's own arithmetic in testdata/limits.R.
	d := compute(t, Options{}, row("A", 25, []float64{1, 24}, []int{10, 13}, []int{0, 10}, nil)).Deployments[0]
	c := d.Checks[1]
	near(t, "p", c.Proportion, 0.76, 1e-12)
	if c.AtRisk != 5 || c.ConsumedInInterval != 3 || c.Consumed != 13 || c.Lost != 10 {
		t.Errorf("check 2 = %+v", c)
	}
	if c.IfLostSurvived != 0.52 || c.IfLostConsumed != 0.92 {
		t.Errorf("bounds %v %v, want 0.52 0.92", c.IfLostSurvived, c.IfLostConsumed)
	}
	out, err := json.MarshalIndent(d, "", " ")
	t.Log(string(out), err)
}
