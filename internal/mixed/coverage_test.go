package mixed

import (
	"context"
	"math"
	"testing"
)

// TestCoverage: 150 seasons of 20 sites × 2 habitats × 4 rows from a known
// truth. With 20 sites Wald limits of a contrast within sites should hold about
// their 95 %; at 150 seasons, 0.873 to 0.993 is what a true 0.945 gives with
// probability 0.999 (binomial, by R's qbinom).
func TestCoverage(t *testing.T) {
	const n = 150
	truth := []float64{math.NaN(), -1.5, 0.7}
	hit := make([]int, 3)
	var sd [3]float64
	for seed := uint64(1); seed <= n; seed++ {
		r, err := Fit(season(1000+seed, 160, [3]float64{0.6, 0.4, 0.5}), Options{Starts: 1})
		must(t, err)
		if !r.Ending.Usable() {
			t.Fatalf("seed %d: %s", seed, r.Ending)
		}
		for j := 1; j < 3; j++ {
			if f := r.Fixed[j]; f.Lower <= truth[j] && truth[j] <= f.Upper {
				hit[j]++
			}
		}
		for k := range sd {
			sd[k] += r.Random[k].SD / n
		}
	}
	for j := 1; j < 3; j++ {
		if c := float64(hit[j]) / n; c < 0.873 || c > 0.994 {
			t.Errorf("term %d: limits hold the truth in %.3f of seasons", j, c)
		}
	}
	t.Logf("coverage interval2 %.3f habitat %.3f, mean SDs %.3f", float64(hit[1])/n, float64(hit[2])/n, sd)
	// maximum likelihood is low by about one part in the number of sites
	for k, want := range []float64{0.6, 0.4, 0.5} {
		if math.Abs(sd[k]-want) > 0.08 {
			t.Errorf("level %d: mean SD %.3f, truth %.3f", k, sd[k], want)
		}
	}
}

func BenchmarkBootstrap400(b *testing.B) {
	d := season(1, 400, [3]float64{0.5, 0.3, 0.4})
	full, err := Fit(d, Options{})
	must(b, err)
	null, err := full.Without("habitat")
	must(b, err)
	b.ResetTimer()
	for i := 0; i < b.N; i++ {
		const n = 20
		p, err := ParametricBootstrap(context.Background(), full, null, BootstrapOptions{Replicates: n, Seed: 1, Workers: 1, Contrasts: [][]float64{{0, 0, 1, 0}}})
		must(b, err)
		if p.Failed > 0 {
			b.Fatal("failed refits")
		}
		b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N)/n, "ms/replicate")
	}
}
