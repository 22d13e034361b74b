package main

import (
	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/task"
)

func (a *app) findingsCmd() *cobra.Command {
	var r reading
	var asJSON, all bool
	c := a.command("findings SOURCE…", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		s, err := a.load(c, args, r)
		if err != nil {
			return err
		}
		blocks := 0
		for _, f := range s.Findings {
			if f.Severity == assay.Block {
				blocks++
			}
		}
		if asJSON {
			if err := a.json(task.FindingsJSON(s.Findings)); err != nil {
				return err
			}
		} else {
			a.printFindings(s.Findings, all)
		}
		if n := s.WithoutTide(); n > 0 {
			a.print(a.err, a.say("cmd.findings.no-tide", "n", n))
		}
		if blocks > 0 {
			return exit{exitUnmet}
		}
		return nil
	})
	a.readingFlags(c, &r)
	a.jsonFlag(c, &asJSON)
	c.Flags().BoolVar(&all, "all", false, a.say("cmd.findings.flag-all"))
	return c
}

func (a *app) printFindings(list []assay.Finding, all bool) {
	count := map[assay.Severity]int{}
	for _, f := range list {
		count[f.Severity]++
	}
	a.tell(list, all)
	a.print(a.out, a.say("cmd.findings.counts", "n", len(list), "block", count[assay.Block], "ask", count[assay.Ask], "note", count[assay.Note]))
}

// finding is one finding as printed: where and what, and behind it its severity
// and the slug by which `soakline answer` and docs/reference/findings.md know it.
func (a *app) finding(f assay.Finding) string {
	return task.FindingLine(a.lang, f) + " [" + a.say("cmd.severity."+string(f.Severity)) + ": " + f.Slug + "]"
}

func (a *app) answerCmd() *cobra.Command {
	return a.command("answer FILE.logbook ID QUESTION TEXT", a.argCount(4, 4), func(c *cobra.Command, args []string) error {
		book, err := task.Open(c.Context(), args[0], false)
		if err != nil {
			return err
		}
		defer book.Close()
		n, err := task.AnswerQuestion(c.Context(), book, args[1], args[2], args[3], a.by(""))
		if err != nil {
			return err
		}
		a.print(a.out, a.say("cmd.answer.done", "n", n, "id", args[1]))
		return nil
	})
}
