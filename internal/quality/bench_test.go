package quality

import (
	"fmt"
	"testing"
	"time"

	"soakline/internal/assay"
)

// many is an invented programme of n rows: 50 rows a site, sites along a coast
// that runs east and west (the Algarve's), one row in ten with a fault.
func many(n int) []assay.Deployment {
	deps := make([]assay.Deployment, n)
	for k := range deps {
		d := good(k % 50)
		d.ID, d.Site = fmt.Sprintf("D%d", k), fmt.Sprintf("site %d", k/50)
		d.Latitude = assay.Some(37.05 + 0.0004*float64(k%50))
		d.Longitude = assay.Some(-8.9 + 0.0008*float64(k/50))
		d.Where.Line = k + 2
		if k%10 == 0 {
			d.Checks[0].Consumed = assay.Some(26)
			d.Observers, d.BaitBatch = "", ""
		}
		deps[k] = d
	}
	return deps
}

func BenchmarkJudge100k(b *testing.B) {
	deps := many(100000)
	for b.Loop() {
		Judge(deps, Context{Now: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)})
	}
}

// With the fates of every stake: 5 million of them.
func BenchmarkJudge100kStakes(b *testing.B) {
	deps := many(100000)
	s := newSeason()
	fated(s)
	for k := range deps {
		deps[k].Stakes = s.d().Stakes
	}
	for b.Loop() {
		Judge(deps, Context{})
	}
}

// The worst that a file can hold: every row at one place and time, with the
// same counts, or with one identifier. Ten times the rows must cost about ten
// times, not a hundred.
func BenchmarkJudgeAlike(b *testing.B) {
	for name, spoil := range map[string]func(k int, d *assay.Deployment){
		"same place and time": func(k int, d *assay.Deployment) { d.Checks[1].Consumed = assay.Some(9 + k%10) },
		"same row":            func(k int, d *assay.Deployment) {},
		"same identifier":     func(k int, d *assay.Deployment) { d.ID = "D" },
	} {
		for _, n := range []int{10000, 100000} {
			deps := make([]assay.Deployment, n)
			for k := range deps {
				deps[k] = good(0)
				deps[k].ID = fmt.Sprintf("D%d", k)
				deps[k].Where.Line = k + 2
				deps[k].Season = fmt.Sprint(k % 10)
				spoil(k, &deps[k])
			}
			b.Run(fmt.Sprintf("%s/%d", name, n), func(b *testing.B) {
				for b.Loop() {
					Judge(deps, Context{})
				}
			})
		}
	}
}
