package main

import (
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/logbook"
	"soakline/internal/task"
)

func (a *app) cardAnswersCmd() *cobra.Command {
	var card uint64
	c := a.commandAs("cards.answers", "answers FILE.logbook READER ANSWERS", a.argCount(3, 3), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			r, err := task.KeepCardRead(c.Context(), book, args[1], card, args[2], a.by(a.say("cmd.cards.answers.why")))
			if err != nil {
				return err
			}
			a.print(a.out, a.say("cmd.cards.answers.done", "reader", r.Reader, "card", int(card), "right", r.Same, "of", r.N, "kappa", number(r.Kappa, "2")))
			if w := r.Wrong(); len(w) > 0 {
				a.print(a.out, a.say("cmd.cards.answers.wrong", "list", counted(w), "n", len(w)))
			}
			return nil
		})
	})
	c.Flags().Uint64Var(&card, "seed", 1, a.say("cmd.cards.practice.flag-seed"))
	return c
}

func (a *app) cardReadersCmd() *cobra.Command {
	var asJSON bool
	c := a.commandAs("cards.readers", "readers FILE.logbook", a.argCount(1, 1), func(c *cobra.Command, args []string) error {
		return a.withBook(c, args[0], true, func(book *logbook.Book) error {
			var list []task.CardRead
			err := book.View(c.Context(), func(tx *logbook.Tx) (err error) {
				list, err = task.CardsRead(tx)
				return err
			})
			if err != nil {
				return err
			}
			out := task.ReadersList(list)
			if asJSON {
				return a.json(out)
			}
			if len(out.Cards) == 0 {
				a.print(a.out, a.say("cmd.cards.readers.none"))
				return nil
			}
			t := a.table(a.say("cmd.cards.readers.col-reader"), a.say("cmd.cards.readers.col-card"), a.say("cmd.cards.readers.col-right"), a.say("cmd.cards.readers.col-kappa"), a.say("cmd.cards.readers.col-wrong"))
			for _, x := range out.Cards {
				t.row(x.Reader, int(x.Card), a.say("gear.right", "right", x.Right, "of", x.Baits), number(x.Kappa, "2"), strings.Join(counted(x.Wrong), ", "))
			}
			t.print()
			if len(out.Pairs) > 0 {
				a.print(a.out, "")
				t := a.table(a.say("cmd.cards.readers.col-two"), a.say("cmd.cards.readers.col-cards"), a.say("cmd.cards.readers.col-same"), a.say("cmd.cards.readers.col-kappa"))
				for _, x := range out.Pairs {
					t.row(x.A+", "+x.B, x.Cards, a.say("gear.right", "right", x.Same, "of", x.Baits), number(x.Kappa, "2"))
				}
				t.print()
			}
			a.print(a.out, a.say("gear.kappa"))
			return nil
		})
	})
	a.jsonFlag(c, &asJSON)
	return c
}
