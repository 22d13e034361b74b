package paper

import (
	"sync"

	"soakline/internal/figure"
)

// moved is a pen that draws on another, scaled and moved.
type moved struct {
	to      figure.Pen
	x, y, k float64
}

func (m moved) pt(p figure.Point) figure.Point {
	return figure.Point{X: m.x + m.k*p.X, Y: m.y + m.k*p.Y}
}

func (m moved) pts(paths [][]figure.Point) [][]figure.Point {
	out := make([][]figure.Point, len(paths))
	for i, path := range paths {
		for _, p := range path {
			out[i] = append(out[i], m.pt(p))
		}
	}
	return out
}

func (m moved) Begin(g figure.Group) {
	g.ID = "" // ids are for pages, and would recur
	if g.Clip.W > 0 {
		a := m.pt(figure.Point{X: g.Clip.X, Y: g.Clip.Y})
		g.Clip = figure.Rect{X: a.X, Y: a.Y, W: g.Clip.W * m.k, H: g.Clip.H * m.k}
	}
	m.to.Begin(g)
}
func (m moved) End() { m.to.End() }
func (m moved) Line(paths [][]figure.Point, s figure.Stroke) {
	s.WidthMM *= m.k
	m.to.Line(m.pts(paths), s)
}
func (m moved) Area(rings [][]figure.Point, f figure.Fill) { m.to.Area(m.pts(rings), f) }
func (m moved) Discs(c []figure.Point, r float64, f figure.Fill, s figure.Stroke) {
	s.WidthMM *= m.k
	m.to.Discs(m.pts([][]figure.Point{c})[0], r*m.k, f, s)
}
func (m moved) Text(t figure.Text) {
	p := m.pt(figure.Point{X: t.X, Y: t.Y})
	t.X, t.Y, t.SizeMM = p.X, p.Y, t.SizeMM*m.k
	m.to.Text(t)
}

// extent is a pen that finds how much room a drawing takes.
type extent struct {
	any            bool
	x0, y0, x1, y1 float64
}

func (e *extent) add(x, y, r float64) {
	if !e.any {
		e.any, e.x0, e.x1, e.y0, e.y1 = true, x-r, x+r, y-r, y+r
		return
	}
	e.x0, e.x1 = min(e.x0, x-r), max(e.x1, x+r)
	e.y0, e.y1 = min(e.y0, y-r), max(e.y1, y+r)
}

func (e *extent) Begin(figure.Group) {}
func (e *extent) End()               {}
func (e *extent) Line(paths [][]figure.Point, s figure.Stroke) {
	for _, path := range paths {
		for _, p := range path {
			e.add(p.X, p.Y, s.WidthMM/2)
		}
	}
}
func (e *extent) Area(rings [][]figure.Point, _ figure.Fill) { e.Line(rings, figure.Stroke{}) }
func (e *extent) Discs(c []figure.Point, r float64, _ figure.Fill, s figure.Stroke) {
	for _, p := range c {
		e.add(p.X, p.Y, r+s.WidthMM/2)
	}
}
func (e *extent) Text(t figure.Text) {
	b := t.Box()
	e.add(b.X, b.Y, 0)
	e.add(b.X+b.W, b.Y+b.H, 0)
}

// fateMark is the drawn mark of a fate, as figure draws it in a row.
type fateMark struct {
	d *figure.Drawing
	e extent
}

var fateMarks = sync.OnceValue(func() (m [4]fateMark) {
	for f := range m {
		d, err := figure.DrawRow(figure.Row{Lines: []figure.RowLine{{Fates: []figure.Fate{figure.Fate(f)}}}},
			figure.Frame{ID: "m", WidthMM: 40, Look: figure.Print})
		if err != nil {
			panic("paper: draw a fate: " + err.Error()) // no data in it: our own slip
		}
		m[f].d = d
		d.On(&m[f].e)
	}
	return m
})

// fate draws a fate's mark h high, standing on y, centred at x; every mark has
// the same scale, that of the tallest.
func (p *page) fate(f figure.Fate, x, y, h float64) {
	all := fateMarks()
	tall := 0.0
	for _, m := range all {
		tall = max(tall, m.e.y1-m.e.y0)
	}
	m := all[f]
	k := h / tall
	m.d.On(moved{p.Drawing, x - k*(m.e.x0+m.e.x1)/2, y - k*m.e.y1, k})
}
