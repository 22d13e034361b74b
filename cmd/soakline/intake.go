package main

import (
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/logbook"
	"soakline/internal/task"
)

func (a *app) importCmd() *cobra.Command {
	var r reading
	var o task.ImportOptions
	var asJSON, show bool
	c := a.command("import FILE.logbook SHEET…", a.argCount(2, -1), func(c *cobra.Command, args []string) error {
		answers, err := a.pairs(c, r.answers)
		if err != nil {
			return err
		}
		files, err := task.ReadFiles(args[1:])
		if err != nil {
			return err
		}
		o.By, o.Answers, o.Yes = a.by(o.Why), answers, r.yes
		// A large sheet is held once as cells and once as records: memory is
		// collected more often near this soft limit, so that 100,000 rows need
		// less than half a gigabyte.
		defer debug.SetMemoryLimit(debug.SetMemoryLimit(380 << 20))
		done := a.progress(&o.Progress, "cmd.import.progress")
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			result, err := task.Import(c.Context(), book, files, o)
			done()
			if err != nil {
				return err
			}
			if asJSON {
				err = a.json(importJSON(result, o.Look))
			} else {
				a.printImport(result, o.Look, show)
			}
			if err == nil && task.Count(result.Findings).Block > 0 {
				return exit{exitUnmet}
			}
			return err
		})
	})
	a.readingFlags(c, &r)
	a.jsonFlag(c, &asJSON)
	f := c.Flags()
	f.StringVar(&o.Map, "map", "", a.say("cmd.import.flag-map"))
	f.BoolVar(&o.Look, "look", false, a.say("cmd.import.flag-look"))
	f.BoolVar(&show, "reasons", false, a.say("cmd.import.flag-reasons"))
	f.StringVar(&o.Why, "why", "", a.say("cmd.flag.why"))
	return c
}

func (a *app) printImport(r *task.ImportResult, look, show bool) {
	for _, n := range r.Notices {
		a.print(a.err, a.at(n.Place)+a.lang.Say(n.Slug, n.With))
	}
	for _, name := range r.Known {
		a.print(a.out, a.say("cmd.import.known", "file", name))
	}
	if show {
		a.printReasons(r.Reasons)
	}
	for _, m := range r.Taken {
		a.print(a.out, m.In(a.lang))
	}
	a.tell(r.Findings, false)
	slug := "cmd.import.done"
	if look {
		slug = "cmd.import.looked"
	}
	a.print(a.out, a.say(slug, "created", r.Created, "revised", r.Revised, "same", r.Same))
	if n := r.Parked(); n > 0 {
		a.print(a.out, a.say("cmd.import.parked", "n", n))
	}
}

func (a *app) printReasons(list []intake.Reason) {
	for _, why := range list {
		where := a.at(why.Where)
		if why.Heading != "" {
			where = why.Heading + " → " + why.To + ": "
		}
		a.print(a.out, where+a.lang.Say(why.Slug, why.With))
	}
}

type importedJSON struct {
	DeploymentID string      `json:"deployment_id"`
	Key          string      `json:"key"`
	Change       task.Change `json:"change"`
	File         string      `json:"file"`
	Sheet        string      `json:"sheet"`
	Line         int         `json:"line"`
}

func importJSON(r *task.ImportResult, look bool) any {
	list := []importedJSON{}
	for _, x := range r.Records {
		list = append(list, importedJSON{x.ID, x.Key, x.Change, x.Where.File, x.Where.Sheet, x.Where.Line})
	}
	taken := []string{}
	for _, m := range r.Taken {
		taken = append(taken, m.In(english))
	}
	return struct {
		Contract int                `json:"contract"`
		Kept     bool               `json:"kept"`
		Created  int                `json:"created"`
		Revised  int                `json:"revised"`
		Same     int                `json:"unchanged"`
		Parked   int                `json:"parked"`
		Known    []string           `json:"files_known"`
		Taken    []string           `json:"taken"`
		Records  []importedJSON     `json:"records"`
		Findings []task.FindingJSON `json:"findings"`
		Counts   task.FindingCounts `json:"counts"`
	}{1, !look, r.Created, r.Revised, r.Same, r.Parked(), append([]string{}, r.Known...), taken, list, task.FindingsJSON(r.Findings).Findings, task.Count(r.Findings)}
}

// ask tells open questions and how to answer each.
func (a *app) ask(q *task.Questions) {
	for _, open := range q.Open {
		a.print(a.err, a.at(open.Where)+a.lang.Say(open.Slug, open.With))
		for _, option := range open.Options {
			text := ""
			if option.Slug != "" {
				text = "  " + a.lang.Say(option.Slug, option.With)
			}
			a.print(a.err, "    --answer "+quoted(open.Key+"="+option.Value)+text)
		}
		if open.Free {
			a.print(a.err, "    --answer "+quoted(open.Key+"=…")+"  "+a.say(open.FreeHint()))
		}
		if open.Proposal != "" {
			a.print(a.err, "    "+a.say("cmd.question.proposal", "value", open.Proposal, "why", a.lang.Say(open.Why.Slug, open.Why.With)))
		}
	}
	a.print(a.err, a.say("cmd.question.end", "n", len(q.Open)))
}

// quoted puts a word between quotes where a shell would part it.
func quoted(s string) string {
	if strings.ContainsAny(s, " \t&|;<>()$`\\\"'*?[]#~%") {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}

// tellFindings tells what the rules say of one record just changed.
func (a *app) tellFindings(c *cobra.Command, book *logbook.Book, key string) error {
	s, err := task.Of(c.Context(), book, a.now())
	if err != nil {
		return err
	}
	for _, f := range s.Findings {
		if f.Key == key && f.Severity != assay.Note {
			a.print(a.out, a.finding(f))
		}
	}
	return nil
}

func (a *app) mergeCmd() *cobra.Command {
	var answers []string
	var asJSON bool
	c := a.command("merge FILE.logbook OTHER.logbook", a.argCount(2, 2), func(c *cobra.Command, args []string) error {
		given, err := a.pairs(c, answers)
		if err != nil {
			return err
		}
		return a.withBook(c, args[0], false, func(book *logbook.Book) error {
			m, err := task.Merge(c.Context(), book, args[1], given, a.by(a.say("cmd.merge.why", "file", args[1])))
			if err != nil {
				return err
			}
			if asJSON {
				if err := a.json(mergeJSON(m)); err != nil || len(m.Questions) == 0 {
					return err
				}
				return exit{exitUnmet}
			}
			a.print(a.out, a.say("cmd.merge.done", "records", m.Records, "revisions", m.Revisions, "sources", m.Sources))
			for _, q := range m.Questions {
				a.print(a.out, q.Text(a.lang))
				for _, option := range q.Options {
					a.print(a.out, "    --answer "+quoted(q.Key+"="+option))
				}
			}
			if len(m.Questions) > 0 {
				a.print(a.out, a.say("cmd.merge.open", "n", len(m.Questions)))
				return exit{exitUnmet}
			}
			return nil
		})
	})
	c.Flags().StringArrayVar(&answers, "answer", nil, a.say("cmd.merge.flag-answer"))
	a.jsonFlag(c, &asJSON)
	return c
}

type mergeQuestionJSON struct {
	Question string   `json:"question"`
	Slug     string   `json:"slug"`
	Text     string   `json:"text"`
	Answers  []string `json:"answers"`
}

func mergeJSON(m *task.Merged) any {
	list := []mergeQuestionJSON{}
	for _, q := range m.Questions {
		list = append(list, mergeQuestionJSON{q.Key, q.Slug, q.Text(english), q.Options})
	}
	return struct {
		Contract  int                 `json:"contract"`
		Records   int                 `json:"records"`
		Revisions int                 `json:"revisions"`
		Sources   int                 `json:"sources"`
		Questions []mergeQuestionJSON `json:"questions"`
	}{1, m.Records, m.Revisions, m.Sources, list}
}
