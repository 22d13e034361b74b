package web

import (
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/logbook"
	"soakline/internal/task"
	"soakline/internal/words"
)

// Bounds of what the page takes in: a logbook holds its originals, a protocol
// is a page of text.
const (
	mostLogbookBytes  = 2 << 30
	mostProtocolBytes = 1 << 20
)

// keepView is the page of the logbook's safety: is it whole, what do others of
// the team hold, which protocols does it know.
type keepView struct {
	Looked    bool
	Faults    []string
	Protocols []protocolItem
	Merge     *mergeView
	Wrong     []string
}

type protocolItem struct {
	Name, Title, Text string
	Used              bool
}

// mergeView is another logbook with what the two do not agree on.
type mergeView struct {
	ID, Name  string
	Questions []mergeAsk
}

type mergeAsk struct {
	N       int
	Key     string
	Text    string
	Options []option
	Free    bool
}

// guest is a logbook that was brought in and waits for answers. It is a file of
// ours, read as the untrusted file it is, and goes when all is answered.
type guest struct{ id, name, path string }

func (g *guest) remove() {
	if g != nil {
		_ = os.Remove(g.path)
	}
}

// setGuest keeps one logbook at a time; the earlier one goes.
func (d *Desk) setGuest(g *guest) {
	d.mu.Lock()
	old := d.guest
	d.guest = g
	d.mu.Unlock()
	if old != g {
		old.remove()
	}
}

func (d *Desk) guestOf(id string) *guest {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.guest == nil || d.guest.id != id {
		return nil
	}
	return d.guest
}

func (d *Desk) keepPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showKeep(w, r, b, http.StatusOK, keepView{})
}

func (d *Desk) showKeep(w http.ResponseWriter, r *http.Request, b *opened, status int, v keepView) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	err = b.book.View(r.Context(), func(tx *logbook.Tx) error {
		all, texts, err := task.Protocols(tx)
		for n, p := range all {
			v.Protocols = append(v.Protocols, protocolItem{n, p.Title, texts[n], n == s.Settings.Protocol})
		}
		return err
	})
	if err != nil {
		return err
	}
	sort.Slice(v.Protocols, func(i, j int) bool { return v.Protocols[i].Name < v.Protocols[j].Name })
	return d.show(w, r, b, status, "keep", d.language().Say("web.keep.title", nil), v)
}

// refuseKeep shows the page again with what was wrong.
func (d *Desk) refuseKeep(w http.ResponseWriter, r *http.Request, b *opened, err error) error {
	if errors.Is(err, errNoUpload) {
		return d.showKeep(w, r, b, http.StatusUnprocessableEntity, keepView{Wrong: []string{d.language().Say("web.sheets.no-file", nil)}})
	}
	p, status := explain(d.language(), err)
	if status == http.StatusInternalServerError {
		return err
	}
	return d.showKeep(w, r, b, status, keepView{Wrong: p.Lines})
}

// lookOver checks the logbook: its file, its hashes, its histories.
func (d *Desk) lookOver(w http.ResponseWriter, r *http.Request, b *opened) error {
	faults, err := task.Verify(r.Context(), b.path)
	if err != nil {
		return d.refuseKeep(w, r, b, err)
	}
	v := keepView{Looked: true}
	for _, f := range faults {
		v.Faults = append(v.Faults, d.language().Say(f.Slug, f.Params))
	}
	return d.showKeep(w, r, b, http.StatusOK, v)
}

// bringIn takes another logbook of the team in, as far as the two agree.
func (d *Desk) bringIn(w http.ResponseWriter, r *http.Request, b *opened) error {
	g := &guest{id: randomText()}
	err := eachUpload(r, mostLogbookBytes, func(name string, data io.Reader) error {
		f, err := os.CreateTemp("", "soakline-guest-*.logbook")
		if err != nil {
			return err
		}
		g.remove() // of two files the last stands
		g.name, g.path = name, f.Name()
		_, err = io.Copy(f, data)
		return errors.Join(err, f.Close())
	})
	if err != nil {
		g.remove()
		return d.refuseKeep(w, r, b, err)
	}
	d.setGuest(g)
	return d.mergeGuest(w, r, b, g, nil)
}

// answerGuest takes the rest in, by the answers of a person.
func (d *Desk) answerGuest(w http.ResponseWriter, r *http.Request, b *opened) error {
	g := d.guestOf(r.PathValue("id"))
	if g == nil {
		return d.refuseKeep(w, r, b, &task.Refused{Slug: "web.keep.gone"})
	}
	if err := r.ParseForm(); err != nil {
		return err
	}
	answers := map[string]string{}
	for n := 0; r.Form.Has("q" + strconv.Itoa(n)); n++ {
		i := strconv.Itoa(n)
		a := r.FormValue("a" + i)
		if a == "*" {
			a = r.FormValue("free" + i)
		}
		if a != "" {
			answers[r.FormValue("q"+i)] = a
		}
	}
	return d.mergeGuest(w, r, b, g, answers)
}

func (d *Desk) mergeGuest(w http.ResponseWriter, r *http.Request, b *opened, g *guest, answers map[string]string) error {
	l := d.language()
	m, err := task.Merge(r.Context(), b.book, g.path, answers, d.by(l.Say("cmd.merge.why", words.P{"file": g.name})))
	if err != nil {
		d.setGuest(nil)
		return d.refuseKeep(w, r, b, err)
	}
	b.forget()
	done := l.Say("cmd.merge.done", words.P{"records": m.Records, "revisions": m.Revisions, "sources": m.Sources})
	if len(m.Questions) == 0 {
		d.setGuest(nil)
		d.setFlash(flash{Text: done})
		http.Redirect(w, r, "/rows", http.StatusSeeOther)
		return nil
	}
	v := mergeView{ID: g.id, Name: g.name}
	for n, q := range m.Questions {
		a := mergeAsk{N: n, Key: q.Key, Text: q.Text(l), Free: q.Slug == "logbook.ask-both-changed"}
		for _, o := range q.Options {
			label := l.Say("web.keep.answer-"+o, words.P{"ours": q.Ours, "theirs": q.Theirs})
			if !a.Free {
				label = l.Say("web.keep.choice-"+o, nil)
			}
			a.Options = append(a.Options, option{Value: o, Label: label})
		}
		v.Questions = append(v.Questions, a)
	}
	if m.Records > 0 {
		d.setFlash(flash{Text: done})
	}
	return d.showKeep(w, r, b, http.StatusOK, keepView{Merge: &v})
}

// addProtocol keeps a protocol from its file.
func (d *Desk) addProtocol(w http.ResponseWriter, r *http.Request, b *opened) error {
	var text strings.Builder
	err := eachUpload(r, mostProtocolBytes, func(_ string, data io.Reader) error {
		text.Reset()
		_, err := io.Copy(&text, data)
		return err
	})
	if err != nil {
		return d.refuseKeep(w, r, b, err)
	}
	l := d.language()
	name, err := task.NewProtocol(r.Context(), b.book, text.String(), d.by(""))
	if err != nil {
		return d.refuseKeep(w, r, b, err)
	}
	b.forget()
	d.setFlash(flash{Text: l.Say("cmd.protocol.new-done", words.P{"protocol": name})})
	http.Redirect(w, r, "/keep", http.StatusSeeOther)
	return nil
}

// protocolFile sends the text of a protocol, to be changed and brought back
// under another version.
func (d *Desk) protocolFile(w http.ResponseWriter, r *http.Request, b *opened) error {
	name := r.PathValue("name")
	var text string
	err := b.book.View(r.Context(), func(tx *logbook.Tx) error {
		_, texts, err := task.Protocols(tx)
		text = texts[name]
		return err
	})
	if err != nil {
		return err
	}
	if text == "" {
		return errNotHere
	}
	w.Header().Set("Content-Type", "application/toml; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+strings.Map(plainRune, filepath.Base(name))+`.toml"`)
	_, err = io.WriteString(w, text)
	return err
}

// plainRune keeps what is safe in the name of a file everywhere.
func plainRune(r rune) rune {
	if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.' {
		return r
	}
	return '-'
}
