package intake

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
)

// book1 writes a workbook with excelize, our independent writer.
func book1(t testing.TB, date1904 bool, fill func(f *excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	if date1904 {
		if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &date1904}); err != nil {
			t.Fatal(err)
		}
	}
	fill(f)
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func put(t testing.TB, f *excelize.File, sheet string, rows ...[]any) {
	t.Helper()
	for i, r := range rows {
		if err := f.SetSheetRow(sheet, fmt.Sprintf("A%d", i+1), &r); err != nil {
			t.Fatal(err)
		}
	}
}

func TestWorkbookKinds(t *testing.T) {
	for _, sys := range []bool{false, true} {
		data := book1(t, sys, func(f *excelize.File) {
			put(t, f, "Sheet1", []any{"id", "set out", "day", "hour", "lat", "n", "note", "span", "red"},
				[]any{"D1", time.Date(2026, 7, 1, 9, 5, 0, 0, time.UTC), nil, nil, 36.9512, 25, "007"})
			style := func(code string) int {
				id, err := f.NewStyle(&excelize.Style{CustomNumFmt: &code})
				if err != nil {
					t.Fatal(err)
				}
				return id
			}
			// Serials by hand: 46204 is 2026-07-01 counted from 1899-12-30; the
			// other system is 1462 days less (ISO/IEC 29500-1, 18.17.4.1).
			day := 46204
			if sys {
				day -= 1462
			}
			for cell, v := range map[string]any{"B2": float64(day) + 9.0/24 + 5.0/1440, "C2": day, "D2": 0.378472222222222, "H2": 25.5 / 24, "I2": 3} {
				if err := f.SetCellValue("Sheet1", cell, v); err != nil {
					t.Fatal(err)
				}
			}
			for cell, code := range map[string]string{"B2": "dd/mm/yyyy hh:mm", "C2": `[$-C0A]d" de "mmmm" de "yyyy`, "D2": "h:mm AM/PM", "H2": "[h]:mm", "I2": `[Red]0" days"`} {
				if err := f.SetCellStyle("Sheet1", cell, cell, style(code)); err != nil {
					t.Fatal(err)
				}
			}
		})
		tb := one(t, "kinds.xlsx", data)
		want := []struct {
			text string
			kind Kind
		}{{"D1", Text}, {"2026-07-01T09:05:00", Moment}, {"2026-07-01", Day}, {"09:05:00", Clock}, {"36.9512", Number}, {"25", Number}, {"007", Text}, {"25:30:00", Clock}, {"3", Number}}
		for c, w := range want {
			if s, k := tb.Cell(0, c); s != w.text || k != w.kind {
				t.Errorf("1904 %v, column %s: %q of kind %d, want %q of kind %d", sys, tb.Header[c], s, k, w.text, w.kind)
			}
		}
	}
}

// Our serials against excelize's conversion, an independent one.
func TestSerialsAsExcelize(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		v := 61 + float64(r.IntN(70000)) + float64(r.IntN(86400))/86400
		for _, sys := range []bool{false, true} {
			want, err := excelize.ExcelDateToTime(v, sys)
			if err != nil {
				t.Fatal(err)
			}
			got, ok := serialTime(v, sys)
			if !ok || got.Sub(want.Round(time.Second)).Abs() > time.Second {
				t.Fatalf("serial %v (1904 %v) = %v, want %v", v, sys, got, want)
			}
		}
	}
}

func TestNumberText(t *testing.T) {
	for v, want := range map[float64]string{36.951200000000003: "36.9512", 0.1 + 0.2: "0.3", 25: "25", -8.2034: "-8.2034", 1e6: "1000000", 123456789012: "123456789012", 0.00001: "0.00001"} {
		if got := string(numberText(v)); got != want {
			t.Errorf("numberText(%v) = %q, want %q", v, got, want)
		}
	}
}

func TestWorkbookOfSites(t *testing.T) {
	data := book1(t, false, func(f *excelize.File) {
		put(t, f, "Sheet1", []any{"Season", "2026"}, []any{"Team", "Blue"}, []any{"Observers:", "invented"})
		if err := f.SetSheetName("Sheet1", "About"); err != nil {
			t.Fatal(err)
		}
		for _, site := range []string{"Dock", "Reef"} {
			if _, err := f.NewSheet(site); err != nil {
				t.Fatal(err)
			}
			put(t, f, site, []any{"Rows at " + site}, []any{"row", "habitat", "1 h check", nil, "24 h check", nil, "notes"},
				[]any{nil, nil, "eaten", "lost", "eaten", "lost", nil}, []any{"1", "sand", 3, 0, 9, 1, "<calm> & clear"}, []any{"2", nil, 4, 0, 9, 1})
			for _, m := range [][2]string{{"C2", "D2"}, {"E2", "F2"}, {"A2", "A3"}, {"B4", "B5"}} {
				if err := f.MergeCell(site, m[0], m[1]); err != nil {
					t.Fatal(err)
				}
			}
		}
		if _, err := f.NewSheet("old"); err != nil {
			t.Fatal(err)
		}
		put(t, f, "old", []any{"a", "b"}, []any{"c", "d"})
		if err := f.SetSheetVisible("old", false); err != nil {
			t.Fatal(err)
		}
	})
	tables, faults := Tables("sites.xlsx", data, Options{})
	if len(faults) > 0 || len(tables) != 2 {
		t.Fatalf("%d tables, %+v", len(tables), faults)
	}
	tb := &tables[1]
	if tb.Sheet != "Reef" || head(tb) != "row|habitat|1 h check / eaten|1 h check / lost|24 h check / eaten|24 h check / lost|notes" {
		t.Errorf("sheet %s, header %s", tb.Sheet, head(tb))
	}
	if got, want := cells(tb), "4: 1 | sand | 3 | 0 | 9 | 1 | <calm> & clear |\n5: 2 | sand | 4 | 0 | 9 | 1 |  |\n"; got != want {
		t.Errorf("cells\n%swant\n%s", got, want)
	}
	if len(tb.Meta) != 3 || tb.Meta[1] != (Pair{Key: "Team", Value: "Blue", Line: 2, Sheet: "About"}) {
		t.Errorf("meta %+v", tb.Meta)
	}
	if s := slugs(&tables[0]); s != "meta-sheet@0 hidden-sheet@0 title-lines@2" {
		t.Errorf("notices %s", s)
	}
}

// archive makes a zip of parts; a part may be a writer function for large ones.
func archive(t testing.TB, parts map[string]any) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for name, p := range parts {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		switch x := p.(type) {
		case string:
			_, err = io.WriteString(w, x)
		case func(io.Writer):
			x(w)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const bombBook = `<workbook xmlns:r="r"><sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>`
const bombRels = `<Relationships><Relationship Id="rId1" Type="x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="x/sharedStrings" Target="sharedStrings.xml"/></Relationships>`

func bomb(t testing.TB, sheet, shared any) []byte {
	if shared == nil {
		shared = "<sst/>"
	}
	return archive(t, map[string]any{"xl/workbook.xml": bombBook, "xl/_rels/workbook.xml.rels": bombRels, "xl/worksheets/sheet1.xml": sheet, "xl/sharedStrings.xml": shared})
}

func repeated(before, what string, n int, after string) func(io.Writer) {
	return func(w io.Writer) {
		io.WriteString(w, before)
		chunk := strings.Repeat(what, 1000)
		for range n / 1000 {
			io.WriteString(w, chunk)
		}
		io.WriteString(w, after)
	}
}

// Every crafted file is refused in words, and reading it allocates less than
// 200 MB in all (garbage counted too, so the peak is lower still).
func TestBombs(t *testing.T) {
	head := `<worksheet><sheetData>`
	manySheets := func() []byte {
		sheets, rels := "", ""
		for i := range 300 {
			sheets += fmt.Sprintf(`<sheet name="S%d" r:id="r%d"/>`, i, i)
			rels += fmt.Sprintf(`<Relationship Id="r%d" Type="x/worksheet" Target="worksheets/sheet1.xml"/>`, i)
		}
		return archive(t, map[string]any{"xl/workbook.xml": "<workbook><sheets>" + sheets + "</sheets></workbook>", "xl/_rels/workbook.xml.rels": "<Relationships>" + rels + "</Relationships>",
			"xl/worksheets/sheet1.xml": head + "</sheetData></worksheet>"})
	}
	entries := func() []byte {
		parts := map[string]any{"xl/workbook.xml": bombBook, "xl/_rels/workbook.xml.rels": bombRels}
		for i := range 3_000 {
			parts[fmt.Sprintf("x/%d", i)] = ""
		}
		return archive(t, parts)
	}
	ods := func(body string) []byte {
		return archive(t, map[string]any{"content.xml": "<document-content><body><spreadsheet>" + body + "</spreadsheet></body></document-content>"})
	}
	for _, c := range []struct {
		name, slug string
		data       []byte
	}{
		{"far column filled", "intake.too-many-columns", bomb(t, repeated(head, `<row><c r="XFD1"><v>1</v></c></row>`, 3000, "</sheetData></worksheet>"), nil)},
		{"far line filled", "intake.too-many-lines", bomb(t, head+`<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="A1048576"><v>1</v></c></row></sheetData></worksheet>`, nil)},
		{"blanks unpacked", "intake.too-much-unpacked", bomb(t, repeated(head, strings.Repeat(" ", 1000), 140_000, "</sheetData></worksheet>"), nil)},
		{"one long run of blanks", "intake.run-too-long", bomb(t, repeated(head, strings.Repeat(" ", 1000), 3_000, "</sheetData></worksheet>"), nil)},
		{"long tag", "intake.run-too-long", bomb(t, repeated(head+`<row x="`, strings.Repeat("y", 1000), 3_000, `"/></sheetData></worksheet>`), nil)},
		{"long comment", "intake.run-too-long", bomb(t, repeated(head+`<!--`, strings.Repeat("y", 1000), 3_000, `--></sheetData></worksheet>`), nil)},
		{"cells without end", "intake.too-many-cells", bomb(t, repeated(head, `<row>`+strings.Repeat(`<c><v>1</v></c>`, 200)+`</row>`, 22_000, "</sheetData></worksheet>"), nil)},
		{"one text for every cell", "intake.too-much-text", bomb(t, repeated(head, `<row><c t="s"><v>0</v></c></row>`, 100_000, "</sheetData></worksheet>"), "<sst><si><t>"+strings.Repeat("z", 30_000)+"</t></si></sst>")},
		{"shared texts without end", "intake.too-much-text", bomb(t, head+"</sheetData></worksheet>", repeated("<sst>", "<si><t>"+strings.Repeat("q", 900)+"</t></si>", 75_000, "</sst>"))},
		{"shared text too long", "intake.cell-too-long", bomb(t, head+"</sheetData></worksheet>", repeated("<sst><si>", "<t>"+strings.Repeat("q", 900)+"</t>", 1000, "</si></sst>"))},
		{"entities", "intake.doctype", bomb(t, `<!DOCTYPE x [<!ENTITY a "aaaaaaaa"><!ENTITY b "&a;&a;">]>`+head+"</sheetData></worksheet>", nil)},
		{"many parts", "intake.too-many-parts", entries()},
		{"many sheets", "intake.too-many-sheets", manySheets()},
		{"ods, cells repeated", "intake.too-many-columns", ods(`<table name="a"><table-row><table-cell number-columns-repeated="1000000000" value-type="float" value="1"/></table-row></table>`)},
		{"ods, lines repeated", "intake.too-many-lines", ods(`<table name="a"><table-row number-rows-repeated="1000000000"><table-cell value-type="float" value="1"/></table-row></table>`)},
		{"ods, both", "intake.too-many-cells", ods(`<table name="a"><table-row number-rows-repeated="200000"><table-cell number-columns-repeated="250" value-type="float" value="1"/></table-row></table>`)},
		{"csv of commas", "intake.too-many-cells", []byte("a,b\n" + strings.Repeat(strings.Repeat(",", 250)+"x\n", 30_000))},
		{"csv of line breaks", "intake.too-many-lines", []byte("a,b\n" + strings.Repeat("\n", 60<<20) + "a,b")},
	} {
		runtime.GC()
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		began := time.Now()
		tables, faults := Tables(c.name, c.data, Options{})
		took := time.Since(began)
		runtime.ReadMemStats(&after)
		mb := float64(after.TotalAlloc-before.TotalAlloc) / (1 << 20)
		t.Logf("%-26s %7d kB in, %6.1f MB allocated, %v", c.name, len(c.data)>>10, mb, took.Round(time.Millisecond))
		if tables != nil || len(faults) != 1 || faults[0].Wrong.Slug != c.slug {
			t.Errorf("%s: got %+v, want %s", c.name, faults, c.slug)
		}
		if mb > 200 {
			t.Errorf("%s: %.0f MB allocated", c.name, mb)
		}
	}
}

// Cells that are painted but empty, to the last column and line, cost nothing.
func TestPaintedSheet(t *testing.T) {
	data := bomb(t, `<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>id</t></is></c><c r="B1" t="inlineStr"><is><t>site</t></is></c><c r="XFD1" s="1"/></row>`+
		`<row r="2"><c r="A2"><v>7</v></c><c r="B2" t="str"><f>A1</f><v>dock</v></c></row><row r="1048576"><c r="A1048576" s="2"/></row></sheetData></worksheet>`, nil)
	if got, want := cells(one(t, "painted.xlsx", data)), "2: 7 | dock |\n"; got != want {
		t.Errorf("read %q, want %q", got, want)
	}
}

func TestODS(t *testing.T) {
	// Written by hand after OASIS ODF 1.3 part 3, section 9, with the padding
	// that office programs add.
	data := archive(t, map[string]any{"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": `<?xml version="1.0"?>
<office:document-content xmlns:office="o" xmlns:table="t" xmlns:text="x"><office:body><office:spreadsheet>
<table:table table:name="Dock"><table:table-column table:number-columns-repeated="3"/>
<table:table-row><table:table-cell office:value-type="string"><text:p>id</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>set out</text:p></table:table-cell><table:table-cell office:value-type="string"><office:annotation><text:p>a remark</text:p></office:annotation><text:p>eaten 1 h</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>time</text:p></table:table-cell><table:table-cell table:number-columns-repeated="16380"/></table:table-row>
<table:table-row table:number-rows-repeated="2"><table:table-cell/></table:table-row>
<table:table-row><table:table-cell office:value-type="string"><text:p>D<text:span>1</text:span></text:p></table:table-cell><table:table-cell office:value-type="date" office:date-value="2026-07-01T09:05:00"><text:p>01/07/26 09:05</text:p></table:table-cell><table:table-cell office:value-type="float" office:value="3"><text:p>3</text:p></table:table-cell><table:table-cell office:value-type="time" office:time-value="PT10H05M00S"><text:p>10:05</text:p></table:table-cell></table:table-row>
<table:table-row table:number-rows-repeated="1048571"><table:table-cell table:number-columns-repeated="16384"/></table:table-row>
</table:table></office:spreadsheet></office:body></office:document-content>`})
	tb := one(t, "d.ods", data)
	if got, want := cells(tb), "4: D1 | 2026-07-01T09:05:00 | 3 | 10:05:00 |\n"; got != want || tb.Sheet != "Dock" {
		t.Errorf("sheet %s, read %q, want %q", tb.Sheet, got, want)
	}
}

func FuzzWorksheet(f *testing.F) {
	f.Add(`<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>id</t></is></c><c r="B1" t="s"><v>0</v></c></row><row><c><v>1e300</v></c></row></sheetData><mergeCells><mergeCell ref="A1:B2"/></mergeCells></worksheet>`)
	f.Add(`<x:row r='2'><x:c r="ZZ9"/><![CDATA[a]]><!-- > --><c t="d"><v>2026-07-01</v></c>&#x41;&bad;</x:row>`)
	f.Fuzz(func(t *testing.T, sheet string) {
		small := Limits{FileBytes: 1 << 20, ExpandedBytes: 1 << 20, Entries: 50, Sheets: 5, Lines: 1000, Columns: 20, Cells: 5000, CellBytes: 500, TextBytes: 1 << 18}
		tables, faults := Tables("f.xlsx", bomb(t, sheet, `<sst><si><t>site</t></si></sst>`), Options{Limits: small})
		if (len(tables) == 0) == (len(faults) == 0) {
			t.Fatalf("%d tables and %d faults", len(tables), len(faults))
		}
	})
}

func FuzzContent(f *testing.F) {
	f.Add(`<table name="a"><table-row number-rows-repeated="2"><table-cell value-type="float" value="1" number-columns-spanned="2"/><covered-table-cell/><table-cell><p>a<s/>b</p><p>c</p></table-cell></table-row></table>`)
	f.Add(`<table><table-row><table-cell value-type="time" time-value="PT1H2M3S"/><table-cell value-type="date" date-value="2026-07-01"/></table-row></table><table/>`)
	f.Fuzz(func(t *testing.T, body string) {
		small := Limits{FileBytes: 1 << 20, ExpandedBytes: 1 << 20, Entries: 50, Sheets: 5, Lines: 1000, Columns: 20, Cells: 5000, CellBytes: 500, TextBytes: 1 << 18}
		tables, faults := Tables("f.ods", archive(t, map[string]any{"content.xml": body}), Options{Limits: small})
		if (len(tables) == 0) == (len(faults) == 0) {
			t.Fatalf("%d tables and %d faults", len(tables), len(faults))
		}
	})
}

// Other writers' ways of saying the same (ISO/IEC 29500-1 part 18): prefixed
// names, absolute targets, dates of type d, cells without references, rich
// text, formulas with their kept value, errors, a text written with _x000A_.
func TestWorkbookDialects(t *testing.T) {
	data := archive(t, map[string]any{
		"[Content_Types].xml":    `<Types/>`,
		"_rels/.rels":            `<Relationships><Relationship Id="a" Type="http://purl.oclc.org/ooxml/officeDocument/relationships/officeDocument" Target="/xl/Book.xml"/></Relationships>`,
		"xl/Book.xml":            `<?xml version="1.0"?><x:workbook xmlns:x="m" xmlns:q="r"><x:workbookPr date1904="0"/><x:sheets><x:sheet name="Log &amp; co" sheetId="9" q:id="z"/></x:sheets></x:workbook>`,
		"xl/_rels/Book.xml.rels": `<Relationships><Relationship Id="z" Type="http://purl.oclc.org/ooxml/officeDocument/relationships/worksheet" Target="/xl/worksheets/One.xml"/><Relationship Id="s" Type="x/sharedStrings" Target="strings.xml"/><Relationship Id="y" Type="x/styles" Target="styles.xml"/></Relationships>`,
		"xl/strings.xml":         `<x:sst><x:si><x:t>id</x:t></x:si><x:si><x:r><x:t>set </x:t></x:r><x:r><x:t xml:space="preserve">out</x:t></x:r><x:rPh><x:t>nonsense</x:t></x:rPh></x:si><x:si><x:t>two_x000A_lines</x:t></x:si></x:sst>`,
		"xl/styles.xml":          `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="yyyy\-mm\-dd\ hh:mm"/></numFmts><cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="164"/></cellXfs></styleSheet>`,
		"xl/worksheets/One.xml": `<x:worksheet><x:sheetData><x:row><x:c t="s"><x:v>0</x:v></x:c><x:c t="s"><x:v>1</x:v></x:c><x:c t="inlineStr"><x:is><x:t>baits</x:t></x:is></x:c><x:c t="str"><x:v>notes</x:v></x:c></x:row>` +
			`<x:row r="5"><x:c><x:v>1</x:v></x:c><x:c t="d"><x:v>2026-07-01T09:00:00</x:v></x:c><x:c><x:f>5*5</x:f><x:v>25</x:v></x:c><x:c t="s"><x:v>2</x:v></x:c></x:row>` +
			`<x:row><x:c><x:v>2</x:v></x:c><x:c s="1"><x:v>46204.375</x:v></x:c><x:c t="e"><x:v>#N/A</x:v></x:c><x:c t="b"><x:v>1</x:v></x:c></x:row></x:sheetData></x:worksheet>`,
	})
	tb := one(t, "dialect.xlsx", data)
	want := "5: 1 | 2026-07-01T09:00:00 | 25 | two\nlines |\n6: 2 | 2026-07-01T09:00:00 | #N/A | true |\n"
	if got := cells(tb); got != want || tb.Sheet != "Log & co" || head(tb) != "id|set out|baits|notes" {
		t.Errorf("sheet %q, header %q, read\n%s", tb.Sheet, head(tb), got)
	}
}

// A large workbook stays light: the cells are kept once.
func BenchmarkWorkbook20000(b *testing.B) {
	f := excelize.NewFile()
	defer f.Close()
	w, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		b.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(manyLines(20_000))), "\n")
	for i, l := range lines {
		var cells []any
		for _, c := range strings.Split(l, ",") {
			cells = append(cells, c)
		}
		if err := w.SetRow(fmt.Sprintf("A%d", i+1), cells); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	var buf bytes.Buffer
	if err := f.Write(&buf); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(buf.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if t, faults := Tables("many.xlsx", buf.Bytes(), Options{}); len(faults) > 0 || t[0].Len() != 20_000 {
			b.Fatal(faults)
		}
	}
}
