package task

import (
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"soakline/internal/logbook"
	"soakline/internal/publish"
	"soakline/internal/sheet"
)

// openMetadata names everybody that drawnSeason writes, so that nothing is withheld.
func openMetadata() publish.Metadata {
	return publish.Metadata{Title: "An invented season", Licence: "CC0-1.0", Date: "2026-10-31", Contact: publish.Party{Name: "Ana Ejemplo", Email: "a@example.org"},
		People: []publish.Person{{Name: "Blas Ficticio", Named: true, AgreedOn: "2026-01-01", Wording: "invented"}}}
}

// drawnSeason is a season of records as a logbook may hold them: canonical
// texts without outer blanks, else of any shape.
var drawnSeason = rapid.Custom(func(t *rapid.T) []map[string]string {
	text := rapid.SampledFrom([]string{"", "", "=c", "+1", "-", "NA", "é, \"d\"", "two\nlines", "f  g", "<&>", "007", "1e5", "0.10", "TRUE", "Peñón de Arriba", "_x0041_", "'quoted'"})
	when := rapid.Custom(func(t *rapid.T) string {
		at := time.Unix(1751871600+rapid.Int64Range(0, 90000).Draw(t, "at"), 0).In(time.FixedZone("", 3600*rapid.IntRange(-11, 12).Draw(t, "offset")))
		s := at.Format("2006-01-02T15:04:05Z07:00")
		if rapid.Bool().Draw(t, "bracket") {
			return at.UTC().Add(time.Hour).Format("2006-01-02T15:04") + "+01:00[Europe/Lisbon]"
		}
		return s
	})
	var out []map[string]string
	for i := range rapid.IntRange(1, 5).Draw(t, "rows") {
		v := map[string]string{"deployment_id": fmt.Sprintf("D%d", i%3), "site": rapid.SampledFrom([]string{"Marnoca", "marnoca", "Tarn", "=x"}).Draw(t, "site"), "team": fmt.Sprint("t", i),
			"habitat": rapid.SampledFrom([]string{"sand", "Sand", "reef, low"}).Draw(t, "habitat"), "deployed_at": when.Draw(t, "set"), "baits_deployed": fmt.Sprint(rapid.IntRange(1, 30).Draw(t, "baits"))}
		for _, name := range []string{"notes", "season", "programme", "bait_kind", "swell (cm)", "event type"} {
			v[name] = text.Draw(t, name)
		}
		if rapid.Bool().Draw(t, "placed") {
			v["latitude"], v["longitude"] = sheet.FormatNumber(rapid.Float64Range(-89, 89).Draw(t, "lat")), sheet.FormatNumber(rapid.Float64Range(-179, 179).Draw(t, "lon"))
		}
		v["depth_min_m"] = rapid.SampledFrom([]string{"", "0", "1.25", "-0.5", "0.1"}).Draw(t, "depth")
		v["observers"] = rapid.SampledFrom([]string{"", "Blas Ficticio"}).Draw(t, "observers")
		for k := 1; k <= rapid.IntRange(0, 2).Draw(t, "checks"); k++ {
			n := fmt.Sprint(k)
			v["check"+n+"_at"] = when.Draw(t, "check")
			v["consumed_by_check"+n] = rapid.SampledFrom([]string{"", "0", "1"}).Draw(t, "consumed")
			v["fates_at_check"+n] = rapid.SampledFrom([]string{"", "1 consumed tether gone; 2 lost"}).Draw(t, "fates")
		}
		maps.DeleteFunc(v, func(_, s string) bool { return s == "" })
		d, faults := sheet.Deployment(v)
		if faults != nil {
			delete(v, "fates_at_check1")
			delete(v, "fates_at_check2")
			d, _ = sheet.Deployment(v)
		}
		out = append(out, sheet.Values(&d))
	}
	return out
})

// What a logbook publishes comes back by the whole import, from the archive, the
// package and the workbook: the same values under the same identifiers, and
// published again the same rows.
func TestPublishedComesBackByImport(t *testing.T) {
	by := By{Who: "Ana Ejemplo", When: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)}
	for seed := range 12 {
		dir := t.TempDir()
		first := bookOf(t, filepath.Join(dir, "a.logbook"), drawnSeason.Example(seed), by)
		want := fieldsByKey(t, first)
		open := filepath.Join(dir, "open")
		s, err := Of(context.Background(), first, by.When)
		if err != nil {
			t.Fatal(err)
		}
		o := PublishOptions{Metadata: openMetadata(), Today: by.When, LeaveOutBlocked: true, NoFit: true}
		s.Findings = nil // also records that could not be
		if _, err := Publish(context.Background(), s, open, o); err != nil {
			t.Fatal(err)
		}
		for name, paths := range map[string][]string{"archive": {"archive.zip"}, "package": {"datapackage"}, "workbook": {"tables.xlsx"}} {
			second := bookOf(t, filepath.Join(dir, name+".logbook"), nil, by)
			for i := range paths {
				paths[i] = filepath.Join(open, paths[i])
			}
			files, err := ReadFiles(paths)
			if err != nil {
				t.Fatal(err)
			}
			res, err := Import(context.Background(), second, files, ImportOptions{By: by})
			if err != nil {
				t.Fatalf("seed %d, %s: %v", seed, name, err)
			}
			got := fieldsByKey(t, second)
			for _, f := range got {
				if f["licence"] != "CC0-1.0" {
					t.Errorf("seed %d, %s: licence %q", seed, name, f["licence"])
				}
				delete(f, "licence")
			}
			if diff := cmp.Diff(want, got); diff != "" || res.Created != len(want) {
				t.Fatalf("seed %d, %s: %d new\n%s", seed, name, res.Created, diff)
			}
			// Taken in where it came from, nothing changes.
			if res, err := Import(context.Background(), first, files, ImportOptions{By: by}); err != nil || res.Created+res.Revised != 0 {
				t.Errorf("seed %d, %s: on its own logbook %+v, %v", seed, name, res, err)
			}
			back, err := Of(context.Background(), second, by.When)
			if err != nil {
				t.Fatal(err)
			}
			back.Findings = nil
			again := filepath.Join(dir, "again-"+name)
			if _, err := Publish(context.Background(), back, again, o); err != nil {
				t.Fatal(err)
			}
			a, _ := os.ReadFile(filepath.Join(open, "release.json"))
			b, _ := os.ReadFile(filepath.Join(again, "release.json"))
			if string(a) != string(b) {
				t.Errorf("seed %d, %s: published again the rows differ", seed, name)
			}
		}
	}
}

func bookOf(t *testing.T, path string, rows []map[string]string, by By) *logbook.Book {
	t.Helper()
	book, err := New(context.Background(), path, Settings{}, "test", by)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	err = book.Change(context.Background(), func(tx *logbook.Tx) error {
		for _, v := range rows {
			if _, err := tx.Put(logbook.Record{Kind: kindDeployment, Fields: v}, by.stamp()); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return book
}

func fieldsByKey(t *testing.T, book *logbook.Book) map[string]map[string]string {
	t.Helper()
	out := map[string]map[string]string{}
	err := book.View(context.Background(), func(tx *logbook.Tx) error {
		return live(tx, kindDeployment, func(r logbook.Record) error {
			out[r.Key] = r.Fields
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// A publication that tells a sensitive place roughly, taken in where the true
// place is known, leaves it as it is; a row withdrawn there stays withdrawn.
func TestPublishedLessChangesNothing(t *testing.T) {
	by := By{Who: "Ana Ejemplo", When: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC), Why: "a test"}
	dir := t.TempDir()
	row := func(id, site string) map[string]string {
		return map[string]string{"deployment_id": id, "site": site, "habitat": "sand", "latitude": "36.71031", "longitude": "-4.11992", "deployed_at": "2025-07-07T09:00+02:00", "baits_deployed": "25", "team": "t", "notes": "deep water"}
	}
	book := bookOf(t, filepath.Join(dir, "a.logbook"), []map[string]string{row("D1", "Marnoca"), row("D2", "Tarn")}, by)
	s, err := Of(context.Background(), book, by.When)
	if err != nil {
		t.Fatal(err)
	}
	m := openMetadata()
	m.Sensitive = []publish.Sensitive{{Site: "Marnoca", PublishAs: "K", Decimals: 1}}
	open := filepath.Join(dir, "open")
	if _, err := Publish(context.Background(), s, open, PublishOptions{Metadata: m, Today: by.When, LeaveOutBlocked: true, NoFit: true}); err != nil {
		t.Fatal(err)
	}
	if err := Withdraw(context.Background(), book, "D2", by); err != nil {
		t.Fatal(err)
	}
	want := fieldsByKey(t, book)
	files, err := ReadFiles([]string{filepath.Join(open, "archive.zip")})
	if err != nil {
		t.Fatal(err)
	}
	res, err := Import(context.Background(), book, files, ImportOptions{By: by})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, fieldsByKey(t, book)); diff != "" {
		t.Error(diff)
	}
	var said []string
	for _, m := range res.Taken {
		said = append(said, m.In("en"))
	}
	if text := strings.Join(said, "\n"); !strings.Contains(text, "says less than the logbook") || !strings.Contains(text, "stays withdrawn") {
		t.Errorf("told: %s", text)
	}
}
