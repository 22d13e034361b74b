package main

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/sun"
	"soakline/internal/task"
	"soakline/internal/tide"
	"soakline/internal/visits"
	"soakline/internal/words"
)

// windowsFlags are the flags of the verb as they were typed.
type windowsFlags struct {
	predictFlags // the constituents and how they are meant
	seriesFlags  // how a table or a series is read
	secondaryFlags
	latitude  string
	longitude string
	table     string
	series    string

	bed, sounding, soundingClock, soundingDepth string
	cover, workMin, workMax, access, margin     string
	maxRate                                     string
	wayIn                                       bool
	setting, reading, retrieving, walk, soak    string
	checks, light, weekdays, quiet              string
	name, ics, svg, day                         string
	sites                                       []string
	way, protocol, picture, calendar            string
	byDay                                       bool
	json                                        bool
}

func (a *app) windowsCmd() *cobra.Command {
	var p windowsFlags
	c := a.command("windows", a.argCount(0, 1), func(c *cobra.Command, args []string) error {
		if p.day != "" && p.svg == "" && p.picture == "" {
			return a.usage(c, "cmd.windows.day-alone")
		}
		if len(args) == 1 {
			return a.windowsBook(c, args[0], &p)
		}
		return a.windows(c, &p)
	})
	f := c.Flags()
	for _, x := range []struct {
		to                *string
		name, value, slug string
	}{
		{&p.latitude, "latitude", "", "cmd.site.flag-latitude"}, {&p.longitude, "longitude", "", "cmd.site.flag-longitude"},
		{&p.constituents, "constituents", "", "cmd.tide.flag-constituents"}, {&p.table, "table", "", "cmd.windows.flag-table"}, {&p.series, "series", "", "cmd.windows.flag-series"},
		{&p.lagClock, "lag-clock", "UTC", "cmd.tide.flag-lag-clock"}, {&p.datum, "datum", "", "cmd.tide.flag-datum"},
		{&p.clock, "clock", "", "cmd.windows.flag-clock"}, {&p.air, "air", "", "cmd.tide.flag-air"}, {&p.density, "density", "1025", "cmd.tide.flag-density"},
		{&p.from, "from", "", "cmd.windows.flag-from"}, {&p.to, "to", "", "cmd.windows.flag-to"}, {&p.zone, "zone", "", "cmd.windows.flag-zone"},
		{&p.bed, "bed", "", "cmd.windows.flag-bed"}, {&p.sounding, "sounding", "", "cmd.windows.flag-sounding"},
		{&p.soundingClock, "sounding-clock", "0m", "cmd.windows.flag-sounding-clock"}, {&p.soundingDepth, "sounding-depth", "0", "cmd.windows.flag-sounding-depth"},
		{&p.cover, "cover", "0", "cmd.windows.flag-cover"}, {&p.workMin, "work-min", "", "cmd.windows.flag-work-min"}, {&p.workMax, "work-max", "", "cmd.windows.flag-work-max"},
		{&p.margin, "margin", "0", "cmd.windows.flag-margin"}, {&p.access, "access", "", "cmd.windows.flag-access"}, {&p.maxRate, "max-rate", "", "cmd.windows.flag-max-rate"},
		{&p.setting, "setting", "0m", "cmd.windows.flag-setting"}, {&p.reading, "reading", "0m", "cmd.windows.flag-reading"}, {&p.retrieving, "retrieving", "0m", "cmd.windows.flag-retrieving"},
		{&p.walk, "walk", "0m", "cmd.windows.flag-walk"}, {&p.soak, "soak", "24h", "cmd.windows.flag-soak"}, {&p.checks, "checks", "1h,24h", "cmd.windows.flag-checks"},
		{&p.weekdays, "weekdays", "", "cmd.windows.flag-weekdays"}, {&p.quiet, "quiet", "", "cmd.windows.flag-quiet"},
		{&p.name, "name", "", "cmd.windows.flag-name"}, {&p.ics, "ics", "", "cmd.windows.flag-ics"}, {&p.svg, "svg", "", "cmd.windows.flag-svg"}, {&p.day, "day", "", "cmd.windows.flag-day"},
		{&p.picture, "picture", "", "cmd.windows.flag-picture"}, {&p.calendar, "calendar", "", "cmd.windows.flag-calendar"},
		{&p.way, "way", "", "cmd.windows.flag-way"}, {&p.protocol, "protocol", "", "cmd.windows.flag-protocol"},
	} {
		f.StringVar(x.to, x.name, x.value, a.say(x.slug))
	}
	f.StringArrayVar(&p.sites, "site", nil, a.say("cmd.windows.flag-site"))
	f.BoolVar(&p.wayIn, "way-in", false, a.say("cmd.windows.flag-way-in"))
	f.BoolVar(&p.byDay, "by-day", false, a.say("cmd.windows.flag-by-day"))
	a.secondaryFlagsOf(c, &p.secondaryFlags)
	a.choice(c, &p.nodal, "nodal", []string{string(tide.Schureman), string(tide.Satellites)}, "cmd.tide.flag-nodal")
	a.choice(c, &p.light, "light", []string{string(sun.Civil), string(sun.Sun), string(sun.None)}, "cmd.windows.flag-light")
	a.jsonFlag(c, &p.json)
	return c
}

// windows answers the verb for one place that the flags describe.
func (a *app) windows(c *cobra.Command, p *windowsFlags) error {
	q, err := a.windowsQuestion(c, p)
	if err != nil {
		return err
	}
	plan, err := visits.Find(q.source, q.ask)
	if err != nil {
		return visitsError(err)
	}
	name := p.name
	if name == "" {
		name = words.Number(q.ask.LatDeg, "4") + ", " + words.Number(q.ask.LonDeg, "4")
	}
	one := task.Planned{Site: assay.Site{Name: name}, Plan: plan, Datum: q.datum, Nodal: q.nodal, Zone: q.ask.Zone, Messages: append(q.messages, task.KnownOf(plan)...)}
	if err := a.windowsFiles(c, p, []task.Planned{one}); err != nil {
		return err
	}
	if p.json {
		return a.json(struct {
			Contract int `json:"contract"`
			windowsJSON
		}{1, windowsOf(&one)})
	}
	a.printWindows(&one, p.byDay)
	for _, m := range one.Messages {
		a.print(a.out, m.In(a.lang))
	}
	a.print(a.out, a.say("windows.caution"))
	a.printWritten(p)
	return nil
}

// printWritten names the files that were made.
func (a *app) printWritten(p *windowsFlags) {
	for _, file := range []string{p.ics, p.svg, p.picture, p.calendar} {
		if file != "" {
			a.print(a.out, a.say("cmd.windows.written", "file", file))
		}
	}
}

// visitsError puts what the rooms refuse into the words of a refusal.
func visitsError(err error) error {
	var r *visits.Refusal
	if errors.As(err, &r) {
		return &task.Refused{Slug: r.Slug, With: r.With}
	}
	return lightError(waterError(err))
}

// windowsQuestion is what is asked, and what must be told beside the answer.
type windowsQuestion struct {
	source   visits.Source
	ask      visits.Ask
	datum    string
	nodal    string // "" for a table
	bed      float64
	messages []words.Message
}

func (q *windowsQuestion) say(slug string, pairs ...any) {
	q.messages = append(q.messages, words.Message{Slug: slug, With: with(pairs...)})
}

// windowsQuestion reads all flags and the file of the water.
func (a *app) windowsQuestion(c *cobra.Command, p *windowsFlags) (*windowsQuestion, error) {
	q := &windowsQuestion{}
	k := &q.ask
	var err error
	if k.LatDeg, k.LonDeg, err = a.positionFlags(c, p.latitude, p.longitude); err != nil {
		return nil, err
	}
	if err = a.windowsDepths(c, p); err != nil {
		return nil, err
	}
	if err = a.windowsZone(c, p, q); err != nil {
		return nil, err
	}
	if k.From, err = a.dayOrMoment(c, "--from", p.from, k.Zone); err != nil {
		return nil, err
	}
	if k.To, err = a.dayOrMoment(c, "--to", p.to, k.Zone); err != nil {
		return nil, err
	}
	if err = a.windowsDemands(c, p, k); err != nil {
		return nil, err
	}
	if err = a.windowsWater(c, p, q); err != nil {
		return nil, err
	}
	if err = a.windowsBed(c, p, q); err != nil {
		return nil, err
	}
	if n := len(k.Checks); n > 0 && k.Checks[n-1] > k.Soak {
		q.say("windows.soak-short", "soak", k.Soak.Hours(), "last", k.Checks[n-1].Hours())
	}
	if k.MarginM == 0 {
		q.say("windows.no-margin")
	}
	return q, nil
}

// windowsZone is the zone named, or the one proposed for the position.
func (a *app) windowsZone(c *cobra.Command, p *windowsFlags, q *windowsQuestion) (err error) {
	if p.zone != "" {
		q.ask.Zone, err = a.zoneFlag(c, p.zone)
		return err
	}
	q.ask.Zone = time.UTC
	for _, z := range place.ZoneProposals(q.ask.LatDeg, q.ask.LonDeg) {
		if zone, err := time.LoadLocation(z.Name); err == nil {
			q.ask.Zone = zone
			q.say("windows.zone-proposed", "zone", z.Name)
			break
		}
	}
	return nil
}

// dayOrMoment is a time, or a date's first instant, on the zone's clock.
func (a *app) dayOrMoment(c *cobra.Command, flag, given string, z *time.Location) (time.Time, error) {
	if d, err := time.Parse(time.DateOnly, given); err == nil {
		if spans := sun.Spans(d.Year(), d.Month(), d.Day(), z); len(spans) > 0 {
			return spans[0].From, nil
		}
	}
	return a.momentFlag(c, flag, given, z)
}

// metres reads a number of metres.
func (a *app) metres(c *cobra.Command, flag, given string) (float64, error) {
	return a.decimal(c, flag, given, -1000, 1000, "cmd.windows.wanted-metres")
}

// stay reads a duration, which may be none.
func (a *app) stay(c *cobra.Command, flag, given string) (time.Duration, error) {
	if given == "0" {
		return 0, nil
	}
	d, err := time.ParseDuration(strings.Replace(strings.TrimSpace(given), "min", "m", 1))
	if err != nil || d < 0 || d%time.Second != 0 {
		return 0, a.wanted(c, flag, given, "cmd.windows.wanted-duration")
	}
	return d, nil
}

// windowsDemands reads what is asked of a start.
func (a *app) windowsDemands(c *cobra.Command, p *windowsFlags, k *visits.Ask) (err error) {
	k.AccessM, k.WayIn, k.Light = math.NaN(), p.wayIn, sun.Kind(p.light)
	for _, x := range []struct {
		flag, given string
		to          *float64
	}{
		{"--cover", p.cover, &k.CoverM}, {"--work-min", p.workMin, &k.WorkMinM}, {"--work-max", p.workMax, &k.WorkMaxM},
		{"--margin", p.margin, &k.MarginM}, {"--access", p.access, &k.AccessM}, {"--max-rate", p.maxRate, &k.MaxRateMPerH},
	} {
		if x.given == "" {
			continue
		}
		if *x.to, err = a.metres(c, x.flag, x.given); err != nil {
			return err
		}
	}
	if p.wayIn && p.access == "" {
		return a.usage(c, "cmd.windows.way-in-alone")
	}
	for _, x := range []struct {
		flag, given string
		to          *time.Duration
	}{{"--setting", p.setting, &k.Setting}, {"--reading", p.reading, &k.Reading}, {"--retrieving", p.retrieving, &k.Retrieving}, {"--walk", p.walk, &k.Walking}, {"--soak", p.soak, &k.Soak}} {
		if *x.to, err = a.stay(c, x.flag, x.given); err != nil {
			return err
		}
	}
	for _, text := range strings.Split(p.checks, ",") {
		if strings.TrimSpace(text) == "" {
			continue
		}
		d, err := a.stay(c, "--checks", text)
		if err != nil {
			return err
		}
		k.Checks = append(k.Checks, d)
	}
	return a.windowsHours(c, p, k)
}

// weekdayNames are the words of --weekdays, Sunday first as time.Weekday counts.
var weekdayNames = []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

// windowsHours reads the chosen weekdays and the quiet hours.
func (a *app) windowsHours(c *cobra.Command, p *windowsFlags, k *visits.Ask) error {
	for _, text := range strings.Split(p.weekdays, ",") {
		text = strings.ToLower(strings.TrimSpace(text))
		found := text == ""
		for i, n := range weekdayNames {
			if text == n {
				k.Weekdays, found = append(k.Weekdays, time.Weekday(i)), true
			}
		}
		if !found {
			return a.wanted(c, "--weekdays", p.weekdays, "cmd.windows.wanted-weekdays")
		}
	}
	if p.quiet == "" {
		return nil
	}
	from, to, ok := strings.Cut(p.quiet, "-")
	f, err := time.Parse("15:04", strings.TrimSpace(from))
	t, err2 := time.Parse("15:04", strings.TrimSpace(to))
	if !ok || err != nil || err2 != nil || f.Equal(t) {
		return a.wanted(c, "--quiet", p.quiet, "cmd.windows.wanted-quiet")
	}
	k.QuietFrom, k.QuietTo = f.Hour()*60+f.Minute(), t.Hour()*60+t.Minute()
	return nil
}

// windowsWater opens the one source of water that was named.
func (a *app) windowsWater(c *cobra.Command, p *windowsFlags, q *windowsQuestion) error {
	named := 0
	for _, s := range []string{p.constituents, p.table, p.series} {
		if s != "" {
			named++
		}
	}
	if named != 1 {
		return a.usage(c, "cmd.windows.one-water")
	}
	q.datum = p.datum
	unstated := func(slug string) {
		if q.datum == "" {
			q.datum = a.unstated(slug, p.json)
		}
	}
	tell := func(list []tide.Message) {
		for _, m := range list {
			q.say(m.Slug)
			q.messages[len(q.messages)-1].With = m.With
		}
	}
	switch {
	case p.constituents != "":
		p.predictFlags.latitude = p.latitude
		curve, s, messages, err := a.curve(c, &p.predictFlags)
		if err != nil {
			return err
		}
		if q.datum == "" {
			q.datum = s.Datum
		}
		unstated("tide.datum-unstated")
		tell(append(messages, tide.FarFromRecord(s.From, s.To, q.ask.From, q.ask.To)...))
		q.source, q.nodal = visits.FromCurve(curve), string(curve.Nodal())
	case p.table != "":
		waters, messages, err := a.readWaters(c, p.table, p.clock)
		if err != nil {
			return err
		}
		place, err := p.secondaryFlags.read(a, c)
		if err != nil {
			return err
		}
		t, more, err := tide.NewTable(waters, place)
		if err != nil {
			return waterError(err)
		}
		if place != (tide.Secondary{HighTimes: 1, LowTimes: 1}) {
			more = append(more, tide.Message{Slug: "tide.secondary"})
		}
		tell(append(append(messages, more...), tide.Message{Slug: "tide.half-cosine"}))
		unstated("tide.datum-of-table")
		q.source = visits.FromTable(t)
	default:
		p.seriesFlags.latitude = p.latitude
		series, messages, err := a.loggerSeries(c, p.series, &p.seriesFlags)
		if err != nil {
			return err
		}
		r, err := tide.Analyse(series, tide.Analysing{Nodal: tide.Nodal(p.nodal), LatitudeDeg: q.ask.LatDeg})
		if err != nil {
			return waterError(err)
		}
		curve, err := tide.NewCurve(r.Harmonics(), tide.Options{Nodal: r.Nodal, LatitudeDeg: q.ask.LatDeg})
		if err != nil {
			return waterError(err)
		}
		tell(append(append(messages, r.Messages...), tide.FarFromRecord(r.From, r.To, q.ask.From, q.ask.To)...))
		low5, low1 := r.Margin()
		q.say("windows.margin-proposed", "low5", -low5, "low1", -low1, "margin", q.ask.MarginM)
		unstated("windows.datum-of-series")
		q.source, q.nodal = visits.FromCurve(curve), string(curve.Nodal())
	}
	return nil
}

// windowsBed reads the bed, or finds it from a sounding.
func (a *app) windowsBed(c *cobra.Command, p *windowsFlags, q *windowsQuestion) (err error) {
	k := &q.ask
	if (p.bed == "") == (p.sounding == "") {
		return a.usage(c, "cmd.windows.one-bed")
	}
	if p.bed != "" {
		shallow, deep, two := strings.Cut(p.bed, ",")
		if k.ShallowBedM, err = a.metres(c, "--bed", strings.TrimSpace(shallow)); err != nil {
			return err
		}
		k.DeepBedM = k.ShallowBedM
		if two {
			if k.DeepBedM, err = a.metres(c, "--bed", strings.TrimSpace(deep)); err != nil {
				return err
			}
		}
		k.ShallowBedM, k.DeepBedM = math.Max(k.ShallowBedM, k.DeepBedM), math.Min(k.ShallowBedM, k.DeepBedM)
		q.bed = k.ShallowBedM
		return nil
	}
	at, depth, ok := strings.Cut(p.sounding, ",")
	if !ok {
		return a.wanted(c, "--sounding", p.sounding, "cmd.windows.wanted-sounding")
	}
	var s visits.Sounding
	if s.At, err = a.momentFlag(c, "--sounding", strings.TrimSpace(at), k.Zone); err != nil {
		return err
	}
	if s.DepthM, err = a.metres(c, "--sounding", strings.TrimSpace(depth)); err != nil {
		return err
	}
	within, err := a.stay(c, "--sounding-clock", p.soundingClock)
	if err != nil {
		return err
	}
	s.WithinS = within.Seconds()
	if s.WithinM, err = a.metres(c, "--sounding-depth", p.soundingDepth); err != nil {
		return err
	}
	q.bed, k.ShallowBedM, k.DeepBedM, err = s.Bed(q.source)
	if err != nil {
		return visitsError(err)
	}
	q.say("windows.bed-sounded", "bed", q.bed, "shallow", k.ShallowBedM, "deep", k.DeepBedM, "at", visits.LocalDay(s.At, k.Zone))
	return nil
}

// writeWhole writes a file by way of one beside it, so that a reader never finds
// half of it.
func writeWhole(name string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(name), ".soakline-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already when all went well
	if _, err = f.Write(b); err == nil {
		err = f.Chmod(0o644)
	}
	if err2 := f.Close(); err == nil {
		err = err2
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}
