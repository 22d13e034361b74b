package web

import (
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// got is one answer of the desk, read.
type got struct {
	status int
	header http.Header
	body   string
	doc    *html.Node
	at     *url.URL // after redirects
}

func (x *testDesk) do(t testing.TB, req *http.Request) *got {
	t.Helper()
	resp, err := x.client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	g := &got{status: resp.StatusCode, header: resp.Header, body: string(b), at: resp.Request.URL}
	if strings.HasPrefix(resp.Header.Get("Content-Type"), "text/html") {
		if g.doc, err = html.Parse(strings.NewReader(g.body)); err != nil {
			t.Fatal(err)
		}
	}
	return g
}

func (x *testDesk) get(t testing.TB, path string) *got {
	t.Helper()
	req, err := http.NewRequest(http.MethodGet, x.srv.URL+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	return x.do(t, req)
}

func (x *testDesk) post(t testing.TB, path string, form url.Values) *got {
	t.Helper()
	req, err := http.NewRequest(http.MethodPost, x.srv.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return x.do(t, req)
}

// each calls f for every node below n.
func each(n *html.Node, f func(*html.Node)) {
	for d := range n.Descendants() {
		f(d)
	}
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func hasAttr(n *html.Node, name string) bool {
	for _, a := range n.Attr {
		if a.Key == name {
			return true
		}
	}
	return false
}

// find lists the elements of a name that satisfy ok (nil for all).
func find(n *html.Node, name string, ok func(*html.Node) bool) []*html.Node {
	var out []*html.Node
	each(n, func(d *html.Node) {
		if d.Type == html.ElementNode && d.Data == name && (ok == nil || ok(d)) {
			out = append(out, d)
		}
	})
	return out
}

func textOf(n *html.Node) string {
	var b strings.Builder
	each(n, func(d *html.Node) {
		if d.Type == html.TextNode {
			b.WriteString(d.Data)
			b.WriteByte(' ')
		}
	})
	return strings.Join(strings.Fields(b.String()), " ")
}

// main is the page's own content.
func (g *got) main() string {
	if g.doc == nil {
		return ""
	}
	for _, m := range find(g.doc, "main", nil) {
		return textOf(m)
	}
	return ""
}

// formOf is the form that posts to an address whose path ends so, with the
// values it holds as it comes.
func (g *got) formOf(t testing.TB, ending string) url.Values {
	t.Helper()
	for _, f := range find(g.doc, "form", func(n *html.Node) bool { return strings.HasSuffix(attr(n, "action"), ending) }) {
		return formValuesOf(f)
	}
	t.Fatalf("no form to …%s on %s", ending, g.at)
	return nil
}

// formValuesOf reads the fields below a node as a browser would send them.
func formValuesOf(f *html.Node) url.Values {
	v := url.Values{}
	each(f, func(n *html.Node) {
		name := attr(n, "name")
		if n.Type != html.ElementNode || name == "" {
			return
		}
		switch n.Data {
		case "input":
			kind := attr(n, "type")
			if (kind == "radio" || kind == "checkbox") && !hasAttr(n, "checked") || kind == "file" {
				return
			}
			v.Add(name, attr(n, "value"))
		case "textarea":
			v.Add(name, textOf(n))
		case "select":
			chosen := ""
			for i, o := range find(n, "option", nil) {
				if i == 0 || hasAttr(o, "selected") {
					chosen = attr(o, "value")
				}
			}
			v.Add(name, chosen)
		}
	})
	return v
}

// href is the first link whose address begins so.
func (g *got) href(t testing.TB, begins string) string {
	t.Helper()
	for _, a := range find(g.doc, "a", func(n *html.Node) bool { return strings.HasPrefix(attr(n, "href"), begins) }) {
		return attr(a, "href")
	}
	t.Fatalf("no link to %s… on %s", begins, g.at)
	return ""
}
