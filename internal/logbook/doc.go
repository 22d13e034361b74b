// Package logbook keeps what a team has accepted: every record, every revision
// of it, and the original files they came from. It answers: what does the
// record say now, what did it say before, who changed it, when and why, and
// from which line of which file.
//
// A record is a kind, a key that is given once, and flat fields of canonical
// text; which fields there are is defined elsewhere, as data. Accepting a
// change writes a revision with what each field was and what it is; nothing is
// overwritten or deleted, a record is withdrawn and reinstated. The current
// fields stand in a table beside the revisions so that they can be asked for;
// they can be worked out again from the revisions, and Verify compares the two.
//
// The revisions of a record are ordered by (sequence number, time, id). A
// revision's sequence number is one more than the highest its maker had seen,
// so a later revision never sorts before one it was made on, even when clocks
// disagree. Two copies of a logbook merge by taking the union of their
// revisions; where both changed the same field since their common state, Merge
// asks.
//
// The one exception is redaction of personal data on request: the text or the
// bytes are replaced; hash, date and reason are kept.
//
// The SQL in this room is one text for every database; what differs (the
// tables, the migrations, the meaning of an error) is a [Dialect]. The caller
// owns the transaction: [Book.View] and [Book.Change] begin and end it, no
// method of [Tx] commits. There is no clock in here: every instant is passed
// in. Instants are UTC and kept to the millisecond.
//
// It leaves out what a field means (room sheet), whether a record is
// believable (room quality), accounts and roles, and sending between a team
// and a programme.
package logbook
