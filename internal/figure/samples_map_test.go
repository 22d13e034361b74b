package figure

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// blob is an invented island: a ring about a centre with an uneven shore.
func blob(lon, lat, deg float64, n int, seed uint64) []LonLat {
	r := rand.New(rand.NewPCG(seed, 9))
	a, b := r.Float64()*6, r.Float64()*6
	var out []LonLat
	for i := range n {
		t := 2 * math.Pi * float64(i) / float64(n)
		q := deg * (1 + 0.22*math.Sin(3*t+a) + 0.12*math.Sin(7*t+b) + 0.03*r.NormFloat64())
		out = append(out, LonLat{lon + q*math.Cos(t)/math.Cos(lat*math.Pi/180), lat + q*math.Sin(t)})
	}
	return out
}

func mapSample() Map {
	names := []string{"Kell Spit", "Low Ostrel", "Harl Stones", "Vannet Cove", "The Lantern", "Odd Skerry", "Marram Head", "Pell Flats", "Sunk Wood", "Cray Bight", "Nether Quay", "Old Jetty"}
	m := Map{
		Title: "Sites of the invented season", Desc: "Twelve invented sites round two invented islands.",
		Coast:  [][]LonLat{blob(-8.2, 36.95, 0.11, 160, 1), blob(-7.9, 36.86, 0.05, 90, 2)},
		Source: "shoreline: invented for this test", NoShore: "no shoreline within this map",
		Kinds: []string{"seagrass", "rock reef", "bare sand"},
	}
	for i, n := range names {
		t := 2 * math.Pi * float64(i) / 12
		m.Sites = append(m.Sites, MapSite{n, LonLat{-8.2 + 0.19*math.Cos(t), 36.95 + 0.15*math.Sin(t)}, i % 3})
	}
	m.Sites = append(m.Sites, MapSite{"Old Jetty, north side", LonLat{-8.04, 36.876}, 1})
	return m
}

func mapDateLine() Map {
	return Map{
		Title: "Across the date line", Desc: "Two invented sites either side of 180 degrees.",
		Coast: [][]LonLat{blob(179.9, -16.8, 0.25, 120, 4)}, Source: "shoreline: invented for this test",
		Sites: []MapSite{{"West Motu", LonLat{179.6, -16.9}, 0}, {"East Motu", LonLat{-179.7, -16.6}, 0}},
		North: "N", South: "S", East: "E", West: "O",
	}
}

// mapNear spans 8 km: the shoreline is a guess there and dashed.
func mapNear() Map {
	return Map{Title: "A small bay", Desc: "Invented.", Source: "shoreline: invented for this test; off by up to a kilometre",
		Coast: [][]LonLat{blob(-70.33, 43.6, 0.03, 60, 11)}, Kinds: []string{"kelp", "mud"},
		Sites: []MapSite{{"Nether Quay", LonLat{-70.30, 43.61}, 0}, {"Gull Ledge", LonLat{-70.36, 43.58}, 1}, {"Gull Ledge, far end", LonLat{-70.361, 43.5795}, 1}}}
}

func mapOpenSea() Map {
	return Map{Title: "One site", Desc: "One invented site.", NoShore: "no shoreline within this map", Source: "shoreline: not shown",
		Sites: []MapSite{{"Banco de arena de la boca sur", LonLat{2.5, 0}, 0}}}
}

func mapCrowd(n int) Map {
	m := mapSample()
	m.Title = "Many sites"
	m.Sites = nil
	r := rand.New(rand.NewPCG(7, 7))
	for i := range n {
		m.Sites = append(m.Sites, MapSite{fmt.Sprintf("Invented site %d", i+1), LonLat{-8.2 + 0.3*r.NormFloat64(), 36.9 + 0.2*r.NormFloat64()}, i % 3})
	}
	return m
}

func init() {
	more = append(more, func(both func(string, func(Frame) (*Drawing, error))) {
		of := func(m Map) func(Frame) (*Drawing, error) {
			return func(f Frame) (*Drawing, error) { return DrawMap(m, f) }
		}
		both("map", of(mapSample()))
		both("map-date-line", of(mapDateLine()))
		both("map-near", of(mapNear()))
		both("map-open-sea", of(mapOpenSea()))
		both("map-crowd", of(mapCrowd(60)))
		both("map-empty", of(Map{Title: "No sites", NoShore: "no site has a position yet"}))
	})
}
