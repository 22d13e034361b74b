package publish

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/quality"
)

// everyByte goes through every file below dir, those inside zips unpacked.
func everyByte(t *testing.T, dir string, do func(name string, b []byte)) {
	t.Helper()
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		do(p, b)
		z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			return nil
		}
		for _, f := range z.File {
			r, err := f.Open()
			if err != nil {
				return err
			}
			inside, err := io.ReadAll(r)
			if err != nil {
				return err
			}
			do(p+"/"+f.Name, inside)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Nothing of a sensitive place stands in any byte of any file: neither its
// position, nor its name, nor its rows' names, nor what was noted there.
func TestSensitivePlace(t *testing.T) {
	ds := small(t)
	ds[0].Notes = "at 36.71031, below the Marnoca lighthouse"
	ds[0].Covariates = map[string]string{"landmark": "lighthouse"}
	ds[2].Notes = "moved here from Marnoca"
	m := metadata()
	m.Sensitive = []Sensitive{{Site: "Marnoca", PublishAs: "Site K", Decimals: 1, Why: "a breeding place"}}
	in := input(t, ds, m)
	in.NoFit = false
	in.Findings = append(in.Findings, assay.Finding{Slug: "position-on-land", Severity: assay.Ask, DeploymentID: "D-03", Record: quality.Record(&ds[2]),
		With: map[string]any{"km": 1.0}, Answered: true, Answer: "it is next to D-01 at Marnoca"})
	dir, res := published(t, in)
	everyByte(t, dir, func(name string, b []byte) {
		for _, secret := range []string{"36.7103", "36.7113", "4.1199", "4.1209", "Marnoca", "D-01", "D-02", "lighthouse", "next to"} {
			if bytes.Contains(b, []byte(secret)) {
				t.Errorf("%s holds %q", name, secret)
			}
		}
	})
	e := entries(t, dir)
	events := lines(t, e["event.csv"])
	row := find(t, events, "locality", "Site K")
	for _, l := range events {
		if l["locality"] == "Site K" && l["eventType"] == "deployment" {
			row = l
		}
	}
	// The cell of 0.1 degrees that holds 36.71031, -4.11992 has its middle at
	// 36.75, -4.15; the farthest corner is half a diagonal away: 0.05 degrees are
	// 5.5 km north and 4.5 km east there, so 7.1 km, rounded up 8.
	if row["decimalLatitude"] != "36.75" || row["decimalLongitude"] != "-4.15" || row["coordinateUncertaintyInMeters"] != "8000" {
		t.Errorf("position %s, %s within %s m", row["decimalLatitude"], row["decimalLongitude"], row["coordinateUncertaintyInMeters"])
	}
	if !strings.Contains(row["dataGeneralizations"], "0.1 degrees") || !strings.Contains(row["dataGeneralizations"], "breeding") || row["informationWithheld"] == "" || row["footprintWKT"] != "" {
		t.Errorf("what was done is not told: %v", row)
	}
	for _, p := range [][2]float64{{36.71031, -4.11992}, {36.71131, -4.12092}} {
		if far, _, _ := place.Between(36.75, -4.15, p[0], p[1]); far > 8000 {
			t.Errorf("the true place %v lies outside the radius", p)
		}
	}
	if len(res.Messages) != 1 || !strings.Contains(res.Messages[0].In("en"), "Site K is told only roughly (2 rows, within 8 km)") {
		t.Errorf("messages %v", res.Messages)
	}
}

// A site misspelt in the metadata would publish the true place, so it stops.
func TestSensitiveMustFit(t *testing.T) {
	for slug, s := range map[string]Sensitive{
		"publish.sensitive-in-metadata": {Site: "Marnoca", PublishAs: "K"},
		"publish.sensitive-unknown":     {Site: "Marnoka", PublishAs: "K"},
		"publish.sensitive-alias":       {Site: "Marnoca"},
		"publish.sensitive-decimals":    {Site: "Marnoca", PublishAs: "K", Decimals: 4},
	} {
		m := metadata()
		m.Sensitive = []Sensitive{s}
		m.Keywords = []string{"Marnoca"}
		var refused *Refused
		if _, err := Write(context.Background(), filepath.Join(t.TempDir(), "x"), input(t, small(t), m)); !errors.As(err, &refused) || refused.Slug != slug {
			t.Errorf("%s: %v", slug, err)
		}
	}
}

// What serves the team alone stays in its logbook: head counts and what is found
// about them, the watch, landmarks, what was left behind. The position of the last
// stake is told where that of the first is.
func TestWhatStaysAtHome(t *testing.T) {
	ds := small(t)
	for i := range ds {
		d := &ds[i]
		d.PeopleOut, d.PeopleBack = assay.Some(77), assay.Some(76)
		d.WatchReadAt, d.WatchAgainst = d.SetOut, "Tom's quartz"
		d.FirstStakeSide, d.Landmarks, d.StakesLeft = "near", "mast over Tom's roof", "stake 9 under Tom's quay"
		d.Checks[0].PeopleOut, d.Checks[0].PeopleBack = assay.Some(78), assay.Some(78)
		d.LastLatitude, d.LastLongitude = assay.Some(36.123456), assay.Some(-4.654321)
	}
	m := metadata()
	m.Sensitive = []Sensitive{{Site: ds[0].Site, PublishAs: "Site K", Decimals: 1, Why: "a breeding place"}}
	in := input(t, ds, m)
	for i := range ds {
		in.Findings = append(in.Findings, assay.Finding{Slug: "people-not-back", Severity: assay.Ask, DeploymentID: ds[i].ID, Record: quality.Record(&ds[i]), Field: "people_back",
			With: map[string]any{"out": 77, "back": 76, "visit": "setting out"}, Answered: true, Answer: "Tom walked home"})
	}
	dir, _ := published(t, in)
	last := false
	everyByte(t, dir, func(name string, b []byte) {
		for _, secret := range []string{"Tom", "77 people", "people_out", "people_back", "watch_", "landmarks", "stakes_left", "first_stake_side"} {
			if bytes.Contains(b, []byte(secret)) {
				t.Errorf("%s holds %q", name, secret)
			}
		}
		last = last || bytes.Contains(b, []byte("last_latitude"))
	})
	if !last {
		t.Error("the position of the last stake of an open site is not told")
	}
	rough, open := 0, 0
	for _, l := range lines(t, entries(t, dir)["event.csv"]) {
		if l["eventType"] != "deployment" {
			continue
		}
		if open++; l["locality"] == "Site K" {
			rough, open = rough+1, open-1
		}
	}
	table, err := os.ReadFile(filepath.Join(dir, "datapackage", "deployments.csv"))
	if err != nil {
		t.Fatal(err)
	}
	told := bytes.Count(table, []byte("36.123456"))
	if rough == 0 || open == 0 || told != open {
		t.Errorf("%d rows are rough and %d open, and %d tell the last stake", rough, open, told)
	}
}

// Without consent, with its day and wording, nobody is named in any byte; a
// minor never is; what is left out is listed.
func TestWhoMayBeNamed(t *testing.T) {
	ds := small(t)
	ds[0].Observers = "Blas Ficticio; Nerea Inventada"
	ds[1].Observers = "Iker Menor"
	ds[1].Notes = "read by nerea inventada"
	ds[2].Checks[0].Reader = "Nerea Inventada"
	m := metadata()
	m.People = append(m.People, Person{Name: "Iker Menor", Named: true, Minor: true, AgreedOn: "2025-07-01", Wording: "yes"})
	dir, res := published(t, input(t, ds, m))
	everyByte(t, dir, func(name string, b []byte) {
		for _, secret := range []string{"nerea", "iker"} {
			if bytes.Contains(bytes.ToLower(b), []byte(secret)) {
				t.Errorf("%s names %s", name, secret)
			}
		}
	})
	if b := entries(t, dir)["extendedmeasurementorfact.csv"]; !bytes.Contains(b, []byte("Blas Ficticio")) {
		t.Error("who agreed is not named")
	}
	var said []string
	for _, m := range res.Messages {
		said = append(said, m.In("en"))
	}
	if text := strings.Join(said, "\n"); !strings.Contains(text, "2 observers are not named") || !strings.Contains(text, "note of one row") {
		t.Errorf("messages: %s", text)
	}
}

// A stricter licence and an embargo keep a row out of a freer or earlier release.
func TestLicenceAndEmbargo(t *testing.T) {
	for slug, p := range map[string]Person{
		"publish.left-licence": {Name: "Nerea Inventada", Licence: "CC-BY-NC-4.0"},
		"publish.left-embargo": {Name: "Nerea Inventada", EmbargoTo: "2026-02-01"},
		"":                     {Name: "Nerea Inventada", EmbargoTo: "2026-01-31", Licence: "CC0-1.0"},
	} {
		ds := small(t)
		ds[0].Observers = "Nerea Inventada"
		m := metadata()
		m.People = append(m.People, p)
		dir, res := published(t, input(t, ds, m))
		listed := slices.ContainsFunc(res.LeftOut, func(l LeftOut) bool { return l.DeploymentID == "D-01" && l.Slug == slug })
		if there := bytes.Contains(entries(t, dir)["event.csv"], []byte("D-01")); there != (slug == "") || listed != (slug != "") {
			t.Errorf("%q: published %v, listed %v", slug, there, res.LeftOut)
		}
	}
	m := metadata()
	m.People = []Person{{Name: "Blas Ficticio", Named: true}}
	var refused *Refused
	if _, err := Write(context.Background(), filepath.Join(t.TempDir(), "x"), input(t, small(t), m)); !errors.As(err, &refused) || refused.Slug != "publish.consent-unproven" {
		t.Errorf("consent without day and wording: %v", err)
	}
}

// Ids stay; the next version says what was added, corrected and withdrawn; an
// identifier that was withdrawn is remembered.
func TestVersions(t *testing.T) {
	ds := small(t)
	for i := range ds {
		ds[i].Key = "0197e000-0000-7000-8000-00000000000" + string(rune('1'+i))
	}
	release := func(ds []assay.Deployment, before *Release) *Release {
		in := input(t, ds, metadata())
		in.Previous = before
		in.Why = func(key string) string { return "why " + key[len(key)-1:] }
		dir, _ := published(t, in)
		b, err := os.ReadFile(filepath.Join(dir, "release.json"))
		if err != nil {
			t.Fatal(err)
		}
		r, err := ReadRelease(b)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	first := release(ds[:2], nil)
	changed := slices.Clone(ds)
	changed[1].BaitKind = "dried squid, another batch"
	second := release(changed[1:], first)
	want := []change{
		{"urn:uuid:0197e000-0000-7000-8000-000000000002", "corrected", "why 2"},
		{"urn:uuid:0197e000-0000-7000-8000-000000000003", "added", "why 3"},
		{"urn:uuid:0197e000-0000-7000-8000-000000000001", "withdrawn", "why 1"},
	}
	if !slices.Equal(second.Changes, want) || !slices.Equal(second.Withdrawn, []string{want[2].Event}) {
		t.Errorf("changes %v, withdrawn %v", second.Changes, second.Withdrawn)
	}
	if third := release(changed[1:], second); len(third.Changes) != 0 || len(third.Withdrawn) != 1 {
		t.Errorf("nothing changed, yet %v, withdrawn %v", third.Changes, third.Withdrawn)
	}
	if _, err := ReadRelease([]byte("{}")); err == nil {
		t.Error("an empty release was taken")
	}
}

// plants are slips by the flag that each of them raises: in a row or in what is
// said of the data set.
var plants = map[string]func(d *assay.Deployment, m *Metadata){
	"missing":        func(_ *assay.Deployment, m *Metadata) { m.Licence = "" },
	"title-short":    func(_ *assay.Deployment, m *Metadata) { m.Title = "Baits" },
	"no-abstract":    func(_ *assay.Deployment, m *Metadata) { m.Abstract = "" },
	"abstract-short": func(_ *assay.Deployment, m *Metadata) { m.Abstract = "Short." },
	"no-publisher":   func(_ *assay.Deployment, m *Metadata) { m.Publisher = "" },
	"ids-not-global": func(_ *assay.Deployment, m *Metadata) { m.DatasetID = "" },
	"licence-nc":     func(_ *assay.Deployment, m *Metadata) { m.Licence = "CC-BY-NC-4.0" },
	"metadata-tells-place": func(_ *assay.Deployment, m *Metadata) {
		m.Sensitive = []Sensitive{{Site: "Tarn", PublishAs: "K"}}
		m.Abstract += "At Tarn."
	},
	"no-position":       func(d *assay.Deployment, _ *Metadata) { d.Latitude = assay.None[float64]() },
	"position-zero":     func(d *assay.Deployment, _ *Metadata) { d.Latitude, d.Longitude = assay.Some(0.0), assay.Some(0.0) },
	"no-uncertainty":    func(d *assay.Deployment, _ *Metadata) { d.CoordinateUncertaintyM = assay.Some(0.0) },
	"uncertainty-large": func(d *assay.Deployment, _ *Metadata) { d.CoordinateUncertaintyM = assay.Some(20_000.0) },
	"position-rounded":  func(d *assay.Deployment, _ *Metadata) { d.PositionDecimals = assay.Some(1) },
	"no-depth": func(d *assay.Deployment, _ *Metadata) {
		d.DepthMinM, d.DepthMaxM = assay.None[float64](), assay.None[float64]()
	},
	"depth-negative":    func(d *assay.Deployment, _ *Metadata) { d.DepthMinM = assay.Some(-1.0) },
	"after-publication": func(_ *assay.Deployment, m *Metadata) { m.Date = "2025-07-06" },
	"too-old": func(d *assay.Deployment, _ *Metadata) {
		d.SetOut = assay.Moment{At: time.Date(1905, 7, 7, 7, 0, 0, 0, time.UTC), OffsetS: 7200}
	},
	"never-read":          func(d *assay.Deployment, _ *Metadata) { d.Checks = nil },
	"protocol-unknown":    func(d *assay.Deployment, _ *Metadata) { d.Protocol = "nobody's 7" },
	"bait-not-told":       func(d *assay.Deployment, _ *Metadata) { d.BaitKind = "" },
	"spacing-not-told":    func(d *assay.Deployment, _ *Metadata) { d.SpacingM = assay.None[float64]() },
	"nobody-named":        func(d *assay.Deployment, _ *Metadata) { d.Observers = "" },
	"column-without-unit": func(d *assay.Deployment, _ *Metadata) { d.Covariates = map[string]string{"swell": "low"} },
	"address-in-data":     func(d *assay.Deployment, _ *Metadata) { d.Notes = "ask a@example.org" },
	"broken-accents":      func(d *assay.Deployment, _ *Metadata) { d.Notes = "tamaÃ±o" },
	"stray-spaces":        func(d *assay.Deployment, _ *Metadata) { d.Notes = "a\nb" },
	"null-as-text":        func(d *assay.Deployment, _ *Metadata) { d.Notes = "NA" },
	"taxon-unsure":        func(d *assay.Deployment, _ *Metadata) { d.Sightings[0].Taxon = "Diplodus cf. sargus" },
	"taxon-no-id":         func(d *assay.Deployment, _ *Metadata) { d.Sightings[0].Taxon = "Coris julis" },
	"sighting-uncounted":  func(d *assay.Deployment, _ *Metadata) { d.Sightings[0].Count = assay.None[int]() },
	"absence-not-looked":  func(d *assay.Deployment, _ *Metadata) { d.Sightings[1].AbsenceLooked = assay.None[bool]() },
	"no-effort":           func(d *assay.Deployment, _ *Metadata) { d.Sightings[0].EffortUnit = "" },
	"no-occurrence":       func(d *assay.Deployment, _ *Metadata) { d.Sightings = nil },
	"metadata-tells-name": func(_ *assay.Deployment, m *Metadata) {
		m.People = append(m.People, Person{Name: "Nerea Inventada"})
		m.Abstract += "By Nerea Inventada."
	},
}

// inputPlants are those in what the rules found or what was published before.
var inputPlants = map[string]func(*Input){
	"no-version": func(in *Input) { in.Previous = &Release{Version: "1.0.0"} },
	"question-open": func(in *Input) {
		in.Findings = append(in.Findings, assay.Finding{Slug: "position-on-land", Severity: assay.Ask, Record: quality.Record(&in.Deployments[0])})
	},
	"blocked": func(in *Input) {
		in.Findings = append(in.Findings, assay.Finding{Slug: "baits-missing", Severity: assay.Block, Record: quality.Record(&in.Deployments[1])})
	},
}

// Each objection of a reviewer is raised by a planted case, and by that alone.
func TestReview(t *testing.T) {
	taxa := map[string]Taxon{"Diplodus sargus": {"Diplodus sargus", "urn:lsid:marinespecies.org:taxname:127053", "species", "Animalia"},
		"Octopus vulgaris": {"Octopus vulgaris", "urn:lsid:marinespecies.org:taxname:140605", "species", "Animalia"}}
	long := strings.Repeat("What was done, where, when and what for. ", 4)
	clear := func() ([]assay.Deployment, Metadata) {
		ds := small(t)
		for i := range ds {
			ds[i].Notes, ds[i].Covariates = "", nil
			ds[i].Control = ""
		}
		ds[2].Checks[0].Unread = assay.None[int]()
		m := metadata()
		m.Abstract, m.TaxonList = long, taxa
		return ds, m
	}
	slugs := func(ds []assay.Deployment, m Metadata, more func(*Input)) []string {
		in := input(t, ds, m)
		in.Findings = slices.DeleteFunc(in.Findings, func(f assay.Finding) bool { return f.Severity == assay.Ask })
		if more != nil {
			more(&in)
		}
		p, err := Review(in)
		if err != nil {
			t.Fatal(err)
		}
		var out []string
		for _, f := range p.Flags {
			if strings.Contains(f.Text, "⟨") {
				t.Errorf("%s: %s", f.Slug, f.Text)
			}
			out = append(out, f.Slug)
		}
		slices.Sort(out)
		return out
	}
	ds, m := clear()
	if got := slugs(ds, m, nil); len(got) > 0 {
		t.Fatalf("the clear season is flagged: %v", got)
	}
	for want, plant := range plants {
		ds, m := clear()
		plant(&ds[0], &m)
		if got := slugs(ds, m, nil); !slices.Equal(got, []string{want}) {
			t.Errorf("planted %s, flagged %v", want, got)
		}
	}
	ds, m = clear()
	for want, more := range inputPlants {
		if got := slugs(ds, m, more); !slices.Equal(got, []string{want}) {
			t.Errorf("planted %s, flagged %v", want, got)
		}
	}
}

// README, citation and checksums say what a stranger needs.
func TestForAStranger(t *testing.T) {
	dir, res := published(t, input(t, small(t), metadata()))
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	for _, want := range []string{"Invented data", "CC-BY-4.0", "Ana Ejemplo", "3 rows of stakes", "25 baits a row, 2 m apart", "more than 50 %", "not counted as consumed", "deployments.csv", "- 1 row: "} {
		if !strings.Contains(read("README.md"), want) {
			t.Errorf("README.md does not say %q", want)
		}
	}
	for _, want := range []string{"cff-version: 1.2.0", `orcid: "https://orcid.org/0000-0002-1825-0097"`, "license: CC-BY-4.0", `version: "1.0.0"`} {
		if !strings.Contains(read("CITATION.cff"), want) {
			t.Errorf("CITATION.cff does not say %q", want)
		}
	}
	sums := read("SHA256SUMS")
	for _, f := range res.Files {
		if f.Path != "SHA256SUMS" && !strings.Contains(sums, f.SHA256+"  "+f.Path+"\n") {
			t.Errorf("no checksum of %s", f.Path)
		}
	}
	var p struct {
		Contributors []struct {
			Title string
			Roles []string
		}
	}
	if err := json.Unmarshal([]byte(read("datapackage/datapackage.json")), &p); err != nil || len(p.Contributors) != 4 {
		t.Errorf("contributors %v, %v", p.Contributors, err)
	}
}

// The list of a release, written row by row, is what encoding/json writes of it.
func TestReleaseIsPlainJSON(t *testing.T) {
	for _, rows := range []map[string]string{{}, {"urn:uuid:b": "2", "urn:uuid:a": "1", "x \"<&> \u2028": "3"}} {
		r := &Release{Title: `rows "rows": {}`, Rows: rows, Withdrawn: []string{"w"}, Changes: []change{{"a", "added", "why"}}}
		var b bytes.Buffer
		if err := r.write(&b); err != nil || b.String() != string(jsonBytes(r)) {
			t.Errorf("%v\n%s\nis not\n%s", err, b.String(), jsonBytes(r))
		}
		b.Reset()
		if err := r.writeRows(&b, ""); err != nil || b.String()+"\n" != string(jsonBytes(rows)) {
			t.Errorf("%v\n%s", err, b.String())
		}
	}
}
