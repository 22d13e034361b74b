package task

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// An invented season at a site whose water is h = 2 + cos(30° t), high at 00:00, 12:00
// UTC, its way open while h ≤ 1.7 less a margin of 0.2: cos ≤ −0.5, from 04:00 to
// 08:00 and 16:00 to 20:00 UTC. A row set out at 05:00 to 05:10 and another at 05:30,
// read at 06:00 and 06:30, and at 05:00 and 05:30 the next day. The way is 20 min to
// walk: one must leave before 08:00 less 20 min, the last whole minute 07:39 or 07:40
// UTC, 08:39 or 08:40 on the clock of Lisbon.
func waterSeason(t *testing.T) *Season {
	t.Helper()
	by := By{Who: "Ana Ejemplo", When: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC), Why: "a test"}
	row := func(id, site, habitat, day, next, hm, hm1 string) map[string]string {
		return map[string]string{"deployment_id": id, "site": site, "habitat": habitat, "latitude": "36.9512", "longitude": "-8.2034", "team": "t", "baits_deployed": "25",
			"deployed_at": day + "T" + hm + "Z", "check1_at": day + "T" + hm1 + "Z", "consumed_by_check1": "3", "lost_by_check1": "0",
			"check2_at": next + "T" + hm + "Z", "consumed_by_check2": "9", "lost_by_check2": "0"}
	}
	rows := []map[string]string{
		row("D1", "spit", "sand", "2026-07-01", "2026-07-02", "05:00", "06:00"), row("D2", "spit", "reef", "2026-07-01", "2026-07-02", "05:30", "06:30"),
		row("D3", "spit", "sand", "2026-07-03", "2026-07-04", "17:00", "18:00"), row("D4", "far", "sand", "2026-07-05", "2026-07-06", "09:00", "10:00"),
		row("D5", "bare", "reef", "2026-07-05", "2026-07-06", "09:00", "10:00"),
	}
	rows[0]["deployed_until"] = "2026-07-01T05:10Z"
	book := bookOf(t, filepath.Join(t.TempDir(), "w.logbook"), rows, by)
	t.Cleanup(func() { book.Close() })
	for _, name := range []string{"spit", "far"} {
		_, err := ChangeSite(context.Background(), book, name, func(s *assay.Site) error {
			s.Latitude, s.Longitude, s.ShallowBedM, s.AccessM, s.WalkMin = assay.Some(36.95), assay.Some(-8.2), assay.Some(0.5), assay.Some(1.7), assay.Some(20.0)
			s.Zone, s.Datum = "Europe/Lisbon", "chart datum (invented)"
			s.Sensitive = assay.Some(name == "far")
			return nil
		}, by, SiteFile{File: File{"cosine.csv", []byte("name,amplitude_m,phase_deg\nZ0,2,0\nS2,1,0\n")}, Tide: &assay.Tide{Kind: assay.Constituents}})
		if err != nil {
			t.Fatal(err)
		}
	}
	s, err := Of(context.Background(), book, by.When)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestReportTellsTheWater(t *testing.T) {
	s := waterSeason(t)
	w, err := s.reportWater(ReportOptions{Lang: words.English})
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Sites) != 1 || w.Sites[0].Site != "spit" || w.Withheld != 1 {
		t.Fatalf("%+v", w)
	}
	one := w.Sites[0]
	if len(one.Calendar.Days) != 3 || len(one.Days) != 2 { // from the first row to the last; days of setting out
		t.Errorf("%d days in the calendar, %d drawn", len(one.Calendar.Days), len(one.Days))
	}
	var got []string
	for _, v := range one.Days[0].Visits {
		got = append(got, v.Label)
	}
	if text := strings.Join(got, "; "); text != "set 06:00–06:30 (2 rows); 1 h 07:00–07:30 (2 rows); 24 h 06:00–06:30 (2 rows)" {
		t.Errorf("visits: %s", text)
	}
	if v := one.Days[0].Visits[2]; v.FromH != 30 || v.ToH != 30.5 || one.Days[0].SpanH != 48 {
		t.Errorf("the last visit is at %g to %g h of %g", v.FromH, v.ToH, one.Days[0].SpanH)
	}
	for i, l := range one.Days[0].Leave { // one for the first morning, one for the next
		if least := 24*float64(i) + 8 + 39.0/60; l.AtH < least-1e-9 || l.AtH > least+1.0/60+1e-9 {
			t.Errorf("leave by %s, at %g h", l.Label, l.AtH)
		}
	}
	if n := len(one.Days[0].Leave); n != 2 {
		t.Errorf("%d times to leave", n)
	}
	// Starts, by hand. Setting out takes 20 min and a reading 15: with the walk the way
	// must be open from t to t + 1 h + 15 min + 20 min, so t from 04:00 to 06:25 UTC in
	// the morning, 05:00 to 07:25 on the clock of Lisbon. In July civil twilight there
	// begins about 04:45 UTC, which is later than 04:00 (almanac, to a few minutes).
	first := one.Calendar.Days[0].Starts
	if len(first) != 2 || first[0][0] < 5.5 || first[0][0] > 6 || first[0][1] < 7+24.0/60-1e-9 || first[0][1] > 7+25.0/60+1e-9 {
		t.Errorf("starts of the first day: %v", first)
	}
	if _, err := s.reportWater(ReportOptions{Lang: words.English, Way: "flying"}); err == nil {
		t.Error("a way of working that is none")
	}
	if w, _ = s.reportWater(ReportOptions{Lang: words.English, Way: "diving"}); !strings.Contains(w.Sites[0].Told[0], "(diving from the shore)") {
		t.Errorf("%q", w.Sites[0].Told)
	}
}

// The page, the PDF and the files of figures hold the calendar and each day; the
// caution stands once in full on the page, short at each drawing, and in full in each
// file. The site that is kept from the public is not shown.
func TestWaterInEveryFormOfTheReport(t *testing.T) {
	s := waterSeason(t)
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	for _, l := range []words.Language{words.English, words.Spanish} {
		o := ReportOptions{Lang: l, Version: "test", Seed: 1}
		if err := WriteReport(context.Background(), s, o, at("r-"+string(l)+".html"), at("figures-"+string(l))); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(at("r-" + string(l) + ".html"))
		if err != nil {
			t.Fatal(err)
		}
		for text, n := range map[string]int{
			l.Say("report.h-water", nil): 1, l.Say("windows.caution", nil): 1,
			// a calendar and two days, each drawn for two widths, broken into lines
			">spit: 2026-07-03": 1 + 2, ">far: ": 0, "water-1-calendar-at-narrow-day-0": 1, l.Say("report.water-withheld", words.P{"n": 1}): 1,
		} {
			if got := bytes.Count(b, []byte(text)); got != n {
				t.Errorf("%s: %q stands %d times, not %d", l, text, got, n)
			}
		}
		for _, name := range []string{"water-1-calendar", "water-1-day-1", "water-1-day-2"} {
			for _, kind := range []string{".svg", ".png", ".pdf"} {
				f, err := os.ReadFile(filepath.Join(at("figures-"+string(l)), name+kind))
				if err != nil {
					t.Error(err)
				} else if words := l.Say("windows.caution", nil); kind == ".svg" && !strings.Contains(onOneLine(string(f)), words[:len(words)-20]) {
					t.Errorf("%s%s does not hold the caution", name, kind)
				}
			}
		}
		if err := WriteReport(context.Background(), s, o, at("r.pdf"), ""); err != nil {
			t.Fatal(err)
		}
		if b, err = os.ReadFile(at("r.pdf")); err != nil || !bytes.Contains(b, []byte("/Outlines")) {
			t.Errorf("no PDF: %v", err)
		}
	}
}

// onOneLine joins the texts of a drawing, whose lines are texts of their own.
func onOneLine(svg string) string {
	var out []string
	for _, part := range strings.Split(svg, "<text")[1:] {
		_, part, _ = strings.Cut(part, ">")
		text, _, _ := strings.Cut(part, "</text>")
		out = append(out, text)
	}
	return strings.Join(out, " ")
}
