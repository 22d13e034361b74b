package quality

import (
	"strconv"
	"strings"

	"soakline/internal/assay"
)

func peopleRules() []Rule {
	return []Rule{
		{Slug: "required-missing", Severity: assay.Block, one: requiredMissing},
		{Slug: "observers-missing", Severity: assay.Note, one: observersMissing},
		{Slug: "people-not-back", Severity: assay.Ask, one: peopleNotBack},
		{Slug: "people-more-back", Severity: assay.Ask, one: peopleMoreBack},
		{Slug: "people-back-not-written", Severity: assay.Note, one: peopleBackNotWritten},
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

// headcount is who went in and who was counted back at one visit; check 0 is
// setting out.
type headcount struct {
	check     int
	out, back assay.Maybe[int]
}

// headcounts goes through the visits at which somebody counted.
func (r *row) headcounts(do func(h headcount, field string)) {
	all := []headcount{{0, r.d.PeopleOut, r.d.PeopleBack}}
	for _, c := range r.d.Checks {
		all = append(all, headcount{c.Number, c.PeopleOut, c.PeopleBack})
	}
	for _, h := range all {
		if !h.out.Known() {
			continue
		}
		field := "people_back"
		if h.check > 0 {
			field += "_at_check" + strconv.Itoa(h.check)
		}
		do(h, field)
	}
}

func (r *row) sayHeads(h headcount, field string) {
	out, back := h.out.Or(0), h.back.Or(0)
	value := ""
	if h.back.Known() {
		value = strconv.Itoa(back)
	}
	r.say(hit{check: h.check, field: field, value: value, with: map[string]any{"out": out, "back": back, "visit": whenOf(h.check)}, about: []any{out, value}})
}

func peopleNotBack(r *row) {
	r.headcounts(func(h headcount, field string) {
		if n, ok := h.back.Get(); ok && n < h.out.Or(0) {
			r.sayHeads(h, field)
		}
	})
}

func peopleMoreBack(r *row) {
	r.headcounts(func(h headcount, field string) {
		if n, ok := h.back.Get(); ok && n > h.out.Or(0) {
			r.sayHeads(h, field)
		}
	})
}

func peopleBackNotWritten(r *row) {
	r.headcounts(func(h headcount, field string) {
		if !h.back.Known() {
			r.sayHeads(h, field)
		}
	})
}
