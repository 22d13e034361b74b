package sun

import (
	"errors"
	"math"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// TestSpans: days of 23, 24, 25, 23½ and 24½ hours, one in two parts, one that
// begins at 01:00, one that never was. The rules of the zones are public: Lisbon
// changes at 01:00 UTC on the last Sundays of March and October; Lord Howe by
// half an hour; São Paulo began summer time at midnight (to 2018); Newfoundland
// set back at 00:01 (to 2011); Samoa left out 30 December 2011.
func TestSpans(t *testing.T) {
	for _, c := range []struct {
		zone, date string
		want       []string // from, to, from, to, …
	}{
		{"UTC", "2026-07-01", []string{"2026-07-01T00:00:00Z", "2026-07-02T00:00:00Z"}},
		{"Europe/Lisbon", "2026-03-29", []string{"2026-03-29T00:00:00Z", "2026-03-29T23:00:00Z"}},
		{"Europe/Lisbon", "2026-10-25", []string{"2026-10-24T23:00:00Z", "2026-10-26T00:00:00Z"}},
		{"Australia/Lord_Howe", "2026-04-05", []string{"2026-04-04T13:00:00Z", "2026-04-05T13:30:00Z"}},
		{"Australia/Lord_Howe", "2026-10-04", []string{"2026-10-03T13:30:00Z", "2026-10-04T13:00:00Z"}},
		{"America/Sao_Paulo", "2018-11-04", []string{"2018-11-04T03:00:00Z", "2018-11-05T02:00:00Z"}},
		{"America/Sao_Paulo", "2018-02-17", []string{"2018-02-17T02:00:00Z", "2018-02-18T03:00:00Z"}},
		{"America/St_Johns", "2010-11-07", []string{"2010-11-07T02:30:00Z", "2010-11-07T02:31:00Z", "2010-11-07T03:30:00Z", "2010-11-08T03:30:00Z"}},
		{"America/St_Johns", "2010-11-06", []string{"2010-11-06T02:30:00Z", "2010-11-07T02:30:00Z", "2010-11-07T02:31:00Z", "2010-11-07T03:30:00Z"}},
		{"Pacific/Apia", "2011-12-30", nil},
		{"Pacific/Apia", "2011-12-31", []string{"2011-12-30T10:00:00Z", "2011-12-31T10:00:00Z"}},
		{"Pacific/Kiritimati", "2026-01-01", []string{"2025-12-31T10:00:00Z", "2026-01-01T10:00:00Z"}},
	} {
		d := at(t, c.date+"T00:00:00Z")
		got := Spans(d.Year(), d.Month(), d.Day(), zone(t, c.zone))
		if len(got)*2 != len(c.want) {
			t.Errorf("%s %s: %v", c.zone, c.date, got)
			continue
		}
		for i, s := range got {
			if !s.From.Equal(at(t, c.want[2*i])) || !s.To.Equal(at(t, c.want[2*i+1])) {
				t.Errorf("%s %s: %v, want %v", c.zone, c.date, got, c.want)
			}
		}
	}
	if Spans(2026, 2, 30, time.UTC) != nil {
		t.Error("30 February has a span")
	}
}

// TestSpansCoverEveryInstant: a random instant bears the date that its zone's
// clock shows, and lies in that date's spans and in no neighbour's.
func TestSpansCoverEveryInstant(t *testing.T) {
	zones := []string{"UTC", "Europe/Lisbon", "Australia/Lord_Howe", "America/Sao_Paulo", "America/St_Johns", "Pacific/Apia", "Pacific/Kiritimati", "Asia/Manila", "Africa/Casablanca", "America/Godthab"}
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(zones).Draw(r, "zone"))
		i := time.Unix(rapid.Int64Range(-2e9, 4e9).Draw(r, "at"), 0).UTC()
		for shift := -1; shift <= 1; shift++ {
			y, m, d := i.In(z).Date()
			day := time.Date(y, m, d+shift, 0, 0, 0, 0, time.UTC)
			in := 0
			for _, s := range Spans(day.Year(), day.Month(), day.Day(), z) {
				if !i.Before(s.From) && i.Before(s.To) {
					in++
				}
			}
			if (in == 1) != (shift == 0) {
				r.Fatalf("%s in %s: date %s holds it %d times", i, z, day.Format(time.DateOnly), in)
			}
		}
	})
}

// TestDayHasEveryEvent: the events of the days of a zone are the events of the
// UTC days, each once, whatever the clock does; and where a day has none its
// state is the altitude's side at noon.
func TestDayHasEveryEvent(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		lat := rapid.Float64Range(-90, 90).Draw(r, "lat")
		lon := rapid.Float64Range(-180, 180).Draw(r, "lon")
		z := zone(t, rapid.SampledFrom([]string{"Europe/Lisbon", "America/St_Johns", "Australia/Lord_Howe", "Pacific/Apia"}).Draw(r, "zone"))
		start := time.Date(2010, 1, 1+rapid.IntRange(0, 900).Draw(r, "day"), 0, 0, 0, 0, time.UTC)
		count := func(z *time.Location, from, to int) map[int64]int {
			seen := map[int64]int{}
			for i := from; i < to; i++ {
				date := start.AddDate(0, 0, i)
				d, err := OfDay(lat, lon, date.Year(), date.Month(), date.Day(), z)
				if err != nil {
					continue // the day that Samoa left out
				}
				for _, list := range [][]time.Time{d.Sunrise, d.Sunset, d.CivilDawn, d.CivilDusk} {
					for _, e := range list {
						seen[e.Unix()]++
						if y, m, dd := e.In(z).Date(); y != date.Year() || m != date.Month() || dd != date.Day() {
							r.Fatalf("%s is not on %s in %s", e, date.Format(time.DateOnly), z)
						}
					}
				}
				if middle := d.Spans[0].From.Add(11 * time.Hour); d.Sun != Changes && (AltitudeDeg(lat, lon, middle) >= horizonDeg) != (d.Sun == Up) {
					r.Fatalf("%s: %s", date, d.Sun)
				}
			}
			return seen
		}
		wide := count(z, -2, 5)
		for s, n := range count(time.UTC, 0, 3) {
			if wide[s] != n && wide[s-1] != n && wide[s+1] != n {
				r.Fatalf("%s: %d times in UTC, %d in %s", time.Unix(s, 0).UTC(), n, wide[s], z)
			}
		}
	})
}

// TestLightBruteForce: light by Light against the altitude every four
// minutes of a week, at latitudes where the sun grazes too.
func TestLightBruteForce(t *testing.T) {
	for _, lat := range []float64{-89.99, -66.6, -33.9, 0, 23.4, 51, 60.4, 65.9, 67.2, 78.2, 90} {
		for _, day := range []int{10, 80, 140, 172, 200, 265, 310, 355} {
			from := time.Date(2026, 1, day, 7, 13, 0, 0, time.UTC)
			to := from.AddDate(0, 0, 7)
			for _, kind := range []Kind{Sun, Civil} {
				spans, err := Light(lat, 15.6, from, to, kind)
				if err != nil {
					t.Fatal(err)
				}
				h, _ := kind.thresholdDeg()
				i := 0
				for m := from; m.Before(to); m = m.Add(4 * time.Minute) {
					for i < len(spans) && !m.Before(spans[i].To) {
						i++
					}
					in := i < len(spans) && !m.Before(spans[i].From)
					if alt := AltitudeDeg(lat, 15.6, m) - h; (alt >= 0) != in && math.Abs(alt) > 1e-5 {
						t.Fatalf("latitude %g, %s, %s: altitude %.5f above the limit, light %v", lat, kind, m, alt, in)
					}
				}
			}
		}
	}
}

// TestLightProperties: spans are in order, inside the range, apart; civil light
// holds the sun's; a range cut in two gives the same light; None gives all.
func TestLightProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		lat := rapid.Float64Range(-90, 90).Draw(r, "lat")
		lon := rapid.Float64Range(-180, 180).Draw(r, "lon")
		from := time.Unix(rapid.Int64Range(1.5e9, 1.9e9).Draw(r, "from"), 0).UTC()
		cut := from.Add(time.Duration(rapid.IntRange(1, 10*86400).Draw(r, "cut")) * time.Second)
		to := cut.Add(time.Duration(rapid.IntRange(1, 10*86400).Draw(r, "to")) * time.Second)
		light := func(a, b time.Time, k Kind) []Span {
			s, err := Light(lat, lon, a, b, k)
			if err != nil {
				r.Fatal(err)
			}
			for i, x := range s {
				if x.From.Before(a) || x.To.After(b) || !x.From.Before(x.To) || i > 0 && !s[i-1].To.Before(x.From) {
					r.Fatalf("%v in %s to %s", s, a, b)
				}
			}
			return s
		}
		total := func(s []Span) (d time.Duration) {
			for _, x := range s {
				d += x.To.Sub(x.From)
			}
			return d
		}
		sun, civil := light(from, to, Sun), light(from, to, Civil)
		for _, s := range sun {
			held := false
			for _, c := range civil {
				held = held || !s.From.Before(c.From) && !s.To.After(c.To)
			}
			if !held {
				r.Fatalf("sun %v outside twilight %v", s, civil)
			}
		}
		for _, k := range []Kind{Sun, Civil} {
			if a, b := total(light(from, to, k)), total(light(from, cut, k))+total(light(cut, to, k)); a != b {
				r.Fatalf("%s: %s in one, %s in two", k, a, b)
			}
		}
		if total(light(from, to, None)) != to.Sub(from) {
			r.Fatal("not all of the time is free of a demand")
		}
	})
}

// TestGrazing: where the sun passes the horizon for seconds only, both events
// are found though both lie between two samples. The case is built by a search
// for the latitude at which the sun just sets on 15 May 2026: were nights under
// an hour missed, the shortest night found would be as long.
func TestGrazing(t *testing.T) {
	from := time.Date(2026, 5, 15, 0, 0, 0, 0, time.UTC)
	to := from.Add(24 * time.Hour)
	dark := func(lat float64) time.Duration {
		spans, err := Light(lat, 0, from, to, Sun)
		if err != nil {
			t.Fatal(err)
		}
		d := to.Sub(from)
		for _, s := range spans {
			d -= s.To.Sub(s.From)
		}
		return d
	}
	lo, hi := 65.0, 75.0 // dark for a while, never dark
	if dark(lo) == 0 || dark(hi) != 0 {
		t.Fatal("the latitudes do not hold the change")
	}
	shortest := 24 * time.Hour
	for hi-lo > 1e-9 {
		m := (lo + hi) / 2
		if d := dark(m); d > 0 {
			lo = m
			shortest = min(shortest, d)
		} else {
			hi = m
		}
	}
	if shortest > 30*time.Second {
		t.Errorf("the shortest night found is %s", shortest)
	}
}

// TestNextPhases: four of them, after the instant, in order, each once, and the
// elongation there is what the phase says, to 0.02°.
func TestNextPhases(t *testing.T) {
	want := map[Phase]float64{NewMoon: 0, FirstQuarter: 90, FullMoon: 180, LastQuarter: 270}
	rapid.Check(t, func(r *rapid.T) {
		from := time.Unix(rapid.Int64Range(-2.2e9, 4.1e9).Draw(r, "from"), 0).UTC()
		next := NextPhases(from)
		seen := map[Phase]bool{}
		for i, p := range next {
			seen[p.Phase] = true
			if !p.At.After(from) || p.At.Sub(from) > 30*24*time.Hour || i > 0 && !next[i-1].At.Before(p.At) {
				r.Fatalf("after %s: %v", from, next)
			}
			if off := math.Remainder(MoonAt(p.At).ElongationDeg-want[p.Phase], 360); math.Abs(off) > 0.02 {
				r.Fatalf("%s at %s: elongation off by %.4f", p.Phase, p.At, off)
			}
		}
		if len(next) != 4 || len(seen) != 4 {
			r.Fatalf("after %s: %v", from, next)
		}
	})
	// A phase at the instant itself is not after it.
	p := NextPhases(time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC))[0]
	if again := NextPhases(p.At)[0]; !again.At.After(p.At) {
		t.Errorf("%v again after itself", p)
	}
}

func TestRefusals(t *testing.T) {
	from := time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
	for slug, call := range map[string]func() error{
		"sun.latitude":    func() error { _, err := OfDay(90.1, 0, 2026, 7, 1, time.UTC); return err },
		"sun.longitude":   func() error { _, err := OfDay(0, math.NaN(), 2026, 7, 1, time.UTC); return err },
		"sun.years":       func() error { _, err := OfDay(0, 0, 1899, 7, 1, time.UTC); return err },
		"sun.no-such-day": func() error { _, err := OfDay(0, 0, 2011, 12, 30, zone(t, "Pacific/Apia")); return err },
		"sun.range":       func() error { _, err := Light(0, 0, from, from, Sun); return err },
		"sun.kind":        func() error { _, err := Light(0, 0, from, from.Add(time.Hour), "bright"); return err },
	} {
		var r *Refusal
		if err := call(); !errors.As(err, &r) || r.Slug != slug {
			t.Errorf("%s: %v", slug, err)
		}
	}
}

// 180 days at 20 sites is what a season's windows ask for.
func BenchmarkLightHalfYear20Sites(b *testing.B) {
	from := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	for range b.N {
		for site := range 20 {
			if _, err := Light(float64(3*site), 10, from, from.AddDate(0, 0, 180), Civil); err != nil {
				b.Fatal(err)
			}
		}
	}
}

func BenchmarkOfDay(b *testing.B) {
	for range b.N {
		_, _ = OfDay(36.95, -8.2, 2026, 7, 1, time.UTC)
	}
}

func BenchmarkNextPhases(b *testing.B) {
	from := time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)
	for range b.N {
		NextPhases(from)
	}
}

// TestRoughAltitude: anywhere, at any time, the rough altitude is within 0.1° of
// the careful one, which is held against an ephemeris.
func TestRoughAltitude(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		lat := rapid.Float64Range(-90, 90).Draw(r, "lat")
		lon := rapid.Float64Range(-180, 180).Draw(r, "lon")
		from := time.Date(FirstYear, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
		to := time.Date(LastYear+1, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
		at := time.Unix(rapid.Int64Range(from, to-1).Draw(r, "at"), 0)
		if rough, deg := RoughAltitudeDeg(lat, lon, at), AltitudeDeg(lat, lon, at); math.Abs(rough-deg) > 0.1 {
			r.Fatalf("(%v, %v) at %v: %v, carefully %v", lat, lon, at, rough, deg)
		}
	})
}
