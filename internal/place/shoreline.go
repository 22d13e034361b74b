package place

import "math"

// Point is a position, degrees.
type Point struct{ LatDeg, LonDeg float64 }

// Box is a range of latitude and longitude, degrees. LonMax below LonMin means
// a box across 180°.
type Box struct{ LatMin, LatMax, LonMin, LonMax float64 }

// Contains reports whether a position lies in the box, edges included.
func (b Box) Contains(latDeg, lonDeg float64) bool {
	if !(latDeg >= b.LatMin && latDeg <= b.LatMax) {
		return false
	}
	width := b.LonMax - b.LonMin
	if width < 0 {
		width += 360
	}
	east := math.Mod(lonDeg-b.LonMin, 360)
	if east < 0 {
		east += 360
	}
	return east <= width
}

// Scale chooses a shoreline: Fine is 1:10 million, for a bay or a coast; Coarse
// is 1:110 million, for the world.
type Scale int

const (
	Fine Scale = iota
	Coarse
)

// Shore is land as a map draws it. Longitudes run on from the box's western
// edge and may pass 180.
type Shore struct {
	// Land are closed rings clipped to the box, to be filled by the even-odd
	// rule; the first point is not repeated. They run along the box's edge.
	Land [][]Point
	// Lines are the shore itself, without what runs along the box's edge.
	Lines [][]Point
}

// Shoreline returns the land inside a box. Below 20 km across, the error of the
// fine shoreline is a tenth of the picture: draw it dashed and say so, or not.
// A box that is none (not finite, or without area) gives an empty Shore.
func Shoreline(box Box, scale Scale) Shore {
	r := fineRings
	if scale == Coarse {
		r = coarseRings
	}
	if box.LonMax < box.LonMin {
		box.LonMax += 360
	}
	var out Shore
	if !(box.LatMin < box.LatMax && box.LonMin < box.LonMax && box.LonMin >= -540 && box.LonMax <= 540 && box.LatMin >= -91 && box.LatMax <= 91) {
		return out
	}
	land := r()
	land.draw()
	for k := range len(land.start) - 1 {
		b := land.bounds[k]
		if b.LatMax < box.LatMin || b.LatMin > box.LatMax {
			continue
		}
		var ring []Point
		var shore int
		for turn := -720.0; turn <= 720; turn += 360 {
			if b.LonMax+turn < box.LonMin || b.LonMin+turn > box.LonMax {
				continue
			}
			if ring == nil {
				ring, shore = land.unwrapped(k)
			}
			moved := make([]Point, len(ring))
			for i, p := range ring {
				moved[i] = Point{p.LatDeg, p.LonDeg + turn}
			}
			if c := clipRing(moved, box); len(c) > 2 {
				out.Land = append(out.Land, c)
			}
			out.Lines = append(out.Lines, clipLine(moved, shore, box)...)
		}
	}
	return out
}

// unwrapped returns a ring in running longitude; a ring that goes round the
// pole is closed along the bottom of the map. Only its first shore points and
// the edges between them (and, where shore is len, the closing one) are shore.
func (r *rings) unwrapped(k int) (ring []Point, shore int) {
	ring = make([]Point, 0, r.start[k+1]-r.start[k]+3)
	shore = r.walk(k, func(p Point) { ring = append(ring, p) })
	return ring, shore
}

// walk tells the points of unwrapped one after another.
func (r *rings) walk(k int, f func(Point)) (shore int) {
	begin, end := r.start[k], r.start[k+1]
	first := float64(r.x[begin])
	x, last := first, begin
	for i := begin; i < end; i++ {
		x += r.around(float64(r.x[i] - r.x[last]))
		f(Point{r.lat(float64(r.y[i])), r.lon(x)})
		last = i
	}
	shore = int(end - begin)
	x += r.around(float64(r.x[begin] - r.x[last]))
	if math.Abs(x-first) > 1 {
		f(Point{r.lat(float64(r.y[begin])), r.lon(x)})
		f(Point{-90, r.lon(x)})
		f(Point{-90, r.lon(first)})
		shore++ // up to the first point, a turn later
	}
	return shore
}

// bound returns the box of an unwrapped ring.
func (r *rings) bound(k int) Box {
	b := Box{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	r.walk(k, func(p Point) {
		b.LatMin, b.LatMax = min(b.LatMin, p.LatDeg), max(b.LatMax, p.LatDeg)
		b.LonMin, b.LonMax = min(b.LonMin, p.LonDeg), max(b.LonMax, p.LonDeg)
	})
	return b
}

// side is one edge of a box as a half plane: inside where sign·(value − limit) ≥ 0.
type side struct {
	lat   bool
	limit float64
	sign  float64
}

func (s side) depth(p Point) float64 {
	if s.lat {
		return s.sign * (p.LatDeg - s.limit)
	}
	return s.sign * (p.LonDeg - s.limit)
}

func (b Box) sides() [4]side {
	return [4]side{{true, b.LatMin, 1}, {true, b.LatMax, -1}, {false, b.LonMin, 1}, {false, b.LonMax, -1}}
}

func between(p, q Point, t float64) Point {
	return Point{p.LatDeg + t*(q.LatDeg-p.LatDeg), p.LonDeg + t*(q.LonDeg-p.LonDeg)}
}

// clipRing clips a ring to a box, one side after another (Sutherland and
// Hodgman 1974, Commun. ACM 17:32-42).
func clipRing(ring []Point, b Box) []Point {
	for _, s := range b.sides() {
		if len(ring) == 0 {
			return nil
		}
		var out []Point
		p := ring[len(ring)-1]
		dp := s.depth(p)
		for _, q := range ring {
			dq := s.depth(q)
			if (dp >= 0) != (dq >= 0) {
				c := between(p, q, dp/(dp-dq))
				if s.lat { // exactly on the side
					c.LatDeg = s.limit
				} else {
					c.LonDeg = s.limit
				}
				out = append(out, c)
			}
			if dq >= 0 {
				out = append(out, q)
			}
			p, dp = q, dq
		}
		ring = out
	}
	return ring
}

// clipLine returns the parts of a ring's shore that lie in the box, each edge
// cut to its stretch inside (Liang and Barsky 1984, ACM Trans. Graph. 3:1-22).
func clipLine(ring []Point, shore int, b Box) [][]Point {
	var out [][]Point
	var line []Point
	flush := func() {
		if len(line) > 1 {
			out = append(out, line)
		}
		line = nil
	}
	edges := shore - 1
	if shore == len(ring) {
		edges = shore // closed: the last point leads back to the first
	}
	for i := range edges {
		p, q := ring[i], ring[(i+1)%len(ring)]
		from, to := 0.0, 1.0
		for _, s := range b.sides() {
			dp, dq := s.depth(p), s.depth(q)
			switch {
			case dp < 0 && dq < 0:
				from = 2
			case dp < 0:
				from = math.Max(from, dp/(dp-dq))
			case dq < 0:
				to = math.Min(to, dp/(dp-dq))
			}
		}
		if from > to {
			flush()
			continue
		}
		if from > 0 || line == nil {
			flush()
			line = []Point{between(p, q, from)}
		}
		if to < 1 {
			line = append(line, between(p, q, to))
			flush()
		} else {
			line = append(line, q)
		}
	}
	flush()
	return out
}
