package visits

import (
	"time"

	"soakline/internal/sun"
)

// Way is the direction in which an instant is rounded to the minute that people read.
type Way bool

// A begin is rounded up and an end down, so that what is read is inside what holds.
const (
	Begin Way = true
	End   Way = false
)

// Minute is the full minute at or after an instant that begins something, at or
// before one that ends something.
func Minute(t time.Time, w Way) time.Time {
	m := t.Truncate(time.Minute)
	if w == Begin && m.Before(t) {
		m = m.Add(time.Minute)
	}
	return m
}

// Local is the time of day on the clock of a zone with the clock's abbreviation or
// offset, such as 04:12 WEST; on a day on which the clock is changed it is told by
// both clocks.
func Local(t time.Time, z *time.Location) string {
	t = t.In(z)
	text := t.Format("15:04 MST")
	if other, changed := otherClock(t, z); changed {
		text += " = " + t.In(other).Format("15:04 MST")
	}
	return text
}

// LocalDay is Local with the date before it. Where the other clock has another
// date, it stays out: the offset says it.
func LocalDay(t time.Time, z *time.Location) string {
	return t.In(z).Format(time.DateOnly) + " " + Local(t, z)
}

// otherClock is the clock that is not in force at t but on another part of t's day.
func otherClock(t time.Time, z *time.Location) (*time.Location, bool) {
	spans := sun.Spans(t.Year(), t.Month(), t.Day(), z)
	if len(spans) == 0 {
		return nil, false
	}
	name, offset := t.Zone()
	for _, at := range []time.Time{spans[0].From, spans[len(spans)-1].To.Add(-time.Second)} {
		if n, o := at.In(z).Zone(); o != offset || n != name {
			return time.FixedZone(n, o), true
		}
	}
	return nil, false
}
