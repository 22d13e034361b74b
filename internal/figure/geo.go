package figure

import "math"

// LonLat is a position, degrees, east and north positive.
type LonLat struct{ Lon, Lat float64 }

func (p LonLat) valid() bool {
	return finite(p.Lon) && finite(p.Lat) && math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 360
}

// kmPerDegree is the length of a degree of a great circle on a sphere of the
// Earth's mean radius, 6371.0088 km (IUGG mean radius R1, from memory).
const kmPerDegree = math.Pi / 180 * 6371.0088

// projection is the local equirectangular one: degrees north and degrees east
// times cos of the middle latitude, both to one scale. Over 100 km its error
// of scale is under one part in a hundred below 50° of latitude; it is for
// looking, not for measuring.
type projection struct {
	lon0, lat0 float64
	cos        float64
	mmPerDeg   float64 // of latitude
	cx, cy     float64 // mm: where lon0, lat0 stands
}

// east is the difference in longitude from the middle, the short way round.
func (p projection) east(lon float64) float64 { return math.Remainder(lon-p.lon0, 360) }

func (p projection) point(east, lat float64) Point {
	return Point{p.cx + east*p.cos*p.mmPerDeg, p.cy - (lat-p.lat0)*p.mmPerDeg}
}

func (p projection) place(q LonLat) Point { return p.point(p.east(q.Lon), q.Lat) }

// vertex is a corner of a ring, mm. cut marks the edge from it to the next as
// one that is no shore: where land was cut along 180° or closed through a pole.
type vertex struct {
	Point
	cut bool
}

// ring turns a ring of positions into corners without a jump: each longitude
// follows its neighbour the short way round. A ring that runs round a pole is
// closed through it. Corners nearer than fineMM to the last one kept are left
// out. Copies one turn east and west are given where the view could hold them.
func (p projection) ring(r []LonLat, view Rect) [][]vertex {
	line := p.unroll(r)
	if len(line) < 3 {
		return nil
	}
	var out [][]vertex
	for _, shift := range [...]float64{-360, 0, 360} {
		lo, hi := Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
		for _, q := range line {
			at := p.point(q.east+shift, q.lat)
			lo, hi = Point{min(lo.X, at.X), min(lo.Y, at.Y)}, Point{max(hi.X, at.X), max(hi.Y, at.Y)}
		}
		if max(hi.X-lo.X, hi.Y-lo.Y) < 2*fineMM || !(Rect{lo.X, lo.Y, hi.X - lo.X, hi.Y - lo.Y}).overlaps(view) {
			continue
		}
		var vs []vertex
		for i, q := range line {
			v := vertex{p.point(q.east+shift, q.lat), q.cut}
			if n := len(vs); n > 0 && !q.cut && !vs[n-1].cut && i < len(line)-1 && dist(vs[n-1].Point, v.Point) < fineMM {
				continue
			}
			vs = append(vs, v)
		}
		out = append(out, vs)
	}
	return out
}

// fineMM is the finest detail of a shore worth drawing: a tenth of a mm.
const fineMM = 0.1

// unrolled is a position as degrees east of the middle, past 180 if need be.
type unrolled struct {
	east, lat float64
	cut       bool
}

func (p projection) unroll(r []LonLat) []unrolled {
	var line []unrolled
	last := 0.0
	for i, q := range r {
		if !q.valid() {
			continue
		}
		e := p.east(q.Lon)
		if len(line) > 0 {
			e = last + math.Remainder(e-last, 360)
		}
		next := r[(i+1)%len(r)]
		cut := math.Abs(q.Lon) > 179.999 && math.Abs(next.Lon) > 179.999 || math.Abs(q.Lat) > 89.9 && math.Abs(next.Lat) > 89.9
		line = append(line, unrolled{e, q.Lat, cut})
		last = e
	}
	if len(line) == 0 {
		return nil
	}
	first := line[0]
	if turn := math.Remainder(first.east-last, 360) + last - first.east; math.Abs(turn) > 180 {
		pole := math.Copysign(90, first.lat)
		line = append(line, unrolled{first.east + turn, first.lat, true}, unrolled{first.east + turn, pole, true}, unrolled{first.east, pole, true})
	}
	return line
}

// shores gives the runs of a ring's edges that are shore and could be seen.
func shores(ring []vertex, view Rect) [][]Point {
	var out [][]Point
	var run []Point
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		seen := !a.cut && view.crosses(a.Point, b.Point)
		if seen {
			if len(run) == 0 {
				run = append(run, a.Point)
			}
			run = append(run, b.Point)
		}
		if (!seen || i == len(ring)-1) && len(run) > 0 {
			out = append(out, run)
			run = nil
		}
	}
	return out
}

func points(ring []vertex) []Point {
	out := make([]Point, len(ring))
	for i, v := range ring {
		out[i] = v.Point
	}
	return out
}

// clipRing cuts a closed ring to a rectangle.
//
// Method: Sutherland & Hodgman (1974), Commun. ACM 17:32-42; where the ring
// leaves and comes back, edges run along the rectangle.
func clipRing(ring []Point, r Rect) []Point {
	edges := [...]struct {
		in  func(Point) bool
		cut func(a, b Point) Point
	}{
		{func(q Point) bool { return q.X >= r.X }, func(a, b Point) Point { return cutX(a, b, r.X) }},
		{func(q Point) bool { return q.X <= r.X+r.W }, func(a, b Point) Point { return cutX(a, b, r.X+r.W) }},
		{func(q Point) bool { return q.Y >= r.Y }, func(a, b Point) Point { return cutY(a, b, r.Y) }},
		{func(q Point) bool { return q.Y <= r.Y+r.H }, func(a, b Point) Point { return cutY(a, b, r.Y+r.H) }},
	}
	for _, e := range edges {
		var out []Point
		for i, b := range ring {
			a := ring[(i+len(ring)-1)%len(ring)]
			if e.in(a) != e.in(b) {
				out = append(out, e.cut(a, b))
			}
			if e.in(b) {
				out = append(out, b)
			}
		}
		if ring = out; len(ring) == 0 {
			return nil
		}
	}
	return ring
}

func cutX(a, b Point, x float64) Point {
	return Point{x, a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X)}
}

func cutY(a, b Point, y float64) Point {
	return Point{a.X + (b.X-a.X)*(y-a.Y)/(b.Y-a.Y), y}
}

// crosses reports whether the segment a-b meets the rectangle.
func (r Rect) crosses(a, b Point) bool {
	t0, t1 := 0.0, 1.0
	d := Point{b.X - a.X, b.Y - a.Y}
	for _, c := range [...][2]float64{{-d.X, a.X - r.X}, {d.X, r.X + r.W - a.X}, {-d.Y, a.Y - r.Y}, {d.Y, r.Y + r.H - a.Y}} {
		p, q := c[0], c[1]
		if p == 0 {
			if q < 0 {
				return false
			}
			continue
		}
		if t := q / p; p < 0 {
			t0 = max(t0, t)
		} else {
			t1 = min(t1, t)
		}
	}
	return t0 <= t1
}
