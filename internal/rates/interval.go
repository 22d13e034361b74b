package rates

import (
	"slices"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// Interval is what baits of one deployment showed between two looks at them:
// of AtRisk baits present at soak FromH, Consumed were gone at soak ToH. The
// intervals of a deployment are its whole likelihood: given the hazard, each is
// an independent binomial count with probability 1 − exp(−H), H the hazard
// summed over [FromH, ToH].
//
// Late holds baits that were not read at the check before but at this one. When
// it is not empty, Consumed counts over AtRisk and all of Late together, and
// which of them were consumed is not known: the likelihood is then that of a
// sum of independent binomials, one for each group (see Split).
type Interval struct {
	Deployment int     // place in the slice the caller works on; Intervals leaves it 0
	Check      int     // number of the check that ends it
	FromCheck  int     // number of the check that begins it; 0 is setting out
	FromH      float64 // soak at the beginning, hours
	ToH        float64 // soak at the end, hours
	AtRisk     int     // baits read at both ends (setting out counts as read)
	Consumed   int
	Late       []Late

	from, to int // places among the checks read, 0 is setting out
}

// Late is a group of baits last seen at an earlier look than the interval's
// beginning; the group's own interval runs from FromH to the ToH of its Interval.
type Late struct {
	FromCheck int
	FromH     float64
	AtRisk    int

	from int
}

// Merged says whether a check between the two ends gave no reading of these
// baits, so that the interval covers more than one step of the schedule.
func (i *Interval) Merged() bool { return i.Check-i.FromCheck > 1 }

// Baits is the number of baits the interval tells about, the late ones included.
func (i *Interval) Baits() int {
	n := i.AtRisk
	for _, l := range i.Late {
		n += l.AtRisk
	}
	return n
}

// Intervals gives the intervals of d in the order of the checks that end them,
// and what had to be assumed about the record. It gives none where the record
// was never read (no check with counts and a time) or is impossible; the last
// message then says which: NeverRead or Impossible.
//
// means are the ways of being gone that d's protocol counts as consumed; none
// given is the default meaning. Risk sets: docs/methods/rates.md, "Risk sets".
func Intervals(d *assay.Deployment, means ...assay.How) ([]Interval, []assay.Said) {
	r := read(d, means)
	if r.why != "" {
		return nil, append(r.said, assay.Said{Slug: r.why, With: r.with})
	}
	return r.intervals, r.said
}

// Slugs of why a deployment does not enter, and of what was assumed.
const (
	NeverRead       = "never-read"
	Impossible      = "impossible"
	checkUntimed    = "rates-check-without-time"
	unreadRun       = "rates-unread-twice-assumed-same"
	unreadNever     = "rates-unread-never-read-later"
	impossibleHow   = "rates-impossible"
	stakesNotListed = "rates-stakes-not-listed"
	stakesTooMany   = "rates-more-stakes-than-baits"
	bandShort       = "rates-band-short"
	limitsFew       = "rates-limits-few"
)

// look is one check that was read.
type look struct {
	number int
	soakH  float64
	c, l   int // consumed and lost, cumulative
	u      int // not read at this check, neither consumed before nor lost
	atRisk int // r: baits read at this check that were not known to be consumed before
	y      int // consumed since the look before
}

// reading is a deployment as the estimators need it.
type reading struct {
	n         int
	looks     []look
	intervals []Interval
	late      bool // some baits were read at one check after they were not at another
	contrary  bool // baits noted as unread were, by the counts, never read later
	said      []assay.Said
	why       string // NeverRead or Impossible; empty when there are intervals
	with      map[string]any
}

func (r *reading) say(slug string, with map[string]any) {
	r.said = append(r.said, assay.Said{Slug: slug, With: with})
}

func (r *reading) refuse(what string, with map[string]any) *reading {
	r.why, r.intervals = Impossible, nil
	r.with = map[string]any{"what": words.Ref{Slug: what, With: with}}
	return r
}

// read takes the counts and times out of d, sets up the risk sets and refuses
// what cannot be. It never panics, whatever the record holds.
func read(d *assay.Deployment, means []assay.How) *reading {
	r := &reading{n: d.Baits}
	checks := d.Checks
	whole := false
	var lost []int
	var stakes *stakeReadings
	if len(d.Stakes) > 0 {
		stakes = readStakes(d, means)
		checks, r.n, whole = FromStakes(d, means...)
		r.sayStakes(d, stakes)
		if stakes.impossible {
			return r.refuse("rates-impossible-present-again", nil)
		}
		counted := *d
		counted.Checks, counted.Baits = checks, r.n
		lost, _ = Lost(&counted)
	} else {
		var note string
		lost, note = Lost(d)
		r.sayLost(note, lost)
	}
	if r.n <= 0 {
		if _, any := d.LastRead(); !any && len(d.Stakes) == 0 {
			r.why = NeverRead
			return r
		}
		return r.refuse("rates-impossible-no-baits", nil)
	}
	places := r.takeLooks(d, checks, lost)
	if len(r.looks) == 0 {
		r.why = NeverRead
		return r
	}
	if what, with := r.impossible(); what != "" {
		return r.refuse(what, with)
	}
	if whole {
		r.fromStakes(stakes, places)
	} else {
		r.fromCounts()
	}
	return r
}

func (r *reading) sayLost(note string, lost []int) {
	n := 0
	if len(lost) > 0 {
		n = lost[len(lost)-1]
	}
	if note == "" || note == LostFromRetrieved && n == 0 {
		return // every stake came back: nothing was lost, and nothing is to be told
	}
	r.say(note, map[string]any{"n": n})
}

func (r *reading) sayStakes(d *assay.Deployment, h *stakeReadings) {
	if n := h.baits - len(h.fates); n > 0 {
		r.say(stakesNotListed, map[string]any{"n": n})
	}
	if d.Baits > 0 && len(h.fates) > d.Baits {
		r.say(stakesTooMany, map[string]any{"stakes": len(h.fates), "baits": d.Baits})
	}
	if h.stray > 0 {
		r.say(checkUntimed, map[string]any{"n": h.stray})
	}
}

// takeLooks lists the checks that were read and have a soak; a check without
// counts merges its interval with the next one by not being there. It returns
// their places in checks.
func (r *reading) takeLooks(d *assay.Deployment, checks []assay.Check, lost []int) (places []int) {
	untimed := 0
	for k, c := range checks {
		if !c.Read() {
			continue
		}
		soak, ok := d.SoakH(c)
		if !ok {
			untimed++
			continue
		}
		r.looks = append(r.looks, look{number: c.Number, soakH: soak, c: c.Consumed.Or(0), l: lost[k], u: c.Unread.Or(0)})
		places = append(places, k)
	}
	if untimed > 0 {
		r.say(checkUntimed, map[string]any{"n": untimed})
	}
	cBefore := 0
	for k := range r.looks {
		at := &r.looks[k]
		at.atRisk = r.n - cBefore - at.l - at.u
		at.y = at.c - cBefore
		cBefore = at.c
	}
	return places
}

// impossible names the first thing in the looks that cannot be.
func (r *reading) impossible() (string, map[string]any) {
	before := look{}
	for _, at := range r.looks {
		what := ""
		switch {
		case at.number <= before.number || at.soakH <= before.soakH:
			what = "rates-impossible-time"
		case at.c < before.c || at.l < before.l || at.u < 0:
			what = "rates-impossible-fewer"
		case at.c+at.l+at.u > r.n:
			what = "rates-impossible-too-many"
		}
		if what != "" {
			return what, map[string]any{"check": at.number}
		}
		before = at
	}
	return "", nil
}

// fromCounts sets up the intervals from counts. The baits read at look k are
// those present at look k−1 and those unread there. Unread baits are by
// definition read later, so losses fall among the present ones; baits unread at
// two looks running are taken to be the same as far as the numbers allow.
func (r *reading) fromCounts() {
	var out []Late // not read at the look before, oldest first
	before, never := look{}, 0
	for k, at := range r.looks {
		staying := min(total(out), at.u)
		if staying > 0 && k < len(r.looks)-1 {
			r.say(unreadRun, map[string]any{"n": staying, "check": at.number})
		}
		still, late := takeOldest(out, staying)
		// Counts that leave no room for the late ones mean that some of them
		// were lost after all.
		if over := total(late) - at.atRisk; over > 0 {
			_, late = takeOldest(late, over)
			never += over
		}
		iv := Interval{
			Check: at.number, FromCheck: before.number, FromH: before.soakH, ToH: at.soakH,
			AtRisk: at.atRisk - total(late), Consumed: at.y, Late: late, from: k, to: k + 1,
		}
		if iv.AtRisk == 0 && len(late) == 1 { // only one group: nothing is mixed
			iv.AtRisk, iv.FromCheck, iv.FromH, iv.from = late[0].AtRisk, late[0].FromCheck, late[0].FromH, late[0].from
			iv.Late = nil
		}
		if iv.Baits() > 0 {
			r.intervals = append(r.intervals, iv)
			r.late = r.late || iv.from < k || iv.Late != nil
		}
		if fresh := at.u - staying; fresh > 0 {
			still = append(still, Late{FromCheck: before.number, FromH: before.soakH, AtRisk: fresh, from: k})
		}
		out, before = still, at
	}
	r.contrary = never > 0
	if n := total(out) + never; n > 0 {
		r.say(unreadNever, map[string]any{"n": n})
	}
}

func total(groups []Late) int {
	n := 0
	for _, g := range groups {
		n += g.AtRisk
	}
	return n
}

// takeOldest parts groups, oldest first, into the first n baits and the rest.
func takeOldest(groups []Late, n int) (taken, rest []Late) {
	for _, g := range groups {
		a := min(n, g.AtRisk)
		n -= a
		if a > 0 {
			part := g
			part.AtRisk = a
			taken = append(taken, part)
		}
		if g.AtRisk > a {
			g.AtRisk -= a
			rest = append(rest, g)
		}
	}
	return taken, rest
}

// fromStakes sets up the intervals from each bait's own readings: a bait counts
// from each look that read it to the next one that did.
func (r *reading) fromStakes(h *stakeReadings, places []int) {
	type ends struct{ from, to int }
	cells := map[ends]*Interval{}
	for _, fates := range h.fates {
		from := 0
		for k, place := range places {
			f := fates[place]
			if f != assay.Present && f != assay.Consumed {
				continue
			}
			e := ends{from, k + 1}
			iv := cells[e]
			if iv == nil {
				iv = &Interval{Check: r.looks[k].number, ToH: r.looks[k].soakH, from: from, to: k + 1}
				if from > 0 {
					iv.FromCheck, iv.FromH = r.looks[from-1].number, r.looks[from-1].soakH
				}
				cells[e] = iv
			}
			iv.AtRisk++
			if f == assay.Consumed {
				iv.Consumed++
				break
			}
			from = k + 1
		}
	}
	for _, iv := range cells {
		r.intervals = append(r.intervals, *iv)
		r.late = r.late || iv.to-iv.from > 1
	}
	slices.SortFunc(r.intervals, func(a, b Interval) int {
		if a.to != b.to {
			return a.to - b.to
		}
		return b.from - a.from
	})
}
