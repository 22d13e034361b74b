package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"io"
	"net/url"
	"os"

	"soakline/internal/logbook"

	"modernc.org/sqlite"
)

// pagesAStep is how much of a backup is copied before the context is asked.
const pagesAStep = 2000

// Backup copies a logbook, also one in use, to a new file, checks the copy and
// only then gives it its name. It never overwrites. The faults found in the
// copy come with SlugFaulty, and no backup is left.
func Backup(ctx context.Context, book *logbook.Book, to string) error {
	return copyOnline(ctx, book.DB(), to)
}

// copyOnline is Backup for a database.
func copyOnline(ctx context.Context, db *sql.DB, to string) error {
	if err := checkFolder(to, true); err != nil {
		return err
	}
	if _, err := os.Lstat(to); err == nil {
		return logbook.NewError(logbook.SlugExists, nil, "file", to)
	}
	temp, err := tempBeside(to)
	if err != nil {
		return err
	}
	defer os.Remove(temp)
	if err := copyPages(ctx, db, temp); err != nil {
		return explainOr(to, err)
	}
	if err := refuseFaulty(ctx, temp, to); err != nil {
		return err
	}
	return settle(temp, to)
}

func copyPages(ctx context.Context, db *sql.DB, to string) (err error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	// A look held open: else each change by another program in the meantime
	// would make the copy start again.
	if _, err := conn.ExecContext(ctx, "begin"); err != nil {
		return err
	}
	defer func() {
		_, end := conn.ExecContext(context.Background(), "rollback")
		err = errors.Join(err, end)
	}()
	var n int64
	if err := conn.QueryRowContext(ctx, "select count(*) from sqlite_schema").Scan(&n); err != nil {
		return err
	}
	return conn.Raw(func(c any) error {
		from, ok := c.(interface {
			NewBackup(string) (*sqlite.Backup, error)
		})
		if !ok {
			return errors.New("sqlite: the driver makes no backups")
		}
		b, err := from.NewBackup("file:" + url.PathEscape(to) + "?mode=rw")
		if err != nil {
			return err
		}
		for more := true; more && err == nil; {
			if err = ctx.Err(); err == nil {
				more, err = b.Step(pagesAStep)
			}
		}
		return errors.Join(err, b.Finish())
	})
}

// refuseFaulty verifies a copy at temp that is to be called name.
func refuseFaulty(ctx context.Context, temp, name string) error {
	faults, err := Verify(ctx, temp)
	if err != nil {
		return err
	}
	if len(faults) > 0 {
		return logbook.NewError(logbook.SlugFaulty, logbook.FaultsError(faults), "file", name, "n", len(faults))
	}
	return nil
}

// Restore makes a logbook from a backup: a new file, verified, never over one
// that is there.
func Restore(ctx context.Context, backup, to string) error {
	if err := checkFile(backup, false); err != nil {
		return err
	}
	if err := checkFolder(to, true); err != nil {
		return err
	}
	if _, err := os.Lstat(to); err == nil {
		return logbook.NewError(logbook.SlugExists, nil, "file", to)
	}
	if err := refuseUnfinished(backup); err != nil {
		return err
	}
	temp, err := tempBeside(to)
	if err != nil {
		return err
	}
	defer os.Remove(temp)
	if err := copyFile(backup, temp, 0); err != nil {
		return explainOr(to, err)
	}
	if err := refuseFaulty(ctx, temp, backup); err != nil {
		return err
	}
	return settle(temp, to)
}

// refuseUnfinished refuses to copy a file with a journal beside it: it is in
// use, or a crash left it and the file alone is not whole.
func refuseUnfinished(path string) error {
	for _, end := range []string{"-journal", "-wal"} {
		if info, err := os.Stat(path + end); err == nil && info.Size() > 0 {
			return logbook.NewError(logbook.SlugUnfinished, nil, "file", path)
		}
	}
	return nil
}

// copyFile copies the bytes of a file into one that is there; most bounds them
// when it is not 0.
func copyFile(from, to string, most int64) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_TRUNC, 0)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	if most == 0 {
		_, err = io.Copy(out, in)
		return err
	}
	n, err := io.Copy(out, io.LimitReader(in, most+1))
	if err == nil && n > most {
		err = logbook.NewError(logbook.SlugTooLarge, nil, "file", from, "bytes", int(n), "most", int(most))
	}
	return err
}

// Verify checks a logbook file without changing it and lists what is wrong. An
// error means that the check could not be done; a file that cannot be opened
// because of what it holds is a fault.
func Verify(ctx context.Context, path string) (faults []logbook.Fault, err error) {
	return verify(ctx, path, Options{ViewOnly: true})
}

func verify(ctx context.Context, path string, o Options) (faults []logbook.Fault, err error) {
	book, err := Open(ctx, path, o)
	if err != nil {
		var e *logbook.Error
		if errors.As(err, &e) && (e.Slug == logbook.SlugDamaged || e.Slug == logbook.SlugNotALogbook) {
			return []logbook.Fault{{Slug: e.Slug, Params: e.Params}}, nil
		}
		return nil, err
	}
	defer func() { err = errors.Join(err, book.Close()) }()
	return book.Verify(ctx)
}
