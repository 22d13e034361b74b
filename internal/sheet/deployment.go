package sheet

import (
	"slices"
	"sort"
	"strconv"

	"soakline/internal/assay"
)

// reader reads canonical texts by column name and gathers every fault.
type reader struct {
	values map[string]string
	table  Table
	faults []*Fault
}

func (r *reader) note(f *Fault) {
	if f != nil {
		r.faults = append(r.faults, f)
	}
}

func (r *reader) moment(name string) assay.Moment {
	m, f := ParseMoment(name, r.values[name])
	r.note(f)
	return m
}

func (r *reader) count(name string) assay.Maybe[int] {
	n, f := ParseCount(name, r.values[name])
	r.note(f)
	return n
}

func (r *reader) number(name string) assay.Maybe[float64] {
	x, f := ParseNumber(name, r.values[name])
	r.note(f)
	return x
}

func (r *reader) flag(name string) assay.Maybe[bool] {
	b, f := ParseFlag(name, r.values[name])
	r.note(f)
	return b
}

func (r *reader) word(name string) string {
	c, _, ok := Find(r.table, name)
	if !ok {
		panic("sheet: no column " + name)
	}
	w, f := ParseWord(c, name, r.values[name])
	r.note(f)
	return w
}

// Deployment reads the canonical texts of one deployment, by column name.
// Names that are no column are covariates. All faults come back, and a record
// with a fault is not to be used.
func Deployment(values map[string]string) (assay.Deployment, []*Fault) {
	r := reader{values: values, table: Wide}
	d := assay.Deployment{
		ID: values["deployment_id"], Site: values["site"], Habitat: values["habitat"],
		Latitude: r.number("latitude"), Longitude: r.number("longitude"),
		SetOut: r.moment("deployed_at"), SetOutUntil: r.moment("deployed_until"),
		Baits:     r.count("baits_deployed").Or(0),
		Programme: values["programme"], Season: values["season"], Team: values["team"],
		Protocol: values["protocol"], Observers: values["observers"],
		AbandonedAt: r.moment("abandoned_at"), StakesRetrieved: r.count("stakes_retrieved"),
		RetrievedAt: r.moment("retrieved_at"),
		DepthMinM:   r.number("depth_min_m"), DepthMaxM: r.number("depth_max_m"), DepthAt: r.depthAt(),
		BaitKind: values["bait_kind"], BaitForm: r.word("bait_form"), BaitSizeMM: r.number("bait_size_mm"),
		BaitBatch: values["bait_batch"], SpacingM: r.number("spacing_m"), RowBearingDeg: r.number("row_bearing_deg"),
		Control: assay.Control(r.word("control")), Practice: r.flag("practice"), NearOtherHabitat: r.flag("near_other_habitat"),
		TemperatureC: r.number("temperature_c"), Salinity: r.number("salinity"), VisibilityM: r.number("visibility_m"),
		CoordinateUncertaintyM: r.number("coordinate_uncertainty_m"), Notes: values["notes"],
		GlobalID: values["global_id"], Licence: values["licence"],
		PeopleOut: r.count("people_out"), PeopleBack: r.count("people_back"),
		WatchReadAt: r.moment("watch_read_at"), WatchAgainst: values["watch_against"],
		LastLatitude: r.number("last_latitude"), LastLongitude: r.number("last_longitude"),
		FirstStakeSide: r.word("first_stake_side"), Landmarks: values["landmarks"], StakesLeft: values["stakes_left"],
	}
	if d.Latitude.Known() && d.Longitude.Known() {
		d.PositionDecimals = assay.Some(min(decimals(values["latitude"]), decimals(values["longitude"])))
	}
	if d.LastLatitude.Known() && d.LastLongitude.Known() {
		d.LastDecimals = assay.Some(min(decimals(values["last_latitude"]), decimals(values["last_longitude"])))
	}
	r.checks(&d)
	var faults []*Fault
	d.Sightings, faults = ParseSightings("sightings", values["sightings"])
	r.faults = append(r.faults, faults...)
	for name, v := range values {
		if _, _, ok := Find(Wide, name); !ok && v != "" {
			if d.Covariates == nil {
				d.Covariates = map[string]string{}
			}
			d.Covariates[name] = v
		}
	}
	return d, r.faults
}

// checks reads the columns of every check that has any text.
func (r *reader) checks(d *assay.Deployment) {
	var numbers []int
	for name, v := range r.values {
		if _, k, ok := Find(Wide, name); ok && k > 0 && v != "" && !slices.Contains(numbers, k) {
			numbers = append(numbers, k)
		}
	}
	sort.Ints(numbers)
	for _, k := range numbers {
		n := strconv.Itoa(k)
		c := assay.Check{
			Number: k, At: r.moment("check" + n + "_at"), Until: r.moment("check" + n + "_until"),
			Consumed: r.count("consumed_by_check" + n), Lost: r.count("lost_by_check" + n),
			Unread: r.count("unread_at_check" + n), Reader: r.values["reader_of_check"+n],
			WhyNot:    r.word("why_no_check" + n),
			PeopleOut: r.count("people_out_at_check" + n), PeopleBack: r.count("people_back_at_check" + n),
		}
		d.Checks = append(d.Checks, c)
		name := "fates_at_check" + n
		fates, f := ParseFates(name, r.values[name], k)
		r.note(f)
		d.Stakes = append(d.Stakes, fates...)
	}
}

func (r *reader) depthAt() string {
	s := r.values["depth_at"]
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
