package rates

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"soakline/internal/assay"
)

func TestUnreadFoundPresent(t *testing.T) {
	// n = 25; check 1: 10 consumed, 5 not read; check 2: still 10, so the 5 were
	// found present and hence were present at check 1: p_1 = 10/25 = p_2.
	d := compute(t, Options{}, row("A", 25, []float64{1, 24}, []int{10, 10}, []int{0, 0}, []int{5, 0})).Deployments[0]
	near(t, "p1", d.Checks[0].Proportion, 0.4, 1e-6)
	near(t, "p2", d.Checks[1].Proportion, 0.4, 1e-6)
	if c := d.Checks[0]; c.AtRisk != 20 || c.Unread != 5 || c.IfLostConsumed != 0.4 {
		t.Errorf("%+v", c)
	}
	if c := d.Checks[1]; c.AtRisk != 15 {
		t.Errorf("%+v", c)
	}
}

// pmf is the binomial probability by gonum, apart from our own.
func pmf(n, y int, p float64) float64 {
	return distuv.Binomial{N: float64(n), P: p}.Prob(float64(y))
}

func TestUnreadByEnumeration(t *testing.T) {
	// n = 25, C = (10, 15), U = (5, 0): of the 20 read at check 1, 10 consumed; at
	// check 2 the 10 present ones and the 5 late ones gave 5 consumed together.
	// Likelihood Bin(10; 20, q1) Σ_j Bin(5−j; 10, q2) Bin(j; 5, 1−(1−q1)(1−q2)),
	// maximised by stepping through a grid of 1/2000, then of 1/200000 around it.
	lik := func(q1, q2 float64) float64 {
		s := 0.0
		for j := range 6 {
			s += pmf(10, 5-j, q2) * pmf(5, j, 1-(1-q1)*(1-q2))
		}
		return pmf(20, 10, q1) * s
	}
	a, b := 0.4, 0.25
	for _, step := range []float64{1.0 / 100, 1.0 / 2000, 1.0 / 40000} {
		bestA, bestB, most := a, b, 0.0
		for i := -20.0; i <= 20; i++ {
			for j := -20.0; j <= 20; j++ {
				if l := lik(a+i*step, b+j*step); l > most {
					most, bestA, bestB = l, a+i*step, b+j*step
				}
			}
		}
		a, b = bestA, bestB
	}
	dep := row("A", 25, []float64{1, 24}, []int{10, 15}, []int{0, 0}, []int{5, 0})
	d := compute(t, Options{}, dep).Deployments[0]
	near(t, "p1", d.Checks[0].Proportion, a, 1e-4)
	near(t, "p2", d.Checks[1].Proportion, 1-(1-a)*(1-b), 1e-4)
	// The constant rate against the same likelihood on a grid of rates.
	best, most := 0.0, 0.0
	for rate := 0.01; rate < 0.2; rate += 1e-5 {
		if l := lik(-math.Expm1(-rate), -math.Expm1(-23*rate)); l > most {
			best, most = rate, l
		}
	}
	near(t, "rate", d.RatePerH.Estimate, best, 1e-5)
	near(t, "loglik", d.LogLik, math.Log(most), 1e-6)
	// And its limits: 2 (log most − log lik) = 3.841459 there.
	for _, m := range []assay.Maybe[float64]{d.RatePerH.Lower, d.RatePerH.Upper} {
		r, _ := m.Get()
		if got := 2 * (math.Log(most) - math.Log(lik(-math.Expm1(-r), -math.Expm1(-23*r)))); math.Abs(got-3.841459) > 1e-4 {
			t.Errorf("deviance at limit %v is %v", r, got)
		}
	}
	// A group of this one deployment maximises the same likelihood.
	g := compute(t, Options{Group: BySite}, dep).Groups[0].Survival
	if len(g) != 3 || math.Abs(1-g[1].Survival-a) > 1e-4 || math.Abs(g[2].Survival-(1-a)*(1-b)) > 1e-4 {
		t.Errorf("group %+v, want %v %v", g, 1-a, (1-a)*(1-b))
	}
}

// The likelihood of a split is that of every way to share the consumed baits out.
func TestSplitByEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		iv := Interval{AtRisk: rapid.IntRange(0, 12).Draw(t, "r")}
		hs := []float64{rapid.Float64Range(1e-6, 12).Draw(t, "h")}
		for range rapid.IntRange(0, 2).Draw(t, "groups") {
			iv.Late = append(iv.Late, Late{AtRisk: rapid.IntRange(1, 6).Draw(t, "late")})
			hs = append(hs, rapid.Float64Range(1e-6, 12).Draw(t, "h"))
		}
		iv.Consumed = rapid.IntRange(0, iv.Baits()).Draw(t, "y")
		sizes := []int{iv.AtRisk}
		for _, l := range iv.Late {
			sizes = append(sizes, l.AtRisk)
		}
		total, mean := 0.0, make([]float64, len(sizes))
		var share func(g, left int, p float64, js []int)
		share = func(g, left int, p float64, js []int) {
			if g == len(sizes) {
				if left == 0 {
					total += p
					for i, j := range js {
						mean[i] += p * float64(j)
					}
				}
				return
			}
			for j := range min(left, sizes[g]) + 1 {
				share(g+1, left-j, p*pmf(sizes[g], j, -math.Expm1(-hs[g])), append(slices.Clone(js), j))
			}
		}
		share(0, iv.Consumed, 1, nil)
		if total < 1e-250 {
			return
		}
		ex := make([]float64, len(sizes))
		got := iv.Split(hs, ex)
		if math.Abs(got-math.Log(total)) > 1e-8*(1+math.Abs(got)) {
			t.Fatalf("log-likelihood %v, want %v", got, math.Log(total))
		}
		for g := range ex {
			if math.Abs(ex[g]-mean[g]/total) > 1e-7 {
				t.Fatalf("expected %v, want %v over %v", ex, mean, total)
			}
		}
	})
}

// stakesOf writes fates as one letter for each check: p present, c consumed, l
// lost, u unread, . nothing written; g and t are stake gone and tether gone.
func stakesOf(lines ...string) []assay.StakeFate {
	var out []assay.StakeFate
	for s, line := range lines {
		for k, letter := range line {
			f := assay.StakeFate{Stake: s + 1, Check: k + 1}
			switch letter {
			case 'p':
				f.Fate = assay.Present
			case 'c':
				f.Fate = assay.Consumed
			case 'l':
				f.Fate = assay.Lost
			case 'u':
				f.Fate = assay.Unread
			case 'g':
				f.Fate, f.How = assay.Consumed, assay.StakeGone
			case 't':
				f.Fate, f.How = assay.Lost, assay.TetherGone
			default:
				continue
			}
			out = append(out, f)
		}
	}
	return out
}

func TestFromStakes(t *testing.T) {
	d := row("A", 9, []float64{1, 24}, []int{0, 0}, []int{0, 0}, nil)
	d.Stakes = stakesOf(
		"pc", // consumed at 2
		"cl", // consumed at 1, its stake gone later: stays consumed
		"uc", // unread at 1, consumed in 0 to 24 h
		"up", // unread at 1, present at 2
		"pl", // lost at 2
		"lp", // noted lost but seen again: unread at 1
		"pg", // stake gone is lost by default
		"pt", // tether gone is consumed by default
		"u.", // never read again: lost from 1
	)
	checks, baits, whole := FromStakes(&d)
	if baits != 9 || !whole {
		t.Fatal(baits, whole)
	}
	for k, want := range [][3]int{{1, 1, 3}, {4, 3, 0}} {
		c := checks[k]
		if got := [3]int{c.Consumed.Or(-1), c.Lost.Or(-1), c.Unread.Or(-1)}; got != want {
			t.Errorf("check %d: consumed, lost, unread %v, want %v", k+1, got, want)
		}
	}
	// At check 1 five were read: 1 consumed, 4 present (stakes 1, 5, 7, 8; 5 and 7
	// were lost by check 2). From 1 h to 24 h: stakes 1 and 8, both consumed. From 0
	// to 24 h: stakes 3, 4, 6, one consumed.
	ivs, said := Intervals(&d)
	want := []Interval{
		{Check: 1, ToH: 1, AtRisk: 5, Consumed: 1},
		{Check: 2, FromCheck: 1, FromH: 1, ToH: 24, AtRisk: 2, Consumed: 2},
		{Check: 2, ToH: 24, AtRisk: 3, Consumed: 1},
	}
	for k := range want {
		if len(ivs) != 3 {
			t.Fatalf("%+v", ivs)
		}
		g := ivs[k]
		g.from, g.to = 0, 0
		if g.Late != nil || g.Check != want[k].Check || g.FromCheck != want[k].FromCheck || g.FromH != want[k].FromH || g.ToH != want[k].ToH || g.AtRisk != want[k].AtRisk || g.Consumed != want[k].Consumed {
			t.Errorf("interval %+v, want %+v", g, want[k])
		}
	}
	if len(said) != 0 {
		t.Errorf("%+v", said)
	}
	// Under a protocol by which a stake gone counts and a tether gone does not.
	checks, _, _ = FromStakes(&d, assay.BaitGone, assay.StakeGone)
	if c := checks[1]; c.Consumed.Or(0) != 4 || c.Lost.Or(0) != 3 {
		t.Errorf("other meaning: %+v", c)
	}
	// Present after consumed is impossible.
	d.Stakes = stakesOf("cp", "pp")
	if ivs, said := Intervals(&d); ivs != nil || said[len(said)-1].Slug != Impossible {
		t.Errorf("%+v %+v", ivs, said)
	}
}

func TestStakesEqualCounts(t *testing.T) {
	// Where no bait was unread, fates by stake and their counts give the same.
	rapid.Check(t, func(t *rapid.T) {
		lines := rapid.SliceOfN(rapid.SampledFrom([]string{"ppp", "ppc", "pcc", "ccc", "ppl", "pll", "lll"}), 1, 20).Draw(t, "stakes")
		d := row("A", len(lines), []float64{1, 5, 24}, []int{0, 0, 0}, []int{0, 0, 0}, nil)
		d.Stakes = stakesOf(lines...)
		a, saidA := Intervals(&d)
		counted := d
		counted.Stakes = nil
		counted.Checks, _, _ = FromStakes(&d)
		b, saidB := Intervals(&counted)
		if len(saidA) != len(saidB) || !slices.EqualFunc(a, b, func(x, y Interval) bool {
			return x.Check == y.Check && x.FromH == y.FromH && x.ToH == y.ToH && x.AtRisk == y.AtRisk && x.Consumed == y.Consumed && x.Late == nil && y.Late == nil
		}) {
			t.Fatalf("%+v\n%+v\n%v %v", a, b, saidA, saidB)
		}
	})
}

func TestUnreadTwice(t *testing.T) {
	// Three checks, 4 unread at check 1, 3 at check 2: taken to be 3 of the 4. At
	// check 2 one late bait (from setting out) is read; at check 3 three from
	// setting out. n = 20, C = (2, 5, 9): r_1 = 20 − 4 = 16; r_2 = 20 − 2 − 3 = 15, of
	// which 1 late; r_3 = 20 − 5 = 15, of which 3 late.
	d := row("A", 20, []float64{1, 5, 24}, []int{2, 5, 9}, []int{0, 0, 0}, []int{4, 3, 0})
	ivs, said := Intervals(&d)
	if len(ivs) != 3 || ivs[0].AtRisk != 16 || ivs[1].AtRisk != 14 || ivs[2].AtRisk != 12 {
		t.Fatalf("%+v", ivs)
	}
	if l := ivs[1].Late; len(l) != 1 || l[0].AtRisk != 1 || l[0].FromH != 0 {
		t.Errorf("%+v", l)
	}
	if l := ivs[2].Late; len(l) != 1 || l[0].AtRisk != 3 || l[0].FromH != 0 || l[0].FromCheck != 0 {
		t.Errorf("%+v", l)
	}
	if len(said) != 1 || said[0].Slug != unreadRun {
		t.Errorf("%+v", said)
	}
}

func TestEveryoneUnreadAtOneCheck(t *testing.T) {
	// Nobody was read at check 1 though it has a count of 0: nothing to tell there,
	// and check 2 stands on all 25.
	d := compute(t, Options{}, row("A", 25, []float64{1, 24}, []int{0, 10}, []int{0, 0}, []int{25, 0})).Deployments[0]
	near(t, "p1", d.Checks[0].Proportion, none, 0)
	near(t, "p2", d.Checks[1].Proportion, 0.4, 1e-9)
	near(t, "rate", d.RatePerH.Estimate, -math.Log(0.6)/24, 1e-12)
	near(t, "rate of the interval", d.Checks[1].RateInInterval.Estimate, -math.Log(0.6)/24, 1e-9)
}
