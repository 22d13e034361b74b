package task

import (
	"slices"
	"sort"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/paper"
	"soakline/internal/place"
	"soakline/internal/prep"
	"soakline/internal/words"
)

// TeamDay is what one team does on one day.
type TeamDay struct {
	Visits  []paper.Visit
	Rows    []paper.Row // those set out on the day: their sheets begin here
	Maps    []paper.RowMap
	NoMap   []string
	Zone    string
	visited []paper.Row // every row of a visit, for what its site says
	Count   prep.Day    // but for the people
	Packing []prep.Packed
}

// DayOf finds the visits of a team on a day: rows to be set out, and checks that
// are due and not made yet. day is YYYY-MM-DD by each row's own clock; an empty
// team is every team. all takes in what has been done already.
// It is Refused where the day is none, or the team has nothing to do on it.
func DayOf(s *Season, k *SheetSites, l words.Language, team, day string, all bool) (*TeamDay, error) {
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return nil, refuse("day-text", "given", day)
	}
	t := &TeamDay{}
	type stop struct {
		at time.Time
		v  paper.Visit
	}
	var stops []stop
	days, teams := map[string]bool{}, map[string]bool{}
	for i := range s.Deployments {
		d := &s.Deployments[i]
		if !d.SetOut.Known() || d.AbandonedAt.Known() {
			continue
		}
		teams[d.Team] = true
		if team != "" && !strings.EqualFold(d.Team, team) {
			continue
		}
		p := s.protocolOf(d)
		for _, v := range visitsOf(d, p, k, l, all) {
			date := v.at.Format(time.DateOnly)
			days[date] = true
			if date != day {
				continue
			}
			stops = append(stops, stop{v.at, v.Visit})
			t.take(s, d, p, k, v)
		}
	}
	if len(stops) == 0 {
		return nil, nothingOn(team, day, days, teams)
	}
	sort.SliceStable(stops, func(i, j int) bool { return stops[i].at.Before(stops[j].at) })
	for _, x := range stops {
		t.Visits = append(t.Visits, x.v)
	}
	return t, nil
}

// Pack fills in the day's packing list for so many people.
func (t *TeamDay) Pack(k prep.Kit, people int) {
	t.Count.People = people
	t.Packing = prep.Packing(k, t.Count)
}

// mostDays is how many days an answer names: the nearest.
const mostDays = 8

// nothingOn tells which days or teams there are.
func nothingOn(team, day string, days, teams map[string]bool) error {
	list := func(m map[string]bool) []string {
		var out []string
		for x := range m {
			if x != "" {
				out = append(out, x)
			}
		}
		slices.Sort(out)
		return out
	}
	if len(days) == 0 {
		return refuse("day-team", "team", team, "teams", list(teams))
	}
	near := list(days) // sorted as text, ISO dates are sorted by time
	at, _ := slices.BinarySearch(near, day)
	from := max(0, min(at-mostDays/2, len(near)-mostDays))
	return refuse("day-nothing", "day", day, "days", near[from:min(from+mostDays, len(near))])
}

// dayVisit is one visit to a row: check 0 is setting out.
type dayVisit struct {
	paper.Visit
	at    time.Time // by the row's clock
	check int
	last  bool
}

// visitsOf lists the visits of a row that are still to be made, or all of them.
func visitsOf(d *assay.Deployment, p assay.Protocol, k *SheetSites, l words.Language, all bool) []dayVisit {
	var out []dayVisit
	local := d.SetOut.Local()
	done := map[int]bool{}
	for _, c := range d.Checks {
		done[c.Number] = c.Read() || c.WhyNot != ""
	}
	where, site := joinWords(d.Site, d.Habitat), k.of(d)
	if all || len(d.Checks) == 0 {
		out = append(out, dayVisit{paper.Visit{Row: d.ID, What: l.Say("paper.book.set", nil), Where: where, Due: paper.Due{At: local.Format("15:04")}}, local, 0, false})
	}
	for i := range out {
		k.tell(&out[i].Due, site, local)
	}
	for n, c := range p.Checks {
		if done[n+1] && !all {
			continue
		}
		after := func(h float64) time.Time { return local.Add(time.Duration(h * float64(time.Hour))) }
		at, last, slug := after(c.SoakH), n == len(p.Checks)-1, "paper.book.check"
		if last {
			slug = "paper.book.last"
		}
		v := paper.Visit{Row: d.ID, Where: where, What: l.Say(slug, words.P{"n": n + 1, "soak": paper.Hours(c.SoakH)}),
			Due: paper.Due{At: at.Format("15:04"), From: dueTime(at, after(c.SoakH-c.ToleranceH)), To: dueTime(at, after(c.SoakH+c.ToleranceH))}}
		if day := local.Format(time.DateOnly); day != at.Format(time.DateOnly) {
			v.Sheet = day
		}
		k.tell(&v.Due, site, at)
		out = append(out, dayVisit{v, at, n + 1, last})
	}
	return out
}

func joinWords(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " · ")
}

// take counts a visit, and brings along the sheet and the map it needs.
func (t *TeamDay) take(s *Season, d *assay.Deployment, p assay.Protocol, k *SheetSites, v dayVisit) {
	if t.Zone == "" {
		t.Zone = zoneWords(v.at)
	}
	row := sheetRow(d, p, k)
	t.visited = append(t.visited, row)
	switch {
	case v.check == 0:
		t.Count.RowsOut++
		t.Count.StakesOut += d.Baits
		t.Rows = append(t.Rows, row)
		if m, ok := rowMap(d, p); ok {
			m.Near = neighbours(s, d)
			t.Maps = append(t.Maps, m)
		} else {
			t.NoMap = append(t.NoMap, d.ID)
		}
	case v.last:
		t.Count.RowsIn++
		t.Count.StakesIn += d.Baits
	case v.Sheet != "":
		t.Count.RowsRead++
	}
}

// rowMap is a row to be drawn to scale, where its position and bearing are known.
func rowMap(d *assay.Deployment, p assay.Protocol) (paper.RowMap, bool) {
	lat, okLat := d.Latitude.Get()
	lon, okLon := d.Longitude.Get()
	bearing, okB := bearingOf(d)
	spacing := d.SpacingM.Or(p.SpacingM)
	if !okLat || !okLon || !okB || d.Baits < 1 || spacing <= 0 {
		return paper.RowMap{}, false
	}
	return paper.RowMap{ID: d.ID, About: joinWords(d.Site, d.Habitat), LatDeg: lat, LonDeg: lon, BearingDeg: bearing, SpacingM: spacing, Stakes: d.Baits}, true
}

// bearingOf is the direction of a row: as written, else from stake 1 to the last.
func bearingOf(d *assay.Deployment) (deg float64, ok bool) {
	if b, ok := d.RowBearingDeg.Get(); ok {
		return b, true
	}
	lat, ok1 := d.Latitude.Get()
	lon, ok2 := d.Longitude.Get()
	toLat, ok3 := d.LastLatitude.Get()
	toLon, ok4 := d.LastLongitude.Get()
	if !ok1 || !ok2 || !ok3 || !ok4 {
		return 0, false
	}
	m, azimuth, _ := place.Between(lat, lon, toLat, toLon)
	return azimuth, m > 0
}

// neighbours are the other rows of a row's site that are in the water, or planned
// to be, within two days of it, the nearest first.
func neighbours(s *Season, d *assay.Deployment) []paper.Neighbour {
	const within = 48 * time.Hour
	lat, lon := d.Latitude.Or(0), d.Longitude.Or(0)
	var out []paper.Neighbour
	far := map[string]float64{}
	for i := range s.Deployments {
		o := &s.Deployments[i]
		la, ok1 := o.Latitude.Get()
		lo, ok2 := o.Longitude.Get()
		if o.Key == d.Key && o.ID == d.ID || o.Site != d.Site || !ok1 || !ok2 || !o.SetOut.Known() || o.SetOut.At.Sub(d.SetOut.At).Abs() > within {
			continue
		}
		if _, twice := far[o.ID]; twice {
			continue
		}
		n := paper.Neighbour{ID: o.ID, LatDeg: la, LonDeg: lo}
		if b, ok := bearingOf(o); ok && o.Baits > 1 {
			n.BearingDeg, n.LongM = b, float64(o.Baits-1)*o.SpacingM.Or(s.protocolOf(o).SpacingM)
		}
		far[o.ID], _, _ = place.Between(lat, lon, la, lo)
		out = append(out, n)
	}
	sort.SliceStable(out, func(i, j int) bool { return far[out[i].ID] < far[out[j].ID] })
	return out
}

// Booklet prints a team's day.
func Booklet(o paper.BookletOptions, t *TeamDay) ([]byte, error) {
	o.Visits, o.Rows, o.Maps, o.NoMap, o.Zone = t.Visits, t.Rows, t.Maps, t.NoMap, t.Zone
	for _, x := range t.Packing {
		o.Packing = append(o.Packing, paper.PackLine{What: TakeWords(o.Lang, x.Name), N: x.N, Back: x.Back})
	}
	if o.Names == "" {
		o.Names = shared(t.Rows, func(r paper.Row) string { return r.Names })
	}
	if o.Emergency == "" {
		o.Emergency = paper.Emergencies(t.visited)
	}
	if o.Permit == "" {
		o.Permit = shared(t.Rows, func(r paper.Row) string { return r.Permit })
	}
	b, err := paper.Booklet(o)
	return b, paperRefusal(err)
}

// TakeWords names a thing of a packing list: in the reader's language where the
// program knows it, else as the kit does.
func TakeWords(l words.Language, name string) string {
	if words.Has("prep.take." + name) {
		return l.Say("prep.take."+name, nil)
	}
	return name
}

// shared is what all rows have in common, empty where they differ.
func shared(rows []paper.Row, of func(paper.Row) string) string {
	for _, r := range rows {
		if of(r) != of(rows[0]) {
			return ""
		}
	}
	if len(rows) == 0 {
		return ""
	}
	return of(rows[0])
}
