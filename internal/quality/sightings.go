package quality

import "soakline/internal/assay"

func sightingRules() []Rule {
	ask := assay.Ask
	return []Rule{
		{Slug: "absence-without-effort", Severity: ask, one: absenceWithoutEffort},
		{Slug: "zero-without-absence", Severity: ask, one: zeroWithoutAbsence},
		{Slug: "seen-and-absent", Severity: ask, one: seenAndAbsent},
		{Slug: "took-bait-unseen", Severity: ask, one: tookBaitUnseen},
		{Slug: "sighting-negative", Severity: ask, one: sightingNegative},
		{Slug: "sighting-ends-early", Severity: ask, one: sightingEndsEarly},
		{Slug: "taxon-missing", Severity: ask, one: taxonMissing},
		{Slug: "effort-without-unit", Severity: assay.Note, one: effortWithoutUnit},
	}
}

// saySightings adds one finding for the sightings of a row that bad picks.
func (r *row) saySightings(field string, bad func(assay.Sighting) bool) {
	var taxa []string
	var about []any
	for i, s := range r.d.Sightings {
		if !bad(s) {
			continue
		}
		name := s.Taxon
		if blank(name) {
			name = "?"
		}
		taxa = append(taxa, name)
		about = append(about, i+1, s.Taxon, s.From, s.To, s.Count.Or(-1), s.Effort.Or(-1), s.EffortUnit, s.TookBait, s.AbsenceLooked)
	}
	if taxa != nil {
		r.say(hit{field: field, with: map[string]any{"taxa": taxa, "n": len(taxa)}, about: about})
	}
}

func absenceWithoutEffort(r *row) {
	r.saySightings("effort", func(s assay.Sighting) bool { return s.AbsenceLooked.Or(false) && s.Effort.Or(0) <= 0 })
}

func zeroWithoutAbsence(r *row) {
	r.saySightings("absence_looked_for", func(s assay.Sighting) bool { return s.Count.Or(1) == 0 && !s.AbsenceLooked.Or(false) })
}

func seenAndAbsent(r *row) {
	r.saySightings("count", func(s assay.Sighting) bool { return s.Count.Or(0) > 0 && s.AbsenceLooked.Or(false) })
}

func tookBaitUnseen(r *row) {
	r.saySightings("took_bait", func(s assay.Sighting) bool { return s.TookBait.Or(false) && s.Count.Or(1) == 0 })
}

func sightingNegative(r *row) {
	r.saySightings("count", func(s assay.Sighting) bool { return s.Count.Or(0) < 0 || s.Effort.Or(0) < 0 })
}

func sightingEndsEarly(r *row) {
	r.saySightings("to", func(s assay.Sighting) bool { return s.From.Known() && s.To.Known() && s.To.At.Before(s.From.At) })
}

func taxonMissing(r *row) {
	r.saySightings("taxon", func(s assay.Sighting) bool { return blank(s.Taxon) })
}

func effortWithoutUnit(r *row) {
	r.saySightings("effort_unit", func(s assay.Sighting) bool { return s.Effort.Known() && blank(s.EffortUnit) })
}
