package mixed

import (
	"math"
	"testing"
)

// many is an observation of so many trials that its log hazard v is as good as known.
func many(t *testing.T, d *Data, groups []int, v float64, x ...float64) {
	t.Helper()
	const trials = 4_000_000
	must(t, d.Add(int(math.Round(-trials*math.Expm1(-math.Exp(v)))), trials, groups, Piece{Exposure: 1, X: x}))
}

// TestRestrictedIsStudents: where the log hazard of every group is as good as known, the
// comparison is Student's, worked by hand: two samples with their pooled variance and n − 2
// degrees of freedom, or pairs with n − 1. Maximum likelihood gives the same estimate, but a standard error
// too small by √((n − 2)/n) and √((n − 1)/n).
func TestRestrictedIsStudents(t *testing.T) {
	a := []float64{-0.31, 0.42, 0.05, -0.77, 0.28}
	b := []float64{0.95, 0.18, 1.21, 0.44, 0.83, 0.39}
	d := NewData([]string{"one", "b"}, []string{"site"})
	for i, v := range a {
		many(t, d, []int{i}, v, 1, 0)
	}
	for i, v := range b {
		many(t, d, []int{10 + i}, v, 1, 1)
	}
	n := float64(len(a) + len(b))
	pooled := (squares(a) + squares(b)) / (n - 2)
	se := math.Sqrt(pooled * (1/float64(len(a)) + 1/float64(len(b))))
	isStudents(t, "two samples", d, se, n-2, math.Sqrt((n-2)/n))
	r, err := Fit(d, Options{})
	must(t, err)
	if s := r.Restricted(); math.Abs(s.SDs[0]-math.Sqrt(pooled)) > 2e-3 {
		t.Errorf("SD %v, pooled %v", s.SDs[0], math.Sqrt(pooled))
	}

	pairs := [][2]float64{{-0.9, -0.2}, {0.1, 0.9}, {-1.6, -1.5}, {0.7, 0.6}, {-0.4, 0.6}, {-1.1, -0.1}, {0.3, 0.5}}
	d = NewData([]string{"one", "b"}, []string{"site", "site-habitat"})
	var diff []float64
	for i, p := range pairs {
		many(t, d, []int{i, 0}, p[0], 1, 0)
		many(t, d, []int{i, 1}, p[1], 1, 1)
		diff = append(diff, p[1]-p[0])
	}
	n = float64(len(pairs))
	isStudents(t, "pairs", d, math.Sqrt(squares(diff)/(n-1)/n), n-1, math.Sqrt((n-1)/n))
}

// squares is the sum of squares about the mean.
func squares(x []float64) (s float64) {
	mean := 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	for _, v := range x {
		s += (v - mean) * (v - mean)
	}
	return s
}

func isStudents(t *testing.T, name string, d *Data, se, df, short float64) {
	t.Helper()
	r, err := Fit(d, Options{})
	must(t, err)
	few := r.Restricted()
	if few == nil {
		t.Fatalf("%s: nothing", name)
	}
	gotSE, gotDF := few.Contrast([]float64{0, 1})
	if math.Abs(gotSE/se-1) > 2e-3 || math.Abs(gotDF/df-1) > 2e-2 {
		t.Errorf("%s: se %v on %v degrees of freedom, Student's %v on %v", name, gotSE, gotDF, se, df)
	}
	if w := r.Contrast([]float64{0, 1}); math.Abs(w.SE/(se*short)-1) > 2e-3 {
		t.Errorf("%s: the quick standard error is %v, expected %v", name, w.SE, se*short)
	}
	// 2.2621572 is the 97.5 % quantile of Student's t with 9 degrees of freedom, Fisher & Yates' table III
	// (from memory: 2.262)
	if lo, hi := StudentLimits(1, 2, 9, 0.95); math.Abs(lo-(1-4.524)) > 1e-3 || math.Abs(hi-5.524) > 1e-3 {
		t.Errorf("%v %v", lo, hi)
	}
	m := r.Mean([]Piece{{Exposure: 1, X: []float64{1, 1}}})
	lo, hi, _ := few.MeanLimits([]Piece{{Exposure: 1, X: []float64{1, 1}}}, df)
	if !(lo < m.Lower && hi > m.Upper && lo > 0 && hi < 1) {
		t.Errorf("%s: mean %v to %v, quick %v to %v", name, lo, hi, m.Lower, m.Upper)
	}
}

// TestRestrictedWhereItCannot: no random level, nothing estimated, something running away.
func TestRestrictedWhereItCannot(t *testing.T) {
	for name, d := range map[string]*Data{"no level": threeHabitats(t)} {
		r, err := Fit(d, Options{})
		must(t, err)
		if r.Restricted() != nil {
			t.Errorf("%s: something", name)
		}
	}
	d := NewData([]string{"one"}, []string{"site"})
	for i := range 4 {
		must(t, d.Add(0, 25, []int{i}, Piece{Exposure: 1, X: []float64{1}}))
	}
	r, err := Fit(d, Options{})
	must(t, err)
	if r.Restricted() != nil {
		t.Error("no event: something")
	}
}
