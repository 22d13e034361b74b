package main

import (
	"os"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/logbook"
	"soakline/internal/prep"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// prepAsk is what the verb was asked for.
type prepAsk struct {
	prep.Ask
	form, protocol string
	before         task.Before
	day            teamDay // whose packing list is wanted, too
	all            bool
	packed         *task.TeamDay
}

type prepJSON struct {
	Contract     int             `json:"contract"`
	Rows         int             `json:"rows"`
	BaitsPerRow  int             `json:"baits_per_row"`
	Helpers      int             `json:"helpers"`
	StakesBefore stakesJSON      `json:"stakes_before"`
	BaitsBefore  baitsJSON       `json:"baits_before"`
	List         prep.List       `json:"materials"`
	Production   prep.Production `json:"production"`
	Day          *dayJSON        `json:"day"` // null where none was asked for
}

type baitsJSON struct {
	Wanted   int `json:"wanted"`
	Set      int `json:"set"`
	Measured int `json:"measured"`
	Rejected int `json:"rejected"`
}

type dayJSON struct {
	Team    string        `json:"team"`
	Date    string        `json:"date"`
	Out     int           `json:"rows_to_set"`
	Read    int           `json:"rows_to_read"`
	In      int           `json:"rows_to_take_out"`
	People  int           `json:"people"`
	Packing []prep.Packed `json:"packing"`
}

type stakesJSON struct {
	Set  int `json:"set"`
	Back int `json:"back"`
}

func (a *app) prepCmd() *cobra.Command {
	var r reading
	var q prepAsk
	var asJSON, show, keep bool
	c := a.command("prep [SOURCE…]", a.argCount(0, -1), func(c *cobra.Command, args []string) error {
		if show {
			a.print(a.out, strings.TrimRight(prep.KitText(), "\n"))
			return nil
		}
		if keep {
			return a.keepKit(c, args, q.day.kit)
		}
		kit, err := a.prepKit(c, q.day.kit, args)
		if err != nil {
			return err
		}
		if err := a.prepCheck(c, &q, len(args) > 0); err != nil {
			return err
		}
		if err := a.prepSource(c, args, r, kit, &q); err != nil {
			return err
		}
		out, err := prepOf(kit, q)
		if err != nil {
			return err
		}
		if asJSON {
			return a.json(out)
		}
		if q.Rows > 0 {
			a.printPrep(out)
		}
		a.printPacking(out.Day)
		return nil
	})
	a.readingFlags(c, &r)
	f := c.Flags()
	f.IntVar(&q.Rows, "rows", 0, a.say("cmd.prep.flag-rows"))
	f.IntVar(&q.Helpers, "helpers", 1, a.say("cmd.prep.flag-helpers"))
	f.StringVar(&q.protocol, "protocol", sheet.DefaultProtocol, a.say("cmd.sheets.flag-protocol"))
	a.dayFlags(c, &q.day)
	f.BoolVar(&q.all, "all", false, a.say("cmd.prep.flag-all"))
	f.BoolVar(&show, "show-kit", false, a.say("cmd.prep.flag-show-kit"))
	f.BoolVar(&keep, "keep-kit", false, a.say("cmd.prep.flag-keep-kit"))
	f.StringVar(&q.form, "form", "", a.say("cmd.prep.flag-form"))
	f.Float64Var(&q.SizeMM, "bait", 0, a.say("cmd.prep.flag-bait"))
	f.IntVar(&q.SheetsEach, "sheets-each", 1, a.say("cmd.prep.flag-sheets-each"))
	a.jsonFlag(c, &asJSON)
	return c
}

// prepOf reckons everything that was asked for.
func prepOf(kit prep.Kit, q prepAsk) (prepJSON, error) {
	out := prepJSON{Contract: 1, Rows: q.Rows, BaitsPerRow: q.Protocol.Baits, Helpers: q.Helpers,
		StakesBefore: stakesJSON{q.before.StakesSet, q.before.StakesBack}, BaitsBefore: baitsJSON{q.before.BaitsWanted, q.before.BaitsSet, q.before.BaitsMeasured, q.before.BaitsRejected}}
	if t := q.packed; t != nil {
		out.Day = &dayJSON{q.day.team, q.day.day, t.Count.RowsOut, t.Count.RowsRead, t.Count.RowsIn, t.Count.People, t.Packing}
		if q.Rows == 0 { // a day of reading: nothing to cut
			out.List.Lines, out.Production.Posts = []prep.Line{}, []prep.Post{}
			return out, nil
		}
	}
	var err error
	out.List, out.Production, err = task.Prepare(kit, q.Ask)
	return out, err
}

// printPacking prints what to take along on the day.
func (a *app) printPacking(d *dayJSON) {
	if d == nil {
		return
	}
	a.print(a.out, "")
	a.print(a.out, a.say("cmd.prep.day", "day", d.Date, "out", d.Out, "read", d.Read, "in", d.In, "people", d.People))
	t := a.table(a.say("paper.book.col-item"), a.say("paper.book.col-count"), a.say("paper.book.col-back"))
	for _, x := range d.Packing {
		n, back := "–", "–"
		if x.N > 0 {
			n = words.Number(float64(x.N), "")
		}
		if x.Back >= 0 {
			back = words.Number(float64(x.Back), "")
		}
		t.row(task.TakeWords(a.lang, x.Name), n, back)
	}
	t.print()
}

// prepKit reads a kit's file, or takes the one that the source keeps when it is a
// logbook, or the usual one.
func (a *app) prepKit(c *cobra.Command, file string, sources []string) (kit prep.Kit, err error) {
	if file != "" {
		b, err := os.ReadFile(file)
		if err != nil {
			return kit, err
		}
		return task.ReadKit(string(b))
	}
	if len(sources) == 1 {
		if is, err := task.IsLogbook(sources[0]); err == nil && is {
			err := a.withBook(c, sources[0], true, func(book *logbook.Book) error {
				kit, err = task.KitOf(c.Context(), book)
				return err
			})
			return kit, err
		}
	}
	return task.ReadKit("")
}

// keepKit puts a kit's file into a logbook.
func (a *app) keepKit(c *cobra.Command, args []string, file string) error {
	if len(args) != 1 || file == "" {
		return a.usage(c, "cmd.prep.keep-kit-needs")
	}
	b, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	return a.withBook(c, args[0], false, func(book *logbook.Book) error {
		if err := task.KeepKit(c.Context(), book, string(b), a.by(a.say("cmd.prep.keep-kit-why"))); err != nil {
			return err
		}
		a.print(a.out, a.say("cmd.prep.kit-kept"))
		return nil
	})
}

func (a *app) prepCheck(c *cobra.Command, q *prepAsk, source bool) error {
	switch form := prep.Form(q.form); {
	case q.form != "" && form != prep.Disc && form != prep.Square:
		return a.usage(c, "cmd.prep.form", "given", q.form)
	case c.Flags().Changed("bait") && !(q.SizeMM >= 1 && q.SizeMM <= 200):
		return a.usage(c, "cmd.prep.bait-size", "given", words.Number(q.SizeMM, ""))
	case q.day.day != "" && !source:
		return a.usage(c, "cmd.prep.day-source")
	case !c.Flags().Changed("rows") && q.day.day == "":
		return a.usage(c, "cmd.prep.need-rows")
	case q.SheetsEach < 0 || q.SheetsEach > 100:
		return a.usage(c, "cmd.prep.sheets-each", "given", q.SheetsEach)
	default:
		q.Form = form
	}
	return nil
}

// prepSource takes from a source its protocol and what was lost before.
func (a *app) prepSource(c *cobra.Command, args []string, r reading, kit prep.Kit, q *prepAsk) error {
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
	q.before = task.BeforeOf(s)
	q.Past = q.before.Past()
	if q.day.day != "" {
		if q.packed, err = a.dayOf(c, s, nil, &q.day, kit, q.all); err != nil {
			return err
		}
		if !c.Flags().Changed("rows") {
			q.Rows = q.packed.Count.RowsOut
		}
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
	if b := p.BaitsBefore; b.Wanted > b.Set {
		a.print(a.out, a.say("cmd.prep.short-before", "of", b.Wanted, "short", b.Wanted-b.Set))
	}
	if b := p.BaitsBefore; b.Rejected > 0 {
		a.print(a.out, a.say("cmd.prep.rejected-before", "of", b.Measured, "out", b.Rejected))
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
