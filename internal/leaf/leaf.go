package leaf

import (
	"fmt"

	"soakline/internal/figure"
)

// Size is a size of paper, upright, mm.
type Size struct {
	Name string
	W, H float64
}

// The sizes of paper: ISO 216 A4, and US Letter (8.5 by 11 inches).
var (
	A4     = Size{"a4", 210, 297}
	Letter = Size{"letter", 215.9, 279.4}
)

// Sizes a person may choose, by name.
var Sizes = []Size{A4, Letter}

// NoGlyph is a text with letters that the embedded font does not hold. Record
// is the row it belongs to, empty where it belongs to none.
type NoGlyph struct {
	Record, Text string
	Runes        []rune
}

func (e *NoGlyph) Error() string {
	return fmt.Sprintf("leaf: the font has no glyph for %q in %q of row %q", string(e.Runes), e.Text, e.Record)
}

// NoRoom is a part that fits no page.
type NoRoom struct{ What string }

func (e *NoRoom) Error() string { return "leaf: no room on the page for " + e.What }

// Check gives *NoGlyph where a text of a record cannot be printed.
func Check(record string, texts ...string) error {
	for _, t := range texts {
		if _, missing := figure.Clean(t); len(missing) > 0 {
			return &NoGlyph{Record: record, Text: t, Runes: missing}
		}
	}
	return nil
}

// Leaf is one page in the making. The first fault stays in Err.
type Leaf struct {
	*figure.Drawing
	Size     Size
	MarginMM float64
	Record   string // whose page it is, for the fault of a missing glyph
	Err      error
}

// New begins a page.
func New(s Size, marginMM float64) *Leaf {
	d := &figure.Drawing{W: s.W, H: s.H, Paper: figure.RoleRGB(figure.Paper)}
	return &Leaf{Drawing: d, Size: s, MarginMM: marginMM}
}

// Left, Right, Inner and Bottom are the edges and the width of what may be
// printed on, mm.
func (p *Leaf) Left() float64   { return p.MarginMM }
func (p *Leaf) Right() float64  { return p.Size.W - p.MarginMM }
func (p *Leaf) Inner() float64  { return p.Size.W - 2*p.MarginMM }
func (p *Leaf) Bottom() float64 { return p.Size.H - p.MarginMM }

// Fault keeps the first fault.
func (p *Leaf) Fault(err error) {
	if p.Err == nil {
		p.Err = err
	}
}

// check keeps a missing glyph as the page's fault.
func (p *Leaf) check(t string) {
	if err := Check(p.Record, t); err != nil {
		p.Fault(err)
	}
}

// Set sets one line; y is its baseline.
func (p *Leaf) Set(s Style, x, y float64, a figure.Anchor, t string) {
	p.check(t)
	p.Text(figure.Text{X: x, Y: y, S: t, SizeMM: s.SizeMM, Bold: s.Bold, Anchor: a, Role: s.Role})
}

// SetFit sets one line within w: smaller, and cut where that is not enough.
func (p *Leaf) SetFit(s Style, x, y, w float64, a figure.Anchor, t string) {
	p.check(t)
	s, t = s.Fit(t, w)
	p.Set(s, x, y, a, t)
}

// Paragraph sets a text in lines from top on and gives the y below them.
func (p *Leaf) Paragraph(s Style, x, top, w float64, t string) float64 {
	p.check(t)
	for _, line := range s.Wrap(t, w) {
		p.Set(s, x, top+s.SizeMM, figure.Start, line)
		top += s.SizeMM * Leading
	}
	return top
}

// Rule draws a line in ink.
func (p *Leaf) Rule(x1, y1, x2, y2, width float64) {
	p.Line([][]figure.Point{{{X: x1, Y: y1}, {X: x2, Y: y2}}}, figure.Stroke{Role: figure.Ink, WidthMM: width})
}

// Box draws the edge of a rectangle in ink.
func (p *Leaf) Box(x, y, w, h, width float64) {
	p.Line([][]figure.Point{{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}, {X: x, Y: y}}}, figure.Stroke{Role: figure.Ink, WidthMM: width})
}

// Moved is a pen that draws on another, scaled by K and then moved to X, Y.
type Moved struct {
	To      figure.Pen
	X, Y, K float64
}

func (m Moved) pt(p figure.Point) figure.Point {
	return figure.Point{X: m.X + m.K*p.X, Y: m.Y + m.K*p.Y}
}

func (m Moved) pts(paths [][]figure.Point) [][]figure.Point {
	out := make([][]figure.Point, len(paths))
	for i, path := range paths {
		for _, p := range path {
			out[i] = append(out[i], m.pt(p))
		}
	}
	return out
}

// Begin opens a group without its name: names are for pages, and would recur.
func (m Moved) Begin(g figure.Group) {
	g.ID = ""
	if g.Clip.W > 0 {
		a := m.pt(figure.Point{X: g.Clip.X, Y: g.Clip.Y})
		g.Clip = figure.Rect{X: a.X, Y: a.Y, W: g.Clip.W * m.K, H: g.Clip.H * m.K}
	}
	m.To.Begin(g)
}

// End closes the group opened last.
func (m Moved) End() { m.To.End() }

// Line draws open polylines.
func (m Moved) Line(paths [][]figure.Point, s figure.Stroke) {
	s.WidthMM *= m.K
	m.To.Line(m.pts(paths), s)
}

// Area fills rings.
func (m Moved) Area(rings [][]figure.Point, f figure.Fill) { m.To.Area(m.pts(rings), f) }

// Discs draws circles.
func (m Moved) Discs(c []figure.Point, r float64, f figure.Fill, s figure.Stroke) {
	s.WidthMM *= m.K
	m.To.Discs(m.pts([][]figure.Point{c})[0], r*m.K, f, s)
}

// Text sets a line.
func (m Moved) Text(t figure.Text) {
	p := m.pt(figure.Point{X: t.X, Y: t.Y})
	t.X, t.Y, t.SizeMM = p.X, p.Y, t.SizeMM*m.K
	m.To.Text(t)
}
