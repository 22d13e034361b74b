package rates

import (
	"slices"

	"soakline/internal/assay"
)

// Means is the default meaning of consumed: a bait gone from its tether and a
// tether cut or bitten off count; a stake gone is lost (common practice, no source).
var Means = []assay.How{assay.BaitGone, assay.TetherGone}

// FateUnder is the fate that a reading of one bait stands for under a protocol
// that counts the ways in means as consumed: a bait noted as consumed or lost in
// a stated way is consumed exactly when that way counts.
func FateUnder(f assay.StakeFate, means []assay.How) assay.Fate {
	if f.How == "" || (f.Fate != assay.Consumed && f.Fate != assay.Lost) {
		return f.Fate
	}
	if slices.Contains(means, f.How) {
		return assay.Consumed
	}
	return assay.Lost
}

// FromStakes gives d's checks with the counts that its stake-level fates say:
// C_k baits known to be consumed by check k, L_k never found again from check k
// on, the rest of those not read at k unread. Checks without stake-level fates
// come back as they were; so does everything when there are none at all.
//
// A bait consumed stays consumed when its stake goes later. A bait noted as lost
// but read again later was unread. A stake not listed at a check was not read at
// it; baits of d beyond the stakes listed anywhere are lost from the start.
// baits is the number of baits, the larger of d.Baits and the stakes listed.
// whole says that every check with counts has stake-level fates, so that each
// bait's own intervals are known (Intervals uses them).
//
// A bait consumed and then present is impossible; it is kept as consumed here,
// and Intervals refuses the record.
func FromStakes(d *assay.Deployment, means ...assay.How) (checks []assay.Check, baits int, whole bool) {
	if len(d.Stakes) == 0 {
		return d.Checks, d.Baits, false
	}
	h := readStakes(d, means)
	checks = slices.Clone(d.Checks)
	whole = true
	for k := range checks {
		if !h.covered[k] {
			if checks[k].Read() {
				whole = false
			}
			continue
		}
		c, l, u := h.countsAt(k)
		checks[k].Consumed = assay.Some(c)
		checks[k].Lost = assay.Some(l)
		checks[k].Unread = assay.Some(u)
		checks[k].LostDerived = false
	}
	return checks, h.baits, whole
}

// stakeReadings are the fates of every listed bait at every check, in order.
type stakeReadings struct {
	baits      int
	covered    []bool         // by place in d.Checks
	fates      [][]assay.Fate // [bait][place in d.Checks]; unread where nothing stands
	impossible bool           // consumed and then present
	stray      int            // readings of checks that d does not have
}

func readStakes(d *assay.Deployment, means []assay.How) *stakeReadings {
	if means == nil {
		means = Means
	}
	place := map[int]int{}
	for k, c := range d.Checks {
		place[c.Number] = k
	}
	var numbers []int
	for _, s := range d.Stakes {
		numbers = append(numbers, s.Stake)
	}
	slices.Sort(numbers)
	numbers = slices.Compact(numbers)
	h := &stakeReadings{
		baits:   max(d.Baits, len(numbers)),
		covered: make([]bool, len(d.Checks)),
		fates:   make([][]assay.Fate, len(numbers)),
	}
	for i := range h.fates {
		h.fates[i] = slices.Repeat([]assay.Fate{assay.Unread}, len(d.Checks))
	}
	for _, s := range d.Stakes {
		k, ok := place[s.Check]
		if !ok {
			h.stray++
			continue
		}
		i, _ := slices.BinarySearch(numbers, s.Stake)
		h.covered[k] = true
		h.fates[i][k] = FateUnder(s, means)
	}
	for _, f := range h.fates {
		h.impossible = settle(f) || h.impossible
	}
	return h
}

// settle turns the readings of one bait, in place, into what is known at the
// end: consumed stays consumed, not read and never read again is lost, not read
// and read again is unread. It reports a bait present after it was consumed.
func settle(f []assay.Fate) (impossible bool) {
	gone := false
	for k := range f {
		if gone && f[k] == assay.Present {
			impossible = true
		}
		gone = gone || f[k] == assay.Consumed
		if gone {
			f[k] = assay.Consumed
		}
	}
	again := false
	for k := len(f) - 1; k >= 0; k-- {
		switch f[k] {
		case assay.Present, assay.Consumed:
			again = true
		default:
			f[k] = assay.Lost
			if again {
				f[k] = assay.Unread
			}
		}
	}
	return impossible
}

func (h *stakeReadings) countsAt(k int) (consumed, lost, unread int) {
	for _, f := range h.fates {
		switch f[k] {
		case assay.Consumed:
			consumed++
		case assay.Lost:
			lost++
		case assay.Unread:
			unread++
		}
	}
	return consumed, lost + h.baits - len(h.fates), unread
}
