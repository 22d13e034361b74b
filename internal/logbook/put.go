package logbook

import "strconv"

const selectRecord = `select key, kind, state, fields, head, seq from record`

// entry reads a record by its key; found is false when there is none.
func (tx *Tx) entry(key string) (r Record, found bool, err error) {
	var fields string
	found, err = tx.row(selectRecord+` where key = $1`, []any{key},
		&r.Key, &r.Kind, &r.State, &fields, &r.Head, &r.Seq)
	if err != nil || !found {
		return r, found, err
	}
	r.Fields, err = decodeFields(fields)
	return r, true, err
}

// known reads a record that has to be there.
func (tx *Tx) known(key string) (Record, error) {
	r, found, err := tx.entry(key)
	if err == nil && !found {
		err = newError(SlugNoRecord, nil, "key", key)
	}
	return r, err
}

// Put makes a record, or makes it say exactly what r.Fields hold: a field that
// is not among them is taken away. It writes one revision, or none when the
// record says that already ([Revision.Happened]); Revision.Record is the key
// in either case. It does not touch whether the record is withdrawn.
//
// Where r.Head is set it must still be the record's last revision, else
// somebody changed it meanwhile and the error is SlugChangedMeanwhile. A live
// record whose identity another live record has is refused with
// SlugIdentityTaken. Errors leave the logbook as it was before Put.
func (tx *Tx) Put(r Record, s Stamp) (Revision, error) {
	if err := s.check(); err != nil {
		return Revision{}, err
	}
	if !kindForm.MatchString(r.Kind) {
		return Revision{}, newError(SlugKindForm, nil, "kind", r.Kind)
	}
	if err := checkFields(r.Fields); err != nil {
		return Revision{}, err
	}
	fields := withoutEmpty(r.Fields)
	if r.Key == "" && r.Head == "" { // new, so there is nothing to look for
		key, err := tx.book.keys.next(s.When)
		if err != nil {
			return Revision{}, err
		}
		return tx.revise(Record{Kind: r.Kind, Key: key, State: Live}, fields, Create, Live, s)
	}
	if !keyForm.MatchString(r.Key) {
		return Revision{}, newError(SlugKeyForm, nil, "key", r.Key)
	}
	was, found, err := tx.entry(r.Key)
	switch {
	case err != nil:
		return Revision{}, err
	case r.Head != "" && was.Head != r.Head:
		return Revision{}, newError(SlugChangedMeanwhile, nil, "key", r.Key)
	case !found:
		was = Record{Kind: r.Kind, Key: r.Key, State: Live}
		return tx.revise(was, fields, Create, Live, s)
	case was.Kind != r.Kind:
		return Revision{}, newError(SlugKindFixed, nil, "key", r.Key, "kind", was.Kind, "asked", r.Kind)
	}
	return tx.revise(was, fields, Revise, was.State, s)
}

// Correct changes the fields named in to and leaves the others; an empty text
// takes a field away. Else it is as Put.
func (tx *Tx) Correct(key string, to map[string]string, s Stamp) (Revision, error) {
	r, err := tx.known(key)
	if err != nil {
		return Revision{}, err
	}
	for name, text := range to {
		r.Fields[name] = text
	}
	return tx.Put(r, s)
}

// Withdraw takes a record out of every result, with a reason in s.Why. It
// stays in the logbook. A record that is withdrawn already is left alone.
func (tx *Tx) Withdraw(key string, s Stamp) (Revision, error) {
	return tx.setState(key, Withdraw, Withdrawn, s)
}

// Reinstate takes a withdrawal back, with a reason in s.Why.
func (tx *Tx) Reinstate(key string, s Stamp) (Revision, error) {
	return tx.setState(key, Reinstate, Live, s)
}

func (tx *Tx) setState(key string, a Action, to State, s Stamp) (Revision, error) {
	if err := s.check(); err != nil {
		return Revision{}, err
	}
	if s.Why == "" {
		return Revision{}, newError(SlugWhyMissing, nil)
	}
	r, err := tx.known(key)
	if err != nil {
		return Revision{}, err
	}
	return tx.revise(r, r.Fields, a, to, s)
}

// Undo takes back the last revision of a record by a new one: fields return to
// what they were, a withdrawal is reinstated, a record just made is withdrawn.
// Undo of an undo does it again. It
// asks for a reason in s.Why.
func (tx *Tx) Undo(key string, s Stamp) (Revision, error) {
	if s.Why == "" {
		return Revision{}, newError(SlugWhyMissing, nil)
	}
	if err := s.check(); err != nil {
		return Revision{}, err
	}
	r, err := tx.known(key)
	if err != nil {
		return Revision{}, err
	}
	history, err := tx.History(key)
	if err != nil {
		return Revision{}, err
	}
	if len(history) == 1 {
		return tx.revise(r, r.Fields, Withdraw, Withdrawn, s)
	}
	fields, state := replay(history[:len(history)-1])
	action := Revise
	switch {
	case state == Withdrawn && r.State == Live:
		action = Withdraw
	case state == Live && r.State == Withdrawn:
		action = Reinstate
	}
	return tx.revise(r, fields, action, state, s)
}

// revise writes one revision that takes the record from was to the given
// fields and state, and the record's current line; nothing when both are as
// they were.
func (tx *Tx) revise(was Record, fields map[string]string, a Action, state State, s Stamp) (Revision, error) {
	rev := Revision{Record: was.Key, Seq: was.Seq + 1, Stamp: s, Action: a, State: state,
		Changed: difference(was.Fields, fields)}
	if a != Create && a != Settle && len(rev.Changed) == 0 && state == was.State {
		return rev, nil
	}
	if s.Source != "" && s.Source != tx.source1 { // an import asks for one source many times
		if _, err := tx.Source(s.Source); err != nil {
			return Revision{}, err
		}
		tx.source1 = s.Source
	}
	id, err := tx.book.keys.next(s.When)
	if err != nil {
		return Revision{}, err
	}
	rev.ID = id
	rev.When = s.When.UTC().Truncate(msPrecision)
	now := Record{Kind: was.Kind, Key: was.Key, Fields: fields, State: state, Head: id, Seq: rev.Seq}
	if err := tx.checkIdentity(was, now); err != nil {
		return Revision{}, err
	}
	if err := tx.writeRevision(rev); err != nil {
		return Revision{}, err
	}
	return rev, tx.writeRecord(now, a == Create)
}

// checkIdentity refuses a second live record with one identity.
func (tx *Tx) checkIdentity(was, now Record) error {
	id := IdentityOf(now.Kind, now.Fields)
	if id.Code == "" || now.State != Live {
		return nil
	}
	if was.Head != "" && was.State == Live && id == IdentityOf(was.Kind, was.Fields) {
		return nil
	}
	other, found, err := tx.FindIdentity(now.Kind, id)
	if err == nil && found && other.Key != now.Key {
		err = newError(SlugIdentityTaken, nil, "identity", id.String(), "key", now.Key, "other", other.Key)
	}
	return err
}

func (tx *Tx) writeRecord(r Record, fresh bool) error {
	fields, err := encode(r.Fields)
	if err != nil {
		return err
	}
	id := IdentityOf(r.Kind, r.Fields)
	if fresh {
		return tx.exec(`insert into record (key, kind, state, fields, head, seq, programme, team, season, site, code)
			values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
			r.Key, r.Kind, string(r.State), fields, r.Head, r.Seq, id.Programme, id.Team, id.Season, id.Site, id.Code)
	}
	return tx.exec(`update record set state = $2, fields = $3, head = $4, seq = $5,
			programme = $6, team = $7, season = $8, site = $9, code = $10 where key = $1`,
		r.Key, string(r.State), fields, r.Head, r.Seq, id.Programme, id.Team, id.Season, id.Site, id.Code)
}

func (tx *Tx) writeRevision(v Revision) error {
	changes, err := encode(v.Changed)
	if err != nil {
		return err
	}
	var source any
	if v.Source != "" {
		source = v.Source
	}
	return tx.exec(`insert into revision (id, record, seq, at, who, why, source, line, action, state, changes, digest)
		values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
		v.ID, v.Record, v.Seq, formatInstant(v.When), v.Who, v.Why, source, int64(v.Line),
		string(v.Action), string(v.State), changes, v.digest(changes))
}

// digest is a checksum of all that a revision holds, so that a letter spoilt
// on the disk is found also where nothing else depends on it: in a name, a
// reason, a time. It is no signature.
func (v Revision) digest(changes string) string {
	b := make([]byte, 0, 512)
	for _, part := range []string{v.ID, v.Record, formatInstant(v.When), v.Who, v.Why, v.Source,
		string(v.Action), string(v.State), changes} {
		b = strconv.AppendInt(b, int64(len(part)), 10)
		b = append(append(b, ' '), part...)
	}
	b = strconv.AppendInt(append(b, ' '), v.Seq, 10)
	return hashOf(strconv.AppendInt(append(b, ' '), int64(v.Line), 10))
}
