package visits

import (
	"math"
	"time"

	"soakline/internal/sun"
	"soakline/internal/tide"
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

// Minutes are the window's first and last full minute; its ends as they are where it
// holds none.
func (w Window) Minutes() (from, to time.Time) {
	from, to = Minute(w.From, Begin), Minute(w.To, End)
	if to.Before(from) {
		return w.From, w.To
	}
	return from, to
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

// Picture is what a drawing shows: the water every so often (NaN where it is not
// known), and the dark.
type Picture struct {
	From, To time.Time
	Heights  []tide.Height
	Dark     []sun.Span
}

// Picture gives water and dark over any range near the plan's. Dark is what is not
// light of the kind asked for; where none was asked for, what is not civil twilight.
func (p *Plan) Picture(from, to time.Time, step time.Duration) (Picture, error) {
	out := Picture{From: from, To: to}
	for at := from; ; at = at.Add(step) {
		if at.After(to) {
			at = to
		}
		h, ok := p.source.heightAt(at)
		if !ok {
			h = math.NaN()
		}
		out.Heights = append(out.Heights, tide.Height{At: at, HeightM: h})
		if !at.Before(to) {
			break
		}
	}
	kind := p.Ask.Light
	if kind == sun.None {
		kind = sun.Civil
	}
	lit, err := sun.Light(p.Ask.LatDeg, p.Ask.LonDeg, from, to, kind)
	if err != nil {
		return out, err
	}
	at := from
	for _, s := range lit {
		if s.From.After(at) {
			out.Dark = append(out.Dark, sun.Span{From: at, To: s.From})
		}
		at = s.To
	}
	if to.After(at) {
		out.Dark = append(out.Dark, sun.Span{From: at, To: to})
	}
	return out, nil
}
