package place

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"
)

// TestZoneAgainstPackage: the package's own answers, testdata/zones/make.sh.
func TestZoneAgainstPackage(t *testing.T) {
	f, err := os.Open("testdata/zones/lookup.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil || len(lines) != 412 {
		t.Fatal(len(lines), err)
	}
	for _, l := range lines[1:] {
		lat, _ := strconv.ParseFloat(l[0], 64)
		lon, _ := strconv.ParseFloat(l[1], 64)
		if lat == 90 {
			continue // the package has a rule of its own for the pole
		}
		if got := zoneMap().at(lat, lon); got != l[2] {
			t.Errorf("(%v, %v): %s; the package says %s", lat, lon, got, l[2])
		}
	}
}

// TestZoneNames: every name of the map is one Go knows.
func TestZoneNames(t *testing.T) {
	m := zoneMap()
	if len(m.names) != 436 {
		t.Fatal(len(m.names), "names")
	}
	for _, n := range m.names {
		if _, err := time.LoadLocation(n); err != nil {
			t.Error(err)
		}
	}
}

// TestZoneProposals: the first is the zone anybody there would say (common
// knowledge), doubt lists the neighbour across a border, and a reef offshore
// gets the land's zone, never only a clock by longitude.
func TestZoneProposals(t *testing.T) {
	for _, c := range []struct {
		name     string
		lat, lon float64
		first    string
		also     string
	}{
		{"Algarve", 36.9512, -8.2034, "Europe/Lisbon", ""},
		{"mouth of the Guadiana", 37.19, -7.41, "", "Europe/Madrid"},
		{"mouth of the Guadiana", 37.19, -7.41, "", "Europe/Lisbon"},
		{"Sydney", -33.85, 151.2, "Australia/Sydney", ""},
		{"bank 330 km off Portugal", 37, -13, "Europe/Lisbon", "Etc/GMT+1"},
		{"reef off Queensland", -17.6, 149.9, "Australia/Brisbane", ""},
		{"Gold Coast, by New South Wales", -28.1, 153.45, "Australia/Brisbane", "Australia/Sydney"},
		{"Fiji, longitude as 182", -16.8, 182, "Pacific/Fiji", ""},
		{"middle of the South Pacific", -40, -125, "Etc/GMT+8", ""},
	} {
		got := ZoneProposals(c.lat, c.lon)
		if len(got) == 0 || (c.first != "" && got[0].Name != c.first) {
			t.Errorf("%s: %v", c.name, got)
			continue
		}
		found := c.also == ""
		for i, z := range got {
			found = found || z.Name == c.also
			if i > 1 && !z.Sea && z.DistanceKm < got[i-1].DistanceKm {
				t.Errorf("%s: not nearest first: %v", c.name, got)
			}
		}
		if !found {
			t.Errorf("%s: no %s in %v", c.name, c.also, got)
		}
	}
	if ZoneProposals(math.NaN(), 0) != nil || ZoneProposals(95, 0) != nil {
		t.Error("what is no position has a zone")
	}
}

// TestZoneProposalsEverywhere: there is an answer at every position, and the
// square found by walking down holds what the search for neighbours finds.
func TestZoneProposalsEverywhere(t *testing.T) {
	m := zoneMap()
	for lat := -90.0; lat <= 90; lat += 7.3 {
		for lon := -180.0; lon <= 180; lon += 5.9 {
			name := m.at(lat, lon)
			if km, ok := m.near(lat, lon, 1)[name]; !ok || km > 1e-6 {
				t.Errorf("(%v, %v): %s stands %v km away (%v)", lat, lon, name, km, ok)
			}
			if len(ZoneProposals(lat, lon)) == 0 {
				t.Errorf("(%v, %v): no zone", lat, lon)
			}
		}
	}
}

func TestSameClock(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"Europe/Lisbon", "Europe/Madrid", false}, {"Europe/Madrid", "Europe/Paris", true},
		{"Australia/Brisbane", "Australia/Sydney", false}, // differ in southern summer only
		{"Etc/GMT-10", "Australia/Brisbane", true},
	} {
		if same, err := SameClock(c.a, c.b, 2026); err != nil || same != c.same {
			t.Errorf("%s and %s: %v %v", c.a, c.b, same, err)
		}
	}
	if _, err := SameClock("Nowhere/None", "UTC", 2026); err == nil {
		t.Error("a zone that is none was taken")
	}
}
