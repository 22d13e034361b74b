package compare

import (
	"math"
	"slices"
	"strconv"

	"soakline/internal/words"
)

// sitesPerBend: a curve may have one degree of freedom for so many sites, the lower
// end of the rule of one for every 10 to 20 independent observations (Harrell 2015,
// Regression Modeling Strategies, section 4.4; from memory): rows of one site are not
// independent. With two degrees (three knots) for the least curve, it needs 20 sites.
const sitesPerBend = 10

// knotShares are the quantiles at which 3, 4 and 5 knots stand (Harrell 2015, table
// 2.3; from memory).
var knotShares = map[int][]float64{
	3: {0.10, 0.50, 0.90},
	4: {0.05, 0.35, 0.65, 0.95},
	5: {0.05, 0.275, 0.5, 0.725, 0.95},
}

// Curve is a natural cubic spline of one covariate: straight beyond its outer knots.
type Curve struct {
	Column string    `json:"column"`
	Knots  []float64 `json:"knots"`
}

// addCurve adds the bent part of a natural cubic spline in the truncated power basis
// (Stone & Koo 1985, as written in Harrell 2015, eq. 2.25, from memory), divided by
// the square of the knots' range so that it has the covariate's unit. Where there are
// too few sites, or the values do not spread over three knots, the line stays straight.
func (f *frame) addCurve(name string, x []float64, mean float64) {
	sites := map[string]bool{}
	var values []float64
	for i, r := range f.rows {
		if !r.control {
			sites[r.d.Site] = true
			values = append(values, x[i])
		}
	}
	slices.Sort(values)
	n := min(5, len(sites)/sitesPerBend+1)
	if n < 3 {
		f.say("curve-straight-sites", "column", name, "sites", len(sites), "needed", 2*sitesPerBend)
		return
	}
	var knots []float64
	for ; n >= 3; n-- {
		knots = nil
		for _, q := range knotShares[n] {
			if k := quantile(values, q); len(knots) == 0 || k > knots[len(knots)-1] {
				knots = append(knots, k)
			}
		}
		if len(knots) == n {
			break
		}
	}
	if n < 3 {
		f.say("curve-straight-values", "column", name)
		return
	}
	var told []string
	for _, k := range knots {
		told = append(told, words.Number(k, ""))
	}
	f.curves = append(f.curves, Curve{Column: name, Knots: knots})
	f.say("curve-knots", "column", name, "n", n, "knots", told)
	for j := range n - 2 {
		f.addBase(base{term: name + "-curve" + strconv.Itoa(j+1), name: name, typical: bend(knots, j, mean)},
			func(i int) float64 { return bend(knots, j, x[i]) })
	}
}

// bend is the j-th bent function of a natural cubic spline at x.
func bend(t []float64, j int, x float64) float64 {
	cube := func(v float64) float64 { return math.Pow(math.Max(v, 0), 3) }
	k := len(t) - 1
	last := t[k] - t[k-1]
	s := cube(x-t[j]) - cube(x-t[k-1])*(t[k]-t[j])/last + cube(x-t[k])*(t[k-1]-t[j])/last
	return s / ((t[k] - t[0]) * (t[k] - t[0]))
}

// quantile of sorted values by linear interpolation (type 7 of Hyndman & Fan 1996,
// Am. Stat. 50:361–365).
func quantile(sorted []float64, q float64) float64 {
	h := q * float64(len(sorted)-1)
	i := int(h)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}
