package logbook

import "time"

// Redaction says that text or bytes were replaced on request.
type Redaction struct {
	ID     string
	When   time.Time
	Who    string
	Why    string
	Source string // id of the source, or
	Record string // key of the record and
	Field  string // name of its field; "who" of a revision is named by FieldWho
	Hash   string // SHA-256 of what was replaced
}
