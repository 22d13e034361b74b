package web

import (
	"net/http"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/leaf"
	"soakline/internal/paper"
	"soakline/internal/prep"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// printView is the page from which everything on paper is printed.
type printView struct {
	Wrong   []string
	Open    int // rows still to be visited
	Rows    int
	Today   string
	Teams   []string
	Batches []string
	Sizes   []string
	Grids   []option
	PerPage []int
	Asked   map[string]string // what a form asked for, where it could not be had
}

// mostPrinted bounds the blank rows of one print: more is a slip of the hand.
const mostPrinted = 500

func (d *Desk) printPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showPrint(w, r, b, http.StatusOK, nil)
}

func (d *Desk) showPrint(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong []string) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	v := printView{Wrong: wrong, Rows: len(s.Deployments), Today: d.o.Now().Format("2006-01-02"), Teams: teamsOf(s), Asked: map[string]string{}}
	for i := range s.Deployments {
		if task.ToVisit(s, &s.Deployments[i]) {
			v.Open++
		}
	}
	for _, x := range s.Batches {
		v.Batches = append(v.Batches, x.Code)
	}
	for _, z := range paper.Sizes {
		v.Sizes = append(v.Sizes, z.Name)
	}
	for _, g := range paper.Grids() {
		slug := "web.print.grid"
		if g.Cut {
			slug = "web.print.grid-cut"
		}
		v.Grids = append(v.Grids, option{Value: g.Name, Label: l.Say(slug, words.P{"name": g.Name, "n": g.Across * g.Down, "w": g.Width, "h": g.Height})})
	}
	for n := 1; n <= paper.MaxPerPage; n++ {
		v.PerPage = append(v.PerPage, n)
	}
	for name := range r.Form {
		v.Asked[name] = r.Form.Get(name)
	}
	return d.show(w, r, b, status, "print", l.Say("web.print.title", nil), v)
}

// printed sends a PDF, or shows the page with the reason why there is none.
func (d *Desk) printed(w http.ResponseWriter, r *http.Request, b *opened, name string, data []byte, err error) error {
	if err != nil {
		p, status := explain(d.language(), err)
		return d.showPrint(w, r, b, status, p.Lines)
	}
	send(w, "application/pdf", fileName(b, name), data)
	return nil
}

func sizeOf(r *http.Request) leaf.Size {
	for _, z := range leaf.Sizes {
		if z.Name == r.FormValue("size") {
			return z
		}
	}
	return leaf.A4
}

// usualOf is the protocol of sheets that name no row.
func usualOf(s *task.Season) assay.Protocol {
	if p, ok := s.Protocols[s.Settings.Protocol]; ok {
		return p
	}
	return sheet.Standard()
}

// rowsToPrint are the rows that a form asks for: those still to be visited, all,
// one by its key, or blank ones.
func (d *Desk) rowsToPrint(r *http.Request, b *opened, s *task.Season) ([]paper.Row, error) {
	if r.FormValue("which") == "blank" {
		n, first := atoi(r.FormValue("n")), max(1, atoi(r.FormValue("first")))
		if n < 1 || n > mostPrinted {
			return nil, &task.Refused{Slug: "web.print.how-many", With: words.P{"most": mostPrinted}}
		}
		return task.BlankRows(n, first, strings.TrimSpace(r.FormValue("ids")), usualOf(s)), nil
	}
	k, err := task.SheetSitesIn(r.Context(), d.language(), s, b.book)
	if err != nil {
		return nil, err
	}
	of, all := s, r.FormValue("which") == "all"
	if key := r.FormValue("row"); key != "" {
		one := *s
		one.Deployments = nil
		for i := range s.Deployments {
			if s.Deployments[i].Key == key {
				one.Deployments = s.Deployments[i : i+1]
			}
		}
		of, all = &one, true
	}
	rows := task.SheetRows(of, k, all)
	if len(rows) == 0 {
		return nil, &task.Refused{Slug: "web.print.none"}
	}
	return rows, nil
}

func (d *Desk) sheetOptions(r *http.Request, s *task.Season) paper.SheetOptions {
	l := d.language()
	o := paper.SheetOptions{Lang: l, Size: sizeOf(r), Level: paper.Counts, PerPage: max(1, min(atoi(r.FormValue("per")), paper.MaxPerPage)), Protocol: usualOf(s),
		Invented: s.Settings.Invented, Title: l.Say("paper.title.sheets", nil)}
	if r.FormValue("level") == string(paper.Stakes) {
		o.Level, o.PerPage = paper.Stakes, 1
	}
	return o
}

func (d *Desk) printSheets(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	o := d.sheetOptions(r, s)
	var data []byte
	if o.Rows, err = d.rowsToPrint(r, b, s); err == nil {
		data, err = task.Sheets(o)
	}
	return d.printed(w, r, b, "sheets.pdf", data, err)
}

func (d *Desk) printDay(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	data, err := d.dayBooklet(r, b, s)
	return d.printed(w, r, b, "day.pdf", data, err)
}

func (d *Desk) dayBooklet(r *http.Request, b *opened, s *task.Season) ([]byte, error) {
	l := d.language()
	team, day := strings.TrimSpace(r.FormValue("team")), strings.TrimSpace(r.FormValue("day"))
	k, err := task.SheetSitesIn(r.Context(), l, s, b.book)
	if err != nil {
		return nil, err
	}
	kit, err := task.KitOf(r.Context(), b.book)
	if err != nil {
		return nil, err
	}
	t, err := task.DayOf(s, k, l, team, day, r.FormValue("all") != "")
	if err != nil {
		return nil, err
	}
	t.Pack(kit, max(1, min(atoi(r.FormValue("people")), prep.MaxHelpers)))
	if team == "" {
		team = s.Settings.Team
	}
	o := d.sheetOptions(r, s)
	o.Title = l.Say("paper.book.title", words.P{"team": team, "day": day})
	return task.Booklet(paper.BookletOptions{SheetOptions: o, Team: team, Day: day}, t)
}

func (d *Desk) printLabels(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	o := paper.LabelOptions{Lang: l, Grid: paper.Grids()[0], Title: l.Say("paper.title.labels", nil)}
	for _, g := range paper.Grids() {
		if g.Name == r.FormValue("grid") {
			o.Grid = g
		}
	}
	o.Skip = max(0, min(atoi(r.FormValue("skip")), o.Grid.Across*o.Grid.Down-1))
	for name, to := range map[string]*float64{"shift-x": &o.ShiftX, "shift-y": &o.ShiftY} {
		if x, err := strconv.ParseFloat(strings.Replace(r.FormValue(name), ",", ".", 1), 64); err == nil && x >= -5 && x <= 5 {
			*to = x
		}
	}
	var data []byte
	if o.Labels, err = d.labelsAsked(r, b, s); err == nil {
		data, err = task.Labels(o)
	}
	return d.printed(w, r, b, "labels.pdf", data, err)
}

// labelsAsked are those of stakes, of bags, or of batches of bait.
func (d *Desk) labelsAsked(r *http.Request, b *opened, s *task.Season) ([]paper.Label, error) {
	l := d.language()
	if r.FormValue("what") == "batches" {
		chosen := s.Batches
		if code := r.FormValue("code"); code != "" {
			chosen = nil
			for _, x := range s.Batches {
				if x.Code == code {
					chosen = append(chosen, x)
				}
			}
		}
		if len(chosen) == 0 {
			return nil, &task.Refused{Slug: "web.print.no-batch"}
		}
		return task.BatchLabels(chosen, max(1, min(atoi(r.FormValue("copies")), mostPrinted)), l), nil
	}
	rows, err := d.rowsToPrint(r, b, s)
	if err != nil {
		return nil, err
	}
	for i := range rows {
		if rows[i].ID == "" {
			return nil, &task.Refused{Slug: "cmd.cards.labels.no-ids"}
		}
	}
	if r.FormValue("what") == "bags" {
		return paper.BagLabels(rows, l), nil
	}
	return paper.StakeLabels(rows), nil
}

func (d *Desk) printGuide(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	data, err := task.Guide(paper.GuideOptions{Lang: l, Size: sizeOf(r), Protocol: usualOf(s), Title: l.Say("paper.guide.title", nil)})
	return d.printed(w, r, b, "guide.pdf", data, err)
}

func (d *Desk) printCard(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	seed, err := strconv.ParseUint(strings.TrimSpace(r.FormValue("card")), 10, 64)
	if err != nil {
		return d.printed(w, r, b, "", nil, &task.Refused{Slug: "web.print.card-number"})
	}
	data, err := task.Practice(paper.CardOptions{Lang: l, Size: sizeOf(r), Protocol: usualOf(s), Seed: seed, Title: l.Say("paper.card.title", words.P{"seed": int(seed)})})
	return d.printed(w, r, b, "practice-"+strconv.FormatUint(seed, 10)+".pdf", data, err)
}
