package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/internal/logbook"
)

func wantSlug(t testing.TB, what string, err error, slug string) {
	t.Helper()
	if got := logbook.SlugOf(err); got != slug {
		t.Errorf("%s: error %v has the slug %q, want %q", what, err, got, slug)
	}
}

func addSite(tx *logbook.Tx, code string) error {
	_, err := tx.Put(logbook.Record{Kind: "site", Fields: map[string]string{"code": code}}, stamp(""))
	return err
}

func countSites(t testing.TB, b *logbook.Book) (n int) {
	t.Helper()
	err := b.View(context.Background(), func(tx *logbook.Tx) (err error) { n, _, err = tx.Count("site"); return err })
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// filled makes a closed logbook of some pages.
func filled(t testing.TB, path string) {
	t.Helper()
	book, err := Create(context.Background(), path, made, Options{unsafe: true})
	if err != nil {
		t.Fatal(err)
	}
	err = book.Change(context.Background(), func(tx *logbook.Tx) error {
		if _, _, err := tx.AddSource("x.csv", bytes.Repeat([]byte("line\n"), 3000), stamp("")); err != nil {
			return err
		}
		for i := range 100 {
			if err := addSite(tx, fmt.Sprint("s", i)); err != nil {
				return err
			}
		}
		return nil
	})
	if err := errors.Join(err, book.Close()); err != nil {
		t.Fatal(err)
	}
}

// said lists what a logbook's records, histories and originals say.
func said(t testing.TB, path string) string {
	t.Helper()
	book, err := Open(context.Background(), path, Options{ViewOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	var b strings.Builder
	err = book.View(context.Background(), func(tx *logbook.Tx) error {
		kinds, err := tx.Kinds()
		if err != nil {
			return err
		}
		for _, kind := range kinds {
			for r, err := range tx.Records(kind) {
				if err != nil {
					return err
				}
				history, err := tx.History(r.Key)
				if err != nil {
					return err
				}
				fmt.Fprintln(&b, r, history)
			}
		}
		sources, err := tx.Sources()
		for _, s := range sources {
			content, err := tx.Original(s.ID)
			if err != nil {
				return err
			}
			fmt.Fprintf(&b, "%s %q\n", s.ID, content)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestNotALogbook opens what is none, or no more one.
func TestNotALogbook(t *testing.T) {
	ctx := context.Background()
	folder := t.TempDir()
	good := filepath.Join(folder, "good.logbook")
	filled(t, good)
	whole, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(folder, "other.db")
	db, err := sql.Open("sqlite", "file:"+other)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("create table logbook (x)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	others, err := os.ReadFile(other)
	if err != nil {
		t.Fatal(err)
	}
	page := 4096
	for what, c := range map[string]struct {
		content []byte
		slug    string
	}{
		"an empty file":             {nil, logbook.SlugNotALogbook},
		"a datasheet":               {[]byte("deployment_id,site\nD1,dock\n"), logbook.SlugNotALogbook},
		"a zip":                     {append([]byte("PK\x03\x04"), whole...), logbook.SlugNotALogbook},
		"another SQLite file":       {others, logbook.SlugNotALogbook},
		"fifty bytes of a logbook":  {whole[:50], logbook.SlugDamaged},
		"one page of a logbook":     {whole[:page], logbook.SlugDamaged},
		"half a logbook":            {whole[:len(whole)/2/page*page], logbook.SlugDamaged},
		"a logbook cut in a page":   {whole[:len(whole)-7], logbook.SlugDamaged},
		"a logbook less its end":    {whole[:len(whole)-page], logbook.SlugDamaged},
		"a logbook full of nothing": {append(bytes.Clone(whole[:100]), make([]byte, len(whole)-100)...), logbook.SlugDamaged},
	} {
		path := filepath.Join(folder, "try.logbook")
		if err := os.WriteFile(path, c.content, 0o644); err != nil {
			t.Fatal(err)
		}
		for _, o := range []Options{{}, {ViewOnly: true}} {
			book, err := Open(ctx, path, o)
			if err == nil {
				book.Close()
			}
			wantSlug(t, what, err, c.slug)
		}
		faults, err := Verify(ctx, path)
		if err != nil || len(faults) != 1 || faults[0].Slug != c.slug {
			t.Errorf("%s: verify says %v, %v", what, faults, err)
		}
		if err := Restore(ctx, path, path+".restored"); err == nil {
			t.Errorf("%s was restored", what)
		}
		if now, err := os.ReadFile(path); err != nil || !bytes.Equal(now, c.content) {
			t.Errorf("%s was changed by opening it (%v)", what, err)
		}
		if left, _ := filepath.Glob(filepath.Join(folder, "*try*")); len(left) != 1 {
			t.Errorf("%s left %v", what, left)
		}
	}
	for what, c := range map[string][2]string{
		"a folder":         {folder, logbook.SlugNotALogbook},
		"nothing":          {filepath.Join(folder, "none.logbook"), logbook.SlugMissing},
		"no folder":        {filepath.Join(folder, "none", "x.logbook"), logbook.SlugFolderMissing},
		"a file as folder": {filepath.Join(good, "x.logbook"), logbook.SlugFolderMissing},
	} {
		_, err := Open(ctx, c[0], Options{})
		wantSlug(t, what, err, c[1])
	}
	_, err = Create(ctx, good, made, Options{})
	wantSlug(t, "creating over a logbook", err, logbook.SlugExists)
	_, err = Create(ctx, filepath.Join(folder, "none", "x.logbook"), made, Options{})
	wantSlug(t, "creating in no folder", err, logbook.SlugFolderMissing)
}

// TestFlippedBytes: whatever one changed byte does, opening and verifying end
// with an answer, and when nothing is told the records, their histories and
// the originals are what they were.
func TestFlippedBytes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "team.logbook")
	filled(t, path)
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before := said(t, path)
	r := rand.New(rand.NewPCG(20260701, 2))
	told := 0
	for range 150 {
		content := bytes.Clone(whole)
		at := r.IntN(len(content))
		for content[at] == 0 { // what no page uses is mostly zero
			at = r.IntN(len(content))
		}
		content[at] ^= byte(1 + r.IntN(255))
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
		faults, err := verify(context.Background(), path, Options{ViewOnly: true, BusyFor: time.Millisecond})
		if err != nil || len(faults) > 0 {
			told++
		} else if now := said(t, path); now != before {
			t.Errorf("byte %d made it say, untold,\n%s", at, now)
		}
	}
	t.Logf("%d of 150 changed bytes were told", told)
	if told < 75 {
		t.Errorf("only %d of 150 changed bytes were told", told)
	}
	content := bytes.Replace(whole, []byte("line\nline\n"), []byte("line\nlime\n"), 1)
	if bytes.Equal(content, whole) {
		t.Fatal("the original is not in the file as it is")
	}
	if err := os.WriteFile(path, content, 0o644); err != nil {
		t.Fatal(err)
	}
	faults, err := Verify(context.Background(), path)
	if err != nil || len(faults) != 1 || faults[0].Slug != logbook.FaultSource {
		t.Errorf("a changed letter in an original: %v, %v", faults, err)
	}
}

// TestNewer: a logbook of a newer program is refused and not touched.
func TestNewer(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "team.logbook")
	book := create(t, path, Options{})
	if _, err := book.DB().Exec(`insert into schema_version (version) values (99)`); err != nil {
		t.Fatal(err)
	}
	book.Close()
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for what, open := range map[string]func() error{
		"open":    func() error { _, err := Open(ctx, path, Options{}); return err },
		"look":    func() error { _, err := Open(ctx, path, Options{ViewOnly: true}); return err },
		"foreign": func() error { _, err := Foreign(ctx, path); return err },
		"verify":  func() error { _, err := Verify(ctx, path); return err },
		"restore": func() error { return Restore(ctx, path, path+".2") },
	} {
		err := open()
		wantSlug(t, what, err, logbook.SlugNewer)
		var e *logbook.Error
		if errors.As(err, &e) && (e.Params["version"] != 99 || e.Params["known"] != 1) {
			t.Errorf("%s: parameters %v", what, e.Params)
		}
	}
	if after, err := os.ReadFile(path); err != nil || !bytes.Equal(before, after) {
		t.Errorf("a newer logbook was touched (%v)", err)
	}
}

// TestFullDisk takes a limit on the file's pages for a full disk: SQLite then
// ends the change with the same SQLITE_FULL that a full disk gives it.
func TestFullDisk(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "team.logbook")
	filled(t, path)
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	book, err := Open(ctx, path, Options{maxPages: int(info.Size()/4096) + 20, cachePages: 5})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		for i := range 5000 {
			if err := addSite(tx, fmt.Sprint("t", i)); err != nil {
				return err
			}
		}
		return nil
	})
	wantSlug(t, "a full disk", err, logbook.SlugFull)
	if n := countSites(t, book); n != 100 {
		t.Errorf("%d sites after a change that did not fit, want 100", n)
	}
	err = book.Change(ctx, func(tx *logbook.Tx) error { return addSite(tx, "small") })
	if err != nil {
		t.Errorf("a change that fits: %v", err)
	}
	book.Close()
	if faults, err := Verify(ctx, path); err != nil || len(faults) > 0 {
		t.Errorf("%v %v", faults, err)
	}
}

// TestTwoPrograms: the second program waits, is told when it waited in vain,
// and nothing is lost when both write.
func TestTwoPrograms(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "team.logbook")
	book := create(t, path, Options{BusyFor: 100 * time.Millisecond})
	c := start(t, nil, "hold", path)
	if got := c.line(); got != "holding" {
		t.Fatalf("the other program says %q", got)
	}
	err := book.Change(ctx, func(tx *logbook.Tx) error { return addSite(tx, "mine") })
	wantSlug(t, "a change while another has one open", err, logbook.SlugBusy)
	if n := countSites(t, book); n != 0 {
		t.Errorf("%d sites, want none before the other is done", n)
	}
	c.in.Close()
	if lines, err := c.rest(); err != nil {
		t.Fatalf("the other program: %v %v", lines, err)
	}
	if err := book.Change(ctx, func(tx *logbook.Tx) error { return addSite(tx, "mine") }); err != nil {
		t.Fatal(err)
	}
	if n := countSites(t, book); n != 2 {
		t.Errorf("%d sites, want both", n)
	}
	book.Close()

	const each = 60
	patient, err := Open(ctx, path, Options{BusyFor: time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	defer patient.Close()
	c = start(t, nil, "add", path, fmt.Sprint(each))
	for i := range each {
		if err := patient.Change(ctx, func(tx *logbook.Tx) error { return addSite(tx, fmt.Sprint("s", i)) }); err != nil {
			t.Fatal(err)
		}
	}
	if lines, err := c.rest(); err != nil {
		t.Fatalf("the other program: %v %v", lines, err)
	}
	err = patient.View(ctx, func(tx *logbook.Tx) error {
		sites, _, err1 := tx.Count("site")
		notes, _, err2 := tx.Count("note")
		if sites != each+2 || notes != each {
			t.Errorf("%d sites and %d notes, want %d and %d", sites, notes, each+2, each)
		}
		return errors.Join(err1, err2)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestSyncedFolder: copies that a syncing program made are told by name.
func TestSyncedFolder(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "Team.logbook")
	create(t, path, Options{}).Close()
	copies := []string{"Team (Ada's conflicted copy 2026-07-01).logbook", "Team.sync-conflict-20260701.logbook",
		"team-Konflikt.logbook", "Team (copia en conflicto).logbook"}
	for _, name := range append(copies, "Team 2026.logbook", "Other conflict.logbook") {
		if err := os.WriteFile(filepath.Join(folder, name), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	book, err := Open(context.Background(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	var told []string
	for _, n := range book.Notices() {
		if n.Slug == logbook.SlugCopyBeside {
			told = append(told, n.Params["other"].(string))
		}
	}
	if len(told) != len(copies) || strings.Contains(strings.Join(told, "|"), "2026.logbook") {
		t.Errorf("told of %q, want %q", told, copies)
	}
}
