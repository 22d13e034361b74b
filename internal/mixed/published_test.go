package mixed

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// table reads a CSV of numbers under testdata.
func table(t testing.TB, name string) (head map[string]int, lines [][]float64) {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rec, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	head = map[string]int{}
	for j, h := range rec[0] {
		head[h] = j
	}
	for _, l := range rec[1:] {
		v := make([]float64, len(l))
		for j, s := range l {
			if v[j], err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatal(err)
			}
		}
		lines = append(lines, v)
	}
	return head, lines
}

func cbpp(t testing.TB) *Data {
	h, lines := table(t, "cbpp.csv")
	d := NewData([]string{"one", "period2", "period3", "period4"}, []string{"herd"})
	for _, l := range lines {
		x := []float64{1, 0, 0, 0}
		if p := int(l[h["period"]]); p > 1 {
			x[p-1] = 1
		}
		if err := d.Add(int(l[h["events"]]), int(l[h["trials"]]), []int{int(l[h["group"]])}, Piece{Exposure: 1, X: x}); err != nil {
			t.Fatal(err)
		}
	}
	return d
}

func bacteria(t testing.TB) *Data {
	h, lines := table(t, "bacteria.csv")
	d := NewData([]string{"one", "drug", "drug+", "late"}, []string{"child"})
	for _, l := range lines {
		x := []float64{1, l[h["drug"]], l[h["drugplus"]], l[h["late"]]}
		if err := d.Add(int(l[h["events"]]), 1, []int{int(l[h["group"]])}, Piece{Exposure: 1, X: x}); err != nil {
			t.Fatal(err)
		}
	}
	return d
}

// published fits: testdata/published.R, glmmTMB 1.1.5 (true second derivative,
// as here; with the complementary log-log link lme4's Laplace uses Fisher
// weights and gives −91.80207).
func TestPublishedLaplace(t *testing.T) {
	for _, c := range []struct {
		name     string
		d        *Data
		link     Link
		loglik   float64
		beta, se []float64
		sd       float64
	}{
		{"cbpp cloglog", cbpp(t), Cloglog, -91.75800202, []float64{-1.5320956, -0.9129903, -1.0311047, -1.4794199}, []float64{0.210655, 0.284028, 0.305517, 0.408337}, 0.58589833},
		{"cbpp logit", cbpp(t), Logit, -92.02628186, []float64{-1.39853247, -0.99233229, -1.12867130, -1.58031369}, []float64{0.232472, 0.306642, 0.326638, 0.427437}, 0.64226167},
		{"bacteria", bacteria(t), Logit, -96.13068682, []float64{3.5480931, -1.3667294, -0.7827117, -1.5985329}, []float64{0.696176, 0.677138, 0.683257, 0.476012}, 1.2424145},
	} {
		r, err := Fit(c.d, Options{Link: c.link})
		if err != nil {
			t.Fatal(err)
		}
		if r.Ending != Converged {
			t.Errorf("%s: ended %s", c.name, r.Ending)
		}
		if math.Abs(r.LogLik-c.loglik) > 1e-5 {
			t.Errorf("%s: loglik %.6f, want %.6f", c.name, r.LogLik, c.loglik)
		}
		for j, want := range c.beta {
			if got := r.Fixed[j].Estimate; math.Abs(got-want) > 2e-4*math.Abs(want) {
				t.Errorf("%s: %s %.6f, want %.6f", c.name, r.Fixed[j].Name, got, want)
			}
			if got := r.Fixed[j].SE; math.Abs(got-c.se[j]) > 5e-4*c.se[j] {
				t.Errorf("%s: se of %s %.6f, want %.6f", c.name, r.Fixed[j].Name, got, c.se[j])
			}
		}
		if math.Abs(r.Random[0].SD-c.sd) > 5e-4*c.sd {
			t.Errorf("%s: SD %.6f, want %.6f", c.name, r.Random[0].SD, c.sd)
		}
		t.Logf("%s: %d evaluations", c.name, r.Evaluations)
	}
}
