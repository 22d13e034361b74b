package task

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
)

// An invented archive of the same kind of assay made by another program: tabs,
// a site above the rows, readings below them, names and identifiers of its own.
var elsewhere = map[string]string{
	"meta.xml": `<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="about.xml"><core rowType="http://rs.tdwg.org/dwc/terms/Event" encoding="utf-8" fieldsTerminatedBy="\t" fieldsEnclosedBy="" ignoreHeaderLines="1"><files><location>event.txt</location></files><id index="0"/>
<field index="0" term="http://rs.tdwg.org/dwc/terms/eventID"/><field index="1" term="http://rs.tdwg.org/dwc/terms/parentEventID"/><field index="2" term="http://rs.tdwg.org/dwc/terms/eventType"/><field index="3" term="http://rs.tdwg.org/dwc/terms/eventDate"/><field index="4" term="http://rs.tdwg.org/dwc/terms/locality"/><field index="5" term="http://rs.tdwg.org/dwc/terms/habitat"/><field index="6" term="http://rs.tdwg.org/dwc/terms/decimalLatitude"/><field index="7" term="http://rs.tdwg.org/dwc/terms/decimalLongitude"/></core>
<extension rowType="http://rs.iobis.org/obis/terms/ExtendedMeasurementOrFact" fieldsTerminatedBy="," fieldsEnclosedBy="&quot;" ignoreHeaderLines="1"><files><location>facts.csv</location></files><coreid index="0"/><field index="1" term="http://rs.tdwg.org/dwc/terms/measurementType"/><field index="2" term="http://rs.tdwg.org/dwc/terms/measurementValue"/></extension></archive>`,
	"about.xml": `<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0"><dataset><intellectualRights><para>Under <ulink url="http://creativecommons.org/licenses/by-nc/4.0/legalcode"><citetitle>a licence</citetitle></ulink>.</para></intellectualRights></dataset></eml:eml>`,
	"event.txt": "eventID\tparentEventID\teventType\teventDate\tlocality\thabitat\tdecimalLatitude\tdecimalLongitude\n" +
		"NW:cove\t\tsite\t2024-05-01/2024-05-03\tHollow Cove\t\t36.50\t-6.30\n" +
		"NW:cove:1\tNW:cove\trow of stakes\t2024-05-01T09:00Z/2024-05-02T09:10Z\t\tsand\t36.5012\t-6.3012\n" +
		"NW:cove:1:b\tNW:cove:1\treading\t2024-05-02T09:05Z\t\tsand\t\t\n" +
		"NW:cove:1:a\tNW:cove:1\treading\t2024-05-01T10:02Z\t\tsand\t\t\n" +
		"NW:cove:2\tNW:cove\trow of stakes\t2024-05-02T09:00Z/2024-05-03T09:00Z\t\treef\t\t\n" +
		"NW:cove:2:a\tNW:cove:2\treading\t2024-05-02T10:00Z\t\treef\t\t\n",
	"facts.csv": "id,t,v\nNW:cove:1,number of baits,25\nNW:cove:2,number of baits,20\nNW:cove:1:a,consumed,3\nNW:cove:1:a,lost,0\nNW:cove:1:b,consumed,11\nNW:cove:1:b,lost,2\nNW:cove:2:a,consumed,0\nNW:cove:2:a,lost,0\n",
}

func zipped(t *testing.T, files map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, text := range files {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// It comes in by the whole import with its rows, readings, identifiers and
// licence; published again it keeps its identifiers, and stays out of a release
// that is freer than it came.
func TestArchiveFromElsewhere(t *testing.T) {
	by := By{Who: "Ana Ejemplo", When: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)}
	dir := t.TempDir()
	book := bookOf(t, filepath.Join(dir, "a.logbook"), nil, by)
	files := []File{{"elsewhere.zip", zipped(t, elsewhere)}}
	res, err := Import(context.Background(), book, files, ImportOptions{By: by, Yes: true})
	if err != nil {
		t.Fatalf("%v", err)
	}
	if res.Created != 2 {
		t.Fatalf("%d rows came in, not 2", res.Created)
	}
	s, err := Of(context.Background(), book, by.When)
	if err != nil {
		t.Fatal(err)
	}
	by2 := map[string]*assay.Deployment{}
	for i := range s.Deployments {
		by2[s.Deployments[i].GlobalID] = &s.Deployments[i]
	}
	one, two := by2["NW:cove:1"], by2["NW:cove:2"]
	if one == nil || two == nil {
		t.Fatalf("identifiers: %v", by2)
	}
	if one.Site != "Hollow Cove" || two.Site != "Hollow Cove" || two.Latitude.Or(0) != 36.5 || one.Latitude.Or(0) != 36.5012 || one.Baits != 25 || two.Habitat != "reef" || one.Licence != "CC-BY-NC-4.0" {
		t.Errorf("rows: %+v\n%+v", one, two)
	}
	if len(one.Checks) != 2 || one.Checks[0].Consumed.Or(-1) != 3 || one.Checks[1].Consumed.Or(-1) != 11 || one.Checks[1].Lost.Or(-1) != 2 || len(two.Checks) != 1 || two.Checks[0].Consumed.Or(-1) != 0 {
		t.Errorf("checks: %+v\n%+v", one.Checks, two.Checks)
	}
	if h, ok := one.SoakH(one.Checks[1]); !ok || h < 24 || h > 24.2 {
		t.Errorf("soak %v", h)
	}
	again, err := Import(context.Background(), book, files, ImportOptions{By: by, Yes: true})
	if err != nil || again.Created+again.Revised != 0 {
		t.Errorf("a second time: %+v, %v", again, err)
	}
	m := openMetadata()
	open := filepath.Join(dir, "open")
	if _, err := PublishBook(context.Background(), book, open, PublishOptions{Metadata: m, Today: by.When, LeaveOutBlocked: true, NoFit: true}); err == nil {
		t.Error("published more freely than it came")
	}
	m.Licence = "CC-BY-NC-4.0"
	if _, err := PublishBook(context.Background(), book, open, PublishOptions{Metadata: m, Today: by.When, LeaveOutBlocked: true, NoFit: true}); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(open, "datapackage", "identifiers.csv"))
	if err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, l := range lines[1:] {
		ids = append(ids, l[1])
	}
	if got := strings.Join(ids, " "); got != "NW:cove:1 NW:cove:2" {
		t.Errorf("published as %s", got)
	}
	// And back into another logbook, from the archive of ours.
	archive, err := os.ReadFile(filepath.Join(open, "archive.zip"))
	if err != nil {
		t.Fatal(err)
	}
	other := bookOf(t, filepath.Join(dir, "b.logbook"), nil, by)
	if _, err := Import(context.Background(), other, []File{{"archive.zip", archive}}, ImportOptions{By: by}); err != nil {
		t.Fatal(err)
	}
	for _, f := range fieldsByKey(t, other) {
		if !strings.HasPrefix(f["global_id"], "NW:cove:") || f["licence"] != "CC-BY-NC-4.0" {
			t.Errorf("there: %v", f)
		}
	}
}
