package web

import (
	"errors"
	"io"
	"net/http"
	"path/filepath"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/sheet"
	"soakline/internal/task"
	"soakline/internal/words"
)

// sitePageView is one site of the site book as a form, with what it lacks.
type sitePageView struct {
	Key, Name       string
	Fields          []siteField
	Way, Notes      []siteField
	Sensitive       []option
	Proposed        string // zone that would be kept where none is written
	Tide            string // name of the kept file
	TideKinds       []option
	Loggers         []string
	Gaps            []string
	Wrong           []string
	LagClock, Clock string
	Reading         []siteField // of a tide: pressure of the air, density
	Differences     []siteField // of a table, to a secondary place
	DifferencesOpen bool
}

// siteField is one field of the form.
type siteField struct {
	Name, Label, Hint, Value string
	Number                   bool
	Long                     bool
}

func (d *Desk) sitePage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showSite(w, r, b, http.StatusOK, nil)
}

// siteByKey finds the site that an address names.
func (d *Desk) siteByKey(r *http.Request, b *opened) (assay.Site, error) {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return assay.Site{}, err
	}
	for _, x := range s.Sites {
		if x.Key == r.PathValue("key") {
			return x, nil
		}
	}
	return assay.Site{}, errNotHere
}

func (d *Desk) showSite(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong error) error {
	x, err := d.siteByKey(r, b)
	if err != nil {
		return err
	}
	l := d.language()
	number := func(m assay.Maybe[float64]) string {
		if v, ok := m.Get(); ok {
			return sheet.FormatNumber(v)
		}
		return ""
	}
	var permits []string
	for _, p := range x.Permits {
		permits = append(permits, strings.TrimSpace(p.Number+" "+p.Until))
	}
	field := func(name, value string, isNumber, long bool) siteField {
		if status != http.StatusOK && r.Form.Has(name) { // what was typed stays
			value = r.FormValue(name)
		}
		f := siteField{Name: name, Label: l.Say("web.site."+name, nil), Value: value, Number: isNumber, Long: long}
		if slug := "web.site." + name + "-hint"; words.Has(slug) {
			f.Hint = l.Say(slug, nil)
		}
		return f
	}
	v := sitePageView{
		Key: x.Key, Name: x.Name, Tide: x.Tide.File, LagClock: x.Tide.LagClock, Clock: x.Tide.Clock,
		Fields: []siteField{field("latitude", number(x.Latitude), true, false), field("longitude", number(x.Longitude), true, false), field("zone", x.Zone, false, false),
			field("bed_shallow", number(x.ShallowBedM), true, false), field("bed_deep", number(x.DeepBedM), true, false), field("datum", x.Datum, false, false)},
		Way:   []siteField{field("way_in", x.WayIn, false, true), field("access", number(x.AccessM), true, false), field("walk", number(x.WalkMin), true, false)},
		Notes: []siteField{field("hazards", x.Hazards, false, true), field("shelter", x.Shelter, false, false), field("emergency", x.Emergency, false, false), field("permits", strings.Join(permits, "\n"), false, true)},
	}
	v.tideFields(&x.Tide, field)
	yes, said := x.Sensitive.Get()
	v.Sensitive = []option{{"", l.Say("web.site.unsaid", nil), !said}, {"no", l.Say("site.no", nil), said && !yes}, {"yes", l.Say("site.yes", nil), said && yes}}
	for _, k := range []assay.WaterKind{assay.Constituents, assay.Waters, assay.Series} {
		v.TideKinds = append(v.TideKinds, option{string(k), l.Say("web.site.kind-"+string(k), nil), k == x.Tide.Kind})
	}
	for _, g := range x.Loggers {
		v.Loggers = append(v.Loggers, g.File)
	}
	if lat, lon, ok := x.Placed(); ok && x.Zone == "" {
		v.Proposed = task.ProposedZone(lat, lon)
	}
	now := d.o.Now()
	gaps, _ := task.SiteGaps(&x, now, now, now.Location())
	for _, m := range gaps {
		v.Gaps = append(v.Gaps, m.In(l))
	}
	if wrong != nil {
		p, _ := explain(l, wrong)
		v.Wrong = p.Lines
	}
	return d.show(w, r, b, status, "site", x.Name, v)
}

// changeSiteBook keeps what the form of a site says.
func (d *Desk) changeSiteBook(w http.ResponseWriter, r *http.Request, b *opened) error {
	x, err := d.siteByKey(r, b)
	if err != nil {
		return err
	}
	l := d.language()
	text := func(name string) string { return strings.TrimSpace(r.FormValue(name)) }
	zone, err := task.ChangeSite(r.Context(), b.book, x.Name, func(s *assay.Site) error {
		s.Zone, s.Datum, s.WayIn, s.Hazards, s.Shelter, s.Emergency = text("zone"), text("datum"), text("way_in"), text("hazards"), text("shelter"), text("emergency")
		var faults []*sheet.Fault
		for _, n := range []struct {
			field, column string
			to            *assay.Maybe[float64]
		}{
			{"latitude", "latitude", &s.Latitude}, {"longitude", "longitude", &s.Longitude}, {"bed_shallow", "bed_shallow_m", &s.ShallowBedM},
			{"bed_deep", "bed_deep_m", &s.DeepBedM}, {"access", "access_m", &s.AccessM}, {"walk", "walk_min", &s.WalkMin},
		} {
			value, f := sheet.ParseNumber(n.column, strings.ReplaceAll(text(n.field), "−", "-"))
			if f != nil {
				faults = append(faults, f)
				continue
			}
			*n.to = value
		}
		if len(faults) > 0 {
			return &task.FaultyValues{Faults: faults}
		}
		s.Permits = nil
		for _, line := range strings.Split(r.FormValue("permits"), "\n") {
			if line = strings.TrimSpace(line); line != "" {
				s.SetPermit(permitOf(line))
			}
		}
		switch r.FormValue("sensitive") {
		case "yes":
			s.Sensitive = assay.Some(true)
		case "no":
			s.Sensitive = assay.Some(false)
		default:
			s.Sensitive = assay.None[bool]()
		}
		return nil
	}, d.by(l.Say("web.why.site", nil)))
	if err != nil {
		return d.showSite(w, r, b, http.StatusUnprocessableEntity, err)
	}
	return d.siteKept(w, r, b, x, zone)
}

// permitOf reads "NP-12 2026-09-30": the last word is the last day where it begins
// with a figure and holds two dashes.
func permitOf(line string) assay.Permit {
	if i := strings.LastIndexByte(line, ' '); i > 0 {
		if last := line[i+1:]; strings.Count(last, "-") == 2 && last[0] >= '0' && last[0] <= '9' {
			return assay.Permit{Number: strings.TrimSpace(line[:i]), Until: last}
		}
	}
	return assay.Permit{Number: line}
}

func (d *Desk) siteKept(w http.ResponseWriter, r *http.Request, b *opened, x assay.Site, zone string) error {
	l := d.language()
	b.forget()
	said := l.Say("web.done.site", words.P{"site": x.Name})
	if zone != "" {
		said += " " + l.Say("web.site.zone-proposed", words.P{"zone": zone})
	}
	d.setFlash(flash{Text: said})
	http.Redirect(w, r, "/sites/"+x.Key, http.StatusSeeOther)
	return nil
}

// mostWaterBytes bounds a file of the tide or of a logger.
const mostWaterBytes = 64 << 20

// keepSiteFile keeps a file of the tide or of a logger for a site.
func (d *Desk) keepSiteFile(w http.ResponseWriter, r *http.Request, b *opened) error {
	x, err := d.siteByKey(r, b)
	if err != nil {
		return err
	}
	l := d.language()
	r.Body = http.MaxBytesReader(w, r.Body, mostWaterBytes)
	err = r.ParseMultipartForm(8 << 20)
	if r.MultipartForm != nil {
		defer r.MultipartForm.RemoveAll()
	}
	if err != nil {
		return d.showSite(w, r, b, http.StatusUnprocessableEntity, err)
	}
	f, err := d.siteFile(r, &x)
	if err != nil {
		return d.showSite(w, r, b, http.StatusUnprocessableEntity, err)
	}
	var files []task.SiteFile
	if f != nil {
		files = append(files, *f)
	}
	zone, err := task.ChangeSite(r.Context(), b.book, x.Name, func(s *assay.Site) error {
		if f == nil || f.Tide == nil && f.Logger == nil { // no other file: how the kept one is read
			return readTide(r, &s.Tide)
		}
		return nil
	}, d.by(l.Say("web.why.site", nil)), files...)
	if err != nil {
		return d.showSite(w, r, b, http.StatusUnprocessableEntity, err)
	}
	return d.siteKept(w, r, b, x, zone)
}

// siteFile is what the form brings of files: one of the tide or of a logger, one of
// the air's pressure, or nil where only the settings of the kept tide change.
func (d *Desk) siteFile(r *http.Request, x *assay.Site) (*task.SiteFile, error) {
	kind := assay.WaterKind(r.FormValue("kind"))
	file, err := uploaded(r, "file")
	if err != nil {
		return nil, err
	}
	air, err := uploaded(r, "air_file")
	switch {
	case err != nil:
		return nil, err
	case file == nil && (x.Tide.Kind == "" || kind != x.Tide.Kind):
		return nil, &task.Refused{Slug: "web.site.no-file"}
	case file == nil && air == nil:
		return nil, nil
	case file == nil:
		return &task.SiteFile{Air: air}, nil
	case kind == "logger":
		return &task.SiteFile{File: *file, Logger: &assay.Logger{Clock: strings.TrimSpace(r.FormValue("clock"))}}, nil
	}
	f := &task.SiteFile{File: *file, Tide: &assay.Tide{Kind: kind}, Air: air}
	if t := x.Tide; t.AirSource != "" && strings.TrimSpace(r.FormValue("air")) == t.Air && kind == assay.Series {
		f.Tide.Air, f.Tide.AirSource = t.Air, t.AirSource // the same file of air pressure goes on
	}
	return f, readTide(r, f.Tide)
}

// uploaded is one file of a form; nil where none was chosen.
func uploaded(r *http.Request, name string) (*task.File, error) {
	up, head, err := r.FormFile(name)
	if errors.Is(err, http.ErrMissingFile) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer up.Close()
	data, err := io.ReadAll(up)
	return &task.File{Name: filepath.Base(head.Filename), Data: data}, err
}

// tideNumbers are the numbers of the form that say how a tide is read.
func tideNumbers(t *assay.Tide) []struct {
	field string
	to    *float64
} {
	f := &t.Differences
	return []struct {
		field string
		to    *float64
	}{
		{"density", &t.DensityKgM3}, {"high_later", &f.HighLaterMin}, {"high_add", &f.HighAddM}, {"high_times", &f.HighTimes},
		{"low_later", &f.LowLaterMin}, {"low_add", &f.LowAddM}, {"low_times", &f.LowTimes},
	}
}

// tideFields are the fields of how a tide is read, as they are kept or were typed.
func (v *sitePageView) tideFields(t *assay.Tide, field func(name, value string, isNumber, long bool) siteField) {
	v.Reading = []siteField{field("air", t.Air, false, false)}
	for _, n := range tideNumbers(t) {
		value := ""
		if *n.to != 0 {
			value = sheet.FormatNumber(*n.to)
		}
		if f := field(n.field, value, true, false); n.field == "density" {
			v.Reading = append(v.Reading, f)
		} else {
			v.Differences = append(v.Differences, f)
			v.DifferencesOpen = v.DifferencesOpen || f.Value != ""
		}
	}
}

// readTide puts into a tide what the form says of how it is read. The name of a
// kept file of air pressure stands in its field and means that file.
func readTide(r *http.Request, t *assay.Tide) error {
	text := func(name string) string { return strings.TrimSpace(r.FormValue(name)) }
	t.LagClock, t.Clock = text("lag_clock"), text("clock")
	if air := text("air"); air != t.Air {
		t.Air, t.AirSource = air, ""
	}
	var faults []*sheet.Fault
	for _, n := range tideNumbers(t) {
		x, f := sheet.ParseNumber(n.field, strings.ReplaceAll(text(n.field), "−", "-"))
		if f != nil {
			faults = append(faults, f)
			continue
		}
		*n.to = x.Or(0)
	}
	if len(faults) > 0 {
		return &task.FaultyValues{Faults: faults}
	}
	for _, times := range []*float64{&t.Differences.HighTimes, &t.Differences.LowTimes} {
		if *times == 1 {
			*times = 0 // changes nothing, and so is none
		}
	}
	return nil
}

// today is the date on the desk's clock, days later.
func (d *Desk) today(days int) string { return d.o.Now().AddDate(0, 0, days).Format(time.DateOnly) }
