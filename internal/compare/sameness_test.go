package compare

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/internal/assay"
)

// TestNamesOfSitesAndRows: other names of sites and rows, in another order of
// bytes, give the same answer.
func TestNamesOfSitesAndRows(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, false)
		other := slices.Clone(ds)
		shift := rapid.IntRange(1, 90).Draw(t, "shift")
		for i := range other {
			other[i].ID = fmt.Sprintf("row %02d", (i*37+shift)%101)
			other[i].Site = fmt.Sprintf("%c %s", 'z'-rune(len(other[i].Site)+int(other[i].Site[2])%7), other[i].Site)
		}
		same(t, run(t, ds, Options{}), run(t, other, Options{}), 1e-8)
	})
}

// TestZoneOfAllTimes: the same instants written in another zone, and all of them
// moved by the same stretch of time, give the same bytes.
func TestZoneOfAllTimes(t *testing.T) {
	property(t, func(t *rapid.T) {
		ds := drawSmall(t, false)
		offsetS := rapid.IntRange(-12, 14).Draw(t, "zone") * 3600
		moved := time.Duration(rapid.IntRange(-400, 400).Draw(t, "days")) * 24 * time.Hour
		move := func(m assay.Moment) assay.Moment {
			return assay.Moment{At: m.At.Add(moved), Zone: "Etc/Elsewhere", OffsetS: offsetS}
		}
		other := slices.Clone(ds)
		for i := range other {
			other[i].SetOut = move(other[i].SetOut)
			other[i].Checks = slices.Clone(other[i].Checks)
			for k := range other[i].Checks {
				other[i].Checks[k].At = move(other[i].Checks[k].At)
			}
		}
		a, b := run(t, ds, Options{}), run(t, other, Options{})
		if mustMarshal(t, a) != mustMarshal(t, b) {
			t.Fatal("another zone changed the result")
		}
	})
}

// TestSplitInterval: with nominal bands, 0 of r consumed over (a, c] is 0 of r over
// (a, b] and 0 of r over (b, c], since survival over a stretch is that over its
// parts: rows in which nothing more was consumed after the first check give the same
// answer whether the check between was made or not.
func TestSplitInterval(t *testing.T) {
	p := schedules()["three"]
	o := Options{Default: "three", Protocols: map[string]assay.Protocol{"three": p}}
	property(t, func(t *rapid.T) {
		s := truth{sites: rapid.IntRange(3, 5).Draw(t, "sites"), rows: 3, baits: 20, rates: map[string]float64{"reef": 0.2, "sand": 0.1}, later: 0.3, site: 0.5, dep: 0.3}
		s.soaksH = func(*rand.Rand, string) []float64 { return []float64{1, 6, 24} }
		whole := s.draw(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		split := slices.Clone(whole)
		for i := range whole {
			if i%3 != 0 {
				continue
			}
			c := whole[i].Checks[0].Consumed
			none := assay.Some(0)
			first := assay.Check{Number: 1, At: at(1), Consumed: c, Lost: none}
			last := assay.Check{Number: 3, At: at(24), Consumed: c, Lost: none}
			whole[i].Checks = []assay.Check{first, {Number: 2, WhyNot: "tide"}, last}
			split[i].Checks = []assay.Check{first, {Number: 2, At: at(6), Consumed: c, Lost: none}, last}
		}
		a, b := run(t, whole, o), run(t, split, o)
		if b.Intervals != a.Intervals+(len(whole)+2)/3 {
			t.Fatalf("%d intervals, split %d", a.Intervals, b.Intervals)
		}
		same(t, a, b, 1e-8)
	})
}

// TestSameBytesOnOneAndTwoCores: GOMAXPROCS 1 and 2, the bootstrap and the
// repetitions with lost baits among it.
func TestSameBytesOnOneAndTwoCores(t *testing.T) {
	ds := truth{sites: 4, rows: 2, baits: 15, rates: map[string]float64{"reef": 0.3, "sand": 0.2, "weed": 0.1}, later: 0.2, site: 0.4, dep: 0.3, lost: 0.1}.
		draw(rand.New(rand.NewPCG(8, 1)))
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	var first string
	for _, cores := range []int{1, 2} {
		runtime.GOMAXPROCS(cores)
		r, err := Run(t.Context(), ds, Options{Bootstrap: 9, Seed: 3, Adjust: "simultaneous"})
		if err != nil {
			t.Fatal(err)
		}
		if b := mustMarshal(t, r); first == "" {
			first = b
		} else if b != first {
			t.Error("one core and two differ")
		}
	}
}

// TestOrderOfSimulatedSeasons: lines in another order, and other names of sites and
// rows, give the same simulated p and limits, too.
func TestOrderOfSimulatedSeasons(t *testing.T) {
	ds := truth{sites: 4, rows: 2, baits: 15, rates: map[string]float64{"reef": 0.3, "sand": 0.2}, later: 0.2, site: 0.4, dep: 0.3, lost: 0.1}.
		draw(rand.New(rand.NewPCG(8, 1)))
	o := Options{Bootstrap: 39, Seed: 3}
	a := run(t, ds, o)
	other := slices.Clone(ds)
	rand.New(rand.NewPCG(1, 1)).Shuffle(len(other), func(i, j int) { other[i], other[j] = other[j], other[i] })
	b := run(t, other, o)
	if a.Test.PBootstrap != b.Test.PBootstrap || a.Contrasts[0].PBootstrap != b.Contrasts[0].PBootstrap {
		t.Errorf("p %v and %v, %v and %v", a.Test.PBootstrap, b.Test.PBootstrap, a.Contrasts[0].PBootstrap, b.Contrasts[0].PBootstrap)
	}
	near(t, "simulated limit", b.Contrasts[0].LowerBootstrap, a.Contrasts[0].LowerBootstrap.Or(0), 1e-8)
}
