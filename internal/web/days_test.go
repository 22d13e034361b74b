package web

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/task"
	"soakline/internal/words"
)

// tideSite gives the first site of the desk an invented tide and beds, and is the
// address that asks for its days.
func (x *testDesk) tideSite(t testing.TB) string {
	t.Helper()
	s, err := task.Of(context.Background(), x.book.book, noon())
	if err != nil {
		t.Fatal(err)
	}
	name := s.Sites[0].Name
	_, err = task.ChangeSite(context.Background(), x.book.book, name, func(s *assay.Site) error {
		s.Latitude, s.Longitude, s.ShallowBedM, s.AccessM, s.WalkMin = assay.Some(36.95), assay.Some(-8.2), assay.Some(0.2), assay.Some(1.5), assay.Some(25.0)
		s.Hazards, s.Zone = "soft mud", "Europe/Lisbon"
		return nil
	}, task.By{Who: "Ana", When: noon()}, task.SiteFile{File: task.File{Name: "cosine.csv", Data: []byte("name,amplitude_m,phase_deg\nZ0,2,0\nS2,1,90\n")}, Tide: &assay.Tide{Kind: assay.Constituents}})
	if err != nil {
		t.Fatal(err)
	}
	x.book.forget()
	return "/days?" + url.Values{"site": {name}, "from": {"2026-07-01"}, "to": {"2026-07-08"}, "way": {"snorkelling"}, "margin": {"0.1"}}.Encode()
}

// The page tells starts, reasons, cautions and pictures; the calendar file the same
// starts. High water at 03:00 and 15:00 UTC, h = 2 + cos(30° (t − 3 h)): the way is
// open while h ≤ 1.5 less the margin of 0.1, cos ≤ −0.6, 126.87° to 233.13°, from
// 07:13:45 to 10:46:15 UTC. The check after 1 h takes 15 min and the walk 25 min: the
// last start is 1 h 40 min before, 09:06:15; in whole minutes on the clock of Lisbon
// 08:14 to 10:06. Light begins before and is no limit.
func TestDaysPage(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	if g := x.get(t, "/days"); !strings.Contains(g.main(), "Find the days") || strings.Contains(g.main(), "Not for navigation") {
		t.Errorf("%.400s", g.main())
	}
	path := x.tideSite(t)
	g := x.get(t, path)
	text := textOf(g.doc)
	for _, want := range []string{"2026-07-01 08:14 WEST 10:06 WEST", "soft mud", "Not for navigation", "8 days of 8 have a start"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if n := strings.Count(g.body, "<svg"); n < 4 {
		t.Errorf("%d drawings", n)
	}
	if !strings.Contains(g.body, "set the row out at any time in here") || !strings.Contains(g.body, "leave by") {
		t.Error("the days at a glance, or the picture of a day, is missing")
	}
	ics := x.get(t, strings.Replace(path, "/days?", "/days/calendar?", 1))
	if !strings.Contains(ics.body, "DTSTART:20260701T071400Z") || strings.Count(ics.body, "BEGIN:VEVENT") < 8 {
		t.Errorf("%.600s", ics.body)
	}
	for _, bad := range []string{"from=2026-07-08&to=2026-07-01", "from=soon", "from=2026-07-01&to=2027-07-01", "margin=lots", "margin=-1", "way=flying", "site=nowhere"} {
		at, _ := url.Parse(path)
		q := at.Query()
		more, _ := url.ParseQuery(bad)
		for k, v := range more {
			q[k] = v
		}
		if g := x.get(t, "/days?"+q.Encode()); g.status != http.StatusUnprocessableEntity {
			t.Errorf("%s gave %d", bad, g.status)
		}
	}
}

// A site's form keeps what it says, proposes a zone, and takes a file of the tide.
func TestSitePage(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	x.post(t, "/sites", url.Values{"name": {"Kell Spit"}})
	s, err := task.Of(context.Background(), x.book.book, noon())
	if err != nil {
		t.Fatal(err)
	}
	site, err := task.FindSite(s.Sites, "Kell Spit")
	if err != nil {
		t.Fatal(err)
	}
	at := "/sites/" + site.Key
	if g := x.get(t, at); !strings.Contains(g.main(), "No source of the tide") {
		t.Errorf("%.500s", g.main())
	}
	form := x.get(t, at).formOf(t, at)
	for k, v := range map[string]string{"latitude": "36.95", "longitude": "−8.2", "bed_shallow": "-0.4", "access": "1.4", "walk": "25", "hazards": "mud", "permits": "NP-12 2026-01-31\nNP 13", "sensitive": "no"} {
		form.Set(k, v)
	}
	g := x.post(t, at, form)
	for _, want := range []string{"Europe/Lisbon was taken from the position", "NP-12 has run out", "NP 13 has no last day"} {
		if !strings.Contains(textOf(g.doc), want) {
			t.Errorf("does not say %q:\n%.900s", want, textOf(g.doc))
		}
	}
	form.Set("bed_shallow", "deep")
	if g := x.post(t, at, form); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.body, `value="deep"`) {
		t.Errorf("a bed that is none: %d", g.status)
	}
	if g := x.get(t, "/sites/nothing"); g.status != http.StatusNotFound {
		t.Errorf("a site that is not there: %d", g.status)
	}
	send := func(text string) *got {
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		w.WriteField("kind", "constituents")
		f, _ := w.CreateFormFile("file", "dock.csv")
		f.Write([]byte(text))
		w.Close()
		req, err := http.NewRequest(http.MethodPost, x.srv.URL+at+"/file", &body)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", w.FormDataContentType())
		req.Header.Set("Origin", x.srv.URL)
		return x.do(t, req)
	}
	if g := send("name,amplitude_m\nM2,1\n"); g.status != http.StatusUnprocessableEntity {
		t.Errorf("a file that is none: %d", g.status)
	}
	if g := send("name,amplitude_m,phase_deg\nM2,1,0\n"); !strings.Contains(g.main(), "dock.csv") || strings.Contains(g.main(), "No source of the tide") {
		t.Errorf("%.500s", g.main())
	}
}

// The form of the tide keeps a table with the differences of a secondary place,
// changes only how the kept file is read, and takes a file of air pressure for a
// logger's pressure.
func TestSiteTideSettings(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	x.post(t, "/sites", url.Values{"name": {"Creek"}})
	site := func() assay.Site {
		t.Helper()
		s, err := task.Of(context.Background(), x.book.book, noon())
		if err != nil {
			t.Fatal(err)
		}
		site, err := task.FindSite(s.Sites, "Creek")
		if err != nil {
			t.Fatal(err)
		}
		return site
	}
	at := "/sites/" + site().Key
	send := func(fields, files map[string]string) *got {
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		for k, v := range fields {
			w.WriteField(k, v)
		}
		for k, v := range files {
			f, _ := w.CreateFormFile(k, k+".csv")
			f.Write([]byte(v))
		}
		w.Close()
		req, err := http.NewRequest(http.MethodPost, x.srv.URL+at+"/file", &body)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", w.FormDataContentType())
		req.Header.Set("Origin", x.srv.URL)
		return x.do(t, req)
	}
	if g := send(map[string]string{"kind": "table"}, nil); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "Choose a file first") {
		t.Errorf("no file: %d", g.status)
	}
	table := "at,height_m\n2026-07-01T00:00,3\n2026-07-01T06:00,1\n2026-07-01T12:00,3\n"
	g := send(map[string]string{"kind": "table", "clock": "UTC", "high_later": "20", "low_later": "−10", "high_times": "0.9", "low_times": "1"}, map[string]string{"file": table})
	want := assay.TideDifferences{HighLaterMin: 20, LowLaterMin: -10, HighTimes: 0.9}
	if got := site().Tide; got.Kind != assay.Waters || got.File != "file.csv" || got.Differences != want {
		t.Errorf("kept %+v\n%.600s", got, g.main())
	}
	if !strings.Contains(g.body, `value="0.9"`) || !strings.Contains(g.body, "<details open><summary>The table is of a reference port") {
		t.Error("the form does not show the differences that are kept")
	}
	source := site().Tide.Source
	send(map[string]string{"kind": "table", "clock": "UTC", "high_add": "0.3"}, nil)
	if got := site().Tide; got.Source != source || got.Differences != (assay.TideDifferences{HighAddM: 0.3}) {
		t.Errorf("without a file: %+v", got)
	}
	if g := send(map[string]string{"kind": "table", "clock": "UTC", "high_add": "0.3", "high_later": "400"}, nil); g.status != http.StatusUnprocessableEntity || site().Tide.Differences.HighLaterMin != 0 {
		t.Errorf("high water after the next low: %d", g.status)
	}
	// a month of hourly pressure: 1013 hPa of air and water of 3 m and a cosine
	var pressure, air strings.Builder
	pressure.WriteString("time (UTC),pressure_hPa\n")
	air.WriteString("time (UTC),air_pressure_hPa\n")
	for h := range 30 * 24 {
		when := noon().Add(time.Duration(h) * time.Hour).UTC().Format("2006-01-02T15:04")
		fmt.Fprintf(&pressure, "%s,%.3f\n", when, 1013+100*(3+math.Cos(2*math.Pi*float64(h)/12.4206)))
		fmt.Fprintf(&air, "%s,1013\n", when)
	}
	if g := send(map[string]string{"kind": "series"}, map[string]string{"file": pressure.String()}); g.status != http.StatusUnprocessableEntity || !strings.Contains(textOf(g.doc), "absolute pressure") {
		t.Errorf("absolute pressure: %d %.300s", g.status, g.main())
	}
	if g := send(map[string]string{"kind": "series", "density": "1020"}, map[string]string{"file": pressure.String(), "air_file": air.String()}); g.status != http.StatusOK {
		t.Errorf("with its air: %d %.600s", g.status, g.main())
	}
	if got := site().Tide; got.Kind != assay.Series || got.Air != "air_file.csv" || len(got.AirSource) != 64 || got.DensityKgM3 != 1020 {
		t.Errorf("kept %+v", got)
	}
	send(map[string]string{"kind": "series", "air": "air_file.csv", "density": ""}, nil)
	if got := site().Tide; len(got.AirSource) != 64 || got.DensityKgM3 != 0 {
		t.Errorf("the file of air pressure did not stay: %+v", got)
	}
	send(map[string]string{"kind": "series", "air": "1013"}, nil)
	if got := site().Tide; got.AirSource != "" || got.Air != "1013" {
		t.Errorf("a constant: %+v", got)
	}
}
