package publish

import (
	"archive/zip"
	"bytes"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// drawn is a record of any shape that can be: what is checked is that nothing
// of it is lost, not that it is believable.
func drawn(t *rapid.T, i int) assay.Deployment {
	text := func(name string) string {
		return rapid.OneOf(rapid.Just(""), rapid.SampledFrom([]string{"a", " b ", "=c", "é, \"d\"", "e\u0301", "two\nlines", "f  g", "urn:x", "<&>"})).Draw(t, name)
	}
	word := func(name string) string {
		return rapid.StringMatching(`[A-Za-z][a-z0-9 .:%/-]{0,8}[a-z0-9]`).Draw(t, name)
	}
	when := func(name string) assay.Moment {
		at := time.Unix(1751871600+rapid.Int64Range(0, 90000).Draw(t, name), 0).UTC()
		m := assay.Moment{At: at, OffsetS: 3600 * rapid.IntRange(-11, 12).Draw(t, name+"-offset")}
		if rapid.Bool().Draw(t, name+"-zoned") {
			m.Zone = "Europe/Lisbon"
		}
		return m
	}
	maybe := func(name string, lo, hi int) assay.Maybe[int] {
		if rapid.Bool().Draw(t, name+"?") {
			return assay.Some(rapid.IntRange(lo, hi).Draw(t, name))
		}
		return assay.None[int]()
	}
	real := func(name string, lo, hi float64) assay.Maybe[float64] {
		if rapid.Bool().Draw(t, name+"?") {
			return assay.Some(rapid.Float64Range(lo, hi).Draw(t, name))
		}
		return assay.None[float64]()
	}
	d := assay.Deployment{ID: fmt.Sprintf("D%d", i), Programme: text("programme"), Season: text("season"), Team: text("team"), Site: word("site"), Habitat: word("habitat"),
		Observers: rapid.SampledFrom([]string{"", "Blas Ficticio"}).Draw(t, "observers"), Latitude: real("lat", -90, 90), Longitude: real("lon", -180, 180),
		SetOut: when("set"), Baits: rapid.IntRange(1, 30).Draw(t, "baits"), StakesRetrieved: maybe("retrieved", 0, 30), DepthMinM: real("depth", -2, 30), DepthMaxM: real("deeper", -2, 30),
		BaitKind: text("kind"), BaitForm: rapid.SampledFrom([]string{"", "disc", "square"}).Draw(t, "form"), SpacingM: real("spacing", 0.1, 9), RowBearingDeg: real("bearing", 0, 360),
		Control: rapid.SampledFrom([]assay.Control{"", assay.NoControl, assay.Shielded}).Draw(t, "control"), TemperatureC: real("temperature", -2, 30),
		CoordinateUncertaintyM: real("uncertainty", 0, 100), Notes: text("notes")}
	yes := func(name string) assay.Maybe[bool] {
		if rapid.Bool().Draw(t, name+"?") {
			return assay.Some(rapid.Bool().Draw(t, name))
		}
		return assay.None[bool]()
	}
	if rapid.Bool().Draw(t, "more") {
		d.SetOutUntil, d.AbandonedAt, d.RetrievedAt = when("until"), when("abandoned"), when("back")
		d.DepthAt, d.BaitBatch, d.BaitSizeMM = rapid.SampledFrom([]string{"", "datum"}).Draw(t, "depth-at"), text("batch"), real("size", 1, 40)
		d.Salinity, d.VisibilityM, d.NearOtherHabitat = real("salinity", 0, 40), real("visibility", 0, 30), yes("near")
	}
	if v := text("covariate"); v != "" {
		d.Covariates = map[string]string{"swell": v}
	}
	for k := 1; k <= rapid.IntRange(0, 3).Draw(t, "checks"); k++ {
		c := assay.Check{Number: k, Consumed: maybe("consumed", 0, 30), Lost: maybe("lost", 0, 5), Unread: maybe("unread", 0, 5), WhyNot: rapid.SampledFrom([]string{"", "tide"}).Draw(t, "why")}
		if rapid.Bool().Draw(t, "timed") {
			c.At = when("check")
			if rapid.Bool().Draw(t, "lasting") {
				c.Until = when("check-until")
			}
		}
		d.Checks = append(d.Checks, c)
		if rapid.Bool().Draw(t, "stakes") {
			d.Stakes = append(d.Stakes, assay.StakeFate{Stake: 1, Check: k, Fate: assay.Consumed, How: assay.TetherGone}, assay.StakeFate{Stake: 2, Check: k, Fate: assay.Lost},
				assay.StakeFate{Stake: 3, Check: k, Fate: rapid.SampledFrom([]assay.Fate{assay.Present, assay.Unread}).Draw(t, "fate")})
		}
	}
	for range rapid.IntRange(0, 2).Draw(t, "sightings") {
		d.Sightings = append(d.Sightings, assay.Sighting{From: when("from"), Method: rapid.SampledFrom([]string{"", "video", "seen"}).Draw(t, "method"), Taxon: word("taxon"), Count: maybe("count", 0, 9), Effort: real("effort", 0, 60), EffortUnit: rapid.SampledFrom([]string{"", "minute"}).Draw(t, "unit"),
			TookBait: yes("took"), AbsenceLooked: yes("looked")})
		if rapid.Bool().Draw(t, "sighting-ends") {
			d.Sightings[len(d.Sightings)-1].To = when("to")
		}
	}
	return d
}

// What is published comes back as the same records, from the archive and from
// the tables of the package.
func TestRoundTrip(t *testing.T) {
	top := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		var ds []assay.Deployment
		for i := range rapid.IntRange(1, 4).Draw(t, "rows") {
			ds = append(ds, drawn(t, i))
		}
		n++
		dir := filepath.Join(top, fmt.Sprint(n))
		in := input(nil, ds, metadata())
		in.Findings = nil
		if _, err := Write(t.Context(), dir, in); err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(dir)
		b, err := os.ReadFile(filepath.Join(dir, "archive.zip"))
		if err != nil {
			t.Fatal(err)
		}
		a, err := ReadArchive(b)
		if err != nil {
			t.Fatal(err)
		}
		var want []map[string]string
		for i := range ds {
			want = append(want, sheet.Values(&ds[i]))
		}
		var rows []map[string]string
		for _, r := range a.Rows {
			rows = append(rows, r.Values)
		}
		if diff := cmp.Diff(want, rows); diff != "" {
			t.Fatalf("archive: %s", diff)
		}
		if got := fromPackage(t, dir); !cmp.Equal(want, got) {
			t.Fatalf("package: %s", cmp.Diff(want, got))
		}
	})
}

type failer interface{ Fatal(...any) }

// fromPackage joins deployments, stakes and sightings again, by the plain means
// of the tables' keys.
func fromPackage(t failer, dir string) []map[string]string {
	read := func(name string) []map[string]string {
		b, err := os.ReadFile(filepath.Join(dir, "datapackage", name+".csv"))
		if err != nil {
			return nil
		}
		return csvLines(t, b)
	}
	var out []map[string]string
	by := map[string]int{}
	var ds []assay.Deployment
	for _, l := range read("deployments") {
		maps.DeleteFunc(l, func(_, v string) bool { return v == "" })
		d, faults := sheet.Deployment(l)
		if faults != nil {
			t.Fatal(faults)
		}
		by[d.ID] = len(ds)
		ds = append(ds, d)
	}
	for _, l := range read("stakes") {
		d := &ds[by[l["deployment_id"]]]
		stake, _ := sheet.ParseCount("stake", l["stake"])
		check, _ := sheet.ParseCount("check", l["check"])
		d.Stakes = append(d.Stakes, assay.StakeFate{Stake: stake.Or(0), Check: check.Or(0), Fate: assay.Fate(l["fate"]), How: assay.How(l["how"])})
	}
	for _, l := range read("sightings") {
		d := &ds[by[l["deployment_id"]]]
		s, faults := sheet.Sighting(l)
		if faults != nil {
			t.Fatal(faults)
		}
		d.Sightings = append(d.Sightings, s)
	}
	for i := range ds {
		out = append(out, sheet.Values(&ds[i]))
	}
	return out
}

// An archive of the same kind of assay made elsewhere: tabs, no quotes, its own
// names for measurements. It comes in as one table with its identifiers.
func TestForeignArchive(t *testing.T) {
	b := zipOf(t, map[string]string{
		"meta.xml": `<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="eml.xml"><core rowType="http://rs.tdwg.org/dwc/terms/Event" fieldsTerminatedBy="\t" fieldsEnclosedBy="" ignoreHeaderLines="1">
<files><location>event.txt</location></files><id index="0"/><field index="0" term="http://rs.tdwg.org/dwc/terms/eventID"/><field index="1" term="http://rs.tdwg.org/dwc/terms/habitat"/><field term="http://purl.org/dc/terms/license" default="CC-BY-4.0"/></core>
<extension rowType="http://rs.iobis.org/obis/terms/ExtendedMeasurementOrFact" fieldsTerminatedBy="," fieldsEnclosedBy="&quot;" ignoreHeaderLines="1"><files><location>emof.csv</location></files><coreid index="0"/><field index="1" term="http://rs.tdwg.org/dwc/terms/measurementType"/><field index="2" term="http://rs.tdwg.org/dwc/terms/measurementValue"/></extension></archive>`,
		"event.txt": "eventID\thabitat\nX:1\tsand \"bare\"\nX:2\treef\n",
		"emof.csv":  "id,t,v\nX:1,eaten at 24 h,\"1,2\"\nX:9,eaten at 24 h,3\n",
	})
	a, err := ReadArchive(b)
	if err != nil {
		t.Fatal(err)
	}
	tables, f, err := a.tables("x.zip")
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.ReplaceAll(string(tables[0].Data), "\r", ""); got != "eventID,habitat,eaten at 24 h\nX:1,\"sand \"\"bare\"\"\",\"1,2\"\nX:2,reef,\n" {
		t.Error(got)
	}
	if id, licence := f.On(3); id != "X:2" || licence != "CC-BY-4.0" {
		t.Errorf("the second row is %s under %s", id, licence)
	}
}

func zipOf(t testing.TB, files map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(files[name])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const coreOnly = `<archive xmlns="http://rs.tdwg.org/dwc/text/"><core rowType="http://rs.tdwg.org/dwc/terms/Event"><files><location>event.csv</location></files><id index="0"/><field index="0" term="http://rs.tdwg.org/dwc/terms/eventID"/></core></archive>`

func TestArchiveWithinLimits(t *testing.T) {
	many := map[string]string{"meta.xml": coreOnly}
	for i := range maxEntries + 1 {
		many[fmt.Sprint(i)] = ""
	}
	for name, files := range map[string]map[string]string{
		"publish.archive-too-large":  many,
		"publish.archive-no-file":    {"meta.xml": coreOnly},
		"publish.archive-not-events": {"meta.xml": strings.Replace(coreOnly, "terms/Event", "terms/Taxon", 1), "event.csv": "a\n"},
		"publish.archive-encoding":   {"meta.xml": strings.Replace(coreOnly, `<core `, `<core encoding="UTF-16" `, 1), "event.csv": "a\n"},
		"publish.archive-unreadable": {"meta.xml": `<!DOCTYPE a [<!ENTITY b "c">]>` + coreOnly, "event.csv": "a\n"},
	} {
		_, err := ReadArchive(zipOf(t, files))
		refused, ok := err.(*Refused)
		if !ok || refused.Slug != name {
			t.Errorf("%s: %v", name, err)
		}
	}
	deep := strings.Repeat("<a>", maxXMLDepth+1) + strings.Repeat("</a>", maxXMLDepth+1)
	if err := plainXML([]byte(deep)); err == nil {
		t.Error("a deep document was taken")
	}
	a := &archive{left: 10}
	if _, err := (bounded{strings.NewReader(strings.Repeat("a", 20)), a}).Read(make([]byte, 20)); err != errTooLarge {
		t.Errorf("more bytes than are left: %v", err)
	}
}

func FuzzReadArchive(f *testing.F) {
	f.Add(zipOf(f, map[string]string{"meta.xml": coreOnly, "event.csv": "a\n"}))
	f.Add([]byte("PK"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if a, err := ReadArchive(b); err == nil {
			if _, _, err := a.tables("x"); err != nil {
				t.Error(err)
			}
		}
	})
}

// Fuzzing within a whole zip: what stands in the metafile and in the table.
func FuzzArchiveParts(f *testing.F) {
	f.Add(coreOnly, "a\n")
	f.Add(strings.Replace(coreOnly, "<core ", `<core fieldsTerminatedBy="\t" fieldsEnclosedBy="" `, 1), "a\tb\n")
	f.Fuzz(func(t *testing.T, meta, event string) {
		if a, err := ReadArchive(zipOf(t, map[string]string{"meta.xml": meta, "event.csv": event})); err == nil {
			_, _, _ = a.tables("x")
		}
	})
}

// A season with everything that is not told whole: practice rows never, a row
// under embargo or a stricter licence not, a sensitive place only roughly. What
// is told comes back as it was told, from archive, package and workbook, under
// the same identifiers, and says which rows are not whole.
func TestRoundTripOfWhatIsTold(t *testing.T) {
	top := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		m := metadata()
		m.People = append(m.People, Person{Name: "Iker Supuesto", Named: true, AgreedOn: "2025-07-01", Wording: "yes", EmbargoTo: "2027-01-01"})
		m.Sensitive = []Sensitive{{Site: "Owl Cove", PublishAs: "K", Decimals: 1}}
		var ds []assay.Deployment
		want, rough := map[string]bool{}, map[string]bool{}
		for i, kind := range append([]string{"plain", "sensitive"}, rapid.SliceOfN(rapid.SampledFrom([]string{"plain", "practice", "embargo", "licence", "sensitive"}), 0, 4).Draw(t, "kinds")...) {
			d := drawn(t, i)
			d.Key = fmt.Sprintf("0197e000-0000-7000-8000-%012d", i)
			id := "urn:uuid:" + d.Key
			switch kind {
			case "practice":
				d.Practice = assay.Some(true)
			case "embargo":
				d.Observers = "Iker Supuesto"
			case "licence":
				d.Licence = "CC-BY-NC-4.0"
			case "sensitive":
				d.Site, rough[id] = "Owl Cove", true
			}
			if kind == "plain" || kind == "sensitive" {
				want[id] = true
			}
			ds = append(ds, d)
		}
		dir := filepath.Join(top, fmt.Sprint(n))
		in := input(nil, ds, m)
		in.Findings = nil
		if _, err := Write(t.Context(), dir, in); err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(dir)
		r, err := prepare(&in)
		if err != nil {
			t.Fatal(err)
		}
		told := map[string]map[string]string{}
		_ = r.each(func(d row) error { told[d.Event] = sheet.Values(d.Deployment); return nil })
		var files []Source
		for _, name := range []string{"deployments", "identifiers", "stakes", "sightings"} {
			if b, err := os.ReadFile(filepath.Join(dir, "datapackage", name+".csv")); err == nil {
				files = append(files, Source{"p/" + name + ".csv", b})
			}
		}
		for _, from := range [][]Source{{read(t, dir, "archive.zip")}, {read(t, dir, "tables.xlsx")}, files} {
			rows, rest, _, err := ReadBack(from)
			if err != nil || len(rest) > 0 || len(rows) != len(want) {
				t.Fatalf("%s: %d rows of %d, %d files left: %v", from[0].Name, len(rows), len(want), len(rest), err)
			}
			for _, row := range rows {
				if !want[row.Event] || row.Licence != "CC-BY-4.0" || rough[row.Event] && !row.Partial {
					t.Errorf("%s: %s under %s, partial %v", from[0].Name, row.Event, row.Licence, row.Partial)
				}
				as := maps.Clone(told[row.Event])
				if from[0].Name == "tables.xlsx" { // cells of a workbook lose spaces about a text; a logbook keeps none
					for name, v := range as {
						as[name] = strings.TrimSpace(v)
					}
				}
				if diff := cmp.Diff(as, row.Values); diff != "" {
					t.Fatalf("%s: %s", from[0].Name, diff)
				}
			}
		}
	})
}

func read(t failer, dir, name string) Source {
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return Source{name, b}
}
