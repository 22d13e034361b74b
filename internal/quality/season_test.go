package quality

import (
	"fmt"
	"time"

	"soakline/internal/assay"
)

// season is a small invented season that a test bends.
type season struct {
	deps []assay.Deployment
	ctx  Context
}

// d is the row that a test bends; others join it with add.
func (s *season) d() *assay.Deployment { return &s.deps[0] }

func (s *season) check(k int) *assay.Check { return &s.deps[0].Checks[k-1] }

// add appends n good rows of the same site, a day and 100 m apart.
func (s *season) add(n int) {
	for range n {
		k := len(s.deps)
		s.deps = append(s.deps, good(k))
	}
}

func at(text string) assay.Moment {
	t, err := time.Parse("2006-01-02T15:04Z07:00", text)
	if err != nil {
		panic(err)
	}
	_, offset := t.Zone()
	return assay.Moment{At: t.UTC(), OffsetS: offset}
}

func later(m assay.Moment, d time.Duration) assay.Moment { m.At = m.At.Add(d); return m }

// good is an invented row without fault, the k-th of its season: standard
// protocol, a bay of the Algarve by position.
func good(k int) assay.Deployment {
	set := later(at("2026-07-01T09:00+01:00"), time.Duration(k)*24*time.Hour)
	some := assay.Some[int]
	return assay.Deployment{
		ID: fmt.Sprintf("D%d", k+1), Programme: "Invented", Season: "2026", Team: "Crab", Site: "dock", Habitat: "sand",
		Protocol: "standard 1", Observers: "Ana Invented", BaitBatch: "B1", BaitKind: "squid", BaitForm: "disc",
		BaitSizeMM: assay.Some(13.0), SpacingM: assay.Some(2.0),
		Latitude: assay.Some(36.9512 + 0.001*float64(k)), Longitude: assay.Some(-8.2034), PositionDecimals: some(4),
		SetOut: set, SetOutUntil: later(set, 20*time.Minute), Baits: 25,
		Checks: []assay.Check{
			{Number: 1, At: later(set, time.Hour), Until: later(set, 70*time.Minute), Consumed: some(9), Lost: some(0), Unread: some(0)},
			{Number: 2, At: later(set, 24*time.Hour), Until: later(set, 24*time.Hour+10*time.Minute), Consumed: some(12 + k%7), Lost: some(1), Unread: some(0)},
		},
		StakesRetrieved: some(24), RetrievedAt: later(set, 25*time.Hour),
		DepthMinM: assay.Some(1.0), DepthMaxM: assay.Some(1.5), TemperatureC: assay.Some(21.0), Salinity: assay.Some(36.0),
		Where: assay.Place{File: "dock.csv", Line: 2 + k},
	}
}

func newSeason() *season {
	return &season{deps: []assay.Deployment{good(0)}, ctx: Context{Now: time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC)}}
}
