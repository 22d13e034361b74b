package web

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/report"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// logbookView is the page of the logbook itself.
type logbookView struct {
	Path     string
	Settings task.Settings
	Choices  []option // protocols
	Sources  []source
	Wrong    []string
	Langs    []option
}

type source struct{ Name, When, Who string }

func (d *Desk) logbookPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showLogbook(w, r, b, http.StatusOK, nil)
}

func (d *Desk) showLogbook(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong error) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	v := logbookView{Path: b.path, Settings: s.Settings}
	for _, n := range protocolNames(s) {
		v.Choices = append(v.Choices, option{n, n, n == s.Settings.Protocol})
	}
	for _, x := range words.Languages {
		v.Langs = append(v.Langs, option{string(x), map[words.Language]string{words.English: "English", words.Spanish: "Español"}[x], x == l})
	}
	err = b.book.View(r.Context(), func(tx *logbook.Tx) error {
		list, err := tx.Sources()
		for _, x := range list {
			v.Sources = append(v.Sources, source{x.Name, x.When.In(d.o.Now().Location()).Format("2006-01-02 15:04"), x.Who})
		}
		return err
	})
	if err != nil {
		return err
	}
	if wrong != nil {
		p, _ := explain(l, wrong)
		v.Wrong = p.Lines
	}
	return d.show(w, r, b, status, "logbook", l.Say("web.logbook.title", nil), v)
}

func (d *Desk) changeSettings(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	to := s.Settings
	to.Title, to.Programme, to.Team = strings.TrimSpace(r.FormValue("title")), strings.TrimSpace(r.FormValue("programme")), strings.TrimSpace(r.FormValue("team"))
	to.Zone = strings.TrimSpace(r.FormValue("zone"))
	if p := r.FormValue("protocol"); s.Protocols[p].Name != "" {
		to.Protocol = p
	}
	if who := strings.TrimSpace(r.FormValue("who")); who != "" {
		d.setWho(who)
	}
	if to.Zone != "" {
		if _, err := loadZone(to.Zone); err != nil {
			return d.showLogbook(w, r, b, http.StatusUnprocessableEntity, &task.Refused{Slug: "task.zone-unknown", With: words.P{"zone": to.Zone}})
		}
	}
	if err := task.SetSettings(r.Context(), b.book, to, d.by(l.Say("web.why.settings", nil))); err != nil {
		return d.showLogbook(w, r, b, http.StatusUnprocessableEntity, err)
	}
	b.forget()
	d.setFlash(flash{Text: l.Say("web.done.settings", nil)})
	http.Redirect(w, r, "/logbook", http.StatusSeeOther)
	return nil
}

// copyBook sends a verified copy of the logbook.
func (d *Desk) copyBook(w http.ResponseWriter, r *http.Request, b *opened) error {
	dir, err := os.MkdirTemp("", "soakline-copy-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	to := filepath.Join(dir, "copy.logbook")
	if err := task.Backup(r.Context(), b.book, to); err != nil {
		return err
	}
	f, err := os.Open(to)
	if err != nil {
		return err
	}
	defer f.Close()
	name := fileName(b, d.o.Now().Format("2006-01-02")+".logbook")
	w.Header().Set("Content-Type", "application/vnd.sqlite3")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	http.ServeContent(w, r, "", d.o.Now(), f)
	return nil
}

// sitesView is where the rows are.
type sitesView struct {
	Map      *picture
	Sites    []siteItem
	Habitats []habitatItem
	Wrong    []string
}

type siteItem struct {
	Key, Name, Also, Zone, Latitude, Longitude string
	N                                          int
	Listed                                     bool
}

type habitatItem struct {
	Name, Also string
	N          int
}

func (d *Desk) sitesPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showSites(w, r, b, http.StatusOK, nil)
}

func (d *Desk) showSites(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong error) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	var v sitesView
	if m, ok := report.MapPicture(l, s.Deployments); ok {
		p, err := (&drawings{}).siteMap(m)
		if err != nil {
			return err
		}
		v.Map = &p
	}
	rows, habitats := map[string]int{}, map[string]int{}
	for i := range s.Deployments {
		rows[s.Deployments[i].Site]++
		habitats[s.Deployments[i].Habitat]++
	}
	for _, x := range s.Sites {
		item := siteItem{Key: x.Key, Name: x.Name, Also: strings.Join(x.Synonyms, ", "), Zone: x.Zone, N: rows[x.Name], Listed: true}
		if lat, ok := x.Latitude.Get(); ok {
			item.Latitude = sheet.FormatNumber(lat)
		}
		if lon, ok := x.Longitude.Get(); ok {
			item.Longitude = sheet.FormatNumber(lon)
		}
		v.Sites = append(v.Sites, item)
	}
	err = b.book.View(r.Context(), func(tx *logbook.Tx) error {
		list, err := task.Habitats(tx)
		for _, h := range list {
			v.Habitats = append(v.Habitats, habitatItem{h.Name, strings.Join(h.Synonyms, ", "), habitats[h.Name]})
		}
		return err
	})
	if err != nil {
		return err
	}
	if wrong != nil {
		p, _ := explain(l, wrong)
		v.Wrong = p.Lines
	}
	return d.show(w, r, b, status, "sites", l.Say("web.sites.title", nil), v)
}

// names splits what a person wrote as several spellings.
func names(text string) []string {
	var out []string
	for _, n := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		if n = strings.TrimSpace(n); n != "" {
			out = append(out, n)
		}
	}
	return out
}

func (d *Desk) changeSite(w http.ResponseWriter, r *http.Request, b *opened) error {
	l := d.language()
	_, err := task.ChangeSite(r.Context(), b.book, strings.TrimSpace(r.FormValue("name")), func(s *assay.Site) error {
		s.Zone = strings.TrimSpace(r.FormValue("zone"))
		s.Synonyms = nil
		for _, n := range names(r.FormValue("also")) {
			s.AddSynonym(n)
		}
		var faults []*sheet.Fault
		var f *sheet.Fault
		if s.Latitude, f = sheet.ParseNumber("latitude", strings.TrimSpace(r.FormValue("latitude"))); f != nil {
			faults = append(faults, f)
		}
		if s.Longitude, f = sheet.ParseNumber("longitude", strings.TrimSpace(r.FormValue("longitude"))); f != nil {
			faults = append(faults, f)
		}
		if len(faults) > 0 {
			return &task.FaultyValues{Faults: faults}
		}
		return nil
	}, d.by(l.Say("web.why.site", nil)))
	if err != nil {
		return d.showSites(w, r, b, http.StatusUnprocessableEntity, err)
	}
	b.forget()
	d.setFlash(flash{Text: l.Say("web.done.site", words.P{"site": strings.TrimSpace(r.FormValue("name"))})})
	http.Redirect(w, r, "/sites", http.StatusSeeOther)
	return nil
}

func (d *Desk) addHabitat(w http.ResponseWriter, r *http.Request, b *opened) error {
	l := d.language()
	if err := task.AddHabitat(r.Context(), b.book, r.FormValue("name"), names(r.FormValue("also")), d.by(l.Say("web.why.habitat", nil))); err != nil {
		return d.showSites(w, r, b, http.StatusUnprocessableEntity, err)
	}
	b.forget()
	d.setFlash(flash{Text: l.Say("web.done.habitat", words.P{"habitat": strings.TrimSpace(r.FormValue("name"))})})
	http.Redirect(w, r, "/sites", http.StatusSeeOther)
	return nil
}
