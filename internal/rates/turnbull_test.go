package rates

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"runtime"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/assay"
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

func search(n int, spans []span) *fit {
	w := &workroom{}
	return w.start(w.innermost(n, spans), n, spans)
}

func TestTurnbullPublished(t *testing.T) {
	// S(20) = .761 and .460: Klein and Moeschberger's data, digits from R's survfit,
	// which stops its iterations earlier than we do (testdata/reference.txt).
	_, want := reference(t, "turnbull")
	for _, w := range want {
		treat, at, survival := strconv.Itoa(int(w[0])), w[1], w[2]
		p := pool([][]*reading{bcdeter(t)[treat]}, 0)
		fit := p.fit([]float64{1}, 1e-9, &bench{})
		found := false
		for _, s := range fit.stretches(p.grid) {
			if s.FromH <= at && at <= s.ToH {
				found = true
				if math.Abs(s.Survival-survival) > 2e-4 {
					t.Errorf("S(%v) of treatment %s = %v, want %v", at, treat, s.Survival, survival)
				}
			}
		}
		if !found {
			t.Errorf("S(%v) of treatment %s is not determined", at, treat)
		}
	}
}

// The two-step search ends where self-consistency alone (Turnbull's own method)
// goes, and the gap it states holds.
func TestTurnbullAgainstSelfConsistency(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(t, "times")
		grid := make([]float64, n)
		for k := range grid {
			grid[k] = float64(k)
		}
		var spans []span
		for range rapid.IntRange(1, 12).Draw(t, "spans") {
			l := rapid.IntRange(0, n-1).Draw(t, "l")
			spans = append(spans, span{l, rapid.IntRange(l+1, n).Draw(t, "r"), float64(rapid.IntRange(1, 30).Draw(t, "w"))})
		}
		a := fitTurnbull(grid, spans, 1e-9, &workroom{})
		slow := search(n, spans)
		for range 20000 {
			slow.selfConsistent()
		}
		fast := search(n, spans)
		fast.converge(1e-9)
		if d := fast.logLik(fast.cum) - slow.logLik(slow.cum); d < -1e-6 {
			t.Fatalf("log-likelihood lower by %v", -d)
		}
		if !(a.gap <= 1e-9) {
			t.Fatalf("gap %v", a.gap)
		}
		sum := 0.0
		for _, m := range a.mass {
			if m < 0 {
				t.Fatalf("mass %v", a.mass)
			}
			sum += m
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("masses sum to %v", sum)
		}
		before := Stretch{Survival: 2}
		for _, s := range a.stretches(grid) {
			if s.ToH < s.FromH || s.Survival >= before.Survival || s.FromH < before.ToH {
				t.Fatalf("%+v after %+v", s, before)
			}
			before = s
		}
	})
}

func TestGroupIsProductLimitAtCommonSoaks(t *testing.T) {
	// Three rows read at 1 h and 24 h: S(1) = 1 − (5+9+0)/75; of the 20 + 16 + 24
	// still at risk (one of the third lost by 24 h), 4 + 8 + 12 consumed:
	// S(24) = (61/75)(1 − 24/60).
	res := compute(t, Options{Group: ByHabitat},
		row("A", 25, []float64{1, 24}, []int{5, 9}, []int{0, 0}, nil),
		row("B", 25, []float64{1, 24}, []int{9, 17}, []int{0, 0}, nil),
		row("C", 25, []float64{1, 24}, []int{0, 12}, []int{0, 1}, nil))
	g := res.Groups[0]
	want := []Stretch{{ToH: 0, Survival: 1}, {FromH: 1, ToH: 1, Survival: 61.0 / 75}, {FromH: 24, ToH: 24, Survival: 61.0 / 75 * 0.6}}
	if g.Group != "sand" || g.Deployments != 3 || g.Clusters != 3 || g.Band != NoBand || len(g.Survival) != 3 {
		t.Fatalf("%+v", g)
	}
	for k, s := range g.Survival {
		if math.Abs(s.Survival-want[k].Survival) > 1e-7 || s.FromH != want[k].FromH || s.ToH != want[k].ToH || s.Lower.Known() || s.Upper.Known() {
			t.Errorf("%+v, want %+v without a band under 6 rows", s, want[k])
		}
	}
	if len(res.Messages) == 0 || res.Messages[len(res.Messages)-1].Slug != "rates-too-few-for-band" {
		t.Errorf("%+v", res.Messages)
	}
}

func TestClustersAreSites(t *testing.T) {
	var ds []assay.Deployment
	for k := range 14 {
		d := row(strconv.Itoa(k), 25, []float64{1, 24}, []int{k, 10 + k}, []int{0, 0}, nil)
		d.Site = strconv.Itoa(k / 2) // seven sites of two rows
		d.Habitat = "reef"
		ds = append(ds, d)
	}
	res := compute(t, Options{Group: ByHabitat}, ds...)
	if g := res.Groups[0]; g.Clusters != 7 || g.Sites != 7 || g.Deployments != 14 || g.Cluster != "site" || g.Band != SmallSampleBand {
		t.Errorf("%+v", g)
	}
	res = compute(t, Options{Group: BySite}, ds...)
	if g := res.Groups; len(g) != 7 || g[0].Clusters != 2 || g[0].Band != NoBand || g[0].Group != "0" {
		t.Errorf("%+v", g)
	}
}

// A band is never of zero width, holds the curve, and is the same on any number
// of cores; so are rows that all say the same.
func TestBandsHoldAndRepeat(t *testing.T) {
	same := func(n int, c []int) []assay.Deployment {
		var ds []assay.Deployment
		for k := range n {
			ds = append(ds, row(strconv.Itoa(k), 25, []float64{1, 24}, c, []int{0, 0}, nil))
		}
		return ds
	}
	groups := [][]assay.Deployment{same(6, []int{0, 0}), same(8, []int{25, 25}), same(25, []int{5, 20}), same(30, []int{0, 25}),
		(&season{clusters: 9, rows: 1, sd: 1, typical: 0.5, jitter: true}).draw(stream(1, "hold", 0)),
		(&season{clusters: 22, rows: 2, sd: 1, typical: 0.5, jitter: true}).draw(stream(1, "hold", 1))}
	for _, ds := range groups {
		var first []byte
		for _, cores := range []int{1, 2, 5} {
			was := runtime.GOMAXPROCS(cores)
			res := compute(t, Options{Group: ByHabitat, Seed: 4}, ds...)
			runtime.GOMAXPROCS(was)
			for _, s := range res.Groups[0].Survival {
				lo, hi := s.Lower.Or(9), s.Upper.Or(-9)
				if !(lo < hi && lo <= s.Survival && s.Survival <= hi && lo >= 0 && hi <= 1) {
					t.Errorf("%d rows: %+v", len(ds), s)
				}
			}
			out, err := json.Marshal(res)
			if err != nil {
				t.Fatal(err)
			}
			if first == nil {
				first = out
			} else if !bytes.Equal(first, out) {
				t.Errorf("%d rows: %d cores give another answer", len(ds), cores)
			}
		}
	}
}

func TestBandByHand(t *testing.T) {
	// Six rows of 25 with 4, 12, 20, 9, 15, 12 consumed at 24 h: S = 78/150 = 0.52.
	// Leaving out one at a time gives the variance of a mean of six,
	// Σ (c_i − 12)²/(6·5)/625 = (64+0+64+9+9+0)/18750 = 146/18750, above that of 150
	// independent baits, 0.52·0.48/150. t = 2.570582 (5 degrees of freedom), z =
	// 1.959964. On the logit: 0.080043 ± t·sqrt(V)/(S(1−S)) = ± 0.908788: 0.3039 to
	// 0.7289. n_e = S(1−S)/V · (z/t)² = 18.63487; Clopper-Pearson of 9.690131 of that by
	// R's qbeta: 0.280994 to 0.752452, the wider at both ends.
	var ds []assay.Deployment
	for k, c := range []int{4, 12, 20, 9, 15, 12} {
		ds = append(ds, row(strconv.Itoa(k), 25, []float64{24}, []int{c}, []int{0}, nil))
	}
	s := compute(t, Options{Group: ByHabitat}, ds...).Groups[0].Survival[1]
	if math.Abs(s.Survival-0.52) > 1e-9 {
		t.Fatalf("%+v", s)
	}
	near(t, "lower", s.Lower, 0.280993571, 1e-6)
	near(t, "upper", s.Upper, 0.752452172, 1e-6)
	// All alike: the variance is that of independent baits, 0.52·0.48/150 for 13 of
	// 25 each left, and never 0.
	ds = nil
	for k := range 6 {
		ds = append(ds, row(strconv.Itoa(k), 25, []float64{24}, []int{12}, []int{0}, nil))
	}
	s = compute(t, Options{Group: ByHabitat}, ds...).Groups[0].Survival[1]
	near(t, "alike, lower", s.Lower, 0.410336, 1e-5)
	near(t, "alike, upper", s.Upper, 0.628267, 1e-5)
	// Nothing consumed anywhere, and no other stretch to learn from: 0.05^(1/6).
	ds = nil
	for k := range 6 {
		ds = append(ds, row(strconv.Itoa(k), 25, []float64{24}, []int{0}, []int{0}, nil))
	}
	s = compute(t, Options{Group: ByHabitat}, ds...).Groups[0].Survival[0]
	near(t, "none consumed, lower", s.Lower, math.Pow(0.05, 1.0/6), 1e-9)
	near(t, "none consumed, upper", s.Upper, 1, 0)
	if s.ToH != 24 {
		t.Errorf("%+v", s)
	}
}

func TestComputeStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Compute(ctx, many(400), Options{Group: ByHabitat}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}
