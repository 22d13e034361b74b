package intake

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

var (
	update     = flag.Bool("update", false, "write the .expect files anew; read the difference before keeping it")
	makeShapes = flag.Bool("make-shapes", false, "write the workbooks among the shapes anew")
)

// shapeFiles groups the invented files of testdata/shapes by what stands
// before the first point of their names.
func shapeFiles(t *testing.T) map[string][]string {
	t.Helper()
	all, err := filepath.Glob("testdata/shapes/*")
	if err != nil {
		t.Fatal(err)
	}
	groups := map[string][]string{}
	for _, f := range all {
		if !strings.HasSuffix(f, ".expect") {
			name, _, _ := strings.Cut(filepath.Base(f), ".")
			groups[name] = append(groups[name], f)
		}
	}
	return groups
}

func readShape(t *testing.T, files []string, c Context) *Reading {
	t.Helper()
	var tables []Table
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		one, faults := Tables(filepath.Base(f), b, Options{})
		if len(faults) > 0 {
			t.Fatalf("%s: %+v", f, faults)
		}
		tables = append(tables, one...)
	}
	return Read(tables, c)
}

// Each shape gives the columns, questions, faults and records kept beside it.
func TestShapes(t *testing.T) {
	if *makeShapes {
		writeWorkbooks(t)
	}
	groups := shapeFiles(t)
	if len(groups) < 12 {
		t.Fatalf("%d shapes", len(groups))
	}
	for _, name := range sortedKeys(groups) {
		r := readShape(t, groups[name], Context{})
		got := report(r)
		file := "testdata/shapes/" + name + ".expect"
		if *update {
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil || got != string(want) {
			t.Errorf("%s: %v, differs from %s:\n%s", name, err, file, got)
		}
		// The maps are kept as text and read the file again without a question
		// about columns or habits.
		for _, m := range r.Maps {
			text, err := m.MarshalText()
			if err != nil {
				t.Fatal(err)
			}
			if _, err := ParseMap(text); err != nil {
				t.Errorf("%s: %v\n%s", name, err, text)
			}
		}
	}
}

// What a person is asked, and what comes out once the proposals are taken:
// worked out by hand from the invented files, apart from the .expect files.
func TestShapesByHand(t *testing.T) {
	groups := shapeFiles(t)
	for _, c := range []struct {
		shape, asked string
		values       map[string]string // "record column" -> value
	}{
		{"01-two-line-header", "column:deployed_at fill-down zone", map[string]string{
			"A2 site": "Old Pier", "B2 site": "Gull Rock", "A1 deployed_at": "2026-07-13T09:00+01:00[Europe/Lisbon]", "B2 lost_by_check2": "2"}},
		{"02-semicolon-latin", "check-dates zone", map[string]string{
			"F1 consumed_by_check2": "10" /* 4 + 6 */, "F3 consumed_by_check2": "13", "F3 site": "Peñón Chico", "F1 latitude": "-33.0412",
			"F1 check1_at": "2026-01-05T10:12Z[Europe/Lisbon]"}},
		{"03-each-interval", "", map[string]string{"R1 consumed_by_check2": "13" /* 9 + 4 */, "R3 consumed_by_check2": "23", "R3 consumed_by_check1": "12"}},
		{"04-left", "zone", map[string]string{"G1 consumed_by_check1": "3" /* 25 − 22 */, "G1 consumed_by_check2": "12", "G4 consumed_by_check2": "4", "G1 deployed_at": "2026-07-01T09:00+01:00[Europe/Lisbon]"}},
		{"05-sheet-per-site", "sheet-name", map[string]string{"1 baits_deployed": "25", "2 habitat": "seagrass", "1 team": "Curlew"}},
		{"06-serials-1904", "counts zone", map[string]string{"M1 deployed_at": "2026-07-01T09:00+01:00[Europe/Lisbon]", "M1 check1_at": "2026-07-01T10:01+01:00[Europe/Lisbon]", "M2 consumed_by_check1": ""}},
		{"07-which-day", "meaning:missing day-order check-dates zone", map[string]string{
			"7 deployed_at": "2026-03-04T09:05Z[Europe/Lisbon]", "9 deployed_at": "2026-03-05T13:15Z[Europe/Lisbon]", "9 check2_at": "2026-03-06T13:05Z[Europe/Lisbon]"}},
		{"08-noughts-left-out", "counts blank:consumed blank:lost", map[string]string{
			"S1 consumed_by_check1": "0", "S1 lost_by_check2": "0", "S1 temperature_c": "20" /* 68 °F */, "S3 temperature_c": "", "S3 depth_min_m": "1.4", "S1 notes": "", "S3 lost_by_check2": "2"}},
		{"09-times-apart", "counts check-dates zone", map[string]string{
			"K1 check2_at": "2026-06-23T09:40+01:00[Europe/Lisbon]", "K2 check1_at": "2026-06-22T22:35+01:00[Europe/Lisbon]", "K2 deployed_until": "2026-06-22T21:44+01:00[Europe/Lisbon]",
			"K2 consumed_by_check2": "30", "K1 latitude": "54.2083" /* 54 + 12/60 + 30/3600 */, "K3 longitude": "-3.08667" /* 3 + 5.2/60 */}},
		{"10-long", "counts zone", map[string]string{"L1 check2_at": "2026-07-02T09:10+01:00[Europe/Lisbon]", "L2 notes": "one crab", "L1 lost_by_check2": "1"}},
		{"11-stake-letters", "value:fate:P value:fate:X", map[string]string{"E1 fates_at_check1": "1P 2P 3C 4P 5P 6C 7P 8P", "E2 fates_at_check2": "1P 2C 3P 4P 5P 6P 7L 8P"}},
		{"12-utf16-tab", "side:Longitude W zone clock:Europe/Lisbon:2026-10-25 01:30", map[string]string{
			"W1 longitude": "-8.9012", "W1 check2_at": "2026-10-25T09:35Z[Europe/Lisbon]", "W2 check1_at": "2026-10-25T01:30+01:00[Europe/Lisbon]"}},
		{"13-unreadable", "", map[string]string{"X2 bait_form": "disc"}},
	} {
		r := readShape(t, groups[c.shape], Context{})
		var asked []string
		for _, q := range r.Questions {
			asked = append(asked, q.Key)
		}
		if got := strings.Join(asked, " "); got != c.asked {
			t.Errorf("%s asks %q, want %q", c.shape, got, c.asked)
		}
		// All but the zone by proposal; then again by the kept map alone.
		r = readShape(t, groups[c.shape], Context{Yes: true, Answers: map[string]string{"zone": "Europe/Lisbon"}})
		checkShape(t, c.shape+" with proposals", r, c.values)
		again := readShape(t, groups[c.shape], Context{Maps: r.Maps, Zone: "Europe/Lisbon"})
		checkShape(t, c.shape+" by its kept map", again, c.values)
		for _, q := range again.Questions {
			if !strings.HasPrefix(q.Key, "clock:") {
				t.Errorf("%s: the kept map leaves %s open", c.shape, q.Key)
			}
		}
		if a, b := dump(r), dump(again); a != b {
			t.Errorf("%s: by its kept map it reads otherwise:\n%s\n%s", c.shape, a, b)
		}
	}
}

func dump(r *Reading) string {
	_, records, _ := strings.Cut(report(&Reading{Records: r.Records}), "record")
	return records
}

func checkShape(t *testing.T, name string, r *Reading, values map[string]string) {
	t.Helper()
	for key, want := range values {
		id, column, _ := strings.Cut(key, " ")
		found := false
		for _, x := range r.Records {
			if x.Get("deployment_id") == id {
				found = true
				if got := x.Get(column); got != want {
					t.Errorf("%s: %s = %q, want %q", name, key, got, want)
				}
				break
			}
		}
		if !found {
			t.Errorf("%s: no record %s", name, id)
		}
	}
}

// writeWorkbooks makes the workbooks among the shapes; all places are invented.
func writeWorkbooks(t *testing.T) {
	save := func(name string, date1904 bool, fill func(f *excelize.File)) {
		if err := os.WriteFile("testdata/shapes/"+name, book1(t, date1904, fill), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	rename := func(f *excelize.File, to string) {
		if err := f.SetSheetName("Sheet1", to); err != nil {
			t.Fatal(err)
		}
	}
	dates := func(f *excelize.File, sheet, code string, cells ...string) {
		id, err := f.NewStyle(&excelize.Style{CustomNumFmt: &code})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range cells {
			if err := f.SetCellStyle(sheet, c, c, id); err != nil {
				t.Fatal(err)
			}
		}
	}
	save("04-left.xlsx", false, func(f *excelize.File) {
		rename(f, "invented")
		put(t, f, "invented", []any{"Row", "Site", "Habitat", "Out", "Baits", "1 h", "24 h"},
			[]any{"G1", "Tern Bar", "sand", 46204.375, 25, 22, 13}, []any{"G2", "Tern Bar", "mussel bed", 46204.395833333336, 25, 25, "21"},
			[]any{"G3", "Tern Bar", "sand", 46205.375, 25, 24, 9}, []any{"G4", "Tern Bar", "mussel bed", 46205.395833333336, 24, 24, 20})
		dates(f, "invented", "d-mmm-yy h:mm", "D2", "D3", "D4", "D5")
	})
	save("05-sheet-per-site.xlsx", false, func(f *excelize.File) {
		rename(f, "Read me")
		put(t, f, "Read me", []any{"Invented data"}, []any{"Team", "Curlew"}, []any{"Season", 2026}, []any{"Observers", "A. Invented"}, []any{"Time zone", "Europe/Lisbon"}, []any{"Number of baits", 25})
		for n, site := range []string{"Praia Velha", "Ponta Seca"} {
			if _, err := f.NewSheet(site); err != nil {
				t.Fatal(err)
			}
			put(t, f, site, []any{"Row", nil, "Set out", "Check 1", nil, nil, "Check 2", nil, nil}, []any{"no.", "habitat", "date and time", "date and time", "eaten so far", "lost so far", "date and time", "eaten so far", "lost so far"},
				[]any{1, "seagrass", 46204.375 + float64(n), 46204.42 + float64(n), 4, 0, 46205.38 + float64(n), 11, 1},
				[]any{2, nil, 46204.4 + float64(n), 46204.45 + float64(n), 0, 0, 46205.41 + float64(n), 3, 0})
			for _, m := range [][2]string{{"A1", "B1"}, {"D1", "F1"}, {"G1", "I1"}, {"B3", "B4"}} {
				if err := f.MergeCell(site, m[0], m[1]); err != nil {
					t.Fatal(err)
				}
			}
			dates(f, site, "dd/mm/yyyy hh:mm", "C3", "D3", "G3", "C4", "D4", "G4")
		}
	})
	save("06-serials-1904.xlsx", true, func(f *excelize.File) {
		rename(f, "log")
		// 44742.375 counted from 1904-01-01 is 2026-07-01 09:00; the format is a
		// plain number, as after pasting values.
		put(t, f, "log", []any{"deployment", "site", "habitat", "set out", "baits", "check 1 time", "consumed check 1", "check 2 time", "consumed check 2"},
			[]any{"M1", "Low Light", "sand", 44742.375, 25, 44742.41736111111, 2, 44743.37847222222, 20},
			[]any{"M2", "Low Light", "weed", 44742.39583333333, 25, "NA", "NA", 44743.40277777778, 15})
	})
}
