package place

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// readNumbers reads a CSV of numbers under testdata, without its header.
func readNumbers(t testing.TB, name string) [][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", filepath.FromSlash(name)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out [][]float64
	for _, l := range lines[1:] {
		v := make([]float64, len(l))
		for i, c := range l {
			if v[i], err = strconv.ParseFloat(c, 64); err != nil {
				t.Fatal(err)
			}
		}
		out = append(out, v)
	}
	return out
}

// angleGap is the size of the difference of two directions, degrees.
func angleGap(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 360)) }

// TestBetweenAgainstGeodSolve: GeographicLib 2.1.2, testdata/geodesic/make.sh.
// The distance is held to the exact (elliptic integral) method within 25 nm,
// the azimuth where it is determined: its error times the reduced length m12
// is a shift sideways, held to 50 nm.
func TestBetweenAgainstGeodSolve(t *testing.T) {
	worstS, worstA := 0.0, 0.0
	for _, g := range readNumbers(t, "geodesic/inverse.csv") {
		s, a1, a2 := Between(g[0], g[1], g[2], g[3])
		ds := math.Abs(s - g[7])
		worstS = math.Max(worstS, ds)
		if !(ds < 25e-9) {
			t.Errorf("Between(%v, %v, %v, %v) = %.9f m; GeodSolve -E: %.9f", g[0], g[1], g[2], g[3], s, g[7])
		}
		if g[7] == 0 || twoWays(g) {
			continue
		}
		m := math.Min(math.Abs(g[8]), 1e6)
		side := math.Max(angleGap(a1, g[4]), angleGap(a2, g[5])) * degree * m
		worstA = math.Max(worstA, side)
		if !(side < 50e-9) {
			t.Errorf("Between(%v, %v, %v, %v): azimuths %.12f %.12f; GeodSolve: %.12f %.12f (m12 %v)", g[0], g[1], g[2], g[3], a1, a2, g[4], g[5], g[8])
		}
	}
	t.Logf("worst distance %.1f nm, worst sideways %.1f nm", worstS*1e9, worstA*1e9)
}

// twoWays reports pairs whose shortest path is not unique: on opposite
// meridians, or on the equator's (or an opposite parallel's) cut.
func twoWays(g []float64) bool {
	l := math.Abs(math.Remainder(g[3]-g[1], 360))
	return math.Abs(g[0]) == 90 || math.Abs(g[2]) == 90 || l == 180 || (g[0] == -g[2] && l > 179)
}

// TestFromAgainstGeodSolve: GeographicLib 2.1.2, testdata/geodesic/make.sh.
// Positions agree to 1e-12 degrees of latitude, and of longitude shrunk by
// the cosine of latitude (0.1 micrometres).
func TestFromAgainstGeodSolve(t *testing.T) {
	worst := 0.0
	for _, g := range readNumbers(t, "geodesic/direct.csv") {
		lat, lon, azi := From(g[0], g[1], g[2], g[3])
		c := math.Cos(g[4] * degree)
		d := math.Max(math.Abs(lat-g[4]), angleGap(lon, g[5])*c)
		d = math.Max(d, angleGap(azi, g[6])*c)
		worst = math.Max(worst, d)
		if !(d < 1e-12) {
			t.Errorf("From(%v, %v, %v, %v) = %.14f %.14f %.14f; GeodSolve: %.14f %.14f %.14f", g[0], g[1], g[2], g[3], lat, lon, azi, g[4], g[5], g[6])
		}
	}
	t.Logf("worst %.2g degrees", worst)
}

// TestBetweenPublished: Karney (2013), section 4 and its tables 2 to 4.
func TestBetweenPublished(t *testing.T) {
	for _, c := range []struct{ lat1, lon1, lat2, lon2, s, azi1 float64 }{
		{40.6, -73.8, 51.6, -0.5, 5551759.400319, 51.1988828},  // JFK to LHR, GeodSolve manual
		{-30.12345, 0, -30.12344, 0.00005, 4.944208, 77.04353}, // table 3 (short line), 77.04353354
		{-30, 0, 29.9, 179.8, 19989832.82761, 161.89052},       // table 4 (near-antipodal), 161.89052473
	} {
		s, a, _ := Between(c.lat1, c.lon1, c.lat2, c.lon2)
		if math.Abs(s-c.s) > 1e-5 || math.Abs(a-c.azi1) > 1e-5 {
			t.Errorf("Between(%v, %v, %v, %v) = %.6f m at %.7f; published %.6f, %.7f", c.lat1, c.lon1, c.lat2, c.lon2, s, a, c.s, c.azi1)
		}
	}
	// Table 2 (direct): φ1 = 40°, α1 = 30°, s12 = 10 000 km.
	lat, lon, azi := From(40, 0, 30, 1e7)
	if math.Abs(lat-41.79331020506) > 1e-11 || math.Abs(lon-137.84490004377) > 1e-11 || math.Abs(azi-149.09016931807) > 1e-11 {
		t.Errorf("From(40, 0, 30, 1e7) = %.11f %.11f %.11f", lat, lon, azi)
	}
}

// TestSeriesAgainstIntegrals checks the series coefficients against the
// integrals they expand (Karney 2013, eqs 7, 8, 39), by Simpson's rule.
func TestSeriesAgainstIntegrals(t *testing.T) {
	simpson := func(f func(float64) float64, to float64) float64 {
		const n = 4000
		h := to / n
		sum := f(0) + f(to)
		for i := 1; i < n; i++ {
			sum += f(float64(i)*h) * float64(2+2*(i%2))
		}
		return sum * h / 3
	}
	for _, alpha0 := range []float64{0, 20, 55, 89} {
		a0 := arcDeg(alpha0)
		k2 := ePrimeSq * a0.c * a0.c
		e := epsilon(k2)
		for _, sigma := range []float64{.3, 1.2, 2.9} {
			s, c := math.Sincos(sigma)
			root := func(x float64) float64 { return math.Sqrt(1 + k2*math.Sin(x)*math.Sin(x)) }
			c1, c2, c3 := seriesC1(e), seriesC2(e), seriesC3(e)
			i1 := (1 + seriesA1(e)) * (sigma + sineSeries(&c1, arc{s, c}))
			i2 := (1 + seriesA2(e)) * (sigma + sineSeries(&c2, arc{s, c}))
			i3 := seriesA3(e) * (sigma + sineSeries(&c3, arc{s, c}))
			w1 := simpson(root, sigma)
			w2 := simpson(func(x float64) float64 { return 1 / root(x) }, sigma)
			w3 := simpson(func(x float64) float64 { return (2 - flattening) / (1 + oneMinusF*root(x)) }, sigma)
			if math.Abs(i1-w1) > 2e-14 || math.Abs(i2-w2) > 2e-14 || math.Abs(i3-w3) > 5e-14 {
				t.Errorf("α0 %v σ %v: I1 %v %v, I2 %v %v, I3 %v %v", alpha0, sigma, i1, w1, i2, w2, i3, w3)
			}
			// The reverted series undoes the first.
			cp := seriesC1p(e)
			tau := i1 / (1 + seriesA1(e))
			st, ct := math.Sincos(tau)
			if back := tau + sineSeries(&cp, arc{st, ct}); math.Abs(back-sigma) > 5e-15 {
				t.Errorf("α0 %v: σ %v comes back as %v", alpha0, sigma, back)
			}
		}
	}
}

// drawPosition draws a position, often at a troublesome place.
func drawPosition(t *rapid.T, label string) (lat, lon float64) {
	lat = rapid.OneOf(rapid.Float64Range(-90, 90), rapid.SampledFrom([]float64{-90, -45, 0, 30, 90})).Draw(t, label+"lat")
	lon = rapid.OneOf(rapid.Float64Range(-180, 180), rapid.SampledFrom([]float64{-180, -90, 0, 90, 180})).Draw(t, label+"lon")
	return lat, lon
}

// TestBetweenSymmetry: the distance is the same both ways, mirrored in the
// equator and turned about the axis; following it leads there.
func TestBetweenSymmetry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat1, lon1 := drawPosition(t, "1")
		lat2, lon2 := drawPosition(t, "2")
		s, azi1, _ := Between(lat1, lon1, lat2, lon2)
		back, _, _ := Between(lat2, lon2, lat1, lon1)
		mirror, _, _ := Between(-lat1, lon1, -lat2, lon2)
		turn, _, _ := Between(lat1, -lon1, lat2, -lon2)
		for _, o := range []float64{back, mirror, turn} {
			if math.Abs(s-o) > 10e-9 {
				t.Fatalf("distance %v, otherwise %v", s, o)
			}
		}
		if s < 0 || s > 20003931.4586255 { // half a meridian: GeodSolve -i 90 0 -90 0
			t.Fatalf("distance %v", s)
		}
		lat, lon, _ := From(lat1, lon1, azi1, s)
		if gap, _, _ := Between(lat, lon, lat2, lon2); gap > 50e-9 {
			t.Fatalf("%v m at %v° from (%v, %v) ends at (%v, %v), %v m from (%v, %v)", s, azi1, lat1, lon1, lat, lon, gap, lat2, lon2)
		}
	})
}

// TestBetweenTriangle: no way round is shorter.
func TestBetweenTriangle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat1, lon1 := drawPosition(t, "1")
		lat2, lon2 := drawPosition(t, "2")
		lat3, lon3 := drawPosition(t, "3")
		a, _, _ := Between(lat1, lon1, lat2, lon2)
		b, _, _ := Between(lat2, lon2, lat3, lon3)
		c, _, _ := Between(lat1, lon1, lat3, lon3)
		if c > a+b+50e-9 {
			t.Fatalf("%v > %v + %v", c, a, b)
		}
	})
}

func TestGeodesicRefusesNonsense(t *testing.T) {
	bad := []float64{math.NaN(), math.Inf(1), math.Inf(-1)}
	for _, x := range append(bad, 90.0001, -91) {
		if s, _, _ := Between(x, 0, 1, 1); !math.IsNaN(s) {
			t.Errorf("Between(%v, 0, 1, 1) = %v", x, s)
		}
		if s, _, _ := From(x, 0, 1, 1); !math.IsNaN(s) {
			t.Errorf("From(%v, 0, 1, 1) = %v", x, s)
		}
	}
	for _, x := range bad {
		if s, _, _ := Between(0, x, 1, 1); !math.IsNaN(s) {
			t.Errorf("Between(0, %v, 1, 1) = %v", x, s)
		}
		if _, s, _ := From(0, x, 1, 1); !math.IsNaN(s) {
			t.Errorf("From(0, %v, 1, 1) = %v", x, s)
		}
		if s, _, _ := From(0, 0, x, 1); !math.IsNaN(s) {
			t.Errorf("From(0, 0, %v, 1) = %v", x, s)
		}
		if s, _, _ := From(0, 0, 1, x); !math.IsNaN(s) {
			t.Errorf("From(0, 0, 1, %v) = %v", x, s)
		}
	}
}

func BenchmarkBetween(b *testing.B) {
	for b.Loop() {
		Between(40.6, -73.8, 51.6, -0.5)
	}
}
