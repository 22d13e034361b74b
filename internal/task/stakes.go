package task

import (
	"context"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/gear"
	"soakline/internal/logbook"
	"soakline/internal/sheet"
)

// StakesOut lists the rows of a logbook with stakes that are not accounted for,
// as of a time; the zero time knows none.
func StakesOut(ctx context.Context, book *logbook.Book, s *Season, asOf time.Time) (list []gear.Out, err error) {
	err = book.View(ctx, func(tx *logbook.Tx) error {
		settled, err := settledStakes(tx)
		list = gear.StillOut(gearRows(s), settled, asOf)
		return err
	})
	return list, err
}

func gearRows(s *Season) []gear.Row {
	rows := make([]gear.Row, len(s.Deployments))
	for i := range s.Deployments {
		d := &s.Deployments[i]
		rows[i] = gear.Row{Deployment: d, ToVisit: ToVisit(s, d)}
		longest := 0.0
		for _, c := range s.protocolOf(d).Checks {
			longest = max(longest, c.SoakH+c.ToleranceH)
		}
		if d.SetOut.Known() { // and a day to write it down
			rows[i].DueUntil = d.SetOut.At.Add(time.Duration((longest + 24) * float64(time.Hour)))
		}
	}
	return rows
}

func settledStakes(tx *logbook.Tx) (list []gear.Settled, err error) {
	for _, kind := range []string{kindFound, kindLeft} {
		err := live(tx, kind, func(r logbook.Record) error {
			f := r.Fields
			list = append(list, gear.Settled{Record: f["record"], N: number(f["n"]), Found: kind == kindFound, At: f["at"], Where: f["where"], Why: f["why"]})
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}

// open is what is open of one row.
func openStakes(ctx context.Context, tx *logbook.Tx, e Entry) (int, error) {
	settled, err := settledStakes(tx)
	if err != nil {
		return 0, err
	}
	list := gear.StillOut([]gear.Row{{Deployment: &e.Deployment}}, settled, time.Time{})
	if len(list) == 0 {
		return 0, ctx.Err()
	}
	return list[0].Open, ctx.Err()
}

// FindStakes keeps that n stakes of a row were found later; at is a day or a
// time, where is free text. It gives the key of the record and how many are open.
func FindStakes(ctx context.Context, book *logbook.Book, id string, n int, at, where string, by By) (key string, open int, err error) {
	return settleStakes(ctx, book, kindFound, id, n, map[string]string{"at": at, "where": where}, by)
}

// WriteOffStakes keeps that n stakes of a row will not come back, with the place
// where they are and the reason why they stay.
func WriteOffStakes(ctx context.Context, book *logbook.Book, id string, n int, where, why string, by By) (key string, open int, err error) {
	if strings.TrimSpace(where) == "" || strings.TrimSpace(why) == "" {
		return "", 0, refuse("stakes-place-why")
	}
	return settleStakes(ctx, book, kindLeft, id, n, map[string]string{"where": where, "why": why}, by)
}

func settleStakes(ctx context.Context, book *logbook.Book, kind, id string, n int, fields map[string]string, by By) (key string, open int, err error) {
	if at := strings.TrimSpace(fields["at"]); at != "" {
		if _, ok := gear.Day(at); !ok {
			if _, _, ok := sheet.ParseTime(at); !ok {
				return "", 0, refuse("stakes-day", "given", at)
			}
		}
	} else if kind == kindFound {
		return "", 0, refuse("stakes-day", "given", "")
	}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		e, err := one(tx, id, false)
		if err != nil {
			return err
		}
		if open, err = openStakes(ctx, tx, e); err != nil {
			return err
		}
		if n < 1 || n > open {
			return refuse("stakes-range", "n", n, "open", open, "id", e.Deployment.ID)
		}
		all := map[string]string{"record": e.Record.Key, "n": itoa(n)}
		for k, v := range fields {
			all[k] = strings.TrimSpace(v)
		}
		rev, err := tx.Put(logbook.Record{Kind: kind, Fields: all}, by.stamp())
		key, open = rev.Record, open-n
		return err
	})
	return key, open, err
}

// StakesBack writes into a row how many of its stakes were taken out, and when
// where a time is given; n below 0 means all of them.
func StakesBack(ctx context.Context, book *logbook.Book, id string, n int, at string, by By) (back int, err error) {
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		e, err := one(tx, id, false)
		if err != nil {
			return err
		}
		if back = n; n < 0 {
			back = e.Deployment.Baits
		}
		if back > e.Deployment.Baits {
			return refuse("stakes-range", "n", n, "open", e.Deployment.Baits, "id", e.Deployment.ID)
		}
		to := map[string]string{"stakes_retrieved": itoa(back)}
		if at = strings.TrimSpace(at); at != "" {
			to["retrieved_at"] = at
		}
		_, err = correctIn(tx, e.Record.Key, to, by)
		return err
	})
	return back, err
}

// OldStakesBack writes for every row set before a day, of which nobody wrote how
// many stakes came back, that all of them did: a season from before it was asked.
func OldStakesBack(ctx context.Context, book *logbook.Book, day string, by By) (rows int, err error) {
	before, ok := gear.Day(strings.TrimSpace(day))
	if !ok {
		return 0, refuse("stakes-day", "given", day)
	}
	s, err := Of(ctx, book, time.Time{})
	if err != nil {
		return 0, err
	}
	list, err := StakesOut(ctx, book, s, time.Time{})
	if err != nil {
		return 0, err
	}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		for _, o := range list {
			if o.State != gear.NotWritten || !o.SetOut.At.Before(before) {
				continue
			}
			back := o.Set - o.Found - o.WrittenOff
			if _, err := correctIn(tx, o.Key, map[string]string{"stakes_retrieved": itoa(back)}, by); err != nil {
				return err
			}
			rows++
		}
		return nil
	})
	return rows, err
}

// StakesJSON is the answer of `soakline stakes --json`.
type StakesJSON struct {
	Contract   int       `json:"contract"`
	AsOf       *string   `json:"as_of"`
	RowsOpen   int       `json:"rows_open"`
	StakesOpen int       `json:"stakes_open"`
	Rows       []OutJSON `json:"rows"`
}

// OutJSON is one row of it.
type OutJSON struct {
	ID         string               `json:"deployment_id"`
	Site       string               `json:"site"`
	Habitat    string               `json:"habitat"`
	Team       string               `json:"team"`
	State      gear.State           `json:"state"`
	Set        int                  `json:"stakes_set"`
	Back       assay.Maybe[int]     `json:"stakes_back"`
	Found      int                  `json:"stakes_found_later"`
	WrittenOff int                  `json:"stakes_written_off"`
	Open       int                  `json:"stakes_open"`
	SetOut     string               `json:"set_out_at"`
	LastSeen   string               `json:"last_seen_at"`
	OutH       assay.Maybe[float64] `json:"out_h"`
	Latitude   assay.Maybe[float64] `json:"latitude"`
	Longitude  assay.Maybe[float64] `json:"longitude"`
	BearingDeg assay.Maybe[float64] `json:"row_bearing_deg"`
	SpacingM   assay.Maybe[float64] `json:"spacing_m"`
	Stakes     []int                `json:"stakes_not_found"`
	LastLat    assay.Maybe[float64] `json:"last_latitude"`
	LastLon    assay.Maybe[float64] `json:"last_longitude"`
	Landmarks  string               `json:"landmarks"`
	Left       string               `json:"stakes_left"`
}

// StakesList turns a list into the contract's form.
func StakesList(list []gear.Out, asOf time.Time) StakesJSON {
	out := StakesJSON{Contract: 1, Rows: []OutJSON{}}
	if !asOf.IsZero() {
		t := asOf.UTC().Format(time.RFC3339)
		out.AsOf = &t
	}
	for _, o := range list {
		out.RowsOpen++
		out.StakesOpen += o.Open
		out.Rows = append(out.Rows, OutJSON{o.ID, o.Site, o.Habitat, o.Team, o.State, o.Set, o.Back, o.Found, o.WrittenOff, o.Open,
			sheet.FormatMoment(o.SetOut), sheet.FormatMoment(o.LastSeen), o.OutH, o.Latitude, o.Longitude, o.BearingDeg, o.SpacingM, append([]int{}, o.Stakes...),
			o.LastLatitude, o.LastLongitude, o.Landmarks, o.Left})
	}
	return out
}
