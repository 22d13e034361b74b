package mixed

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestMaxNormal(t *testing.T) {
	half := []float64{1, .5, .5, .5, 1, .5, .5, .5, 1}
	// Equal correlations of a half: the probability is the one-dimensional
	// integral ∫φ(t)[Φ((c−t√½)/√½) − Φ((−c−t√½)/√½)]³dt, whose root at 95 % R's
	// integrate and uniroot give as 2.34897059 (mvtnorm 1.1-3's own quadrature is
	// good to three digits and gave 2.3503).
	if c := NewMaxNormal(half, 3, 1).Critical(0.95); math.Abs(c-2.34897059) > 3e-4 {
		t.Errorf("three halves: %.5f, want 2.34897", c)
	}
	one := []float64{1, 1, 1, 1}
	if c := NewMaxNormal(one, 2, 1).Critical(0.95); math.Abs(c-1.959964) > 1e-5 {
		t.Errorf("perfect correlation: %.6f, want 1.959964", c)
	}
	// Three differences of three equal means: rank 2. The range of three
	// normals at 95 % is 3.314493 (R 4.2.2, qtukey; Harter 1960, Ann. Math.
	// Stat. 31:1122–1147), over √2.
	diff := []float64{1, .5, -.5, .5, 1, .5, -.5, .5, 1}
	if c := NewMaxNormal(diff, 3, 1).Critical(0.95); math.Abs(c-3.314493/math.Sqrt2) > 1e-5 {
		t.Errorf("all pairs of three: %.5f, want %.5f", c, 3.314493/math.Sqrt2)
	}
	// Independence has a closed form: 2Φ(c) − 1 = 0.95^(1/4).
	ind := make([]float64, 16)
	for i := 0; i < 4; i++ {
		ind[5*i] = 1
	}
	want := distuv.UnitNormal.Quantile(0.5 + math.Pow(0.95, 0.25)/2)
	if c := NewMaxNormal(ind, 4, 1).Critical(0.95); math.Abs(c-want) > 1e-5 {
		t.Errorf("independence: %.6f, want %.6f", c, want)
	}
}

// TestHolm: p = .01, .04, .03 gives .03, .06, .06 by hand: sorted .01×3, .03×2,
// max(.06, .04×1).
func TestHolm(t *testing.T) {
	got := Holm([]float64{.01, .04, .03})
	for i, w := range []float64{.03, .06, .06} {
		if math.Abs(got[i]-w) > 1e-15 {
			t.Errorf("Holm: %v", got)
		}
	}
	if got := Holm([]float64{.01, math.NaN()}); got[0] != .02 || got[1] != 1 {
		t.Errorf("Holm with one missing: %v", got)
	}
}

// TestSplitMix64: first outputs from state 0 and 1234567, the generator's
// published vectors (from memory of Vigna's reference output).
func TestSplitMix64(t *testing.T) {
	if a := splitMix64(0); a != 0xe220a8397b1dcdaf {
		t.Errorf("%x", a)
	}
	if a := splitMix64(1234567); a != 6457827717110365317 {
		t.Errorf("%d", a)
	}
}

// TestBoundWithoutIntercepts: nothing in 20 trials over 3 hours against some
// events elsewhere. By hand: the likelihood of no event is exp(−60λ), so the
// 95 % bound of λ is 2.9957/60; the term is a difference of log rates, whose
// bound must take the other rate along: the profile is over it.
func TestBoundWithoutIntercepts(t *testing.T) {
	d := NewData([]string{"a", "b"}, nil)
	must(t, d.Add(5, 10, nil, Piece{Exposure: 1, X: []float64{1, 0}}))
	must(t, d.Add(0, 20, nil, Piece{Exposure: 3, X: []float64{0, 1}}))
	r, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if r.Ending != Separation {
		t.Fatalf("ended %s %v", r.Ending, r.Notices)
	}
	want := math.Log(-math.Log(0.05) / 60)
	b := r.Fixed[1]
	if b.Bound != UpperOnly || math.Abs(b.Upper-want) > 1e-6 || !math.IsNaN(b.Estimate) || !math.IsNaN(b.Lower) {
		t.Errorf("term b: %+v, want upper %.6f", b, want)
	}
	// the other term as if alone: 5 of 10, H = ln 2
	if a := r.Fixed[0]; math.Abs(a.Estimate-math.Log(math.Ln2)) > 1e-6 || a.Separated {
		t.Errorf("term a: %+v", a)
	}
	// Jeffreys: penalised likelihood of λ with information 60·h/(e^h − 1)·…: by
	// hand for b alone, maximise −60λ + ½ log(20 h²/(e^h − 1)), h = 3λ:
	// −20 + ½(2/h − e^h/(e^h − 1)) = 0.
	h := 0.01
	for i := 0; i < 200; i++ {
		h = 1 / (20 + math.Exp(h)/math.Expm1(h)/2)
	}
	if math.Abs(b.Shrunk-math.Log(h/3)) > 1e-5 {
		t.Errorf("shrunk %.6f, want %.6f", b.Shrunk, math.Log(h/3))
	}
	m := r.Mean([]Piece{{Exposure: 3, X: []float64{0, 1}}})
	if m.Proportion != 0 || m.Bound != UpperOnly || math.Abs(m.Upper-(1-math.Pow(0.05, 1.0/20))) > 1e-6 {
		t.Errorf("mean %+v", m)
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestBootstrapSameOnAnyCores(t *testing.T) {
	d := season(5, 48, [3]float64{0.4, 0, 0.3})
	full, err := Fit(d, Options{})
	must(t, err)
	null, err := full.Without("habitat")
	must(t, err)
	var first *Bootstrap
	for _, w := range []int{1, 3} {
		b, err := ParametricBootstrap(context.Background(), full, null, BootstrapOptions{Replicates: 40, Seed: 9, Workers: w, Contrasts: [][]float64{{0, 0, 1, 0}}})
		must(t, err)
		if first == nil {
			first = b
			t.Logf("ratio %+v bootstrap p %.3f contrast p %.3f failed %d %v", full.Ratio(null), b.P, b.ContrastP[0], b.Failed, b.ContrastFailed)
			continue
		}
		for i := range b.Chi2 {
			if b.Chi2[i] != first.Chi2[i] {
				t.Fatalf("replicate %d: %v with 1 worker, %v with 3", i, first.Chi2[i], b.Chi2[i])
			}
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := ParametricBootstrap(ctx, full, null, BootstrapOptions{Replicates: 40}); err == nil {
		t.Error("cancelled bootstrap gave an answer")
	}
}
