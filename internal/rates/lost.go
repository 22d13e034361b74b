package rates

import "soakline/internal/assay"

// Slugs of the notes that Lost gives.
const (
	LostFromRetrieved  = "rates-lost-from-retrieved"
	LostTakenAsNone    = "rates-lost-taken-as-none"
	LostCarriedForward = "rates-lost-carried-forward"
)

// Lost gives the cumulative number of baits never found again, one value for
// each of d.Checks in their order, and how it came about: an empty note when it
// was written down, else the slug of what was put in its place.
//
// Where no lost count was written, none is taken as lost before the last check
// that was read, and by that check K
//
//	min(baits − stakes retrieved, n − C_K)
//
// where the stakes retrieved are known: an upper bound, because a stake can be
// left behind after its bait was read (LostFromRetrieved, also when it comes to
// 0); else 0 (LostTakenAsNone). A gap between written counts takes the count
// before it (LostCarriedForward), since the numbers are cumulative.
//
// Stake-level fates need none of this: see FromStakes.
func Lost(d *assay.Deployment) (byCheck []int, note string) {
	byCheck = make([]int, len(d.Checks))
	last := -1
	for k, c := range d.Checks {
		if c.Read() {
			last = k
		}
	}
	so, written := 0, false
	for k, c := range d.Checks {
		v, ok := c.Lost.Get()
		switch {
		case ok:
			so, written = v, true
			if c.LostDerived {
				note = derivedNote(d)
			}
		case k == last && d.StakesRetrieved.Known():
			c, _ := c.Consumed.Get()
			so = max(so, min(d.Baits-d.StakesRetrieved.Or(0), d.Baits-c))
			note = LostFromRetrieved
		case c.Read() && (written || k < last):
			if written && note == "" {
				note = LostCarriedForward
			}
		case k == last:
			note = LostTakenAsNone
		}
		byCheck[k] = so
	}
	return byCheck, note
}

func derivedNote(d *assay.Deployment) string {
	if d.StakesRetrieved.Known() {
		return LostFromRetrieved
	}
	return LostTakenAsNone
}
