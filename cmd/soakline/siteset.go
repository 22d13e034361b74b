package main

import (
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/place"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/tide"
	"soakline/internal/water"
)

// siteFlags are the flags of site set as they were typed.
type siteFlags struct {
	zone, latitude, longitude, position string
	also                                []string
	bed, datum, wayIn, access, walk     string
	constituents, table, series         string
	lagClock, clock, air, nodal         string
	loggers                             []string
	loggerClock, loggerZero             string
	density                             string
	secondaryFlags                      // of a table, to a secondary place
	hazards, shelter, sensitive         string
	emergency                           string
	permits                             []string
	noTide, noLoggers, noPermits        bool
}

func (a *app) siteSetCmd() *cobra.Command {
	var p siteFlags
	c := a.commandAs("site.set", "set FILE.logbook NAME", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.siteSet(c, args[0], args[1], &p)
	})
	f := c.Flags()
	for _, x := range []struct {
		to         *string
		name, slug string
	}{
		{&p.zone, "zone", "cmd.site.flag-zone"}, {&p.latitude, "latitude", "cmd.site.flag-latitude"}, {&p.longitude, "longitude", "cmd.site.flag-longitude"},
		{&p.position, "position", "cmd.site.flag-position"}, {&p.bed, "bed", "cmd.site.flag-bed"}, {&p.datum, "datum", "cmd.site.flag-datum"},
		{&p.wayIn, "way-in", "cmd.site.flag-way-in"}, {&p.access, "access", "cmd.site.flag-access"}, {&p.walk, "walk", "cmd.site.flag-walk"},
		{&p.constituents, "constituents", "cmd.site.flag-constituents"}, {&p.table, "table", "cmd.site.flag-table"}, {&p.series, "series", "cmd.site.flag-series"},
		{&p.lagClock, "lag-clock", "cmd.tide.flag-lag-clock"}, {&p.clock, "clock", "cmd.windows.flag-clock"}, {&p.air, "air", "cmd.site.flag-air"}, {&p.nodal, "nodal", "cmd.site.flag-nodal"},
		{&p.loggerClock, "logger-clock", "cmd.site.flag-logger-clock"}, {&p.loggerZero, "logger-zero", "cmd.site.flag-logger-zero"},
		{&p.hazards, "hazards", "cmd.site.flag-hazards"}, {&p.shelter, "shelter", "cmd.site.flag-shelter"}, {&p.emergency, "emergency", "cmd.site.flag-emergency"}, {&p.density, "density", "cmd.site.flag-density"}, {&p.sensitive, "sensitive", "cmd.site.flag-sensitive"},
	} {
		f.StringVar(x.to, x.name, "", a.say(x.slug))
	}
	a.secondaryFlagsOf(c, &p.secondaryFlags)
	f.StringArrayVar(&p.also, "also", nil, a.say("cmd.site.flag-also"))
	f.StringArrayVar(&p.loggers, "logger", nil, a.say("cmd.site.flag-logger"))
	f.StringArrayVar(&p.permits, "permit", nil, a.say("cmd.site.flag-permit"))
	f.BoolVar(&p.noTide, "no-tide", false, a.say("cmd.site.flag-no-tide"))
	f.BoolVar(&p.noLoggers, "no-loggers", false, a.say("cmd.site.flag-no-loggers"))
	f.BoolVar(&p.noPermits, "no-permits", false, a.say("cmd.site.flag-no-permits"))
	return c
}

func (a *app) siteSet(c *cobra.Command, path, name string, p *siteFlags) error {
	files, err := a.siteFiles(c, p)
	if err != nil {
		return err
	}
	return a.withBook(c, path, false, func(book *logbook.Book) error {
		zone, err := task.ChangeSite(c.Context(), book, name, func(s *assay.Site) error { return a.changeSite(c, s, p) }, a.by(""), files...)
		if err != nil {
			return err
		}
		a.print(a.out, a.say("cmd.site.set-done", "site", name))
		if zone != "" {
			a.print(a.out, a.say("site.zone-proposed", "zone", zone))
		}
		return nil
	})
}

// siteFiles reads the files to be kept for a site.
func (a *app) siteFiles(c *cobra.Command, p *siteFlags) (files []task.SiteFile, err error) {
	read := func(name string) (task.File, error) {
		data, err := os.ReadFile(name)
		return task.File{Name: filepath.Base(name), Data: data}, err
	}
	for _, x := range []struct{ flag, name, wanted string }{{"--clock", p.clock, "cmd.tide.wanted-zone"}, {"--logger-clock", p.loggerClock, "cmd.tide.wanted-zone"}} {
		if _, ok := water.Clock(x.name); x.name != "" && !ok {
			return nil, a.wanted(c, x.flag, x.name, x.wanted)
		}
	}
	if _, ok := water.Offset(p.lagClock); p.lagClock != "" && !ok {
		return nil, a.wanted(c, "--lag-clock", p.lagClock, "cmd.tide.wanted-clock")
	}
	if p.nodal != "" && p.nodal != string(tide.Schureman) && p.nodal != string(tide.Satellites) {
		return nil, a.usage(c, "cmd.usage.choice", "flag", "--nodal", "given", p.nodal, "words", []string{string(tide.Schureman), string(tide.Satellites)})
	}
	named := 0
	for _, x := range []struct {
		name string
		kind assay.WaterKind
	}{{p.constituents, assay.Constituents}, {p.table, assay.Waters}, {p.series, assay.Series}} {
		if x.name == "" {
			continue
		}
		if named++; named > 1 {
			return nil, a.usage(c, "cmd.windows.one-water")
		}
		f, err := read(x.name)
		if err != nil {
			return nil, err
		}
		t := &assay.Tide{Kind: x.kind}
		if err := a.tideSettings(c, t, p); err != nil {
			return nil, err
		}
		files = append(files, task.SiteFile{File: f, Tide: t})
	}
	if p.air != "" && !airInWords(p.air) {
		air, err := read(p.air)
		if err != nil {
			return nil, err
		}
		if named == 0 {
			files = append(files, task.SiteFile{})
		}
		files[len(files)-1].Air = &air
	}
	zero := assay.None[float64]()
	if p.loggerZero != "" {
		x, err := a.metres(c, "--logger-zero", p.loggerZero)
		if err != nil {
			return nil, err
		}
		zero = assay.Some(x)
	}
	for _, name := range p.loggers {
		f, err := read(name)
		if err != nil {
			return nil, err
		}
		files = append(files, task.SiteFile{File: f, Logger: &assay.Logger{Clock: p.loggerClock, ZeroM: zero}})
	}
	return files, nil
}

// airInWords says whether the pressure of the air is told by the flag itself: a
// number of hPa, or the word gauge; else it names a file.
func airInWords(text string) bool {
	_, isNumber := positive(text)
	return text == "gauge" || isNumber
}

// tideFlags are the flags that say how a kept tide is read.
var tideFlags = []string{"lag-clock", "clock", "nodal", "air", "density", "high-later", "low-later", "high-add", "low-add", "high-times", "low-times"}

// tideSettings puts into a tide what the flags say of how it is read; flags that
// were not given leave it as it is, an empty text takes a setting away.
func (a *app) tideSettings(c *cobra.Command, t *assay.Tide, p *siteFlags) error {
	given := c.Flags().Changed
	for _, x := range []struct {
		name, text string
		to         *string
	}{{"lag-clock", p.lagClock, &t.LagClock}, {"clock", p.clock, &t.Clock}, {"nodal", p.nodal, &t.Nodal}} {
		if given(x.name) {
			*x.to = x.text
		}
	}
	if given("air") && (p.air == "" || airInWords(p.air)) {
		t.Air, t.AirSource = p.air, ""
	}
	if given("density") {
		t.DensityKgM3 = 0
		if p.density != "" {
			var ok bool
			if t.DensityKgM3, ok = positive(p.density); !ok {
				return a.wanted(c, "--density", p.density, "cmd.tide.wanted-density")
			}
		}
	}
	s, err := p.secondaryFlags.read(a, c)
	if err != nil {
		return err
	}
	for _, x := range []struct {
		name string
		from float64
		to   *float64
	}{
		{"high-later", s.HighLater.Minutes(), &t.Differences.HighLaterMin}, {"low-later", s.LowLater.Minutes(), &t.Differences.LowLaterMin},
		{"high-add", s.HighAddM, &t.Differences.HighAddM}, {"low-add", s.LowAddM, &t.Differences.LowAddM},
		{"high-times", s.HighTimes, &t.Differences.HighTimes}, {"low-times", s.LowTimes, &t.Differences.LowTimes},
	} {
		if given(x.name) {
			*x.to = x.from
		}
		if strings.HasSuffix(x.name, "-times") && *x.to == 1 {
			*x.to = 0 // changes nothing, and so is none
		}
	}
	return nil
}

// changeTide changes how the kept tide is read; flags for a file that comes along
// are its own.
func (a *app) changeTide(c *cobra.Command, s *assay.Site, p *siteFlags) error {
	if p.constituents != "" || p.table != "" || p.series != "" {
		return nil
	}
	for _, name := range tideFlags {
		if !c.Flags().Changed(name) {
			continue
		}
		if s.Tide.Kind == "" {
			return a.usage(c, "cmd.site.tide-first", "flag", "--"+name)
		}
		return a.tideSettings(c, &s.Tide, p)
	}
	return nil
}

// changeSite puts into a site what the flags say; an empty text takes a field away.
func (a *app) changeSite(c *cobra.Command, s *assay.Site, p *siteFlags) error {
	given := func(name string) bool { return c.Flags().Changed(name) }
	for _, x := range []struct {
		name, text string
		to         *string
	}{{"zone", p.zone, &s.Zone}, {"datum", p.datum, &s.Datum}, {"way-in", p.wayIn, &s.WayIn}, {"hazards", p.hazards, &s.Hazards}, {"shelter", p.shelter, &s.Shelter}, {"emergency", p.emergency, &s.Emergency}} {
		if given(x.name) {
			*x.to = x.text
		}
	}
	if p.noTide {
		s.Tide = assay.Tide{}
	}
	if err := a.changeTide(c, s, p); err != nil {
		return err
	}
	if p.noLoggers {
		s.Loggers = nil
	}
	for _, n := range p.also {
		s.AddSynonym(n)
	}
	if err := a.sitePosition(c, s, p); err != nil {
		return err
	}
	if err := a.siteLevels(c, s, p); err != nil {
		return err
	}
	if given("sensitive") {
		switch strings.ToLower(p.sensitive) {
		case "yes":
			s.Sensitive = assay.Some(true)
		case "no":
			s.Sensitive = assay.Some(false)
		case "":
			s.Sensitive = assay.None[bool]()
		default:
			return a.usage(c, "cmd.usage.choice", "flag", "--sensitive", "given", p.sensitive, "words", []string{"yes", "no"})
		}
	}
	if p.noPermits {
		s.Permits = nil
	}
	for _, text := range p.permits {
		number, until, _ := strings.Cut(text, "=")
		s.SetPermit(assay.Permit{Number: strings.TrimSpace(number), Until: strings.TrimSpace(until)})
	}
	return nil
}

// sitePosition reads a position in two numbers, or in any usual notation, of which
// there may be no doubt.
func (a *app) sitePosition(c *cobra.Command, s *assay.Site, p *siteFlags) error {
	var f *sheet.Fault
	if c.Flags().Changed("latitude") {
		if s.Latitude, f = sheet.ParseNumber("latitude", p.latitude); f != nil {
			return &task.FaultyValues{Faults: []*sheet.Fault{f}}
		}
	}
	if c.Flags().Changed("longitude") {
		if s.Longitude, f = sheet.ParseNumber("longitude", p.longitude); f != nil {
			return &task.FaultyValues{Faults: []*sheet.Fault{f}}
		}
	}
	if p.position == "" {
		return nil
	}
	r, err := place.Read(p.position, place.Options{})
	if err != nil {
		return placeError(err)
	}
	if !r.Clear() {
		return &task.Refused{Slug: r.Questions[0].Slug, With: r.Questions[0].With}
	}
	round := func(x float64) float64 { return math.Round(x*1e7) / 1e7 }
	s.Latitude, s.Longitude = assay.Some(round(r.LatDeg)), assay.Some(round(r.LonDeg))
	return nil
}

// siteLevels reads the beds, the level of the way and the walk.
func (a *app) siteLevels(c *cobra.Command, s *assay.Site, p *siteFlags) error {
	one := func(flag, text string, to *assay.Maybe[float64]) error {
		if text = strings.TrimSpace(text); text == "" {
			*to = assay.None[float64]()
			return nil
		}
		x, err := a.metres(c, flag, text)
		*to = assay.Some(x)
		return err
	}
	if c.Flags().Changed("bed") {
		shallow, deep, _ := strings.Cut(p.bed, ",")
		if err := one("--bed", shallow, &s.ShallowBedM); err != nil {
			return err
		}
		if err := one("--bed", deep, &s.DeepBedM); err != nil {
			return err
		}
	}
	if c.Flags().Changed("access") {
		if err := one("--access", p.access, &s.AccessM); err != nil {
			return err
		}
	}
	if !c.Flags().Changed("walk") {
		return nil
	}
	s.WalkMin = assay.None[float64]()
	if p.walk == "" {
		return nil
	}
	d, err := a.stay(c, "--walk", p.walk)
	s.WalkMin = assay.Some(d.Minutes())
	return err
}
