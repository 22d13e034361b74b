package sun

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// lines reads a table of testdata without its heading.
func lines(t testing.TB, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return all[1:]
}

func num(t testing.TB, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func at(t testing.TB, s string) time.Time {
	t.Helper()
	x, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// TestAlmanac: the U.S. Naval Observatory's tables of 2020 (public domain, see
// testdata/SOURCE.md), printed to the minute: every type of day, and every time
// within 60 s.
func TestAlmanac(t *testing.T) {
	worst, times, types := 0.0, 0, 0
	for _, l := range lines(t, "usno_2020.csv") {
		date := at(t, l[1]+"T00:00:00Z")
		d, err := OfDay(num(t, l[2]), num(t, l[3]), date.Year(), date.Month(), date.Day(), time.UTC)
		if err != nil {
			t.Fatal(err)
		}
		up, down, state := d.Sunrise, d.Sunset, d.Sun
		want := map[string]State{"NORMAL": Changes, "ALL_DAY": Up, "ALL_NIGHT": Down}
		if l[0] == "civil" {
			up, down, state = d.CivilDawn, d.CivilDusk, d.Civil
			want = map[string]State{"NORMAL": Changes, "ALL_DAY": Bright, "ALL_NIGHT": Dark}
		}
		types++
		if state != want[l[4]] {
			t.Errorf("%v: %s", l, state)
		}
		for i, got := range [][]time.Time{up, down} {
			if l[5+i] == "" {
				if len(got) != 0 {
					t.Errorf("%v: %v, which the almanac does not have", l, got)
				}
				continue
			}
			printed := at(t, l[1]+"T"+l[5+i]+":00Z")
			nearest := math.Inf(1)
			for _, g := range got {
				nearest = math.Min(nearest, math.Abs(g.Sub(printed).Seconds()))
			}
			times++
			worst = math.Max(worst, nearest)
			if nearest > 60 {
				t.Errorf("%v: %v, off by %.0f s", l, got, nearest)
			}
		}
	}
	if types != 360 || times != 622 {
		t.Errorf("%d days with %d times; the table has 360 with 622", types, times)
	}
	t.Logf("%d types, %d times, worst %.0f s (30 s are the table's rounding)", types, times, worst)
}

// TestAltitudeAgainstLibastro: 400 random positions and instants of 2017 to
// 2049, by PyEphem 4.1.4 (testdata/reference.py).
func TestAltitudeAgainstLibastro(t *testing.T) {
	worst := 0.0
	for _, l := range lines(t, "altitude.csv") {
		got := AltitudeDeg(num(t, l[0]), num(t, l[1]), at(t, l[2]))
		off := math.Abs(got - num(t, l[3]))
		worst = math.Max(worst, off)
		if off > 0.006 {
			t.Errorf("%v: altitude %.5f", l, got)
		}
	}
	t.Logf("worst %.4f degrees", worst)
}

// TestEventsAgainstLibastro: passages through −50′ and −6° at twenty latitudes
// from pole to pole, and day by day where the sun grazes, by PyEphem 4.1.4
// (testdata/reference.py). The same events in the same order, within 10 s where
// the altitude changes by more than 0.05° a minute, else within the time that
// 0.01° takes.
func TestEventsAgainstLibastro(t *testing.T) {
	worst, grazingWorst, n, doubles := 0.0, 0.0, 0, 0
	for _, l := range lines(t, "events.csv") {
		day := at(t, l[2]+"T00:00:00Z")
		threshold := horizonDeg
		if l[3] == "-6" {
			threshold = civilDeg
		}
		span := Span{day, day.Add(24 * time.Hour)}
		up, down, _ := passages(placeAt(num(t, l[0]), num(t, l[1])), threshold, []Span{span})
		var wantUp, wantDown []time.Time
		var rates []float64
		for _, e := range strings.Fields(l[4]) {
			p := strings.Split(e, "/")
			rates = append(rates, num(t, p[2]))
			if p[1] == "up" {
				wantUp = append(wantUp, at(t, p[0]))
			} else {
				wantDown = append(wantDown, at(t, p[0]))
			}
		}
		if len(up) != len(wantUp) || len(down) != len(wantDown) {
			t.Errorf("%v: up %v down %v", l, up, down)
			continue
		}
		if len(up) > 1 || len(down) > 1 {
			doubles++
		}
		lowest := math.Inf(1)
		for _, r := range rates {
			lowest = math.Min(lowest, r)
		}
		for i, g := range append(append([]time.Time{}, up...), down...) {
			w := append(append([]time.Time{}, wantUp...), wantDown...)[i]
			off := math.Abs(g.Sub(w).Seconds())
			n++
			if lowest > 0.05 {
				worst = math.Max(worst, off)
				if off > 10 {
					t.Errorf("%v: %s off by %.1f s", l, g, off)
				}
				continue
			}
			grazingWorst = math.Max(grazingWorst, off)
			alt := AltitudeDeg(num(t, l[0]), num(t, l[1]), w) - threshold
			if math.Abs(alt) > 0.01 {
				t.Errorf("%v: %s, altitude off by %.4f", l, g, alt)
			}
		}
	}
	if n < 1000 || doubles < 1 {
		t.Errorf("only %d events, %d days with two of a kind", n, doubles)
	}
	t.Logf("%d events, worst %.1f s; grazing worst %.1f s (within 0.01 degrees); %d days with two of a kind", n, worst, grazingWorst, doubles)
}

// TestMoonAgainstLibastro: 300 random instants of 2017 to 2049 by PyEphem 4.1.4;
// and apparent longitude, latitude and distance by PyMeeus 0.5.11, another
// implementation of chapter 47 (testdata/reference.py).
func TestMoonAgainstLibastro(t *testing.T) {
	worst := [5]float64{}
	for _, l := range lines(t, "moon.csv") {
		m := MoonAt(at(t, l[0]))
		lon, lat, km := moonAt(seconds(at(t, l[0])) / century) // the clock read as dynamical time
		off := [5]float64{
			math.Abs(m.IlluminatedFraction - num(t, l[1])), math.Abs(math.Remainder(m.ElongationDeg-num(t, l[2]), 360)),
			math.Abs(math.Remainder(lon-num(t, l[3]), 360)), math.Abs(lat - num(t, l[4])), math.Abs(km - num(t, l[5])),
		}
		for i, allowed := range []float64{0.0002, 0.008, 0.0002, 0.005, 1} {
			worst[i] = math.Max(worst[i], off[i])
			if off[i] > allowed {
				t.Errorf("%v: %+v, %.6f %.6f %.1f; value %d off by %g", l, m, lon, lat, km, i, off[i])
			}
		}
	}
	t.Logf("worst: fraction %.5f, elongation %.4f°; longitude %.6f°, latitude %.6f°, distance %.1f km", worst[0], worst[1], worst[2], worst[3], worst[4])
}

// TestPhasesAgainstLibastro: every phase of 2018 to 2035 by PyEphem 4.1.4, with
// its ΔT taken off, within 20 s; and by PyMeeus 0.5.11, another implementation
// of chapter 49, within 2 s (it is given to the second).
func TestPhasesAgainstLibastro(t *testing.T) {
	worst, worstMeeus, n := 0.0, 0.0, 0
	for _, l := range lines(t, "phases.csv") {
		want := at(t, l[1]).Add(-69184 * time.Millisecond)
		var got time.Time
		for _, p := range NextPhases(want.Add(-24 * time.Hour)) {
			if string(p.Phase) == l[0] {
				got = p.At
			}
		}
		n++
		off := math.Abs(got.Sub(want).Seconds())
		worst = math.Max(worst, off)
		if off > 20 {
			t.Errorf("%v: %s, off by %.1f s", l, got, off)
		}
		offMeeus := math.Abs(got.Add(69184 * time.Millisecond).Sub(at(t, l[2])).Seconds())
		worstMeeus = math.Max(worstMeeus, offMeeus)
		if offMeeus > 2 {
			t.Errorf("%v: %s, off by %.1f s from PyMeeus", l, got, offMeeus)
		}
	}
	if n < 880 {
		t.Errorf("only %d phases", n)
	}
	t.Logf("%d phases, worst %.1f s, PyMeeus %.1f s", n, worst, worstMeeus)
}
