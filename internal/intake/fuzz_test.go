package intake

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/sheet"
)

// FuzzRead: any bytes read to the end, twice alike; every record holds
// canonical texts only, and every message has its words.
func FuzzRead(f *testing.F) {
	shapes, err := filepath.Glob("testdata/shapes/*.csv")
	if err != nil {
		f.Fatal(err)
	}
	for _, s := range shapes {
		b, err := os.ReadFile(s)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Add([]byte("id,site,habitat,out,n,check 1,gone,check 2,gone\nA,b,c,1/2/26 9:00,3,46204.5,1,\"1,5\",2\n"))
	f.Add([]byte("id,check,stake,fate\nA,1,1,P\nA,24h,2,Q\n"))
	small := Limits{FileBytes: 1 << 20, ExpandedBytes: 1 << 20, Entries: 50, Sheets: 5, Lines: 300, Columns: 40, Cells: 3000, CellBytes: 500, TextBytes: 1 << 16}
	f.Fuzz(func(t *testing.T, data []byte) {
		tables, faults := Tables("f", data, Options{Limits: small})
		if len(faults) > 0 {
			return
		}
		c := Context{Yes: true, Answers: map[string]string{"zone": "Europe/Lisbon"}}
		r := Read(tables, c)
		if a, b := report(r), report(Read(tables, c)); a != b {
			t.Fatalf("two readings differ:\n%s\n%s", a, b)
		}
		for _, q := range append(r.Questions, Read(tables, Context{}).Questions...) {
			if s := en(q.Slug, q.With); strings.HasPrefix(s, "⟨") {
				t.Fatalf("no words: %s", s)
			}
		}
		for _, x := range r.Records {
			if _, faults := x.Deployment(); len(faults) > 0 {
				t.Fatalf("%s: a text that is not canonical: %s %q", x.Where(), faults[0].Column, faults[0].Value)
			}
		}
		for _, m := range r.Maps {
			text, err := m.MarshalText()
			if err != nil {
				t.Fatal(err)
			}
			if _, err := ParseMap(text); err != nil && len(m.Columns) > 0 && !bytes.ContainsAny(data, "\x00\x01\x02\x03\x04\x05\x06\x07\x7f") {
				t.Fatalf("%v\n%s", err, text)
			}
		}
	})
}

// What is written as the canonical sheet reads back as it was.
func TestCanonicalRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching(`[A-Za-zñ][A-Za-z ,;"-]{0,8}[a-z]`).Filter(func(s string) bool { return !isBlank(s) })
		count := rapid.StringMatching(`0|[1-9]|[1-9][0-9]`)
		instant := rapid.Custom(func(t *rapid.T) string {
			return fmt.Sprintf("2026-%02d-%02dT%02d:%02d%s", rapid.IntRange(1, 12).Draw(t, "m"), rapid.IntRange(1, 28).Draw(t, "d"), rapid.IntRange(0, 23).Draw(t, "h"), rapid.IntRange(0, 59).Draw(t, "min"),
				rapid.SampledFrom([]string{"Z", "+01:00", "-03:30", "+02:00[Europe/Madrid]"}).Draw(t, "offset"))
		})
		var columns []string
		for _, c := range sheet.Columns(sheet.Wide) {
			for k := 1; k <= 2; k++ {
				if (c.Required || c.PerCheck() || rapid.Bool().Draw(t, "has "+c.Name)) && (c.PerCheck() || k == 1) && c.Kind != sheet.Depth {
					columns = append(columns, c.For(k))
				}
			}
		}
		columns = append(columns, "wind force")
		var want []map[string]string
		lines := [][]string{columns}
		for i := range rapid.IntRange(1, 5).Draw(t, "rows") {
			v := map[string]string{}
			for _, name := range columns {
				c, _, _ := sheet.Find(sheet.Wide, name)
				switch c.Kind {
				case sheet.Text, "":
					v[name] = word.Draw(t, name)
				case sheet.Count:
					v[name] = count.Draw(t, name)
				case sheet.Number:
					v[name] = rapid.StringMatching(`-?[1-9]\d?\.\d{1,3}`).Draw(t, name)
				case sheet.Degrees:
					v[name] = rapid.StringMatching(`-?[1-8]\d\.\d{2,6}`).Draw(t, name)
				case sheet.Instant:
					v[name] = instant.Draw(t, name)
				case sheet.Word:
					v[name] = rapid.SampledFrom(c.Words).Draw(t, name)
				case sheet.Flag:
					v[name] = rapid.SampledFrom([]string{"yes", "no"}).Draw(t, name)
				}
				if !c.Required && rapid.IntRange(0, 3).Draw(t, "empty") == 0 {
					v[name] = ""
				}
			}
			v["deployment_id"] = fmt.Sprintf("D%d", i)
			v["site"], v["habitat"] = "dock", "sand"
			line := make([]string, len(columns))
			for c, name := range columns {
				line[c] = v[name]
			}
			maps.DeleteFunc(v, func(_, text string) bool { return text == "" })
			lines, want = append(lines, line), append(want, v)
		}
		var b bytes.Buffer
		if err := csv.NewWriter(&b).WriteAll(lines); err != nil {
			t.Fatal(err)
		}
		tables, faults := Tables("c.csv", b.Bytes(), Options{})
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		r := Read(tables, Context{})
		if !r.Whole() || len(r.Records) != len(want) {
			t.Fatalf("%s\nfrom\n%s", report(r), b.String())
		}
		for i, x := range r.Records {
			if got := x.Values(); !maps.Equal(got, want[i]) {
				t.Fatalf("got %v\nwant %v", got, want[i])
			}
		}
	})
}

func FuzzParseMap(f *testing.F) {
	f.Add("name = \"a\"\ntable = \"deployments\"\n[[column]]\nheading = \"x\"\nto = \"site\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		if m, err := ParseMap([]byte(text)); err == nil && len(m.Columns) == 0 {
			t.Fatal("a map without columns")
		}
	})
}
