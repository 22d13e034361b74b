package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"soakline/internal/plan"
	"soakline/internal/words"
)

// A plan is looked at, kept, run and withdrawn from its page, before there is any
// row and after; what is wrong is said beside what was typed.
func TestPlanPage(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	if g := x.get(t, "/answer"); !strings.Contains(g.body, `href="/plan"`) {
		t.Error("a logbook without rows does not lead to the plan")
	}
	form := x.get(t, "/plan").formOf(t, "/plan")
	form.Set("question", "reef or sand?")
	form.Set("among", "sand\n\n reef \n")
	form.Set("link", "logit")
	form.Set("check", "1")
	form.Set("sites", "many")
	form.Set("do", "look")
	g := x.post(t, "/plan", form)
	if g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "many is not possible") || g.formOf(t, "/plan").Get("question") != "reef or sand?" {
		t.Errorf("%d %.600s", g.status, g.main())
	}
	form.Set("sites", "3")
	g = x.post(t, "/plan", form)
	sound(t, "/plan with a draft", g)
	for _, want := range []string{"among: reef\namong: sand\n", "link: logit\n", "check: 1\n", "sites: 3\n", "simulated seasons: 999\n", "rows set out or read by then: 0\n"} {
		if !strings.Contains(g.body, want) {
			t.Errorf("the draft does not say %q", want)
		}
	}
	again := g.formOf(t, "/plan")
	if again.Get("link") != "logit" || again.Get("sites") != "3" {
		t.Errorf("looking loses what was typed: %v", again)
	}
	if strings.Contains(x.get(t, "/plan").main(), "Plan of") {
		t.Error("looking kept a plan")
	}
	again.Set("do", "keep")
	g = x.post(t, "/plan", again)
	if !strings.Contains(g.main(), "Kept before the first row was set out. Answers are held against it.") {
		t.Errorf("%.600s", g.main())
	}
	file := ""
	for _, a := range find(g.doc, "a", nil) {
		if strings.HasSuffix(attr(a, "href"), ".txt") {
			file = attr(a, "href")
		}
	}
	text := x.get(t, file)
	if hash := strings.TrimSuffix(strings.TrimPrefix(file, "/plan/"), ".txt"); plan.Hash(text.body) != hash {
		t.Errorf("the file %s does not have its hash:\n%s", file, text.body)
	}
	if g := x.get(t, "/plan/0000.txt"); g.status != http.StatusNotFound {
		t.Errorf("%d", g.status)
	}
	// The same again is the same; without a reason it is not withdrawn.
	if g = x.post(t, "/plan", again); !strings.Contains(g.main(), "kept already") && !strings.Contains(g.body, "kept already") {
		t.Error("a plan is kept twice")
	}
	way := strings.TrimSuffix(file, ".txt") + "/withdraw"
	if g = x.post(t, way, url.Values{"why": {" "}}); g.status != http.StatusUnprocessableEntity {
		t.Errorf("withdrawn without a reason: %d", g.status)
	}
	if g = x.post(t, way, url.Values{"why": {"another bay"}}); !strings.Contains(g.main(), "withdrawn: another bay") {
		t.Errorf("%.600s", g.main())
	}
	if g = x.post(t, way, url.Values{"why": {"a slip"}, "back": {"yes"}}); strings.Contains(g.main(), "another bay") {
		t.Errorf("%.600s", g.main())
	}
}

// In a season with rows the answer says that it is no plan made before the data,
// what was done otherwise, and runs as planned by a link.
func TestAnswerSaysWhatWasPlanned(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	if g := x.get(t, "/answer"); !strings.Contains(g.main(), "No analysis plan is kept in this logbook") || strings.Contains(g.main(), "As planned") {
		t.Errorf("without a plan: %.600s", g.main())
	}
	form := x.get(t, "/plan").formOf(t, "/plan")
	form.Set("level", "0.9")
	form.Set("enter", "covariate:temperature_c")
	form.Set("do", "keep")
	g := x.post(t, "/plan", form)
	if !strings.Contains(g.main(), "already set out: it is no plan made before the data") {
		t.Errorf("%.600s", g.main())
	}
	g = x.get(t, "/answer")
	for _, want := range []string{"it is no plan made before the data", "confidence level (planned 0.9, done 0.95)", "Planned, but not in this result: covariate temperature_c"} {
		if !strings.Contains(g.main(), want) {
			t.Errorf("the answer does not say %q", want)
		}
	}
	run := ""
	for _, a := range find(x.get(t, "/plan").doc, "a", nil) {
		if strings.HasPrefix(attr(a, "href"), "/answer?") {
			run = attr(a, "href")
		}
	}
	if !strings.Contains(run, "level=0.9") || !strings.Contains(run, "covariate=temperature_c") {
		t.Fatalf("run as planned: %q", run)
	}
	if g = x.get(t, run); strings.Contains(g.main(), "Not as planned") || !strings.Contains(g.main(), "covariate temperature_c") {
		t.Errorf("as planned: %.900s", g.main())
	}
}
