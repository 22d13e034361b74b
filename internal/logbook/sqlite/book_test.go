package sqlite

import (
	"path/filepath"
	"testing"

	"soakline/internal/logbook"
	"soakline/internal/logbook/booktest"
)

func TestBook(t *testing.T) {
	t.Parallel()
	booktest.Run(t, func(t *testing.T) *logbook.Book {
		return create(t, filepath.Join(t.TempDir(), "team.logbook"), Options{unsafe: true})
	})
}
