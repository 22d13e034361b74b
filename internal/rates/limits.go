package rates

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Method is how the limits of a proportion are made.
type Method string

// The three methods; Wilson is the default.
const (
	Wilson         Method = "wilson"
	ClopperPearson Method = "clopper-pearson"
	Jeffreys       Method = "jeffreys"
)

// Methods lists them.
var Methods = []Method{Wilson, ClopperPearson, Jeffreys}

// Limits gives the two-sided interval for a proportion p seen among n
// independent baits, at the given level (0.95 for 95 %). n need not be whole: it
// is an effective number where baits were lost. The interval lies in [0, 1] and
// contains p.
//
// Methods: docs/methods/rates.md, "Limits of a proportion".
// It returns an error if n is not above 0, p is outside [0, 1], level is outside
// (0, 1) or m is none of Methods.
func (m Method) Limits(p, n, level float64) (lower, upper float64, err error) {
	switch {
	case !(n > 0) || math.IsInf(n, 1):
		return 0, 0, fmt.Errorf("rates: %v baits are not enough for an interval", n)
	case !(p >= 0 && p <= 1):
		return 0, 0, fmt.Errorf("rates: proportion %v is outside 0 to 1", p)
	case !(level > 0 && level < 1):
		return 0, 0, fmt.Errorf("rates: level %v is outside 0 to 1", level)
	}
	switch m {
	case Wilson:
		lower, upper = wilson(p, n, level)
	case ClopperPearson:
		// The upper limit of x is 1 − the lower limit of n − x: near 1 the
		// quantile itself loses digits.
		lower, upper = exactLower(p*n, n, level), 1-exactLower((1-p)*n, n, level)
	case Jeffreys:
		lower, upper = jeffreysLower(p, n, level), 1-jeffreysLower(1-p, n, level)
	default:
		return 0, 0, fmt.Errorf("rates: %q is no method for an interval; use wilson, clopper-pearson or jeffreys", m)
	}
	// Rounding may carry an end past the estimate or past 0 and 1.
	return max(0, min(lower, p)), min(1, max(upper, p)), nil
}

func wilson(p, n, level float64) (lower, upper float64) {
	z := distuv.UnitNormal.Quantile(0.5 + level/2)
	return score(p, n, z)
}

// score is the score interval with a stated quantile z: Wilson (1927), J. Am.
// Stat. Assoc. 22:209-212.
func score(p, n, z float64) (lower, upper float64) {
	mid := p + z*z/(2*n)
	half := z * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	d := 1 + z*z/n
	lower, upper = (mid-half)/d, (mid+half)/d
	// Exactly 0 and 1 at the ends; the difference above leaves a last digit.
	if p == 0 {
		lower = 0
	}
	if p == 1 {
		upper = 1
	}
	return lower, upper
}

// exactLower is the lower limit of Clopper and Pearson (1934), Biometrika
// 26:404-413, for x of n: the (1−level)/2 quantile of Beta(x, n − x + 1), 0 at x = 0.
func exactLower(x, n, level float64) float64 {
	if x <= 1e-12 {
		return 0
	}
	return mathext.InvRegIncBeta(x, max(n-x, 0)+1, (1-level)/2)
}

// jeffreysLower is the (1−level)/2 quantile of Beta(x + ½, n − x + ½), 0 at x =
// 0: Brown, Cai and DasGupta (2001), Stat. Sci. 16:101-133.
func jeffreysLower(p, n, level float64) float64 {
	if p <= 0 {
		return 0
	}
	return mathext.InvRegIncBeta(p*n+0.5, (1-p)*n+0.5, (1-level)/2)
}

// chi1 is the quantile of chi-squared with one degree of freedom.
func chi1(level float64) float64 {
	z := distuv.UnitNormal.Quantile(0.5 + level/2)
	return z * z
}
