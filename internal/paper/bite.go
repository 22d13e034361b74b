package paper

import (
	"math"

	"soakline/internal/figure"
	"soakline/internal/leaf"
)

// bitten is a bait disc of radius 1 with a part eaten, as closed rings around
// the origin for the non-zero rule.
type bitten struct {
	rings [][]figure.Point
	left  float64 // share of the disc that is left, as drawn
}

// bite says how a bait was eaten.
type bite struct {
	angle  float64 // from where, radians
	reach  float64 // radius of the bite in radii of the bait, 1.1 or more; 0 for a hole in the middle
	teeth  int     // ripples of its edge in a full turn
	ripple float64 // their height, share of reach
}

// rim is how many points an edge is drawn with.
const rim = 240

// eat draws a bait of which the share left remains, by moving the bite in until
// the area of the drawn polygon is right to 1e-6 of the disc.
func eat(left float64, b bite) bitten {
	if left >= 1 {
		return bitten{[][]figure.Point{circle(1)}, 1}
	}
	if left <= 0 {
		return bitten{}
	}
	lo, hi := 0.0, 1.0 // how far in the bite is: 0 not at all, 1 all gone
	var got bitten
	for range 60 {
		mid := (lo + hi) / 2
		got = b.at(mid)
		if math.Abs(got.left-left) < 1e-7 {
			break
		}
		if got.left > left {
			lo = mid
		} else {
			hi = mid
		}
	}
	return got
}

func circle(r float64) []figure.Point {
	out := make([]figure.Point, rim)
	for i := range out {
		s, c := math.Sincos(2 * math.Pi * float64(i) / rim)
		out[i] = figure.Point{X: r * c, Y: r * s}
	}
	return out
}

// edge is the radius of the bite towards phi.
func (b bite) edge(reach, phi float64) float64 {
	return reach * (1 + b.ripple*math.Sin(float64(b.teeth)*phi))
}

func (b bite) at(depth float64) bitten {
	whole := area(circle(1))
	if b.reach == 0 {
		hole := make([]figure.Point, rim)
		for i := range hole {
			phi := -2 * math.Pi * float64(i) / rim // the other way round: a hole
			s, c := math.Sincos(phi)
			r := b.edge(depth/(1+b.ripple), phi+b.angle)
			hole[i] = figure.Point{X: r * c, Y: r * s}
		}
		rings := [][]figure.Point{circle(1), hole}
		return bitten{rings, (whole + area(hole)) / whole}
	}
	// The bite's middle comes from far enough out not to touch to where it
	// covers everything.
	far := 1 + b.reach*(1+b.ripple)
	near := max(0, b.reach*(1-b.ripple)-1)
	ring := b.remains(far + (near-far)*depth)
	return bitten{[][]figure.Point{ring}, area(ring) / whole}
}

// remains is the disc outside a bite whose middle stands at distance d: the
// disc's rim where it lies outside the bite, closed along the bite's edge
// where that lies inside the disc.
func (b bite) remains(d float64) []figure.Point {
	inBite := func(p figure.Point) bool {
		x, y := p.X-d, p.Y
		return math.Hypot(x, y) < b.edge(b.reach, math.Atan2(y, x))
	}
	var ring []figure.Point
	for i := range rim { // begins opposite to the bite, so what is left is one run
		s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / rim)
		if p := (figure.Point{X: c, Y: s}); !inBite(p) {
			ring = append(ring, p)
		}
	}
	// The rim ran from just past the bite round to just before it; the bite's own
	// edge leads back, from its lower to its upper end.
	for i := 1; i < rim; i++ {
		phi := math.Pi + math.Pi*(1-2*float64(i)/rim)
		r := b.edge(b.reach, math.Atan2(math.Sin(phi), math.Cos(phi)))
		p := figure.Point{X: d + r*math.Cos(phi), Y: r * math.Sin(phi)}
		if math.Hypot(p.X, p.Y) < 1 {
			ring = append(ring, p)
		}
	}
	s, c := math.Sincos(b.angle)
	for i, p := range ring {
		ring[i] = figure.Point{X: p.X*c - p.Y*s, Y: p.X*s + p.Y*c}
	}
	return ring
}

// area is the signed area of a closed ring (shoelace).
func area(ring []figure.Point) float64 {
	a := 0.0
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		a += p.X*q.Y - q.X*p.Y
	}
	return a / 2
}

// bait draws a bitten bait with radius r around x, y, and the rim it had.
func (p *page) bait(b bitten, x, y, r float64) {
	m := leaf.Moved{To: p.Drawing, X: x, Y: y, K: r}
	if len(b.rings) > 0 {
		m.Area(b.rings, figure.Fill{Role: figure.Mute})
	}
	var dashes [][]figure.Point
	whole := circle(1)
	for i := 0; i < rim; i += 8 {
		dashes = append(dashes, whole[i:i+5])
	}
	m.Line(dashes, figure.Stroke{Role: figure.Ink, WidthMM: hairMM * 1.4 / r})
}
