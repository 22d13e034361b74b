package rates

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// season is one simulated group: rows of 25 baits at 1 h and 24 h, by cluster,
// with a hazard that differs between clusters and between rows by normals on the
// log scale, and Weibull shape 0.8 over the soak.
type season struct {
	clusters, rows int
	sd, rowSD      float64
	typical        float64 // survival at 24 h of a typical row
	jitter         bool    // visits up to 9 min and 90 min off, else on time
}

func (s *season) hazardAt(h float64) float64 {
	return -math.Log(s.typical) * math.Pow(h/24, 0.8)
}

// truth is the survival at soak h over all clusters and rows.
func (s *season) truth(h float64) float64 {
	sum, w := 0.0, 0.0
	sd := math.Hypot(s.sd, s.rowSD)
	for z := -6.0; z <= 6; z += 0.02 {
		p := math.Exp(-z * z / 2)
		sum += p * math.Exp(-s.hazardAt(h)*math.Exp(sd*z))
		w += p
	}
	return sum / w
}

func (s *season) draw(r *rand.Rand) []assayRow {
	var out []assayRow
	for c := range s.clusters {
		site := s.sd * r.NormFloat64()
		for range s.rows {
			f := math.Exp(site + s.rowSD*r.NormFloat64())
			soaks := []float64{1, 24}
			if s.jitter {
				soaks[0] += math.Round(18*(r.Float64()-0.5)) / 60
				soaks[1] += math.Round(180*(r.Float64()-0.5)) / 60
			}
			consumed, before := []int{0, 0}, 0.0
			all := 0
			for k, h := range soaks {
				q := -math.Expm1(-f * (s.hazardAt(h) - before))
				before = s.hazardAt(h)
				for range 25 - all {
					if r.Float64() < q {
						consumed[k]++
					}
				}
				all += consumed[k]
				consumed[k] = all
			}
			d := row("x", 25, soaks, consumed, []int{0, 0}, nil)
			d.Site = fmt.Sprintf("site %d", c)
			out = append(out, d)
		}
	}
	return out
}

// coverage is how often the band held the truth at the stretch nearest to 1 h and to 24 h, and
// its mean width.
func coverage(t *testing.T, s season, sims int) (band, width [2]float64) {
	var n [2]float64
	for k := range sims {
		ds := s.draw(stream(1, fmt.Sprint(s), k))
		res := compute(t, Options{Group: ByHabitat, Seed: uint64(k), Replicates: 200}, ds...)
		c := res.Groups[0]
		for i, h := range []float64{1, 24} {
			x := nearest(c.Survival, h)
			if x == nil {
				continue
			}
			n[i]++
			lo, hi := s.truth(x.ToH), s.truth(x.FromH)
			width[i] += x.Upper.Or(1) - x.Lower.Or(0)
			if x.Lower.Or(0) <= lo+1e-12 && hi <= x.Upper.Or(1)+1e-12 {
				band[i]++
			}
		}
	}
	for i := range n {
		band[i], width[i] = band[i]/n[i], width[i]/n[i]
	}
	return band, width
}

// nearest is the stretch nearest to h on h's side of 5 h; nil when there is none.
func nearest(all []Stretch, h float64) *Stretch {
	var best *Stretch
	off := func(x *Stretch) float64 { return max(0, x.FromH-h, h-x.ToH) }
	for k := range all {
		x := &all[k]
		if x.ToH > 0 && (x.FromH < 5) == (h < 5) && (best == nil || off(x) < off(best)) {
			best = x
		}
	}
	return best
}

// TestBandsCover holds three cases of the study of bands; the whole of it is
// tools/studies', whose table stands in docs/methods/studies.md.
func TestBandsCover(t *testing.T) {
	for _, s := range []season{
		{clusters: 6, rows: 1, sd: 1.2, typical: 0.5},
		{clusters: 8, rows: 3, sd: 0.8, rowSD: 0.5, typical: 0.9, jitter: true},
		{clusters: 24, rows: 1, sd: 0.8, typical: 0.3},
	} {
		band, width := coverage(t, s, 150)
		for i, b := range band {
			// 150 draws of a true 95 % fall below 0.90 less than once in 100.
			if !(b >= 0.90) || !(width[i] > 0) || width[i] > 0.8 {
				t.Errorf("%+v: coverage %.3f, width %.3f at %v h", s, b, width[i], []int{1, 24}[i])
			}
		}
	}
}
