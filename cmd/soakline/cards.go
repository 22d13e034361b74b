package main

import (
	"github.com/spf13/cobra"

	"soakline/internal/paper"
	"soakline/internal/report"
	"soakline/internal/sheet"
	"soakline/internal/task"
)

func (a *app) cardsCmd() *cobra.Command {
	return a.groupCmd("cards", a.guideCmd(), a.practiceCmd(), a.cardAnswersCmd(), a.cardReadersCmd(), a.labelsCmd())
}

func (a *app) guideCmd() *cobra.Command {
	var protocol, size, out string
	c := a.commandAs("cards.guide", "guide", a.argCount(0, 0), func(c *cobra.Command, args []string) error {
		p, err := a.protocolFlag(c, nil, protocol)
		if err != nil {
			return err
		}
		b, err := task.Guide(paper.GuideOptions{Lang: a.lang, Size: paperSize(size), Protocol: p, Title: a.say("paper.guide.title")})
		return a.writePaper(out, b, err, "cmd.cards.written")
	})
	f := c.Flags()
	f.StringVar(&protocol, "protocol", sheet.DefaultProtocol, a.say("cmd.sheets.flag-protocol"))
	a.choice(c, &size, "size", []string{paper.A4.Name, paper.Letter.Name}, "cmd.sheets.flag-size")
	f.StringVar(&out, "out", "guide.pdf", a.say("cmd.sheets.flag-out"))
	return c
}

func (a *app) practiceCmd() *cobra.Command {
	var protocol, size, out string
	var seed uint64
	c := a.commandAs("cards.practice", "practice", a.argCount(0, 0), func(c *cobra.Command, args []string) error {
		p, err := a.protocolFlag(c, nil, protocol)
		if err != nil {
			return err
		}
		b, err := task.Practice(paper.CardOptions{Lang: a.lang, Size: paperSize(size), Protocol: p, Seed: seed, Title: a.say("paper.card.title", "seed", int(seed))})
		return a.writePaper(out, b, err, "cmd.cards.written")
	})
	f := c.Flags()
	f.Uint64Var(&seed, "seed", 1, a.say("cmd.cards.practice.flag-seed"))
	f.StringVar(&protocol, "protocol", sheet.DefaultProtocol, a.say("cmd.sheets.flag-protocol"))
	a.choice(c, &size, "size", []string{paper.A4.Name, paper.Letter.Name}, "cmd.sheets.flag-size")
	f.StringVar(&out, "out", "practice.pdf", a.say("cmd.sheets.flag-out"))
	return c
}

// writePaper writes a file that was made, or passes on why it was not.
func (a *app) writePaper(out string, b []byte, err error, slug string, pairs ...any) error {
	if err != nil {
		return err
	}
	if err := report.WriteBeside(out, b); err != nil {
		return err
	}
	a.print(a.out, a.say(slug, append(pairs, "file", out)...))
	return nil
}

func (a *app) labelsCmd() *cobra.Command {
	var r reading
	var rows, first int
	var ids, protocol, what, grid, out string
	var all bool
	o := paper.LabelOptions{Lang: a.lang, Title: a.say("paper.title.labels")}
	c := a.commandAs("cards.labels", "labels [SOURCE…]", a.argCount(0, -1), func(c *cobra.Command, args []string) error {
		for _, g := range paper.Grids() {
			if g.Name == grid {
				o.Grid = g
			}
		}
		most := o.Grid.Across*o.Grid.Down - 1
		switch {
		case c.Flags().Changed("rows") == (len(args) > 0):
			return a.usage(c, "cmd.sheets.source-or-rows")
		case len(args) == 0 && (rows < 1 || rows > mostSheets):
			return a.usage(c, "cmd.sheets.rows-range", "n", rows, "most", mostSheets)
		case first < 1:
			return a.usage(c, "cmd.sheets.first-range", "n", first)
		case ids == "":
			return a.usage(c, "cmd.cards.labels.no-ids")
		case o.Skip < 0 || o.Skip > most:
			return a.usage(c, "cmd.cards.labels.skip-range", "n", o.Skip, "most", most)
		case !(o.ShiftX >= -5 && o.ShiftX <= 5 && o.ShiftY >= -5 && o.ShiftY <= 5):
			return a.usage(c, "cmd.cards.labels.shift-range")
		}
		var so paper.SheetOptions
		if len(args) > 0 {
			if err := a.sheetsOf(c, args, r, protocol, all, &so); err != nil {
				return err
			}
		} else {
			p, err := a.protocolFlag(c, nil, protocol)
			if err != nil {
				return err
			}
			so.Rows = task.BlankRows(rows, first, ids, p)
		}
		if o.Labels = paper.StakeLabels(so.Rows); what == "bags" {
			o.Labels = paper.BagLabels(so.Rows, a.lang)
		}
		b, err := task.Labels(o)
		return a.writePaper(out, b, err, "cmd.cards.labels.done", "n", len(o.Labels))
	})
	a.readingFlags(c, &r)
	var grids []string
	for _, g := range paper.Grids() {
		grids = append(grids, g.Name)
	}
	f := c.Flags()
	f.IntVar(&rows, "rows", 0, a.say("cmd.sheets.flag-rows"))
	f.StringVar(&ids, "ids", "R", a.say("cmd.sheets.flag-ids"))
	f.IntVar(&first, "first", 1, a.say("cmd.sheets.flag-first"))
	f.StringVar(&protocol, "protocol", sheet.DefaultProtocol, a.say("cmd.sheets.flag-protocol"))
	a.choice(c, &what, "what", []string{"stakes", "bags"}, "cmd.cards.labels.flag-what")
	a.choice(c, &grid, "grid", grids, "cmd.cards.labels.flag-grid")
	f.IntVar(&o.Skip, "skip", 0, a.say("cmd.cards.labels.flag-skip"))
	f.Float64Var(&o.ShiftX, "shift-x", 0, a.say("cmd.cards.labels.flag-shift-x"))
	f.Float64Var(&o.ShiftY, "shift-y", 0, a.say("cmd.cards.labels.flag-shift-y"))
	f.BoolVar(&all, "all", false, a.say("cmd.sheets.flag-all"))
	f.StringVar(&out, "out", "labels.pdf", a.say("cmd.sheets.flag-out"))
	return c
}
