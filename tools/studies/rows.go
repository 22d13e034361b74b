package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"soakline/internal/assay"
	"soakline/internal/rates"
)

// holds says whether limits, of which one or both may be missing, hold x.
func holds(lower, upper assay.Maybe[float64], x float64) float64 {
	return is(lower.Or(math.Inf(-1)) <= x && x <= upper.Or(math.Inf(1)))
}

func mustRates(ds []assay.Deployment, o rates.Options) *rates.Result {
	r, err := rates.Compute(context.Background(), ds, o)
	if err != nil {
		panic(err)
	}
	return r
}

// rateStudy: one row, a constant rate; its limits, the three kinds of limits of
// the proportion at 24 h, and the test of constancy.
func rateStudy() study {
	s := study{name: "rate", title: "The rate of one row",
		about: "One row at a constant rate (1/h), checks at 1 h and 24 h. Limits of the rate (profile likelihood; missing ends count as open), " +
			"of the proportion consumed by the first check by the three methods, and how often the test of constancy finds a change that is not there.",
		columns: []column{
			{name: "limits of the rate", kind: atLeast, low: 0.935, told: "rates-limits-few"},
			{name: "Wilson", kind: atLeast, low: 0.935, told: "rates-limits-few"}, {name: "Clopper and Pearson", kind: atLeast, low: 0.935}, {name: "Jeffreys", kind: atLeast, low: 0.935, told: "rates-limits-few"},
			{name: "constancy rejected", kind: atMost, high: 0.065},
			{name: "rates-limits-few", kind: said},
		}}
	for _, baits := range []int{10, 25} {
		for _, rate := range []float64{0.003, 0.01, 0.03, 0.1, 0.3, 1} {
			truth := season{sites: 1, rows: 1, baits: baits, habitats: []habitat{{"sand", rate}}, soaksH: onTime}
			s.lines = append(s.lines, line{fmt.Sprintf("%d baits, rate %g", baits, rate), 4000, func(rng *rand.Rand, _ uint64) []float64 {
				ds := truth.draw(rng)
				out := make([]float64, 6)
				for i, m := range []rates.Method{rates.Wilson, rates.ClopperPearson, rates.Jeffreys} {
					r := mustRates(ds, rates.Options{Interval: m})
					d := r.Deployments[0]
					out[1+i] = holds(d.Checks[0].Lower, d.Checks[0].Upper, -math.Expm1(-rate))
					if i == 0 {
						out[0] = holds(d.RatePerH.Lower, d.RatePerH.Upper, rate)
						out[4] = says(r.Messages, func(m rates.Message) string { return m.Slug }, rates.RateNotConstant)
						out[5] = says(r.Messages, func(m rates.Message) string { return m.Slug }, "rates-limits-few")
					}
				}
				return out
			}})
		}
	}
	return s
}

// lossStudy: the proportion at 24 h where the fate of 30 % of the baits that
// were there at 1 h is not known.
func lossStudy() study {
	s := study{name: "loss", title: "Proportion consumed under late loss",
		about: "One row of 25 baits; the stakes of 30 % of the baits that were there at 1 h are missing at 24 h, whatever became of the bait. " +
			"Bias of the product limit at 24 h (must be under 0.005), of the plain share C / (n − L) beside it, how often the limits hold the truth. " +
			"Seasons in which nobody was at risk at the second check tell nothing.",
		columns: []column{
			{name: "bias", kind: within, low: -0.005, high: 0.005}, {name: "bias of the plain share", kind: plain},
			{name: "limits", kind: atLeast, low: 0.935, told: "rates-limits-few"},
			{name: "rates-limits-few", kind: said},
		}}
	for _, c := range []struct{ rate, later float64 }{{0.05, 0.2}, {0.1, 0.3}, {0.5, 0.05}, {0.5, 0.2}, {0.2, 0.5}, {1, 0.1}} {
		truth := season{sites: 1, rows: 1, baits: 25, habitats: []habitat{{"sand", c.rate}}, later: c.later, lost: 0.3, soaksH: onTime}
		p := -math.Expm1(-truth.hazard(c.rate, 24))
		s.lines = append(s.lines, line{fmt.Sprintf("%.2f by 1 h, %.2f by 24 h", -math.Expm1(-c.rate), p), 6000, func(rng *rand.Rand, _ uint64) []float64 {
			r := mustRates(truth.draw(rng), rates.Options{})
			k := r.Deployments[0].Checks[1]
			v, ok := k.Proportion.Get()
			if !ok {
				return []float64{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
			}
			return []float64{v - p, float64(k.Consumed)/float64(25-k.Lost) - p, holds(k.Lower, k.Upper, p),
				says(r.Messages, func(m rates.Message) string { return m.Slug }, "rates-limits-few")}
		}})
	}
	return s
}
