package main

import (
	"github.com/spf13/cobra"

	"soakline/internal/compare"
	"soakline/internal/fitness"
	"soakline/internal/report"
	"soakline/internal/task"
)

// lookCloser takes the closer look that --look-closer asks for and writes its
// figures and tables; nil where it is not asked for.
func (a *app) lookCloser(c *cobra.Command, s *task.Season, o compare.Options, k *compare.Result, folder string, refits int) (*fitness.Result, error) {
	if folder == "" {
		return nil, nil
	}
	var fo fitness.Options
	fo.Refits, fo.Seed = refits, o.Seed
	done := a.progress(&fo.Progress, "cmd.compare.progress")
	look, err := s.Closer(c.Context(), o, k, fo)
	done()
	if err != nil {
		return nil, err
	}
	look.InWords(english) // JSON stays English
	return look, task.WriteCloser(c.Context(), s, folder, a.lang, look)
}

// printCloser tells what the closer look found.
func (a *app) printCloser(r *fitness.Result, folder string) {
	if r == nil {
		return
	}
	a.print(a.out, "")
	a.print(a.out, a.say("closer.title"))
	for _, t := range r.Tests {
		mark := "  "
		if t.Off {
			mark = "! "
		}
		a.print(a.out, mark+t.Sentence(a.lang))
	}
	for _, line := range report.BalanceSentences(a.lang, r) {
		mark := "  "
		if len(r.Messages) > 0 {
			mark = "! "
		}
		a.print(a.out, mark+line)
	}
	a.print(a.out, a.say("cmd.compare.closer-written", "folder", folder))
}
