package web

import (
	"errors"
	"net/http"
	"net/url"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/logbook"
	"soakline/internal/plan"
	"soakline/internal/task"
	"soakline/internal/words"
)

// planView is the page of analysis plans.
type planView struct {
	Wrong []string
	Plans []planShown
	Draft *planShown // as it would be kept; nil where nobody looked
	Typed planTyped
	Form  answerForm
	Open  bool // the form stands open
}

// planShown is one plan on the page.
type planShown struct {
	Day, Hash, Text, Says, Question string
	File                            string // where its text is to be had
	Run                             string // address of the answer as planned; empty where the desk cannot do it to the letter
	Command                         string // what does it then
	Counts, Withdrawn, Broken       bool
}

// planTyped is what was typed into the form beside the comparison's settings.
type planTyped struct {
	Question, Season, Among, Sites, Rows, Baits, LeaveOut, Note, Own string
	Repeats, Closer                                                  bool
	Seasons                                                          string
}

// planColumns are numbers of the datasheet that may be planned before a row has them.
var planColumns = []string{"depth_min_m", "salinity", "temperature_c", "visibility_m"}

func (d *Desk) planPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showPlans(w, r, b, http.StatusOK, planView{Typed: planTyped{Repeats: true, Closer: true}}, r.URL.Query())
}

// showPlans shows the page; q holds the settings of the comparison.
func (d *Desk) showPlans(w http.ResponseWriter, r *http.Request, b *opened, status int, v planView, q url.Values) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	_, v.Form = optionsOf(q)
	v.Form.fillPlan(l, s)
	for i := range v.Form.Seasons {
		if x := &v.Form.Seasons[i]; v.Typed.Seasons != "" {
			x.Chosen = x.Value == v.Typed.Seasons
		}
	}
	for i, line := range s.PlanList().Plans {
		v.Plans = append(v.Plans, shownPlan(l, s, s.Plans[i], line, b))
	}
	v.Open = v.Open || len(v.Plans) == 0 || len(v.Wrong) > 0 || v.Draft != nil
	return d.show(w, r, b, status, "plan", l.Say("web.plan.title", nil), v)
}

// fillPlan offers what can be planned: also columns that no row has yet, and the
// protocol's checks.
func (f *answerForm) fillPlan(l words.Language, s *task.Season) {
	offer := offeredBy(s)
	for _, n := range planColumns {
		if !slices.Contains(offer.columns, n) {
			offer.columns = append(offer.columns, n)
		}
		offer.numbers[n] = true
	}
	slices.Sort(offer.columns)
	offer.last = max(offer.last, len(s.Protocols[s.Settings.Protocol].Checks))
	f.offer(l, offer)
}

func shownPlan(l words.Language, s *task.Season, k plan.Kept, line task.PlanLine, b *opened) planShown {
	v := planShown{Day: k.Day(), Hash: k.SHA256, Text: k.Text, Question: k.Question, File: "/plan/" + k.SHA256 + ".txt", Counts: line.Counts, Withdrawn: k.Withdrawn, Broken: k.Broken}
	switch n := max(line.RowsThen, line.RowsBefore); {
	case k.Broken:
		v.Says = l.Say("cmd.plan.state-broken", nil)
		return v
	case k.Withdrawn:
		v.Says = l.Say("cmd.plan.state-withdrawn", words.P{"why": k.WithdrawnWhy})
	case n > 0:
		v.Says = l.Say("web.plan.late", words.P{"n": n})
	default:
		v.Says = l.Say("web.plan.early", nil)
	}
	if k.Withdrawn || len(s.Deployments) == 0 {
		return v
	}
	o := task.OptionsOf(k.Plan)
	again, _ := optionsOf(queryValues(o))
	other := slices.ContainsFunc(s.Deployments, func(d assay.Deployment) bool { return k.Season != "" && d.Season != k.Season })
	if sameComparison(o, again) && !other {
		v.Run = answerHref(query(o))
	} else {
		v.Command = "soakline compare " + filepath.Base(b.path) + " --plan " + k.Short()
	}
	return v
}

func queryValues(o compare.Options) url.Values {
	q, _ := url.ParseQuery(query(o))
	return q
}

// sameComparison says whether two settings are one, but for the number of simulated
// seasons, which the desk asks for by a button.
func sameComparison(a, b compare.Options) bool {
	b.Bootstrap, b.BootstrapAuto = a.Bootstrap, a.BootstrapAuto
	p, errA := task.PlanIn(plan.Plan{}, a)
	q, errB := task.PlanIn(plan.Plan{}, b)
	return errA == nil && errB == nil && p.Same(q)
}

// typedPlan reads the form.
func typedPlan(q url.Values) (plan.Plan, compare.Options, planTyped, error) {
	t := planTyped{Question: strings.TrimSpace(q.Get("question")), Season: strings.TrimSpace(q.Get("season")), Among: q.Get("among"), Sites: q.Get("sites"), Rows: q.Get("rows"), Baits: q.Get("baits"),
		LeaveOut: q.Get("leave-out"), Note: q.Get("note"), Own: q.Get("own"), Repeats: q.Get("repeats") != "", Closer: q.Get("closer") != "", Seasons: q.Get("seasons")}
	p := plan.Plan{Question: t.Question, Season: t.Season, Among: linesOf(t.Among), LeaveOut: linesOf(t.LeaveOut), Notes: linesOf(t.Note), Repeats: t.Repeats, Closer: t.Closer}
	o, _ := optionsOf(q)
	for _, n := range linesOf(t.Own) {
		if !slices.Contains(o.Covariates, n) {
			o.Covariates = append(o.Covariates, n)
		}
	}
	o.Bootstrap = task.PlannedSeasons
	if n, err := strconv.Atoi(t.Seasons); err == nil && n >= 0 {
		o.Bootstrap = n
	} else if t.Seasons == "auto" {
		o.Bootstrap, o.BootstrapAuto = 0, true
	}
	for _, x := range []struct {
		slug, text string
		to         *int
	}{{"cmd.plan.flag-sites", t.Sites, &p.Sites}, {"cmd.plan.flag-rows", t.Rows, &p.Rows}, {"cmd.plan.flag-baits", t.Baits, &p.Baits}} {
		text := strings.TrimSpace(x.text)
		if text == "" {
			continue
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return p, o, t, &task.Refused{Slug: "task.plan-number", With: words.P{"what": words.Ref{Slug: x.slug}, "given": text}}
		}
		*x.to = n
	}
	return p, o, t, nil
}

// linesOf are the lines of a field, without empty ones.
func linesOf(text string) []string {
	var out []string
	for l := range strings.Lines(text) {
		if l = strings.TrimSpace(l); l != "" {
			out = append(out, l)
		}
	}
	return out
}

// keepPlan keeps the plan that was typed, or shows the text that it would have.
func (d *Desk) keepPlan(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	l := d.language()
	p, o, typed, err := typedPlan(r.PostForm)
	var k plan.Kept
	fresh := false
	switch {
	case err != nil:
	case r.PostForm.Get("do") == "keep":
		k, fresh, err = task.KeepPlan(r.Context(), b.book, p, o, d.by(l.Say("web.why.plan", nil)))
	default:
		err = b.book.View(r.Context(), func(tx *logbook.Tx) (err error) {
			k, err = task.DraftPlan(tx, p, o, d.by(""))
			return err
		})
		if err == nil {
			return d.showPlans(w, r, b, http.StatusOK, planView{Typed: typed, Draft: &planShown{Text: k.Text, Day: k.Day(), Hash: k.SHA256}}, r.PostForm)
		}
	}
	if err != nil {
		return d.planWrong(w, r, b, err, typed)
	}
	b.forget()
	f := flash{Text: l.Say("cmd.plan.same", words.P{"date": k.Day(), "hash": k.SHA256})}
	if fresh {
		f = flash{Text: l.Say("web.plan.done", words.P{"date": k.Day()}), Undo: k.Key, Back: "/plan"}
	}
	d.setFlash(f)
	http.Redirect(w, r, "/plan", http.StatusSeeOther)
	return nil
}

// planWrong shows the page with what cannot be, and what was typed.
func (d *Desk) planWrong(w http.ResponseWriter, r *http.Request, b *opened, err error, typed planTyped) error {
	var refused *task.Refused
	var option *compare.OptionError
	if !errors.As(err, &refused) && !errors.As(err, &option) {
		return err
	}
	p, _ := explain(d.language(), err)
	return d.showPlans(w, r, b, http.StatusUnprocessableEntity, planView{Wrong: p.Lines, Typed: typed}, r.PostForm)
}

// withdrawPlan takes a plan back with a reason, or its withdrawal.
func (d *Desk) withdrawPlan(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	l := d.language()
	undo := r.PostForm.Get("back") != ""
	k, err := task.WithdrawPlan(r.Context(), b.book, r.PathValue("hash"), undo, d.by(r.PostForm.Get("why")))
	if err != nil {
		return d.planWrong(w, r, b, err, planTyped{Repeats: true, Closer: true})
	}
	b.forget()
	slug := "cmd.plan.withdrawn"
	if undo {
		slug = "cmd.plan.back"
	}
	d.setFlash(flash{Text: l.Say(slug, words.P{"date": k.Day()})})
	http.Redirect(w, r, "/plan", http.StatusSeeOther)
	return nil
}

// planText sends a plan's text, to the byte as it was hashed.
func (d *Desk) planText(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	hash, _ := strings.CutSuffix(r.PathValue("file"), ".txt")
	for _, k := range s.Plans {
		if k.SHA256 == hash {
			send(w, "text/plain; charset=utf-8", fileName(b, "plan-"+k.Written.Format(time.DateOnly)+".txt"), []byte(k.Text))
			return nil
		}
	}
	return errNotHere
}
