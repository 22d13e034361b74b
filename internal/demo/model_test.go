package demo

import (
	"math"
	"testing"

	"soakline/internal/assay"
)

// The draws of many seasons are held against the model by moments written out
// here anew, from the rates that each season's truth lists. Bounds are four
// standard errors: one comparison in 16,000 would fail by chance, and seeds are
// fixed, so none does.
const (
	seasonsDrawn = 150
	bound        = 4
)

// draws of seasons without their files.
func drawn(seed uint64) *Season {
	s := &Season{Seed: seed, teams: crews()}
	s.draw()
	return s
}

func TestCountsFollowTheModel(t *testing.T) {
	// For each interval: y ~ Binomial(r, 1 − exp(−H)) given the row's rate, H the
	// rate times the hours in the first hour and after it.
	var excess, variance [2][4]float64 // by interval; habitats and control
	var lost, atRisk [2]float64
	kind := map[string]int{seagrass: 0, sand: 1, reef: 2}
	for seed := range uint64(seasonsDrawn) {
		s := drawn(seed)
		for i, r := range s.rows {
			if len(r.Checks) != 2 || !r.Checks[0].Read() || r.Checks[0].Unread.Or(0) > 0 {
				continue // an unread bait belongs to two intervals
			}
			h := kind[r.Habitat]
			if r.IsControl() {
				h = 3
			}
			truth := s.Truth.Deployments[i]
			t1, _ := r.SoakH(r.Checks[0])
			t2, _ := r.SoakH(r.Checks[1])
			first, later := math.Min(t1, 1), math.Max(t1-1, 0)
			H := [2]float64{truth.FirstRatePerH*first + truth.LaterRatePerH*later, 0}
			H[1] = truth.FirstRatePerH*1 + truth.LaterRatePerH*(t2-1) - H[0]
			c1, l1, c2, l2 := r.Checks[0].Consumed.Or(0), r.Checks[0].Lost.Or(0), r.Checks[1].Consumed.Or(0), r.Checks[1].Lost.Or(0)
			y := [2]float64{float64(c1), float64(c2 - c1)}
			n := [2]float64{float64(r.Baits - l1), float64(r.Baits - c1 - l2)}
			for k := range 2 {
				p := 1 - math.Exp(-H[k])
				excess[k][h] += y[k] - n[k]*p
				variance[k][h] += n[k] * p * (1 - p)
			}
			if r.lossShare[1] == theModel().LossShare[1] {
				lost[0], atRisk[0] = lost[0]+float64(l1), atRisk[0]+float64(r.Baits)
				lost[1], atRisk[1] = lost[1]+float64(l2-l1), atRisk[1]+float64(r.Baits-c1-l1)
			}
		}
	}
	for k := range 2 {
		for h := range 4 {
			if z := excess[k][h] / math.Sqrt(variance[k][h]); math.Abs(z) > bound || variance[k][h] == 0 {
				t.Errorf("interval %d, kind %d: z = %.2f", k+1, h, z)
			}
		}
		q := theModel().LossShare[k]
		if z := (lost[k] - q*atRisk[k]) / math.Sqrt(q*(1-q)*atRisk[k]); math.Abs(z) > bound {
			t.Errorf("losses of interval %d: z = %.2f, share %.4f", k+1, z, lost[k]/atRisk[k])
		}
	}
}

func TestInterceptsFollowTheModel(t *testing.T) {
	m := theModel()
	var site, siteHabitat, deployment []float64
	for seed := range uint64(seasonsDrawn) {
		s := drawn(seed)
		for _, p := range s.Truth.Sites {
			site = append(site, p.Effect)
			for _, h := range habitats {
				if e, ok := p.HabitatEffect[h]; ok {
					siteHabitat = append(siteHabitat, e)
				}
			}
		}
		for _, d := range s.Truth.Deployments {
			deployment = append(deployment, d.Effect)
		}
	}
	for _, c := range []struct {
		name string
		x    []float64
		sd   float64
	}{{"site", site, m.SDSite}, {"site-habitat", siteHabitat, m.SDSiteHabitat}, {"deployment", deployment, m.SDDeployment}} {
		n := float64(len(c.x))
		sum, squares := 0.0, 0.0
		for _, v := range c.x {
			sum, squares = sum+v, squares+v*v
		}
		// Var of a mean of squares of a normal: 2 sd⁴ / n.
		if z := sum / n / (c.sd / math.Sqrt(n)); math.Abs(z) > bound {
			t.Errorf("%s: mean %.4f, z = %.2f", c.name, sum/n, z)
		}
		if z := (squares/n/(c.sd*c.sd) - 1) / math.Sqrt(2/n); math.Abs(z) > bound {
			t.Errorf("%s: SD %.4f, z = %.2f", c.name, math.Sqrt(squares/n), z)
		}
	}
}

// The mean proportions that Truth tells are integrals; here they are sums over
// a million quantiles of the normal, by the midpoint rule on the probability.
func TestMeanProportion(t *testing.T) {
	for _, c := range [][2]float64{{0.16, 0.65}, {1.448, 0.65}, {0.4525, 0.3}, {0.2, 0}} {
		const n = 100_000
		sum := 0.0
		for i := range n {
			p := (float64(i) + 0.5) / n
			z := math.Sqrt2 * math.Erfinv(2*p-1)
			sum += 1 - math.Exp(-c[0]*math.Exp(c[1]*z))
		}
		if got := meanProportion(c[0], c[1]); math.Abs(got-sum/n) > 1e-5 {
			t.Errorf("meanProportion(%v, %v) = %.6f, by quantiles %.6f", c[0], c[1], got, sum/n)
		}
	}
}

// SplitMix64's first outputs from seed 0 (Steele, Lea, Flood 2014; values of
// the Java reference implementation, from memory).
func TestMix(t *testing.T) {
	state := uint64(0)
	for _, want := range []uint64{0xe220a8397b1dcdaf, 0x6e789e6aa1b965f4, 0x06c45d188009454f} {
		if got := mix(state); got != want {
			t.Errorf("mix(%x) = %x, want %x", state, got, want)
		}
		state += 0x9E3779B97F4A7C15
	}
}

// TestDefaultSeedTells: with the default seed, sand is clearly below the other
// two and seagrass and reef cannot be told apart. Checked here with the plainest
// of methods, a paired t over the sites that hold both habitats: mean over a
// site's rows of log(−log(1 − p)), p = (C + ½)/(n − L + 1) at the second check.
//
// A reference implementation (testdata/fit.R; R 4.2.2, glmmTMB 1.1.5) gives on
// the same records, with site, site-habitat and row intercepts: reef/sand
// exp(1.285) = 3.62 (se 0.224, z 5.7), seagrass/sand exp(0.919) = 2.51
// (se 0.207, z 4.4), reef/seagrass exp(0.366) = 1.44 (se 0.224, z 1.63, p 0.10).
func TestDefaultSeedTells(t *testing.T) {
	sums, n := map[[2]string]float64{}, map[[2]string]float64{}
	for _, d := range Make(DefaultSeed).Clean() {
		if d.IsControl() || d.IsPractice() || len(d.Checks) < 2 {
			continue
		}
		c := d.Checks[1]
		p := (float64(c.Consumed.Or(0)) + 0.5) / float64(d.Baits-c.Lost.Or(0)+1)
		key := [2]string{d.Site, d.Habitat}
		sums[key] += math.Log(-math.Log1p(-p))
		n[key]++
	}
	paired := func(a, b string) (ratio, tValue float64) {
		var x []float64
		for _, c := range crews() {
			for _, p := range c.sites {
				ka, kb := [2]string{p.name, a}, [2]string{p.name, b}
				if n[ka] > 0 && n[kb] > 0 {
					x = append(x, sums[ka]/n[ka]-sums[kb]/n[kb])
				}
			}
		}
		mean, square := 0.0, 0.0
		for _, v := range x {
			mean += v / float64(len(x))
		}
		for _, v := range x {
			square += (v - mean) * (v - mean)
		}
		return math.Exp(mean), mean / math.Sqrt(square/float64(len(x)-1)/float64(len(x)))
	}
	for _, c := range []struct {
		a, b  string
		clear bool
	}{{reef, sand, true}, {seagrass, sand, true}, {reef, seagrass, false}} {
		ratio, tValue := paired(c.a, c.b)
		t.Logf("%s/%s: ratio %.2f, t %.2f", c.a, c.b, ratio, tValue)
		if clear := tValue > 3; clear != c.clear || !c.clear && math.Abs(tValue) > 2 {
			t.Errorf("%s/%s: ratio %.2f, t %.2f", c.a, c.b, ratio, tValue)
		}
	}
}

func TestEveryRowTakesTheSameDraws(t *testing.T) {
	// A team more or a longer soak must not change what other rows drew: each
	// row has streams of its own. Drop the last team and compare.
	whole := drawn(DefaultSeed)
	less := &Season{Seed: DefaultSeed, teams: crews()[:3]}
	less.draw()
	for i, r := range less.rows {
		if r.ratePerH != whole.rows[i].ratePerH || r.Checks[0].Consumed != whole.rows[i].Checks[0].Consumed {
			t.Errorf("row %s differs without the last team", r.ID)
		}
	}
	if n := len(less.rows); n >= len(whole.rows) || whole.rows[n].Control == assay.Shielded {
		t.Error("the teams are not apart")
	}
}
