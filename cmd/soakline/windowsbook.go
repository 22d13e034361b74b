package main

import (
	"path/filepath"
	"strings"
	"time"
	"unicode"

	"github.com/spf13/cobra"

	"soakline/internal/figure"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/visits"
	"soakline/internal/words"
)

// windowsDepths settles the depths to work in: the two flags, or a way of working
// of a protocol that the program brings.
func (a *app) windowsDepths(c *cobra.Command, p *windowsFlags) error {
	if p.way == "" {
		return a.needsFlags(c, "from", "to", "work-min", "work-max")
	}
	if err := a.needsFlags(c, "from", "to"); err != nil {
		return err
	}
	if p.workMin != "" || p.workMax != "" {
		return a.usage(c, "cmd.windows.one-depth")
	}
	all, _ := sheet.Protocols()
	name := p.protocol
	if name == "" {
		name = sheet.DefaultProtocol
	}
	protocol, ok := all[name]
	if !ok {
		return a.usage(c, "cmd.protocol.unknown", "protocol", name)
	}
	w, ok := protocol.Way(p.way)
	if !ok {
		return &task.Refused{Slug: "task.way-unknown", With: with("way", p.way, "protocol", name, "known", task.WayNames(&protocol))}
	}
	p.workMin, p.workMax = sheet.FormatNumber(w.DepthMinM), sheet.FormatNumber(w.DepthMaxM)
	return nil
}

// ofSite are the flags that the site book answers.
var ofSite = []string{"latitude", "longitude", "constituents", "table", "series", "lag-clock", "datum", "clock", "air", "density", "nodal", "zone", "bed",
	"sounding", "sounding-clock", "sounding-depth", "access", "walk", "name", "high-later", "low-later", "high-add", "low-add", "high-times", "low-times"}

// windowsBook answers the verb for sites of a logbook's site book.
func (a *app) windowsBook(c *cobra.Command, path string, p *windowsFlags) error {
	for _, name := range ofSite {
		if c.Flags().Changed(name) {
			return a.usage(c, "cmd.windows.of-site", "flag", "--"+name)
		}
	}
	k, err := a.planAsk(c, p)
	if err != nil {
		return err
	}
	var list []task.Planned
	err = a.withBook(c, path, true, func(book *logbook.Book) error {
		list, err = task.PlanSites(c.Context(), book, k)
		return err
	})
	if err != nil {
		return err
	}
	for i := range list {
		if list[i].Datum == "" {
			list[i].Datum = a.unstated("site.datum-unstated", p.json)
		}
	}
	if err := a.windowsFiles(c, p, list); err != nil {
		return err
	}
	missed := false
	for i := range list {
		missed = missed || list[i].Plan == nil
	}
	if p.json {
		err = a.json(sitesPlanned(list))
	} else {
		a.printSites(p, list)
	}
	if err == nil && missed {
		err = exit{exitUnmet}
	}
	return err
}

// planAsk reads what is asked of the sites.
func (a *app) planAsk(c *cobra.Command, p *windowsFlags) (k task.PlanAsk, err error) {
	if p.way == "" {
		err = a.needsFlags(c, "from", "to", "work-min", "work-max")
	} else if err = a.needsFlags(c, "from", "to"); err == nil && (p.workMin != "" || p.workMax != "") {
		err = a.usage(c, "cmd.windows.one-depth")
	}
	if err != nil {
		return k, err
	}
	k = task.PlanAsk{Sites: p.sites, From: p.from, To: p.to, Way: p.way, Protocol: p.protocol}
	wayIn := p.wayIn
	p.wayIn = false // asked where a site has a way
	if err := a.windowsDemands(c, p, &k.Demand); err != nil {
		return k, err
	}
	k.Demand.WayIn = wayIn
	k.WorkMinM, k.WorkMaxM = k.Demand.WorkMinM, k.Demand.WorkMaxM
	if !c.Flags().Changed("checks") {
		k.Demand.Checks = nil
	}
	if !c.Flags().Changed("soak") {
		k.Demand.Soak = 0
	}
	return k, nil
}

type sitePlanJSON struct {
	Site    string          `json:"site"`
	Planned bool            `json:"planned"`
	Gaps    []words.Message `json:"gaps"`
	*windowsJSON
}

// sitesPlanned is the answer for another program; of a site that cannot be planned
// there is only what is missing.
func sitesPlanned(list []task.Planned) any {
	way := list[0].Way
	j := struct {
		Contract int            `json:"contract"`
		Way      any            `json:"way"`
		Sites    []sitePlanJSON `json:"sites"`
	}{Contract: 1, Way: struct {
		Name string  `json:"name"`
		MinM float64 `json:"depth_min_m"`
		MaxM float64 `json:"depth_max_m"`
	}{way.Name, way.DepthMinM, way.DepthMaxM}, Sites: []sitePlanJSON{}}
	for i := range list {
		one := sitePlanJSON{Site: list[i].Site.Name, Planned: list[i].Plan != nil, Gaps: notNil(list[i].Gaps)}
		if one.Planned {
			w := windowsOf(&list[i])
			one.windowsJSON = &w
		}
		j.Sites = append(j.Sites, one)
	}
	return j
}

// printSites tells site by site; the caution stands once, at the end.
func (a *app) printSites(p *windowsFlags, list []task.Planned) {
	if w := list[0].Way; w.Name != "" {
		a.print(a.out, a.say("cmd.windows.way", "way", task.WayWord(a.lang, w.Name), "min", w.DepthMinM, "max", w.DepthMaxM))
	}
	for i := range list {
		one := &list[i]
		a.print(a.out, "")
		a.print(a.out, one.Site.Name)
		if one.Plan == nil {
			a.print(a.out, a.say("site.cannot"))
		} else {
			a.printWindows(one, p.byDay)
			for _, m := range one.Messages {
				a.print(a.out, m.In(a.lang))
			}
		}
		for _, text := range task.MindOf(a.lang, &one.Site) {
			a.print(a.out, text)
		}
		a.printGaps(one.Site.Name, one.Gaps)
	}
	a.print(a.out, "")
	a.print(a.out, a.say("windows.caution"))
	a.printWritten(p)
}

// windowsFiles writes the calendar and the drawings that were asked for.
func (a *app) windowsFiles(c *cobra.Command, p *windowsFlags, list []task.Planned) error {
	var named []visits.Named
	for _, one := range list {
		if one.Plan != nil {
			named = append(named, visits.Named{Place: one.Site.Name, Plan: one.Plan, Mind: task.MindOf(a.lang, &one.Site)})
		}
	}
	if p.ics != "" {
		if err := writeWhole(p.ics, visits.Calendar(named, a.lang, a.now())); err != nil {
			return err
		}
	}
	for i := range list {
		one := &list[i]
		if one.Plan == nil {
			continue
		}
		file := func(name string) string {
			if len(list) == 1 {
				return name
			}
			ext := filepath.Ext(name)
			return strings.TrimSuffix(name, ext) + "-" + plainName(one.Site.Name) + ext
		}
		for _, name := range []string{p.svg, p.picture} {
			if name == "" {
				continue
			}
			if err := a.drawDay(c, p, one, file(name)); err != nil {
				return err
			}
		}
		if p.calendar == "" {
			continue
		}
		pic, err := task.CalendarPicture(a.lang, one.Plan, one.Site.Name, a.say("windows.caution"))
		if err != nil {
			return err
		}
		pic.Heading = pic.Title
		d, err := figure.DrawCalendar(pic, figure.Frame{ID: "calendar", WidthMM: figure.ScreenMM(1040), Look: figure.Screen})
		if err != nil {
			return err
		}
		if err := a.writeDrawing(c, file(p.calendar), "--calendar", d); err != nil {
			return err
		}
	}
	return nil
}

// plainName is a site's name as part of a file's: letters and digits, the rest a dash.
func plainName(name string) string {
	return strings.Trim(strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), "-"), "-")
}

// drawDay draws the day of the first window, or the one named.
func (a *app) drawDay(c *cobra.Command, p *windowsFlags, one *task.Planned, name string) error {
	z := one.Plan.Ask.Zone
	day := one.Plan.Ask.From.In(z)
	if len(one.Plan.Windows) > 0 {
		day = one.Plan.Windows[0].From.In(z)
	}
	if p.day != "" {
		d, err := time.ParseInLocation(time.DateOnly, p.day, z)
		if err != nil {
			return a.wanted(c, "--day", p.day, "cmd.wanted.date")
		}
		day = d
	}
	place := one.Site.Name
	if one.Site.Key == "" && p.name == "" {
		place = "" // a position alone says nothing that the date does not
	}
	y, err := task.DayPicture(a.lang, one.Plan, place, one.Datum, day, a.say("windows.caution"))
	if err != nil {
		return err
	}
	y.Heading = y.Title
	d, err := figure.DrawDay(y, figure.Frame{ID: "day-" + day.Format(time.DateOnly), WidthMM: figure.ScreenMM(1040), Look: figure.Screen})
	if err != nil {
		return err
	}
	return a.writeDrawing(c, name, "--picture", d)
}

// drawingPerMM is how many pixels of a PNG stand for a millimetre: 150 to the inch.
const drawingPerMM = 150 / 25.4

// writeDrawing writes a drawing as its file's name says.
func (a *app) writeDrawing(c *cobra.Command, name, flag string, d *figure.Drawing) error {
	var b []byte
	var err error
	switch strings.ToLower(filepath.Ext(name)) {
	case ".png":
		b, err = d.PNG(drawingPerMM)
	case ".pdf":
		b, err = d.PDF(a.now().UTC(), string(a.lang))
	case ".svg", "":
		b = d.SVG()
	default:
		if flag == "--picture" && c.Flags().Changed("svg") && !c.Flags().Changed("picture") {
			b = d.SVG() // --svg has always written SVG, whatever the name
			break
		}
		return a.wanted(c, flag, name, "cmd.windows.wanted-drawing")
	}
	if err != nil {
		return err
	}
	return writeWhole(name, b)
}
