package entry

import (
	"maps"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/sheet"
)

func with(base map[string]string, pairs ...string) map[string]string {
	m := maps.Clone(base)
	for i := 0; i < len(pairs); i += 2 {
		m[pairs[i]] = pairs[i+1]
	}
	return m
}

var counts = map[string]string{
	"deployment_id": "D7", "site": "2", "habitat": "sand", Date: "20260701", "deployed_at": "0902", "deployed_until": "0921", "baits_deployed": "25",
	Position: "36.9510, -8.2034", "temperature_c": "18,4", "near_other_habitat": "2", "bait_batch": "2+1",
	"check1_at": "1004", PresentAt(1): "15", "consumed_by_check1": "9", "lost_by_check1": "0", "unread_at_check1": "1", "reader_of_check1": "1",
	"check2_at": "0855", "check2_until": "0915", PresentAt(2): "3", "consumed_by_check2": "20", "lost_by_check2": "2", "unread_at_check2": "0",
	"stakes_retrieved": "23", "retrieved_at": "0930",
}

var setting = Setting{Protocol: sheet.Standard(), Lists: map[string][]string{
	"site": {"dock", "quay"}, "bait_batch": {"B1", "B2"}, "observers": {"Ana"}}}

// By hand: set on 1 July at 09:02; 1 h later is 10:02, so 1004 is the same day;
// 24 h later is 09:02 of 2 July, so 0855 is that day, 7 minutes early, and not
// 1 July, 24 h early; taking out at 0930 is after it.
func TestCountsByHand(t *testing.T) {
	r := Read(counts, setting)
	if len(r.Faults) > 0 || len(r.Doubts) > 0 {
		t.Fatalf("%v %v", r.Faults, r.Doubts)
	}
	for name, want := range map[string]string{
		"site": "quay", "habitat": "sand", "deployed_at": "2026-07-01 09:02", "deployed_until": "2026-07-01 09:21",
		"check1_at": "2026-07-01 10:04", "check2_at": "2026-07-02 08:55", "check2_until": "2026-07-02 09:15", "retrieved_at": "2026-07-02 09:30",
		"latitude": "36.9510", "longitude": "-8.2034", "temperature_c": "18.4", "near_other_habitat": "no", "bait_batch": "B2; B1",
		"consumed_by_check2": "20", "reader_of_check1": "Ana", "depth_at": "", "notes": "",
	} {
		if r.Values[name] != want {
			t.Errorf("%s: %q, want %q", name, r.Values[name], want)
		}
	}
}

// A row set at 23:40 is checked after midnight, and the last bait in is on the
// next day.
func TestOverMidnight(t *testing.T) {
	r := Read(with(counts, "deployed_at", "2340", "deployed_until", "0005", "check1_at", "0045", "check2_at", "2350", "check2_until", "0010", "retrieved_at", "0020"), setting)
	for name, want := range map[string]string{"deployed_until": "2026-07-02 00:05", "check1_at": "2026-07-02 00:45",
		"check2_at": "2026-07-02 23:50", "check2_until": "2026-07-03 00:10", "retrieved_at": "2026-07-03 00:20"} {
		if r.Values[name] != want {
			t.Errorf("%s: %q, want %q", name, r.Values[name], want)
		}
	}
}

func TestWhatDoesNotAddUp(t *testing.T) {
	r := Read(with(counts, PresentAt(2), "4"), setting)
	if len(r.Doubts) != 1 || r.Doubts[0].Slug != "entry.sum" || r.Doubts[0].With["sum"] != 26 {
		t.Errorf("%v", r.Doubts)
	}
	for name, text := range map[string]string{"deployed_at": "0960", "check1_at": "2500", "consumed_by_check1": "x", "site": "3", Date: "20260231",
		"near_other_habitat": "3", "why_no_check1": "8", "temperature_c": "warm", Position: "95, 8.2", "stakes_retrieved": "-1"} {
		if r := Read(with(counts, name, text), setting); len(r.Faults) == 0 {
			t.Errorf("%s=%q passed", name, text)
		}
	}
	if r := Read(with(counts, Date, ""), setting); len(r.Faults) != 6 { // set, until, both checks, the end of one, back: each without a day
		t.Errorf("without a date: %d faults", len(r.Faults))
	}
}

// By hand, 5 stakes. Check 1: present, consumed, not known, not read, present.
// Check 2: consumed, (left empty), not known, consumed, present. At check 2 two
// more are consumed and the first stays so: 3; one is not known. At check 1 the
// third is not known, and the fourth was read later, so it was not read.
func TestStakesByHand(t *testing.T) {
	typed := map[string]string{Date: "20260701", "deployed_at": "0900", "baits_deployed": "5", "check1_at": "1000", "check2_at": "0900"}
	for i, f := range strings.Split("1 2 3 4 1", " ") {
		typed[FateAt(1, i+1)] = f
	}
	for i, f := range strings.Split("2 . 3 2 1", " ") {
		if f != "." {
			typed[FateAt(2, i+1)] = f
		}
	}
	s := setting
	s.Stakes = true
	s.Protocol.Baits = 5
	r := Read(typed, s)
	if len(r.Faults)+len(r.Doubts) > 0 {
		t.Fatalf("%v %v", r.Faults, r.Doubts)
	}
	for name, want := range map[string]string{"fates_at_check1": "1P 2C 3L 4U 5P", "fates_at_check2": "1C 3L 4C 5P",
		"consumed_by_check1": "1", "lost_by_check1": "1", "unread_at_check1": "1", "consumed_by_check2": "3", "lost_by_check2": "1", "unread_at_check2": "0"} {
		if r.Values[name] != want {
			t.Errorf("%s: %q, want %q", name, r.Values[name], want)
		}
	}
	typed["consumed_by_check2"] = "4"
	if r := Read(typed, s); len(r.Doubts) != 1 || r.Doubts[0].Slug != "entry.boxes-unlike-count" {
		t.Errorf("%v", r.Doubts)
	}
	typed[FateAt(1, 1)] = "7"
	if r := Read(typed, s); len(r.Faults) != 1 {
		t.Errorf("a fate of 7: %v", r.Faults)
	}
}

// What was read, shown as it would be typed, reads as the same again.
func TestTextsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := setting
		s.Stakes = rapid.Bool().Draw(t, "stakes")
		hm := func(name string) string {
			h, m := rapid.IntRange(0, 23).Draw(t, name), rapid.IntRange(0, 59).Draw(t, name)
			return strconv.Itoa(100 + h)[1:] + strconv.Itoa(100 + m)[1:]
		}
		typed := map[string]string{"deployment_id": "R1", Date: "20260228", "baits_deployed": "25", Position: "-36.95, 8.2034", Last: "-36.9504, 8.2030",
			"people_out": "2", "people_back": "2", "people_out_at_check2": "3", "people_back_at_check2": "3", "first_stake_side": "4", "landmarks": "mast over roof", "stakes_left": "9", "watch_against": "radio"}
		for _, n := range []string{"watch_read_at", "deployed_at", "deployed_until", "depth_at", "check1_at", "check1_until", "check2_at", "check2_until", "retrieved_at"} {
			typed[n] = hm(n)
		}
		for i := 1; i <= 25 && s.Stakes; i++ {
			typed[FateAt(1, i)] = rapid.SampledFrom([]string{"1", "2", "3", "4", ""}).Draw(t, "fate")
		}
		first := Read(typed, s)
		if len(first.Faults) > 0 {
			t.Fatalf("%+v", first.Faults[0])
		}
		canonical := maps.Clone(first.Values)
		for n, v := range canonical { // as a caller in Greenwich makes them
			if _, day, ok := clock(v); ok && !day.IsZero() && len(v) == len(local) {
				canonical[n] = v[:10] + "T" + v[11:] + "Z"
			}
		}
		again := Read(Texts(canonical, s), s)
		if !maps.Equal(first.Values, again.Values) {
			t.Fatalf("%v\n%v", first.Values, again.Values)
		}
	})
}

// Everything that is printed beside the counts can be typed: the watch on the day
// of setting, people at each visit, both ends, the sketch in words.
func TestPeopleWatchEndsAndSketch(t *testing.T) {
	r := Read(with(counts, "watch_read_at", "0850", "watch_against", "receiver 0851", "people_out", "3", "people_back", "3", "people_out_at_check1", "2",
		"people_back_at_check1", "2", Last, "36.9514, -8.2030", "first_stake_side", "3", "landmarks", "white tower over the slip", "stakes_left", "7, in weed"), setting)
	if len(r.Faults)+len(r.Doubts) > 0 {
		t.Fatalf("%v %v", r.Faults, r.Doubts)
	}
	for name, want := range map[string]string{"watch_read_at": "2026-07-01 08:50", "watch_against": "receiver 0851", "people_out": "3", "people_back": "3", "people_out_at_check1": "2",
		"last_latitude": "36.9514", "last_longitude": "-8.2030", "first_stake_side": "near", "landmarks": "white tower over the slip", "stakes_left": "7, in weed", "people_out_at_check2": ""} {
		if r.Values[name] != want {
			t.Errorf("%s: %q, want %q", name, r.Values[name], want)
		}
	}
	for name, text := range map[string]string{"people_out": "two", "first_stake_side": "5", Last: "95, 8", "watch_read_at": "2570"} {
		if r := Read(with(counts, name, text), setting); len(r.Faults) == 0 {
			t.Errorf("%s=%q passed", name, text)
		}
	}
	// Fewer back than out comes before what is off in the counts.
	r = Read(with(counts, PresentAt(2), "4", "people_out_at_check2", "3", "people_back_at_check2", "2", "people_out", "2", "people_back", "1"), setting)
	if len(r.Doubts) != 3 || r.Doubts[0].Slug != "entry.heads-set" || r.Doubts[1].Slug != "entry.heads-check" || r.Doubts[1].With["check"] != 2 || r.Doubts[2].Slug != "entry.sum" {
		t.Errorf("%+v", r.Doubts)
	}
	// One more than went in, or nobody counted yet, is no alarm.
	if r := Read(with(counts, "people_out", "2", "people_back", "3", "people_out_at_check1", "2"), setting); len(r.Doubts) > 0 {
		t.Errorf("%+v", r.Doubts)
	}
}
