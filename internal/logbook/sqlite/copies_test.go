package sqlite

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/internal/logbook"
)

// only checks what a folder holds.
func only(t *testing.T, folder string, names ...string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range entries {
		got = append(got, e.Name())
	}
	if strings.Join(got, "|") != strings.Join(names, "|") {
		t.Errorf("the folder holds %q, want %q", got, names)
	}
}

// TestBackup copies a logbook while another program writes to it.
func TestBackup(t *testing.T) {
	ctx := context.Background()
	folder := t.TempDir()
	path := filepath.Join(folder, "team.logbook")
	book := create(t, path, Options{BusyFor: time.Minute})
	c := start(t, nil, "import slowly", path)
	waitUntil(t, "an import", func() bool { return c.line() == "kept 0" })
	for i := range 5 {
		to := filepath.Join(folder, fmt.Sprintf("backup %d.logbook", i))
		if err := Backup(ctx, book, to); err != nil {
			t.Fatal(err)
		}
		if n := wholeImports(t, to); n < 1 {
			t.Errorf("backup %d holds %d imports", i, n)
		}
	}
	if err := c.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if _, err := c.rest(); err == nil {
		t.Error("the other program ended before it was killed")
	}
	one := filepath.Join(folder, "backup 0.logbook")
	before, err := os.ReadFile(one)
	if err != nil {
		t.Fatal(err)
	}
	wantSlug(t, "a backup over a backup", Backup(ctx, book, one), logbook.SlugExists)
	wantSlug(t, "restoring over a logbook", Restore(ctx, one, path), logbook.SlugExists)
	wantSlug(t, "restoring into no folder", Restore(ctx, one, filepath.Join(folder, "none", "x")), logbook.SlugFolderMissing)
	wantSlug(t, "restoring nothing", Restore(ctx, filepath.Join(folder, "none"), path+"2"), logbook.SlugMissing)
	again := filepath.Join(folder, "restored.logbook")
	if err := Restore(ctx, one, again); err != nil {
		t.Fatal(err)
	}
	if now, err := os.ReadFile(again); err != nil || !bytes.Equal(now, before) {
		t.Errorf("the restored logbook differs from its backup (%v)", err)
	}
	if now, err := os.ReadFile(one); err != nil || !bytes.Equal(now, before) {
		t.Errorf("the backup was changed (%v)", err)
	}
	if wholeImports(t, again) < 1 {
		t.Error("the restored logbook is empty")
	}
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	if err := Backup(cancelled, book, filepath.Join(folder, "cancelled.logbook")); err == nil {
		t.Error("a cancelled backup was made")
	}
	book.Close()
	if faults, err := Verify(ctx, path); err != nil || len(faults) > 0 { // takes the journal back
		t.Errorf("%v %v", faults, err)
	}
	// a kill just after the journal was made leaves one with nothing to take
	// back, which the next change uses again
	os.Remove(path + "-journal")
	only(t, folder, "backup 0.logbook", "backup 1.logbook", "backup 2.logbook", "backup 3.logbook", "backup 4.logbook",
		"restored.logbook", "team.logbook")
}

// TestFaultyBackup: a logbook that does not verify makes no backup that looks
// like a good one.
func TestFaultyBackup(t *testing.T) {
	ctx := context.Background()
	folder := t.TempDir()
	path := filepath.Join(folder, "team.logbook")
	book := create(t, path, Options{})
	if err := book.Change(ctx, func(tx *logbook.Tx) error { return addSite(tx, "dock") }); err != nil {
		t.Fatal(err)
	}
	if _, err := book.DB().Exec(`update record set fields = '{}'`); err != nil {
		t.Fatal(err)
	}
	wantSlug(t, "a backup", Backup(ctx, book, path+".2"), logbook.SlugFaulty)
	wantSlug(t, "a restore", Restore(ctx, path, path+".2"), logbook.SlugFaulty)
	_, err := Foreign(ctx, path)
	wantSlug(t, "a merge", err, logbook.SlugFaulty)
	only(t, folder, "team.logbook")
}

// TestForeign: a logbook from elsewhere is read from a copy, and only when it
// holds our tables and nothing else.
func TestForeign(t *testing.T) {
	ctx := context.Background()
	t.Setenv("TMPDIR", t.TempDir()) // where the copies go
	folder := t.TempDir()
	theirs := filepath.Join(folder, "theirs.logbook")
	filled(t, theirs)
	before, err := os.ReadFile(theirs)
	if err != nil {
		t.Fatal(err)
	}
	ours := create(t, filepath.Join(t.TempDir(), "ours.logbook"), Options{})
	foreign, err := Foreign(ctx, theirs)
	if err != nil {
		t.Fatal(err)
	}
	only(t, folder, "theirs.logbook")
	err = foreign.View(ctx, func(f *logbook.Tx) error {
		return ours.Change(ctx, func(tx *logbook.Tx) error {
			r, err := tx.Merge(f, nil, stamp("merged"))
			if r.Added != 100 || r.Sources != 1 || len(r.Questions) > 0 {
				t.Errorf("report %+v", r)
			}
			return err
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	wantSlug(t, "a change of a foreign logbook", foreign.Change(ctx, nil), logbook.SlugViewOnly)
	if err := foreign.Close(); err != nil {
		t.Fatal(err)
	}
	only(t, os.Getenv("TMPDIR")) // nothing is left

	for what, query := range map[string]string{
		"a trigger":                  `create trigger t after insert on alias begin select 1; end`,
		"a view":                     `create view v as select * from record`,
		"a table":                    `create table t (x)`,
		"a trigger less":             `drop trigger revision_stays`,
		"a view for a table":         `drop table alias; create view alias as select key as record, '' as source_name, '' as earlier, 0 as line from record`,
		"a table without its checks": `drop table redaction; create table redaction (id, at, who, why, source, record, field, hash)`,
		"another version":            `delete from schema_version`,
	} {
		path := filepath.Join(folder, "forged.logbook")
		if err := os.WriteFile(path, before, 0o644); err != nil {
			t.Fatal(err)
		}
		db, err := connect(path, "rw", Options{unsafe: true})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.Exec(query); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		db.Close()
		_, err = Foreign(ctx, path)
		wantSlug(t, what, err, logbook.SlugForeignSchema)
		if what != "another version" {
			faults, err := Verify(ctx, path)
			if err != nil || len(faults) == 0 {
				t.Errorf("%s: verify says %v, %v", what, faults, err)
			}
		}
		os.Remove(path)
	}
	if err := os.WriteFile(theirs+"-journal", []byte("half a change"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err = Foreign(ctx, theirs)
	wantSlug(t, "a logbook in use", err, logbook.SlugUnfinished)
	wantSlug(t, "restoring a logbook in use", Restore(ctx, theirs, theirs+".2"), logbook.SlugUnfinished)
	if now, err := os.ReadFile(theirs); err != nil || !bytes.Equal(now, before) {
		t.Errorf("the foreign logbook was changed (%v)", err)
	}
	only(t, os.Getenv("TMPDIR"))
}
