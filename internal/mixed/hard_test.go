package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// threeHabitats is the data of testdata/separated.R: habitat b has no event.
func threeHabitats(t testing.TB) *Data {
	soak := []float64{1, 23, 1.2, 22, 1, 24, 1.1, 23, 0.9, 23, 1.3, 22.5}
	y := []int{3, 10, 5, 8, 0, 0, 0, 0, 1, 6, 2, 9}
	r := []int{25, 22, 25, 20, 25, 25, 20, 20, 25, 24, 25, 23}
	d := NewData([]string{"one", "interval2", "b", "c"}, nil)
	for i := range y {
		x := []float64{1, float64(i % 2), 0, 0}
		if i >= 4 {
			x[1+i/4] = 1
		}
		must(t, d.Add(y[i], r[i], nil, Piece{Exposure: soak[i], X: x}))
	}
	return d
}

// TestShrunkAgainstBrglm2: without random intercepts the penalised value is
// brglm2's (version 0.9, type MPL_Jeffreys; testdata/separated.R). The other
// terms are as in a fit without the level: with its hazard at zero the level's
// likelihood is 1 whatever they are.
func TestShrunkAgainstBrglm2(t *testing.T) {
	for _, c := range []struct {
		link Link
		want float64
	}{{Cloglog, -4.2505004779}, {Logit, -4.5211113065}} {
		r, err := Fit(threeHabitats(t), Options{Link: c.link})
		must(t, err)
		b := r.Fixed[2]
		if r.Ending != Separation || !b.Separated || b.Bound != UpperOnly || !math.IsNaN(b.Estimate) {
			t.Fatalf("%s %+v", r.Ending, b)
		}
		if math.Abs(b.Shrunk-c.want) > 1e-4 {
			t.Errorf("link %d: shrunk %.6f, want %.6f", c.link, b.Shrunk, c.want)
		}
		d := NewData([]string{"one", "interval2", "c"}, nil)
		h := threeHabitats(t)
		for i := 0; i < h.Len(); i++ {
			if x := h.x[4*i : 4*i+4]; x[2] == 0 {
				must(t, d.Add(h.events[i], h.trials[i], nil, Piece{Exposure: h.exposure[i], X: []float64{x[0], x[1], x[3]}}))
			}
		}
		o, err := Fit(d, Options{Link: c.link})
		must(t, err)
		if math.Abs(o.LogLik-r.LogLik) > 1e-8 {
			t.Errorf("supremum %.9f, without the level %.9f", r.LogLik, o.LogLik)
		}
		for k, j := range []int{0, 1, 3} {
			if g, w := r.Fixed[j], o.Fixed[k]; math.Abs(g.Estimate-w.Estimate) > 1e-6 || math.Abs(g.SE-w.SE) > 1e-5 {
				t.Errorf("%s: %v ± %v, without the level %v ± %v", g.Name, g.Estimate, g.SE, w.Estimate, w.SE)
			}
		}
		// c against a is an ordinary contrast, b against c a bound with a p
		if k := r.Contrast([]float64{0, 0, 0, 1}); k.Separated || math.IsNaN(k.SE) {
			t.Errorf("c: %+v", k)
		}
		k := r.Contrast([]float64{0, 0, 1, -1})
		if !k.Separated || k.Bound != UpperOnly || !(k.Upper < 0) || !(k.P < 0.01) {
			t.Errorf("b against c: %+v", k)
		}
	}
}

// TestReferenceLevelWithoutEvent: with b as the reference, baseline and both
// other habitats run away; the contrast of the two stays.
func TestReferenceLevelWithoutEvent(t *testing.T) {
	h := threeHabitats(t)
	d := NewData([]string{"one", "interval2", "a", "c"}, nil)
	for i := 0; i < h.Len(); i++ {
		x := h.x[4*i : 4*i+4]
		must(t, d.Add(h.events[i], h.trials[i], nil, Piece{Exposure: h.exposure[i], X: []float64{1, x[1], 1 - x[2] - x[3], x[3]}}))
	}
	r, err := Fit(d, Options{})
	must(t, err)
	first, err := Fit(h, Options{})
	must(t, err)
	for j, sep := range []bool{true, false, true, true} {
		if r.Fixed[j].Separated != sep {
			t.Errorf("%s: separated %v", r.Fixed[j].Name, r.Fixed[j].Separated)
		}
	}
	if r.Fixed[0].Bound != UpperOnly || r.Fixed[2].Bound != LowerOnly {
		t.Errorf("bounds %v %v", r.Fixed[0].Bound, r.Fixed[2].Bound)
	}
	if math.Abs(r.Fixed[2].Lower+first.Fixed[2].Upper) > 1e-5 {
		t.Errorf("a against b %v, b against a %v", r.Fixed[2].Lower, first.Fixed[2].Upper)
	}
	k, l := r.Contrast([]float64{0, 0, -1, 1}), first.Contrast([]float64{0, 0, 0, 1})
	if math.Abs(k.Estimate-l.Estimate) > 1e-6 || math.Abs(k.SE-l.SE) > 1e-6 {
		t.Errorf("c against a: %+v and %+v", k, l)
	}
}

// TestBandWithoutEvent: no event in the second band, which first checks read
// late overlap a little: the hazard of the band is zero at the supremum, and
// the rest is the fit to the first band alone.
func TestBandWithoutEvent(t *testing.T) {
	d := NewData([]string{"band1", "band2", "b"}, []string{"site"})
	e := NewData([]string{"band1", "b"}, []string{"site"})
	y := []int{3, 8, 0, 5, 12, 6, 2, 9, 4, 7, 1, 3}
	for i, n := range y {
		b := float64(i % 2)
		over := 0.1 * float64(i%3)
		ps := []Piece{{Exposure: 1, X: []float64{1, 0, b}}}
		if over > 0 {
			ps = append(ps, Piece{Exposure: over, X: []float64{0, 1, b}})
		}
		must(t, d.Add(n, 25, []int{i / 2}, ps...))
		must(t, d.Add(0, 25-n, []int{i / 2}, Piece{Exposure: 23, X: []float64{0, 1, b}}))
		must(t, e.Add(n, 25, []int{i / 2}, Piece{Exposure: 1, X: []float64{1, b}}))
	}
	r, err := Fit(d, Options{})
	must(t, err)
	o, err := Fit(e, Options{})
	must(t, err)
	if r.Ending != Separation || !r.Fixed[1].Separated || r.Fixed[0].Separated || r.Fixed[2].Separated {
		t.Fatalf("%s %+v", r.Ending, r.Notices)
	}
	if math.Abs(r.LogLik-o.LogLik) > 1e-7 || math.Abs(r.Fixed[2].Estimate-o.Fixed[1].Estimate) > 1e-5 || math.Abs(r.Random[0].SD-o.Random[0].SD) > 1e-5 {
		t.Errorf("with the band: %v %+v %+v; alone %v %+v", r.LogLik, r.Fixed, r.Random, o.LogLik, o.Fixed)
	}
	if r.Fixed[1].Bound != UpperOnly || !(r.Fixed[1].Upper < -4) {
		t.Errorf("band2 %+v", r.Fixed[1])
	}
}

// TestEndings: data that hold nothing, levels that carry nothing, columns made
// of others.
func TestEndings(t *testing.T) {
	make1 := func(y, r int) *Data {
		d := NewData([]string{"one"}, []string{"site", "row"})
		for i := 0; i < 4; i++ {
			must(t, d.Add(y, r, []int{0, i}, Piece{Exposure: 1, X: []float64{1}}))
		}
		return d
	}
	for _, c := range []struct {
		y, r int
		want Ending
	}{{0, 5, NoEvents}, {5, 5, OnlyEvents}, {0, 0, NoTrials}} {
		r, err := Fit(make1(c.y, c.r), Options{})
		must(t, err)
		if r.Ending != c.want || !math.IsNaN(r.Fixed[0].Estimate) || !math.IsNaN(r.LogLik) {
			t.Errorf("%d of %d: %s %+v", c.y, c.r, r.Ending, r.Fixed)
		}
		if k := r.Contrast([]float64{1}); !math.IsNaN(k.Estimate) {
			t.Errorf("a contrast from nothing: %+v", k)
		}
	}
	r, err := Fit(make1(2, 5), Options{}) // no spread at all, one site
	must(t, err)
	if r.Ending != VarianceAtZero || len(r.Random) != 1 || r.Random[0].SD != 0 || !has(r, SlugOneGroup, "site") || !has(r, SlugVarianceAtZero, "row") {
		t.Errorf("%s %+v", r.Ending, r.Notices)
	}
	// by hand: 8 of 20, H = −ln 0.6; se by the binomial information √(p/(20(1−p)))/H
	h := -math.Log(0.6)
	if e := r.Fixed[0]; math.Abs(e.Estimate-math.Log(h)) > 1e-8 || math.Abs(e.SE-math.Sqrt(0.4/(20*0.6))/h) > 1e-6 {
		t.Errorf("%+v", e)
	}
	if r.DF != 2 || math.Abs(r.AIC-(4-2*r.LogLik)) > 1e-12 {
		t.Errorf("AIC must count the SD at zero: df %d", r.DF)
	}

	d := NewData([]string{"one", "x", "twice", "zero"}, []string{"site", "row"})
	for i := 0; i < 12; i++ {
		x := float64(i%5) + 2020
		must(t, d.Add(1+i%4, 9, []int{i, 0}, Piece{Exposure: 1, X: []float64{1, x, 2*x + 3, 0}}))
	}
	r, err = Fit(d, Options{})
	must(t, err)
	if !r.Fixed[2].Aliased || !r.Fixed[3].Aliased || r.Fixed[1].Aliased || !has(r, SlugLevelsCoincide, "row") {
		t.Errorf("%+v %+v", r.Fixed, r.Notices)
	}
	for _, n := range r.Notices {
		if n.Slug == SlugAliased && n.Term == "twice" && n.Other != "one, x" {
			t.Errorf("made of %q", n.Other)
		}
	}
}

func has(r *Result, slug, group string) bool {
	for _, n := range r.Notices {
		if n.Slug == slug && n.Group == group {
			return true
		}
	}
	return false
}

// TestScoringStopsAtRounding: with log-likelihoods of 1e9 a gain of 1e-12 is lost in
// rounding; scoring once halved every step to nothing, 200 times over, so that
// 100,000 deployments took five minutes. The ridges of the search for separation
// are both tried; a handful of steps reaches the maximum.
func TestScoringStopsAtRounding(t *testing.T) {
	d := NewData([]string{"one", "x"}, nil)
	rng := rand.New(rand.NewPCG(2, 2))
	for i := range 400 {
		r := 1_000_000 + rng.IntN(5_000_000)
		if err := d.Add(1+rng.IntN(r-1), r, nil, Piece{Exposure: 0.5 + rng.Float64(), X: []float64{1, float64(i % 7)}}); err != nil {
			t.Fatal(err)
		}
	}
	f, a := frameOf(t, d, Cloglog, Binomial)
	for _, g := range []*frame{f, f.surrogate()} {
		ws := newWorkspace(g.plain(a))
		start := g.flatStart(a)
		loose, _ := ws.glm(start, ridgeLoose)
		ws.glmFrom(loose, start, ridgeTight)
		if ws.evals > 100 {
			t.Errorf("%d evaluations", ws.evals)
		}
	}
}
