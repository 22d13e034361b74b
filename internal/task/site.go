package task

import (
	"context"
	"encoding/json"
	"math"
	"sort"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/logbook"
	"soakline/internal/place"
	"soakline/internal/sheet"
	"soakline/internal/water"
)

// Sites lists the site book of a logbook by name.
func Sites(tx *logbook.Tx) ([]assay.Site, error) {
	var sites []assay.Site
	err := live(tx, kindSite, func(r logbook.Record) error {
		s, ok := siteOf(r)
		if !ok {
			return refuse("site-broken", "site", s.Name)
		}
		sites = append(sites, s)
		return nil
	})
	sort.Slice(sites, func(i, j int) bool { return sites[i].Name < sites[j].Name })
	return sites, err
}

// siteNumber ties a number of a site to the field it is kept in.
type siteNumber struct {
	field string
	of    func(*assay.Site) *assay.Maybe[float64]
	lo    float64
	hi    float64
}

// siteNumbers are the numbers of a site, with the range in which each can be meant.
var siteNumbers = []siteNumber{
	{"latitude", func(s *assay.Site) *assay.Maybe[float64] { return &s.Latitude }, -90, 90},
	{"longitude", func(s *assay.Site) *assay.Maybe[float64] { return &s.Longitude }, -180, 180},
	{"bed_shallow_m", func(s *assay.Site) *assay.Maybe[float64] { return &s.ShallowBedM }, -200, 30},
	{"bed_deep_m", func(s *assay.Site) *assay.Maybe[float64] { return &s.DeepBedM }, -200, 30},
	{"access_m", func(s *assay.Site) *assay.Maybe[float64] { return &s.AccessM }, -30, 30},
	{"walk_min", func(s *assay.Site) *assay.Maybe[float64] { return &s.WalkMin }, 0, 600},
}

// tideNumber ties a number of a site's tide to the field it is kept in; 0, which
// changes nothing, is not kept.
type tideNumber struct {
	field string
	of    func(*assay.Tide) *float64
	lo    float64
	hi    float64
}

var tideNumbers = []tideNumber{
	{"tide_density_kg_m3", func(t *assay.Tide) *float64 { return &t.DensityKgM3 }, 900, 1200},
	{"tide_high_later_min", func(t *assay.Tide) *float64 { return &t.Differences.HighLaterMin }, -720, 720},
	{"tide_low_later_min", func(t *assay.Tide) *float64 { return &t.Differences.LowLaterMin }, -720, 720},
	{"tide_high_add_m", func(t *assay.Tide) *float64 { return &t.Differences.HighAddM }, -20, 20},
	{"tide_low_add_m", func(t *assay.Tide) *float64 { return &t.Differences.LowAddM }, -20, 20},
	{"tide_high_times", func(t *assay.Tide) *float64 { return &t.Differences.HighTimes }, 0, 20},
	{"tide_low_times", func(t *assay.Tide) *float64 { return &t.Differences.LowTimes }, 0, 20},
}

// siteText ties a text of a site to the field it is kept in.
type siteText struct {
	field string
	of    func(*assay.Site) *string
}

var siteTexts = []siteText{
	{"zone", func(s *assay.Site) *string { return &s.Zone }},
	{"datum", func(s *assay.Site) *string { return &s.Datum }},
	{"way_in", func(s *assay.Site) *string { return &s.WayIn }},
	{"hazards", func(s *assay.Site) *string { return &s.Hazards }},
	{"shelter", func(s *assay.Site) *string { return &s.Shelter }},
	{"emergency", func(s *assay.Site) *string { return &s.Emergency }},
	{"tide_kind", func(s *assay.Site) *string { return (*string)(&s.Tide.Kind) }},
	{"tide_source", func(s *assay.Site) *string { return &s.Tide.Source }},
	{"tide_file", func(s *assay.Site) *string { return &s.Tide.File }},
	{"tide_lag_clock", func(s *assay.Site) *string { return &s.Tide.LagClock }},
	{"tide_clock", func(s *assay.Site) *string { return &s.Tide.Clock }},
	{"tide_air", func(s *assay.Site) *string { return &s.Tide.Air }},
	{"tide_air_source", func(s *assay.Site) *string { return &s.Tide.AirSource }},
	{"tide_nodal", func(s *assay.Site) *string { return &s.Tide.Nodal }},
}

// siteOf reads a site from its record; false when a field no longer reads.
func siteOf(r logbook.Record) (assay.Site, bool) {
	f := r.Fields
	s := assay.Site{Key: r.Key, Name: f["code"]}
	if t := f["synonyms"]; t != "" {
		s.Synonyms = strings.Split(t, "\n")
	}
	for _, x := range siteTexts {
		*x.of(&s) = f[x.field]
	}
	for _, x := range siteNumbers {
		n, fault := sheet.ParseNumber(x.field, f[x.field])
		if fault != nil {
			return s, false
		}
		*x.of(&s) = n
	}
	for _, x := range tideNumbers {
		n, fault := sheet.ParseNumber(x.field, f[x.field])
		if fault != nil {
			return s, false
		}
		*x.of(&s.Tide) = n.Or(0)
	}
	switch f["sensitive"] {
	case "yes":
		s.Sensitive = assay.Some(true)
	case "no":
		s.Sensitive = assay.Some(false)
	}
	for _, line := range strings.Split(f["permits"], "\n") {
		if number, until, _ := strings.Cut(line, "\t"); number != "" {
			s.Permits = append(s.Permits, assay.Permit{Number: number, Until: until})
		}
	}
	if t := f["loggers"]; t != "" && json.Unmarshal([]byte(t), &s.Loggers) != nil {
		return s, false
	}
	return s, true
}

// fieldsOf writes a site as the fields of its record.
func fieldsOf(s assay.Site) (map[string]string, error) {
	f := map[string]string{"synonyms": strings.Join(s.Synonyms, "\n")}
	for _, x := range siteTexts {
		f[x.field] = strings.TrimSpace(*x.of(&s))
	}
	for _, x := range siteNumbers {
		if n, ok := x.of(&s).Get(); ok {
			f[x.field] = sheet.FormatNumber(n)
		}
	}
	for _, x := range tideNumbers {
		if n := *x.of(&s.Tide); n != 0 {
			f[x.field] = sheet.FormatNumber(n)
		}
	}
	if yes, ok := s.Sensitive.Get(); ok {
		f["sensitive"] = map[bool]string{true: "yes", false: "no"}[yes]
	}
	var permits []string
	for _, p := range s.Permits {
		permits = append(permits, strings.TrimRight(p.Number+"\t"+p.Until, "\t"))
	}
	f["permits"] = strings.Join(permits, "\n")
	if len(s.Loggers) > 0 {
		b, err := json.Marshal(s.Loggers)
		if err != nil {
			return nil, err
		}
		f["loggers"] = string(b)
	}
	return f, nil
}

// SiteFile is a file to be kept for a site: the source of its tide, or a logger's
// series. One of Tide and Logger says which; their Source and File are filled in.
// Air is a file of the air's pressure for a tide that is a series of pressure; by
// itself, for the one that is kept.
type SiteFile struct {
	File
	Tide   *assay.Tide
	Logger *assay.Logger
	Air    *File
}

// ChangeSite changes the site of the book with this name, or makes it, and keeps
// files for it. A site with a position but no zone is given the zone proposed for
// the position (place.ZoneProposals), which is returned; "" where none was needed.
// How the kept tide is read may change without its file: it must still read.
func ChangeSite(ctx context.Context, book *logbook.Book, name string, change func(*assay.Site) error, by By, files ...SiteFile) (proposed string, err error) {
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		sites, err := Sites(tx)
		if err != nil {
			return err
		}
		s := assay.Site{Name: name}
		for _, old := range sites {
			if old.Name == name {
				s = old
			}
		}
		before := s.Tide
		if err := change(&s); err != nil {
			return err
		}
		if err := checkTide(&s); err != nil {
			return err
		}
		if lat, lon, ok := s.Placed(); ok && s.Zone == "" {
			proposed = ProposedZone(lat, lon)
			s.Zone = proposed
		}
		for _, f := range files {
			if err := keepSiteFile(tx, &s, f, by); err != nil {
				return err
			}
		}
		if s.Tide != before && s.Tide.Source != "" {
			if _, err := SiteWater(tx, &s); err != nil {
				return err
			}
		}
		return putSite(tx, s, sites, by.stamp())
	})
	return proposed, err
}

// ProposedZone is the likeliest zone of a position: that of the coast there, for a
// point offshore that of the nearest land; "" where none is known here.
func ProposedZone(latDeg, lonDeg float64) string {
	for _, z := range place.ZoneProposals(latDeg, lonDeg) {
		if _, err := time.LoadLocation(z.Name); err == nil {
			return z.Name
		}
	}
	return ""
}

// keepSiteFile looks whether a file says what it is given for, keeps it, and
// names it in the site.
func keepSiteFile(tx *logbook.Tx, s *assay.Site, f SiteFile, by By) error {
	latDeg := s.Latitude.Or(math.NaN())
	switch {
	case f.Tide != nil:
		t := *f.Tide
		t.File = f.Name
		var air []byte
		if f.Air != nil {
			src, _, err := tx.AddSource(f.Air.Name, f.Air.Data, by.stamp())
			if err != nil {
				return err
			}
			t.Air, t.AirSource, air = f.Air.Name, src.ID, f.Air.Data
		} else if t.AirSource != "" {
			var err error
			if air, err = tx.Original(t.AirSource); err != nil {
				return err
			}
		}
		s.Tide = t
		if err := checkTide(s); err != nil {
			return err
		}
		o, err := water.Open(t, f.Data, air, latDeg)
		if err != nil {
			return waterRefusal(err)
		}
		if s.Datum == "" {
			s.Datum = o.Datum
		}
		src, _, err := tx.AddSource(f.Name, f.Data, by.stamp())
		if err != nil {
			return err
		}
		s.Tide.Source = src.ID
	case f.Logger == nil && f.Air != nil: // of the tide that is kept
		src, _, err := tx.AddSource(f.Air.Name, f.Air.Data, by.stamp())
		if err != nil {
			return err
		}
		s.Tide.Air, s.Tide.AirSource = f.Air.Name, src.ID
		return checkTide(s)
	case f.Logger != nil:
		g := *f.Logger
		g.File = f.Name
		if _, err := water.OpenLogger(g, f.Data); err != nil {
			return waterRefusal(err)
		}
		src, _, err := tx.AddSource(f.Name, f.Data, by.stamp())
		if err != nil {
			return err
		}
		g.Source = src.ID
		for i := range s.Loggers {
			if s.Loggers[i].Source == g.Source {
				s.Loggers[i] = g
				return nil
			}
		}
		s.Loggers = append(s.Loggers, g)
	}
	return nil
}

// putSite keeps a site; sites are those of the book.
func putSite(tx *logbook.Tx, s assay.Site, sites []assay.Site, stamp logbook.Stamp) error {
	if err := checkSite(&s); err != nil {
		return err
	}
	for _, other := range sites {
		for _, name := range append([]string{s.Name}, s.Synonyms...) {
			if other.Name != s.Name && (other.Name == name || contains(other.Synonyms, name)) {
				return refuse("site-name-taken", "name", name, "site", other.Name)
			}
		}
	}
	fields, err := fieldsOf(s)
	if err != nil {
		return err
	}
	return putCode(tx, kindSite, s.Name, fields, stamp)
}

// checkSite refuses what cannot be meant, and sets the two beds in order.
func checkSite(s *assay.Site) error {
	if strings.TrimSpace(s.Name) == "" {
		return refuse("site-nameless")
	}
	if s.Zone != "" {
		if _, err := time.LoadLocation(s.Zone); err != nil || s.Zone == "Local" {
			return refuse("zone-unknown", "zone", s.Zone)
		}
	}
	for _, x := range siteNumbers {
		n, ok := x.of(s).Get()
		switch {
		case !ok || n >= x.lo && n <= x.hi:
		case x.field == "latitude" || x.field == "longitude":
			return refuse("off-the-globe", "site", s.Name, "read", sheet.FormatNumber(n), "most", int(x.hi))
		default:
			return refuse("site-number", "site", s.Name, "field", x.field, "read", sheet.FormatNumber(n), "lo", x.lo, "hi", x.hi)
		}
	}
	shallow, okS := s.ShallowBedM.Get()
	deep, okD := s.DeepBedM.Get()
	switch {
	case okS && okD && deep > shallow:
		s.ShallowBedM, s.DeepBedM = s.DeepBedM, s.ShallowBedM
	case okD && !okS:
		s.ShallowBedM, s.DeepBedM = s.DeepBedM, assay.None[float64]()
	}
	return checkPermits(s)
}

// checkTide refuses numbers that cannot be meant, and ways of reading that do not go
// with the kind of file.
func checkTide(s *assay.Site) error {
	t := &s.Tide
	for _, x := range tideNumbers {
		if n := *x.of(t); n != 0 && !(n >= x.lo && n <= x.hi) {
			return refuse("site-number", "site", s.Name, "field", x.field, "read", sheet.FormatNumber(n), "lo", x.lo, "hi", x.hi)
		}
	}
	if t.Differences != (assay.TideDifferences{}) && t.Kind != assay.Waters {
		return refuse("differences-of-table", "site", s.Name)
	}
	if (t.Air != "" || t.AirSource != "" || t.DensityKgM3 != 0) && t.Kind != assay.Series {
		return refuse("air-of-series", "site", s.Name)
	}
	if t.AirSource == "" && t.Air != "" && t.Air != "gauge" {
		if _, fault := sheet.ParseNumber("air", t.Air); fault != nil {
			return refuse("air-file", "site", s.Name, "read", t.Air)
		}
	}
	return nil
}

func checkPermits(s *assay.Site) error {
	for i := range s.Permits {
		p := &s.Permits[i]
		p.Number, p.Until = strings.TrimSpace(p.Number), strings.TrimSpace(p.Until)
		if p.Number == "" || strings.ContainsAny(p.Number, "\t\n") {
			return refuse("permit-number", "site", s.Name, "read", p.Number)
		}
		if _, err := time.Parse(time.DateOnly, p.Until); p.Until != "" && err != nil {
			return refuse("permit-date", "site", s.Name, "number", p.Number, "read", p.Until)
		}
	}
	return nil
}

// FindSite is the site of the book that a person means by a name or a spelling.
func FindSite(sites []assay.Site, name string) (assay.Site, error) {
	var names []string
	for _, s := range sites {
		if s.Name == name || s.Key != "" && s.Key == name || contains(s.Synonyms, name) {
			return s, nil
		}
		names = append(names, s.Name)
	}
	return assay.Site{}, refuse("no-site", "site", name, "known", names)
}
