// Package assay holds the words of the trade as types: a deployment is one
// row of stakes with its baits, set out once and visited at its checks; a bait
// has a fate at each check; a protocol is what makes deployments comparable.
//
// It holds no rules of judgement (package quality), no spreadsheets (sheet,
// intake), no statistics (rates) and no sentences: what is to be told to a
// person leaves here as a slug with parameters.
//
// Units stand in the names: H is hours, M metres, MM millimetres, Deg degrees.
// Missing is never zero: see Maybe.
package assay

import (
	"sort"
	"time"
)

// A Moment is an instant as a person wrote it down.
type Moment struct {
	At time.Time // UTC; the zero time when nothing was written
	// Zone is the IANA zone by which a local time without an offset was read;
	// empty when the writing carried its own offset.
	Zone string
	// OffsetS is the offset from UTC of the clock it was written by, seconds.
	OffsetS int
}

// Known says whether there is an instant.
func (m Moment) Known() bool { return !m.At.IsZero() }

// Local is the instant on the clock it was written by.
func (m Moment) Local() time.Time { return m.At.In(time.FixedZone("", m.OffsetS)) }

// Fate is what a check found of one bait.
type Fate string

// The four fates. A lost bait was never found again; an unread one was not
// found or not read at this check and may be seen later.
const (
	Present  Fate = "present"
	Consumed Fate = "consumed"
	Unread   Fate = "unread"
	Lost     Fate = "lost"
)

// How says in what way a bait was found to be gone; the protocol says which
// of them count as consumed.
type How string

// The three ways.
const (
	BaitGone   How = "bait gone"
	TetherGone How = "tether gone"
	StakeGone  How = "stake gone"
)

// Control is the kind of a control row; None is an ordinary row.
type Control string

// The kinds of control rows.
const (
	NoControl      Control = "none"
	Shielded       Control = "shielded"
	PartlyShielded Control = "partly_shielded"
	Handling       Control = "handling"
)

// Check is one visit at which fates are read, or the planned visit that did
// not take place. Counts are cumulative from setting out.
type Check struct {
	Number   int // 1 is the first check
	At       Moment
	Until    Moment // when the last bait was read
	Consumed Maybe[int]
	Lost     Maybe[int]
	Unread   Maybe[int] // at this check only, read again later
	Reader   string
	WhyNot   string // why the check was not made: weather, access, tide, ill, equipment, forgot, other
	// PeopleOut went in at this check, PeopleBack were counted when they came out.
	PeopleOut, PeopleBack Maybe[int]
	// LostDerived marks a Lost that no one wrote: it was worked out from the
	// stakes retrieved (an upper bound), or taken as none.
	LostDerived bool
	// Derived are numbers worked out of this check's time and interval, as those of
	// a deployment.
	Derived map[string]float64
}

// Read says whether the check gave counts.
func (c Check) Read() bool { return c.Consumed.Known() }

// StakeFate is the fate of the bait on one stake at one check.
type StakeFate struct {
	Stake int // 1 is the first stake set
	Check int
	Fate  Fate
	How   How // empty when not said
}

// Sighting is an animal seen or filmed near a row.
type Sighting struct {
	From, To      Moment
	Method        string // video, snorkel count, trap, seen, other
	Effort        Maybe[float64]
	EffortUnit    string
	Taxon         string
	Count         Maybe[int]
	TookBait      Maybe[bool]
	AbsenceLooked Maybe[bool]
}

// Deployment is one row and its visits.
type Deployment struct {
	Key                           string // given once by a logbook; empty for a record read straight from a file
	ID                            string // deployment_id as written
	Programme, Season, Team       string
	Site, Habitat                 string
	Protocol                      string // name and version, as "standard 1"
	Observers                     string
	Latitude, Longitude           Maybe[float64] // degrees, WGS84, north and east positive
	CoordinateUncertaintyM        Maybe[float64]
	PositionDecimals              Maybe[int]     // fewest decimals written of the two coordinates
	LastLatitude, LastLongitude   Maybe[float64] // of the last stake
	LastDecimals                  Maybe[int]     // as PositionDecimals
	FirstStakeSide                string         // where stake 1 is, seen from the shore: left, right, near, far
	Landmarks                     string         // by which the row is found again
	SetOut, SetOutUntil           Moment
	Baits                         int
	Checks                        []Check // ordered by Number
	Stakes                        []StakeFate
	Sightings                     []Sighting
	AbandonedAt                   Moment
	StakesRetrieved               Maybe[int]
	StakesLeft                    string     // those still in the water: which, and where
	PeopleOut, PeopleBack         Maybe[int] // at setting out
	WatchReadAt                   Moment     // what the watch showed when it was checked
	WatchAgainst                  string     // against what, and what that showed
	RetrievedAt                   Moment
	DepthMinM, DepthMaxM          Maybe[float64]
	DepthAt                       string // a time, or the word datum
	BaitKind, BaitForm, BaitBatch string
	BaitSizeMM                    Maybe[float64]
	SpacingM, RowBearingDeg       Maybe[float64]
	Control                       Control
	Practice                      Maybe[bool]
	NearOtherHabitat              Maybe[bool]
	TemperatureC, Salinity        Maybe[float64]
	VisibilityM                   Maybe[float64]
	Notes                         string
	GlobalID, Licence             string            // of a record that was published elsewhere; kept as they came
	Covariates                    map[string]string // further columns, as written
	// Derived are numbers worked out from the site book, by the name under which a
	// result may use them: state of the tide, light, a logger's values over the soak.
	// They are no part of the record.
	Derived          map[string]float64
	Where            Place
	ColumnsAsWritten map[string]string // canonical column -> heading in the file; shared between records
}

// IsControl says whether the row measures bait loss from handling and waves.
func (d *Deployment) IsControl() bool { return d.Control != "" && d.Control != NoControl }

// IsPractice says whether the row was set out to learn.
func (d *Deployment) IsPractice() bool { return d.Practice.Or(false) }

// SoakH is the time from setting out to check c, in hours: between the
// midpoints of setting and of reading where both ends of both are given (a row
// is set and read in the same order, so this is each bait's own mean time),
// else between the single times. It is false when either time is missing.
func (d *Deployment) SoakH(c Check) (float64, bool) {
	if !d.SetOut.Known() || !c.At.Known() {
		return 0, false
	}
	from, to := d.SetOut.At, c.At.At
	if d.SetOutUntil.Known() && c.Until.Known() {
		from = midpoint(from, d.SetOutUntil.At)
		to = midpoint(to, c.Until.At)
	}
	return to.Sub(from).Hours(), true
}

func midpoint(a, b time.Time) time.Time { return a.Add(b.Sub(a) / 2) }

// LastRead is the last check that gave counts.
func (d *Deployment) LastRead() (Check, bool) {
	for i := len(d.Checks) - 1; i >= 0; i-- {
		if d.Checks[i].Read() {
			return d.Checks[i], true
		}
	}
	return Check{}, false
}

// CovariateNames lists the further columns in byte order.
func (d *Deployment) CovariateNames() []string {
	names := make([]string, 0, len(d.Covariates))
	for n := range d.Covariates {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// Protocol is what makes deployments comparable; tolerances are part of it.
// The values of the default protocol stand in its data file with their source.
type Protocol struct {
	Name                string     `toml:"name"`
	Version             int        `toml:"version"`
	Title               string     `toml:"title"`
	Baits               int        `toml:"baits"`
	SpacingM            float64    `toml:"spacing_m"`
	SpacingToleranceM   float64    `toml:"spacing_tolerance_m"`
	BaitForm            string     `toml:"bait_form"`
	BaitSizeMM          float64    `toml:"bait_size_mm"`
	OtherForms          []BaitForm `toml:"other_form"`
	BaitSizeToleranceMM float64    `toml:"bait_size_tolerance_mm"`
	ConsumedFraction    float64    `toml:"consumed_fraction"`
	CountsAsConsumed    []How      `toml:"counts_as_consumed"`
	Checks              []Nominal  `toml:"check"`
	DepthChangeMaxM     float64    `toml:"depth_change_max_m"`
	// SettingMaxH is the longest believable time to set or read one row, hours.
	SettingMaxH float64 `toml:"setting_max_h"`
	// PositionDecimalsMin is the fewest decimals of degrees that still place a row.
	PositionDecimalsMin int `toml:"position_decimals_min"`
	// SiteRadiusKm is how far the rows of one site may lie from their middle.
	SiteRadiusKm float64 `toml:"site_radius_km"`
	// OnLandKm is how far inland of the coarse shoreline a position may seem.
	OnLandKm float64 `toml:"on_land_km"`
	// NearM and NearH: two rows closer than both are asked about as copies.
	NearM float64 `toml:"near_m"`
	NearH float64 `toml:"near_h"`
	// LostShareMax is the share of baits lost above which a row is asked about.
	LostShareMax float64 `toml:"lost_share_max"`
	// TemperatureMinC.. are the limits of what a sea can be.
	TemperatureMinC float64 `toml:"temperature_min_c"`
	TemperatureMaxC float64 `toml:"temperature_max_c"`
	SalinityMax     float64 `toml:"salinity_max"`
	DepthMaxM       float64 `toml:"depth_max_m"`
	// Ways are the ways of working at a row, each with the depths it suits.
	Ways []Way `toml:"way"`
}

// Way is a way of working at a row: on foot, at the surface, under water, from a
// boat; and the depths of water that suit it.
type Way struct {
	Name      string  `toml:"name"`
	DepthMinM float64 `toml:"depth_min_m"`
	DepthMaxM float64 `toml:"depth_max_m"`
}

// Way finds a way of working by its name.
func (p *Protocol) Way(name string) (Way, bool) {
	for _, w := range p.Ways {
		if w.Name == name {
			return w, true
		}
	}
	return Way{}, false
}

// BaitForm is another form and size that the protocol allows, recorded as such.
type BaitForm struct {
	Form   string  `toml:"form"`
	SizeMM float64 `toml:"size_mm"`
}

// Nominal is one check of the schedule: its soak and how far off it may be.
type Nominal struct {
	SoakH      float64 `toml:"soak_h"`
	ToleranceH float64 `toml:"tolerance_h"`
}

// TideState is whether the water rose or fell when the row was set out, from the
// hours to the nearest high water that the site's tide gives; empty where no tide is
// known.
func (d *Deployment) TideState() string {
	h, ok := d.Derived["tide_from_high_h"]
	switch {
	case !ok:
		return ""
	case h < 0:
		return TideRising
	}
	return TideFalling
}

// The states of TideState.
const (
	TideRising  = "rising"
	TideFalling = "falling"
)
