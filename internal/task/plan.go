package task

import (
	"context"
	"maps"
	"math"
	"slices"
	"time"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
	"soakline/internal/sun"
	"soakline/internal/tide"
	"soakline/internal/visits"
	"soakline/internal/water"
	"soakline/internal/words"
)

// PlanAsk is what is asked about sites of the site book: when rows can be set out.
type PlanAsk struct {
	Sites []string // names of the book; empty for all
	// From and To bound the starts: dates, or times; those without an offset are on
	// each site's own clock. A date is its first instant.
	From, To string
	// Way is a way of working of the protocol; its depths are those to work in.
	// Empty where WorkMinM and WorkMaxM are given instead.
	Way                string
	WorkMinM, WorkMaxM float64
	Protocol           string // name and version; empty for the logbook's
	// Demand holds the rest of what is asked of a start: cover, margin, durations,
	// light, days and hours. Where Soak or Checks are not given they are the
	// protocol's; place, water, bed, way and walk come from the site book.
	Demand visits.Ask
}

// Planned is the answer for one site.
type Planned struct {
	Site       assay.Site
	Plan       *visits.Plan // nil where the site book lacks what is needed
	Datum      string
	DatumKnown bool
	Nodal      string // "" for a table
	Zone       *time.Location
	Way        assay.Way
	Gaps       []words.Message // what the site book lacks or has run out
	Messages   []words.Message // what to know beside the answer
}

// PlanSites finds the starts at sites of the site book, by name.
func PlanSites(ctx context.Context, book *logbook.Book, k PlanAsk) (list []Planned, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		list, err = planSites(tx, k)
		return err
	})
	return list, err
}

func planSites(tx *logbook.Tx, k PlanAsk) ([]Planned, error) {
	book, err := Sites(tx)
	if err != nil {
		return nil, err
	}
	chosen := book
	if len(k.Sites) > 0 {
		chosen = nil
		for _, name := range k.Sites {
			s, err := FindSite(book, name)
			if err != nil {
				return nil, err
			}
			chosen = append(chosen, s)
		}
	}
	if len(chosen) == 0 {
		return nil, refuse("no-sites")
	}
	if k.Way, err = settleWay(tx, &k); err != nil {
		return nil, err
	}
	var out []Planned
	for _, s := range chosen {
		p, err := planSite(s, k, func() (*water.Opened, error) { return SiteWater(tx, &s) })
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// settleWay fills in what the protocol says: depths of the way of working, checks
// and soak.
func settleWay(tx *logbook.Tx, k *PlanAsk) (string, error) {
	all, _, err := Protocols(tx)
	if err != nil {
		return "", err
	}
	if k.Protocol == "" {
		s, err := SettingsOf(tx)
		if err != nil {
			return "", err
		}
		k.Protocol = s.Protocol
	}
	p, ok := all[k.Protocol]
	if !ok {
		return "", refuse("protocol-unknown", "protocol", k.Protocol, "known", slices.Sorted(maps.Keys(all)))
	}
	return k.Way, k.by(&p)
}

// by takes from a protocol what the question leaves open.
func (k *PlanAsk) by(p *assay.Protocol) error {
	if k.Way != "" {
		w, ok := p.Way(k.Way)
		if !ok {
			return refuse("way-unknown", "way", k.Way, "protocol", sheet.ProtocolName(*p), "known", WayNames(p))
		}
		k.WorkMinM, k.WorkMaxM = w.DepthMinM, w.DepthMaxM
	}
	if k.Demand.Checks == nil {
		for _, c := range p.Checks {
			k.Demand.Checks = append(k.Demand.Checks, time.Duration(c.SoakH*float64(time.Hour)))
		}
	}
	if n := len(k.Demand.Checks); k.Demand.Soak == 0 && n > 0 {
		k.Demand.Soak = k.Demand.Checks[n-1]
	}
	return nil
}

// WayNames are the ways of working of a protocol, in its order.
func WayNames(p *assay.Protocol) (names []string) {
	for _, w := range p.Ways {
		names = append(names, w.Name)
	}
	return names
}

// planSite finds the starts at one site; open gives its water.
func planSite(s assay.Site, k PlanAsk, open func() (*water.Opened, error)) (Planned, error) {
	p := Planned{Site: s, Zone: siteZone(&s), Way: assay.Way{Name: k.Way, DepthMinM: k.WorkMinM, DepthMaxM: k.WorkMaxM}}
	a := k.Demand
	a.Zone, a.WorkMinM, a.WorkMaxM = p.Zone, k.WorkMinM, k.WorkMaxM
	var err error
	if a.From, err = instantIn(k.From, p.Zone); err != nil {
		return p, err
	}
	if a.To, err = instantIn(k.To, p.Zone); err != nil {
		return p, err
	}
	var can bool
	p.Gaps, can = SiteGaps(&s, a.From, a.To.Add(a.Soak), p.Zone)
	if !can {
		return p, nil
	}
	a.LatDeg, a.LonDeg, _ = s.Placed()
	a.ShallowBedM = s.ShallowBedM.Or(0)
	a.DeepBedM = s.DeepBedM.Or(a.ShallowBedM)
	a.AccessM = s.AccessM.Or(math.NaN())
	a.WayIn = a.WayIn && s.AccessM.Known()
	a.Walking = time.Duration(s.WalkMin.Or(0) * float64(time.Minute)).Round(time.Second)
	o, err := open()
	if err != nil {
		return p, err
	}
	p.Nodal, p.Datum = o.Nodal, s.Datum
	if p.Datum == "" {
		p.Datum = o.Datum
	}
	p.DatumKnown = p.Datum != ""
	p.Messages = tideMessages(append(o.Messages, tide.FarFromRecord(o.From, o.To, a.From, a.To)...))
	if !math.IsNaN(o.Low1M) {
		p.say("windows.margin-proposed", "low5", o.Low5M, "low1", o.Low1M, "margin", a.MarginM)
	}
	if p.Plan, err = visits.Find(o.Source, a); err != nil {
		return p, waterRefusal(err)
	}
	p.sayKnown()
	return p, nil
}

func (p *Planned) say(slug string, pairs ...any) {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	p.Messages = append(p.Messages, words.Message{Slug: slug, With: with})
}

// sayKnown tells what goes with any answer.
func (p *Planned) sayKnown() {
	a := &p.Plan.Ask
	if n := len(a.Checks); n > 0 && a.Checks[n-1] > a.Soak {
		p.say("windows.soak-short", "soak", a.Soak.Hours(), "last", a.Checks[n-1].Hours())
	}
	if a.MarginM == 0 {
		p.say("windows.no-margin")
	}
	p.Messages = append(p.Messages, KnownOf(p.Plan)...)
}

// KnownOf is what only the answer knows and a person must be told.
func KnownOf(plan *visits.Plan) (list []words.Message) {
	a := &plan.Ask
	if !plan.UnknownFrom.IsZero() {
		list = append(list, words.Message{Slug: "windows.water-ends", With: words.P{"at": visits.LocalDay(visits.Minute(plan.UnknownFrom, visits.End), a.Zone)}})
	}
	if a.WayIn {
		return list
	}
	for _, w := range plan.Windows {
		for i, opens := range w.WayOpens {
			after := time.Duration(0)
			if i > 0 {
				after = a.Checks[i-1]
			}
			if !opens.IsZero() && opens.Add(a.Walking).After(w.From.Add(after)) {
				return append(list, words.Message{Slug: "windows.way-in-close"})
			}
		}
	}
	return list
}

// siteZone is the clock of a site: its own, else that proposed for its position,
// else UTC.
func siteZone(s *assay.Site) *time.Location {
	name := s.Zone
	if lat, lon, ok := s.Placed(); ok && name == "" {
		name = ProposedZone(lat, lon)
	}
	if z, err := time.LoadLocation(name); name != "" && err == nil {
		return z
	}
	return time.UTC
}

// instantIn reads a date, as its first instant, or a time; one without an offset
// is on the clock of the zone, where it must occur once.
func instantIn(text string, z *time.Location) (time.Time, error) {
	if d, err := time.Parse(time.DateOnly, text); err == nil {
		if spans := sun.Spans(d.Year(), d.Month(), d.Day(), z); len(spans) > 0 {
			return spans[0].From, nil
		}
	}
	t, hasOffset, ok := sheet.ParseTime(text)
	switch {
	case !ok:
		return t, refuse("no-time", "given", text)
	case hasOffset:
		return t.UTC(), nil
	}
	at := sheet.InZone(t, z)
	if len(at) != 1 {
		return t, refuse("clock-change", "given", text, "zone", z.String(), "n", len(at))
	}
	return at[0].At, nil
}

// SiteGaps says what the site book lacks for planning a visit between two times,
// and what has run out by then; can is false where a window cannot be found
// without it.
func SiteGaps(s *assay.Site, from, to time.Time, z *time.Location) (gaps []words.Message, can bool) {
	can = true
	say := func(slug string, pairs ...any) {
		with := words.P{"site": s.Name}
		for i := 0; i+1 < len(pairs); i += 2 {
			with[pairs[i].(string)] = pairs[i+1]
		}
		gaps = append(gaps, words.Message{Slug: slug, With: with})
	}
	need := func(ok bool, slug string) {
		if !ok {
			can = false
			say(slug)
		}
	}
	_, _, placed := s.Placed()
	need(placed, "site.no-position")
	need(s.ShallowBedM.Known(), "site.no-bed")
	need(s.Tide.Kind != "", "site.no-tide")
	if s.Zone == "" && placed {
		say("site.no-zone", "zone", z.String())
	}
	for _, x := range []struct {
		there bool
		slug  string
	}{
		{s.Datum != "", "site.no-datum"}, {s.AccessM.Known(), "site.no-access"}, {!s.AccessM.Known() || s.WalkMin.Known(), "site.no-walk"},
		{s.WayIn != "", "site.no-way-in"}, {s.Hazards != "", "site.no-hazards"}, {s.Shelter != "", "site.no-shelter"}, {s.Emergency != "", "site.no-emergency"},
		{len(s.Permits) > 0, "site.no-permit"}, {s.Sensitive.Known(), "site.no-sensitive"},
	} {
		if !x.there {
			say(x.slug)
		}
	}
	for _, p := range s.Permits {
		switch {
		case p.Until == "":
			say("site.permit-open", "number", p.Number)
		case p.ExpiredOn(from.In(z)):
			say("site.permit-expired", "number", p.Number, "until", p.Until)
		case p.ExpiredOn(to.In(z)):
			say("site.permit-ends", "number", p.Number, "until", p.Until)
		}
	}
	return gaps, can
}

// WayWord is a way of working as people say it; a name of a person's own stays.
func WayWord(l words.Language, name string) string {
	if slug := "windows.way-" + name; words.Has(slug) {
		return l.Say(slug, nil)
	}
	return name
}

// MindOf are the sentences of the site book that stand with every plan of a site:
// hazards, nearest shelter, whom to call; those that are written.
func MindOf(l words.Language, s *assay.Site) (list []string) {
	for _, x := range []struct{ slug, name, text string }{
		{"site.hazards-told", "hazards", s.Hazards}, {"site.shelter-told", "shelter", s.Shelter}, {"site.emergency-told", "emergency", s.Emergency},
	} {
		if x.text != "" {
			list = append(list, l.Say(x.slug, words.P{x.name: x.text}))
		}
	}
	return list
}

// DifferencesTold are the differences of a secondary place as people read them;
// empty for none.
func DifferencesTold(l words.Language, d assay.TideDifferences) string {
	if d == (assay.TideDifferences{}) {
		return ""
	}
	told := func(slug string, later, add, times float64) string {
		if times == 0 {
			times = 1
		}
		return l.Say(slug, words.P{"later": later, "add": add, "times": times})
	}
	return told("site.differences-high", d.HighLaterMin, d.HighAddM, d.HighTimes) + "; " + told("site.differences-low", d.LowLaterMin, d.LowAddM, d.LowTimes)
}
