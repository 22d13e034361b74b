package mixed

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"
)

// Worked by hand: S = 0 of n = 99 at risk 0.001: (n + 1)(1 − p)^99 = 0.001, so
// the upper limit is 1 − (0.001 / 100)^(1/99) = 1 − exp(−11.512925/99) = 1 − exp(−0.116292) = 0.109785.
// S = n mirrors it.
func TestPLimitsByHand(t *testing.T) {
	lower, upper := PLimits(99, 0, 0.001)
	if lower != 0 || math.Abs(upper-0.109785) > 1e-6 {
		t.Errorf("0 of 99: [%v, %v], want [0, 0.109785]", lower, upper)
	}
	lower, upper = PLimits(99, 99, 0.001)
	if upper != 1 || math.Abs(lower-(1-0.109785)) > 1e-6 {
		t.Errorf("99 of 99: [%v, %v], want [0.890215, 1]", lower, upper)
	}
	// Clopper and Pearson, 99 %, 0 of 99: 1 − 0.005^(1/99) = 1 − exp(−5.298317/99) = 0.052111.
	if lower, upper = fixedLimits(99, 0); lower != 0 || math.Abs(upper-0.0521115) > 1e-6 {
		t.Errorf("fixed, 0 of 99: [%v, %v]", lower, upper)
	}
}

// The limits hold at every look at once: of 2,000 sequences of 5,000 draws whose
// p is 0.05 exactly, at a risk of 0.05, 5 % at most ever leave p out.
func TestPLimitsHoldAtEveryLook(t *testing.T) {
	const sequences, draws, p, risk = 2000, 5000, 0.05, 0.05
	left := 0
	for k := range sequences {
		rng := rand.New(rand.NewPCG(7, uint64(k)))
		s := 0
		for n := 1; n <= draws; n++ {
			if rng.Float64() < p {
				s++
			}
			if n%lookEvery != lookEvery-1 {
				continue
			}
			if lower, upper := PLimits(n, s, risk); lower > p || upper < p {
				left++
				break
			}
		}
	}
	// Ville's inequality bounds it by 0.05; the study's own error is 0.005.
	if share := float64(left) / sequences; share > 0.05 {
		t.Errorf("%.3f of the sequences left the true p out", share)
	} else {
		t.Logf("%.4f left it out", share)
	}
}

// A bootstrap that may stop gives the same on one worker and on three, stops
// early where p is far from the level, and its replicates are those that a fixed
// number would have run.
func TestSequentialStopsTheSame(t *testing.T) {
	d := NewData([]string{"baseline", "reef"}, []string{"site"})
	for i := range 16 {
		x := []float64{1, float64(i % 2)}
		if err := d.Add([]int{4, 15, 6, 18}[i%4], 25, []int{i / 2}, Piece{Exposure: 1, X: x}); err != nil {
			t.Fatal(err)
		}
	}
	full, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	null, err := full.Without("reef")
	if err != nil {
		t.Fatal(err)
	}
	o := BootstrapOptions{Replicates: 1999, Seed: 4, Contrasts: [][]float64{{0, 1}}, Stop: &Sequential{Alpha: 0.05, Holm: true}}
	var all []*Bootstrap
	for _, o.Workers = range []int{1, 3} {
		b, err := ParametricBootstrap(context.Background(), full, null, o)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, b)
	}
	a, b := all[0], all[1]
	if a.P != b.P || a.Replicates != b.Replicates || a.ContrastP[0] != b.ContrastP[0] {
		t.Errorf("one worker gives p %v of %d, three %v of %d", a.P, a.Replicates, b.P, b.Replicates)
	}
	if !a.Settled || a.Replicates >= 1999 || a.Replicates%lookEvery != lookEvery-1 || a.PUpper >= 0.05 {
		t.Errorf("a difference this clear is not settled: %+v", a)
	}
	o.Stop, o.Replicates = nil, a.Replicates
	fixed, err := ParametricBootstrap(context.Background(), full, null, o)
	if err != nil || fixed.P != a.P {
		t.Errorf("as many replicates fixed beforehand give p %v, not %v (%v)", fixed.P, a.P, err)
	}
}
