package tide

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func utc(y int, m time.Month, d, h int) time.Time { return time.Date(y, m, d, h, 0, 0, 0, time.UTC) }

// published gives the constituents of one run of Codiga (2011) on Honolulu 2010
// (testdata/SOURCE.md). His argument of Sa counts h − p1; none of these runs holds it.
func published(t *testing.T, run string) (list []Harmonic) {
	_, lines := readCSV(t, "honolulu_2010_published.csv")
	for _, f := range lines {
		if f[0] == run {
			list = append(list, Harmonic{f[1], num(t, f[3]), num(t, f[5])})
		}
	}
	return list
}

func honolulu(t *testing.T) (times []time.Time, levels []float64) {
	_, lines := readCSV(t, "honolulu_2010_hourly.csv")
	for _, f := range lines {
		at, err := time.Parse(time.RFC3339, f[0])
		if err != nil {
			t.Fatal(err)
		}
		times, levels = append(times, at), append(levels, num(t, f[1]))
	}
	return times, levels
}

// The published constituents of Honolulu 2010 predict the published levels: what
// is left is the weather, 0.048 m after taking off the published mean and trend.
// A wrong argument of one main constituent would leave centimetres more.
func TestPublishedConstituentsPredictTheRecord(t *testing.T) {
	times, levels := honolulu(t)
	for _, o := range []Options{{Nodal: Satellites, LatitudeDeg: 21}, {}} {
		c, err := NewCurve(published(t, "year"), o)
		if err != nil {
			t.Fatal(err)
		}
		h, err := c.Heights(times[0], times[len(times)-1], time.Hour)
		if err != nil || len(h) != len(times) {
			t.Fatal(len(h), err)
		}
		sum := 0.0
		for i := range h {
			days := times[i].Sub(times[0]).Hours()/24 - 182.479 // mid-record
			r := levels[i] - 1.41734295 - 0.0006103258683206081*days - h[i].HeightM
			sum += r * r
		}
		rms := math.Sqrt(sum / float64(len(h)))
		t.Logf("%s: %.4f m", c.Nodal(), rms)
		if rms > 0.055 {
			t.Errorf("%s: %.4f m left", c.Nodal(), rms)
		}
	}
}

// Lags against a zone clock: kappa' on UTC−5 is the Greenwich lag less 5 h of speed.
func TestLagClock(t *testing.T) {
	a, _ := NewCurve([]Harmonic{{"M2", 1, 100 - 5*28.9841042}, {"K1", 0.5, 30 - 5*15.0410686}}, Options{LagClockH: -5})
	b, _ := NewCurve([]Harmonic{{"m2", 1, 100}, {"K1", 0.5, 30}}, Options{})
	for h := 0; h < 30; h++ {
		at := utc(2026, 7, 1, h)
		if d := a.At(at) - b.At(at); math.Abs(d) > 1e-6 {
			t.Fatalf("differs by %g m at %v", d, at)
		}
	}
}

// One constituent repeats with its period, S2 exactly.
func TestOneConstituentRepeats(t *testing.T) {
	c, _ := NewCurve([]Harmonic{{"S2", 1, 40}}, Options{})
	turns, err := c.Turns(utc(2026, 1, 1, 0), utc(2026, 1, 11, 0))
	if err != nil || len(turns) != 40 {
		t.Fatal(len(turns), err)
	}
	// V(S2) = 2T: high when 30 degrees an hour × t = 40, at 01:20:00 and every 12 h.
	for i, turn := range turns {
		want := utc(2026, 1, 1, 0).Add(time.Duration(i)*6*time.Hour + 80*time.Minute)
		if !turn.At.Equal(want) || turn.High != (i%2 == 0) || math.Abs(math.Abs(turn.HeightM)-1) > 1e-9 {
			t.Fatalf("turn %d: %+v, want %v", i, turn, want)
		}
	}
}

// V(S1) = T and V(Sa) = h. T is the hour angle of the mean sun, 180 degrees at
// midnight: with lag 0 the top is at 12:00 UTC. h is 280.2 degrees on 1 January and
// 0 near 22 March (the mean sun at the equinox): with lag 0 Sa is highest then.
func TestArgumentsOfSolarConstituents(t *testing.T) {
	for _, o := range []Options{{}, {Nodal: Satellites, LatitudeDeg: 40}} {
		s1, _ := NewCurve([]Harmonic{{"S1", 1, 0}}, Options{})
		turns, _ := s1.Turns(utc(2026, 5, 1, 0), utc(2026, 5, 2, 0))
		if len(turns) != 1 || !turns[0].High || turns[0].At.Sub(utc(2026, 5, 1, 12)).Abs() > time.Second {
			t.Errorf("S1: %v", turns)
		}
		o.LagClockH = 0
		sa, _ := NewCurve([]Harmonic{{"SA", 1, 0}}, o)
		turns, _ = sa.Turns(utc(2026, 1, 1, 0), utc(2026, 12, 31, 0))
		if len(turns) != 2 || !turns[0].High || turns[0].At.Sub(utc(2026, 3, 22, 12)).Abs() > 24*time.Hour {
			t.Errorf("Sa: %v", turns)
		}
	}
}

// Turns against a one-second look at the curve, including places with double
// waters (M2 with a strong M4) and vanishing ones (K1 about as strong as M2).
func TestTurnsAgainstOneSecondLook(t *testing.T) {
	for _, list := range [][]Harmonic{
		{{"M2", 1, 100}, {"M4", 0.3, 20}, {"M6", 0.1, 200}},
		{{"K1", 0.42, 225}, {"O1", 0.3, 216}, {"M2", 0.17, 58}, {"S2", 0.05, 55}},
		{{"Z0", 2, 0}, {"M2", 0.6, 10}, {"S2", 0.55, 130}, {"M12", 0.01, 3}},
	} {
		c, err := NewCurve(list, Options{})
		if err != nil {
			t.Fatal(err)
		}
		from, to := utc(2026, 3, 3, 5), utc(2026, 3, 12, 17)
		turns, _ := c.Turns(from, to)
		var seen []Turn
		h, _ := c.Heights(from, to, time.Second)
		for i := 1; i+1 < len(h); i++ {
			up, down := h[i].HeightM > h[i-1].HeightM, h[i+1].HeightM < h[i].HeightM
			if up == down {
				seen = append(seen, Turn{h[i].At, h[i].HeightM, up})
			}
		}
		if len(seen) != len(turns) {
			t.Fatalf("%v: %d turns, %d seen", list, len(turns), len(seen))
		}
		for i := range seen {
			if d := seen[i].At.Sub(turns[i].At).Abs(); d > 2*time.Second || seen[i].High != turns[i].High {
				t.Errorf("%v: turn %d is %v, seen %v", list, i, turns[i], seen[i])
			}
		}
	}
}

// Crossings of a level against a one-second look; and of a level never reached.
func TestCrossingsAgainstOneSecondLook(t *testing.T) {
	c, _ := NewCurve([]Harmonic{{"Z0", 2, 0}, {"M2", 1, 100}, {"M4", 0.3, 20}, {"S2", 0.3, 7}, {"K1", 0.2, 7}}, Options{})
	from, to := utc(2026, 3, 3, 5), utc(2026, 3, 9, 17)
	const level = 1.7
	got, err := c.Crossings(level, from, to)
	if err != nil {
		t.Fatal(err)
	}
	h, _ := c.Heights(from, to, time.Second)
	var seen []Crossing
	for i := 1; i < len(h); i++ {
		if (h[i-1].HeightM > level) != (h[i].HeightM > level) {
			seen = append(seen, Crossing{h[i].At, h[i].HeightM > level})
		}
	}
	if len(got) != len(seen) || len(got) < 20 {
		t.Fatalf("%d crossings, %d seen", len(got), len(seen))
	}
	for i := range got {
		if got[i].At.Sub(seen[i].At).Abs() > time.Second || got[i].Rising != seen[i].Rising {
			t.Errorf("crossing %d is %v, seen %v", i, got[i], seen[i])
		}
	}
	if none, _ := c.Crossings(9, from, to); len(none) != 0 {
		t.Errorf("%v", none)
	}
}

func TestHeightsHoldBothEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, _ := NewCurve([]Harmonic{{"M2", 1, 0}, {"O1", 0.2, 9}, {"L2", 0.1, 30}, {"M1", 0.1, 30}}, Options{})
		from := utc(2026, 1, 1, 0).Add(time.Duration(rapid.IntRange(0, 1e6).Draw(t, "from")) * time.Second)
		to := from.Add(time.Duration(rapid.IntRange(0, 1e6).Draw(t, "long")) * time.Second)
		step := time.Duration(rapid.IntRange(60, 200000).Draw(t, "step")) * time.Second
		h, err := c.Heights(from, to, step)
		if err != nil {
			t.Fatal(err)
		}
		if !h[0].At.Equal(from) || !h[len(h)-1].At.Equal(to) {
			t.Fatalf("from %v to %v: %v … %v", from, to, h[0].At, h[len(h)-1].At)
		}
		for _, x := range h {
			if d := math.Abs(x.HeightM - c.At(x.At)); d > 1e-6 {
				t.Fatalf("at %v the run and the single height differ by %g m", x.At, d)
			}
		}
	})
}

// The pieces stand in for exact factors at every time: no more than 0.01 mm off.
func TestPiecesAgainstExact(t *testing.T) {
	list := []Harmonic{{"M2", 3, 0}, {"O1", 1, 9}, {"K1", 1, 30}, {"L2", 1, 70}, {"M1", 1, 80}, {"MF", 1, 5}, {"2MK5", 1, 50}, {"M8", 1, 1}}
	for _, o := range []Options{{}, {Nodal: Satellites, LatitudeDeg: 53}} {
		c, _ := NewCurve(list, o)
		rng := rand.New(rand.NewPCG(1, 2))
		for range 300 {
			at := utc(1990, 1, 1, 0).Add(time.Duration(rng.IntN(1e9)) * time.Second)
			k := skyAt(hoursOf(at), c.Nodal())
			n := nodesAt(k, c.Nodal(), o.LatitudeDeg)
			want := 0.0
			for _, h := range list {
				x, _ := Find(h.Name)
				f, u := n.factor(x)
				want += h.AmplitudeM * f * math.Cos((x.argument(k)+u-h.PhaseDeg)*rad)
			}
			if d := math.Abs(c.At(at) - want); d > 1e-5 {
				t.Fatalf("%v: off by %g m", at, d)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	for slug, list := range map[string][]Harmonic{
		"tide.unknown-constituent": {{"ZZ9", 1, 0}}, "tide.constituent-twice": {{"M1", 1, 0}, {"NO1", 1, 0}},
		"tide.amplitude": {{"M2", -1, 0}}, "tide.phase": {{"M2", 1, math.NaN()}},
	} {
		_, err := NewCurve(list, Options{})
		if r, ok := err.(*Refusal); !ok || r.Slug != slug {
			t.Errorf("%v: %v, want %s", list, err, slug)
		}
	}
	c, _ := NewCurve([]Harmonic{{"M2", 1, 0}}, Options{})
	for _, bad := range [][2]time.Time{{utc(2026, 2, 1, 0), utc(2026, 1, 1, 0)}, {utc(1500, 1, 1, 0), utc(2026, 1, 1, 0)}, {utc(2026, 1, 1, 0), utc(2926, 1, 1, 0)}} {
		if _, err := c.Heights(bad[0], bad[1], time.Hour); err == nil {
			t.Errorf("%v was taken", bad)
		}
		if _, err := c.Turns(bad[0], bad[1]); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
	if _, err := c.Heights(utc(2026, 1, 1, 0), utc(2026, 1, 2, 0), 0); err == nil {
		t.Error("a step of 0 was taken")
	}
}

var noaa37 = []string{"M2", "S2", "N2", "K1", "M4", "O1", "M6", "MK3", "S4", "MN4", "NU2", "S6", "MU2", "2N2", "OO1", "LAM2", "S1", "M1",
	"J1", "MM", "SSA", "SA", "MSF", "MF", "RHO", "Q1", "T2", "R2", "2Q1", "P1", "2SM2", "M3", "L2", "2MK3", "K2", "M8", "MS4"}

func curve37() *Curve {
	var list []Harmonic
	for i, n := range noaa37 {
		list = append(list, Harmonic{n, 1 / float64(i+1), float64(17 * i)})
	}
	c, err := NewCurve(list, Options{})
	if err != nil {
		panic(err)
	}
	return c
}

// The time asked for: a year at six-minute steps with 37 constituents under 50 ms.
func BenchmarkYearSixMinutes37(b *testing.B) {
	c := curve37()
	for b.Loop() {
		if _, err := c.Heights(utc(2026, 1, 1, 0), utc(2027, 1, 1, 0), 6*time.Minute); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkYearTurns37(b *testing.B) {
	c := curve37()
	for b.Loop() {
		if _, err := c.Turns(utc(2026, 1, 1, 0), utc(2027, 1, 1, 0)); err != nil {
			b.Fatal(err)
		}
	}
}
