// Package sheet defines the datasheet once, as data: every column with its
// kind, unit, words, range and when it is required. Intake reads it, forms and
// paper print it, the documentation lists it. It turns the canonical texts of
// one line into an assay.Deployment and back.
//
// It reads canonical texts only (ISO 8601 times with offset, decimal points,
// English words); a foreign datasheet becomes canonical in package intake. It
// does not judge: a count above the number of baits reads well here and is
// stopped by package quality.
package sheet

import (
	"strconv"
	"strings"
)

// Kind is what a cell of a column holds.
type Kind string

// The kinds.
const (
	Text    Kind = "text"
	Count   Kind = "count"   // a whole number
	Number  Kind = "number"  // with a decimal point
	Degrees Kind = "degrees" // of latitude or longitude, decimal, WGS84
	Instant Kind = "instant" // ISO 8601 with offset; RFC 9557 zone allowed
	Word    Kind = "word"    // one of Column.Words
	Flag    Kind = "flag"    // yes or no
	Depth   Kind = "depth-at"
	Fates   Kind = "fates"     // stake-level fates of one check, kept in a logbook
	Seen    Kind = "sightings" // sightings of one deployment, kept in a logbook
)

// Table names one of the tables a datasheet may consist of.
type Table string

// The tables: wide has one line per deployment, checks one per check, stakes
// one per stake and check, sightings one per sighting.
const (
	Wide      Table = "deployments"
	Checks    Table = "checks"
	Stakes    Table = "stakes"
	Sightings Table = "sightings"
)

// Column is one column of the datasheet. In Name, {K} stands for the number of
// a check. Its meaning for people is the catalogue's sentence "column." + the
// name without {K}.
type Column struct {
	Name     string
	Table    Table
	Kind     Kind
	Unit     string   // as written in documents; empty for none
	Words    []string // of a Word
	Min, Max float64  // believable range of a Number or Count when Max > Min; told in forms, judged in quality
	Required bool     // a record without it cannot be used
	// Asked columns are wanted of every record but do not stop one.
	Asked bool
	// Kept columns live in a logbook's records and are not a column of the datasheet.
	Kept bool
	// Terms are names of open standards that mean this column, compared without case.
	Terms []string
}

// PerCheck says whether there is one such column for each check.
func (c Column) PerCheck() bool { return strings.Contains(c.Name, "{K}") }

// For is the column's name for check k, or its name when it is not per check.
func (c Column) For(k int) string {
	return strings.Replace(c.Name, "{K}", strconv.Itoa(k), 1)
}

// Slug is the column's sentence in the catalogue.
func (c Column) Slug() string { return "column." + strings.Replace(c.Name, "{K}", "", 1) }

var whyNot = []string{"weather", "access", "tide", "ill", "equipment", "forgot", "other"}

// columns is the datasheet. Order is the order of forms and exports. The Darwin
// Core names are terms of the TDWG standard (rs.tdwg.org/dwc/terms).
var columns = []Column{
	{Name: "deployment_id", Table: Wide, Kind: Text, Required: true, Terms: []string{"eventID"}},
	{Name: "site", Table: Wide, Kind: Text, Required: true, Terms: []string{"locality"}},
	{Name: "habitat", Table: Wide, Kind: Text, Required: true, Terms: []string{"habitat"}},
	{Name: "latitude", Table: Wide, Kind: Degrees, Unit: "°", Min: -90, Max: 90, Asked: true, Terms: []string{"decimalLatitude"}},
	{Name: "longitude", Table: Wide, Kind: Degrees, Unit: "°", Min: -180, Max: 180, Asked: true, Terms: []string{"decimalLongitude"}},
	{Name: "deployed_at", Table: Wide, Kind: Instant, Required: true, Terms: []string{"eventDate"}},
	{Name: "baits_deployed", Table: Wide, Kind: Count, Min: 1, Max: 1000, Required: true},
	{Name: "check{K}_at", Table: Wide, Kind: Instant},
	{Name: "consumed_by_check{K}", Table: Wide, Kind: Count, Min: 0, Max: 1000},
	{Name: "lost_by_check{K}", Table: Wide, Kind: Count, Min: 0, Max: 1000},

	{Name: "programme", Table: Wide, Kind: Text},
	{Name: "season", Table: Wide, Kind: Text},
	{Name: "team", Table: Wide, Kind: Text},
	{Name: "protocol", Table: Wide, Kind: Text, Terms: []string{"samplingProtocol"}},
	{Name: "observers", Table: Wide, Kind: Text, Asked: true, Terms: []string{"recordedBy"}},
	{Name: "deployed_until", Table: Wide, Kind: Instant},
	{Name: "check{K}_until", Table: Wide, Kind: Instant},
	{Name: "unread_at_check{K}", Table: Wide, Kind: Count, Min: 0, Max: 1000},
	{Name: "reader_of_check{K}", Table: Wide, Kind: Text},
	{Name: "why_no_check{K}", Table: Wide, Kind: Word, Words: whyNot},
	{Name: "people_out_at_check{K}", Table: Wide, Kind: Count, Min: 0, Max: 100},
	{Name: "people_back_at_check{K}", Table: Wide, Kind: Count, Min: 0, Max: 100},
	{Name: "abandoned_at", Table: Wide, Kind: Instant},
	{Name: "stakes_retrieved", Table: Wide, Kind: Count, Min: 0, Max: 1000},
	{Name: "retrieved_at", Table: Wide, Kind: Instant},
	{Name: "depth_min_m", Table: Wide, Kind: Number, Unit: "m", Min: -20, Max: 200, Terms: []string{"minimumDepthInMeters"}},
	{Name: "depth_max_m", Table: Wide, Kind: Number, Unit: "m", Min: -20, Max: 200, Terms: []string{"maximumDepthInMeters"}},
	{Name: "depth_at", Table: Wide, Kind: Depth},
	{Name: "bait_kind", Table: Wide, Kind: Text},
	{Name: "bait_form", Table: Wide, Kind: Word, Words: []string{"disc", "square"}},
	{Name: "bait_size_mm", Table: Wide, Kind: Number, Unit: "mm", Min: 1, Max: 200},
	{Name: "bait_batch", Table: Wide, Kind: Text, Asked: true},
	{Name: "spacing_m", Table: Wide, Kind: Number, Unit: "m", Min: 0.1, Max: 100},
	{Name: "row_bearing_deg", Table: Wide, Kind: Number, Unit: "°", Min: 0, Max: 360},
	{Name: "control", Table: Wide, Kind: Word, Words: []string{"none", "shielded", "partly_shielded", "handling"}},
	{Name: "practice", Table: Wide, Kind: Flag},
	{Name: "near_other_habitat", Table: Wide, Kind: Flag},
	{Name: "temperature_c", Table: Wide, Kind: Number, Unit: "°C", Min: -3, Max: 45},
	{Name: "salinity", Table: Wide, Kind: Number, Min: 0, Max: 50},
	{Name: "visibility_m", Table: Wide, Kind: Number, Unit: "m", Min: 0, Max: 100},
	{Name: "coordinate_uncertainty_m", Table: Wide, Kind: Number, Unit: "m", Min: 0, Max: 100000, Terms: []string{"coordinateUncertaintyInMeters"}},
	{Name: "people_out", Table: Wide, Kind: Count, Min: 0, Max: 100},
	{Name: "people_back", Table: Wide, Kind: Count, Min: 0, Max: 100},
	{Name: "watch_read_at", Table: Wide, Kind: Instant},
	{Name: "watch_against", Table: Wide, Kind: Text},
	{Name: "last_latitude", Table: Wide, Kind: Degrees, Unit: "°", Min: -90, Max: 90},
	{Name: "last_longitude", Table: Wide, Kind: Degrees, Unit: "°", Min: -180, Max: 180},
	{Name: "first_stake_side", Table: Wide, Kind: Word, Words: []string{"left", "right", "near", "far"}},
	{Name: "landmarks", Table: Wide, Kind: Text},
	{Name: "stakes_left", Table: Wide, Kind: Text},
	{Name: "notes", Table: Wide, Kind: Text, Terms: []string{"eventRemarks", "fieldNotes"}},
	{Name: "fates_at_check{K}", Table: Wide, Kind: Fates, Kept: true},
	{Name: "sightings", Table: Wide, Kind: Seen, Kept: true},
	{Name: "global_id", Table: Wide, Kind: Text, Kept: true}, // given elsewhere, kept in every publication
	{Name: "licence", Table: Wide, Kind: Text, Kept: true},   // under which it came from elsewhere

	{Name: "deployment_id", Table: Checks, Kind: Text, Required: true},
	{Name: "check", Table: Checks, Kind: Count, Min: 1, Max: 99, Required: true},
	{Name: "checked_at", Table: Checks, Kind: Instant},
	{Name: "consumed", Table: Checks, Kind: Count, Min: 0, Max: 1000},
	{Name: "lost", Table: Checks, Kind: Count, Min: 0, Max: 1000},
	{Name: "unread", Table: Checks, Kind: Count, Min: 0, Max: 1000},

	{Name: "deployment_id", Table: Stakes, Kind: Text, Required: true},
	{Name: "stake", Table: Stakes, Kind: Count, Min: 1, Max: 1000, Required: true},
	{Name: "check", Table: Stakes, Kind: Count, Min: 1, Max: 99, Required: true},
	{Name: "fate", Table: Stakes, Kind: Word, Words: []string{"present", "consumed", "unread", "lost"}, Required: true},
	{Name: "how", Table: Stakes, Kind: Word, Words: []string{"bait gone", "tether gone", "stake gone"}},

	{Name: "deployment_id", Table: Sightings, Kind: Text, Required: true},
	{Name: "from", Table: Sightings, Kind: Instant},
	{Name: "to", Table: Sightings, Kind: Instant},
	{Name: "method", Table: Sightings, Kind: Word, Words: []string{"video", "snorkel count", "trap", "seen", "other"}},
	{Name: "effort", Table: Sightings, Kind: Number, Min: 0, Max: 1e6, Terms: []string{"sampleSizeValue"}},
	{Name: "effort_unit", Table: Sightings, Kind: Text, Terms: []string{"sampleSizeUnit"}},
	{Name: "taxon", Table: Sightings, Kind: Text, Required: true, Terms: []string{"scientificName"}},
	{Name: "count", Table: Sightings, Kind: Count, Min: 0, Max: 1e6, Terms: []string{"individualCount"}},
	{Name: "took_bait", Table: Sightings, Kind: Flag},
	{Name: "absence_looked_for", Table: Sightings, Kind: Flag},
}

// Columns lists the columns of a table in order, those kept only in a logbook left out.
func Columns(t Table) []Column {
	var out []Column
	for _, c := range columns {
		if c.Table == t && !c.Kept {
			out = append(out, c)
		}
	}
	return out
}

// index finds a column by table and name, the number of a check written {K}.
var index = func() map[Table]map[string]Column {
	all := map[Table]map[string]Column{}
	for _, c := range columns {
		if all[c.Table] == nil {
			all[c.Table] = map[string]Column{}
		}
		all[c.Table][c.Name] = c
	}
	return all
}()

// Find is the column of table t that name means exactly, and for a column per
// check the number of that check.
func Find(t Table, name string) (c Column, check int, ok bool) {
	if c, ok := index[t][name]; ok {
		return c, 0, !c.PerCheck()
	}
	from := strings.IndexAny(name, "123456789")
	if from < 0 {
		return Column{}, 0, false
	}
	to := from + 1
	for to < len(name) && name[to] >= '0' && name[to] <= '9' {
		to++
	}
	k, err := strconv.Atoi(name[from:to])
	if err != nil || k > MaxChecks {
		return Column{}, 0, false
	}
	if c, ok = index[t][name[:from]+"{K}"+name[to:]]; !ok {
		return Column{}, 0, false
	}
	return c, k, true
}

// MaxChecks bounds the number of checks of one deployment.
const MaxChecks = 99
