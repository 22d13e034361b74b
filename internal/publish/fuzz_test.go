package publish

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"soakline/internal/sheet"
)

// Whatever is read as a row of ours can be read as a record.
func readable(t *testing.T, files []Source) {
	rows, _, _, err := ReadBack(files)
	if err != nil {
		return
	}
	for _, r := range rows {
		if _, faults := sheet.Deployment(r.Values); faults != nil {
			t.Errorf("a row that is no record came back: %v", faults[0])
		}
	}
}

// FuzzReadPackage: tables of a package, by the names they have in one.
func FuzzReadPackage(f *testing.F) {
	dir, _ := published(f, goldenInput(f))
	read := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join(dir, "datapackage", name))
		if err != nil {
			f.Fatal(err)
		}
		return b
	}
	f.Add(read("deployments.csv"), read("identifiers.csv"), read("stakes.csv"), read("sightings.csv"))
	f.Add([]byte("deployment_id,site,habitat,deployed_at,baits_deployed\n"), []byte("deployment_id,event_id,position_generalised,declared\n"), []byte("\"\n"), []byte("\xff"))
	f.Fuzz(func(t *testing.T, deployments, identifiers, stakes, sightings []byte) {
		readable(t, []Source{{"p/deployments.csv", deployments}, {"p/identifiers.csv", identifiers}, {"p/stakes.csv", stakes}, {"p/sightings.csv", sightings}, {"p/datapackage.json", []byte("{}")}})
		readable(t, []Source{{"p.zip", zipOf(t, map[string]string{"a/datapackage.json": "{}", "a/deployments.csv": string(deployments), "a/identifiers.csv": string(identifiers), "a/stakes.csv": string(stakes)})}})
	})
}

// FuzzReadWorkbook: bytes taken for a workbook of ours.
func FuzzReadWorkbook(f *testing.F) {
	dir, _ := published(f, goldenInput(f))
	b, err := os.ReadFile(filepath.Join(dir, "tables.xlsx"))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, b []byte) { readable(t, []Source{{"w.xlsx", b}}) })
}

// FuzzWorkbookParts: what stands in the sheets of a workbook whose frame is whole.
func FuzzWorkbookParts(f *testing.F) {
	f.Add(`<row r="1"><c r="A1" t="inlineStr"><is><t>deployment_id</t></is></c></row>`, "<si><t>table</t></si>")
	f.Add(`<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>`, strings.Repeat("<si>", 100))
	f.Fuzz(func(t *testing.T, rows, shared string) {
		const main, rel = "http://schemas.openxmlformats.org/spreadsheetml/2006/main", "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
		readable(t, []Source{{"w.xlsx", zipOf(t, map[string]string{
			"[Content_Types].xml": `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>`,
			"xl/workbook.xml":     `<workbook xmlns="` + main + `" xmlns:r="` + rel + `"><sheets><sheet name="dictionary" sheetId="1" r:id="rId1"/></sheets></workbook>`,
			"xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="` + rel + `/worksheet" Target="worksheets/sheet1.xml"/>` +
				`<Relationship Id="rId2" Type="` + rel + `/sharedStrings" Target="sharedStrings.xml"/></Relationships>`,
			"xl/worksheets/sheet1.xml": `<worksheet xmlns="` + main + `"><sheetData>` + rows + `</sheetData></worksheet>`,
			"xl/sharedStrings.xml":     `<sst xmlns="` + main + `">` + shared + `</sst>`,
		})}})
	})
}
