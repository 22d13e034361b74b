package mixed

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Without refits the same observations with the named terms left out: the null
// model of a likelihood-ratio test. It has no covariance (LikelihoodOnly).
//
// It returns an error if a name is not a term.
func (r *Result) Without(terms ...string) (*Result, error) {
	drop := append([]bool(nil), r.dropped...)
next:
	for _, name := range terms {
		for j, t := range r.whole.terms {
			if t == name {
				drop[j] = true
				continue next
			}
		}
		return nil, fmt.Errorf("there is no term %q; the terms are %q", name, r.whole.terms)
	}
	o := r.opts
	o.NoSeparated, o.LikelihoodOnly = true, true
	if o.near = r.known(); o.near != nil {
		o.near.without(r, drop)
	}
	return fitFrame(r.data, r.whole, o, drop), o.stopped()
}

// RatioTest is a likelihood-ratio test. Chi2 and P are NaN where one of the
// models has no likelihood.
type RatioTest struct {
	Chi2 float64
	DF   int
	P    float64 // of the chi-squared distribution; too small where groups are few
}

// Ratio compares the fit with a null model inside it (see Without). A term
// without finite maximum enters with the supremum of the likelihood.
func (r *Result) Ratio(null *Result) RatioTest {
	t := RatioTest{Chi2: math.NaN(), P: math.NaN(), DF: r.rank.rank - null.rank.rank}
	if !r.Ending.Usable() || !null.Ending.Usable() {
		return t
	}
	t.Chi2 = math.Max(0, 2*(r.LogLik-null.LogLik))
	if t.DF > 0 {
		t.P = distuv.ChiSquared{K: float64(t.DF)}.Survival(t.Chi2)
	}
	return t
}
