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

// StakesBefore counts the stakes set and those that came back, over the rows
// of which it was written down how many did.
func StakesBefore(s *Season) (set, back int) {
	for i := range s.Deployments {
		d := &s.Deployments[i]
		if n, ok := d.StakesRetrieved.Get(); ok && n >= 0 && n <= d.Baits {
			set += d.Baits
			back += n
		}
	}
	return set, back
}
