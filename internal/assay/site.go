package assay

import "time"

// Site is one named place of the site book: where it is, how deep, how one gets
// there and back, where its tide is from, and what to mind. Everything but the
// name may be missing.
type Site struct {
	Key                 string
	Name                string
	Synonyms            []string
	Zone                string // IANA name; empty when not settled
	Latitude, Longitude Maybe[float64]

	// Beds of the shallow and the deep end of its rows, metres above Datum, below it
	// negative.
	ShallowBedM, DeepBedM Maybe[float64]
	Datum                 string // what beds and AccessM are above
	WayIn                 string // how one gets there, in words
	// AccessM is the highest water at which the way can be crossed, metres above
	// Datum: the lowest point of its bed plus the depth that can be crossed.
	AccessM   Maybe[float64]
	WalkMin   Maybe[float64] // from the row to beyond the way, minutes
	Tide      Tide
	Loggers   []Logger
	Hazards   string
	Shelter   string // the nearest
	Emergency string // whom to call, and from where
	Permits   []Permit
	Sensitive Maybe[bool] // whether its place is to be kept from the public
}

// WaterKind is the kind of file that a site's tide is from.
type WaterKind string

// The three kinds.
const (
	Constituents WaterKind = "constituents"
	Waters       WaterKind = "table"
	Series       WaterKind = "series"
)

// Tide says where the water level of a site is from: a file that the logbook
// keeps, and how it is to be read.
type Tide struct {
	Kind     WaterKind // empty for none
	Source   string    // of the kept file: its SHA-256
	File     string    // its name
	LagClock string    // of phase lags: UTC where it is empty
	Clock    string    // of times without an offset in a table or series
	// Air says, for a series of pressure, where that of the air is from: a number of
	// hPa, the word gauge for a logger that has taken it off, or the name of the kept
	// file AirSource; empty for a column beside the other.
	Air         string
	AirSource   string  // SHA-256 of the file of the air's pressure; empty for none
	DensityKgM3 float64 // of the water over a sensor of pressure; 0 for the usual
	Nodal       string  // schureman or satellites; empty for what the file says
	Differences TideDifferences
}

// TideDifferences bring a table of a reference port to a secondary place: minutes
// later, metres to add and a factor of the height, before them, each for high and
// for low water. Zeros change nothing.
type TideDifferences struct {
	HighLaterMin, LowLaterMin float64
	HighAddM, LowAddM         float64
	HighTimes, LowTimes       float64 // 0 stands for 1
}

// Logger is a logger's series of a site that the logbook keeps: levels,
// temperature, salinity, whatever its columns hold.
type Logger struct {
	Source, File string
	Clock        string
	// ZeroM is the height of the zero of its levels above the site's datum; none
	// where it lay beside the row with its levels counted from the bed.
	ZeroM Maybe[float64]
}

// Permit is leave to work at a site.
type Permit struct {
	Number string
	Until  string // the last day on which it holds, as 2026-09-30; empty when not said
}

// ExpiredOn says whether a permit no longer holds on a day.
func (p Permit) ExpiredOn(day time.Time) bool {
	return p.Until != "" && day.Format(time.DateOnly) > p.Until
}

// Placed says whether a site has a position, and gives it.
func (s *Site) Placed() (latDeg, lonDeg float64, ok bool) {
	lat, okLat := s.Latitude.Get()
	lon, okLon := s.Longitude.Get()
	return lat, lon, okLat && okLon
}

// AddSynonym adds another spelling of the site's name, once.
func (s *Site) AddSynonym(name string) {
	if name == "" || name == s.Name {
		return
	}
	for _, n := range s.Synonyms {
		if n == name {
			return
		}
	}
	s.Synonyms = append(s.Synonyms, name)
}

// SetPermit adds a permit, or changes the one with its number.
func (s *Site) SetPermit(p Permit) {
	for i := range s.Permits {
		if s.Permits[i].Number == p.Number {
			s.Permits[i] = p
			return
		}
	}
	s.Permits = append(s.Permits, p)
}
