package web

import (
	"context"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"soakline/internal/task"
	"soakline/internal/words"
)

// startView is the page a person comes to first.
type startView struct {
	Form    typedForm
	Known   []knownBook
	Folder  string
	Name    string
	Wrong   []string // about opening and making
	Zone    string
	Current string
}

type knownBook struct{ Path, Name, Folder string }

// home leads to where the work is.
func (d *Desk) home(w http.ResponseWriter, r *http.Request, b *opened) error {
	if b != nil {
		http.Redirect(w, r, "/rows", http.StatusSeeOther)
		return nil
	}
	return d.start(w, r, b)
}

func (d *Desk) start(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showStart(w, r, b, http.StatusOK, blankTyped(), "")
}

func (d *Desk) showStart(w http.ResponseWriter, r *http.Request, b *opened, status int, form typedForm, wrong string) error {
	l := d.language()
	v := startView{Form: form, Known: d.known(), Folder: d.o.Folder, Name: l.Say("web.start.name-proposed", nil)}
	if l == words.Pseudo {
		v.Name = "season"
	}
	if wrong != "" {
		v.Wrong = []string{wrong}
	}
	if b != nil {
		v.Current = b.path
	}
	return d.show(w, r, b, status, "start", l.Say("web.start.title", nil), v)
}

// recentFile remembers paths of logbooks, the last one first.
func (d *Desk) recentFile() string {
	if d.o.StateDir == "" {
		return ""
	}
	return filepath.Join(d.o.StateDir, "recent.json")
}

func (d *Desk) recent() []string {
	name := d.recentFile()
	if name == "" {
		return nil
	}
	b, err := os.ReadFile(name)
	if err != nil {
		return nil
	}
	var list []string
	if json.Unmarshal(b, &list) != nil {
		return nil
	}
	return list
}

// remember puts a path first; failing to is no reason to trouble anyone.
func (d *Desk) remember(path string) {
	name := d.recentFile()
	if name == "" {
		return
	}
	list := slices.DeleteFunc(d.recent(), func(p string) bool { return p == path })
	list = append([]string{path}, list...)
	b, err := json.Marshal(list[:min(len(list), 12)])
	if err != nil {
		return
	}
	if os.MkdirAll(d.o.StateDir, 0o700) == nil {
		_ = os.WriteFile(name, b, 0o600)
	}
}

// known are logbooks opened lately and those in the usual folder.
func (d *Desk) known() []knownBook {
	paths := d.recent()
	found, err := filepath.Glob(filepath.Join(d.o.Folder, "*.logbook"))
	if err == nil {
		sort.Strings(found)
		for _, p := range found {
			if !slices.Contains(paths, p) {
				paths = append(paths, p)
			}
		}
	}
	var out []knownBook
	for _, p := range paths {
		if info, err := os.Stat(p); err != nil || info.IsDir() {
			continue
		}
		out = append(out, knownBook{p, strings.TrimSuffix(filepath.Base(p), ".logbook"), filepath.Dir(p)})
		if len(out) == 12 {
			break
		}
	}
	return out
}

// Open puts a logbook on the desk, as the command does before the first page.
func (d *Desk) Open(ctx context.Context, path string) error {
	d.bookMu.Lock()
	defer d.bookMu.Unlock()
	return d.swap(ctx, path)
}

// Explain puts an error of Open into words.
func (d *Desk) Explain(err error) string {
	p, _ := explain(d.language(), err)
	return strings.Join(p.Lines, " ")
}

// swap opens a logbook in place of the one that is open; when it cannot be
// opened, that one stays.
func (d *Desk) swap(ctx context.Context, path string) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	if d.book != nil && d.book.path == path {
		return nil
	}
	fresh, err := openBook(ctx, path)
	if err != nil {
		return err
	}
	return d.put(fresh)
}

// put lays a logbook on the desk.
func (d *Desk) put(fresh *opened) error {
	if d.book != nil {
		d.jobs.cancelAll()
		d.holds.clear()
		if err := d.book.close(); err != nil {
			fresh.close()
			return err
		}
	}
	d.book = fresh
	d.remember(fresh.path)
	l := d.language()
	var lines []string
	for _, n := range fresh.book.Notices() {
		lines = append(lines, l.Say(n.Slug, n.Params))
	}
	if len(lines) > 0 {
		d.setFlash(flash{Text: strings.Join(lines, " ")})
	}
	return nil
}

func (d *Desk) openBook(w http.ResponseWriter, r *http.Request, b *opened) error {
	path := strings.TrimSpace(r.FormValue("path"))
	path = strings.Trim(path, `"'`) // as file managers copy it
	l := d.language()
	if path == "" {
		return d.showStart(w, r, b, http.StatusUnprocessableEntity, blankTyped(), l.Say("web.start.no-path", nil))
	}
	if !filepath.IsAbs(path) {
		path = filepath.Join(d.o.Folder, path)
	}
	if isDir(path) {
		return d.showStart(w, r, b, http.StatusUnprocessableEntity, blankTyped(), l.Say("web.start.is-folder", words.P{"path": path}))
	}
	if err := d.swap(r.Context(), path); err != nil {
		return d.showStart(w, r, b, http.StatusUnprocessableEntity, blankTyped(), d.Explain(err))
	}
	http.Redirect(w, r, "/rows", http.StatusSeeOther)
	return nil
}

func (d *Desk) newBook(w http.ResponseWriter, r *http.Request, b *opened) error {
	l := d.language()
	path, why := bookPath(l, r.FormValue("folder"), r.FormValue("name"))
	if why != "" {
		return d.showStart(w, r, b, http.StatusUnprocessableEntity, blankTyped(), why)
	}
	if who := strings.TrimSpace(r.FormValue("who")); who != "" {
		d.setWho(who)
	}
	s := task.Settings{Title: strings.TrimSpace(r.FormValue("name")), Team: strings.TrimSpace(r.FormValue("team")), Zone: strings.TrimSpace(r.FormValue("zone"))}
	book, err := task.New(r.Context(), path, s, "soakline "+d.o.Version, d.by(l.Say("web.why.new", nil)))
	if err != nil {
		return d.showStart(w, r, b, http.StatusUnprocessableEntity, blankTyped(), d.Explain(err))
	}
	if err := d.put(&opened{path: path, book: book}); err != nil {
		return err
	}
	http.Redirect(w, r, "/rows", http.StatusSeeOther)
	return nil
}

// bookPath is where a logbook of this name in this folder goes.
func bookPath(l words.Language, folder, name string) (path, why string) {
	name, folder = strings.TrimSpace(name), strings.TrimSpace(folder)
	if name == "" {
		return "", l.Say("web.start.no-name", nil)
	}
	if !isDir(folder) {
		return "", l.Say("web.start.no-folder", words.P{"folder": folder})
	}
	file := strings.Map(func(r rune) rune {
		if strings.ContainsRune(`/\:*?"<>|`, r) || r < ' ' {
			return '-'
		}
		return r
	}, strings.TrimSuffix(name, ".logbook"))
	file = strings.Trim(file, ". ")
	if file == "" {
		return "", l.Say("web.start.no-name", nil)
	}
	path, err := filepath.Abs(filepath.Join(folder, file+".logbook"))
	if err != nil {
		return "", err.Error()
	}
	return path, ""
}

// demoBook opens the invented season, made first where it is not there yet. Its
// teams' messy sheets lie beside it, to be brought in by whoever wants to try.
func (d *Desk) demoBook(w http.ResponseWriter, r *http.Request, b *opened) error {
	dir := filepath.Join(d.o.Folder, demoFolder)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	l := d.language()
	made, err := task.MakeDemo(r.Context(), dir, task.DemoSeed, "soakline "+d.o.Version, l, d.by(l.Say("web.why.demo", nil)))
	if err != nil {
		return err
	}
	if err := d.swap(r.Context(), made.Logbook); err != nil {
		return err
	}
	http.Redirect(w, r, "/rows", http.StatusSeeOther)
	return nil
}

// demoFolder holds the invented season.
const demoFolder = "soakline-invented-season"

func (d *Desk) setLanguage(w http.ResponseWriter, r *http.Request, _ *opened) error {
	if l := words.Choose(r.FormValue("lang")); l != words.Pseudo {
		d.mu.Lock()
		d.lang = l
		d.mu.Unlock()
	}
	back(w, r, "/")
	return nil
}

func (d *Desk) closeDesk(w http.ResponseWriter, r *http.Request, _ *opened) error {
	d.bare(w, http.StatusOK, "web.closed")
	d.Finish()
	return nil
}

func (d *Desk) setWho(who string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.who = who
}

// by is who does what is asked for, now, and why.
func (d *Desk) by(why string) task.By {
	return task.By{Who: d.name(), When: d.o.Now().UTC(), Why: strings.Trim(why, "⟦⟧")}
}

// back returns to the page of ours that the form named.
func back(w http.ResponseWriter, r *http.Request, otherwise string) {
	to := r.FormValue("back")
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.HasPrefix(to, `/\`) {
		to = otherwise
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}
