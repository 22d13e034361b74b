package main

import (
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// bareVerb marks a verb with verbs below it that does something by itself, too.
const bareVerb = "bare"

func (a *app) stakesCmd() *cobra.Command {
	var asJSON bool
	var at string
	c := a.command("stakes FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		asOf, err := a.asOf(c, at)
		if err != nil {
			return err
		}
		return a.withBook(c, args[0], true, func(book *logbook.Book) error {
			s, err := task.Of(c.Context(), book, a.now())
			if err != nil {
				return err
			}
			when := asOf
			if when.IsZero() && !asJSON { // JSON holds no time of the clock
				when = a.now()
			}
			list, err := task.StakesOut(c.Context(), book, s, when)
			if err != nil {
				return err
			}
			out := task.StakesList(list, when)
			if asJSON {
				return a.json(out)
			}
			a.printStakes(out)
			return nil
		})
	})
	c.Annotations = map[string]string{bareVerb: "list"}
	c.Flags().StringVar(&at, "at", "", a.say("cmd.stakes.flag-at"))
	a.jsonFlag(c, &asJSON)
	c.AddCommand(a.stakesBackCmd(), a.stakesFoundCmd(), a.stakesWriteoffCmd())
	return c
}

// asOf reads a time or a day; none is the zero time.
func (a *app) asOf(c *cobra.Command, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	if t, err := time.Parse(time.DateOnly, text); err == nil {
		return t, nil
	}
	t, _, ok := sheet.ParseTime(text)
	if !ok {
		return t, a.usage(c, "cmd.stakes.at", "given", text)
	}
	return t, nil
}

func (a *app) printStakes(out task.StakesJSON) {
	if len(out.Rows) == 0 {
		a.print(a.out, a.say("cmd.stakes.none"))
		return
	}
	t := a.table(a.say("cmd.stakes.col-row"), a.say("cmd.stakes.col-where"), a.say("cmd.stakes.col-open"), a.say("cmd.stakes.col-state"), a.say("cmd.stakes.col-out"), a.say("cmd.stakes.col-position"))
	for _, r := range out.Rows {
		position := "–"
		if lat, ok := r.Latitude.Get(); ok {
			position = words.Number(lat, "5") + ", " + number(r.Longitude, "5")
		}
		if lat, ok := r.LastLat.Get(); ok && r.LastLon.Known() {
			position += " " + a.say("cmd.stakes.to-last", "lat", words.Number(lat, "5"), "lon", number(r.LastLon, "5"))
		}
		for _, t := range []string{r.Landmarks, r.Left} {
			if t != "" {
				position += "; " + t
			}
		}
		state := a.say("gear.state." + string(r.State))
		if len(r.Stakes) > 0 {
			state += " (" + a.say("gear.stakes", "list", counted(r.Stakes), "n", len(r.Stakes)) + ")"
		}
		t.row(r.ID, r.Site+", "+r.Habitat, a.say("cmd.stakes.open", "open", r.Open, "set", r.Set), state, outFor(a.lang, r.OutH), position)
	}
	t.print()
	a.print(a.out, a.say("cmd.stakes.sum", "n", out.RowsOpen, "stakes", out.StakesOpen))
	a.print(a.out, a.say("gear.care"))
}

// outFor tells how long something has been in the water.
func outFor(l words.Language, h assay.Maybe[float64]) string {
	x, ok := h.Get()
	switch {
	case !ok:
		return "–"
	case x < 48:
		return l.Say("gear.hours", words.P{"h": int(x)})
	}
	return l.Say("gear.days", words.P{"n": int(x / 24)})
}

// counted writes numbers for a list in words.
func counted(list []int) []string {
	out := make([]string, len(list))
	for i, n := range list {
		out[i] = strconv.Itoa(n)
	}
	return out
}

func (a *app) howMany(c *cobra.Command, text string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil || n < 0 {
		return 0, a.usage(c, "cmd.stakes.how-many", "given", text)
	}
	return n, nil
}

func (a *app) stakesBackCmd() *cobra.Command {
	var at, before string
	c := a.commandAs("stakes.back", "back FILE.logbook [ID [N]]", a.argCount(1, 3), func(c *cobra.Command, args []string) error {
		if (before != "") == (len(args) > 1) {
			return a.usage(c, "cmd.stakes.back.which")
		}
		n := -1
		if len(args) == 3 {
			var err error
			if n, err = a.howMany(c, args[2]); err != nil {
				return err
			}
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			by := a.by(a.say("cmd.stakes.back.why"))
			if before != "" {
				rows, err := task.OldStakesBack(c.Context(), book, before, by)
				if err == nil {
					a.print(a.out, a.say("cmd.stakes.back.done-old", "n", rows))
				}
				return err
			}
			back, err := task.StakesBack(c.Context(), book, args[1], n, at, by)
			if err == nil {
				a.print(a.out, a.say("cmd.stakes.back.done", "n", back, "id", args[1]))
			}
			return err
		})
	})
	c.Flags().StringVar(&at, "at", "", a.say("cmd.stakes.back.flag-at"))
	c.Flags().StringVar(&before, "set-before", "", a.say("cmd.stakes.back.flag-before"))
	return c
}

func (a *app) stakesFoundCmd() *cobra.Command {
	var at, where string
	c := a.commandAs("stakes.found", "found FILE.logbook ID N", a.argCount(3, 3), func(c *cobra.Command, args []string) error {
		n, err := a.howMany(c, args[2])
		if err != nil {
			return err
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			_, open, err := task.FindStakes(c.Context(), book, args[1], n, at, where, a.by(a.say("cmd.stakes.found.why")))
			if err == nil {
				a.print(a.out, a.say("cmd.stakes.found.done", "n", n, "id", args[1], "open", open))
			}
			return err
		})
	})
	c.Flags().StringVar(&at, "at", "", a.say("cmd.stakes.found.flag-at"))
	c.Flags().StringVar(&where, "where", "", a.say("cmd.stakes.found.flag-where"))
	return c
}

func (a *app) stakesWriteoffCmd() *cobra.Command {
	var place, why string
	c := a.commandAs("stakes.writeoff", "writeoff FILE.logbook ID N", a.argCount(3, 3), func(c *cobra.Command, args []string) error {
		n, err := a.howMany(c, args[2])
		if err != nil {
			return err
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			_, open, err := task.WriteOffStakes(c.Context(), book, args[1], n, place, why, a.by(why))
			if err == nil {
				a.print(a.out, a.say("cmd.stakes.writeoff.done", "n", n, "id", args[1], "open", open))
			}
			return err
		})
	})
	c.Flags().StringVar(&place, "place", "", a.say("cmd.stakes.writeoff.flag-place"))
	c.Flags().StringVar(&why, "why", "", a.say("cmd.stakes.writeoff.flag-why"))
	return c
}
