package place

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// An invented file in the forms that the GPX 1.1 schema (topografix.com/GPX/1/1)
// allows: extensions, elements not known, a time with an offset, one without a
// zone, a route, a track in two pieces.
const receiver = `<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="a receiver" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x">
  <metadata><name>not a waypoint</name><time>2026-07-01T00:00:00Z</time></metadata>
  <wpt lat="36.9512" lon="-8.2034"><ele>1.2</ele><time>2026-07-01T09:02:30Z</time><name>d 01</name><cmt>sand &amp; shell</cmt><sym>Flag</sym>
    <extensions><x:more><name>inner</name></x:more></extensions></wpt>
  <wpt lat="36.9520" lon="-8.2040"><time>2026-07-01T11:20:00+01:00</time><name>014</name></wpt>
  <wpt lat="36.9530" lon="-8.2050"><time>2026-07-01T12:00:00</time></wpt>
  <rte><name>out</name><rtept lat="1" lon="2"><name>a</name></rtept><rtept lat="1" lon="3"/></rte>
  <trk><name>day 1</name>
    <trkseg><trkpt lat="36.9600" lon="-8.2000"><time>2026-07-01T13:00:00Z</time></trkpt>
            <trkpt lat="36.9600" lon="-8.1900"><time>2026-07-01T13:10:00Z</time></trkpt></trkseg>
    <trkseg><trkpt lat="36.9700" lon="-8.2000"><time>2026-07-01T15:00:00Z</time></trkpt></trkseg></trk>
</gpx>`

func utc(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse("15:04:05", s)
	if err != nil {
		t.Fatal(err)
	}
	return time.Date(2026, 7, 1, at.Hour(), at.Minute(), at.Second(), 0, time.UTC)
}

func TestReadGPX(t *testing.T) {
	g, err := ReadGPX(strings.NewReader("\ufeff" + receiver))
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Waypoints) != 3 || len(g.Tracks) != 2 || g.WithoutZone != 1 {
		t.Fatalf("%+v", g)
	}
	w := g.Waypoints[0]
	if w.Name != "d 01" || w.LatDeg != 36.9512 || w.LonDeg != -8.2034 || !w.At.Equal(utc(t, "09:02:30")) || w.Comment != "sand & shell" {
		t.Errorf("%+v", w)
	}
	if w := g.Waypoints[1]; !w.At.Equal(utc(t, "10:20:00")) {
		t.Errorf("an offset was not applied: %+v", w)
	}
	if r := g.Tracks[0]; r.Name != "out" || len(r.Segments) != 1 || len(r.Segments[0]) != 2 || r.Segments[0][1].LonDeg != 3 {
		t.Errorf("%+v", r)
	}
	if r := g.Tracks[1]; r.Name != "day 1" || len(r.Segments) != 2 || len(r.Segments[0]) != 2 {
		t.Errorf("%+v", r)
	}
	old := "<?xml version='1.0' encoding='ISO-8859-1'?><gpx version='1.0'><wpt lat='1' lon='2'><name>Pe\xf1a</name></wpt></gpx>"
	if g, err := ReadGPX(strings.NewReader(old)); err != nil || g.Waypoints[0].Name != "Peña" {
		t.Errorf("%+v, %v", g, err)
	}
}

func TestReadGPXRefuses(t *testing.T) {
	for _, c := range []struct {
		text, slug string
		line       int
	}{
		{"", "place.gpx-none", 1},
		{"name,lat\nA,1\n", "place.gpx-none", 1},
		{"<kml></kml>", "place.gpx-none", 1},
		{strings.Replace(receiver, "</gpx>", "", 1), "place.gpx-broken", 13},
		{receiver[:500], "place.gpx-broken", 1 + strings.Count(receiver[:500], "\n")},
		{strings.Replace(receiver, `lat="36.9520"`, `lat="96.9520"`, 1), "place.gpx-position", 6},
		{strings.Replace(receiver, `lat="36.9520"`, `lat=""`, 1), "place.gpx-position", 6},
		{strings.Replace(receiver, `lat="36.9520"`, `lat="NaN"`, 1), "place.gpx-position", 6},
		{strings.Replace(receiver, `2026-07-01T12:00:00`, `noon`, 1), "place.gpx-time", 7},
		{strings.Replace(receiver, `UTF-8`, `UTF-16`, 1), "place.gpx-broken", 1},
		{"<gpx>" + strings.Repeat("<a>", 40), "place.gpx-broken", 1},
	} {
		_, err := ReadGPX(strings.NewReader(c.text))
		var bad *Refusal
		if !errors.As(err, &bad) || bad.Slug != c.slug || bad.With["line"] != c.line {
			t.Errorf("%.40q: %v; want %s at line %d", c.text, err, c.slug, c.line)
		}
	}
}

// TestMatch: names win, then times, then the track; worked by hand. The track
// goes east for ten minutes, so at 13:05 it stands half way: on a parallel of
// 0.01° of longitude the geodesic's middle is 0.005° on, 0.0000001° to the north.
func TestMatch(t *testing.T) {
	g, err := ReadGPX(strings.NewReader(receiver))
	if err != nil {
		t.Fatal(err)
	}
	got := g.Match([]Wanted{
		{Name: "D-01", From: utc(t, "09:00:00"), To: utc(t, "09:12:00")},
		{Name: "D02", From: utc(t, "10:25:00")},
		{Name: "D03", From: utc(t, "13:00:00"), To: utc(t, "13:10:00")},
		{Name: "D04", From: utc(t, "20:00:00")},
		{Name: "d01"},
		{Name: "D06", From: utc(t, "14:00:00")}, // between the pieces of the track
	}, 10*time.Minute)
	want := []Match{
		{ByName, 36.9512, -8.2034, "d 01", 0, 0},
		{ByTime, 36.9520, -8.2040, "014", 5 * time.Minute, 0},
		{ByTrack, 36.9600001, -8.1950, "day 1", 5 * time.Minute, 0},
		{How: NotMade, LatDeg: math.NaN(), LonDeg: math.NaN()},
		{ByName, 36.9512, -8.2034, "d 01", 0, 0},
		{How: NotMade, LatDeg: math.NaN(), LonDeg: math.NaN()},
	}
	for i, w := range want {
		m := got[i]
		same := math.IsNaN(w.LatDeg) && math.IsNaN(m.LatDeg) || math.Abs(m.LatDeg-w.LatDeg) < 2e-7 && math.Abs(m.LonDeg-w.LonDeg) < 2e-7
		if m.How != w.How || !same || m.Source != w.Source || m.Off != w.Off || m.Others != w.Others {
			t.Errorf("%d: %+v, want %+v", i, m, w)
		}
	}
	// Two waypoints of one name: the nearer in time, and a doubt.
	g.Waypoints = append(g.Waypoints, Waypoint{Name: "D01", LatDeg: 1, LonDeg: 1, At: utc(t, "23:00:00")})
	if m := g.Match([]Wanted{{Name: "D01", From: utc(t, "22:00:00")}}, time.Minute)[0]; m.LatDeg != 1 || m.Others != 1 || m.Off != time.Hour {
		t.Errorf("%+v", m)
	}
	// A waypoint that bears another row's name is not taken by its time.
	if m := g.Match([]Wanted{{Name: "X", From: utc(t, "09:02:00")}, {Name: "D01"}}, time.Minute)[0]; m.How != NotMade {
		t.Errorf("%+v", m)
	}
}

func someRows(t testing.TB) []RowOut {
	t.Helper()
	a, err := RowStakes(36.9512, -8.2034, 127.5, 0, 2, 25)
	if err != nil {
		t.Fatal(err)
	}
	b, err := RowStakes(-16.5, 179.99999, 90, 0, 2, 3)
	if err != nil {
		t.Fatal(err)
	}
	return []RowOut{{"D1 <sand> & “reef”", a, "measured at the first stake"}, {"D2", b, ""}, {"empty", nil, ""}}
}

// TestGPXRoundTrip: what is written is read again, to a tenth of a millimetre.
func TestGPXRoundTrip(t *testing.T) {
	rows := someRows(t)
	var b bytes.Buffer
	if err := WriteGPX(&b, rows); err != nil {
		t.Fatal(err)
	}
	g, err := ReadGPX(&b)
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Waypoints) != 28 || len(g.Tracks) != 2 {
		t.Fatalf("%d waypoints, %d routes", len(g.Waypoints), len(g.Tracks))
	}
	if w := g.Waypoints[24]; w.Name != "D1 <sand> & “reef”-25" || w.Source != "measured at the first stake" {
		t.Errorf("%+v", w)
	}
	if w := g.Waypoints[25]; w.Name != "D2-01" {
		t.Errorf("%+v", w)
	}
	n := 0
	for i, r := range rows[:2] {
		for j, s := range r.Stakes {
			w, p := g.Waypoints[n], g.Tracks[i].Segments[0][j]
			n++
			if math.Abs(w.LatDeg-s.LatDeg) > 1e-9 || math.Abs(w.LonDeg-s.LonDeg) > 1e-9 || p.LatDeg != w.LatDeg || p.LonDeg != w.LonDeg {
				t.Errorf("%s %d: %+v, %+v", r.Name, j, w, s)
			}
		}
	}
}

// TestGeoJSON: longitude first, as RFC 7946 section 3.1.1 says; a line that
// crosses 180° is cut there (3.1.9).
func TestGeoJSON(t *testing.T) {
	var b bytes.Buffer
	if err := WriteGeoJSON(&b, someRows(t)); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Type     string
		Features []struct {
			Type, ID string
			Geometry struct {
				Type        string
				Coordinates json.RawMessage
			}
			Properties map[string]any
		}
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.Type != "FeatureCollection" || len(got.Features) != 1+25+1+3 {
		t.Fatalf("%s of %d", got.Type, len(got.Features))
	}
	var line [][2]float64
	if err := json.Unmarshal(got.Features[0].Geometry.Coordinates, &line); err != nil || got.Features[0].Geometry.Type != "LineString" || len(line) != 25 || line[0] != [2]float64{-8.2034, 36.9512} {
		t.Errorf("%v %v", err, line)
	}
	if f := got.Features[2]; f.Geometry.Type != "Point" || f.Properties["stake"] != 2.0 || f.Properties["along_m"] != 2.0 || f.Properties["row"] != "D1 <sand> & “reef”" {
		t.Errorf("%+v", f)
	}
	var lines [][][2]float64
	f := got.Features[26]
	if err := json.Unmarshal(f.Geometry.Coordinates, &lines); err != nil || f.Geometry.Type != "MultiLineString" || len(lines) != 2 {
		t.Fatalf("%s %v %s", f.Geometry.Type, err, f.Geometry.Coordinates)
	}
	first, second := lines[0], lines[1]
	if first[len(first)-1][0] != 180 || second[0][0] != -180 || len(first)+len(second) != 3+2 {
		t.Errorf("%v", lines)
	}
}

// FuzzReadGPX: no file makes it panic, and every position it gives is one.
func FuzzReadGPX(f *testing.F) {
	f.Add(receiver)
	f.Add("<gpx><wpt lat='1' lon='2'/><trk><trkpt lat='1' lon='2'/></trk></gpx>")
	f.Add("<gpx><rte></rte><trk><trkseg></trkseg></trk></gpx></gpx>")
	f.Add("<gpx/><gpx><rtept lat='1' lon='2'/></gpx>")
	f.Fuzz(func(t *testing.T, text string) {
		g, err := ReadGPX(strings.NewReader(text))
		if err != nil {
			return
		}
		for _, w := range g.Waypoints {
			if !ValidPosition(w.LatDeg, w.LonDeg) {
				t.Errorf("%+v", w)
			}
		}
		g.Match([]Wanted{{Name: "D1", From: time.Unix(1e9, 0)}}, time.Hour)
	})
}

// TestMatchOnATrack: at a point's own time the row stands on the point, and at
// any time between it is between its neighbours.
func TestMatchOnATrack(t *testing.T) {
	start := utc(t, "08:00:00")
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(2, 20).Draw(r, "n")
		var s []Trackpoint
		for i := range n {
			s = append(s, Trackpoint{rapid.Float64Range(36, 36.01).Draw(r, "lat"), rapid.Float64Range(-8, -7.99).Draw(r, "lon"), start.Add(time.Duration(i) * time.Minute)})
		}
		g := GPX{Tracks: []Track{{"t", [][]Trackpoint{s}}}}
		sec := rapid.IntRange(0, (n-1)*60).Draw(r, "sec")
		m := g.Match([]Wanted{{Name: "D", From: start.Add(time.Duration(sec) * time.Second)}}, time.Minute)[0]
		i := min(sec/60, n-2)
		a, b := s[i], s[i+1]
		whole, _, _ := Between(a.LatDeg, a.LonDeg, b.LatDeg, b.LonDeg)
		fromA, _, _ := Between(a.LatDeg, a.LonDeg, m.LatDeg, m.LonDeg)
		toB, _, _ := Between(m.LatDeg, m.LonDeg, b.LatDeg, b.LonDeg)
		if m.How != ByTrack || math.Abs(fromA+toB-whole) > 1e-5 || math.Abs(fromA-whole*float64(sec-60*i)/60) > 1e-5 {
			r.Fatalf("%+v: %g + %g of %g", m, fromA, toB, whole)
		}
	})
}
