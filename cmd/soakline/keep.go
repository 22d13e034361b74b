package main

import (
	"sort"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/logbook"
	"soakline/internal/sheet"
	"soakline/internal/task"
)

// by is who does what a verb does, now, and why.
func (a *app) by(why string) task.By { return task.By{Who: a.who, When: a.now().UTC(), Why: why} }

// withBook opens a logbook for one verb and closes it.
func (a *app) withBook(c *cobra.Command, path string, viewOnly bool, do func(*logbook.Book) error) error {
	book, err := task.Open(c.Context(), path, viewOnly)
	if err != nil {
		return err
	}
	defer book.Close()
	for _, n := range book.Notices() {
		a.print(a.err, a.lang.Say(n.Slug, n.Params))
	}
	return do(book)
}

func (a *app) newCmd() *cobra.Command {
	var s task.Settings
	c := a.command("new FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		book, err := task.New(c.Context(), args[0], s, "soakline "+Version, a.by(""))
		if err != nil {
			return err
		}
		defer book.Close()
		for _, n := range book.Notices() {
			a.print(a.err, a.lang.Say(n.Slug, n.Params))
		}
		a.print(a.out, a.say("cmd.new.done", "file", args[0]))
		return nil
	})
	f := c.Flags()
	f.StringVar(&s.Title, "title", "", a.say("cmd.new.title"))
	f.StringVar(&s.Programme, "programme", "", a.say("cmd.new.programme"))
	f.StringVar(&s.Team, "team", "", a.say("cmd.new.team"))
	f.StringVar(&s.Protocol, "protocol", "", a.say("cmd.new.protocol"))
	f.StringVar(&s.Zone, "zone", "", a.say("cmd.new.zone"))
	return c
}

func (a *app) backupCmd() *cobra.Command {
	return a.command("backup FILE.logbook COPY.logbook", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			if err := task.Backup(c.Context(), book, args[1]); err != nil {
				return err
			}
			a.print(a.out, a.say("cmd.backup.done", "file", args[1]))
			return nil
		})
	})
}

func (a *app) restoreCmd() *cobra.Command {
	return a.command("restore COPY.logbook FILE.logbook", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		if err := task.Restore(c.Context(), args[0], args[1]); err != nil {
			return err
		}
		a.print(a.out, a.say("cmd.restore.done", "file", args[1]))
		return nil
	})
}

func (a *app) verifyCmd() *cobra.Command {
	var asJSON bool
	c := a.command("verify FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		faults, err := task.Verify(c.Context(), args[0])
		if err != nil {
			return err
		}
		if asJSON {
			type fault struct {
				Slug string `json:"slug"`
				Text string `json:"text"`
			}
			list := []fault{}
			for _, f := range faults {
				list = append(list, fault{f.Slug, english.Say(f.Slug, f.Params)})
			}
			if err := a.json(struct {
				Contract int     `json:"contract"`
				Whole    bool    `json:"whole"`
				Faults   []fault `json:"faults"`
			}{1, len(list) == 0, list}); err != nil {
				return err
			}
		} else {
			for _, f := range faults {
				a.print(a.out, a.lang.Say(f.Slug, f.Params))
			}
			if len(faults) == 0 {
				a.print(a.out, a.say("cmd.verify.whole", "file", args[0]))
			} else {
				a.print(a.out, a.say("cmd.verify.faults", "file", args[0], "n", len(faults)))
			}
		}
		if len(faults) > 0 {
			return exit{exitUnmet}
		}
		return nil
	})
	a.jsonFlag(c, &asJSON)
	return c
}

func (a *app) addCmd() *cobra.Command {
	var why string
	c := a.command("add FILE.logbook NAME=VALUE…", a.argCount(2, -1), func(c *cobra.Command, args []string) error {
		values, err := a.pairs(c, args[1:])
		if err != nil {
			return err
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			added, err := task.Add(c.Context(), book, values, a.by(why))
			if err != nil {
				return err
			}
			a.print(a.out, a.say("cmd.add.done", "id", added.ID, "key", added.Key))
			if further := furtherColumns(values); len(further) > 0 {
				a.print(a.err, a.say("cmd.add.further", "names", further, "n", len(further)))
			}
			return a.tellFindings(c, book, added.Key)
		})
	})
	c.Flags().StringVar(&why, "why", "", a.say("cmd.flag.why"))
	return c
}

// furtherColumns are the names that are no column of the datasheet, sorted.
func furtherColumns(values map[string]string) []string {
	var further []string
	for name := range values {
		if _, _, ok := sheet.Find(sheet.Wide, strings.TrimSpace(name)); !ok {
			further = append(further, name)
		}
	}
	sort.Strings(further)
	return further
}

func (a *app) correctCmd() *cobra.Command {
	var why string
	c := a.command("correct FILE.logbook ID NAME=VALUE…", a.argCount(3, -1), func(c *cobra.Command, args []string) error {
		values, err := a.pairs(c, args[2:])
		if err != nil {
			return err
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			rev, err := task.Correct(c.Context(), book, args[1], values, a.by(why))
			if err != nil {
				return err
			}
			if !rev.Happened() {
				a.print(a.out, a.say("cmd.correct.same", "id", args[1]))
			} else {
				a.print(a.out, a.say("cmd.correct.done", "id", args[1], "n", len(rev.Changed)))
			}
			return a.tellFindings(c, book, rev.Record)
		})
	})
	c.Flags().StringVar(&why, "why", "", a.say("cmd.flag.why"))
	return c
}

func (a *app) withdrawCmd() *cobra.Command {
	var why string
	var back bool
	c := a.command("withdraw FILE.logbook ID", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			do, done := task.Withdraw, "cmd.withdraw.done"
			if back {
				do, done = task.Reinstate, "cmd.withdraw.back"
			}
			if err := do(c.Context(), book, args[1], a.by(why)); err != nil {
				return err
			}
			a.print(a.out, a.say(done, "id", args[1]))
			return nil
		})
	})
	c.Flags().StringVar(&why, "why", "", a.say("cmd.flag.why"))
	c.Flags().BoolVar(&back, "back", false, a.say("cmd.withdraw.flag-back"))
	return c
}

func (a *app) undoCmd() *cobra.Command {
	var why string
	c := a.command("undo FILE.logbook ID", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			e, _, err := task.History(c.Context(), book, args[1])
			if err != nil {
				return err
			}
			if err := task.Undo(c.Context(), book, e.Record.Key, a.by(why)); err != nil {
				return err
			}
			a.print(a.out, a.say("cmd.undo.done", "id", args[1]))
			return a.tellFindings(c, book, e.Record.Key)
		})
	})
	c.Flags().StringVar(&why, "why", a.say("cmd.undo.why"), a.say("cmd.flag.why"))
	return c
}

// pairs reads NAME=VALUE words; an empty value takes the field away.
func (a *app) pairs(c *cobra.Command, words []string) (map[string]string, error) {
	values := map[string]string{}
	for _, w := range words {
		name, value, ok := strings.Cut(w, "=")
		if !ok || strings.TrimSpace(name) == "" {
			return nil, a.usage(c, "cmd.usage.pair", "word", w)
		}
		if _, twice := values[name]; twice {
			return nil, a.usage(c, "cmd.usage.twice", "name", name)
		}
		values[name] = value
	}
	return values, nil
}
