package visits

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"soakline/internal/words"
)

// unfold is the reader's side of RFC 5545, 3.1 and 3.3.11, written for this test.
func unfold(t interface{ Fatalf(string, ...any) }, b []byte) map[string][]string {
	if !bytes.HasSuffix(b, []byte("\r\n")) || bytes.Contains(bytes.ReplaceAll(b, []byte("\r\n"), nil), []byte("\n")) {
		t.Fatalf("lines do not end in CR LF")
	}
	out := map[string][]string{}
	for _, l := range strings.Split(string(b), "\r\n") {
		if len(l) > 75 || !utf8.ValidString(l) {
			t.Fatalf("line of %d octets, valid %v: %q", len(l), utf8.ValidString(l), l)
		}
	}
	for _, l := range strings.Split(strings.ReplaceAll(string(b), "\r\n ", ""), "\r\n") {
		name, value, _ := strings.Cut(l, ":")
		var v strings.Builder
		for i := 0; i < len(value); i++ {
			if value[i] != '\\' || i+1 == len(value) {
				v.WriteByte(value[i])
				continue
			}
			i++
			if value[i] == 'n' {
				v.WriteByte('\n')
			} else {
				v.WriteByte(value[i])
			}
		}
		out[name] = append(out[name], v.String())
	}
	return out
}

func TestCalendar(t *testing.T) {
	z, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	// The cosine's starts of 24 and 25 October 2026, the night the clock goes back in
	// Lisbon: 4:00 to 7:00 and 16:00 to 19:00 UTC.
	ask := Ask{
		LatDeg: 36.95, LonDeg: -8.2, Zone: z, From: utc("2026-10-24T12:00:00Z"), To: utc("2026-10-25T12:00:00Z"), AccessM: 1.5,
		ShallowBedM: 0.2, DeepBedM: 0.2, WorkMaxM: 1.3, Soak: 24 * time.Hour, Checks: []time.Duration{time.Hour, 24 * time.Hour}, Walking: 25 * time.Minute,
	}
	p := find(t, cosine(t, 2, 1, 0), ask)
	stamp := utc("2026-06-01T10:00:00Z")
	b := p.Calendar(`Kell Spit, north; a\b`, words.Spanish, stamp)
	got := unfold(t, b)
	if s := strings.Join(got["DTSTART"], " ") + " " + strings.Join(got["DTEND"], " "); s != "20261024T160000Z 20261025T040000Z 20261024T183500Z 20261025T063500Z" {
		t.Errorf("times %s", s)
	}
	if len(got["UID"]) != 2 || got["UID"][0] == got["UID"][1] || len(got["BEGIN"]) != 3 || len(got["END"]) != 3 {
		t.Errorf("%v", got)
	}
	if !strings.Contains(got["SUMMARY"][0], `Kell Spit, north; a\b`) {
		t.Errorf("summary %q", got["SUMMARY"])
	}
	// The second window is on the day of the change: both clocks.
	if d := got["DESCRIPTION"][1]; !strings.Contains(d, "2026-10-25 04:00 WET = 05:00 WEST") || !strings.Contains(d, "2026-10-25 07:35 WET = 08:35 WEST") || strings.Count(d, "\n") < 5 {
		t.Errorf("description %q", d)
	}
	// Written again, later and in another language: the same identifiers.
	again := unfold(t, p.Calendar(`Kell Spit, north; a\b`, words.English, stamp.Add(time.Hour)))
	if strings.Join(again["UID"], " ") != strings.Join(got["UID"], " ") {
		t.Error("identifiers change")
	}
	if o := unfold(t, p.Calendar("Low Ostrel", words.English, stamp)); o["UID"][0] == got["UID"][0] {
		t.Error("two places share an identifier")
	}
}

// Whatever a place is called, the lines stay short and the name comes back.
func TestCalendarAnyName(t *testing.T) {
	p := find(t, cosine(t, 2, 1, 0), noWay(Ask{From: utc("2026-07-01T00:00:00Z"), To: utc("2026-07-02T00:00:00Z"), WorkMaxM: 9}))
	if math.Abs(p.Hours.All-24) > 1e-9 {
		t.Fatal(p.Hours)
	}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringOf(rapid.OneOf(rapid.RuneFrom([]rune(`ab ,;\\:é漢🌊`)), rapid.Rune())).Draw(t, "name")
		if strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f || r == utf8.RuneError }) {
			return
		}
		got := unfold(t, p.Calendar(name, words.English, utc("2026-06-01T10:00:00Z")))
		if !strings.Contains(got["SUMMARY"][0], name) {
			t.Fatalf("%q in %q", name, got["SUMMARY"])
		}
	})
}
