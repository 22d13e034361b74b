package mixed

import (
	"math"
	"testing"
)

func toenail(t testing.TB) *Data {
	h, lines := table(t, "toenail.csv")
	d := NewData([]string{"one", "treated", "month", "treated:month"}, []string{"patient"})
	for _, l := range lines {
		tr, mo := l[h["treated"]], l[h["month"]]
		if err := d.Add(int(l[h["events"]]), 1, []int{int(l[h["group"]])}, Piece{Exposure: 1, X: []float64{1, tr, mo, tr * mo}}); err != nil {
			t.Fatal(err)
		}
	}
	return d
}

// TestLaplaceFails: binary data with large spread, where Laplace is known to be
// wrong (Lesaffre & Spiessens 2001, Appl. Stat. 50:325–335). Values made by
// testdata/published.R: glmmTMB 1.1.5 for Laplace, lme4 1.1-31 with 20 nodes.
func TestLaplaceFails(t *testing.T) {
	d := toenail(t)
	lap, err := Fit(d, Options{Link: Logit})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(lap.LogLik - -627.8089342) > 1e-3 || math.Abs(lap.Random[0].SD-4.5708871) > 2e-3 {
		t.Errorf("Laplace: loglik %.5f SD %.5f, want −627.8089 and 4.5709", lap.LogLik, lap.Random[0].SD)
	}
	shift, n := lap.LaplaceShift(20)
	if n == nil || n.Slug != SlugLaplaceInaccurate {
		t.Errorf("shift %.3f not called inaccurate", shift)
	}
	q, err := Fit(d, Options{Link: Logit, Quadrature: 20})
	if err != nil {
		t.Fatal(err)
	}
	if q.Ending != Converged || math.Abs(q.LogLik - -625.3750781) > 0.01 || math.Abs(q.Random[0].SD-4.0039184) > 4e-3 {
		t.Errorf("20 nodes: %s loglik %.5f SD %.5f, want −625.3751 and 4.0039", q.Ending, q.LogLik, q.Random[0].SD)
	}
	for j, want := range []float64{-1.61832901, -0.16080697, -0.39084235, -0.13672479} {
		if got := q.Fixed[j].Estimate; math.Abs(got-want) > 2e-3*math.Abs(want)+1e-3 {
			t.Errorf("20 nodes: %s %.6f, want %.6f", q.Fixed[j].Name, got, want)
		}
	}
	t.Logf("shift %.3f, loglik %.6f, SD %.6f", shift, q.LogLik, q.Random[0].SD)
}
