package compare

import (
	"slices"

	"soakline/internal/assay"
	"soakline/internal/rates"
)

// span is one observation of the frame: of AtRisk baits of one row present at
// FromH, Consumed were gone at ToH.
type span struct {
	row      int // place among the rows of the frame
	check    int // the check that ends it
	merged   bool
	fromH    float64
	toH      float64
	atRisk   int
	consumed int
	// late are baits not read at the check before, which are counted in consumed
	// together with the atRisk ones: which of them were consumed is not known.
	late []rates.Late
}

// takeSpans sets up the observations.
func (f *frame) takeSpans() {
	kept := f.rows[:0]
	for _, r := range f.rows {
		spans, slug := f.spansOf(r.d)
		if slug == "merged-interval" {
			f.say("merged-intervals-left-out")
		}
		if len(spans) == 0 {
			f.excluded = append(f.excluded, Excluded{r.d.ID, slug})
			continue
		}
		for _, s := range spans {
			s.row = len(kept)
			f.spans = append(f.spans, s)
		}
		kept = append(kept, r)
	}
	f.rows = kept
	f.controls = slices.ContainsFunc(f.rows, func(r entrant) bool { return r.control })
}

// spansOf turns a deployment's intervals into spans; slug says why there are none, if
// there are none. One whose consumed baits are
// known only together with those of baits unread before is a span of several
// stretches; where one effect stands for each check it counts as merged.
func (f *frame) spansOf(d *assay.Deployment) (spans []span, slug string) {
	ivs, _ := rates.Intervals(d, f.protocolOf(d).CountsAsConsumed...)
	spans = make([]span, 0, len(ivs))
	for _, iv := range ivs {
		spans = append(spans, span{check: iv.Check, merged: iv.Merged() || len(iv.Late) > 0, fromH: iv.FromH, toH: iv.ToH,
			atRisk: iv.AtRisk, consumed: iv.Consumed, late: iv.Late})
	}
	switch {
	case f.o.Check > 0:
		return upTo(d, spans, f.o.Check), "no-such-check"
	case f.byCheck():
		all := len(spans)
		if spans = slices.DeleteFunc(spans, func(s span) bool { return s.merged }); len(spans) < all {
			return spans, "merged-interval"
		}
	}
	return spans, rates.NeverRead
}

// baits is the number of baits that a span tells about.
func (s span) baits() int {
	n := s.atRisk
	for _, l := range s.late {
		n += l.AtRisk
	}
	return n
}

// stretch is what one group of baits of a span was exposed to.
type stretch struct {
	fromH, toH float64
	atRisk     int
}

// stretches of a span: one, or one more for each group of baits unread before.
func (s span) stretches() []stretch {
	all := []stretch{{s.fromH, s.toH, s.atRisk}}
	for _, l := range s.late {
		all = append(all, stretch{l.FromH, s.toH, l.AtRisk})
	}
	return all
}

// upTo puts all spans up to check k together: consumed by then, of the baits
// consumed by then or read at it.
func upTo(d *assay.Deployment, spans []span, k int) []span {
	s := span{check: k}
	for _, c := range d.Checks {
		if soak, ok := d.SoakH(c); ok && c.Number == k && (c.Read() || stakesAt(d, k)) {
			s.toH = soak
		}
	}
	for _, v := range spans {
		if v.check > k {
			continue
		}
		s.consumed += v.consumed
		if v.check == k {
			s.atRisk += v.baits() - v.consumed
		}
	}
	s.atRisk += s.consumed
	if s.toH <= 0 || s.atRisk == 0 {
		return nil
	}
	return []span{s}
}

func stakesAt(d *assay.Deployment, k int) bool {
	return slices.ContainsFunc(d.Stakes, func(f assay.StakeFate) bool { return f.Check == k })
}
