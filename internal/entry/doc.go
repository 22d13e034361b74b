// Package entry answers: what does a paper sheet say, typed field by field with
// number keys? It takes the texts of the fields of one field sheet, laid out as
// package paper prints it, and gives canonical values by column, what cannot be
// read, and what does not add up.
//
// Keys: a time is four figures (0939), a date eight (20260701); a fate is one
// figure (Keys); where a list is shown, the number of an entry stands for it.
// A time of day is put on the day on which it makes sense: setting and taking
// out go forward from the time before them, a check goes to the day that brings
// it nearest to its nominal soak. Times come out as the local clock's reading,
// without an offset: whose clock it was is for the caller.
//
// Fates of stakes are cumulative as on the paper; the counts that the sheet does
// not state follow from them (package rates). It judges nothing that package
// quality judges.
package entry

import (
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// Key is one figure that stands for a fate.
type Key struct {
	Figure string
	Sign   string // as it is drawn in a box of the paper sheet
	Fate   assay.Fate
}

// Keys are the figures for fates, in the order of the paper sheet's own key.
var Keys = []Key{{"1", "✓", assay.Present}, {"2", "/", assay.Consumed}, {"3", "?", assay.Lost}, {"4", "○", assay.Unread}}

// WhyNot are the reasons why a check was not made, in the order of the paper.
var WhyNot = []string{"weather", "access", "tide", "ill", "equipment", "forgot", "other"}

// Sides are where stake 1 may be, seen from the shore, in the order of the paper.
var Sides = []string{"left", "right", "near", "far"}

// MaxStakes bounds the boxes of one check.
const MaxStakes = 200

// Setting is what is known before a sheet is typed.
type Setting struct {
	Protocol assay.Protocol
	Lists    map[string][]string // by column: entries that may be named by their number
	Stakes   bool                // fates by stake
}

// Doubt is something on the sheet that does not add up; it may be kept as it is
// written, when the person says so.
type Doubt struct {
	Slug string
	With map[string]any
}

// Reading is what a typed sheet says.
type Reading struct {
	Values map[string]string // canonical, times as the local clock reads; empty ones stay as empty texts
	Faults []*sheet.Fault
	Doubts []Doubt
}

// Names of the fields that are no column: the day of setting, the positions as
// the sheet has them, and per check the baits present and the fate of each stake.
const (
	Date     = "date"
	Position = "position"
	Last     = "last_position"
)

// PresentAt is the field of the baits present at check k.
func PresentAt(k int) string { return "present_at_check" + strconv.Itoa(k) }

// FateAt is the field of the fate of stake i at check k.
func FateAt(k, i int) string { return "fate_" + strconv.Itoa(k) + "_" + strconv.Itoa(i) }

// Columns are the columns that a sheet with so many checks has, in its order.
func Columns(checks int, stakes bool) []string {
	out := []string{"deployment_id", "site", "habitat", "observers", "watch_read_at", "watch_against", "people_out", "people_back",
		"deployed_at", "deployed_until", "baits_deployed", "depth_min_m", "depth_max_m", "depth_at", "latitude", "longitude", "last_latitude", "last_longitude", "row_bearing_deg", "bait_batch", "temperature_c", "visibility_m", "near_other_habitat"}
	for k := 1; k <= checks; k++ {
		n := strconv.Itoa(k)
		out = append(out, "check"+n+"_at", "check"+n+"_until", "consumed_by_check"+n, "lost_by_check"+n, "unread_at_check"+n, "reader_of_check"+n, "why_no_check"+n, "people_out_at_check"+n, "people_back_at_check"+n)
		if stakes {
			out = append(out, "fates_at_check"+n)
		}
	}
	return append(out, "stakes_retrieved", "retrieved_at", "stakes_left", "first_stake_side", "landmarks", "notes")
}

// local is how a local clock's reading is written.
const local = "2006-01-02 15:04"

// readDate reads a day from eight figures, or as ISO 8601 writes it.
func readDate(s string) (time.Time, bool) {
	for _, layout := range []string{"20060102", time.DateOnly} {
		if t, err := time.Parse(layout, s); err == nil && t.Year() >= 1900 && t.Year() < 2200 {
			return t, true
		}
	}
	return time.Time{}, false
}

// clock reads a time of day from three or four figures, or with a colon, point
// or h between; day is set where the text holds its own date.
func clock(s string) (minutes int, day time.Time, ok bool) {
	if len(s) == 12 && strings.Trim(s, "0123456789") == "" {
		d, okDay := readDate(s[:8])
		m, _, okClock := clock(s[8:])
		return m, d, okDay && okClock
	}
	if t, err := time.Parse(local, strings.Replace(s, "T", " ", 1)); err == nil {
		return t.Hour()*60 + t.Minute(), t.Truncate(24 * time.Hour), true
	}
	h, m, cut := strings.Cut(strings.NewReplacer(".", ":", "h", ":").Replace(s), ":")
	if !cut {
		if len(s) < 3 || len(s) > 4 {
			return 0, day, false
		}
		h, m = s[:len(s)-2], s[len(s)-2:]
	}
	hour, errH := strconv.Atoi(h)
	minute, errM := strconv.Atoi(m)
	if errH != nil || errM != nil || len(m) != 2 || hour < 0 || hour > 23 || minute < 0 || minute > 59 || strings.HasPrefix(h, "+") {
		return 0, day, false
	}
	return hour*60 + minute, day, true
}
