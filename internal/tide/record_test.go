package tide

import (
	"math"
	"slices"
	"testing"
	"time"
)

func slugs(list []Message) (s []string) {
	for _, m := range list {
		s = append(s, m.Slug)
	}
	return s
}

// A logger that was read by day only: with seven hours of each day the sun's
// constituents and the mean look alike, the condition is told and errors grow; with
// one hour a day nothing of the sun can be told from the mean, and it is refused. All
// hours give neither.
func TestGappyRecords(t *testing.T) {
	c, err := NewCurve([]Harmonic{{"Z0", 2, 0}, {"M2", 1, 50}, {"S2", 0.3, 80}, {"K1", 0.1, 200}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	all := series(c, utc(2026, 2, 1, 0), 60*24, time.Hour)
	kept := func(from, to int) (s []Sample) {
		for i, x := range all {
			x.LevelM += 0.02 * math.Sin(float64(i*i%997)) // something that no constituent explains
			if h := x.At.Hour(); h >= from && h < to {
				s = append(s, x)
			}
		}
		return s
	}
	names := []string{"M2", "S2", "K1"}
	whole, err := Analyse(kept(0, 24), Analysing{Constituents: names})
	if err != nil {
		t.Fatal(err)
	}
	day, err := Analyse(kept(8, 15), Analysing{Constituents: names})
	if err != nil {
		t.Fatal(err)
	}
	if whole.Condition > 2 || slices.Contains(slugs(whole.Messages), "tide.condition") {
		t.Errorf("all hours: condition %.1f, %v", whole.Condition, slugs(whole.Messages))
	}
	if day.Condition < 5 || !slices.Contains(slugs(day.Messages), "tide.condition") {
		t.Errorf("seven hours a day: condition %.1f, %v", day.Condition, slugs(day.Messages))
	}
	if a, b := find(t, whole, "S2"), find(t, day, "S2"); b.AmplitudeSEM < 3*a.AmplitudeSEM {
		t.Errorf("the error of S2 goes from %.5f to %.5f m only", a.AmplitudeSEM, b.AmplitudeSEM)
	}
	if _, err := Analyse(kept(9, 10), Analysing{Constituents: names, KeepAll: true}); !isRefusal(err, "tide.cannot-solve") {
		t.Errorf("one hour a day gave %v", err)
	}
}

func isRefusal(err error, slug string) bool {
	r, ok := err.(*Refusal)
	return ok && r.Slug == slug
}

// The 5 % and 1 % lows by hand: of residuals −100 … 100 (201 values) definition 7 of
// Hyndman & Fan takes the values at 200 · 0.05 = 10 and 200 · 0.01 = 2: −90 and −98.
// A series that never stood below its prediction proposes none.
func TestMarginByHand(t *testing.T) {
	a := &Analysis{}
	for i := 100; i >= -100; i-- {
		a.Residuals = append(a.Residuals, Sample{LevelM: float64(i)})
	}
	if low5, low1 := a.Margin(); low5 != -90 || low1 != -98 {
		t.Errorf("%g and %g", low5, low1)
	}
	if low5, low1 := (&Analysis{Residuals: []Sample{{LevelM: 0.1}, {LevelM: 0.2}}}).Margin(); low5 != 0 || low1 != 0 {
		t.Errorf("%g and %g", low5, low1)
	}
}

// A prediction is warned of when it lies further from the record than the record is
// long and than a month: of a record of June, 30 days, the end of July is not far,
// September is (by 62 days at its end), and so is the April before (60 days).
func TestFarFromRecord(t *testing.T) {
	from, to := utc(2026, 6, 1, 0), utc(2026, 7, 1, 0)
	for _, c := range []struct {
		from, to time.Time
		far      int // 0 for no warning
	}{
		{utc(2026, 6, 10, 0), utc(2026, 6, 20, 0), 0}, {utc(2026, 7, 20, 0), utc(2026, 7, 30, 0), 0},
		{utc(2026, 8, 20, 0), utc(2026, 9, 1, 0), 62}, {utc(2026, 4, 2, 0), utc(2026, 4, 5, 0), 60},
	} {
		got := FarFromRecord(from, to, c.from, c.to)
		if (len(got) > 0) != (c.far > 0) || len(got) > 0 && (got[0].With["far"] != c.far || got[0].With["days"] != 30) {
			t.Errorf("%v: %v, want %d days", c.from, got, c.far)
		}
	}
	if FarFromRecord(time.Time{}, time.Time{}, from, to) != nil {
		t.Error("a record that nobody stated is far")
	}
}
