// Command land makes the shorelines that package place embeds. It is run by
// hand, and its output is committed:
//
//	npm pack world-atlas@2.0.2
//	go run ./tools/land world-atlas-2.0.2.tgz internal/place/data
//
// It reads the land polygons of Natural Earth 4.1 at 1:10 million and 1:110
// million (public domain; packaged under the ISC licence) from the package's
// TopoJSON, joins the arcs to rings, drops the marker square at 0, 0 that is no
// land, and writes for each, little endian and not compressed, so that a program
// that asks about one bay reads the shores of that bay alone:
//
//	scale x, scale y, translate x, translate y       float64
//	rings, points, blocks                             uint32
//	per ring: number of points                        uint32
//	per block of up to 64 edges of one ring:
//	  first point (counted over all rings)            uint32
//	  where its steps begin after the last block      uint32
//	  first x, y; least x, y; greatest x, y           int32
//	per block, per edge: step in x and y to its end   zig-zag varint
//
// A position in degrees is translate + scale · integer; rings are not closed by
// repeating the first point, run across ±180° and, for Antarctica, round the
// pole: steps take the shorter way, so that x may leave the map, and least and
// greatest x are told so. Blocks that are near each other on the map stand near
// each other in the file.
package main

import (
	"archive/tar"
	"bytes"
	"cmp"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
)

const packageSum = "032e7765f2ce00edaeafec23ff22bc3b77e42987c257da944cc585b452c05b97"

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "usage: go run ./tools/land world-atlas-2.0.2.tgz DIR")
		os.Exit(2)
	}
	if err := run(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, "land:", err)
		os.Exit(1)
	}
}

func run(tgz, dir string) error {
	raw, err := os.ReadFile(tgz)
	if err != nil {
		return err
	}
	if sum := fmt.Sprintf("%x", sha256.Sum256(raw)); sum != packageSum {
		return fmt.Errorf("%s has SHA-256 %s, not that of world-atlas 2.0.2", tgz, sum)
	}
	for _, scale := range []string{"10m", "110m"} {
		text, err := member(raw, "package/land-"+scale+".json")
		if err != nil {
			return err
		}
		packed, rings, points, err := pack(text)
		if err != nil {
			return err
		}
		name := filepath.Join(dir, "land"+scale+".bin")
		if err := os.WriteFile(name, packed, 0o644); err != nil {
			return err
		}
		fmt.Printf("%s: %d rings, %d points, %d bytes, SHA-256 %x\n", name, rings, points, len(packed), sha256.Sum256(packed))
	}
	return nil
}

// member returns one file of the package.
func member(tgz []byte, name string) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(tgz))
	if err != nil {
		return nil, err
	}
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		if h.Name == name {
			return io.ReadAll(r)
		}
	}
}

// topology is the part of TopoJSON that is read.
type topology struct {
	Arcs      [][][2]int
	Transform struct{ Scale, Translate [2]float64 }
	Objects   struct {
		Land struct {
			Geometries []struct {
				Type string
				Arcs [][][]int
			}
		}
	}
}

func pack(text []byte) (packed []byte, rings, points int, err error) {
	var topo topology
	if err := json.Unmarshal(text, &topo); err != nil {
		return nil, 0, 0, err
	}
	var shores [][][2]int
	dropped := 0
	for _, g := range topo.Objects.Land.Geometries {
		if g.Type != "MultiPolygon" {
			return nil, 0, 0, fmt.Errorf("a geometry of type %s", g.Type)
		}
		for _, polygon := range g.Arcs {
			for _, arcs := range polygon {
				ring, err := join(topo.Arcs, arcs)
				if err != nil {
					return nil, 0, 0, err
				}
				if len(ring) < 3 || atNull(topo, ring) { // rounding left some islands without area
					dropped++
					continue
				}
				shores = append(shores, ring)
				points += len(ring)
			}
		}
	}
	fmt.Printf("%d rings without area, or the marker at 0, 0, left out\n", dropped)
	return write(topo, shores, points), len(shores), points, nil
}

// block is up to 64 edges of one ring.
type block struct {
	first            uint32
	from, least, top [2]int
	steps            []byte
}

func write(topo topology, shores [][][2]int, points int) []byte {
	scale, translate := topo.Transform.Scale, topo.Transform.Translate
	world := int(math.Round(360 / scale[0]))
	var blocks []block
	first := uint32(0)
	for _, ring := range shores {
		for i := 0; i < len(ring); i += 64 {
			blocks = append(blocks, cut(ring, i, min(i+64, len(ring)), world, first))
		}
		first += uint32(len(ring))
	}
	// Cells of 5° in bands that run west to east and back.
	cell := func(b block) int {
		row := int((translate[1] + scale[1]*float64(b.from[1]) + 90) / 5)
		col := int((translate[0] + scale[0]*float64(b.from[0]) + 180) / 5)
		if row%2 == 1 {
			col = 80 - col
		}
		return 100*row + col
	}
	slices.SortStableFunc(blocks, func(a, b block) int { return cmp.Compare(cell(a), cell(b)) })
	var out []byte
	for _, v := range []float64{scale[0], scale[1], translate[0], translate[1]} {
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(v))
	}
	put := func(v int) { out = binary.LittleEndian.AppendUint32(out, uint32(int32(v))) }
	put(len(shores))
	put(points)
	put(len(blocks))
	for _, ring := range shores {
		put(len(ring))
	}
	at := 0
	for _, b := range blocks {
		put(int(b.first))
		put(at)
		for _, p := range [][2]int{b.from, b.least, b.top} {
			put(p[0])
			put(p[1])
		}
		at += len(b.steps)
	}
	for _, b := range blocks {
		out = append(out, b.steps...)
	}
	return out
}

// cut packs the edges that begin at points i..j of a ring.
func cut(ring [][2]int, i, j, world int, first uint32) block {
	b := block{first: first + uint32(i), from: ring[i], least: ring[i], top: ring[i]}
	at := ring[i]
	for k := i; k < j; k++ {
		p, q := ring[k], ring[(k+1)%len(ring)]
		step := [2]int{q[0] - p[0], q[1] - p[1]}
		switch {
		case step[0] > world/2:
			step[0] -= world
		case step[0] < -world/2:
			step[0] += world
		}
		for d := range 2 {
			b.steps = binary.AppendVarint(b.steps, int64(step[d]))
			at[d] += step[d]
			b.least[d], b.top[d] = min(b.least[d], at[d]), max(b.top[d], at[d])
		}
	}
	return b
}

// join strings arcs to one ring; ~k is arc k backwards, and the point where two
// arcs meet stands in both.
func join(all [][][2]int, arcs []int) ([][2]int, error) {
	var ring [][2]int
	for _, k := range arcs {
		back := k < 0
		if back {
			k = ^k
		}
		if k >= len(all) {
			return nil, fmt.Errorf("arc %d of %d", k, len(all))
		}
		pts := make([][2]int, len(all[k]))
		var at [2]int
		for i, d := range all[k] {
			at[0] += d[0]
			at[1] += d[1]
			j := i
			if back {
				j = len(pts) - 1 - i
			}
			pts[j] = at
		}
		for _, p := range pts {
			if len(ring) == 0 || ring[len(ring)-1] != p {
				ring = append(ring, p)
			}
		}
	}
	for len(ring) > 1 && ring[0] == ring[len(ring)-1] {
		ring = ring[:len(ring)-1]
	}
	return ring, nil
}

// atNull reports the marker square at 0, 0.
func atNull(t topology, ring [][2]int) bool {
	for _, p := range ring {
		x := t.Transform.Translate[0] + t.Transform.Scale[0]*float64(p[0])
		y := t.Transform.Translate[1] + t.Transform.Scale[1]*float64(p[1])
		if math.Abs(x) > 1 || math.Abs(y) > 1 {
			return false
		}
	}
	return true
}
