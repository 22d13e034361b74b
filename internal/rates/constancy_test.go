package rates

import (
	"math"
	"testing"
)

// The test of constancy at a stated 5 %, its true level summed over every
// outcome of 25 baits at 1 h and 24 h, beside that of the likelihood ratio, which
// it was chosen over. The table stands in docs/methods/rates.md.
func TestConstancyLevel(t *testing.T) {
	for _, rate := range []float64{0.003, 0.01, 0.03, 0.1, 0.2, 0.4, 1} {
		score, ratio := 0.0, 0.0
		q1, q2 := -math.Expm1(-rate), -math.Expm1(-23*rate)
		for y1 := range 26 {
			for y2 := range 26 - y1 {
				p := math.Exp(logChoose(25, y1) + logChoose(25-y1, y2) +
					scaled(y1, math.Log(q1)) - rate*float64(25-y1) + scaled(y2, math.Log(q2)) - 23*rate*float64(25-y1-y2))
				if p < 1e-12 {
					continue
				}
				d := row("A", 25, []float64{1, 24}, []int{y1, y1 + y2}, []int{0, 0}, nil)
				r := read(&d, nil)
				e, ll := ConstantRate(r.intervals, 0.95)
				if v, ok := constancy(r.intervals, e).Get(); ok && v.P < 0.05 {
					score += p
				}
				free := logChoose(25, y1) + logChoose(25-y1, y2) // at q = y/r
				for _, k := range [][2]int{{y1, 25}, {y2, 25 - y1}} {
					if y, n := float64(k[0]), float64(k[1]); y > 0 && y < n {
						free += y*math.Log(y/n) + (n-y)*math.Log(1-y/n)
					}
				}
				if e.Estimate.Known() && y1+y2 > 0 && 2*(free-ll) > 3.841459 {
					ratio += p
				}
			}
		}
		t.Logf("rate %v: score %.3f, likelihood ratio %.3f", rate, score, ratio)
		if score > 0.08 {
			t.Errorf("rate %v: the test is wrong in %.3f, stated 0.05", rate, score)
		}
	}
}
