package intake

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"pgregory.net/rapid"

	"soakline/internal/words"
)

// cells writes a table's data as text, one line each, for comparison.
func cells(t *Table) string {
	var b strings.Builder
	for i := range t.Len() {
		fmt.Fprintf(&b, "%d:", t.Line(i))
		for c := range t.Header {
			s, _ := t.Cell(i, c)
			b.WriteString(" " + s + " |")
		}
		b.WriteString("\n")
	}
	return b.String()
}

func one(t *testing.T, name string, data []byte) *Table {
	t.Helper()
	tables, faults := Tables(name, data, Options{})
	if len(faults) > 0 || len(tables) != 1 {
		t.Fatalf("%s: %d tables, faults %v", name, len(tables), faults)
	}
	return &tables[0]
}

func head(t *Table) string {
	var h []string
	for _, x := range t.Header {
		h = append(h, x.String())
	}
	return strings.Join(h, "|")
}

func slugs(t *Table) string {
	var s []string
	for _, n := range t.Notices {
		s = append(s, fmt.Sprintf("%s@%d", strings.TrimPrefix(n.Slug, "intake."), n.Line))
	}
	return strings.Join(s, " ")
}

// The same six cells in every way of writing them as text.
func TestTextFiles(t *testing.T) {
	plainText := "deployment_id,site,notes\nD1,Peñón,\"two\nlines, \"\"quoted\"\"\"\n\nD2,Bahía,last\n"
	want := "2: D1 | Peñón | two\nlines, \"quoted\" |\n5: D2 | Bahía | last |\n"
	latin, err := charmap.Windows1252.NewEncoder().String(plainText)
	if err != nil {
		t.Fatal(err)
	}
	u16 := func(e unicode.Endianness, bom unicode.BOMPolicy) string {
		s, err := unicode.UTF16(e, bom).NewEncoder().String(plainText)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for _, c := range []struct{ name, data, notices string }{
		{"utf-8", plainText, ""},
		{"utf-8 with mark", "\ufeff" + plainText, ""},
		{"windows-1252", latin, "windows-1252@2"},
		{"utf-16 little", u16(unicode.LittleEndian, unicode.UseBOM), ""},
		{"utf-16 big", u16(unicode.BigEndian, unicode.UseBOM), ""},
		{"utf-16 without mark", u16(unicode.LittleEndian, unicode.IgnoreBOM), "utf16-no-mark@0"},
		{"CR LF", strings.ReplaceAll(plainText, "\n", "\r\n"), ""},
		{"old CR", strings.ReplaceAll(plainText, "\n", "\r"), ""},
		{"semicolon", "deployment_id;site;notes\nD1;Peñón;\"two\nlines, \"\"quoted\"\"\"\n\nD2;Bahía;last\n", ""},
		{"tab", "deployment_id\tsite\tnotes\nD1\tPeñón\t\"two\nlines, \"\"quoted\"\"\"\n\nD2\tBahía\tlast\n", ""},
	} {
		tb := one(t, c.name, []byte(c.data))
		got := strings.ReplaceAll(strings.ReplaceAll(cells(tb), "\r\n", "\n"), "\r", "\n")
		if got != want {
			t.Errorf("%s: read\n%swant\n%s", c.name, got, want)
		}
		if s := slugs(tb); s != c.notices {
			t.Errorf("%s: notices %q, want %q", c.name, s, c.notices)
		}
	}
}

func TestHeaderAndSurroundings(t *testing.T) {
	for _, c := range []struct{ name, data, head, cells, meta, notices string }{
		{"title lines, pairs, comments, totals, remark",
			"Invented bay rows\nSite:,Dock\n# team: Blue\nid,habitat,baits,gone 1 h\nD1,sand,25,3\n# a pause\nD2,seagrass,25,9\nTotal,,50,12\nall rows were calm\n",
			"id|habitat|baits|gone 1 h", "5: D1 | sand | 25 | 3 |\n7: D2 | seagrass | 25 | 9 |\n",
			"team=Blue Site=Dock", "title-lines@4 totals-left-out@8 remark-left-out@9"},
		{"two-line header, group carried to the right",
			"id,site,1 h check,,24 h check,,notes\n,,eaten,lost,eaten,lost,\nD1,dock,3,0,9,1,calm\n",
			"id|site|1 h check / eaten|1 h check / lost|24 h check / eaten|24 h check / lost|notes",
			"3: D1 | dock | 3 | 0 | 9 | 1 | calm |\n", "", ""},
		{"units below", "id,depth,temp\n,(m),(°C)\nD1,2.5,19\n", "id|depth|temp", "3: D1 | 2.5 | 19 |\n", "", ""},
		{"# as a heading", "#,site,baits\n1,dock,25\n", "#|site|baits", "2: 1 | dock | 25 |\n", "", ""},
		{"# in identifiers", "id,site,baits\n#1,dock,25\n#2,dock,25\n#3,dock,24\n", "id|site|baits", "2: #1 | dock | 25 |\n3: #2 | dock | 25 |\n4: #3 | dock | 24 |\n", "", ""},
		{"sep directive", "sep=;\nid;site\nD1;a,b,c\n", "id|site", "3: D1 | a,b,c |\n", "", ""},
		{"long and short lines", "id,site,baits\nD1\nD2,dock,25,extra\nD3,dock,25\n", "id|site|baits|", "2: D1 |  |  |  |\n3: D2 | dock | 25 | extra |\n4: D3 | dock | 25 |  |\n", "", ""},
		{"header on each page", "id,site,baits\nD1,dock,25\nid,site,baits\nD2,dock,25\n", "id|site|baits", "2: D1 | dock | 25 |\n4: D2 | dock | 25 |\n", "", "header-again@3"},
		{"semicolons beat decimal commas", "id;lat;lon\nD1;36,95;-8,20\nD2;36,96;-8,21\n", "id|lat|lon", "2: D1 | 36,95 | -8,20 |\n3: D2 | 36,96 | -8,21 |\n", "", ""},
		{"quote inside a cell", "id,notes\nD1,a 5\" peg\nD2,\"b\" c\n", "id|notes", "2: D1 | a 5\" peg |\n3: D2 | b c |\n", "", ""},
	} {
		tb := one(t, c.name, []byte(c.data))
		var meta []string
		for _, p := range tb.Meta {
			meta = append(meta, p.Key+"="+p.Value)
		}
		if head(tb) != c.head || cells(tb) != c.cells || strings.Join(meta, " ") != c.meta || slugs(tb) != c.notices {
			t.Errorf("%s:\n%q\n%q\n%q\n%q\nwant\n%q\n%q\n%q\n%q", c.name, head(tb), cells(tb), strings.Join(meta, " "), slugs(tb), c.head, c.cells, c.meta, c.notices)
		}
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name, data, slug string
		line             int
	}{
		{"empty", " \n\n", "intake.file-empty", 0},
		{"nul", "id,site\nD1,do\x00ck\n", "intake.nul", 2},
		{"one column", "just\nsome\nwords\n", "intake.no-table", 0},
		{"open quote", "id,site,baits\nD1,\"dock,25\n" + strings.Repeat("D2,dock,25\n", 300), "intake.quote-open", 2},
		{"old workbook", "\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1" + strings.Repeat("\x00", 512), "intake.old-xls", 0},
		{"pdf", "%PDF-1.7\n", "intake.pdf", 0},
		{"html", "<html><table></table></html>", "intake.html", 0},
		{"zip of nothing", "PK\x05\x06" + strings.Repeat("\x00", 18), "intake.not-a-workbook", 0},
		{"two tables side by side", "Seagrass,,,,,Sand\nid,site,deployed_at,n,1h,,id,site,deployed_at,n,1h\nD1,A,2026-05-01 09:00,25,3,,S1,A,2026-05-01 09:30,25,5\n", "intake.abreast", 2},
		{"cut zip", "PK\x03\x04abcdef", "intake.damaged", 0},
	} {
		tables, faults := Tables(c.name, []byte(c.data), Options{})
		if tables != nil || len(faults) != 1 || faults[0].Wrong.Slug != c.slug || faults[0].Line != c.line {
			t.Errorf("%s: %v, %+v; want %s on line %d", c.name, tables, faults, c.slug, c.line)
			continue
		}
		if f := faults[0]; !words.Has(f.Wrong.Slug) || !words.Has(f.Do.Slug) {
			t.Errorf("%s: no words for %s or %s", c.name, f.Wrong.Slug, f.Do.Slug)
		}
	}
	if _, faults := Tables("x", []byte("id,site\nD1,a\xff\n"), Options{Encoding: "klingon"}); len(faults) != 1 || faults[0].Wrong.Slug != "intake.encoding-unknown" {
		t.Errorf("an unknown encoding gave %+v", faults)
	}
	tables, faults := Tables("x", []byte("id,site\nD1,\xe1\n"), Options{Encoding: "iso-8859-7"})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	// Checks beside each other and a position at each end of the row are one table.
	for _, one := range []string{
		"id,site,habitat,time,gone,lost,time,gone,lost\nD1,A,sand,10:00,3,0,09:00,20,0\n",
		"id,site,latitude,longitude,latitude,longitude,site\nD1,A,36.1,-9.1,36.2,-9.2,A\n",
	} {
		if _, faults := Tables("x", []byte(one), Options{}); len(faults) > 0 {
			t.Errorf("%q: %+v", one, faults)
		}
	}
	if s, _ := tables[0].Cell(0, 1); s != "α" { // 0xE1 is alpha in ISO 8859-7
		t.Errorf("iso-8859-7: read %q", s)
	}
}

// Limits hold in a text file: each crafted file is refused by its own limit.
func TestTextLimits(t *testing.T) {
	lim := Limits{FileBytes: 1 << 20, ExpandedBytes: 1 << 20, Entries: 10, Sheets: 3, Lines: 100, Columns: 10, Cells: 500, CellBytes: 50, TextBytes: 2000}
	for slug, data := range map[string]string{
		"intake.too-many-lines":   "id,site\n" + strings.Repeat("\n", 200) + "D1,dock\n",
		"intake.too-many-columns": "id,site" + strings.Repeat(",x", 20) + "\n",
		"intake.too-many-cells":   "id,site\n" + strings.Repeat("a,b,c,d,e,f,g,h\n", 80),
		"intake.cell-too-long":    "id,site\nD1," + strings.Repeat("x", 60) + "\n",
		"intake.too-much-text":    "id,site\n" + strings.Repeat(strings.Repeat("x", 45)+",b\n", 60),
		"intake.file-too-large":   strings.Repeat("id,site\n", 1<<18),
	} {
		if _, faults := Tables("x.csv", []byte(data), Options{Limits: lim}); len(faults) != 1 || faults[0].Wrong.Slug != slug {
			t.Errorf("%s: got %+v", slug, faults)
		}
	}
	// Commas to the right of the table are empty columns, not a limit passed.
	if _, faults := Tables("x.csv", []byte("id,site"+strings.Repeat(",", 40)+"\nD1,dock"+strings.Repeat(",", 40)+"\n"), Options{Limits: lim}); len(faults) > 0 {
		t.Errorf("empty columns refused: %+v", faults)
	}
}

// Against the standard library's reader as an independent method: what its
// writer writes, both read alike.
func TestSameAsStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(2, 5).Draw(t, "width")
		cell := rapid.StringMatching(`[a-z"', ;\n-]{0,6}x`)
		names := []string{"deployment_id", "site", "habitat", "baits", "notes"}
		records := [][]string{names[:width]}
		for range rapid.IntRange(1, 6).Draw(t, "lines") {
			r := []string{"D"}
			for len(r) < width {
				r = append(r, strings.TrimSpace(cell.Draw(t, "cell")))
			}
			records = append(records, r)
		}
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		if err := w.WriteAll(records); err != nil {
			t.Fatal(err)
		}
		lim := DefaultLimits()
		g, _, _, fault := readCSVSep("x", b.Bytes(), ',', &budget{Limits: lim}, 0)
		if fault != nil {
			t.Fatal(fault)
		}
		if len(g.lines) != len(records) {
			t.Fatalf("%d lines of %d from\n%s", len(g.lines), len(records), b.String())
		}
		for i, r := range records {
			for c, want := range r {
				if got, _ := g.cell(i, c); got != want {
					t.Fatalf("line %d cell %d: %q, want %q", i, c, got, want)
				}
			}
		}
	})
}

func FuzzTables(f *testing.F) {
	f.Add([]byte("deployment_id,site,baits\nD1,dock,25\n"))
	f.Add([]byte("sep=;\na;b\n\"x\"\"y\";#z\n"))
	f.Add([]byte("\xff\xfei\x00d\x00,\x00b\x00\n\x00"))
	f.Add([]byte("# k: v\nTitle\n,,\nid,1 h,,24 h\n,eaten,lost,eaten\n\"open"))
	f.Add([]byte("PK\x03\x04"))
	small := Limits{FileBytes: 1 << 20, ExpandedBytes: 1 << 20, Entries: 50, Sheets: 5, Lines: 1000, Columns: 20, Cells: 5000, CellBytes: 500, TextBytes: 1 << 18}
	f.Fuzz(func(t *testing.T, data []byte) {
		tables, faults := Tables("f", data, Options{Limits: small})
		if len(tables) == 0 && len(faults) == 0 {
			t.Fatal("neither a table nor a fault")
		}
		if len(tables) > 0 && len(faults) > 0 {
			t.Fatal("a table and a fault: a file is read whole or not at all")
		}
		for i := range tables {
			tb := &tables[i]
			for n := range tb.Len() {
				for c := range tb.Header {
					tb.Cell(n, c)
					_ = tb.Place(n, c).String()
				}
			}
			for _, n := range tb.Notices {
				if s := words.Spanish.Say(n.Slug, n.With); strings.Contains(s, "⟨") && !bytes.Contains(data, []byte("⟨")) {
					t.Fatalf("a notice without its words: %s", s)
				}
			}
		}
	})
}
