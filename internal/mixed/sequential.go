package mixed

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Sequential says when a bootstrap may stop: as soon as it is settled, but for a
// stated risk over all looks together, on which side of Alpha every p value lies.
type Sequential struct {
	Alpha float64
	// Risk is the probability that a p value is put on the wrong side of Alpha; 0
	// means 0.001. It is shared out evenly between the test and the contrasts.
	Risk float64
	// Holm: the contrasts are one family, decided by Holm's adjustment.
	Holm bool
}

// looks are where a bootstrap may stop: after 99, 199, 299, … replicates, so that
// (1 + S)/(n + 1) is a whole number of hundredths.
const lookEvery = 100

// DefaultRisk is the risk of a sequential bootstrap where none is stated.
const DefaultRisk = 0.001

// PLimits are limits for a p value of which S of n replicates so far were at
// least as large as what was observed. They hold at every n at once with
// probability 1 − risk: the set of p with (n + 1) C(n, S) p^S (1 − p)^(n − S) > risk.
//
// Source: Robbins (1970), Ann. Math. Stat. 41:1397–1409, eq. (11) for the
// binomial with a uniform mixture (from memory); Lai (1976), Ann. Stat. 4:265–280.
func PLimits(n, s int, risk float64) (lower, upper float64) {
	if n == 0 {
		return 0, 1
	}
	bound := math.Log(risk) - math.Log(float64(n+1))
	lgn, _ := math.Lgamma(float64(n + 1))
	lgs, _ := math.Lgamma(float64(s + 1))
	lgr, _ := math.Lgamma(float64(n - s + 1))
	log := func(p float64) float64 {
		v := lgn - lgs - lgr
		if s > 0 {
			v += float64(s) * math.Log(p)
		}
		if s < n {
			v += float64(n-s) * math.Log1p(-p)
		}
		return v - bound
	}
	middle := float64(s) / float64(n)
	lower, upper = 0, 1
	if s > 0 {
		lower = crossing(log, 0, middle)
	}
	if s < n {
		upper = crossing(log, 1, middle)
	}
	return lower, upper
}

// crossing is where f changes its sign between out, where it is negative, and in,
// where it is not: 60 halvings.
func crossing(f func(float64) float64, out, in float64) float64 {
	for range 60 {
		mid := out + (in-out)/2
		if f(mid) > 0 {
			in = mid
		} else {
			out = mid
		}
	}
	return in
}

// fixedLimits are Clopper and Pearson's 99 % limits of a p value after a number of
// replicates that was fixed beforehand.
func fixedLimits(n, s int) (lower, upper float64) {
	lower, upper = 0, 1
	if s > 0 {
		lower = mathext.InvRegIncBeta(float64(s), float64(n-s+1), 0.005)
	}
	if s < n {
		upper = mathext.InvRegIncBeta(float64(s+1), float64(n-s), 0.995)
	}
	return lower, upper
}

// settled says whether every decision stands: that of the test and those of the
// contrasts, whose observed statistic must exist.
func (o *Sequential) settled(n int, test int, contrasts []int) bool {
	risk := o.Risk
	if risk == 0 {
		risk = DefaultRisk
	}
	risk /= float64(1 + len(contrasts))
	lower, upper := PLimits(n, test, risk)
	if lower <= o.Alpha && upper >= o.Alpha {
		return false
	}
	low, high := make([]float64, len(contrasts)), make([]float64, len(contrasts))
	for i, s := range contrasts {
		low[i], high[i] = PLimits(n, s, risk)
	}
	if o.Holm { // Holm's adjustment grows with every p, so what holds at both corners holds between
		low, high = Holm(low), Holm(high)
	}
	for i := range low {
		if low[i] <= o.Alpha && high[i] >= o.Alpha {
			return false
		}
	}
	return true
}
