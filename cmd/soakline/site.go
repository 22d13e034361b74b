package main

import (
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/task"
	"soakline/internal/words"
)

func (a *app) siteCmd() *cobra.Command {
	return a.groupCmd("site", a.siteListCmd(), a.siteShowCmd(), a.siteSetCmd())
}

// sitesOf reads the site book of a logbook.
func (a *app) sitesOf(c *cobra.Command, path string) (sites []assay.Site, err error) {
	err = a.withBook(c, path, true, func(book *logbook.Book) error {
		return book.View(c.Context(), func(tx *logbook.Tx) (err error) {
			sites, err = task.Sites(tx)
			return err
		})
	})
	return sites, err
}

func (a *app) siteListCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("site.list", "list FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		sites, err := a.sitesOf(c, args[0])
		if err != nil {
			return err
		}
		if asJSON {
			return a.json(siteListOf(sites))
		}
		if len(sites) == 0 {
			a.print(a.out, a.say("cmd.site.none"))
			return nil
		}
		t := a.table(a.say("cmd.site.col-name"), a.say("cmd.site.col-zone"), "latitude", "longitude", a.say("cmd.site.col-bed"), a.say("cmd.site.col-tide"), a.say("cmd.site.col-synonyms"))
		for _, s := range sites {
			t.row(s.Name, s.Zone, number(s.Latitude, "5"), number(s.Longitude, "5"), number(s.ShallowBedM, "2"), s.Tide.File, strings.Join(s.Synonyms, ", "))
		}
		t.print()
		return nil
	})
	a.jsonFlag(c, &asJSON)
	return c
}

// siteJSON is one site of the book. Its first keys are those that site list has
// always had.
type siteJSON struct {
	Site        string               `json:"site"`
	Zone        string               `json:"zone"`
	Latitude    assay.Maybe[float64] `json:"latitude"`
	Longitude   assay.Maybe[float64] `json:"longitude"`
	Synonyms    []string             `json:"synonyms"`
	ShallowBedM assay.Maybe[float64] `json:"shallow_bed_m"`
	DeepBedM    assay.Maybe[float64] `json:"deep_bed_m"`
	Datum       string               `json:"datum"`
	WayIn       string               `json:"way_in"`
	AccessM     assay.Maybe[float64] `json:"access_m"`
	WalkMin     assay.Maybe[float64] `json:"walk_min"`
	Tide        *siteTideJSON        `json:"tide"`
	Loggers     []siteLoggerJSON     `json:"loggers"`
	Hazards     string               `json:"hazards"`
	Shelter     string               `json:"shelter"`
	Emergency   string               `json:"emergency"`
	Permits     []permitJSON         `json:"permits"`
	Sensitive   assay.Maybe[bool]    `json:"sensitive"`
}

type siteTideJSON struct {
	Kind     assay.WaterKind `json:"kind"`
	File     string          `json:"file"`
	SHA256   string          `json:"sha256"`
	LagClock string          `json:"lag_clock"`
	Clock    string          `json:"clock"`
	Air      string          `json:"air"`
	Nodal    string          `json:"nodal"`

	AirSHA256   assay.Maybe[string]  `json:"air_sha256"`
	DensityKgM3 assay.Maybe[float64] `json:"density_kg_m3"`
	Differences *differencesJSON     `json:"differences"`
}

// differencesJSON bring a table to a secondary place.
type differencesJSON struct {
	HighLaterMin float64 `json:"high_later_min"`
	LowLaterMin  float64 `json:"low_later_min"`
	HighAddM     float64 `json:"high_add_m"`
	LowAddM      float64 `json:"low_add_m"`
	HighTimes    float64 `json:"high_times"`
	LowTimes     float64 `json:"low_times"`
}

func tideOf(t assay.Tide) *siteTideJSON {
	if t.Kind == "" {
		return nil
	}
	j := &siteTideJSON{Kind: t.Kind, File: t.File, SHA256: t.Source, LagClock: t.LagClock, Clock: t.Clock, Air: t.Air, Nodal: t.Nodal}
	if t.AirSource != "" {
		j.AirSHA256 = assay.Some(t.AirSource)
	}
	if t.DensityKgM3 != 0 {
		j.DensityKgM3 = assay.Some(t.DensityKgM3)
	}
	if d := t.Differences; d != (assay.TideDifferences{}) {
		one := func(x float64) float64 {
			if x == 0 {
				return 1
			}
			return x
		}
		j.Differences = &differencesJSON{d.HighLaterMin, d.LowLaterMin, d.HighAddM, d.LowAddM, one(d.HighTimes), one(d.LowTimes)}
	}
	return j
}

type siteLoggerJSON struct {
	File   string               `json:"file"`
	SHA256 string               `json:"sha256"`
	Clock  string               `json:"clock"`
	ZeroM  assay.Maybe[float64] `json:"zero_m"`
}

type permitJSON struct {
	Number string              `json:"number"`
	Until  assay.Maybe[string] `json:"until"`
}

func siteOf(s assay.Site) siteJSON {
	j := siteJSON{
		Site: s.Name, Zone: s.Zone, Latitude: s.Latitude, Longitude: s.Longitude, Synonyms: append([]string{}, s.Synonyms...),
		ShallowBedM: s.ShallowBedM, DeepBedM: s.DeepBedM, Datum: s.Datum, WayIn: s.WayIn, AccessM: s.AccessM, WalkMin: s.WalkMin,
		Loggers: []siteLoggerJSON{}, Hazards: s.Hazards, Shelter: s.Shelter, Emergency: s.Emergency, Permits: []permitJSON{}, Sensitive: s.Sensitive,
	}
	j.Tide = tideOf(s.Tide)
	for _, g := range s.Loggers {
		j.Loggers = append(j.Loggers, siteLoggerJSON{g.File, g.Source, g.Clock, g.ZeroM})
	}
	for _, p := range s.Permits {
		until := assay.None[string]()
		if p.Until != "" {
			until = assay.Some(p.Until)
		}
		j.Permits = append(j.Permits, permitJSON{p.Number, until})
	}
	return j
}

func siteListOf(sites []assay.Site) any {
	list := []siteJSON{}
	for _, s := range sites {
		list = append(list, siteOf(s))
	}
	return struct {
		Contract int        `json:"contract"`
		Sites    []siteJSON `json:"sites"`
	}{1, list}
}

func (a *app) siteShowCmd() *cobra.Command {
	var asJSON bool
	var on string
	c := a.commandAs("site.show", "show FILE.logbook NAME", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		sites, err := a.sitesOf(c, args[0])
		if err != nil {
			return err
		}
		s, err := task.FindSite(sites, args[1])
		if err != nil {
			return err
		}
		day := time.Time{}
		if !asJSON {
			day = a.now()
		}
		if on != "" {
			if day, err = time.Parse(time.DateOnly, on); err != nil {
				return a.wanted(c, "--on", on, "cmd.wanted.date")
			}
		}
		gaps, _ := task.SiteGaps(&s, day, day, time.UTC)
		if asJSON {
			return a.json(struct {
				Contract int             `json:"contract"`
				Site     siteJSON        `json:"site"`
				Gaps     []words.Message `json:"gaps"`
			}{1, siteOf(s), notNil(gaps)})
		}
		a.printSite(&s, gaps)
		return nil
	})
	c.Flags().StringVar(&on, "on", "", a.say("cmd.site.flag-on"))
	a.jsonFlag(c, &asJSON)
	return c
}

// printSite tells what the book holds of a site, and what it lacks.
func (a *app) printSite(s *assay.Site, gaps []words.Message) {
	t := a.table(a.say("cmd.site.col-what"), a.say("cmd.site.col-says"))
	line := func(slug, text string) {
		if text != "" {
			t.row(a.say(slug), text)
		}
	}
	metres := func(m assay.Maybe[float64]) string {
		if !m.Known() {
			return ""
		}
		return number(m, "2") + " m"
	}
	line("cmd.site.col-name", s.Name)
	line("cmd.site.col-synonyms", strings.Join(s.Synonyms, ", "))
	if lat, lon, ok := s.Placed(); ok {
		line("site.position", coordinate(lat)+", "+coordinate(lon))
	}
	line("cmd.site.col-zone", s.Zone)
	line("site.bed-shallow", metres(s.ShallowBedM))
	line("site.bed-deep", metres(s.DeepBedM))
	line("site.datum", s.Datum)
	line("site.tide", s.Tide.File)
	line("site.lag-clock", s.Tide.LagClock)
	line("site.tide-clock", s.Tide.Clock)
	line("site.air", s.Tide.Air)
	if x := s.Tide.DensityKgM3; x != 0 {
		line("site.density", words.Number(x, "")+" kg/m³")
	}
	line("site.differences", task.DifferencesTold(a.lang, s.Tide.Differences))
	for _, g := range s.Loggers {
		line("site.logger", g.File)
	}
	line("site.way-in", s.WayIn)
	line("site.access", metres(s.AccessM))
	if m, ok := s.WalkMin.Get(); ok {
		line("site.walk", words.Number(m, "0")+" min")
	}
	line("site.hazards", s.Hazards)
	line("site.shelter", s.Shelter)
	line("site.emergency", s.Emergency)
	for _, p := range s.Permits {
		line("site.permit", strings.TrimSpace(p.Number+" "+p.Until))
	}
	if yes, ok := s.Sensitive.Get(); ok {
		line("site.sensitive", a.say(map[bool]string{true: "site.yes", false: "site.no"}[yes]))
	}
	t.print()
	a.printGaps(s.Name, gaps)
}

// printGaps tells what the site book lacks or has run out, under the site's name
// where several are told.
func (a *app) printGaps(site string, gaps []words.Message) {
	if len(gaps) == 0 {
		return
	}
	a.print(a.out, "")
	a.print(a.out, a.say("site.gaps", "site", site))
	for _, m := range gaps {
		a.print(a.out, "  "+m.In(a.lang))
	}
}
