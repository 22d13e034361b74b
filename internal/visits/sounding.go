package visits

import (
	"math"
	"time"
)

// Sounding is one reading of the depth at the row and how well it is known.
type Sounding struct {
	At      time.Time
	DepthM  float64
	WithinS float64 // the clock may be wrong by so many seconds either way
	WithinM float64 // the depth may be wrong by so much either way
}

// Bed gives the bed of the row from one sounding: the predicted height at its time
// less its depth. What the clock and the depth may be wrong by makes a shallow and
// a deep bed; the row is then asked to stay covered over the one and to be workable
// over both.
//
// It returns a *Refusal where the water is not known at the time, or the sounding
// is none.
func (s Sounding) Bed(src Source) (bedM, shallowM, deepM float64, err error) {
	if !(math.Abs(s.DepthM) <= 1000) || !(s.WithinM >= 0 && s.WithinM <= 100) || !(s.WithinS >= 0 && s.WithinS <= dayS) {
		return 0, 0, 0, refuse("windows.sounding")
	}
	h, ok := src.heightAt(s.At)
	if !ok {
		return 0, 0, 0, refuse("windows.sounding-unknown", "at", s.At.UTC().Format("2006-01-02T15:04Z"))
	}
	low, high := h, h
	if s.WithinS > 0 {
		at := seconds(s.At)
		w, err := src.water(at-s.WithinS, at+s.WithinS)
		if err != nil {
			return 0, 0, 0, err
		}
		l, t, ok := w.extremes(at-s.WithinS, at+s.WithinS)
		if !ok {
			return 0, 0, 0, refuse("windows.sounding-unknown", "at", s.At.UTC().Format("2006-01-02T15:04Z"))
		}
		low, high = l.height, t.height
	}
	return h - s.DepthM, high - s.DepthM + s.WithinM, low - s.DepthM - s.WithinM, nil
}
