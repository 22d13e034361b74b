package quality

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/internal/assay"
	"soakline/internal/rates"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// drawValid is a season of rows that nothing impossible is said of.
func drawValid(t *rapid.T) *season {
	s := newSeason()
	s.deps = nil
	s.ctx.InlandKm = func(lat, lon float64) float64 { return -1 }
	for k := range rapid.IntRange(1, 12).Draw(t, "rows") {
		d := good(k)
		d.Baits = rapid.IntRange(1, 40).Draw(t, "baits")
		d.Site = rapid.SampledFrom([]string{"dock", "Dock ", "reef"}).Draw(t, "site")
		d.Latitude = assay.Some(rapid.Float64Range(-90, 90).Draw(t, "lat"))
		d.Longitude = assay.Some(rapid.Float64Range(-180, 180).Draw(t, "lon"))
		d.StakesRetrieved = assay.Some(rapid.IntRange(0, d.Baits).Draw(t, "retrieved"))
		d.Checks = nil
		eaten, lost := 0, 0
		at := d.SetOutUntil
		for n := range rapid.IntRange(0, 4).Draw(t, "checks") {
			at = later(at, time.Duration(rapid.IntRange(1, 3000).Draw(t, "minutes"))*time.Minute)
			c := assay.Check{Number: n + 1, At: at}
			if rapid.Bool().Draw(t, "read") {
				eaten += rapid.IntRange(0, d.Baits-eaten-lost).Draw(t, "eaten")
				lost += rapid.IntRange(0, d.Baits-eaten-lost).Draw(t, "lost")
				c.Consumed, c.Lost = assay.Some(eaten), assay.Some(lost)
				c.Unread = assay.Some(rapid.IntRange(0, d.Baits-eaten-lost).Draw(t, "unread"))
			}
			d.Checks = append(d.Checks, c)
		}
		d.RetrievedAt = later(at, time.Minute)
		s.deps = append(s.deps, d)
	}
	return s
}

func blocks(all []assay.Finding) (b []assay.Finding) {
	for _, f := range all {
		if f.Severity == assay.Block {
			b = append(b, f)
		}
	}
	return b
}

func TestValidRowsAreNotBlocked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawValid(t)
		if b := blocks(Judge(s.deps, s.ctx)); len(b) > 0 {
			t.Fatalf("%s: %s", b[0].At, words.English.Say("finding."+b[0].Slug, b[0].With))
		}
	})
}

// Each breaks a valid row in one way and says the rule that must stop it.
var breaks = []struct {
	slug  string
	needs int // checks
	spoil func(*assay.Deployment)
}{
	{"baits-missing", 0, func(d *assay.Deployment) { d.Baits = 0 }},
	{"set-out-missing", 0, func(d *assay.Deployment) { d.SetOut = assay.Moment{} }},
	{"count-negative", 0, func(d *assay.Deployment) { d.StakesRetrieved = assay.Some(-1) }},
	{"retrieved-over-deployed", 0, func(d *assay.Deployment) { d.StakesRetrieved = assay.Some(d.Baits + 1) }},
	{"consumed-over-deployed", 1, func(d *assay.Deployment) { d.Checks[0].Consumed = assay.Some(d.Baits + 1) }},
	{"lost-over-deployed", 1, func(d *assay.Deployment) { d.Checks[0].Lost = assay.Some(d.Baits + 1) }},
	{"check-not-after-setting-out", 1, func(d *assay.Deployment) { d.Checks[0].At = later(d.SetOut, -time.Minute) }},
	{"checks-at-same-time", 2, func(d *assay.Deployment) { d.Checks[1].At = d.Checks[0].At }},
	{"checks-out-of-order", 2, func(d *assay.Deployment) { d.Checks[1].At = later(d.Checks[0].At, -time.Second) }},
	{"span-negative", 0, func(d *assay.Deployment) { d.SetOutUntil = later(d.SetOut, -time.Hour) }},
	{"position-out-of-range", 0, func(d *assay.Deployment) { d.Latitude = assay.Some(90.1) }},
	{"depth-ends-crossed", 0, func(d *assay.Deployment) { d.DepthMinM = assay.Some(30.0) }},
	{"required-missing", 0, func(d *assay.Deployment) { d.Habitat = "" }},
	{"stake-outside-row", 1, func(d *assay.Deployment) {
		d.Stakes = []assay.StakeFate{{Stake: d.Baits + 1, Check: 1, Fate: assay.Present}}
	}},
}

// A spoilt row is stopped and named, no other row is, and the mended one passes.
func TestMendingClearsTheBlock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawValid(t)
		k := rapid.IntRange(0, len(s.deps)-1).Draw(t, "row")
		b := breaks[rapid.IntRange(0, len(breaks)-1).Draw(t, "break")]
		if len(s.deps[k].Checks) < b.needs {
			return
		}
		sound := s.deps[k]
		sound.Checks = slices.Clone(sound.Checks)
		b.spoil(&s.deps[k])
		stopped := blocks(Judge(s.deps, s.ctx))
		if len(of(b.slug, stopped)) == 0 {
			t.Fatalf("%s was not raised: %v", b.slug, stopped)
		}
		for _, f := range stopped {
			if f.DeploymentID != s.deps[k].ID {
				t.Fatalf("%s also stops %s", b.slug, f.DeploymentID)
			}
		}
		s.deps[k] = sound
		if left := blocks(Judge(s.deps, s.ctx)); len(left) > 0 {
			t.Fatalf("mended, but still %v", left)
		}
	})
}

// drawMess is a season of rows with anything in them that a sheet can hold.
func drawMess(t *rapid.T) *season {
	s := newSeason()
	s.deps = nil
	base := good(0).SetOut
	count := func(name string) assay.Maybe[int] {
		if n := rapid.IntRange(-4, 30).Draw(t, name); n > -4 {
			return assay.Some(n)
		}
		return assay.None[int]()
	}
	number := func(name string, list ...float64) assay.Maybe[float64] {
		if k := rapid.IntRange(0, len(list)).Draw(t, name); k < len(list) {
			return assay.Some(list[k])
		}
		return assay.None[float64]()
	}
	moment := func(name string) assay.Moment {
		h := rapid.IntRange(-3, 30).Draw(t, name)
		if h == -3 {
			return assay.Moment{}
		}
		m := later(base, time.Duration(h)*time.Hour)
		m.Zone = rapid.SampledFrom([]string{"", "Europe/Lisbon", "No/Where"}).Draw(t, "zone")
		return m
	}
	word := func(name string, list ...string) string { return rapid.SampledFrom(list).Draw(t, name) }
	for k := range rapid.IntRange(1, 8).Draw(t, "rows") {
		d := assay.Deployment{
			ID: word("id", "D1", "D2", "D3", ""), Site: word("site", "dock", "Dock", ""), Habitat: word("habitat", "sand", "control", ""),
			Team: word("team", "Crab", ""), Season: word("season", "2026", ""), Protocol: word("protocol", "", "standard 1", "x"),
			Baits: rapid.IntRange(-1, 26).Draw(t, "baits"), StakesRetrieved: count("retrieved"),
			SetOut: moment("set"), SetOutUntil: moment("until"), RetrievedAt: moment("retrieved at"), AbandonedAt: moment("abandoned"),
			Latitude: number("lat", 0, 36.95, 36.9501, -36.95, 91, 8.2), Longitude: number("lon", 0, 8.2, -8.2, 36.95, 179.999, -179.999, 200),
			PositionDecimals: count("decimals"), DepthMinM: number("dmin", -30, 0, 5), DepthMaxM: number("dmax", 0, 5, 500),
			BaitForm: word("form", "", "disc", "strip"), BaitSizeMM: number("size", 0, 13), SpacingM: number("spacing", 0, 2, 1e6),
			TemperatureC: number("t", -80, 20), Salinity: number("s", -1, 35),
			Where: assay.Place{File: "mess.csv", Line: k + 2}, Key: fmt.Sprintf("K%d", k),
		}
		for n := range rapid.IntRange(0, 3).Draw(t, "checks") {
			d.Checks = append(d.Checks, assay.Check{Number: n + 1, At: moment("at"), Until: moment("till"),
				Consumed: count("eaten"), Lost: count("lost"), Unread: count("unread"), WhyNot: word("why", "", "weather")})
		}
		for range rapid.IntRange(0, 6).Draw(t, "fates") {
			d.Stakes = append(d.Stakes, assay.StakeFate{Stake: rapid.IntRange(-1, 3).Draw(t, "stake"), Check: rapid.IntRange(0, 3).Draw(t, "at check"),
				Fate: assay.Fate(word("fate", "present", "consumed", "unread", "lost")), How: assay.How(word("how", "", "stake gone"))})
		}
		for range rapid.IntRange(0, 2).Draw(t, "sightings") {
			d.Sightings = append(d.Sightings, assay.Sighting{From: moment("from"), To: moment("to"), Taxon: word("taxon", "", "Sarpa salpa"),
				Count: count("seen"), Effort: number("effort", -1, 0, 5), AbsenceLooked: assay.Some(rapid.Bool().Draw(t, "absent"))})
		}
		s.deps = append(s.deps, d)
	}
	return s
}

// Whatever a sheet holds: nothing panics, every finding has a whole sentence
// and a key of its own within its record, the order is as stated, and the same
// records in another order give the same findings.
func TestAnySeason(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawMess(t)
		all := Judge(s.deps, s.ctx)
		keys := map[AnswerKey]bool{}
		rank := map[string]int{}
		for i := range s.deps {
			rank[s.deps[i].Key] = i
		}
		for i, f := range all {
			if keys[KeyOf(f)] {
				t.Fatalf("two findings share %+v", KeyOf(f))
			}
			keys[KeyOf(f)] = true
			for _, lang := range words.Languages {
				if text := lang.Say("finding."+f.Slug, f.With); strings.ContainsAny(text, "⟨⟩") {
					t.Fatalf("%s: %s", f.Slug, text)
				}
			}
			if i > 0 {
				p := all[i-1]
				a := []int{rank[p.Key], weight[p.Severity], p.Check}
				b := []int{rank[f.Key], weight[f.Severity], f.Check}
				if slices.Compare(a, b) > 0 {
					t.Fatalf("%s of %s stands before %s of %s", p.Slug, p.Key, f.Slug, f.Key)
				}
			}
		}
		turned := slices.Clone(s.deps)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)).Shuffle(len(turned), func(i, j int) { turned[i], turned[j] = turned[j], turned[i] })
		again := Judge(turned, s.ctx)
		slices.SortStableFunc(again, func(a, b assay.Finding) int { return rank[a.Key] - rank[b.Key] })
		if !reflect.DeepEqual(all, again) {
			t.Fatalf("another order of the records gives other findings:\n%v\n%v", all, again)
		}
	})
}

// A record that package rates refuses as impossible is one that a block names:
// a person always learns what to mend.
func TestWhatRatesRefusesIsBlocked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawMess(t)
		blocked := map[string]bool{}
		for _, f := range blocks(Judge(s.deps, s.ctx)) {
			blocked[f.Key] = true
		}
		for i := range s.deps {
			d := &s.deps[i]
			ivs, said := rates.Intervals(d)
			if ivs == nil && len(said) > 0 && said[len(said)-1].Slug == rates.Impossible && !blocked[d.Key] {
				t.Fatalf("rates refuses %+v: %v", d, said)
			}
		}
	})
}

// An answer stands while its values do, whatever else changes in the record.
func TestAnswerIsReused(t *testing.T) {
	s := newSeason()
	s.check(2).Lost = assay.Some(8)
	f := of("lost-share-high", Judge(s.deps, s.ctx))[0]
	s.ctx.Answers = map[AnswerKey]Answer{KeyOf(f): {Text: "a storm took them", Fingerprint: Fingerprint(f)}}
	answered := func() assay.Finding { return of("lost-share-high", Judge(s.deps, s.ctx))[0] }
	if g := answered(); !g.Answered || g.Answer != "a storm took them" {
		t.Errorf("the answer is not taken: %+v", g)
	}
	s.d().Observers, s.d().Where.Line = "Berta Invented", 99
	if g := answered(); !g.Answered {
		t.Error("the answer fell away though its values stayed")
	}
	s.check(2).Lost = assay.Some(9)
	if g := answered(); g.Answered || g.Answer != "" {
		t.Errorf("the answer stayed though the value changed: %+v", g)
	}
}

// A block cannot be answered away.
func TestBlockTakesNoAnswer(t *testing.T) {
	s := newSeason()
	s.check(1).Consumed = assay.Some(26)
	f := of("consumed-over-deployed", Judge(s.deps, s.ctx))[0]
	s.ctx.Answers = map[AnswerKey]Answer{KeyOf(f): {Text: "yes", Fingerprint: Fingerprint(f)}}
	if of("consumed-over-deployed", Judge(s.deps, s.ctx))[0].Answered {
		t.Error("a block was answered")
	}
}

// The place of a finding is the cell as the file names it, and the text for
// people begins as the contract says.
func TestPlaceAndText(t *testing.T) {
	s := newSeason()
	s.d().Where = assay.Place{File: "bad.csv", Line: 2}
	s.check(1).Consumed = assay.Some(26)
	f := of("consumed-over-deployed", Judge(s.deps, s.ctx))[0]
	got := f.At.String() + ": " + words.English.Say("finding."+f.Slug, f.With)
	if want := "bad.csv line 2, column consumed_by_check1: 26 baits consumed of 25 deployed; "; !strings.HasPrefix(got, want) {
		t.Errorf("%q does not begin %q", got, want)
	}
	s.d().ColumnsAsWritten = map[string]string{"consumed_by_check1": "eaten 1h"}
	if f := of("consumed-over-deployed", Judge(s.deps, s.ctx))[0]; f.At.Column != "eaten 1h" || f.Field != "consumed_by_check1" || f.Value != "26" {
		t.Errorf("place %+v, field %s, value %s", f.At, f.Field, f.Value)
	}
}

// A row still in the water is not asked for checks that are not due.
func TestRowInTheWater(t *testing.T) {
	s := newSeason()
	s.d().Checks, s.d().StakesRetrieved, s.d().RetrievedAt = nil, assay.None[int](), assay.Moment{}
	s.ctx.Now = later(s.d().SetOut, 70*time.Minute).At
	if all := Judge(s.deps, s.ctx); len(all) > 0 {
		t.Errorf("70 minutes after setting out: %v", all)
	}
	s.ctx.Now = later(s.d().SetOut, 80*time.Minute).At
	if all := Judge(s.deps, s.ctx); len(all) != 1 || all[0].Slug != "never-read" {
		t.Errorf("80 minutes after setting out, 1 h ± 15 min: %v", all)
	}
}

// Read from 12:00 to 18:00, check 1 has its middle at 15:00, after that of
// check 2, read from 14:00 to 14:10: the times grow, the soaks do not.
func TestSoaksOutOfOrder(t *testing.T) {
	s := newSeason()
	set := s.d().SetOut
	s.check(1).At, s.check(1).Until = later(set, 3*time.Hour), later(set, 9*time.Hour)
	s.check(2).At, s.check(2).Until = later(set, 5*time.Hour), later(set, 5*time.Hour+10*time.Minute)
	if hits := of("checks-out-of-order", Judge(s.deps, s.ctx)); len(hits) != 1 || hits[0].Check != 2 {
		t.Errorf("%v", hits)
	}
}

// Under a narrow tolerance a late visit stays a deviation until it is off by a
// quarter of the nominal soak: 24 h ± 0.5 h, read after 29 h and after 31 h.
func TestFarOffUnderNarrowTolerance(t *testing.T) {
	for h, want := range map[float64]string{29: "soak-off-nominal", 31: "soak-far-off"} {
		s := newSeason()
		s.ctx.Protocols, _ = sheet.Protocols()
		p := s.ctx.Protocols["standard 1"]
		p.Checks = []assay.Nominal{p.Checks[0], {SoakH: 24, ToleranceH: 0.5}}
		s.ctx.Protocols["standard 1"] = p
		soak(s, 2, h)
		if all := Judge(s.deps, s.ctx); len(all) != 1 || all[0].Slug != want {
			t.Errorf("%v h: %v, want %s", h, all, want)
		}
	}
}

// TestHands: as many hands as there are cores judge the rows, and one finds the same.
func TestHands(t *testing.T) {
	deps := many(4*rowsAtLeast + 7)
	judge := func(hands int) []assay.Finding {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(hands))
		return Judge(deps, Context{Now: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)})
	}
	one := judge(1)
	if len(one) < len(deps)/5 {
		t.Fatalf("%d findings in %d rows, one in ten of them with faults", len(one), len(deps))
	}
	for _, hands := range []int{2, 4} {
		if !reflect.DeepEqual(one, judge(hands)) {
			t.Errorf("%d hands find otherwise than one", hands)
		}
	}
}
