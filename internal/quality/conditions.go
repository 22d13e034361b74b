package quality

import (
	"slices"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

func conditionRules() []Rule {
	ask := assay.Ask
	return []Rule{
		{Slug: "temperature-unlikely", Severity: ask, Tolerances: []string{"temperature_min_c", "temperature_max_c"}, one: temperatureUnlikely},
		{Slug: "salinity-unlikely", Severity: ask, Tolerances: []string{"salinity_max"}, one: salinityUnlikely},
		{Slug: "depth-unlikely", Severity: ask, Tolerances: []string{"depth_max_m"}, one: depthUnlikely},
		{Slug: "measure-unlikely", Severity: ask, one: measureUnlikely},
		{Slug: "habitat-names-control", Severity: ask, one: habitatNamesControl},
	}
}

// sayRange asks about a value outside [lo, hi].
func (r *row) sayRange(field string, m assay.Maybe[float64], lo, hi float64) {
	x, ok := m.Get()
	if ok && (x < lo || x > hi) {
		unit := ""
		if c, _, found := sheet.Find(sheet.Wide, field); found && c.Unit != "" {
			unit = " " + c.Unit
		}
		r.say(hit{field: field, value: sheet.FormatNumber(x),
			with: map[string]any{"value": sheet.FormatNumber(x), "lo": sheet.FormatNumber(lo), "hi": sheet.FormatNumber(hi), "unit": unit}})
	}
}

func temperatureUnlikely(r *row) {
	r.sayRange("temperature_c", r.d.TemperatureC, r.p.TemperatureMinC, r.p.TemperatureMaxC)
}

func salinityUnlikely(r *row) { r.sayRange("salinity", r.d.Salinity, 0, r.p.SalinityMax) }

// depthUnlikely: a depth below 0 lies above the datum, or the water, it was
// taken from; the lower bound is the datasheet's.
func depthUnlikely(r *row) {
	r.sayRange("depth_min_m", r.d.DepthMinM, ranges["depth_min_m"].Min, r.p.DepthMaxM)
	r.sayRange("depth_max_m", r.d.DepthMaxM, ranges["depth_max_m"].Min, r.p.DepthMaxM)
}

// ranges are the believable ranges of the datasheet's columns.
var ranges = func() map[string]sheet.Column {
	all := map[string]sheet.Column{}
	for _, c := range sheet.Columns(sheet.Wide) {
		all[c.Name] = c
	}
	return all
}()

func measureUnlikely(r *row) {
	d := r.d
	say := func(field string, m assay.Maybe[float64]) { r.sayRange(field, m, ranges[field].Min, ranges[field].Max) }
	if d.Baits > 0 {
		say("baits_deployed", assay.Some(float64(d.Baits)))
	}
	say("bait_size_mm", d.BaitSizeMM)
	say("spacing_m", d.SpacingM)
	say("row_bearing_deg", d.RowBearingDeg)
	say("visibility_m", d.VisibilityM)
	say("coordinate_uncertainty_m", d.CoordinateUncertaintyM)
	say("last_latitude", d.LastLatitude)
	say("last_longitude", d.LastLongitude)
}

// controlWords are names under which a control row is found in the habitat
// column, in English and Spanish. Common practice, no source.
var controlWords = []string{"control", "controls", "caged", "cage", "shielded", "exclosure", "handling control",
	"jaula", "enjaulado", "controles", "exclusión", "exclusion"}

func habitatNamesControl(r *row) {
	if !r.d.IsControl() && slices.Contains(controlWords, plain(r.d.Habitat)) {
		r.say(hit{field: "habitat", value: r.d.Habitat, with: map[string]any{"habitat": r.d.Habitat},
			about: []any{r.d.Habitat, string(r.d.Control)}})
	}
}
