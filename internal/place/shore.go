package place

import (
	_ "embed"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sort"
	"sync"
)

//go:embed data/land10m.bin
var land10m []byte

//go:embed data/land110m.bin
var land110m []byte

// ShorelineName is what a figure says of the shoreline it draws.
const ShorelineName = "Natural Earth 1:10 million"

// rings are the closed shorelines of one scale, as tools/land wrote them:
// integers x, y with position = translate + scale · integer. A block is up to 64
// edges of one ring; what it holds is read when it is asked for.
type rings struct {
	scaleX, scaleY, originX, originY float64
	world                            int32   // 360° in units of x
	start                            []int32 // first point of each ring, and the end
	table                            []byte  // of the blocks
	steps                            []byte

	// All points, one after another, and the box of each ring, in running
	// longitude: for whoever draws.
	drawn  sync.Once
	x, y   []int32
	bounds []Box
}

// entry is how many bytes a block takes in the table.
const entry = 32

// extent is a range of x and y; x runs on across ±180°.
type extent struct{ xMin, yMin, xMax, yMax int32 }

func (e extent) union(o extent) extent {
	return extent{min(e.xMin, o.xMin), min(e.yMin, o.yMin), max(e.xMax, o.xMax), max(e.yMax, o.yMax)}
}

var (
	fineRings   = sync.OnceValue(func() *rings { return mustUnpack(land10m) })
	coarseRings = sync.OnceValue(func() *rings { return mustUnpack(land110m) })
)

// mustUnpack reads embedded bytes; that they read is held by a test.
func mustUnpack(packed []byte) *rings {
	r, err := unpack(packed)
	if err != nil {
		panic("place: embedded land: " + err.Error())
	}
	return r
}

func unpack(packed []byte) (*rings, error) {
	const head = 4*8 + 3*4
	if len(packed) < head {
		return nil, io.ErrUnexpectedEOF
	}
	float := func(k int) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(packed[8*k:])) }
	count := func(k int) int { return int(binary.LittleEndian.Uint32(packed[32+4*k:])) }
	r := &rings{scaleX: float(0), scaleY: float(1), originX: float(2), originY: float(3)}
	r.world = int32(math.Round(360 / r.scaleX))
	n, points, blocks := count(0), count(1), count(2)
	rest := packed[head:]
	if len(rest) < 4*n+entry*blocks {
		return nil, fmt.Errorf("%d rings in %d blocks: %w", n, blocks, io.ErrUnexpectedEOF)
	}
	r.start = make([]int32, n+1)
	for k := range n {
		r.start[k+1] = r.start[k] + int32(binary.LittleEndian.Uint32(rest[4*k:]))
	}
	r.table, r.steps = rest[4*n:4*n+entry*blocks], rest[4*n+entry*blocks:]
	if int(r.start[n]) != points || blocks == 0 {
		return nil, fmt.Errorf("%d points where %d are told, in %d blocks", r.start[n], points, blocks)
	}
	// The steps end where the last block's do.
	if last := r.eachPoint(blocks-1, func(int32, int32) {}); last != len(r.steps) {
		return nil, io.ErrUnexpectedEOF
	}
	return r, nil
}

func (r *rings) blocks() int { return len(r.table) / entry }

// cell is one number of a block's entry.
func (r *rings) cell(block, k int) int32 {
	return int32(binary.LittleEndian.Uint32(r.table[entry*block+4*k:]))
}

// extent is what a block lies within.
func (r *rings) extent(block int) extent {
	return extent{r.cell(block, 4), r.cell(block, 5), r.cell(block, 6), r.cell(block, 7)}
}

// edges is how many edges a block has: up to 64 of what its ring has left.
func (r *rings) edges(first int32) int {
	k := sort.Search(len(r.start), func(k int) bool { return r.start[k] > first })
	if k == len(r.start) {
		return 0
	}
	return int(min(64, r.start[k]-first))
}

// eachPoint tells a block's points, one more than it has edges, x running on
// from the first; and where its steps end (-1 if they are cut off).
func (r *rings) eachPoint(block int, f func(x, y int32)) int {
	at, x, y := int(r.cell(block, 1)), r.cell(block, 2), r.cell(block, 3)
	f(x, y)
	for range r.edges(r.cell(block, 0)) {
		for _, v := range [2]*int32{&x, &y} {
			if at >= len(r.steps) {
				return -1
			}
			d, n := binary.Varint(r.steps[at:])
			if n <= 0 {
				return -1
			}
			*v += int32(d)
			at += n
		}
		f(x, y)
	}
	return at
}

// draw reads all points.
func (r *rings) draw() {
	r.drawn.Do(func() {
		n := r.start[len(r.start)-1]
		r.x, r.y = make([]int32, n), make([]int32, n)
		for b := range r.blocks() {
			i := r.cell(b, 0)
			end := i + int32(r.edges(i))
			r.eachPoint(b, func(x, y int32) {
				if i < end { // the last point begins the next block, or the ring
					r.x[i], r.y[i] = x, y
				}
				i++
			})
		}
		r.bounds = make([]Box, len(r.start)-1)
		for k := range r.bounds {
			r.bounds[k] = r.bound(k)
		}
	})
}

func (r *rings) lon(x float64) float64 { return r.originX + r.scaleX*x }
func (r *rings) lat(y float64) float64 { return r.originY + r.scaleY*y }

// toX returns a longitude in units of x, in [0, world).
func (r *rings) toX(lonDeg float64) float64 {
	x := math.Mod((lonDeg-r.originX)/r.scaleX, float64(r.world))
	if x < 0 {
		x += float64(r.world)
	}
	return x
}

// around returns dx as the shorter way round the Earth
// (dx is a difference of two values in [0, world]).
func (r *rings) around(dx float64) float64 {
	w := float64(r.world)
	switch {
	case dx > w/2:
		return dx - w
	case dx < -w/2:
		return dx + w
	}
	return dx
}
