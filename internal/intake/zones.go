package intake

import (
	"math"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/pattern"
	"soakline/internal/place"
	"soakline/internal/sheet"
)

// clock is what a zone was settled as; loc is nil while it is open.
type clock struct {
	loc   *time.Location
	fixed bool
	n     int  // bare times read by it
	open  bool // by a proposal that nobody has confirmed
}

var offsetPattern = pattern.New(`^(?:UTC|GMT)?\s*([+\-−])(\d{1,2})(?::?(\d{2}))?$`)

// loadClock reads a zone's name or a fixed offset from UTC.
func loadClock(s string) (clock, bool) {
	if s == "UTC" || s == "Z" || s == "GMT" {
		return clock{loc: time.UTC, fixed: true}, true
	}
	if m := offsetPattern.FindStringSubmatch(s); m != nil {
		h, _ := strconv.Atoi(m[2])
		n, _ := strconv.Atoi(m[3])
		sec := h*3600 + n*60
		if m[1] != "+" {
			sec = -sec
		}
		return clock{loc: time.FixedZone("", sec), fixed: true}, h <= 14 && n < 60
	}
	if s == "" || s == "Local" || !strings.Contains(s, "/") {
		return clock{}, false
	}
	loc, err := time.LoadLocation(s)
	return clock{loc: loc}, err == nil
}

// resolve reads every bare local time by the clock of its site.
func (b *builder) resolve() {
	if len(b.pending) == 0 {
		return
	}
	zones := b.settleZones()
	for _, p := range b.pending {
		if p.rec >= len(b.r.Records) {
			continue
		}
		x := &b.r.Records[p.rec]
		z := zones[x.Get("site")]
		if z == nil || z.loc == nil {
			continue
		}
		z.n++
		text := b.inZone(p, z)
		if p.into != nil {
			p.into[p.column] = text
		} else {
			x.set(p.column, text)
		}
	}
	byName := map[string]int{}
	for _, z := range zones {
		if z.loc != nil && !z.open {
			byName[zoneName(z)] += z.n
		}
	}
	for _, name := range sortedKeys(byName) {
		b.notices = append(b.notices, Notice{assay.Place{File: b.pending[0].t.File}, said("intake.zone-taken", "zone", name, "n", byName[name])})
	}
}

func zoneName(z *clock) string {
	if z.fixed {
		return time.Date(2000, 1, 1, 0, 0, 0, 0, z.loc).Format("UTC-07:00")
	}
	return z.loc.String()
}

// inZone is the canonical text of a bare time. One that the clock showed twice,
// or never, is asked about.
func (b *builder) inZone(p pending, z *clock) string {
	at := sheet.InZone(p.local, z.loc)
	if len(at) == 1 {
		if z.fixed {
			at[0].Zone = ""
		}
		return sheet.FormatMoment(at[0])
	}
	slug := "intake.ask-clock-twice"
	if len(at) == 0 {
		// Never shown: by the clock before the change, or by the one after it.
		slug = "intake.ask-clock-never"
		for _, d := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
			_, off := p.local.Add(d).In(z.loc).Zone()
			t := p.local.Add(-time.Duration(off) * time.Second)
			_, shown := t.In(z.loc).Zone()
			at = append(at, assay.Moment{At: t, Zone: z.loc.String(), OffsetS: shown})
		}
	}
	written := p.local.Format("2006-01-02 15:04")
	q := Question{Key: "clock:" + z.loc.String() + ":" + written, Said: said(slug, "local", written, "zone", z.loc.String()), Where: p.t.Place(p.i, p.c), Why: said("intake.because-earlier")}
	for i, m := range at {
		if i == 0 || m.At.Before(at[0].At) {
			q.Proposal = sheet.FormatMoment(m)
		}
		q.Options = append(q.Options, Option{Value: sheet.FormatMoment(m)})
	}
	b.bySoak(p, at, &q)
	v, _ := b.p.a.ask(q)
	return v
}

// bySoak proposes, for a check, the moment nearest to its nominal soak.
func (b *builder) bySoak(p pending, at []assay.Moment, q *Question) {
	_, k, ok := sheet.Find(sheet.Wide, p.column)
	out, fault := sheet.ParseMoment("deployed_at", b.r.Records[p.rec].Get("deployed_at"))
	if !ok || k < 1 || k > len(b.p.a.c.NominalH) || fault != nil || !out.Known() || p.into != nil {
		return
	}
	gap := func(m assay.Moment) float64 { return math.Abs(m.At.Sub(out.At).Hours() - b.p.a.c.NominalH[k-1]) }
	best := at[0]
	for _, m := range at[1:] {
		if gap(m) < gap(best) {
			best = m
		}
	}
	q.Proposal, q.Why = sheet.FormatMoment(best), said("intake.because-soak", "hours", b.p.a.c.NominalH[k-1])
}

// settleZones finds the clock of every site that has bare times: the site
// list's, the one settled for all, the sheet's own entry, else by question.
func (b *builder) settleZones() map[string]*clock {
	zones := map[string]*clock{}
	var open []string
	first := map[string]pending{}
	for _, p := range b.pending {
		if p.rec >= len(b.r.Records) {
			continue
		}
		site := b.r.Records[p.rec].Get("site")
		if _, ok := zones[site]; ok {
			continue
		}
		z, ok := b.knownZone(site, p)
		if !ok {
			open = append(open, site)
			first[site] = p
		}
		zones[site] = &z
	}
	if len(open) == 0 {
		return zones
	}
	proposed := map[string][]string{}
	same := true
	for _, site := range open {
		proposed[site] = b.proposeZones(site)
		same = same && (len(proposed[site]) == 0 || len(proposed[open[0]]) == 0 || proposed[site][0] == proposed[open[0]][0])
	}
	for _, site := range open {
		q := Question{Key: "zone:" + site, Said: said("intake.ask-zone-site", "site", site), Where: first[site].t.Place(first[site].i, first[site].c), Free: true}
		list := proposed[site]
		if same {
			q.Key, q.Said = "zone", said("intake.ask-zone", "n", len(b.pending))
			for _, other := range open {
				if list = proposed[other]; len(list) > 0 {
					break
				}
			}
		}
		if len(list) > 0 {
			q.Proposal, q.Why = list[0], said("intake.because-position", "zone", list[0])
		}
		q.Options = plainOptions(list)
		v, settled := b.p.a.ask(q)
		z, ok := loadClock(v)
		z.open = !settled
		if !ok && v != "" && !b.p.a.done[q.Key+"!"] {
			b.p.a.done[q.Key+"!"] = true
			b.p.a.faults = append(b.p.a.faults, Fault{Place: assay.Place{File: q.Where.File, Sheet: q.Where.Sheet}, Wrong: said("intake.zone-unknown", "value", v), Do: said("intake.zone-choose")})
		}
		*zones[site] = z
	}
	return zones
}

// zoneKeys are what a sheet calls its own clock in a block beside the table.
var zoneKeys = map[string]bool{"time zone": true, "timezone": true, "zone": true, "utc offset": true, "zona horaria": true, "huso horario": true, "offset": true}

func (b *builder) knownZone(site string, p pending) (clock, bool) {
	for _, s := range b.p.a.c.Sites {
		if s.Name == site && s.Zone != "" {
			return loadClock(s.Zone)
		}
	}
	for _, m := range p.t.Meta {
		if zoneKeys[plain(m.Key)] {
			if z, ok := loadClock(m.Value); ok {
				if key := "zone!" + p.t.File + m.Value; !b.p.a.done[key] {
					b.p.a.done[key] = true
					b.p.a.reason(placeOfPair(p.t, m), said("intake.why-zone-written", "zone", m.Value))
				}
				return z, true
			}
		}
	}
	if b.p.a.c.Zone != "" {
		return loadClock(b.p.a.c.Zone)
	}
	return clock{}, false
}

// proposeZones are the zones a site's position may be in, likeliest first.
func (b *builder) proposeZones(site string) []string {
	at, ok := b.sitePosition(site)
	if !ok {
		return nil
	}
	var names []string
	for _, z := range place.ZoneProposals(at.LatDeg, at.LonDeg) {
		if !z.Sea || len(names) == 0 {
			names = append(names, z.Name)
		}
	}
	return names
}

// sitePosition is the list's position of a site, else that of its first row.
func (b *builder) sitePosition(site string) (place.Point, bool) {
	for _, s := range b.p.a.c.Sites {
		if lat, ok := s.Latitude.Get(); ok && s.Name == site {
			if lon, ok := s.Longitude.Get(); ok {
				return place.Point{LatDeg: lat, LonDeg: lon}, true
			}
		}
	}
	for i := range b.r.Records {
		x := &b.r.Records[i]
		if x.Get("site") != site {
			continue
		}
		lat, err1 := strconv.ParseFloat(x.Get("latitude"), 64)
		lon, err2 := strconv.ParseFloat(x.Get("longitude"), 64)
		if err1 == nil && err2 == nil && place.ValidPosition(lat, lon) {
			return place.Point{LatDeg: lat, LonDeg: lon}, true
		}
	}
	return place.Point{}, false
}
