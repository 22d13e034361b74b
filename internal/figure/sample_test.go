package figure

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"sort"
	"testing"
	"time"
)

var (
	update = flag.Bool("update", false, "rewrite the golden drawings")
	look   = flag.String("look", "", "write every sample as SVG, PNG, grey PNG and PDF into this folder, to be looked at")
)

// All places and numbers in the samples are invented.

func frame(id string, px float64) Frame {
	return Frame{ID: id, WidthMM: ScreenMM(px), Look: Screen}
}

var enWords = FateWords{"bait there", "bait gone", "not known (stake or line missing)", "not read at this check"}

// fatesOf spells fates as . present, x consumed, ? not known, o unread.
func fatesOf(s string) []Fate {
	var fs []Fate
	for _, r := range s {
		fs = append(fs, map[rune]Fate{'.': Present, 'x': Consumed, '?': NotKnown, 'o': Unread}[r])
	}
	return fs
}

func rowByStake() Row {
	return Row{
		Title: "One row of 25 stakes at each check", Desc: "9 of 25 baits gone after 1 h, 21 after 24 h, 2 not known.",
		Lines: []RowLine{
			{Label: "0 h", Sub: "set 09:00 to 09:18", Fates: fatesOf(".........................")},
			{Label: "1 h 03 min", Sub: "10:12", Result: "9 gone", Desc: "After 1 h 03 min: 9 gone.", Fates: fatesOf("..xx.....xxx.oo..x..xx..x")},
			{Label: "24 h 31 min", Sub: "next day 09:40", Result: "21 gone", Fates: fatesOf("xxxxxxx?xxxxxxx.?xxxxxx.x")},
		},
		Words: enWords,
	}
}

func rowByCount() Row {
	return Row{
		Title: "One row of 25 stakes, by count", Desc: "9 of 25 baits gone after 1 h, 21 after 24 h, 1 not known.",
		Lines: []RowLine{
			{Label: "0 h", Sub: "set 09:00", Counts: FateCounts{Present: 25}},
			{Label: "1 h 03 min", Sub: "10:03", Result: "9 gone", Counts: FateCounts{Present: 14, Consumed: 9, Unread: 2}},
			{Label: "24 h", Result: "not read: weather"},
			{Label: "48 h 10 min", Sub: "two days later 09:10", Result: "21 gone", Counts: FateCounts{Present: 3, Consumed: 21, NotKnown: 1}},
		},
		Note:  "Counts only: which stake held which bait was not written down, so the order shows numbers, not places.",
		Words: enWords,
	}
}

func longRow() Row {
	r := Row{Title: "Sixty stakes", Words: enWords, Note: "An invented row."}
	for i := range 3 {
		l := RowLine{Label: "después de veinticuatro horas y treinta y un minutos", Sub: "al día siguiente, 09:40 (UTC−05:00)", Result: "cuarenta y dos desaparecidos, tres sin dato"}
		for k := range 60 {
			l.Fates = append(l.Fates, Fate((k*(i+1)/3)%4))
		}
		r.Lines = append(r.Lines, l)
	}
	return r
}

func oneStake() Row {
	return Row{Title: "One stake", Lines: []RowLine{{Label: "1 h", Fates: fatesOf("?"), Result: "not known"}}, Words: enWords}
}

// more holds the samples of other drawings.
var more []func(both func(string, func(Frame) (*Drawing, error)))

type sample struct {
	name string
	draw func(Frame) (*Drawing, error)
	px   float64
	look Look
}

func samples() []sample {
	row := func(r Row) func(Frame) (*Drawing, error) {
		return func(f Frame) (*Drawing, error) { return DrawRow(r, f) }
	}
	small := func(r Row) func(Frame) (*Drawing, error) {
		return func(f Frame) (*Drawing, error) { return DrawRowCompact(r, f) }
	}
	var out []sample
	both := func(name string, draw func(Frame) (*Drawing, error)) {
		out = append(out, sample{name + "-1040", draw, 1040, Screen}, sample{name + "-360", draw, 360, Screen})
	}
	both("row", row(rowByStake()))
	both("row-counts", row(rowByCount()))
	both("row-60", row(longRow()))
	for _, add := range more {
		add(both)
	}
	out = append(out, sample{"row-print", row(rowByStake()), 170 * pxPerMM, Print})
	out = append(out, sample{"row-one", row(oneStake()), 360, Screen})
	out = append(out, sample{"row-compact", small(rowByStake()), 320, Screen}, sample{"row-compact-counts", small(rowByCount()), 340, Screen},
		sample{"row-compact-60", small(longRow()), 360, Screen})
	return out
}

func (s sample) make(t testing.TB) *Drawing {
	t.Helper()
	d, err := s.draw(Frame{ID: s.name, WidthMM: ScreenMM(s.px), Look: s.look})
	if err != nil {
		t.Fatalf("%s: %v", s.name, err)
	}
	return d
}

// day stands in PDFs of tests.
var day = time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)

// TestGolden holds the drawings as they were last looked at. Rewrite with
// -update and look at them (-look) before committing.
func TestGolden(t *testing.T) {
	for _, s := range samples() {
		d := s.make(t)
		svg := d.SVG()
		name := filepath.Join("testdata", s.name+".svg")
		if *update {
			if err := os.WriteFile(name, svg, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(svg, want) {
			t.Errorf("%s differs from testdata/%s.svg; look at both, then -update", s.name, s.name)
		}
		if *look != "" {
			writeLook(t, s.name, d)
		}
	}
}

func writeLook(t *testing.T, name string, d *Drawing) {
	t.Helper()
	img, err := d.Image(pxPerMM * 1.5)
	if err != nil {
		t.Fatal(err)
	}
	grey := image.NewGray(img.Bounds())
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			grey.Set(x, y, color.GrayModel.Convert(img.At(x, y)))
		}
	}
	write := func(ext string, f func(io.Writer) error) {
		w, err := os.Create(filepath.Join(*look, name+ext))
		if err != nil {
			t.Fatal(err)
		}
		if err := f(w); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}
	write(".png", func(w io.Writer) error { return png.Encode(w, img) })
	write(".grey.png", func(w io.Writer) error { return png.Encode(w, grey) })
	write(".svg", func(w io.Writer) error { _, err := w.Write(d.SVG()); return err })
	write(".pdf", func(w io.Writer) error {
		b, err := d.PDF(day, "en")
		if err != nil {
			return err
		}
		_, err = w.Write(b)
		return err
	})
}

// overlapping gives the first pair of texts whose boxes overlap.
func overlapping(d *Drawing) string {
	ts := d.Texts()
	boxes := make([]Rect, len(ts))
	order := make([]int, len(ts))
	for i, t := range ts {
		boxes[i], order[i] = t.Box(), i
	}
	sort.Slice(order, func(a, b int) bool { return boxes[order[a]].Y < boxes[order[b]].Y })
	for a, i := range order {
		for _, j := range order[a+1:] {
			if boxes[j].Y >= boxes[i].Y+boxes[i].H {
				break
			}
			if boxes[i].overlaps(boxes[j]) {
				return fmt.Sprintf("%q at %.2f and %q at %.2f", ts[i].S, boxes[i], ts[j].S, boxes[j])
			}
		}
	}
	return ""
}

// outside gives the first text that leaves the drawing by more than a hair.
func outside(d *Drawing) string {
	for _, t := range d.Texts() {
		if b := t.Box(); !b.within(Rect{-0.3, -0.3, d.W + 0.6, d.H + 0.6}) {
			return fmt.Sprintf("%q at %.2f, drawing %.2f by %.2f", t.S, b, d.W, d.H)
		}
	}
	return ""
}

// TestSamples checks what every drawing must hold.
func TestSamples(t *testing.T) {
	for _, s := range samples() {
		d := s.make(t)
		if o := overlapping(d); o != "" {
			t.Errorf("%s: texts overlap: %s", s.name, o)
		}
		if o := outside(d); o != "" {
			t.Errorf("%s: text outside: %s", s.name, o)
		}
		if len(d.Missing) > 0 {
			t.Errorf("%s: no glyph for %q", s.name, d.Missing)
		}
		checkSVG(t, s.name, d)
		again := s.make(t)
		if !bytes.Equal(d.SVG(), again.SVG()) {
			t.Errorf("%s: SVG differs between runs", s.name)
		}
		a, err := d.PNG(1)
		if err != nil {
			t.Fatal(err)
		}
		b, err := again.PNG(1)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s: PNG differs between runs", s.name)
		}
		p, err := d.PDF(day, "en")
		if err != nil {
			t.Fatalf("%s: %v", s.name, err)
		}
		q, err := again.PDF(day, "en")
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(p, q) {
			t.Errorf("%s: PDF differs between runs", s.name)
		}
	}
}

// checkSVG reads the SVG as XML: well formed, title first, ids unique and
// prefixed, nothing a strict content policy refuses.
func checkSVG(t *testing.T, name string, d *Drawing) {
	t.Helper()
	dec := xml.NewDecoder(bytes.NewReader(d.SVG()))
	ids := map[string]bool{}
	var path []string
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%s: SVG is not well formed: %v", name, err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			path = append(path, e.Name.Local)
			if n := e.Name.Local; n == "script" || n == "style" || n == "image" || n == "foreignObject" {
				t.Errorf("%s: SVG holds <%s>", name, n)
			}
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "style", "onload", "href":
					t.Errorf("%s: SVG holds the attribute %s", name, a.Name.Local)
				case "id":
					if ids[a.Value] {
						t.Errorf("%s: id %s twice", name, a.Value)
					}
					ids[a.Value] = true
				}
			}
		case xml.EndElement:
			path = path[:len(path)-1]
		}
	}
	id := svgID(d.ID)
	if !ids[id] || !ids[id+"-t"] {
		t.Errorf("%s: SVG has no id %s with title", name, id)
	}
}
