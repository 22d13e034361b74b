package tide

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

func samples(times []time.Time, levels []float64) (s []Sample) {
	for i, t := range times {
		s = append(s, Sample{t, levels[i]})
	}
	return s
}

func tuktoyaktuk(t *testing.T) (s []Sample) {
	_, lines := readCSV(t, "tuktoyaktuk_1975_hourly.csv")
	for _, f := range lines {
		at, err := time.Parse(time.RFC3339, f[0])
		if err != nil {
			t.Fatal(err)
		}
		level := math.NaN()
		if f[1] != "" {
			level = num(t, f[1])
		}
		s = append(s, Sample{at, level})
	}
	return s
}

func find(t *testing.T, a *Analysis, name string) Estimate {
	t.Helper()
	for _, e := range a.Constituents {
		if e.Name == name {
			return e
		}
	}
	t.Fatalf("%s is not in the analysis", name)
	return Estimate{}
}

// apart is the distance of two lags on the circle.
func apart(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 360)) }

// Foreman (1977), appendix 7.3, printed to 0.1 mm and 0.01 degrees; settings in
// testdata/SOURCE.md. With his inference after the fit. Pawlowicz et al. (2002),
// Table 1, agree with him but for the two references and what is inferred from them,
// by up to 0.2 mm and 0.13 degrees. From the standard list our rule chooses the same.
func TestTuktoyaktukPublished(t *testing.T) {
	_, lines := readCSV(t, "tuktoyaktuk_1975_published.csv")
	o := Analysing{
		Nodal: Satellites, LatitudeDeg: 69.45, InferAfter: true,
		Infer: []Inference{{"P1", "K1", 0.33093, -7.07}, {"K2", "S2", 0.27215, -22.40}},
	}
	a, err := Analyse(tuktoyaktuk(t), o)
	if err != nil {
		t.Fatal(err)
	}
	if a.Used != 1510 || a.Missing != 74 || len(a.Flagged) != 0 {
		t.Errorf("used %d, missing %d, flagged %v", a.Used, a.Missing, a.Flagged)
	}
	if len(a.Constituents) != len(lines)-2 { // all but Z0 and M10, which they added by hand
		t.Errorf("%d constituents: %v", len(a.Constituents), a.Constituents)
	}
	var names []string
	for _, f := range lines {
		if f[0] != "Z0" && f[0] != "P1" && f[0] != "K2" {
			names = append(names, f[0])
		}
	}
	o.Constituents = names
	if a, err = Analyse(tuktoyaktuk(t), o); err != nil {
		t.Fatal(err)
	}
	if math.Abs(a.MeanM-1.9806) > 0.00006 {
		t.Errorf("mean %.5f", a.MeanM)
	}
	for _, f := range lines {
		if f[0] == "Z0" {
			continue
		}
		e := find(t, a, f[0])
		if d := math.Abs(e.AmplitudeM - num(t, f[2])); d > 0.00011 {
			t.Errorf("%s: %.5f m, published %s", f[0], e.AmplitudeM, f[2])
		}
		// A lag is as uncertain as the last printed digit of the amplitude makes it.
		if d := apart(e.PhaseDeg, num(t, f[3])); d > 0.02+0.00005/e.AmplitudeM/rad/2 {
			t.Errorf("%s: %.3f degrees, published %s", f[0], e.PhaseDeg, f[3])
		}
		// Pawlowicz et al. (2002), Table 1, the same record and settings, read apart: they
		// take the inference off K1 and S2 a little otherwise.
		mostM, mostDeg := 0.00011, 0.02+0.00005/e.AmplitudeM/rad/2
		if slices.Contains([]string{"K1", "P1", "S2", "K2"}, f[0]) {
			mostM, mostDeg = 0.00026, 0.14
		}
		if d := math.Abs(e.AmplitudeM - num(t, f[6])); d > mostM {
			t.Errorf("%s: %.5f m, Pawlowicz et al. %s", f[0], e.AmplitudeM, f[6])
		}
		if d := apart(e.PhaseDeg, num(t, f[8])); d > mostDeg {
			t.Errorf("%s: %.3f degrees, Pawlowicz et al. %s", f[0], e.PhaseDeg, f[8])
		}
		// Their errors are bootstraps, ours linear: the same noise, so within a factor of
		// three where it is not drowned (snr over 1), nor inferred: ours is then the ratio of its
		// reference's, theirs its own.
		if se := num(t, f[7]) / 1.96; num(t, f[10]) > 1 && e.InferredFrom == "" && (e.AmplitudeSEM < se/3 || e.AmplitudeSEM > se*3) {
			t.Errorf("%s: standard error %.4f m, Pawlowicz et al. %.4f", f[0], e.AmplitudeSEM, se)
		}
	}
}

// Codiga (2011), run on Honolulu 2010: least squares with trend, node factors at
// every time, published to 0.001 mm and 0.0001 degrees. Our rule chooses the same
// 59, 29 and 8 constituents from the year, January and the first week.
func TestHonoluluPublished(t *testing.T) {
	times, levels := honolulu(t)
	for run, n := range map[string]int{"year": 8760, "january": 744, "week1": 168, "week1_inferred": 168} {
		o := Analysing{Nodal: Satellites, LatitudeDeg: 21, Trend: true, EachTime: true}
		want := published(t, run)
		if run == "week1_inferred" {
			for _, in := range [][2]string{{"S2", "M2"}, {"N2", "M2"}, {"O1", "K1"}} {
				o.Infer = append(o.Infer, inferenceOf(t, published(t, "january"), in[0], in[1]))
			}
		}
		a, err := Analyse(samples(times[:n], levels[:n]), o)
		if err != nil {
			t.Fatal(run, err)
		}
		if len(a.Flagged) > 0 {
			t.Errorf("%s: flagged %v", run, a.Flagged)
		}
		var names []string
		for _, e := range a.Constituents {
			names = append(names, e.Name)
		}
		if len(names) != len(want) {
			t.Errorf("%s: %d constituents, published %d: %v", run, len(names), len(want), names)
		}
		for _, h := range want {
			if !slices.Contains(names, h.Name) {
				t.Errorf("%s: no %s", run, h.Name)
				continue
			}
			e := find(t, a, h.Name)
			if d := math.Abs(e.AmplitudeM - h.AmplitudeM); d > 2e-6 {
				t.Errorf("%s %s: %.6f m, published %.6f", run, h.Name, e.AmplitudeM, h.AmplitudeM)
			}
			if d := apart(e.PhaseDeg, h.PhaseDeg); d > 0.003 {
				t.Errorf("%s %s: %.4f degrees, published %.4f", run, h.Name, e.PhaseDeg, h.PhaseDeg)
			}
		}
	}
}

func inferenceOf(t *testing.T, list []Harmonic, name, from string) Inference {
	t.Helper()
	i := slices.IndexFunc(list, func(h Harmonic) bool { return h.Name == name })
	j := slices.IndexFunc(list, func(h Harmonic) bool { return h.Name == from })
	if i < 0 || j < 0 {
		t.Fatal(name, from)
	}
	return Inference{name, from, list[i].AmplitudeM / list[j].AmplitudeM, list[j].PhaseDeg - list[i].PhaseDeg}
}

func series(c *Curve, from time.Time, n int, step time.Duration) (s []Sample) {
	h, err := c.Heights(from, from.Add(time.Duration(n-1)*step), step)
	if err != nil {
		panic(err)
	}
	for _, x := range h {
		s = append(s, Sample{x.At, x.HeightM})
	}
	return s
}

// Analysing a prediction gives it back: exactly but for the node factors, which
// the analysis holds still, so to a few parts in a thousand over half a year.
func TestAnalysisGivesThePredictionBack(t *testing.T) {
	truth := []Harmonic{{"Z0", 2.5, 0}, {"M2", 1.2, 100}, {"S2", 0.4, 140}, {"N2", 0.25, 80}, {"K1", 0.15, 60}, {"O1", 0.1, 30}, {"M4", 0.08, 200}, {"P1", 0.05, 55}, {"K2", 0.11, 138}}
	for _, o := range []Options{{}, {Nodal: Satellites, LatitudeDeg: -33}} {
		c, _ := NewCurve(truth, o)
		s := series(c, utc(2026, 2, 1, 0), 200*24, time.Hour)
		a, err := Analyse(s, Analysing{Nodal: o.Nodal, LatitudeDeg: o.LatitudeDeg})
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range truth[1:] {
			e := find(t, a, h.Name)
			if math.Abs(e.AmplitudeM-h.AmplitudeM) > 0.004*h.AmplitudeM+0.0005 || apart(e.PhaseDeg, h.PhaseDeg) > 0.8 {
				t.Errorf("%s: %.4f m %.2f°, put in %v", h.Name, e.AmplitudeM, e.PhaseDeg, h)
			}
		}
		if a.ResidualSDM > 0.003 || len(a.Flagged) > 0 {
			t.Errorf("residual %.5f m, flagged %v", a.ResidualSDM, a.Flagged)
		}
	}
}

// A month with P1 and K2 inferred gives them and their references back; without
// inference a message says that they stay inside, and how long it would take.
func TestInference(t *testing.T) {
	truth := []Harmonic{{"M2", 1.2, 100}, {"S2", 0.4, 140}, {"K1", 0.15, 60}, {"O1", 0.1, 30}, {"P1", 0.05, 55}, {"K2", 0.11, 138}}
	c, _ := NewCurve(truth, Options{})
	s := series(c, utc(2026, 2, 1, 0), 30*24, time.Hour)
	o := Analysing{Constituents: []string{"M2", "S2", "K1", "O1"}, Infer: []Inference{{"P1", "K1", 1.0 / 3, 5}, {"K2", "S2", 0.275, 2}}}
	a, err := Analyse(s, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range truth {
		e := find(t, a, h.Name)
		if math.Abs(e.AmplitudeM-h.AmplitudeM) > 0.0015 || apart(e.PhaseDeg, h.PhaseDeg) > 0.7 {
			t.Errorf("%s: %.4f m %.2f°, put in %v", h.Name, e.AmplitudeM, e.PhaseDeg, h)
		}
		if want := map[string]string{"P1": "K1", "K2": "S2"}[h.Name]; e.InferredFrom != want {
			t.Errorf("%s inferred from %q", h.Name, e.InferredFrom)
		}
	}
	if find(t, a, "S2").AmplitudeM == 0 || a.Used != 720 {
		t.Error(a.Used)
	}
	o.Infer, o.Constituents = nil, []string{"m2", "s2", "k1", "o1", "p1"}
	if a, err = Analyse(s, o); err != nil {
		t.Fatal(err)
	}
	// |ΔT| = 360 / (15.0410686 − 14.9589314) h = 4382.9 h = 182.6 days.
	var got []string
	for _, m := range a.Messages {
		if m.Slug == "tide.stays-inside" {
			got = append(got, m.With["name"].(string))
			if m.With["days"] != 183 {
				t.Errorf("%v", m)
			}
		}
	}
	if !slices.Equal(got, []string{"P1", "K2"}) {
		t.Errorf("named %v", got)
	}
}

// Spikes, a stuck value and a sensor out of the water are found and nothing else;
// every line is used, missing or flagged.
func TestFlags(t *testing.T) {
	c, _ := NewCurve([]Harmonic{{"Z0", 2, 0}, {"M2", 0.9, 10}, {"S2", 0.3, 40}, {"K1", 0.1, 4}}, Options{})
	s := series(c, utc(2026, 5, 1, 0), 40*24*6, 10*time.Minute)
	rng := rand.New(rand.NewPCG(7, 7))
	for i := range s {
		s[i].LevelM += 0.01 * rng.NormFloat64()
	}
	want := map[string]int{"spike": 4, "stuck-value": 30, "same-time": 1}
	s[500].LevelM += 0.5
	s[1500].LevelM -= 3
	s[1501].LevelM -= 3
	s[2500].LevelM = 99
	for i := 3000; i < 3030; i++ {
		s[i].LevelM = s[3000].LevelM
	}
	s[4000].LevelM = math.NaN()
	floor := 1.05
	for i := range s {
		if i < 3000 || i >= 3030 {
			if s[i].LevelM < floor && s[i].LevelM > 0 {
				s[i].LevelM = floor + 0.005*rng.Float64()
				want["sensor-out-of-water"]++
			}
		}
	}
	s = append(s, s[10])
	a, err := Analyse(s, Analysing{})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]int{}
	for _, f := range a.Flagged {
		got[f.Slug]++
	}
	for slug, n := range want {
		if d := got[slug] - n; d < -n/10 || d > n/10 {
			t.Errorf("%s: %d, put in %d", slug, got[slug], n)
		}
	}
	if a.Used+a.Missing+len(a.Flagged) != len(s) || a.Missing != 1 {
		t.Errorf("%d used + %d missing + %d flagged of %d lines", a.Used, a.Missing, len(a.Flagged), len(s))
	}
	if e := find(t, a, "M2"); math.Abs(e.AmplitudeM-0.9) > 0.02 {
		t.Errorf("M2 %.4f", e.AmplitudeM)
	}
}

// Standard errors hold in coloured noise: of 300 records with autoregressive
// residuals (0.9 from hour to hour, SD 0.1 m), the interval of 1.96 standard errors
// holds the true X = A cos g of M2 in 90 to 99 %, where white-noise errors, two to
// three times too small or too large, would hold it in far fewer or all.
func TestErrorsInColouredNoise(t *testing.T) {
	truth := []Harmonic{{"M2", 0.5, 50}, {"K1", 0.2, 120}}
	c, _ := NewCurve(truth, Options{})
	clean := series(c, utc(2026, 2, 1, 0), 60*24, time.Hour)
	hold := map[string]int{}
	const n = 300
	for r := range n {
		rng := rand.New(rand.NewPCG(11, uint64(r)))
		s := slices.Clone(clean)
		e := 0.1 * rng.NormFloat64()
		for i := range s {
			e = 0.9*e + 0.1*math.Sqrt(1-0.81)*rng.NormFloat64()
			s[i].LevelM += e
		}
		a, err := Analyse(s, Analysing{Constituents: []string{"M2", "K1", "O1", "S2", "N2", "M4"}, KeepAll: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range truth {
			x := find(t, a, h.Name)
			if math.Abs(x.AmplitudeM-h.AmplitudeM) < 1.96*x.AmplitudeSEM {
				hold[h.Name]++
			}
		}
	}
	for name, k := range hold {
		t.Logf("%s %.3f", name, float64(k)/n)
		if k < 270 || k > 297 {
			t.Errorf("%s: %d of %d intervals hold the truth", name, k, n)
		}
	}
}

// Nothing there is rarely called significant: a Rayleigh-distributed amplitude
// passes 2.45 of its standard errors with probability exp(−2.45²/2) = 0.0497.
func TestSignificanceOfNothing(t *testing.T) {
	passed, all := 0, 0
	for r := range 200 {
		rng := rand.New(rand.NewPCG(12, uint64(r)))
		var s []Sample
		for i := range 40 * 24 {
			s = append(s, Sample{utc(2026, 2, 1, 0).Add(time.Duration(i) * time.Hour), rng.NormFloat64()})
		}
		a, err := Analyse(s, Analysing{Constituents: []string{"M2", "K1", "O1", "S2", "N2", "M4", "M6", "M3"}, KeepAll: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range a.Constituents {
			all++
			if e.Significant {
				passed++
			}
		}
	}
	if share := float64(passed) / float64(all); share < 0.03 || share > 0.09 {
		t.Errorf("%.3f of absent constituents are significant", share)
	}
}

func TestRobust(t *testing.T) {
	c, _ := NewCurve([]Harmonic{{"M2", 1, 50}}, Options{})
	s := series(c, utc(2026, 2, 1, 0), 30*24, time.Hour)
	rng := rand.New(rand.NewPCG(3, 3))
	for i := range s {
		s[i].LevelM += 0.02 * rng.NormFloat64()
		if i%20 == 7 {
			s[i].LevelM += 1.5 * rng.Float64()
		}
	}
	off := func(robust bool) float64 {
		a, err := Analyse(s, Analysing{Constituents: []string{"M2"}, Robust: robust, KeepAll: true})
		if err != nil {
			t.Fatal(err)
		}
		return math.Abs(a.MeanM)
	}
	if plain, robust := off(false), off(true); robust > plain/4 {
		t.Errorf("the mean is off by %.4f m, robust %.4f", plain, robust)
	}
}

// Beyond a year node factors are taken year by year: over four years a record made
// with factors at every time is explained to a centimetre, which one set would miss.
func TestYearlyPieces(t *testing.T) {
	c, _ := NewCurve([]Harmonic{{"O1", 1, 50}, {"M2", 1, 3}}, Options{})
	s := series(c, utc(2020, 1, 1, 0), 4*8766, time.Hour)
	a, err := Analyse(s, Analysing{Constituents: []string{"O1", "M2"}, KeepAll: true})
	if err != nil {
		t.Fatal(err)
	}
	if a.ResidualSDM > 0.02 || math.Abs(find(t, a, "O1").AmplitudeM-1) > 0.002 {
		t.Errorf("residual %.4f m, %+v", a.ResidualSDM, find(t, a, "O1"))
	}
}

func TestAnalysisRefuses(t *testing.T) {
	c, _ := NewCurve([]Harmonic{{"M2", 1, 50}}, Options{})
	day := series(c, utc(2026, 2, 1, 0), 10, time.Hour)
	month := series(c, utc(2026, 2, 1, 0), 720, time.Hour)
	for _, k := range []struct {
		slug string
		s    []Sample
		o    Analysing
	}{
		{"tide.no-values", nil, Analysing{}},
		{"tide.no-values", []Sample{{utc(2026, 1, 1, 0), math.NaN()}}, Analysing{}},
		{"tide.too-short", day, Analysing{}},
		{"tide.too-short", month, Analysing{Constituents: []string{"SA"}}},
		{"tide.unknown-constituent", month, Analysing{Constituents: []string{"QX"}}},
		{"tide.infer-from", month, Analysing{Constituents: []string{"M2"}, Infer: []Inference{{"P1", "K1", 0.3, 0}}}},
		{"tide.infer-values", month, Analysing{Infer: []Inference{{"P1", "K1", -1, 0}}}},
		{"tide.rayleigh", month, Analysing{Rayleigh: -1}},
		{"tide.too-few", []Sample{{utc(2026, 1, 1, 0), 1}, {utc(2026, 1, 3, 0), 2}}, Analysing{}},
	} {
		_, err := Analyse(k.s, k.o)
		if r, ok := err.(*Refusal); !ok || r.Slug != k.slug {
			t.Errorf("%v, want %s", err, k.slug)
		}
	}
}

// The time asked for: a year of hourly values with 60 constituents under 300 ms.
func BenchmarkAnalyseYear60(b *testing.B) {
	c := curve37()
	s := series(c, utc(2026, 1, 1, 0), 8760, time.Hour)
	b.ResetTimer()
	for b.Loop() {
		if _, err := Analyse(s, Analysing{}); err != nil {
			b.Fatal(err)
		}
	}
}
