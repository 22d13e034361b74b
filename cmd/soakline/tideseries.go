package main

import (
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/task"
	"soakline/internal/tide"
)

// pressure units in hPa.
var hPaIn = map[string]float64{"dbar": 100, "kpa": 10, "hpa": 1, "mbar": 1, "mb": 1, "bar": 1000, "psi": 68.94757293168, "pa": 0.01, "cmh2o": 0.980665}

var hPaOrder = []string{"dbar", "kpa", "hpa", "mbar", "mb", "bar", "psi", "pa", "cmh2o"}

// pressureColumn finds a column of pressure under one of the names with its unit.
func (f *waterFile) pressureColumn(names ...string) (col int, toHPa float64) {
	for _, n := range names {
		for _, unit := range hPaOrder {
			if c := f.column(n+"_"+unit, n+"_"+unit+"a"); c >= 0 {
				return c, hPaIn[unit]
			}
		}
	}
	return -1, 1
}

// seriesFlags say how a logger's series is read.
type seriesFlags struct{ clock, air, density, latitude string }

func (a *app) seriesFlagsOf(c *cobra.Command, s *seriesFlags) {
	f := c.Flags()
	f.StringVar(&s.clock, "clock", "", a.say("cmd.tide.flag-clock"))
	f.StringVar(&s.air, "air", "", a.say("cmd.tide.flag-air"))
	f.StringVar(&s.density, "density", "1025", a.say("cmd.tide.flag-density"))
	f.StringVar(&s.latitude, "latitude", "", a.say("cmd.tide.flag-latitude"))
}

// loggerSeries reads at and level_m, or turns pressure into depth.
func (a *app) loggerSeries(c *cobra.Command, name string, s *seriesFlags) ([]tide.Sample, []tide.Message, error) {
	zone, err := a.optionalZone(c, s.clock)
	if err != nil {
		return nil, nil, err
	}
	f, err := readWaterFile(name)
	if err != nil {
		return nil, nil, err
	}
	times, err := timesOf(f, zone)
	if err != nil {
		return nil, nil, err
	}
	level, messages, err := a.levelOf(c, f, s)
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

func (a *app) optionalZone(c *cobra.Command, text string) (*time.Location, error) {
	if text == "" {
		return nil, nil
	}
	return a.zone(c, "--clock", text)
}

// levelOf is how the level of a line is read.
func (a *app) levelOf(c *cobra.Command, f *waterFile, s *seriesFlags) (func(int, time.Time) float64, []tide.Message, error) {
	names := []string{"level", "water_level", "sea_level", "height", "water_height", "depth", "water_depth", "sensor_depth", "stage"}
	if col, toM := f.length(false, names...); col >= 0 {
		return func(i int, _ time.Time) float64 { return f.number(i, col) * toM }, nil, nil
	}
	if col, _ := f.length(true, names...); col >= 0 {
		m := tide.Message{Slug: "tide.unit-assumed", With: with("column", f.heading(col))}
		return func(i int, _ time.Time) float64 { return f.number(i, col) }, []tide.Message{m}, nil
	}
	water := []string{"pressure", "abs_pres", "abs_pressure", "absolute_pressure", "pres", "water_pressure", "sea_pressure"}
	col, toHPa := f.pressureColumn(water...)
	if col < 0 {
		return nil, nil, f.needs("level_m", "level_m", "level_cm", "level_ft", "pressure_dbar", "pressure_kpa", "pressure_hpa")
	}
	density, ok := positive(s.density)
	if !ok || density < 900 || density > 1200 {
		return nil, nil, a.wanted(c, "--density", s.density, "cmd.tide.wanted-density")
	}
	latitude := math.NaN()
	if s.latitude != "" {
		var err error
		if latitude, err = a.degrees(c, "--latitude", s.latitude); err != nil {
			return nil, nil, err
		}
	}
	air, source, err := a.airOf(f, s)
	if err != nil {
		return nil, nil, err
	}
	g := tide.GravityMPerS2(latitude)
	m := tide.Message{Slug: "tide.from-pressure", With: with("density", density, "air", source)}
	return func(i int, at time.Time) float64 {
		return tide.DepthM(f.number(i, col)*toHPa, air(i, at), density, g)
	}, []tide.Message{m}, nil
}

// airOf is the pressure of the air at a line: a column beside the other, a
// number in hPa, a series in a file of its own, or 0 where the logger has taken it
// off ("gauge"). Absolute pressure without it is refused: a passing low would be
// taken for half a metre of water.
func (a *app) airOf(f *waterFile, s *seriesFlags) (func(int, time.Time) float64, string, error) {
	if s.air == "gauge" {
		return func(int, time.Time) float64 { return 0 }, "0 hPa", nil
	}
	if hPa, ok := positive(s.air); ok && hPa > 800 && hPa < 1100 {
		return func(int, time.Time) float64 { return hPa }, s.air + " hPa", nil
	}
	names := []string{"air_pressure", "barometric_pressure", "baro_pressure", "atmospheric_pressure", "baro"}
	if s.air == "" {
		if col, toHPa := f.pressureColumn(names...); col >= 0 {
			return func(i int, _ time.Time) float64 { return f.number(i, col) * toHPa }, f.heading(col), nil
		}
		return nil, "", &task.Refused{Slug: "tide.needs-air", With: with("file", f.name)}
	}
	if _, ok := positive(s.air); ok {
		return nil, "", &task.Refused{Slug: "tide.air-range", With: with("given", s.air)}
	}
	series, err := readAir(s.air, append(names, "pressure", "abs_pres", "abs_pressure"))
	if err != nil {
		return nil, "", err
	}
	return func(_ int, at time.Time) float64 { return tide.AirAt(series, at) }, s.air, nil
}

// readAir reads a series of air pressure in hPa; times without an offset must
// say their clock in the heading.
func readAir(name string, names []string) ([]tide.Sample, error) {
	f, err := readWaterFile(name)
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
		return nil, &task.Refused{Slug: "tide.air-clock", With: with("file", name)}
	}
	return series, f.refused()
}

func positive(text string) (float64, bool) {
	x, ok := decimal(text)
	return x, ok && x > 0
}

// inferences reads P1=K1:0.33:-7.07.
func (a *app) inferences(c *cobra.Command, list []string) ([]tide.Inference, error) {
	var out []tide.Inference
	for _, text := range list {
		name, rest, ok := strings.Cut(text, "=")
		parts := strings.Split(rest, ":")
		if !ok || len(parts) != 3 {
			return nil, a.wanted(c, "--infer", text, "cmd.tide.wanted-infer")
		}
		ratio, okR := positive(parts[1])
		lag, okL := decimal(parts[2])
		if !okR || !okL {
			return nil, a.wanted(c, "--infer", text, "cmd.tide.wanted-infer")
		}
		out = append(out, tide.Inference{Name: name, From: parts[0], Ratio: ratio, LagDiffDeg: lag})
	}
	return out, nil
}
