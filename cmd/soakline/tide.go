package main

import (
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/task"
	"soakline/internal/tide"
	"soakline/internal/water"
	"soakline/internal/words"
)

func (a *app) tideCmd() *cobra.Command {
	return a.groupCmd("tide", a.tidePredictCmd(), a.tideAnalyseCmd(), a.tideTableCmd())
}

// waterError puts what the rooms tide and water refuse into the words of a refusal.
func waterError(err error) error {
	var f *water.Faulty
	if errors.As(err, &f) {
		return &task.FaultyFile{Faults: f.Faults}
	}
	var r *tide.Refusal
	if errors.As(err, &r) {
		return &task.Refused{Slug: r.Slug, With: r.With}
	}
	return err
}

// span is a range of time as the flags say it.
type span struct{ from, to, step, zone string }

func (a *app) spanFlags(c *cobra.Command, s *span) {
	f := c.Flags()
	f.StringVar(&s.from, "from", "", a.say("cmd.tide.flag-from"))
	f.StringVar(&s.to, "to", "", a.say("cmd.tide.flag-to"))
	f.StringVar(&s.step, "step", "1h", a.say("cmd.tide.flag-step"))
	f.StringVar(&s.zone, "zone", "UTC", a.say("cmd.tide.flag-zone"))
}

// needsFlags says which flag is missing, in the catalogue's words.
func (a *app) needsFlags(c *cobra.Command, names ...string) error {
	for _, n := range names {
		if f := c.Flags().Lookup(n); f == nil || !f.Changed {
			return a.usage(c, "cmd.tide.needs-flag", "flag", "--"+n)
		}
	}
	return nil
}

// read gives the range, the step and the zone that people read.
func (s *span) read(a *app, c *cobra.Command) (from, to time.Time, step time.Duration, zone *time.Location, err error) {
	if err = a.needsFlags(c, "from", "to"); err != nil {
		return
	}
	return s.times(a, c)
}

func (s *span) times(a *app, c *cobra.Command) (from, to time.Time, step time.Duration, zone *time.Location, err error) {
	if zone, err = a.zone(c, "--zone", s.zone); err != nil {
		return
	}
	if from, err = a.instant(c, "--from", s.from, zone); err != nil {
		return
	}
	if to, err = a.instant(c, "--to", s.to, zone); err != nil {
		return
	}
	step, err = a.duration(c, "--step", s.step)
	return
}

// wanted is a wrong value of a flag, with what it takes.
func (a *app) wanted(c *cobra.Command, flag, given, slug string) error {
	return a.usage(c, "cmd.usage.number", "flag", flag, "given", given, "wanted", words.Ref{Slug: slug})
}

// zone reads UTC, an offset such as UTC+9:30, or the name of a zone.
func (a *app) zone(c *cobra.Command, flag, text string) (*time.Location, error) {
	if z, ok := water.Clock(text); ok {
		return z, nil
	}
	return nil, a.wanted(c, flag, text, "cmd.tide.wanted-zone")
}

// instant reads a time with its offset, or a local one of the zone; a date is
// its midnight.
func (a *app) instant(c *cobra.Command, flag, text string, zone *time.Location) (time.Time, error) {
	s := strings.Replace(strings.TrimSpace(text), " ", "T", 1)
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t.UTC(), nil
		}
	}
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02"} {
		if t, err := time.ParseInLocation(layout, s, zone); err == nil {
			return t.UTC(), nil
		}
	}
	return time.Time{}, a.wanted(c, flag, text, "cmd.tide.wanted-time")
}

func (a *app) duration(c *cobra.Command, flag, text string) (time.Duration, error) {
	d, err := time.ParseDuration(strings.Replace(strings.TrimSpace(text), "min", "m", 1))
	if err != nil || d < time.Second || d%time.Second != 0 {
		return 0, a.wanted(c, flag, text, "cmd.tide.wanted-step")
	}
	return d, nil
}

// The JSON of heights and turns, in UTC, heights to 0.1 mm.
type heightJSON struct {
	At      string  `json:"at"`
	HeightM float64 `json:"height_m"`
}

type turnJSON struct {
	At      string  `json:"at"`
	HeightM float64 `json:"height_m"`
	Kind    string  `json:"kind"`
}

type waterJSON struct {
	Contract int             `json:"contract"`
	Datum    string          `json:"datum"`
	Nodal    string          `json:"nodal,omitempty"`
	Heights  []heightJSON    `json:"heights"`
	Extremes []turnJSON      `json:"extremes"`
	Messages []words.Message `json:"messages"`
}

// toTenthMM rounds to 0.1 mm, and never to −0.
func toTenthMM(m float64) float64 { return math.Round(m*1e4)/1e4 + 0 }

func utcText(t time.Time) string { return t.UTC().Format(time.RFC3339) }

func messagesOf(list []tide.Message) []words.Message {
	out := []words.Message{}
	for _, m := range list {
		out = append(out, words.Message{Slug: m.Slug, With: m.With})
	}
	return out
}

func turnKind(high bool) string {
	if high {
		return "high"
	}
	return "low"
}

// tell prints heights and turns, for a program or for people.
func (a *app) tellWater(asJSON, withHeights bool, w waterJSON, heights []tide.Height, turns []tide.Turn, zone *time.Location) error {
	if asJSON {
		w.Contract, w.Heights, w.Extremes = 1, []heightJSON{}, []turnJSON{}
		for _, h := range heights {
			w.Heights = append(w.Heights, heightJSON{utcText(h.At), toTenthMM(h.HeightM)})
		}
		for _, t := range turns {
			w.Extremes = append(w.Extremes, turnJSON{utcText(t.At), toTenthMM(t.HeightM), turnKind(t.High)})
		}
		return a.json(w)
	}
	local := func(t time.Time) string { return t.In(zone).Format("2006-01-02 15:04 MST") }
	if len(turns) == 0 {
		a.print(a.out, a.say("cmd.tide.no-turn"))
	} else {
		t := a.table(a.say("cmd.tide.col-time"), a.say("cmd.tide.col-height"), a.say("cmd.tide.col-kind"))
		for _, x := range turns {
			t.row(local(x.At.Round(time.Minute)), words.Number(x.HeightM, "2"), a.say("cmd.tide."+turnKind(x.High)))
		}
		t.print()
	}
	if withHeights {
		a.print(a.out, "")
		t := a.table(a.say("cmd.tide.col-time"), a.say("cmd.tide.col-height"))
		for _, x := range heights {
			t.row(local(x.At), words.Number(x.HeightM, "2"))
		}
		t.print()
	}
	a.print(a.out, "")
	a.print(a.out, a.say("cmd.tide.datum", "datum", w.Datum))
	for _, m := range w.Messages {
		a.print(a.out, m.In(a.lang))
	}
	a.print(a.out, a.say("tide.caution"))
	return nil
}

type predictFlags struct {
	span
	constituents, lagClock, nodal, datum, latitude string
	json                                           bool
}

func (a *app) tidePredictCmd() *cobra.Command {
	var p predictFlags
	c := a.commandAs("tide.predict", "predict --constituents FILE --from T --to T", a.argCount(0, 0), func(c *cobra.Command, _ []string) error {
		return a.predict(c, &p)
	})
	a.spanFlags(c, &p.span)
	f := c.Flags()
	f.StringVar(&p.constituents, "constituents", "", a.say("cmd.tide.flag-constituents"))
	f.StringVar(&p.lagClock, "lag-clock", "UTC", a.say("cmd.tide.flag-lag-clock"))
	a.choice(c, &p.nodal, "nodal", []string{string(tide.Schureman), string(tide.Satellites)}, "cmd.tide.flag-nodal")
	f.StringVar(&p.latitude, "latitude", "", a.say("cmd.tide.flag-latitude"))
	f.StringVar(&p.datum, "datum", "", a.say("cmd.tide.flag-datum"))
	a.jsonFlag(c, &p.json)
	return c
}

func (a *app) predict(c *cobra.Command, p *predictFlags) error {
	if err := a.needsFlags(c, "constituents"); err != nil {
		return err
	}
	from, to, step, zone, err := p.span.read(a, c)
	if err != nil {
		return err
	}
	curve, s, messages, err := a.curve(c, p)
	if err != nil {
		return err
	}
	heights, err := curve.Heights(from, to, step)
	if err != nil {
		return waterError(err)
	}
	turns, err := curve.Turns(from, to)
	if err != nil {
		return waterError(err)
	}
	messages = append(messages, tide.FarFromRecord(s.From, s.To, from, to)...)
	w := waterJSON{Datum: p.datum, Nodal: string(curve.Nodal()), Messages: messagesOf(messages)}
	if w.Datum == "" {
		w.Datum = s.Datum
	}
	if w.Datum == "" {
		w.Datum = a.unstated("tide.datum-unstated", p.json)
	}
	return a.tellWater(p.json, c.Flags().Changed("step"), w, heights, turns, zone)
}

// unstated is the words for a datum that nobody named; JSON stays English.
func (a *app) unstated(slug string, asJSON bool) string {
	if asJSON {
		return english.Say(slug, nil)
	}
	return a.say(slug)
}

// curve makes the curve that the flags and the file describe together.
func (a *app) curve(c *cobra.Command, p *predictFlags) (*tide.Curve, water.Stated, []tide.Message, error) {
	data, err := os.ReadFile(p.constituents)
	if err != nil {
		return nil, water.Stated{}, nil, err
	}
	list, s, err := water.Constituents(p.constituents, data)
	if err != nil {
		return nil, s, nil, waterError(err)
	}
	o := tide.Options{Nodal: tide.Nodal(p.nodal), LatitudeDeg: s.LatitudeDeg}
	clock, ok := water.Offset(p.lagClock)
	if !ok {
		return nil, s, nil, a.wanted(c, "--lag-clock", p.lagClock, "cmd.tide.wanted-clock")
	}
	o.LagClockH = clock
	var messages []tide.Message
	if s.Nodal != "" && !c.Flags().Changed("nodal") {
		o.Nodal = s.Nodal
	} else if s.Nodal != "" && s.Nodal != o.Nodal {
		messages = append(messages, tide.Message{Slug: "tide.nodal-other", With: with("found", string(s.Nodal), "asked", p.nodal)})
	}
	if p.latitude != "" {
		if o.LatitudeDeg, err = a.degrees(c, "--latitude", p.latitude); err != nil {
			return nil, s, nil, err
		}
	}
	if o.Nodal == tide.Satellites && math.IsNaN(o.LatitudeDeg) {
		return nil, s, nil, a.usage(c, "cmd.tide.needs-latitude")
	}
	curve, err := tide.NewCurve(list, o)
	return curve, s, messages, waterError(err)
}

func (a *app) degrees(c *cobra.Command, flag, text string) (float64, error) {
	x, ok := decimal(text)
	if !ok || math.Abs(x) > 90 {
		return 0, a.wanted(c, flag, text, "cmd.tide.wanted-latitude")
	}
	return x, nil
}

// decimal reads a finite number.
func decimal(text string) (float64, bool) {
	x, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), "−", "-", 1), 64)
	return x, err == nil && !math.IsNaN(x) && !math.IsInf(x, 0)
}
