package quality

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/internal/assay"
	"soakline/internal/place"
)

// put moves row k of the season.
func (s *season) put(k int, lat, lon float64) {
	s.deps[k].Latitude, s.deps[k].Longitude = assay.Some(lat), assay.Some(lon)
}

func positionExamples() []example {
	none := assay.None[float64]()
	three := func(lat, lon float64) func(*season) {
		return func(s *season) { s.add(2); s.put(0, lat, lon) }
	}
	// At 36.95° north 0.001° of latitude are 111 m (a degree is 110.98 km there);
	// 25 stakes 2 m apart are 48 m, and 48 × 1.25 + 20 = 80 m are let pass.
	last := func(s *season, dLat, bearing float64) {
		s.d().LastLatitude, s.d().LastLongitude, s.d().RowBearingDeg = assay.Some(36.9512+dLat), assay.Some(-8.2034), assay.Some(bearing)
	}
	return []example{
		{"last-position-half", "last_longitude", "the other coordinate is",
			func(s *season) { s.d().LastLatitude = assay.Some(36.9512) }, func(s *season) { last(s, 0.0004, 0) }},
		{"last-position-far", "last_latitude", "is 111 m from stake 1, and the row is 48 m long",
			func(s *season) { last(s, 0.001, 0) }, func(s *season) { last(s, 0.0007, 0) }},
		{"last-position-unlike-bearing", "row_bearing_deg", "it is 0°, and the bearing written is 180°",
			func(s *season) { last(s, 0.0004, 180) }, func(s *season) { last(s, 0.0001, 180); s.d().Baits = 5 }},
		{"position-out-of-range", "latitude", "151.2 is outside −90 to 90 (with the two exchanged: -33.86, 151.2)",
			three(151.2, -33.86), three(90, 0)},
		{"position-missing", "longitude", "no longitude",
			func(s *season) { s.d().Longitude = none }, func(s *season) {}},
		{"position-zero", "latitude", "0, 0 lies in the open Gulf of Guinea",
			func(s *season) { s.put(0, 0, 0) }, func(s *season) { s.put(0, 0, -8.2034) }},
		{"position-sign", "longitude", "36.9512, -8.2034 would fit",
			three(36.9512, 8.2034), three(36.9512, -8.25)},
		{"position-swapped", "latitude", "36.9512, -8.2034 would fit",
			three(-8.2034, 36.9512), three(36.9512, -8.2034)},
		// A degree of latitude at 37° N is 110.97 km (from memory). The other
		// rows' middle is 36.9527: 0.0515° are 5.7 km, 0.0415° are 4.6 km.
		{"position-far-from-site", "latitude", "5.7 km from the 2 other rows of dock (asked above 5 km)",
			three(36.9012, -8.2034), three(36.9112, -8.2034)},
		// Madrid is some 300 km from any sea.
		{"position-on-land", "latitude", "km inland (asked above 5 km",
			func(s *season) { s.put(0, 40.4168, -3.7038) }, func(s *season) {}},
		// The middle of the North Atlantic.
		{"position-open-sea", "latitude", "km from any shore",
			func(s *season) { s.put(0, 45, -35) }, func(s *season) {}},
		{"position-decimals", "latitude", "written with 2 decimals, which is about 1110 m",
			func(s *season) { s.d().PositionDecimals = assay.Some(2) }, func(s *season) { s.d().PositionDecimals = assay.Some(4) }},
	}
}

func duplicateExamples() []example {
	two := func(change func(a, b *assay.Deployment)) func(*season) {
		return func(s *season) { s.add(1); change(&s.deps[0], &s.deps[1]) }
	}
	copied := func(a, b *assay.Deployment) { where := b.Where; *b = *a; b.ID, b.Where = "D2", where }
	return []example{
		{"identifier-twice", "deployment_id", "D1 stands 2 times in this programme, team, season and site, also as D1 (dock.csv line 3)",
			two(func(a, b *assay.Deployment) { b.ID = "D1" }), two(func(a, b *assay.Deployment) { b.ID, b.Team = "D1", "Limpet" })},
		{"same-row-twice", "deployment_id", "same site, times and counts as D2 (dock.csv line 3)",
			two(copied), two(func(a, b *assay.Deployment) {
				copied(a, b)
				b.Checks = []assay.Check{a.Checks[0], a.Checks[1]}
				b.Checks[1].Consumed = assay.Some(13)
			})},
		// 0.0002° of latitude is 22.2 m, 0.0003° is 33.3 m; asked within 25 m.
		{"near-in-place-and-time", "latitude", "22 m and 1.0 h from D2 (dock.csv line 3), in the same habitat",
			two(func(a, b *assay.Deployment) {
				b.SetOut, b.Latitude = later(a.SetOut, time.Hour), assay.Some(36.9514)
			}),
			two(func(a, b *assay.Deployment) {
				b.SetOut, b.Latitude = later(a.SetOut, time.Hour), assay.Some(36.9515)
			})},
	}
}

// A site on both sides of 180°: positions either side lie 2.2 km apart and are
// one place; the wrong sign there moves a row by little and is no finding.
func TestSiteAcrossDateLine(t *testing.T) {
	s := newSeason()
	s.add(3)
	for k, lon := range []float64{179.99, -179.99, 179.995, -179.995} {
		s.put(k, -16.8+0.001*float64(k), lon)
	}
	s.ctx.InlandKm = func(lat, lon float64) float64 { return -1 }
	for _, f := range Judge(s.deps, s.ctx) {
		if f.Slug != "visit-in-dark" { // nine in the morning of another meridian
			t.Errorf("%s: %v", f.Slug, f.With)
		}
	}
	s.put(3, -16.8, 170)
	if hits := of("position-far-from-site", Judge(s.deps, s.ctx)); len(hits) != 1 || hits[0].DeploymentID != "D4" {
		t.Errorf("a row 10° off: %v", hits)
	}
}

// The site list's position decides where it has one, also for a lone row.
func TestSiteListPosition(t *testing.T) {
	s := newSeason()
	s.put(0, 36.9512, 8.2034)
	s.d().Site = " The  DOCK"
	s.ctx.Sites = []assay.Site{{Name: "dock", Synonyms: []string{"the dock"}, Latitude: assay.Some(36.95), Longitude: assay.Some(-8.2)}}
	hits := of("position-sign", Judge(s.deps, s.ctx))
	if len(hits) != 1 || hits[0].With["mended"] != "36.9512, -8.2034" {
		t.Errorf("against the site list: %v", hits)
	}
}

// Alone at its site, a row is held against its team's rows, for a slip only.
func TestLoneRowAgainstTeam(t *testing.T) {
	s := newSeason()
	s.add(4)
	for k := range s.deps {
		s.deps[k].Site = s.deps[k].ID
		s.put(k, 37+0.1*float64(k), -8.2)
	}
	s.ctx.InlandKm = func(lat, lon float64) float64 { return -1 }
	if all := Judge(s.deps, s.ctx); len(all) != 0 {
		t.Errorf("rows of one team up a coast: %v", all)
	}
	s.put(0, 37, 8.2)
	if hits := of("position-sign", Judge(s.deps, s.ctx)); len(hits) != 1 || hits[0].DeploymentID != "D1" {
		t.Errorf("the wrong sign at a lone site: %v", hits)
	}
	s.put(0, 57, -8.2)
	if all := Judge(s.deps, s.ctx); len(all) != 0 {
		t.Errorf("a lone row far away is no slip: %v", all)
	}
}

// With two rows at a site the team's others tell which is out of place.
func TestTwoRowsAtSite(t *testing.T) {
	s := newSeason()
	s.add(4)
	for k := range s.deps {
		if k > 1 {
			s.deps[k].Site = s.deps[k].ID
		}
	}
	s.put(0, 36.9512, 8.2034)
	s.ctx.InlandKm = func(lat, lon float64) float64 { return -1 }
	all := Judge(s.deps, s.ctx)
	if len(all) != 1 || all[0].Slug != "position-sign" || all[0].DeploymentID != "D1" {
		t.Errorf("two rows, one with the wrong sign: %v", all)
	}
}

// The short way to the question "too far inland, or too far at sea?" answers as
// the long one does, here about a coast, in the Alps and off Fiji.
func TestInlandShortWay(t *testing.T) {
	j := &judging{ctx: Context{InlandKm: place.InlandKm}}
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom([]point{{37, -8}, {46, 7}, {-17, 179.9}, {40, -9.8}}).Draw(t, "about")
		p := point{c.lat + rapid.Float64Range(-0.5, 0.5).Draw(t, "lat"), c.lon + rapid.Float64Range(-1, 0.1).Draw(t, "lon")}
		exact := place.InlandKm(p.lat, p.lon)
		got := j.inland(p, 5, openSeaKm)
		if got > 5 != (exact > 5) || got < -openSeaKm != (exact < -openSeaKm) {
			t.Fatalf("%v: %v km by the short way, %v by the long", p, got, exact)
		}
	})
}

// Near rows are found as by trying every pair, wherever on Earth they are.
func TestNearAgainstEveryPair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newSeason()
		s.deps = nil
		lat, lon := rapid.Float64Range(-89, 89).Draw(t, "lat"), rapid.SampledFrom([]float64{-8, 0.0001, 179.9999, -180}).Draw(t, "lon")
		for k := range rapid.IntRange(2, 20).Draw(t, "rows") {
			d := good(k)
			d.SetOut = later(good(0).SetOut, time.Duration(rapid.IntRange(0, 40).Draw(t, "h"))*time.Hour)
			d.Habitat = rapid.SampledFrom([]string{"sand", "Sand", "rock"}).Draw(t, "habitat")
			east := rapid.Float64Range(-60, 60).Draw(t, "east m")
			la, lo, _ := place.From(lat, lon, 0, rapid.Float64Range(-60, 60).Draw(t, "north m"))
			la, lo, _ = place.From(la, lo, 90, east)
			d.Latitude, d.Longitude = assay.Some(la), assay.Some(place.NormalLongitude(lo))
			s.deps = append(s.deps, d)
		}
		got := map[string]bool{}
		for _, f := range of("near-in-place-and-time", Judge(s.deps, s.ctx)) {
			got[f.DeploymentID] = true
		}
		for i := range s.deps {
			want := false
			for k := range s.deps {
				a, b := &s.deps[i], &s.deps[k]
				m, _, _ := place.Between(a.Latitude.Or(0), a.Longitude.Or(0), b.Latitude.Or(0), b.Longitude.Or(0))
				want = want || i != k && plain(a.Habitat) == plain(b.Habitat) && m <= 25 && a.SetOut.At.Sub(b.SetOut.At).Abs() <= 12*time.Hour
			}
			if got[s.deps[i].ID] != want {
				t.Fatalf("row %d: near %v, by every pair %v", i, got[s.deps[i].ID], want)
			}
		}
	})
}

// plain has a short way for names that are plain already.
func TestPlain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringOf(rapid.SampledFrom([]rune("aZ é\u00a0\t9-"))).Draw(t, "name")
		if got, want := plain(s), strings.ToLower(strings.Join(strings.Fields(s), " ")); got != want {
			t.Fatalf("plain(%q) = %q, want %q", s, got, want)
		}
	})
}

// Of two slips that both land near the site, the one that lands nearer is told.
func TestMendTakesTheNearest(t *testing.T) {
	v, ok := mend(point{-0.01, -10}, point{0.01, 10}, 5)
	if want := (point{0.01, 10}); !ok || v.mended != want {
		t.Errorf("mended to %v, want %v", v.mended, want)
	}
}

// Copies of one row are asked about as copies, not also as near.
func TestCopiesAreNotAlsoNear(t *testing.T) {
	s := newSeason()
	s.deps = []assay.Deployment{good(0), good(0), good(0)}
	for k := range s.deps {
		s.deps[k].ID, s.deps[k].Where.Line = string(rune('A'+k)), k+2
	}
	s.deps[2].Checks[1].Consumed = assay.Some(13)
	all := Judge(s.deps, s.ctx)
	if len(all) != 2 || len(of("same-row-twice", all)) != 2 {
		t.Errorf("two copies and a row beside them: %v", all)
	}
}
