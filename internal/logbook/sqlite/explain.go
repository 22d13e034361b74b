package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"strings"
	"syscall"

	"soakline/internal/logbook"

	"modernc.org/sqlite"
	lib "modernc.org/sqlite/lib"
)

// explain says what an error of the driver means for a person; nil when it
// cannot tell. Codes: https://www.sqlite.org/rescode.html.
func explain(path string, err error) *logbook.Error {
	about := func(slug string) *logbook.Error { return logbook.NewError(slug, err, "file", path) }
	if errors.Is(err, syscall.ENOSPC) {
		return about(logbook.SlugFull)
	}
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return nil
	}
	switch e.Code() { // the extended codes that say more than their first byte
	case lib.SQLITE_IOERR_LOCK, lib.SQLITE_IOERR_UNLOCK, lib.SQLITE_IOERR_RDLOCK, lib.SQLITE_IOERR_CHECKRESERVEDLOCK:
		return about(logbook.SlugLocksFail)
	case lib.SQLITE_READONLY_ROLLBACK, lib.SQLITE_READONLY_RECOVERY:
		return about(logbook.SlugUnfinished)
	case lib.SQLITE_READONLY_DIRECTORY:
		return about(logbook.SlugReadOnly)
	}
	switch e.Code() & 0xff {
	case lib.SQLITE_BUSY, lib.SQLITE_LOCKED:
		return about(logbook.SlugBusy)
	case lib.SQLITE_FULL:
		return about(logbook.SlugFull)
	case lib.SQLITE_READONLY:
		return about(logbook.SlugReadOnly)
	case lib.SQLITE_CANTOPEN, lib.SQLITE_PERM, lib.SQLITE_AUTH:
		return about(logbook.SlugNoPermission)
	case lib.SQLITE_CORRUPT:
		return about(logbook.SlugDamaged)
	case lib.SQLITE_NOTADB:
		return about(logbook.SlugNotALogbook)
	case lib.SQLITE_PROTOCOL, lib.SQLITE_NOLFS:
		return about(logbook.SlugLocksFail)
	case lib.SQLITE_IOERR:
		return about(logbook.SlugDevice)
	}
	return nil
}

// explainOr is explain for what is returned to a caller.
func explainOr(path string, err error) error {
	var known *logbook.Error
	if err == nil || errors.As(err, &known) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	if e := explain(path, err); e != nil {
		return e
	}
	if e := explainFile(path, err); e != nil {
		return e
	}
	if strings.Contains(err.Error(), "no such table") { // our mark, but not our tables
		return logbook.NewError(logbook.SlugDamaged, err, "file", path)
	}
	return logbook.NewError(logbook.SlugDatabase, err)
}

// explainFile says what an error of the operating system means for a file.
func explainFile(path string, err error) *logbook.Error {
	about := func(slug string) *logbook.Error { return logbook.NewError(slug, err, "file", path) }
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return about(logbook.SlugFull)
	case errors.Is(err, syscall.EROFS):
		return about(logbook.SlugReadOnly)
	case errors.Is(err, fs.ErrPermission):
		return about(logbook.SlugNoPermission)
	case errors.Is(err, fs.ErrNotExist):
		return about(logbook.SlugMissing)
	case errors.Is(err, fs.ErrExist):
		return about(logbook.SlugExists)
	case errors.Is(err, syscall.EIO):
		return about(logbook.SlugDevice)
	}
	return nil
}

// integrity asks SQLite for damage, for lines that point nowhere, and for
// tables that are not ours.
func integrity(ctx context.Context, tx *sql.Tx, d logbook.Dialect) (faults []logbook.Fault, err error) {
	err = each(ctx, tx, "pragma integrity_check(20)", func(scan func(...any) error) error {
		var said string
		if err := scan(&said); err != nil {
			return err
		}
		if said != "ok" {
			faults = append(faults, logbook.Fault{Slug: logbook.FaultIntegrity, Params: map[string]any{"said": said}})
		}
		return nil
	})
	if err != nil {
		return faults, err
	}
	err = each(ctx, tx, "pragma foreign_key_check", func(scan func(...any) error) error {
		var table, parent string
		var line sql.NullInt64
		var which int64
		if err := scan(&table, &line, &parent, &which); err != nil {
			return err
		}
		faults = append(faults, logbook.Fault{Slug: logbook.FaultPointer,
			Params: map[string]any{"table": table, "line": int(line.Int64), "parent": parent}})
		return nil
	})
	if err != nil {
		return faults, err
	}
	object, err := strangeObject(ctx, tx, d)
	if object != "" {
		faults = append(faults, logbook.Fault{Slug: logbook.FaultSchema, Params: map[string]any{"object": object}})
	}
	return faults, err
}

// querier is a database or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

func each(ctx context.Context, tx querier, query string, read func(scan func(...any) error) error) (err error) {
	rows, err := tx.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := read(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}
