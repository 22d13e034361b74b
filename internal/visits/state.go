package visits

import (
	"math"
	"time"

	"soakline/internal/sun"
)

// Tide is the state of the tide at a time.
type Tide struct {
	HeightM float64 // of the water above the datum
	// RangeM is the highest less the lowest water of the day on the zone's clock; NaN
	// where some of that day is not known.
	RangeM float64
	// FromHighH is how long after the nearest high water, hours; negative before it.
	// NaN where no high water is known within a day either way.
	FromHighH float64
}

// Stay is the water around a stay, worked out once for the several questions that
// are asked of it.
type Stay struct {
	src      Source
	from, to float64 // what w covers
	w        *water
}

// aroundS is how far before and after a stay the water is worked out, seconds: the
// longest day of a clock, and the day in which the nearest high water is looked for.
const aroundS = 26 * 3600

// StayOf works the water out from a day before the stay to a day after it.
func StayOf(src Source, from, to time.Time) *Stay {
	s := &Stay{src: src, from: seconds(from) - aroundS, to: seconds(to) + aroundS}
	if w, err := src.water(s.from, s.to); err == nil {
		s.w = w
	}
	return s
}

// over is the water over a range: that of the stay, or one of its own where the range
// lies outside.
func (s *Stay) over(from, to float64) (*water, error) {
	if s.w != nil && from >= s.from && to <= s.to {
		return s.w, nil
	}
	return s.src.water(from, to)
}

// TideAt is the state of the tide at a time; false where the water is not known.
// Every high water counts, the lower ones too.
func TideAt(src Source, at time.Time, z *time.Location) (Tide, bool) {
	return (&Stay{src: src}).TideAt(at, z)
}

// TideAt is the state of the tide at a time, as the function TideAt tells it.
func (s *Stay) TideAt(at time.Time, z *time.Location) (Tide, bool) {
	t := Tide{RangeM: math.NaN(), FromHighH: math.NaN()}
	var ok bool
	if t.HeightM, ok = s.src.heightAt(at); !ok {
		return t, false
	}
	local := at.In(z)
	from := time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, z)
	to := nextDay(at, z)
	x := seconds(at)
	w, err := s.over(math.Min(x-dayS, seconds(from)), math.Max(x+dayS, seconds(to)))
	if err != nil {
		return t, false
	}
	if low, high, ok := w.extremes(seconds(from), seconds(to)); ok {
		t.RangeM = high.height - low.height
	}
	nearest := math.Inf(1)
	for _, k := range w.stretches {
		for i := 1; i < len(k)-1; i++ {
			if k[i].height >= k[i-1].height && k[i].height >= k[i+1].height && math.Abs(x-k[i].at) < math.Abs(nearest) {
				nearest = x - k[i].at
			}
		}
	}
	if math.Abs(nearest) <= dayS {
		t.FromHighH = nearest / 3600
	}
	return t, true
}

// Lowest is the lowest water in [from, to] and when it stands so; false where some
// of it is not known.
func Lowest(src Source, from, to time.Time) (heightM float64, at time.Time, ok bool) {
	return (&Stay{src: src}).Lowest(from, to)
}

// Lowest is the lowest water, as the function Lowest tells it.
func (s *Stay) Lowest(from, to time.Time) (heightM float64, at time.Time, ok bool) {
	a, b := seconds(from), seconds(to)
	if !(b >= a) {
		return 0, time.Time{}, false
	}
	w, err := s.over(a-samplesS, b+samplesS)
	if err != nil {
		return 0, time.Time{}, false
	}
	low, _, ok := w.extremes(a, b)
	return low.height, instant(low.at), ok
}

// HeightAt is the height of the water at a time; false where it is not known.
func HeightAt(src Source, at time.Time) (heightM float64, ok bool) { return src.heightAt(at) }

// DarkShare is the share of [from, to] without civil twilight or sun, 0 to 1; false
// for a position or years without light.
func DarkShare(latDeg, lonDeg float64, from, to time.Time) (float64, bool) {
	if !to.After(from) {
		return 0, false
	}
	lit, err := sun.Light(latDeg, lonDeg, from, to, sun.Civil)
	if err != nil {
		return 0, false
	}
	light := time.Duration(0)
	for _, s := range lit {
		light += s.To.Sub(s.From)
	}
	return math.Max(0, 1-light.Seconds()/to.Sub(from).Seconds()), true
}
