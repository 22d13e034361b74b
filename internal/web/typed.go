package web

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/rates"
	"soakline/internal/report"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// typedChecks is how many checks the form for one row offers.
const typedChecks = 3

// typedForm is the form for one row as it was filled in.
type typedForm struct {
	Baits  string
	Checks []typedCheck
	Wrong  []string
}

type typedCheck struct{ N, Hours, Gone, Lost string }

// blankTyped is the form as it comes: the usual row and soaks.
func blankTyped() typedForm {
	f := typedForm{Baits: "25"}
	usual := sheet.Standard()
	for k := range typedChecks {
		c := typedCheck{N: strconv.Itoa(k + 1)}
		if k < len(usual.Checks) {
			c.Hours = sheet.FormatNumber(usual.Checks[k].SoakH)
		}
		f.Checks = append(f.Checks, c)
	}
	f.Baits = strconv.Itoa(usual.Baits)
	return f
}

// typedRow shows the row whose counts stand in the address: nothing is kept.
func (d *Desk) typedRow(w http.ResponseWriter, r *http.Request, b *opened) error {
	l := d.language()
	q := r.URL.Query()
	form := typedForm{Baits: strings.TrimSpace(q.Get("baits"))}
	for k := range typedChecks {
		n := strconv.Itoa(k + 1)
		form.Checks = append(form.Checks, typedCheck{n, strings.TrimSpace(q.Get("hours" + n)), strings.TrimSpace(q.Get("gone" + n)), strings.TrimSpace(q.Get("lost" + n))})
	}
	dep, wrong := form.deployment(l)
	if len(wrong) > 0 {
		form.Wrong = wrong
		return d.showStart(w, r, b, http.StatusUnprocessableEntity, form, "")
	}
	v, err := oneRow(r.Context(), l, dep, sheet.Standard(), nil)
	if err != nil {
		return err
	}
	v.Form = form
	v.Keep = form.values()
	return d.show(w, r, b, http.StatusOK, "row-typed", l.Say("web.typed.title", nil), v)
}

// typedAt is the invented instant at which a typed row was set out; only the
// soaks are known of it.
var typedAt = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// deployment turns the form into a record, or says what is wrong with it.
func (f typedForm) deployment(l words.Language) (*assay.Deployment, []string) {
	var wrong []string
	number := func(text, slug, n string, most float64, whole bool) (float64, bool) {
		x, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || !(x >= 0) || x > most || whole && x != float64(int(x)) {
			wrong = append(wrong, l.Say(slug, words.P{"text": text, "n": n, "most": int(most)}))
			return 0, false
		}
		return x, true
	}
	dep := &assay.Deployment{SetOut: assay.Moment{At: typedAt}, Control: assay.NoControl}
	if x, ok := number(f.Baits, "web.typed.wrong-baits", "", 200, true); ok {
		dep.Baits = int(x)
		if dep.Baits == 0 {
			wrong = append(wrong, l.Say("web.typed.no-baits", nil))
		}
	}
	before, goneBefore, lostBefore := 0.0, 0, 0
	for _, c := range f.Checks {
		if c.Gone == "" && c.Lost == "" {
			continue
		}
		h, okH := number(c.Hours, "web.typed.wrong-hours", c.N, 10000, false)
		gone, okG := number(c.Gone, "web.typed.wrong-gone", c.N, 200, true)
		lost := 0.0
		okL := true
		if c.Lost != "" {
			lost, okL = number(c.Lost, "web.typed.wrong-lost", c.N, 200, true)
		}
		if !okH || !okG || !okL {
			continue
		}
		switch {
		case h <= before:
			wrong = append(wrong, l.Say("web.typed.order", words.P{"n": c.N}))
		case int(gone) < goneBefore || int(lost) < lostBefore:
			wrong = append(wrong, l.Say("web.typed.falls", words.P{"n": c.N}))
		case dep.Baits > 0 && int(gone)+int(lost) > dep.Baits:
			wrong = append(wrong, l.Say("web.typed.over", words.P{"n": c.N, "sum": int(gone) + int(lost), "baits": dep.Baits}))
		}
		before, goneBefore, lostBefore = h, int(gone), int(lost)
		dep.Checks = append(dep.Checks, assay.Check{Number: len(dep.Checks) + 1, At: assay.Moment{At: typedAt.Add(time.Duration(h * float64(time.Hour)))},
			Consumed: assay.Some(int(gone)), Lost: assay.Some(int(lost))})
	}
	if len(dep.Checks) == 0 && len(wrong) == 0 {
		wrong = append(wrong, l.Say("web.typed.no-check", nil))
	}
	return dep, wrong
}

// values are the form's counts by column, to begin a record with.
func (f typedForm) values() map[string]string {
	v := map[string]string{"baits_deployed": f.Baits}
	k := 0
	for _, c := range f.Checks {
		if c.Gone == "" && c.Lost == "" {
			continue
		}
		k++
		n := strconv.Itoa(k)
		v["consumed_by_check"+n], v["lost_by_check"+n] = c.Gone, c.Lost
	}
	return v
}

// rowView is one row in words, drawing and numbers.
type rowView struct {
	Says    []string
	Picture picture
	Methods []methodLine
	Form    typedForm
	Keep    map[string]string
	Rate    string
	Tables  []report.NumberTable // the second layer
}

// methodLine is one line of the second layer.
type methodLine struct{ Soak, Share, Range, Bounds string }

// oneRow tells one row: sentences, drawing, and the numbers behind them. Times
// of day are shown only where they are known.
func oneRow(ctx context.Context, l words.Language, dep *assay.Deployment, p assay.Protocol, g *drawings) (*rowView, error) {
	v := &rowView{}
	if g == nil {
		g = &drawings{}
	}
	drawn := report.RowPicture(l, dep, p.CountsAsConsumed, true)
	if dep.SetOut.At.Equal(typedAt) {
		drawn.Title = l.Say("web.typed.picture", nil)
		for i := range drawn.Lines {
			drawn.Lines[i].Sub = ""
		}
	}
	var err error
	if v.Picture, err = g.row(drawn); err != nil {
		return nil, err
	}
	result, err := rates.Compute(ctx, []assay.Deployment{*dep}, rates.Options{Protocols: map[string]*assay.Protocol{"": &p, dep.Protocol: &p}})
	if err != nil {
		return nil, err
	}
	if len(result.Deployments) == 1 {
		v.tell(l, result.Deployments[0])
		v.Says = append(v.Says, report.RowPlain(l, result.Deployments[0], result.Level)...)
		v.Tables = report.RowTables(l, result)
	}
	return v, nil
}

// tell fills in the sentences of the first layer and the lines of the second.
func (v *rowView) tell(l words.Language, r rates.Deployment) {
	if len(r.Checks) == 0 {
		return
	}
	list := words.List{}
	for i, c := range r.Checks {
		slug := "web.says.gone-more"
		if i == 0 {
			slug = "web.says.gone"
		}
		list = append(list, words.Ref{Slug: slug, With: words.P{"n": c.Consumed, "of": r.Baits, "soak": report.SoakWords(c.SoakH)}})
	}
	v.Says = append(v.Says, l.Say("web.says.row", words.P{"list": list}))
	last := r.Checks[len(r.Checks)-1]
	if p, ok := last.Proportion.Get(); ok && last.Lower.Known() {
		v.Says = append(v.Says, l.Say("web.says.of-100", words.P{"share": 100 * p, "lower": 100 * last.Lower.Or(0), "upper": 100 * last.Upper.Or(0), "baits": r.Baits}))
	}
	if last.Lost > 0 {
		v.Says = append(v.Says, l.Say("web.says.lost", words.P{"n": last.Lost, "least": 100 * last.IfLostSurvived, "most": 100 * last.IfLostConsumed}))
	}
	if from, ok := r.HalfGone.FromH.Get(); ok {
		if to, ok := r.HalfGone.ToH.Get(); ok {
			slug := "web.says.half"
			if from == 0 {
				slug = "web.says.half-early"
			}
			v.Says = append(v.Says, l.Say(slug, words.P{"from": report.SoakWords(from), "to": report.SoakWords(to)}))
		}
	}
	f := func(m assay.Maybe[float64], format string) string {
		if x, ok := m.Get(); ok {
			return words.Number(x, format)
		}
		return "–"
	}
	for _, c := range r.Checks {
		v.Methods = append(v.Methods, methodLine{report.SoakWords(c.SoakH), f(c.Proportion, "2"), f(c.Lower, "2") + " – " + f(c.Upper, "2"),
			words.Number(c.IfLostSurvived, "2") + " – " + words.Number(c.IfLostConsumed, "2")})
	}
	v.Rate = l.Say("web.says.rate", words.P{"rate": f(r.RatePerH.Estimate, ""), "lower": f(r.RatePerH.Lower, ""), "upper": f(r.RatePerH.Upper, "")})
}
