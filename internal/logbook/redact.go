package logbook

import (
	"maps"
	"time"
)

// Redaction says that text or bytes were replaced on request.
type Redaction struct {
	ID     string
	When   time.Time
	Who    string
	Why    string
	Source string // id of the source, or
	Record string // key of the record and
	Field  string // name of its field
	Hash   string // SHA-256 of what was replaced: the original, or the record's changes before
}

// RedactedText stands where a text was taken out on request.
const RedactedText = "[redacted]"

// Slugs of redaction.
const (
	SlugRedactTwice    = "logbook.redacted-already" // source
	SlugRedactIdentity = "logbook.redact-identity"  // field
)

// RedactSource replaces the bytes of an original by others (the file without
// the personal data; nil for none) and keeps its hash, the date and the reason
// in s.Why. It cannot be undone, and copies and backups made before still hold
// the bytes.
func (tx *Tx) RedactSource(id string, by []byte, s Stamp) (Redaction, error) {
	if err := redactable(s); err != nil {
		return Redaction{}, err
	}
	src, err := tx.Source(id)
	if err != nil {
		return Redaction{}, err
	}
	if src.Redacted != nil {
		return Redaction{}, newError(SlugRedactTwice, nil, "source", id)
	}
	r, err := tx.newRedaction(s)
	if err != nil {
		return Redaction{}, err
	}
	r.Source, r.Hash = id, id
	if err := tx.writeRedaction(r); err != nil {
		return Redaction{}, err
	}
	return r, tx.replaceOriginal(id, by)
}

func (tx *Tx) replaceOriginal(id string, by []byte) error {
	if by == nil {
		by = []byte{}
	}
	return tx.exec(`update source set original = $2, original_hash = $3 where id = $1`, id, by, hashOf(by))
}

// RedactField replaces the text of one field in every revision of a record so
// far, and in what it says now, by RedactedText. An identifier cannot be
// redacted: correct it first.
func (tx *Tx) RedactField(key, field string, s Stamp) (Redaction, error) {
	if err := redactable(s); err != nil {
		return Redaction{}, err
	}
	r, err := tx.newRedaction(s)
	if err != nil {
		return Redaction{}, err
	}
	r.Record, r.Field = key, field
	history, err := tx.History(key)
	if err != nil {
		return Redaction{}, err
	}
	var all []map[string]Change
	for _, v := range history {
		all = append(all, v.Changed)
	}
	text, err := encode(all)
	if err != nil {
		return Redaction{}, err
	}
	r.Hash = hashOf([]byte(text))
	return r, tx.redact(r)
}

func redactable(s Stamp) error {
	if s.Why == "" {
		return newError(SlugWhyMissing, nil)
	}
	return s.check()
}

func (tx *Tx) newRedaction(s Stamp) (Redaction, error) {
	id, err := tx.book.keys.next(s.When)
	return Redaction{ID: id, When: s.When.UTC().Truncate(msPrecision), Who: s.Who, Why: s.Why}, err
}

// redact writes a redaction of a field and does what it says.
func (tx *Tx) redact(r Redaction) error {
	now, err := tx.known(r.Record)
	if err != nil {
		return err
	}
	for _, name := range identityFields(now.Kind) {
		if name == r.Field {
			return newError(SlugRedactIdentity, nil, "field", r.Field)
		}
	}
	history, err := tx.History(r.Record)
	if err != nil {
		return err
	}
	if err := tx.writeRedaction(r); err != nil {
		return err
	}
	for i, v := range history {
		if !r.takesFrom(&history[i]) {
			continue
		}
		changes, err := encode(history[i].Changed)
		if err != nil {
			return err
		}
		if err := tx.exec(`update revision set changes = $2, digest = $3 where id = $1`, v.ID, changes, v.digest(changes)); err != nil {
			return err
		}
	}
	return tx.writeRecord(replayed(now.Kind, history), false)
}

// takesFrom replaces the redacted field's texts in a revision that was made
// before, and tells whether there was one. Replacing twice is as once.
func (r Redaction) takesFrom(v *Revision) bool {
	c, touched := v.Changed[r.Field]
	if !touched || v.When.After(r.When) {
		return false
	}
	for side, text := range c {
		if text != "" {
			c[side] = RedactedText
		}
	}
	v.set(r.Field, c)
	return true
}

// wash takes what redactions took from one copy of a record out of the history
// another copy has of it: also a text that was put in again by somebody who
// did not know.
func wash(history []Revision, redactions []Redaction) {
	for _, r := range redactions {
		taken := map[string]bool{}
		for i := range history {
			texts := history[i].Changed[r.Field]
			if r.takesFrom(&history[i]) {
				taken[texts[0]], taken[texts[1]] = true, true
			}
		}
		delete(taken, "")
		for i := range history {
			c, touched := history[i].Changed[r.Field]
			for side, text := range c {
				if taken[text] {
					c[side] = RedactedText
				}
			}
			if touched {
				history[i].set(r.Field, c)
			}
		}
	}
}

// set changes one field's texts in a copy of what a revision holds.
func (r *Revision) set(field string, c Change) {
	changed := maps.Clone(r.Changed)
	changed[field] = c
	r.Changed = changed
}

func (tx *Tx) writeRedaction(r Redaction) error {
	optional := func(s string) any {
		if s == "" {
			return nil
		}
		return s
	}
	return tx.exec(`insert into redaction (id, at, who, why, source, record, field, hash) values ($1, $2, $3, $4, $5, $6, $7, $8)`,
		r.ID, formatInstant(r.When), r.Who, r.Why, optional(r.Source), optional(r.Record), optional(r.Field), r.Hash)
}

// Redactions lists the redactions of a record's fields, first to last.
func (tx *Tx) Redactions(key string) ([]Redaction, error) {
	var all []Redaction
	err := tx.rows(`select id, at, who, why, record, field, hash from redaction where record = $1 order by at, id`,
		[]any{key}, func(scan func(...any) error) error {
			var r Redaction
			var at string
			if err := scan(&r.ID, &at, &r.Who, &r.Why, &r.Record, &r.Field, &r.Hash); err != nil {
				return err
			}
			var err error
			if r.When, err = parseInstant(at); err != nil {
				return newError(SlugContentUnreadable, err, "what", "redaction")
			}
			all = append(all, r)
			return nil
		})
	return all, err
}
