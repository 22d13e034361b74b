package water

import (
	"math"
	"time"

	"soakline/internal/assay"
	"soakline/internal/tide"
	"soakline/internal/visits"
)

// Opened is the water of a site over time, and what a person must know of it.
type Opened struct {
	Source visits.Source
	Datum  string // as the file states it; empty for none
	Nodal  string // whose node factors; empty for a table
	// From and To bound the record that constituents were found in, or the table;
	// zero where they are not stated.
	From, To time.Time
	// Low5M and Low1M say how far below the prediction a series stood for 5 % and
	// 1 % of the time, metres, positive; NaN without a series.
	Low5M, Low1M float64
	Messages     []tide.Message
}

// Open opens a file as the water of a site. airData are the bytes of the file of
// the air's pressure that t.Air names, nil where it names none. The latitude is used
// for gravity and for the satellites' node factors; NaN where it is not known.
//
// It returns a *Faulty for cells that cannot be read, and a *tide.Refusal for what
// cannot be meant.
func Open(t assay.Tide, data, airData []byte, latDeg float64) (*Opened, error) {
	clock, err := clockOf(t.Clock)
	if err != nil {
		return nil, err
	}
	switch t.Kind {
	case assay.Constituents:
		return openConstituents(t, data, latDeg)
	case assay.Waters:
		list, messages, err := Waters(t.File, data, clock)
		if err != nil {
			return nil, err
		}
		table, more, err := tide.NewTable(list, Secondary(t.Differences))
		if err != nil {
			return nil, err
		}
		o := &Opened{Source: visits.FromTable(table), Low5M: math.NaN(), Low1M: math.NaN()}
		o.From, o.To = table.Range()
		o.Messages = append(append(messages, more...), tide.Message{Slug: "tide.half-cosine"})
		if t.Differences != (assay.TideDifferences{}) {
			o.Messages = append(o.Messages, tide.Message{Slug: "tide.secondary"})
		}
		return o, nil
	case assay.Series:
		return openSeries(t, data, airData, clock, latDeg)
	}
	return nil, refuse("tide.kind", "kind", string(t.Kind))
}

// Secondary are the differences of a secondary place as the table takes them.
func Secondary(d assay.TideDifferences) tide.Secondary {
	later := func(min float64) time.Duration { return time.Duration(min * float64(time.Minute)).Round(time.Second) }
	return tide.Secondary{HighLater: later(d.HighLaterMin), LowLater: later(d.LowLaterMin), HighAddM: d.HighAddM, LowAddM: d.LowAddM, HighTimes: d.HighTimes, LowTimes: d.LowTimes}
}

// clockOf is a stated clock; nil where none is stated.
func clockOf(text string) (*time.Location, error) {
	if text == "" {
		return nil, nil
	}
	z, ok := Clock(text)
	if !ok {
		return nil, refuse("tide.no-clock", "clock", text)
	}
	return z, nil
}

func openConstituents(t assay.Tide, data []byte, latDeg float64) (*Opened, error) {
	list, s, err := Constituents(t.File, data)
	if err != nil {
		return nil, err
	}
	o := tide.Options{Nodal: tide.Nodal(t.Nodal), LatitudeDeg: s.LatitudeDeg}
	if o.Nodal == "" {
		o.Nodal = s.Nodal
	}
	if o.Nodal == "" {
		o.Nodal = tide.Schureman
	}
	if math.IsNaN(o.LatitudeDeg) {
		o.LatitudeDeg = latDeg
	}
	if t.LagClock != "" {
		h, ok := Offset(t.LagClock)
		if !ok {
			return nil, refuse("tide.no-lag-clock", "clock", t.LagClock)
		}
		o.LagClockH = h
	}
	curve, err := tide.NewCurve(list, o)
	if err != nil {
		return nil, err
	}
	return &Opened{Source: visits.FromCurve(curve), Datum: s.Datum, Nodal: string(curve.Nodal()), From: s.From, To: s.To, Low5M: math.NaN(), Low1M: math.NaN()}, nil
}

func openSeries(t assay.Tide, data, airData []byte, clock *time.Location, latDeg float64) (*Opened, error) {
	series, messages, err := Series(t.File, data, Reading{Clock: clock, Air: t.Air, AirData: airData, DensityKgM3: t.DensityKgM3, LatitudeDeg: latDeg})
	if err != nil {
		return nil, err
	}
	nodal := tide.Nodal(t.Nodal)
	r, err := tide.Analyse(series, tide.Analysing{Nodal: nodal, LatitudeDeg: latDeg})
	if err != nil {
		return nil, err
	}
	curve, err := tide.NewCurve(r.Harmonics(), tide.Options{Nodal: r.Nodal, LatitudeDeg: latDeg})
	if err != nil {
		return nil, err
	}
	o := &Opened{Source: visits.FromCurve(curve), Nodal: string(curve.Nodal()), From: r.From, To: r.To, Messages: append(messages, r.Messages...)}
	low5, low1 := r.Margin()
	o.Low5M, o.Low1M = -low5, -low1
	return o, nil
}
