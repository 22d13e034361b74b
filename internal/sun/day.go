package sun

import "time"

// Day is the light of one calendar day of a time zone at a position. Events are
// UTC, to the second, in order; there may be none, one or two of each.
type Day struct {
	// Spans are the stretches of time that bear the date: one, but two where
	// the clock is set back over midnight.
	Spans                []Span
	Sunrise, Sunset      []time.Time
	CivilDawn, CivilDusk []time.Time
	Sun                  State // Changes, Up or Down
	Civil                State // Changes, Bright or Dark
}

// State says whether there is an event in a day, and if not how it is all along.
type State string

// The states: of the sun Changes, Up and Down; of civil twilight Changes,
// Bright (never darker than it) and Dark.
const (
	Changes State = "changes"
	Up      State = "up"
	Down    State = "down"
	Bright  State = "light"
	Dark    State = "dark"
)

// OfDay gives the light of the calendar day year, month, day of a zone: every
// event inside it, none missed where the sun grazes the horizon.
//
// It returns a *Refusal when the position is not one, the day does not exist
// (30 February, or a day a zone left out when it moved over the date line), or
// the year is outside FirstYear to LastYear.
func OfDay(latDeg, lonDeg float64, year int, month time.Month, day int, zone *time.Location) (Day, error) {
	if err := checkPosition(latDeg, lonDeg); err != nil {
		return Day{}, err
	}
	if year < FirstYear || year > LastYear {
		return Day{}, refuse("years", "first", FirstYear, "last", LastYear)
	}
	d := Day{Spans: Spans(year, month, day, zone)}
	if len(d.Spans) == 0 {
		return Day{}, refuse("no-such-day", "date", time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Format(time.DateOnly), "zone", zone.String())
	}
	p := placeAt(latDeg, lonDeg)
	var lit bool
	d.Sunrise, d.Sunset, lit = passages(p, horizonDeg, d.Spans)
	d.Sun = stateOf(len(d.Sunrise)+len(d.Sunset), lit, Up, Down)
	d.CivilDawn, d.CivilDusk, lit = passages(p, civilDeg, d.Spans)
	d.Civil = stateOf(len(d.CivilDawn)+len(d.CivilDusk), lit, Bright, Dark)
	return d, nil
}

func stateOf(events int, lit bool, above, below State) State {
	switch {
	case events > 0:
		return Changes
	case lit:
		return above
	}
	return below
}

// passages gives the events upward and downward inside the spans, and whether
// the sun was above when the first of them began.
func passages(p place, thresholdDeg float64, spans []Span) (up, down []time.Time, lit bool) {
	up, down = []time.Time{}, []time.Time{}
	for i, span := range spans {
		before, events := crossings(p, thresholdDeg, seconds(span.From), seconds(span.To))
		for _, e := range events {
			switch {
			case e.at.Before(span.From):
				before = e.up
				continue
			case !e.at.Before(span.To):
				continue
			}
			at := e.at.Round(time.Second)
			if !at.Before(span.To) { // half a second before midnight is this day
				at = span.To.Add(-time.Second)
			}
			if e.up {
				up = append(up, at)
			} else {
				down = append(down, at)
			}
		}
		if i == 0 {
			lit = before
		}
	}
	return up, down, lit
}

// Spans gives the stretches of time whose date, on the clock of a zone, is
// year, month, day: usually one of 24 h; 23 or 25 h where the clock is changed;
// two where it is set back over midnight; none where the zone left the day out
// or the date is none.
func Spans(year int, month time.Month, day int, zone *time.Location) []Span {
	midnight := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	if midnight.Day() != day || midnight.Month() != month {
		return nil
	}
	var spans []Span
	// No zone is further than 26 h from UTC; each stretch of one offset gives its part.
	end := midnight.Add(52 * time.Hour)
	for t := midnight.Add(-28 * time.Hour); t.Before(end); {
		_, offset := t.In(zone).Zone()
		from := midnight.Add(-time.Duration(offset) * time.Second)
		to := from.Add(24 * time.Hour)
		starts, ends := t.In(zone).ZoneBounds()
		if !starts.IsZero() && starts.After(from) {
			from = starts.UTC()
		}
		if !ends.IsZero() && ends.Before(to) {
			to = ends.UTC()
		}
		if from.Before(to) {
			if n := len(spans); n > 0 && spans[n-1].To.Equal(from) {
				spans[n-1].To = to
			} else {
				spans = append(spans, Span{from, to})
			}
		}
		if ends.IsZero() {
			break
		}
		t = ends.UTC()
	}
	return spans
}
