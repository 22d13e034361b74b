// Package sqlite keeps a team's logbook in one SQLite file, *.logbook. It
// answers: may this file be opened, is it whole, and how is it copied while it
// is in use.
//
// The file uses a rollback journal, so that at rest it is one file to copy and
// send; a journal beside it after a crash is taken back by the next opening.
// Every change is on the disk before Change returns (synchronous = full). One
// connection is used, so that looks and changes of one program wait for each
// other; another program on the same file is waited for five seconds, then the
// error is SlugBusy.
//
// Opening tells in plain words what is in the way: a missing folder, a file
// that is no logbook or was made by a newer program, a folder that cannot be
// written to, a network or synced folder. A logbook from elsewhere is copied,
// checked and only then read (Foreign).
package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"soakline/internal/logbook"

	_ "modernc.org/sqlite" // the driver "sqlite"
)

//go:embed migrations/*.sql
var embedded embed.FS

// applicationID marks the file's header, so that what it is can be told
// without opening it: "Soak" in ASCII.
const applicationID = 0x536f616b

// busyFor is how long another program on the same file is waited for.
const busyFor = 5 * time.Second

// Options of Create and Open; the zero value is what a program wants.
type Options struct {
	ViewOnly bool          // open for looking only: nothing in the folder is written
	Random   io.Reader     // for keys; nil is the system's randomness
	BusyFor  time.Duration // how long to wait for another program; 0 is five seconds

	migrations fs.FS // other migrations, for tests
	maxPages   int   // most pages the file may take, for tests of a full disk
	unsafe     bool  // do not wait for the disk, for tests that make many logbooks
	cachePages int   // pages kept in memory, for tests that want changes to reach the file early
}

// own are the migrations of this program.
var own = func() fs.FS {
	sub, err := fs.Sub(embedded, "migrations")
	if err != nil {
		panic("sqlite: " + err.Error()) // the name stands in this file
	}
	return sub
}()

func (o Options) dialect() logbook.Dialect {
	migrations := o.migrations
	if migrations == nil {
		migrations = own
	}
	d := logbook.Dialect{Name: "sqlite", Migrations: migrations}
	d.Integrity = func(ctx context.Context, tx *sql.Tx) ([]logbook.Fault, error) { return integrity(ctx, tx, d) }
	return d
}

// dialectFor adds the file's name to what errors say.
func (o Options) dialectFor(path string) logbook.Dialect {
	d := o.dialect()
	d.Explain = func(err error) *logbook.Error { return explain(path, err) }
	return d
}

// dsn names the file to the driver. Pragmas hold for one connection, so they
// stand here. What a file's own schema calls is not trusted.
func dsn(path, mode string, o Options) string {
	wait := o.BusyFor
	if wait == 0 {
		wait = busyFor
	}
	s := "file:" + url.PathEscape(path) + "?mode=" + mode +
		"&_pragma=busy_timeout(" + strconv.FormatInt(wait.Milliseconds(), 10) + ")" +
		"&_pragma=trusted_schema(0)&_pragma=cell_size_check(1)&_pragma=foreign_keys(1)"
	if mode == "ro" {
		return s + "&_pragma=query_only(1)"
	}
	if o.maxPages > 0 {
		s += "&_pragma=max_page_count(" + strconv.Itoa(o.maxPages) + ")"
	}
	if o.cachePages > 0 {
		s += "&_pragma=cache_size(" + strconv.Itoa(o.cachePages) + ")"
	}
	sync := "FULL"
	if o.unsafe {
		sync = "OFF"
	}
	return s + "&_pragma=journal_mode(DELETE)&_pragma=synchronous(" + sync + ")&_txlock=immediate"
}

// connect opens the one connection.
func connect(path, mode string, o Options) (*sql.DB, error) {
	db, err := sql.Open("sqlite", dsn(path, mode, o))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	db.SetMaxIdleConns(1)
	db.SetConnMaxLifetime(0)
	return db, nil
}

// Create makes a new logbook and opens it. It never overwrites: a file of that
// name is SlugExists. The logbook appears under its name only when it is
// complete.
func Create(ctx context.Context, path string, made logbook.Made, o Options) (*logbook.Book, error) {
	if err := checkFolder(path, true); err != nil {
		return nil, err
	}
	if _, err := os.Lstat(path); err == nil {
		return nil, logbook.NewError(logbook.SlugExists, nil, "file", path)
	}
	temp, err := tempBeside(path)
	if err != nil {
		return nil, err
	}
	defer os.Remove(temp) // gone by then when all went well
	if err := build(ctx, temp, made, o); err != nil {
		return nil, explainOr(path, err)
	}
	if err := settle(temp, path); err != nil {
		return nil, err
	}
	return Open(ctx, path, o)
}

// build fills an empty file with the tables of a new logbook.
func build(ctx context.Context, path string, made logbook.Made, o Options) (err error) {
	db, err := connect(path, "rw", o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if _, err := db.ExecContext(ctx, "pragma application_id = "+strconv.Itoa(applicationID)); err != nil {
		return err
	}
	if err := logbook.Migrate(ctx, db, o.dialectFor(path), 0); err != nil {
		return err
	}
	return logbook.Found(ctx, db, made, o.Random)
}

// Open opens a logbook that is there. A logbook of an older version is backed
// up beside itself, then brought up to date (SlugBackedUp among the notices).
func Open(ctx context.Context, path string, o Options) (*logbook.Book, error) {
	if err := checkFile(path, !o.ViewOnly); err != nil {
		return nil, err
	}
	mode := "rw"
	if o.ViewOnly {
		mode = "ro"
		if err := takeBack(ctx, path, o); err != nil {
			return nil, err
		}
	}
	db, err := connect(path, mode, o)
	if err != nil {
		return nil, explainOr(path, err)
	}
	notices, err := ready(ctx, db, path, o)
	if err == nil {
		var book *logbook.Book
		book, err = logbook.NewBook(ctx, db, o.dialectFor(path), logbook.Options{
			Random: o.Random, ViewOnly: o.ViewOnly, Notices: append(notices, placeNotices(path)...)})
		if err == nil {
			return book, nil
		}
	}
	db.Close()
	return nil, explainOr(path, err)
}

// takeBack lets the database take back the change that a crash left half done,
// which it cannot while only looking.
func takeBack(ctx context.Context, path string, o Options) error {
	if refuseUnfinished(path) == nil {
		return nil
	}
	o.ViewOnly = false
	db, err := connect(path, "rw", o)
	if err == nil {
		var n int64
		err = db.QueryRowContext(ctx, "select count(*) from sqlite_schema").Scan(&n)
		err = errors.Join(err, db.Close())
	}
	if err != nil && logbook.SlugOf(explainOr(path, err)) != logbook.SlugBusy {
		return logbook.NewError(logbook.SlugUnfinished, err, "file", path)
	}
	return nil
}

// ready checks what the database says it is, and brings an older one up to
// date.
func ready(ctx context.Context, db *sql.DB, path string, o Options) ([]logbook.Notice, error) {
	var app int64
	if err := db.QueryRowContext(ctx, "pragma application_id").Scan(&app); err != nil {
		return nil, err
	}
	if app != applicationID {
		return nil, logbook.NewError(logbook.SlugNotALogbook, nil, "file", path)
	}
	d := o.dialectFor(path)
	version, err := logbook.Version(ctx, db)
	if err != nil {
		return nil, err
	}
	newest, err := logbook.Newest(db, d)
	if err != nil {
		return nil, err
	}
	switch {
	case version > newest:
		return nil, logbook.NewError(logbook.SlugNewer, nil, "file", path, "version", int(version), "known", int(newest))
	case version == newest:
		return nil, nil
	case o.ViewOnly:
		return nil, logbook.NewError(logbook.SlugOlder, nil, "file", path, "version", int(version), "known", int(newest))
	}
	kept := path + ".version" + strconv.FormatInt(version, 10)
	if err := copyOnline(ctx, db, kept); err != nil && logbook.SlugOf(err) != logbook.SlugExists {
		return nil, err
	}
	if err := logbook.Migrate(ctx, db, d, 0); err != nil {
		return nil, err
	}
	return []logbook.Notice{{Slug: logbook.SlugBackedUp,
		Params: map[string]any{"file": path, "backup": filepath.Base(kept)}}}, nil
}
