package web

import (
	"html/template"
	"net/http"
	"net/url"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/report"
	"soakline/internal/task"
	"soakline/internal/words"
)

// rowsPerPage keeps a page of a large season readable and quick: each row is a
// drawing.
const rowsPerPage = 60

// pagesNear is how many pages before and after the one shown are offered,
// beside the first and the last.
const pagesNear = 10

// nextStep is the one thing to do next: a sentence and a button.
type nextStep struct{ Text, Button, Href string }

// rowsView is the list of rows along the shore.
type rowsView struct {
	Summary   string
	Next      nextStep
	Sites     []siteRows
	Only      string // filter in force: "", "open", or a site's name
	SiteNames []string
	Page      int
	Pages     []pageLink
	Shown     string
	Withdrawn []rowItem
	Empty     bool
	Stakes    string // what should be back and is not; told until it is settled
}

type pageLink struct {
	N       int
	Href    string
	Current bool
}

type siteRows struct {
	Site string
	Rows []rowItem
}

// rowItem is one row in the list.
type rowItem struct {
	Key, ID, Habitat, Date, Text string
	Picture                      template.HTML
	Marks                        []mark
}

// mark is what is said of a row beside it.
type mark struct {
	Kind, Sign string // block or ask, and the sign that stands for it
	Text, Href string
	Short      string // only what is wrong
}

func (d *Desk) rowsPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	q := r.URL.Query()
	v := rowsView{Only: q.Get("only"), Page: max(1, atoi(q.Get("page")))}
	v.Summary, v.Next = summary(l, s), next(l, s)
	v.Empty = len(s.Deployments) == 0
	if err := v.list(l, s, openFindings(s)); err != nil {
		return err
	}
	out, err := task.StakesOut(r.Context(), b.book, s, d.o.Now())
	if err != nil {
		return err
	}
	v.Stakes = stakesSum(l, out)
	if s.Withdrawn > 0 {
		if v.Withdrawn, err = withdrawn(r, b); err != nil {
			return err
		}
	}
	return d.show(w, r, b, http.StatusOK, "rows", l.Say("web.rows.title", nil), v)
}

// summary says what the season holds, in one sentence.
func summary(l words.Language, s *task.Season) string {
	if len(s.Deployments) == 0 {
		return l.Say("web.rows.none", nil)
	}
	sites := map[string]bool{}
	most := 0
	for i := range s.Deployments {
		d := &s.Deployments[i]
		sites[d.Site] = true
		read := 0
		for _, c := range d.Checks {
			if c.Read() {
				read++
			}
		}
		most = max(most, read)
	}
	counts := make([]int, most)
	for i := range s.Deployments {
		for _, c := range s.Deployments[i].Checks {
			if c.Read() && c.Number <= most && c.Number > 0 {
				counts[c.Number-1]++
			}
		}
	}
	list := words.List{}
	for k, n := range counts {
		list = append(list, words.Ref{Slug: "web.rows.read", With: words.P{"n": n, "check": k + 1}})
	}
	if len(list) == 0 {
		return l.Say("web.rows.set", words.P{"n": len(s.Deployments), "sites": len(sites)})
	}
	return l.Say("web.rows.summary", words.P{"n": len(s.Deployments), "sites": len(sites), "list": list})
}

// next is the one next step of a season.
func next(l words.Language, s *task.Season) nextStep {
	blocks, asks := 0, 0
	open := openFindings(s)
	for _, f := range open {
		if f.Severity == assay.Block {
			blocks++
		} else {
			asks++
		}
	}
	switch {
	case len(s.Deployments) == 0:
		return nextStep{l.Say("web.next.empty", nil), l.Say("web.next.empty-button", nil), "/sheets"}
	case blocks > 0:
		return nextStep{l.Say("web.next.block", words.P{"n": blocks}), l.Say("web.next.block-button", nil), questionHref(open[0])}
	case asks > 0:
		return nextStep{l.Say("web.next.ask", words.P{"n": asks}), l.Say("web.next.ask-button", nil), questionHref(open[0])}
	}
	return nextStep{l.Say("web.next.answer", nil), l.Say("web.next.answer-button", nil), "/answer"}
}

// list fills in the rows of one page, site by site.
func (v *rowsView) list(l words.Language, s *task.Season, open []assay.Finding) error {
	marks := map[string][]mark{}
	for _, f := range open {
		marks[f.Key] = append(marks[f.Key], markOf(l, f))
	}
	var places []int
	names := map[string]bool{}
	for i := range s.Deployments {
		d := &s.Deployments[i]
		names[d.Site] = true
		if v.Only == "" || v.Only == "open" && len(marks[d.Key]) > 0 || v.Only == "site:"+d.Site {
			places = append(places, i)
		}
	}
	for n := range names {
		v.SiteNames = append(v.SiteNames, n)
	}
	sort.Strings(v.SiteNames)
	sort.SliceStable(places, func(i, j int) bool {
		a, b := &s.Deployments[places[i]], &s.Deployments[places[j]]
		if a.Site != b.Site {
			return a.Site < b.Site
		}
		if a.Habitat != b.Habitat {
			return a.Habitat < b.Habitat
		}
		return a.SetOut.At.Before(b.SetOut.At)
	})
	pages := (len(places) + rowsPerPage - 1) / rowsPerPage
	v.Page = max(1, min(v.Page, pages))
	from := (v.Page - 1) * rowsPerPage
	to := min(len(places), from+rowsPerPage)
	if pages > 1 {
		for n := 1; n <= pages; n++ {
			if n == 1 || n == pages || max(n-v.Page, v.Page-n) <= pagesNear {
				v.Pages = append(v.Pages, pageLink{n, "/rows?" + url.Values{"only": {v.Only}, "page": {strconv.Itoa(n)}}.Encode(), n == v.Page})
			}
		}
		v.Shown = l.Say("web.rows.shown", words.P{"from": from + 1, "to": to, "of": len(places)})
	}
	g := &drawings{}
	for _, i := range places[from:to] {
		d := &s.Deployments[i]
		item, err := itemOf(l, g, s, d)
		if err != nil {
			return err
		}
		item.Marks = marks[d.Key]
		if n := len(v.Sites); n == 0 || v.Sites[n-1].Site != d.Site {
			v.Sites = append(v.Sites, siteRows{Site: d.Site})
		}
		at := &v.Sites[len(v.Sites)-1]
		at.Rows = append(at.Rows, item)
	}
	return nil
}

func itemOf(l words.Language, g *drawings, s *task.Season, d *assay.Deployment) (rowItem, error) {
	item := rowItem{Key: d.Key, ID: d.ID, Habitat: d.Habitat, Date: dateOf(d.SetOut), Text: report.RowText(l, d)}
	var err error
	item.Picture, err = g.compact(report.RowPicture(l, d, protocolOf(s, d).CountsAsConsumed, false))
	return item, err
}

func dateOf(m assay.Moment) string {
	if !m.Known() {
		return ""
	}
	return m.Local().Format("2006-01-02")
}

func markOf(l words.Language, f assay.Finding) mark {
	m := mark{Kind: string(f.Severity), Sign: "?", Text: sentence(l.Say("finding."+f.Slug, f.With)), Href: questionHref(f)}
	m.Short, _ = wrongAndToDo(l, f) // beside a row there is room for what is wrong
	if f.Severity == assay.Block {
		m.Sign = "!"
	}
	return m
}

// wrongAndToDo parts what is said of a finding at its semicolon: what is wrong
// stands before it, what to do after it.
func wrongAndToDo(l words.Language, f assay.Finding) (wrong, toDo string) {
	text := strings.Trim(l.Say("finding."+f.Slug, f.With), "⟦⟧")
	wrong, toDo, _ = strings.Cut(text, "; ")
	wrong, toDo = sentence(wrong), sentence(toDo)
	if toDo != "" {
		toDo += "."
	}
	if l == words.Pseudo {
		wrong, toDo = "⟦"+wrong+"⟧", "⟦"+toDo+"⟧"
	}
	return wrong, toDo
}

// withdrawn lists the rows that were taken out.
func withdrawn(r *http.Request, b *opened) ([]rowItem, error) {
	var list []rowItem
	err := b.book.View(r.Context(), func(tx *logbook.Tx) error {
		for rec, err := range tx.Records("deployment") {
			if err != nil {
				return err
			}
			if rec.State == logbook.Withdrawn {
				list = append(list, rowItem{Key: rec.Key, ID: rec.Fields["deployment_id"], Habitat: rec.Fields["site"] + ", " + rec.Fields["habitat"]})
			}
		}
		return nil
	})
	return list, err
}

// oneView is the page of one row.
type oneView struct {
	Key, ID, Site, Habitat string
	Date                   string
	Withdrawn              bool
	Row                    *rowView
	Marks                  []mark   // open
	Notes                  []string // declared
	Answered               []answered
	Facts                  []fact
	History                []revision
	CanUndo                bool
	Before, After          *rowItem
	Typings                []string
	Scans                  []scanItem
}

type answered struct{ Text, Answer, Undo string }

type fact struct{ Name, Value string }

// revision is one change as told.
type revision struct {
	When, Who, Why, From string
	What                 string
	Changes              []changed
}

type changed struct{ Name, Was, Is string }

func (d *Desk) rowPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	v, err := d.oneRowView(r, b, r.PathValue("key"))
	if err != nil {
		return err
	}
	l := d.language()
	return d.show(w, r, b, http.StatusOK, "row", l.Say("web.row.title", words.P{"id": v.ID}), v)
}

func (d *Desk) oneRowView(r *http.Request, b *opened, key string) (*oneView, error) {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return nil, err
	}
	e, revisions, err := task.History(r.Context(), b.book, key)
	if err != nil {
		return nil, err
	}
	l := d.language()
	dep := &e.Deployment
	v := &oneView{Key: e.Record.Key, ID: dep.ID, Site: dep.Site, Habitat: dep.Habitat, Date: dateOf(dep.SetOut), Withdrawn: e.Record.State == logbook.Withdrawn,
		CanUndo: len(revisions) > 1}
	if v.Row, err = oneRow(r.Context(), l, dep, protocolOf(s, dep), nil); err != nil {
		return nil, err
	}
	for _, f := range s.Findings {
		if f.Key != v.Key {
			continue
		}
		text := sentence(l.Say("finding."+f.Slug, f.With))
		switch {
		case f.Severity == assay.Note:
			v.Notes = append(v.Notes, text)
		case f.Severity == assay.Ask && f.Answered:
			v.Answered = append(v.Answered, answered{text, f.Answer, questionHref(f)})
		default:
			v.Marks = append(v.Marks, markOf(l, f))
		}
	}
	v.Facts = factsOf(l, e.Record.Fields)
	v.History, err = d.historyOf(r, b, l, revisions)
	if err != nil {
		return nil, err
	}
	v.neighbours(s)
	return v, d.paperOf(r, b, v)
}

// paperOf tells by whom a row's paper sheet was typed, and shows its pictures.
func (d *Desk) paperOf(r *http.Request, b *opened, v *oneView) error {
	return b.book.View(r.Context(), func(tx *logbook.Tx) error {
		typings, err := task.Typings(tx, v.Key)
		if err != nil {
			return err
		}
		for _, t := range typings {
			v.Typings = append(v.Typings, typedLine(d.language(), t, d.o.Now().Location()))
		}
		scans, err := task.ScansOf(tx, v.Key, "")
		for _, s := range scans {
			v.Scans = append(v.Scans, scanOf(s))
		}
		return err
	})
}

// factsOf lists what is written of a row, in the order of the datasheet.
func factsOf(l words.Language, fields map[string]string) []fact {
	var out []fact
	for _, g := range rowForm(l, fields, nil, nil) {
		for _, in := range g.Inputs {
			if in.Value == "" {
				continue
			}
			value := in.Value
			for _, o := range in.Options {
				if o.Chosen && o.Label != "" && in.Kind == "word" {
					value = o.Label
				}
			}
			if in.Unit != "" {
				value += " " + in.Unit
			}
			out = append(out, fact{in.Label, value})
		}
	}
	return out
}

// historyOf tells the changes of a record, the last one first.
func (d *Desk) historyOf(r *http.Request, b *opened, l words.Language, list []logbook.Revision) ([]revision, error) {
	names := map[string]string{}
	err := b.book.View(r.Context(), func(tx *logbook.Tx) error {
		sources, err := tx.Sources()
		for _, s := range sources {
			names[s.ID] = s.Name
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	var out []revision
	for i := len(list) - 1; i >= 0; i-- {
		rev := list[i]
		x := revision{When: rev.When.In(d.o.Now().Location()).Format("2006-01-02 15:04"), Who: rev.Who, Why: rev.Why, What: l.Say("web.history."+string(rev.Action), nil)}
		if name := names[rev.Source]; name != "" {
			x.From = l.Say("web.history.from", words.P{"file": name, "line": rev.Line})
		}
		if rev.Action != logbook.Create {
			for _, f := range sortedChanges(rev.Changed) {
				c := rev.Changed[f]
				x.Changes = append(x.Changes, changed{fieldName(l, f), shownValue(f, c.Was()), shownValue(f, c.Is())})
			}
		}
		out = append(out, x)
	}
	return out, nil
}

func sortedChanges(m map[string]logbook.Change) []string {
	names := make([]string, 0, len(m))
	for n := range m {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// neighbours finds the rows before and after this one in the season's order.
func (v *oneView) neighbours(s *task.Season) {
	for i := range s.Deployments {
		if s.Deployments[i].Key != v.Key {
			continue
		}
		if i > 0 {
			v.Before = &rowItem{Key: s.Deployments[i-1].Key, ID: s.Deployments[i-1].ID}
		}
		if i+1 < len(s.Deployments) {
			v.After = &rowItem{Key: s.Deployments[i+1].Key, ID: s.Deployments[i+1].ID}
		}
	}
}

func rowHref(key string) string { return "/rows/" + url.PathEscape(strings.TrimSpace(key)) }
