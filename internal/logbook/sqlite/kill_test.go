package sqlite

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/internal/logbook"
)

var kills = flag.Int("kills", 250, "how often TestKilled kills an import")

// TestKilled kills a program at random moments of its imports. Each time the
// file must open, verify, and hold every import that was said to be kept, at
// most one more, and of none a part.
func TestKilled(t *testing.T) {
	t.Parallel()
	const killsAFile = 25 // a new file then, so that verifying stays quick
	ctx := context.Background()
	moments := rand.New(rand.NewPCG(20260701, 1))
	var path string
	hot, before := 0, 0
	for kill := range *kills {
		if kill%killsAFile == 0 {
			path = filepath.Join(t.TempDir(), "team.logbook")
			if err := create(t, path, Options{}).Close(); err != nil {
				t.Fatal(err)
			}
			before = 0
		}
		kept := importAndKill(t, path, time.Duration(moments.IntN(25_000))*time.Microsecond)
		if info, err := os.Stat(path + "-journal"); err == nil && info.Size() > 0 {
			hot++ // a change was under way, and has to be taken back
		}
		if faults, err := Verify(ctx, path); err != nil || len(faults) > 0 {
			t.Fatalf("kill %d: %v, faults %v", kill, err, faults)
		}
		now := wholeImports(t, path)
		if got := now - before; got != kept && got != kept+1 {
			t.Fatalf("kill %d: %d imports were said to be kept, %d are there", kill, kept, got)
		}
		before = now
	}
	t.Logf("%d kills, %d of them left a journal to take back", *kills, hot)
	if hot*20 < *kills {
		t.Errorf("only %d of %d kills met a change under way: the test tests too little", hot, *kills)
	}
}

// importAndKill lets a child import, kills it a while after it began, and
// tells how many imports it said were kept.
func importAndKill(t *testing.T, path string, after time.Duration) (kept int) {
	c := start(t, nil, "import", path)
	if got := c.line(); got != "begin 0" {
		t.Fatalf("the other program says %q", got)
	}
	timer := time.AfterFunc(after, func() { _ = c.cmd.Process.Kill() })
	defer timer.Stop()
	lines, _ := c.rest() // it ends by the kill
	for _, l := range lines {
		switch {
		case strings.HasPrefix(l, "kept"):
			kept++
		case strings.HasPrefix(l, "stopped"):
			t.Fatalf("the other program %s", l)
		}
	}
	return kept
}

// wholeImports counts the imports and fails on one of which a part is missing.
func wholeImports(t *testing.T, path string) int {
	book, err := Open(context.Background(), path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	records := map[string]int{}
	err = book.View(context.Background(), func(tx *logbook.Tx) error {
		sources, err := tx.Sources()
		if err != nil {
			return err
		}
		for _, s := range sources {
			records[s.ID] = 0
		}
		for r, err := range tx.Records("deployment") {
			if err != nil {
				return err
			}
			if r.Seq != 2 || r.Fields["notes"] != "y" {
				return fmt.Errorf("record %+v lacks its second revision", r)
			}
			records[r.Fields["import"]]++
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for source, n := range records {
		if n != recordsAnImport {
			t.Fatalf("import %s has %d records, want %d", source, n, recordsAnImport)
		}
	}
	return len(records)
}
