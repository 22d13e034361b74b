package tide

import (
	"math"
	"sort"
	"time"
)

// GravityMPerS2 is normal gravity at sea level at a latitude in degrees: the
// closed formula of Somigliana on WGS84 (NIMA TR8350.2, 3rd ed. 2000, eq. 4-1).
// An unknown latitude, NaN, gives the standard 9.80665.
func GravityMPerS2(latitudeDeg float64) float64 {
	if math.IsNaN(latitudeDeg) {
		return 9.80665
	}
	s := math.Sin(latitudeDeg * rad)
	return 9.7803253359 * (1 + 0.00193185265241*s*s) / math.Sqrt(1-0.00669437999013*s*s)
}

// DepthM is the water above a sensor, in metres, by hydrostatics: absolute
// pressure less that of the air (both hPa) over density (kg/m³) and gravity (m/s²).
func DepthM(pressureHPa, airHPa, densityKgM3, gravityMPerS2 float64) float64 {
	return (pressureHPa - airHPa) * 100 / (densityKgM3 * gravityMPerS2)
}

// airGap is how far from a reading of air pressure one may still be taken.
const airGap = 3 * time.Hour

// AirAt interpolates a series of air pressure, in order of time, linearly. It is
// NaN outside the series and in gaps with no reading within 3 h on both sides.
func AirAt(series []Sample, at time.Time) float64 {
	i := sort.Search(len(series), func(i int) bool { return !series[i].At.Before(at) })
	if i < len(series) && series[i].At.Equal(at) {
		return series[i].LevelM
	}
	if i == 0 || i == len(series) {
		return math.NaN()
	}
	a, b := series[i-1], series[i]
	if at.Sub(a.At) > airGap || b.At.Sub(at) > airGap {
		return math.NaN()
	}
	return a.LevelM + (b.LevelM-a.LevelM)*at.Sub(a.At).Seconds()/b.At.Sub(a.At).Seconds()
}
