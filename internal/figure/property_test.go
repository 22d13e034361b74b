package figure

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The properties every drawing holds, whatever the words and numbers: no two
// texts overlap by the font's metrics, none leaves the drawing, the size is a
// number. Widths from a phone to a poster.

func anyFrame(t *rapid.T) Frame {
	f := Frame{ID: "p", WidthMM: ScreenMM(rapid.Float64Range(320, 1200).Draw(t, "px")), Look: Screen}
	if rapid.Bool().Draw(t, "print") {
		f.Look = Print
	}
	return f
}

func holds(t *rapid.T, d *Drawing, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	if !finite(d.W) || !finite(d.H) || d.W <= 0 || d.H <= 0 {
		t.Fatalf("size %g by %g", d.W, d.H)
	}
	if o := overlapping(d); o != "" {
		t.Fatalf("texts overlap: %s", o)
	}
	if o := outside(d); o != "" {
		t.Fatalf("text outside: %s", o)
	}
	for _, o := range d.ops {
		l, ok := o.(opLine)
		if !ok {
			continue
		}
		for _, p := range l.paths {
			for _, q := range p {
				if !finite(q.X) || !finite(q.Y) {
					t.Fatalf("a line goes to %v", q)
				}
			}
		}
	}
}

func TestRowTextsKeepApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Row{Title: "row", Note: anyText().Draw(t, "note"), Words: FateWords{anyText().Draw(t, "w1"), anyText().Draw(t, "w2"), anyText().Draw(t, "w3"), anyText().Draw(t, "w4")}}
		for range rapid.IntRange(0, 4).Draw(t, "lines") {
			l := RowLine{Label: anyText().Draw(t, "label"), Sub: anyText().Draw(t, "sub"), Result: anyText().Draw(t, "result")}
			if rapid.Bool().Draw(t, "by count") {
				n := rapid.IntRange(0, 20)
				l.Counts = FateCounts{n.Draw(t, "p"), n.Draw(t, "c"), n.Draw(t, "k"), n.Draw(t, "u")}
			} else {
				for range rapid.IntRange(0, 60).Draw(t, "stakes") {
					l.Fates = append(l.Fates, Fate(rapid.IntRange(0, 3).Draw(t, "fate")))
				}
			}
			r.Lines = append(r.Lines, l)
		}
		f := anyFrame(t)
		d, err := DrawRow(r, f)
		holds(t, d, err)
		marksInside(t, d)
		d, err = DrawRowCompact(r, f)
		holds(t, d, err)
		marksInside(t, d)
	})
}

// marksInside: no bait or stake leaves the drawing.
func marksInside(t *rapid.T, d *Drawing) {
	t.Helper()
	for _, o := range d.ops {
		if c, ok := o.(opDiscs); ok {
			for _, q := range c.c {
				if q.X < 0 || q.X+c.r > d.W+0.3 || q.Y-c.r < -0.1 || q.Y > d.H {
					t.Fatalf("a disc at %v leaves %g by %g", q, d.W, d.H)
				}
			}
		}
	}
}

func TestCurveTextsKeepApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Curves{Title: "curves", XLabel: anyText().Draw(t, "x"), YLabel: anyText().Draw(t, "y"), Note: anyText().Draw(t, "note"),
			DeterminedWord: anyText().Draw(t, "known"), OpenWord: anyText().Draw(t, "open"), BandWord: anyText().Draw(t, "band")}
		for range rapid.IntRange(0, 12).Draw(t, "groups") {
			g := CurveGroup{Label: anyText().Draw(t, "label"), Sub: anyText().Draw(t, "sub")}
			at, s := 0.0, 1.0
			for range rapid.IntRange(0, 5).Draw(t, "stretches") {
				to := at + rapid.Float64Range(0, 20).Draw(t, "length")
				g.Stretches = append(g.Stretches, Stretch{at, to, s, s * 0.8, math.Min(1, s*1.1)})
				at, s = to+rapid.Float64Range(0, 3).Draw(t, "gap"), s*rapid.Float64Range(0, 1).Draw(t, "drop")
			}
			c.Groups = append(c.Groups, g)
		}
		d, err := DrawCurves(c, anyFrame(t))
		holds(t, d, err)
	})
}

func anyNumber(t *rapid.T, name string) float64 {
	return rapid.OneOf(rapid.Float64Range(-10, 200), rapid.Float64Range(0, 1e-3), rapid.Just(0.0), rapid.Just(math.NaN()),
		rapid.Just(math.Inf(1)), rapid.Just(math.Inf(-1)), rapid.Just(1e300), rapid.Just(1e-300)).Draw(t, name)
}

func TestStripTextsKeepApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Strips{Title: "strips", AxisLabel: anyText().Draw(t, "axis"), Log: rapid.Bool().Draw(t, "log"), Note: anyText().Draw(t, "note"),
			MarkOn: rapid.Bool().Draw(t, "mark"), Mark: 1, MarkLeft: anyText().Draw(t, "left"), MarkRight: anyText().Draw(t, "right")}
		for range rapid.IntRange(0, 6).Draw(t, "groups") {
			g := Strip{Label: anyText().Draw(t, "label"), Sub: anyText().Draw(t, "sub"), Value: anyText().Draw(t, "value"), ValueSub: anyText().Draw(t, "vsub"),
				Estimate: anyNumber(t, "estimate"), Lower: anyNumber(t, "lower"), Upper: anyNumber(t, "upper")}
			if rapid.Bool().Draw(t, "two") {
				g.LowerAll, g.UpperAll = anyNumber(t, "lower2"), anyNumber(t, "upper2")
			}
			for range rapid.IntRange(0, 20).Draw(t, "points") {
				g.Points = append(g.Points, StripDot{anyNumber(t, "point"), Side(rapid.IntRange(0, 2).Draw(t, "side"))})
			}
			s.Groups = append(s.Groups, g)
		}
		d, err := DrawStrips(s, anyFrame(t))
		holds(t, d, err)
	})
}

func TestMapTextsKeepApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Map{Title: "map", Source: anyText().Draw(t, "source"), NoShore: anyText().Draw(t, "none"), Note: anyText().Draw(t, "note"), Kinds: []string{anyText().Draw(t, "k1"), "reef"}}
		lon, lat := rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-90, 90).Draw(t, "lat")
		wide := math.Pow(10, rapid.Float64Range(-4, 2).Draw(t, "spread"))
		for range rapid.IntRange(0, 30).Draw(t, "sites") {
			p := LonLat{lon + wide*rapid.Float64Range(-1, 1).Draw(t, "dx"), clamp(lat+wide*rapid.Float64Range(-1, 1).Draw(t, "dy"), -90, 90)}
			m.Sites = append(m.Sites, MapSite{anyText().Draw(t, "label"), p, rapid.IntRange(0, 9).Draw(t, "kind")})
		}
		if rapid.Bool().Draw(t, "coast") {
			m.Coast = [][]LonLat{blob(lon, clamp(lat, -80, 80), wide, 40, 1)}
		}
		d, err := DrawMap(m, anyFrame(t))
		holds(t, d, err)
	})
}

// TestSizes draws 0, 1 and 500 of everything, on all three media for the
// largest.
func TestSizes(t *testing.T) {
	for _, n := range []int{0, 1, 500} {
		r := Row{Title: "n"}
		c := Curves{Title: "n", XLabel: "h", YLabel: "left"}
		s := Strips{Title: "n", AxisLabel: "gone"}
		m := mapCrowd(n)
		for i := range n {
			r.Lines = append(r.Lines, RowLine{Label: "1 h", Counts: FateCounts{Present: i % 26, Consumed: 25 - i%26}})
			c.Groups = append(c.Groups, CurveGroup{Label: "site", Stretches: []Stretch{{0, 1, 1, nan, nan}, {2, 24, float64(i%100) / 100, nan, nan}}})
			s.Groups = append(s.Groups, Strip{Label: "row", Estimate: float64(i), Lower: nan, Upper: nan})
		}
		for _, px := range []float64{360, 1040} {
			f := frame("n", px)
			for name, draw := range map[string]func() (*Drawing, error){
				"row":     func() (*Drawing, error) { return DrawRow(r, f) },
				"compact": func() (*Drawing, error) { return DrawRowCompact(r, f) },
				"curves":  func() (*Drawing, error) { return DrawCurves(c, f) },
				"strips":  func() (*Drawing, error) { return DrawStrips(s, f) },
				"map":     func() (*Drawing, error) { return DrawMap(m, f) },
			} {
				d, err := draw()
				if err != nil {
					t.Fatalf("%s of %d: %v", name, n, err)
				}
				if o := overlapping(d); o != "" {
					t.Errorf("%s of %d at %g px: texts overlap: %s", name, n, px, o)
				}
				if px > 500 { // the narrow ones are the taller: drawn once is enough
					continue
				}
				checkSVG(t, name, d)
				if _, err := d.PNG(0.5); err != nil {
					t.Errorf("%s of %d: %v", name, n, err)
				}
				if _, err := d.PDF(day, "es"); err != nil {
					t.Errorf("%s of %d: %v", name, n, err)
				}
			}
		}
	}
}
