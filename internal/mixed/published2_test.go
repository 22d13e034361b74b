package mixed

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
)

// TestLowIronRats: deaths in 58 litters of rats under four diets, beta-binomial
// (Moore & Tsiatis 1991, Biometrics 47:383–401; the data set lirat of R's package
// VGAM, GPL-3). Agresti's Categorical Data Analysis (2002) gives for this model
// 1.346, −3.114, −3.868, −3.923 and ρ = 0.241 (from memory); testdata/published2.R
// has the digits, by VGAM 1.1-7 and glmmTMB 1.1.5, which agree.
func TestLowIronRats(t *testing.T) {
	h, lines := table(t, "lirat.csv")
	d := NewData([]string{"one", "diet2", "diet3", "diet4"}, nil)
	for _, l := range lines {
		x := []float64{1, 0, 0, 0}
		if g := int(l[h["group"]]); g > 1 {
			x[g-1] = 1
		}
		must(t, d.Add(int(l[h["events"]]), int(l[h["trials"]]), nil, Piece{Exposure: 1, X: x}))
	}
	r, err := Fit(d, Options{Link: Logit, Family: BetaBinomial})
	must(t, err)
	if r.Ending != Converged || math.Abs(r.LogLik - -93.4567452) > 1e-6 {
		t.Errorf("%s, loglik %.7f, want −93.4567452", r.Ending, r.LogLik)
	}
	se := []float64{0.248124, 0.502014, 0.808647, 0.667956} // glmmTMB
	for j, want := range []float64{1.3458316, -3.1143202, -3.8679783, -3.9224994} {
		if f := r.Fixed[j]; math.Abs(f.Estimate-want) > 2e-6 || math.Abs(f.SE-se[j]) > 2e-5 {
			t.Errorf("%s %.7f (%.6f), want %.7f (%.6f)", f.Name, f.Estimate, f.SE, want, se[j])
		}
	}
	if rho := r.Kappa / (1 + r.Kappa); math.Abs(rho-0.241237) > 2e-6 {
		t.Errorf("correlation within a litter %.6f, want 0.241237", rho)
	}
}

// cosmesis is the data of Finkelstein & Wolfe as observations: a bait that was
// there at the interval's left end and gone at its right end, over the pieces of
// Turnbull's support, on which alone the baseline may jump.
func cosmesis(t *testing.T) *Data {
	file, err := os.Open("testdata/cosmesis.csv")
	must(t, err)
	defer file.Close()
	rec, err := csv.NewReader(file).ReadAll()
	must(t, err)
	type end struct {
		at    float64
		right bool
	}
	var ends []end
	var cases [][3]float64
	for _, l := range rec[1:] {
		var v [3]float64
		for j, s := range l {
			v[j], err = strconv.ParseFloat(s, 64)
			must(t, err)
		}
		cases = append(cases, v)
		ends = append(ends, end{v[0], false}, end{v[1], true})
	}
	// (left, right]: at one time a right end comes before a left one
	slices.SortFunc(ends, func(a, b end) int {
		switch {
		case a.at != b.at:
			return int(math.Copysign(1, a.at-b.at))
		case a.right == b.right:
			return 0
		case a.right:
			return -1
		}
		return 1
	})
	var support []float64 // right ends of its intervals
	terms := []string{"chemo"}
	for k := 1; k < len(ends); k++ {
		if !ends[k-1].right && ends[k].right && !math.IsInf(ends[k].at, 1) {
			support = append(support, ends[k].at)
			terms = append(terms, fmt.Sprintf("jump%g", ends[k].at))
		}
	}
	d := NewData(terms, nil)
	for _, c := range cases {
		var before, inside []Piece
		for k, s := range support {
			x := make([]float64, len(terms))
			x[0], x[1+k] = c[2], 1
			switch {
			case s <= c[0]:
				before = append(before, Piece{Exposure: 1, X: x})
			case s <= c[1]:
				inside = append(inside, Piece{Exposure: 1, X: x})
			}
		}
		if len(before) > 0 {
			must(t, d.Add(0, 1, nil, before...))
		}
		if !math.IsInf(c[1], 1) {
			must(t, d.Add(1, 1, nil, inside...))
		}
	}
	return d
}

// TestFinkelsteinWolfe: proportional hazards with a free baseline on the
// interval-censored times to cosmetic deterioration of 94 breasts. Huang & Wellner
// (1995, Technical report 290, University of Washington) give 0.797 with standard
// error 0.29 from the profile's curvature (quoted in the documentation of R's
// package coxinterval, data set cosmesis); written out in testdata/published2.R on
// the data as KMsurv has them, 0.7949, 0.290 and log-likelihoods −132.8371 and,
// without the treatment, −136.7442. Most jumps of the baseline are zero and the last
// is without end, so this is a hard case of terms without a finite maximum too.
func TestFinkelsteinWolfe(t *testing.T) {
	r, err := Fit(cosmesis(t), Options{NoSeparated: true})
	must(t, err)
	if !r.Ending.Usable() || math.Abs(r.LogLik - -132.8371) > 2e-4 {
		t.Errorf("%s, loglik %.5f, want −132.8371", r.Ending, r.LogLik)
	}
	f := r.Fixed[0]
	if math.Abs(f.Estimate-0.79487) > 3e-4 || math.Abs(f.SE-0.28984) > 2e-3 {
		t.Errorf("chemotherapy %.5f (%.5f), want 0.79487 (0.28984)", f.Estimate, f.SE)
	}
	if math.Abs(f.Estimate-0.797) > 0.005 || math.Abs(f.SE-0.29) > 0.005 {
		t.Errorf("chemotherapy %.4f (%.4f), published 0.797 (0.29)", f.Estimate, f.SE)
	}
	null, err := r.Without("chemo")
	must(t, err)
	if q := r.Ratio(null); math.Abs(q.Chi2-2*(136.7442-132.8371)) > 1e-3 || q.DF != 1 {
		t.Errorf("chi2 %.4f on %d, want 7.8142 on 1", q.Chi2, q.DF)
	}
}

// trueLaplace is Laplace's approximation for one normal intercept a group with the
// log-log link, written out by itself: Newton in one variable with the true second
// derivative. With y of r and hazard H, ℓ = y log(1 − e^−H) − (r − y)H; with
// w = H/(e^H − 1), ℓ′ = yw − (r − y)H and ℓ″ = yw(1 − H − w) − (r − y)H in log H.
func trueLaplace(t *testing.T, beta []float64, sd float64) (laplace, exact float64) {
	h, lines := table(t, "cbpp.csv")
	herds := map[int][][3]float64{} // y, r, x'β
	for _, l := range lines {
		eta := beta[0]
		if p := int(l[h["period"]]); p > 1 {
			eta += beta[p-1]
		}
		g := int(l[h["group"]])
		herds[g] = append(herds[g], [3]float64{l[h["events"]], l[h["trials"]], eta})
	}
	for g := 1; g <= len(herds); g++ {
		at := func(z float64) (l, d1, d2 float64) {
			l, d1, d2 = -z*z/2, -z, -1
			for _, o := range herds[g] {
				hz := math.Exp(o[2] + sd*z)
				w := hz / math.Expm1(hz)
				l += lchoose(o[1], o[0]) - (o[1]-o[0])*hz
				if o[0] > 0 {
					l += o[0] * math.Log(-math.Expm1(-hz))
				}
				d1 += sd * (o[0]*w - (o[1]-o[0])*hz)
				d2 += sd * sd * (o[0]*w*(1-hz-w) - (o[1]-o[0])*hz)
			}
			return l, d1, d2
		}
		z := 0.0
		for range 50 {
			_, d1, d2 := at(z)
			z -= d1 / d2
		}
		l, _, d2 := at(z)
		laplace += l - math.Log(-d2)/2
		sum := 0.0
		for k := -8000; k <= 8000; k++ { // the integral itself, by the trapezoidal rule
			v, _, _ := at(float64(k) / 1000)
			sum += math.Exp(v) / 1000
		}
		exact += math.Log(sum / math.Sqrt(2*math.Pi))
	}
	return laplace, exact
}

// TestFisherWeights: with the log-log link lme4 1.1-31 takes Fisher weights in
// Laplace's approximation and ends at −91.80207 by its own count
// (testdata/published2.R). There both the true Laplace log-likelihood and the
// integral itself are lower than where we end.
func TestFisherWeights(t *testing.T) {
	r, err := Fit(cbpp(t), Options{})
	must(t, err)
	var beta []float64
	for _, f := range r.Fixed {
		beta = append(beta, f.Estimate)
	}
	ours, oursExact := trueLaplace(t, beta, r.Random[0].SD)
	theirs, theirsExact := trueLaplace(t, []float64{-1.5259455, -0.9163899, -1.0352201, -1.4836812}, 0.5867262)
	if math.Abs(ours-r.LogLik) > 1e-7 {
		t.Errorf("Laplace written out %.8f, fitted %.8f", ours, r.LogLik)
	}
	if !(ours > theirs+1e-4) || math.Abs(theirs - -91.8020647) < 0.01 || !(oursExact > theirsExact) {
		t.Errorf("Laplace %.6f against %.6f, the integral %.6f against %.6f: ours is not higher", ours, theirs, oursExact, theirsExact)
	}
}
