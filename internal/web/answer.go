package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/fitness"
	"soakline/internal/rates"
	"soakline/internal/report"
	"soakline/internal/task"
	"soakline/internal/words"
)

// quickWait is how long a page waits for short work before it shows progress.
const quickWait = 2 * time.Second

// shownAnswerRows bounds the table of rows behind the answer.
const shownAnswerRows = 500

// exactReplicates is how many seasons are simulated for the exact chance.
const exactReplicates = 999

// answerView is the page of the answer.
type answerView struct {
	Nothing   bool
	Answer    report.Answer
	Next      nextStep
	Open      int
	Shares    *picture
	Curves    *picture
	Rates     *picture
	Contrasts *picture
	Rows      []answerRow
	RowsMore  string
	LeftOut   []leftOut
	Exact     bool // the chance is counted from simulated seasons
	ExactJob  *workView
	CanExact  bool
	StaleText string
	Messages  []string
	Controls  []string
	Numbers   []report.NumberTable
	RowTables []report.NumberTable
	Test      string
	Rests     string
	Ending    string
	Form      answerForm
	Wrong     []string
	Report    *reportView
	Query     string

	Planned    string   // whether the comparison was planned, in one sentence
	NotPlanned bool     // some of it was not
	PlanLines  []string // on the second layer, part by part

	Off         []string // what does not go with the rows, in plain words
	Closer      *closerView
	CloserJob   *workView
	CanCloser   bool
	CloserStale string
}

type answerRow struct {
	Key, ID, Site, Habitat, Text, Share, Range string
}

type leftOut struct {
	Why  string
	Rows []questionItem
}

// reportView is the report at work, or to be had.
type reportView struct {
	ID            string
	Ended, Failed bool
	Work          workView
}

func reportOf(l words.Language, j *job) *reportView {
	done, of, ended, _, err := j.state()
	return &reportView{j.id, ended, ended && err != nil, workOf(l, j, done, of)}
}

// computed is what a comparison gave.
type computed struct {
	rates   *rates.Result
	compare *compare.Result
	closer  *fitness.Result // the quick one: no refits, no site left out; may be nil
}

// stateOf marks the data and judgements a result stands on.
func stateOf(s *task.Season) string {
	h := sha256.New()
	fmt.Fprintln(h, s.Hash(), s.Settings.Protocol)
	for _, f := range s.Findings {
		fmt.Fprintln(h, f.Key, f.Slug, f.Check, f.Field, f.Severity, f.Answered)
	}
	for _, k := range s.Plans {
		fmt.Fprintln(h, k.SHA256, k.Withdrawn, k.WithdrawnWhy)
	}
	return hex.EncodeToString(h.Sum(nil))
}

func answerHref(query string) string {
	if query == "" {
		return "/answer"
	}
	return "/answer?" + query
}

// compute works the answer out; bootstrap 0 is the quick one.
func compute(ctx context.Context, s *task.Season, o compare.Options, l words.Language) (*computed, error) {
	group := rates.ByHabitat
	if o.By == "site" {
		group = rates.BySite
	}
	r, err := s.Rates(ctx, rates.Options{Level: o.Level, Group: group, Seed: o.Seed})
	if err != nil {
		return nil, err
	}
	r.InWords(l)
	c := &computed{rates: r}
	if r.Flow.Analysed == 0 {
		return c, nil
	}
	if c.compare, err = s.Compare(ctx, o); err != nil || r.Flow.Analysed > quickCloserRows || o.Quadrature > 1 {
		return c, err
	}
	c.closer, err = s.CloserQuick(ctx, o)
	return c, err
}

func (d *Desk) quickJob(s *task.Season, o compare.Options) *job {
	l := d.language()
	return d.jobs.start("answer", stateOf(s)+"?"+query(o)+string(l), l.Say("web.work.answer", nil), answerHref(query(o)), func(ctx context.Context, j *job) (any, error) {
		o.Progress = j.progress
		return compute(ctx, s, o, l)
	})
}

func (d *Desk) answerPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	if len(s.Deployments) == 0 {
		return d.show(w, r, b, http.StatusOK, "answer", l.Say("web.answer.title", nil), answerView{Nothing: true, Next: next(l, s)})
	}
	o, form := optionsOf(r.URL.Query())
	j := d.quickJob(s, o)
	if !j.settle(r.Context(), d.o.Patience) {
		return d.working(w, r, b, j)
	}
	_, _, _, result, err := j.state()
	v := answerView{Form: form, Query: query(o), Open: len(openFindings(s))}
	v.Form.fill(l, s)
	status := http.StatusOK
	var option *compare.OptionError
	switch {
	case errors.As(err, &option):
		p, _ := explain(l, err)
		v.Wrong, status = p.Lines, http.StatusUnprocessableEntity
	case err != nil:
		return err
	default:
		c := result.(*computed)
		d.exactState(&v, s, o, &c)
		g := &drawings{}
		if err := v.fill(l, s, c, g); err != nil {
			return err
		}
		if err := d.closerState(&v, s, o, c, g); err != nil {
			return err
		}
		v.Form.offerProfiles(l, c.compare)
	}
	v.nextStep(l, s)
	if rep := d.jobs.find("report", stateOf(s)+"?"+v.Query+string(l)); rep != nil {
		v.Report = reportOf(l, rep)
	}
	return d.show(w, r, b, status, "answer", l.Say("web.answer.title", nil), v)
}

func (v *answerView) nextStep(l words.Language, s *task.Season) {
	if v.Open > 0 {
		v.Next = next(l, s)
		return
	}
	v.Next = nextStep{l.Say("web.next.report", nil), l.Say("web.next.report-button", nil), ""}
}

// fill turns a result into what the page shows.
func (v *answerView) fill(l words.Language, s *task.Season, c *computed, g *drawings) error {
	v.Answer = report.Answers(l, c.compare)
	draw := func(to **picture, p picture, err error) error {
		if err == nil {
			*to = &p
		}
		return err
	}
	if len(c.rates.Groups) > 0 {
		p, err := g.curves(report.CurvesPicture(l, c.rates))
		if err := draw(&v.Curves, p, err); err != nil {
			return err
		}
	}
	if k := c.compare; k != nil && k.Converged {
		p, err := g.strips(report.SharesPicture(l, k, c.rates))
		if err := draw(&v.Shares, p, err); err != nil {
			return err
		}
		p, err = g.strips(report.RatesPicture(l, k, c.rates))
		if err := draw(&v.Rates, p, err); err != nil {
			return err
		}
		if len(k.Contrasts) > 0 {
			p, err = g.strips(report.ContrastsPicture(l, k))
			if err := draw(&v.Contrasts, p, err); err != nil {
				return err
			}
		}
	}
	if k := c.compare; k != nil {
		v.Planned, v.NotPlanned, v.PlanLines = k.Plan.Plain(l), k.Plan.Deviates(), k.Plan.Sentences(l)
	}
	v.rows(l, s, c)
	v.numbers(l, c)
	return nil
}

// messageWords is what a comparison tells: the command names its own flags, a page
// does not.
func messageWords(l words.Language, m words.Message) string {
	if slug := "web." + m.Slug; words.Has(slug) {
		return l.Say(slug, m.With)
	}
	return m.In(l)
}

func (v *answerView) numbers(l words.Language, c *computed) {
	if len(c.rates.Deployments) <= shownAnswerRows {
		v.RowTables = report.RowTables(l, c.rates)
	}
	k := c.compare
	if k == nil {
		return
	}
	v.Numbers = report.NumberTables(l, k)
	v.Controls = report.ControlSentences(l, k)
	for _, m := range k.Messages {
		v.Messages = append(v.Messages, messageWords(l, m))
	}
	v.Rests = l.Say("web.answer.rests", words.P{"n": k.Deployments, "sites": k.Sites, "intervals": k.Intervals})
	f := func(m assay.Maybe[float64], format string) string {
		if x, ok := m.Get(); ok {
			return words.Number(x, format)
		}
		return "–"
	}
	v.Ending = l.Say("web.answer.ending", words.P{"ending": words.Ref{Slug: "ending." + k.Ending}, "loglik": f(k.LogLik, "3"), "aic": f(k.AIC, "2"), "seed": strconv.FormatUint(k.Seed, 10)})
	if k.Test.DF > 0 {
		slug := "web.answer.test"
		with := words.P{"chi2": f(k.Test.Chi2, "2"), "df": k.Test.DF, "p": f(k.Test.P, "P"), "exact": f(k.Test.PBootstrap, "P"), "n": k.Test.Replicates}
		if k.Test.PBootstrap.Known() {
			slug = "web.answer.test-exact"
		}
		v.Test = l.Say(slug, with)
	}
}
