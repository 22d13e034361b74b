package figure

import "math"

func dist(a, b Point) float64 { return math.Hypot(b.X-a.X, b.Y-a.Y) }

// overlaps reports whether two rectangles share more than an edge.
func (a Rect) overlaps(b Rect) bool {
	return a.X < b.X+b.W && b.X < a.X+a.W && a.Y < b.Y+b.H && b.Y < a.Y+a.H
}

// grow widens a rectangle by m on all sides.
func (a Rect) grow(m float64) Rect { return Rect{a.X - m, a.Y - m, a.W + 2*m, a.H + 2*m} }

// within reports whether a lies inside b.
func (a Rect) within(b Rect) bool {
	return a.X >= b.X && a.Y >= b.Y && a.X+a.W <= b.X+b.W && a.Y+a.H <= b.Y+b.H
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
