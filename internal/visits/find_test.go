package visits

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/internal/sun"
	"soakline/internal/tide"
)

func utc(s string) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return t.UTC()
}

// cosine is a tide of S2 alone, which has node factor 1 and argument 30° an hour
// from midnight UTC: mean + amplitude·cos(30°·(hour − highH)).
func cosine(t testing.TB, mean, amplitude, highH float64) Source {
	t.Helper()
	c, err := tide.NewCurve([]tide.Harmonic{{Name: "Z0", AmplitudeM: mean}, {Name: "S2", AmplitudeM: amplitude, PhaseDeg: 30 * highH}}, tide.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return FromCurve(c)
}

func noWay(a Ask) Ask { a.AccessM = math.NaN(); return a }

func find(t testing.TB, s Source, a Ask) *Plan {
	t.Helper()
	p, err := Find(s, a)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The hand-worked tide: high water 3 m at 00, 12 h, low water 1 m at 06, 18 h, each
// day alike: h = 2 + cos(30° t). A bed at 0.2 m is never under less than 0.8 m.
// Workable up to 1.3 m over the bed, h ≤ 1.5: cos(30° t) ≤ −0.5, t from 4 h to 8 h
// and from 16 h to 20 h.
func TestHandWorkedCosine(t *testing.T) {
	src := cosine(t, 2, 1, 0)
	ask := noWay(Ask{
		From: utc("2026-07-01T00:00:00Z"), To: utc("2026-07-02T00:00:00Z"),
		ShallowBedM: 0.2, DeepBedM: 0.2, CoverM: 0.5, WorkMaxM: 1.3,
		Soak: 24 * time.Hour, Checks: []time.Duration{time.Hour, 24 * time.Hour},
	})
	check := func(name string, a Ask, want ...string) *Plan {
		t.Helper()
		p := find(t, src, a)
		if 2*len(p.Windows) != len(want) {
			t.Fatalf("%s: %v, want %v", name, p.Windows, want)
		}
		for i, w := range p.Windows {
			if !w.From.Equal(utc(want[2*i])) || !w.To.Equal(utc(want[2*i+1])) {
				t.Errorf("%s: window %d is %s to %s, want %s to %s", name, i, w.From, w.To, want[2*i], want[2*i+1])
			}
		}
		return p
	}
	// The check after 1 h ends the starts an hour before the water is too deep.
	p := check("instants", ask, "2026-07-01T04:00:00Z", "2026-07-01T07:00:00Z", "2026-07-01T16:00:00Z", "2026-07-01T19:00:00Z")
	if h := p.Hours; math.Abs(h.All-6) > 1e-4 || h.Covered != 24 || math.Abs(h.Workable-6) > 1e-4 || h.Light != 24 || h.Accessible != 24 || h.Total != 24 {
		t.Errorf("hours %+v", h)
	}
	if p.Windows[0].Clipped() || len(p.Windows[0].LeaveBy) != 0 || len(p.NoneBecause()) != 0 {
		t.Errorf("%+v", p.Windows[0])
	}
	// 20 min of setting fit before the check; 10 min of reading and 15 of taking in end
	// the last visit, 24 h later at the same water, so starts must end by 7:35; the
	// check after 1 h by 6:50.
	held := ask
	held.Setting, held.Reading, held.Retrieving = 20*time.Minute, 10*time.Minute, 15*time.Minute
	check("durations", held, "2026-07-01T04:00:00Z", "2026-07-01T06:50:00Z", "2026-07-01T16:00:00Z", "2026-07-01T18:50:00Z")
	held.Checks = held.Checks[1:]
	check("the last visit", held, "2026-07-01T04:00:00Z", "2026-07-01T07:35:00Z", "2026-07-01T16:00:00Z", "2026-07-01T19:35:00Z")

	// A way that is open up to 1.5 m less a margin of 0.2 m, 1.3 m: cos x = −0.7,
	// x = 134.427004°, t = 4.48090 h = 4:28:51.25; closed from 12 − 4.48090 = 7.51910 h =
	// 7:31:08.75. Work is then possible up to 1.3 − 0.2 over the bed, the same level. Back
	// over the way 25 min after the check is read (10 min): 7:31:08.75 − 1 h − 35 min =
	// 5:56:08.75, and to be left by 7:06:08 (rounded down).
	way := ask
	way.AccessM, way.MarginM, way.Reading, way.Walking = 1.5, 0.2, 10*time.Minute, 25*time.Minute
	p = check("way", way, "2026-07-01T04:28:52Z", "2026-07-01T05:56:08Z", "2026-07-01T16:28:52Z", "2026-07-01T17:56:08Z")
	for i, want := range []string{"2026-07-01T07:06:08Z", "2026-07-01T07:06:08Z", "2026-07-02T07:06:08Z"} {
		if got := p.Windows[0].LeaveBy[i]; !got.Equal(utc(want)) {
			t.Errorf("leave by %s after visit %d, want %s", got, i, want)
		}
	}
	// On the way in, 25 min of walking from 4:28:51.25 on.
	way.WayIn = true
	check("way in", way, "2026-07-01T04:53:52Z", "2026-07-01T05:56:08Z", "2026-07-01T16:53:52Z", "2026-07-01T17:56:08Z")

	// A rate limit of 0.25 m/h: |h'| = π/6 |sin 30° t| ≤ 0.25, sin ≤ 0.477465, 30° t within
	// 28.51940° of 180° = 0.950647 h = 57:02.33 of 6 h. The check after 1 h falls in
	// [5:02:57.67, 6:57:02.33] too.
	rate := ask
	rate.MaxRateMPerH = 0.25
	check("rate", rate, "2026-07-01T05:02:58Z", "2026-07-01T05:57:02Z", "2026-07-01T17:02:58Z", "2026-07-01T17:57:02Z")

	// The range ends a window: clipped on that side.
	part := ask
	part.From = utc("2026-07-01T05:30:00Z")
	p = check("clipped", part, "2026-07-01T05:30:00Z", "2026-07-01T07:00:00Z", "2026-07-01T16:00:00Z", "2026-07-01T19:00:00Z")
	if w := p.Windows; !w[0].ClippedFrom || w[0].ClippedTo || w[1].Clipped() {
		t.Errorf("clipped %+v", w)
	}
	// Quiet hours until 18:00 and no Wednesday's check: 1 July 2026 is a Wednesday.
	quiet := ask
	quiet.QuietFrom, quiet.QuietTo = 0, 18*60
	check("quiet", quiet, "2026-07-01T18:00:00Z", "2026-07-01T19:00:00Z")
	days := ask
	days.Weekdays = []time.Weekday{time.Wednesday}
	if p := check("weekdays", days); p.Hours.Kept > 1e-9 {
		t.Errorf("kept %v", p.Hours.Kept)
	}
}

// The way of the two rules of a table and of a curve through its waters: at a table
// of the cosine's high and low waters the half cosine is the cosine.
func TestTableIsTheCosine(t *testing.T) {
	var lines []tide.Water
	for i := range 12 {
		lines = append(lines, tide.Water{At: utc("2026-07-01T00:00:00Z").Add(time.Duration(i) * 6 * time.Hour), HeightM: 3 - 2*float64(i%2)})
	}
	table, _, err := tide.NewTable(lines, tide.Secondary{})
	if err != nil {
		t.Fatal(err)
	}
	ask := noWay(Ask{
		From: utc("2026-07-01T00:00:00Z"), To: utc("2026-07-02T00:00:00Z"),
		CoverM: 0.5, WorkMaxM: 1.5, MarginM: 0.1, Soak: 24 * time.Hour, Checks: []time.Duration{time.Hour, 24 * time.Hour},
	})
	a, b := find(t, FromTable(table), ask), find(t, cosine(t, 2, 1, 0), ask)
	if len(a.Windows) != 2 || len(b.Windows) != 2 {
		t.Fatalf("%v and %v", a.Windows, b.Windows)
	}
	for i := range a.Windows {
		if !a.Windows[i].From.Equal(b.Windows[i].From) || !a.Windows[i].To.Equal(b.Windows[i].To) {
			t.Errorf("table %v, curve %v", a.Windows[i], b.Windows[i])
		}
	}
	if !a.UnknownFrom.IsZero() {
		t.Errorf("unknown from %v", a.UnknownFrom)
	}
	// Beyond the table nothing is known, and nothing is allowed there: its last line is
	// at 3 July 18:00, so starts end at 2 July 18:00 at the latest.
	ask.From, ask.To = utc("2026-07-02T12:00:00Z"), utc("2026-07-05T00:00:00Z")
	p := find(t, FromTable(table), ask)
	if n := len(p.Windows); n != 1 || !p.Windows[0].To.Equal(utc("2026-07-02T18:00:00Z")) || !p.UnknownFrom.Equal(utc("2026-07-03T18:00:00Z")) {
		t.Errorf("%v, unknown from %v", p.Windows, p.UnknownFrom)
	}
	ask.From = utc("2026-07-03T00:00:00Z")
	if r := find(t, FromTable(table), ask).NoneBecause(); len(r) == 0 || r[0].Slug != "windows.unknown" {
		t.Errorf("%v", r)
	}
}

// mixed is an invented tide with every kind of constituent.
func mixed(t testing.TB) *tide.Curve {
	t.Helper()
	c, err := tide.NewCurve([]tide.Harmonic{
		{Name: "Z0", AmplitudeM: 1.9}, {Name: "M2", AmplitudeM: 0.92, PhaseDeg: 71}, {Name: "S2", AmplitudeM: 0.33, PhaseDeg: 99}, {Name: "N2", AmplitudeM: 0.2, PhaseDeg: 54},
		{Name: "K2", AmplitudeM: 0.09, PhaseDeg: 97}, {Name: "K1", AmplitudeM: 0.31, PhaseDeg: 58}, {Name: "O1", AmplitudeM: 0.22, PhaseDeg: 312}, {Name: "P1", AmplitudeM: 0.09, PhaseDeg: 50},
		{Name: "Q1", AmplitudeM: 0.04, PhaseDeg: 280}, {Name: "M4", AmplitudeM: 0.12, PhaseDeg: 200}, {Name: "MS4", AmplitudeM: 0.08, PhaseDeg: 260}, {Name: "M6", AmplitudeM: 0.03, PhaseDeg: 20}, {Name: "SSA", AmplitudeM: 0.05, PhaseDeg: 80},
	}, tide.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// What the samples are joined by is the curve, to less than a micrometre.
func TestInterpolationIsTheCurve(t *testing.T) {
	c := mixed(t)
	from := utc("2026-03-01T00:00:00Z")
	w, err := FromCurve(c).water(seconds(from), seconds(from)+3*dayS)
	if err != nil {
		t.Fatal(err)
	}
	for s := 0; s < 3*dayS; s += 97 {
		at := from.Add(time.Duration(s) * time.Second)
		if d := w.f(seconds(at)) - c.At(at); math.Abs(d) > 1e-6 {
			t.Fatalf("off by %g m at %s", d, at)
		}
	}
}

// slowAllowed judges one start the plain way: every second of the soak and of each
// visit, the contract's words one by one.
type slowAllowed struct {
	ask    Ask
	height []float64 // every second from ask.From − one day
	begin  float64
	lit    []bool
}

func (b *slowAllowed) h(s float64) float64 { return b.height[int(math.Round(s-b.begin))] }

// heightErrorM bounds how far the straight lines lie from the curve: the tide's
// second derivative, at most about 4e-8 m/s² here, times 30² s² / 8. Near a turn
// of the water that small a height is many seconds, so the plain way is asked
// with its limits moved by it, inwards or outwards, not with a slack in time.
const heightErrorM = 5e-6

// at judges a start with every limit made stricter by byM (looser when negative).
func (b *slowAllowed) at(t, byM float64) bool {
	a := b.ask
	a.CoverM, a.WorkMinM, a.WorkMaxM, a.AccessM = a.CoverM+byM, a.WorkMinM+byM, a.WorkMaxM-byM, a.AccessM-byM
	for s := t; s <= t+a.Soak.Seconds(); s++ {
		if b.h(s)-a.ShallowBedM < a.CoverM+a.MarginM {
			return false
		}
	}
	for _, v := range a.visits() {
		for s := t + v.after; s <= t+v.after+v.long; s++ {
			if b.h(s)-a.ShallowBedM < a.WorkMinM+a.MarginM || b.h(s)-a.DeepBedM > a.WorkMaxM-a.MarginM || !b.lit[int(math.Round(s-b.begin))] {
				return false
			}
		}
		if !math.IsNaN(a.AccessM) {
			for s := t + v.after; s <= t+v.after+v.long+a.Walking.Seconds(); s++ {
				if b.h(s) > a.AccessM-a.MarginM {
					return false
				}
			}
		}
	}
	return true
}

// TestBruteForce holds windows against the plain way, second by second beside each
// end and at random starts: the second before a window is not allowed, its first
// and last are, and any start is allowed exactly when it lies in a window.
func TestBruteForce(t *testing.T) {
	c := mixed(t)
	from := utc("2026-04-10T00:00:00Z")
	const days = 5
	begin := seconds(from) - dayS
	height := make([]float64, (days+4)*dayS)
	for i := range height { // a straight line through exact heights 30 s apart: off by at most 1e-6 m
		if i%30 == 0 {
			height[i] = c.At(instant(begin + float64(i)))
		}
	}
	for i := range height {
		if k := i % 30; k != 0 && i-k+30 < len(height) {
			height[i] = height[i-k] + (height[i-k+30]-height[i-k])*float64(k)/30
		}
	}
	for _, kind := range []sun.Kind{sun.Civil, sun.Sun} {
		lit := make([]bool, len(height))
		for i := range lit {
			lit[i] = true
			if i%20 == 0 {
				limit := map[sun.Kind]float64{sun.Civil: -6, sun.Sun: -50.0 / 60}[kind]
				lit[i] = sun.AltitudeDeg(36.95, -8.2, instant(begin+float64(i))) >= limit
			}
		}
		for i := range lit { // each event to the second
			if k := i % 20; k != 0 && i-k+20 < len(lit) {
				lit[i] = lit[i-k]
				if lit[i-k] != lit[i-k+20] {
					limit := map[sun.Kind]float64{sun.Civil: -6, sun.Sun: -50.0 / 60}[kind]
					lit[i] = sun.AltitudeDeg(36.95, -8.2, instant(begin+float64(i))) >= limit
				}
			}
		}
		rapid.Check(t, func(t *rapid.T) {
			minute := func(name string, most int) time.Duration {
				return time.Duration(rapid.IntRange(0, most).Draw(t, name)) * time.Minute
			}
			bed := rapid.Float64Range(-1.5, 0.8).Draw(t, "bed")
			ask := Ask{
				LatDeg: 36.95, LonDeg: -8.2, From: from, To: from.Add(days * 24 * time.Hour),
				ShallowBedM: bed, DeepBedM: bed - rapid.Float64Range(0, 0.5).Draw(t, "slope"), CoverM: rapid.Float64Range(0, 0.4).Draw(t, "cover"),
				WorkMinM: rapid.Float64Range(0, 0.5).Draw(t, "min"), WorkMaxM: rapid.Float64Range(1, 3).Draw(t, "max"),
				MarginM: rapid.SampledFrom([]float64{0, 0.1, 0.3}).Draw(t, "margin"), AccessM: math.NaN(), Light: kind,
				Soak: rapid.SampledFrom([]time.Duration{time.Hour, 12 * time.Hour, 24 * time.Hour}).Draw(t, "soak"), Checks: []time.Duration{time.Hour, 24 * time.Hour},
				Setting: minute("setting", 40), Reading: minute("reading", 20), Retrieving: minute("retrieving", 20), Walking: minute("walking", 40),
			}
			if rapid.Bool().Draw(t, "way") {
				ask.AccessM = rapid.Float64Range(1, 2.5).Draw(t, "access")
			}
			p, err := Find(FromCurve(c), ask)
			if err != nil {
				t.Fatal(err)
			}
			b := &slowAllowed{ask, height, begin, lit}
			in := func(s float64) bool {
				for _, w := range p.Windows {
					if s >= seconds(w.From) && s <= seconds(w.To) {
						return true
					}
				}
				return false
			}
			first, last := seconds(ask.From), seconds(ask.To)
			// An end may be a second off where the straight lines of the plain way are: skip
			// the second beside it, judge the next.
			for _, w := range p.Windows {
				a, z := seconds(w.From), seconds(w.To)
				if a > first && b.at(math.Max(first, a-2), heightErrorM) || z < last && b.at(math.Min(last, z+2), heightErrorM) {
					t.Fatalf("allowed beside %s to %s", w.From, w.To)
				}
				if z-a > 4 && (!b.at(a+1, -heightErrorM) || !b.at(z-1, -heightErrorM)) {
					t.Fatalf("not allowed inside %s to %s", w.From, w.To)
				}
			}
			for range 25 {
				s := first + float64(rapid.IntRange(2, days*dayS-2).Draw(t, "start"))
				inside := in(s)
				if in(s-2) == in(s+2) && (inside && !b.at(s, -heightErrorM) || !inside && b.at(s, heightErrorM)) {
					t.Fatalf("start %s: in a window is %v of %v", instant(s), inside, p.Windows)
				}
			}
		})
	}
}

// A window shrinks, or stays, as margin, cover, durations or soak grow.
func TestWindowsShrink(t *testing.T) {
	c := FromCurve(mixed(t))
	rapid.Check(t, func(t *rapid.T) {
		ask := noWay(Ask{
			LatDeg: -33.9, LonDeg: 151.2, From: utc("2026-01-01T00:00:00Z"), To: utc("2026-01-15T00:00:00Z"),
			CoverM: 0.1, WorkMinM: 0.2, WorkMaxM: 2.2, Light: sun.Civil,
			ShallowBedM: rapid.Float64Range(-0.5, 0.6).Draw(t, "bed"), Soak: 12 * time.Hour, Checks: []time.Duration{time.Hour, 24 * time.Hour},
		})
		ask.DeepBedM = ask.ShallowBedM
		if rapid.Bool().Draw(t, "way") {
			ask.AccessM = rapid.Float64Range(1, 3).Draw(t, "access")
		}
		more := ask
		switch rapid.IntRange(0, 6).Draw(t, "what") {
		case 0:
			more.MarginM = 0.15
		case 1:
			more.CoverM += 0.2
		case 2:
			more.Setting = 25 * time.Minute
		case 3:
			more.Soak = 24 * time.Hour
		case 4:
			more.Reading, more.Walking = 15*time.Minute, 20*time.Minute
		case 5:
			more.Light = sun.Sun
		case 6:
			more.DeepBedM -= 0.3
		}
		a, err := Find(c, ask)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Find(c, more)
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range b.Windows {
			inside := false
			for _, v := range a.Windows {
				inside = inside || !w.From.Before(v.From) && !w.To.After(v.To)
			}
			if !inside {
				t.Fatalf("%s to %s is in none of %v", w.From, w.To, a.Windows)
			}
		}
		if b.Hours.All > a.Hours.All+1e-6 {
			t.Fatalf("%v h with more asked, %v before", b.Hours.All, a.Hours.All)
		}
	})
}

// 180 days at 20 invented sites, with the reasons of every day.
func BenchmarkSeason(b *testing.B) {
	c := mixed(b)
	for b.Loop() {
		for i := range 20 {
			bed := -0.1 * float64(i%8)
			p := find(b, FromCurve(c), Ask{
				LatDeg: 36 + float64(i)/10, LonDeg: -8, From: utc("2026-03-01T00:00:00Z"), To: utc("2026-08-28T00:00:00Z"),
				ShallowBedM: bed, DeepBedM: bed, CoverM: 0.2, WorkMinM: 0.3, WorkMaxM: 1.5, MarginM: 0.1, AccessM: 2, Light: sun.Civil,
				Soak: 24 * time.Hour, Checks: []time.Duration{time.Hour, 24 * time.Hour}, Setting: 20 * time.Minute, Reading: 10 * time.Minute, Walking: 25 * time.Minute,
			})
			if len(p.Days()) != 180 {
				b.Fatal("days")
			}
		}
	}
}
