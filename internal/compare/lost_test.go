package compare

import (
	"context"
	"math/rand/v2"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/mixed"
)

// TestLostCannotTurn: where one step says that lost baits cannot turn the conclusion, the
// repetition itself, which is the independent method, does not; and it says so often
// enough to be worth it, and not always.
func TestLostCannotTurn(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 5))
	said, turned, all := 0, 0, 0
	for range 24 {
		ds := drawn(96)
		share := [2]float64{0.1 * rng.Float64(), 0.7 * rng.Float64()}
		for i := range ds { // more lost, of one habitat more than of the other, and a smaller difference
			c := &ds[i].Checks[1]
			gone, first := c.Consumed.Or(0), ds[i].Checks[0].Consumed.Or(0)
			lost := 0
			for range 25 - gone - c.Lost.Or(0) {
				if rng.Float64() < share[i/4%2] {
					lost++
				}
			}
			if ds[i].Habitat == "sand" {
				gone += rng.IntN(1 + (25-gone-lost-c.Lost.Or(0))/2)
			}
			c.Consumed, c.Lost = assay.Some(max(gone, first)), assay.Some(lost+c.Lost.Or(0))
		}
		o, err := Options{Bands: "checks", NoRepeat: true}.withDefaults()
		if err != nil {
			t.Fatal(err)
		}
		r, err := Run(context.Background(), ds, o)
		if err != nil {
			t.Fatal(err)
		}
		f, err := build(ds, o)
		if err != nil {
			t.Fatal(err)
		}
		data, err := f.data()
		if err != nil {
			t.Fatal(err)
		}
		fit, err := mixed.Fit(data, f.modelOptions())
		if err != nil {
			t.Fatal(err)
		}
		for i := range 2 {
			all++
			sure := f.cannotTurn(r, fit, f.towardLost(fit, i == 1))
			changed, _ := lostTo(ds, o, i == 1)
			other, err := Run(context.Background(), changed, o)
			if err != nil {
				t.Fatal(err)
			}
			if sure {
				said++
			}
			if Turns(r, other) {
				turned++
				if sure {
					t.Errorf("said not to turn, but p goes from %v to %v", r.Test.P, other.Test.P)
				}
			}
		}
	}
	if said < all/4 || turned == 0 || said == all {
		t.Errorf("of %d repetitions %d were spared and %d turned: the test shows too little", all, said, turned)
	}
}
