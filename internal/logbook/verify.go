package logbook

import (
	"context"
	"errors"
)

// Slugs of faults that the database finds by itself.
const (
	FaultIntegrity = "logbook.fault-integrity" // said
	FaultPointer   = "logbook.fault-pointer"   // table, line, parent
	FaultSchema    = "logbook.fault-schema"    // object
)

// Fault is one thing wrong with a logbook, told as slug and parameters.
type Fault struct {
	Slug   string
	Params map[string]any
}

// FaultsError joins faults into one error, for wrapping.
func FaultsError(faults []Fault) error {
	var all []error
	for _, f := range faults {
		all = append(all, &Error{Slug: f.Slug, Params: f.Params})
	}
	return errors.Join(all...)
}

// mostFaults bounds what Verify lists of one kind of check.
const mostFaults = 100

// Verify lists what is wrong with a logbook; none when it is whole. It asks
// the database for damage; hashes every original; works every record out
// again from its revisions and compares fields, state, last revision and the
// columns that are asked for; and looks for missing revisions.
//
// It finds damage and accidents. It cannot tell whether somebody who can write
// the file rewrote a revision and all that follows from it.
func (b *Book) Verify(ctx context.Context) (faults []Fault, err error) {
	err = b.View(ctx, func(tx *Tx) error {
		for _, check := range []func() ([]Fault, error){
			func() ([]Fault, error) { return b.dialect.Integrity(ctx, tx.sql) },
			tx.verifySources,
			tx.verifyRecords,
		} {
			found, err := check()
			faults = append(faults, found...)
			if err = b.explain(err); err != nil {
				if damage := damageIn(err); damage != nil { // go no further, but say so
					faults = append(faults, *damage)
					return nil
				}
				return err
			}
		}
		return nil
	})
	if damage := damageIn(err); damage != nil {
		return append(faults, *damage), nil
	}
	return faults, err
}

// damageIn takes an error that says the logbook is damaged as a fault.
func damageIn(err error) *Fault {
	var e *Error
	if errors.As(err, &e) && (e.Slug == SlugDamaged || e.Slug == SlugContentUnreadable) {
		return &Fault{e.Slug, e.Params}
	}
	return nil
}

func (tx *Tx) verifySources() ([]Fault, error) {
	var faults []Fault
	all, err := tx.Sources()
	if err != nil {
		return nil, err
	}
	for _, src := range all {
		var content []byte
		var hash string
		if _, err := tx.row(`select original, original_hash from source where id = $1`, []any{src.ID}, &content, &hash); err != nil {
			return faults, err
		}
		right := hashOf(content) == hash
		if src.Redacted == nil {
			right = right && hash == src.ID && int64(len(content)) == src.Bytes
		}
		if !right && len(faults) < mostFaults {
			faults = append(faults, Fault{FaultSource, map[string]any{"source": src.ID, "name": src.Name}})
		}
	}
	return faults, nil
}

// line is a record with the columns that stand beside its fields.
type line struct {
	Record
	id Identity
}

// verifyRecords compares page after page of records with their revisions.
func (tx *Tx) verifyRecords() (faults []Fault, err error) {
	after := ""
	for {
		page, histories, err := tx.recordPage(after)
		if err != nil {
			return faults, err
		}
		for _, r := range page {
			if len(faults) >= mostFaults {
				return faults, nil
			}
			history := histories[r.Key]
			faults = append(faults, checkHistory(r.Key, history)...)
			about := map[string]any{"record": r.Key}
			if len(history) > 0 && !same(r.Record, replayed(r.Kind, history)) {
				faults = append(faults, Fault{FaultCurrent, about})
			}
			if IdentityOf(r.Kind, r.Fields) != r.id {
				faults = append(faults, Fault{FaultIdentity, about})
			}
			if !keyForm.MatchString(r.Key) || !kindForm.MatchString(r.Kind) || checkFields(r.Fields) != nil {
				faults = append(faults, Fault{FaultRecord, about})
			}
		}
		if len(page) < pageSize {
			return faults, nil
		}
		after = page[len(page)-1].Key
	}
}

// recordPage reads the records after a key and all their revisions in order.
func (tx *Tx) recordPage(after string) (page []line, histories map[string][]Revision, err error) {
	err = tx.rows(`select key, kind, state, fields, head, seq, programme, team, season, site, code
		from record where key > $1 order by key limit $2`, []any{after, int64(pageSize)},
		func(scan func(...any) error) error {
			var l line
			var fields string
			if err := scan(&l.Key, &l.Kind, &l.State, &fields, &l.Head, &l.Seq,
				&l.id.Programme, &l.id.Team, &l.id.Season, &l.id.Site, &l.id.Code); err != nil {
				return err
			}
			var err error
			l.Fields, err = decodeFields(fields)
			page = append(page, l)
			return err
		})
	if err != nil || len(page) == 0 {
		return page, nil, err
	}
	histories = make(map[string][]Revision, len(page))
	err = tx.rows(selectRevision+` where record > $1 and record <= $2 order by record, seq, at, id`,
		[]any{after, page[len(page)-1].Key}, func(scan func(...any) error) error {
			v, err := scanRevision(scan)
			histories[v.Record] = append(histories[v.Record], v)
			return err
		})
	return page, histories, err
}

// Rebuild works the current fields of every record out from its revisions
// again and writes those that differ; it tells how many did.
func (tx *Tx) Rebuild() (mended int, err error) {
	after := ""
	for {
		page, histories, err := tx.recordPage(after)
		if err != nil {
			return mended, err
		}
		for _, r := range page {
			if len(histories[r.Key]) == 0 {
				continue // nothing to work it out from; Verify tells
			}
			now := replayed(r.Kind, histories[r.Key])
			if same(r.Record, now) && IdentityOf(now.Kind, now.Fields) == r.id {
				continue
			}
			mended++
			if err := tx.writeRecord(now, false); err != nil {
				return mended, err
			}
		}
		if len(page) < pageSize {
			return mended, nil
		}
		after = page[len(page)-1].Key
	}
}
