package task

import (
	"archive/zip"
	"bytes"
	"compress/zlib"
	"context"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/plan"
	"soakline/internal/publish"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// Nothing of a sensitive place that the logbook keeps stands in any byte of
// anything that leaves: archive, package, workbook, map, report as a page and
// as a PDF, its figures, results as tables. What is packed is unpacked first.
func TestNothingTellsASensitivePlace(t *testing.T) {
	by := By{Who: "Ana Ejemplo", When: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC), Why: "a test"}
	dir := t.TempDir()
	var rows []map[string]string
	for i, id := range []string{"Quillmere-1", "Quillmere-2", "Quillmere-3", "T-1", "T-2", "T-3", "T-4", "T-5", "T-6"} {
		site, lat, lon := "Quillmere", "36.710317", "-4.119923"
		if strings.HasPrefix(id, "T") {
			site, lat, lon = "Tarn "+id[2:], "36.91"+id[2:]+"3", "-4.32"+id[2:]+"3"
		}
		rows = append(rows, map[string]string{"deployment_id": id, "site": site, "habitat": []string{"sand", "reef"}[i%2], "latitude": lat, "longitude": lon, "team": "t", "deployed_at": "2025-07-0" + string(rune('1'+i)) + "T09:00+02:00",
			"baits_deployed": "25", "check1_at": "2025-07-0" + string(rune('1'+i)) + "T10:00+02:00", "consumed_by_check1": string(rune('1' + i%5)), "lost_by_check1": "0", "check2_at": "2025-07-0" + string(rune('2'+i)) + "T09:00+02:00",
			"consumed_by_check2": "1" + string(rune('0'+i)), "lost_by_check2": "0", "notes": "below the Quillmere lighthouse", "coordinate_uncertainty_m": "5"})
	}
	rows[2]["check1_at"], rows[2]["check2_at"] = "2025-07-03T23:40+02:00", "2025-07-04T09:00+02:00"
	rows[0]["consumed_by_check2"] = "40" // impossible: its finding is told, its place is not
	rows[1]["longitude"] = "4.119923"    // a wrong sign: asked, with where it was meant to be
	book := bookOf(t, filepath.Join(dir, "a.logbook"), rows, by)
	err := ChangePublication(context.Background(), book, func(m *publish.Metadata) error {
		*m = openMetadata()
		m.Abstract, m.Publisher = "Invented.", "Larkwater (invented)"
		m.Sensitive = []publish.Sensitive{{Site: "Quillmere", PublishAs: "Site K", Decimals: 1, Why: "a breeding place"}}
		return nil
	}, by)
	if err != nil {
		t.Fatal(err)
	}
	// The site has a tide, under which its rows fall dry (low water of 1 m at 13:00 on
	// their clock, over a bed at 2.37 m), and a logger whose file is named after it; its third row was
	// read in the dark.
	_, err = ChangeSite(context.Background(), book, "Quillmere", func(s *assay.Site) error {
		s.ShallowBedM, s.Latitude, s.Longitude = assay.Some(2.37), assay.Some(36.710317), assay.Some(-4.119923)
		s.Zone, s.Hazards, s.Emergency = "Europe/Madrid", "the Quillmere race", "the lighthouse keeper (invented)"
		return nil
	}, by, SiteFile{File: File{"Quillmere-tide.csv", []byte("name,amplitude_m,phase_deg\nZ0,2,0\nS2,1,150\n")}, Tide: &assay.Tide{Kind: assay.Constituents}},
		SiteFile{File: File{"Quillmere-logger.csv", []byte("at,temperature_c\n2025-07-01T07:10Z,18\n")}, Logger: &assay.Logger{}})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []plan.Plan{{Notes: []string{"Quillmere last"}}, {Among: []string{"Quillmere", "Tarn 1"}, LeaveOut: []string{"by the lighthouse at Quillmere"}}} {
		if _, _, err := KeepPlan(context.Background(), book, p, compare.Options{By: []string{"site", "habitat"}[len(p.Notes)]}, by); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := WithdrawPlan(context.Background(), book, "2026-11-01", false, by); err == nil {
		t.Fatal("two plans of one day are told apart by their date")
	}
	out := filepath.Join(dir, "out")
	if err := os.MkdirAll(out, 0o755); err != nil {
		t.Fatal(err)
	}
	at := func(name string) string { return filepath.Join(out, name) }
	if _, err := Freeze(context.Background(), book, at("open"), PublishOptions{Today: by.When, LeaveOutBlocked: true}, by); err != nil {
		t.Fatal(err)
	}
	s, err := Of(context.Background(), book, by.When)
	if err != nil {
		t.Fatal(err)
	}
	told := map[string]bool{} // of what the logbook itself says, so that the search can fail
	for _, f := range s.Findings {
		told[f.Slug] = true
	}
	for _, slug := range []string{"predicted-dry", "visit-in-dark", "logger-gap"} {
		if !told[slug] {
			t.Errorf("the logbook holds no finding %s", slug)
		}
	}
	ask := ReportOptions{Lang: words.English, Version: "test", Seed: 1}
	if err := WriteReport(context.Background(), s, ask, at("report.html"), at("figures")); err != nil {
		t.Fatal(err)
	}
	if err := WriteReport(context.Background(), s, ask, at("report.pdf"), ""); err != nil {
		t.Fatal(err)
	}
	o := s.Outward()
	r, err := o.Rates(context.Background(), rates.Options{Level: 0.95, Group: rates.BySite, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	k, err := o.Compare(context.Background(), compare.Options{By: "site", Level: 0.95, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(k.Plan.Sentences(words.English), " "); strings.Contains(text, "Quillmere") || strings.Contains(text, "lighthouse") || !strings.Contains(text, "withheld") {
		t.Errorf("the standing tells the place: %s", text)
	}
	for _, name := range []string{"results.xlsx", "results.zip", "results.csv"} {
		if err := WriteTidy(context.Background(), at(name), words.English, o, r, k); err != nil {
			t.Fatal(err)
		}
	}
	readme, err := os.ReadFile(at("open/README.md"))
	if err != nil || strings.Count(string(readme), "SHA-256 of its text") != 2 || !strings.Contains(string(readme), "its text is withheld") {
		t.Errorf("%v: the plans are not named: %s", err, readme)
	}
	if m, _ := filepath.Glob(at("open/analysis-plan*")); len(m) != 0 {
		t.Error("a plan that tells the place is published", m)
	}
	named := 0
	files := eachText(t, out, func(file, part string, text []byte) {
		if bytes.Contains(text, []byte("Site K")) {
			named++
		}
		for _, secret := range []string{"36.7103", "4.1199", "Quillmere", "lighthouse", "stood dry", "bed at 2.37", "below the horizon", "water-1"} {
			if bytes.Contains(text, []byte(secret)) {
				t.Errorf("%s %s holds %q near %.90q", file, part, secret, text[max(0, bytes.Index(text, []byte(secret))-40):])
			}
		}
	})
	if files < 20 || named < 8 {
		t.Errorf("%d files were looked at, %d tell Site K: too few to tell anything", files, named)
	}
}

// unpacked gives a file and whatever is packed in it: entries of zips, streams of PDFs.
func unpacked(b []byte) map[string][]byte {
	out := map[string][]byte{"": b}
	if z, err := zip.NewReader(bytes.NewReader(b), int64(len(b))); err == nil {
		for _, f := range z.File {
			if r, err := f.Open(); err == nil {
				out[f.Name], _ = io.ReadAll(r)
				r.Close()
			}
		}
	}
	for rest, n := b, 0; ; n++ {
		i := bytes.Index(rest, []byte("stream\n"))
		if i < 0 {
			return out
		}
		rest = rest[i+len("stream\n"):]
		if z, err := zlib.NewReader(bytes.NewReader(rest)); err == nil {
			text, _ := io.ReadAll(z)
			out["stream "+string(rune('a'+n%26))+string(rune('a'+n/26%26))] = text
		}
	}
}

// eachText goes through what every file of a folder holds, also packed, and counts
// the files.
func eachText(t *testing.T, dir string, do func(file, part string, text []byte)) (files int) {
	t.Helper()
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		files++
		for part, text := range unpacked(b) {
			do(d.Name(), part, text)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
