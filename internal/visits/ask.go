package visits

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"time"

	"soakline/internal/sun"
)

// Ask is what is asked of a start. The zero value of a field asks nothing, but
// where said.
type Ask struct {
	LatDeg, LonDeg float64
	From, To       time.Time // range of starts

	// Beds of the shallow and the deep end of the row, metres above the datum: the
	// ends of one row, or how well one bed is known.
	ShallowBedM, DeepBedM float64
	CoverM                float64 // least depth over the row through the soak
	WorkMinM, WorkMaxM    float64 // depths people can work in
	MarginM               float64 // how far weather may move the water
	// AccessM is the level of the water, above the datum, up to which the way can be
	// crossed: the lowest point of its bed plus the depth that can be crossed. NaN
	// where there is no such way. WayIn asks that the way be open on the way in too.
	AccessM float64
	WayIn   bool
	// MaxRateMPerH is the fastest rise or fall at a visit; 0 asks nothing.
	MaxRateMPerH float64

	Soak                                  time.Duration
	Checks                                []time.Duration // after the start, ascending
	Setting, Reading, Retrieving, Walking time.Duration   // Retrieving follows the last reading

	Light sun.Kind // "" is None
	Zone  *time.Location
	// Visits fall on these days of the week (none: all), and outside the quiet hours
	// of the day, minutes from midnight; equal ones are none.
	Weekdays           []time.Weekday
	QuietFrom, QuietTo int
}

// Refusal is the reason why a question cannot be answered: a slug of the catalogue
// and its parameters.
type Refusal struct {
	Slug string
	With map[string]any
}

// Error gives slug and parameters; the sentence for people is in the catalogue.
func (r *Refusal) Error() string {
	var parts []string
	for k, v := range r.With {
		parts = append(parts, fmt.Sprintf("%s=%v", k, v))
	}
	sort.Strings(parts)
	return strings.Join(append([]string{r.Slug}, parts...), " ")
}

func with(pairs ...any) map[string]any {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		m[pairs[i].(string)] = pairs[i+1]
	}
	return m
}

func refuse(slug string, pairs ...any) *Refusal { return &Refusal{slug, with(pairs...)} }

// The bounds of what is asked at once.
const (
	maxRange = 3 * 366 * 24 * time.Hour
	maxSoak  = 60 * 24 * time.Hour
)

// check refuses what cannot be meant.
func (a *Ask) check() error {
	if a.Zone == nil {
		a.Zone = time.UTC
	}
	if a.Light == "" {
		a.Light = sun.None
	}
	a.From, a.To = a.From.UTC(), a.To.UTC()
	switch {
	case !a.To.After(a.From):
		return refuse("windows.range")
	case a.To.Sub(a.From) > maxRange:
		return refuse("windows.range-long", "years", 3)
	}
	for _, m := range []float64{a.ShallowBedM, a.DeepBedM, a.CoverM, a.WorkMinM, a.WorkMaxM, a.MarginM, a.MaxRateMPerH} {
		if !(math.Abs(m) <= 1000) {
			return refuse("windows.metres", "given", m)
		}
	}
	switch {
	case math.IsInf(a.AccessM, 0) || math.Abs(a.AccessM) > 1000:
		return refuse("windows.metres", "given", a.AccessM)
	case a.DeepBedM > a.ShallowBedM:
		return refuse("windows.ends", "shallow", a.ShallowBedM, "deep", a.DeepBedM)
	case a.CoverM < 0 || a.MarginM < 0 || a.MaxRateMPerH < 0:
		return refuse("windows.below-zero")
	case a.WorkMinM > a.WorkMaxM:
		return refuse("windows.work", "min", a.WorkMinM, "max", a.WorkMaxM)
	}
	return a.checkTimes()
}

func (a *Ask) checkTimes() error {
	last := time.Duration(0)
	for _, c := range a.Checks {
		if c <= last {
			return refuse("windows.checks")
		}
		last = c
	}
	for _, d := range []time.Duration{a.Soak, last, a.Setting, a.Reading, a.Retrieving, a.Walking} {
		if d < 0 || d > maxSoak {
			return refuse("windows.duration", "days", int(maxSoak/(24*time.Hour)))
		}
	}
	for _, m := range []int{a.QuietFrom, a.QuietTo} {
		if m < 0 || m > 24*60 {
			return refuse("windows.quiet-hours")
		}
	}
	return nil
}

// visit is one stay at the row, in seconds after the start.
type visit struct {
	after, long float64
}

// visits are the setting and each check with the time that the work takes.
func (a *Ask) visits() []visit {
	list := []visit{{0, a.Setting.Seconds()}}
	for i, c := range a.Checks {
		long := a.Reading
		if i == len(a.Checks)-1 {
			long += a.Retrieving
		}
		list = append(list, visit{c.Seconds(), long.Seconds()})
	}
	return list
}

// ahead is how long after a start anything is asked, in seconds.
func (a *Ask) ahead() float64 {
	most := a.Soak.Seconds()
	for _, v := range a.visits() {
		most = math.Max(most, v.after+v.long+a.Walking.Seconds())
	}
	return most
}
