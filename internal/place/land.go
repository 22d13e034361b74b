package place

import (
	"cmp"
	"math"
	"slices"
	"sync"
)

// OnLand reports whether a position is on land by the embedded shoreline,
// Natural Earth 1:10 million. Lakes count as land, the Caspian as sea. Near a
// shore the answer means little: of true shore points the median lies 1.1 km
// from this line, 5 % lie more than 12 km from it, mostly at islands it lacks.
// A position that is none is not on land.
//
// Method: the meridian is followed to the North Pole, which is sea, and the
// shores met on the way are counted; rings across ±180° and round the South
// Pole need no cutting then.
func OnLand(latDeg, lonDeg float64) bool {
	if !ValidPosition(latDeg, lonDeg) {
		return false
	}
	return fineIndex().onLand(latDeg, lonDeg)
}

// DistanceToShoreKm is the distance in km to the nearest embedded shoreline, at
// sea as on land. NaN if the position is none.
func DistanceToShoreKm(latDeg, lonDeg float64) float64 {
	_, _, km := NearestShore(latDeg, lonDeg)
	return km
}

// InlandKm is DistanceToShoreKm on land and its negative at sea: what a rule
// with a tolerance compares.
func InlandKm(latDeg, lonDeg float64) float64 {
	km := DistanceToShoreKm(latDeg, lonDeg)
	if !OnLand(latDeg, lonDeg) {
		return -km
	}
	return km
}

// NearestShore returns the nearest point of the embedded shoreline and its
// distance in km. NaN if the position is none.
func NearestShore(latDeg, lonDeg float64) (shoreLatDeg, shoreLonDeg, km float64) {
	if !ValidPosition(latDeg, lonDeg) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	shoreLatDeg, shoreLonDeg = fineIndex().nearest(latDeg, lonDeg)
	m, _, _ := Between(latDeg, lonDeg, shoreLatDeg, shoreLonDeg)
	return shoreLatDeg, shoreLonDeg, m / 1000
}

const strips = 1800 // of 0.2° of longitude

// index finds edges of the shoreline fast. An edge is named by its first point.
type index struct {
	*rings
	after  []int32      // the point that ends the edge
	space  [][3]float32 // every point, metres from the Earth's centre, to half a metre
	strip  []int32      // where each strip's edges begin in edges
	edges  []int32
	levels [3][]ball // balls round 16 edges, round 16 of those, round 16 of those
}

// ball encloses points first..last (edges, or balls of the level below), in
// metres from the centre of the Earth.
type ball struct {
	centre      [3]float64
	radius      float64
	first, last int32
}

var fineIndex = sync.OnceValue(func() *index { return newIndex(fineRings()) })

func newIndex(r *rings) *index {
	x := &index{rings: r, after: make([]int32, len(r.x)), strip: make([]int32, strips+1)}
	for k := range len(r.start) - 1 {
		for i := r.start[k]; i < r.start[k+1]; i++ {
			x.after[i] = r.next(k, i)
		}
	}
	// Edges by strip of longitude: count, sum, fill.
	count := make([]int32, strips+1)
	for i := range x.after {
		x.eachStrip(int32(i), func(s int) { count[s+1]++ })
	}
	for s := range strips {
		count[s+1] += count[s]
	}
	copy(x.strip, count)
	x.edges = make([]int32, count[strips])
	for i := range x.after {
		x.eachStrip(int32(i), func(s int) {
			x.edges[count[s]] = int32(i)
			count[s]++
		})
	}
	x.growBalls()
	return x
}

// eachStrip calls f for every strip that edge i touches.
func (x *index) eachStrip(i int32, f func(int)) {
	x1 := float64(x.x[i])
	x2 := x1 + x.around(float64(x.x[x.after[i]])-x1)
	per := float64(x.world) / strips
	lo, hi := int(math.Floor(math.Min(x1, x2)/per)), int(math.Floor(math.Max(x1, x2)/per))
	for s := lo; s <= hi; s++ {
		f(((s % strips) + strips) % strips)
	}
}

func (x *index) onLand(latDeg, lonDeg float64) bool {
	px, py := x.toX(lonDeg), (latDeg-x.originY)/x.scaleY
	s := min(int(px/(float64(x.world)/strips)), strips-1)
	land := false
	half := float64(x.world) / 2
	for _, i := range x.edges[x.strip[s]:x.strip[s+1]] {
		// Each end is judged by itself, so that two edges agree on the point
		// they share, and a ray through it crosses once.
		j := x.after[i]
		a, b := x.around(float64(x.x[i])-px), x.around(float64(x.x[j])-px)
		if (a <= 0) == (b <= 0) || math.Abs(a-b) > half {
			continue
		}
		y1, y2 := float64(x.y[i]), float64(x.y[j])
		if y1-a*(y2-y1)/(b-a) > py {
			land = !land
		}
	}
	return land
}

// fromCentre returns a position on the ellipsoid in metres from the Earth's centre.
func fromCentre(latDeg, lonDeg float64) [3]float64 {
	p, l := arcDeg(latDeg), arcDeg(lonDeg)
	n := equatorialM / math.Sqrt(1-eSq*p.s*p.s)
	return [3]float64{n * p.c * l.c, n * p.c * l.s, n * (1 - eSq) * p.s}
}

func (x *index) point(i int32) [3]float64 {
	p := x.space[i]
	return [3]float64{float64(p[0]), float64(p[1]), float64(p[2])}
}

func minus(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func dot(a, b [3]float64) float64      { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func length(a [3]float64) float64      { return math.Sqrt(dot(a, a)) }

func (x *index) growBalls() {
	x.space = make([][3]float32, len(x.x))
	for i := range x.space {
		p := fromCentre(x.lat(float64(x.y[i])), x.lon(float64(x.x[i])))
		x.space[i] = [3]float32{float32(p[0]), float32(p[1]), float32(p[2])}
	}
	for k := range len(x.start) - 1 {
		for i := x.start[k]; i < x.start[k+1]; i += 16 {
			b := ball{first: i, last: min(i+16, x.start[k+1])}
			pts := make([][3]float64, 0, 17)
			for j := b.first; j < b.last; j++ {
				pts = append(pts, x.point(j))
			}
			pts = append(pts, x.point(x.after[b.last-1]))
			b.centre = mean(pts)
			for _, p := range pts {
				b.radius = math.Max(b.radius, length(minus(p, b.centre)))
			}
			x.levels[0] = append(x.levels[0], b)
		}
	}
	// Neighbours in space side by side, so that the balls above stay small:
	// cells of 5° in bands that run west to east and back.
	slices.SortStableFunc(x.levels[0], func(a, b ball) int { return cmp.Compare(x.cell(a), x.cell(b)) })
	for l := range 2 {
		below := x.levels[l]
		for i := 0; i < len(below); i += 16 {
			b := ball{first: int32(i), last: int32(min(i+16, len(below)))}
			var pts [][3]float64
			for _, c := range below[b.first:b.last] {
				pts = append(pts, c.centre)
			}
			b.centre = mean(pts)
			for _, c := range below[b.first:b.last] {
				b.radius = math.Max(b.radius, length(minus(c.centre, b.centre))+c.radius)
			}
			x.levels[l+1] = append(x.levels[l+1], b)
		}
	}
}

// cell numbers the 5° cell that a ball of edges begins in.
func (x *index) cell(b ball) int {
	row := int((x.lat(float64(x.y[b.first])) + 90) / 5)
	col := int((x.lon(float64(x.x[b.first])) + 180) / 5)
	if row%2 == 1 {
		col = 80 - col
	}
	return 100*row + col
}

func mean(pts [][3]float64) (m [3]float64) {
	for _, p := range pts {
		for d := range m {
			m[d] += p[d] / float64(len(pts))
		}
	}
	return m
}

// search is the nearest point found so far, by straight distance.
type search struct {
	at   [3]float64
	best float64
	edge int32
	t    float64 // how far along the edge, 0..1
}

func (x *index) nearest(latDeg, lonDeg float64) (shoreLat, shoreLon float64) {
	s := search{at: fromCentre(latDeg, lonDeg), best: math.Inf(1)}
	x.visit(2, 0, int32(len(x.levels[2])), &s)
	i, j := s.edge, x.after[s.edge]
	x1, y1 := float64(x.x[i]), float64(x.y[i])
	return x.lat(y1 + s.t*(float64(x.y[j])-y1)), NormalLongitude(x.lon(x1 + s.t*x.around(float64(x.x[j])-x1)))
}

// visit goes through balls first..last of a level, nearest first, and leaves out
// those that cannot hold anything nearer than what was found.
func (x *index) visit(level int, first, last int32, s *search) {
	var room [128]float64 // more than any level holds side by side; a longer one is made
	n := int(last - first)
	near := room[:0]
	if n > len(room) {
		near = make([]float64, 0, n)
	}
	near = near[:n]
	for k := range near {
		b := &x.levels[level][int(first)+k]
		near[k] = length(minus(b.centre, s.at)) - b.radius
	}
	for range n {
		k := 0
		for j := range near {
			if near[j] < near[k] {
				k = j
			}
		}
		if near[k] >= s.best {
			return
		}
		near[k] = math.Inf(1)
		b := &x.levels[level][int(first)+k]
		if level > 0 {
			x.visit(level-1, b.first, b.last, s)
			continue
		}
		for i := b.first; i < b.last; i++ {
			x.measure(i, s)
		}
	}
}

// measure compares one edge, taken as straight in space: over the longest edges
// that passes some metres under the surface, far less than the line is off.
func (x *index) measure(i int32, s *search) {
	p := x.point(i)
	along, from := minus(x.point(x.after[i]), p), minus(s.at, p)
	t := 0.0
	if q := dot(along, along); q > 0 {
		t = math.Max(0, math.Min(1, dot(from, along)/q))
	}
	d := length([3]float64{from[0] - t*along[0], from[1] - t*along[1], from[2] - t*along[2]})
	if d < s.best {
		s.best, s.edge, s.t = d, i, t
	}
}
