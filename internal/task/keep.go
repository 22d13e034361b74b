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
	return sqlite.Verify(ctx, path)
}

func itoa(n int) string { return strconv.Itoa(n) }
