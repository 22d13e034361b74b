package quality

import (
	"maps"
	"math"
	"slices"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

func protocolRules() []Rule {
	note := assay.Note
	return []Rule{
		{Slug: "depth-ends-crossed", Severity: assay.Block, one: depthEndsCrossed},
		{Slug: "protocol-unknown", Severity: note, one: protocolUnknown},
		{Slug: "baits-unlike-protocol", Severity: note, Tolerances: []string{"baits"}, one: baitsUnlikeProtocol},
		{Slug: "form-unlike-protocol", Severity: note, Tolerances: []string{"bait_form", "other_form"}, one: formUnlikeProtocol},
		{Slug: "size-unlike-protocol", Severity: note,
			Tolerances: []string{"bait_size_mm", "other_form", "bait_size_tolerance_mm"}, one: sizeUnlikeProtocol},
		{Slug: "spacing-unlike-protocol", Severity: note, Tolerances: []string{"spacing_m", "spacing_tolerance_m"}, one: spacingUnlikeProtocol},
		{Slug: "depth-change-large", Severity: note, Tolerances: []string{"depth_change_max_m"}, one: depthChangeLarge},
		{Slug: "other-habitat-near", Severity: note, one: otherHabitatNear},
		{Slug: "checks-unlike-protocol", Severity: note, Tolerances: []string{"check"}, one: checksUnlikeProtocol},
		{Slug: "threshold-unlike-default", Severity: note, Tolerances: []string{"consumed_fraction"}, one: thresholdUnlikeDefault},
		{Slug: "consumed-means-unlike-default", Severity: note, Tolerances: []string{"counts_as_consumed"}, one: meansUnlikeDefault},
	}
}

// roundSlack keeps a measure of exactly the tolerance inside it.
const roundSlack = 1e-9

func depthEndsCrossed(r *row) {
	lo, okLo := r.d.DepthMinM.Get()
	hi, okHi := r.d.DepthMaxM.Get()
	if okLo && okHi && lo > hi {
		r.say(hit{field: "depth_min_m", value: sheet.FormatNumber(lo),
			with: map[string]any{"min_m": lo, "max_m": hi}, about: []any{lo, hi}})
	}
}

func protocolUnknown(r *row) {
	if !r.protocolKnown {
		r.say(hit{field: "protocol", value: r.d.Protocol, with: map[string]any{"protocol": r.d.Protocol,
			"judged_by": sheet.ProtocolName(*r.p), "known": slices.Sorted(maps.Keys(r.j.ctx.Protocols))}})
	}
}

func baitsUnlikeProtocol(r *row) {
	if n := r.d.Baits; n > 0 && n != r.p.Baits {
		r.say(hit{field: "baits_deployed", value: itoa(n), with: map[string]any{"baits": n, "protocol_baits": r.p.Baits}})
	}
}

// forms are the forms and sizes that the protocol allows, its own first.
func forms(p *assay.Protocol) []assay.BaitForm {
	return append([]assay.BaitForm{{Form: p.BaitForm, SizeMM: p.BaitSizeMM}}, p.OtherForms...)
}

func formUnlikeProtocol(r *row) {
	form := r.d.BaitForm
	if form == "" {
		return
	}
	var allowed []string
	for _, f := range forms(r.p) {
		if strings.EqualFold(f.Form, form) {
			return
		}
		allowed = append(allowed, f.Form)
	}
	r.say(hit{field: "bait_form", value: form, with: map[string]any{"form": form, "allowed": allowed}})
}

// sizeUnlikeProtocol takes the size that goes with the form written; where none
// is written, any size that the protocol allows will do.
func sizeUnlikeProtocol(r *row) {
	size, ok := r.d.BaitSizeMM.Get()
	if !ok {
		return
	}
	nearest := math.Inf(1)
	for _, f := range forms(r.p) {
		if r.d.BaitForm != "" && !strings.EqualFold(f.Form, r.d.BaitForm) {
			continue
		}
		if math.Abs(size-f.SizeMM) < math.Abs(size-nearest) {
			nearest = f.SizeMM
		}
	}
	tol := r.p.BaitSizeToleranceMM
	if !math.IsInf(nearest, 1) && math.Abs(size-nearest) > tol+roundSlack {
		r.say(hit{field: "bait_size_mm", value: sheet.FormatNumber(size),
			with:  map[string]any{"size_mm": size, "protocol_mm": nearest, "tolerance_mm": tol},
			about: []any{r.d.BaitForm, size}})
	}
}

func spacingUnlikeProtocol(r *row) {
	x, ok := r.d.SpacingM.Get()
	if ok && math.Abs(x-r.p.SpacingM) > r.p.SpacingToleranceM+roundSlack {
		r.say(hit{field: "spacing_m", value: sheet.FormatNumber(x),
			with: map[string]any{"spacing_m": x, "protocol_m": r.p.SpacingM, "tolerance_m": r.p.SpacingToleranceM}})
	}
}

func depthChangeLarge(r *row) {
	lo, okLo := r.d.DepthMinM.Get()
	hi, okHi := r.d.DepthMaxM.Get()
	if okLo && okHi && hi-lo > r.p.DepthChangeMaxM+roundSlack {
		r.say(hit{field: "depth_max_m", value: sheet.FormatNumber(hi),
			with:  map[string]any{"change_m": hi - lo, "min_m": lo, "max_m": hi, "most_m": r.p.DepthChangeMaxM},
			about: []any{lo, hi}})
	}
}

func otherHabitatNear(r *row) {
	if r.d.NearOtherHabitat.Or(false) {
		r.say(hit{field: "near_other_habitat", value: "yes", with: map[string]any{"habitat": r.d.Habitat}})
	}
}

// checksUnlikeProtocol speaks of more checks than the protocol has; of fewer,
// missed-without-reason does.
func checksUnlikeProtocol(r *row) {
	n, last := 0, 0
	for _, c := range r.checks {
		if c.Read() {
			n++
			last = max(last, c.Number)
		}
	}
	if most := len(r.p.Checks); last > most {
		r.say(hit{check: last, field: column(consumedCol, last), with: map[string]any{"checks": n, "last": last, "protocol_checks": most},
			about: []any{n, last}})
	}
}

func thresholdUnlikeDefault(r *row) {
	usual := r.j.usual
	if r.protocolKnown && r.p.ConsumedFraction != usual.ConsumedFraction {
		r.say(hit{field: "protocol", value: r.d.Protocol, with: map[string]any{"fraction": r.p.ConsumedFraction,
			"default": sheet.ProtocolName(*usual), "default_fraction": usual.ConsumedFraction},
			about: []any{r.d.Protocol, r.p.ConsumedFraction}})
	}
}

func meansUnlikeDefault(r *row) {
	usual := r.j.usual
	if r.p == usual || !r.protocolKnown {
		return
	}
	a, b := slices.Sorted(slices.Values(r.p.CountsAsConsumed)), slices.Sorted(slices.Values(usual.CountsAsConsumed))
	if !slices.Equal(a, b) {
		r.say(hit{field: "protocol", value: r.d.Protocol, with: map[string]any{"means": texts(a), "default_means": texts(b),
			"default": sheet.ProtocolName(*usual)}, about: []any{r.d.Protocol, strings.Join(texts(a), ", ")}})
	}
}

func texts(ways []assay.How) []string {
	out := make([]string, len(ways))
	for i, w := range ways {
		out[i] = string(w)
	}
	return out
}
