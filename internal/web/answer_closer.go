package web

import (
	"context"
	"html/template"
	"net/http"

	"soakline/internal/compare"
	"soakline/internal/figure"
	"soakline/internal/fitness"
	"soakline/internal/report"
	"soakline/internal/task"
)

// quickCloserRows bounds the seasons that get a quick closer look with every
// answer; a larger one, or one that is integrated over by quadrature, has it when it is
// asked for.
const quickCloserRows = 500

// closerResult is a closer look with the repetitions that were made for it.
type closerResult struct {
	compare  *compare.Result
	fitness  *fitness.Result
	variants []compare.Variant
}

// closerView is the closer look on the second layer.
type closerView struct {
	Parts   []closerPart
	Rest    []string
	By      string
	Head    []string
	Balance [][]string

	Changes        []report.Change
	ChangesSummary string
}

type closerPart struct {
	Title        string
	Sentences    []string
	Off          bool
	Wide, Narrow template.HTML
}

// closerState shows the closer look where there is one for these data, its
// progress where it is at work, and says where there is one only for earlier data.
func (d *Desk) closerState(v *answerView, s *task.Season, o compare.Options, c *computed, g *drawings) error {
	l := d.language()
	v.Off = report.CloserPlain(l, c.closer)
	if c.compare == nil {
		return nil
	}
	v.CanCloser = true
	j := d.jobs.newest("closer", d.keyOf(s, o))
	if j == nil {
		if d.doneBefore("closer", o) {
			v.CloserStale = l.Say("web.answer.closer-stale", nil)
		}
		return nil
	}
	done, of, ended, result, err := j.state()
	switch {
	case !ended:
		x := workOf(l, j, done, of)
		v.CloserJob, v.CanCloser = &x, false
		return nil
	case err != nil:
		return nil // stopped, or it did not work: it can be asked for again
	}
	looked := result.(*closerResult)
	r := looked.fitness
	v.CanCloser = false
	v.Off = report.CloserPlain(l, r)
	w := &closerView{Rest: report.CloserUndrawn(l, r), By: r.ByWord(l)}
	w.Head, w.Balance = report.CloserBalance(l, r)
	w.Changes, w.ChangesSummary = report.Changes(l, looked.compare, looked.variants)
	for _, x := range report.CloserPictures(l, r) {
		p, err := g.both(func(f figure.Frame) (*figure.Drawing, error) { return x.Draw(f) })
		if err != nil {
			return err
		}
		w.Parts = append(w.Parts, closerPart{x.Title, x.Sentences, x.Off, p.Wide, p.Narrow})
	}
	v.Closer = w
	return nil
}

// lookCloser begins the closer look as work of its own: it simulates and refits
// seasons, and repeats the comparison without each site.
func (d *Desk) lookCloser(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, o, err := d.asked(r, b)
	if err != nil {
		return err
	}
	l := d.language()
	refits := min(task.CloserRefits, d.o.Replicates)
	j := d.jobs.start("closer", d.keyOf(s, o), l.Say("web.work.closer", nil), answerHref(query(o))+"#closer", func(ctx context.Context, j *job) (any, error) {
		k, err := s.Compare(ctx, o)
		if err != nil {
			return nil, err
		}
		look, variants, err := s.CloserRepeated(ctx, o, k, fitness.Options{Refits: refits, Seed: o.Seed, Progress: j.progress})
		return &closerResult{k, look, variants}, err
	})
	j.settle(r.Context(), d.o.Patience)
	http.Redirect(w, r, answerHref(query(o))+"#closer", http.StatusSeeOther)
	return nil
}
