package main

import (
	"cmp"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/compare"
	"soakline/internal/logbook"
	"soakline/internal/plan"
	"soakline/internal/task"
)

func (a *app) planCmd() *cobra.Command {
	return a.groupCmd("plan", a.planAnalysisCmd(), a.planListCmd(), a.planShowCmd(), a.planWithdrawCmd())
}

func (a *app) planAnalysisCmd() *cobra.Command {
	var p plan.Plan
	var o compare.Options
	var random, why string
	var look, asJSON bool
	c := a.commandAs("plan.analysis", "analysis FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		if err := a.checkLevel(c, o.Level); err != nil {
			return err
		}
		if err := a.notNegative(c, "bootstrap", "quadrature", "check", "sites", "rows", "baits"); err != nil {
			return err
		}
		takeRandom(c, &o, random)
		return a.withBook(c, args[0], look, func(book *logbook.Book) error {
			var k plan.Kept
			fresh := false
			var err error
			if look {
				err = book.View(c.Context(), func(tx *logbook.Tx) error {
					k, err = task.DraftPlan(tx, p, o, a.by(why))
					return err
				})
			} else {
				k, fresh, err = task.KeepPlan(c.Context(), book, p, o, a.by(why))
			}
			if err != nil {
				return err
			}
			if asJSON {
				return a.json(task.PlanAsJSON(k))
			}
			a.tellPlan(k, look, fresh)
			if !look {
				a.print(a.out, a.say("cmd.plan.next", "file", args[0]))
			}
			return nil
		})
	})
	f := c.Flags()
	f.StringVar(&p.Question, "question", "", a.say("cmd.plan.flag-question"))
	f.StringVar(&p.Season, "season", "", a.say("cmd.plan.flag-season"))
	f.StringArrayVar(&p.Among, "among", nil, a.say("cmd.plan.flag-among"))
	a.comparisonFlags(c, &o, &random)
	o.Bootstrap = task.PlannedSeasons
	f.Var(&seasons{&o.Bootstrap, &o.BootstrapAuto}, "bootstrap", a.say("cmd.plan.flag-bootstrap"))
	f.StringVar(&p.Protocol, "protocol", "", a.say("cmd.plan.flag-protocol"))
	f.StringArrayVar(&p.LeaveOut, "leave-out", nil, a.say("cmd.plan.flag-leave-out"))
	f.BoolVar(&p.Repeats, "sensitivity", true, a.say("cmd.plan.flag-sensitivity"))
	f.BoolVar(&p.Closer, "look-closer", true, a.say("cmd.plan.flag-look-closer"))
	f.IntVar(&p.Sites, "sites", 0, a.say("cmd.plan.flag-sites"))
	f.IntVar(&p.Rows, "rows", 0, a.say("cmd.plan.flag-rows"))
	f.IntVar(&p.Baits, "baits", 0, a.say("cmd.plan.flag-baits"))
	f.StringArrayVar(&p.Notes, "note", nil, a.say("cmd.plan.flag-note"))
	f.BoolVar(&look, "look", false, a.say("cmd.plan.flag-look"))
	f.StringVar(&why, "why", "", a.say("cmd.flag.why"))
	a.jsonFlag(c, &asJSON)
	return c
}

// tellPlan tells a plan that was kept, or would be. Its text alone goes to the
// output where it is only looked at.
func (a *app) tellPlan(k plan.Kept, look, fresh bool) {
	to := a.out
	switch {
	case look:
		fmt.Fprint(a.out, k.Text)
		to = a.err
		a.print(to, a.say("cmd.plan.look"))
	case fresh:
		a.print(to, a.say("cmd.plan.done", "hash", k.SHA256))
	default:
		a.print(to, a.say("cmd.plan.same", "date", k.Day(), "hash", k.SHA256))
	}
	if k.RowsThen == 0 {
		a.print(to, a.say("cmd.plan.early"))
	} else {
		a.print(to, a.say("cmd.plan.late", "n", k.RowsThen))
	}
}

func (a *app) planListCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("plan.list", "list FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], true, func(book *logbook.Book) error {
			s, err := task.Of(c.Context(), book, a.now())
			if err != nil {
				return err
			}
			list := s.PlanList()
			if asJSON {
				return a.json(list)
			}
			if len(list.Plans) == 0 {
				a.print(a.out, a.say("task.plan-none"))
				return nil
			}
			t := a.table(a.say("cmd.plan.col-date"), a.say("cmd.plan.col-hash"), a.say("cmd.plan.col-question"), a.say("cmd.plan.col-rows"), a.say("cmd.plan.col-state"))
			for _, p := range list.Plans {
				state := a.say("cmd.plan.state-beside")
				switch {
				case p.Broken:
					state = a.say("cmd.plan.state-broken")
				case p.Withdrawn:
					state = a.say("cmd.plan.state-withdrawn", "why", p.WithdrawnWhy)
				case p.Counts:
					state = a.say("cmd.plan.state-counts")
				}
				t.row(p.WrittenAt[:len(time.DateOnly)], p.SHA256[:12]+"…", cmp.Or(p.Question, plan.Value(a.lang, "by", p.By)), max(p.RowsThen, p.RowsBefore), state)
			}
			t.print()
			return nil
		})
	})
	a.jsonFlag(c, &asJSON)
	return c
}

func (a *app) planShowCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("plan.show", "show FILE.logbook [PLAN]", a.argCount(1, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], true, func(book *logbook.Book) error {
			s, err := task.Of(c.Context(), book, a.now())
			if err != nil {
				return err
			}
			var k plan.Kept
			if len(args) > 1 {
				k, err = s.FindPlan(args[1])
			} else {
				k, err = s.CountingPlan("habitat")
			}
			if err != nil {
				return err
			}
			if asJSON {
				return a.json(task.PlanAsJSON(k))
			}
			fmt.Fprint(a.out, k.Text)
			a.print(a.err, a.say("cmd.plan.hash", "hash", k.SHA256))
			return nil
		})
	})
	a.jsonFlag(c, &asJSON)
	return c
}

func (a *app) planWithdrawCmd() *cobra.Command {
	var why string
	var back bool
	c := a.commandAs("plan.withdraw", "withdraw FILE.logbook PLAN", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			k, err := task.WithdrawPlan(c.Context(), book, args[1], back, a.by(why))
			if err != nil {
				return err
			}
			slug := "cmd.plan.withdrawn"
			if back {
				slug = "cmd.plan.back"
			}
			a.print(a.out, a.say(slug, "date", k.Day()))
			return nil
		})
	})
	c.Flags().StringVar(&why, "why", "", a.say("cmd.flag.why"))
	c.Flags().BoolVar(&back, "back", false, a.say("cmd.plan.flag-back"))
	return c
}
