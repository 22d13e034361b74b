package sheet

import (
	"slices"
	"strconv"
	"sync"

	"soakline/internal/assay"
)

// Layout are the columns that many records have in common.
type Layout struct {
	names  []string
	slot   map[string]int
	checks []checkSlot
	other  []int // the slots of covariates
}

// checkSlot is a column of one check.
type checkSlot struct{ slot, check int }

// NewLayout is the layout of records whose texts stand in the order of columns.
func NewLayout(columns []string) *Layout {
	l := &Layout{names: columns, slot: make(map[string]int, len(columns))}
	for i, name := range columns {
		l.slot[name] = i
		switch _, k, ok := Find(Wide, name); {
		case !ok:
			l.other = append(l.other, i)
		case k > 0:
			l.checks = append(l.checks, checkSlot{i, k})
		}
	}
	return l
}

// Columns is how many columns the layout has.
func (l *Layout) Columns() int { return len(l.names) }

// Deployment reads the canonical texts of one deployment, in the order of the
// layout's columns; further texts may be left out at the end. As the function
// Deployment in all else.
func (l *Layout) Deployment(texts []string) (assay.Deployment, []*Fault) {
	r := reader{table: Wide, layout: l, texts: texts}
	return r.deployment()
}

// reader reads canonical texts by column name and gathers every fault. The texts
// are a map, or stand in a layout.
type reader struct {
	values map[string]string
	layout *Layout
	texts  []string
	table  Table
	faults []*Fault
}

// text is the text of a column, empty where there is none.
func (r *reader) text(name string) string {
	if r.layout == nil {
		return r.values[name]
	}
	if i, ok := r.layout.slot[name]; ok {
		return r.at(i)
	}
	return ""
}

func (r *reader) at(slot int) string {
	if slot < len(r.texts) {
		return r.texts[slot]
	}
	return ""
}

func (r *reader) note(f *Fault) {
	if f != nil {
		r.faults = append(r.faults, f)
	}
}

func (r *reader) moment(name string) assay.Moment {
	m, f := ParseMoment(name, r.text(name))
	r.note(f)
	return m
}

func (r *reader) count(name string) assay.Maybe[int] {
	n, f := ParseCount(name, r.text(name))
	r.note(f)
	return n
}

func (r *reader) number(name string) assay.Maybe[float64] {
	x, f := ParseNumber(name, r.text(name))
	r.note(f)
	return x
}

func (r *reader) flag(name string) assay.Maybe[bool] {
	b, f := ParseFlag(name, r.text(name))
	r.note(f)
	return b
}

func (r *reader) word(name string) string {
	text := r.text(name)
	if text == "" {
		return ""
	}
	c, _, ok := Find(r.table, name)
	if !ok {
		panic("sheet: no column " + name)
	}
	w, f := ParseWord(c, name, text)
	r.note(f)
	return w
}

// Deployment reads the canonical texts of one deployment, by column name.
// Names that are no column are covariates. All faults come back, and a record
// with a fault is not to be used.
func Deployment(values map[string]string) (assay.Deployment, []*Fault) {
	r := reader{values: values, table: Wide}
	return r.deployment()
}

func (r *reader) deployment() (assay.Deployment, []*Fault) {
	d := assay.Deployment{
		ID: r.text("deployment_id"), Site: r.text("site"), Habitat: r.text("habitat"),
		Latitude: r.number("latitude"), Longitude: r.number("longitude"),
		SetOut: r.moment("deployed_at"), SetOutUntil: r.moment("deployed_until"),
		Baits:     r.count("baits_deployed").Or(0),
		Programme: r.text("programme"), Season: r.text("season"), Team: r.text("team"),
		Protocol: r.text("protocol"), Observers: r.text("observers"),
		AbandonedAt: r.moment("abandoned_at"), StakesRetrieved: r.count("stakes_retrieved"),
		RetrievedAt: r.moment("retrieved_at"),
		DepthMinM:   r.number("depth_min_m"), DepthMaxM: r.number("depth_max_m"), DepthAt: r.depthAt(),
		BaitKind: r.text("bait_kind"), BaitForm: r.word("bait_form"), BaitSizeMM: r.number("bait_size_mm"),
		BaitBatch: r.text("bait_batch"), SpacingM: r.number("spacing_m"), RowBearingDeg: r.number("row_bearing_deg"),
		Control: assay.Control(r.word("control")), Practice: r.flag("practice"), NearOtherHabitat: r.flag("near_other_habitat"),
		TemperatureC: r.number("temperature_c"), Salinity: r.number("salinity"), VisibilityM: r.number("visibility_m"),
		CoordinateUncertaintyM: r.number("coordinate_uncertainty_m"), Notes: r.text("notes"),
		GlobalID: r.text("global_id"), Licence: r.text("licence"),
		PeopleOut: r.count("people_out"), PeopleBack: r.count("people_back"),
		WatchReadAt: r.moment("watch_read_at"), WatchAgainst: r.text("watch_against"),
		LastLatitude: r.number("last_latitude"), LastLongitude: r.number("last_longitude"),
		FirstStakeSide: r.word("first_stake_side"), Landmarks: r.text("landmarks"), StakesLeft: r.text("stakes_left"),
	}
	if d.Latitude.Known() && d.Longitude.Known() {
		d.PositionDecimals = assay.Some(min(decimals(r.text("latitude")), decimals(r.text("longitude"))))
	}
	if d.LastLatitude.Known() && d.LastLongitude.Known() {
		d.LastDecimals = assay.Some(min(decimals(r.text("last_latitude")), decimals(r.text("last_longitude"))))
	}
	r.checks(&d)
	var faults []*Fault
	d.Sightings, faults = ParseSightings("sightings", r.text("sightings"))
	r.faults = append(r.faults, faults...)
	r.covariates(func(name, text string) {
		if d.Covariates == nil {
			d.Covariates = map[string]string{}
		}
		d.Covariates[name] = text
	})
	return d, r.faults
}

// covariates tells the texts whose names are no column.
func (r *reader) covariates(tell func(name, text string)) {
	if r.layout == nil {
		for name, v := range r.values {
			if _, _, ok := Find(Wide, name); !ok && v != "" {
				tell(name, v)
			}
		}
		return
	}
	for _, i := range r.layout.other {
		if v := r.at(i); v != "" {
			tell(r.layout.names[i], v)
		}
	}
}

// numbers are the checks of which there is any text, ascending.
func (r *reader) numbers() []int {
	var numbers []int
	add := func(k int, text string) {
		if k > 0 && text != "" && !slices.Contains(numbers, k) {
			numbers = append(numbers, k)
		}
	}
	if r.layout == nil {
		for name, v := range r.values {
			if _, k, ok := Find(Wide, name); ok {
				add(k, v)
			}
		}
	} else {
		for _, c := range r.layout.checks {
			add(c.check, r.at(c.slot))
		}
	}
	slices.Sort(numbers)
	return numbers
}

// checkColumns are the names of the columns of one check.
type checkColumns struct{ at, until, consumed, lost, unread, reader, whyNot, peopleOut, peopleBack, fates string }

// ofCheck are the names for every number a check may have.
var ofCheck = sync.OnceValue(func() *[MaxChecks + 1]checkColumns {
	var all [MaxChecks + 1]checkColumns
	for k := range all {
		n := strconv.Itoa(k)
		all[k] = checkColumns{"check" + n + "_at", "check" + n + "_until", "consumed_by_check" + n, "lost_by_check" + n, "unread_at_check" + n,
			"reader_of_check" + n, "why_no_check" + n, "people_out_at_check" + n, "people_back_at_check" + n, "fates_at_check" + n}
	}
	return &all
})

// checks reads the columns of every check that has any text.
func (r *reader) checks(d *assay.Deployment) {
	numbers := r.numbers()
	if len(numbers) > 0 {
		d.Checks = make([]assay.Check, 0, len(numbers))
	}
	for _, k := range numbers {
		n := &ofCheck()[k]
		d.Checks = append(d.Checks, assay.Check{
			Number: k, At: r.moment(n.at), Until: r.moment(n.until),
			Consumed: r.count(n.consumed), Lost: r.count(n.lost),
			Unread: r.count(n.unread), Reader: r.text(n.reader),
			WhyNot:    r.word(n.whyNot),
			PeopleOut: r.count(n.peopleOut), PeopleBack: r.count(n.peopleBack),
		})
		fates, f := ParseFates(n.fates, r.text(n.fates), k)
		r.note(f)
		d.Stakes = append(d.Stakes, fates...)
	}
}

func (r *reader) depthAt() string {
	s := r.text("depth_at")
	if s == "" || s == "datum" {
		return s
	}
	m, f := ParseMoment("depth_at", s)
	if f != nil {
		r.note(fault("depth_at", s, "depth-at", nil))
		return ""
	}
	return FormatMoment(m)
}

// Values writes a deployment as canonical texts by column name, empty ones
// left out. Deployment(Values(d)) gives d again, apart from its key and the
// place it was read from.
func Values(d *assay.Deployment) map[string]string {
	v := map[string]string{}
	put := func(name, text string) {
		if text != "" {
			v[name] = text
		}
	}
	for name, text := range d.Covariates {
		put(name, text)
	}
	put("deployment_id", d.ID)
	put("global_id", d.GlobalID)
	put("licence", d.Licence)
	put("site", d.Site)
	put("habitat", d.Habitat)
	put("latitude", formatDegrees(d.Latitude, d.PositionDecimals))
	put("longitude", formatDegrees(d.Longitude, d.PositionDecimals))
	put("deployed_at", FormatMoment(d.SetOut))
	put("deployed_until", FormatMoment(d.SetOutUntil))
	if d.Baits != 0 {
		put("baits_deployed", strconv.Itoa(d.Baits))
	}
	put("programme", d.Programme)
	put("season", d.Season)
	put("team", d.Team)
	put("protocol", d.Protocol)
	put("observers", d.Observers)
	put("abandoned_at", FormatMoment(d.AbandonedAt))
	put("stakes_retrieved", formatMaybeCount(d.StakesRetrieved))
	put("retrieved_at", FormatMoment(d.RetrievedAt))
	put("depth_min_m", formatMaybeNumber(d.DepthMinM))
	put("depth_max_m", formatMaybeNumber(d.DepthMaxM))
	put("depth_at", d.DepthAt)
	put("bait_kind", d.BaitKind)
	put("bait_form", d.BaitForm)
	put("bait_size_mm", formatMaybeNumber(d.BaitSizeMM))
	put("bait_batch", d.BaitBatch)
	put("spacing_m", formatMaybeNumber(d.SpacingM))
	put("row_bearing_deg", formatMaybeNumber(d.RowBearingDeg))
	put("control", string(d.Control))
	put("practice", formatMaybeFlag(d.Practice))
	put("near_other_habitat", formatMaybeFlag(d.NearOtherHabitat))
	put("temperature_c", formatMaybeNumber(d.TemperatureC))
	put("salinity", formatMaybeNumber(d.Salinity))
	put("visibility_m", formatMaybeNumber(d.VisibilityM))
	put("coordinate_uncertainty_m", formatMaybeNumber(d.CoordinateUncertaintyM))
	put("people_out", formatMaybeCount(d.PeopleOut))
	put("people_back", formatMaybeCount(d.PeopleBack))
	put("watch_read_at", FormatMoment(d.WatchReadAt))
	put("watch_against", d.WatchAgainst)
	put("last_latitude", formatDegrees(d.LastLatitude, d.LastDecimals))
	put("last_longitude", formatDegrees(d.LastLongitude, d.LastDecimals))
	put("first_stake_side", d.FirstStakeSide)
	put("landmarks", d.Landmarks)
	put("stakes_left", d.StakesLeft)
	put("notes", d.Notes)
	put("sightings", FormatSightings(d.Sightings))
	putChecks(d, put)
	return v
}

func putChecks(d *assay.Deployment, put func(name, text string)) {
	for _, c := range d.Checks {
		n := strconv.Itoa(c.Number)
		put("check"+n+"_at", FormatMoment(c.At))
		put("check"+n+"_until", FormatMoment(c.Until))
		put("consumed_by_check"+n, formatMaybeCount(c.Consumed))
		if !c.LostDerived {
			put("lost_by_check"+n, formatMaybeCount(c.Lost))
		}
		put("unread_at_check"+n, formatMaybeCount(c.Unread))
		put("reader_of_check"+n, c.Reader)
		put("why_no_check"+n, c.WhyNot)
		put("people_out_at_check"+n, formatMaybeCount(c.PeopleOut))
		put("people_back_at_check"+n, formatMaybeCount(c.PeopleBack))
	}
	byCheck := map[int][]assay.StakeFate{}
	for _, f := range d.Stakes {
		byCheck[f.Check] = append(byCheck[f.Check], f)
	}
	for k, fates := range byCheck {
		put("fates_at_check"+strconv.Itoa(k), FormatFates(fates))
	}
}

// formatDegrees keeps the number of decimals that was written, which tells how
// finely the position was read.
func formatDegrees(m assay.Maybe[float64], dec assay.Maybe[int]) string {
	x, ok := m.Get()
	if !ok {
		return ""
	}
	s := FormatNumber(x)
	if n, known := dec.Get(); known && decimals(s) < n && n <= 15 {
		return strconv.FormatFloat(x, 'f', n, 64)
	}
	return s
}

func formatMaybeCount(m assay.Maybe[int]) string {
	if n, ok := m.Get(); ok {
		return strconv.Itoa(n)
	}
	return ""
}

func formatMaybeNumber(m assay.Maybe[float64]) string {
	if x, ok := m.Get(); ok {
		return FormatNumber(x)
	}
	return ""
}

func formatMaybeFlag(m assay.Maybe[bool]) string {
	b, ok := m.Get()
	switch {
	case !ok:
		return ""
	case b:
		return "yes"
	}
	return "no"
}
