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

// ring turns a ring of positions into points without a jump: each longitude
// follows its neighbour the short way round. A ring that runs round a pole is
// closed through it. Copies one turn east and west are given where the view
// could hold them.
func (p projection) ring(r []LonLat, view Rect) [][]Point {
	type en struct{ e, lat float64 }
	var line []en
	last := 0.0
	for i, q := range r {
		if !q.valid() {
			continue
		}
		e := p.east(q.Lon)
		if i > 0 && len(line) > 0 {
			e = last + math.Remainder(e-last, 360)
		}
		line = append(line, en{e, q.Lat})
		last = e
	}
	if len(line) < 3 {
		return nil
	}
	first := line[0]
	if turn := math.Remainder(first.e-last, 360) + last - first.e; math.Abs(turn) > 180 {
		pole := math.Copysign(90, first.lat)
		line = append(line, en{first.e + turn, first.lat}, en{first.e + turn, pole}, en{first.e, pole})
	}
	var out [][]Point
	for _, shift := range [...]float64{-360, 0, 360} {
		pts := make([]Point, len(line))
		box := Rect{math.Inf(1), math.Inf(1), 0, 0}
		far := Point{math.Inf(-1), math.Inf(-1)}
		for i, q := range line {
			pts[i] = p.point(q.e+shift, q.lat)
			box.X, box.Y = min(box.X, pts[i].X), min(box.Y, pts[i].Y)
			far.X, far.Y = max(far.X, pts[i].X), max(far.Y, pts[i].Y)
		}
		box.W, box.H = far.X-box.X, far.Y-box.Y
		if box.overlaps(view) {
			out = append(out, pts)
		}
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
