package compare

import (
	"math"
	"slices"

	"soakline/internal/assay"
	"soakline/internal/mixed"
)

// restrict works out limits for few sites: Student's t with standard errors and degrees of freedom
// by the restricted likelihood (mixed.Restricted), never more degrees of freedom than the layout
// of sites leaves. With enough sites, or nothing to do it with, the fields stay missing.
func (f *frame) restrict(r *Result, fit *mixed.Result) {
	if len(fit.Random) == 0 || r.fewestSites() >= fewSites || f.hasControls() {
		return
	}
	few := fit.Restricted()
	if few == nil {
		return
	}
	means, pairs := f.mostDegrees(r.Sites)
	_, vectors := f.contrastVectors()
	for i := range r.Contrasts {
		c := &r.Contrasts[i]
		w := fit.Contrast(vectors[i])
		se, df := few.Contrast(vectors[i])
		if c.Bound != TwoSided || math.IsNaN(se) || math.IsNaN(w.Estimate) {
			continue
		}
		df = math.Max(1, math.Min(df, pairs))
		lower, upper := mixed.StudentLimits(w.Estimate, math.Max(se, w.SE), df, f.o.Level)
		c.DF, c.LowerT, c.UpperT = maybe(df), maybe(math.Exp(lower)), maybe(math.Exp(upper))
	}
	x := f.typical()
	for i := range r.Means {
		m := &r.Means[i]
		if !m.Lower.Known() || !m.Upper.Known() {
			continue
		}
		pieces := f.meanPieces(f.levelIndex(m.Level), m.SoakH, x)
		lower, upper, df := few.MeanLimits(pieces, means)
		m.DF, m.LowerT, m.UpperT = maybe(df), maybe(math.Min(lower, m.Lower.Or(lower))), maybe(math.Max(upper, m.Upper.Or(upper)))
		f.rateLimitsFew(m, fit, few, pieces, means)
	}
}

// tellsFew says whether limits for few sites were worked out: of the ratios, or where
// there are none, of the means.
func (r *Result) tellsFew() bool {
	if len(r.Contrasts) > 0 {
		return slices.ContainsFunc(r.Contrasts, func(c Contrast) bool { return c.LowerT.Known() })
	}
	return slices.ContainsFunc(r.Means, func(m Mean) bool { return m.LowerT.Known() })
}

// mostDegrees are the degrees of freedom that sites leave at most: for a mean, sites less one, or less
// levels where each site has one level only; for a ratio, (sites − 1)(levels − 1) where sites have
// several, the error then being habitat within site (containment, as for normal data; common practice, no source).
func (f *frame) mostDegrees(sites int) (means, pairs float64) {
	has := map[string]int{}
	several := false
	for _, e := range f.rows {
		if e.control {
			continue
		}
		if l, ok := has[e.d.Site]; ok && l != e.level {
			several = true
		}
		has[e.d.Site] = e.level
	}
	if !several {
		most := math.Max(1, float64(sites-len(f.levels)))
		return most, most
	}
	one := math.Max(1, float64(sites-1))
	return one, one * math.Max(1, float64(len(f.levels)-1))
}

func (f *frame) levelIndex(level string) int {
	for i, l := range f.levels {
		if l == level {
			return i
		}
	}
	return 0
}

// rateLimitsFew are rateLimits by the restricted likelihood and Student's t.
func (f *frame) rateLimitsFew(m *Mean, fit *mixed.Result, few *mixed.Restricted, pieces []mixed.Piece, most float64) {
	rate, ok := m.RateTypicalPerH.Get()
	if !ok || !(rate > 0) || !m.RateLowerPerH.Known() || !m.RateUpperPerH.Known() {
		return
	}
	c := f.hazardSlope(fit, pieces)
	if c == nil {
		return
	}
	se, df := few.Contrast(c)
	se = math.Max(se, fit.Contrast(c).SE)
	lower, upper := mixed.StudentLimits(math.Log(rate), se, math.Min(df, most), f.o.Level)
	m.RateLowerTPerH, m.RateUpperTPerH = maybe(math.Exp(lower)), maybe(math.Exp(upper))
}

// HeadlineLimits are the limits that are told first: those for few sites where they stand.
func (m Mean) HeadlineLimits() (lower, upper assay.Maybe[float64]) {
	if m.LowerT.Known() && m.UpperT.Known() {
		return m.LowerT, m.UpperT
	}
	return m.Lower, m.Upper
}

// HeadlineRateLimits are HeadlineLimits of the typical row's rate.
func (m Mean) HeadlineRateLimits() (lower, upper assay.Maybe[float64]) {
	if m.RateLowerTPerH.Known() && m.RateUpperTPerH.Known() {
		return m.RateLowerTPerH, m.RateUpperTPerH
	}
	return m.RateLowerPerH, m.RateUpperPerH
}
