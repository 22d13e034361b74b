package publish

import (
	"bytes"
	"encoding/json"
	"flag"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/quality"
)

var update = flag.Bool("update", false, "write testdata/golden anew; read it line by line before keeping it")

// goldenInput is an invented season with one of everything that is told in a way
// of its own: a missed check, lost and unread baits, a control row, a practice
// row, stakes, animals seen and not seen, an answered question, a row withdrawn
// since, one under embargo, a sensitive place, somebody who is not named.
func goldenInput(t testing.TB) Input {
	ds := small(t)
	for i := range ds {
		ds[i].Key = "0197e000-0000-7000-8000-00000000000" + string(rune('1'+i))
	}
	ds[0].Notes = "water calm; net floats seen to the east"
	ds[1].Stakes = []assay.StakeFate{{Stake: 1, Check: 2, Fate: assay.Consumed, How: assay.TetherGone}, {Stake: 2, Check: 2, Fate: assay.Present}, {Stake: 3, Check: 2, Fate: assay.Lost}}
	ds[1].Baits, ds[1].Checks[1].Consumed, ds[1].Checks[1].Lost, ds[1].StakesRetrieved = 3, assay.Some(1), assay.Some(1), assay.Some(2)
	ds[1].Observers = "Blas Ficticio; Nerea Inventada"
	late := ds[0]
	late.ID, late.Key, late.Observers, late.Sightings, late.Covariates, late.Notes = "D-05", "0197e000-0000-7000-8000-000000000005", "Iker Supuesto", nil, nil, ""
	cove := ds[2]
	cove.ID, cove.Key, cove.Site, cove.Control, cove.Latitude, cove.Longitude = "CV-1", "0197e000-0000-7000-8000-000000000006", "Owl Cove", "", assay.Some(36.80417), assay.Some(-4.20533)
	ds = append(ds, late, cove)
	m := metadata()
	m.Version, m.Abstract = "1.1.0", "Rows of stakes with dried squid on two invented shores, read after one hour and after a day.\n\nMade up to show what an archive looks like."
	m.People = append(m.People, Person{Name: "Iker Supuesto", Named: true, AgreedOn: "2025-07-01", Wording: "my name may stand beside the records I made", EmbargoTo: "2027-01-01"})
	m.Sensitive = []Sensitive{{Site: "Owl Cove", PublishAs: "Cove K", Decimals: 1, Why: "a nesting place (invented)"}}
	m.TaxonList = map[string]Taxon{"Diplodus sargus": {"Diplodus sargus", "urn:lsid:marinespecies.org:taxname:127053", "species", "Animalia"},
		"Octopus vulgaris": {"Octopus vulgaris", "urn:lsid:marinespecies.org:taxname:140605", "species", "Animalia"}}
	in := input(t, ds, m)
	for i := range in.Findings {
		if f := &in.Findings[i]; f.Record == quality.Record(&ds[1]) && f.Severity == assay.Ask {
			f.Answered, f.Answer = true, "looked at on the sheet: as written"
		}
	}
	in.Previous = &Release{Title: m.Title, Version: "1.0.0", Date: "2025-11-30", Rows: map[string]string{
		"urn:uuid:0197e000-0000-7000-8000-000000000001": "of other values", "urn:uuid:0197e000-0000-7000-8000-000000000009": "gone since"}}
	in.Why = func(key string) string {
		return map[string]string{"0197e000-0000-7000-8000-000000000001": "the sheet says 10 lost", "0197e000-0000-7000-8000-000000000009": "set out twice by mistake"}[key]
	}
	return in
}

// goldenFiles are the files of a release as texts: those in the archive one by
// one, the workbook's sheets as lines. What is compressed has another hash with
// another version of the compressor, so those two are not told.
func goldenFiles(t *testing.T, dir string) map[string][]byte {
	out := map[string][]byte{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, _ := filepath.Rel(dir, p)
		out[filepath.ToSlash(name)], err = os.ReadFile(p)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range entries(t, dir) {
		out["archive/"+name] = b
	}
	sheets, faults := intake.Sheets("tables.xlsx", out["tables.xlsx"], intake.Options{})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	var b bytes.Buffer
	for _, s := range sheets {
		b.WriteString("== " + s.Name + "\n")
		for i := range s.Len() {
			b.WriteString(strings.Join(s.Cells(i), " | ") + "\n")
		}
	}
	out["tables.txt"] = b.Bytes()
	out["SHA256SUMS"] = regexp.MustCompile(`[0-9a-f]{64}(  (archive.zip|tables.xlsx))`).ReplaceAll(out["SHA256SUMS"], []byte("(of what is compressed)$1"))
	delete(out, "archive.zip")
	delete(out, "tables.xlsx")
	return out
}

func TestGolden(t *testing.T) {
	dir, _ := published(t, goldenInput(t))
	got := goldenFiles(t, dir)
	const top = "testdata/golden"
	if *update {
		if err := os.RemoveAll(top); err != nil {
			t.Fatal(err)
		}
		for name, b := range got {
			path := filepath.Join(top, filepath.FromSlash(name))
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, b, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	seen := 0
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		seen++
		want, err := os.ReadFile(p)
		name, _ := filepath.Rel(top, p)
		if b, there := got[filepath.ToSlash(name)]; !there || !bytes.Equal(b, want) {
			t.Errorf("%s is written otherwise than in %s; read the difference, then run with -update", name, top)
		}
		return err
	})
	if err != nil || seen != len(got) {
		t.Errorf("%d files are written, %d are kept: %v", len(got), seen, err)
	}
	for name, b := range got {
		for _, secret := range []string{"Nerea", "Iker", "Owl", "CV-1", "36.80417", "4.20533", "D-05"} {
			if bytes.Contains(b, []byte(secret)) {
				t.Errorf("%s tells %s", name, secret)
			}
		}
	}
}

// The description for the deposit of a DOI, against what the registry asks.
func TestDataCite(t *testing.T) {
	schema, err := jsonschema.NewCompiler().Compile("testdata/datacite/constraints.json")
	if err != nil {
		t.Fatal(err)
	}
	team := metadata()
	team.Creator = []Party{{Organisation: "Larkwater (invented)", ROR: "03yrm5c26"}}
	team.Funding = nil
	for name, m := range map[string]Metadata{"full": metadata(), "a team": team} {
		dir, _ := published(t, input(t, small(t), m))
		b, err := os.ReadFile(filepath.Join(dir, "datacite.json"))
		if err != nil {
			t.Fatal(err)
		}
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(v); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		delete(v.(map[string]any), "creators")
		if schema.Validate(v) == nil {
			t.Errorf("%s: a description without creators was taken", name)
		}
	}
}

// CITATION.cff line by line: the keys and forms of the Citation File Format
// 1.2.0 (its guide to the schema, from memory): cff-version, message, title and
// authors are required; every text is a quoted JSON string, which YAML reads.
func TestCitationFile(t *testing.T) {
	m := metadata()
	m.Title, m.Abstract = "Baits: a \"test\" # of \\ quotes", "x: y\n\n- z"
	m.DatasetID = "https://doi.org/10.5555/abc"
	dir, _ := published(t, input(t, small(t), m))
	b, err := os.ReadFile(filepath.Join(dir, "CITATION.cff"))
	if err != nil {
		t.Fatal(err)
	}
	forms := map[string]*regexp.Regexp{
		"cff-version": regexp.MustCompile(`^1\.2\.0$`), "type": regexp.MustCompile(`^dataset$`), "license": regexp.MustCompile(`^CC(0-1\.0|-BY-4\.0|-BY-NC-4\.0)$`),
		"date-released": regexp.MustCompile(`^"\d{4}-\d\d-\d\d"$`), "authors": regexp.MustCompile(`^$`), "doi": regexp.MustCompile(`^"10\.\d{4,9}(\.\d+)?/[A-Za-z0-9:/_;\-.()\[\]\\]+"$`),
		"orcid": regexp.MustCompile(`^"https://orcid\.org/(\d{4}-){3}\d{3}[\dX]"$`), "url": regexp.MustCompile(`^"https?://.+"$`),
		"message": nil, "title": nil, "version": nil, "abstract": nil, "family-names": nil, "given-names": nil, "affiliation": nil, "name": nil,
	}
	var there []string
	for _, l := range strings.Split(strings.TrimSuffix(string(b), "\n"), "\n") {
		key, value, ok := strings.Cut(strings.TrimPrefix(strings.TrimLeft(l, " "), "- "), ":")
		value = strings.TrimPrefix(value, " ")
		form, known := forms[key]
		var text string
		switch {
		case !ok || !known:
			t.Errorf("no key of the format: %s", l)
		case form != nil && !form.MatchString(value):
			t.Errorf("%s is %s", key, value)
		case form == nil && json.Unmarshal([]byte(value), &text) != nil:
			t.Errorf("%s is no quoted text: %s", key, value)
		}
		there = append(there, key)
	}
	for _, key := range []string{"cff-version", "message", "title", "authors", "family-names"} {
		if !slices.Contains(there, key) {
			t.Errorf("no %s", key)
		}
	}
}
