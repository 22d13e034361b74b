package paper

import (
	"math"
	"testing"

	"soakline/internal/figure"
)

// recorder is a pen that remembers what was drawn where.
type recorder struct {
	texts []figure.Text
	areas [][][]figure.Point // in ink
	all   extent
}

func (r *recorder) Begin(figure.Group) {}
func (r *recorder) End()               {}
func (r *recorder) Line(paths [][]figure.Point, s figure.Stroke) {
	r.all.Line(paths, s)
}
func (r *recorder) Area(rings [][]figure.Point, f figure.Fill) {
	r.areas = append(r.areas, rings)
	r.all.Area(rings, f)
}
func (r *recorder) Discs(c []figure.Point, m float64, f figure.Fill, s figure.Stroke) {
	r.all.Discs(c, m, f, s)
}
func (r *recorder) Text(t figure.Text) {
	r.texts = append(r.texts, t)
	r.all.Text(t)
}

func record(p *page) *recorder {
	r := &recorder{}
	p.On(r)
	return r
}

// whole checks that nothing reaches into the margin that printers leave white,
// and that no two texts touch.
func whole(t *testing.T, what string, p *page) {
	t.Helper()
	r := record(p)
	const edge = 5.0 // mm that common printers cannot reach (common practice, no source)
	if r.all.x0 < edge || r.all.y0 < edge || r.all.x1 > p.Size.W-edge || r.all.y1 > p.Size.H-edge {
		t.Errorf("%s: drawn from (%.1f, %.1f) to (%.1f, %.1f) on a page of %g by %g mm", what, r.all.x0, r.all.y0, r.all.x1, r.all.y1, p.Size.W, p.Size.H)
	}
	for i, a := range r.texts {
		for _, b := range r.texts[:i] {
			if overlap(a.Box(), b.Box()) {
				t.Errorf("%s: %q and %q overlap at (%.1f, %.1f)", what, a.S, b.S, a.X, a.Y)
			}
		}
	}
}

func overlap(a, b figure.Rect) bool {
	const slack = 0.05
	return a.X+slack < b.X+b.W && b.X+slack < a.X+a.W && a.Y+slack < b.Y+b.H && b.Y+slack < a.Y+a.H
}

// grid samples a drawn code back into modules: the module's width is that of
// the finder pattern's top edge, 7 modules (ISO/IEC 18004), and a module is
// black where its middle lies inside what was drawn.
func grid(t *testing.T, rings [][]figure.Point) (black func(x, y int) bool, size int, moduleMM float64) {
	t.Helper()
	var e extent
	e.Area(rings, figure.Fill{})
	first := rings[0]
	moduleMM = (first[1].X - first[0].X) / 7
	n := (e.x1 - e.x0) / moduleMM
	size = int(math.Round(n))
	if math.Abs(n-float64(size)) > 1e-6 || size < 21 || (size-21)%4 != 0 {
		t.Fatalf("the code is %g modules wide", n)
	}
	return func(x, y int) bool {
		px, py := e.x0+(float64(x)+0.5)*moduleMM, e.y0+(float64(y)+0.5)*moduleMM
		for _, r := range rings {
			if px > r[0].X && px < r[2].X && py > r[0].Y && py < r[2].Y {
				return true
			}
		}
		return false
	}, size, moduleMM
}
