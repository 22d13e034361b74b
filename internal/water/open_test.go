package water

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/tide"
	"soakline/internal/visits"
)

func day(h float64) time.Time {
	return time.Date(2026, 5, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(h * float64(time.Hour)))
}

// depthAt is an invented tide over a sensor, metres: 3 m, M2 of 1 m and K1 of 0.3 m.
func depthAt(h float64) float64 {
	return 3 + math.Cos(2*math.Pi*h/12.4206012) + 0.3*math.Cos(2*math.Pi*h/23.93447213)
}

// airAt is an invented pressure of the air, hPa: a low that passes every 12.42 h, so
// that what is not taken off would stand in M2.
func airAt(h float64) float64 { return 1013 + 15*math.Cos(2*math.Pi*h/12.4206012) }

// hPaOf is what a sensor under a depth measures: air and ρ g depth, 1 hPa = 100 Pa.
// Gravity at 45°: 9.80620 (WGS84, from memory 9.8062).
func hPaOf(h, density float64) float64 { return airAt(h) + density*9.80620*depthAt(h)/100 }

// pressureFile writes 30 days of hourly pressure; other is a further column.
func pressureFile(heading string, density float64, other func(h float64) string) []byte {
	var b strings.Builder
	b.WriteString("time (UTC),pressure_hPa" + heading + "\n")
	for h := 0.0; h < 30*24; h++ {
		fmt.Fprintf(&b, "%s,%.4f%s\n", day(h).Format("2006-01-02T15:04"), hPaOf(h, density), other(h))
	}
	return []byte(b.String())
}

func none(float64) string { return "" }

// worstOff is how far the opened tide is at most from that over the sensor, metres.
func worstOff(o *Opened) float64 {
	off := 0.0
	for h := 24.0; h < 28*24; h += 7.3 {
		x, ok := visits.HeightAt(o.Source, day(h))
		if !ok {
			return math.Inf(1)
		}
		off = math.Max(off, math.Abs(x-depthAt(h)))
	}
	return off
}

// A series of pressure becomes depth by the air in a file of its own, in a column
// beside it, or by the stated density; a constant leaves the air's changes in: 15 hPa
// are 15·100/(1025·9.8062) = 0.149 m. Without any of them it is refused.
func TestPressureOfASite(t *testing.T) {
	var air strings.Builder
	air.WriteString("time (UTC),air_pressure_hPa\n")
	for h := -1.0; h < 30*24+2; h++ {
		fmt.Fprintf(&air, "%s,%.4f\n", day(h).Format("2006-01-02T15:04"), airAt(h))
	}
	plain := pressureFile("", 1025, none)
	for _, c := range []struct {
		name   string
		tide   assay.Tide
		data   []byte
		air    string
		lo, hi float64
	}{
		{"a file", assay.Tide{Air: "baro.csv"}, plain, air.String(), 0, 2e-3},
		{"a column", assay.Tide{}, pressureFile(",baro_hPa", 1025, func(h float64) string { return fmt.Sprintf(",%.4f", airAt(h)) }), "", 0, 2e-3},
		{"a constant", assay.Tide{Air: "1013"}, plain, "", 0.14, 0.16},
		{"fresh water as it is", assay.Tide{Air: "baro.csv", DensityKgM3: 1000}, pressureFile("", 1000, none), air.String(), 0, 2e-3},
		// 25 kg/m³ too little of 1025: depths of up to 4.3 m come out 2.4 % short.
		{"fresh water taken for sea", assay.Tide{Air: "baro.csv"}, pressureFile("", 1000, none), air.String(), 0.08, 0.11},
	} {
		c.tide.Kind, c.tide.File = assay.Series, "p.csv"
		o, err := Open(c.tide, c.data, []byte(c.air), 45)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if off := worstOff(o); off < c.lo || off > c.hi {
			t.Errorf("%s: off by %.4f m, want %g to %g", c.name, off, c.lo, c.hi)
		}
	}
	var r *tide.Refusal
	if _, err := Open(assay.Tide{Kind: assay.Series, File: "p.csv"}, plain, nil, 45); !errors.As(err, &r) || r.Slug != "tide.needs-air" {
		t.Errorf("absolute pressure without the air's gave %v", err)
	}
	if _, err := Open(assay.Tide{Kind: assay.Series, File: "p.csv", Air: "baro.csv"}, plain, []byte("time,air_pressure_hPa\n2026-05-01T00:00,1013\n"), 45); !errors.As(err, &r) || r.Slug != "tide.air-clock" {
		t.Errorf("air without a clock gave %v", err)
	}
}

// Differences bring a table to a secondary place. By hand: high 3.0 at 06:00 becomes
// 3.0 × 0.9 + 0.2 = 2.9 at 06:20; low 1.0 at 12:00 becomes 1.0 × 0.8 − 0.1 = 0.7 at
// 11:50; half way between, at 09:05, the half cosine is at their mean, 1.8.
func TestSecondaryPlaceOfASite(t *testing.T) {
	data := []byte("at,height_m\n2026-05-01T00:00Z,1\n2026-05-01T06:00Z,3\n2026-05-01T12:00Z,1\n2026-05-01T18:00Z,3\n")
	tt := assay.Tide{Kind: assay.Waters, File: "port.csv", Differences: assay.TideDifferences{HighLaterMin: 20, LowLaterMin: -10, HighTimes: 0.9, HighAddM: 0.2, LowTimes: 0.8, LowAddM: -0.1}}
	o, err := Open(tt, data, nil, math.NaN())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ h, want float64 }{{6 + 20.0/60, 2.9}, {11 + 50.0/60, 0.7}, {9 + 5.0/60, 1.8}} {
		if got := heightAt(t, o, day(c.h)); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("at %g h the water is at %g, want %g", c.h, got, c.want)
		}
	}
	said := ""
	for _, m := range o.Messages {
		said += m.Slug + " "
	}
	if !strings.Contains(said, "tide.secondary") || !strings.Contains(said, "tide.half-cosine") {
		t.Errorf("said: %s", said)
	}
	tt.Differences = assay.TideDifferences{HighLaterMin: 400}
	var r *tide.Refusal
	if _, err := Open(tt, data, nil, math.NaN()); !errors.As(err, &r) || r.Slug != "tide.table-shifted" {
		t.Errorf("a high water after the next low gave %v", err)
	}
}

func heightAt(t *testing.T, o *Opened, at time.Time) float64 {
	t.Helper()
	x, ok := visits.HeightAt(o.Source, at)
	if !ok {
		t.Fatalf("no height at %v", at)
	}
	return x
}

// Loggers' exports: each form is one that a program of a logger writes; invented
// values. The instants were written out by hand.
func TestLoggersExports(t *testing.T) {
	utc := func(s string) time.Time {
		x, err := time.Parse(time.RFC3339, s)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, c := range []struct {
		name, data, clock string
		first             time.Time
		level             float64
	}{
		{"ISO with an offset", "at,level_m\n2026-07-01T09:30+02:00,1.5\n2026-07-01T10:30+02:00,1.6\n", "", utc("2026-07-01T07:30:00Z"), 1.5},
		{"a clock in the heading", "Date Time (GMT-05:00),Water Level (ft)\n2026-07-01 09:30:00,10\n2026-07-01 10:30:00,11\n", "", utc("2026-07-01T14:30:00Z"), 3.048},
		{"month first, twelve hours", "Date and Time,Depth (cm)\n7/13/26 09:30:00 PM,150\n7/14/26 12:30:00 AM,160\n", "UTC", utc("2026-07-13T21:30:00Z"), 1.5},
		{"day first, semicolons, decimal comma", "Fecha;Hora;Depth (m)\n13/07/2026;21:30;1,5\n14/07/2026;00:30;1,6\n", "Europe/Madrid", utc("2026-07-13T19:30:00Z"), 1.5},
		{"lines of the logger above the heading", "Logger 12345 (invented)\nSite: dock\n\nat,level_m\n2026-07-01T09:30Z,1.5\n2026-07-01T10:30Z,1.6\n", "", utc("2026-07-01T09:30:00Z"), 1.5},
	} {
		clock, err := clockOf(c.clock)
		if err != nil {
			t.Fatal(err)
		}
		s, _, err := Series("logger.csv", []byte(c.data), Reading{Clock: clock, LatitudeDeg: math.NaN()})
		if err != nil {
			t.Errorf("%s: %v", c.name, tell(err))
			continue
		}
		if len(s) != 2 || !s[0].At.Equal(c.first) || math.Abs(s[0].LevelM-c.level) > 1e-12 {
			t.Errorf("%s gave %v, want %v at %v", c.name, s, c.level, c.first)
		}
	}
}

// tell spells out a file's faults.
func tell(err error) string {
	var f *Faulty
	if !errors.As(err, &f) {
		return err.Error()
	}
	s := ""
	for _, x := range f.Faults {
		s += fmt.Sprintf("%+v; ", x)
	}
	return s
}

// Times that a clock skips, has twice, or that may be read two ways are faults or
// refused, never guessed. Lisbon sets its clock on at 01:00 on 2026-03-29 and back at
// 02:00 on 2026-10-25.
func TestNoGuessedTimes(t *testing.T) {
	lisbon, err := clockOf("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	var f *Faulty
	for _, at := range []string{"2026-03-29T01:30", "2026-10-25T01:30"} {
		if _, _, err := Series("l.csv", []byte("at,level_m\n"+at+",1\n"), Reading{Clock: lisbon, LatitudeDeg: math.NaN()}); !errors.As(err, &f) || f.Faults[0].Wrong.Slug != "tide.clock-change" {
			t.Errorf("%s gave %v", at, err)
		}
	}
	var r *tide.Refusal
	if _, _, err := Series("l.csv", []byte("at,level_m\n03/04/2026 10:00,1\n"), Reading{Clock: lisbon, LatitudeDeg: math.NaN()}); !errors.As(err, &r) || r.Slug != "tide.date-order" {
		t.Errorf("a date that may be of March or April gave %v", err)
	}
	if _, _, err := Waters("w.csv", []byte("at,height_m\n2026-07-01T00:00,1\n2026-07-01T06:00,2\n"), nil); !errors.As(err, &r) || r.Slug != "tide.table-needs-clock" {
		t.Errorf("a table without a clock gave %v", err)
	}
	if _, err := OpenLogger(assay.Logger{File: "t.csv"}, []byte("at,temperature_c\n2026-07-01T00:00,18\n")); !errors.As(err, &r) || r.Slug != "tide.logger-clock" {
		t.Errorf("a logger without a clock gave %v", err)
	}
}

// A logger over a soak: 17, 18 and 20 °C give a mean of 55/3; the longest stretch
// without a value is from 11:00 to 16:00. Fahrenheit: 68 °F are 20 °C.
func TestLoggerOverASoak(t *testing.T) {
	l, err := OpenLogger(assay.Logger{File: "t.csv", Clock: "UTC+1"}, []byte("time,temp (°F),salinity\n2026-05-01T11:00,62.6,35\n2026-05-01T12:00,64.4,\n2026-05-01T17:00,68,36\n2026-05-01T23:00,50,30\n"))
	if err != nil {
		t.Fatal(tell(err))
	}
	s, ok := l.Over(l.TemperatureC, day(10), day(17))
	if !ok || s.N != 3 || math.Abs(s.Mean-55.0/3) > 1e-9 || math.Abs(s.Min-17) > 1e-9 || math.Abs(s.Max-20) > 1e-9 || math.Abs(s.GapH-5) > 1e-9 || !s.MinAt.Equal(day(10)) {
		t.Errorf("temperature %+v %v", s, ok)
	}
	if s, ok = l.Over(l.Salinity, day(10), day(17)); !ok || s.N != 2 || s.Mean != 35.5 || s.GapH != 6 {
		t.Errorf("salinity %+v %v", s, ok)
	}
	if _, ok = l.Over(l.LevelM, day(10), day(17)); ok {
		t.Error("a level that is not there has a mean")
	}
	if _, ok = l.Over(l.TemperatureC, day(30), day(31)); ok {
		t.Error("a stretch without values has a mean")
	}
}
