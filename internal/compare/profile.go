package compare

import (
	"context"
	"slices"

	"soakline/internal/mixed"
)

// allSpreads is the word for the SDs among what is profiled.
const allSpreads = "spread"

// profile sets the profile-likelihood limits that were asked for: of terms by their
// names, and of all SDs.
func (f *frame) profile(ctx context.Context, r *Result, fit *mixed.Result) error {
	if f.repeated || len(f.o.Profile) == 0 || !fit.Ending.Usable() {
		return nil
	}
	for _, name := range f.o.Profile {
		if name == allSpreads {
			for k := range r.Random {
				lower, upper := fit.ProfileSD(k)
				r.Random[k].Lower, r.Random[k].Upper = maybe(lower), maybe(upper)
				if err := ctx.Err(); err != nil {
					return err
				}
			}
			continue
		}
		i := slices.Index(f.terms, name)
		if i < 0 {
			return wrong("compare.no-term", "term", name, "terms", f.terms)
		}
		c := make([]float64, len(f.terms))
		c[i] = 1
		lower, upper := fit.ProfileContrast(c)
		r.Fixed[i].ProfileLower, r.Fixed[i].ProfileUpper = maybe(lower), maybe(upper)
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}
