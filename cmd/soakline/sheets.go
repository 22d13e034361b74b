package main

import (
	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/paper"
	"soakline/internal/prep"
	"soakline/internal/report"
	"soakline/internal/sheet"
	"soakline/internal/task"
)

// mostSheets bounds --rows: more is a slip of the hand.
const mostSheets = 500

func (a *app) sheetsCmd() *cobra.Command {
	var r reading
	var rows, first, perPage int
	var ids, protocol, size, level, out string
	var all, booklet bool
	var day teamDay
	c := a.command("sheets [SOURCE…]", a.argCount(0, -1), func(c *cobra.Command, args []string) error {
		o := paper.SheetOptions{Lang: a.lang, Size: paperSize(size), Level: paper.Level(level), PerPage: perPage, Title: a.say("paper.title.sheets")}
		switch {
		case (rows > 0 || c.Flags().Changed("rows")) == (len(args) > 0):
			return a.usage(c, "cmd.sheets.source-or-rows")
		case perPage < 1 || perPage > paper.MaxPerPage || perPage > 1 && o.Level == paper.Stakes:
			return a.usage(c, "cmd.sheets.per-page-range", "n", perPage, "level", level, "most", paper.MaxPerPage)
		case first < 1:
			return a.usage(c, "cmd.sheets.first-range", "n", first)
		}
		if booklet != (day.day != "") || booklet && len(args) == 0 {
			return a.usage(c, "cmd.sheets.booklet-needs")
		}
		if booklet {
			return a.booklet(c, args, r, &day, protocol, all, o, out)
		}
		var err error
		if len(args) > 0 {
			err = a.sheetsOf(c, args, r, protocol, all, &o)
		} else if rows < 1 || rows > mostSheets {
			return a.usage(c, "cmd.sheets.rows-range", "n", rows, "most", mostSheets)
		} else if o.Protocol, err = a.protocolFlag(c, nil, protocol); err == nil {
			o.Rows = task.BlankRows(rows, first, ids, o.Protocol)
		}
		if err != nil {
			return err
		}
		b, err := task.Sheets(o)
		if err != nil {
			return err
		}
		if err := report.WriteBeside(out, b); err != nil {
			return err
		}
		a.print(a.out, a.say("cmd.sheets.done", "file", out, "n", len(o.Rows)))
		return nil
	})
	a.readingFlags(c, &r)
	f := c.Flags()
	f.IntVar(&rows, "rows", 0, a.say("cmd.sheets.flag-rows"))
	f.StringVar(&ids, "ids", "R", a.say("cmd.sheets.flag-ids"))
	f.IntVar(&first, "first", 1, a.say("cmd.sheets.flag-first"))
	f.StringVar(&protocol, "protocol", sheet.DefaultProtocol, a.say("cmd.sheets.flag-protocol"))
	a.choice(c, &size, "size", []string{paper.A4.Name, paper.Letter.Name}, "cmd.sheets.flag-size")
	a.choice(c, &level, "level", []string{string(paper.Counts), string(paper.Stakes)}, "cmd.sheets.flag-level")
	f.IntVar(&perPage, "per-page", 1, a.say("cmd.sheets.flag-per-page"))
	f.BoolVar(&booklet, "booklet", false, a.say("cmd.sheets.flag-booklet"))
	a.dayFlags(c, &day)
	f.BoolVar(&all, "all", false, a.say("cmd.sheets.flag-all"))
	f.StringVar(&out, "out", "sheets.pdf", a.say("cmd.sheets.flag-out"))
	return c
}

// teamDay are the flags that name a team's day.
type teamDay struct {
	team, day, kit string
	people         int
}

func (a *app) dayFlags(c *cobra.Command, d *teamDay) {
	f := c.Flags()
	f.StringVar(&d.team, "team", "", a.say("cmd.sheets.flag-team"))
	f.StringVar(&d.day, "day", "", a.say("cmd.sheets.flag-day"))
	f.IntVar(&d.people, "people", 2, a.say("cmd.sheets.flag-people"))
	if f.Lookup("kit") == nil {
		f.StringVar(&d.kit, "kit", "", a.say("cmd.prep.flag-kit"))
	}
}

// sheetSites takes from the source's site book what sheets tell of it.
func (a *app) sheetSites(c *cobra.Command, s *task.Season, sources []string) (*task.SheetSites, error) {
	k, err := task.SheetSitesOf(c.Context(), a.lang, s, sources)
	if err != nil {
		return nil, err
	}
	for _, n := range k.Notices {
		a.print(a.err, n)
	}
	return k, nil
}

// dayOf finds a team's day in a source, packed.
func (a *app) dayOf(c *cobra.Command, s *task.Season, k *task.SheetSites, d *teamDay, kit prep.Kit, all bool) (*task.TeamDay, error) {
	if d.people < 1 || d.people > prep.MaxHelpers {
		return nil, a.usage(c, "cmd.sheets.people-range", "n", d.people, "most", prep.MaxHelpers)
	}
	t, err := task.DayOf(s, k, a.lang, d.team, d.day, all)
	if err != nil {
		return nil, err
	}
	t.Pack(kit, d.people)
	return t, nil
}

// booklet writes a team's day.
func (a *app) booklet(c *cobra.Command, args []string, r reading, d *teamDay, protocol string, all bool, o paper.SheetOptions, out string) error {
	s, err := a.load(c, args, r)
	if err != nil {
		return err
	}
	if !c.Flags().Changed("protocol") && s.Settings.Protocol != "" {
		protocol = s.Settings.Protocol
	}
	if o.Protocol, err = a.protocolFlag(c, s.Protocols, protocol); err != nil {
		return err
	}
	kit, err := a.prepKit(c, d.kit, args)
	if err != nil {
		return err
	}
	k, err := a.sheetSites(c, s, args)
	if err != nil {
		return err
	}
	t, err := a.dayOf(c, s, k, d, kit, all)
	if err != nil {
		return err
	}
	o.Invented = s.Settings.Invented
	team := d.team
	if team == "" {
		team = s.Settings.Team
	}
	o.Title = a.say("paper.book.title", "team", team, "day", d.day)
	b, err := task.Booklet(paper.BookletOptions{SheetOptions: o, Team: team, Day: d.day}, t)
	return a.writePaper(out, b, err, "cmd.sheets.booklet-done", "n", len(t.Visits))
}

// sheetsOf takes the rows of a source.
func (a *app) sheetsOf(c *cobra.Command, args []string, r reading, protocol string, all bool, o *paper.SheetOptions) error {
	s, err := a.load(c, args, r)
	if err != nil {
		return err
	}
	if !c.Flags().Changed("protocol") && s.Settings.Protocol != "" {
		protocol = s.Settings.Protocol
	}
	if o.Protocol, err = a.protocolFlag(c, s.Protocols, protocol); err != nil {
		return err
	}
	o.Invented = s.Settings.Invented
	k, err := a.sheetSites(c, s, args)
	if err != nil {
		return err
	}
	if o.Rows = task.SheetRows(s, k, all); len(o.Rows) == 0 {
		return a.usage(c, "cmd.sheets.none-open", "n", len(s.Deployments))
	}
	return nil
}

// protocolFlag finds a protocol by name, among the program's own where known is nil.
func (a *app) protocolFlag(c *cobra.Command, known map[string]assay.Protocol, name string) (assay.Protocol, error) {
	if known == nil {
		known, _ = sheet.Protocols()
	}
	p, ok := known[name]
	if !ok {
		return p, a.usage(c, "cmd.protocol.unknown", "protocol", name)
	}
	return p, nil
}

func paperSize(name string) paper.Size {
	for _, s := range paper.Sizes {
		if s.Name == name {
			return s
		}
	}
	return paper.A4
}
