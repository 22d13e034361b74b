package publish

import (
	"errors"
	"slices"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/pattern"
	"soakline/internal/words"
)

// Effect is what a reviewer of an open archive does about something.
type Effect string

// Refuses sends the data set or the record back; Flags asks about it.
const (
	Refuses Effect = "refuses"
	Flags   Effect = "flags"
)

// Flag is one thing a reviewer would say, with the rows it is about.
type Flag struct {
	Slug   string         `json:"slug"`
	Effect Effect         `json:"effect"`
	N      int            `json:"n"`
	Rows   []string       `json:"rows"` // the first ten, by their published names
	Text   string         `json:"text"`
	With   map[string]any `json:"-"`
}

// Preview is what `soakline publish --preview` prints.
type Preview struct {
	Contract    int             `json:"contract"`
	Flags       []Flag          `json:"flags"`
	Deployments int             `json:"deployments"`
	LeftOut     []LeftOut       `json:"left_out"`
	Messages    []words.Message `json:"messages"`
}

// Refused says whether something would be refused.
func (p *Preview) Refused() bool {
	return slices.ContainsFunc(p.Flags, func(f Flag) bool { return f.Effect == Refuses })
}

// reviewer gathers flags, each slug once with the rows it is about.
type reviewer struct {
	order []string
	by    map[string]*Flag
}

func (v *reviewer) flag(e Effect, slug, id string, pairs ...any) {
	f := v.by[slug]
	if f == nil {
		f = &Flag{Slug: slug, Effect: e, Rows: []string{}, With: map[string]any{}}
		for i := 0; i+1 < len(pairs); i += 2 {
			f.With[pairs[i].(string)] = pairs[i+1]
		}
		v.by[slug] = f
		v.order = append(v.order, slug)
	}
	if id == "" {
		return
	}
	f.N++
	if len(f.Rows) < 10 && !slices.Contains(f.Rows, id) {
		f.Rows = append(f.Rows, id)
	}
}

// Review says beforehand what a reviewer would refuse or flag. It writes
// nothing. What the metadata lack is among it; what they hold and cannot be is
// an error, as in Write.
//
// Source: the published rules and lists of checks of the two large aggregators
// of biodiversity records, as of 2026-09, and common practice of reviewers.
func Review(in Input) (*Preview, error) {
	v := &reviewer{by: map[string]*Flag{}}
	var missing *Missing
	if err := in.Metadata.check(); errors.As(err, &missing) {
		for _, m := range missing.Items {
			v.flag(Refuses, "missing", "")
			f := v.by["missing"]
			f.Rows = append(f.Rows, m.Flag)
			f.N++
			in.Metadata.standIn(m.Flag)
		}
	}
	in.LeaveOutBlocked = true
	r, err := prepare(&in)
	if err != nil {
		return nil, err
	}
	for _, l := range r.leftOut {
		if !strings.HasPrefix(l.Slug, "publish.") {
			v.flag(Refuses, "blocked", l.DeploymentID)
		}
	}
	v.metadata(r)
	if err := r.each(func(d row) error { v.row(r, d); return nil }); err != nil {
		return nil, err
	}
	if v.by["seen"] == nil {
		v.flag(Flags, "no-occurrence", "")
	}
	delete(v.by, "seen")
	p := &Preview{Contract: 1, Flags: []Flag{}, Deployments: len(r.keep), LeftOut: append([]LeftOut{}, r.leftOut...), Messages: append([]words.Message{}, r.messages...)}
	for _, slug := range v.order {
		f := v.by[slug]
		if f == nil {
			continue
		}
		f.With["n"], f.With["rows"] = f.N, f.Rows
		f.Text = words.English.Say("publish.review-"+slug, f.With)
		p.Flags = append(p.Flags, *f)
	}
	slices.SortStableFunc(p.Flags, func(a, b Flag) int { return strings.Compare(string(b.Effect), string(a.Effect)) })
	return p, nil
}

// standIn lets a preview go on where something needed is missing: it is told
// as missing and written nowhere.
func (m *Metadata) standIn(flag string) {
	switch flag {
	case "--title":
		m.Title = "(no title)"
	case "--licence":
		m.Licence = Licences[0].ID
	case "--contact-name":
		m.Contact.Name = "(no name)"
	case "--contact-email":
		m.Contact.Email = "nobody@example.org"
	}
}

// shortTitle and shortAbstract are under what reviewers take as telling what,
// where and when; common practice, no source.
const (
	shortTitle    = 20
	shortAbstract = 100
)

func (v *reviewer) metadata(r *release) {
	m := r.m
	if n := len([]rune(m.Title)); n < shortTitle && v.by["missing"] == nil {
		v.flag(Flags, "title-short", "", "least", shortTitle)
	}
	switch n := len([]rune(m.Abstract)); {
	case n == 0:
		v.flag(Refuses, "no-abstract", "")
	case n < shortAbstract:
		v.flag(Flags, "abstract-short", "", "least", shortAbstract)
	}
	if m.Publisher == "" {
		v.flag(Refuses, "no-publisher", "")
	}
	if m.DatasetID == "" && slices.ContainsFunc(r.keep, func(i int) bool { return r.in.Deployments[i].Key == "" }) {
		v.flag(Flags, "ids-not-global", "")
	}
	if r.in.Previous != nil && (m.Version == "" || m.Version == r.in.Previous.Version) {
		v.flag(Flags, "no-version", "")
	}
	for _, text := range []string{m.Title, m.Abstract, strings.Join(m.Keywords, " ")} {
		if r.hidden.spills(text) {
			v.flag(Refuses, "metadata-tells-place", "")
		}
		if r.people.spills(text) {
			v.flag(Flags, "metadata-tells-name", "")
		}
	}
	if r.licence.ID == "CC-BY-NC-4.0" {
		v.flag(Flags, "licence-nc", "")
	}
}

var (
	addressIn = pattern.New(`[\w.+-]+@[\w-]+\.[\w.]+`)
	unsure    = pattern.New(`(?i)\b(cf|aff|sp|spp|indet|nr)\.|[?/&]|\bor\b`)
	broken    = pattern.New("\uFFFD|Ã[\u0080-\u00BF]|â€")
)

func (v *reviewer) row(r *release, d row) {
	v.where(d)
	v.when(r, d)
	if _, ok := r.in.Protocols[d.Protocol]; !ok && (d.Protocol != "" || r.in.Usual == "") {
		v.flag(Flags, "protocol-unknown", d.ID)
	}
	if d.BaitKind == "" {
		v.flag(Flags, "bait-not-told", d.ID)
	}
	if d.SpacingM.Or(0) <= 0 {
		v.flag(Flags, "spacing-not-told", d.ID)
	}
	if d.Observers == "" {
		v.flag(Flags, "nobody-named", d.ID)
	}
	if len(d.Covariates) > 0 {
		v.flag(Flags, "column-without-unit", d.ID, "columns", d.CovariateNames())
	}
	for f := range r.findings(d.from) {
		if f.Severity == assay.Ask && !f.Answered {
			v.flag(Flags, "question-open", d.ID)
			break
		}
	}
	for _, t := range append([]string{d.Site, d.Habitat, d.Notes}, values(d.Covariates)...) {
		if addressIn.MatchString(t) {
			v.flag(Flags, "address-in-data", d.ID)
		}
		if broken.MatchString(t) {
			v.flag(Flags, "broken-accents", d.ID)
		}
		if clean(t) != t {
			v.flag(Flags, "stray-spaces", d.ID)
		}
		if slices.Contains([]string{"NA", "N/A", "NULL", "null", "-999", "none", "nil", "?"}, t) && t != "" {
			v.flag(Flags, "null-as-text", d.ID)
		}
	}
	for _, s := range d.Sightings {
		v.flag(Flags, "seen", d.ID)
		v.taxon(r, d, s)
	}
}

func values(m map[string]string) []string {
	var out []string
	for _, v := range m {
		out = append(out, v)
	}
	return out
}

// largeRadiusM is an uncertainty that no row set out by hand has; common practice,
// no source.
const largeRadiusM = 10_000

func (v *reviewer) where(d row) {
	lat, ok1 := d.Latitude.Get()
	lon, ok2 := d.Longitude.Get()
	switch {
	case !ok1 || !ok2:
		v.flag(Refuses, "no-position", d.ID)
	case lat == 0 && lon == 0:
		v.flag(Refuses, "position-zero", d.ID)
	default:
		if radius, ok := radiusOf(d).Get(); !ok {
			v.flag(Flags, "no-uncertainty", d.ID)
		} else if radius > largeRadiusM && d.Generalised == "" {
			v.flag(Flags, "uncertainty-large", d.ID, "km", largeRadiusM/1000)
		}
		if n := d.PositionDecimals.Or(9); n < 3 && d.Generalised == "" {
			v.flag(Flags, "position-rounded", d.ID)
		}
	}
	lo, ok1 := d.DepthMinM.Get()
	hi, ok2 := d.DepthMaxM.Get()
	switch {
	case !ok1 && !ok2:
		v.flag(Flags, "no-depth", d.ID)
	case ok1 && lo < 0 || ok2 && hi < 0:
		v.flag(Flags, "depth-negative", d.ID)
	}
}

func (v *reviewer) when(r *release, d row) {
	from, to := span(d)
	day, _ := time.Parse(time.DateOnly, r.m.Date)
	if to.After(day.AddDate(0, 0, 1)) {
		v.flag(Flags, "after-publication", d.ID)
	}
	if from.Year() < 1950 {
		v.flag(Flags, "too-old", d.ID)
	}
	if _, read := d.LastRead(); !read {
		v.flag(Flags, "never-read", d.ID)
	}
}

func (v *reviewer) taxon(r *release, d row, s assay.Sighting) {
	t, listed := r.m.TaxonList[s.Taxon]
	switch {
	case unsure.MatchString(s.Taxon) && !listed:
		v.flag(Flags, "taxon-unsure", d.ID)
	case !listed || t.ScientificNameID == "":
		v.flag(Flags, "taxon-no-id", d.ID)
	}
	if _, ok := s.Count.Get(); !ok {
		v.flag(Flags, "sighting-uncounted", d.ID)
	}
	if absent(s) && !s.AbsenceLooked.Or(false) {
		v.flag(Flags, "absence-not-looked", d.ID)
	}
	if !s.Effort.Known() || s.EffortUnit == "" {
		v.flag(Flags, "no-effort", d.ID)
	}
}
