package quality

import (
	"math"
	"testing"
	"time"

	"soakline/internal/assay"
)

// known is a sea that says the same of every row.
func known(x Sea) func(*assay.Deployment) *Sea { return func(*assay.Deployment) *Sea { return &x } }

func waterExamples() []example {
	lisbon := time.FixedZone("WEST", 3600)
	dry := &DryBed{At: time.Date(2026, 7, 2, 3, 12, 0, 0, time.UTC), Zone: lisbon, HeightM: -0.58, BedM: -0.4, BedFrom: BedSite}
	// Sand in the morning from 09:00 on, reef in the afternoon from 15:00 on: ten rows
	// of another day each, five and five, apart by lot in 2 of C(10, 5) = 252 orders.
	habitats := func(reefAt time.Duration, reef int) func(*season) {
		return func(s *season) {
			s.add(4 + reef)
			for i := 5; i < len(s.deps); i++ {
				d := &s.deps[i]
				d.Habitat = "reef"
				d.SetOut, d.SetOutUntil = later(d.SetOut, reefAt), later(d.SetOutUntil, reefAt)
			}
		}
	}
	return []example{
		{"predicted-dry", "deployed_at", "dry at 2026-07-02 04:12 WEST: water at −0.58 m, bed at −0.40 m (the site book), 0.18 m too low",
			func(s *season) { s.ctx.Sea = known(Sea{Dry: dry}) }, func(s *season) { s.ctx.Sea = known(Sea{}) }},
		{"logger-dry", "deployed_at", "by the logger of the site",
			func(s *season) { s.ctx.Sea = known(Sea{LoggerDry: dry}) }, func(s *season) { s.ctx.Sea = known(Sea{Dry: dry}) }},
		// At 22:30 the sun stands 16° below, by hand in TestDarkByHand.
		{"visit-in-dark", "check1_at", "check 1 at 22:30 was in the dark, the sun 16° below",
			func(s *season) { s.check(1).At = at("2026-07-01T22:30+01:00") }, func(s *season) { s.check(1).At = at("2026-07-01T21:20+01:00") }},
		{"logger-gap", "deployed_at", "tl-3.csv holds no value for 7.5 of the 24.1 h",
			func(s *season) {
				s.ctx.Sea = known(Sea{LoggerGap: &LoggerGap{GapH: 7.5, SoakH: 24.1, File: "tl-3.csv"}})
			},
			func(s *season) {
				s.ctx.Sea = known(Sea{LoggerGap: &LoggerGap{GapH: 5.9, SoakH: 24.1, File: "tl-3.csv"}})
			}},
		{"state-with-habitat", "habitat", "every row in sand was set out at another state than those in reef (height of the sun)",
			habitats(3*time.Hour, 5), habitats(3*time.Hour, 3)},
	}
}

// The sun at the row by hand: declination +23.1° and equation of time −3.9 min on
// 1 July (from memory). 22:30 WEST is 21:30 UTC, at 8.2034° W solar time 20:53:17, so
// the hour angle is 133.3°; sin h = sin 36.95° sin 23.1° + cos 36.95° cos 23.1° cos
// 133.3° = 0.2358 − 0.5042 = −0.268, h = −15.6°.
func TestDarkByHand(t *testing.T) {
	const deg = math.Pi / 180
	minutes := 21.5*60 - 8.2034*4 - 3.9
	hour := (minutes/60 - 12) * 15 * deg
	want := math.Asin(math.Sin(36.9512*deg)*math.Sin(23.1*deg)+math.Cos(36.9512*deg)*math.Cos(23.1*deg)*math.Cos(hour)) / deg
	s := newSeason()
	j := &judging{ctx: s.ctx, sites: newSiteNames(nil)}
	r := &row{d: s.d(), j: j}
	got, ok := r.sunAt(at("2026-07-01T22:30+01:00").At)
	if !ok || math.Abs(got-want) > 0.1 {
		t.Errorf("sun at %.2f°, by hand %.2f°", got, want)
	}
}

// Two against two rows are apart by lot in 2 of 6 orders: never told. The states
// come from what was worked out for a row as well as from the sun.
func TestStateWithHabitatByTide(t *testing.T) {
	s := newSeason()
	s.add(9)
	for i := range s.deps {
		d := &s.deps[i]
		d.Derived = map[string]float64{"tide_from_high_h": float64(i)}
		if i > 4 {
			d.Habitat = "reef"
		}
	}
	hits := of("state-with-habitat", Judge(s.deps, s.ctx))
	if len(hits) != 1 || hits[0].With["names"].([]string)[0] != "tide_from_high_h" {
		t.Fatalf("five and five rows apart in the tide: %v", hits)
	}
	s.deps[9].Derived["tide_from_high_h"] = 2 // lies among the others
	if hits := of("state-with-habitat", Judge(s.deps, s.ctx)); len(hits) != 0 {
		t.Errorf("rows that mix: %v", hits)
	}
	s.deps[9].Derived["tide_from_high_h"] = 9
	for i := range s.deps {
		s.deps[i].Practice = assay.Some(i == 9)
	}
	if hits := of("state-with-habitat", Judge(s.deps, s.ctx)); len(hits) != 0 {
		t.Errorf("four rows and five, 2 in 126, is 1.6 %%: %v", hits)
	}
}
