package place

import (
	_ "embed"
	"math"
	"slices"
	"strings"
	"sync"
	"time"
)

//go:embed data/zones.txt
var zonesText string

// ZoneProposal is a time zone that a position may be in.
type ZoneProposal struct {
	Name       string  // IANA name
	DistanceKm float64 // 0 where the coarse map puts the position inside
	Sea        bool    // a zone of the open sea (Etc/GMT±N): a clock by longitude, used by no town
}

// Zone map: how near another zone must be to be told, and how far from land a
// position may be and still be proposed the nearest land's zone.
const (
	ZoneDoubtKm = 50
	zoneReachKm = 600
)

// ZoneProposals returns the zones a position may be in, the likeliest first,
// for the person to confirm: the map is coarse (it agreed in clock time with
// real boundaries at 98.7 % of random coast points). The first is the zone of
// the map there; for a position offshore, that of the nearest land within 600
// km. Others within 50 km follow, nearest first, as doubt (see SameClock), and
// the zone of the open sea last where the position is in one.
// A position that is none has no zone.
func ZoneProposals(latDeg, lonDeg float64) []ZoneProposal {
	if !ValidPosition(latDeg, lonDeg) {
		return nil
	}
	m := zoneMap()
	lonDeg = math.Remainder(lonDeg, 360)
	here := m.at(latDeg, lonDeg)
	found := m.near(latDeg, lonDeg, ZoneDoubtKm)
	sea := isSea(here)
	if sea && !hasLand(found) {
		for _, reach := range []float64{150, 300, zoneReachKm} {
			if found = m.near(latDeg, lonDeg, reach); hasLand(found) {
				break
			}
		}
	}
	var out []ZoneProposal
	for name, km := range found {
		if name != here && !isSea(name) {
			out = append(out, ZoneProposal{Name: name, DistanceKm: km})
		}
	}
	slices.SortFunc(out, func(a, b ZoneProposal) int {
		if a.DistanceKm != b.DistanceKm {
			if a.DistanceKm < b.DistanceKm {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	if !sea {
		return append([]ZoneProposal{{Name: here}}, out...)
	}
	if len(out) > 0 { // keep the nearest land, and what is not much farther
		limit := math.Max(ZoneDoubtKm, out[0].DistanceKm+ZoneDoubtKm)
		for i, z := range out {
			if z.DistanceKm > limit {
				out = out[:i]
				break
			}
		}
	}
	return append(out, ZoneProposal{Name: here, Sea: true})
}

func isSea(name string) bool { return strings.HasPrefix(name, "Etc/") }

func hasLand(found map[string]float64) bool {
	for name := range found {
		if !isSea(name) {
			return true
		}
	}
	return false
}

// SameClock reports whether two zones show the same time all through a year,
// looked at every third day: only where they do not must a person choose. It
// returns an error if the zone rules at hand lack one of the names.
func SameClock(a, b string, year int) (bool, error) {
	la, err := time.LoadLocation(a)
	if err != nil {
		return false, err
	}
	lb, err := time.LoadLocation(b)
	if err != nil {
		return false, err
	}
	for t := time.Date(year, 1, 1, 12, 0, 0, 0, time.UTC); t.Year() == year; t = t.AddDate(0, 0, 3) {
		_, oa := t.In(la).Zone()
		_, ob := t.In(lb).Zone()
		if oa != ob {
			return false, nil
		}
	}
	return true, nil
}

// zoneTree is the map of data/zones.txt: 48 × 24 squares of 7.5°, each either
// one zone or cut in four, and so on. A square is two characters, digits to
// base 56 from '#'; high values name zones, others say how many squares of
// four further on the parts stand.
type zoneTree struct {
	tree  string
	names []string
}

const (
	zoneColumns, zoneRows = 48, 24
	zoneSquareDeg         = 7.5
	zoneTop               = 56 * 56 // values from here, less the number of zones, are zones
)

var zoneMap = sync.OnceValue(func() *zoneTree {
	lines := strings.Split(strings.TrimSpace(zonesText), "\n")
	return &zoneTree{tree: lines[0], names: lines[1:]}
})

// value reads the square at a place in the string.
func (z *zoneTree) value(pos int) int {
	return 56*int(z.tree[pos]-'#') + int(z.tree[pos+1]-'#')
}

// zone returns the name a value stands for, or "" if the square is cut.
func (z *zoneTree) zone(v int) string {
	if i := v + len(z.names) - zoneTop; i >= 0 {
		return z.names[i]
	}
	return ""
}

// part returns the place in the string of one of the four parts: group is the
// running number of the group of four, row 0 north, col 0 west.
func part(group, row, col int) int {
	return 2*zoneColumns*zoneRows + 8*group + 4*row + 2*col
}

func (z *zoneTree) at(latDeg, lonDeg float64) string {
	// A position on the edge of two squares belongs to the north-western one,
	// as the map's makers have it: hence the divisors just over 180 and 360.
	u, v := zoneRows*(90-latDeg)/180.00000000000003, zoneColumns*(180+lonDeg)/360.00000000000006
	row, col := int(u), int(v)
	u, v = u-float64(row), v-float64(col)
	pos, group := 2*(zoneColumns*row+col), -1
	for {
		value := z.value(pos)
		if name := z.zone(value); name != "" {
			return name
		}
		group += value + 1
		u, v = 2*u, 2*v
		row, col = int(u), int(v)
		u, v = u-float64(row), v-float64(col)
		pos = part(group, row, col)
	}
}

// near returns the zones with a square within reach, and how far it is.
func (z *zoneTree) near(latDeg, lonDeg, reachKm float64) map[string]float64 {
	found := map[string]float64{}
	var walk func(pos, group int, b Box)
	walk = func(pos, group int, b Box) {
		km := boxDistanceKm(latDeg, lonDeg, b)
		if km > reachKm {
			return
		}
		value := z.value(pos)
		if name := z.zone(value); name != "" {
			if old, ok := found[name]; !ok || km < old {
				found[name] = km
			}
			return
		}
		group += value + 1
		midLat, midLon := (b.LatMin+b.LatMax)/2, (b.LonMin+b.LonMax)/2
		walk(part(group, 0, 0), group, Box{midLat, b.LatMax, b.LonMin, midLon})
		walk(part(group, 0, 1), group, Box{midLat, b.LatMax, midLon, b.LonMax})
		walk(part(group, 1, 0), group, Box{b.LatMin, midLat, b.LonMin, midLon})
		walk(part(group, 1, 1), group, Box{b.LatMin, midLat, midLon, b.LonMax})
	}
	for row := range zoneRows {
		for col := range zoneColumns {
			n, w := 90-zoneSquareDeg*float64(row), -180+zoneSquareDeg*float64(col)
			walk(2*(zoneColumns*row+col), -1, Box{n - zoneSquareDeg, n, w, w + zoneSquareDeg})
		}
	}
	return found
}

// boxDistanceKm is the distance to the nearest point of a box, on a sphere of
// 6371 km and within a few per cent: good enough to say "about 30 km".
func boxDistanceKm(latDeg, lonDeg float64, b Box) float64 {
	const kmPerDeg = 6371 * degree
	lat := math.Min(math.Max(latDeg, b.LatMin), b.LatMax)
	dLon := math.Max(0, math.Abs(math.Remainder(lonDeg-(b.LonMin+b.LonMax)/2, 360))-(b.LonMax-b.LonMin)/2)
	// The nearest point at the other meridian may lie nearer the pole, where
	// meridians are closer together; over these short ways it hardly does.
	c := math.Sqrt(arcDeg(latDeg).c * arcDeg(lat).c)
	return kmPerDeg * math.Hypot(latDeg-lat, dLon*c)
}
