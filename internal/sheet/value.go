package sheet

import (
	"math"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
)

// Fault is a canonical text that cannot be read.
type Fault struct {
	Column string // canonical name
	Value  string
	Wrong  assay.Said
	Do     assay.Said
}

func fault(column, value, slug string, with map[string]any) *Fault {
	all := map[string]any{"value": value, "column": column}
	for k, v := range with {
		all[k] = v
	}
	return &Fault{Column: column, Value: value,
		Wrong: assay.Said{Slug: "sheet." + slug + ".wrong", With: all},
		Do:    assay.Said{Slug: "sheet." + slug + ".do", With: all}}
}

// ParseCount reads a whole number. A negative one reads, and is judged later.
func ParseCount(column, s string) (assay.Maybe[int], *Fault) {
	if s == "" {
		return assay.None[int](), nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n > 1e9 || n < -1e9 {
		return assay.None[int](), fault(column, s, "count", nil)
	}
	return assay.Some(n), nil
}

// ParseNumber reads a number with a decimal point.
func ParseNumber(column, s string) (assay.Maybe[float64], *Fault) {
	if s == "" {
		return assay.None[float64](), nil
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || strings.ContainsAny(s, "xXpP_") {
		return assay.None[float64](), fault(column, s, "number", nil)
	}
	return assay.Some(x), nil
}

var flags = map[string]bool{"yes": true, "true": true, "1": true, "y": true, "no": false, "false": false, "0": false, "n": false}

// ParseFlag reads yes or no.
func ParseFlag(column, s string) (assay.Maybe[bool], *Fault) {
	if s == "" {
		return assay.None[bool](), nil
	}
	v, ok := flags[strings.ToLower(s)]
	if !ok {
		return assay.None[bool](), fault(column, s, "flag", nil)
	}
	return assay.Some(v), nil
}

// ParseWord reads one of the column's words, without regard to case.
func ParseWord(c Column, column, s string) (string, *Fault) {
	if s == "" {
		return "", nil
	}
	for _, w := range c.Words {
		if strings.EqualFold(w, s) {
			return w, nil
		}
	}
	return "", fault(column, s, "word", map[string]any{"words": strings.Join(c.Words, ", ")})
}

var layouts = []string{"2006-01-02T15:04:05.999999999", "2006-01-02T15:04", "2006-01-02 15:04:05.999999999", "2006-01-02 15:04"}

// ParseTime reads a date and time of ISO 8601, with or without an offset, with
// T or a space between. The time of one without an offset is the reading of the
// local clock, in UTC only by name.
func ParseTime(s string) (t time.Time, hasOffset, ok bool) {
	// What fails is dear to try: an offset shows behind the date.
	hasOffset = len(s) > 10 && strings.ContainsAny(s[10:], "Z+-")
	for _, l := range layouts {
		if hasOffset {
			l += "Z07:00"
		}
		if t, err := time.Parse(l, s); err == nil {
			return t, hasOffset, plausible(t)
		}
	}
	return time.Time{}, false, false
}

// plausible keeps years that every format we write can hold.
func plausible(t time.Time) bool { return t.Year() >= 1800 && t.Year() <= 2400 }

// ParseMoment reads a canonical instant: ISO 8601 with an offset or Z, and
// behind it, when a local time was read by the site's clock, that zone in
// brackets as in RFC 9557: 2026-07-01T09:00+01:00[Europe/Lisbon].
func ParseMoment(column, s string) (assay.Moment, *Fault) {
	if s == "" {
		return assay.Moment{}, nil
	}
	text, zone := s, ""
	if i := strings.IndexByte(s, '['); i > 0 && strings.HasSuffix(s, "]") {
		text, zone = s[:i], s[i+1:len(s)-1]
	}
	t, hasOffset, ok := ParseTime(text)
	if !ok {
		return assay.Moment{}, fault(column, s, "instant", nil)
	}
	if !hasOffset {
		return assay.Moment{}, fault(column, s, "instant-zone", nil)
	}
	_, offset := t.Zone()
	return assay.Moment{At: t.UTC(), Zone: zone, OffsetS: offset}, nil
}

// FormatMoment writes a moment as ParseMoment reads it; empty when unknown.
func FormatMoment(m assay.Moment) string {
	if !m.Known() {
		return ""
	}
	t := m.Local()
	layout := "2006-01-02T15:04"
	if t.Second() != 0 || t.Nanosecond() != 0 {
		layout = "2006-01-02T15:04:05.999999999"
	}
	s := t.Format(layout + "Z07:00")
	if m.Zone != "" {
		s += "[" + m.Zone + "]"
	}
	return s
}

// InZone is the moment of a local clock reading in a zone. It says whether
// there is none such (the clock was put forward over it) or two (it was put
// back over it); at is then the later reading and the earlier one.
//
// local holds the clock reading in its UTC fields, as ParseTime gives it.
func InZone(local time.Time, zone *time.Location) (at []assay.Moment) {
	// A zone's offset never changes by more than a day between neighbours, so
	// the offsets a day before and after are the only candidates.
	seen := map[int]bool{}
	for _, d := range []time.Duration{-24 * time.Hour, 24 * time.Hour} {
		_, offset := local.Add(d).In(zone).Zone()
		if seen[offset] {
			continue
		}
		seen[offset] = true
		t := local.Add(-time.Duration(offset) * time.Second)
		if _, real := t.In(zone).Zone(); real == offset {
			at = append(at, assay.Moment{At: t.UTC(), Zone: zone.String(), OffsetS: offset})
		}
	}
	return at
}

// decimals is the number of digits behind the point of a canonical number.
func decimals(s string) int {
	if strings.ContainsAny(s, "eE") {
		return 15
	}
	_, d, ok := strings.Cut(s, ".")
	if !ok {
		return 0
	}
	return len(d)
}

// FormatNumber writes a number with the fewest digits that read back the same.
func FormatNumber(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
