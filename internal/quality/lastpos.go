package quality

import (
	"math"
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/sheet"
)

// What two positions read by a receiver may be off by, together, before the last
// stake is asked about, and how far a bearing read by compass may be from the
// line between them. Common practice, no source.
const (
	lastSlackM    = 20.0
	lastSlack     = 0.25 // of the row's length
	lastBearing   = 45.0 // degrees; a compass differs from true north by 20 and more in places
	lastFarEnough = 20.0 // m: nearer, the line between two positions tells no direction
)

func lastPositionRules() []Rule {
	return []Rule{
		{Slug: "last-position-half", Severity: assay.Ask, one: lastPositionHalf},
		{Slug: "last-position-far", Severity: assay.Ask, one: lastPositionFar},
		{Slug: "last-position-unlike-bearing", Severity: assay.Ask, one: lastPositionUnlikeBearing},
	}
}

func lastPositionHalf(r *row) {
	lat, lon := r.d.LastLatitude.Known(), r.d.LastLongitude.Known()
	switch {
	case lat && !lon:
		r.say(hit{field: "last_longitude", with: map[string]any{"field": "last_longitude"}})
	case lon && !lat:
		r.say(hit{field: "last_latitude", with: map[string]any{"field": "last_latitude"}})
	}
}

// ends are the distance and the true bearing from stake 1 to the last stake.
func (r *row) ends() (m, bearing float64, ok bool) {
	first, known := r.position()
	lat, okLat := r.d.LastLatitude.Get()
	lon, okLon := r.d.LastLongitude.Get()
	if !known || !okLat || !okLon || !first.valid() || !(point{lat, lon}).valid() {
		return 0, 0, false
	}
	m, bearing, _ = place.Between(first.lat, first.lon, lat, lon)
	return m, bearing, true
}

func (r *row) last() string {
	return point{r.d.LastLatitude.Or(0), r.d.LastLongitude.Or(0)}.String()
}

// lastPositionFar: nearer is no fault, since a row may bend with its habitat.
func lastPositionFar(r *row) {
	m, _, ok := r.ends()
	spacing := r.d.SpacingM.Or(r.p.SpacingM)
	if !ok || r.d.Baits < 1 || !(spacing > 0) {
		return
	}
	long := float64(r.d.Baits-1) * spacing
	if m > long*(1+lastSlack)+lastSlackM {
		r.say(hit{field: "last_latitude", value: sheet.FormatNumber(r.d.LastLatitude.Or(0)), with: map[string]any{"position": r.last(), "m": m, "long": long},
			about: []any{r.last(), strconv.Itoa(r.d.Baits), sheet.FormatNumber(spacing)}})
	}
}

func lastPositionUnlikeBearing(r *row) {
	m, bearing, ok := r.ends()
	written, known := r.d.RowBearingDeg.Get()
	if !ok || !known || m < lastFarEnough {
		return
	}
	off := math.Abs(math.Remainder(bearing-written, 360))
	if !(off <= lastBearing) {
		r.say(hit{field: "row_bearing_deg", value: sheet.FormatNumber(written), with: map[string]any{"bearing": math.Mod(bearing+360, 360), "written": sheet.FormatNumber(written)},
			about: []any{r.last(), sheet.FormatNumber(written)}})
	}
}
