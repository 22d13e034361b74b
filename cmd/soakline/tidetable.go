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

type tableFlags struct {
	span
	secondaryFlags
	clock, datum string
	json         bool
}

// secondaryFlags are the differences of a secondary place as they were typed.
type secondaryFlags struct {
	highLater, lowLater, highAdd, lowAdd, highTimes, lowTimes string
}

func (a *app) secondaryFlagsOf(c *cobra.Command, p *secondaryFlags) {
	f := c.Flags()
	f.StringVar(&p.highLater, "high-later", "0m", a.say("cmd.tide.flag-high-later"))
	f.StringVar(&p.lowLater, "low-later", "0m", a.say("cmd.tide.flag-low-later"))
	f.StringVar(&p.highAdd, "high-add", "0", a.say("cmd.tide.flag-high-add"))
	f.StringVar(&p.lowAdd, "low-add", "0", a.say("cmd.tide.flag-low-add"))
	f.StringVar(&p.highTimes, "high-times", "1", a.say("cmd.tide.flag-high-times"))
	f.StringVar(&p.lowTimes, "low-times", "1", a.say("cmd.tide.flag-low-times"))
}

func (a *app) tideTableCmd() *cobra.Command {
	var p tableFlags
	c := a.commandAs("tide.table", "table FILE", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		return a.waterTable(c, args[0], &p)
	})
	a.spanFlags(c, &p.span)
	f := c.Flags()
	f.StringVar(&p.clock, "clock", "", a.say("cmd.tide.flag-table-clock"))
	f.StringVar(&p.datum, "datum", "", a.say("cmd.tide.flag-datum"))
	a.secondaryFlagsOf(c, &p.secondaryFlags)
	a.jsonFlag(c, &p.json)
	return c
}

// read reads the differences of a secondary place.
func (p *secondaryFlags) read(a *app, c *cobra.Command) (s tide.Secondary, err error) {
	for _, x := range []struct {
		flag, text string
		to         *time.Duration
	}{{"--high-later", p.highLater, &s.HighLater}, {"--low-later", p.lowLater, &s.LowLater}} {
		d, bad := time.ParseDuration(strings.Replace(x.text, "min", "m", 1))
		if bad != nil || d.Abs() > 12*time.Hour {
			return s, a.wanted(c, x.flag, x.text, "cmd.tide.wanted-later")
		}
		*x.to = d
	}
	for _, x := range []struct {
		flag, text string
		to         *float64
		factor     bool
	}{
		{"--high-add", p.highAdd, &s.HighAddM, false}, {"--low-add", p.lowAdd, &s.LowAddM, false},
		{"--high-times", p.highTimes, &s.HighTimes, true}, {"--low-times", p.lowTimes, &s.LowTimes, true},
	} {
		v, ok := decimal(x.text)
		if !ok || math.Abs(v) > 20 || (x.factor && v <= 0) {
			return s, a.wanted(c, x.flag, x.text, "cmd.tide.wanted-difference")
		}
		*x.to = v
	}
	return s, nil
}

// readWaters reads the lines of a local table.
func (a *app) readWaters(c *cobra.Command, name, clock string) ([]tide.Water, []tide.Message, error) {
	zone, err := a.optionalZone(c, clock)
	if err != nil {
		return nil, nil, err
	}
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, nil, err
	}
	list, messages, err := water.Waters(name, data, zone)
	return list, messages, waterError(err)
}

func (a *app) waterTable(c *cobra.Command, name string, p *tableFlags) error {
	place, err := p.secondaryFlags.read(a, c)
	if err != nil {
		return err
	}
	waters, messages, err := a.readWaters(c, name, p.clock)
	if err != nil {
		return err
	}
	t, more, err := tide.NewTable(waters, place)
	if err != nil {
		return waterError(err)
	}
	messages = append(append(messages, more...), tide.Message{Slug: "tide.half-cosine"})
	first, last := t.Range()
	if p.from == "" {
		p.from = utcText(first)
	}
	if p.to == "" {
		p.to = utcText(last)
	}
	from, to, step, zone, err := p.span.times(a, c)
	if err != nil {
		return err
	}
	heights, err := t.Heights(from, to, step)
	if err != nil {
		return waterError(err)
	}
	w := waterJSON{Datum: p.datum, Messages: messagesOf(messages)}
	if w.Datum == "" {
		w.Datum = a.unstated("tide.datum-of-table", p.json)
	}
	return a.tellWater(p.json, c.Flags().Changed("step"), w, heights, t.Turns(from, to), zone)
}
