package logbook

import (
	"database/sql"
	"iter"
	"time"
)

// pageSize is how many records are read at a time: memory stays bounded, and
// the reader may change the logbook between two records, which a database that
// keeps a query open over the same connection would not allow.
const pageSize = 500

const msPrecision = time.Millisecond

// Record returns the record with this key; SlugNoRecord when there is none.
func (tx *Tx) Record(key string) (Record, error) { return tx.known(key) }

// Records goes through the live and withdrawn records of a kind in the order of
// their keys, which is the order in which they were made, for keys given by
// one logbook. It stops at the first error, which comes with an empty record.
func (tx *Tx) Records(kind string) iter.Seq2[Record, error] {
	if tx.frozen != nil {
		return tx.frozenRecords(kind)
	}
	return paged(func(after string) ([]Record, error) {
		var page []Record
		err := tx.rows(selectRecord+` where kind = $1 and key > $2 order by key limit $3`,
			[]any{kind, after, int64(pageSize)}, func(scan func(...any) error) error {
				r, err := scanRecord(scan)
				page = append(page, r)
				return err
			})
		return page, err
	}, func(r Record) string { return r.Key })
}

func scanRecord(scan func(...any) error) (r Record, err error) {
	var fields string
	if err = scan(&r.Key, &r.Kind, &r.State, &fields, &r.Head, &r.Seq); err != nil {
		return r, err
	}
	r.Fields, err = decodeFields(fields)
	return r, err
}

// paged turns page after page into one sequence; place tells where a value
// stands, from "" upwards.
func paged[T any](page func(after string) ([]T, error), place func(T) string) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		after := ""
		for {
			values, err := page(after)
			if err != nil {
				var none T
				yield(none, err)
				return
			}
			for _, v := range values {
				if !yield(v, nil) {
					return
				}
			}
			if len(values) < pageSize {
				return
			}
			after = place(values[len(values)-1])
		}
	}
}

// Count tells how many records of a kind are live and how many withdrawn.
func (tx *Tx) Count(kind string) (live, withdrawn int, err error) {
	_, err = tx.row(`select count(*) filter (where state = 'live'), count(*) filter (where state <> 'live')
		from record where kind = $1`, []any{kind}, &live, &withdrawn)
	return live, withdrawn, err
}

// Kinds lists the kinds of which there are records, in byte order.
func (tx *Tx) Kinds() ([]string, error) {
	var kinds []string
	err := tx.rows(`select distinct kind from record order by kind`, nil, func(scan func(...any) error) error {
		var kind string
		err := scan(&kind)
		kinds = append(kinds, kind)
		return err
	})
	return kinds, err
}

// FindIdentity returns the live record of a kind that has this identity.
func (tx *Tx) FindIdentity(kind string, id Identity) (r Record, found bool, err error) {
	if id.Code == "" {
		return Record{}, false, nil
	}
	if tx.frozen != nil {
		return tx.frozenIdentity(kind, id)
	}
	var fields string
	found, err = tx.row(selectRecord+` where kind = $1 and programme = $2 and team = $3 and season = $4
			and site = $5 and code = $6 and state = 'live' and code <> ''`,
		[]any{kind, id.Programme, id.Team, id.Season, id.Site, id.Code},
		&r.Key, &r.Kind, &r.State, &fields, &r.Head, &r.Seq)
	if err != nil || !found {
		return Record{}, false, err
	}
	r.Fields, err = decodeFields(fields)
	return r, true, err
}

const selectRevision = `select id, record, seq, at, who, why, source, line, action, state, changes, digest from revision`

func scanRevision(scan func(...any) error) (v Revision, err error) {
	var at, changes, digest string
	var source sql.NullString
	if err = scan(&v.ID, &v.Record, &v.Seq, &at, &v.Who, &v.Why, &source, &v.Line,
		&v.Action, &v.State, &changes, &digest); err != nil {
		return v, err
	}
	v.Source = source.String
	if v.When, err = parseInstant(at); err != nil {
		return v, newError(SlugContentUnreadable, err, "what", "revision")
	}
	v.spoilt = digest != v.digest(changes)
	v.Changed, err = decodeChanges(changes)
	return v, err
}

// History lists the revisions of a record, first to last; SlugNoRecord when
// there is no such record.
func (tx *Tx) History(key string) ([]Revision, error) {
	var all []Revision
	err := tx.rows(selectRevision+` where record = $1 order by seq, at, id`, []any{key},
		func(scan func(...any) error) error {
			v, err := scanRevision(scan)
			all = append(all, v)
			return err
		})
	if err == nil && len(all) == 0 {
		err = newError(SlugNoRecord, nil, "key", key)
	}
	return all, err
}

// Revisions goes through every revision in the order of their ids, which is
// the order of time where clocks agree.
func (tx *Tx) Revisions() iter.Seq2[Revision, error] {
	if tx.frozen != nil {
		return tx.frozenRevisions()
	}
	return paged(func(after string) ([]Revision, error) {
		var page []Revision
		err := tx.rows(selectRevision+` where id > $1 order by id limit $2`, []any{after, int64(pageSize)},
			func(scan func(...any) error) error {
				v, err := scanRevision(scan)
				page = append(page, v)
				return err
			})
		return page, err
	}, func(v Revision) string { return v.ID })
}
