package sqlite

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"soakline/internal/logbook"
)

var update = flag.Bool("update", false, "write the golden files of the newest version")

// oldest is the logbook that the first version made, and what it says. It is
// kept as it is for good; a new version adds a file of its own.
const oldest = "testdata/version1.logbook"

// makeOld fills a logbook with one thing of each kind, from a seed.
func makeOld(t testing.TB, path string) {
	t.Helper()
	seed := [32]byte{20: 26}
	book, err := Create(context.Background(), path, made, Options{Random: rand.NewChaCha8(seed), unsafe: true})
	if err != nil {
		t.Fatal(err)
	}
	err = book.Change(context.Background(), func(tx *logbook.Tx) error {
		src, _, err1 := tx.AddSource("dock.csv", []byte("deployment_id,site\nD1,dock\n"), stamp(""))
		gone, _, err2 := tx.AddSource("names.csv", []byte("names\n"), stamp(""))
		s := stamp("first import")
		s.Source, s.Line = src.ID, 2
		d, err3 := tx.Put(logbook.Record{Kind: "deployment", Fields: map[string]string{"programme": "invented",
			"team": "north", "season": "2026", "site": "dock", "deployment_id": "D1", "longitude": "8.2", "notes": "é"}}, s)
		_, err4 := tx.Correct(d.Record, map[string]string{"longitude": "-8.2"}, stamp("sign"))
		err5 := tx.AddAlias(logbook.Alias{Record: d.Record, Source: "dock.csv", Earlier: "D1", Line: 2})
		site, err6 := tx.Put(logbook.Record{Kind: "site", Fields: map[string]string{"code": "dock", "note": "private"}}, stamp(""))
		_, err7 := tx.Withdraw(site.Record, stamp("not ours"))
		_, err8 := tx.RedactField(site.Record, "note", stamp("asked"))
		_, err9 := tx.RedactSource(gone.ID, nil, stamp("asked"))
		return errors.Join(err1, err2, err3, err4, err5, err6, err7, err8, err9)
	})
	if err := errors.Join(err, book.Close()); err != nil {
		t.Fatal(err)
	}
}

// TestSameSeedSameBytes: a logbook made from a seed is the same file each time.
func TestSameSeedSameBytes(t *testing.T) {
	a, b := filepath.Join(t.TempDir(), "a.logbook"), filepath.Join(t.TempDir(), "b.logbook")
	makeOld(t, a)
	makeOld(t, b)
	x, err1 := os.ReadFile(a)
	y, err2 := os.ReadFile(b)
	if err := errors.Join(err1, err2); err != nil || !bytes.Equal(x, y) {
		t.Errorf("the files differ (%v)", err)
	}
}

// copyOldest puts the kept logbook where it may be changed.
func copyOldest(t *testing.T) (path string) {
	t.Helper()
	if *update {
		if _, err := os.Stat(oldest); err != nil {
			makeOld(t, oldest)
			if err := os.WriteFile(oldest+".txt", []byte(said(t, oldest)), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	content, err := os.ReadFile(oldest)
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), "old.logbook")
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestOldest opens the logbook of the first version with this program.
func TestOldest(t *testing.T) {
	ctx := context.Background()
	path := copyOldest(t)
	want, err := os.ReadFile(oldest + ".txt")
	if err != nil {
		t.Fatal(err)
	}
	book, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if faults, err := book.Verify(ctx); err != nil || len(faults) > 0 {
		t.Errorf("%v %v", faults, err)
	}
	if book.Made() != made || book.ID() == "" {
		t.Errorf("made %+v, want %+v", book.Made(), made)
	}
	book.Close()
	if got := said(t, path); got != string(want) {
		t.Errorf("it says\n%s\nand should say\n%s", got, want)
	}
}

// withSecond are our migrations and one more.
func withSecond(t *testing.T, text string) fs.FS {
	t.Helper()
	first, err := fs.ReadFile(own, "0001_logbook.sql")
	if err != nil {
		t.Fatal(err)
	}
	return fstest.MapFS{"0001_logbook.sql": {Data: first}, "0002_next.sql": {Data: []byte(text)}}
}

const second = "-- +goose Up\nalter table source add column media text not null default '';\n" +
	"create table extra (x text) strict;\nupdate logbook set made_by = 'mended';\n"

// TestMigration brings the oldest logbook to a version that is not there yet.
func TestMigration(t *testing.T) {
	ctx := context.Background()
	path := copyOldest(t)
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	records := said(t, path)
	_, err = Open(ctx, path, Options{ViewOnly: true, migrations: withSecond(t, second)})
	wantSlug(t, "looking at an older logbook", err, logbook.SlugOlder)
	newer := Options{migrations: withSecond(t, second)}
	book, err := Open(ctx, path, newer)
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if n := book.Notices(); len(n) != 1 || n[0].Slug != logbook.SlugBackedUp || n[0].Params["backup"] != "old.logbook.version1" {
		t.Errorf("notices %v", n)
	}
	if faults, err := book.Verify(ctx); err != nil || len(faults) > 0 || book.Made().By != "mended" {
		t.Errorf("%v %v, made by %s", faults, err, book.Made().By)
	}
	book.Close()
	if faults, err := Verify(ctx, path+".version1"); err != nil || len(faults) > 0 || said(t, path+".version1") != records {
		t.Errorf("the backup: %v %v", faults, err)
	}
	_, err = Open(ctx, path, Options{})
	wantSlug(t, "the older program on it", err, logbook.SlugNewer)
	if book, err = Open(ctx, path, newer); err != nil || len(book.Notices()) != 0 {
		t.Fatalf("opened again: %v", err)
	}
	book.Close()
	// from elsewhere, an older one is brought up to date in the copy
	old := copyOldest(t)
	f, err := foreign(ctx, old, newer)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Error(err)
	}
	if now, err := os.ReadFile(old); err != nil || !bytes.Equal(now, before) {
		t.Errorf("the foreign logbook was changed (%v)", err)
	}
}

// TestMigrationFails: a migration that fails leaves the logbook as it was.
func TestMigrationFails(t *testing.T) {
	ctx := context.Background()
	path := copyOldest(t)
	before := said(t, path)
	for range 2 { // the second time its backup is there already
		_, err := Open(ctx, path, Options{migrations: withSecond(t, second+"insert into nowhere values (1);\n")})
		if err == nil {
			t.Fatal("a broken migration went through")
		}
	}
	if got := said(t, path); got != before {
		t.Errorf("it says\n%s\nand said\n%s", got, before)
	}
	if faults, err := Verify(ctx, path); err != nil || len(faults) > 0 {
		t.Errorf("%v %v", faults, err)
	}
}
