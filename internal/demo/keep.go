package demo

import "soakline/internal/assay"

// What each team keeps of a row. The clean records hold no more than that:
// nobody can mend a sheet into what was never written down.

// keepBrisa: the canonical columns, times with their offset.
func keepBrisa(r *row) {
	r.Stakes, r.Sightings = nil, nil
	r.eachMoment(func(m *assay.Moment) { m.Zone = "" })
	last := &r.Checks[len(r.Checks)-1]
	last.Unread = assay.None[int]()
}

// keepMarea: single times, no unread baits, controls and practice marked only
// where there are some.
func keepMarea(r *row) {
	keepLittle(r)
	if r.Control == assay.NoControl {
		r.Control = ""
	}
	if !r.IsPractice() {
		r.Practice = assay.None[bool]()
	}
}

// keepEspuma: as Marea, no control rows, practice answered for every row.
func keepEspuma(r *row) {
	keepLittle(r)
	r.Control = ""
}

// keepSalina: the fate of every bait, animals filmed, stakes taken out.
func keepSalina(r *row) {
	fates, seen, retrieved, checks := r.Stakes, r.Sightings, r.StakesRetrieved, r.Checks
	unread := make([]assay.Maybe[int], len(checks))
	for k := range checks {
		unread[k] = checks[k].Unread
	}
	keepLittle(r)
	r.Stakes, r.Sightings, r.StakesRetrieved = fates, seen, retrieved
	for k := range r.Checks {
		r.Checks[k].Unread = unread[k]
	}
	if r.Control == assay.NoControl {
		r.Control = ""
	}
	r.Practice = assay.None[bool]()
}

func keepLittle(r *row) {
	r.SetOutUntil, r.RetrievedAt = assay.Moment{}, assay.Moment{}
	r.Protocol, r.BaitKind, r.BaitForm = "", "", ""
	r.BaitSizeMM, r.SpacingM, r.RowBearingDeg = assay.None[float64](), assay.None[float64](), assay.None[float64]()
	r.StakesRetrieved = assay.None[int]()
	r.Covariates, r.Stakes, r.Sightings = nil, nil, nil
	for k := range r.Checks {
		r.Checks[k].Until, r.Checks[k].Unread = assay.Moment{}, assay.None[int]()
	}
}

func (r *row) eachMoment(do func(*assay.Moment)) {
	do(&r.SetOut)
	do(&r.SetOutUntil)
	do(&r.RetrievedAt)
	for k := range r.Checks {
		do(&r.Checks[k].At)
		do(&r.Checks[k].Until)
	}
	for k := range r.Sightings {
		do(&r.Sightings[k].From)
		do(&r.Sightings[k].To)
	}
}
