package figure

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func area(r []Point) float64 {
	a := 0.0
	for i, q := range r {
		p := r[(i+len(r)-1)%len(r)]
		a += p.X*q.Y - q.X*p.Y
	}
	return math.Abs(a) / 2
}

// TestClipRingByHand: the triangle (0,0) (4,0) (0,4) cut to the square 1..3
// keeps the triangle (1,1) (3,1) (1,3), area 2; a ring outside leaves nothing;
// one inside stays.
func TestClipRingByHand(t *testing.T) {
	sq := Rect{1, 1, 2, 2}
	if a := area(clipRing([]Point{{0, 0}, {4, 0}, {0, 4}}, sq)); math.Abs(a-2) > 1e-12 {
		t.Errorf("area %g, want 2", a)
	}
	if r := clipRing([]Point{{10, 10}, {11, 10}, {10, 11}}, sq); r != nil {
		t.Errorf("outside: %v", r)
	}
	if r := clipRing([]Point{{1.5, 1.5}, {2, 1.5}, {1.5, 2}}, sq); len(r) != 3 {
		t.Errorf("inside: %v", r)
	}
	if a := area(clipRing([]Point{{-9, -9}, {9, -9}, {9, 9}, {-9, 9}}, sq)); math.Abs(a-4) > 1e-12 {
		t.Errorf("around: area %g, want 4", a)
	}
}

// haversine is the great-circle distance in km, radius 6371.0088 km: another
// formula than the map's.
func haversine(a, b LonLat) float64 {
	rad := math.Pi / 180
	s := math.Pow(math.Sin((b.Lat-a.Lat)*rad/2), 2) + math.Cos(a.Lat*rad)*math.Cos(b.Lat*rad)*math.Pow(math.Sin((b.Lon-a.Lon)*rad/2), 2)
	return 2 * 6371.0088 * math.Asin(math.Sqrt(s))
}

// TestScaleIsTrue: distances on the paper, by the scale of the bar, agree with
// the great circle to half a part in a hundred, also across 180°.
func TestScaleIsTrue(t *testing.T) {
	for _, c := range [][2]LonLat{{{-8.3, 36.9}, {-8.1, 37.0}}, {{179.9, -16.8}, {-179.9, -16.7}}, {{20, 69.9}, {20.5, 70.1}}} {
		m := Map{Title: "t", Sites: []MapSite{{"a", c[0], 0}, {"b", c[1], 0}}}
		d := &Drawing{W: 200}
		if err := m.check(); err != nil {
			t.Fatal(err)
		}
		v := m.view(d)
		got := dist(v.place(c[0]), v.place(c[1])) / v.mmPerDeg * kmPerDegree
		if want := haversine(c[0], c[1]); math.Abs(got/want-1) > 0.005 {
			t.Errorf("%v: %.3f km on the map, %.3f on the sphere", c, got, want)
		}
	}
}

// TestScaleBarText: the bar of the sample is as long as it says.
func TestScaleBarText(t *testing.T) {
	d, err := DrawMap(mapSample(), frame("m", 1040))
	if err != nil {
		t.Fatal(err)
	}
	m := mapSample()
	if err := m.check(); err != nil {
		t.Fatal(err)
	}
	v := m.view(&Drawing{W: d.W})
	in, long := false, 0.0
	for _, o := range d.ops {
		switch o := o.(type) {
		case opBegin:
			in = o.ID == "scale"
		case opEnd:
			in = false
		case opLine:
			if in {
				long = dist(o.paths[1][0], o.paths[1][1]) / v.mmPerDeg * kmPerDegree
			}
		case opText:
			if says := fmt.Sprintf("%.6g km", long); in && o.S != says {
				t.Errorf("the bar of %s says %q", says, o.S)
			}
		}
	}
	if long == 0 {
		t.Error("no bar")
	}
}

// TestShore: land seen gives the source, none gives the other sentence, and a
// ring across 180° or round the pole is drawn where it lies.
func TestShore(t *testing.T) {
	has := func(m Map, s string) bool {
		d, err := DrawMap(m, frame("m", 600))
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range d.Texts() {
			if strings.Contains(x.S, s) {
				return true
			}
		}
		return false
	}
	m := mapDateLine()
	m.NoShore = "none here"
	if !has(m, "invented for this test") || has(m, "none here") {
		t.Error("the island across 180° is not seen")
	}
	m = mapOpenSea()
	m.Coast = [][]LonLat{blob(100, 40, 1, 50, 3)}
	if !has(m, "no shoreline within") || has(m, "not shown") {
		t.Error("an island elsewhere counts as shore")
	}
	// A cap round the south pole at 70° S, as Antarctica's ring: a site at 75° S
	// has land about it, one at 60° S has none.
	var cap []LonLat
	for lon := -180.0; lon < 180; lon += 5 {
		cap = append(cap, LonLat{lon, -70})
	}
	for lat, want := range map[float64]bool{-75: true, -60: false} {
		m := Map{Title: "t", Source: "land", NoShore: "sea", Coast: [][]LonLat{cap}, Sites: []MapSite{{"a", LonLat{170, lat}, 0}, {"b", LonLat{-170, lat}, 0}}}
		if has(m, "land") != want {
			t.Errorf("at %g: land seen is %v", lat, !want)
		}
	}
}

// TestCrowdIsNumbered: where names find no room, each stands in the list below
// with its number.
func TestCrowdIsNumbered(t *testing.T) {
	d, err := DrawMap(mapCrowd(60), frame("m", 360))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, x := range d.Texts() {
		if strings.Contains(x.S, " Invented site ") {
			n++
		}
	}
	if n != 60 {
		t.Errorf("%d names below the map, want 60", n)
	}
}

// TestNoShoreAlongCut: land that was cut along 180° (two rings with an edge
// on it) is filled, but the cut is not drawn as shore.
func TestNoShoreAlongCut(t *testing.T) {
	m := Map{Title: "t", Source: "land", NoShore: "sea", Sites: []MapSite{{"a", LonLat{179, 0}, 0}, {"b", LonLat{-179, 1}, 0}},
		Coast: [][]LonLat{{{179.5, 0}, {180, 0}, {180, 1}, {179.5, 1}}, {{-180, 0}, {-179.5, 0}, {-179.5, 1}, {-180, 1}}}}
	d, err := DrawMap(m, frame("m", 600))
	if err != nil {
		t.Fatal(err)
	}
	if err := m.check(); err != nil {
		t.Fatal(err)
	}
	x := m.view(&Drawing{W: d.W}).place(LonLat{180, 0.5}).X
	n, areas, in := 0, 0, false
	for _, o := range d.ops {
		switch o := o.(type) {
		case opBegin:
			in = o.ID == "land"
		case opEnd:
			in = false
		case opArea:
			if in {
				areas += len(o.rings)
			}
		case opLine:
			if !in {
				continue
			}
			for _, p := range o.paths {
				for i := 1; i < len(p); i++ {
					n++
					if math.Abs(p[i].X-x) < 1e-6 && math.Abs(p[i-1].X-x) < 1e-6 {
						t.Error("shore drawn along 180°")
					}
				}
			}
		}
	}
	if n != 6 || areas != 2 {
		t.Errorf("%d edges of shore and %d areas, want 6 (by hand: three sides of each square) and 2", n, areas)
	}
}
