package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// ragged makes awkward data: few groups, few trials, rates from nearly never to
// nearly always, empty and full observations, one to three levels, a covariate far
// from zero.
func ragged(seed uint64) (*Data, Options) {
	rng := rand.New(rand.NewPCG(seed, 4242))
	levels := []string{"site", "site-habitat", "deployment"}[:rng.IntN(4)]
	d := NewData([]string{"one", "band2", "b", "c", "year"}, levels)
	base := -5 + 6*rng.Float64()
	effect := 2 * rng.NormFloat64()
	sites, rows, baits := 2+rng.IntN(7), 1+rng.IntN(4), 1+rng.IntN(25)
	o := Options{Link: Link(rng.IntN(2)), NoSeparated: rng.IntN(4) > 0}
	dep := 0
	for s := 0; s < sites; s++ {
		us := rng.NormFloat64()
		for h := 0; h < 3; h++ {
			uh := 0.5 * rng.NormFloat64()
			for k := 0; k < rows; k++ {
				dep++
				g := []int{s, h, dep}[:len(levels)]
				u := us + uh + 0.7*rng.NormFloat64()
				r := baits
				for band := 0; band < 2; band++ {
					x := []float64{1, float64(band), 0, 0, 2020 + float64(dep%4)}
					if h > 0 {
						x[1+h] = 1
					}
					p := -math.Expm1(-math.Exp(base + u + effect*x[2]))
					y := 0
					for b := 0; b < r; b++ {
						if rng.Float64() < p {
							y++
						}
					}
					if err := d.Add(y, r, g, Piece{Exposure: 0.5 + rng.Float64(), X: x}); err != nil {
						panic(err)
					}
					r -= y
				}
			}
		}
	}
	return d, o
}

// TestRagged: awkward data end by a name; a usable ending has a finite
// likelihood, finite estimates of the terms that have one, and standard errors.
func TestRagged(t *testing.T) {
	ends := map[Ending]int{}
	n := uint64(150)
	for seed := uint64(1); seed <= n; seed++ {
		d, o := ragged(seed)
		r, err := Fit(d, o)
		must(t, err)
		ends[r.Ending]++
		if !r.Ending.Usable() {
			if last := r.Notices[len(r.Notices)-1]; r.Ending == StepLimit && last.Slug != SlugSpreadUnbounded {
				t.Errorf("seed %d: no maximum, and no reason: %+v", seed, r.Notices)
			}
			continue
		}
		if math.IsNaN(r.LogLik) || math.IsInf(r.LogLik, 0) || r.LogLik > 1e-9 {
			t.Errorf("seed %d: loglik %v", seed, r.LogLik)
		}
		for _, f := range r.Fixed {
			if !f.Aliased && !f.Separated && (math.IsNaN(f.Estimate) || math.Abs(f.Estimate) > 1e5) {
				t.Errorf("seed %d: %+v", seed, f)
			}
			if !f.Aliased && !f.Separated && !(f.SE > 0 && f.SE < 1e4) {
				t.Errorf("seed %d: %+v %v", seed, f, r.Notices)
			}
		}
	}
	t.Log(ends)
	if ends[StepLimit] > 2 {
		t.Errorf("%d of %d without an answer", ends[StepLimit], n)
	}
}

// TestNullNeverHigher: dropping terms never raises the likelihood, on awkward
// data, separated or not.
func TestNullNeverHigher(t *testing.T) {
	for seed := uint64(1001); seed <= 1080; seed++ {
		d, o := ragged(seed)
		o.NoSeparated = true
		r, err := Fit(d, o)
		must(t, err)
		if !r.Ending.Usable() {
			continue
		}
		for _, drop := range [][]string{{"b", "c"}, {"year"}, {"band2"}} {
			n, err := r.Without(drop...)
			must(t, err)
			if n.Ending.Usable() && n.LogLik > r.LogLik+2e-5 {
				t.Errorf("seed %d without %v: %.7f (%s %+v), with %.7f (%s %+v)", seed, drop, n.LogLik, n.Ending, n.Random, r.LogLik, r.Ending, r.Random)
			}
		}
	}
}

// raggedBands is ragged with two bands cut by overlap and, by turns, control
// rows with a background hazard, or the beta-binomial on one interval.
func raggedBands(seed uint64) (*Data, Options) {
	rng := rand.New(rand.NewPCG(seed, 777))
	levels := []string{"site", "deployment"}[:rng.IntN(3)]
	controls := seed%3 == 0
	o := Options{NoSeparated: rng.IntN(3) > 0}
	beta := seed%3 == 1
	if beta {
		o.Family = BetaBinomial
		o.Link = Link(rng.IntN(2))
		levels = levels[:min(len(levels), 1)]
	}
	d := NewData([]string{"control", "band1", "band2", "b"}, levels)
	base, late, effect := -3+4*rng.Float64(), -1-4*rng.Float64(), 2*rng.NormFloat64()
	back := -6 + 4*rng.Float64()
	for dep := 0; dep < 6+rng.IntN(30); dep++ {
		u := rng.NormFloat64()
		hab := float64(dep % 2)
		shielded := controls && dep%4 == 3
		r := 1 + rng.IntN(25)
		at := 0.0
		for k, end := range []float64{0.8 + 0.8*rng.Float64(), 20 + 6*rng.Float64()} {
			if k == 1 && beta {
				break
			}
			var ps []Piece
			h := 0.0
			for band, cut := range [][2]float64{{0, 1}, {1, 99}} {
				from, to := math.Max(at, cut[0]), math.Min(end, cut[1])
				if to <= from {
					continue
				}
				e := to - from
				if beta && o.Link == Logit {
					if len(ps) > 0 {
						break
					}
					e = 1
				}
				x := []float64{0, 1, 0, hab}
				rate := base
				if band == 1 {
					x[1], x[2] = 0, 1
					rate += late
				}
				if !shielded {
					ps = append(ps, Piece{Exposure: e, X: x})
					h += e * math.Exp(rate+effect*hab+u)
				}
			}
			if controls {
				ps = append(ps, Piece{Exposure: end - at, X: []float64{1, 0, 0, 0}, Background: true})
				h += (end - at) * math.Exp(back)
			}
			y := 0
			for b := 0; b < r; b++ {
				if rng.Float64() < -math.Expm1(-h) {
					y++
				}
			}
			if err := d.Add(y, r, []int{dep / 5, dep}[:len(levels)], ps...); err != nil {
				panic(err)
			}
			r -= y
			at = end
		}
	}
	return d, o
}

// TestRaggedBands: the same demands on bands by overlap, controls, and the
// beta-binomial.
func TestRaggedBands(t *testing.T) {
	ends := map[Ending]int{}
	for seed := uint64(1); seed <= 150; seed++ {
		d, o := raggedBands(seed)
		r, err := Fit(d, o)
		must(t, err)
		ends[r.Ending]++
		if !r.Ending.Usable() {
			if last := r.Notices[len(r.Notices)-1]; r.Ending == StepLimit && last.Slug != SlugSpreadUnbounded && last.Slug != SlugLaplaceBreaks {
				t.Errorf("seed %d: no maximum, and no reason: %+v %+v", seed, r.Notices, r.fit.theta)
			}
			continue
		}
		for _, f := range r.Fixed {
			if !f.Aliased && !f.Separated && !(math.Abs(f.Estimate) < 30 && f.SE > 0 && f.SE < 1e4) {
				t.Errorf("seed %d (%v): %+v %+v %+v", seed, o, f, r.Random, r.Notices)
			}
		}
		// whatever the data did, a mean and a contrast answer without a panic
		m := r.Mean([]Piece{{Exposure: 1, X: []float64{0, 1, 0, 1}}})
		if m.Proportion < 0 || m.Proportion > 1 {
			t.Errorf("seed %d: %+v", seed, m)
		}
	}
	t.Log(ends)
}
