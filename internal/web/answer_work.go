package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"soakline/internal/compare"
	"soakline/internal/task"
)

// exactState puts the exact result in place of the quick one where there is
// one for these data, and says so where there is one only for earlier data.
func (d *Desk) exactState(v *answerView, s *task.Season, o compare.Options, c **computed) {
	l := d.language()
	v.CanExact = true
	j := d.jobs.newest("exact", d.keyOf(s, o)+"#")
	if j == nil {
		if d.doneBefore("exact", o) {
			v.StaleText = l.Say("web.answer.stale", nil)
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

// keyOf marks the data, the settings and the language that a result is of.
func (d *Desk) keyOf(s *task.Season, o compare.Options) string {
	return stateOf(s) + "?" + query(o) + string(d.language())
}

// simulate sets how many seasons are simulated: auto stops by its own error, and
// without a choice it is the desk's usual number.
func (d *Desk) simulate(o *compare.Options, choice string) string {
	switch n, err := strconv.Atoi(choice); {
	case choice == "auto":
		o.Bootstrap, o.BootstrapAuto = 0, true
		return choice
	case err == nil && n > 0 && n <= compare.MostReplicates && choice != seasonsOffered[0]:
		o.Bootstrap = n
		return choice
	}
	o.Bootstrap = d.o.Replicates
	return seasonsOffered[0]
}

// doneBefore says whether such work came to its end for the same options, but for
// data or settings that have changed since.
func (d *Desk) doneBefore(kind string, o compare.Options) bool {
	old := d.jobs.newest(kind, "")
	if old == nil {
		return false
	}
	key, _, _ := strings.Cut(old.key, "#")
	_, _, ended, _, err := old.state()
	return ended && err == nil && strings.HasSuffix(key, "?"+query(o)+string(d.language()))
}

// asked is the season, and the comparison that a button of the answer's page asks
// to go on with.
func (d *Desk) asked(r *http.Request, b *opened) (*task.Season, compare.Options, error) {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return nil, compare.Options{}, err
	}
	q, err := url.ParseQuery(r.FormValue("query"))
	if err != nil {
		return nil, compare.Options{}, err
	}
	o, _ := optionsOf(q)
	return s, o, nil
}

func (d *Desk) exactAnswer(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, o, err := d.asked(r, b)
	if err != nil {
		return err
	}
	l := d.language()
	exact := o // the work's own, since this request goes on reading o
	seasons := d.simulate(&exact, r.FormValue("seasons"))
	d.jobs.start("exact", d.keyOf(s, o)+"#"+seasons, l.Say("web.work.exact", nil), answerHref(query(o)), func(ctx context.Context, j *job) (any, error) {
		exact.Progress = j.progress
		return compute(ctx, s, exact, l)
	})
	http.Redirect(w, r, answerHref(query(o)), http.StatusSeeOther)
	return nil
}
