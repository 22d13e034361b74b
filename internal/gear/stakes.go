package gear

import (
	"slices"
	"sort"
	"time"

	"soakline/internal/assay"
)

// State says why a row has stakes that are not accounted for.
type State string

// The states: visits are still due; all visits are over and nobody wrote how many
// stakes came back; fewer were counted back than set.
const (
	VisitsDue  State = "visits-due"
	NotWritten State = "not-written"
	Missing    State = "missing"
)

// Row is one row of which stakes may be out.
type Row struct {
	Deployment *assay.Deployment
	ToVisit    bool // a check is still to be read
	// DueUntil is when the last visit should be over; a row that is out longer is
	// no longer taken as visited.
	DueUntil time.Time
}

// Settled is a number of stakes of one row that was found later or written off.
type Settled struct {
	Record string // key of the row
	N      int
	Found  bool   // else written off
	At     string // when, as written
	Where  string
	Why    string // of a writing off
}

// Out is one row with stakes that are not accounted for.
type Out struct {
	Key        string
	ID         string
	Site       string
	Habitat    string
	Team       string
	State      State
	Set        int
	Back       assay.Maybe[int] // counted back when the row was taken out
	Found      int
	WrittenOff int
	Open       int
	SetOut     assay.Moment
	LastSeen   assay.Moment         // last visit to the row
	OutH       assay.Maybe[float64] // since the setting; none without a time to tell it for
	Latitude   assay.Maybe[float64] // of stake 1
	Longitude  assay.Maybe[float64]
	BearingDeg assay.Maybe[float64]
	// Where the last stake stood, by which landmarks the row is found, and what was
	// written of stakes left behind.
	LastLatitude, LastLongitude assay.Maybe[float64]
	Landmarks, Left             string
	SpacingM                    assay.Maybe[float64]
	Stakes                      []int // those not found at the last check that was read stake by stake
	Notes                       string
}

// StillOut lists the rows with stakes not accounted for, those that should be
// back first, then the longest out. Rows not set out before asOf are left out; a
// zero asOf knows no time.
func StillOut(rows []Row, settled []Settled, asOf time.Time) []Out {
	var out []Out
	for _, r := range rows {
		d := r.Deployment
		if !d.SetOut.Known() || d.Baits < 1 || !asOf.IsZero() && d.SetOut.At.After(asOf) {
			continue
		}
		o := Out{Key: d.Key, ID: d.ID, Site: d.Site, Habitat: d.Habitat, Team: d.Team, Set: d.Baits, Back: d.StakesRetrieved, SetOut: d.SetOut, LastSeen: lastSeen(d),
			Latitude: d.Latitude, Longitude: d.Longitude, BearingDeg: d.RowBearingDeg, LastLatitude: d.LastLatitude, LastLongitude: d.LastLongitude, Landmarks: d.Landmarks, Left: d.StakesLeft, SpacingM: d.SpacingM, Stakes: notFound(d), Notes: d.Notes}
		for _, s := range settled {
			switch {
			case s.Record != d.Key:
			case s.Found:
				o.Found += s.N
			default:
				o.WrittenOff += s.N
			}
		}
		o.Open = o.Set - min(o.Back.Or(0), o.Set) - o.Found - o.WrittenOff
		if o.Open <= 0 {
			continue
		}
		switch {
		case o.Back.Known():
			o.State = Missing
		case r.ToVisit && (asOf.IsZero() || r.DueUntil.IsZero() || !asOf.After(r.DueUntil)):
			o.State = VisitsDue
		default:
			o.State = NotWritten
		}
		if !asOf.IsZero() {
			o.OutH = assay.Some(asOf.Sub(d.SetOut.At).Hours())
		}
		out = append(out, o)
	}
	sort.SliceStable(out, func(i, j int) bool {
		a, b := &out[i], &out[j]
		if (a.State == VisitsDue) != (b.State == VisitsDue) {
			return b.State == VisitsDue
		}
		return a.SetOut.At.Before(b.SetOut.At)
	})
	return out
}

// lastSeen is the last time that somebody was at the row.
func lastSeen(d *assay.Deployment) assay.Moment {
	last := d.SetOut
	for _, m := range []assay.Moment{d.SetOutUntil, d.RetrievedAt} {
		if m.Known() && m.At.After(last.At) {
			last = m
		}
	}
	for _, c := range d.Checks {
		for _, m := range []assay.Moment{c.At, c.Until} {
			if c.Read() && m.Known() && m.At.After(last.At) {
				last = m
			}
		}
	}
	return last
}

// notFound are the stakes whose bait was lost, or whose stake was gone, at the
// last check with fates by stake.
func notFound(d *assay.Deployment) []int {
	last := 0
	for _, s := range d.Stakes {
		last = max(last, s.Check)
	}
	var out []int
	for _, s := range d.Stakes {
		if s.Check == last && (s.Fate == assay.Lost || s.How == assay.StakeGone) {
			out = append(out, s.Stake)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Overdue counts the rows, and their stakes, that should be back.
func Overdue(list []Out) (rows, stakes int) {
	for _, o := range list {
		if o.State != VisitsDue {
			rows++
			stakes += o.Open
		}
	}
	return rows, stakes
}
