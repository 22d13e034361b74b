package main

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/logbook"
	"soakline/internal/task"
)

// packDay names the packing list that a verb is about.
type packDay struct {
	team, day    string
	rows, people int
}

func (a *app) packingCmd() *cobra.Command {
	return a.groupCmd("packing", a.packingShowCmd(), a.packingTickCmd(), a.packingBackCmd(), a.packingAddCmd())
}

func (a *app) packFlags(c *cobra.Command, d *packDay) *cobra.Command {
	f := c.Flags()
	f.StringVar(&d.day, "day", "", a.say("cmd.packing.flag-day"))
	f.StringVar(&d.team, "team", "", a.say("cmd.packing.flag-team"))
	f.IntVar(&d.rows, "rows", 0, a.say("cmd.packing.flag-rows"))
	f.IntVar(&d.people, "people", 0, a.say("cmd.packing.flag-people"))
	return c
}

// withPacking finds a list and hands it on.
func (a *app) withPacking(c *cobra.Command, path string, readOnly bool, d packDay, do func(*logbook.Book, *task.PackList) error) error {
	return a.withBook(c, path, readOnly, func(book *logbook.Book) error {
		s, err := task.Of(c.Context(), book, a.now())
		if err != nil {
			return err
		}
		p, err := task.Packing(c.Context(), book, s, d.team, d.day, d.rows, d.people)
		if err != nil {
			return err
		}
		return do(book, &p)
	})
}

type packLineJSON struct {
	Item  string `json:"item"`
	Own   bool   `json:"own"`
	N     int    `json:"take"`
	Taken bool   `json:"ticked"`
	Due   *int   `json:"due_back"`
	Back  *int   `json:"back"`
}

type packJSON struct {
	Contract int            `json:"contract"`
	Team     string         `json:"team"`
	Date     string         `json:"date"`
	Out      int            `json:"rows_to_set"`
	Read     int            `json:"rows_to_read"`
	In       int            `json:"rows_to_take_out"`
	People   int            `json:"people"`
	Lines    []packLineJSON `json:"lines"`
}

func packAsJSON(p *task.PackList) packJSON {
	out := packJSON{1, p.Team, p.Day, p.Work.RowsOut, p.Work.RowsRead, p.Work.RowsIn, p.People, []packLineJSON{}}
	for _, x := range p.Lines {
		l := packLineJSON{Item: x.Item, Own: x.Own, N: x.N, Taken: x.Taken}
		if x.Count {
			due := x.Due
			l.Due = &due
			if back := x.Back; back >= 0 {
				l.Back = &back
			}
		}
		out.Lines = append(out.Lines, l)
	}
	return out
}

func (a *app) packingShowCmd() *cobra.Command {
	var d packDay
	var asJSON bool
	c := a.commandAs("packing.show", "show FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		return a.withPacking(c, args[0], true, d, func(_ *logbook.Book, p *task.PackList) error {
			if asJSON {
				return a.json(packAsJSON(p))
			}
			a.printPackList(p)
			return nil
		})
	})
	a.jsonFlag(c, &asJSON)
	return a.packFlags(c, &d)
}

// packName is what a line is called in the reader's language.
func (a *app) packName(x task.PackLine) string {
	if x.Own {
		return x.Item
	}
	return task.TakeWords(a.lang, x.Item)
}

func (a *app) printPackList(p *task.PackList) {
	a.print(a.out, a.say("cmd.prep.day", "day", p.Day, "out", p.Work.RowsOut, "read", p.Work.RowsRead, "in", p.Work.RowsIn, "people", p.People))
	t := a.table(a.say("cmd.packing.col-name"), a.say("paper.book.col-item"), a.say("paper.book.col-count"), a.say("cmd.packing.col-ticked"), a.say("paper.book.col-back"))
	var short []string
	for _, x := range p.Lines {
		n, ticked, back := "–", "–", "–"
		if x.N > 0 {
			n = strconv.Itoa(x.N)
		}
		if x.Taken {
			ticked = "✓"
		}
		if x.Count {
			back = a.say("paper.book.of", "n", x.Due)
			if x.Back >= 0 {
				back = strconv.Itoa(x.Back) + " " + back
			}
		}
		if s := x.Short(); s > 0 {
			short = append(short, a.say("web.pack.short-one", "n", s, "item", a.packName(x)))
		}
		name := x.Item
		if x.Own {
			name = ""
		}
		t.row(name, a.packName(x), n, ticked, back)
	}
	t.print()
	if len(short) > 0 {
		a.print(a.out, a.say("web.pack.short", "list", short))
	}
	a.print(a.out, a.say("prep.run-out"))
}

// lineOf finds a line of a list by its short name or by what it is called.
func (a *app) lineOf(p *task.PackList, name string) (*task.PackLine, error) {
	for i := range p.Lines {
		if x := &p.Lines[i]; strings.EqualFold(x.Item, name) || strings.EqualFold(a.packName(*x), name) {
			return x, nil
		}
	}
	var names []string
	for _, x := range p.Lines {
		names = append(names, x.Item)
	}
	return nil, &task.Refused{Slug: "cmd.packing.no-item", With: map[string]any{"item": name, "items": names}}
}

// keepPack keeps a list and tells it.
func (a *app) keepPack(c *cobra.Command, book *logbook.Book, p *task.PackList, own string) error {
	if err := task.KeepPacking(c.Context(), book, *p, own, a.by(a.say("web.why.pack"))); err != nil {
		return err
	}
	if own != "" {
		p.Lines = append(p.Lines, task.PackLine{Item: own, Own: true, N: 1, Due: 1, Count: true, Back: -1})
	}
	a.printPackList(p)
	return nil
}

func (a *app) packingTickCmd() *cobra.Command {
	var d packDay
	var all, off bool
	c := a.commandAs("packing.tick", "tick FILE.logbook [ITEM…]", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		if all == (len(args) > 1) {
			return a.usage(c, "cmd.packing.tick.which")
		}
		return a.withPacking(c, args[0], false, d, func(book *logbook.Book, p *task.PackList) error {
			for i := range p.Lines {
				if all {
					p.Lines[i].Taken = !off
				}
			}
			for _, name := range args[1:] {
				x, err := a.lineOf(p, name)
				if err != nil {
					return err
				}
				x.Taken = !off
			}
			return a.keepPack(c, book, p, "")
		})
	})
	c.Flags().BoolVar(&all, "all", false, a.say("cmd.packing.tick.flag-all"))
	c.Flags().BoolVar(&off, "off", false, a.say("cmd.packing.tick.flag-off"))
	return a.packFlags(c, &d)
}

func (a *app) packingBackCmd() *cobra.Command {
	var d packDay
	var rest bool
	c := a.commandAs("packing.back", "back FILE.logbook [ITEM=N…]", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		if !rest && len(args) == 1 {
			return a.usage(c, "cmd.packing.back.which")
		}
		return a.withPacking(c, args[0], false, d, func(book *logbook.Book, p *task.PackList) error {
			for _, text := range args[1:] {
				name, count, _ := strings.Cut(text, "=")
				x, err := a.lineOf(p, strings.TrimSpace(name))
				if err != nil {
					return err
				}
				if !x.Count {
					return &task.Refused{Slug: "cmd.packing.back.used-up", With: map[string]any{"item": a.packName(*x)}}
				}
				if x.Back, err = a.howMany(c, count); err != nil {
					return err
				}
			}
			for i := range p.Lines {
				if x := &p.Lines[i]; rest && x.Count && x.Back < 0 {
					x.Back = x.Due
				}
			}
			return a.keepPack(c, book, p, "")
		})
	})
	c.Flags().BoolVar(&rest, "rest", false, a.say("cmd.packing.back.flag-rest"))
	return a.packFlags(c, &d)
}

func (a *app) packingAddCmd() *cobra.Command {
	var d packDay
	c := a.commandAs("packing.add", "add FILE.logbook THING", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withPacking(c, args[0], false, d, func(book *logbook.Book, p *task.PackList) error {
			own := strings.Join(strings.Fields(args[1]), " ")
			if own == "" {
				return a.usage(c, "cmd.packing.add.what")
			}
			return a.keepPack(c, book, p, own)
		})
	})
	return a.packFlags(c, &d)
}
