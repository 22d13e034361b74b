package rates

import "slices"

// fewHold says whether, on some stretch of the curve, a few of the clusters hold
// most of the baits gone or most of those left, whichever are fewer: the effective
// number of clusters (Σx)²/Σx² is under half of their number, and a bait a cluster
// or more is held. The spread between clusters then has a tail that so few of them
// do not show, and the band holds its level less often than it says
// (docs/methods/studies.md, "Bands of a group's curve"). Both limits are our own.
func (c *Curve) fewHold(p *pooled) bool {
	gone, left := make([]float64, len(p.clusters)), make([]float64, len(p.clusters))
	for _, s := range c.Survival {
		if s.Survival <= 0 || s.Survival >= 1 {
			continue
		}
		from, _ := slices.BinarySearch(p.grid, s.FromH)
		to, _ := slices.BinarySearch(p.grid, s.ToH)
		clear(gone)
		clear(left)
		for k := range p.clusters {
			for _, e := range p.clusters[k].entries {
				switch pair := p.pairs[e.pair]; {
				case pair.r <= from:
					gone[k] += e.weight
				case pair.l >= to:
					left[k] += e.weight
				}
			}
		}
		if fewer := rarer(gone, left); concentrated(fewer) {
			return true
		}
	}
	return false
}

// rarer is the one of two lists with the smaller sum.
func rarer(a, b []float64) []float64 {
	if sumOf(b) < sumOf(a) {
		return b
	}
	return a
}

func sumOf(x []float64) (sum float64) {
	for _, v := range x {
		sum += v
	}
	return sum
}

func concentrated(x []float64) bool {
	sum, squares := sumOf(x), 0.0
	for _, v := range x {
		squares += v * v
	}
	n := float64(len(x))
	return sum >= n && sum*sum < squares*n/2
}

// fewest is the number of baits gone or left at some check under which limits of
// the rate and of shares are short at some truths: the counts go in steps
// (docs/methods/studies.md, "The rate of one row").
const fewest = 5

// fewCounted is the number of rows with fewer than fewest baits gone, or left, at
// some check.
func (r *Result) fewCounted() (rows int) {
	for i := range r.Deployments {
		if slices.ContainsFunc(r.Deployments[i].Checks, func(c Check) bool {
			return c.Consumed < fewest || c.AtRisk-c.ConsumedInInterval < fewest
		}) {
			rows++
		}
	}
	return rows
}
