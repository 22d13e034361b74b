package task

import (
	"errors"

	"soakline/internal/prep"
)

// ReadKit reads a kit's text; an empty one is the usual kit.
func ReadKit(text string) (prep.Kit, error) {
	k, err := prep.ReadKit(text)
	return k, prepRefusal(err)
}

// Materials is what so many rows need.
func Materials(k prep.Kit, a prep.Ask) (prep.List, error) {
	l, err := prep.Materials(k, a)
	return l, prepRefusal(err)
}

func prepRefusal(err error) error {
	var f *prep.Fault
	if errors.As(err, &f) {
		return &Refused{Slug: f.Slug, With: f.With}
	}
	return err
}

// Before is what went short in the rows of a source: stakes of which it was
// written down how many came back, baits that the protocol asks for, and baits
// of its batches that were measured and found out of size or badly tied.
type Before struct{ StakesSet, StakesBack, BaitsWanted, BaitsSet, BaitsMeasured, BaitsRejected int }

// BeforeOf looks back on a season.
func BeforeOf(s *Season) (b Before) {
	for i := range s.Deployments {
		d := &s.Deployments[i]
		if n, ok := d.StakesRetrieved.Get(); ok && n >= 0 && n <= d.Baits {
			b.StakesSet += d.Baits
			b.StakesBack += n
		}
		if want := s.protocolOf(d).Baits; d.Baits > 0 && d.SetOut.Known() {
			b.BaitsWanted += want
			b.BaitsSet += min(want, d.Baits)
		}
	}
	b.BaitsMeasured, b.BaitsRejected = rejected(s)
	return b
}

// Past are the shares that went short, by the item they are the spare of.
func (b Before) Past() map[string]float64 {
	past := map[string]float64{}
	if b.StakesSet > b.StakesBack {
		share := float64(b.StakesSet-b.StakesBack) / float64(b.StakesSet)
		past["stakes"], past["labels"] = share, share
	}
	if b.BaitsWanted > b.BaitsSet {
		past["baits"] = float64(b.BaitsWanted-b.BaitsSet) / float64(b.BaitsWanted)
	}
	// Of m measured r are no good: for every good one m / (m - r) are cut. Where
	// none was good the sample tells no number.
	if m, r := b.BaitsMeasured, b.BaitsRejected; r > 0 && r < m {
		past["baits"] = max(past["baits"], float64(r)/float64(m-r))
	}
	return past
}
