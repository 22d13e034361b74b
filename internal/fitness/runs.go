package fitness

import (
	"maps"
	"math"
	"slices"

	"soakline/internal/assay"
	"soakline/internal/mixed"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// CheckRuns are the runs of like fates along the rows at one check: a run is a
// stretch of stakes whose baits were all gone, or all there. Stakes not known are
// passed over. Rows where all or none were gone have one run and tell nothing.
type CheckRuns struct {
	Check    int                  `json:"check"`
	Rows     int                  `json:"rows"` // with both fates
	Runs     int                  `json:"runs"`
	Expected float64              `json:"expected"` // were every order along each row alike
	P        assay.Maybe[float64] `json:"p"`        // two-sided
	Exact    bool                 `json:"exact"`
}

// exactRunRows: up to so many rows the distribution of their sum is convolved;
// beyond it is taken as normal.
const exactRunRows = 300

// runs counts runs of fates along rows read stake by stake.
func (l *look) runs() {
	byCheck := map[int][][2]int{}
	seen := map[int]int{}
	for _, r := range l.rows {
		if r.Control || len(r.Deployment.Stakes) == 0 {
			continue
		}
		along := alongRow(r.Deployment, r.CountsAs)
		for _, check := range slices.Sorted(maps.Keys(along)) {
			order := along[check]
			gone := 0
			for _, g := range order {
				if g {
					gone++
				}
			}
			if gone > 0 && gone < len(order) {
				byCheck[check] = append(byCheck[check], [2]int{gone, len(order) - gone})
				runs := countRuns(order)
				seen[check] += runs
				n := float64(len(order))
				l.r.RunsOfRows = append(l.r.RunsOfRows, RowRuns{Check: check, Runs: runs, Expected: 1 + 2*float64(gone)*(n-float64(gone))/n})
			}
		}
	}
	var checks []int
	for c := range byCheck {
		checks = append(checks, c)
	}
	slices.Sort(checks)
	var p []float64
	for _, c := range checks {
		v := CheckRuns{Check: c, Rows: len(byCheck[c]), Runs: seen[c]}
		var prob float64
		v.Expected, prob, v.Exact = runsP(byCheck[c], seen[c])
		v.P = assay.Some(prob)
		l.r.Runs = append(l.r.Runs, v)
		p = append(p, prob)
	}
	if len(p) == 0 {
		l.cannot(Runs, "no-stakes")
		return
	}
	adjusted := mixed.Holm(p) // over the checks: one test
	best := 0
	for i := range adjusted {
		if adjusted[i] < adjusted[best] {
			best = i
		}
	}
	v := l.r.Runs[best]
	how := "fitness.runs-few"
	if float64(v.Runs) > v.Expected {
		how = "fitness.runs-many"
	}
	by := "exact"
	if !v.Exact {
		by = "large-sample"
	}
	l.made(Runs, by, v.Rows, float64(v.Runs), adjusted[best], words.P{"expected": v.Expected, "check": v.Check, "rows": v.Rows, "how": words.Ref{Slug: how}})
}

// alongRow gives for each check the known fates in the order of the stakes, true
// where the bait was gone by then. A bait gone stays gone.
func alongRow(d *assay.Deployment, means []assay.How) map[int][]bool {
	if means == nil {
		means = rates.Means
	}
	type fates map[int]assay.Fate
	read := map[int]fates{}
	var stakes []int
	for _, s := range d.Stakes {
		if read[s.Check] == nil {
			read[s.Check] = fates{}
		}
		read[s.Check][s.Stake] = rates.FateUnder(s, means)
		stakes = append(stakes, s.Stake)
	}
	slices.Sort(stakes)
	stakes = slices.Compact(stakes)
	gone := map[int]bool{}
	out := map[int][]bool{}
	for _, c := range d.Checks {
		f, ok := read[c.Number]
		if !ok {
			continue
		}
		for _, s := range stakes {
			gone[s] = gone[s] || f[s] == assay.Consumed
			if gone[s] || f[s] == assay.Present {
				out[c.Number] = append(out[c.Number], gone[s])
			}
		}
	}
	return out
}

func countRuns(order []bool) int {
	n := 0
	for i := range order {
		if i == 0 || order[i] != order[i-1] {
			n++
		}
	}
	return n
}

// runsDistribution gives the chance of r runs, by r, in a row of a baits of one
// kind and b of the other, every order alike:
//
//	P(2k) = 2 C(a−1, k−1) C(b−1, k−1) / C(a+b, a)
//	P(2k+1) = [C(a−1, k) C(b−1, k−1) + C(a−1, k−1) C(b−1, k)] / C(a+b, a)
//
// Source: Wald & Wolfowitz (1940), Ann. Math. Stat. 11:147–162; from the
// argument of Stevens (1939), Ann. Eugenics 9:10–17.
func runsDistribution(a, b int) []float64 {
	p := make([]float64, 2*min(a, b)+2)
	all := lchoose(a+b, a)
	for r := 2; r < len(p); r++ {
		k := r / 2
		if r%2 == 0 {
			p[r] = 2 * math.Exp(lchoose(a-1, k-1)+lchoose(b-1, k-1)-all)
		} else {
			p[r] = math.Exp(lchoose(a-1, k)+lchoose(b-1, k-1)-all) + math.Exp(lchoose(a-1, k-1)+lchoose(b-1, k)-all)
		}
	}
	return p
}

func lchoose(n, k int) float64 {
	if k < 0 || k > n {
		return math.Inf(-1)
	}
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// runsP gives the expected sum of runs over rows and the two-sided p of the sum
// seen: twice the smaller tail, at most 1.
func runsP(rows [][2]int, seen int) (expected, p float64, exact bool) {
	variance := 0.0
	for _, r := range rows {
		a, b := float64(r[0]), float64(r[1])
		n := a + b
		expected += 1 + 2*a*b/n
		variance += 2 * a * b * (2*a*b - n) / (n * n * (n - 1))
	}
	if len(rows) > exactRunRows {
		d := math.Max(0, math.Abs(float64(seen)-expected)-0.5)
		return expected, math.Erfc(d / math.Sqrt(2*variance)), false
	}
	sum := []float64{1}
	for _, r := range rows {
		one := runsDistribution(r[0], r[1])
		next := make([]float64, len(sum)+len(one)-1)
		for i, x := range sum {
			if x == 0 {
				continue
			}
			for j, y := range one {
				next[i+j] += x * y
			}
		}
		sum = next
	}
	low, high := 0.0, 0.0
	for r, x := range sum {
		if r <= seen {
			low += x
		}
		if r >= seen {
			high += x
		}
	}
	return expected, math.Min(1, 2*math.Min(low, high)), true
}
