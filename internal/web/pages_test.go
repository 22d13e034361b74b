package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"soakline/internal/words"
)

// everyPage lists the pages of a desk with a season; keys stand for a row's.
func everyPage(t testing.TB, x *testDesk) []string {
	t.Helper()
	pages := []string{"/start", "/row?baits=25&hours1=1&gone1=9&lost1=&hours2=24&gone2=21&lost2=2", "/row?baits=x", "/rows", "/rows?only=open", "/rows?page=2", "/rows/new",
		"/questions", "/sheets", "/answer", "/answer?by=team", "/plan", "/sites", "/publish", "/logbook", "/keep", "/nowhere"}
	rows := x.get(t, "/rows")
	row := rows.href(t, "/rows/0")
	pages = append(pages, row, row+"/mend")
	key := strings.TrimPrefix(row, "/rows/")
	pages = append(pages, "/print", "/prep?rows=24&helpers=3", "/prep?rows=0x", "/gear", "/packing?day=2026-07-05&team=Brisa&rows=3", "/type", "/type/sheet?id=NEW1&level=counts", "/type/sheet?id=NEW1&level=stakes", "/type/sheet?id="+key+"&level=stakes", "/type/sheet?id="+key+"&how=again")
	pages = append(pages, "/days", x.get(t, "/sites").href(t, "/sites/0"), x.tideSite(t))
	for _, a := range find(x.get(t, "/questions").doc, "a", func(n *html.Node) bool { return strings.HasPrefix(attr(n, "href"), "/questions/one") }) {
		pages = append(pages, attr(a, "href"))
	}
	return pages
}

// Every page answers, holds no inline script or style, labels every field, has
// one h1, a language, and ids that stand once.
func TestEveryPageIsSound(t *testing.T) {
	for _, l := range words.Languages {
		x := newDesk(t, l).withDemo(t).enter(t)
		for _, path := range everyPage(t, x) {
			g := x.get(t, path)
			want := http.StatusOK
			switch path {
			case "/nowhere":
				want = http.StatusNotFound
			case "/row?baits=x":
				want = http.StatusUnprocessableEntity
			}
			if g.status != want {
				t.Errorf("%s %s gave %d:\n%s", l, path, g.status, g.main())
				continue
			}
			sound(t, path, g)
			if !strings.Contains(g.body, l.Say("web.invented", nil)) {
				t.Errorf("%s: does not say that all is invented", path)
			}
			if i := strings.IndexAny(g.main(), "⟨⟩"); i >= 0 {
				t.Errorf("%s %s: a slug or parameter is missing near %.120s", l, path, g.main()[max(0, i-60):])
			}
		}
	}
}

func sound(t *testing.T, path string, g *got) {
	t.Helper()
	if n := len(find(g.doc, "h1", nil)); n != 1 {
		t.Errorf("%s has %d h1", path, n)
	}
	if h := find(g.doc, "html", nil); attr(h[0], "lang") == "" {
		t.Errorf("%s has no language", path)
	}
	ids := map[string]int{}
	labels := map[string]bool{}
	each(g.doc, func(n *html.Node) {
		if n.Type != html.ElementNode {
			return
		}
		if id := attr(n, "id"); id != "" {
			ids[id]++
		}
		if n.Data == "label" {
			labels[attr(n, "for")] = true
		}
		for _, a := range n.Attr {
			if a.Key == "style" || strings.HasPrefix(a.Key, "on") {
				t.Errorf("%s: <%s %s> is inline", path, n.Data, a.Key)
			}
		}
		switch {
		case n.Data == "style", n.Data == "script" && attr(n, "src") == "":
			t.Errorf("%s: inline <%s>", path, n.Data)
		case n.Data == "form" && attr(n, "method") == "":
			t.Errorf("%s: a form without a method", path)
		}
	})
	for id, n := range ids {
		if n > 1 {
			t.Errorf("%s: id %s stands %d times", path, id, n)
		}
	}
	each(g.doc, func(n *html.Node) {
		if n.Type == html.ElementNode && (n.Data == "input" && attr(n, "type") != "hidden" || n.Data == "select" || n.Data == "textarea") && !labels[attr(n, "id")] {
			t.Errorf("%s: field %s has no label", path, attr(n, "name"))
		}
	})
	for _, a := range find(g.doc, "a", nil) {
		if to := attr(a, "href"); !strings.HasPrefix(to, "/") && !strings.HasPrefix(to, "#") {
			t.Errorf("%s: link to %q leaves the desk", path, to)
		}
	}
}

var hasLetter = regexp.MustCompile(`\p{L}{2,}`)

// Under the pseudo language every text comes in brackets, unless it is data
// (translate="no"), a drawing's own text, or no word.
func TestNoStringPassesTheCatalogue(t *testing.T) {
	x := newDesk(t, words.Pseudo).withDemo(t).enter(t)
	for _, path := range everyPage(t, x) {
		g := x.get(t, path)
		each(g.doc, func(n *html.Node) {
			if n.Type == html.TextNode && hasLetter.MatchString(n.Data) && !strings.Contains(n.Data, "⟦") && !isData(n) {
				t.Errorf("%s: %q did not come from the catalogue", path, strings.TrimSpace(n.Data))
			}
			for _, name := range []string{"aria-label", "label", "title", "placeholder", "alt"} {
				if v := attr(n, name); n.Type == html.ElementNode && v != "" && !strings.Contains(v, "⟦") && n.Namespace != "svg" {
					t.Errorf("%s: %s=%q did not come from the catalogue", path, name, v)
				}
			}
		})
	}
}

// isData says whether a text is a value, a drawing, or nothing people read.
func isData(n *html.Node) bool {
	for p := n.Parent; p != nil; p = p.Parent {
		if attr(p, "translate") == "no" || p.Data == "svg" || p.Data == "script" || p.Data == "noscript" || p.Data == "textarea" {
			return true
		}
	}
	return false
}

// The first layer has no word of a statistician, in either language; the part
// for the methods section is left out of the search.
func TestFirstLayerIsPlain(t *testing.T) {
	bad := map[words.Language]*regexp.Regexp{
		words.English: regexp.MustCompile(`(?i)\b(p-value|hazard|random|signific\w*|model|bootstrap|likelihood|confidence|covariate|intercept|p\s*[<=]\s*0)\b`),
		words.Spanish: regexp.MustCompile(`(?i)\b(valor p|riesgo|aleatori\w*|signific\w*|modelo|bootstrap|verosimilitud|confianza|covariable|intercepto|p\s*[<=]\s*0)\b`),
	}
	for l, re := range bad {
		x := newDesk(t, l).withDemo(t).enter(t)
		for _, path := range everyPage(t, x) {
			g := x.get(t, path)
			var plain strings.Builder
			each(g.doc, func(n *html.Node) {
				if n.Type != html.TextNode {
					return
				}
				for p := n.Parent; p != nil; p = p.Parent {
					if p.Data == "details" && strings.Contains(attr(p, "class"), "second") || p.Data == "option" {
						return
					}
				}
				plain.WriteString(n.Data + " ")
			})
			if found := re.FindString(plain.String()); found != "" {
				t.Errorf("%s %s: %q on the first layer", l, path, found)
			}
		}
	}
}

// One typed row: 9 of 25 after 1 h and 21 after 24 h. 21/25 = 84 %; Wilson's
// interval by hand, z = 1.959964: centre (0.84 + z²/50)/(1 + z²/25) = 0.7947,
// half width 1.959964·sqrt(0.84·0.16/25 + z²/2500)/(1 + z²/25) = 0.1412: 65 to
// 94 of 100 to the nearest whole number.
func TestTypedRow(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	start := x.get(t, "/start")
	form := start.formOf(t, "/row")
	form.Set("gone1", "9")
	form.Set("gone2", "21")
	g := x.get(t, "/row?"+form.Encode())
	for _, want := range []string{"9 of 25 baits were gone after 1 h and 21 after 24 h.", "84 of 100", "65 to 94 of 100", "between 1 h and 24 h"} {
		if !strings.Contains(g.main(), want) {
			t.Errorf("no %q in %s", want, g.main())
		}
	}
	if n := len(find(g.doc, "svg", nil)); n != 2 {
		t.Errorf("%d drawings, want one for each width", n)
	}
	// Typing two numbers and pressing the button are three actions; five are allowed.
	for name, query := range map[string]string{
		"more gone than set out": "baits=25&hours1=1&gone1=26",
		"fewer gone later":       "baits=25&hours1=1&gone1=9&hours2=24&gone2=8",
		"later before":           "baits=25&hours1=24&gone1=9&hours2=1&gone2=10",
		"no check":               "baits=25&hours1=1&gone1=",
		"no number":              "baits=lots&hours1=1&gone1=2",
		"negative":               "baits=25&hours1=1&gone1=-2",
		"not finite":             "baits=25&hours1=inf&gone1=2",
		"huge":                   "baits=1e99&hours1=1&gone1=2",
	} {
		if g := x.get(t, "/row?"+query); g.status != http.StatusUnprocessableEntity || len(find(g.doc, "div", func(n *html.Node) bool { return attr(n, "role") == "alert" })) == 0 {
			t.Errorf("%s: %d, %s", name, g.status, g.main())
		}
	}
}

func TestMakeOpenAndKeepARow(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	g := x.post(t, "/new", url.Values{"name": {"Summer / 2026"}, "folder": {x.folder}, "who": {"Ana"}, "zone": {"Europe/Lisbon"}})
	if g.at.Path != "/rows" || !strings.Contains(g.main(), "No rows yet") {
		t.Fatalf("%s: %s", g.at, g.main())
	}
	form := x.get(t, "/rows/new?v:consumed_by_check1=9").formOf(t, "/rows/new")
	if form.Get("v:consumed_by_check1") != "9" {
		t.Errorf("the form does not begin with what was typed: %v", form)
	}
	if g := x.post(t, "/rows/new", form); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.main(), "Site: it is empty") {
		t.Errorf("a row without its site was kept: %d %s", g.status, g.main())
	}
	form.Set("v:site", "Kell Spit")
	form.Set("v:habitat", "sand")
	form.Set("v:deployed_at", "2026-07-01 09:00")
	form.Set("v:check1_at", "2026-07-01 10:02")
	form.Set("v:notes", "<script>alert(1)</script>")
	g = x.post(t, "/rows/new", form)
	if g.status != http.StatusOK || !strings.Contains(g.main(), "Row R1 is kept") || !strings.Contains(g.main(), "9 of 25 baits were gone after 1 h 02 min") {
		t.Fatalf("%d %s", g.status, g.main())
	}
	if strings.Contains(g.body, "<script>alert") {
		t.Error("a note came out as a script")
	}
	key := strings.TrimPrefix(g.at.Path, "/rows/")
	// Mend a value, with a reason; without one it is refused.
	form = x.get(t, "/rows/"+key+"/mend").formOf(t, "/mend")
	form.Set("v:consumed_by_check1", "8")
	if g := x.post(t, "/rows/"+key+"/mend", form); g.status != http.StatusUnprocessableEntity {
		t.Errorf("mended without a reason: %d", g.status)
	}
	form.Set("why", "misread")
	g = x.post(t, "/rows/"+key+"/mend", form)
	if !strings.Contains(g.main(), "8 of 25") || !strings.Contains(g.main(), "Check 1: baits consumed 9 → 8") || !strings.Contains(g.main(), "misread") {
		t.Errorf("history: %s", g.main())
	}
	if n := strings.Count(g.main(), "→"); n != 1 {
		t.Errorf("%d fields changed, want the one that was mended: %s", n, g.main())
	}
	g = x.post(t, "/undo", g.formOf(t, "/undo"))
	if !strings.Contains(g.main(), "9 of 25") {
		t.Errorf("undo: %s", g.main())
	}
	g = x.post(t, "/rows/"+key+"/withdraw", url.Values{"why": {"a practice row"}})
	if !strings.Contains(g.main(), "was taken out") {
		t.Errorf("withdraw: %s", g.main())
	}
	if g := x.get(t, "/rows"); !strings.Contains(g.main(), "One row taken out") {
		t.Errorf("rows: %s", g.main())
	}
	g = x.post(t, "/rows/"+key+"/back", url.Values{"why": {"it was not"}})
	if strings.Contains(g.main(), "was taken out") {
		t.Errorf("back: %s", g.main())
	}
	// The copy is a logbook.
	if g := x.get(t, "/logbook/copy"); !strings.HasPrefix(g.body, "SQLite format 3") || !strings.Contains(g.header.Get("Content-Disposition"), ".logbook") {
		t.Errorf("copy: %v", g.header)
	}
}

func TestQuestionsAreAnsweredAndMended(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	g := x.get(t, "/rows")
	if !strings.Contains(g.main(), "One question stands between you and the answer.") {
		t.Fatalf("%.200s", g.main())
	}
	q := x.get(t, g.href(t, "/questions/one"))
	form := q.formOf(t, "/questions/answer")
	if g := x.post(t, "/questions/answer", form); g.status != http.StatusUnprocessableEntity {
		t.Errorf("an empty answer was kept: %d", g.status)
	}
	form.Set("answer", "a storm took the stakes")
	g = x.post(t, "/questions/answer", form)
	if g.at.Path != "/rows" || !strings.Contains(g.main(), "Every question is answered") {
		t.Errorf("%s %.300s", g.at, g.main())
	}
	if g := x.get(t, "/questions"); !strings.Contains(g.main(), "a storm took the stakes") {
		t.Error("the answer is not listed")
	}
	// Take it back.
	x.post(t, "/undo", g.formOf(t, "/undo"))
	if g := x.get(t, "/rows"); !strings.Contains(g.main(), "One question stands") {
		t.Errorf("after undo: %.200s", g.main())
	}
}

func TestAnswerPage(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	g := x.get(t, "/answer")
	for _, want := range []string{"of 100 baits were gone", "Rows that are not in it", "For the methods section", "Likelihood-ratio test"} {
		if !strings.Contains(g.main(), want) {
			t.Errorf("no %q in %.500s", want, g.main())
		}
	}
	// Sentences and limits agree: of the three pairs, one has limits on both sides of 1.
	if n := strings.Count(g.main(), "are not told apart"); n != 1 {
		t.Errorf("%d pairs are told as alike, want the one of reef and seagrass: %.900s", n, g.main())
	}
	for kind, begins := range map[string]string{"xlsx": "PK", "csv": "PK"} {
		if g := x.get(t, "/answer/results/"+kind); g.status != http.StatusOK || !strings.HasPrefix(g.body, begins) {
			t.Errorf("%s: %d %.20q", kind, g.status, g.body)
		}
	}
	if g := x.get(t, "/answer?by=nothing_like_it"); g.status != http.StatusUnprocessableEntity || len(find(g.doc, "form", func(n *html.Node) bool { return attr(n, "action") == "/answer" })) == 0 {
		t.Errorf("an impossible comparison: %d %.300s", g.status, g.main())
	}
	if g := x.get(t, "/answer?covariate=temperature_c&level=0.9&bands=checks&link=cloglog"); g.status != http.StatusOK || !strings.Contains(g.main(), "temperature_c") {
		t.Errorf("with a covariate: %d %.300s", g.status, g.main())
	}
}

// A long calculation goes on without its page, can be stopped, and is marked
// when the data have changed since.
func TestExactAnswerInTheBackground(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	x.o.Replicates = 5000
	g := x.post(t, "/answer/exact", url.Values{"query": {""}})
	if g.at.Path != "/answer" || !strings.Contains(g.main(), "Simulating seasons") {
		t.Fatalf("%s %.300s", g.at, g.main())
	}
	j := x.jobs.find("exact", "")
	if !x.jobs.running() || x.IdleFor() != 0 {
		t.Error("a desk at work counts as idle")
	}
	if g := x.get(t, "/rows"); g.status != http.StatusOK {
		t.Errorf("another page waits for the work: %d", g.status)
	}
	g = x.post(t, "/jobs/"+j.id+"/cancel", url.Values{"back": {"/answer"}})
	if _, _, ended, _, err := j.state(); !ended || err == nil {
		t.Errorf("not stopped: ended %v, %v", ended, err)
	}
	if !strings.Contains(g.main(), "Stopped") {
		t.Errorf("%.200s", g.main())
	}
	// A short one comes to its end, and is marked once the data have changed.
	x.o.Replicates = 3
	x.post(t, "/answer/exact", url.Values{"query": {""}})
	x.jobs.find("exact", "").settle(t.Context(), time.Minute)
	if g := x.get(t, "/answer"); !strings.Contains(g.main(), "bootstrap of 3 replicates") {
		t.Errorf("%.400s", g.main())
	}
	q := x.get(t, x.get(t, "/rows").href(t, "/questions/one")).formOf(t, "/questions/answer")
	q.Set("answer", "a storm took the stakes")
	x.post(t, "/questions/answer", q)
	if g := x.get(t, "/answer"); !strings.Contains(g.main(), "before the last change of the data") || strings.Contains(g.main(), "bootstrap of 3 replicates") {
		t.Errorf("a stale result is not marked: %.400s", g.main())
	}
}

func TestSettingsAndSites(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	form := x.get(t, "/logbook").formOf(t, "/logbook")
	form.Set("title", "Bay & shore")
	form.Set("zone", "Nowhere/Land")
	if g := x.post(t, "/logbook", form); g.status != http.StatusUnprocessableEntity {
		t.Errorf("an unknown zone was kept: %d", g.status)
	}
	form.Set("zone", "Europe/Lisbon")
	if g := x.post(t, "/logbook", form); !strings.Contains(textOf(g.doc), "Bay & shore") {
		t.Errorf("%s", g.main())
	}
	g := x.post(t, "/sites", url.Values{"name": {"Kell Spit"}, "also": {"Kell, K. Spit"}, "zone": {"Europe/Lisbon"}})
	if !strings.Contains(g.main(), "Kell Spit is kept") {
		t.Errorf("%.300s", g.main())
	}
	if g := x.post(t, "/sites", url.Values{"name": {"Other"}, "also": {"Kell"}}); g.status != http.StatusUnprocessableEntity {
		t.Errorf("a name of two sites: %d", g.status)
	}
	if g := x.post(t, "/habitats", url.Values{"name": {"kelp"}, "also": {"macroalgae"}}); !strings.Contains(g.main(), "kelp") {
		t.Errorf("%.300s", g.main())
	}
	g = x.post(t, "/language", url.Values{"lang": {"es"}, "back": {"//evil.example/"}})
	if g.at.Host != x.srv.Listener.Addr().String() || !strings.Contains(g.main(), "Filas") {
		t.Errorf("%s %.100s", g.at, g.main())
	}
	if g := x.post(t, "/close", nil); !strings.Contains(g.main(), "cerrado") {
		t.Errorf("%.200s", g.main())
	}
	select {
	case <-x.Done():
	default:
		t.Error("the button did not close the desk")
	}
}

func TestOpeningSaysWhatIsWrong(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	for name, path := range map[string]string{"nothing": "", "missing": "no.logbook", "folder": x.folder} {
		g := x.post(t, "/open", url.Values{"path": {path}})
		alerts := 0
		if g.doc != nil {
			alerts = len(find(g.doc, "div", func(n *html.Node) bool { return attr(n, "role") == "alert" }))
		}
		if g.status != http.StatusUnprocessableEntity || alerts == 0 {
			t.Errorf("%s: %d %.200s", name, g.status, g.main())
		}
	}
}

func TestSentenceBeginsWithACapital(t *testing.T) {
	for in, want := range map[string]string{"": "", "ñandú": "Ñandú", "⟦ëx": "⟦Ëx", "25": "25"} {
		if got := sentence(in); got != want {
			t.Errorf("sentence(%q) = %q, want %q", in, got, want)
		}
	}
}
