package place

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// Question is a doubt about a reading, or the reason of a refusal: a slug of
// the catalogue of words and its parameters.
type Question struct {
	Slug string
	With map[string]any
}

// Candidate is one of several positions that a text may mean.
type Candidate struct {
	LatDeg, LonDeg float64
	Why            Question // what would have to be so
}

// Notation is how a position was written.
type Notation string

// The notations that are read.
const (
	DecimalDegrees Notation = "decimal degrees"
	DegreesMinutes Notation = "degrees and minutes"
	DegMinSec      Notation = "degrees, minutes and seconds"
	MixedNotation  Notation = "mixed"
	GridUTM        Notation = "UTM"
	GridMGRS       Notation = "military grid"
)

// Reading is what a text says of a position.
type Reading struct {
	// Latitude and longitude, degrees; both NaN where no reading may be preferred.
	LatDeg, LonDeg float64
	Notation       Notation
	// ResolutionM is the ground size of the last digit given, the larger of
	// the two axes, metres. Coarseness alone is no question.
	ResolutionM float64
	// Questions is empty when the text was read without doubt.
	Questions []Question
	// Candidates are the other positions it may mean, or all of them where
	// none may be preferred.
	Candidates []Candidate
}

// Known reports whether a reading could be preferred.
func (r Reading) Known() bool { return !math.IsNaN(r.LatDeg) && !math.IsNaN(r.LonDeg) }

// Clear reports a reading without doubt.
func (r Reading) Clear() bool { return r.Known() && len(r.Questions) == 0 }

// Options say where a position should be. With them a doubt is settled when
// exactly one reading fits, and raised when another fits better than the text.
type Options struct {
	Near     *Point  // a known position, as the site's
	WithinKm float64 // how far from Near is still expected; 0 means 100
	Region   *Box    // a box it should lie in
}

func (o Options) withinKm() float64 {
	if o.WithinKm > 0 {
		return o.WithinKm
	}
	return 100
}

// asked reports whether there is anything to judge by.
func (o Options) asked() bool { return o.Near != nil || o.Region != nil }

// fits reports whether a position is where it should be.
func (o Options) fits(latDeg, lonDeg float64) bool {
	if o.Region != nil && !o.Region.Contains(latDeg, lonDeg) {
		return false
	}
	return o.Near == nil || o.farKm(latDeg, lonDeg) <= o.withinKm()
}

func (o Options) farKm(latDeg, lonDeg float64) float64 {
	m, _, _ := Between(o.Near.LatDeg, o.Near.LonDeg, latDeg, lonDeg)
	return m / 1000
}

// Refusal is the reason why a text cannot be read as a position.
type Refusal struct {
	Slug string
	With map[string]any
}

// Error gives slug and parameters; the sentence for people is in the catalogue.
func (r *Refusal) Error() string {
	keys := make([]string, 0, len(r.With))
	for k := range r.With {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	var b strings.Builder
	b.WriteString(r.Slug)
	for _, k := range keys {
		fmt.Fprintf(&b, " %s=%v", k, r.With[k])
	}
	return b.String()
}

func refuse(slug string, pairs ...any) *Refusal {
	return &Refusal{Slug: "place." + slug, With: params(pairs)}
}

func ask(slug string, pairs ...any) Question {
	return Question{Slug: "place." + slug, With: params(pairs)}
}

func params(pairs []any) map[string]any {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return with
}

// resolution returns the ground size in metres of steps of latitude and
// longitude, degrees, at a latitude: radii of curvature of the ellipsoid.
func resolution(latDeg, stepLat, stepLon float64) float64 {
	if !(math.Abs(latDeg) <= 90) {
		latDeg = 0
	}
	p := arcDeg(latDeg)
	w := math.Sqrt(1 - eSq*p.s*p.s)
	meridian := equatorialM * (1 - eSq) / (w * w * w)
	parallel := equatorialM / w * p.c
	return math.Max(stepLat*degree*meridian, stepLon*degree*parallel)
}
