package task

import (
	"math"
	"slices"
	"sync"
	"time"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/quality"
	"soakline/internal/report"
	"soakline/internal/sun"
	"soakline/internal/visits"
	"soakline/internal/water"
	"soakline/internal/words"
)

// DerivedNames are the numbers that are worked out for a row from the site book,
// the tide and the light, in the order in which results list them. Those of the
// tide need a source of the tide, those of a logger a logger's series of the site;
// light needs a position.
func DerivedNames() []string {
	return []string{
		"tide_height_m", "tide_range_m", "tide_from_high_h", "tide_lowest_m", "sun_altitude_deg", "dark_share", "moon_share",
		"logger_temperature_c", "logger_temperature_min_c", "logger_temperature_max_c", "logger_salinity", "logger_salinity_min", "logger_salinity_max", "logger_gap_h",
	}
}

// DerivedCheckNames are those of a check: the state at its time, and the share of
// dark hours in the interval before it.
func DerivedCheckNames() []string {
	return []string{"tide_height_m", "tide_from_high_h", "sun_altitude_deg", "dark_share"}
}

// afloat is a site with its files open.
type afloat struct {
	site    assay.Site
	zone    *time.Location
	tide    *water.Opened
	loggers []openLogger
}

type openLogger struct {
	assay.Logger
	*water.Logged
}

// readSea works out what the tides and loggers of the site book say of every row,
// and remembers it for the rules.
func (s *Season) readSea(tx *logbook.Tx) {
	s.sea, s.seaNames = map[*assay.Deployment]*quality.Sea{}, map[string]bool{}
	s.tides = map[string]*water.Opened{}
	byName := map[string]*afloat{}
	for _, site := range s.Sites {
		if site.Tide.Kind == "" && len(site.Loggers) == 0 {
			continue
		}
		a := &afloat{site: site, zone: siteZone(&site)}
		// A file that no longer reads takes its numbers away, not the season.
		var err error
		if a.tide, err = SiteWater(tx, &site); err != nil {
			s.Taken = append(s.Taken, words.Message{Slug: "site.file-lost", With: words.P{"site": site.Name, "file": site.Tide.File}})
		}
		if a.tide != nil {
			s.tides[site.Name] = a.tide
		}
		for _, g := range site.Loggers {
			l, err := siteLogger(tx, g)
			if err != nil {
				s.Taken = append(s.Taken, words.Message{Slug: "site.file-lost", With: words.P{"site": site.Name, "file": g.File}})
				continue
			}
			a.loggers = append(a.loggers, openLogger{g, l})
		}
		for _, n := range append([]string{site.Name}, site.Synonyms...) {
			byName[n] = a
		}
	}
	for i := range s.Deployments {
		if a := byName[s.Deployments[i].Site]; a != nil {
			s.sea[&s.Deployments[i]] = a.of(&s.Deployments[i])
			for n := range s.Deployments[i].Derived {
				s.seaNames[n] = true
			}
		}
	}
}

// WithoutTide counts the rows of which nobody has looked whether they fell dry: no
// tide is known for their site. A datasheet has none at all; it stands in a logbook.
func (s *Season) WithoutTide() (n int) {
	for i := range s.Deployments {
		site, err := FindSite(s.Sites, s.Deployments[i].Site)
		if err != nil || s.tides[site.Name] == nil {
			n++
		}
	}
	return n
}

// soakOf is a row's time in the water: setting out to the end of its last check
// with a time.
func soakOf(d *assay.Deployment) (from, to time.Time, ok bool) {
	if !d.SetOut.Known() {
		return from, to, false
	}
	from, to = d.SetOut.At, d.SetOut.At
	for _, c := range d.Checks {
		for _, m := range []assay.Moment{c.At, c.Until} {
			if m.Known() && m.At.After(to) {
				to = m.At
			}
		}
	}
	// A check a year late is a slip of the pen that another rule speaks of.
	return from, to, to.After(from) && to.Sub(from) <= longestSoak
}

// longestSoak bounds the soak that is looked at.
const longestSoak = 60 * 24 * time.Hour

// derive keeps a number worked out for a row.
func derive(to *map[string]float64, name string, x float64) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return
	}
	if *to == nil {
		*to = map[string]float64{}
	}
	(*to)[name] = x
}

// of works out what the site's files say of one row.
func (a *afloat) of(d *assay.Deployment) *quality.Sea {
	sea := &quality.Sea{}
	if a.tide != nil && d.SetOut.Known() {
		a.tideOf(d, sea)
	}
	if from, to, ok := soakOf(d); ok {
		a.loggedOf(d, from, to, sea)
	}
	return sea
}

// tideOf works out the states of the tide, and whether the row fell dry.
func (a *afloat) tideOf(d *assay.Deployment, sea *quality.Sea) {
	from, to, ok := soakOf(d)
	if !ok {
		from, to = d.SetOut.At, d.SetOut.At
	}
	stay := visits.StayOf(a.tide.Source, from, to)
	if t, ok := stay.TideAt(d.SetOut.At, a.zone); ok {
		derive(&d.Derived, "tide_height_m", t.HeightM)
		derive(&d.Derived, "tide_range_m", t.RangeM)
		derive(&d.Derived, "tide_from_high_h", t.FromHighH)
	}
	for i := range d.Checks {
		c := &d.Checks[i]
		if !c.At.Known() {
			continue
		}
		if t, ok := stay.TideAt(c.At.At, a.zone); ok {
			derive(&c.Derived, "tide_height_m", t.HeightM)
			derive(&c.Derived, "tide_from_high_h", t.FromHighH)
		}
	}
	if !ok {
		return
	}
	low, at, ok := stay.Lowest(from, to)
	if !ok {
		return
	}
	derive(&d.Derived, "tide_lowest_m", low)
	if bed, by, ok := a.bed(d); ok && low < bed {
		sea.Dry = &quality.DryBed{At: at, Zone: a.zone, HeightM: low, BedM: bed, BedFrom: by}
	}
}

// bed is the shallow end of a row above the datum: by its own depth where that is
// above the datum, or was read at a stated time under a known tide; else the site
// book's.
func (a *afloat) bed(d *assay.Deployment) (bedM float64, by quality.BedFrom, ok bool) {
	depth, has := d.DepthMinM.Get()
	if !has {
		depth, has = d.DepthMaxM.Get()
	}
	if has && d.DepthAt == "datum" {
		return -depth, quality.BedDepth, true
	}
	if t, err := instantIn(d.DepthAt, a.zone); has && err == nil && a.tide != nil {
		if h, ok := visits.HeightAt(a.tide.Source, t); ok {
			return h - depth, quality.BedSounding, true
		}
	}
	b, ok := a.site.ShallowBedM.Get()
	return b, quality.BedSite, ok
}

// dryDepthM is the depth at or below which a logger that lay beside the row tells
// that it fell dry, metres. Common practice, no source.
const dryDepthM = 0.02

// loggedOf works out what the loggers of the site say over the soak: for each kind
// of value the first logger that has one.
func (a *afloat) loggedOf(d *assay.Deployment, from, to time.Time, sea *quality.Sea) {
	soakH := to.Sub(from).Hours()
	gap, file, any := math.Inf(1), "", false
	take := func(column func(*water.Logged) []float64, name, unit string) {
		for _, g := range a.loggers {
			if column(g.Logged) == nil {
				continue
			}
			s, ok := g.Over(column(g.Logged), from, to)
			if file == "" {
				file = g.File
			}
			if !ok {
				continue
			}
			derive(&d.Derived, name+unit, s.Mean)
			derive(&d.Derived, name+"_min"+unit, s.Min)
			derive(&d.Derived, name+"_max"+unit, s.Max)
			if any = true; s.GapH < gap {
				gap, file = s.GapH, g.File
			}
			return
		}
	}
	take(func(l *water.Logged) []float64 { return l.TemperatureC }, "logger_temperature", "_c")
	take(func(l *water.Logged) []float64 { return l.Salinity }, "logger_salinity", "")
	switch {
	case any:
		derive(&d.Derived, "logger_gap_h", gap)
		sea.LoggerGap = &quality.LoggerGap{GapH: gap, SoakH: soakH, File: file}
	case file != "":
		sea.LoggerGap = &quality.LoggerGap{GapH: soakH, SoakH: soakH, File: file, None: true}
	}
	for _, g := range a.loggers {
		if s, ok := g.Over(g.LevelM, from, to); ok {
			a.loggerDry(d, g, s, sea)
			return
		}
	}
}

// loggerDry looks whether a measured level says that the row fell dry.
func (a *afloat) loggerDry(d *assay.Deployment, g openLogger, s water.Spell, sea *quality.Sea) {
	zero, above := g.ZeroM.Get()
	if !above {
		if s.Min <= dryDepthM {
			sea.LoggerDry = &quality.DryBed{At: s.MinAt, Zone: a.zone, HeightM: s.Min, BedM: dryDepthM, BedFrom: quality.BedLogger}
		}
		return
	}
	if bed, by, ok := a.bed(d); ok && zero+s.Min < bed {
		sea.LoggerDry = &quality.DryBed{At: s.MinAt, Zone: a.zone, HeightM: zero + s.Min, BedM: bed, BedFrom: by}
	}
}

// Conditions are the tidy tables of what was worked out of tide, light and loggers
// for every row and every check.
func (s *Season) Conditions() []report.Table {
	if s == nil {
		return nil
	}
	s.DeriveLight()
	ds := slices.Clone(s.Deployments)
	for i, hide := range s.hidden {
		if hide { // hours of tide and sun tell where a row is
			ds[i].Derived, ds[i].Checks = nil, slices.Clone(ds[i].Checks)
			for k := range ds[i].Checks {
				ds[i].Checks[k].Derived = nil
			}
		}
	}
	return report.Conditions(ds, DerivedNames(), DerivedCheckNames())
}

// DerivedKnown lists the numbers worked out that some row of the season has, by
// which it can be compared; those of the light wherever there is a position.
func (s *Season) DerivedKnown() []string {
	light := []string{"sun_altitude_deg", "dark_share", "moon_share"}
	placed := false
	for i := range s.Deployments {
		d := &s.Deployments[i]
		placed = placed || d.Latitude.Known() && d.Longitude.Known() && d.SetOut.Known()
	}
	var list []string
	for _, n := range DerivedNames() {
		if s.seaNames[n] || placed && slices.Contains(light, n) {
			list = append(list, n)
		}
	}
	return list
}

// DeriveLight works out the light of every row: where the sun stood at setting out,
// the share of dark hours in the soak and in each interval, and how much of the moon
// was lit. A row's position counts, else that of its site. It is done when it is asked for,
// since a long list takes a while.
func (s *Season) DeriveLight() {
	if s.lightOnce == nil { // a season that a caller put together
		s.lightOnce = new(sync.Once)
	}
	s.lightOnce.Do(func() {
		for i := range s.Deployments {
			d := &s.Deployments[i]
			lat, okLat := d.Latitude.Get()
			lon, okLon := d.Longitude.Get()
			if !okLat || !okLon {
				site, err := FindSite(s.Sites, d.Site)
				if err != nil {
					continue
				}
				lat, lon, okLat = site.Placed()
			}
			if okLat && math.Abs(lat) <= 90 && math.Abs(lon) <= 180 {
				lightOf(d, lat, lon)
			}
		}
	})
}

func lightOf(d *assay.Deployment, lat, lon float64) {
	if y := d.SetOut.At.UTC().Year(); !d.SetOut.Known() || y < sun.FirstYear || y > sun.LastYear {
		return
	}
	derive(&d.Derived, "sun_altitude_deg", sun.AltitudeDeg(lat, lon, d.SetOut.At))
	derive(&d.Derived, "moon_share", sun.MoonAt(d.SetOut.At).IlluminatedFraction)
	if from, to, ok := soakOf(d); ok {
		if share, ok := visits.DarkShare(lat, lon, from, to); ok {
			derive(&d.Derived, "dark_share", share)
		}
	}
	before := d.SetOut.At
	for i := range d.Checks {
		c := &d.Checks[i]
		if !c.At.Known() || c.At.At.Sub(d.SetOut.At).Abs() > longestSoak {
			continue
		}
		derive(&c.Derived, "sun_altitude_deg", sun.AltitudeDeg(lat, lon, c.At.At))
		if c.At.At.After(before) {
			if share, ok := visits.DarkShare(lat, lon, before, c.At.At); ok {
				derive(&c.Derived, "dark_share", share)
			}
			before = c.At.At
		}
	}
}
