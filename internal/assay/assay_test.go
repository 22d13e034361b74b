package assay

import (
	"encoding/json"
	"math"
	"testing"
	"time"
)

func at(clock string) Moment {
	t, err := time.Parse(time.RFC3339, clock)
	if err != nil {
		panic(err)
	}
	return Moment{At: t}
}

// Worked by hand: set 09:00 to 09:20 (middle 09:10), read 10:02 to 10:22 (middle
// 10:12): 62 minutes. With one end missing the single times stand: 10:02 − 09:00
// is 62 minutes too, so the second case reads at 10:05 until 10:35 (middle 10:20).
func TestSoakH(t *testing.T) {
	d := Deployment{SetOut: at("2026-07-01T09:00:00Z"), SetOutUntil: at("2026-07-01T09:20:00Z")}
	for _, c := range []struct {
		check Check
		wantH float64
		known bool
	}{
		{Check{At: at("2026-07-01T10:02:00Z"), Until: at("2026-07-01T10:22:00Z")}, 62.0 / 60, true},
		{Check{At: at("2026-07-01T10:05:00Z"), Until: at("2026-07-01T10:35:00Z")}, 70.0 / 60, true},
		{Check{At: at("2026-07-01T10:05:00Z")}, 65.0 / 60, true}, // no end of reading: 09:00 to 10:05
		{Check{}, 0, false},
	} {
		got, known := d.SoakH(c.check)
		if known != c.known || math.Abs(got-c.wantH) > 1e-12 {
			t.Errorf("SoakH(%v) = %g, %v; want %g, %v", c.check.At.At, got, known, c.wantH, c.known)
		}
	}
	// 24 h is elapsed time: across the end of summer time at Lisbon, 09:00+01:00
	// to 08:00+00:00 the next day.
	d = Deployment{SetOut: at("2026-10-24T09:00:00+01:00")}
	if got, _ := d.SoakH(Check{At: at("2026-10-25T08:00:00+00:00")}); got != 24 {
		t.Errorf("a day over the change of clocks is %g h of soak, want 24", got)
	}
}

func TestMissingIsNotZero(t *testing.T) {
	var m Maybe[int]
	b, err := json.Marshal([]Maybe[int]{m, Some(0)})
	if err != nil || string(b) != "[null,0]" {
		t.Errorf("missing and zero are written %s, %v", b, err)
	}
	var back []Maybe[int]
	if err := json.Unmarshal(b, &back); err != nil || back[0].Known() || !back[1].Known() {
		t.Errorf("missing and zero come back as %v, %v", back, err)
	}
}

func TestPlace(t *testing.T) {
	for _, c := range []struct {
		p    Place
		want string
	}{
		{Place{File: "dock.csv", Line: 14, Column: "check1_at"}, "dock.csv line 14, column check1_at"},
		{Place{File: "a.xlsx", Sheet: "Kell Spit", Line: 3}, "a.xlsx sheet Kell Spit line 3"},
		{Place{File: "a.csv"}, "a.csv"},
		{Place{}, ""},
	} {
		if got := c.p.String(); got != c.want {
			t.Errorf("%+v is told as %q, want %q", c.p, got, c.want)
		}
	}
}
