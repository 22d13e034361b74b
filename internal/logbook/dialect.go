package logbook

import (
	"context"
	"database/sql"
	"io/fs"
)

// Dialect is all in which one kind of database differs from another. The
// queries are the same text for every kind.
type Dialect struct {
	// Name of the kind: "sqlite", "postgres".
	Name string
	// Migrations holds the numbered files NNNN_name.sql that make the tables.
	Migrations fs.FS
	// Explain turns an error of the driver into an Error where it can tell
	// what it means for a person (busy, full, read-only, damaged, …), with the
	// parameters that the slug names; it returns nil where it cannot.
	Explain func(err error) *Error
	// Integrity asks the database for damage that it can find by itself.
	Integrity func(ctx context.Context, tx *sql.Tx) ([]Fault, error)
}
