package intake

import (
	"strconv"
	"strings"
	"time"

	"soakline/internal/pattern"
	"soakline/internal/sheet"
)

// stamp is a date, a time of day, or both, as a cell says it.
type stamp struct {
	y, m, d  int
	hasDate  bool
	sec      int // since midnight; a span may pass a day
	hasClock bool
	offset   int // seconds, when hasOffset
	hasZone  bool
	full     time.Time // of a text that says it all, with its offset
	zone     string    // RFC 9557 zone written behind
}

var (
	dmyPattern   = pattern.New(`^(\d{1,2})[/.\-](\d{1,2})[/.\-](\d{4}|\d{2})(?:[ ,T]+(.*))?$`)
	ymdPattern   = pattern.New(`^(\d{4})[/.\-](\d{1,2})[/.\-](\d{1,2})(?:[ ,T]+(.*))?$`)
	nameDay      = pattern.New(`(?i)^(\d{1,2})(?:st|nd|rd|th|º)?[ \-./]*(?:de )?([a-záéíóú]{3,10})\.?[ \-./,]*(?:de(?:l)? )?(\d{4}|\d{2})(?:[ ,T]+(.*))?$`)
	nameMonth    = pattern.New(`(?i)^([a-z]{3,10})\.?[ \-./]+(\d{1,2})(?:st|nd|rd|th)?[ ,\-./]+(\d{4}|\d{2})(?:[ ,T]+(.*))?$`)
	clockPattern = pattern.New(`(?i)^(\d{1,3})(?:[:.h](\d{2}))(?:[:.m](\d{2})(?:[.,]\d+)?)?\s*(?:h(?:rs?|oras)?|s)?\.?\s*([ap]\.?\s?m\.?)?$`)
	hourOnly     = pattern.New(`(?i)^(\d{1,2})\s*(?:h|hrs?|([ap]\.?\s?m\.?))$`)
	fourDigits   = pattern.New(`^([01]\d|2[0-3])([0-5]\d)$`)
)

var monthNames = map[string]int{"jan": 1, "ene": 1, "feb": 2, "mar": 3, "apr": 4, "abr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "ago": 8, "sep": 9, "set": 9, "oct": 10, "nov": 11, "dec": 12, "dic": 12}

// readStamp reads a cell of a column of times. order is the day order where
// the cell leaves it open; serials the date system of bare numbers.
func readStamp(s string, k Kind, order, serials string) (stamp, bool) {
	switch k {
	case Moment:
		t, _, ok := sheet.ParseTime(s)
		return ofTime(t, true), ok
	case Day:
		t, err := time.Parse("2006-01-02", s)
		return ofTime(t, false), err == nil
	case Clock:
		return clockOf(s)
	}
	if t, has, ok := sheet.ParseTime(s); ok {
		st := ofTime(t, true)
		if has {
			st.hasZone, st.full = true, t
		}
		return st, true
	}
	if i := strings.IndexByte(s, '['); i > 0 && strings.HasSuffix(s, "]") {
		if t, has, ok := sheet.ParseTime(s[:i]); ok && has {
			st := ofTime(t, true)
			st.hasZone, st.full, st.zone = true, t, s[i+1:len(s)-1]
			return st, true
		}
	}
	if v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64); err == nil && serials != "" {
		if kind := serialKind(v); kind != Number {
			if text, kind, ok := serialText(v, serials == "1904", kind); ok {
				return readStamp(text, kind, order, "")
			}
		}
	}
	if m := ymdPattern.FindStringSubmatch(s); m != nil {
		return dated(m[1], m[2], m[3], m[4])
	}
	if m := dmyPattern.FindStringSubmatch(s); m != nil {
		if order == "month-first" {
			return dated(m[3], m[1], m[2], m[4])
		}
		return dated(m[3], m[2], m[1], m[4])
	}
	if m := nameDay.FindStringSubmatch(s); m != nil {
		return dated(m[3], m[2], m[1], m[4])
	}
	if m := nameMonth.FindStringSubmatch(s); m != nil {
		return dated(m[3], m[1], m[2], m[4])
	}
	return clockOf(s)
}

// serialKind judges a bare number in a column of times: a day count of the
// years 1970 to 2100 in either system, or a share of a day.
func serialKind(v float64) Kind {
	switch {
	case v >= 0 && v < 1:
		return Clock
	case v >= 24000 && v < 73051:
		return Moment
	}
	return Number
}

func ofTime(t time.Time, clock bool) stamp {
	return stamp{y: t.Year(), m: int(t.Month()), d: t.Day(), hasDate: true, sec: t.Hour()*3600 + t.Minute()*60 + t.Second(), hasClock: clock}
}

func dated(y, m, d, rest string) (stamp, bool) {
	st := stamp{hasDate: true}
	st.y, _ = strconv.Atoi(y)
	if len(y) == 2 {
		st.y += 2000
	}
	st.d, _ = strconv.Atoi(d)
	if n, err := strconv.Atoi(m); err == nil {
		st.m = n
	} else if r := []rune(strings.ToLower(m)); len(r) >= 3 {
		st.m = monthNames[string(r[:3])]
	}
	t := time.Date(st.y, time.Month(st.m), st.d, 0, 0, 0, 0, time.UTC)
	if st.m < 1 || st.m > 12 || t.Day() != st.d || st.y < 1800 || st.y > 2400 {
		return stamp{}, false
	}
	if rest = strings.TrimSpace(rest); rest != "" {
		c, ok := clockOf(rest)
		if !ok {
			return stamp{}, false
		}
		st.sec, st.hasClock, st.offset, st.hasZone = c.sec, true, c.offset, c.hasZone
	}
	return st, true
}

var zoneEnd = pattern.New(`^(.*\d)\s*(Z|UTC|GMT|[+\-]\d{2}:?\d{2})$`)

func clockOf(s string) (stamp, bool) {
	st := stamp{hasClock: true}
	if m := zoneEnd.FindStringSubmatch(s); m != nil {
		st.hasZone = true
		if strings.ContainsAny(m[2][:1], "+-") {
			digits := strings.Replace(m[2][1:], ":", "", 1)
			h, _ := strconv.Atoi(digits[:2])
			n, _ := strconv.Atoi(digits[2:])
			st.offset = h*3600 + n*60
			if m[2][0] == '-' {
				st.offset = -st.offset
			}
		}
		s = strings.TrimSpace(m[1])
	}
	var h, mi, sec int
	half := ""
	if m := clockPattern.FindStringSubmatch(s); m != nil {
		h, _ = strconv.Atoi(m[1])
		mi, _ = strconv.Atoi(m[2])
		sec, _ = strconv.Atoi(m[3])
		half = m[4]
	} else if m := hourOnly.FindStringSubmatch(s); m != nil {
		h, _ = strconv.Atoi(m[1])
		half = m[2]
	} else if m := fourDigits.FindStringSubmatch(s); m != nil {
		h, _ = strconv.Atoi(m[1])
		mi, _ = strconv.Atoi(m[2])
	} else {
		return stamp{}, false
	}
	if half != "" {
		if h < 1 || h > 12 {
			return stamp{}, false
		}
		if h %= 12; half[0] == 'p' || half[0] == 'P' {
			h += 12
		}
	}
	if mi > 59 || sec > 59 {
		return stamp{}, false
	}
	st.sec = h*3600 + mi*60 + sec
	return st, true
}

// dayOrderOf tells what a cell says of the order of day and month: both are
// false for a cell that does not say, or that is no date of two short numbers.
func dayOrderOf(s string) (open, dayFirst, monthFirst bool) {
	m := dmyPattern.FindStringSubmatch(s)
	if m == nil {
		return false, false, false
	}
	a, _ := strconv.Atoi(m[1])
	b, _ := strconv.Atoi(m[2])
	switch {
	case a > 12 && b >= 1 && b <= 12:
		return false, true, false
	case b > 12 && a >= 1 && a <= 12:
		return false, false, true
	}
	return a != b && a >= 1 && b >= 1 && a <= 12 && b <= 12, false, false
}

// local is the clock reading as a time in UTC that stands for a bare local one.
func (s stamp) local() time.Time {
	return time.Date(s.y, time.Month(s.m), s.d, 0, 0, s.sec, 0, time.UTC)
}
