package sqlite

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"soakline/internal/logbook"
)

var (
	day  = time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC)
	made = logbook.Made{By: "soakline test", At: day}
)

func stamp(why string) logbook.Stamp { return logbook.Stamp{Who: "Ada", When: day, Why: why} }

func create(t *testing.T, path string, o Options) *logbook.Book {
	t.Helper()
	book, err := Create(context.Background(), path, made, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { book.Close() })
	return book
}

// TestNames: a file's name may hold what means something in an address.
func TestNames(t *testing.T) {
	ctx := context.Background()
	for _, name := range []string{"plain.logbook", "what?.logbook", "no#1.logbook", "100%.logbook", "%41.logbook",
		"Cádiz é ñ.logbook", "two words.logbook", "a&b=c+d;e.logbook", "-dash.logbook"} {
		path := filepath.Join(t.TempDir(), name)
		book := create(t, path, Options{})
		err := book.Change(ctx, func(tx *logbook.Tx) error {
			_, err := tx.Put(logbook.Record{Kind: "site", Fields: map[string]string{"code": "dock"}}, stamp(""))
			return err
		})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if err := book.Close(); err != nil {
			t.Fatal(err)
		}
		found, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*"))
		if err != nil || len(found) != 1 || filepath.Base(found[0]) != name {
			t.Errorf("%s: the folder holds %q, want only the logbook", name, found)
		}
		if faults, err := Verify(ctx, path); err != nil || len(faults) > 0 {
			t.Errorf("%s: %v %v", name, faults, err)
		}
	}
}
