package demo

import (
	"context"
	"testing"

	"soakline/internal/compare"
	"soakline/internal/sheet"
)

// TestCompareFindsTheTruth: on the true records of the default seed, sand is
// clearly below both others, reef and seagrass are not told apart, and every
// true ratio lies inside its limits.
//
// Over the seeds 0 to 99 (run once, 43 s) sand was told from each of the others
// 100 times and reef from seagrass 11 times; the limits, unadjusted at 95 % and
// not yet from a bootstrap, held the truth 90, 88 and 93 times.
func TestCompareFindsTheTruth(t *testing.T) {
	s := Make(DefaultSeed)
	p, _ := sheet.Protocols()
	r, err := compare.Run(context.Background(), s.Clean(), compare.Options{
		By: "habitat", Covariates: []string{"temperature_c"}, Protocols: p, Default: sheet.DefaultProtocol, NoRepeat: true,
	})
	if err != nil {
		t.Fatal(err)
	}
	if r.Deployments != 94 || len(r.Contrasts) != 3 { // 103 less 4 control rows, 3 practice rows and 2 without a temperature
		t.Fatalf("%d rows, %d contrasts", r.Deployments, len(r.Contrasts))
	}
	for _, c := range r.Contrasts {
		truth := s.Truth.Model.rate(c.A) / s.Truth.Model.rate(c.B)
		lower, upper := c.Lower.Or(0), c.Upper.Or(0)
		t.Logf("%s/%s: %.2f (%.2f to %.2f), true %.2f", c.A, c.B, c.RateRatio.Or(0), lower, upper, truth)
		if truth < lower || truth > upper {
			t.Errorf("%s/%s: %.2f lies outside %.2f to %.2f", c.A, c.B, truth, lower, upper)
		}
		if clear, want := lower > 1 || upper < 1, c.A == sand || c.B == sand; clear != want {
			t.Errorf("%s/%s: %.2f to %.2f", c.A, c.B, lower, upper)
		}
	}
}
