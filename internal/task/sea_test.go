package task

import (
	"context"
	"math"
	"path/filepath"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/logbook"
)

const seaSheet = `deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1,check2_at,consumed_by_check2,lost_by_check2,depth_min_m,depth_max_m,depth_at,observers
D1,spit,sand,36.9512,-8.2034,2026-07-01T09:00Z,25,2026-07-01T10:00Z,9,0,2026-07-02T09:00Z,14,0,,,,A
D2,spit,reef,36.9522,-8.2044,2026-07-01T11:00Z,25,2026-07-01T12:00Z,3,0,2026-07-02T11:00Z,5,0,0.5,0.6,datum,A
D3,spit,reef,36.9522,-8.2044,2026-07-03T10:00Z,25,2026-07-03T11:00Z,4,0,2026-07-03T12:00Z,5,0,1.5,1.6,2026-07-03T10:00Z,A
D4,elsewhere,sand,36.9522,-8.2044,2026-07-01T22:00Z,25,2026-07-01T23:00Z,2,0,2026-07-02T22:00Z,5,0,,,,A
`

// seaSeason is a logbook whose site has an invented cosine tide, h = 2 + cos(30° t)
// with high water at 00 and 12 h, a bed at 1.2 m, and a logger.
func seaSeason(t *testing.T) *logbook.Book {
	t.Helper()
	ctx := context.Background()
	by := By{Who: "Ana Ejemplo", When: time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC)}
	book, err := New(ctx, filepath.Join(t.TempDir(), "sea.logbook"), Settings{Zone: "Europe/Lisbon"}, "test", by)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	if _, err := Import(ctx, book, []File{{Name: "sea.csv", Data: []byte(seaSheet)}}, ImportOptions{By: by, Yes: true}); err != nil {
		t.Fatal(err)
	}
	logger := "at,temperature_c,salinity\n2026-07-01T09:30Z,20,36\n2026-07-01T10:30Z,22,35\n2026-07-01T20:30Z,24,34\n2026-07-02T08:30Z,18,35\n2026-07-10T00:00Z,5,5\n"
	_, err = ChangeSite(ctx, book, "spit", func(s *assay.Site) error {
		s.Latitude, s.Longitude, s.ShallowBedM = assay.Some(36.95), assay.Some(-8.2), assay.Some(1.2)
		return nil
	}, by,
		SiteFile{File: File{"cosine.csv", []byte("name,amplitude_m,phase_deg\nZ0,2,0\nS2,1,0\n")}, Tide: &assay.Tide{Kind: assay.Constituents}},
		SiteFile{File: File{"tl.csv", []byte(logger)}, Logger: &assay.Logger{}})
	if err != nil {
		t.Fatal(err)
	}
	return book
}

// By hand. D1 set out at 09:00: h = 2 + cos 270° = 2 m, three hours before the high
// of 12:00; its soak holds the low of 1 m at 18:00, first of them, 0.2 m under the
// bed of 1.2 m. D2's bed is at −0.5 m by its own depth: never dry. D3 was 1.5 m
// deep at 10:00, where h = 2 + cos 300° = 2.5 m: a bed at 1.0 m; over its two hours
// the water stands at 2.5 m and higher. Logger over D1's soak (09:00 to 09:00 a day
// later): 20, 22, 24, 18 °C, mean 21; salinity 36, 35, 34, 35, mean 35; the longest
// time without a value is 20:30 to 08:30, 12 h. D3's soak holds none.
func TestSeaByHand(t *testing.T) {
	ctx := context.Background()
	s, err := Of(ctx, seaSeason(t), time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	s.DeriveLight()
	near := func(what string, m map[string]float64, name string, want, within float64) {
		t.Helper()
		if got, ok := m[name]; !ok || math.Abs(got-want) > within {
			t.Errorf("%s: %s is %.4f (%v), by hand %.4f", what, name, got, ok, want)
		}
	}
	d1 := s.Deployments[0]
	near("D1", d1.Derived, "tide_height_m", 2, 1e-3)
	near("D1", d1.Derived, "tide_from_high_h", -3, 0.01)
	near("D1", d1.Derived, "tide_range_m", 2, 1e-3)
	near("D1", d1.Derived, "tide_lowest_m", 1, 1e-3)
	near("D1", d1.Derived, "logger_temperature_c", 21, 1e-9)
	near("D1", d1.Derived, "logger_temperature_min_c", 18, 0)
	near("D1", d1.Derived, "logger_temperature_max_c", 24, 0)
	near("D1", d1.Derived, "logger_salinity", 35, 1e-9)
	near("D1", d1.Derived, "logger_gap_h", 12, 1e-9)
	near("D1, check 1", d1.Checks[0].Derived, "tide_from_high_h", -2, 0.01)
	near("D1, check 1", d1.Checks[0].Derived, "dark_share", 0, 0)
	// Civil dusk at 21:34 and dawn at 05:46 WEST (from memory, to 5 min): 8.2 h of 24.
	near("D1", d1.Derived, "dark_share", 8.2/24, 0.01)
	// Full moon on 29 June 2026 at 23:57 UTC (from memory): lit by more than 95 % at 1.4 days.
	near("D1", d1.Derived, "moon_share", 0.98, 0.03)
	if _, ok := s.Deployments[2].Derived["logger_temperature_c"]; ok {
		t.Error("D3: a mean of no value")
	}
	if _, ok := s.Deployments[3].Derived["tide_height_m"]; ok {
		t.Error("D4: a tide for a site without one")
	}
	said := map[string]string{}
	for _, f := range s.Findings {
		if f.Slug == "predicted-dry" || f.Slug == "logger-gap" || f.Slug == "visit-in-dark" {
			said[f.DeploymentID+" "+f.Slug] = f.Field
		}
	}
	for _, want := range []string{"D1 predicted-dry", "D1 logger-gap", "D2 logger-gap", "D3 logger-gap", "D4 visit-in-dark"} {
		if _, ok := said[want]; !ok {
			t.Errorf("%s is not said: %v", want, said)
		}
	}
	if _, ok := said["D2 predicted-dry"]; ok || len(said) != 5 {
		t.Errorf("said too much: %v", said)
	}
}

// What was worked out is no part of the record, and a comparison may ask for it.
func TestDerivedIsNoPartOfTheRecord(t *testing.T) {
	ctx := context.Background()
	s, err := Of(ctx, seaSeason(t), time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	before := s.Hash()
	k, err := s.Compare(ctx, compare.Options{By: "habitat", Covariates: []string{"dark_share"}, Random: []string{}, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if s.Hash() != before {
		t.Error("the hash of the records changed")
	}
	found := false
	for _, f := range k.Fixed {
		found = found || f.Term == "dark_share"
	}
	if !found {
		t.Errorf("no term dark_share in %v", k.Fixed)
	}
	if _, err := s.Compare(ctx, compare.Options{By: "habitat", Covariates: []string{"frogs"}, Random: []string{}, Seed: 1}); err == nil {
		t.Error("a covariate that nobody knows")
	}
	tables := s.Conditions()
	if len(tables) != 2 || tables[0].Name != "conditions" || len(tables[0].Lines) != 4 || len(tables[1].Lines) != 8 {
		t.Errorf("%d tables", len(tables))
	}
}
