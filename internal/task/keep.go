package task

import (
	"context"
	"strconv"

	"soakline/internal/logbook"
	"soakline/internal/logbook/sqlite"
)

// Backup copies a logbook, also one in use, and verifies the copy.
func Backup(ctx context.Context, book *logbook.Book, to string) error {
	return sqlite.Backup(ctx, book, to)
}

// Restore makes a logbook from a backup, never over one that is there.
func Restore(ctx context.Context, backup, to string) error { return sqlite.Restore(ctx, backup, to) }

// Verify lists what is wrong with a logbook file; none when it is whole.
func Verify(ctx context.Context, path string) ([]logbook.Fault, error) {
	faults, err := sqlite.Verify(ctx, path)
	if err != nil || len(faults) > 0 {
		return faults, err
	}
	book, err := Open(ctx, path, true)
	if err != nil {
		return nil, err
	}
	defer book.Close()
	err = book.View(ctx, func(tx *logbook.Tx) error {
		plans, err := Plans(tx)
		for _, k := range plans {
			if k.Broken {
				faults = append(faults, logbook.Fault{Slug: "task.plan-broken", Params: map[string]any{"hash": k.Short()}})
			}
		}
		return err
	})
	return faults, err
}

func itoa(n int) string { return strconv.Itoa(n) }
