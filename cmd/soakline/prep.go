package main

import (
	"os"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/prep"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// prepAsk is what the verb was asked for.
type prepAsk struct {
	prep.Ask
	form, kit, protocol string
	stakesSet, back     int // of the source's rows whose stakes were counted back
}

type prepJSON struct {
	Contract     int             `json:"contract"`
	Rows         int             `json:"rows"`
	BaitsPerRow  int             `json:"baits_per_row"`
	Helpers      int             `json:"helpers"`
	StakesBefore stakesJSON      `json:"stakes_before"`
	List         prep.List       `json:"materials"`
	Production   prep.Production `json:"production"`
}

type stakesJSON struct {
	Set  int `json:"set"`
	Back int `json:"back"`
}

func (a *app) prepCmd() *cobra.Command {
	var r reading
	var q prepAsk
	var asJSON, show bool
	c := a.command("prep [SOURCE…]", a.argCount(0, -1), func(c *cobra.Command, args []string) error {
		if show {
			a.print(a.out, strings.TrimRight(prep.KitText(), "\n"))
			return nil
		}
		kit, err := a.prepKit(q.kit)
		if err != nil {
			return err
		}
		if err := a.prepCheck(c, &q); err != nil {
			return err
		}
		if err := a.prepSource(c, args, r, &q); err != nil {
			return err
		}
		list, err := task.Materials(kit, q.Ask)
		if err != nil {
			return err
		}
		baits := 0.0
		for _, l := range list.Lines {
			if l.Item == "baits" {
				baits = l.Total
			}
		}
		out := prepJSON{1, q.Rows, q.Protocol.Baits, q.Helpers, stakesJSON{q.stakesSet, q.back}, list, prep.Produce(kit.Steps, baits, q.Helpers)}
		if asJSON {
			return a.json(out)
		}
		a.printPrep(out)
		return nil
	})
	a.readingFlags(c, &r)
	f := c.Flags()
	f.IntVar(&q.Rows, "rows", 0, a.say("cmd.prep.flag-rows"))
	f.IntVar(&q.Helpers, "helpers", 1, a.say("cmd.prep.flag-helpers"))
	f.StringVar(&q.protocol, "protocol", sheet.DefaultProtocol, a.say("cmd.sheets.flag-protocol"))
	f.StringVar(&q.kit, "kit", "", a.say("cmd.prep.flag-kit"))
	f.BoolVar(&show, "show-kit", false, a.say("cmd.prep.flag-show-kit"))
	f.StringVar(&q.form, "form", "", a.say("cmd.prep.flag-form"))
	f.Float64Var(&q.SizeMM, "bait", 0, a.say("cmd.prep.flag-bait"))
	f.IntVar(&q.SheetsEach, "sheets-each", 1, a.say("cmd.prep.flag-sheets-each"))
	a.jsonFlag(c, &asJSON)
	return c
}

// prepKit reads a kit's file, or takes the usual one.
func (a *app) prepKit(file string) (prep.Kit, error) {
	text := ""
	if file != "" {
		b, err := os.ReadFile(file)
		if err != nil {
			return prep.Kit{}, err
		}
		text = string(b)
	}
	return task.ReadKit(text)
}

func (a *app) prepCheck(c *cobra.Command, q *prepAsk) error {
	switch form := prep.Form(q.form); {
	case q.form != "" && form != prep.Disc && form != prep.Square:
		return a.usage(c, "cmd.prep.form", "given", q.form)
	case c.Flags().Changed("bait") && !(q.SizeMM >= 1 && q.SizeMM <= 200):
		return a.usage(c, "cmd.prep.bait-size", "given", words.Number(q.SizeMM, ""))
	case !c.Flags().Changed("rows"):
		return a.usage(c, "cmd.prep.need-rows")
	case q.SheetsEach < 0 || q.SheetsEach > 100:
		return a.usage(c, "cmd.prep.sheets-each", "given", q.SheetsEach)
	default:
		q.Form = form
	}
	return nil
}

// prepSource takes from a source its protocol and what was lost before.
func (a *app) prepSource(c *cobra.Command, args []string, r reading, q *prepAsk) error {
	if len(args) == 0 {
		var err error
		q.Protocol, err = a.protocolFlag(c, nil, q.protocol)
		return err
	}
	s, err := a.load(c, args, r)
	if err != nil {
		return err
	}
	name := q.protocol
	if !c.Flags().Changed("protocol") && s.Settings.Protocol != "" {
		name = s.Settings.Protocol
	}
	if q.stakesSet, q.back = task.StakesBefore(s); q.stakesSet > q.back {
		q.StakesLost = float64(q.stakesSet-q.back) / float64(q.stakesSet)
	}
	q.Protocol, err = a.protocolFlag(c, s.Protocols, name)
	return err
}

func (a *app) printPrep(p prepJSON) {
	l := p.List
	a.print(a.out, a.say("cmd.prep.title", "n", p.Rows, "baits", p.BaitsPerRow, "disc", words.Ref{Slug: "cmd.prep." + string(l.Form)}, "size", l.SizeMM, "yield", l.BaitsPerPiece))
	t := a.table(a.say("cmd.prep.col-item"), a.say("cmd.prep.col-need"), a.say("cmd.prep.col-spare"), a.say("cmd.prep.col-total"), a.say("cmd.prep.col-packs"), a.say("cmd.prep.col-cost"))
	amount := func(x float64, unit string) string { return strings.TrimSpace(words.Number(x, "") + " " + unit) }
	for _, x := range l.Lines {
		packs, cost := "–", "–"
		switch {
		case x.Item == "baits":
		case x.Pack > 1:
			packs = a.say("cmd.prep.packs", "n", x.Packs, "pack", amount(x.Pack, x.Unit))
		default:
			packs = words.Number(float64(x.Packs), "")
		}
		if x.Cost > 0 {
			cost = words.Number(x.Cost, "2")
		}
		t.row(a.say("prep.item."+x.Item), amount(x.Need, x.Unit), words.Number(x.Spare, "%"), amount(x.Total, x.Unit), packs, cost)
	}
	t.print()
	if l.Priced > 0 {
		a.print(a.out, a.say("cmd.prep.cost", "cost", l.Cost, "n", l.Priced))
	}
	if s := p.StakesBefore; s.Set > s.Back {
		a.print(a.out, a.say("cmd.prep.lost", "of", s.Set, "lost", s.Set-s.Back))
	}
	a.print(a.out, "")
	a.print(a.out, a.say("cmd.prep.line", "n", p.Helpers, "h", p.Production.Minutes/60, "even", p.Production.Together/60))
	posts := a.table(a.say("cmd.prep.col-post"), a.say("cmd.prep.col-helpers"), a.say("cmd.prep.col-minutes"))
	for _, x := range p.Production.Posts {
		var steps []string
		for _, s := range x.Steps {
			if words.Has("prep.step." + s) {
				s = a.say("prep.step." + s)
			}
			steps = append(steps, s)
		}
		posts.row(strings.Join(steps, "; "), x.Helpers, words.Number(x.Minutes, "0"))
	}
	posts.print()
	for _, slug := range []string{"prep.sample", "prep.run-out", "prep.caution", "cmd.prep.timings"} {
		a.print(a.out, a.say(slug))
	}
}
