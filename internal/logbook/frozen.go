package logbook

import (
	"iter"
	"slices"
)

// Frozen is a list of revisions by record: what a release of the data stands
// on, so that it can be made again whatever came after.
type Frozen map[string][]string

// Freeze lists the revisions of all records of the kinds that use takes. Only
// identifiers are read, since a release of a large logbook asks for nothing else.
func (tx *Tx) Freeze(use func(kind string) bool) (Frozen, error) {
	list := Frozen{}
	kinds, err := tx.Kinds()
	if err != nil {
		return nil, err
	}
	for _, kind := range kinds {
		if !use(kind) {
			continue
		}
		err := tx.rows(`select key from record where kind = $1`, []any{kind}, func(scan func(...any) error) error {
			var key string
			err := scan(&key)
			list[key] = nil
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	err = tx.rows(`select id, record from revision order by id`, nil, func(scan func(...any) error) error {
		var id, record string
		err := scan(&id, &record)
		if ids, ours := list[record]; ours {
			if ids == nil {
				ids = make([]string, 0, 1)
			}
			list[record] = append(ids, id)
		}
		return err
	})
	return list, err
}

// Reasons gives the reason kept with the last change of each record that tells
// one, by key.
func (tx *Tx) Reasons() (map[string]string, error) {
	why := map[string]string{}
	err := tx.rows(`select id, record, why from revision where why <> '' order by id`, nil, func(scan func(...any) error) error {
		var id, record, text string
		if err := scan(&id, &record, &text); err != nil {
			return err
		}
		if tx.frozen == nil || slices.Contains(tx.frozen[record], id) {
			why[record] = text
		}
		return nil
	})
	return why, err
}

// At is the transaction as it looks when only the revisions of a list have
// happened: Records, FindIdentity and Revisions give what was then. It is for
// looking only. A revision that the logbook no longer has is SlugNoRevision.
func (tx *Tx) At(list Frozen) *Tx {
	then := *tx
	then.write, then.frozen = false, list
	return &then
}

// then is a record as its frozen revisions left it; false when it was not there.
func (tx *Tx) then(r Record) (Record, bool, error) {
	ids, there := tx.frozen[r.Key]
	if !there || len(ids) == 0 {
		return r, false, nil
	}
	if int64(len(ids)) == r.Seq && slices.Contains(ids, r.Head) {
		return r, true, nil // nothing has happened since
	}
	history, err := tx.History(r.Key)
	if err != nil {
		return r, false, err
	}
	history = slices.DeleteFunc(history, func(v Revision) bool { return !slices.Contains(ids, v.ID) })
	if len(history) != len(ids) {
		return r, false, newError(SlugNoRevision, nil, "key", r.Key)
	}
	return replayed(r.Kind, history), true, nil
}

// frozenRecords goes through the records of a kind as they were.
func (tx *Tx) frozenRecords(kind string) iter.Seq2[Record, error] {
	now := *tx
	now.frozen = nil
	return func(yield func(Record, error) bool) {
		for r, err := range now.Records(kind) {
			there := true
			if err == nil {
				r, there, err = tx.then(r)
			}
			if err != nil {
				yield(Record{}, err)
				return
			}
			if there && !yield(r, nil) {
				return
			}
		}
	}
}

// frozenIdentity finds a live record as it was; for lists, which are short.
func (tx *Tx) frozenIdentity(kind string, id Identity) (Record, bool, error) {
	for r, err := range tx.frozenRecords(kind) {
		if err != nil {
			return Record{}, false, err
		}
		if r.State == Live && IdentityOf(kind, r.Fields) == id {
			return r, true, nil
		}
	}
	return Record{}, false, nil
}

// frozenRevisions goes through the revisions of the list.
func (tx *Tx) frozenRevisions() iter.Seq2[Revision, error] {
	now := *tx
	now.frozen = nil
	return func(yield func(Revision, error) bool) {
		for v, err := range now.Revisions() {
			if err == nil && !slices.Contains(tx.frozen[v.Record], v.ID) {
				continue
			}
			if !yield(v, err) || err != nil {
				return
			}
		}
	}
}
