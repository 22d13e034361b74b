package publish

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// line is one line of a table, filled by the names of its terms.
type line struct {
	at    map[string]int
	cells []string
}

func newLine(t table) *line {
	l := &line{at: map[string]int{}, cells: make([]string, len(t.columns))}
	for i, c := range t.columns {
		l.at[termName(c)] = i
	}
	return l
}

func (l *line) clear() {
	for i := range l.cells {
		l.cells[i] = ""
	}
}

func (l *line) set(name, value string) {
	i, ok := l.at[name]
	if !ok {
		panic("publish: no column " + name)
	}
	l.cells[i] = clean(value)
}

// writeEvents writes the core: the levels above the rows, then each row with
// its checks.
func (r *release) writeEvents(lv *levels, write func([]string) error) (n int, err error) {
	l := newLine(eventTable)
	put := func() error {
		n++
		return write(l.cells)
	}
	for _, v := range lv.order {
		l.clear()
		r.levelEvent(l, v)
		if err := put(); err != nil {
			return n, err
		}
	}
	for k := range r.keep {
		d := r.row(k)
		l.clear()
		r.rowEvent(l, d, lv.parent[k])
		if err := put(); err != nil {
			return n, err
		}
		for _, c := range d.Checks {
			l.clear()
			r.checkEvent(l, d, c)
			if err := put(); err != nil {
				return n, err
			}
		}
	}
	return n, nil
}

// common fills what every event says.
func (r *release) common(l *line) {
	l.set("license", r.licence.LegalCode)
	l.set("datasetID", r.m.DatasetID)
	l.set("datasetName", r.m.Title)
	l.set("countryCode", r.m.Country)
}

// dates fills the parts of a date that both ends share, on the clock of the place.
func dates(l *line, from, to time.Time) {
	l.set("eventDate", interval(from, to))
	l.set("startDayOfYear", strconv.Itoa(from.YearDay()))
	l.set("endDayOfYear", strconv.Itoa(to.YearDay()))
	if from.Year() != to.Year() {
		l.set("startDayOfYear", "")
		l.set("endDayOfYear", "")
		return
	}
	l.set("year", strconv.Itoa(from.Year()))
	if from.Month() != to.Month() {
		return
	}
	l.set("month", strconv.Itoa(int(from.Month())))
	if from.Day() == to.Day() {
		l.set("day", strconv.Itoa(from.Day()))
	}
}

func (r *release) levelEvent(l *line, v *level) {
	r.common(l)
	l.set("eventID", v.id)
	l.set("parentEventID", v.parent)
	l.set("eventType", v.kind)
	dates(l, v.from.UTC(), v.to.UTC())
	l.set("habitat", strings.Join(v.habitats, " | "))
	l.set("samplingProtocol", strings.Join(v.protocols, " | "))
	l.set("sampleSizeValue", number(v.soakH, 2))
	l.set("sampleSizeUnit", "hour")
	l.set("samplingEffort", fmt.Sprintf("%s, %s, hours of soak summed over the rows", many(v.rows, "row"), many(v.baits, "bait")))
	l.set("eventRemarks", r.invented())
	if v.site != "" {
		l.set("locality", v.site)
		l.set("locationID", r.prefix()+join("site", v.site))
	}
	l.set("minimumDepthInMeters", maybeNumber(v.depthMin))
	l.set("maximumDepthInMeters", maybeNumber(v.depthMax))
	l.set("dataGeneralizations", strings.Join(v.generalised, " | "))
	l.set("informationWithheld", strings.Join(v.withheld, " | "))
	if !v.box.any {
		return
	}
	lat, lon, radius := v.box.middle()
	l.set("decimalLatitude", number(lat, 6))
	l.set("decimalLongitude", number(lon, 6))
	l.set("geodeticDatum", "EPSG:4326")
	if !v.box.unknown {
		l.set("coordinateUncertaintyInMeters", number(max(1, radius), 0))
	}
	if w, s, e, n := v.box.bounds(); s < n && w < e {
		c := func(x, y float64) string { return number(x, 6) + " " + number(y, 6) }
		l.set("footprintWKT", "POLYGON (("+strings.Join([]string{c(w, s), c(e, s), c(e, n), c(w, n), c(w, s)}, ", ")+"))")
		l.set("footprintSRS", "EPSG:4326")
	}
}

func many(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}

func (r *release) invented() string {
	if r.in.Invented {
		return "invented data"
	}
	return ""
}

// placed fills where a row is.
func (r *release) placed(l *line, d row) {
	l.set("habitat", d.Habitat)
	l.set("locality", d.Site)
	l.set("locationID", r.prefix()+join("site", d.Site))
	l.set("minimumDepthInMeters", maybeNumber(d.DepthMinM))
	l.set("maximumDepthInMeters", maybeNumber(d.DepthMaxM))
	l.set("dataGeneralizations", d.Generalised)
	l.set("informationWithheld", d.Withheld)
	r.position(l, d)
	if f := footprint(d); f != "" {
		l.set("footprintWKT", f)
		l.set("footprintSRS", "EPSG:4326")
	}
	if n, ok := d.PositionDecimals.Get(); ok && d.Latitude.Known() {
		l.set("coordinatePrecision", precision(n))
	}
}

// position fills the columns that events and occurrences share.
func (r *release) position(l *line, d row) {
	v := sheet.Values(&assay.Deployment{Latitude: d.Latitude, Longitude: d.Longitude, PositionDecimals: d.PositionDecimals})
	if v["latitude"] == "" || v["longitude"] == "" {
		return
	}
	l.set("decimalLatitude", v["latitude"])
	l.set("decimalLongitude", v["longitude"])
	l.set("geodeticDatum", "EPSG:4326")
	if u, ok := radiusOf(d).Get(); ok {
		l.set("coordinateUncertaintyInMeters", number(max(1, u), 0))
	}
}

func precision(decimals int) string {
	if decimals <= 0 {
		return "1"
	}
	return "0." + strings.Repeat("0", decimals-1) + "1"
}

func (r *release) rowEvent(l *line, d row, parent string) {
	r.common(l)
	r.placed(l, d)
	l.set("eventID", d.Event)
	l.set("parentEventID", parent)
	l.set("eventType", "deployment")
	l.set("fieldNumber", d.ID)
	from, to := span(d)
	zone := time.FixedZone("", d.SetOut.OffsetS)
	dates(l, from.In(zone), to.In(zone))
	l.set("samplingProtocol", r.protocolText(d.Protocol))
	l.set("sampleSizeValue", number(soakOf(d), 4))
	l.set("sampleSizeUnit", "hour")
	l.set("samplingEffort", effort(d))
	var remarks []string
	if d.IsControl() {
		remarks = append(remarks, "control row ("+strings.ReplaceAll(string(d.Control), "_", " ")+"): measures bait loss other than by consumers; not part of habitat results")
	}
	if d.AbandonedAt.Known() {
		remarks = append(remarks, "abandoned at "+stamp(d.AbandonedAt.Local()))
	}
	if s := r.invented(); s != "" {
		remarks = append(remarks, s)
	}
	remarks = append(remarks, d.Notes)
	remarks = append(remarks, r.remarks(d, 0)...)
	l.set("eventRemarks", joined(remarks))
	l.cells[l.at["dynamicProperties"]] = leftOver(d, l)
}

func joined(list []string) string {
	var out []string
	for _, s := range list {
		addOnce(&out, clean(s))
	}
	return strings.Join(out, " | ")
}

func effort(d row) string {
	s := many(d.Baits, "bait")
	var soaks []string
	for _, c := range d.Checks {
		if h, ok := d.SoakH(c); ok && c.Read() {
			soaks = append(soaks, number(h, 2)+" h")
		}
	}
	if len(soaks) > 0 {
		s += ", read after " + strings.Join(soaks, " and ")
	}
	return s
}

// inColumns are the canonical values that have a column of their own in the
// core, under the standard's name.
var inColumns = map[string]string{
	"deployment_id": "fieldNumber", "site": "locality", "habitat": "habitat", "latitude": "decimalLatitude", "longitude": "decimalLongitude",
}

// leftOver is what of the canonical values no column of the core holds to the
// letter, as JSON with sorted keys, so that the archive reads back exactly.
func leftOver(d row, l *line) string {
	v := sheet.Values(d.Deployment)
	for name, column := range inColumns {
		if l.cells[l.at[column]] == v[name] {
			delete(v, name)
		}
	}
	if len(v) == 0 {
		return ""
	}
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(map[string]any{"soakline": v}); err != nil {
		panic("publish: texts cannot be written: " + err.Error())
	}
	return strings.TrimSpace(b.String())
}

// checkID is the identifier of a check of a row.
func checkID(event string, check int) string { return event + ":check:" + strconv.Itoa(check) }

func (r *release) checkEvent(l *line, d row, c assay.Check) {
	r.common(l)
	r.placed(l, d)
	l.set("eventID", checkID(d.Event, c.Number))
	l.set("parentEventID", d.Event)
	l.set("eventType", "check")
	l.set("fieldNumber", d.ID+" check "+strconv.Itoa(c.Number))
	l.set("samplingProtocol", r.protocolText(d.Protocol))
	l.set("sampleSizeUnit", "hour")
	l.set("samplingEffort", many(d.Baits, "bait"))
	from, to := c.At.Local(), c.Until.Local()
	if !c.At.Known() { // some time within the row's own time
		a, b := span(d)
		zone := time.FixedZone("", d.SetOut.OffsetS)
		from, to = a.In(zone), b.In(zone)
	} else if !c.Until.Known() {
		to = from
	}
	dates(l, from, to)
	if h, ok := d.SoakH(c); ok {
		l.set("sampleSizeValue", number(h, 4))
	} else {
		l.set("sampleSizeValue", number(soakOf(d), 4))
	}
	l.set("eventRemarks", joined(append(checkRemarks(c, r.invented()), r.remarks(d, c.Number)...)))
}

// checkRemarks say in words what was not done or not written.
func checkRemarks(c assay.Check, invented string) []string {
	out := []string{invented}
	if !c.Read() {
		text := "this check gave no counts"
		if c.WhyNot != "" {
			text += ": " + c.WhyNot
		}
		return append(out, text)
	}
	switch {
	case c.LostDerived && c.Lost.Or(0) > 0:
		out = append(out, "baits lost were not counted; the number is an upper bound from the stakes retrieved")
	case c.LostDerived || !c.Lost.Known():
		out = append(out, "baits lost were not counted")
	}
	return out
}
