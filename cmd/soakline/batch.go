package main

import (
	"sort"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/gear"
	"soakline/internal/logbook"
	"soakline/internal/paper"
	"soakline/internal/task"
	"soakline/internal/words"
)

func (a *app) batchCmd() *cobra.Command {
	return a.groupCmd("batch", a.batchListCmd(), a.batchNewCmd(), a.batchShowCmd(), a.batchSampleCmd(), a.batchLabelCmd())
}

// withBatches gives a verb the batches of a logbook and its season.
func (a *app) withBatches(c *cobra.Command, path string, do func([]gear.Batch, *task.Season) error) error {
	return a.withBook(c, path, true, func(book *logbook.Book) error {
		s, err := task.Of(c.Context(), book, a.now())
		if err != nil {
			return err
		}
		return do(s.Batches, s)
	})
}

func (a *app) batchListCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("batch.list", "list FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		return a.withBatches(c, args[0], func(list []gear.Batch, s *task.Season) error {
			out := []task.BatchJSON{}
			for _, b := range list {
				out = append(out, task.BatchAsJSON(b, s))
			}
			if asJSON {
				return a.json(struct {
					Contract int              `json:"contract"`
					Batches  []task.BatchJSON `json:"batches"`
				}{1, out})
			}
			if len(out) == 0 {
				a.print(a.out, a.say("cmd.batch.none"))
				return nil
			}
			t := a.table(a.say("cmd.batch.col-code"), a.say("cmd.batch.col-kind"), a.say("cmd.batch.col-size"), a.say("cmd.batch.col-prepared"), a.say("cmd.batch.col-expires"), a.say("cmd.batch.col-rows"), a.say("cmd.batch.col-measured"))
			for _, b := range out {
				measured := "–"
				if b.Sizes != nil {
					measured = a.say("gear.outside", "n", b.Sizes.N, "outside", b.Sizes.Outside)
				}
				t.row(b.Code, b.Kind, strings.TrimSpace(b.Form+" "+number(b.SizeMM, "")), b.PreparedOn, b.ExpiresOn, b.Rows, measured)
			}
			t.print()
			return nil
		})
	})
	a.jsonFlag(c, &asJSON)
	return c
}

func (a *app) batchShowCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("batch.show", "show FILE.logbook CODE", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], true, func(book *logbook.Book) error {
			s, err := task.Of(c.Context(), book, a.now())
			if err != nil {
				return err
			}
			var b gear.Batch
			err = book.View(c.Context(), func(tx *logbook.Tx) (err error) {
				b, err = task.BatchOf(tx, args[1])
				return err
			})
			if err != nil {
				return err
			}
			out := task.BatchAsJSON(b, s)
			if asJSON {
				return a.json(struct {
					Contract int `json:"contract"`
					task.BatchJSON
				}{1, out})
			}
			a.printBatch(out)
			return nil
		})
	})
	a.jsonFlag(c, &asJSON)
	return c
}

func (a *app) printBatch(b task.BatchJSON) {
	t := a.table(a.say("cmd.batch.col-code"), b.Code)
	for _, x := range []struct{ slug, text string }{{"kind", b.Kind}, {"source", b.Source}, {"form", b.Form}, {"size_mm", number(b.SizeMM, "")}, {"thickness_mm", number(b.ThicknessMM, "")},
		{"prepared_on", b.PreparedOn}, {"prepared_by", b.PreparedBy}, {"stored", b.Stored}, {"expires_on", b.ExpiresOn}, {"notes", b.Notes}} {
		if x.text != "" && x.text != "–" {
			t.row(a.say("gear.batch."+x.slug), x.text)
		}
	}
	t.row(a.say("cmd.batch.col-rows"), b.Rows)
	t.print()
	for _, x := range []struct {
		slug string
		s    *task.SummaryJSON
	}{{"gear.sizes", b.Sizes}, {"gear.lines", b.Lines}} {
		if x.s != nil {
			a.print(a.out, a.say(x.slug, "n", x.s.N, "mean", x.s.MeanMM, "sd", x.s.SDMM, "min", x.s.MinMM, "max", x.s.MaxMM, "outside", x.s.Outside))
		}
	}
	if b.Sizes == nil {
		a.print(a.out, a.say("prep.sample"))
	}
}

func (a *app) batchNewCmd() *cobra.Command {
	var change bool
	given := map[string]*string{}
	c := a.commandAs("batch.new", "new FILE.logbook CODE", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		fields := map[string]string{}
		for name, text := range given {
			if c.Flags().Changed(flagOf(name)) {
				fields[name] = *text
			}
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			if err := task.SaveBatch(c.Context(), book, args[1], fields, change, a.by("")); err != nil {
				return err
			}
			a.print(a.out, a.say("cmd.batch.done", "batch", args[1]))
			return nil
		})
	})
	names := append([]string(nil), task.BatchFields...)
	sort.Strings(names)
	for _, name := range names {
		given[name] = c.Flags().String(flagOf(name), "", a.say("gear.batch."+name))
	}
	c.Flags().BoolVar(&change, "change", false, a.say("cmd.batch.flag-change"))
	return c
}

// flagOf is the flag of a field: prepared_on is --prepared, size_mm is --size.
func flagOf(field string) string {
	switch field {
	case "prepared_by":
		return "by"
	}
	return strings.TrimSuffix(strings.TrimSuffix(field, "_mm"), "_on")
}

func (a *app) batchSampleCmd() *cobra.Command {
	var sizes, lines, on string
	c := a.commandAs("batch.check", "check FILE.logbook CODE", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			b, err := task.CheckBatch(c.Context(), book, args[1], on, sizes, lines, a.by(""))
			if err != nil {
				return err
			}
			s, err := task.Of(c.Context(), book, a.now())
			if err == nil {
				a.printBatch(task.BatchAsJSON(b, s))
			}
			return err
		})
	})
	f := c.Flags()
	f.StringVar(&sizes, "sizes", "", a.say("cmd.batch.flag-sizes"))
	f.StringVar(&lines, "lines", "", a.say("cmd.batch.flag-lines"))
	f.StringVar(&on, "on", "", a.say("cmd.batch.flag-on"))
	return c
}

func (a *app) batchLabelCmd() *cobra.Command {
	var o paper.LabelOptions
	var grid, out string
	var copies int
	c := a.commandAs("batch.label", "label FILE.logbook [CODE…]", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		o.Lang, o.Title = a.lang, a.say("paper.title.labels")
		for _, g := range paper.Grids() {
			if g.Name == grid {
				o.Grid = g
			}
		}
		if copies < 1 || copies > 500 {
			return a.usage(c, "cmd.batch.copies", "n", copies)
		}
		return a.withBatches(c, args[0], func(list []gear.Batch, s *task.Season) error {
			var chosen []gear.Batch
			for _, code := range args[1:] {
				n := len(chosen)
				for _, b := range list {
					if b.Code == code {
						chosen = append(chosen, b)
					}
				}
				if len(chosen) == n {
					return &task.Refused{Slug: "task.no-batch", With: words.P{"code": code}}
				}
			}
			if len(args) == 1 {
				chosen = list
			}
			if len(chosen) == 0 {
				a.print(a.out, a.say("cmd.batch.none"))
				return nil
			}
			o.Labels = task.BatchLabels(chosen, copies, a.lang)
			b, err := task.Labels(o)
			return a.writePaper(out, b, err, "cmd.cards.labels.done", "n", len(o.Labels))
		})
	})
	var grids []string
	for _, g := range paper.Grids() {
		grids = append(grids, g.Name)
	}
	a.choice(c, &grid, "grid", grids, "cmd.cards.labels.flag-grid")
	c.Flags().IntVar(&copies, "copies", 1, a.say("cmd.batch.flag-copies"))
	c.Flags().StringVar(&out, "out", "batches.pdf", a.say("cmd.sheets.flag-out"))
	return c
}
