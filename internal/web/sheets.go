package web

import (
	"context"
	"errors"
	"html/template"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/logbook"
	"soakline/internal/report"
	"soakline/internal/task"
	"soakline/internal/words"
)

// mostBytes bounds one upload: a few files of the largest size that is read.
var mostBytes int64 = 96 << 20

// mostSheets is how many files one drop may hold.
const mostSheets = 20

var errTooManySheets = errors.New("too many files at once")

// sheetsView is the page on which files are dropped.
type sheetsView struct {
	Sources []source
	Wrong   []string
}

func (d *Desk) sheetsPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showSheets(w, r, b, http.StatusOK, "")
}

func (d *Desk) showSheets(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong string) error {
	l := d.language()
	var v sheetsView
	err := b.book.View(r.Context(), func(tx *logbook.Tx) error {
		list, err := tx.Sources()
		for _, x := range list {
			v.Sources = append(v.Sources, source{x.Name, x.When.In(d.o.Now().Location()).Format("2006-01-02 15:04"), x.Who})
		}
		return err
	})
	if err != nil {
		return err
	}
	if wrong != "" {
		v.Wrong = []string{wrong}
	}
	return d.show(w, r, b, status, "sheets", l.Say("web.sheets.title", nil), v)
}

// takeSheets holds the files of a form; nothing is kept yet.
func (d *Desk) takeSheets(w http.ResponseWriter, r *http.Request, b *opened) error {
	l := d.language()
	var files []task.File
	err := eachUpload(r, mostBytes, func(name string, data io.Reader) error {
		if len(files) >= mostSheets {
			return errTooManySheets
		}
		text, err := io.ReadAll(data)
		files = append(files, task.File{Name: name, Data: text})
		return err
	})
	var large *http.MaxBytesError
	switch {
	case errors.Is(err, errNoUpload):
		return d.showSheets(w, r, b, http.StatusUnprocessableEntity, l.Say("web.sheets.no-file", nil))
	case errors.Is(err, errTooManySheets):
		return d.showSheets(w, r, b, http.StatusUnprocessableEntity, l.Say("web.sheets.too-many", nil))
	case errors.As(err, &large):
		return d.showSheets(w, r, b, http.StatusRequestEntityTooLarge, l.Say("web.fail.large", words.P{"mb": int(mostBytes >> 20)}))
	case err != nil:
		return err
	}
	h := d.holds.add(files)
	http.Redirect(w, r, "/sheets/"+h.id, http.StatusSeeOther)
	return nil
}

// looked is what a look at held files found.
type looked struct {
	result    *task.ImportResult
	season    *task.Season // as it would be
	faults    []assay.FileError
	questions *task.Questions
	proposal  intake.Proposal
}

// look takes the files into a copy of the logbook, so that everything is found
// that keeping them would find, and the logbook itself stays as it is.
func (d *Desk) look(ctx context.Context, b *opened, h *hold, j *job) (*looked, error) {
	h.mu.Lock()
	files, tables, maps := h.files, h.tables, h.maps
	answers := copyOf(h.answers)
	h.mu.Unlock()
	dir, err := os.MkdirTemp("", "soakline-look-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "look.logbook")
	if err := task.Backup(ctx, b.book, path); err != nil {
		return nil, err
	}
	book, err := task.Open(ctx, path, false)
	if err != nil {
		return nil, err
	}
	defer book.Close()
	by := d.by(d.language().Say("web.why.look", nil))
	if err := keepMaps(ctx, book, maps, by); err != nil {
		return nil, err
	}
	out := &looked{}
	if tables != nil { // before the import, which keeps the maps as they were used
		err = book.View(ctx, func(tx *logbook.Tx) error {
			c, err := readingContext(tx, answers, maps)
			if err == nil {
				out.proposal = intake.Propose(tables, c)
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	out.result, err = task.Import(ctx, book, files, task.ImportOptions{By: by, Answers: answers, Progress: j.progress})
	var faulty *task.FaultyFile
	switch {
	case errors.As(err, &faulty):
		out.faults = faulty.Faults
	case errors.As(err, &out.questions):
	case err != nil:
		return nil, err
	default:
		if out.season, err = task.Of(ctx, book, d.o.Now()); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (d *Desk) lookJob(b *opened, h *hold) *job {
	h.mu.Lock()
	key := h.id + "/" + strconv.Itoa(h.turn)
	h.mu.Unlock()
	l := d.language()
	return d.jobs.start("look", key+string(l), l.Say("web.work.look", nil), "/sheets/"+h.id, func(ctx context.Context, j *job) (any, error) {
		return d.look(ctx, b, h, j)
	})
}

// sheetView is one set of files under way.
type sheetView struct {
	ID        string
	Files     []string
	Faults    []faultItem
	FaultsN   int
	Questions []askItem
	Maps      []mapView
	MapOpen   bool
	Reasons   []string
	Taken     []string
	Notices   []string
	Findings  []findingItem
	FindingsN int
	Counts    string
	Known     []string
	CanKeep   bool
	Keep      string
	Preview   []previewRow
	PreviewN  string
	Wrong     []string
}

type faultItem struct {
	Text  string
	Cells []cellItem
	Line  int
}

type cellItem struct {
	Heading, Text string
	Wrong         bool
}

type askItem struct {
	Key, N, Where, Text, Why string
	Options                  []option
	Free                     bool
	Proposed                 string
	FreeText, FreeHint       string
}

type findingItem struct {
	mark
	Where, ID string
}

type previewRow struct {
	ID, Site, Habitat, Text string
	Picture                 template.HTML
}

func (d *Desk) sheetPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	h := d.holds.find(r.PathValue("id"))
	if h == nil {
		return d.showSheets(w, r, b, http.StatusNotFound, d.language().Say("web.sheets.gone", nil))
	}
	return d.showSheet(w, r, b, h, nil)
}

func (d *Desk) showSheet(w http.ResponseWriter, r *http.Request, b *opened, h *hold, wrong []string) error {
	if keep := d.jobs.find("keep", h.id); keep != nil {
		return d.kept(w, r, b, h, keep)
	}
	j := d.lookJob(b, h)
	if !j.settle(r.Context(), d.o.Patience) {
		return d.working(w, r, b, j)
	}
	_, _, _, result, err := j.state()
	if err != nil {
		return err
	}
	x := result.(*looked)
	l := d.language()
	v := sheetView{ID: h.id, Wrong: wrong}
	for _, f := range h.files {
		v.Files = append(v.Files, f.Name)
	}
	v.Maps = mapViews(l, h, x)
	if err := v.fill(l, h, x); err != nil {
		return err
	}
	return d.show(w, r, b, http.StatusOK, "sheet", l.Say("web.sheet.title", words.P{"files": v.Files}), v)
}

// shownRows is how many rows of a sheet are drawn before it is kept.
const shownRows = 12

// shownFindings bounds what one page lists of a file full of findings.
const shownFindings = 200

func (v *sheetView) fill(l words.Language, h *hold, x *looked) error {
	reasons := x.proposal.Reasons
	switch {
	case len(x.faults) > 0:
		v.faults(l, h, x.faults)
	case x.questions != nil:
		v.questions(l, x.questions.Open)
		reasons = x.questions.Reasons
	default:
		reasons = x.result.Reasons
		if err := v.outcome(l, x); err != nil {
			return err
		}
	}
	seen := map[string]bool{}
	for _, why := range reasons {
		if why.Heading != "" {
			continue // stands beside its column
		}
		text := sentence(l.Say(why.Slug, why.With))
		if !seen[text] {
			seen[text] = true
			v.Reasons = append(v.Reasons, text)
		}
	}
	v.MapOpen = len(x.faults) > 0
	return nil
}

// faults shows each cell that cannot be read in its line.
func (v *sheetView) faults(l words.Language, h *hold, list []assay.FileError) {
	v.FaultsN = len(list)
	for _, f := range list[:min(len(list), shownFindings)] {
		item := faultItem{Text: faultWords(l, f), Line: f.Line}
		for i := range h.tables {
			t := &h.tables[i]
			if t.File != f.File || t.Sheet != f.Sheet {
				continue
			}
			for n := range t.Len() {
				if t.Line(n) != f.Line {
					continue
				}
				for c := range t.Header {
					text, _ := t.Cell(n, c)
					heading := t.Header[c].String()
					item.Cells = append(item.Cells, cellItem{heading, text, heading == f.Column})
				}
				break
			}
		}
		v.Faults = append(v.Faults, item)
	}
}

func (v *sheetView) questions(l words.Language, open []intake.Question) {
	for i, q := range open {
		a := askItem{Key: q.Key, N: strconv.Itoa(i), Text: sentence(l.Say(q.Slug, q.With)), Free: q.Free, FreeHint: l.Say(q.FreeHint(), nil), Proposed: q.Proposal}
		if q.Where.File != "" {
			a.Where = placeWords(l, q.Where)
		}
		if q.Why.Slug != "" && q.Proposal != "" {
			a.Why = l.Say("web.sheet.proposed", words.P{"why": words.Ref{Slug: q.Why.Slug, With: q.Why.With}})
		}
		listed := false
		for _, o := range q.Options {
			label := o.Value
			if o.Slug != "" {
				label = sentence(l.Say(o.Slug, o.With))
			}
			a.Options = append(a.Options, option{o.Value, label, o.Value == q.Proposal})
			listed = listed || o.Value == q.Proposal
		}
		if !listed {
			a.FreeText = q.Proposal
		}
		v.Questions = append(v.Questions, a)
	}
}

// outcome tells what keeping the files would do.
func (v *sheetView) outcome(l words.Language, x *looked) error {
	r := x.result
	v.Known = r.Known
	v.CanKeep = r.Created+r.Revised > 0
	v.Counts = l.Say("web.sheet.counts", words.P{"created": r.Created, "revised": r.Revised, "same": r.Same})
	v.Keep = l.Say("web.sheet.keep", words.P{"n": r.Created + r.Revised})
	for _, m := range r.Taken {
		v.Taken = append(v.Taken, m.In(l))
	}
	for _, n := range r.Notices {
		v.Notices = append(v.Notices, sentence(l.Say("web.notice", words.P{"where": placeRef(n.Place), "text": words.Ref{Slug: n.Slug, With: n.With}})))
	}
	for _, f := range r.Findings {
		if f.Severity == assay.Note || f.Answered {
			continue
		}
		v.FindingsN++
		if len(v.Findings) < shownFindings {
			v.Findings = append(v.Findings, findingItem{markOf(l, f), placeWords(l, f.At), f.DeploymentID})
		}
	}
	byKey := map[string]*assay.Deployment{}
	for i := range x.season.Deployments {
		byKey[x.season.Deployments[i].Key] = &x.season.Deployments[i]
	}
	g := &drawings{}
	v.PreviewN = l.Say("web.sheet.rows", words.P{"n": len(r.Records)})
	if n := len(r.Records); n > shownRows {
		v.PreviewN = l.Say("web.sheet.rows-first", words.P{"n": shownRows, "of": n})
	}
	for _, rec := range r.Records[:min(len(r.Records), shownRows)] {
		d := byKey[rec.Key]
		if d == nil {
			continue
		}
		p, err := g.compact(report.RowPicture(l, d, protocolOf(x.season, d).CountsAsConsumed, false))
		if err != nil {
			return err
		}
		v.Preview = append(v.Preview, previewRow{d.ID, d.Site, d.Habitat, report.RowText(l, d), p})
	}
	return nil
}

// answerSheet takes the answers and the corrected map of one turn.
func (d *Desk) answerSheet(w http.ResponseWriter, r *http.Request, b *opened) error {
	h := d.holds.find(r.PathValue("id"))
	if h == nil {
		return d.showSheets(w, r, b, http.StatusNotFound, d.language().Say("web.sheets.gone", nil))
	}
	if err := r.ParseForm(); err != nil {
		return err
	}
	j := d.lookJob(b, h)
	if !j.settle(r.Context(), d.o.Patience) {
		return d.working(w, r, b, j)
	}
	_, _, _, result, err := j.state()
	if err != nil {
		return err
	}
	x := result.(*looked)
	h.mu.Lock()
	if x.questions != nil && r.PostForm.Has("answers") {
		for i, q := range x.questions.Open {
			n := strconv.Itoa(i)
			a := r.PostForm.Get("a" + n)
			if a == "" || a == "\x00free" || a == "*" {
				a = strings.TrimSpace(r.PostForm.Get("free" + n))
			}
			if a != "" {
				h.answers[q.Key] = a
			}
		}
		h.turn++
	}
	if r.PostForm.Has("map") {
		if maps, changed := chosenMaps(x, r.PostForm); changed {
			h.maps = maps
			h.answers = map[string]string{} // they were about another reading
			h.turn++
		}
	}
	if r.PostForm.Has("again") { // take back the answers and the map
		h.answers, h.maps = map[string]string{}, nil
		h.turn++
	}
	h.mu.Unlock()
	http.Redirect(w, r, "/sheets/"+h.id, http.StatusSeeOther)
	return nil
}

// keepSheet takes the files into the logbook.
func (d *Desk) keepSheet(w http.ResponseWriter, r *http.Request, b *opened) error {
	h := d.holds.find(r.PathValue("id"))
	if h == nil {
		return d.showSheets(w, r, b, http.StatusNotFound, d.language().Say("web.sheets.gone", nil))
	}
	h.mu.Lock()
	files, maps, answers := h.files, h.maps, copyOf(h.answers)
	h.mu.Unlock()
	l := d.language()
	by := d.by(l.Say("web.why.import", words.P{"files": fileNames(files)}))
	j := d.jobs.start("keep", h.id, l.Say("web.work.keep", nil), "/sheets/"+h.id, func(ctx context.Context, j *job) (any, error) {
		if err := keepMaps(ctx, b.book, maps, by); err != nil {
			return nil, err
		}
		return task.Import(ctx, b.book, files, task.ImportOptions{By: by, Answers: answers, Progress: j.progress})
	})
	return d.kept(w, r, b, h, j)
}

func fileNames(files []task.File) []string {
	var out []string
	for _, f := range files {
		out = append(out, f.Name)
	}
	return out
}

// kept waits for the import and leads to the rows.
func (d *Desk) kept(w http.ResponseWriter, r *http.Request, b *opened, h *hold, j *job) error {
	if !j.settle(r.Context(), d.o.Patience) {
		return d.working(w, r, b, j)
	}
	_, _, _, result, err := j.state()
	b.forget()
	var asked *task.Questions
	var faulty *task.FaultyFile
	if errors.As(err, &asked) || errors.As(err, &faulty) { // the logbook has changed since the look
		d.jobs.forget(j)
		h.mu.Lock()
		h.turn++
		h.mu.Unlock()
		http.Redirect(w, r, "/sheets/"+h.id, http.StatusSeeOther)
		return nil
	}
	if err != nil {
		d.jobs.forget(j) // the files are still held: it can be tried again
		return err
	}
	d.holds.drop(h.id)
	x := result.(*task.ImportResult)
	d.setFlash(flash{Text: d.language().Say("web.done.kept", words.P{"created": x.Created, "revised": x.Revised, "same": x.Same})})
	http.Redirect(w, r, "/rows", http.StatusSeeOther)
	return nil
}

func (d *Desk) dropSheet(w http.ResponseWriter, r *http.Request, b *opened) error {
	d.holds.drop(r.PathValue("id"))
	d.setFlash(flash{Text: d.language().Say("web.done.dropped", nil)})
	http.Redirect(w, r, "/sheets", http.StatusSeeOther)
	return nil
}
