package visits

import (
	"math"
	"strings"
	"testing"
	"time"

	"soakline/internal/sun"
	"soakline/internal/tide"
	"soakline/internal/words"
)

func english(t *testing.T, list []words.Message) []string {
	t.Helper()
	var out []string
	for _, m := range list {
		for _, l := range words.Languages {
			if s := m.In(l); strings.ContainsAny(s, "{}<>⟨⟩") || s == "" {
				t.Errorf("%s in %s: %q", m.Slug, l, s)
			}
		}
		out = append(out, m.Slug+": "+m.In(words.English))
	}
	return out
}

// The cosine again: high water 3 m at 00 and 12 h, low water 1 m at 06 and 18 h UTC.
func TestReasons(t *testing.T) {
	src := cosine(t, 2, 1, 0)
	base := noWay(Ask{
		From: utc("2026-07-01T00:00:00Z"), To: utc("2026-07-02T00:00:00Z"), Soak: 24 * time.Hour, WorkMaxM: 5,
		Checks: []time.Duration{time.Hour, 24 * time.Hour}, Light: sun.None, LatDeg: 36.95, LonDeg: -8.2,
	})
	for _, c := range []struct {
		name string
		ask  func(a *Ask)
		want []string // what the sentences hold, one each
	}{
		// A bed at 1.18 m: at low water, 1 m, it is dry by 0.18 m; 0.2 m lower is the next step
		// of 0.05 m that will do. Every start fails alike; the first is told.
		{"dry", func(a *Ask) { a.ShallowBedM, a.DeepBedM = 1.18, 1.18 },
			[]string{"windows.dry: * 2026-07-01 06:00 UTC * 0.18 m*", "windows.nearest-none: *30 days*", "windows.nearest-bed-deeper: *0.98 m*0.20 m*"}},
		// 0.9 m: never dry, but only 0.10 m of water where 0.30 m is asked.
		{"thin", func(a *Ask) { a.ShallowBedM, a.DeepBedM, a.CoverM, a.MarginM = 0.9, 0.9, 0.2, 0.1 },
			[]string{"windows.thin: *0.10 m*06:00 UTC*0.30 m*", "windows.nearest-none*", "windows.nearest-bed-deeper*"}},
		// Never less than 1 m over a bed at 0; 0.7 m can be worked in: 0.30 m too deep at 6 h.
		{"deep", func(a *Ask) { a.WorkMaxM, a.MarginM = 1, 0.3; a.Checks = nil },
			[]string{"windows.deep: *1.00 m*06:00 UTC*0.70 m*", "windows.nearest-none*", "windows.nearest-bed-shallower: *0.3*"}},
		{"no band", func(a *Ask) { a.WorkMinM, a.WorkMaxM, a.MarginM = 0.5, 0.8, 0.2 },
			[]string{"windows.no-band: *0.20 m*0.50 to 0.80 m*0.70 and 0.60*", "windows.nearest-none*"}},
		// Workable, h <= 1.5, from 4 to 8 h and 16 to 20 h; the way at most 1 h a day later at
		// the same water, so the first check after 4 h is always too deep or the start is.
		{"check too deep", func(a *Ask) { a.WorkMaxM = 1.5; a.Checks = []time.Duration{6 * time.Hour} },
			[]string{"windows.deep: *"}},
		// The way is open while h <= 1.5: cut at 8:00. 5 h from the only start in range.
		{"cut", func(a *Ask) {
			a.AccessM, a.Walking, a.Reading = 1.5, 30*time.Minute, 10*time.Minute
			a.From, a.To = utc("2026-07-01T07:00:00Z"), utc("2026-07-01T07:30:00Z")
		}, []string{"windows.way-cut: *2026-07-01 08:00 UTC*40 min*", "windows.nearest-start: *2026-07-01 04:00 UTC*2026-07-01 06:20 UTC*", ""}},
		// Best an hour's two visits about low water: h(5:30) = h(6:30) = 2 - cos 15° = 1.034.
		{"closed", func(a *Ask) { a.AccessM = 0.75 },
			[]string{"windows.way-closed: *0.28 m*", "windows.nearest-none*"}},
		{"rate", func(a *Ask) {
			a.MaxRateMPerH, a.Checks = 0.1, nil
			a.From, a.To = utc("2026-07-01T02:00:00Z"), utc("2026-07-01T04:00:00Z")
		}, []string{"windows.fast: *", "windows.nearest-start: *"}},
		{"weekday", func(a *Ask) { a.Weekdays = []time.Weekday{time.Wednesday} },
			[]string{"windows.not-kept: *", "windows.nearest-none*"}},
	} {
		ask := base
		c.ask(&ask)
		p := find(t, src, ask)
		got := english(t, p.NoneBecause())
		for i, w := range c.want {
			if w == "" {
				continue
			}
			if i >= len(got) || !matches(got[i], w) {
				t.Errorf("%s: sentence %d of\n%s\nis not %q", c.name, i, strings.Join(got, "\n"), w)
			}
		}
		for _, d := range p.Days() {
			if d.StartsH == 0 && len(d.Because) == 0 {
				t.Errorf("%s: no reason for %s", c.name, d.Date)
			}
			english(t, d.Because)
		}
	}
}

// matches is a text with * for anything.
func matches(s, pattern string) bool {
	parts := strings.Split(pattern, "*")
	if !strings.HasPrefix(s, parts[0]) {
		return false
	}
	s = s[len(parts[0]):]
	for _, p := range parts[1:] {
		i := strings.Index(s, p)
		if i < 0 {
			return false
		}
		s = s[i+len(p):]
	}
	return true
}

// In the dark: at 36.95 N, 8.2 W on 1 July 2026 the sun sets at 19:56:15 UTC (an
// independent ephemeris, PyEphem 4.1.4, as in the script sun_day). Water is workable,
// h ≤ 1.2, within 1.22883 h (cos x = −0.8, x = 143.13010°) of low water, here 18:30. A
// check after 2 h of a start at 17:16:16 or later, at least 19:16:16, must fall before
// 19:43:44: all in light. After 3 h no start has both, and by sunset none has light.
func TestReasonDark(t *testing.T) {
	src := cosine(t, 2, 1, 0.5)
	ask := noWay(Ask{
		From: utc("2026-07-01T17:30:00Z"), To: utc("2026-07-01T23:00:00Z"), LatDeg: 36.95, LonDeg: -8.2, Light: sun.Sun,
		Soak: 24 * time.Hour, WorkMaxM: 5, Checks: []time.Duration{3 * time.Hour},
	})
	p := find(t, src, ask)
	got := english(t, p.NoneBecause())
	// The start that fails least is the first: 17:30 + 3 h = 20:30, 33.7 min after sunset.
	if len(got) == 0 || !matches(got[0], "windows.after-dark: *3 h*34 min after*19:56 UTC*") {
		t.Errorf("%s", strings.Join(got, "\n"))
	}
	// Polar night.
	ask.LatDeg, ask.LonDeg, ask.Light = 78.2, 15.6, sun.Civil
	ask.From, ask.To = utc("2026-12-15T00:00:00Z"), utc("2026-12-20T00:00:00Z")
	got = english(t, find(t, src, ask).NoneBecause())
	if len(got) == 0 || !matches(got[0], "windows.no-light: *") {
		t.Errorf("%s", strings.Join(got, "\n"))
	}
}

// What would do does: the bed and the start that are named give windows.
func TestNearestWillDo(t *testing.T) {
	src := FromCurve(mixed(t))
	ask := noWay(Ask{
		LatDeg: 36.95, LonDeg: -8.2, From: utc("2026-04-10T00:00:00Z"), To: utc("2026-04-13T00:00:00Z"), Light: sun.Civil,
		ShallowBedM: 1.4, DeepBedM: 1.4, CoverM: 0.2, WorkMinM: 0.3, WorkMaxM: 1.5, Soak: 24 * time.Hour, Checks: []time.Duration{time.Hour, 24 * time.Hour},
	})
	p := find(t, src, ask)
	if len(p.Windows) > 0 {
		t.Fatal("there is a window; the test needs none")
	}
	told := 0
	for _, m := range p.NoneBecause() {
		if bed, ok := m.With["bed"].(float64); ok {
			told++
			a := ask
			a.ShallowBedM, a.DeepBedM = bed, bed
			if q := find(t, src, a); len(q.Windows) == 0 {
				t.Errorf("no window at the bed told: %s", m.In(words.English))
			}
			a.ShallowBedM, a.DeepBedM = bed+bedStepM, bed+bedStepM // nearer to the row's
			for _, w := range find(t, src, a).Windows {
				if w.To.Sub(w.From) >= 5*time.Minute {
					t.Errorf("a nearer bed would do: %v", w)
				}
			}
		}
	}
	if told != 1 {
		t.Errorf("%v", english(t, p.NoneBecause()))
	}
}

// Refusals have their sentences.
func TestRefused(t *testing.T) {
	good := noWay(Ask{From: utc("2026-07-01T00:00:00Z"), To: utc("2026-07-02T00:00:00Z"), WorkMaxM: 1, Soak: time.Hour})
	src := cosine(t, 2, 1, 0)
	for name, change := range map[string]func(a *Ask){
		"windows.range":       func(a *Ask) { a.To = a.From },
		"windows.range-long":  func(a *Ask) { a.To = a.From.AddDate(4, 0, 0) },
		"windows.metres":      func(a *Ask) { a.ShallowBedM = math.NaN() },
		"windows.ends":        func(a *Ask) { a.DeepBedM = 1 },
		"windows.below-zero":  func(a *Ask) { a.MarginM = -0.1 },
		"windows.work":        func(a *Ask) { a.WorkMinM = 2 },
		"windows.checks":      func(a *Ask) { a.Checks = []time.Duration{2 * time.Hour, time.Hour} },
		"windows.duration":    func(a *Ask) { a.Soak = 100 * 24 * time.Hour },
		"windows.quiet-hours": func(a *Ask) { a.QuietFrom = 2000 },
	} {
		a := good
		change(&a)
		_, err := Find(src, a)
		r, ok := err.(*Refusal)
		if !ok || r.Slug != name {
			t.Errorf("%s: got %v", name, err)
			continue
		}
		for _, l := range words.Languages {
			if s := l.Say(r.Slug, r.With); !words.Has(r.Slug) || strings.Contains(s, "{") {
				t.Errorf("%s: %q", name, s)
			}
		}
	}
	if _, err := Find(src, good); err != nil {
		t.Error(err)
	}
}

// One sounding: 0.85 m of water at 09:20 under the cosine, 2 + cos(280°) = 2.17365 m:
// the bed is at 1.32365 m. A clock wrong by 10 min either way: h from cos 275° to
// cos 285°, 2.08716 to 2.25882; a depth wrong by 0.05 m: beds of 1.45882 and 1.18716 m.
func TestSounding(t *testing.T) {
	s := Sounding{At: utc("2026-07-01T09:20:00Z"), DepthM: 0.85, WithinS: 600, WithinM: 0.05}
	bed, shallow, deep, err := s.Bed(cosine(t, 2, 1, 0))
	if err != nil || math.Abs(bed-1.32365) > 1e-5 || math.Abs(shallow-1.45882) > 1e-5 || math.Abs(deep-1.18716) > 1e-5 {
		t.Errorf("bed %v, %v to %v, %v", bed, shallow, deep, err)
	}
	// Over high water the highest is the turn's, not an end's.
	s = Sounding{At: utc("2026-07-01T12:00:00Z"), DepthM: 1, WithinS: 3600}
	if _, shallow, deep, _ := s.Bed(cosine(t, 2, 1, 0)); math.Abs(shallow-2) > 1e-6 || math.Abs(deep-(1+math.Cos(math.Pi/6))) > 1e-6 {
		t.Errorf("%v to %v", shallow, deep)
	}
	table, _, err := tide.NewTable([]tide.Water{{At: utc("2026-07-01T00:00:00Z"), HeightM: 3}, {At: utc("2026-07-01T06:00:00Z"), HeightM: 1}}, tide.Secondary{})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, _, err := s.Bed(FromTable(table)); err == nil {
		t.Error("a sounding outside the table gave a bed")
	}
}

// Minutes are rounded to the safe side, and on the day of a change both clocks are
// told: in Lisbon on 25 October 2026 the clock goes back from 02:00 WEST to 01:00 WET
// (IANA tz database).
func TestClock(t *testing.T) {
	z, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	at := utc("2026-10-25T08:30:01Z")
	if got := Minute(at, Begin); !got.Equal(utc("2026-10-25T08:31:00Z")) {
		t.Error(got)
	}
	if got := Minute(at, End); !got.Equal(utc("2026-10-25T08:30:00Z")) {
		t.Error(got)
	}
	for s, want := range map[string]string{
		"2026-10-25T08:30:00Z": "2026-10-25 08:30 WET = 09:30 WEST",
		"2026-10-25T00:30:00Z": "2026-10-25 01:30 WEST = 00:30 WET",
		"2026-10-24T08:30:00Z": "2026-10-24 09:30 WEST",
	} {
		if got := LocalDay(utc(s), z); got != want {
			t.Errorf("%s: %s, want %s", s, got, want)
		}
	}
	// The days of a range over the change: 25 October has 25 h.
	ask := noWay(Ask{From: utc("2026-10-23T23:00:00Z"), To: utc("2026-10-27T00:00:00Z"), WorkMaxM: 9, Zone: z})
	var hours []float64
	for _, d := range find(t, cosine(t, 2, 1, 0), ask).Days() {
		hours = append(hours, d.StartsH)
	}
	if len(hours) != 3 || hours[0] != 24 || hours[1] != 25 || hours[2] != 24 {
		t.Errorf("%v", hours)
	}
}
