package main

import (
	"math"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/tide"
	"soakline/internal/water"
)

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
	o := water.Reading{Air: s.air, LatitudeDeg: math.NaN()}
	var err error
	if o.Clock, err = a.optionalZone(c, s.clock); err != nil {
		return nil, nil, err
	}
	var ok bool
	if o.DensityKgM3, ok = positive(s.density); !ok || o.DensityKgM3 < 900 || o.DensityKgM3 > 1200 {
		return nil, nil, a.wanted(c, "--density", s.density, "cmd.tide.wanted-density")
	}
	if s.latitude != "" {
		if o.LatitudeDeg, err = a.degrees(c, "--latitude", s.latitude); err != nil {
			return nil, nil, err
		}
	}
	if _, isNumber := positive(s.air); s.air != "" && s.air != "gauge" && !isNumber {
		if o.AirData, err = os.ReadFile(s.air); err != nil {
			return nil, nil, err
		}
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, nil, err
	}
	series, messages, err := water.Series(name, data, o)
	return series, messages, waterError(err)
}

func (a *app) optionalZone(c *cobra.Command, text string) (*time.Location, error) {
	if text == "" {
		return nil, nil
	}
	return a.zone(c, "--clock", text)
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
