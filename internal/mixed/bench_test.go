package mixed

import (
	"math"
	"math/rand/v2"
	"testing"
)

// season makes deployments of 25 trials with two checks, two habitats crossed
// with sites of eight deployments, and known truth.
func season(seed uint64, deployments int, sd [3]float64) *Data {
	rng := rand.New(rand.NewPCG(seed, 1))
	d := NewData([]string{"baseline", "interval2", "habitat", "temperature"}, []string{"site", "site-habitat", "deployment"})
	var site, sh float64
	temp := 0.0
	for i := 0; i < deployments; i++ {
		if i%8 == 0 {
			site = sd[0] * rng.NormFloat64()
			temp = 20 + 3*rng.NormFloat64()
		}
		if i%4 == 0 {
			sh = sd[1] * rng.NormFloat64()
		}
		u := site + sh + sd[2]*rng.NormFloat64()
		hab := float64(i / 4 % 2)
		g := []int{i / 8, i / 4 % 2, i}
		t1 := 1 + 0.2*rng.Float64()
		r := 25
		for k, dt := range []float64{t1, 23 + rng.Float64()} {
			x := []float64{1, float64(k), hab, temp}
			h := dt * math.Exp(-2.5-1.5*float64(k)+0.7*hab+0.05*(temp-20)+u)
			y := 0
			for b := 0; b < r; b++ {
				if rng.Float64() < -math.Expm1(-h) {
					y++
				}
			}
			if err := d.Add(y, r, g, Piece{Exposure: dt, X: x}); err != nil {
				panic(err)
			}
			r -= y
		}
	}
	return d
}

func benchmarkFit(b *testing.B, n int) {
	d := season(1, n, [3]float64{0.5, 0.3, 0.4})
	b.ReportAllocs()
	b.ResetTimer()
	for i := 0; i < b.N; i++ {
		r, err := Fit(d, Options{})
		if err != nil || !r.Ending.Usable() {
			b.Fatal(err, r.Ending)
		}
		b.ReportMetric(float64(r.Evaluations), "evals")
	}
}

func BenchmarkFit400(b *testing.B)    { benchmarkFit(b, 400) }
func BenchmarkFit2000(b *testing.B)   { benchmarkFit(b, 2000) }
func BenchmarkFit10000(b *testing.B)  { benchmarkFit(b, 10000) }
func BenchmarkFit100000(b *testing.B) { benchmarkFit(b, 100000) }
