package web

import (
	"bytes"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"soakline/internal/outside"
	"soakline/internal/words"
)

// pdfText reads a PDF with a program from outside.
func pdfText(t testing.TB, data string) string {
	t.Helper()
	outside.Need(t, "pdftotext")
	path := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(path, []byte(data), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-layout", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// Every form of the page, sent as it stands, gives a PDF with what it is for; what
// cannot be printed is said on the page and gives none.
func TestPrintEverything(t *testing.T) {
	x := newDesk(t, words.English).enter(t)
	x.emptyBook(t)
	x.post(t, "/gear/batch", url.Values{"code": {"B1"}, "kind": {"dried squid"}, "form": {"disc"}, "size_mm": {"13"}})
	row := typedForm2(x.get(t, "/type/sheet?id=D7&level=counts").formOf(t, "/type/sheet"), map[string]string{"site": "Kell Spit", "habitat": "sand", "date": "20260701", "deployed_at": "0902", "baits_deployed": "25"}, "keep")
	x.post(t, "/type/sheet", row)
	g := x.get(t, "/print")
	sent := map[string]string{}
	for _, f := range find(g.doc, "form", func(n *html.Node) bool { return strings.HasPrefix(attr(n, "action"), "/print/") }) {
		action := attr(f, "action")
		form := formValuesOf(f)
		if action == "/print/day" {
			form.Set("day", "2026-07-01")
		}
		got := x.get(t, action+"?"+form.Encode())
		if got.status != http.StatusOK || got.header.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(got.body, "%PDF-") || !strings.Contains(got.header.Get("Content-Disposition"), "attachment") {
			t.Errorf("%s: %d %v %.300s", action, got.status, got.header, got.body)
			continue
		}
		sent[action+form.Get("what")] = pdfText(t, got.body)
	}
	for name, want := range map[string]string{"/print/sheets": "Row D7", "/print/day": "first-aid kit", "/print/labelsstakes": "D7", "/print/labelsbatches": "B1", "/print/guide": "The method on one page", "/print/practice": "Practice card 1: the answers"} {
		if !strings.Contains(sent[name], want) {
			t.Errorf("%s does not hold %q: %.300s", name, want, sent[name])
		}
	}
	for path, want := range map[string]string{
		"/print/sheets?which=blank&n=0":                       "how many blank ones",
		"/print/sheets?which=blank&n=501":                     "how many blank ones",
		"/print/day?day=monday":                               "monday",
		"/print/day?day=2027-01-01":                           "2026-07-01",
		"/print/labels?what=batches&code=B9":                  "no such batch",
		"/print/labels?which=blank&n=2&ids=":                  "Labels need identifiers",
		"/print/practice?card=three":                          "whole number",
		"/print/sheets?which=blank&n=1&ids=" + "%F0%9F%90%9F": "U+1F41F",
	} {
		if got := x.get(t, path); got.status < 400 || got.status >= 500 || !strings.Contains(got.main(), want) {
			t.Errorf("%s: %d, no %q: %.300s", path, got.status, want, got.main())
		}
	}
	// Blank ones, all stakes, Letter; and one row from its own page.
	got := x.get(t, "/print/sheets?which=blank&n=3&ids=T2-&first=13&level=stakes&size=letter")
	if text := pdfText(t, got.body); !strings.Contains(text, "Row T2-13") || !strings.Contains(text, "Row T2-15") || strings.Contains(text, "Row T2-16") || !bytes.Contains([]byte(got.body), []byte("612")) {
		t.Errorf("%.300s", text)
	}
	page := x.get(t, x.get(t, "/rows").href(t, "/rows/0"))
	if text := pdfText(t, x.get(t, page.href(t, "/print/sheets")).body); !strings.Contains(text, "Row D7") {
		t.Errorf("%.300s", text)
	}
}

// The report is had as HTML, as PDF and as a page for a wall, in both sizes.
func TestReportInEveryKind(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	g := x.post(t, "/answer/report", url.Values{})
	for range 100 {
		if strings.Contains(g.body, "as=wall") {
			break
		}
		g = x.get(t, "/answer")
	}
	var links []string
	for _, a := range find(g.doc, "a", func(n *html.Node) bool { return strings.HasPrefix(attr(n, "href"), "/answer/report/") }) {
		links = append(links, attr(a, "href"))
	}
	if len(links) != 5 {
		t.Fatalf("%d links: %v", len(links), links)
	}
	for _, link := range links {
		got := x.get(t, link)
		kind := got.header.Get("Content-Type")
		u, _ := url.Parse(link)
		switch q := u.Query(); {
		case q.Get("as") == "":
			if !strings.HasPrefix(kind, "text/html") {
				t.Errorf("%s: %s", link, kind)
			}
		case kind != "application/pdf":
			t.Errorf("%s: %d %s %.200s", link, got.status, kind, got.body)
		default:
			wide := map[string]float64{"a4": 595.28, "letter": 612}[q.Get("size")] // points: 210 mm, 8.5 in
			if !strings.Contains(got.body, strconv.FormatFloat(wide, 'f', -1, 64)) {
				t.Errorf("%s is not of its size", link)
			}
		}
	}
}
