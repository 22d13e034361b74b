package task

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/internal/compare"
	"soakline/internal/publish"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// TestNothingNamesWhoDidNotAgree looks in every byte of what is there to be passed
// on for the names of people who have not agreed to be named, or are minors; who
// agreed is named where results are told by person.
func TestNothingNamesWhoDidNotAgree(t *testing.T) {
	by := By{Who: "Ana Ejemplo", When: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC), Why: "a test"}
	dir := t.TempDir()
	teams := []string{"Zoraida Ficticia", "Wenceslao Inventado", "Ximena Ejemplo; Zoraida Ficticia"}
	var rows []map[string]string
	for i := range 24 {
		day := time.Date(2025, 7, 1+i/2, 9, 10*(i%2), 0, 0, time.UTC)
		rows = append(rows, map[string]string{"deployment_id": fmt.Sprintf("T-%d", i), "site": fmt.Sprintf("Tarn %d", i%6), "habitat": []string{"sand", "reef"}[i/6%2], "team": "t",
			"latitude": fmt.Sprintf("36.91%d3", i%6), "longitude": fmt.Sprintf("-4.32%d3", i%6), "observers": teams[i%3],
			"deployed_at": day.Format(time.RFC3339), "baits_deployed": "25", "check1_at": day.Add(time.Hour).Format(time.RFC3339), "consumed_by_check1": fmt.Sprint(1 + i%5), "lost_by_check1": "0",
			"reader_of_check1": teams[i%3], "check2_at": day.Add(24 * time.Hour).Format(time.RFC3339), "consumed_by_check2": fmt.Sprint(6 + i%9), "lost_by_check2": "0"})
	}
	book := bookOf(t, filepath.Join(dir, "a.logbook"), rows, by)
	err := ChangePublication(context.Background(), book, func(m *publish.Metadata) error {
		*m = openMetadata()
		m.Abstract, m.Publisher = "Invented.", "Larkwater (invented)"
		m.People = []publish.Person{
			{Name: "Ximena Ejemplo", Named: true, AgreedOn: "2025-07-01", Wording: "My name may stand beside the records I made."},
			{Name: "Wenceslao Inventado", Named: true, Minor: true, AgreedOn: "2025-07-01", Wording: "The same."},
		}
		return nil
	}, by)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Of(context.Background(), book, by.When)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "out")
	if err := os.MkdirAll(out, 0o755); err != nil {
		t.Fatal(err)
	}
	at := func(name string) string { return filepath.Join(out, name) }
	if _, err := Freeze(context.Background(), book, at("open"), PublishOptions{Today: by.When}, by); err != nil {
		t.Fatal(err)
	}
	ask := ReportOptions{Lang: words.English, Version: "test", Seed: 1}
	for _, name := range []string{"report.html", "report.pdf"} {
		if err := WriteReport(context.Background(), s, ask, at(name), ""); err != nil {
			t.Fatal(err)
		}
	}
	o := compare.Options{By: "observers", Level: 0.95, Seed: 1}
	told := s.ToldFor(o)
	r, err := told.Rates(context.Background(), rates.Options{Level: 0.95, Group: rates.BySite, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	k, err := told.Compare(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	if err := WriteTidy(context.Background(), at("results.csv"), words.English, told, r, k); err != nil {
		t.Fatal(err)
	}
	agreed := 0
	eachText(t, out, func(file, part string, text []byte) {
		if bytes.Contains(text, []byte("Ximena")) {
			agreed++
		}
		for _, secret := range []string{"Zoraida", "Wenceslao"} {
			if i := bytes.Index(text, []byte(secret)); i >= 0 {
				t.Errorf("%s %s names %s near %.90q", file, part, secret, text[max(0, i-40):])
			}
		}
	})
	if agreed < 3 {
		t.Errorf("who agreed is named in %d files", agreed)
	}
	if same := publish.Coded(s.Deployments, []publish.Person{{Name: "Ximena Ejemplo", Named: true, AgreedOn: "2025-07-01", Wording: "x"}, {Name: "Zoraida Ficticia", Named: true, AgreedOn: "2025-07-01", Wording: "x"}, {Name: "Wenceslao Inventado", Named: true, AgreedOn: "2025-07-01", Wording: "x"}}); same != nil {
		t.Error("everybody agreed, and codes were given")
	}
	if text := strings.Join([]string{told.Deployments[0].Observers, told.Deployments[2].Observers}, " | "); text != "O2 | Ximena Ejemplo; O2" {
		t.Errorf("coded as %s", text)
	}
}
