package quality

import (
	"slices"
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/rates"
	"soakline/internal/sheet"
)

func stakeRules() []Rule {
	block, ask := assay.Block, assay.Ask
	return []Rule{
		{Slug: "stake-outside-row", Severity: block, one: stakeOutsideRow},
		{Slug: "stake-twice", Severity: block, one: stakeTwice},
		{Slug: "consumed-present-again", Severity: block, one: consumedPresentAgain},
		{Slug: "lost-seen-again", Severity: ask, one: lostSeenAgain},
		{Slug: "fates-unlike-counts", Severity: ask, one: fatesUnlikeCounts},
		{Slug: "fates-incomplete", Severity: ask, one: fatesIncomplete},
		{Slug: "fates-without-check", Severity: ask, one: fatesWithoutCheck},
		{Slug: "how-unlike-protocol", Severity: assay.Note, Tolerances: []string{"counts_as_consumed"}, one: howUnlikeProtocol},
	}
}

const fatesCol = "fates_at_check{K}"

// sayStakes adds one finding for each check with the stakes that a rule picked,
// so that an answer is given once for them all.
func (r *row) sayStakes(picked []assay.StakeFate, with map[string]any) {
	byCheck := map[int][]assay.StakeFate{}
	var checks []int
	for _, s := range picked {
		if byCheck[s.Check] == nil {
			checks = append(checks, s.Check)
		}
		byCheck[s.Check] = append(byCheck[s.Check], s)
	}
	for _, k := range checks {
		fates := byCheck[k]
		var numbers []int
		for _, s := range fates {
			numbers = append(numbers, s.Stake)
		}
		slices.Sort(numbers)
		numbers = slices.Compact(numbers)
		names := make([]string, len(numbers))
		for i, n := range numbers {
			names[i] = strconv.Itoa(n)
		}
		all := map[string]any{"check": k, "n": len(numbers), "stakes": names, "baits": r.d.Baits}
		for name, v := range with {
			all[name] = v
		}
		text := sheet.FormatFates(fates)
		r.say(hit{check: k, field: column(fatesCol, k), value: text, with: all, about: []any{text, r.d.Baits}})
	}
}

func stakeOutsideRow(r *row) {
	var out []assay.StakeFate
	for _, s := range r.d.Stakes {
		if s.Stake < 1 || r.d.Baits > 0 && s.Stake > r.d.Baits {
			out = append(out, s)
		}
	}
	r.sayStakes(out, nil)
}

type stakeAt struct{ stake, check int }

func stakeTwice(r *row) {
	if len(r.d.Stakes) == 0 {
		return
	}
	seen := map[stakeAt]int{}
	for _, s := range r.d.Stakes {
		seen[stakeAt{s.Stake, s.Check}]++
	}
	var out []assay.StakeFate
	for _, s := range r.d.Stakes {
		if seen[stakeAt{s.Stake, s.Check}] > 1 {
			out = append(out, s)
		}
	}
	r.sayStakes(out, nil)
}

// after lists the fates that bad says of a fate and an earlier one of the same
// stake, by the meaning that the protocol gives the ways a bait goes.
func (r *row) after(bad func(earlier, now assay.Fate) bool) (out []assay.StakeFate) {
	byStake := map[int][]assay.StakeFate{}
	for _, s := range r.d.Stakes {
		byStake[s.Stake] = append(byStake[s.Stake], s)
	}
	for _, s := range r.d.Stakes {
		now := rates.FateUnder(s, r.p.CountsAsConsumed)
		if slices.ContainsFunc(byStake[s.Stake], func(e assay.StakeFate) bool {
			return e.Check < s.Check && bad(rates.FateUnder(e, r.p.CountsAsConsumed), now)
		}) {
			out = append(out, s)
		}
	}
	return out
}

func consumedPresentAgain(r *row) {
	if len(r.d.Stakes) == 0 {
		return
	}
	r.sayStakes(r.after(func(earlier, now assay.Fate) bool { return earlier == assay.Consumed && now == assay.Present }), nil)
}

// lostSeenAgain is a question and no block: package rates takes such a bait as
// unread at the earlier check, which is what it was.
func lostSeenAgain(r *row) {
	if len(r.d.Stakes) == 0 {
		return
	}
	r.sayStakes(r.after(func(earlier, now assay.Fate) bool {
		return earlier == assay.Lost && (now == assay.Present || now == assay.Consumed)
	}), nil)
}

// fatesAt counts the stakes with a fate at check k.
func (r *row) fatesAt(k int) int {
	seen := map[int]bool{}
	for _, s := range r.d.Stakes {
		if s.Check == k {
			seen[s.Stake] = true
		}
	}
	return len(seen)
}

func fatesUnlikeCounts(r *row) {
	if len(r.d.Stakes) == 0 {
		return
	}
	for i, c := range r.d.Checks {
		eaten, read := c.Consumed.Get()
		if !read || r.fatesAt(c.Number) == 0 {
			continue
		}
		by := r.checks[i]
		lost, written := lostWritten(c)
		if !written {
			lost = by.Lost.Or(0)
		}
		if eaten == by.Consumed.Or(0) && lost == by.Lost.Or(0) {
			continue
		}
		r.say(hit{check: c.Number, field: column(consumedCol, c.Number), value: itoa(eaten),
			with: map[string]any{"check": c.Number, "consumed": eaten, "lost": lost,
				"fates_consumed": by.Consumed.Or(0), "fates_lost": by.Lost.Or(0)},
			about: []any{eaten, lost, by.Consumed.Or(0), by.Lost.Or(0)}})
	}
}

func fatesIncomplete(r *row) {
	if len(r.d.Stakes) == 0 {
		return
	}
	for _, c := range r.d.Checks {
		if n := r.fatesAt(c.Number); n > 0 && n < r.d.Baits {
			r.say(hit{check: c.Number, field: column(fatesCol, c.Number), value: itoa(n),
				with: map[string]any{"check": c.Number, "n": n, "baits": r.d.Baits}, about: []any{n, r.d.Baits}})
		}
	}
}

func fatesWithoutCheck(r *row) {
	if len(r.d.Stakes) == 0 {
		return
	}
	there := map[int]bool{}
	for _, c := range r.d.Checks {
		there[c.Number] = true
	}
	var out []assay.StakeFate
	for _, s := range r.d.Stakes {
		if !there[s.Check] {
			out = append(out, s)
		}
	}
	r.sayStakes(out, nil)
}

func howUnlikeProtocol(r *row) {
	var out []assay.StakeFate
	for _, s := range r.d.Stakes {
		if rates.FateUnder(s, r.p.CountsAsConsumed) != s.Fate {
			out = append(out, s)
		}
	}
	r.sayStakes(out, map[string]any{"means": texts(r.p.CountsAsConsumed)})
}
