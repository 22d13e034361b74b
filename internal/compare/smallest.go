package compare

import (
	"maps"
	"math"
	"slices"

	"soakline/internal/assay"
)

// smallestP is the smallest p that a test can give which takes as known only how
// the levels came to lie over the sites: one over the number of ways in which
// they could have lain as well, times the number of ways that look the same to a
// test of all levels at once (levels of equally many sites may change names).
//
// Sites with one level exchange it among themselves; sites with several exchange
// them within the site, all rows of a level at a site together. Missing where
// sites are compared, where covariates enter (then no exchange leaves everything
// else as it was), and where there are no random sites.
//
// Source: Edgington & Onghena (2007), Randomization Tests, 4th ed., chapters 4
// and 6 (from memory).
func (f *frame) smallestP() assay.Maybe[float64] {
	if f.o.By == "site" || len(f.o.covariates()) > 0 || len(f.levels) < 2 || !slices.Contains(f.random, "site") {
		return assay.None[float64]()
	}
	at := map[string]map[int]bool{}
	for _, r := range f.rows {
		if r.control || r.level < 0 {
			continue
		}
		if at[r.d.Site] == nil {
			at[r.d.Site] = map[int]bool{}
		}
		at[r.d.Site][r.level] = true
	}
	single := make([]int, len(f.levels)) // sites that have this level alone
	ways, several, complete := 0.0, 0, true
	shared := make([]int, len(f.levels)+1) // sites by how many levels they have
	for _, levels := range at {
		if len(levels) > 1 {
			several++
			complete = complete && len(levels) == len(f.levels)
			shared[len(levels)]++
			continue
		}
		for l := range levels {
			single[l]++
		}
	}
	for n, sites := range shared { // added in a fixed order
		ways += float64(sites) * logFactorial(n)
	}
	total := 0
	for _, n := range single {
		total += n
		ways -= logFactorial(n)
	}
	ways += logFactorial(total)
	same := 0.0
	switch {
	case several == 0: // levels with equally many sites look the same
		count := map[int]int{}
		for _, n := range single {
			count[n]++
		}
		for _, n := range slices.Sorted(maps.Keys(count)) {
			same += logFactorial(count[n])
		}
	case total == 0 && complete:
		same = logFactorial(len(f.levels))
	}
	return assay.Some(math.Min(1, math.Exp(same-ways)))
}

func logFactorial(n int) float64 {
	v, _ := math.Lgamma(float64(n + 1))
	return v
}
