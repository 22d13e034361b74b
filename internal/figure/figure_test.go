package figure

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"math"
	"os"
	"strings"
	"testing"

	"codeberg.org/go-pdf/fpdf"
)

// TestFontsUnchanged holds the fonts to the files as published: "Source" is a
// reserved font name, so a changed file may not be kept under it.
func TestFontsUnchanged(t *testing.T) {
	sums, err := os.ReadFile("fonts/SHA256SUMS")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Fields(string(sums))
	if len(lines) != 14 {
		t.Fatalf("fonts/SHA256SUMS lists %d files, want 7", len(lines)/2)
	}
	for i := 0; i < len(lines); i += 2 {
		sum := sha256.Sum256(fontFile("fonts/" + lines[i+1]))
		if hex.EncodeToString(sum[:]) != lines[i] {
			t.Errorf("fonts/%s is not the file as published", lines[i+1])
		}
	}
	if !bytes.Contains(FontLicence(), []byte("SIL Open Font License")) {
		t.Error("the licence does not go along with the fonts")
	}
}

// TestWidthsAgreeWithPDF compares our widths with those fpdf reads from the
// same file by its own parser, which rounds each advance to 1/1000 em.
func TestWidthsAgreeWithPDF(t *testing.T) {
	p := fpdf.New("P", "mm", "A4", "")
	UseFonts(p)
	for _, s := range []string{"24 h 31 min", "después, ¿qué?", "−0.5 ≤ χ² → 12 °C", "Ωμέγα Ж"} {
		for f, style := range map[Face]string{Regular: "", Bold: "B"} {
			p.SetFont(FontFamily, style, 10)
			want := p.GetStringWidth(s)
			if got := textWidth(s, 10*25.4/72, f); math.Abs(got-want) > 0.001*float64(len(s))*10*25.4/72 {
				t.Errorf("%q in %v: %.3f mm, fpdf has %.3f", s, f, got, want)
			}
		}
	}
	if p.Err() {
		t.Fatal(p.Error())
	}
}

func TestClean(t *testing.T) {
	for _, c := range []struct{ in, want, missing string }{
		{"plain", "plain", ""},
		{"e\u0301", "é", ""},
		{"a\tb\r\nc", "a b c", ""},
		{"fish 🐟 seen", "fish □ seen", "🐟"},
		{"bad\xff", "bad□", "\uFFFD"},
		{"\u202Eabc", "abc", ""},
		{"שלום", "□□□□", "שלום"},
		{"≤ ≥ ≠ − ° → ✓ □ ⁻¹⁰⁵", "≤ ≥ ≠ − ° → ✓ □ ⁻¹⁰⁵", ""},
	} {
		got, missing := Clean(c.in)
		if got != c.want || string(missing) != c.missing {
			t.Errorf("Clean(%q) = %q, %q; want %q, %q", c.in, got, missing, c.want, c.missing)
		}
	}
}

// FuzzClean: whatever comes in, each rune that comes out has a glyph (the text
// in the PDF is what is seen), and cleaning twice changes nothing.
func FuzzClean(f *testing.F) {
	for _, s := range []string{"", "é", "🐟", "\xff\xfe", "a\u0308\u0323", "\u2028x", "ﬁ Ǻ Ω"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, _ := Clean(s)
		for _, r := range got {
			if r > 0xFFFF || !hasGlyph(r) {
				t.Fatalf("Clean(%q) holds %q, which has no glyph", s, r)
			}
		}
		if again, missing := Clean(got); again != got || missing != nil {
			t.Fatalf("Clean(%q) = %q, again %q with %q", s, got, again, missing)
		}
	})
}

func BenchmarkRowCompactSVG(b *testing.B) {
	r, f := rowByStake(), frame("b", 340)
	for b.Loop() {
		d, err := DrawRowCompact(r, f)
		if err != nil {
			b.Fatal(err)
		}
		d.SVG()
	}
}

func BenchmarkMapSVG(b *testing.B) {
	m, f := mapCrowd(60), frame("b", 1040)
	for b.Loop() {
		d, err := DrawMap(m, f)
		if err != nil {
			b.Fatal(err)
		}
		d.SVG()
	}
}

// TestHostileTexts: markup stays text, an emoji does not break the PDF, and
// what could not be printed is told.
func TestHostileTexts(t *testing.T) {
	bad := "<script>&\"'\x00\xff 🐟 \u202e]]>"
	r := Row{Title: bad, Desc: bad, Note: bad, Lines: []RowLine{{Label: bad, Sub: bad, Result: bad, Desc: bad, Fates: fatesOf("x")}},
		Words: FateWords{Consumed: bad}}
	for _, px := range []float64{360, 1040} {
		d, err := DrawRow(r, Frame{ID: bad, WidthMM: ScreenMM(px), Look: Screen})
		if err != nil {
			t.Fatal(err)
		}
		checkSVG(t, "hostile", d)
		if _, err := d.PDF(day, "en"); err != nil {
			t.Error(err)
		}
		if string(d.Missing) != "\uFFFD🐟" {
			t.Errorf("missing %q", d.Missing)
		}
	}
}

func TestContrast(t *testing.T) {
	// WCAG 2.2: black on white is 21; #767676 on white is the well-known least
	// grey above 4.5 (4.54, from memory).
	white := RGB{255, 255, 255}
	if c := Contrast(RGB{}, white); math.Abs(c-21) > 1e-9 {
		t.Errorf("black on white %g, want 21", c)
	}
	if c := Contrast(RGB{0x76, 0x76, 0x76}, white); math.Abs(c-4.54) > 0.005 {
		t.Errorf("#767676 on white %.3f, want 4.54", c)
	}
	for _, paper := range []RGB{Screen.Paper, Print.Paper} {
		for _, r := range []Role{Ink, Mute, Warm} { // words: WCAG 1.4.3
			if c := Contrast(roleRGB[r], paper); c < 4.5 {
				t.Errorf("words in %s on %v: contrast %.2f, want 4.5", roleName[r], paper, c)
			}
		}
		for _, r := range []Role{Bait, Gone, NoNews, Sea, Series0, Series1, Series2, Shore} { // marks: WCAG 1.4.11
			if c := Contrast(roleRGB[r], paper); c < 3 {
				t.Errorf("marks in %s on %v: contrast %.2f, want 3", roleName[r], paper, c)
			}
		}
		// Land is the only plain area: it must stand off the ground on a grey print
		// and let its labels be read.
		if c := Contrast(roleRGB[Land], paper); c < 1.15 {
			t.Errorf("land on %v: contrast %.2f", paper, c)
		}
	}
	if c := Contrast(roleRGB[Ink], roleRGB[Land]); c < 4.5 {
		t.Errorf("words on land: contrast %.2f", c)
	}
}

// TestNeighbouringSeriesInGrey: groups drawn one after the other differ in
// luminance on a grey print, beside their marks and labels.
func TestNeighbouringSeriesInGrey(t *testing.T) {
	for k := range seriesCount {
		a, b := roleRGB[seriesRole(k)], roleRGB[seriesRole(k+1)]
		if d := math.Abs(a.Luminance() - b.Luminance()); d < 0.03 {
			t.Errorf("series %d and %d: luminance differs by %.3f only", k, k+1, d)
		}
	}
}

// inked gives the pixels of one mark drawn alone, colour dropped: true where
// the grey is darker than the paper by a fifth of the whole range.
func inked(t *testing.T, f Fate, compact bool) []bool {
	t.Helper()
	d := &Drawing{W: 10, H: 10, Paper: Screen.Paper}
	m := &stakes{u: 1 / pxPerMM, compact: compact}
	m.add(f, 3, 9)
	m.draw(d)
	img, err := d.Image(8)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]bool, 0, 6400)
	for y := range 80 {
		for x := range 80 {
			out = append(out, grey(img, x, y) < 200)
		}
	}
	return out
}

func grey(img *image.RGBA, x, y int) int {
	c := img.RGBAAt(x, y)
	return (299*int(c.R) + 587*int(c.G) + 114*int(c.B)) / 1000
}

// TestFatesDifferByShape: without colour, each fate's silhouette differs from
// each other's by a fair part of the smaller one's ink.
func TestFatesDifferByShape(t *testing.T) {
	for _, compact := range []bool{false, true} {
		for a := Present; a < fates; a++ {
			for b := a + 1; b < fates; b++ {
				pa, pb := inked(t, a, compact), inked(t, b, compact)
				na, nb, diff := 0, 0, 0
				for i := range pa {
					if pa[i] {
						na++
					}
					if pb[i] {
						nb++
					}
					if pa[i] != pb[i] {
						diff++
					}
				}
				if na == 0 || nb == 0 || float64(diff) < 0.12*float64(max(na, nb)) {
					t.Errorf("compact %v: fates %d and %d differ in %d pixels of %d and %d", compact, a, b, diff, na, nb)
				}
			}
		}
	}
}

// TestCountsGroup: by count, each fate stands together and apart from the
// next; by stake, the order is kept.
func TestCountsGroup(t *testing.T) {
	l := RowLine{Counts: FateCounts{Present: 2, Consumed: 3, NotKnown: 1}}
	runs := l.runs()
	if len(runs) != 3 || len(runs[0]) != 3 || runs[0][0] != Consumed || runs[1][0] != NotKnown || len(runs[2]) != 2 || runs[2][0] != Present {
		t.Errorf("groups %v", runs)
	}
	l.Fates = fatesOf(".x?")
	if runs := l.runs(); len(runs) != 1 || len(runs[0]) != 3 {
		t.Errorf("by stake: %v", runs)
	}
}

// TestWrapAtThirteen: 25 stakes on a phone stand in lines of 13 and 12.
func TestWrapAtThirteen(t *testing.T) {
	g := fit(25, 0, 0, ScreenMM(340), false)
	p := g.pieces([][]Fate{make([]Fate, 25)})
	if g.per != 13 || len(p) != 2 || len(p[0][0]) != 13 || len(p[1][0]) != 12 {
		t.Errorf("per %d, lines %v", g.per, p)
	}
	for n := 1; n <= 60; n++ {
		g := fit(n, 0, 0, ScreenMM(340), false)
		if g.pitch < leastPitch/pxPerMM-1e-9 {
			t.Errorf("%d stakes: pitch %.2f mm shrinks below %.2f", n, g.pitch, leastPitch/pxPerMM)
		}
	}
}

// TestPixels: the PNG shows the bait's blue where the layout puts it, and the
// clip of a group cuts.
func TestPixels(t *testing.T) {
	d := &Drawing{W: 20, H: 10, Paper: RGB{255, 255, 255}}
	d.Discs([]Point{{5, 5}}, 2, Fill{Role: Bait}, Stroke{})
	d.Begin(Group{Clip: Rect{10, 0, 5, 10}})
	d.Area([][]Point{{{8, 2}, {20, 2}, {20, 8}, {8, 8}}}, Fill{Role: Gone})
	d.End()
	img, err := d.Image(4)
	if err != nil {
		t.Fatal(err)
	}
	at := func(x, y float64) RGB {
		c := img.RGBAAt(int(x*4), int(y*4))
		return RGB{c.R, c.G, c.B}
	}
	for _, c := range []struct {
		x, y float64
		want RGB
	}{{5, 5, roleRGB[Bait]}, {12, 5, roleRGB[Gone]}, {9, 5, RGB{255, 255, 255}}, {17, 5, RGB{255, 255, 255}}, {5, 8, RGB{255, 255, 255}}} {
		if got := at(c.x, c.y); got != c.want {
			t.Errorf("at %g, %g: %v, want %v", c.x, c.y, got, c.want)
		}
	}
}

// TestOnPagePutsBack: a page that a figure was placed on goes on as before.
func TestOnPagePutsBack(t *testing.T) {
	p := fpdf.New("P", "mm", "A4", "")
	p.AddPage()
	p.SetFont("Helvetica", "I", 11)
	p.SetDrawColor(1, 2, 3)
	p.SetFillColor(4, 5, 6)
	p.SetTextColor(7, 8, 9)
	p.SetLineWidth(0.7)
	d, err := DrawStrips(contrastsSample(), Frame{ID: "c", WidthMM: 170, Look: Print})
	if err != nil {
		t.Fatal(err)
	}
	d.OnPage(p, 20, 30)
	if r, g, b := p.GetDrawColor(); r != 1 || g != 2 || b != 3 {
		t.Error("draw colour not put back")
	}
	if r, g, b := p.GetFillColor(); r != 4 || g != 5 || b != 6 {
		t.Error("fill colour not put back")
	}
	if r, g, b := p.GetTextColor(); r != 7 || g != 8 || b != 9 {
		t.Error("text colour not put back")
	}
	size, _ := p.GetFontSize()
	if p.GetLineWidth() != 0.7 || p.GetFontFamily() != "helvetica" || p.GetFontStyle() != "I" || size != 11 {
		t.Error("width or font not put back")
	}
	if p.Err() {
		t.Fatal(p.Error())
	}
}

func TestRefusals(t *testing.T) {
	ok := Frame{ID: "x", WidthMM: 90, Look: Print}
	for name, err := range map[string]error{
		"narrow":     second(DrawRow(Row{}, Frame{WidthMM: 3, Look: Print})),
		"not a size": second(DrawMap(Map{}, Frame{WidthMM: math.NaN(), Look: Print})),
		"no look":    second(DrawStrips(Strips{}, Frame{WidthMM: 90})),
		"minus":      second(DrawRow(Row{Lines: []RowLine{{Counts: FateCounts{Consumed: -1}}}}, ok)),
		"fate":       second(DrawRowCompact(Row{Lines: []RowLine{{Fates: []Fate{99}}}}, ok)),
		"back":       second(DrawCurves(Curves{Groups: []CurveGroup{{Stretches: []Stretch{{2, 1, .5, 0, 1}}}}}, ok)),
		"share":      second(DrawCurves(Curves{Groups: []CurveGroup{{Stretches: []Stretch{{0, 1, nan, 0, 1}}}}}, ok)),
		"pole":       second(DrawMap(Map{Sites: []MapSite{{At: LonLat{0, 91}}}}, ok)),
		"log from 0": second(DrawStrips(Strips{Log: true, Lo: 0, Hi: 2}, ok)),
	} {
		if err == nil || !strings.HasPrefix(err.Error(), "figure: ") {
			t.Errorf("%s: error %v", name, err)
		}
	}
	d, err := DrawRow(rowByStake(), ok)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.PNG(1e5); err == nil {
		t.Error("a picture of gigabytes was drawn")
	}
	if _, err := d.PNG(0); err == nil {
		t.Error("a picture without pixels was drawn")
	}
}

func second(_ *Drawing, err error) error { return err }
