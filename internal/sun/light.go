package sun

import (
	"math"
	"time"
)

// Kind is what counts as light.
type Kind string

// The kinds: the sun above the horizon, civil twilight or brighter, or no
// demand at all.
const (
	Sun   Kind = "sun"
	Civil Kind = "civil"
	None  Kind = "none"
)

// Altitudes of the sun's centre, without refraction, at which light of a kind
// begins and ends, degrees: 34′ of refraction and 16′ of radius for the sun,
// 6° for civil twilight. The definitions of the almanacs (U.S. Naval Observatory).
const (
	horizonDeg = -50.0 / 60
	civilDeg   = -6.0
)

// thresholdDeg is the altitude of a kind; false for None and what is no kind.
func (k Kind) thresholdDeg() (float64, bool) {
	switch k {
	case Sun:
		return horizonDeg, true
	case Civil:
		return civilDeg, true
	}
	return 0, false
}

// Span is a stretch of time, UTC: From belongs to it, To does not.
type Span struct{ From, To time.Time }

// Light gives the stretches of light of a kind within [from, to) at a position,
// in order, to the millisecond: with None the whole range. Empty when it is dark
// all along.
//
// It returns a *Refusal when the position or kind is not one, or the range is
// empty or outside the years FirstYear to LastYear.
func Light(latDeg, lonDeg float64, from, to time.Time, kind Kind) ([]Span, error) {
	if err := checkPosition(latDeg, lonDeg); err != nil {
		return nil, err
	}
	if err := checkRange(from, to); err != nil {
		return nil, err
	}
	from, to = from.UTC(), to.UTC()
	if kind == None {
		return []Span{{from, to}}, nil
	}
	h, ok := kind.thresholdDeg()
	if !ok {
		return nil, refuse("kind", "given", string(kind))
	}
	lit, events := crossings(placeAt(latDeg, lonDeg), h, seconds(from), seconds(to))
	spans := []Span{}
	open := from
	for _, e := range events {
		switch {
		case !e.at.After(from):
			lit = e.up
		case !e.at.Before(to):
		case e.up:
			lit, open = true, e.at
		default:
			lit = false
			spans = append(spans, Span{open, e.at})
		}
	}
	if lit {
		spans = append(spans, Span{open, to})
	}
	return spans, nil
}

func checkPosition(latDeg, lonDeg float64) error {
	if !(latDeg >= -90 && latDeg <= 90) {
		return refuse("latitude", "given", latDeg)
	}
	if !(lonDeg >= -180 && lonDeg <= 360) {
		return refuse("longitude", "given", lonDeg)
	}
	return nil
}

func checkRange(from, to time.Time) error {
	if !from.Before(to) {
		return refuse("range")
	}
	if from.UTC().Year() < FirstYear || to.UTC().Year() > LastYear+1 {
		return refuse("years", "first", FirstYear, "last", LastYear)
	}
	return nil
}

// event is the instant at which the sun passes an altitude.
type event struct {
	at time.Time
	up bool
}

// step is the grid of the search, seconds. It is aligned to full hours of UTC,
// so that an event comes out the same whatever range was asked for.
const step = 3600.0

// grazing is how near to the threshold, in degrees, an extreme sample must be
// for the curve to cross it between samples. The altitude's sine is, over hours,
// a + b cos(hour angle) with |b| ≤ 1, so half a step from an extreme it differs
// by at most 1 − cos 7.5° = 0.0086, 0.5° at the horizon.
const grazing = 1.0

// crossings finds every passage of the sun through an altitude from an hour or
// more before from until an hour or more after to. lit tells whether the sun
// was at it or above when the events begin.
//
// It samples hourly and bisects each change of sign; where three samples on one
// side of the threshold hold an extreme near it, the extreme itself is found,
// and with it two events less than two hours apart.
func crossings(p place, thresholdDeg, from, to float64) (lit bool, events []event) {
	f := func(s float64) float64 { return p.altitude(s) - thresholdDeg }
	first, last := math.Floor(from/step)-1, math.Ceil(to/step)+1
	n := int(last-first) + 1
	a, fa := 0.0, 0.0 // the sample before the last
	b, fb := first*step, f(first*step)
	lit = fb >= 0
	for i := 1; i < n; i++ {
		c := (first + float64(i)) * step
		fc := f(c)
		// Whether [a, c] holds two events is settled before [b, c] is looked at.
		if i > 1 && (fa >= 0) == (fb >= 0) && (fb >= 0) == (fc >= 0) && math.Abs(fb) < grazing {
			if x := extreme(f, a, c, fa, fb, fc); !math.IsNaN(x) && (f(x) >= 0) != (fb >= 0) {
				events = append(events, bisect(f, a, x, fa >= 0), bisect(f, x, c, fa < 0))
			}
		}
		if (fb >= 0) != (fc >= 0) {
			events = append(events, bisect(f, b, c, fb >= 0))
		}
		a, fa, b, fb = b, fb, c, fc
	}
	return lit, events
}

// extreme finds the lowest or highest point of f in [a, c], where the middle
// sample fb is the extreme one; NaN where it is not, or points away from zero.
func extreme(f func(float64) float64, a, c, fa, fb, fc float64) float64 {
	sign := 1.0
	if fb < 0 {
		sign = -1
	}
	if fb*sign > fa*sign || fb*sign >= fc*sign {
		return math.NaN()
	}
	// Ternary search for the least of sign·f, which has one in [a, c]; to a
	// hundredth of a second, since a graze lasts longer.
	for c-a > 0.01 {
		x, y := a+(c-a)/3, c-(c-a)/3
		if f(x)*sign <= f(y)*sign {
			c = y
		} else {
			a = x
		}
	}
	return (a + c) / 2
}

// bisect finds the one change of sign of f in [a, b] to half a millisecond; lit
// is whether f is at or above zero in a.
func bisect(f func(float64) float64, a, b float64, lit bool) event {
	for b-a > 0.0005 {
		m := (a + b) / 2
		if (f(m) >= 0) == lit {
			a = m
		} else {
			b = m
		}
	}
	return event{at: instant(b), up: !lit}
}
