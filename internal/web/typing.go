package web

import (
	"errors"
	"net/http"
	"net/url"
	"sort"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/entry"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// typeView is where a pile of paper sheets is begun.
type typeView struct {
	Wrong   []string
	ID      string
	Choices []typeChoice // rows that one identifier may mean
	Waiting []typeChoice // rows not read through
	Photos  []scanItem   // pictures whose sheet is not typed yet
	Once    []typeChoice // typed once
}

type typeChoice struct{ Text, Says, Href string }

func (d *Desk) typePage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showType(w, r, b, http.StatusOK, typeView{ID: strings.TrimSpace(r.URL.Query().Get("id"))})
}

// shownWaiting bounds the rows offered on one page.
const shownWaiting = 60

func (d *Desk) showType(w http.ResponseWriter, r *http.Request, b *opened, status int, v typeView) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	var typings map[string][]task.Typing
	err = b.book.View(r.Context(), func(tx *logbook.Tx) error {
		var err error
		if typings, err = task.AllTypings(tx); err != nil {
			return err
		}
		scans, err := task.Scans(tx)
		for _, x := range scans {
			if x.Record == "" {
				v.Photos = append(v.Photos, scanOf(x))
			}
		}
		return err
	})
	if err != nil {
		return err
	}
	for i := range s.Deployments {
		dep := &s.Deployments[i]
		c := typeChoice{dep.ID, joined(dep.Site, dep.Habitat, dateOf(dep.SetOut)), typeHref(dep.Key, "")}
		switch list := typings[dep.Key]; {
		case len(list) == 1:
			c.Says = joined(c.Says, l.Say("web.type.by", words.P{"who": list[0].Who}))
			c.Href = typeHref(dep.Key, "again")
			v.Once = append(v.Once, c)
		case task.ToVisit(s, dep) && len(v.Waiting) < shownWaiting:
			v.Waiting = append(v.Waiting, c)
		}
	}
	return d.show(w, r, b, status, "type", l.Say("web.type.title", nil), v)
}

func joined(parts ...string) string {
	var keep []string
	for _, p := range parts {
		if p != "" {
			keep = append(keep, p)
		}
	}
	return strings.Join(keep, ", ")
}

func typeHref(id, how string) string {
	q := url.Values{"id": {id}}
	if how != "" {
		q.Set("how", how)
	}
	return "/type/sheet?" + q.Encode()
}

// typing is one sheet being typed: which row, and how.
type typing struct {
	id     string // as it stands on the sheet
	key    string // of the row; empty for a new one
	again  bool   // a second time, blind, to be compared
	stakes bool
	entry  task.Entry
	set    entry.Setting
	season *task.Season
}

// errSeveral says that an identifier means more than one row.
var errSeveral = errors.New("several rows")

// typingOf finds the row that a sheet belongs to.
func (d *Desk) typingOf(r *http.Request, b *opened) (*typing, []task.Entry, error) {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return nil, nil, err
	}
	t := &typing{id: strings.TrimSpace(r.FormValue("id")), again: r.FormValue("how") == "again", stakes: r.FormValue("level") == "stakes", season: s}
	if k := r.FormValue("key"); k != "" {
		t.id = k
	}
	var found []task.Entry
	if t.id != "" {
		err = b.book.View(r.Context(), func(tx *logbook.Tx) error {
			all, err := task.FindEntries(tx, t.id)
			for _, e := range all {
				if e.Record.State == logbook.Live {
					found = append(found, e)
				}
			}
			return err
		})
	}
	if err != nil {
		return nil, nil, err
	}
	protocol := sheet.Standard()
	if p, ok := s.Protocols[s.Settings.Protocol]; ok {
		protocol = p
	}
	switch len(found) {
	case 0:
		t.again = false
	case 1:
		t.entry, t.key, t.id = found[0], found[0].Record.Key, found[0].Deployment.ID
		protocol = protocolOf(s, &t.entry.Deployment)
		t.stakes = t.stakes || r.FormValue("level") == "" && len(t.entry.Deployment.Stakes) > 0
	default:
		return t, found, errSeveral
	}
	t.set = entry.Setting{Protocol: protocol, Stakes: t.stakes, Lists: typeLists(s)}
	return t, found, nil
}

// typeLists are the names that may be typed by their number, those used most first.
func typeLists(s *task.Season) map[string][]string {
	used := map[string]map[string]int{"site": {}, "habitat": {}, "observers": {}, "bait_batch": {}}
	for _, x := range s.Sites {
		used["site"][x.Name] = 0
	}
	for i := range s.Deployments {
		dep := &s.Deployments[i]
		for name, text := range map[string]string{"site": dep.Site, "habitat": dep.Habitat, "observers": dep.Observers, "bait_batch": dep.BaitBatch} {
			used[name][text]++
		}
	}
	out := map[string][]string{}
	for name, n := range used {
		delete(n, "")
		for x := range n {
			out[name] = append(out[name], x)
		}
		sort.Slice(out[name], func(i, j int) bool {
			a, b := out[name][i], out[name][j]
			if n[a] != n[b] {
				return n[a] > n[b]
			}
			return a < b
		})
		out[name] = out[name][:min(len(out[name]), 20)]
	}
	return out
}

func (d *Desk) typeSheet(w http.ResponseWriter, r *http.Request, b *opened) error {
	t, found, err := d.typingOf(r, b)
	if errors.Is(err, errSeveral) {
		return d.severalRows(w, r, b, t, found)
	}
	if err != nil {
		return err
	}
	typed := map[string]string{"deployment_id": t.id, "baits_deployed": strconv.Itoa(t.set.Protocol.Baits)}
	if t.key != "" {
		all := entry.Texts(t.entry.Record.Fields, t.set)
		if t.again { // blind: what is printed on the sheet, and nothing that was written
			all = map[string]string{"deployment_id": all["deployment_id"], "site": all["site"], "habitat": all["habitat"]}
		}
		for k, x := range all {
			if x != "" {
				typed[k] = x
			}
		}
	}
	return d.showTyping(w, r, b, http.StatusOK, t, typed, typedNow{})
}

func (d *Desk) severalRows(w http.ResponseWriter, r *http.Request, b *opened, t *typing, found []task.Entry) error {
	v := typeView{ID: t.id, Wrong: []string{d.language().Say("web.type.several", words.P{"id": t.id})}}
	for _, e := range found {
		dep := &e.Deployment
		v.Choices = append(v.Choices, typeChoice{dep.ID, joined(dep.Team, dep.Season, dep.Site, dep.Habitat, dateOf(dep.SetOut)), typeHref(dep.Key, r.FormValue("how"))})
	}
	return d.showType(w, r, b, http.StatusUnprocessableEntity, v)
}

// typedBy is who sits at the keys, the desk's own name unless another is given.
func (d *Desk) typedBy(r *http.Request, why string) task.By {
	by := d.by(why)
	if who := strings.TrimSpace(r.FormValue("typed-by")); who != "" {
		by.Who = who
	}
	return by
}

// takeTyping looks at a typed sheet, keeps it, or compares it.
func (d *Desk) takeTyping(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	t, _, err := d.typingOf(r, b)
	if err != nil {
		return err
	}
	typed := map[string]string{}
	for name := range r.PostForm {
		if f, ok := strings.CutPrefix(name, "t:"); ok {
			typed[f] = r.PostForm.Get(name)
		}
	}
	l := d.language()
	read := entry.Read(typed, t.set)
	now := typedNow{Sure: r.PostFormValue("sure") != "", Looked: true}
	for _, x := range read.Doubts {
		now.Doubts = append(now.Doubts, l.Say(x.Slug, x.With))
	}
	one := task.Typed{Columns: entry.Columns(len(t.set.Protocol.Checks), t.stakes), Values: read.Values, Stakes: t.stakes, Head: r.PostFormValue("head"), Beside: map[string]string{}}
	for k := range t.set.Protocol.Checks {
		one.Beside[entry.PresentAt(k+1)] = typed[entry.PresentAt(k+1)]
	}
	err = d.checkTyped(r, b, t, one, read.Faults)
	if err == nil {
		now.values = one.Values
	}
	if err != nil || r.PostFormValue("do") != "keep" || len(now.Doubts) > 0 && !now.Sure {
		now.Wrong = err
		status := http.StatusOK
		if err != nil || r.PostFormValue("do") == "keep" {
			status = http.StatusUnprocessableEntity
		}
		return d.showTyping(w, r, b, status, t, typed, now)
	}
	if t.again {
		return d.compareTyped(w, r, b, t, one)
	}
	added, err := task.KeepTyped(r.Context(), b.book, t.key, one, d.typedBy(r, l.Say("web.why.typed", nil)))
	if err != nil {
		now.Wrong = err
		return d.showTyping(w, r, b, http.StatusUnprocessableEntity, t, typed, now)
	}
	return d.typedDone(w, r, b, added, "web.done.typed")
}

// checkTyped gives every fault of a sheet at once; times get their zone.
func (d *Desk) checkTyped(r *http.Request, b *opened, t *typing, one task.Typed, faults []*sheet.Fault) error {
	add := func(err error) error {
		var f *task.FaultyValues
		if errors.As(err, &f) {
			faults = append(faults, f.Faults...)
			return nil
		}
		return err
	}
	for name, text := range one.Values {
		if text == "" {
			delete(one.Values, name)
		}
	}
	if err := add(d.zoned(r, b, one.Values)); err != nil {
		return err
	}
	if t.key == "" && len(faults) == 0 {
		if err := add(missing(one.Values)); err != nil {
			return err
		}
	}
	if len(faults) == 0 {
		if _, more := sheet.Deployment(one.Values); len(more) > 0 {
			faults = more
		}
	}
	if len(faults) > 0 {
		sort.SliceStable(faults, func(i, j int) bool { return placeIn(one.Columns, faults[i]) < placeIn(one.Columns, faults[j]) })
		return &task.FaultyValues{Faults: faults}
	}
	return nil
}

func placeIn(columns []string, f *sheet.Fault) int {
	for i, c := range columns {
		if c == f.Column {
			return i
		}
	}
	return len(columns)
}

// typedDone leads to the next sheet of the pile.
func (d *Desk) typedDone(w http.ResponseWriter, r *http.Request, b *opened, a task.Added, slug string) error {
	b.forget()
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	n := 0
	for _, f := range openFindings(s) {
		if f.Key == a.Key {
			n++
		}
	}
	if n > 0 && slug == "web.done.typed" {
		slug = "web.done.typed-asks"
	}
	d.setFlash(flash{Text: d.language().Say(slug, words.P{"id": a.ID, "n": n}), Undo: a.Key, Back: rowHref(a.Key)})
	http.Redirect(w, r, "/type", http.StatusSeeOther)
	return nil
}

// unlikeView is a second typing beside what is kept, field by field.
type unlikeView struct {
	ID, Key, Head, TypedBy, Level string
	Fields                        []unlikeField
	Values                        map[string]string // canonical, to be posted again
	Beside                        map[string]string
	Wrong                         []string
	Scans                         []scanItem
}

type unlikeField struct {
	Name, Label         string
	Kept, Typed, KeptBy string
}

func (d *Desk) compareTyped(w http.ResponseWriter, r *http.Request, b *opened, t *typing, one task.Typed) error {
	l := d.language()
	list, head, err := task.CompareTyped(r.Context(), b.book, t.key, one)
	if err != nil {
		return err
	}
	by := d.typedBy(r, l.Say("web.why.typed-again", nil))
	one.Head = head
	if len(list) == 0 {
		if err := task.SettleTyped(r.Context(), b.book, t.key, one, nil, by); err != nil {
			return err
		}
		return d.typedDone(w, r, b, task.Added{Key: t.key, ID: t.id}, "web.done.typed-same")
	}
	return d.showUnlike(w, r, b, http.StatusOK, t, one, list, by.Who, nil)
}

func (d *Desk) showUnlike(w http.ResponseWriter, r *http.Request, b *opened, status int, t *typing, one task.Typed, list []task.Unlike, who string, wrong []string) error {
	l := d.language()
	v := unlikeView{ID: t.id, Key: t.key, Head: one.Head, TypedBy: who, Values: one.Values, Beside: one.Beside, Wrong: wrong}
	if t.stakes {
		v.Level = "stakes"
	}
	for _, u := range list {
		f := unlikeField{Name: u.Column, Label: fieldName(l, u.Column), Kept: shownValue(u.Column, u.Kept), Typed: shownValue(u.Column, u.Typed), KeptBy: u.KeptBy}
		if strings.HasPrefix(u.Column, "fates_at_check") {
			f.Kept, f.Typed = fatesApart(u.Kept, u.Typed)
		}
		v.Fields = append(v.Fields, f)
	}
	var err error
	if v.Scans, err = scansOf(r, b, t); err != nil {
		return err
	}
	return d.show(w, r, b, status, "unlike", l.Say("web.unlike.title", words.P{"id": t.id, "n": len(list)}), v)
}

// fatesApart keeps of two texts of boxes those stakes that differ.
func fatesApart(kept, typed string) (string, string) {
	has := func(list []string, s string) bool { return contains(list, s) }
	a, b := strings.Fields(kept), strings.Fields(typed)
	var x, y []string
	for _, s := range a {
		if !has(b, s) {
			x = append(x, s)
		}
	}
	for _, s := range b {
		if !has(a, s) {
			y = append(y, s)
		}
	}
	return strings.Join(x, " "), strings.Join(y, " ")
}

// settleTyping keeps what the person chose between two typings.
func (d *Desk) settleTyping(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	t, _, err := d.typingOf(r, b)
	if err != nil {
		return err
	}
	if t.key == "" {
		return &task.Refused{Slug: "task.no-deployment", With: words.P{"id": t.id}}
	}
	l := d.language()
	one := task.Typed{Columns: entry.Columns(len(t.set.Protocol.Checks), t.stakes), Values: formValues(r.PostForm), Stakes: t.stakes, Head: r.PostFormValue("head"), Beside: map[string]string{}}
	for name := range r.PostForm {
		if f, ok := strings.CutPrefix(name, "b:"); ok {
			one.Beside[f] = r.PostForm.Get(name)
		}
	}
	list, head, err := task.CompareTyped(r.Context(), b.book, t.key, one)
	if err != nil {
		return err
	}
	by := d.typedBy(r, l.Say("web.why.typed-again", nil))
	var take []string
	open := 0
	for _, u := range list {
		switch r.PostFormValue("c:" + u.Column) {
		case "typed":
			take = append(take, u.Column)
		case "kept":
		default:
			open++
		}
	}
	if open > 0 || head != one.Head {
		slug := "web.unlike.open"
		if head != one.Head {
			slug = "web.unlike.changed"
		}
		one.Head = head
		return d.showUnlike(w, r, b, http.StatusUnprocessableEntity, t, one, list, by.Who, []string{l.Say(slug, words.P{"n": open})})
	}
	if err := task.SettleTyped(r.Context(), b.book, t.key, one, take, by); err != nil {
		return err
	}
	return d.typedDone(w, r, b, task.Added{Key: t.key, ID: t.id}, "web.done.typed-settled")
}

// typedLine is one typing as told on the page of its row.
func typedLine(l words.Language, t task.Typing, loc *time.Location) string {
	slug := "web.type.line"
	switch {
	case t.N > 1 && t.Unlike == 0:
		slug = "web.type.line-same"
	case t.N > 1:
		slug = "web.type.line-unlike"
	}
	text := l.Say(slug, words.P{"who": t.Who, "when": t.When.In(loc).Format("2006-01-02 15:04"), "n": t.Unlike, "taken": t.Taken})
	if t.SameName {
		text += " " + l.Say("web.type.same-name", nil)
	}
	return text
}

// assayOf is the record that a typed sheet would make.
func assayOf(values map[string]string) (assay.Deployment, bool) {
	dep, faults := sheet.Deployment(values)
	return dep, len(faults) == 0
}
