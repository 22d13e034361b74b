package intake

import (
	"math"
	"strings"
	"time"
)

// Serials of the two date systems of ISO/IEC 29500-1, 18.17.4.1: days since
// 1899-12-30 (so that the invented 29 February 1900 does not matter from March
// 1900 on; before it one day more) or since 1904-01-01. A serial has no zone:
// it is what a clock at the site showed.
var (
	epoch1900 = time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	epoch1904 = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
)

// serialMost is 9999-12-31 in the 1900 system.
const serialMost = 2958465

// serialTime is the local time of a serial, to the nearest second, as a time in
// UTC that stands for a bare local one. It is false outside the years 1900..9999.
func serialTime(v float64, date1904 bool) (time.Time, bool) {
	if math.IsNaN(v) || v < 0 || v > serialMost {
		return time.Time{}, false
	}
	days, frac := math.Modf(v)
	from := epoch1900
	if date1904 {
		from = epoch1904
	} else if days < 60 {
		days++
	}
	return from.AddDate(0, 0, int(days)).Add(time.Duration(math.Round(frac*86400)) * time.Second), true
}

// serialText writes a date cell by its format's kind. A date format on a whole
// number is a day even where the format shows a time of midnight; a number
// below one under a date format is a time of day.
func serialText(v float64, date1904 bool, kind Kind) (string, Kind, bool) {
	if kind == Clock && v >= 0 && v < 1000 {
		s := int(math.Round(v * 86400))
		return clockText(s), Clock, true
	}
	t, ok := serialTime(v, date1904)
	if !ok {
		return "", Number, false
	}
	_, frac := math.Modf(v)
	switch {
	case v < 1 && !date1904 && frac > 0:
		return clockText(int(math.Round(v * 86400))), Clock, true
	case frac == 0 && kind != Clock:
		return t.Format("2006-01-02"), Day, true
	}
	return t.Format("2006-01-02T15:04:05"), Moment, true
}

// clockText writes seconds as 09:05:00; hours may pass 24 in a span.
func clockText(s int) string {
	two := func(n int) string { return string([]byte{byte('0' + n/10), byte('0' + n%10)}) }
	h := s / 3600
	hours := two(h % 100)
	if h > 99 {
		hours = strings.TrimLeft(two(h/100), "0") + hours
	}
	return hours + ":" + two(s/60%60) + ":" + two(s%60)
}

// isoCell reads a cell of type d: an ISO 8601 date or time without a zone.
func isoCell(raw []byte) ([]byte, Kind) {
	s := string(trimCell(raw))
	for _, f := range []struct {
		layout string
		kind   Kind
	}{{"2006-01-02T15:04:05", Moment}, {"2006-01-02T15:04", Moment}, {"2006-01-02", Day}, {"15:04:05", Clock}} {
		if t, err := time.Parse(f.layout, s); err == nil {
			switch f.kind {
			case Moment:
				return []byte(t.Round(time.Second).Format("2006-01-02T15:04:05")), Moment
			case Day:
				return []byte(s), Day
			}
			return []byte(s), Clock
		}
	}
	return raw, Text
}
