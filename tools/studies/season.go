package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"soakline/internal/assay"
)

var setOut = time.Date(2026, 6, 1, 9, 0, 0, 0, time.UTC)

func at(h float64) assay.Moment {
	return assay.Moment{At: setOut.Add(time.Duration(math.Round(h*3600)) * time.Second)}
}

// habitat has a rate in the first hour (1/h) of its typical row.
type habitat struct {
	name string
	rate float64
}

// season is a truth: rows of baits at sites × habitats, hazard rate·exp(normal
// differences), constant in the first hour and later times that after it.
type season struct {
	sites, rows, baits int
	habitats           []habitat
	later              float64
	site, sh, row      float64 // SDs on the log scale
	between            bool    // one habitat a site, in turn
	lost               float64 // share of baits whose fate at the second check is not known
	soaksH             func(rng *rand.Rand, habitat string) []float64
	shielded           int     // shielded rows a site
	shieldedRate       float64 // 1/h; adds to every row's
}

func usual(rng *rand.Rand, _ string) []float64 {
	return []float64{0.9 + 0.3*rng.Float64(), 22 + 4*rng.Float64()}
}

func onTime(*rand.Rand, string) []float64 { return []float64{1, 24} }

func (s season) draw(rng *rand.Rand) []assay.Deployment {
	if s.soaksH == nil {
		s.soaksH = usual
	}
	if s.later == 0 {
		s.later = 1
	}
	var ds []assay.Deployment
	for i := range s.sites {
		site := s.site * rng.NormFloat64()
		name := fmt.Sprintf("site %02d", i+1)
		for j, h := range s.habitats {
			if s.between && j != i%len(s.habitats) {
				continue
			}
			sh := s.sh * rng.NormFloat64()
			for range s.rows {
				f := math.Exp(site + sh + s.row*rng.NormFloat64())
				soaks := s.soaksH(rng, h.name)
				ds = append(ds, s.deploy(rng, len(ds), name, h.name, soaks, h.rate*f, s.shieldedRate))
			}
		}
		for range s.shielded {
			d := s.deploy(rng, len(ds), name, s.habitats[0].name, s.soaksH(rng, s.habitats[0].name), 0, s.shieldedRate)
			d.Control = assay.Shielded
			ds = append(ds, d)
		}
	}
	return ds
}

// deploy draws each bait's time; other is a rate that does not change.
func (s season) deploy(rng *rand.Rand, n int, site, habitat string, soaks []float64, rate, other float64) assay.Deployment {
	d := assay.Deployment{ID: fmt.Sprintf("D%04d", n+1), Site: site, Habitat: habitat, SetOut: at(0), Baits: s.baits, Covariates: map[string]string{}}
	c, l := make([]int, len(soaks)), make([]int, len(soaks))
	for range s.baits {
		when := timeOf(rng.ExpFloat64(), rate, s.later, other)
		// whether its stake is missing at the second check has nothing to do with
		// its fate; consumed by the first check, it is known
		missing := rng.Float64() < s.lost
		for k, t := range soaks {
			switch {
			case k > 0 && missing && when > soaks[0]:
				l[k]++
			case when <= t:
				c[k]++
			}
		}
	}
	for k, t := range soaks {
		d.Checks = append(d.Checks, assay.Check{Number: k + 1, At: at(t), Consumed: assay.Some(c[k]), Lost: assay.Some(l[k])})
	}
	return d
}

// timeOf is the time at which the cumulative hazard reaches e.
func timeOf(e, rate, later, other float64) float64 {
	first := rate + other
	if first <= 0 {
		return math.Inf(1)
	}
	if e <= first {
		return e / first
	}
	after := rate*later + other
	if after <= 0 {
		return math.Inf(1)
	}
	return 1 + (e-first)/after
}

// hazard of a typical row up to soak h.
func (s season) hazard(rate, h float64) float64 {
	return (rate*math.Min(h, 1) + rate*s.later*math.Max(0, h-1)) + s.shieldedRate*h
}

// marginal is the mean proportion consumed by soak h over sites and rows, by
// the trapezoidal rule over the normal differences.
func (s season) marginal(rate, h float64) float64 {
	sd := math.Sqrt(s.site*s.site + s.sh*s.sh + s.row*s.row)
	sum, w := 0.0, 0.0
	for z := -8.0; z <= 8; z += 0.01 {
		p := math.Exp(-z * z / 2)
		sum += p * -math.Expm1(-s.hazard(rate, h)*math.Exp(sd*z))
		w += p
	}
	return sum / w
}

func is(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func says[M any](messages []M, slug func(M) string, want string) float64 {
	for _, m := range messages {
		if slug(m) == want {
			return 1
		}
	}
	return 0
}
