package figure

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Scatter shows points over two axes, by group: residuals against a date, what
// was seen against what was expected.
type Scatter struct {
	Title, Desc    string
	XLabel, YLabel string // along the first axis; above the second
	// XLo and XHi, YLo and YHi fix an axis where the second is larger; else it
	// follows the numbers.
	XLo, XHi, YLo, YHi float64
	// Hours cuts the first axis as a clock or a calendar does.
	Hours    bool
	Groups   []ScatterGroup
	Diagonal bool // the line on which both are equal
	// Across and Upright are lines at one value of the second and the first axis.
	Across, Upright []float64
	Band            []ScatterBand // shaded, from left to right
	BandWord        string        // what the band is, in the key; empty for none
	LineWord        string        // what the lines are
	Note            string
}

// ScatterGroup is one group of points with a mark of its own.
type ScatterGroup struct {
	Label  string // in the key; empty for none
	Points [][2]float64
}

// ScatterBand is the band at one place of the first axis.
type ScatterBand struct{ X, Lower, Upper float64 }

func (s Scatter) check() error {
	n := 0
	for _, g := range s.Groups {
		for _, p := range g.Points {
			if !finite(p[0]) || !finite(p[1]) {
				return fmt.Errorf("figure: group %q: a point at %g, %g cannot be drawn", g.Label, p[0], p[1])
			}
		}
		n += len(g.Points)
	}
	for i, b := range s.Band {
		if !finite(b.X) || !finite(b.Lower) || !finite(b.Upper) || i > 0 && b.X < s.Band[i-1].X {
			return fmt.Errorf("figure: place %d of the band cannot be drawn; give finite numbers from left to right", i+1)
		}
	}
	if n > 100_000 {
		return errors.New("figure: more than 100000 points cannot be told apart in one drawing")
	}
	for _, v := range []float64{s.XLo, s.XHi, s.YLo, s.YHi} {
		if !finite(v) {
			return fmt.Errorf("figure: an axis that ends at %g cannot be drawn", v)
		}
	}
	return nil
}

// span is one axis' ends: as fixed, or round numbers about all that is shown.
func (s Scatter) span(k int) (lo, hi float64) {
	lo, hi = s.XLo, s.XHi
	lines := s.Upright
	if k == 1 {
		lo, hi, lines = s.YLo, s.YHi, s.Across
	}
	if hi > lo {
		return lo, hi
	}
	var vs []float64
	for _, g := range s.Groups {
		for _, p := range g.Points {
			vs = append(vs, p[k])
			if s.Diagonal {
				vs = append(vs, p[1-k])
			}
		}
	}
	for _, b := range s.Band {
		if k == 0 {
			vs = append(vs, b.X)
		} else {
			vs = append(vs, b.Lower, b.Upper)
		}
	}
	for _, v := range lines {
		if finite(v) {
			vs = append(vs, v)
		}
	}
	if len(vs) == 0 {
		return 0, 1
	}
	lo, hi = slices.Min(vs), slices.Max(vs)
	if hi <= lo {
		lo, hi = lo-0.5, hi+0.5
	}
	st, _ := step(hi-lo, 6)
	return math.Floor(lo/st+1e-9) * st, math.Ceil(hi/st-1e-9) * st
}

// DrawScatter draws the points with a key of the groups below.
func DrawScatter(s Scatter, f Frame) (*Drawing, error) {
	d, err := f.begin(s.Title, s.Desc)
	if err != nil {
		return nil, err
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	d.note(s.XLabel, s.YLabel)
	top := d.put(f.small(s.YLabel).wrap(d.W), 0, 0, Start) + 1.5
	size := f.Look.SmallMM
	ylo, yhi := s.span(1)
	bottom := top + clamp(d.W*0.5, 50, 95)
	y := newAxis(false, ylo, yhi, bottom-1.5, top+1.5, size, f.Look, 0)
	left := 0.0
	for _, t := range y.ticks {
		left = max(left, textWidth(t.text, size, Regular))
	}
	xlo, xhi := s.span(0)
	from, to := left+3.5, d.W-2
	x := newAxis(false, xlo, xhi, from, to, size, f.Look, d.W)
	if s.Hours && xlo == 0 {
		x = newHourAxis(xhi, from, to, size, f.Look, d.W)
	}
	s.axes(d, f, x, y, bottom)
	s.marks(d, x, y, top, bottom)
	below := d.horizontal(x, f, bottom, bottom)
	at := from
	if at+f.small(s.XLabel).width() > d.W {
		at = 0
	}
	below = d.put(f.small(s.XLabel).wrap(d.W-at), at, below, Start)
	below = s.keyBelow(d, f, below+1)
	if s.Note != "" {
		below = d.footer(f, s.Note, below+1)
	}
	d.H = below + 0.5
	return d, nil
}

// axes draws the second axis, and hairlines across.
func (s Scatter) axes(d *Drawing, f Frame, x, y axis, bottom float64) {
	d.Begin(Group{ID: "axes"})
	size := f.Look.SmallMM
	var rules [][]Point
	for _, t := range y.ticks {
		at := y.at(t.v)
		rules = append(rules, []Point{{x.from - 1, at}, {x.to + 1, at}})
		d.Text(Text{X: x.from - 2.2, Y: at + size*0.33, S: t.text, SizeMM: size, Anchor: End, Role: Mute})
	}
	d.Line(rules, Stroke{Role: Hair, WidthMM: 0.2})
	d.End()
}

// marks draws band, lines and points, in this order.
func (s Scatter) marks(d *Drawing, x, y axis, top, bottom float64) {
	d.Begin(Group{ID: "band"})
	if len(s.Band) > 1 {
		var ring, lower, upper []Point
		for _, b := range s.Band {
			upper = append(upper, Point{x.at(b.X), y.at(b.Upper)})
			lower = append(lower, Point{x.at(b.X), y.at(b.Lower)})
		}
		ring = append(ring, upper...)
		for i := len(lower) - 1; i >= 0; i-- {
			ring = append(ring, lower[i])
		}
		d.Area([][]Point{ring}, Fill{Role: Ink, Alpha: 0.1})
		d.Line([][]Point{upper, lower}, Stroke{Role: Mute, WidthMM: 0.2})
	}
	d.End()
	d.Begin(Group{ID: "lines"})
	var lines [][]Point
	if s.Diagonal {
		lo, hi := max(x.lo, y.lo), min(x.hi, y.hi)
		if hi > lo {
			lines = append(lines, []Point{{x.at(lo), y.at(lo)}, {x.at(hi), y.at(hi)}})
		}
	}
	for _, v := range s.Across {
		if y.holds(v) {
			lines = append(lines, []Point{{x.from - 1, y.at(v)}, {x.to + 1, y.at(v)}})
		}
	}
	for _, v := range s.Upright {
		if x.holds(v) {
			lines = append(lines, []Point{{x.at(v), top}, {x.at(v), bottom}})
		}
	}
	d.Line(lines, Stroke{Role: Ink, WidthMM: 0.4})
	d.End()
	n := 0
	for _, g := range s.Groups {
		n += len(g.Points)
	}
	r := clamp(1.3-0.25*math.Log10(max(float64(n)/20, 1)), 0.5, 1.3)
	for k, g := range s.Groups {
		d.Begin(Group{ID: fmt.Sprintf("points-%d", k), Title: g.Label})
		at := make([]Point, len(g.Points))
		for i, p := range g.Points {
			at[i] = Point{x.at(p[0]), y.at(p[1])}
		}
		d.mark(k, at, r, seriesRole(k))
		d.End()
	}
}

// keyBelow names the groups, the lines and the band.
func (s Scatter) keyBelow(d *Drawing, f Frame, y float64) float64 {
	var items []keyItem
	for k, g := range s.Groups {
		if g.Label != "" {
			items = append(items, keyItem{g.Label, func(x, m float64) { d.mark(k, []Point{{x + 1.5, m}}, 1.2, seriesRole(k)) }})
		}
	}
	if s.LineWord != "" {
		items = append(items, keyItem{s.LineWord, func(x, m float64) {
			d.Line([][]Point{{{x, m}, {x + 4, m}}}, Stroke{Role: Ink, WidthMM: 0.4})
		}})
	}
	if s.BandWord != "" && len(s.Band) > 1 {
		items = append(items, keyItem{s.BandWord, func(x, m float64) {
			d.Area([][]Point{{{x, m - 1.4}, {x + 4, m - 1.4}, {x + 4, m + 1.4}, {x, m + 1.4}}}, Fill{Role: Ink, Alpha: 0.1})
			d.Line([][]Point{{{x, m - 1.4}, {x + 4, m - 1.4}}, {{x, m + 1.4}, {x + 4, m + 1.4}}}, Stroke{Role: Mute, WidthMM: 0.2})
		}})
	}
	if len(items) == 0 {
		return y
	}
	return d.key(f, items, 5.6, f.Look.SmallMM*leading, y)
}
