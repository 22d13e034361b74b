package place

import (
	"math"
	"sync"
	"sync/atomic"
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

// index finds edges of the shoreline fast. Blocks of edges lie in groups of 16,
// those in regions of 16; only the blocks near what is asked for are unpacked.
type index struct {
	*rings
	groups, regions []family
	balls           []atomic.Pointer[[kin]ball] // of the blocks of a group, once asked for
	leaves          []atomic.Pointer[leaf]      // of a block, once asked for
}

const kin = 16

// family is a run of blocks, or of groups: all within a box and a ball.
type family struct {
	extent
	ball
	first, last int32
}

// ball encloses edges, metres from the centre of the Earth.
type ball struct {
	centre [3]float64
	radius float64
}

// leaf are the points of a block's edges, one more than edges; x in [0, world).
type leaf struct {
	x, y   []int32
	placed sync.Once
	space  [][3]float64 // metres from the centre of the Earth, for distances
}

var fineIndex = sync.OnceValue(func() *index { return newIndex(fineRings()) })

func newIndex(r *rings) *index {
	x := &index{rings: r, leaves: make([]atomic.Pointer[leaf], r.blocks())}
	boxes := make([]extent, r.blocks())
	for b := range boxes {
		boxes[b] = r.extent(b)
	}
	x.groups = x.gather(boxes)
	x.balls = make([]atomic.Pointer[[kin]ball], len(x.groups))
	boxes = boxes[:0]
	for _, g := range x.groups {
		boxes = append(boxes, g.extent)
	}
	x.regions = x.gather(boxes)
	return x
}

// gather makes families of kin boxes that stand side by side.
func (x *index) gather(boxes []extent) []family {
	var out []family
	for i := 0; i < len(boxes); i += kin {
		f := family{extent: boxes[i], first: int32(i), last: int32(min(i+kin, len(boxes)))}
		for _, e := range boxes[i+1 : f.last] {
			f.extent = f.union(e)
		}
		f.ball = x.around3(f.extent)
		out = append(out, f)
	}
	return out
}

// around3 is a ball round all that lies within an extent, on the surface or on
// straight edges between its points. From the middle of the extent the farthest
// points are its corners, as long as it is less than half the Earth wide; one
// hundredth more for the Earth's not being a sphere.
func (x *index) around3(e extent) ball {
	lat1, lat2 := x.lat(float64(e.yMin)), x.lat(float64(e.yMax))
	lon1, lon2 := x.lon(float64(e.xMin)), x.lon(float64(e.xMax))
	if lon2-lon1 >= 180 {
		return ball{radius: 2 * equatorialM}
	}
	b := ball{centre: fromCentre((lat1+lat2)/2, (lon1+lon2)/2)}
	for _, p := range [4][3]float64{fromCentre(lat1, lon1), fromCentre(lat1, lon2), fromCentre(lat2, lon1), fromCentre(lat2, lon2)} {
		b.radius = math.Max(b.radius, 1.01*length(minus(p, b.centre))+1)
	}
	return b
}

// near returns the ball of a level's entry: block, group or region.
func (x *index) near(level int, k int32) *ball {
	switch level {
	case 2:
		return &x.regions[k].ball
	case 1:
		return &x.groups[k].ball
	}
	g := &x.balls[k/kin]
	b := g.Load()
	if b == nil {
		b = new([kin]ball)
		for i := x.groups[k/kin].first; i < x.groups[k/kin].last; i++ {
			b[i%kin] = x.around3(x.extent(int(i)))
		}
		g.Store(b)
	}
	return &b[k%kin]
}

// leaf unpacks a block, once.
func (x *index) leaf(b int32) *leaf {
	l := x.leaves[b].Load()
	if l != nil {
		return l
	}
	n := x.edges(x.cell(int(b), 0)) + 1
	l = &leaf{x: make([]int32, 0, n), y: make([]int32, 0, n)}
	x.eachPoint(int(b), func(px, py int32) {
		l.x, l.y = append(l.x, (px%x.world+x.world)%x.world), append(l.y, py)
	})
	x.leaves[b].Store(l)
	return l
}

func (x *index) onLand(latDeg, lonDeg float64) bool {
	px, py := x.toX(lonDeg), (latDeg-x.originY)/x.scaleY
	land := false
	for _, g := range x.groups {
		if !x.over(g.extent, px) {
			continue
		}
		for b := g.first; b < g.last; b++ {
			if x.over(x.extent(int(b)), px) && x.leaf(b).crossings(x.rings, px, py)%2 == 1 {
				land = !land
			}
		}
	}
	return land
}

// over reports whether the meridian px, in [0, world), passes through an extent.
func (r *rings) over(e extent, px float64) bool {
	for _, turn := range [3]float64{0, -float64(r.world), float64(r.world)} {
		if p := px + turn; p >= float64(e.xMin)-1 && p <= float64(e.xMax)+1 {
			return true
		}
	}
	return false
}

// crossings counts the edges that the meridian px meets north of py.
func (l *leaf) crossings(r *rings, px, py float64) (n int) {
	half := float64(r.world) / 2
	a := r.around(float64(l.x[0]) - px)
	for i := 1; i < len(l.x); i++ {
		// Each end is judged by itself, so that two edges agree on the point
		// they share, and a ray through it crosses once.
		from := a
		a = r.around(float64(l.x[i]) - px)
		if (from <= 0) == (a <= 0) || math.Abs(from-a) > half {
			continue
		}
		y1, y2 := float64(l.y[i-1]), float64(l.y[i])
		if y1-from*(y2-y1)/(a-from) > py {
			n++
		}
	}
	return n
}

// fromCentre returns a position on the ellipsoid in metres from the Earth's centre.
func fromCentre(latDeg, lonDeg float64) [3]float64 {
	p, l := arcDeg(latDeg), arcDeg(lonDeg)
	n := equatorialM / math.Sqrt(1-eSq*p.s*p.s)
	return [3]float64{n * p.c * l.c, n * p.c * l.s, n * (1 - eSq) * p.s}
}

func minus(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func dot(a, b [3]float64) float64      { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func length(a [3]float64) float64      { return math.Sqrt(dot(a, a)) }

// search is the nearest point found so far, by straight distance.
type search struct {
	at    [3]float64
	best  float64
	block *leaf
	edge  int
	t     float64 // how far along the edge, 0..1
}

func (x *index) nearest(latDeg, lonDeg float64) (shoreLat, shoreLon float64) {
	s := search{at: fromCentre(latDeg, lonDeg), best: math.Inf(1)}
	x.visit(2, 0, int32(len(x.regions)), &s)
	x1, y1 := float64(s.block.x[s.edge]), float64(s.block.y[s.edge])
	x2, y2 := float64(s.block.x[s.edge+1]), float64(s.block.y[s.edge+1])
	return x.lat(y1 + s.t*(y2-y1)), NormalLongitude(x.lon(x1 + s.t*x.around(x2-x1)))
}

// visit goes through entries first..last of a level, nearest first, and leaves
// out those that cannot hold anything nearer than what was found.
func (x *index) visit(level int, first, last int32, s *search) {
	var room [128]float64 // more than any level holds side by side; a longer one is made
	n := int(last - first)
	near := room[:0]
	if n > len(room) {
		near = make([]float64, 0, n)
	}
	near = near[:n]
	for k := range near {
		b := x.near(level, first+int32(k))
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
		switch i := first + int32(k); level {
		case 2:
			x.visit(1, x.regions[i].first, x.regions[i].last, s)
		case 1:
			x.visit(0, x.groups[i].first, x.groups[i].last, s)
		default:
			s.measure(x.leaf(i).place(x.rings))
		}
	}
}

// place fills space, once.
func (l *leaf) place(r *rings) *leaf {
	l.placed.Do(func() {
		l.space = make([][3]float64, len(l.x))
		for i := range l.space {
			l.space[i] = fromCentre(r.lat(float64(l.y[i])), r.lon(float64(l.x[i])))
		}
	})
	return l
}

// measure compares a block's edges, each taken as straight in space: over the
// longest edges that passes some metres under the surface, far less than the
// line is off.
func (s *search) measure(l *leaf) {
	for i := range len(l.space) - 1 {
		p := l.space[i]
		along, from := minus(l.space[i+1], p), minus(s.at, p)
		t := 0.0
		if q := dot(along, along); q > 0 {
			t = math.Max(0, math.Min(1, dot(from, along)/q))
		}
		d := length([3]float64{from[0] - t*along[0], from[1] - t*along[1], from[2] - t*along[2]})
		if d < s.best {
			s.best, s.block, s.edge, s.t = d, l, i, t
		}
	}
}
