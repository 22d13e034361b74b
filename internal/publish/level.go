package publish

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/sheet"
)

// level is an event above the rows: a programme, a season of it, a visit to a
// site. Everything a row tells is filled here too, since one of the large
// archives does not look at parents and the other does not look at children.
type level struct {
	id, parent, kind string
	site             string
	from, to         time.Time
	rows, baits      int
	soakH            float64
	depthMin         assay.Maybe[float64]
	depthMax         assay.Maybe[float64]
	habitats         []string
	protocols        []string
	box              box
	generalised      []string
	withheld         []string
}

// box grows around positions. Longitudes count from the first one, so that it
// may lie across the 180th meridian.
type box struct {
	any                      bool
	lon0                     float64
	south, north, west, east float64 // west and east relative to lon0
	radiusM                  float64 // largest uncertainty
	unknown                  bool    // some position has none
}

func (b *box) add(lat, lon float64, radius assay.Maybe[float64]) {
	if !b.any {
		*b = box{any: true, lon0: lon, south: lat, north: lat}
	}
	dl := math.Remainder(lon-b.lon0, 360)
	b.south, b.north = math.Min(b.south, lat), math.Max(b.north, lat)
	b.west, b.east = math.Min(b.west, dl), math.Max(b.east, dl)
	r, ok := radius.Get()
	b.radiusM = math.Max(b.radiusM, r)
	b.unknown = b.unknown || !ok
}

// middle is the centre of the box, degrees, and the radius in metres that holds
// all of it.
func (b *box) middle() (lat, lon, radiusM float64) {
	lat = (b.south + b.north) / 2
	lon = place.NormalLongitude(b.lon0 + (b.west+b.east)/2)
	for _, c := range [][2]float64{{b.south, b.west}, {b.south, b.east}, {b.north, b.west}, {b.north, b.east}} {
		m, _, _ := place.Between(lat, lon, c[0], place.NormalLongitude(b.lon0+c[1]))
		radiusM = math.Max(radiusM, m)
	}
	return lat, lon, radiusM + b.radiusM
}

// bounds are the box's corners; west is above east where it crosses 180.
func (b *box) bounds() (west, south, east, north float64) {
	return place.NormalLongitude(b.lon0 + b.west), b.south, place.NormalLongitude(b.lon0 + b.east), b.north
}

func (l *level) add(d row, from, to time.Time, hours float64, protocol string) {
	if l.rows == 0 || from.Before(l.from) {
		l.from = from
	}
	if l.rows == 0 || to.After(l.to) {
		l.to = to
	}
	l.rows++
	l.baits += d.Baits
	l.soakH += hours
	if x, ok := d.DepthMinM.Get(); ok {
		l.depthMin = assay.Some(math.Min(x, l.depthMin.Or(x)))
	}
	if x, ok := d.DepthMaxM.Get(); ok {
		l.depthMax = assay.Some(math.Max(x, l.depthMax.Or(x)))
	}
	addOnce(&l.habitats, d.Habitat)
	addOnce(&l.protocols, protocol)
	addOnce(&l.generalised, d.Generalised)
	addOnce(&l.withheld, d.Withheld)
	if lat, ok := d.Latitude.Get(); ok && d.Longitude.Known() {
		l.box.add(lat, d.Longitude.Or(0), radiusOf(d))
	}
}

func addOnce(list *[]string, s string) {
	if s != "" && !slices.Contains(*list, s) {
		*list = append(*list, s)
	}
}

// levels are all events above the rows, and for each row its parent.
type levels struct {
	order  []*level
	by     map[string]*level
	parent []string
	all    level // the whole data set
}

func (r *release) levels() (*levels, error) {
	out := &levels{by: map[string]*level{}, parent: make([]string, 0, len(r.keep))}
	prefix := r.prefix()
	err := r.each(func(d row) error {
		from, to := span(d)
		hours := soakOf(d)
		protocol := r.protocolText(d.Protocol)
		parent := ""
		step := func(id, kind, site string) {
			l := out.by[id]
			if l == nil {
				l = &level{id: id, parent: parent, kind: kind, site: site}
				out.by[id] = l
				out.order = append(out.order, l)
			}
			l.add(d, from, to, hours, protocol)
			parent = l.id // one text for all rows below
		}
		if d.Programme != "" {
			step(prefix+join("programme", d.Programme), "programme", "")
		}
		if d.Season != "" {
			step(prefix+join("season", d.Programme, d.Season), "season", "")
		}
		day := d.SetOut.Local().Format(time.DateOnly)
		step(prefix+join("visit", d.Programme, d.Season, d.Team, d.Site, day), "site visit", d.Site)
		out.all.add(d, from, to, hours, protocol)
		out.parent = append(out.parent, parent)
		return nil
	})
	return out, err
}

// span is the time from setting out to the last thing done, UTC.
func span(d row) (from, to time.Time) {
	from = d.SetOut.At
	to = from
	for _, m := range append([]assay.Moment{d.SetOutUntil, d.AbandonedAt, d.RetrievedAt}, checkTimes(d)...) {
		if m.Known() && m.At.After(to) {
			to = m.At
		}
	}
	return from, to
}

func checkTimes(d row) []assay.Moment {
	var out []assay.Moment
	for _, c := range d.Checks {
		if c.Read() {
			out = append(out, c.At, c.Until)
		}
	}
	return out
}

// soakOf is the soak of the last check read, hours; without one, the time from
// setting out to the last thing done.
func soakOf(d row) float64 {
	if c, ok := d.LastRead(); ok {
		if h, ok := d.SoakH(c); ok {
			return h
		}
	}
	from, to := span(d)
	return to.Sub(from).Hours()
}

// radiusOf is the radius in metres of a circle around the position that holds
// the row: what is known of the position, and the length of the row.
func radiusOf(d row) assay.Maybe[float64] {
	u, ok := d.CoordinateUncertaintyM.Get()
	if !ok || u <= 0 {
		return assay.None[float64]()
	}
	if d.Generalised != "" {
		return assay.Some(u)
	}
	return assay.Some(u + lengthOf(d))
}

// lengthOf is the length of the row in metres, 0 when the spacing is not known.
func lengthOf(d row) float64 {
	return d.SpacingM.Or(0) * float64(max(0, d.Baits-1))
}

// footprint is the row as well-known text, longitude first; empty when position,
// bearing or spacing is not known.
func footprint(d row) string {
	lat, ok1 := d.Latitude.Get()
	lon, ok2 := d.Longitude.Get()
	bearing, ok3 := d.RowBearingDeg.Get()
	spacing, ok4 := d.SpacingM.Get()
	if !ok1 || !ok2 || !ok3 || !ok4 || d.Baits < 2 || d.Generalised != "" {
		return ""
	}
	// The row is so short that its two ends are its course.
	ends, err := place.RowStakes(lat, lon, bearing, 0, spacing*float64(d.Baits-1), 2)
	if err != nil {
		return ""
	}
	point := func(s place.Stake) string {
		return strconv.FormatFloat(s.LonDeg, 'f', 6, 64) + " " + strconv.FormatFloat(s.LatDeg, 'f', 6, 64)
	}
	return "LINESTRING (" + point(ends[0]) + ", " + point(ends[1]) + ")"
}

// protocolText names a protocol as a stranger needs it.
func (r *release) protocolText(name string) string {
	if name == "" {
		name = r.in.Usual
	}
	p, ok := r.in.Protocols[name]
	if !ok {
		if name == "" {
			return "tethered-bait consumption assay"
		}
		return "tethered-bait consumption assay, protocol " + name
	}
	return "tethered-bait consumption assay, protocol " + sheet.ProtocolName(p) + ": " + p.Title
}

// Times as the archive writes them.
const (
	toMinute = "2006-01-02T15:04Z07:00"
	toSecond = "2006-01-02T15:04:05Z07:00"
)

func stamp(t time.Time) string {
	if t.Second() == 0 {
		return t.Format(toMinute)
	}
	return t.Format(toSecond)
}

// interval writes two times as ISO 8601, one where they are the same.
func interval(from, to time.Time) string {
	if !to.After(from) {
		return stamp(from)
	}
	return stamp(from) + "/" + stamp(to)
}

func number(x float64, most int) string {
	s := strconv.FormatFloat(x, 'f', most, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

func maybeNumber(m assay.Maybe[float64]) string {
	if x, ok := m.Get(); ok {
		return sheet.FormatNumber(x)
	}
	return ""
}

// clean makes a text fit for a cell of the archive: one line, no stray spaces.
func clean(s string) string {
	plain := true
	for i := 0; i < len(s); i++ {
		if s[i] < ' ' || s[i] >= 0x7f {
			plain = false
			break
		}
	}
	if plain && strings.TrimSpace(s) == s && !strings.Contains(s, "  ") {
		return s
	}
	return strings.Join(strings.Fields(normal(s)), " ")
}
