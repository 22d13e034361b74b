package place

import (
	"bytes"
	"compress/flate"
	_ "embed"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"sync"
)

//go:embed data/land10m.bin
var land10m []byte

//go:embed data/land110m.bin
var land110m []byte

// ShorelineName is what a figure says of the shoreline it draws.
const ShorelineName = "Natural Earth 1:10 million"

// rings are the closed shorelines of one scale, as tools/land packed them:
// integers x, y with position = translate + scale · integer.
type rings struct {
	scaleX, scaleY, originX, originY float64
	world                            int32   // 360° in units of x
	x, y                             []int32 // points of all rings, one after another
	start                            []int32 // first point of each ring, and the end
	bounds                           []Box   // of each ring, in running longitude
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
	raw, err := io.ReadAll(flate.NewReader(bytes.NewReader(packed)))
	if err != nil {
		return nil, err
	}
	in := bytes.NewReader(raw)
	var head [4]float64
	if err := binary.Read(in, binary.LittleEndian, &head); err != nil {
		return nil, err
	}
	r := &rings{scaleX: head[0], scaleY: head[1], originX: head[2], originY: head[3]}
	r.world = int32(math.Round(360 / r.scaleX))
	n, err := binary.ReadUvarint(in)
	if err != nil || n > uint64(len(raw)) {
		return nil, fmt.Errorf("%d rings: %w", n, err)
	}
	for range n {
		r.start = append(r.start, int32(len(r.x)))
		m, err := binary.ReadUvarint(in)
		if err != nil || m > uint64(len(raw)) {
			return nil, fmt.Errorf("a ring of %d points: %w", m, err)
		}
		var x, y int64
		for range m {
			dx, errX := binary.ReadVarint(in)
			dy, errY := binary.ReadVarint(in)
			if errX != nil || errY != nil {
				return nil, io.ErrUnexpectedEOF
			}
			x, y = x+dx, y+dy
			r.x, r.y = append(r.x, int32(x)), append(r.y, int32(y))
		}
	}
	r.start = append(r.start, int32(len(r.x)))
	for k := range len(r.start) - 1 {
		r.bounds = append(r.bounds, r.bound(k))
	}
	return r, nil
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

// next returns the point that follows point i on ring k.
func (r *rings) next(k int, i int32) int32 {
	if i+1 == r.start[k+1] {
		return r.start[k]
	}
	return i + 1
}
