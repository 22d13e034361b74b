package sheet

import (
	"fmt"
	"maps"
	"slices"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"soakline/internal/assay"
	"soakline/internal/words"
)

func TestFind(t *testing.T) {
	for _, c := range []struct {
		table Table
		name  string
		want  string
		check int
	}{
		{Wide, "consumed_by_check2", "consumed_by_check{K}", 2},
		{Wide, "check12_until", "check{K}_until", 12},
		{Wide, "consumed_by_check", "", 0},
		{Wide, "consumed_by_check0", "", 0},
		{Wide, "consumed_by_check100", "", 0},
		{Wide, "consumed_by_check02", "", 0},
		{Wide, "Site", "", 0},
		{Wide, "site", "site", 0},
		{Wide, "taxon", "", 0},
		{Sightings, "taxon", "taxon", 0},
	} {
		got, k, ok := Find(c.table, c.name)
		if got.Name != c.want && ok || k != c.check || ok != (c.want != "") {
			t.Errorf("Find(%s, %s) = %s, %d, %v", c.table, c.name, got.Name, k, ok)
		}
	}
}

func TestEveryColumnIsExplained(t *testing.T) {
	for _, c := range columns {
		if !words.Has(c.Slug()) {
			t.Errorf("column %s of %s has no sentence %s", c.Name, c.Table, c.Slug())
		}
		if (c.Kind == Word) != (len(c.Words) > 0) {
			t.Errorf("column %s: words go with the kind word", c.Name)
		}
	}
}

// Instants of RFC 9557, section 4.1 (Internet Extended Date/Time Format), and of RFC 3339, section 5.8.
func TestParseMoment(t *testing.T) {
	for in, want := range map[string]string{
		"1985-04-12T23:20:50.52Z":                        "1985-04-12T23:20:50.52Z",
		"1996-12-19T16:39:57-08:00":                      "1996-12-20T00:39:57Z",
		"1996-12-19T16:39:57-08:00[America/Los_Angeles]": "1996-12-20T00:39:57Z",
		"1937-01-01T12:00:27.87+00:20":                   "1937-01-01T11:40:27.87Z",
		"2026-07-01 09:00Z":                              "2026-07-01T09:00:00Z",
	} {
		m, f := ParseMoment("deployed_at", in)
		if f != nil || m.At.Format(time.RFC3339Nano) != want {
			t.Errorf("ParseMoment(%s) = %v, %v; want %s", in, m.At, f, want)
		}
	}
	for _, bad := range []string{"9.65", "2026-07-01", "2026-07-01T09:00", "2026-13-01T09:00Z", "2026-07-01T25:00Z", "0001-01-01T00:00Z", "[Europe/Lisbon]"} {
		if m, f := ParseMoment("deployed_at", bad); f == nil {
			t.Errorf("ParseMoment(%s) = %v, taken", bad, m)
		}
	}
}

// Lisbon put its clocks forward at 01:00 UTC on 2026-03-29 and back at 01:00
// UTC on 2026-10-25 (Directive 2000/84/EC: last Sundays, 01:00 UTC).
func TestInZone(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	for in, want := range map[string][]string{
		"2026-07-01T09:00": {"2026-07-01T08:00Z"},
		"2026-03-29T01:30": nil,
		"2026-10-25T01:30": {"2026-10-25T00:30Z", "2026-10-25T01:30Z"},
		"2026-10-25T02:30": {"2026-10-25T02:30Z"},
	} {
		local, _, _ := ParseTime(in)
		var got []string
		for _, m := range InZone(local, lisbon) {
			got = append(got, m.At.Format("2006-01-02T15:04Z07:00"))
		}
		slices.Sort(got)
		if !slices.Equal(got, want) {
			t.Errorf("InZone(%s) = %v, want %v", in, got, want)
		}
	}
}

func TestFaultsAllAtOnce(t *testing.T) {
	_, faults := Deployment(map[string]string{"deployed_at": "9.65", "baits_deployed": "many", "control": "caged", "latitude": "36,95"})
	var got []string
	for _, f := range faults {
		got = append(got, f.Column)
		for _, s := range []assay.Said{f.Wrong, f.Do} {
			if !words.Has(s.Slug) {
				t.Errorf("no sentence %s", s.Slug)
			}
		}
	}
	slices.Sort(got)
	if want := []string{"baits_deployed", "control", "deployed_at", "latitude"}; !slices.Equal(got, want) {
		t.Errorf("faults in %v, want %v", got, want)
	}
}

// TestRoundTrip: what Values writes, Deployment reads back the same.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := draw(t)
		got, faults := Deployment(Values(&d))
		if len(faults) > 0 {
			t.Fatalf("faults %v in %v", faults[0], Values(&d))
		}
		if diff := cmp.Diff(d, got, cmpopts.EquateEmpty(), cmp.AllowUnexported(assay.Maybe[int]{}, assay.Maybe[float64]{}, assay.Maybe[bool]{})); diff != "" {
			t.Fatal(diff)
		}
		// The same by a layout, with columns that this record has no text for.
		columns := append(slices.Sorted(maps.Keys(Values(&d))), "check98_at", "people_back_at_check99", "another covariate")
		var texts []string
		for _, c := range columns[:len(columns)-3] {
			texts = append(texts, Values(&d)[c])
		}
		laid, faults := NewLayout(columns).Deployment(texts)
		if len(faults) > 0 {
			t.Fatalf("faults %v in %v", faults[0], texts)
		}
		if diff := cmp.Diff(d, laid, cmpopts.EquateEmpty(), cmp.AllowUnexported(assay.Maybe[int]{}, assay.Maybe[float64]{}, assay.Maybe[bool]{})); diff != "" {
			t.Fatal(diff)
		}
	})
}

func draw(t *rapid.T) assay.Deployment {
	text := rapid.StringMatching(`[A-Za-zñé ,;"=-]{0,8}`)
	count := rapid.Custom(func(t *rapid.T) assay.Maybe[int] {
		if rapid.Bool().Draw(t, "known") {
			return assay.Some(rapid.IntRange(-5, 50).Draw(t, "n"))
		}
		return assay.None[int]()
	})
	number := rapid.Custom(func(t *rapid.T) assay.Maybe[float64] {
		if rapid.Bool().Draw(t, "known") {
			return assay.Some(float64(rapid.IntRange(-99999, 99999).Draw(t, "n")) / 1000)
		}
		return assay.None[float64]()
	})
	moment := rapid.Custom(func(t *rapid.T) assay.Moment {
		if rapid.Bool().Draw(t, "none") {
			return assay.Moment{}
		}
		m := assay.Moment{At: time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "s"), 0).UTC(), OffsetS: rapid.IntRange(-12, 14).Draw(t, "h") * 3600}
		if rapid.Bool().Draw(t, "zoned") {
			m.Zone = "Etc/Zone"
		}
		return m
	})
	d := assay.Deployment{
		ID: "D1", Site: text.Draw(t, "site"), Habitat: text.Draw(t, "habitat"), Notes: text.Draw(t, "notes"),
		Latitude: number.Draw(t, "lat"), SetOut: moment.Draw(t, "set"), SetOutUntil: moment.Draw(t, "until"),
		Baits: rapid.IntRange(0, 40).Draw(t, "baits"), StakesRetrieved: count.Draw(t, "retrieved"),
		DepthMinM: number.Draw(t, "depth"), Control: assay.Shielded, Practice: assay.Some(rapid.Bool().Draw(t, "practice")),
		Covariates: map[string]string{"swell": "low"},
	}
	for k := 1; k <= rapid.IntRange(0, 3).Draw(t, "checks"); k++ {
		d.Checks = append(d.Checks, assay.Check{Number: k, At: moment.Draw(t, "at"), Consumed: assay.Some(rapid.IntRange(0, 30).Draw(t, "c")), Lost: count.Draw(t, "l"), WhyNot: "tide"})
		for s := 1; s <= rapid.IntRange(0, 3).Draw(t, "stakes"); s++ {
			d.Stakes = append(d.Stakes, assay.StakeFate{Stake: s, Check: k, Fate: rapid.SampledFrom([]assay.Fate{assay.Present, assay.Consumed, assay.Unread, assay.Lost}).Draw(t, "fate"), How: rapid.SampledFrom([]assay.How{"", assay.BaitGone, assay.StakeGone}).Draw(t, "how")})
		}
	}
	if rapid.Bool().Draw(t, "sighted") {
		d.Sightings = []assay.Sighting{{From: moment.Draw(t, "from"), Method: "video", Taxon: "Diplodus sargus", Count: count.Draw(t, "count"), TookBait: assay.Some(true)}}
	}
	return d
}

func TestProtocols(t *testing.T) {
	all, texts := Protocols()
	p := all[DefaultProtocol]
	if p.Baits != 25 || len(p.Checks) != 2 || p.Checks[1].SoakH != 24 || p.ConsumedFraction != 0.5 {
		t.Errorf("the standard protocol reads as %+v", p)
	}
	school := all["school-day 1"]
	if school.Baits != 15 || len(school.Checks) != 2 || school.Checks[1].SoakH != 4 || school.SpacingM != 2 {
		t.Errorf("the school protocol reads as %+v", school)
	}
	if len(texts) != len(all) {
		t.Error("a protocol without its text")
	}
	for _, bad := range []string{
		"", "name = 3", "name = \"x\"\nversion = 1\nbates = 3", "name = \"x\"\nversion = 1\nconsumed_fraction = 2",
		"name = \"x\"\nversion = 1\n[[check]]\nsoak_h = 2\n[[check]]\nsoak_h = 1",
	} {
		if _, err := ReadProtocol(bad); err == nil {
			t.Errorf("taken as a protocol: %s", bad)
		}
	}
}

func BenchmarkDeployment(b *testing.B) {
	v := map[string]string{"deployment_id": "D1", "site": "dock", "habitat": "sand", "latitude": "36.9512", "longitude": "-8.2034",
		"deployed_at": "2026-07-01T09:00Z", "baits_deployed": "25"}
	for k := 1; k <= 2; k++ {
		v[fmt.Sprintf("check%d_at", k)] = "2026-07-01T10:02Z"
		v[fmt.Sprintf("consumed_by_check%d", k)] = "9"
		v[fmt.Sprintf("lost_by_check%d", k)] = "0"
	}
	for b.Loop() {
		Deployment(v)
	}
}
