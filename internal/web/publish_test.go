package web

import (
	"archive/zip"
	"bytes"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"soakline/internal/words"
)

func (b *tab) set(sel, value string) {
	b.t.Helper()
	evaluate[bool](b, `(()=>{const e=document.querySelector(`+"`"+sel+"`"+`); if(e.type==="checkbox") e.checked=true; else e.value=`+"`"+value+"`"+`; return true})()`)
}

func (b *tab) press(sel string) {
	b.t.Helper()
	evaluate[bool](b, "window.stale=true; document.querySelector(`"+sel+"`).focus(); true")
	b.keys(kb.Enter)
	b.arrived()
}

// From a season to a folder that others can use: what is missing is told, what
// is said of it is kept, a place is hidden, somebody agrees to be named, and
// the folder is there; then the same as a zip, and the release once more.
func TestJourneyPublish(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t)
	b := browse(t, x, 1440)
	b.open(x.Ticket("/"))
	b.press("nav a[href='/publish']")
	if got := b.text("main"); !strings.Contains(got, "Title, licence or contact is missing") {
		t.Fatalf("nothing is said to be missing:\n%.900s", got)
	}
	b.shot("publish-begin-1440.png")
	b.do(chromedp.EmulateViewport(360, 900))
	b.shot("publish-begin-360.png")
	b.do(chromedp.EmulateViewport(1440, 900))
	for sel, v := range map[string]string{"#title": "Bait consumption on invented shores, 2025", "#licence": "CC-BY-4.0", "#publisher": "Larkwater (invented)", "#contact_name": "Ana Ejemplo", "#contact_email": "ana@example.org",
		"#abstract": strings.Repeat("Rows of baits were set out on invented shores and read twice. ", 3)} {
		b.set(sel, v)
	}
	b.press("form[action$=about] button")
	if got := b.text("#says + .say, section .say"); strings.Contains(got, "send it back") && !strings.HasPrefix(got, "Nothing") {
		t.Errorf("still refused: %s", b.text("main"))
	}
	site := evaluate[string](b, `document.querySelector("form[action$=place] input[name=site]").value`)
	for _, d := range []string{"#places", "#people"} {
		evaluate[bool](b, "document.querySelectorAll(`"+d+", "+d+" details`).forEach(d=>d.open=true); true")
	}
	b.set("#hidden1", "")
	b.set("#as1", "Site K")
	b.press("form[action$=place] button")
	evaluate[bool](b, "document.querySelectorAll(`#people, #people details`).forEach(d=>d.open=true); true")
	b.set("#named1", "")
	b.set("#agreed1", "2025-07-01")
	b.set("#wording1", "My name may stand beside the records I made.")
	name := evaluate[string](b, `document.querySelector("form[action$=consent] input[name=name]").value`)
	b.press("form[action$=consent] button")
	folder := filepath.Join(x.folder, "open")
	b.set("#folder", folder)
	b.set("#freeze", "")
	if evaluate[bool](b, `!!document.querySelector("#leave")`) {
		b.set("#leave", "")
	}
	b.set("#version", "1.0.0")
	b.shot("publish-ready-1440.png")
	b.press("button[name=how][value=folder]")
	if got := b.text("#made"); !strings.Contains(got, "release 1") || !strings.Contains(got, folder) {
		t.Fatalf("written: %q\n%s", got, b.text(".wrong"))
	}
	b.shot("publish-made-1440.png")
	b.do(chromedp.EmulateViewport(360, 900))
	b.shot("publish-made-360.png")
	archive, err := os.ReadFile(filepath.Join(folder, "deployments.geojson"))
	if err != nil || bytes.Contains(archive, []byte(site)) || !bytes.Contains(archive, []byte("Site K")) {
		t.Errorf("%s is told, or not as Site K: %v", site, err)
	}
	package1, err := os.ReadFile(filepath.Join(folder, "datapackage", "datapackage.json"))
	if err != nil || !bytes.Contains(package1, []byte(name)) {
		t.Errorf("%s is not named: %v", name, err)
	}
	b.press("form[action^='/publish/release/'] button")
	link := evaluate[string](b, `document.querySelector("#made a").getAttribute("href")`)
	g := x.enter(t).get(t, link)
	z, err := zip.NewReader(strings.NewReader(g.body), int64(len(g.body)))
	if err != nil {
		t.Fatal(err)
	}
	sums, err := os.ReadFile(filepath.Join(folder, "SHA256SUMS"))
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(z.File, func(f *zip.File) bool { return f.Name == "SHA256SUMS" })
	if at < 0 {
		t.Fatal("the zip has no SHA256SUMS")
	}
	r, err := z.File[at].Open()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var again bytes.Buffer
	if _, err := again.ReadFrom(r); err != nil || !bytes.Equal(again.Bytes(), sums) {
		t.Errorf("release 1 made again has other bytes: %v", err)
	}
}

// What cannot be is refused on the page, and nothing of it is kept.
func TestPublishRefusals(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	for path, form := range map[string]url.Values{
		"/publish/about":   {"title": {"T"}, "contact_email": {"nobody"}},
		"/publish/creator": {"name": {"A"}, "orcid": {"0000-0000-0000-0000"}},
		"/publish/consent": {"name": {"A"}, "named": {"yes"}},
		"/publish/place":   {"site": {"Marnoca"}, "hidden": {"yes"}},
		"/publish/write":   {"how": {"folder"}, "folder": {"open"}},
	} {
		if g := x.post(t, path, form); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.body, `role="alert"`) {
			t.Errorf("%s gave %d", path, g.status)
		}
	}
	if g := x.get(t, "/publish"); strings.Contains(g.body, "nobody") || strings.Contains(g.body, "told roughly") {
		t.Error("something refused was kept")
	}
	if g := x.post(t, "/publish/write", url.Values{"how": {"zip"}, "leave": {"yes"}}); g.status != http.StatusUnprocessableEntity || !strings.Contains(g.body, "Still needed") {
		t.Errorf("written without a licence: %d", g.status)
	}
}

// What the rows' names mean, one by one or from a file, and what else the rows
// come from, is kept on the page; a list with a slip is refused with its line.
func TestTaxaAndSourcesOnTheDesk(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	ok := func(g *got, what string) {
		t.Helper()
		if g.status >= http.StatusBadRequest {
			t.Fatalf("%s: %d", what, g.status)
		}
	}
	told := func(want ...string) {
		t.Helper()
		body := x.get(t, "/publish").body
		for _, w := range want {
			if !strings.Contains(body, w) {
				t.Errorf("the page lacks %q", w)
			}
		}
	}
	told("Octopus vulgaris", "not in the list")
	ok(x.post(t, "/publish/taxon", url.Values{"taxon": {"Octopus vulgaris"}, "scientific_name_id": {"urn:lsid:example.org:taxname:1"}, "rank": {"species"}, "kingdom": {"Animalia"}}), "a taxon")
	told(`value="urn:lsid:example.org:taxname:1"`)
	ok(x.post(t, "/publish/source", url.Values{"n": {"0"}, "title": {"An invented map"}, "path": {"https://example.org/map"}}), "a source")
	told("What else the rows come from: one", "https://example.org/map")
	bad := x.send(t, "/publish/taxa", "slip.csv", []byte("taxon,scientific_name,scientific_name_id,rank,kingdom\nDiplodus sargus,,,,\n"))
	if bad.status != http.StatusUnprocessableEntity || !strings.Contains(bad.body, "slip.csv line 2") {
		t.Errorf("a list with a slip gave %d", bad.status)
	}
	told(`value="urn:lsid:example.org:taxname:1"`)
	ok(x.send(t, "/publish/taxa", "list.csv", []byte("taxon,scientific_name,scientific_name_id,rank,kingdom\nDiplodus sargus,Diplodus sargus,urn:lsid:example.org:taxname:2,species,Animalia\n")), "a list")
	told(`value="urn:lsid:example.org:taxname:2"`)
	if strings.Contains(x.get(t, "/publish").body, "taxname:1") {
		t.Error("the list before is still kept")
	}
	ok(x.post(t, "/publish/taxon", url.Values{"taxon": {"Diplodus sargus"}}), "a name taken off")
	ok(x.post(t, "/publish/source", url.Values{"n": {"1"}}), "a source taken off")
	if body := x.get(t, "/publish").body; strings.Contains(body, "taxname:2") || strings.Contains(body, "example.org/map") {
		t.Error("what was taken off is still there")
	}
}
