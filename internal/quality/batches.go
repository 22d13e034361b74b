package quality

import (
	"strings"

	"soakline/internal/assay"
	"soakline/internal/gear"
)

func batchRules() []Rule {
	return []Rule{
		{Slug: "batch-unknown", Severity: assay.Ask, one: batchUnknown},
		{Slug: "batch-expired", Severity: assay.Ask, one: batchExpired},
		{Slug: "batch-before-prepared", Severity: assay.Ask, one: batchBeforePrepared},
		{Slug: "batch-unlike-protocol", Severity: assay.Note, Tolerances: []string{"bait_size_mm", "other_form", "bait_size_tolerance_mm"}, one: batchUnlikeProtocol},
	}
}

// batches are the batches that the row names and the list has, and the codes
// that it has not. Nothing is unknown while there is no list.
func (r *row) batches() (known []gear.Batch, unknown []string) {
	if len(r.j.ctx.Batches) == 0 {
		return nil, nil
	}
	codes := assay.BatchCodes(r.d.BaitBatch)
	for _, b := range r.j.ctx.Batches {
		if b.Code == strings.TrimSpace(r.d.BaitBatch) {
			codes = []string{b.Code} // a code that holds a comma after all
		}
	}
	for _, code := range codes {
		found := false
		for _, b := range r.j.ctx.Batches {
			if b.Code == code {
				known, found = append(known, b), true
			}
		}
		if !found {
			unknown = append(unknown, code)
		}
	}
	return known, unknown
}

func batchUnknown(r *row) {
	if _, unknown := r.batches(); len(unknown) > 0 {
		r.say(hit{field: "bait_batch", value: r.d.BaitBatch, with: map[string]any{"batches": unknown, "n": len(unknown)}})
	}
}

// setDay is the day on which the row was set, by the clock it was written by.
func (r *row) setDay() string {
	if !r.d.SetOut.Known() {
		return ""
	}
	return r.d.SetOut.Local().Format("2006-01-02")
}

func batchExpired(r *row) {
	known, _ := r.batches()
	for _, b := range known {
		if _, late := b.AgainstDay(r.setDay()); late {
			r.say(hit{field: "bait_batch", value: r.d.BaitBatch, with: map[string]any{"batch": b.Code, "day": r.setDay(), "expires": b.ExpiresOn},
				about: []any{b.Code, r.setDay(), b.ExpiresOn}})
			return
		}
	}
}

func batchBeforePrepared(r *row) {
	known, _ := r.batches()
	for _, b := range known {
		if early, _ := b.AgainstDay(r.setDay()); early {
			r.say(hit{field: "bait_batch", value: r.d.BaitBatch, with: map[string]any{"batch": b.Code, "day": r.setDay(), "prepared": b.PreparedOn},
				about: []any{b.Code, r.setDay(), b.PreparedOn}})
			return
		}
	}
}

// outsideShare is the share of measured baits out of the protocol above which a
// batch is told: common practice, no source.
const outsideShare = 0.1

func batchUnlikeProtocol(r *row) {
	known, _ := r.batches()
	for _, b := range known {
		sizes, measured := gear.Summarise(b.Sizes(), gear.SizeOutside(b, *r.p))
		lines, lined := gear.Summarise(b.Lines(), gear.LineOutside)
		with := map[string]any{"batch": b.Code, "outside": sizes.Outside, "n": sizes.N, "long": lines.Outside, "lines": lines.N, "mean_mm": sizes.Mean, "line_mm": gear.FreeLineMM}
		off := measured && float64(sizes.Outside) > outsideShare*float64(sizes.N)
		long := lined && float64(lines.Outside) > outsideShare*float64(lines.N)
		if off || long {
			r.say(hit{field: "bait_batch", value: r.d.BaitBatch, with: with, about: []any{b.Code, sizes.Outside, sizes.N, lines.Outside, lines.N}})
			return
		}
	}
}
