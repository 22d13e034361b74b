package task

import (
	"math"
	"sync"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/water"
)

// 10,000 rows of two checks at 20 sites of 12 constituents each: what it costs to work
// out tide and light of every row and check.
func BenchmarkTideAndLightOf10000Rows(b *testing.B) {
	const file = "name,amplitude_m,phase_deg\nZ0,2,0\nM2,1,60\nS2,0.36,88\nN2,0.21,44\nK2,0.1,86\nK1,0.07,55\nO1,0.06,310\nP1,0.02,50\nQ1,0.01,270\nM4,0.03,120\nMS4,0.02,160\nMU2,0.03,30\nL2,0.02,70\n"
	var sites []*afloat
	for i := range 20 {
		o, err := water.Open(assay.Tide{Kind: assay.Constituents, File: "c.csv"}, []byte(file), nil, math.NaN())
		if err != nil {
			b.Fatal(err)
		}
		sites = append(sites, &afloat{site: assay.Site{ShallowBedM: assay.Some(0.2 + float64(i)/100)}, zone: time.UTC, tide: o})
	}
	rows := func() []assay.Deployment {
		ds := make([]assay.Deployment, 10000)
		for i := range ds {
			at := func(h float64) assay.Moment {
				return assay.Moment{At: time.Date(2026, 4, 1, 8, 0, 0, 0, time.UTC).Add(time.Duration((float64(i%180)*24 + h) * float64(time.Hour)))}
			}
			ds[i] = assay.Deployment{SetOut: at(0), Latitude: assay.Some(36.95), Longitude: assay.Some(-8.2), Checks: []assay.Check{{Number: 1, At: at(1)}, {Number: 2, At: at(24)}}}
		}
		return ds
	}
	for b.Loop() {
		s := &Season{Deployments: rows(), lightOnce: new(sync.Once)}
		for i := range s.Deployments {
			sites[i%len(sites)].of(&s.Deployments[i])
		}
		s.DeriveLight()
		if len(s.Deployments[9999].Derived) < 7 {
			b.Fatal(s.Deployments[9999].Derived)
		}
	}
}
