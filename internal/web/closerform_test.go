package web

import (
	"archive/zip"
	"bytes"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"soakline/internal/compare"
	"soakline/internal/words"
)

// Everything that the command's flags take can be set on the desk: what the form
// sends reaches the comparison, and an address written from it says the same.
func TestFormTakesEverything(t *testing.T) {
	sent, err := url.ParseQuery("by=habitat&intercepts=site-row&across=observers&across=region&enter=squared%3Atemperature_c&enter=&enter=curve%3Asalinity&enter=split%3Adepth_min_m" +
		"&enter=words%3Ayear&enter=covariate%3Ashore&pair=habitat&pair=time&pair=&pair=time&pair=shore&pair=habitat&profile=spread&profile=habitat%3Dsand&quadrature=9&seed=7&controls=subtract&adjust=simultaneous&bands=checks&reference=sand")
	if err != nil {
		t.Fatal(err)
	}
	o, _ := optionsOf(sent)
	again, err := url.ParseQuery(query(o))
	if err != nil {
		t.Fatal(err)
	}
	back, _ := optionsOf(again)
	for name, x := range map[string]compare.Options{"sent": o, "written": back} {
		for what, pair := range map[string][2][]string{
			"squared": {x.Squared, {"temperature_c"}}, "curve": {x.Curves, {"salinity"}}, "split": {x.Split, {"depth_min_m"}}, "words": {x.AsWords, {"year"}},
			"covariates": {x.Covariates, {"shore", "year"}}, "together": {x.Together, {"habitat,time", "shore,habitat"}}, "profile": {x.Profile, {"habitat=sand", "spread"}},
			"random": {x.Random, {"site", "deployment", "observers", "region"}},
		} {
			if !slices.Equal(pair[0], pair[1]) {
				t.Errorf("%s: %s %q, want %q", name, what, pair[0], pair[1])
			}
		}
		if x.Quadrature != 9 || x.Seed != 7 || x.Controls != "subtract" || x.Adjust != "simultaneous" || x.Bands != "checks" || x.Reference != "sand" {
			t.Errorf("%s: %+v", name, x)
		}
	}
	if query(o) != query(back) {
		t.Errorf("%s\n%s", query(o), query(back))
	}
	usual, _ := url.ParseQuery("across=observers")
	if o, form := optionsOf(usual); !slices.Equal(o.Random, []string{"site", "site-habitat", "deployment", "observers"}) || form.Intercepts != "usual" {
		t.Errorf("%q", o.Random)
	}
	d := &Desk{o: Options{Replicates: 19}}
	for choice, want := range map[string]compare.Options{"auto": {BootstrapAuto: true}, "9999": {Bootstrap: 9999}, "999": {Bootstrap: 19}, "x": {Bootstrap: 19}, "-3": {Bootstrap: 19}} {
		var o compare.Options
		d.simulate(&o, choice)
		if o.Bootstrap != want.Bootstrap || o.BootstrapAuto != want.BootstrapAuto {
			t.Errorf("%s simulates %+v", choice, o)
		}
	}
}

// Chosen on the page and sent as a browser sends it, bends, pairs, spreads across
// sites and profile limits come out in the tables, and the form holds them.
func TestFormReachesTheTables(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	q := x.get(t, "/answer").formOf(t, "/answer")
	for _, name := range []string{"enter", "pair", "seed", "quadrature", "check"} {
		if !q.Has(name) {
			t.Errorf("the form has no %s", name)
		}
	}
	q["enter"], q["pair"] = []string{"squared:temperature_c"}, []string{"habitat", "time"}
	q.Set("across", "observers")
	q.Set("profile", "spread")
	g := x.get(t, "/answer?"+q.Encode())
	sound(t, "/answer", g)
	for _, want := range []string{"temperature_c-squared", "Contrasts for each stretch of time", "0 to 1 h", "lower, profile", "observers", "Likelihood-ratio tests", "without temperature_c"} {
		if !strings.Contains(g.main(), want) {
			t.Errorf("no %q on the page", want)
		}
	}
	for _, want := range []string{`<option value="squared:temperature_c" selected>`, `value="observers" checked`, `value="spread" checked`, `<option value="time" selected>`} {
		if !strings.Contains(g.body, want) {
			t.Errorf("the form does not hold %s", want)
		}
	}
	// what cannot be is said without the command's flags
	g = x.get(t, "/answer?quadrature=9&across=observers")
	if g.status != http.StatusUnprocessableEntity || strings.Contains(g.main(), "--") || !strings.Contains(g.main(), "nested") {
		t.Errorf("%d %.300s", g.status, g.main())
	}
	if g := x.get(t, "/answer"); strings.Contains(g.main(), "--bootstrap") {
		t.Error("the page names the command's flags")
	}
}

// The archive for a paper holds what the command writes, with the checks of the
// closer look and the repetitions once those were made.
func TestPaperFromTheDesk(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	read := func() map[string]string {
		g := x.get(t, "/answer/results/paper")
		z, err := zip.NewReader(bytes.NewReader([]byte(g.body)), int64(len(g.body)))
		if err != nil {
			t.Fatalf("%d %v %.300s", g.status, err, g.body)
		}
		files := map[string]string{}
		for _, f := range z.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			b, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			files[f.Name] = string(b)
		}
		return files
	}
	files := read()
	for _, name := range []string{"methods.md", "references.bib", "model.R", "table-contrasts.csv"} {
		if files[name] == "" {
			t.Errorf("no %s", name)
		}
	}
	if strings.Contains(files["methods.md"], "Checks of the model") {
		t.Error("checks are told that were not made")
	}
	x.post(t, "/answer/closer", url.Values{"query": {""}})
	x.jobs.find("closer", "").settle(t.Context(), time.Minute)
	if g := x.get(t, "/answer"); !strings.Contains(g.main(), "Does the conclusion change?") || !strings.Contains(g.main(), "every lost bait survived") {
		t.Error("the closer look does not tell of the repetitions")
	}
	files = read()
	if text := files["methods.md"]; !strings.Contains(text, "Checks of the model") || !strings.Contains(text, "each site left out in turn") {
		t.Errorf("the methods section does not tell of the checks:\n%.2000s", text)
	}
}

// Seen in a browser: the work begins from the page's own button, shows how far it is,
// goes on when the page is closed, and its result is there afterwards; another is
// stopped by its button; after a change of the data the result is marked as old.
func TestLongWorkInABrowser(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t)
	x.o.Replicates, x.o.Patience = 4000, 50*time.Millisecond
	b := browse(t, x, 1440)
	b.open(x.Ticket("/answer"))
	for range 200 { // the quick answer itself is work that the page waits for
		if evaluate[bool](b, `!!document.querySelector("form[action='/answer/exact']")`) {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	evaluate[bool](b, `document.querySelector("form[action='/answer/exact'] button").click(), true`)
	for range 200 {
		if evaluate[int](b, `(document.querySelector("[data-job] progress")||{}).value||0`) > 0 {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	if far := evaluate[string](b, `(document.querySelector("[data-job] .far")||{}).textContent||""`); !strings.Contains(far, "of 4000 done") {
		t.Errorf("progress says %q", far)
	}
	// stopped by its button
	evaluate[bool](b, `document.querySelector("form[action^='/jobs/'] button").click(), true`)
	j := x.jobs.find("exact", "")
	if !j.settle(t.Context(), time.Minute) {
		t.Fatal("the button did not stop the work")
	}
	if _, _, _, _, err := j.state(); err == nil {
		t.Error("stopped work has a result")
	}
	// begun anew, its page closed: it goes on, and the result is there
	x.o.Replicates = 19
	reach(b, x.srv.URL+"/answer")
	evaluate[bool](b, `document.querySelector("form[action='/answer/exact'] button").click(), true`)
	for range 100 {
		if k := x.jobs.find("exact", ""); k != nil && k != j {
			j = k
			break
		}
		time.Sleep(50 * time.Millisecond)
	}
	reach(b, "about:blank")
	if !j.settle(t.Context(), time.Minute) {
		t.Fatal("work ended with its page")
	}
	reach(b, x.srv.URL+"/answer")
	text := evaluate[string](b, `document.querySelector("main").textContent`)
	if !strings.Contains(text, "bootstrap of 19 replicates") || !strings.Contains(text, "limits and p by 19 simulated seasons") {
		t.Error("the result is not there")
	}
	row := evaluate[string](b, `document.querySelector("main td a[href^='/rows/']").getAttribute("href")`)
	x.enter(t).post(t, row+"/withdraw", url.Values{"why": {"here"}})
	for range 100 {
		reach(b, x.srv.URL+"/answer")
		if text = evaluate[string](b, `document.querySelector("main").textContent`); strings.Contains(text, "before the last change of the data") {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Error("a result of earlier data is not marked")
}

// reach opens an address also where a form that was just sent is still loading.
func reach(b *tab, address string) {
	b.t.Helper()
	var err error
	for range 20 {
		if err = chromedp.Do(b.ctx, chromedp.Navigate(address)); err == nil {
			return
		}
		time.Sleep(200 * time.Millisecond)
	}
	b.t.Fatal(err)
}
