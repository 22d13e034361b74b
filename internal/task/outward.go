package task

import (
	"slices"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/publish"
	"soakline/internal/words"
)

// Outward is the season as whatever leaves the desk may tell it: where the
// logbook keeps sensitive places, their rows are told roughly, by the rule that
// the archives follow. A season without any is itself.
func (s *Season) Outward() *Season {
	rough := publish.Roughly(s.Deployments, s.Publication.Sensitive)
	if rough == nil {
		return s
	}
	s.DeriveLight() // by the places as they are
	out := *s
	out.Deployments, out.hidden = rough.Deployments, rough.Hidden
	names := map[string]string{}
	hidden := map[string]bool{}
	for i := range rough.Deployments {
		if rough.Hidden[i] {
			key := s.Deployments[i].Key
			names[key], hidden[key] = rough.Deployments[i].ID, true
		}
	}
	out.Findings = slices.Clone(s.Findings)
	for i := range out.Findings {
		if f := &out.Findings[i]; hidden[f.Key] {
			f.DeploymentID, f.Site, f.At = names[f.Key], "", assay.Place{}
		}
	}
	out.tells = func(f *assay.Finding) bool {
		return hidden[f.Key] && (slices.Contains(placeFields, f.Field) || slices.Contains(skyRules, f.Slug)) || rough.Tells(words.English.Say("finding."+f.Slug, f.With)) || rough.Tells(f.Answer)
	}
	out.telling = rough.Tells
	withheld := words.English.Say("task.withheld", nil)
	out.Sources = slices.Clone(s.Sources)
	for i := range out.Sources {
		if rough.Tells(out.Sources[i]) {
			out.Sources[i] = withheld
		}
	}
	out.Taken = slices.DeleteFunc(slices.Clone(s.Taken), func(m words.Message) bool { return rough.Tells(m.In(words.English)) })
	if rough.Tells(out.Settings.Title) {
		out.Settings.Title = ""
	}
	out.Sites = nil
	return &out
}

// Unnamed is the season with the names of those who have not agreed to be named
// replaced by codes, by the rule that the archives follow: what leaves the desk and
// tells results by person shows those.
func (s *Season) Unnamed() *Season {
	coded := publish.Coded(s.Deployments, s.Publication.People)
	if coded == nil {
		return s
	}
	out := *s
	out.Deployments = coded
	return &out
}

// ToldFor is the season as a file with these results may tell it: Outward, and
// Unnamed where the results tell one person from another.
func (s *Season) ToldFor(o compare.Options) *Season {
	out := s.Outward()
	named := slices.Concat([]string{o.By}, o.Random, o.Covariates, o.Together)
	if slices.ContainsFunc(named, func(n string) bool { return strings.Contains(n, "observers") }) {
		out = out.Unnamed()
	}
	return out
}

// placeFields are the columns a finding about which tells where a row is.
var placeFields = []string{"site", "latitude", "longitude", "coordinate_uncertainty_m", "row_bearing_deg", "notes", "last_latitude", "last_longitude", "landmarks", "stakes_left"}

// skyRules are the rules whose sentences hold hours and heights of the tide, or how
// far the sun stood below the horizon at an instant: they draw a line on the map
// through the row.
var skyRules = []string{"predicted-dry", "logger-dry", "visit-in-dark", "logger-gap"}

// tellable are the findings as they may be told.
func (s *Season) tellable() []assay.Finding {
	if s.tells == nil {
		return s.Findings
	}
	out := slices.Clone(s.Findings)
	for i := range out {
		if f := &out[i]; s.tells(f) {
			f.Slug, f.With, f.Value, f.About, f.Answer = "place-withheld", nil, "", "", words.English.Say("task.withheld", nil)
		}
	}
	return out
}
