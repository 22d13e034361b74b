package quality

import (
	"cmp"
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

// byStake are the row's fates by stake and check, the same ones in the order
// they were written.
func (r *row) byStake() []assay.StakeFate {
	j := r.j
	if j.stakesOf != r {
		j.stakes = append(j.stakes[:0], r.d.Stakes...)
		slices.SortStableFunc(j.stakes, func(a, b assay.StakeFate) int {
			return cmp.Or(cmp.Compare(a.Stake, b.Stake), cmp.Compare(a.Check, b.Check))
		})
		j.stakesOf = r
	}
	return j.stakes
}

func stakeTwice(r *row) {
	all := r.byStake()
	same := func(i, k int) bool {
		return k >= 0 && k < len(all) && all[i].Stake == all[k].Stake && all[i].Check == all[k].Check
	}
	var out []assay.StakeFate
	for i, s := range all {
		if same(i, i-1) || same(i, i+1) {
			out = append(out, s)
		}
	}
	r.sayStakes(out, nil)
}

// after lists the fates that come after another of the same stake, by the
// meaning that the protocol gives the ways a bait goes.
func (r *row) after(earlier assay.Fate, now ...assay.Fate) (out []assay.StakeFate) {
	stake, since, seen := 0, 0, false // the first check at which this stake had the earlier fate
	for _, s := range r.byStake() {
		if s.Stake != stake {
			stake, seen = s.Stake, false
		}
		f := rates.FateUnder(s, r.p.CountsAsConsumed)
		switch {
		case seen && s.Check > since && slices.Contains(now, f):
			out = append(out, s)
		case !seen && f == earlier:
			since, seen = s.Check, true
		}
	}
	return out
}

func consumedPresentAgain(r *row) {
	if len(r.d.Stakes) > 0 {
		r.sayStakes(r.after(assay.Consumed, assay.Present), nil)
	}
}

// lostSeenAgain is a question and no block: package rates takes such a bait as
// unread at the earlier check, which is what it was.
func lostSeenAgain(r *row) {
	if len(r.d.Stakes) > 0 {
		r.sayStakes(r.after(assay.Lost, assay.Present, assay.Consumed), nil)
	}
}

// fatesAt counts the stakes with a fate at check k.
func (r *row) fatesAt(k int) (n int) {
	last, any := 0, false
	for _, s := range r.byStake() {
		if s.Check == k && (!any || s.Stake != last) {
			n++
			last, any = s.Stake, true
		}
	}
	return n
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
