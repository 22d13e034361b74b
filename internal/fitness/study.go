package fitness

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
)

// Truth is a season made from a known model, for studies of how often a test
// says that something is off: two habitats at every site, rows read twice.
// Everything in it is invented.
type Truth struct {
	Sites, RowsPerHabitat, Baits        int
	RatePerH, RateLaterPerH             float64 // of the first hour, and after it; 0 takes 0.25 and 0.04
	Ratio                               float64 // rate in the second habitat over the first; 0 takes 2
	SDSite, SDSiteHabitat, SDDeployment float64
	SDInterval                          float64 // of row and interval: extra variation
	ReadLateH                           float64 // how much later than written the second habitat's first check was made
	PerDay, PerKm                       float64 // log rate a day, and a site's, a km to the east
	Clumped                             bool    // baits go in one stretch along the row
	Stakes                              bool    // fates stake by stake
}

// Season draws the truth's season of a seed and replicate.
func (t Truth) Season(seed uint64, rep int) []assay.Deployment {
	if t.RatePerH == 0 {
		t.RatePerH, t.RateLaterPerH = 0.25, 0.04
	}
	if t.Ratio == 0 {
		t.Ratio = 2
	}
	rng := stream(seed, "study", rep)
	var out []assay.Deployment
	day := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	for s := range t.Sites {
		// Sites lie in two lines, some kilometres apart, in no order along them.
		east, north := float64(s*7%t.Sites), float64(s%2)
		inSite := t.SDSite*rng.NormFloat64() + t.PerKm*5*(east-float64(t.Sites-1)/2)
		for h, habitat := range []string{"reef", "sand"} {
			inHabitat := inSite + t.SDSiteHabitat*rng.NormFloat64()
			for r := range t.RowsPerHabitat {
				n := rng.IntN(40)
				set := day.AddDate(0, 0, n).Add(time.Duration(7*60+rng.IntN(600)) * time.Minute)
				d := assay.Deployment{ID: fmt.Sprintf("S%d-%s-%d", s+1, habitat, r+1), Site: fmt.Sprint("site ", s+1), Habitat: habitat, Baits: t.Baits,
					Latitude: assay.Some(37 + north*0.05), Longitude: assay.Some(-8 + east*0.0562), SetOut: assay.Moment{At: set}}
				v := inHabitat + t.SDDeployment*rng.NormFloat64() + t.PerDay*(float64(n)-19.5)
				if h == 1 {
					v += math.Log(t.Ratio)
				}
				late := 0.0
				if h == 1 {
					late = t.ReadLateH
				}
				t.read(rng, &d, v, late)
				out = append(out, d)
			}
		}
	}
	return out
}

// read draws the counts of a row with log rate v above the baseline's.
func (t Truth) read(rng *rand.Rand, d *assay.Deployment, v, late float64) {
	gone := 0
	hazards := []float64{t.RatePerH + t.RateLaterPerH*late, t.RateLaterPerH * (23 - late)}
	for k, h := range hazards {
		p := -math.Expm1(-h * math.Exp(v+t.SDInterval*rng.NormFloat64()))
		for range d.Baits - gone {
			if rng.Float64() < p {
				gone++
			}
		}
		soak := []float64{1, 24}[k]
		d.Checks = append(d.Checks, assay.Check{Number: k + 1, At: assay.Moment{At: d.SetOut.At.Add(time.Duration(soak * float64(time.Hour)))},
			Consumed: assay.Some(gone), Lost: assay.Some(0), Unread: assay.Some(0)})
	}
	if !t.Stakes {
		return
	}
	order := rng.Perm(d.Baits)
	if t.Clumped {
		for i := range order {
			order[i] = i
		}
	}
	for k, c := range d.Checks {
		fate := make([]assay.Fate, d.Baits)
		for i, stake := range order {
			fate[stake] = assay.Present
			if i < c.Consumed.Or(0) {
				fate[stake] = assay.Consumed
			}
		}
		for stake, f := range fate {
			d.Stakes = append(d.Stakes, assay.StakeFate{Stake: stake + 1, Check: k + 1, Fate: f})
		}
	}
}

// Study counts how often each test's p is at most level in replicates of a
// truth's season: its size where the truth is the model, else its power. n is,
// by test, how many replicates could be tested.
func Study(ctx context.Context, t Truth, o Options, replicates int, level float64) (rejected, n map[string]int, err error) {
	rejected, n = map[string]int{}, map[string]int{}
	seed := o.Seed
	for i := range replicates {
		o.Seed = mix(seed + uint64(i))
		r, err := Look(ctx, t.Season(seed, i), compare.Options{Seed: o.Seed, Random: []string{"site", "site-habitat", "deployment"}}, o)
		if err != nil {
			return nil, nil, err
		}
		for _, v := range r.Tests {
			if p, ok := v.P.Get(); ok {
				n[v.Slug]++
				if p <= level {
					rejected[v.Slug]++
				}
			}
		}
		if o.Progress != nil {
			o.Progress(i+1, replicates)
		}
	}
	return rejected, n, nil
}
