package water

import (
	"math"
	"strconv"
	"strings"
	"time"

	"soakline/internal/tide"
)

// pressure units in hPa.
var hPaIn = map[string]float64{"dbar": 100, "kpa": 10, "hpa": 1, "mbar": 1, "mb": 1, "bar": 1000, "psi": 68.94757293168, "pa": 0.01, "cmh2o": 0.980665}

var hPaOrder = []string{"dbar", "kpa", "hpa", "mbar", "mb", "bar", "psi", "pa", "cmh2o"}

// pressureColumn finds a column of pressure under one of the names with its unit.
func (f *file) pressureColumn(names ...string) (col int, toHPa float64) {
	for _, n := range names {
		for _, unit := range hPaOrder {
			if c := f.column(n+"_"+unit, n+"_"+unit+"a"); c >= 0 {
				return c, hPaIn[unit]
			}
		}
	}
	return -1, 1
}

// Reading says how a logger's series of levels is read.
type Reading struct {
	Clock *time.Location // of times without an offset; nil when nobody said
	// Air says where the pressure of the air is from: a number of hPa, the word
	// gauge for a logger that has taken it off, or the name of the file whose bytes
	// are AirData; empty for a column beside the other.
	Air         string
	AirData     []byte
	DensityKgM3 float64 // 0 is 1025
	LatitudeDeg float64 // for gravity; NaN where it is not known
}

// usualDensity is that of sea water, kg/m³. Common practice, no source.
const usualDensity = 1025

// Series reads at and level_m of a logger, or turns pressure into depth. The
// messages say what was assumed.
//
// It returns a *Faulty for cells that cannot be read, and a *tide.Refusal for
// absolute pressure without the air's.
func Series(name string, data []byte, o Reading) ([]tide.Sample, []tide.Message, error) {
	f, err := read(name, data)
	if err != nil {
		return nil, nil, err
	}
	times, err := timesOf(f, o.Clock)
	if err != nil {
		return nil, nil, err
	}
	level, messages, err := f.level(o)
	if err != nil {
		return nil, nil, err
	}
	series := make([]tide.Sample, 0, f.Len())
	for i := range f.Len() {
		if at, ok := times.read(i); ok {
			series = append(series, tide.Sample{At: at, LevelM: level(i, at)})
		}
	}
	return series, append(times.clockMessage(), messages...), f.refused()
}

// levelNames are the headings of a level.
var levelNames = []string{"level", "water_level", "sea_level", "height", "water_height", "depth", "water_depth", "sensor_depth", "stage"}

// level is how the level of a line is read.
func (f *file) level(o Reading) (func(int, time.Time) float64, []tide.Message, error) {
	if col, toM := f.length(false, levelNames...); col >= 0 {
		return func(i int, _ time.Time) float64 { return f.number(i, col) * toM }, nil, nil
	}
	if col, _ := f.length(true, levelNames...); col >= 0 {
		m := tide.Message{Slug: "tide.unit-assumed", With: with("column", f.heading(col))}
		return func(i int, _ time.Time) float64 { return f.number(i, col) }, []tide.Message{m}, nil
	}
	water := []string{"pressure", "abs_pres", "abs_pressure", "absolute_pressure", "pres", "water_pressure", "sea_pressure"}
	col, toHPa := f.pressureColumn(water...)
	if col < 0 {
		return nil, nil, f.needs("level_m", "level_m", "level_cm", "level_ft", "pressure_dbar", "pressure_kpa", "pressure_hpa")
	}
	air, source, err := f.air(o)
	if err != nil {
		return nil, nil, err
	}
	density := o.DensityKgM3
	if density == 0 {
		density = usualDensity
	}
	g := tide.GravityMPerS2(o.LatitudeDeg)
	m := tide.Message{Slug: "tide.from-pressure", With: with("density", density, "air", source)}
	return func(i int, at time.Time) float64 {
		return tide.DepthM(f.number(i, col)*toHPa, air(i, at), density, g)
	}, []tide.Message{m}, nil
}

// air is the pressure of the air at a line: a column beside the other, a
// number in hPa, a series in a file of its own, or 0 where the logger has taken it
// off ("gauge"). Absolute pressure without it is refused: a passing low would be
// taken for half a metre of water.
func (f *file) air(o Reading) (func(int, time.Time) float64, string, error) {
	if o.Air == "gauge" {
		return func(int, time.Time) float64 { return 0 }, "0 hPa", nil
	}
	given, err := strconv.ParseFloat(strings.TrimSpace(o.Air), 64)
	isNumber := err == nil && given > 0 && !math.IsInf(given, 0)
	if isNumber && given > 800 && given < 1100 {
		return func(int, time.Time) float64 { return given }, o.Air + " hPa", nil
	}
	names := []string{"air_pressure", "barometric_pressure", "baro_pressure", "atmospheric_pressure", "baro"}
	if o.Air == "" {
		if col, toHPa := f.pressureColumn(names...); col >= 0 {
			return func(i int, _ time.Time) float64 { return f.number(i, col) * toHPa }, f.heading(col), nil
		}
		return nil, "", refuse("tide.needs-air", "file", f.name)
	}
	if isNumber {
		return nil, "", refuse("tide.air-range", "given", o.Air)
	}
	series, err := readAir(o.Air, o.AirData, append(names, "pressure", "abs_pres", "abs_pressure"))
	if err != nil {
		return nil, "", err
	}
	return func(_ int, at time.Time) float64 { return tide.AirAt(series, at) }, o.Air, nil
}

// readAir reads a series of air pressure in hPa; times without an offset must
// say their clock in the heading.
func readAir(name string, data []byte, names []string) ([]tide.Sample, error) {
	f, err := read(name, data)
	if err != nil {
		return nil, err
	}
	times, err := timesOf(f, nil)
	if err != nil {
		return nil, err
	}
	col, toHPa := f.pressureColumn(names...)
	if col < 0 {
		return nil, f.needs("air_pressure_hpa", "air_pressure_hpa", "air_pressure_kpa")
	}
	var series []tide.Sample
	for i := range f.Len() {
		at, ok := times.read(i)
		if p := f.number(i, col) * toHPa; ok && !math.IsNaN(p) {
			if n := len(series); n > 0 && !at.After(series[n-1].At) {
				f.fault(i, times.at, "tide.air-order", "text", times.text(i))
				continue
			}
			series = append(series, tide.Sample{At: at, LevelM: p})
		}
	}
	if times.bare && times.zone == nil {
		return nil, refuse("tide.air-clock", "file", name)
	}
	return series, f.refused()
}
