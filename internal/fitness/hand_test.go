package fitness

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/assay"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s = %.10g, want %.10g", what, got, want)
	}
}

// The distribution of runs in 11 of one kind and 14 of the other, as counts of
// the C(25, 11) = 4,457,400 orders: a worked example published on the MathGroup
// mailing list (message mg53905, February 2005), with mean 13.32 and standard
// deviation 2.41059.
func TestRunsPublished(t *testing.T) {
	want := []float64{0, 0, 2, 23, 260, 1365, 7020, 22230, 68640, 145860, 300300, 450450, 648648, 702702, 720720, 566280, 411840, 231660, 115830, 45045, 14300, 3575, 572, 78}
	got := runsDistribution(11, 14)
	mean, square := 0.0, 0.0
	for r, n := range want {
		near(t, "chance of runs", got[r]*4457400, n, 1e-5)
		mean += float64(r) * got[r]
		square += float64(r*r) * got[r]
	}
	near(t, "mean", mean, 13.32, 1e-9)
	near(t, "standard deviation", math.Sqrt(square-mean*mean), 2.41059, 5e-6)
	expected, _, _ := runsP([][2]int{{11, 14}}, 13)
	near(t, "expected", expected, 13.32, 1e-9)
}

// Swed & Eisenhart (1943, Ann. Math. Stat. 14:66–87), the 2.5 % points for 10
// and 10: 6 and 16 (from memory, as reprinted in textbooks): 6 runs or fewer
// have a chance under 0.025, 7 or fewer have not; likewise upwards.
func TestRunsTable(t *testing.T) {
	_, at6, _ := runsP([][2]int{{10, 10}}, 6)
	_, at7, _ := runsP([][2]int{{10, 10}}, 7)
	_, at16, _ := runsP([][2]int{{10, 10}}, 16)
	_, at15, _ := runsP([][2]int{{10, 10}}, 15)
	if at6 > 0.05 || at7 <= 0.05 || at16 > 0.05 || at15 <= 0.05 {
		t.Errorf("two-sided p at 6, 7, 15, 16 runs: %g %g %g %g", at6, at7, at15, at16)
	}
}

// By hand: 2 gone and 2 there in one row have the orders ggtt, gtgt, gttg, tggt,
// tgtg, ttgg with 2, 4, 3, 3, 4, 2 runs. Two such rows have 4 runs together in
// 4 of 36 pairs (2+2), 5 in 8 (2+3, 3+2), 6 in 12 (2+4, 4+2: 8; 3+3: 4), 7 in 8,
// 8 in 4: seen 4, p = 2 · 4/36; seen 5, 2 · 12/36; seen 6, 1.
func TestRunsByHand(t *testing.T) {
	rows := [][2]int{{2, 2}, {2, 2}}
	for seen, want := range map[int]float64{4: 8.0 / 36, 5: 24.0 / 36, 6: 1, 7: 24.0 / 36, 8: 8.0 / 36} {
		expected, p, exact := runsP(rows, seen)
		near(t, "expected", expected, 6, 1e-12)
		near(t, "p", p, want, 1e-12)
		if !exact {
			t.Error("a small case was not counted exactly")
		}
	}
}

// Against every order, counted one by one.
func TestRunsDistributionCountsOrders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.IntRange(1, 6).Draw(t, "a"), rapid.IntRange(1, 6).Draw(t, "b")
		counts := map[int]float64{}
		all := 0.0
		for set := range 1 << (a + b) {
			order := make([]bool, a+b)
			n := 0
			for i := range order {
				if set>>i&1 == 1 {
					order[i] = true
					n++
				}
			}
			if n == a {
				counts[countRuns(order)]++
				all++
			}
		}
		for r, p := range runsDistribution(a, b) {
			if math.Abs(p-counts[r]/all) > 1e-12 {
				t.Fatalf("%d and %d: chance of %d runs %g, counted %g", a, b, r, p, counts[r]/all)
			}
		}
	})
}

// The large-sample p of many rows is near the convolved one: 300 rows of 12 and
// 13 have 13.48 × 300 = 4044 runs expected; at two standard deviations both give
// about 0.046.
func TestManyRowsOfRuns(t *testing.T) {
	rows := slices.Repeat([][2]int{{12, 13}}, exactRunRows)
	expected, _, _ := runsP(rows, 4044)
	one := 2.0 * 12 * 13 * (2*12*13 - 25) / (25 * 25 * 24)
	seen := int(math.Round(expected - 2*math.Sqrt(one*exactRunRows)))
	_, exact, _ := runsP(rows, seen)
	more := append(slices.Clone(rows), [2]int{1, 1}) // a row that always has two runs
	_, large, counted := runsP(more, seen+2)
	if counted || math.Abs(exact-large) > 0.002 {
		t.Errorf("p %g convolved, %g in the large-sample limit", exact, large)
	}
}

// A stake not known is passed over, a bait gone stays gone, and a stake gone
// counts as the protocol says: g?tg at check 1 has 3 runs, gggg at check 2 one.
func TestAlongRow(t *testing.T) {
	d := &assay.Deployment{Checks: []assay.Check{{Number: 1}, {Number: 2}}, Stakes: []assay.StakeFate{
		{Stake: 1, Check: 1, Fate: assay.Consumed, How: assay.TetherGone}, {Stake: 2, Check: 1, Fate: assay.Lost, How: assay.StakeGone},
		{Stake: 3, Check: 1, Fate: assay.Present}, {Stake: 4, Check: 1, Fate: assay.Consumed},
		{Stake: 1, Check: 2, Fate: assay.Lost}, {Stake: 3, Check: 2, Fate: assay.Consumed}, {Stake: 4, Check: 2, Fate: assay.Consumed},
	}}
	got := alongRow(d, nil)
	if !slices.Equal(got[1], []bool{true, false, true}) || !slices.Equal(got[2], []bool{true, true, true}) {
		t.Errorf("along the row: %v", got)
	}
	strict := alongRow(d, []assay.How{assay.BaitGone})
	if !slices.Equal(strict[1], []bool{false, true}) {
		t.Errorf("where a tether gone is lost: %v", strict)
	}
}

// By hand: four sites in a line, neighbours with weight 1, values 1 2 3 4. Mean
// 2.5, deviations −1.5 −0.5 0.5 1.5, Σ squares 5; neighbours' products 0.75 −0.25
// 0.75, twice their sum 2.5; Σ weights 6: I = 4/6 · 2.5/5 = 1/3. Of the 24 orders
// only 1234 and 4321 have neighbours' products of 1.25 or more: p = 2/24.
func TestMoranByHand(t *testing.T) {
	w := [][]float64{{0, 1, 0, 0}, {1, 0, 1, 0}, {0, 1, 0, 1}, {0, 0, 1, 0}}
	x := []float64{1, 2, 3, 4}
	near(t, "I", moran(x, w), 1.0/3, 1e-12)
	p, n, exact := moranP(x, w, 1)
	near(t, "p", p, 2.0/24, 1e-12)
	if n != 24 || !exact {
		t.Errorf("%d orders, exact %v", n, exact)
	}
	if !math.IsNaN(moran([]float64{2, 2, 2, 2}, w)) {
		t.Error("I of equal values is a number")
	}
}

// Every order once: as many as there are, all different.
func TestPermute(t *testing.T) {
	for n, want := range map[int]int{1: 1, 2: 2, 3: 6, 4: 24, 5: 120} {
		seen := map[[5]float64]bool{}
		x := make([]float64, n)
		for i := range x {
			x[i] = float64(i)
		}
		permute(x, n, func() {
			var key [5]float64
			copy(key[:], x)
			seen[key] = true
		})
		if len(seen) != want {
			t.Errorf("%d values have %d orders, want %d", n, len(seen), want)
		}
	}
}

// Drawn permutations agree with counted ones: nine sites are drawn, eight
// counted; with the ninth far from all, of weight next to nothing, and at the
// mean, its place hardly matters.
func TestMoranDrawnAgainstCounted(t *testing.T) {
	x := []float64{-2, -1.5, -1, -0.2, 0.1, 1.1, 1.2, 2.3}
	km := make([][]float64, 8)
	for i := range km {
		km[i] = make([]float64, 8)
		for j := range km[i] {
			km[i][j] = math.Abs(float64(i - j))
		}
	}
	counted, _, _ := moranP(x, weights(km), 1)
	if counted > 0.01 {
		t.Errorf("a gradient has p = %g", counted)
	}
	shuffled := []float64{1.1, -1.5, 0.1, 2.3, -2, 1.2, -0.2, -1}
	p, _, _ := moranP(shuffled, weights(km), 1)
	seen := moran(shuffled, weights(km)) - 1e-12
	rng := stream(5, "test", 0)
	n := 0
	y := slices.Clone(shuffled)
	for range 20000 {
		rng.Shuffle(len(y), func(i, j int) { y[i], y[j] = y[j], y[i] })
		if moran(y, weights(km)) >= seen {
			n++
		}
	}
	near(t, "share of drawn orders", float64(n)/20000, p, 0.011) // 3 standard errors
}

// Spearman's by hand: ranks 1 2 3 4 5 against 2 1 4 3 5, Σ d² = 4: 1 − 6·4/(5·24)
// = 0.8. Midranks of 5 3 3 1 are 4 2.5 2.5 1.
func TestRankCorrelation(t *testing.T) {
	near(t, "rank correlation", correlation(midranks([]float64{1, 2, 3, 4, 5}), midranks([]float64{20, 10, 40, 30, 50})), 0.8, 1e-12)
	if got := midranks([]float64{5, 3, 3, 1}); !slices.Equal(got, []float64{4, 2.5, 2.5, 1}) {
		t.Errorf("midranks %v", got)
	}
}

// A value that is a cosine of the hour has R² 1, whatever its phase; one that is
// the opposite at each half day has 0 by symmetry.
func TestCircular(t *testing.T) {
	hours := []float64{0, 3, 6, 9, 12, 15, 18, 21}
	var x, twice []float64
	for _, h := range hours {
		x = append(x, math.Cos(2*math.Pi*(h-5)/24))
		twice = append(twice, math.Cos(4*math.Pi*h/24))
	}
	near(t, "R² of a cosine", circular(x, hours), 1, 1e-12)
	near(t, "R² of its double", circular(twice, hours), 0, 1e-12)
	if !math.IsNaN(circular(x, []float64{9, 9, 9, 9, 9, 9, 9, 9})) {
		t.Error("one hour has an R²")
	}
}

// Monte Carlo p by hand: seen 3 among 1 2 3 4 is reached by itself, 3 and 4: 3/5.
func TestMonteCarlo(t *testing.T) {
	near(t, "p", monteCarlo([]float64{3, 1, 2, 3, 4}), 3.0/5, 1e-12)
	near(t, "p", monteCarlo([]float64{5, 1, 2, math.NaN()}), 2.0/4, 1e-12)
}

// Kolmogorov's distance by hand: 0.1 0.4 0.9 against steps of 1/3: at 0.4 the
// step to 2/3 is 0.267 above, at 0.9 the step from 2/3 is 0.233 below.
func TestKolmogorov(t *testing.T) {
	near(t, "distance", kolmogorov([]float64{0.9, 0.1, 0.4}), 2.0/3-0.4, 1e-12)
}
