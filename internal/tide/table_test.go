package tide

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func at(h, m int) time.Time { return time.Date(2026, 7, 1, h, m, 0, 0, time.UTC) }

// By hand: low 0.4 m at 03:00, high 3.6 m at 09:00, low 0.8 m at 15:00. Half way
// up (06:00) the middle, 2.0 m; an hour after low 2.0 − 1.6 cos 30° = 0.614 m, two
// hours 2.0 − 1.6 cos 60° = 1.2 m; at 11:00 2.2 + 1.4 cos 60° = 2.9 m. It passes 1.2 m
// rising at 05:00 and 2.9 m falling at 11:00.
func TestHalfCosineByHand(t *testing.T) {
	table, messages, err := NewTable([]Water{{at(9, 0), 3.6, ""}, {at(3, 0), 0.4, "low"}, {at(15, 0), 0.8, ""}}, Secondary{})
	if err != nil || len(messages) != 0 {
		t.Fatal(messages, err)
	}
	for when, want := range map[time.Time]float64{at(3, 0): 0.4, at(4, 0): 2 - 1.6*math.Cos(math.Pi/6), at(5, 0): 1.2, at(6, 0): 2, at(9, 0): 3.6, at(11, 0): 2.9, at(15, 0): 0.8} {
		if h, ok := table.At(when); !ok || math.Abs(h-want) > 1e-9 {
			t.Errorf("%v: %.4f %v, want %.4f", when, h, ok, want)
		}
	}
	if c := table.Crossings(1.2, at(3, 0), at(9, 0)); len(c) != 1 || !c[0].At.Equal(at(5, 0)) || !c[0].Rising {
		t.Errorf("%v", c)
	}
	if c := table.Crossings(2.9, at(9, 0), at(15, 0)); len(c) != 1 || !c[0].At.Equal(at(11, 0)) || c[0].Rising {
		t.Errorf("%v", c)
	}
	if turns := table.Turns(at(3, 0), at(14, 59)); len(turns) != 2 || turns[0].High || !turns[1].High {
		t.Errorf("%v", turns)
	}
	for _, when := range []time.Time{at(2, 59), at(15, 1)} {
		if _, ok := table.At(when); ok {
			t.Errorf("%v is outside", when)
		}
	}
	if _, err := table.Heights(at(2, 0), at(5, 0), time.Hour); err == nil {
		t.Error("a range outside was taken")
	}
}

// A secondary place by hand: high 20 min later and × 0.9 + 0.1, low 10 min earlier − 0.2.
func TestSecondaryPlace(t *testing.T) {
	table, _, err := NewTable([]Water{{at(3, 0), 0.4, ""}, {at(9, 0), 3.6, ""}}, Secondary{20 * time.Minute, -10 * time.Minute, 0.1, -0.2, 0.9, 0})
	if err != nil {
		t.Fatal(err)
	}
	if h, _ := table.At(at(9, 20)); math.Abs(h-3.34) > 1e-9 {
		t.Errorf("high %.3f", h)
	}
	if h, _ := table.At(at(2, 50)); math.Abs(h-0.2) > 1e-9 {
		t.Errorf("low %.3f", h)
	}
}

func TestTableMessagesAndRefusals(t *testing.T) {
	slugs := func(list ...Water) string {
		_, m, err := NewTable(list, Secondary{})
		if r, ok := err.(*Refusal); ok {
			return r.Slug
		}
		if len(m) > 0 {
			return m[0].Slug
		}
		return ""
	}
	day := 24 * time.Hour
	for want, list := range map[string][]Water{
		"tide.table-short":  {{at(3, 0), 1, ""}},
		"tide.table-twice":  {{at(3, 0), 1, ""}, {at(3, 0), 2, ""}},
		"tide.table-value":  {{at(3, 0), math.NaN(), ""}, {at(9, 0), 2, ""}},
		"tide.table-kind":   {{at(3, 0), 1, ""}, {at(9, 0), 2, ""}, {at(15, 0), 3, ""}},
		"tide.table-gaps":   {{at(3, 0), 1, ""}, {at(9, 0), 2, ""}, {at(15, 0), 1, ""}, {at(9, 0).Add(2 * day), 2, ""}, {at(15, 0).Add(2 * day), 1, ""}},
		"tide.table-stands": {{at(0, 0), 1, "low"}, {at(6, 0), 2, "high"}, {at(8, 0), 2.1, "high"}, {at(14, 0), 1, "low"}, {at(20, 0), 2, "high"}},
		"":                  {{at(3, 0), 1, ""}, {at(9, 10), 2, ""}, {at(15, 25), 1, ""}, {at(21, 40), 2, ""}},
	} {
		if got := slugs(list...); got != want {
			t.Errorf("%v: %q, want %q", list, got, want)
		}
	}
	if _, _, err := NewTable([]Water{{at(3, 0), 1, ""}, {at(9, 0), 2, ""}}, Secondary{LowLater: 7 * time.Hour}); err == nil {
		t.Error("a low water after its high water was taken")
	}
}

// Between two lines the water never leaves their heights, and crossings lie on it.
func TestTableStaysBetween(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo, hi := rapid.Float64Range(-2, 2).Draw(t, "low"), rapid.Float64Range(2.1, 8).Draw(t, "high")
		table, _, err := NewTable([]Water{{at(1, 0), lo, ""}, {at(7, 13), hi, ""}, {at(13, 50), lo + 0.01, ""}}, Secondary{})
		if err != nil {
			t.Fatal(err)
		}
		h, _ := table.At(at(1, 0).Add(time.Duration(rapid.IntRange(0, 770).Draw(t, "minute")) * time.Minute))
		if h < lo-1e-9 || h > hi+1e-9 {
			t.Fatalf("%g is outside %g to %g", h, lo, hi)
		}
		for _, c := range table.Crossings((lo+hi)/2, at(1, 0), at(13, 50)) {
			if h, _ := table.At(c.At); math.Abs(h-(lo+hi)/2) > 1e-3*(hi-lo) {
				t.Fatalf("at the crossing the water is at %g", h)
			}
		}
	})
}

// Sea water of 1025 kg/m³ at 45° (gravity 9.80620, printed in WGS84 tables as
// 9.8062): 10 m of it weigh 1005.1 hPa. Hand: 1025 × 9.8062 × 10 / 100.
func TestPressure(t *testing.T) {
	if g := GravityMPerS2(45); math.Abs(g-9.8062) > 5e-5 {
		t.Errorf("gravity %.5f", g)
	}
	if d := DepthM(1013.25+1005.1355, 1013.25, 1025, GravityMPerS2(45)); math.Abs(d-10) > 1e-3 {
		t.Errorf("%.4f m", d)
	}
	air := []Sample{{at(0, 0), 1000}, {at(2, 0), 1010}, {at(20, 0), 1020}}
	if p := AirAt(air, at(1, 0)); p != 1005 {
		t.Errorf("%g hPa", p)
	}
	for _, gap := range []time.Time{at(10, 0), at(21, 0)} {
		if p := AirAt(air, gap); !math.IsNaN(p) {
			t.Errorf("%v: %g hPa from nowhere", gap, p)
		}
	}
}
