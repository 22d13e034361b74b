package quality

import (
	"strings"

	"soakline/internal/assay"
)

func peopleRules() []Rule {
	return []Rule{
		{Slug: "required-missing", Severity: assay.Block, one: requiredMissing},
		{Slug: "observers-missing", Severity: assay.Note, one: observersMissing},
		{Slug: "batch-missing", Severity: assay.Note, one: batchMissing},
	}
}

func blank(s string) bool { return strings.TrimSpace(s) == "" }

// requiredMissing leaves out what has a rule of its own: the time of setting
// out and the number of baits.
func requiredMissing(r *row) {
	for _, f := range []struct{ field, text string }{
		{"deployment_id", r.d.ID}, {"site", r.d.Site}, {"habitat", r.d.Habitat},
	} {
		if blank(f.text) {
			r.say(hit{field: f.field, value: f.text, with: map[string]any{"field": f.field}})
		}
	}
}

func observersMissing(r *row) {
	if blank(r.d.Observers) {
		r.say(hit{field: "observers", value: r.d.Observers})
	}
}

func batchMissing(r *row) {
	if blank(r.d.BaitBatch) {
		r.say(hit{field: "bait_batch", value: r.d.BaitBatch})
	}
}
