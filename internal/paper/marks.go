package paper

import (
	"sync"

	"soakline/internal/figure"
	"soakline/internal/leaf"
)

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
	m.d.On(leaf.Moved{To: inked{p.Drawing}, X: x - k*(m.e.x0+m.e.x1)/2, Y: y - k*m.e.y1, K: k})
}

// inked is a pen that draws in ink whatever the role: a sheet is copied in grey,
// and a mark in colour comes out faint.
type inked struct{ figure.Pen }

func ink(r figure.Role) figure.Role {
	if r == figure.None || r == figure.Paper {
		return r
	}
	return figure.Ink
}

func (k inked) Line(paths [][]figure.Point, s figure.Stroke) {
	s.Role = ink(s.Role)
	k.Pen.Line(paths, s)
}

func (k inked) Area(rings [][]figure.Point, f figure.Fill) {
	f.Role = ink(f.Role)
	k.Pen.Area(rings, f)
}

func (k inked) Discs(c []figure.Point, r float64, f figure.Fill, s figure.Stroke) {
	f.Role, s.Role = ink(f.Role), ink(s.Role)
	k.Pen.Discs(c, r, f, s)
}

func (k inked) Text(t figure.Text) {
	t.Role = ink(t.Role)
	k.Pen.Text(t)
}
