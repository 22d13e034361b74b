package web

import (
	"errors"
	"net/http"
	"sort"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/task"
	"soakline/internal/words"
)

// formView is the form of a record: to mend one, or to write a new one.
type formView struct {
	Key, ID string // empty for a new one
	Action  string
	Groups  []inputGroup
	Wrong   []string
	Why     string
	Asked   bool // a reason is needed
	Back    string
	Lists   []datalist
}

// datalist offers the names already in use.
type datalist struct {
	ID    string
	Names []string
}

// knownNames are the sites and habitats of a season.
func knownNames(s *task.Season) []datalist {
	sites, habitats := map[string]string{}, map[string]string{}
	for _, x := range s.Sites {
		sites[x.Name] = ""
	}
	for i := range s.Deployments {
		sites[s.Deployments[i].Site], habitats[s.Deployments[i].Habitat] = "", ""
	}
	return []datalist{{"known-site", sortedNames(sites)}, {"known-habitat", sortedNames(habitats)}}
}

func protocolNames(s *task.Season) []string {
	names := make([]string, 0, len(s.Protocols))
	for n := range s.Protocols {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

func (d *Desk) newRow(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	values := formValues(r.URL.Query())
	if values["baits_deployed"] == "" {
		values["baits_deployed"] = "25"
		if p, ok := s.Protocols[s.Settings.Protocol]; ok && p.Baits > 0 {
			values["baits_deployed"] = words.Number(float64(p.Baits), "0")
		}
	}
	return d.showForm(w, r, b, http.StatusOK, formView{Action: "/rows/new"}, values, nil)
}

func (d *Desk) showForm(w http.ResponseWriter, r *http.Request, b *opened, status int, v formView, values map[string]string, wrong error) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	marked := map[string]bool{}
	if wrong != nil {
		var faulty *task.FaultyValues
		if errors.As(wrong, &faulty) {
			for _, f := range faulty.Faults {
				marked[f.Column] = true
			}
		}
		p, _ := explain(l, wrong)
		v.Wrong = p.Lines
	}
	v.Lists = knownNames(s)
	v.Groups = rowForm(l, values, marked, protocolNames(s))
	title := l.Say("web.form.new", nil)
	if v.Key != "" {
		title = l.Say("web.form.mend", words.P{"id": v.ID})
	} else { // the identifier is given when it is left out
		for i := range v.Groups[0].Inputs {
			if v.Groups[0].Inputs[i].Name == "deployment_id" {
				v.Groups[0].Inputs[i].Required = false
				v.Groups[0].Inputs[i].Hint = l.Say("web.form.id-given", nil)
			}
		}
	}
	return d.show(w, r, b, status, "form", title, v)
}

// zoned puts a time without an offset into the zone of its site, or of the
// logbook: a person types what their watch showed.
func (d *Desk) zoned(r *http.Request, b *opened, values map[string]string) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	zone := s.Settings.Zone
	for _, site := range s.Sites {
		if site.Zone != "" && (site.Name == values["site"] || contains(site.Synonyms, values["site"])) {
			zone = site.Zone
		}
	}
	return putZone(values, zone)
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func (d *Desk) addRow(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	values := formValues(r.PostForm)
	typed := copyOf(values)
	err := d.zoned(r, b, values)
	var added task.Added
	if err == nil {
		err = missing(values)
	}
	if err == nil {
		added, err = task.Add(r.Context(), b.book, values, d.by(r.PostFormValue("why")))
	}
	if err != nil {
		return d.showForm(w, r, b, http.StatusUnprocessableEntity, formView{Action: "/rows/new", Why: r.PostFormValue("why")}, typed, err)
	}
	b.forget()
	d.setFlash(flash{Text: d.language().Say("web.done.added", words.P{"id": added.ID})})
	http.Redirect(w, r, rowHref(added.Key), http.StatusSeeOther)
	return nil
}

func copyOf(m map[string]string) map[string]string {
	out := map[string]string{}
	for k, v := range m {
		out[k] = v
	}
	return out
}

func (d *Desk) mendPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	e, _, err := task.History(r.Context(), b.book, r.PathValue("key"))
	if err != nil {
		return err
	}
	v := formView{Key: e.Record.Key, ID: e.Deployment.ID, Action: rowHref(e.Record.Key) + "/mend", Asked: true, Back: r.URL.Query().Get("back")}
	return d.showForm(w, r, b, http.StatusOK, v, e.Record.Fields, nil)
}

func (d *Desk) mendRow(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	e, _, err := task.History(r.Context(), b.book, r.PathValue("key"))
	if err != nil {
		return err
	}
	why := r.PostFormValue("why")
	to, err := d.changes(r, b, e)
	if err == nil && len(to) == 0 {
		d.setFlash(flash{Text: d.language().Say("web.done.same", nil)})
		back(w, r, rowHref(e.Record.Key))
		return nil
	}
	if err == nil {
		_, err = task.Correct(r.Context(), b.book, e.Record.Key, to, d.by(why))
	}
	if err != nil {
		values := copyOf(e.Record.Fields)
		for k, x := range formValues(r.PostForm) {
			values[k] = x
		}
		v := formView{Key: e.Record.Key, ID: e.Deployment.ID, Action: rowHref(e.Record.Key) + "/mend", Asked: true, Why: why, Back: r.PostFormValue("back")}
		return d.showForm(w, r, b, http.StatusUnprocessableEntity, v, values, err)
	}
	b.forget()
	d.setFlash(flash{Text: d.language().Say("web.done.mended", words.P{"id": e.Deployment.ID}), Undo: e.Record.Key, Back: rowHref(e.Record.Key)})
	back(w, r, rowHref(e.Record.Key))
	return nil
}

// changes are the fields of a form that say something else than the record.
func (d *Desk) changes(r *http.Request, b *opened, e task.Entry) (map[string]string, error) {
	to := map[string]string{}
	for name, text := range formValues(r.PostForm) {
		if text != shownValue(name, e.Record.Fields[name]) {
			to[name] = text
		}
	}
	if _, ok := to["site"]; !ok {
		to["site"] = e.Record.Fields["site"] // its zone is the one of times typed without an offset
		defer delete(to, "site")
	}
	return to, d.zoned(r, b, to)
}

func (d *Desk) withdrawRow(w http.ResponseWriter, r *http.Request, b *opened) error {
	key := r.PathValue("key")
	if err := task.Withdraw(r.Context(), b.book, key, d.by(r.FormValue("why"))); err != nil {
		return err
	}
	b.forget()
	d.setFlash(flash{Text: d.language().Say("web.done.withdrawn", nil), Undo: key, Back: rowHref(key)})
	back(w, r, rowHref(key))
	return nil
}

func (d *Desk) bringBack(w http.ResponseWriter, r *http.Request, b *opened) error {
	key := r.PathValue("key")
	if err := task.Reinstate(r.Context(), b.book, key, d.by(r.FormValue("why"))); err != nil {
		return err
	}
	b.forget()
	d.setFlash(flash{Text: d.language().Say("web.done.back", nil), Undo: key, Back: rowHref(key)})
	back(w, r, rowHref(key))
	return nil
}

// undo takes back the last change of a record: a row, or an answer.
func (d *Desk) undo(w http.ResponseWriter, r *http.Request, b *opened) error {
	l := d.language()
	if err := task.Undo(r.Context(), b.book, r.FormValue("key"), d.by(l.Say("web.why.undo", nil))); err != nil {
		return err
	}
	b.forget()
	d.setFlash(flash{Text: l.Say("web.done.undone", nil)})
	back(w, r, "/rows")
	return nil
}

// questionView is one finding that waits for a person.
type questionView struct {
	Key, ID, Site, Habitat string
	Rule                   string
	Check                  int
	Field                  string
	Short, ToDo            string // what is wrong, and what to do
	Block                  bool
	Answered               bool
	Answer                 string
	N, Of                  int
	Row                    *rowView
	Input                  *input
	Skip                   string // the question after this one
	Facts                  []fact
	Wrong                  []string
}

func (d *Desk) questionPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showQuestion(w, r, b, http.StatusOK, nil)
}

func (d *Desk) showQuestion(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong error) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	f, found := findingOf(s, r)
	if !found {
		d.nextQuestion(w, r, b, s, f)
		return nil
	}
	l := d.language()
	v := questionView{Key: f.Key, ID: f.DeploymentID, Rule: f.Slug, Check: f.Check, Field: f.Field, Block: f.Severity == assay.Block,
		Answered: f.Answered, Answer: f.Answer}
	v.Short, v.ToDo = wrongAndToDo(l, f)
	open := openFindings(s)
	v.Of = len(open)
	for i, o := range open {
		if same(o, f) {
			v.N = i + 1
			if i+1 < len(open) {
				v.Skip = questionHref(open[i+1])
			}
		}
	}
	e, _, err := task.History(r.Context(), b.book, f.Key)
	if err != nil {
		return err
	}
	v.Site, v.Habitat = e.Deployment.Site, e.Deployment.Habitat
	if v.Row, err = oneRow(r.Context(), l, &e.Deployment, protocolOf(s, &e.Deployment), nil); err != nil {
		return err
	}
	v.Facts = factsOf(l, e.Record.Fields)
	if f.Field != "" {
		for _, g := range rowForm(l, withField(e.Record.Fields, f.Field), nil, protocolNames(s)) {
			for _, in := range g.Inputs {
				if in.Name == f.Field {
					v.Input = &in
				}
			}
		}
	}
	if wrong != nil {
		p, _ := explain(l, wrong)
		v.Wrong = p.Lines
		if v.Input != nil && r.PostForm.Has("v:"+f.Field) {
			v.Input.Value, v.Input.Wrong = r.PostForm.Get("v:"+f.Field), true
		}
	}
	return d.show(w, r, b, status, "question", l.Say("web.question.title", words.P{"id": f.DeploymentID}), v)
}

// withField makes sure that the form offers a field, also an empty one of a
// check beyond those written.
func withField(fields map[string]string, field string) map[string]string {
	if _, ok := fields[field]; ok {
		return fields
	}
	out := copyOf(fields)
	out[field] = ""
	return out
}

// nextQuestion leads on after one was settled: to the first open one, or to
// the rows when none is left.
func (d *Desk) nextQuestion(w http.ResponseWriter, r *http.Request, b *opened, s *task.Season, _ assay.Finding) {
	open := openFindings(s)
	if len(open) == 0 {
		http.Redirect(w, r, "/rows", http.StatusSeeOther)
		return
	}
	http.Redirect(w, r, questionHref(open[0]), http.StatusSeeOther)
}

func (d *Desk) settled(w http.ResponseWriter, r *http.Request, b *opened, fl flash) error {
	b.forget()
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	d.setFlash(fl)
	d.nextQuestion(w, r, b, s, assay.Finding{})
	return nil
}

func (d *Desk) answerQuestion(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	f, found := findingOf(s, r)
	if !found || f.Severity != assay.Ask {
		d.nextQuestion(w, r, b, s, f)
		return nil
	}
	l := d.language()
	if err := task.Answer(r.Context(), b.book, f, r.PostFormValue("answer"), d.by(l.Say("web.why.answer", nil))); err != nil {
		return d.showQuestion(w, r, b, http.StatusUnprocessableEntity, err)
	}
	key, err := answerKey(r, b, f)
	if err != nil {
		return err
	}
	return d.settled(w, r, b, flash{Text: l.Say("web.done.answered", words.P{"id": f.DeploymentID}), Undo: key, Back: questionHref(f)})
}

func (d *Desk) mendQuestion(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	f, found := findingOf(s, r)
	if !found {
		d.nextQuestion(w, r, b, s, f)
		return nil
	}
	e, _, err := task.History(r.Context(), b.book, f.Key)
	if err != nil {
		return err
	}
	to, err := d.changes(r, b, e)
	if err == nil && len(to) == 0 {
		err = &task.Refused{Slug: "web.question.nothing-changed"}
	}
	if err == nil {
		_, err = task.Correct(r.Context(), b.book, f.Key, to, d.by(r.PostFormValue("why")))
	}
	if err != nil {
		return d.showQuestion(w, r, b, http.StatusUnprocessableEntity, err)
	}
	return d.settled(w, r, b, flash{Text: d.language().Say("web.done.mended", words.P{"id": f.DeploymentID}), Undo: f.Key, Back: rowHref(f.Key)})
}

// answerKey is the key under which an answer was just kept.
func answerKey(r *http.Request, b *opened, f assay.Finding) (key string, err error) {
	err = b.book.View(r.Context(), func(tx *logbook.Tx) error {
		for rec, err := range tx.Records("answer") {
			if err != nil {
				return err
			}
			if rec.State == logbook.Live && rec.Fields["record"] == f.Key && rec.Fields["slug"] == f.Slug && atoi(rec.Fields["check"]) == f.Check && rec.Fields["field"] == f.Field {
				key = rec.Key
			}
		}
		return nil
	})
	return key, err
}
