// Command land makes the shorelines that package place embeds. It is run by
// hand, and its output is committed:
//
//	npm pack world-atlas@2.0.2
//	go run ./tools/land world-atlas-2.0.2.tgz internal/place/data
//
// It reads the land polygons of Natural Earth 4.1 at 1:10 million and 1:110
// million (public domain; packaged under the ISC licence) from the package's
// TopoJSON, joins the arcs to rings, drops the marker square at 0, 0 that is no
// land, and writes for each, raw-DEFLATE compressed:
//
//	scale x, scale y, translate x, translate y   float64, little endian
//	number of rings                               uvarint
//	per ring: number of points                    uvarint
//	  per point: x and y minus the one before     zig-zag varint (first: from 0, 0)
//
// A position in degrees is translate + scale · integer; rings are not closed by
// repeating the first point, run across ±180° and, for Antarctica, round the pole.
// What is committed is the truth, not what a later Go's compressor would write.
package main

import (
	"archive/tar"
	"bytes"
	"compress/flate"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
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
	var body []byte
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
				body = binary.AppendUvarint(body, uint64(len(ring)))
				last := [2]int{}
				for _, p := range ring {
					body = binary.AppendVarint(body, int64(p[0]-last[0]))
					body = binary.AppendVarint(body, int64(p[1]-last[1]))
					last = p
				}
				rings++
				points += len(ring)
			}
		}
	}
	fmt.Printf("%d rings without area, or the marker at 0, 0, left out\n", dropped)
	var head []byte
	for _, v := range []float64{topo.Transform.Scale[0], topo.Transform.Scale[1], topo.Transform.Translate[0], topo.Transform.Translate[1]} {
		head = binary.LittleEndian.AppendUint64(head, math.Float64bits(v))
	}
	head = binary.AppendUvarint(head, uint64(rings))
	var out bytes.Buffer
	w, err := flate.NewWriter(&out, flate.BestCompression)
	if err != nil {
		return nil, 0, 0, err
	}
	_, err = w.Write(append(head, body...))
	err = errors.Join(err, w.Close())
	return out.Bytes(), rings, points, err
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
