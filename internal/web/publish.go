package web

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/publish"
	"soakline/internal/task"
	"soakline/internal/words"
)

// publishView is the page on which a season is published.
type publishView struct {
	Wrong    []string
	About    publish.Metadata
	AboutAll bool // all that is needed is there
	Licences []option
	Keywords string
	Creators []partyItem
	Funding  []fundItem
	People   []personItem
	Unnamed  int // who stand in the rows and have not agreed
	Places   []placeItem
	Hidden   int
	Sources  []linkItem
	Taxa     []taxonItem
	Unlisted int // names in the rows that the list of taxa does not have
	Refused  []flagItem
	Asked    []flagItem
	Left     []string
	Said     []string
	Rows     int
	Made     *madeView
	Releases []task.Release
	Next     int
	Folder   string
	Date     string
	Version  string
	Blocked  bool // impossible records stand in the way
}

type partyItem struct {
	N int
	publish.Party
}

type fundItem struct {
	N int
	publish.Fund
}

type linkItem struct {
	N int
	publish.Link
}

// taxonItem is a name as written in the rows, or in the list of taxa.
type taxonItem struct {
	N, Rows int
	Name    string
	Listed  bool
	publish.Taxon
}

type personItem struct {
	N        int
	Rows     int
	Licences []option
	Also     string
	publish.Person
}

type placeItem struct {
	N, Rows int
	Site    string
	Hidden  bool
	publish.Sensitive
	Sizes []option
}

// flagItem is one thing a reviewer would say, with the rows it is about.
type flagItem struct{ Text string }

// madeView is what was just written.
type madeView struct {
	ID, Folder string
	Files      []string
	Rows       int
	Release    int
	Left       []string
	Said       []string
}

// made is the result of the job that publishes.
type made struct {
	result *publish.Result
	folder string // empty for a zip
	zip    []byte
}

func (d *Desk) publishPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showPublish(w, r, b, http.StatusOK, nil)
}

func (d *Desk) showPublish(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong error) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	v := publishView{Date: d.o.Now().Format(time.DateOnly), Next: 1}
	err = b.book.View(r.Context(), func(tx *logbook.Tx) (err error) {
		if v.About, err = task.Publication(tx); err != nil {
			return err
		}
		v.Releases, err = task.Releases(tx)
		return err
	})
	if err != nil {
		return err
	}
	if wrong != nil {
		p, code := d.publishProblem(wrong)
		if code == http.StatusInternalServerError {
			return wrong
		}
		v.Wrong = p
	}
	v.fill(l, s, b)
	if len(s.Deployments) > 0 {
		j := d.previewJob(b, s, v.About)
		if !j.settle(r.Context(), d.o.Patience) {
			return d.working(w, r, b, j)
		}
		_, _, _, result, err := j.state()
		if err != nil {
			lines, code := d.publishProblem(err)
			if code == http.StatusInternalServerError {
				return err
			}
			v.Wrong = append(v.Wrong, lines...)
		} else {
			v.preview(l, result.(*publish.Preview))
		}
	}
	if j := d.jobs.find("publish", ""); j != nil {
		v.done(l, j)
	}
	return d.show(w, r, b, status, "publish", l.Say("web.publish.title", nil), v)
}

// fill shows what the logbook keeps.
func (v *publishView) fill(l words.Language, s *task.Season, b *opened) {
	m := &v.About
	v.AboutAll = m.Title != "" && m.Licence != "" && m.Contact.Name != "" && m.Contact.Email != "" && m.Abstract != "" && m.Publisher != ""
	v.Licences = licenceOptions(l, m.Licence, "web.publish.choose")
	v.Keywords = strings.Join(m.Keywords, ", ")
	for i, c := range m.Creator {
		v.Creators = append(v.Creators, partyItem{i + 1, c})
	}
	for i, f := range m.Funding {
		v.Funding = append(v.Funding, fundItem{i + 1, f})
	}
	for i, x := range m.Source {
		v.Sources = append(v.Sources, linkItem{i + 1, x})
	}
	v.people(l, s)
	v.places(l, s)
	v.taxa(s)
	if n := len(v.Releases); n > 0 {
		v.Next, v.Version = v.Releases[n-1].Number+1, v.Releases[n-1].Version
	}
	v.Folder = filepath.Join(filepath.Dir(b.path), fileName(b, l.Say("web.publish.folder-ending", nil)+"-"+v.Date))
	if l == words.Pseudo {
		v.Folder = filepath.Join(filepath.Dir(b.path), "open")
	}
	v.Blocked = slices.ContainsFunc(s.Findings, func(f assay.Finding) bool { return f.Severity == assay.Block })
}

func licenceOptions(l words.Language, chosen, none string) []option {
	out := []option{{"", l.Say(none, nil), chosen == ""}}
	for _, x := range publish.Licences {
		out = append(out, option{x.ID, x.ID + " · " + l.Say("web.publish.licence-"+x.ID, nil), x.ID == chosen})
	}
	return out
}

// people are those whose names stand in the rows, and those who are kept.
func (v *publishView) people(l words.Language, s *task.Season) {
	names := publish.Names(s.Deployments, &v.About)
	add := func(p publish.Person, rows int) {
		v.People = append(v.People, personItem{N: len(v.People) + 1, Rows: rows, Person: p, Also: strings.Join(p.Also, ", "), Licences: licenceOptions(l, p.Licence, "web.publish.licence-any")})
	}
	for _, n := range names {
		if n.Person == nil {
			v.Unnamed++
			add(publish.Person{Name: n.Name}, n.Rows)
		} else {
			add(*n.Person, n.Rows)
		}
	}
}

func (v *publishView) places(l words.Language, s *task.Season) {
	rows := map[string]int{}
	for i := range s.Deployments {
		rows[s.Deployments[i].Site]++
	}
	names := sortedNames(map[string]string{})
	for n := range rows {
		names = append(names, n)
	}
	for _, h := range v.About.Sensitive {
		if rows[h.Site] == 0 {
			names = append(names, h.Site)
		}
	}
	slices.Sort(names)
	for i, n := range names {
		p := placeItem{N: i + 1, Rows: rows[n], Site: n, Sensitive: publish.Sensitive{Decimals: 1}}
		for _, h := range v.About.Sensitive {
			if h.Site == n {
				p.Sensitive, p.Hidden = h, true
				v.Hidden++
			}
		}
		for _, k := range []int{2, 1, 0} {
			p.Sizes = append(p.Sizes, option{strconv.Itoa(k), l.Say("web.publish.size-"+strconv.Itoa(k), nil), k == p.Decimals})
		}
		v.Places = append(v.Places, p)
	}
}

// taxa are the names that were written for what was seen, and those of the list.
func (v *publishView) taxa(s *task.Season) {
	rows := map[string]int{}
	for name := range v.About.TaxonList {
		rows[name] = 0
	}
	for i := range s.Deployments {
		seen := map[string]bool{}
		for _, x := range s.Deployments[i].Sightings {
			if x.Taxon != "" && !seen[x.Taxon] {
				seen[x.Taxon] = true
				rows[x.Taxon]++
			}
		}
	}
	for i, name := range slices.Sorted(maps.Keys(rows)) {
		t, listed := v.About.TaxonList[name]
		if !listed {
			v.Unlisted++
		}
		v.Taxa = append(v.Taxa, taxonItem{i + 1, rows[name], name, listed, t})
	}
}

// previewJob asks what a reviewer would say; for a large season it takes a while.
func (d *Desk) previewJob(b *opened, s *task.Season, m publish.Metadata) *job {
	said, _ := json.Marshal(m) // texts and numbers: it cannot fail
	l := d.language()
	o := task.PublishOptions{Today: d.o.Now(), Version: d.o.Version, LeaveOutBlocked: true}
	return d.jobs.start("preview", stateOf(s)+string(said), l.Say("web.work.preview", nil), "/publish", func(ctx context.Context, _ *job) (any, error) {
		return task.PreviewBook(ctx, b.book, o)
	})
}

func (v *publishView) preview(l words.Language, p *publish.Preview) {
	v.Rows = p.Deployments
	for _, f := range p.Flags {
		item := flagItem{sentence(sayHere(l, "publish.review-"+f.Slug, f.With))}
		switch {
		case f.Slug == "missing":
			item.Text = l.Say("web.publish.review-missing", nil)
			v.Refused = append(v.Refused, item)
		case f.Slug == "no-version": // asked for when it is written
		case f.Effect == publish.Refuses:
			v.Refused = append(v.Refused, item)
		default:
			v.Asked = append(v.Asked, item)
		}
	}
	v.Left, v.Said = leftTexts(l, p.LeftOut), messageTexts(l, p.Messages)
}

// sayHere is a sentence as a page says it, which names no flag of the command.
func sayHere(l words.Language, slug string, with map[string]any) string {
	if words.Has("web." + slug) {
		slug = "web." + slug
	}
	return l.Say(slug, with)
}

func leftTexts(l words.Language, list []publish.LeftOut) []string {
	var out []string
	for _, x := range list {
		slug := x.Slug
		if !words.Has(slug) {
			slug = "finding." + slug
		}
		out = append(out, x.DeploymentID+": "+l.Say(slug, x.With))
	}
	return out
}

func messageTexts(l words.Language, list []words.Message) []string {
	var out []string
	for _, m := range list {
		out = append(out, sayHere(l, m.Slug, m.With))
	}
	return out
}

func (v *publishView) done(l words.Language, j *job) {
	_, _, ended, result, err := j.state()
	if !ended || err != nil {
		return
	}
	x := result.(*made)
	v.Made = &madeView{ID: j.id, Folder: x.folder, Rows: x.result.Deployments, Release: x.result.Release, Left: leftTexts(l, x.result.LeftOut), Said: messageTexts(l, x.result.Messages)}
	for _, f := range x.result.Files {
		v.Made.Files = append(v.Made.Files, f.Path)
	}
}

// publishProblem puts what stops a publication into words.
func (d *Desk) publishProblem(err error) ([]string, int) {
	l := d.language()
	var missing *publish.Missing
	var blocked *publish.Blocked
	var refused *publish.Refused
	switch {
	case errors.As(err, &missing):
		var what []string
		for _, m := range missing.Items {
			what = append(what, l.Say(m.Slug, nil))
		}
		return []string{l.Say("web.publish.missing", words.P{"what": what})}, http.StatusUnprocessableEntity
	case errors.As(err, &blocked):
		return []string{l.Say("web.publish.blocked", words.P{"n": len(blocked.Findings)})}, http.StatusUnprocessableEntity
	case errors.As(err, &refused):
		return []string{sayHere(l, refused.Slug, refused.With)}, http.StatusUnprocessableEntity
	}
	p, code := explain(l, err)
	return p.Lines, code
}

// writePublish writes the folder, or the same as a zip to take away.
func (d *Desk) writePublish(w http.ResponseWriter, r *http.Request, b *opened) error {
	o := task.PublishOptions{Today: d.o.Now(), Version: d.o.Version, LeaveOutBlocked: r.FormValue("leave") == "yes"}
	o.Metadata.Date, o.Metadata.Version = strings.TrimSpace(r.FormValue("date")), strings.TrimSpace(r.FormValue("version"))
	l := d.language()
	by := d.by(l.Say("web.why.publish", nil))
	freeze := r.FormValue("freeze") == "yes"
	folder := strings.TrimSpace(r.FormValue("folder"))
	if r.FormValue("how") == "zip" {
		folder = ""
	} else if folder == "" || !filepath.IsAbs(folder) {
		return d.showPublish(w, r, b, http.StatusUnprocessableEntity, &task.Refused{Slug: "web.publish.no-folder"})
	}
	return d.runPublish(w, r, b, folder, func(ctx context.Context, j *job, dir string) (*publish.Result, error) {
		o.Progress = j.progress
		if freeze {
			return task.Freeze(ctx, b.book, dir, o, by)
		}
		return task.PublishBook(ctx, b.book, dir, o)
	})
}

// remakeRelease makes an old release again, as a zip.
func (d *Desk) remakeRelease(w http.ResponseWriter, r *http.Request, b *opened) error {
	n := atoi(r.PathValue("n"))
	return d.runPublish(w, r, b, "", func(ctx context.Context, j *job, dir string) (*publish.Result, error) {
		return task.Remake(ctx, b.book, n, dir, task.PublishOptions{Version: d.o.Version, Progress: j.progress})
	})
}

func (d *Desk) runPublish(w http.ResponseWriter, r *http.Request, b *opened, folder string, write func(context.Context, *job, string) (*publish.Result, error)) error {
	l := d.language()
	j := d.jobs.start("publish", randomText(), l.Say("web.work.publish", nil), "/publish#made", func(ctx context.Context, j *job) (any, error) {
		if folder != "" {
			res, err := write(ctx, j, folder)
			return &made{result: res, folder: folder}, err
		}
		dir, err := os.MkdirTemp("", "soakline-publish-")
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(dir)
		res, err := write(ctx, j, filepath.Join(dir, "open"))
		if err != nil {
			return nil, err
		}
		data, err := zipFolder(filepath.Join(dir, "open"), res)
		return &made{result: res, zip: data}, err
	})
	if !j.settle(r.Context(), d.o.Patience) {
		return d.working(w, r, b, j)
	}
	b.forget()
	if _, _, _, _, err := j.state(); err != nil {
		d.jobs.forget(j)
		return d.showPublish(w, r, b, http.StatusUnprocessableEntity, err)
	}
	http.Redirect(w, r, "/publish#made", http.StatusSeeOther)
	return nil
}

// zipFolder packs the files that were written, in the order of their names and
// without the clock, so that the same release is the same zip.
func zipFolder(dir string, res *publish.Result) ([]byte, error) {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, f := range res.Files {
		data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(f.Path)))
		if err != nil {
			return nil, err
		}
		method := zip.Deflate
		if strings.HasSuffix(f.Path, ".zip") || strings.HasSuffix(f.Path, ".xlsx") {
			method = zip.Store
		}
		e, err := z.CreateHeader(&zip.FileHeader{Name: f.Path, Method: method, Modified: time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return nil, err
		}
		if _, err := e.Write(data); err != nil {
			return nil, err
		}
	}
	err := z.Close()
	return out.Bytes(), err
}

// getPublished sends the zip that was made.
func (d *Desk) getPublished(w http.ResponseWriter, r *http.Request, b *opened) error {
	j := d.jobs.byID(r.PathValue("id"))
	if j == nil || j.kind != "publish" {
		return errNotHere
	}
	_, _, ended, result, err := j.state()
	if err != nil {
		return err
	}
	x, ok := result.(*made)
	if !ended || !ok || x.zip == nil {
		return errNotHere
	}
	ending := d.language().Say("web.publish.folder-ending", nil)
	if x.result.Release > 0 {
		ending += "-" + strconv.Itoa(x.result.Release)
	}
	send(w, "application/zip", fileName(b, strings.Trim(ending, "⟦⟧")+".zip"), x.zip)
	return nil
}
