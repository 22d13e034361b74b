package quality

import (
	"soakline/internal/assay"
	"soakline/internal/rates"
)

func countRules() []Rule {
	block, ask, note := assay.Block, assay.Ask, assay.Note
	return []Rule{
		{Slug: "baits-missing", Severity: block, one: baitsMissing},
		{Slug: "count-negative", Severity: block, one: countNegative},
		{Slug: "consumed-over-deployed", Severity: block, one: consumedOverDeployed},
		{Slug: "lost-over-deployed", Severity: block, one: lostOverDeployed},
		{Slug: "consumed-and-lost-over-deployed", Severity: block, one: consumedAndLostOverDeployed},
		{Slug: "unread-over-left", Severity: block, one: unreadOverLeft},
		{Slug: "consumed-falls", Severity: block, one: consumedFalls},
		{Slug: "lost-falls", Severity: block, one: lostFalls},
		{Slug: "retrieved-over-deployed", Severity: block, one: retrievedOverDeployed},
		{Slug: "check-twice", Severity: block, one: checkTwice},
		{Slug: "counts-without-time", Severity: ask, one: countsWithoutTime},
		{Slug: "time-without-counts", Severity: ask, one: timeWithoutCounts},
		{Slug: "counts-and-reason", Severity: ask, one: countsAndReason},
		{Slug: "lost-without-consumed", Severity: ask, one: lostWithoutConsumed},
		{Slug: "never-read", Severity: ask, one: neverRead},
		{Slug: "unread-at-last-check", Severity: ask, one: unreadAtLastCheck},
		{Slug: "all-left-lost", Severity: ask, one: allLeftLost},
		{Slug: "lost-share-high", Severity: ask, Tolerances: []string{"lost_share_max"}, one: lostShareHigh},
		{Slug: "stakes-left-behind", Severity: ask, one: stakesLeftBehind},
		{Slug: "lost-gap", Severity: ask, one: lostGap},
		{Slug: "lost-from-retrieved", Severity: note, one: lostFromRetrieved},
		{Slug: "lost-not-written", Severity: note, one: lostNotWritten},
	}
}

const (
	consumedCol = "consumed_by_check{K}"
	lostCol     = "lost_by_check{K}"
	unreadCol   = "unread_at_check{K}"
	atCol       = "check{K}_at"
	untilCol    = "check{K}_until"
	whyCol      = "why_no_check{K}"
)

// lostWritten is the lost count that a person wrote.
func lostWritten(c assay.Check) (int, bool) {
	n, ok := c.Lost.Get()
	return n, ok && !c.LostDerived
}

func baitsMissing(r *row) {
	if r.d.Baits == 0 {
		r.say(hit{field: "baits_deployed"})
	}
}

func countNegative(r *row) {
	say := func(check int, name string, n int) {
		if n < 0 {
			r.say(hit{check: check, field: column(name, check), value: itoa(n), with: map[string]any{"count": n}})
		}
	}
	say(0, "baits_deployed", r.d.Baits)
	say(0, "stakes_retrieved", r.d.StakesRetrieved.Or(0))
	for _, c := range r.d.Checks {
		say(c.Number, consumedCol, c.Consumed.Or(0))
		say(c.Number, lostCol, c.Lost.Or(0))
		say(c.Number, unreadCol, c.Unread.Or(0))
	}
}

func consumedOverDeployed(r *row) {
	for _, c := range r.d.Checks {
		n := c.Consumed.Or(0)
		if r.d.Baits > 0 && n > r.d.Baits {
			r.say(hit{check: c.Number, field: column(consumedCol, c.Number), value: itoa(n),
				with: map[string]any{"consumed": n, "baits": r.d.Baits}, about: []any{n, r.d.Baits}})
		}
	}
}

func lostOverDeployed(r *row) {
	for _, c := range r.d.Checks {
		n, ok := lostWritten(c)
		if ok && r.d.Baits > 0 && n > r.d.Baits {
			r.say(hit{check: c.Number, field: column(lostCol, c.Number), value: itoa(n),
				with: map[string]any{"lost": n, "baits": r.d.Baits}, about: []any{n, r.d.Baits}})
		}
	}
}

// consumedAndLostOverDeployed leaves out counts that are too large by
// themselves. A lost count that is not written is taken as package rates does.
func consumedAndLostOverDeployed(r *row) {
	n := r.d.Baits
	for k, c := range r.checks {
		eaten, read := c.Consumed.Get()
		lost := r.lost[k]
		if read && n > 0 && eaten >= 0 && lost >= 0 && eaten <= n && lost <= n && eaten+lost > n {
			r.say(hit{check: c.Number, field: column(lostCol, c.Number), value: itoa(lost),
				with:  map[string]any{"consumed": eaten, "lost": lost, "sum": eaten + lost, "baits": n},
				about: []any{eaten, lost, n}})
		}
	}
}

func unreadOverLeft(r *row) {
	for k, c := range r.checks {
		unread, ok := c.Unread.Get()
		eaten, lost := c.Consumed.Or(0), r.lost[k]
		left := r.d.Baits - eaten - lost
		if ok && r.d.Baits > 0 && left >= 0 && unread > left {
			r.say(hit{check: c.Number, field: column(unreadCol, c.Number), value: itoa(unread),
				with:  map[string]any{"unread": unread, "left": left, "consumed": eaten, "lost": lost, "baits": r.d.Baits},
				about: []any{unread, eaten, lost, r.d.Baits}})
		}
	}
}

// falls says where a cumulative count is below that of the check read before;
// where stakes have fates, by those.
func falls(r *row, name string, count func(assay.Check) (int, bool)) {
	before, at := 0, 0
	for _, c := range r.checks {
		n, ok := count(c)
		if !ok {
			continue
		}
		if at > 0 && n >= 0 && n < before {
			r.say(hit{check: c.Number, field: column(name, c.Number), value: itoa(n),
				with: map[string]any{"count": n, "check": c.Number, "before": before, "check_before": at}, about: []any{n, before}})
		}
		before, at = n, c.Number
	}
}

func consumedFalls(r *row) {
	falls(r, consumedCol, func(c assay.Check) (int, bool) { return c.Consumed.Get() })
}

func lostFalls(r *row) {
	falls(r, lostCol, func(c assay.Check) (int, bool) { return c.Lost.Get() })
}

func retrievedOverDeployed(r *row) {
	n := r.d.StakesRetrieved.Or(0)
	if r.d.Baits > 0 && n > r.d.Baits {
		r.say(hit{field: "stakes_retrieved", value: itoa(n),
			with: map[string]any{"retrieved": n, "baits": r.d.Baits}, about: []any{n, r.d.Baits}})
	}
}

func checkTwice(r *row) {
	for k := 1; k < len(r.d.Checks); k++ {
		n := r.d.Checks[k].Number
		if n == r.d.Checks[k-1].Number && (k < 2 || n != r.d.Checks[k-2].Number) {
			r.say(hit{check: n, field: "check", value: itoa(n), with: map[string]any{"check": n}})
		}
	}
}

// countsWithoutTime is a question and no block: the check is left out of the
// rates as if it had not been made, and the others stand.
func countsWithoutTime(r *row) {
	for _, c := range r.checks {
		if c.Read() && !c.At.Known() {
			n := c.Consumed.Or(0)
			r.say(hit{check: c.Number, field: column(atCol, c.Number),
				with: map[string]any{"check": c.Number, "consumed": n}, about: []any{n}})
		}
	}
}

func timeWithoutCounts(r *row) {
	for _, c := range r.checks {
		if c.At.Known() && !c.Read() && c.WhyNot == "" {
			r.say(hit{check: c.Number, field: column(consumedCol, c.Number),
				with: map[string]any{"check": c.Number, "at": c.At.Local()}, about: []any{c.At}})
		}
	}
}

func countsAndReason(r *row) {
	for _, c := range r.checks {
		if c.Read() && c.WhyNot != "" {
			r.say(hit{check: c.Number, field: column(whyCol, c.Number), value: c.WhyNot,
				with: map[string]any{"check": c.Number, "why": c.WhyNot}, about: []any{c.WhyNot, c.Consumed.Or(0)}})
		}
	}
}

func lostWithoutConsumed(r *row) {
	for _, c := range r.checks {
		if n, ok := lostWritten(c); ok && !c.Read() {
			r.say(hit{check: c.Number, field: column(consumedCol, c.Number),
				with: map[string]any{"check": c.Number, "lost": n}, about: []any{n}})
		}
	}
}

// neverRead leaves a row alone that was given up, whose first check is not due
// yet, or whose every check has a reason, or a time, which is asked about already.
func neverRead(r *row) {
	if r.d.AbandonedAt.Known() || len(r.p.Checks) > 0 && !r.due(r.p.Checks[0]) {
		return
	}
	silent := len(r.checks) == 0
	for _, c := range r.checks {
		if c.Read() || c.At.Known() && c.WhyNot == "" {
			return
		}
		silent = silent || c.WhyNot == ""
	}
	if silent {
		r.say(hit{field: column(consumedCol, 1)})
	}
}

// lastRead is the place in r.checks of the last check with counts, -1 for none.
func (r *row) lastRead() int {
	for k := len(r.checks) - 1; k >= 0; k-- {
		if r.checks[k].Read() {
			return k
		}
	}
	return -1
}

func unreadAtLastCheck(r *row) {
	k := r.lastRead()
	if k < 0 {
		return
	}
	c := r.checks[k]
	if n := c.Unread.Or(0); n > 0 {
		r.say(hit{check: c.Number, field: column(unreadCol, c.Number), value: itoa(n), with: map[string]any{"unread": n}})
	}
}

// everyBaitLeftLost says whether check k has no bait present or newly consumed
// while baits were left before it: the row itself may not have been found.
func everyBaitLeftLost(r *row, k int) (lost int, all bool) {
	c := r.checks[k]
	so, ok := lostWritten(c)
	if !ok || !c.Read() {
		return 0, false
	}
	eatenBefore, lostBefore := 0, 0
	for i := k - 1; i >= 0; i-- {
		if r.checks[i].Read() {
			eatenBefore, lostBefore = r.checks[i].Consumed.Or(0), r.checks[i].Lost.Or(0)
			break
		}
	}
	left := r.d.Baits - eatenBefore - lostBefore
	return so - lostBefore, left > 0 && so-lostBefore == left && c.Consumed.Or(0) == eatenBefore
}

func allLeftLost(r *row) {
	for k, c := range r.checks {
		if n, all := everyBaitLeftLost(r, k); all {
			so := c.Lost.Or(0)
			r.say(hit{check: c.Number, field: column(lostCol, c.Number), value: itoa(so),
				with: map[string]any{"lost": n, "check": c.Number}, about: []any{so, r.d.Baits}})
		}
	}
}

// lostShareHigh looks at the last check that was read, whoever said the count,
// unless every bait left was lost there, which is asked already.
func lostShareHigh(r *row) {
	k := r.lastRead()
	if k < 0 || r.d.Baits <= 0 {
		return
	}
	n := r.lost[k]
	if _, all := everyBaitLeftLost(r, k); all || n > r.d.Baits {
		return
	}
	share := float64(n) / float64(r.d.Baits)
	if share > r.p.LostShareMax {
		c := r.checks[k]
		r.say(hit{check: c.Number, field: column(lostCol, c.Number), value: itoa(n),
			with:  map[string]any{"lost": n, "baits": r.d.Baits, "share": share, "most": r.p.LostShareMax},
			about: []any{n, r.d.Baits}})
	}
}

// stakesLeftBehind compares with the lost that was written: a lost bait's stake
// may still be there, so more stakes than baits may come back.
func stakesLeftBehind(r *row) {
	back, ok := r.d.StakesRetrieved.Get()
	k := r.lastRead()
	if !ok || k < 0 {
		return
	}
	lost, written := lostWritten(r.checks[k])
	if !written {
		return
	}
	if missing := r.d.Baits - back - lost; missing > 0 && back >= 0 && lost >= 0 {
		r.say(hit{field: "stakes_retrieved", value: itoa(back),
			with:  map[string]any{"retrieved": back, "baits": r.d.Baits, "lost": lost, "missing": missing},
			about: []any{back, r.d.Baits, lost}})
	}
}

// lostNote says by which rule of package rates the lost counts came about, and
// at which check it shows.
func lostNote(r *row, slug string) (c assay.Check, lost int, ok bool) {
	k := r.lastRead()
	if k < 0 || r.d.Baits <= 0 {
		return c, 0, false
	}
	return r.checks[k], r.lost[k], r.lostNote == slug
}

func lostGap(r *row) {
	if _, _, ok := lostNote(r, rates.LostCarriedForward); !ok {
		return
	}
	before := 0
	written := false
	for _, c := range r.checks {
		n, ok := lostWritten(c)
		if !ok && c.Read() && written {
			r.say(hit{check: c.Number, field: column(lostCol, c.Number),
				with: map[string]any{"check": c.Number, "before": before}, about: []any{before}})
			return
		}
		if ok {
			before, written = n, true
		}
	}
}

func lostFromRetrieved(r *row) {
	c, n, ok := lostNote(r, rates.LostFromRetrieved)
	back := r.d.StakesRetrieved.Or(0)
	if ok && back >= 0 && back <= r.d.Baits {
		r.say(hit{check: c.Number, field: column(lostCol, c.Number),
			with: map[string]any{"lost": n, "baits": r.d.Baits, "retrieved": back}, about: []any{r.d.Baits, back, n}})
	}
}

func lostNotWritten(r *row) {
	if c, _, ok := lostNote(r, rates.LostTakenAsNone); ok {
		r.say(hit{check: c.Number, field: column(lostCol, c.Number), with: map[string]any{"baits": r.d.Baits}, about: []any{r.d.Baits}})
	}
}
