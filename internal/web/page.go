package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"soakline/internal/words"
)

// frame is what every page shows round its own content.
type frame struct {
	L        words.Language
	Lang     string // of the html element
	Page     string // which entry of the navigation is the current one
	Title    string
	HasBook  bool
	Book     string // title of the logbook
	Invented bool
	Open     int // findings that wait for a person
	Flash    *flash
	Here     string // path of this page, to come back to
	Scripts  []string
	Who      string
	Data     any
}

type pageSet struct {
	mu  sync.Mutex
	all map[words.Language]map[string]*template.Template
}

var pageSets = &pageSet{all: map[words.Language]map[string]*template.Template{}}

// pagesIn parses the templates with the sentences of one language, once.
func pagesIn(l words.Language) (map[string]*template.Template, error) {
	pageSets.mu.Lock()
	defer pageSets.mu.Unlock()
	if set := pageSets.all[l]; set != nil {
		return set, nil
	}
	base, err := template.New("").Funcs(funcs(l)).ParseFS(ui, "ui/layout.html", "ui/part-*.html")
	if err != nil {
		return nil, err
	}
	files, err := fs.Glob(ui, "ui/page-*.html")
	if err != nil {
		return nil, err
	}
	set := map[string]*template.Template{}
	for _, f := range files {
		t, err := base.Clone()
		if err != nil {
			return nil, err
		}
		if t, err = t.ParseFS(ui, f); err != nil {
			return nil, err
		}
		set[strings.TrimSuffix(strings.TrimPrefix(path.Base(f), "page-"), ".html")] = t
	}
	pageSets.all[l] = set
	return set, nil
}

func funcs(l words.Language) template.FuncMap {
	return template.FuncMap{
		"say":   func(slug string, pairs ...any) string { return sayPairs(l, slug, pairs...) },
		"asset": address,
		"num":   words.Number,
		"dict":  dict,
		"field": func(column string) string { return fieldName(l, column) },
		"inc":   func(n int) int { return n + 1 },
	}
}

func sayPairs(l words.Language, slug string, pairs ...any) string {
	with := words.P{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	return l.Say(slug, with)
}

// dict gives a part of a template several values by name.
func dict(pairs ...any) map[string]any {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		m[fmt.Sprint(pairs[i])] = pairs[i+1]
	}
	return m
}

// sentence begins a text of the catalogue with a capital: what is said of a
// finding is written to stand after its place.
func sentence(s string) string {
	at := strings.IndexFunc(s, func(r rune) bool { return r != '⟦' })
	if at < 0 {
		return s
	}
	r, n := utf8.DecodeRuneInString(s[at:])
	return s[:at] + string(unicode.ToUpper(r)) + s[at+n:]
}

// show writes a page. Nothing is sent until the whole of it is made.
func (d *Desk) show(w http.ResponseWriter, r *http.Request, b *opened, status int, name, title string, data any) error {
	l := d.language()
	f := frame{L: l, Lang: htmlLang(l), Page: name, Title: title, Flash: d.takeFlash(), Here: r.URL.RequestURI(), Data: data, Scripts: scriptsOf[name], Who: d.name()}
	if r.Method != http.MethodGet {
		f.Here = "/"
	}
	if b != nil {
		s, err := b.of(r.Context(), d.o.Now())
		if err != nil {
			return err
		}
		f.HasBook, f.Invented, f.Open = true, s.Settings.Invented, len(openFindings(s))
		f.Book = bookTitle(b, s.Settings.Title)
	}
	return d.write(w, status, name, f)
}

// scriptsOf says which scripts a page has besides the one of all pages.
var scriptsOf = map[string][]string{"sheets": {"drop.js"}, "start": {"drop.js"}, "work": {"progress.js"}, "answer": {"progress.js"}, "typing": {"typing.js"}}

func (d *Desk) write(w http.ResponseWriter, status int, name string, f frame) error {
	set, err := pagesIn(f.L)
	if err != nil {
		return err
	}
	t := set[name]
	if t == nil {
		return fmt.Errorf("web: no page %s", name)
	}
	var out bytes.Buffer
	if err := t.ExecuteTemplate(&out, "layout", f); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(out.Bytes())
	return nil
}

// bare shows one sentence to somebody who is not let in.
func (d *Desk) bare(w http.ResponseWriter, status int, slug string) {
	l := d.language()
	f := frame{L: l, Lang: htmlLang(l), Page: "shut", Title: l.Say("web.shut.title", nil), Data: l.Say(slug, nil)}
	if err := d.write(w, status, "shut", f); err != nil {
		http.Error(w, l.Say(slug, nil), status)
	}
}

func htmlLang(l words.Language) string {
	if l == words.Pseudo {
		return "en"
	}
	return string(l)
}

// bookTitle is what a logbook is called on pages.
func bookTitle(b *opened, title string) string {
	if title != "" {
		return title
	}
	base := path.Base(strings.ReplaceAll(b.path, `\`, "/"))
	return strings.TrimSuffix(base, ".logbook")
}
