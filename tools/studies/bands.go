package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"soakline/internal/assay"
	"soakline/internal/rates"
)

// group is one habitat: clusters of rows of 25 baits at 1 h and 24 h whose
// hazards differ by normals on the log scale, Weibull shape 0.8 over the soak.
type group struct {
	clusters, rows int
	sd, rowSD      float64
	typical        float64 // survival at 24 h of a typical row
	off            bool    // visits up to 9 min and 90 min off, else on time
}

func (g *group) hazard(h float64) float64 { return -math.Log(g.typical) * math.Pow(h/24, 0.8) }

// survival at soak h over all clusters and rows.
func (g *group) survival(h float64) float64 {
	sum, w := 0.0, 0.0
	sd := math.Hypot(g.sd, g.rowSD)
	for z := -6.0; z <= 6; z += 0.02 {
		p := math.Exp(-z * z / 2)
		sum += p * math.Exp(-g.hazard(h)*math.Exp(sd*z))
		w += p
	}
	return sum / w
}

func (g *group) draw(rng *rand.Rand) []assay.Deployment {
	var ds []assay.Deployment
	for c := range g.clusters {
		site := g.sd * rng.NormFloat64()
		for range g.rows {
			f := math.Exp(site + g.rowSD*rng.NormFloat64())
			soaks := []float64{1, 24}
			if g.off {
				soaks[0] += math.Round(18*(rng.Float64()-0.5)) / 60
				soaks[1] += math.Round(180*(rng.Float64()-0.5)) / 60
			}
			d := assay.Deployment{ID: fmt.Sprintf("D%04d", len(ds)+1), Site: fmt.Sprintf("site %02d", c+1), Habitat: "sand", SetOut: at(0), Baits: 25}
			consumed := []int{0, 0}
			for range d.Baits {
				e := rng.ExpFloat64()
				for k, h := range soaks {
					if e <= f*g.hazard(h) {
						consumed[k]++
					}
				}
			}
			for k, h := range soaks {
				d.Checks = append(d.Checks, assay.Check{Number: k + 1, At: at(h), Consumed: assay.Some(consumed[k]), Lost: assay.Some(0)})
			}
			ds = append(ds, d)
		}
	}
	return ds
}

// nearest is the stretch nearest to h on h's side of 5 h; nil when there is none.
func nearest(all []rates.Stretch, h float64) *rates.Stretch {
	var best *rates.Stretch
	off := func(x *rates.Stretch) float64 { return max(0, x.FromH-h, h-x.ToH) }
	for k := range all {
		x := &all[k]
		if x.ToH > 0 && (x.FromH < 5) == (h < 5) && (best == nil || off(x) < off(best)) {
			best = x
		}
	}
	return best
}

// bandShort are the two messages that a band may be too narrow: always under 20
// clusters, and where a few hold most of what is counted.
const bandShort = "rates-band-small-sample" + either + "rates-band-short"

// bandStudy: whether the band of a group's curve holds the survival of the
// habitat at 1 h and at 24 h.
func bandStudy() study {
	s := study{name: "bands", title: "Bands of a group's curve",
		about: "One habitat, rows of 25 baits; each cluster is a row, or a site of three rows. How often the band holds the survival at the stretches nearest to 1 h and 24 h, " +
			"and its width at 24 h.",
		columns: []column{
			{name: "band near 1 h", kind: atLeast, low: 0.935, told: bandShort}, {name: "band near 24 h", kind: atLeast, low: 0.935, told: bandShort},
			{name: "width near 24 h", kind: plain}, {name: bandShort, kind: said},
		}}
	for _, n := range []int{6, 8, 12, 20, 40} {
		for _, g := range []group{
			{rows: 1, sd: 0.5, typical: 0.95}, {rows: 1, sd: 0.5, typical: 0.5}, {rows: 1, sd: 0.5, typical: 0.1},
			{rows: 1, sd: 1.2, typical: 0.95}, {rows: 1, sd: 1.2, typical: 0.5}, {rows: 1, sd: 1.2, typical: 0.1},
			{rows: 1, sd: 1.2, typical: 0.5, off: true}, {rows: 3, sd: 0.8, rowSD: 0.5, typical: 0.5, off: true},
			{rows: 1, sd: 1.2, typical: 0.01},
		} {
			g.clusters = n
			name := fmt.Sprintf("%d rows, SD %g, survival %.2f and %.2f", n, g.sd, g.survival(1), g.survival(24))
			if g.rows > 1 {
				name = fmt.Sprintf("%d sites of %d rows, SDs %g and %g, survival %.2f and %.2f", n, g.rows, g.sd, g.rowSD, g.survival(1), g.survival(24))
			}
			if g.off {
				name += ", visits off"
			}
			s.lines = append(s.lines, line{name, 400, g.covered})
		}
	}
	return s
}

func (g group) covered(rng *rand.Rand, seed uint64) []float64 {
	r := mustRates(g.draw(rng), rates.Options{Group: rates.ByHabitat, Seed: seed, Replicates: 200})
	out := []float64{math.NaN(), math.NaN(), math.NaN(), 0}
	for _, slug := range slugs(bandShort) {
		out[3] = max(out[3], says(r.Messages, func(m rates.Message) string { return m.Slug }, slug))
	}
	for i, h := range []float64{1, 24} {
		x := nearest(r.Groups[0].Survival, h)
		if x == nil {
			continue
		}
		low, high := g.survival(x.ToH), g.survival(x.FromH)
		out[i] = is(x.Lower.Or(0) <= low+1e-12 && high <= x.Upper.Or(1)+1e-12)
		out[2] = x.Upper.Or(1) - x.Lower.Or(0)
	}
	return out
}
