package place

import (
	"math"
	"slices"
)

// Variant is a position that a slip of the pen could have turned into the one
// written: a sign lost or gained, or latitude and longitude changed over.
type Variant struct {
	// Slug says which slip: place.sign-latitude, place.sign-longitude,
	// place.sign-both, place.swapped, place.swapped-and-sign.
	Slug           string
	LatDeg, LonDeg float64
	OnLand         bool
	ShoreKm        float64 // to the embedded shoreline
	FromKm         float64 // to the reference position; NaN without one
}

// SignVariants returns the positions that differ from (latDeg, lonDeg) by a
// slip only, nearest to the reference position first where one is given (nil:
// none), each with whether it is on land. It does not hold the position itself,
// nor what is no position, nor one place twice.
func SignVariants(latDeg, lonDeg float64, reference *Point) []Variant {
	if !ValidPosition(latDeg, lonDeg) {
		return nil
	}
	out := slips(latDeg, NormalLongitude(lonDeg))
	for i := range out {
		v := &out[i]
		v.OnLand = OnLand(v.LatDeg, v.LonDeg)
		v.ShoreKm = DistanceToShoreKm(v.LatDeg, v.LonDeg)
		v.FromKm = math.NaN()
		if reference != nil {
			m, _, _ := Between(reference.LatDeg, reference.LonDeg, v.LatDeg, v.LonDeg)
			v.FromKm = m / 1000
		}
	}
	if reference != nil {
		slices.SortStableFunc(out, func(a, b Variant) int {
			switch {
			case a.FromKm < b.FromKm:
				return -1
			case a.FromKm > b.FromKm:
				return 1
			}
			return 0
		})
	}
	return out
}

// slips lists the variants without looking at land.
func slips(lat, lon float64) []Variant {
	all := []Variant{
		{Slug: "place.sign-longitude", LatDeg: lat, LonDeg: -lon},
		{Slug: "place.sign-latitude", LatDeg: -lat, LonDeg: lon},
		{Slug: "place.swapped", LatDeg: lon, LonDeg: lat},
		{Slug: "place.sign-both", LatDeg: -lat, LonDeg: -lon},
		{Slug: "place.swapped-and-sign", LatDeg: -lon, LonDeg: lat},
		{Slug: "place.swapped-and-sign", LatDeg: lon, LonDeg: -lat},
		{Slug: "place.swapped-and-sign", LatDeg: -lon, LonDeg: -lat},
	}
	seen := []Point{{lat, lon}}
	var out []Variant
	for _, v := range all {
		v.LatDeg, v.LonDeg = v.LatDeg+0, NormalLongitude(v.LonDeg)
		p := Point{v.LatDeg, v.LonDeg}
		if math.Abs(v.LatDeg) > 90 || slices.Contains(seen, p) {
			continue
		}
		seen = append(seen, p)
		out = append(out, v)
	}
	return out
}
