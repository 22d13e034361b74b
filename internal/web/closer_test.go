package web

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"soakline/internal/words"
)

// The closer look is work in the background: it goes on without its page, can be
// stopped, shows its drawings with their sentences when done, in every language,
// and is marked when the data or the settings change under it.
func TestCloserLookInTheBackground(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	g := x.get(t, "/answer")
	if !strings.Contains(g.body, `action="/answer/closer"`) || strings.Contains(g.main(), "Residuals against what the model says") {
		t.Fatalf("the closer look cannot be asked for, or is there unasked: %.300s", g.main())
	}
	x.post(t, "/answer/closer", url.Values{"query": {""}})
	j := x.jobs.find("closer", "")
	if j == nil || !j.settle(t.Context(), time.Minute) {
		t.Fatal("no closer look at work")
	}
	if _, _, _, _, err := j.state(); err != nil {
		t.Fatal(err)
	}
	g = x.get(t, "/answer")
	sound(t, "/answer", g)
	for _, want := range []string{"Residuals against what the model says", "An intercept for each row and interval", "Moran", "from 19 simulated and refitted seasons",
		"each site left out in turn", "Rows of each habitat", "coincides with habitat"} {
		if !strings.Contains(g.main(), want) {
			t.Errorf("the closer look does not say %q", want)
		}
	}
	if n := strings.Count(g.body, "<svg"); n < 2*8 {
		t.Errorf("%d drawings on the page", n)
	}
	// Other settings: not the same look.
	if other := x.get(t, "/answer?level=0.9"); strings.Contains(other.main(), "Moran") || !strings.Contains(other.body, `action="/answer/closer"`) {
		t.Error("the closer look of other settings is shown")
	}
	// The data change: the look is marked as of earlier data.
	row := x.get(t, "/rows").href(t, "/rows/0")
	x.post(t, row+"/withdraw", url.Values{"why": {"here"}})
	g = x.get(t, "/answer")
	if strings.Contains(g.main(), "Moran") || !strings.Contains(g.main(), "The closer look was taken before") {
		t.Errorf("a closer look of earlier data is not marked: %.900s", g.main())
	}
	// Stopped, it can be asked for again.
	x.post(t, "/answer/closer", url.Values{"query": {"by=team"}})
	j = x.jobs.find("closer", "")
	x.post(t, "/jobs/"+j.id+"/cancel", url.Values{"back": {"/answer"}})
	if !j.settle(t.Context(), time.Minute) {
		t.Error("a stopped look does not end")
	}
}

// Seen in a browser, the closer look keeps inside the page at both widths.
func TestCloserLookFitsThePage(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t)
	b := browse(t, x, 360)
	x.enter(t).post(t, "/answer/closer", url.Values{"query": {""}})
	x.jobs.find("closer", "").settle(t.Context(), time.Minute)
	for name, width := range widths {
		b.do(chromedp.EmulateViewport(int64(width), 900))
		b.open(x.Ticket("/answer"))
		b.shot("closer-" + name + ".png")
		if n := evaluate[int](b, `[...document.querySelectorAll("#closer svg")].filter(s=>s.getBoundingClientRect().width>0).length`); n < 8 {
			t.Errorf("%s: %d drawings are seen", name, n)
		}
		if over := evaluate[int](b, `document.documentElement.scrollWidth - document.documentElement.clientWidth`); over > 0 {
			t.Errorf("%s: the page is %d px wider than its window", name, over)
		}
	}
}

// In Spanish nothing is missing either.
func TestCloserLookInSpanish(t *testing.T) {
	x := newDesk(t, words.Spanish).withDemo(t).enter(t)
	x.post(t, "/answer/closer", url.Values{"query": {""}})
	x.jobs.find("closer", "").settle(t.Context(), time.Minute)
	g := x.get(t, "/answer")
	sound(t, "/answer", g)
	if i := strings.IndexAny(g.main(), "⟨⟩"); i >= 0 {
		t.Errorf("a slug or parameter is missing near %.120s", g.main()[max(0, i-60):])
	}
	if !strings.Contains(g.main(), "Los residuos frente a lo que dice el modelo") {
		t.Error("the closer look is not in Spanish")
	}
}

// Every choice of the form for the methods section comes back as it was chosen
// and reaches the comparison.
func TestAnswerFormHoldsItsChoices(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	q := "check=1&covariate=temperature_c&family=betabinomial&intercepts=none&level=0.9&link=logit&quadrature=5"
	values, err := url.ParseQuery(q)
	if err != nil {
		t.Fatal(err)
	}
	o, form := optionsOf(values)
	if o.Check != 1 || o.Family != "betabinomial" || o.Random == nil || len(o.Random) != 0 || o.Quadrature != 5 || o.Link != "logit" || o.Level != 0.9 {
		t.Errorf("options %+v", o)
	}
	if got := query(o); got != q {
		t.Errorf("written back as %q", got)
	}
	if form.Intercepts != "none" || form.Check != "1" {
		t.Errorf("form %+v", form)
	}
	if usual, _ := optionsOf(url.Values{}); query(usual) != "" || usual.Random != nil {
		t.Errorf("the usual settings are written as %q", query(usual))
	}
	g := x.get(t, "/answer?"+q)
	sound(t, "/answer?"+q, g)
	for _, want := range []string{`<option value="1" selected>proportion at check 1 alone`, `<option value="betabinomial" selected>`, `<option value="none" selected>none`,
		`<option value="5" selected>adaptive quadrature, 5 points`, `<option value="covariate:temperature_c" selected>`} {
		if !strings.Contains(g.body, want) {
			t.Errorf("the form does not hold %s", want)
		}
	}
	// What cannot go together is said, with the form at hand.
	g = x.get(t, "/answer?family=betabinomial")
	if g.status != 422 || !strings.Contains(g.body, `name="family"`) {
		t.Errorf("a beta-binomial of all checks gave %d", g.status)
	}
}
