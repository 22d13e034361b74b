package place

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestUTMAgainstGeoConvert: GeographicLib 2.1.2, testdata/utm/make.sh, both
// ways, with the wide zones of Norway and Svalbard; and its grid references.
func TestUTMAgainstGeoConvert(t *testing.T) {
	f, err := os.Open("testdata/utm/utm.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil || len(lines) < 100 {
		t.Fatal(len(lines), err)
	}
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	worst, worstBack := 0.0, 0.0
	for _, l := range lines[1:] {
		lat, lon := num(l[0]), num(l[1])
		u, err := ToUTM(lat, lon)
		if err != nil {
			t.Fatal(err)
		}
		zone, _ := strconv.Atoi(strings.TrimRight(l[2], "ns"))
		south := strings.HasSuffix(l[2], "s")
		d := math.Hypot(u.EastingM-num(l[3]), u.NorthingM-num(l[4]))
		worst = math.Max(worst, d)
		if u.Zone != zone || u.South != south || !(d < 20e-9) {
			t.Errorf("(%v, %v): %+v; GeoConvert: %v", lat, lon, u, l[2:5])
		}
		bLat, bLon := UTM{zone, south, num(l[3]), num(l[4])}.Position()
		gap, _, _ := Between(lat, lon, bLat, bLon)
		worstBack = math.Max(worstBack, gap)
		if !(gap < 20e-9) {
			t.Errorf("%v back: (%v, %v), %v m from (%v, %v)", l[2:5], bLat, bLon, gap, lat, lon)
		}
		if m, err := ToMGRS(lat, lon, 5); err != nil || m != l[5] {
			t.Errorf("(%v, %v): %s, %v; GeoConvert: %s", lat, lon, m, err, l[5])
		}
	}
	t.Logf("worst %.2g m, back %.2g m", worst, worstBack)
}

func TestUTMRefuses(t *testing.T) {
	for _, c := range [][2]float64{{84.1, 0}, {-80.1, 0}, {math.NaN(), 0}, {0, math.Inf(1)}} {
		if _, err := ToUTM(c[0], c[1]); err == nil {
			t.Errorf("%v has a UTM position", c)
		}
		if _, err := ToMGRS(c[0], c[1], 5); err == nil {
			t.Errorf("%v has a grid reference", c)
		}
	}
	if _, err := ToMGRS(0, 0, 6); err == nil {
		t.Error("six digits were taken")
	}
	for _, u := range []UTM{{0, false, 5e5, 0}, {61, false, 5e5, 0}, {1, false, math.NaN(), 0}, {1, true, 5e5, math.Inf(1)}} {
		if lat, _ := u.Position(); !math.IsNaN(lat) {
			t.Errorf("%+v is at %v", u, lat)
		}
	}
}

// TestMGRSRoundTrip: the square that a reference names holds the position, and
// is one metre wide.
func TestMGRSRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat, lon := rapid.Float64Range(-79.9, 83.9).Draw(t, "lat"), rapid.Float64Range(-180, 179.9).Draw(t, "lon")
		ref, err := ToMGRS(lat, lon, 5)
		if err != nil {
			t.Fatal(err)
		}
		zone, _ := strconv.Atoi(ref[:2])
		e, _ := strconv.ParseFloat(ref[5:10], 64)
		n, _ := strconv.ParseFloat(ref[10:], 64)
		got, ok := fromMGRS(zone, ref[2], ref[3], ref[4], e, n)
		u, _ := ToUTM(lat, lon)
		if !ok || got.South != u.South || u.EastingM-got.EastingM < -1e-6 || u.EastingM-got.EastingM > 1+1e-6 || u.NorthingM-got.NorthingM < -1e-6 || u.NorthingM-got.NorthingM > 1+1e-6 {
			t.Fatalf("%s: %+v; the position is at %+v", ref, got, u)
		}
	})
}
