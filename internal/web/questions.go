package web

import (
	"net/http"
	"net/url"
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/task"
	"soakline/internal/words"
)

// questionHref is the page of one finding.
func questionHref(f assay.Finding) string {
	return "/questions/one?" + url.Values{"row": {f.Key}, "rule": {f.Slug}, "check": {strconv.Itoa(f.Check)}, "field": {f.Field}}.Encode()
}

// findingOf is the finding that a request names; false when it is gone, as it
// is once its values were mended.
func findingOf(s *task.Season, r *http.Request) (assay.Finding, bool) {
	want := assay.Finding{Key: r.FormValue("row"), Slug: r.FormValue("rule"), Check: atoi(r.FormValue("check")), Field: r.FormValue("field")}
	for _, f := range s.Findings {
		if same(f, want) {
			return f, true
		}
	}
	return want, false
}

func same(a, b assay.Finding) bool {
	return a.Key == b.Key && a.Slug == b.Slug && a.Check == b.Check && a.Field == b.Field
}

// questionsView lists what waits and what was said.
type questionsView struct {
	Next     nextStep
	Open     []questionItem
	More     string // how many further ones wait
	Answered []questionItem
	Notes    []noteItem
}

type questionItem struct {
	mark
	ID, Row, Site, Answer string
}

// noteItem is one deviation to declare, with how many rows share it.
type noteItem struct {
	Text string
	N    int
	Rows []questionItem
}

func (d *Desk) questionsPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	sites := map[string]string{}
	for i := range s.Deployments {
		sites[s.Deployments[i].Key] = s.Deployments[i].Site
	}
	item := func(f assay.Finding) questionItem {
		return questionItem{mark: markOf(l, f), ID: f.DeploymentID, Row: rowHref(f.Key), Site: sites[f.Key], Answer: f.Answer}
	}
	v := questionsView{Next: next(l, s)}
	open := openFindings(s)
	for _, f := range open[:min(len(open), shownFindings)] {
		v.Open = append(v.Open, item(f))
	}
	if more := len(open) - len(v.Open); more > 0 {
		v.More = l.Say("web.questions.more", words.P{"n": more})
	}
	at := map[string]int{}
	for _, f := range s.Findings {
		switch {
		case f.Severity == assay.Ask && f.Answered && len(v.Answered) < shownFindings:
			v.Answered = append(v.Answered, item(f))
		case f.Severity == assay.Note:
			i, ok := at[f.Slug]
			if !ok {
				i = len(v.Notes)
				at[f.Slug] = i
				v.Notes = append(v.Notes, noteItem{Text: sentence(l.Say("finding."+f.Slug, f.With))})
			}
			v.Notes[i].N++
			if len(v.Notes[i].Rows) < 40 {
				v.Notes[i].Rows = append(v.Notes[i].Rows, questionItem{ID: f.DeploymentID, Row: rowHref(f.Key)})
			}
		}
	}
	return d.show(w, r, b, http.StatusOK, "questions", l.Say("web.questions.title", words.P{}), v)
}
