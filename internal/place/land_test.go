package place

import (
	"crypto/sha256"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// TestLandBytes: the committed bytes are those tools/land made from the package.
func TestLandBytes(t *testing.T) {
	for _, c := range []struct {
		name          string
		packed        []byte
		sum           string
		rings, points int
	}{
		{"10m", land10m, "5bad042da245388e7d784c106534965ce57ba7decbd0d315c946f8f83a84f643", 4048, 404848},
		{"110m", land110m, "44b07d422c44b42f6800d9189f8fc024e776d7d757c76b5159967d6bd63a0f91", 126, 4997},
	} {
		if sum := fmt.Sprintf("%x", sha256.Sum256(c.packed)); sum != c.sum {
			t.Errorf("%s: SHA-256 %s", c.name, sum)
		}
		r, err := unpack(c.packed)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if n := len(r.start) - 1; n != c.rings || int(r.start[n]) != c.points {
			t.Errorf("%s: %d rings, %d points", c.name, n, r.start[n])
		}
		// Every point stands in one block, within what its block tells, and each
		// block's steps begin where those of the one before end.
		seen, at := make([]int, c.points), 0
		for b := range r.blocks() {
			first := int(r.cell(b, 0))
			for i := range r.edges(int32(first)) {
				seen[first+i]++
			}
			e := r.extent(b)
			if int(r.cell(b, 1)) != at {
				t.Fatalf("%s: block %d begins at %d, the one before ends at %d", c.name, b, r.cell(b, 1), at)
			}
			at = r.eachPoint(b, func(x, y int32) {
				if x < e.xMin || x > e.xMax || y < e.yMin || y > e.yMax {
					t.Errorf("%s: block %d: (%d, %d) outside %v", c.name, b, x, y, e)
				}
			})
		}
		for i, n := range seen {
			if n != 1 {
				t.Fatalf("%s: point %d stands in %d blocks", c.name, i, n)
			}
		}
	}
}

func TestUnpackRefusesDamage(t *testing.T) {
	for _, n := range []int{0, 1, 20, 5000, len(land110m) - 1} {
		if _, err := unpack(land110m[:n]); err == nil {
			t.Errorf("%d of %d bytes were taken", n, len(land110m))
		}
	}
}

// TestOnLandKnown: places anybody can check in an atlas (common knowledge, no
// source), chosen for what goes wrong: both sides of 180°, the poles, 0° 0°.
func TestOnLandKnown(t *testing.T) {
	for _, c := range []struct {
		name     string
		lat, lon float64
		land     bool
	}{
		{"Kansas", 38.5, -98.5, true}, {"Sahara", 23, 10, true}, {"Alice Springs", -23.7, 133.9, true},
		{"Chukotka west of 180", 67, 175, true}, {"Chukotka east of 180", 66.5, -175, true}, {"Chukotka on 180", 67.5, 180, true},
		{"Chukotka on -180", 67.5, -180, true}, {"Wrangel Island", 71.2, -179.6, true}, {"Vanua Levu", -16.6, 179.2, true}, {"Taveuni", -16.85, -179.97, true},
		{"South Pole", -90, 0, true}, {"Antarctica on 180", -85, 180, true}, {"Antarctica, 0", -75, 0, true}, {"North Pole", 90, 0, false},
		{"0, 0", 0, 0, false}, {"Caspian Sea", 42, 50.5, false}, {"Lake Superior", 47.7, -87.5, true}, {"mid Atlantic", 30, -45, false}, {"mid Pacific on 180", 30, 180, false}, {"Southern Ocean on 180", -60, 180, false},
		{"Tasman Sea", -38, 160, false}, {"Bay of Biscay", 45, -5, false}, {"Coral Sea", -17, 155, false}, {"mid Pacific, longitude as 200", 30, 200, false}, {"Hawaii, longitude as 204.5", 19.6, 204.5, true},
	} {
		if got := OnLand(c.lat, c.lon); got != c.land {
			t.Errorf("%s (%v, %v): on land %v", c.name, c.lat, c.lon, got)
		}
	}
}

// TestOnLandShare: 29.2 % of the Earth's surface is land (CRC Handbook of
// Chemistry and Physics, from memory); here without some ice shelves and small
// islands, with lakes.
func TestOnLandShare(t *testing.T) {
	land, all := 0.0, 0.0
	for lat := -89.0; lat < 90; lat += 2 {
		w := math.Cos(lat * degree)
		for lon := -179.0; lon < 180; lon += 2 {
			all += w
			if OnLand(lat, lon) {
				land += w
			}
		}
	}
	if share := land / all; share < .283 || share > .297 {
		t.Errorf("share of land %.4f", share)
	}
}

// onLandPlanar is an independent way: each ring unwrapped on the flat map,
// closed round the pole, and a ray to the east.
func onLandPlanar(flat [][]Point, lat, lon float64) bool {
	land := false
	for _, ring := range flat {
		for _, turn := range []float64{-360, 0, 360} {
			p := ring[len(ring)-1]
			for _, q := range ring {
				if (p.LatDeg > lat) != (q.LatDeg > lat) && p.LonDeg+(lat-p.LatDeg)/(q.LatDeg-p.LatDeg)*(q.LonDeg-p.LonDeg)+turn > lon {
					land = !land
				}
				p = q
			}
		}
	}
	return land
}

func TestOnLandTwoWays(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	r := fineRings()
	r.draw()
	var flat [][]Point
	for k := range len(r.start) - 1 {
		ring, _ := r.unwrapped(k)
		flat = append(flat, ring)
	}
	for range 150 {
		lat, lon := math.Asin(2*rnd.Float64()-1)/degree, 360*rnd.Float64()-180
		if OnLand(lat, lon) != onLandPlanar(flat, lat, lon) {
			t.Errorf("(%v, %v): on land %v by the meridian, not by the parallel", lat, lon, OnLand(lat, lon))
		}
	}
}

// TestDistanceToShoreBruteForce: the nearest of all shore points, tried one by
// one with Between, is never nearer, and at most a half edge farther.
func TestDistanceToShoreBruteForce(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	r := fineRings()
	r.draw()
	for range 6 {
		lat, lon := math.Asin(2*rnd.Float64()-1)/degree, 360*rnd.Float64()-180
		got := DistanceToShoreKm(lat, lon)
		best := math.Inf(1)
		for i := range r.x {
			pLat, pLon := r.lat(float64(r.y[i])), r.lon(float64(r.x[i]))
			if math.Abs(pLat-lat) > 1.1*best/110 {
				continue
			}
			d, _, _ := Between(lat, lon, pLat, pLon)
			best = math.Min(best, d/1000)
		}
		if got > best+1e-6 || got < best-15 {
			t.Errorf("(%v, %v): %v km to the shore, %v to the nearest of its points", lat, lon, got, best)
		}
	}
}

// TestDistanceToShorePublished: the point of the ocean farthest from land,
// 48°52.5′S 123°23.6′W, 2688 km (H. Lukatela's computation of 1992, from
// memory; the nearest shores are islets that 1:10 million just holds).
func TestDistanceToShorePublished(t *testing.T) {
	if km := DistanceToShoreKm(-48.875, -123.393); math.Abs(km-2688) > 10 {
		t.Errorf("%v km", km)
	}
	if km := InlandKm(-48.875, -123.393); km > -2600 {
		t.Errorf("at sea, %v km inland", km)
	}
	// Points of continents farthest from the sea (Garcia-Castellanos & Lombardo
	// 2007, Scott. Geogr. J. 123:227-233, from memory, to about 10 km there).
	// South America (1504 km there, 1450 here) and Eurasia are not asked: there the
	// answer hangs on how far up its mouth a great river is sea.
	for _, c := range []struct {
		name         string
		lat, lon, km float64
	}{
		{"Africa", 5.65, 26.17, 1814}, {"Australia", -23.17, 132.27, 928}, {"North America", 43.36, -101.97, 1639},
	} {
		if km := InlandKm(c.lat, c.lon); math.Abs(km-c.km) > 30 {
			t.Errorf("%s: %v km inland, published %v", c.name, km, c.km)
		}
	}
}

// TestShoreProperties: a shore point is no distance from the shore, and the
// distance changes no faster than one walks.
func TestShoreProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat, lon := rapid.Float64Range(-89, 89).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")
		sLat, sLon, km := NearestShore(lat, lon)
		if d := DistanceToShoreKm(sLat, sLon); d > .01 {
			t.Fatalf("the nearest shore point (%v, %v) is %v km from the shore", sLat, sLon, d)
		}
		lat2, lon2, _ := From(lat, lon, rapid.Float64Range(0, 360).Draw(t, "azi"), 5000)
		if d := DistanceToShoreKm(lat2, lon2); math.Abs(d-km) > 5.05 {
			t.Fatalf("5 km on, the shore is %v km off instead of %v", d, km)
		}
	})
}

func TestLandNonsense(t *testing.T) {
	if OnLand(math.NaN(), 0) || OnLand(91, 0) || OnLand(0, math.Inf(1)) || !math.IsNaN(DistanceToShoreKm(math.NaN(), 0)) {
		t.Error("what is no position was placed")
	}
	if s := Shoreline(Box{1, 1, 0, 1}, Fine); s.Land != nil || s.Lines != nil {
		t.Error("a box without area holds land")
	}
}

// area is the even-odd area of rings on the flat map, in square degrees.
func area(rings [][]Point) float64 {
	sum := 0.0
	for _, r := range rings {
		a := 0.0
		p := r[len(r)-1]
		for _, q := range r {
			a += p.LonDeg*q.LatDeg - q.LonDeg*p.LatDeg
			p = q
		}
		sum += math.Abs(a) / 2
	}
	return sum
}

// TestShorelineAgreesWithOnLand: the share of a box that its polygons cover is
// the share of a fine grid of points that are on land.
func TestShorelineAgreesWithOnLand(t *testing.T) {
	for _, b := range []Box{
		{36.5, 37.5, -9.5, -7.5}, // Algarve
		{-19, -15, 176, -178},    // Fiji, across 180
		{64, 70, 170, 195},       // Chukotka, across 180
		{-90, -60, -180, 180},    // Antarctica
		{-36, -32, 149, 153},     // New South Wales
		{-30, -25, -120, -115},   // open sea
	} {
		s := Shoreline(b, Fine)
		width := b.LonMax - b.LonMin
		if width < 0 {
			width += 360
		}
		const n = 120
		hits := 0
		for i := range n {
			for j := range n {
				if OnLand(b.LatMin+(float64(i)+.5)/n*(b.LatMax-b.LatMin), NormalLongitude(b.LonMin+(float64(j)+.5)/n*width)) {
					hits++
				}
			}
		}
		want := float64(hits) / n / n
		got := area(s.Land) / (width * (b.LatMax - b.LatMin))
		if math.Abs(got-want) > .006 {
			t.Errorf("%v: polygons cover %.4f, points say %.4f", b, got, want)
		}
		for _, line := range append(s.Land, s.Lines...) {
			for _, p := range line {
				if p.LatDeg < b.LatMin-1e-9 || p.LatDeg > b.LatMax+1e-9 || p.LonDeg < b.LonMin-1e-9 || p.LonDeg > b.LonMin+width+1e-9 {
					t.Fatalf("%v: %v lies outside", b, p)
				}
			}
		}
		if b.LatMin == -30 && (s.Land != nil || s.Lines != nil) {
			t.Errorf("%v: land in the open sea", b)
		}
	}
	// No shore is drawn along the bottom of the map.
	for _, l := range Shoreline(Box{-90, -60, -180, 180}, Coarse).Lines {
		for _, p := range l {
			if p.LatDeg < -86 {
				t.Fatalf("a shore at %v", p)
			}
		}
	}
}

func TestBoxContains(t *testing.T) {
	for _, c := range []struct {
		b        Box
		lat, lon float64
		in       bool
	}{
		{Box{0, 1, 10, 20}, .5, 15, true}, {Box{0, 1, 10, 20}, .5, 21, false}, {Box{0, 1, 10, 20}, 2, 15, false},
		{Box{0, 1, 170, -170}, .5, 180, true}, {Box{0, 1, 170, -170}, .5, -175, true}, {Box{0, 1, 170, -170}, .5, 0, false},
		{Box{0, 1, 170, 190}, .5, -175, true}, {Box{0, 1, -180, 180}, 1, 180, true},
	} {
		if c.b.Contains(c.lat, c.lon) != c.in {
			t.Errorf("%v contains (%v, %v): %v", c.b, c.lat, c.lon, !c.in)
		}
	}
}

func BenchmarkOnLand(b *testing.B) {
	OnLand(0, 0)
	rnd := rand.New(rand.NewPCG(5, 6))
	for b.Loop() {
		OnLand(120*rnd.Float64()-60, 360*rnd.Float64()-180)
	}
}

func BenchmarkDistanceToShore(b *testing.B) {
	OnLand(0, 0)
	rnd := rand.New(rand.NewPCG(5, 6))
	for b.Loop() {
		DistanceToShoreKm(120*rnd.Float64()-60, 360*rnd.Float64()-180)
	}
}

func BenchmarkDistanceToShoreOnACoast(b *testing.B) {
	OnLand(0, 0)
	rnd := rand.New(rand.NewPCG(5, 6))
	for b.Loop() {
		DistanceToShoreKm(36.9+.2*rnd.Float64(), -8.7+rnd.Float64())
	}
}

func BenchmarkLandFirstUse(b *testing.B) {
	for b.Loop() {
		newIndex(mustUnpack(land10m))
	}
}

func BenchmarkShorelineOfABay(b *testing.B) {
	OnLand(0, 0)
	for b.Loop() {
		Shoreline(Box{36.8, 37.2, -8.6, -7.8}, Fine)
	}
}
