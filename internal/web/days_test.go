package web

import (
	"bytes"
	"context"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

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
	for _, want := range []string{"2026-07-01 08:14 WEST", "2026-07-01 10:06 WEST", "soft mud", "Not for navigation", "8 days of 8 have a start"} {
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
