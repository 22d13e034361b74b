package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
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
	Numbers   report.Numbers
	Test      string
	Rests     string
	Ending    string
	Form      answerForm
	Wrong     []string
	Report    *reportView
	Query     string
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

// answerForm is how the comparison is set, on the second layer.
type answerForm struct {
	By, Link, Bands, Adjust, Controls, Reference string
	Level                                        string
	Bys, Links, BandsList, Adjusts, ControlList  []option
	Levels                                       []option
	Covariates                                   []option
}

// computed is what a comparison gave.
type computed struct {
	rates   *rates.Result
	compare *compare.Result
}

// stateOf marks the data and judgements a result stands on.
func stateOf(s *task.Season) string {
	h := sha256.New()
	fmt.Fprintln(h, s.Hash(), s.Settings.Protocol)
	for _, f := range s.Findings {
		fmt.Fprintln(h, f.Key, f.Slug, f.Check, f.Field, f.Severity, f.Answered)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// optionsOf reads the comparison's settings from an address.
func optionsOf(q url.Values) (o compare.Options, form answerForm) {
	pick := func(name, usual string, list ...string) string {
		if v := q.Get(name); slices.Contains(list, v) {
			return v
		}
		return usual
	}
	form.By = q.Get("by")
	if form.By == "" {
		form.By = "habitat"
	}
	form.Link = pick("link", "cloglog", "logit")
	form.Bands = pick("bands", "nominal", "checks")
	form.Adjust = pick("adjust", "holm", "simultaneous", "none")
	form.Controls = pick("controls", "leave-out", "subtract")
	form.Level = pick("level", "0.95", "0.9", "0.99")
	form.Reference = q.Get("reference")
	o = compare.Options{By: form.By, Link: form.Link, Bands: form.Bands, Adjust: form.Adjust, Controls: form.Controls, Reference: form.Reference, Seed: 1}
	o.Level, _ = strconv.ParseFloat(form.Level, 64)
	o.Covariates = q["covariate"]
	sort.Strings(o.Covariates)
	return o, form
}

// query writes settings back into an address; the usual ones give "".
func query(o compare.Options) string {
	q := url.Values{}
	set := func(name, v, usual string) {
		if v != usual {
			q.Set(name, v)
		}
	}
	set("by", o.By, "habitat")
	set("link", o.Link, "cloglog")
	set("bands", o.Bands, "nominal")
	set("adjust", o.Adjust, "holm")
	set("controls", o.Controls, "leave-out")
	set("reference", o.Reference, "")
	set("level", sheetNumber(o.Level), "0.95")
	for _, c := range o.Covariates {
		q.Add("covariate", c)
	}
	return q.Encode()
}

func sheetNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

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
	c.compare, err = s.Compare(ctx, o)
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
		if err := v.fill(l, s, c); err != nil {
			return err
		}
	}
	v.nextStep(l, s)
	if rep := d.jobs.find("report", stateOf(s)+"?"+v.Query+string(l)); rep != nil {
		v.Report = reportOf(l, rep)
	}
	return d.show(w, r, b, status, "answer", l.Say("web.answer.title", nil), v)
}

// exactState puts the exact result in place of the quick one where there is
// one for these data, and says so where there is one only for earlier data.
func (d *Desk) exactState(v *answerView, s *task.Season, o compare.Options, c **computed) {
	l := d.language()
	v.CanExact = true
	j := d.jobs.find("exact", stateOf(s)+"?"+query(o)+string(l))
	if j == nil {
		if old := d.jobs.find("exact", ""); old != nil && strings.HasSuffix(old.key, "?"+query(o)+string(l)) {
			if _, _, ended, _, err := old.state(); ended && err == nil {
				v.StaleText = l.Say("web.answer.stale", nil)
			}
		}
		return
	}
	done, of, ended, result, err := j.state()
	switch {
	case !ended:
		x := workOf(l, j, done, of)
		v.ExactJob = &x
		v.CanExact = false
	case err == nil:
		*c = result.(*computed)
		v.Exact, v.CanExact = true, false
	}
}

func (v *answerView) nextStep(l words.Language, s *task.Season) {
	if v.Open > 0 {
		v.Next = next(l, s)
		return
	}
	v.Next = nextStep{l.Say("web.next.report", nil), l.Say("web.next.report-button", nil), ""}
}

// fill turns a result into what the page shows.
func (v *answerView) fill(l words.Language, s *task.Season, c *computed) error {
	v.Answer = report.Answers(l, c.compare)
	g := &drawings{}
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
	v.rows(l, s, c)
	v.numbers(l, c)
	return nil
}

func (v *answerView) rows(l words.Language, s *task.Season, c *computed) {
	for _, x := range c.rates.Deployments {
		d := &s.Deployments[x.Place]
		row := answerRow{Key: d.Key, ID: d.ID, Site: d.Site, Habitat: d.Habitat, Text: report.RowText(l, d)}
		if n := len(x.Checks); n > 0 {
			if p, ok := x.Checks[n-1].Proportion.Get(); ok {
				row.Share = words.Number(100*p, "0")
				row.Range = words.Number(100*x.Checks[n-1].Lower.Or(0), "0") + "–" + words.Number(100*x.Checks[n-1].Upper.Or(0), "0")
			}
		}
		v.Rows = append(v.Rows, row)
	}
	sort.SliceStable(v.Rows, func(i, j int) bool {
		if v.Rows[i].Habitat != v.Rows[j].Habitat {
			return v.Rows[i].Habitat < v.Rows[j].Habitat
		}
		return v.Rows[i].Site < v.Rows[j].Site
	})
	if n := len(v.Rows); n > shownAnswerRows {
		v.Rows = v.Rows[:shownAnswerRows]
		v.RowsMore = l.Say("web.answer.rows-more", words.P{"n": shownAnswerRows, "of": n})
	}
	keys := map[string]string{}
	for i := range s.Deployments {
		keys[s.Deployments[i].ID] = s.Deployments[i].Key
	}
	at := map[string]int{}
	add := func(id, slug string) {
		i, ok := at[slug]
		if !ok {
			i = len(v.LeftOut)
			at[slug] = i
			v.LeftOut = append(v.LeftOut, leftOut{Why: sentence(l.Say("left-out."+slug, nil))})
		}
		for _, have := range v.LeftOut[i].Rows {
			if have.ID == id {
				return
			}
		}
		v.LeftOut[i].Rows = append(v.LeftOut[i].Rows, questionItem{ID: id, Row: rowHref(keys[id])})
	}
	for _, e := range c.rates.Excluded {
		add(e.DeploymentID, e.Slug)
	}
	if c.compare != nil {
		for _, e := range c.compare.Excluded {
			add(e.DeploymentID, e.Slug)
		}
	}
}

func (v *answerView) numbers(l words.Language, c *computed) {
	k := c.compare
	if k == nil {
		return
	}
	v.Numbers = report.NumbersOf(k)
	for i := range v.Numbers.Random {
		v.Numbers.Random[i][0] = compare.GroupName(k.Random[i].Group).In(l)
	}
	for _, m := range k.Messages {
		v.Messages = append(v.Messages, m.In(l))
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
		with := words.P{"chi2": f(k.Test.Chi2, "2"), "df": k.Test.DF, "p": f(k.Test.P, "4"), "exact": f(k.Test.PBootstrap, "4"), "n": k.Test.Replicates}
		if k.Test.PBootstrap.Known() {
			slug = "web.answer.test-exact"
		}
		v.Test = l.Say(slug, with)
	}
}

// fill offers what can be chosen.
func (f *answerForm) fill(l words.Language, s *task.Season) {
	list := func(chosen, prefix string, values ...string) []option {
		var out []option
		for _, x := range values {
			out = append(out, option{x, l.Say(prefix+x, nil), x == chosen})
		}
		return out
	}
	f.Bys = list(f.By, "web.by.", "habitat", "site", "season", "team")
	f.Links = list(f.Link, "web.link.", "cloglog", "logit")
	f.BandsList = list(f.Bands, "web.bands.", "nominal", "checks")
	f.Adjusts = list(f.Adjust, "web.adjust.", "holm", "simultaneous", "none")
	f.ControlList = list(f.Controls, "web.controls.", "leave-out", "subtract")
	for _, x := range []string{"0.9", "0.95", "0.99"} {
		f.Levels = append(f.Levels, option{x, x, x == f.Level})
	}
	seen := map[string]bool{}
	for i := range s.Deployments {
		d := &s.Deployments[i]
		for _, n := range d.CovariateNames() {
			seen[n] = true
		}
		for n, known := range map[string]bool{"temperature_c": d.TemperatureC.Known(), "salinity": d.Salinity.Known(), "visibility_m": d.VisibilityM.Known(), "depth_min_m": d.DepthMinM.Known()} {
			if known {
				seen[n] = true
			}
		}
	}
	for _, n := range s.DerivedKnown() {
		seen[n] = true
	}
	names := make([]string, 0, len(seen))
	for n := range seen {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		f.Covariates = append(f.Covariates, option{Value: n, Label: fieldName(l, n)})
	}
}

func (d *Desk) exactAnswer(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	q, err := url.ParseQuery(r.FormValue("query"))
	if err != nil {
		return err
	}
	o, _ := optionsOf(q)
	l := d.language()
	exact := o // the work's own, since this request goes on reading o
	exact.Bootstrap = d.o.Replicates
	d.jobs.start("exact", stateOf(s)+"?"+query(o)+string(l), l.Say("web.work.exact", nil), answerHref(query(o)), func(ctx context.Context, j *job) (any, error) {
		exact.Progress = j.progress
		return compute(ctx, s, exact, l)
	})
	http.Redirect(w, r, answerHref(query(o)), http.StatusSeeOther)
	return nil
}

// makeReport begins the report as work of its own: where sites are few it
// simulates seasons.
func (d *Desk) makeReport(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	q, err := url.ParseQuery(r.FormValue("query"))
	if err != nil {
		return err
	}
	o, _ := optionsOf(q)
	l := d.language()
	bootstrap := -1 // as many as the season needs
	if d.o.Replicates != exactReplicates {
		bootstrap = d.o.Replicates
	}
	ask := task.ReportOptions{Lang: l, Version: d.o.Version, By: o.By, Level: o.Level, Bootstrap: bootstrap, Seed: o.Seed}
	j := d.jobs.start("report", stateOf(s)+"?"+query(o)+string(l), l.Say("web.work.report", nil), answerHref(query(o)), func(ctx context.Context, j *job) (any, error) {
		ask.Progress = j.progress
		return task.Report(ctx, s, ask)
	})
	j.settle(r.Context(), quickWait) // a short one is there when the page is
	http.Redirect(w, r, answerHref(query(o))+"#report", http.StatusSeeOther)
	return nil
}

func (d *Desk) getReport(w http.ResponseWriter, r *http.Request, b *opened) error {
	j := d.jobs.byID(r.PathValue("id"))
	if j == nil || j.kind != "report" {
		return errNotHere
	}
	_, _, ended, result, err := j.state()
	if err != nil {
		return err
	}
	if !ended {
		return d.working(w, r, b, j)
	}
	send(w, "text/html; charset=utf-8", fileName(b, "report.html"), result.([]byte))
	return nil
}

// getResults sends the results as tidy tables with their dictionary.
func (d *Desk) getResults(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	o, _ := optionsOf(r.URL.Query())
	j := d.quickJob(s, o)
	if !j.settle(r.Context(), time.Minute) {
		return d.working(w, r, b, j)
	}
	_, _, _, result, err := j.state()
	if err != nil {
		return err
	}
	c := result.(*computed)
	var v answerView
	d.exactState(&v, s, o, &c)
	if out := s.Outward(); out != s { // a file is there to be passed on
		rough, err := compute(r.Context(), out, o, l)
		if err != nil {
			return err
		}
		if o.By == "habitat" {
			rough.compare = c.compare // which names no site
		}
		c = rough
	}
	tables := append(report.Tidy(c.rates, c.compare), s.Outward().Conditions()...)
	switch r.PathValue("kind") {
	case "xlsx":
		data, err := report.XLSX(l, tables)
		if err != nil {
			return err
		}
		send(w, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", fileName(b, "results.xlsx"), data)
	case "csv":
		data, err := report.ZIP(l, tables)
		if err != nil {
			return err
		}
		send(w, "application/zip", fileName(b, "results.zip"), data)
	default:
		return errNotHere
	}
	return nil
}

// send gives a file to keep.
func send(w http.ResponseWriter, kind, name string, data []byte) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	_, _ = w.Write(data)
}

// fileName is the logbook's name with an ending, in letters every system takes.
func fileName(b *opened, ending string) string {
	name := strings.Map(func(r rune) rune {
		if r == '-' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			return r
		}
		return '-'
	}, bookTitle(b, ""))
	return strings.Trim(name, "-") + "-" + ending
}
