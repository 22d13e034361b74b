package figure

// Point is a place on the drawing, mm from the top left, y downwards.
type Point struct{ X, Y float64 }

// Rect is an upright rectangle: top left, width and height, mm.
type Rect struct{ X, Y, W, H float64 }

// Stroke says how a line is drawn.
type Stroke struct {
	Role    Role
	WidthMM float64
	Alpha   float64 // 0 means opaque
	Round   bool    // round ends; joints are always round
}

// Fill says how an area is filled.
type Fill struct {
	Role  Role
	Alpha float64 // 0 means opaque
}

// Anchor says which part of a text stands at its point. The pens space
// letters slightly differently, so a text is never placed by a measured end.
type Anchor uint8

// The anchors.
const (
	Start Anchor = iota
	Middle
	End
)

// Text is one line of text; Y is its baseline.
type Text struct {
	X, Y   float64
	S      string
	SizeMM float64 // em
	Bold   bool
	Anchor Anchor
	Role   Role
	Halo   bool // an edge in the colour of the ground, to stay legible over lines
}

func (t Text) face() Face {
	if t.Bold {
		return Bold
	}
	return Regular
}

// Box is the rectangle the text's glyphs fill, by the font's metrics.
func (t Text) Box() Rect {
	m := parsed[t.face()]()
	w, lo, hi := 0.0, 0.0, 0.0
	for _, r := range t.S {
		a, bottom, top := m.rune(r)
		w += a
		lo, hi = min(lo, bottom), max(hi, top)
	}
	w, lo, hi = w*t.SizeMM, lo*t.SizeMM, hi*t.SizeMM
	x := t.X
	switch t.Anchor {
	case Middle:
		x -= w / 2
	case End:
		x -= w
	}
	return Rect{x, t.Y - hi, w, hi - lo}
}

// Group gathers marks under a name. ID, Title and Desc may be empty; Clip,
// when it has a width, hides what stands outside it.
type Group struct {
	ID, Title, Desc string
	Clip            Rect
}

// Pen draws. All lengths are mm. Dashes are cut into pieces before they reach
// a pen, so that they fall alike on every medium.
type Pen interface {
	Begin(Group)
	End()
	// Line draws open polylines in one stroke.
	Line(paths [][]Point, s Stroke)
	// Area fills closed rings by the non-zero rule.
	Area(rings [][]Point, f Fill)
	// Discs draws circles of one radius; a fill or a stroke of role None is left out.
	Discs(centres []Point, r float64, f Fill, s Stroke)
	Text(Text)
}

// Drawing is a figure laid out: what a pen is to do, in order. It is itself a
// Pen that remembers.
type Drawing struct {
	ID          string // unique on the page that holds it; prefix of all ids in the SVG
	Title, Desc string
	W, H        float64 // mm
	Paper       RGB     // the ground under open marks and halos
	// Missing lists the runes that were printed as □ for want of a glyph.
	Missing []rune
	// Left lists labels for which the drawing had no room.
	Left []string

	ops []op
}

type op interface{ do(Pen) }

type (
	opBegin Group
	opEnd   struct{}
	opLine  struct {
		paths [][]Point
		s     Stroke
	}
	opArea struct {
		rings [][]Point
		f     Fill
	}
	opDiscs struct {
		c []Point
		r float64
		f Fill
		s Stroke
	}
	opText Text
)

func (o opBegin) do(p Pen) { p.Begin(Group(o)) }
func (o opEnd) do(p Pen)   { p.End() }
func (o opLine) do(p Pen)  { p.Line(o.paths, o.s) }
func (o opArea) do(p Pen)  { p.Area(o.rings, o.f) }
func (o opDiscs) do(p Pen) { p.Discs(o.c, o.r, o.f, o.s) }
func (o opText) do(p Pen)  { p.Text(Text(o)) }

// Begin opens a group.
func (d *Drawing) Begin(g Group) { d.ops = append(d.ops, opBegin(g)) }

// End closes the group opened last.
func (d *Drawing) End() { d.ops = append(d.ops, opEnd{}) }

// Line remembers polylines; those with fewer than two points are left out.
func (d *Drawing) Line(paths [][]Point, s Stroke) {
	var keep [][]Point
	for _, p := range paths {
		if len(p) > 1 {
			keep = append(keep, p)
		}
	}
	if len(keep) > 0 {
		d.ops = append(d.ops, opLine{keep, s})
	}
}

// Area remembers filled rings; those with fewer than three points are left out.
func (d *Drawing) Area(rings [][]Point, f Fill) {
	var keep [][]Point
	for _, r := range rings {
		if len(r) > 2 {
			keep = append(keep, r)
		}
	}
	if len(keep) > 0 {
		d.ops = append(d.ops, opArea{keep, f})
	}
}

// Discs remembers circles.
func (d *Drawing) Discs(c []Point, r float64, f Fill, s Stroke) {
	if len(c) > 0 {
		d.ops = append(d.ops, opDiscs{c, r, f, s})
	}
}

// Text remembers a text, cleaned; an empty one is left out.
func (d *Drawing) Text(t Text) {
	s, missing := Clean(t.S)
	for _, r := range missing {
		d.Missing = addRune(d.Missing, r)
	}
	if t.S = s; s != "" {
		d.ops = append(d.ops, opText(t))
	}
}

// On draws the drawing with another pen.
func (d *Drawing) On(p Pen) {
	for _, o := range d.ops {
		o.do(p)
	}
}

// Texts lists the texts of the drawing in order, as they are printed.
func (d *Drawing) Texts() []Text {
	var ts []Text
	for _, o := range d.ops {
		if t, ok := o.(opText); ok {
			ts = append(ts, Text(t))
		}
	}
	return ts
}

// dashed cuts polylines into dashes of length on with gaps of length off, mm.
func dashed(paths [][]Point, on, off float64) [][]Point {
	var out [][]Point
	for _, p := range paths {
		out = append(out, dashOne(p, on, off)...)
	}
	return out
}

func dashOne(p []Point, on, off float64) [][]Point {
	var out [][]Point
	if len(p) < 2 || on <= 0 || off <= 0 {
		return [][]Point{p}
	}
	left, drawing := on, true
	cur := []Point{p[0]}
	for i := 1; i < len(p); i++ {
		a, b := p[i-1], p[i]
		for {
			d := dist(a, b)
			if d <= left {
				left -= d
				if drawing {
					cur = append(cur, b)
				}
				break
			}
			f := left / d
			a = Point{a.X + (b.X-a.X)*f, a.Y + (b.Y-a.Y)*f}
			if drawing {
				out = append(out, append(cur, a))
				cur, left = nil, off
			} else {
				cur, left = []Point{a}, on
			}
			drawing = !drawing
		}
	}
	if drawing && len(cur) > 1 {
		out = append(out, cur)
	}
	return out
}
