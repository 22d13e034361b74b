package main

import (
	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/paper"
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
	var all bool
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
	f.BoolVar(&all, "all", false, a.say("cmd.sheets.flag-all"))
	f.StringVar(&out, "out", "sheets.pdf", a.say("cmd.sheets.flag-out"))
	return c
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
	if o.Rows = task.SheetRows(s, all); len(o.Rows) == 0 {
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
