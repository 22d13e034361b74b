package compare

import (
	"math"

	"soakline/internal/mixed"
)

// contrastVectors are all pairs of levels, the later one over the earlier, at the
// covariates' mean and, where the factor is taken together with time, averaged over
// the bands.
func (f *frame) contrastVectors() (pairs [][2]int, vectors [][]float64) {
	weights := f.bandWeights()
	x := f.typical()
	at := func(level int) []float64 {
		sum := make([]float64, len(f.terms))
		for k, w := range weights {
			for j, v := range f.design(k, level, x) {
				sum[j] += w * v
			}
		}
		return sum
	}
	for j := range f.levels {
		for i := range j {
			pairs, vectors = append(pairs, [2]int{j, i}), append(vectors, minus(at(j), at(i)))
		}
	}
	return pairs, vectors
}

func minus(a, b []float64) []float64 {
	c := make([]float64, len(a))
	for i := range a {
		c[i] = a[i] - b[i]
	}
	return c
}

func (f *frame) contrasts(r *Result, fit *mixed.Result) {
	pairs, vectors := f.contrastVectors()
	if len(pairs) == 0 {
		return
	}
	var critical float64
	var adjusted []float64
	if f.o.Adjust == "simultaneous" {
		critical, adjusted = fit.Simultaneous(vectors, f.o.Seed)
	} else {
		critical = fit.SimultaneousCritical(vectors, f.o.Seed)
	}
	p := make([]float64, len(pairs))
	for i, v := range vectors {
		c := fit.Contrast(v)
		p[i] = c.P
		k := Contrast{A: f.levels[pairs[i][0]], B: f.levels[pairs[i][1]], P: maybe(c.P), Bound: TwoSided,
			Lower: maybe(math.Exp(c.Lower)), Upper: maybe(math.Exp(c.Upper))}
		if c.Bound == mixed.UpperOnly || c.Bound == mixed.LowerOnly {
			k.Bound = Bound(c.Bound)
		}
		ratio := maybe(math.Exp(c.Estimate))
		if f.o.Link == "logit" {
			k.OddsRatio = ratio
			f.say("ratio-is-odds")
		} else {
			k.RateRatio = ratio
		}
		k.LowerSimultaneous, k.UpperSimultaneous = maybe(math.Exp(c.Estimate-critical*c.SE)), maybe(math.Exp(c.Estimate+critical*c.SE))
		if len(pairs) == 1 {
			k.LowerSimultaneous, k.UpperSimultaneous = k.Lower, k.Upper
		}
		r.Contrasts = append(r.Contrasts, k)
	}
	f.adjust(r, p, adjusted)
}

// adjust sets the adjusted p values; the family is every pair.
func (f *frame) adjust(r *Result, p, simultaneous []float64) {
	switch f.o.Adjust {
	case "holm":
		p = mixed.Holm(p)
	case "simultaneous":
		for i := range p {
			if !math.IsNaN(simultaneous[i]) {
				p[i] = simultaneous[i]
			}
		}
	}
	for i := range r.Contrasts {
		r.Contrasts[i].PAdjusted = maybe(p[i])
	}
}
