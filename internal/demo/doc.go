// Package demo makes an invented programme whose truth is known: four teams,
// twelve sites, three habitats, two seasons, and one messy datasheet per team
// with the team's own habits and mistakes. It answers the question a newcomer
// has before trusting a tool: does it find what was put there?
//
// Method: the counts are drawn from the model that package mixed fits (grouped
// times, complementary log-log link): a bait of a row is consumed at rate
//
//	habitat's rate · exp(site + site-habitat + deployment + β (temperature − 20 °C))
//
// in the first hour and at a fixed share of it after; losses come before
// consumption in each interval. Mistakes are planted after that and listed, with
// the right value, and Answers holds what a person would answer and mend, in order.
//
// Rates are per hour, soaks hours, positions degrees WGS84. Everything comes
// from the seed: one seed, the same bytes.
//
// Nothing here is real: the programme, places and people are made up and every
// file says so. Positions lie in the sea 1.5 km off a real coast only so that
// light, land and map have something to work on. It leaves out tides, weather
// and any ecology beyond the model.
package demo

import (
	"slices"

	"soakline/internal/assay"
)

// DefaultSeed gives the season of the tutorial: with it sand differs clearly
// from the other two habitats, and seagrass and reef, whose true rates differ
// by an eighth, cannot honestly be told apart.
const DefaultSeed = 2026

// Season is one invented programme with its two seasons.
type Season struct {
	Seed    uint64
	Truth   Truth
	teams   []*crew
	rows    []*row // ordered by team, then as they stand in the team's file
	files   []File
	edited  map[string][]byte // messy files after the steps Edit
	planted []Planted
	answers []Answer
}

// row is a deployment with what only the generator knows of it.
type row struct {
	assay.Deployment
	crew       *crew
	site       *site
	visit      int     // 0 and 1 in the first season, 2 in the second
	ratePerH   float64 // of the first hour
	later      float64 // rate after the first hour, relative to the first
	lossShare  [2]float64
	effect     float64 // the deployment's own intercept
	lateByPlan bool    // the 24-h check is made late
	marked     bool    // a mistake was planted in it
}

// Make draws the season of a seed.
func Make(seed uint64) *Season {
	s := &Season{Seed: seed, teams: crews()}
	s.draw()
	s.sheets()
	return s
}

// Clean returns the true records: what each team's sheet says once its habits
// are understood and its mistakes mended, by team and in the order of the file.
// Columns a team does not keep are missing.
func (s *Season) Clean() []assay.Deployment {
	out := make([]assay.Deployment, len(s.rows))
	for i, r := range s.rows {
		out[i] = r.Deployment
		out[i].Checks = slices.Clone(r.Checks)
		out[i].Stakes = slices.Clone(r.Stakes)
		out[i].Sightings = slices.Clone(r.Sightings)
	}
	return out
}

// Planted lists what was put into the messy files, in the order of the files:
// mistakes with their right value, habits, and things that look wrong and are true.
func (s *Season) Planted() []Planted { return slices.Clone(s.planted) }

// Answers lists what a person answers and mends so that the records of the
// messy files become those of Clean, in order.
func (s *Season) Answers() []Answer { return slices.Clone(s.answers) }

// Files returns every file of the season, by name: the messy sheets first.
func (s *Season) Files() []File { return slices.Clone(s.files) }
