package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"soakline/internal/logbook"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// Limits of a logbook from elsewhere.
const (
	mostForeignBytes = 4 << 30
	mostValueBytes   = 300 << 20 // one value: an original of the largest size, and some
)

// Foreign opens a logbook from elsewhere for Merge. The file is never opened
// where it lies: its bytes are copied to a folder of our own, and of the copy
// nothing is asked before it is known that it holds our tables and nothing
// else (a view or a trigger under one of our names would run the sender's
// queries). It is then verified whole; any fault is SlugFaulty.
func Foreign(ctx context.Context, path string) (*logbook.Book, error) {
	return foreign(ctx, path, Options{})
}

func foreign(ctx context.Context, path string, o Options) (book *logbook.Book, err error) {
	if err := checkFile(path, false); err != nil {
		return nil, err
	}
	if err := refuseUnfinished(path); err != nil {
		return nil, err
	}
	folder, err := os.MkdirTemp("", "soakline-*")
	if err != nil {
		return nil, explainOr(os.TempDir(), err)
	}
	clear := func() error { return os.RemoveAll(folder) }
	defer func() {
		if err != nil {
			err = errors.Join(err, clear())
		}
	}()
	copied := filepath.Join(folder, "foreign.logbook")
	if err := os.WriteFile(copied, nil, 0o600); err != nil {
		return nil, explainOr(copied, err)
	}
	if err := copyFile(path, copied, mostForeignBytes); err != nil {
		return nil, explainOr(path, err)
	}
	if err := ownTables(ctx, copied, path, o); err != nil {
		return nil, err
	}
	if err := upToDate(ctx, copied, o); err != nil {
		return nil, explainOr(path, err)
	}
	o.ViewOnly = true
	db, err := connect(copied, "ro", o)
	if err != nil {
		return nil, explainOr(path, err)
	}
	if err := bound(ctx, db); err != nil {
		return nil, errors.Join(explainOr(path, err), db.Close())
	}
	book, err = logbook.NewBook(ctx, db, o.dialectFor(path), logbook.Options{ViewOnly: true, OnClose: clear})
	if err != nil {
		return nil, errors.Join(explainOr(path, err), db.Close())
	}
	faults, err := book.Verify(ctx)
	if err == nil && len(faults) > 0 {
		err = logbook.NewError(logbook.SlugFaulty, logbook.FaultsError(faults), "file", path, "n", len(faults))
	}
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return book, nil
}

// bound limits how long one value may be.
func bound(ctx context.Context, db *sql.DB) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	_, err = sqlite.Limit(conn, lib.SQLITE_LIMIT_LENGTH, mostValueBytes)
	return errors.Join(err, conn.Close())
}

// ownTables refuses a file that does not hold exactly our tables, of this
// version or an older one.
func ownTables(ctx context.Context, copied, path string, o Options) (err error) {
	db, err := connect(copied, "ro", o)
	if err != nil {
		return explainOr(path, err)
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	var app int64
	if err := db.QueryRowContext(ctx, "pragma application_id").Scan(&app); err != nil {
		return explainOr(path, err)
	}
	if app != applicationID {
		return logbook.NewError(logbook.SlugNotALogbook, nil, "file", path)
	}
	theirs, err := schemaOf(ctx, db)
	if err != nil {
		return explainOr(path, err)
	}
	d := o.dialectFor(path)
	newest, err := logbook.Newest(db, d)
	if err != nil {
		return err
	}
	strange := ""
	newer := func(v int64) error {
		return logbook.NewError(logbook.SlugNewer, nil, "file", path, "version", int(v), "known", int(newest))
	}
	for version := newest; version >= 1; version-- {
		ours, err := schemaAt(ctx, d, version)
		if err != nil {
			return err
		}
		object := firstDifference(ours, theirs)
		if object == "" {
			said, err := logbook.Version(ctx, db)
			switch {
			case err != nil:
				return explainOr(path, err)
			case said > newest:
				return newer(said)
			case said != version:
				return logbook.NewError(logbook.SlugForeignSchema, nil, "file", path, "object", "table schema_version")
			}
			return nil
		}
		if version == newest {
			strange = object
		}
	}
	if i := slices.IndexFunc(theirs, func(ob object) bool { return ob.kind == "table" && ob.name == "schema_version" }); i >= 0 {
		if v, err := logbook.Version(ctx, db); err == nil && v > newest {
			return newer(v)
		}
	}
	return logbook.NewError(logbook.SlugForeignSchema, nil, "file", path, "object", strange)
}

// upToDate brings a copy of an older logbook to this version.
func upToDate(ctx context.Context, copied string, o Options) (err error) {
	db, err := connect(copied, "rw", o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	d := o.dialectFor(copied)
	version, err := logbook.Version(ctx, db)
	if err != nil {
		return err
	}
	newest, err := logbook.Newest(db, d)
	if err != nil || version == newest {
		return err
	}
	return logbook.Migrate(ctx, db, d, 0)
}

// object is one entry of a database's own list of what it holds.
type object struct{ kind, name, table, sql string }

// schemaOf lists what a database holds, without the indexes that SQLite makes
// by itself and the statistics of its planner.
func schemaOf(ctx context.Context, q querier) ([]object, error) {
	var all []object
	err := each(ctx, q, `select type, name, tbl_name, sql from sqlite_schema order by type, name`,
		func(scan func(...any) error) error {
			var o object
			var text sql.NullString
			if err := scan(&o.kind, &o.name, &o.table, &text); err != nil {
				return err
			}
			o.sql = text.String
			if o.kind == "index" && !text.Valid || o.kind == "table" && (o.name == "sqlite_stat1" || o.name == "sqlite_stat4") {
				return nil
			}
			all = append(all, o)
			return nil
		})
	return all, err
}

// known keeps what schemaAt worked out for the embedded migrations.
var known sync.Map // int64 -> []object

// schemaAt is what our migrations make, up to a version.
func schemaAt(ctx context.Context, d logbook.Dialect, version int64) (all []object, err error) {
	if d.Migrations == own {
		if all, ok := known.Load(version); ok {
			return all.([]object), nil
		}
		defer func() {
			if err == nil {
				known.Store(version, all)
			}
		}()
	}
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1) // each connection would be a database of its own
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := logbook.Migrate(ctx, db, d, version); err != nil {
		return nil, err
	}
	return schemaOf(ctx, db)
}

// firstDifference names an object that only one of two lists holds, or that
// they hold differently; "" when they are equal.
func firstDifference(a, b []object) string {
	for _, pair := range [][2][]object{{b, a}, {a, b}} {
		for _, o := range pair[0] {
			if !slices.Contains(pair[1], o) {
				return o.kind + " " + o.name
			}
		}
	}
	return ""
}

// strangeObject compares what a logbook holds with what its version makes.
func strangeObject(ctx context.Context, tx *sql.Tx, d logbook.Dialect) (string, error) {
	theirs, err := schemaOf(ctx, tx)
	if err != nil {
		return "", err
	}
	var version int64
	if err := tx.QueryRowContext(ctx, `select max(version) from schema_version`).Scan(&version); err != nil {
		return "", err
	}
	ours, err := schemaAt(ctx, d, version)
	if err != nil {
		return "", err
	}
	return firstDifference(ours, theirs), nil
}
