package visits

import (
	"math"
	"testing"
	"time"

	"soakline/internal/sun"
	"soakline/internal/tide"
)

// A cosine of 12 h, h = 2 + cos(30° (t − 2 h)): highs of 3 m at 02:00 and 14:00,
// lows of 1 m at 08:00 and 20:00. By hand: at 05:00 the height is 2 + cos 90° = 2 m,
// three hours after the high of 02:00; at 09:00 it is 2 + cos 210° = 1.13397 m and
// the next high is five hours off. The day's range is 3 − 1 = 2 m.
func TestTideAtByHand(t *testing.T) {
	src := cosine(t, 2, 1, 2)
	for _, c := range []struct {
		at            string
		height, fromH float64
	}{
		{"2026-07-01T05:00:00Z", 2, 3},
		{"2026-07-01T09:00:00Z", 2 - math.Sqrt(3)/2, -5},
		{"2026-07-01T14:00:00Z", 3, 0},
	} {
		got, ok := TideAt(src, utc(c.at), time.UTC)
		if !ok || math.Abs(got.HeightM-c.height) > 1e-3 || math.Abs(got.FromHighH-c.fromH) > 0.01 || math.Abs(got.RangeM-2) > 1e-3 {
			t.Errorf("%s: %+v %v, want %.4f m, %g h", c.at, got, ok, c.height, c.fromH)
		}
	}
	h, at, ok := Lowest(src, utc("2026-07-01T05:00:00Z"), utc("2026-07-01T12:00:00Z"))
	if !ok || math.Abs(h-1) > 1e-3 || math.Abs(at.Sub(utc("2026-07-01T08:00:00Z")).Seconds()) > 30 {
		t.Errorf("lowest %.4f at %s", h, at)
	}
	// No turn inside: the lower end.
	if h, at, ok := Lowest(src, utc("2026-07-01T09:00:00Z"), utc("2026-07-01T13:00:00Z")); !ok || math.Abs(h-(2-math.Sqrt(3)/2)) > 1e-3 || at.Hour() != 9 {
		t.Errorf("lowest of a rise %.4f at %s", h, at)
	}
}

// A table that ends is not known beyond its end.
func TestTideAtUnknown(t *testing.T) {
	var lines []tide.Water
	for i := range 12 {
		lines = append(lines, tide.Water{At: utc("2026-07-01T00:00:00Z").Add(time.Duration(i) * 6 * time.Hour), HeightM: 3 - 2*float64(i%2)})
	}
	table, _, err := tide.NewTable(lines, tide.Secondary{})
	if err != nil {
		t.Fatal(err)
	}
	c := FromTable(table)
	if _, ok := TideAt(c, utc("2027-07-01T05:00:00Z"), time.UTC); ok {
		t.Error("a table told of a time outside it")
	}
	if _, _, ok := Lowest(c, utc("2026-07-01T05:00:00Z"), utc("2027-07-01T05:00:00Z")); ok {
		t.Error("the lowest water of a stretch that is not known")
	}
}

// The share of dark hours by another way: the sun's altitude looked at every ten
// seconds, below −6° is dark. An equinox day near the equator has 12 h between
// sunrise and sunset and twice 21 min of twilight (from memory), so 0.47.
func TestDarkShare(t *testing.T) {
	from := utc("2026-03-20T00:00:00Z")
	for _, lat := range []float64{0, 36.95, -60, 80} {
		for _, h := range []float64{24, 24.5, 1} {
			to := from.Add(time.Duration(h * float64(time.Hour)))
			dark, n := 0, 0
			for at := from; at.Before(to); at = at.Add(10 * time.Second) {
				if sun.AltitudeDeg(lat, -8.2, at) < -6 {
					dark++
				}
				n++
			}
			got, ok := DarkShare(lat, -8.2, from, to)
			if want := float64(dark) / float64(n); !ok || math.Abs(got-want) > 20.0/3600/h+1e-9 {
				t.Errorf("%g°, %g h: %.5f, by looking %.5f", lat, h, got, want)
			}
		}
	}
	if got, _ := DarkShare(0, 0, from, from.Add(24*time.Hour)); math.Abs(got-0.47) > 0.01 {
		t.Errorf("equator at the equinox: %.3f dark", got)
	}
	if _, ok := DarkShare(0, 0, from, from); ok {
		t.Error("a share of nothing")
	}
}

// A stay tells what each question by itself does, for constituents and for a table
// with a gap, inside the stay and outside it.
func TestStayTellsTheSame(t *testing.T) {
	curve, err := tide.NewCurve([]tide.Harmonic{{Name: "Z0", AmplitudeM: 2}, {Name: "M2", AmplitudeM: 1, PhaseDeg: 60}, {Name: "S2", AmplitudeM: 0.4, PhaseDeg: 80}, {Name: "K1", AmplitudeM: 0.3, PhaseDeg: 200}}, tide.Options{})
	if err != nil {
		t.Fatal(err)
	}
	begin := time.Date(2026, 3, 27, 0, 0, 0, 0, time.UTC)
	turns, err := curve.Turns(begin, begin.AddDate(0, 0, 8))
	if err != nil {
		t.Fatal(err)
	}
	var lines []tide.Water
	for i, x := range turns {
		if i < 14 || i > 18 {
			lines = append(lines, tide.Water{At: x.At, HeightM: x.HeightM, Kind: map[bool]string{true: "high", false: "low"}[x.High]})
		}
	}
	table, _, err := tide.NewTable(lines, tide.Secondary{})
	if err != nil {
		t.Fatal(err)
	}
	lisbon, err := time.LoadLocation("Europe/Lisbon") // its clock goes on within these days
	if err != nil {
		t.Fatal(err)
	}
	same := func(a, b float64) bool { return a == b || math.Abs(a-b) < 1e-6 || math.IsNaN(a) && math.IsNaN(b) }
	for _, src := range []Source{FromCurve(curve), FromTable(table)} {
		for h := 0.0; h < 7*24; h += 5.7 {
			from := begin.Add(time.Duration(h * float64(time.Hour)))
			to := from.Add(24 * time.Hour)
			stay := StayOf(src, from, to)
			for _, at := range []time.Time{from, from.Add(time.Hour), to, to.Add(5 * 24 * time.Hour)} {
				a, okA := stay.TideAt(at, lisbon)
				b, okB := TideAt(src, at, lisbon)
				if okA != okB || !same(a.HeightM, b.HeightM) || !same(a.RangeM, b.RangeM) || !same(a.FromHighH, b.FromHighH) {
					t.Errorf("%T at %v: %+v %v, by itself %+v %v", src, at, a, okA, b, okB)
				}
			}
			low, at, ok := stay.Lowest(from, to)
			low2, at2, ok2 := Lowest(src, from, to)
			if ok != ok2 || !same(low, low2) || at.Sub(at2).Abs() > time.Second {
				t.Errorf("%T from %v: lowest %g at %v, by itself %g at %v", src, from, low, at, low2, at2)
			}
		}
	}
}
