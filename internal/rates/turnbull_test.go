package rates

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// bcdeter reads testdata/bcdeter.csv: by treatment, the ends (months) between
// which cosmetic deterioration set in; right end NA when it never did.
func bcdeter(t *testing.T) map[string][]*reading {
	f, err := os.Open("testdata/bcdeter.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]*reading{}
	for _, l := range lines[1:] {
		lower, _ := strconv.ParseFloat(l[0], 64)
		upper, err := strconv.ParseFloat(l[1], 64)
		if err == nil && upper == lower {
			lower -= 1e-3 // seen to the month exactly: two lines of the table
		}
		one := &reading{n: 1}
		one.looks = append(one.looks, look{number: 1, soakH: lower, atRisk: 1})
		one.intervals = append(one.intervals, Interval{Check: 1, ToH: lower, AtRisk: 1, to: 1})
		if lower == 0 {
			one.looks, one.intervals = nil, nil
		}
		if err == nil {
			k := len(one.looks)
			one.looks = append(one.looks, look{number: k + 1, soakH: upper, atRisk: 1, y: 1, c: 1})
			one.intervals = append(one.intervals, Interval{Check: k + 1, FromCheck: k, FromH: lower, ToH: upper, AtRisk: 1, Consumed: 1, from: k, to: k + 1})
		}
		out[l[2]] = append(out[l[2]], one)
	}
	return out
}

func TestTurnbullPublished(t *testing.T) {
	for treat, want := range map[string]float64{"1": .761, "2": .460} {
		p := pool([][]*reading{bcdeter(t)[treat]}, 0)
		fit := p.fit([]float64{1}, make([]span, len(p.pairs)), 1e-9)
		t.Log(treat, fit.stretches(p.grid), fit.gap)
		for _, s := range fit.stretches(p.grid) {
			if s.FromH <= 20 && s.ToH >= 20 && math.Abs(s.Survival-want) > 5e-4 {
				t.Errorf("S(20) of treatment %s = %v, want %v", treat, s.Survival, want)
			}
		}
	}
}
