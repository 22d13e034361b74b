package paper

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/figure"
	"soakline/internal/outside"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// winding counts how often rings go round a point: what the non-zero rule fills.
func winding(rings [][]figure.Point, x, y float64) int {
	n := 0
	for _, r := range rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			cross := (b.X-a.X)*(y-a.Y) - (x-a.X)*(b.Y-a.Y)
			switch {
			case a.Y <= y && b.Y > y && cross > 0:
				n++
			case a.Y > y && b.Y <= y && cross < 0:
				n--
			}
		}
	}
	return n
}

// TestWhatIsLeftIsLeft: the share told is the share drawn, measured apart from
// the drawing's own area: points of a grid that the non-zero rule fills.
func TestWhatIsLeftIsLeft(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		left := rapid.Float64Range(0.03, 0.97).Draw(t, "left")
		b := bite{
			angle: rapid.Float64Range(0, 2*math.Pi).Draw(t, "angle"), reach: rapid.SampledFrom([]float64{0, 1.1, 1.3, 1.6, 2.4}).Draw(t, "reach"),
			teeth: rapid.IntRange(7, 18).Draw(t, "teeth"), ripple: rapid.Float64Range(0.02, 0.07).Draw(t, "ripple"),
		}
		if b.reach == 0 {
			left = max(left, 0.15) // a hole reaches the rim before all is gone
		}
		got := eat(left, b)
		const n = 150
		in, disc := 0, 0
		for i := range n {
			for j := range n {
				x, y := (float64(i)+0.5)/n*2-1, (float64(j)+0.5)/n*2-1
				if x*x+y*y < 1 {
					disc++
				}
				if winding(got.rings, x, y) != 0 {
					in++
				}
			}
		}
		if share := float64(in) / float64(disc); math.Abs(share-left) > 0.015 || math.Abs(got.left-left) > 0.005 {
			t.Fatalf("asked for %.3f left, drawn %.3f, told %.3f", left, share, got.left)
		}
	})
}

func TestCard(t *testing.T) {
	for seed := uint64(1); seed <= 40; seed++ {
		gone := 0
		for i, d := range card(CardOptions{Protocol: sheet.Standard(), Seed: seed}) {
			if d.consumed {
				gone++
			}
			// More than half gone is consumed; none lies so near that a drawing cannot tell.
			if d.consumed != (d.b.left < 0.5) || math.Abs(d.b.left-0.5) < 0.045 {
				t.Errorf("card %d, bait %d: %.3f left, consumed %v", seed, i+1, d.b.left, d.consumed)
			}
		}
		if gone != 6 {
			t.Errorf("card %d has %d of 12 consumed", seed, gone)
		}
	}
	p := sheet.Standard()
	p.ConsumedFraction = 0.8
	for i, d := range card(CardOptions{Protocol: p, Seed: 1}) {
		if d.consumed != (1-d.b.left > 0.8) || d.b.left < 0 || d.b.left > 1 {
			t.Errorf("threshold 0.8, bait %d: %.3f left, consumed %v", i+1, d.b.left, d.consumed)
		}
	}
}

// TestCardsAreWhole: guide and card in every language, size and protocol.
func TestCardsAreWhole(t *testing.T) {
	own, _ := sheet.Protocols()
	for _, l := range words.Languages {
		for _, s := range Sizes {
			for name, pr := range own {
				what := fmt.Sprintf("%s %s %s", l, s.Name, name)
				g, err := guidePage(GuideOptions{Lang: l, Size: s, Protocol: pr})
				if err != nil || g.Err != nil {
					t.Errorf("guide %s: %v", what, err)
					continue
				}
				whole(t, "guide "+what, g)
				for i, p := range practicePages(CardOptions{Lang: l, Size: s, Protocol: pr, Seed: 7}) {
					if p.Err != nil {
						t.Error(p.Err)
					}
					whole(t, fmt.Sprintf("card %s page %d", what, i+1), p)
				}
			}
		}
	}
	text := ""
	g, err := guidePage(GuideOptions{Lang: words.English, Size: A4, Protocol: sheet.Standard()})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range record(g).texts {
		text += x.S + " "
	}
	for _, want := range []string{"1 h", "24 h", "2 m apart", "More than half gone", "13 mm", "off centre", "permits", "alone", "Blades"} {
		if !strings.Contains(text, want) {
			t.Errorf("the guide does not say %q", want)
		}
	}
}

func rowsOf(n int) []Row {
	rows := make([]Row, n)
	for i := range rows {
		rows[i] = Row{ID: "R" + strconv.Itoa(i+1), Baits: 25, Site: "Kell Spit", Habitat: "seagrass"}
	}
	return rows
}

// TestGridsFit: each sheet of labels lies on its paper, and labels do not overlap.
func TestGridsFit(t *testing.T) {
	for _, g := range Grids() {
		size := map[string]Size{"a4": A4, "letter": Letter}[g.Paper]
		right, bottom := g.Left+float64(g.Across-1)*g.StepX+g.Width, g.Top+float64(g.Down-1)*g.StepY+g.Height
		if size.W == 0 || right > size.W || bottom > size.H || g.StepX < g.Width || g.StepY < g.Height || g.Left < 0 || g.Top < 0 {
			t.Errorf("%s: ends at (%.2f, %.2f) on %v", g.Name, right, bottom, size)
		}
		// As far from the left as from the right, as common sheets are.
		if math.Abs(g.Left-(size.W-right)) > 0.6 {
			t.Errorf("%s: %.2f mm left, %.2f mm right", g.Name, g.Left, size.W-right)
		}
	}
}

// TestLabelsStandInside: every mark of every label inside its own label with
// 0.4 mm to spare, so that 0.2 mm off is still on it.
func TestLabelsStandInside(t *testing.T) {
	for _, g := range Grids() {
		for _, labels := range [][]Label{StakeLabels(rowsOf(4)), BagLabels(rowsOf(30), words.Spanish), BagLabels([]Row{{ID: "SEASON-2026-TARN-SOUND-1", Baits: 25, Site: strings.Repeat("long ", 30)}}, words.English)} {
			o := LabelOptions{Lang: words.English, Grid: g, Labels: labels}
			g.Cut, o.Grid.Cut = false, false
			seen := 0
			for _, p := range labelPages(o) {
				if p.Err != nil {
					t.Errorf("%s: %v", g.Name, p.Err)
				}
				r := record(p)
				check := func(e extent) {
					seen++
					i, j := math.Floor(((e.x0+e.x1)/2-g.Left)/g.StepX), math.Floor(((e.y0+e.y1)/2-g.Top)/g.StepY)
					x, y := g.Left+i*g.StepX, g.Top+j*g.StepY
					if e.x0 < x+0.4 || e.x1 > x+g.Width-0.4 || e.y0 < y+0.4 || e.y1 > y+g.Height-0.4 {
						t.Errorf("%s: (%.2f, %.2f) to (%.2f, %.2f) leaves the label at (%.2f, %.2f)", g.Name, e.x0, e.y0, e.x1, e.y1, x, y)
					}
				}
				for _, x := range r.texts {
					var e extent
					e.Text(x)
					check(e)
				}
				for _, a := range r.areas {
					var e extent
					e.Area(a, figure.Fill{})
					check(e)
				}
				whole := map[string]bool{}
				for i, a := range r.texts {
					for _, b := range r.texts[:i] {
						if overlap(a.Box(), b.Box()) && !whole[a.S+b.S] {
							whole[a.S+b.S] = true
							t.Errorf("%s: %q on %q", g.Name, a.S, b.S)
						}
					}
				}
			}
			if seen < len(labels) {
				t.Errorf("%s: %d marks for %d labels", g.Name, seen, len(labels))
			}
		}
	}
}

// TestLabelsMeasured: in the PDF itself, by another program, each stake's number
// begins within 0.2 mm of 1.5 mm from the left of its label.
func TestLabelsMeasured(t *testing.T) {
	tool := outside.Need(t, "pdftotext")
	for _, g := range Grids() {
		var labels []Label
		for range g.Across * g.Down {
			labels = append(labels, Label{Large: "H"}) // a straight stem on the left
		}
		b, err := Labels(LabelOptions{Lang: words.English, Grid: g, Labels: labels, ShiftX: 0.5})
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "labels.pdf")
		if err := os.WriteFile(file, b, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "-bbox", file, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		const mm = 25.4 / 72
		found := 0
		for _, m := range regexp.MustCompile(`<word xMin="([0-9.]+)" yMin="([0-9.]+)" xMax="([0-9.]+)" yMax="([0-9.]+)">H</word>`).FindAllStringSubmatch(string(out), -1) {
			v := make([]float64, 4)
			for i := range v {
				v[i], _ = strconv.ParseFloat(m[i+1], 64)
				v[i] *= mm
			}
			k := math.Round((v[0] - g.Left - 2) / g.StepX)
			if off := v[0] - (g.Left + k*g.StepX + 1.5 + 0.5); math.Abs(off) > 0.2 {
				t.Errorf("%s: a label's text stands %.2f mm off", g.Name, off)
			}
			// The word's box is the line's, ascent to descent: its middle near the label's.
			j := math.Floor((v[1]+v[3])/2/g.StepY - g.Top/g.StepY)
			if y := (v[1]+v[3])/2 - (g.Top + j*g.StepY); y < 0.25*g.Height || y > 0.75*g.Height {
				t.Errorf("%s: a label's text stands at %.2f of %.2f mm", g.Name, y, g.Height)
			}
			found++
		}
		if found != len(labels) {
			t.Errorf("%s: %d of %d labels found in the PDF", g.Name, found, len(labels))
		}
	}
}

// TestCutMarksMeasured: the PDF of a sheet to be cut, drawn by another program at
// ten dots a millimetre, has its marks within 0.2 mm of where the labels begin.
func TestCutMarksMeasured(t *testing.T) {
	tool := outside.Need(t, "pdftoppm")
	for _, g := range Grids() {
		if !g.Cut {
			continue
		}
		b, err := Labels(LabelOptions{Lang: words.English, Grid: g, Labels: []Label{{Large: "1"}}})
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "cut.pdf")
		if err := os.WriteFile(file, b, 0o644); err != nil {
			t.Fatal(err)
		}
		raw, err := exec.Command(tool, "-gray", "-r", "254", "-singlefile", file).Output()
		if err != nil {
			t.Fatal(err)
		}
		var w, h, deep int
		if n, err := fmt.Sscanf(string(raw[:20]), "P5\n%d %d\n%d\n", &w, &h, &deep); n != 3 || err != nil {
			t.Fatalf("%v: %.20q", err, raw)
		}
		dots := raw[len(raw)-w*h:]
		// Runs of ink along a line of dots, their middles in mm.
		runs := func(n int, dark func(i int) bool) (out []float64) {
			for i := 0; i < n; i++ {
				from := i
				for i < n && dark(i) {
					i++
				}
				if i > from {
					out = append(out, float64(from+i)/2/10)
				}
			}
			return out
		}
		column, line := int((g.Left-3.5)*10), int((g.Top-3.5)*10)
		down := runs(h, func(i int) bool { return dots[i*w+column] < 200 })
		across := runs(w, func(i int) bool { return dots[line*w+i] < 200 })
		if len(down) != g.Down+1 || len(across) != g.Across+1 {
			t.Fatalf("%s: %d marks down and %d across for %d by %d labels", g.Name, len(down), len(across), g.Down, g.Across)
		}
		for i, y := range down {
			if off := y - (g.Top + float64(i)*g.StepY); math.Abs(off) > 0.2 {
				t.Errorf("%s: mark %d down stands %.2f mm off", g.Name, i, off)
			}
		}
		for i, x := range across {
			if off := x - (g.Left + float64(i)*g.StepX); math.Abs(off) > 0.2 {
				t.Errorf("%s: mark %d across stands %.2f mm off", g.Name, i, off)
			}
		}
	}
}

// TestCutMarks: on plain paper the marks stand where labels begin and end, and
// never on a label.
func TestCutMarks(t *testing.T) {
	for _, g := range Grids() {
		if !g.Cut {
			continue
		}
		p := labelPages(LabelOptions{Lang: words.English, Grid: g, Labels: []Label{{Large: "1"}}})[0]
		lines := &lineRecorder{}
		p.On(lines)
		right, bottom := g.Left+float64(g.Across)*g.StepX, g.Top+float64(g.Down)*g.StepY
		if len(lines.l) != 2*(g.Across+1+g.Down+1) {
			t.Errorf("%s: %d marks", g.Name, len(lines.l))
		}
		for _, l := range lines.l {
			a, b := l[0], l[1]
			vertical := a.X == b.X
			var k float64
			if vertical {
				k = (a.X - g.Left) / g.StepX
			} else {
				k = (a.Y - g.Top) / g.StepY
			}
			on := max(a.X, b.X) > g.Left && min(a.X, b.X) < right && max(a.Y, b.Y) > g.Top && min(a.Y, b.Y) < bottom
			if math.Abs(k-math.Round(k)) > 1e-9 || on {
				t.Errorf("%s: a mark from %v to %v", g.Name, a, b)
			}
		}
		whole(t, g.Name, p)
	}
}

type lineRecorder struct {
	recorder
	l [][]figure.Point
}

func (r *lineRecorder) Line(paths [][]figure.Point, s figure.Stroke) { r.l = append(r.l, paths...) }

func TestLabelsSkip(t *testing.T) {
	g := Grids()[0]
	o := LabelOptions{Lang: words.English, Grid: g, Labels: StakeLabels(rowsOf(1)), Skip: 60}
	pages := labelPages(o)
	if len(pages) != 2 || len(record(pages[0]).texts) != 10 || len(record(pages[1]).texts) != 40 {
		t.Errorf("25 labels after 60 of 65: %d pages", len(pages))
	}
}

func TestCardsSameBytes(t *testing.T) {
	o := CardOptions{Lang: words.English, Size: A4, Protocol: sheet.Standard(), Seed: 3, Title: "t"}
	a, err := Practice(o)
	if err != nil {
		t.Fatal(err)
	}
	b, _ := Practice(o)
	o.Seed = 4
	c, _ := Practice(o)
	if !bytes.Equal(a, b) || bytes.Equal(a, c) {
		t.Error("one seed, one card; another seed, another")
	}
}

// TestLookCards writes guide, card and labels into the folder PAPER_LOOK, for eyes.
func TestLookCards(t *testing.T) {
	dir := os.Getenv("PAPER_LOOK")
	if dir == "" {
		dir = t.TempDir()
	}
	for _, l := range words.Languages {
		for _, s := range Sizes {
			g, err := Guide(GuideOptions{Lang: l, Size: s, Protocol: sheet.Standard()})
			if err != nil {
				t.Fatal(err)
			}
			c, err := Practice(CardOptions{Lang: l, Size: s, Protocol: sheet.Standard(), Seed: 3})
			if err != nil {
				t.Fatal(err)
			}
			for name, b := range map[string][]byte{"guide": g, "card": c} {
				if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%s-%s.pdf", name, l, s.Name)), b, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	for _, g := range Grids() {
		for what, labels := range map[string][]Label{"stakes": StakeLabels(rowsOf(2)), "bags": BagLabels(rowsOf(20), words.English)} {
			b, err := Labels(LabelOptions{Lang: words.English, Grid: g, Labels: labels})
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("labels-%s-%s.pdf", g.Name, what)), b, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// TestAnyNameOnEveryPage: names in Latin with every kind of accent, Greek and
// Cyrillic print on every kind of page; a letter of another script is an error
// that names it, on each of them.
func TestAnyNameOnEveryPage(t *testing.T) {
	good := []string{"Ålesund Łódź Țărm Ğöl Ħal", "Σύρος Ήπειρος ϊΰ", "Владивосток Ґанок Њива Ђурђевик"}
	print := map[string]func(name string) error{
		"stake labels": func(n string) error {
			_, err := Labels(LabelOptions{Lang: words.English, Grid: Grids()[1], Labels: StakeLabels([]Row{{ID: n, Baits: 2}})})
			return err
		},
		"bag labels": func(n string) error {
			_, err := Labels(LabelOptions{Lang: words.English, Grid: Grids()[1], Labels: []Label{{Large: "R1", Small: n, Code: "R1"}}})
			return err
		},
		"sheet": func(n string) error {
			_, err := Sheets(options(words.Spanish, Letter, Stakes, 1, Row{ID: "R1", Site: n, Names: n}))
			return err
		},
		"several rows": func(n string) error {
			_, err := Sheets(options(words.Spanish, A4, Counts, 3, Row{ID: "R1", Site: n}, Row{ID: "R2"}))
			return err
		},
		"booklet": func(n string) error {
			o := aDay(words.English, Letter)
			o.Team = n
			_, err := Booklet(o)
			return err
		},
		"map": func(n string) error {
			o := aDay(words.English, A4)
			o.Maps[0].Near = []Neighbour{{ID: n, LatDeg: 36.9513, LonDeg: -8.2030, BearingDeg: 80, LongM: 40}}
			_, err := Booklet(o)
			return err
		},
		"packing list": func(n string) error {
			o := aDay(words.English, A4)
			o.Packing[0].What = n
			_, err := Booklet(o)
			return err
		},
	}
	for kind, do := range print {
		for _, n := range good {
			if err := do(n); err != nil {
				t.Errorf("%s: %q: %v", kind, n, err)
			}
		}
		var glyph *NoGlyph
		if err := do("Kell 浜"); !errors.As(err, &glyph) || len(glyph.Runes) != 1 || glyph.Runes[0] != '浜' {
			t.Errorf("%s: a letter that cannot be printed: %v", kind, err)
		}
	}
}
