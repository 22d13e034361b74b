package publish

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/dlclark/regexp2"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"soakline/internal/assay"
	"soakline/internal/outside"
	"soakline/internal/quality"
	"soakline/internal/sheet"
)

// moment is an instant in a test, as a sheet writes it.
func moment(t testing.TB, s string) assay.Moment {
	t.Helper()
	m, f := sheet.ParseMoment("deployed_at", s)
	if f != nil {
		t.Fatalf("%s: %v", s, f)
	}
	return m
}

// small is the smallest season that tells: a row with a loss and a sighting, a
// check that was not made, an unread bait, a control row, a practice row.
func small(t testing.TB) []assay.Deployment {
	some := assay.Some[int]
	one := func(id, site, habitat string, lat, lon float64) assay.Deployment {
		return assay.Deployment{ID: id, Programme: "Larkwater (invented)", Season: "2025", Team: "Brisa", Site: site, Habitat: habitat, Observers: "Blas Ficticio",
			Latitude: assay.Some(lat), Longitude: assay.Some(lon), PositionDecimals: assay.Some(5), CoordinateUncertaintyM: assay.Some(5.0), Protocol: "standard 1",
			SetOut: moment(t, "2025-07-07T09:00+02:00"), Baits: 25, SpacingM: assay.Some(2.0), RowBearingDeg: assay.Some(90.0), BaitKind: "dried squid",
			DepthMinM: assay.Some(2.0), DepthMaxM: assay.Some(3.0), StakesRetrieved: some(25), RetrievedAt: moment(t, "2025-07-08T09:30+02:00"),
			Checks: []assay.Check{
				{Number: 1, At: moment(t, "2025-07-07T10:00+02:00"), Consumed: some(10), Lost: some(0)},
				{Number: 2, At: moment(t, "2025-07-08T09:00+02:00"), Consumed: some(13), Lost: some(0)},
			}}
	}
	a := one("D-01", "Marnoca", "sand", 36.71031, -4.11992)
	a.Checks[1].Lost = some(10) // the hand-worked row of docs/methods/rates.md: 0.76
	a.Notes = "second line\nof a note, with = and \"quotes\""
	a.Covariates = map[string]string{"swell": "low"}
	a.Sightings = []assay.Sighting{
		{From: moment(t, "2025-07-07T09:10+02:00"), To: moment(t, "2025-07-07T09:20+02:00"), Method: "video", Effort: assay.Some(10.0), EffortUnit: "minute", Taxon: "Diplodus sargus", Count: some(3), TookBait: assay.Some(true)},
		{From: moment(t, "2025-07-07T09:10+02:00"), Method: "snorkel count", Effort: assay.Some(5.0), EffortUnit: "minute", Taxon: "Octopus vulgaris", Count: some(0), AbsenceLooked: assay.Some(true)},
	}
	b := one("D-02", "Marnoca", "seagrass", 36.71131, -4.12092)
	b.Checks[0] = assay.Check{Number: 1, WhyNot: "weather"}
	c := one("D-03", "Tarn", "sand", 36.91031, -4.31992)
	c.Checks[0].Unread = some(1)
	c.Control = assay.Shielded
	d := one("D-04", "Tarn", "sand", 36.91131, -4.32092)
	d.Practice = assay.Some(true)
	return []assay.Deployment{a, b, c, d}
}

func metadata() Metadata {
	return Metadata{Title: "Bait consumption on two invented shores, 2025", Licence: "CC-BY-4.0", Abstract: "Invented rows.\n\nA second paragraph.", Publisher: "Larkwater (invented)",
		Date: "2026-01-31", DatasetID: "https://example.org/dataset/1", Version: "1.0.0", Keywords: []string{"bait", "invented"}, Country: "ES",
		Contact: Party{Name: "Ana Ejemplo", Email: "ana@example.org", ORCID: "0000-0002-1825-0097"},
		Creator: []Party{{Name: "Ana Ejemplo", ORCID: "0000-0002-1825-0097", Organisation: "Larkwater (invented)", ROR: "03yrm5c26"}},
		Funding: []Fund{{Funder: "Nobody (invented)", Award: "X-1"}},
		Source:  []Link{{Title: "Field sheets (invented)"}},
		People:  []Person{{Name: "Blas Ficticio", Named: true, AgreedOn: "2025-07-01", Wording: "my name may stand beside the records I made"}},
	}
}

func input(t testing.TB, ds []assay.Deployment, m Metadata) Input {
	protocols, _ := sheet.Protocols()
	return Input{Deployments: ds, Protocols: protocols, Usual: sheet.DefaultProtocol, Metadata: m, Invented: true, NoFit: true,
		Findings: quality.Judge(ds, quality.Context{Protocols: protocols, Default: sheet.DefaultProtocol})}
}

// published writes into a folder of the test.
func published(t testing.TB, in Input) (dir string, res *Result) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "out")
	res, err := Write(context.Background(), dir, in)
	if err != nil {
		t.Fatal(err)
	}
	return dir, res
}

// entries are the files in the archive by name.
func entries(t testing.TB, dir string) map[string][]byte {
	t.Helper()
	z, err := zip.OpenReader(filepath.Join(dir, "archive.zip"))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if out[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// lines reads a CSV as maps by heading.
func lines(t testing.TB, b []byte) []map[string]string {
	t.Helper()
	return csvLines(t, b)
}

func csvLines(t failer, b []byte) []map[string]string {
	all, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, l := range all[1:] {
		m := map[string]string{}
		for i, c := range l {
			m[all[0][i]] = c
		}
		out = append(out, m)
	}
	return out
}

func find(t testing.TB, list []map[string]string, column, value string) map[string]string {
	t.Helper()
	for _, m := range list {
		if m[column] == value {
			return m
		}
	}
	t.Fatalf("no line with %s = %s", column, value)
	return nil
}

func TestXMLIsValid(t *testing.T) {
	xmllint := outside.Need(t, "xmllint")
	full := metadata()
	bare := Metadata{Title: "T", Licence: "CC0-1.0", Date: "2026-01-31", Contact: Party{Name: "A <&> B", Email: "a@example.org"}}
	for name, m := range map[string]Metadata{"full": full, "bare": bare} {
		dir, _ := published(t, input(t, small(t), m))
		for file, schema := range map[string]string{"eml.xml": "eml-2.2.0/eml.xsd", "meta.xml": "dwc-text/tdwg_dwc_text.offline.xsd"} {
			path := filepath.Join(t.TempDir(), file)
			if err := os.WriteFile(path, entries(t, dir)[file], 0o644); err != nil {
				t.Fatal(err)
			}
			if out, err := exec.Command(xmllint, "--nonet", "--noout", "--schema", filepath.Join("testdata", schema), path).CombinedOutput(); err != nil {
				t.Errorf("%s metadata: %s: %v\n%s", name, file, err, out)
			}
		}
	}
}

// The profiles hold look-ahead patterns, which regexp2 reads as ECMAScript does.
type lookAhead struct{ *regexp2.Regexp }

func (p lookAhead) MatchString(s string) bool {
	ok, err := p.Regexp.MatchString(s)
	return err == nil && ok
}

func TestDescriptorIsValid(t *testing.T) {
	c := jsonschema.NewCompiler()
	c.UseRegexpEngine(func(s string) (jsonschema.Regexp, error) {
		p, err := regexp2.Compile(s, regexp2.ECMAScript)
		return lookAhead{p}, err
	})
	text, err := os.ReadFile("testdata/frictionless-v2/datapackage.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := c.AddResource("profile.json", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("profile.json")
	if err != nil {
		t.Fatal(err)
	}
	ds := small(t)
	ds[2].ID = "D-01" // also where deployment_id alone does not tell rows apart
	for _, ds := range [][]assay.Deployment{small(t), ds} {
		dir, _ := published(t, input(t, ds, metadata()))
		text, err := os.ReadFile(filepath.Join(dir, "datapackage/datapackage.json"))
		if err != nil {
			t.Fatal(err)
		}
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(v); err != nil {
			t.Error(err)
		}
		checkConstraints(t, dir, text)
	}
}

// checkConstraints holds every table to its own schema: columns, types, keys,
// limits and references.
func checkConstraints(t *testing.T, dir string, text []byte) {
	t.Helper()
	var p struct {
		Resources []struct {
			Name, Path, Hash string
			Bytes            int64
			Schema           struct {
				PrimaryKey  []string
				ForeignKeys []struct {
					Fields    []string
					Reference struct {
						Resource string
						Fields   []string
					}
				}
				Fields []struct {
					Name, Type  string
					Constraints struct {
						Required bool
						Minimum  *float64
						Enum     []string
					}
				}
			}
		}
	}
	if err := json.Unmarshal(text, &p); err != nil {
		t.Fatal(err)
	}
	keys := map[string]map[string]bool{}
	for _, r := range p.Resources {
		b, err := os.ReadFile(filepath.Join(dir, "datapackage", r.Path))
		if err != nil {
			t.Fatal(err)
		}
		if int64(len(b)) != r.Bytes {
			t.Errorf("%s has %d bytes, the descriptor says %d", r.Path, len(b), r.Bytes)
		}
		head, _, _ := strings.Cut(string(b), "\r\n")
		var names []string
		for _, f := range r.Schema.Fields {
			names = append(names, f.Name)
		}
		if head != strings.Join(names, ",") {
			t.Errorf("%s begins %q, its schema says %v", r.Path, head, names)
		}
		keys[r.Name] = map[string]bool{}
		for n, l := range lines(t, b) {
			key := ""
			for _, k := range r.Schema.PrimaryKey {
				if l[k] == "" {
					t.Errorf("%s line %d has no %s", r.Path, n+2, k)
				}
				key += l[k] + "\x00"
			}
			if len(r.Schema.PrimaryKey) > 0 && keys[r.Name][key] {
				t.Errorf("%s line %d repeats its key %q", r.Path, n+2, key)
			}
			keys[r.Name][key] = true
			for _, f := range r.Schema.ForeignKeys {
				if !keys[f.Reference.Resource][l[f.Fields[0]]+"\x00"] {
					t.Errorf("%s line %d refers to %s, which is no line of %s", r.Path, n+2, l[f.Fields[0]], f.Reference.Resource)
				}
			}
			for _, f := range r.Schema.Fields {
				v := l[f.Name]
				x, err := strconv.ParseFloat(v, 64)
				switch {
				case v == "":
					if f.Constraints.Required {
						t.Errorf("%s line %d: %s is required and empty", r.Path, n+2, f.Name)
					}
				case (f.Type == "integer" || f.Type == "number") && err != nil:
					t.Errorf("%s line %d: %s is %q, not a number", r.Path, n+2, f.Name, v)
				case f.Constraints.Minimum != nil && x < *f.Constraints.Minimum:
					t.Errorf("%s line %d: %s is %s, below %g", r.Path, n+2, f.Name, v, *f.Constraints.Minimum)
				case len(f.Constraints.Enum) > 0 && !slices.Contains(f.Constraints.Enum, v):
					t.Errorf("%s line %d: %s is %q, not one of %v", r.Path, n+2, f.Name, v, f.Constraints.Enum)
				}
			}
		}
	}
}

// Terms, units and vocabulary addresses against the lists of the standards.
func TestTermsAreRegistered(t *testing.T) {
	b, err := os.ReadFile("testdata/terms/rowtypes.json")
	if err != nil {
		t.Fatal(err)
	}
	var list struct {
		RowTypes map[string]struct {
			RowType    string
			Properties []struct{ IRI string }
		}
	}
	if err := json.Unmarshal(b, &list); err != nil {
		t.Fatal(err)
	}
	registered := map[string]map[string]bool{}
	for _, r := range list.RowTypes {
		registered[r.RowType] = map[string]bool{}
		for _, p := range r.Properties {
			registered[r.RowType][p.IRI] = true
		}
	}
	for _, x := range []table{eventTable, occurrenceTable, measurementTable} {
		if registered[x.rowType] == nil {
			t.Errorf("%s is no registered class", x.rowType)
		}
		for i, c := range x.columns {
			if i == 0 && !x.core {
				continue // the column that points to the core
			}
			if !registered[x.rowType][termIRI(c)] {
				t.Errorf("%s is not registered for %s", termIRI(c), x.rowType)
			}
		}
	}
}

func TestVocabularyIsLive(t *testing.T) {
	p06, err := os.ReadFile("testdata/terms/nvs-p06-units.csv")
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Open("testdata/terms/nvs-p01-codes.txt.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	codes, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	p01 := map[string]bool{}
	for _, c := range strings.Fields(string(codes)) {
		p01[c] = true // a deprecated one ends in "!"
	}
	for _, q := range []quantity{qBaits, qRetrieved, qBaitKind, qBaitForm, qBaitSize, qBaitBatch, qSpacing, qBearing, qLength, qControl, qOtherNear, qTemperature,
		qSalinity, qVisibility, qFurther, qSoak, qMade, qConsumed, qLost, qUnread, qShare, qFate} {
		if q.p01 != "" && !p01[q.p01] {
			t.Errorf("%s: P01 has no live code %s", q.typ, q.p01)
		}
		if q.unit.code != "" && !regexp.MustCompile(`(?m)^`+q.unit.code+`,.*,false\s*$`).Match(p06) {
			t.Errorf("%s: P06 has no live unit %s", q.typ, q.unit.code)
		}
	}
}

// The star holds: ids are unique, what points to an event finds one.
func TestArchiveHoldsTogether(t *testing.T) {
	dir, res := published(t, input(t, small(t), metadata()))
	e := entries(t, dir)
	events, emof, occ := lines(t, e["event.csv"]), lines(t, e["extendedmeasurementorfact.csv"]), lines(t, e["occurrence.csv"])
	if res.Events != len(events) || res.Measurements != len(emof) || res.Occurrences != len(occ) || res.Deployments != 3 {
		t.Errorf("result says %d events, %d measurements, %d occurrences, %d rows; the files hold %d, %d, %d", res.Events, res.Measurements, res.Occurrences, res.Deployments, len(events), len(emof), len(occ))
	}
	ids := map[string]bool{}
	for _, l := range events {
		if l["eventID"] == "" || ids[l["eventID"]] {
			t.Errorf("eventID %q is empty or there twice", l["eventID"])
		}
		ids[l["eventID"]] = true
		// Filled on every level, since one archive does not look at parents.
		for _, c := range []string{"eventDate", "habitat", "samplingProtocol", "sampleSizeValue", "sampleSizeUnit", "samplingEffort", "decimalLatitude", "decimalLongitude", "geodeticDatum", "coordinateUncertaintyInMeters", "license", "minimumDepthInMeters"} {
			if l[c] == "" {
				t.Errorf("%s (%s) has no %s", l["eventID"], l["eventType"], c)
			}
		}
	}
	for _, l := range events {
		if p := l["parentEventID"]; p != "" && !ids[p] {
			t.Errorf("%s is below %s, which is no event", l["eventID"], p)
		}
	}
	for _, list := range [][]map[string]string{emof, occ} {
		for _, l := range list {
			if !ids[l["eventID"]] {
				t.Errorf("%v points to no event", l)
			}
		}
	}
}

// Missing is never zero, lost is never eaten, a control row says so.
func TestWhatIsNotKnownShows(t *testing.T) {
	dir, res := published(t, input(t, small(t), metadata()))
	e := entries(t, dir)
	events, emof, occ := lines(t, e["event.csv"]), lines(t, e["extendedmeasurementorfact.csv"]), lines(t, e["occurrence.csv"])
	value := func(event, typ string) string {
		for _, l := range emof {
			if l["eventID"] == event && l["measurementType"] == typ {
				return l["measurementValue"]
			}
		}
		return ""
	}
	a, b, c := find(t, events, "fieldNumber", "D-01"), find(t, events, "fieldNumber", "D-02"), find(t, events, "fieldNumber", "D-03")
	// n = 25, C = (10, 13), L = (0, 10): 1 - (15/25)(2/5) = 0.76 (docs/methods/rates.md).
	if got := value(checkID(a["eventID"], 2), qShare.typ); got != "0.76" {
		t.Errorf("proportion %s, want 0.76", got)
	}
	if got := value(checkID(a["eventID"], 2), qLost.typ); got != "10" {
		t.Errorf("lost %s, want 10", got)
	}
	missed := checkID(b["eventID"], 1)
	if value(missed, qMade.typ) != "no" || value(missed, qConsumed.typ) != "" || value(missed, qLost.typ) != "" {
		t.Error("a check that was not made has counts")
	}
	if r := find(t, events, "eventID", missed)["eventRemarks"]; !strings.Contains(r, "weather") {
		t.Errorf("remarks of the missed check: %q", r)
	}
	if value(checkID(c["eventID"], 1), qUnread.typ) != "1" {
		t.Error("the unread bait is not told")
	}
	if value(c["eventID"], qControl.typ) != "shielded" || !strings.Contains(c["eventRemarks"], "control row") {
		t.Error("the control row is not marked")
	}
	if strings.Contains(string(e["event.csv"]), "D-04") || len(res.LeftOut) != 1 || res.LeftOut[0].Slug != "publish.left-practice" {
		t.Errorf("the practice row: %v", res.LeftOut)
	}
	// 36.71031, -4.11992 and 24 spaces of 2 m due east: 48 m are 0.000537 degrees
	// of longitude there (111320 m x cos 36.71 = 89240 m a degree).
	if a["footprintWKT"] != "LINESTRING (-4.119920 36.710310, -4.119383 36.710310)" || a["coordinateUncertaintyInMeters"] != "53" {
		t.Errorf("footprint %s, uncertainty %s", a["footprintWKT"], a["coordinateUncertaintyInMeters"])
	}
	if a["eventDate"] != "2025-07-07T09:00+02:00/2025-07-08T09:30+02:00" || strings.Contains(a["eventRemarks"], "\n") {
		t.Errorf("date %s, remarks %q", a["eventDate"], a["eventRemarks"])
	}
	if occ[0]["occurrenceStatus"] != "present" || occ[0]["behavior"] != "taking bait" || occ[0]["basisOfRecord"] != "MachineObservation" || occ[1]["occurrenceStatus"] != "absent" || occ[1]["individualCount"] != "0" {
		t.Errorf("occurrences %v", occ)
	}
}

func TestSameBytes(t *testing.T) {
	read := func(dir string) map[string]string {
		out := map[string]string{}
		for _, name := range []string{"archive.zip", "datapackage/datapackage.json", "datapackage/deployments.csv", "deployments.geojson", "model.R", "frame.csv", "tables.xlsx", "README.md", "SHA256SUMS", "release.json", "CITATION.cff"} {
			b, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			out[name] = string(b)
		}
		return out
	}
	a, _ := published(t, input(t, small(t), metadata()))
	b, _ := published(t, input(t, small(t), metadata()))
	spend := input(t, small(t), metadata())
	spend.Spend = true // what uses its input up writes the same
	c, _ := published(t, spend)
	second, third := read(b), read(c)
	for name, text := range read(a) {
		if second[name] != text {
			t.Errorf("%s differs between two runs", name)
		}
		if third[name] != text {
			t.Errorf("%s differs where the rows may be used up", name)
		}
	}
}

func TestNothingHalfThere(t *testing.T) {
	top := t.TempDir()
	dir := filepath.Join(top, "out")
	in := input(t, small(t), metadata())
	in.Metadata.Title, in.Metadata.Contact.Email = "", ""
	var missing *Missing
	if _, err := Write(context.Background(), dir, in); !errors.As(err, &missing) || len(missing.Items) != 2 {
		t.Errorf("missing metadata: %v", err)
	}
	in = input(t, small(t), metadata())
	in.Deployments[0].Checks[1].Consumed = assay.Some(26)
	in = input(t, in.Deployments, metadata())
	var blocked *Blocked
	if _, err := Write(context.Background(), dir, in); !errors.As(err, &blocked) {
		t.Errorf("a blocked record: %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	in = input(t, small(t), metadata())
	in.Progress = func(done, _ int) {
		if done == 3 {
			stop()
		}
	}
	if _, err := Write(ctx, dir, in); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	list, err := os.ReadDir(top)
	if err != nil || len(list) != 0 {
		t.Errorf("left behind: %v, %v", list, err)
	}
	in.Progress = nil
	if err := os.MkdirAll(filepath.Join(dir, "mine"), 0o755); err != nil {
		t.Fatal(err)
	}
	var refused *Refused
	if _, err := Write(context.Background(), dir, in); !errors.As(err, &refused) || refused.Slug != "publish.out-there" {
		t.Errorf("a folder that holds something: %v", err)
	}
}

func TestLeaveOutBlocked(t *testing.T) {
	ds := small(t)
	ds[0].Checks[1].Consumed = assay.Some(26)
	in := input(t, ds, metadata())
	in.LeaveOutBlocked = true
	dir, res := published(t, in)
	if res.Deployments != 2 || !slices.ContainsFunc(res.LeftOut, func(l LeftOut) bool { return l.DeploymentID == "D-01" && l.Text != "" }) {
		t.Errorf("%d rows, left out %v", res.Deployments, res.LeftOut)
	}
	if bytes.Contains(entries(t, dir)["event.csv"], []byte("D-01")) {
		t.Error("the blocked row is in the archive")
	}
}

// Numbers from the documentation of ORCID and ROR.
func TestIdentifiers(t *testing.T) {
	for id, want := range map[string]bool{"0000-0002-1825-0097": true, "https://orcid.org/0000-0002-9079-593X": true, "0000-0002-1825-0098": false, "": false, "0000-0002-1825-00": false} {
		if validORCID(id) != want {
			t.Errorf("validORCID(%q) = %v", id, !want)
		}
	}
	for id, want := range map[string]bool{"03yrm5c26": true, "https://ror.org/01k4yrm29": true, "00epmv149": true, "04jnzhb65": true, "015hz7p22": true, "01k4yrm30": false, "1": false} {
		if validROR(id) != want {
			t.Errorf("validROR(%q) = %v", id, !want)
		}
	}
}

func TestMetadataFile(t *testing.T) {
	m, err := ReadMetadata("a.toml", []byte("title = \"T\"\n[contact]\nname = \"N\"\nemail = \"e@example.org\"\n[[creator]]\nname = \"C\"\n"))
	if err != nil || m.Title != "T" || m.Contact.Email != "e@example.org" || len(m.Creator) != 1 {
		t.Errorf("%+v, %v", m, err)
	}
	for _, bad := range []string{"titel = \"T\"", "title = 3", "title"} {
		var refused *Refused
		if _, err := ReadMetadata("a.toml", []byte(bad)); !errors.As(err, &refused) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	m.Licence, m.Date = "GPL-3.0", "2026-01-31"
	var refused *Refused
	if err := m.check(); !errors.As(err, &refused) || refused.Slug != "publish.licence-unknown" {
		t.Errorf("another licence: %v", err)
	}
}

func TestGeoJSON(t *testing.T) {
	dir, _ := published(t, input(t, small(t), metadata()))
	b, err := os.ReadFile(filepath.Join(dir, "deployments.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var g struct {
		Type     string
		BBox     []float64
		Features []struct {
			Type       string
			ID         string
			Geometry   struct{ Coordinates []float64 }
			Properties map[string]any
		}
	}
	if err := json.Unmarshal(b, &g); err != nil {
		t.Fatal(err)
	}
	f := g.Features[0]
	if g.Type != "FeatureCollection" || len(g.Features) != 3 || f.Geometry.Coordinates[0] != -4.11992 || f.Geometry.Coordinates[1] != 36.71031 ||
		f.Properties["deployment_id"] != "D-01" || f.Properties["habitat"] != "sand" || len(g.BBox) != 4 || g.BBox[0] != -4.31992 {
		t.Errorf("%+v", g)
	}
}

// The metadata's box and dates hold all that is published.
func TestCoverageHoldsTheData(t *testing.T) {
	dir, _ := published(t, input(t, small(t), metadata()))
	var d struct {
		Box struct {
			West  float64 `xml:"westBoundingCoordinate"`
			East  float64 `xml:"eastBoundingCoordinate"`
			North float64 `xml:"northBoundingCoordinate"`
			South float64 `xml:"southBoundingCoordinate"`
		} `xml:"dataset>coverage>geographicCoverage>boundingCoordinates"`
		Begin string `xml:"dataset>coverage>temporalCoverage>rangeOfDates>beginDate>calendarDate"`
		End   string `xml:"dataset>coverage>temporalCoverage>rangeOfDates>endDate>calendarDate"`
	}
	e := entries(t, dir)
	if err := xml.Unmarshal(e["eml.xml"], &d); err != nil {
		t.Fatal(err)
	}
	for _, l := range lines(t, e["event.csv"]) {
		lat, _ := strconv.ParseFloat(l["decimalLatitude"], 64)
		lon, _ := strconv.ParseFloat(l["decimalLongitude"], 64)
		if lat < d.Box.South || lat > d.Box.North || lon < d.Box.West || lon > d.Box.East {
			t.Errorf("%s lies outside the box %+v", l["eventID"], d.Box)
		}
	}
	if d.Begin != "2025-07-07" || d.End != "2025-07-08" {
		t.Errorf("dates %s to %s", d.Begin, d.End)
	}
}
