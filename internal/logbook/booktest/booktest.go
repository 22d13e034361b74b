// Package booktest is the one suite that every kind of logbook has to pass: it
// answers whether a database keeps what room logbook promises. Each test gets
// logbooks of its own; the histories it tries are drawn at random from seeds
// that a failure prints (pgregory.net/rapid).
package booktest

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"strings"
	"testing"
	"time"

	"soakline/internal/logbook"
)

// Day is when the suite's changes happen, unless they say otherwise.
var Day = time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC)

// Run runs the suite; open gives a new, empty logbook, which it closes itself.
func Run(t *testing.T, open func(t *testing.T) *logbook.Book) {
	for _, part := range []struct {
		name string
		test func(*testing.T, func(*testing.T) *logbook.Book)
	}{
		{"put and history", testPut},
		{"nothing changed", testNothingChanged},
		{"refusals", testRefusals},
		{"identity", testIdentity},
		{"withdraw and undo", testWithdraw},
		{"sources", testSources},
		{"aliases", testAliases},
		{"transactions", testTransactions},
		{"records in pages", testPages},
		{"what databases differ in", testDialect},
		{"the schema refuses", testSchemaRefuses},
		{"verify and rebuild", testVerify},
		{"frozen", testFrozen},
		{"redaction", testRedaction},
		{"merge", testMerge},
		{"merge asks", testMergeAsks},
		{"merge and identity", testMergeIdentity},
		{"merge and redaction", testMergeRedaction},
		{"merge distrusts", testMergeDistrusts},
		{"any history replays", testReplayProperty},
		{"any two histories merge", testMergeProperty},
	} {
		t.Run(part.name, func(t *testing.T) { part.test(t, open) })
	}
}

// stamp is a change by Ada at Day and some minutes.
func stamp(minutes int, why string) logbook.Stamp {
	return logbook.Stamp{Who: "Ada", When: Day.Add(time.Duration(minutes) * time.Minute), Why: why}
}

// site is a record of kind site.
func site(code, note string) logbook.Record {
	return logbook.Record{Kind: "site", Fields: map[string]string{"code": code, "note": note}}
}

// deployment is a record of kind deployment, with an identity.
func deployment(team, id string, more ...string) logbook.Record {
	f := map[string]string{"programme": "shore", "team": team, "season": "2026", "site": "dock", "deployment_id": id}
	for i := 0; i+1 < len(more); i += 2 {
		f[more[i]] = more[i+1]
	}
	return logbook.Record{Kind: "deployment", Fields: f}
}

// change runs one change and fails the test on an error.
func change(t testing.TB, b *logbook.Book, work func(tx *logbook.Tx) error) {
	t.Helper()
	if err := b.Change(context.Background(), work); err != nil {
		t.Fatal(err)
	}
}

func view(t testing.TB, b *logbook.Book, look func(tx *logbook.Tx) error) {
	t.Helper()
	if err := b.View(context.Background(), look); err != nil {
		t.Fatal(err)
	}
}

// put puts one record in a transaction of its own.
func put(t testing.TB, b *logbook.Book, r logbook.Record, s logbook.Stamp) (v logbook.Revision) {
	t.Helper()
	change(t, b, func(tx *logbook.Tx) (err error) { v, err = tx.Put(r, s); return err })
	return v
}

func correct(t testing.TB, b *logbook.Book, key, field, text string, s logbook.Stamp) (v logbook.Revision) {
	t.Helper()
	change(t, b, func(tx *logbook.Tx) (err error) {
		v, err = tx.Correct(key, map[string]string{field: text}, s)
		return err
	})
	return v
}

func get(t testing.TB, b *logbook.Book, key string) (r logbook.Record) {
	t.Helper()
	view(t, b, func(tx *logbook.Tx) (err error) { r, err = tx.Record(key); return err })
	return r
}

func history(t testing.TB, b *logbook.Book, key string) (h []logbook.Revision) {
	t.Helper()
	view(t, b, func(tx *logbook.Tx) (err error) { h, err = tx.History(key); return err })
	return h
}

// wantSlug checks that an error says what it should.
func wantSlug(t testing.TB, err error, slug string) {
	t.Helper()
	if got := logbook.SlugOf(err); got != slug {
		t.Errorf("error %v has the slug %q, want %q", err, got, slug)
	}
}

// whole checks that a logbook verifies.
func whole(t testing.TB, b *logbook.Book) {
	t.Helper()
	faults, err := b.Verify(context.Background())
	if err != nil || len(faults) > 0 {
		t.Fatalf("verify: %v, faults %v", err, faults)
	}
}

// contents lists all that a logbook says, revisions included, as one text that
// is equal for equal logbooks.
func contents(t testing.TB, b *logbook.Book) string {
	t.Helper()
	var s strings.Builder
	view(t, b, func(tx *logbook.Tx) error {
		kinds, err := tx.Kinds()
		if err != nil {
			return err
		}
		for _, kind := range kinds {
			for r, err := range tx.Records(kind) {
				if err != nil {
					return err
				}
				fmt.Fprintf(&s, "%s %s %s %s %d %v\n", r.Kind, r.Key, r.State, r.Head, r.Seq, r.Fields)
				h, err := tx.History(r.Key)
				if err != nil {
					return err
				}
				for _, v := range h {
					fmt.Fprintf(&s, "\t%v\n", v)
				}
				a, err := tx.Aliases(r.Key)
				if err != nil {
					return err
				}
				fmt.Fprintf(&s, "\t%v\n", a)
			}
		}
		sources, err := tx.Sources()
		for _, src := range sources {
			content, err := tx.Original(src.ID)
			if err != nil {
				return err
			}
			fmt.Fprintf(&s, "source %s %s %d %v %q\n", src.ID, src.Name, src.Bytes, src.Redacted, content)
		}
		return err
	})
	return s.String()
}

func testPut(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	r := site("dock", "muddy")
	r.Fields["empty"] = ""
	first := put(t, b, r, stamp(0, "typed in"))
	if !first.Happened() || first.Seq != 1 || first.Action != logbook.Create || len(first.Record) != 36 {
		t.Fatalf("first revision %+v", first)
	}
	r = get(t, b, first.Record)
	if want := map[string]string{"code": "dock", "note": "muddy"}; !maps.Equal(r.Fields, want) || r.State != logbook.Live {
		t.Errorf("record %+v, want the fields %v and no empty one", r, want)
	}
	r.Fields["note"] = "sandy"
	r.Fields["zone"] = "Europe/Lisbon"
	delete(r.Fields, "code")
	s := stamp(5, "seen again")
	second := put(t, b, r, s)
	want := map[string]logbook.Change{"note": {"muddy", "sandy"}, "zone": {"", "Europe/Lisbon"}, "code": {"dock", ""}}
	if second.Seq != 2 || second.Action != logbook.Revise || !maps.Equal(second.Changed, want) {
		t.Errorf("second revision %+v, want the changes %v", second, want)
	}
	h := history(t, b, first.Record)
	if len(h) != 2 || h[1].ID != second.ID || h[1].Who != "Ada" || h[1].Why != "seen again" || !h[1].When.Equal(s.When) {
		t.Errorf("history %+v", h)
	}
	v := correct(t, b, first.Record, "zone", "", stamp(6, ""))
	if len(v.Changed) != 1 || v.Changed["zone"].Was() != "Europe/Lisbon" {
		t.Errorf("correcting one field changed %v", v.Changed)
	}
	whole(t, b)
}

func testNothingChanged(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	v := put(t, b, site("dock", "muddy"), stamp(0, ""))
	before := contents(t, b)
	r := get(t, b, v.Record)
	r.Fields["other"] = ""
	if again := put(t, b, r, stamp(9, "read twice")); again.Happened() || again.Record != v.Record {
		t.Errorf("the same record put twice made %+v", again)
	}
	change(t, b, func(tx *logbook.Tx) error {
		again, err := tx.Reinstate(v.Record, stamp(9, "it is live"))
		if again.Happened() {
			t.Errorf("reinstating a live record made %+v", again)
		}
		return err
	})
	if after := contents(t, b); after != before {
		t.Errorf("was\n%s\nis\n%s", before, after)
	}
}

func testRefusals(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	v := put(t, b, site("dock", "muddy"), stamp(0, ""))
	before := contents(t, b)
	with := func(f func(*logbook.Record)) logbook.Record {
		r := site("pier", "rocky")
		f(&r)
		return r
	}
	for _, c := range []struct {
		slug string
		r    logbook.Record
		s    logbook.Stamp
	}{
		{logbook.SlugStampWho, site("a", ""), logbook.Stamp{When: Day}},
		{logbook.SlugStampWhen, site("a", ""), logbook.Stamp{Who: "Ada"}},
		{logbook.SlugStampLine, site("a", ""), logbook.Stamp{Who: "Ada", When: Day, Line: -1}},
		{logbook.SlugNoSource, site("a", ""), logbook.Stamp{Who: "Ada", When: Day, Source: "none"}},
		{logbook.SlugKindForm, with(func(r *logbook.Record) { r.Kind = "" }), stamp(1, "")},
		{logbook.SlugKindForm, with(func(r *logbook.Record) { r.Kind = "Site of mine" }), stamp(1, "")},
		{logbook.SlugKeyForm, with(func(r *logbook.Record) { r.Key = "D1" }), stamp(1, "")},
		{logbook.SlugKindFixed, with(func(r *logbook.Record) { r.Key, r.Kind = v.Record, "habitat" }), stamp(1, "")},
		{logbook.SlugChangedMeanwhile, with(func(r *logbook.Record) { r.Key, r.Head = v.Record, "older" }), stamp(1, "")},
		{logbook.SlugFieldNameless, with(func(r *logbook.Record) { r.Fields[""] = "x" }), stamp(1, "")},
		{logbook.SlugTextBroken, with(func(r *logbook.Record) { r.Fields["note"] = "a\x00b" }), stamp(1, "")},
		{logbook.SlugTextBroken, with(func(r *logbook.Record) { r.Fields["note"] = "\xff" }), stamp(1, "")},
		{logbook.SlugTextLong, with(func(r *logbook.Record) { r.Fields["note"] = strings.Repeat("x", 2<<20) }), stamp(1, "")},
		{logbook.SlugTextBroken, site("a", ""), logbook.Stamp{Who: "A\x00", When: Day}},
		{logbook.SlugTextBroken, site("a", ""), stamp(1, "\xff")},
	} {
		err := b.Change(context.Background(), func(tx *logbook.Tx) error { _, err := tx.Put(c.r, c.s); return err })
		wantSlug(t, err, c.slug)
	}
	for slug, work := range map[string]func(tx *logbook.Tx) error{
		logbook.SlugNoRecord:   func(tx *logbook.Tx) error { _, err := tx.Record("nobody"); return err },
		logbook.SlugWhyMissing: func(tx *logbook.Tx) error { _, err := tx.Withdraw(v.Record, stamp(1, "")); return err },
	} {
		wantSlug(t, b.Change(context.Background(), work), slug)
	}
	err := b.View(context.Background(), func(tx *logbook.Tx) error {
		_, err := tx.Put(site("pier", ""), stamp(1, ""))
		return err
	})
	wantSlug(t, err, logbook.SlugViewOnly)
	if after := contents(t, b); after != before {
		t.Errorf("a refused change left a trace: was\n%s\nis\n%s", before, after)
	}
}

func testIdentity(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	first := put(t, b, deployment("north", "D1"), stamp(0, ""))
	put(t, b, deployment("south", "D1"), stamp(1, "")) // the same D1 of two teams are two rows
	err := b.Change(context.Background(), func(tx *logbook.Tx) error {
		_, err := tx.Put(deployment("north", "D1", "notes", "a copy"), stamp(2, ""))
		return err
	})
	wantSlug(t, err, logbook.SlugIdentityTaken)
	id := logbook.Identity{Programme: "shore", Team: "north", Season: "2026", Site: "dock", Code: "D1"}
	find := func() (r logbook.Record, found bool) {
		view(t, b, func(tx *logbook.Tx) (err error) { r, found, err = tx.FindIdentity("deployment", id); return err })
		return r, found
	}
	if r, found := find(); !found || r.Key != first.Record {
		t.Errorf("found %v %v, want %s", r, found, first.Record)
	}
	// mending what the identity is made of makes a revision, not a second row
	if v := correct(t, b, first.Record, "deployment_id", "D2", stamp(3, "misread")); v.Seq != 2 {
		t.Errorf("revision %+v", v)
	}
	if r, found := find(); found {
		t.Errorf("D1 is still %v", r)
	}
	second := put(t, b, deployment("north", "D1"), stamp(4, ""))
	err = b.Change(context.Background(), func(tx *logbook.Tx) error {
		_, err := tx.Undo(first.Record, stamp(5, "it was D1"))
		return err
	})
	wantSlug(t, err, logbook.SlugIdentityTaken)
	// a withdrawn record holds no identity, and cannot come back to a taken one
	change(t, b, func(tx *logbook.Tx) error {
		if _, err := tx.Withdraw(second.Record, stamp(6, "typed twice")); err != nil {
			return err
		}
		_, err := tx.Undo(first.Record, stamp(7, "it was D1"))
		return err
	})
	err = b.Change(context.Background(), func(tx *logbook.Tx) error {
		_, err := tx.Reinstate(second.Record, stamp(8, "no"))
		return err
	})
	wantSlug(t, err, logbook.SlugIdentityTaken)
	whole(t, b)
}

func testWithdraw(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	key := put(t, b, site("dock", "muddy"), stamp(0, "")).Record
	do := func(work func(*logbook.Tx) (logbook.Revision, error)) (v logbook.Revision) {
		t.Helper()
		change(t, b, func(tx *logbook.Tx) (err error) { v, err = work(tx); return err })
		return v
	}
	undo := func(minutes int) logbook.Revision {
		t.Helper()
		return do(func(tx *logbook.Tx) (logbook.Revision, error) { return tx.Undo(key, stamp(minutes, "undone")) })
	}
	v := do(func(tx *logbook.Tx) (logbook.Revision, error) { return tx.Withdraw(key, stamp(1, "wrong place")) })
	if v.Action != logbook.Withdraw || v.Why != "wrong place" || get(t, b, key).State != logbook.Withdrawn {
		t.Errorf("withdrawing made %+v", v)
	}
	view(t, b, func(tx *logbook.Tx) error {
		live, withdrawn, err := tx.Count("site")
		if live != 0 || withdrawn != 1 {
			t.Errorf("%d live, %d withdrawn, want 0 and 1", live, withdrawn)
		}
		return err
	})
	// a withdrawn record may be revised, and stays withdrawn
	if v := correct(t, b, key, "note", "rocky", stamp(2, "")); v.State != logbook.Withdrawn || get(t, b, key).State != logbook.Withdrawn {
		t.Errorf("revising a withdrawn record made %+v", v)
	}
	undo(3) // the note
	if r := get(t, b, key); r.Fields["note"] != "muddy" || r.State != logbook.Withdrawn {
		t.Errorf("after undoing the note: %+v", r)
	}
	undo(4) // the undoing
	if r := get(t, b, key); r.Fields["note"] != "rocky" {
		t.Errorf("after undoing the undoing: %+v", r)
	}
	do(func(tx *logbook.Tx) (logbook.Revision, error) { return tx.Reinstate(key, stamp(5, "it was right")) })
	if v := undo(6); v.Action != logbook.Withdraw || get(t, b, key).State != logbook.Withdrawn {
		t.Errorf("undoing a reinstatement made %+v", v)
	}
	// a record just made is withdrawn by undo, and comes back by another
	key = put(t, b, site("pier", ""), stamp(7, "")).Record
	if v := undo(8); v.Action != logbook.Withdraw {
		t.Errorf("undoing the first revision made %+v", v)
	}
	if v := undo(9); v.Action != logbook.Reinstate || get(t, b, key).State != logbook.Live {
		t.Errorf("undoing that made %+v", v)
	}
	whole(t, b)
}

func testSources(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	content := []byte("site,habitat\r\ndock,sand\x00\xff\n")
	var src logbook.Source
	change(t, b, func(tx *logbook.Tx) (err error) {
		var known bool
		src, known, err = tx.AddSource("dock.csv", content, stamp(0, ""))
		if known {
			t.Error("a new file is known")
		}
		return err
	})
	s := stamp(1, "")
	s.Source, s.Line = src.ID, 2
	key := put(t, b, site("dock", ""), s).Record
	if h := history(t, b, key); h[0].Source != src.ID || h[0].Line != 2 {
		t.Errorf("revision %+v, want source and line", h[0])
	}
	before := contents(t, b)
	change(t, b, func(tx *logbook.Tx) error {
		again, known, err := tx.AddSource("copy of dock.csv", content, stamp(2, ""))
		if !known || again.ID != src.ID || again.Name != "dock.csv" {
			t.Errorf("the same bytes are %+v, known %v", again, known)
		}
		return err
	})
	if after := contents(t, b); after != before {
		t.Errorf("a file read twice changed the logbook: was\n%s\nis\n%s", before, after)
	}
	view(t, b, func(tx *logbook.Tx) error {
		got, err := tx.Original(src.ID)
		if string(got) != string(content) {
			t.Errorf("original %q, want %q", got, content)
		}
		return err
	})
	// FIPS 180-4 examples, as published by NIST: the empty message and "abc".
	change(t, b, func(tx *logbook.Tx) error {
		for text, hash := range map[string]string{
			"":    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
			"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
		} {
			src, _, err := tx.AddSource("x", []byte(text), stamp(3, ""))
			if err != nil || src.ID != hash {
				t.Errorf("SHA-256 of %q is %s, %v; want %s", text, src.ID, err, hash)
			}
		}
		_, err := tx.Source("none")
		wantSlug(t, err, logbook.SlugNoSource)
		return nil
	})
	whole(t, b)
}

func testAliases(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	key := put(t, b, site("dock", ""), stamp(0, "")).Record
	other := put(t, b, site("pier", ""), stamp(1, "")).Record
	change(t, b, func(tx *logbook.Tx) error {
		for _, a := range []logbook.Alias{
			{Record: key, Source: "july.xlsx dock", Earlier: "R1", Line: 7},
			{Record: key, Source: "july.xlsx dock", Earlier: "R1", Line: 7},
			{Record: other, Source: "july.xlsx dock", Earlier: "R2", Line: 3},
			{Record: other, Source: "august.xlsx dock", Earlier: "R1", Line: 3},
		} {
			if err := tx.AddAlias(a); err != nil {
				return err
			}
		}
		return nil
	})
	view(t, b, func(tx *logbook.Tx) error {
		mine, err1 := tx.Aliases(key)
		all, err2 := tx.FindAliases("july.xlsx dock", "")
		one, err3 := tx.FindAliases("july.xlsx dock", "R1")
		if len(mine) != 1 || len(all) != 2 || all[0].Line != 3 || len(one) != 1 || one[0].Record != key {
			t.Errorf("aliases %v %v %v", mine, all, one)
		}
		return errors.Join(err1, err2, err3)
	})
	err := b.Change(context.Background(), func(tx *logbook.Tx) error {
		return tx.AddAlias(logbook.Alias{Record: "nobody", Source: "x"})
	})
	wantSlug(t, err, logbook.SlugNoRecord)
}

func testTransactions(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	put(t, b, site("dock", ""), stamp(0, ""))
	before := contents(t, b)
	stop := errors.New("stop")
	err := b.Change(context.Background(), func(tx *logbook.Tx) error {
		for i := range 50 {
			if _, err := tx.Put(site(fmt.Sprint("s", i), ""), stamp(1, "")); err != nil {
				return err
			}
		}
		return stop
	})
	if !errors.Is(err, stop) {
		t.Errorf("error %v, want the one returned", err)
	}
	func() {
		defer func() { _ = recover() }()
		_ = b.Change(context.Background(), func(tx *logbook.Tx) error {
			if _, err := tx.Put(site("p", ""), stamp(1, "")); err != nil {
				return err
			}
			panic("a slip")
		})
	}()
	ctx, cancel := context.WithCancel(context.Background())
	err = b.Change(ctx, func(tx *logbook.Tx) error {
		if _, err := tx.Put(site("c", ""), stamp(1, "")); err != nil {
			return err
		}
		cancel()
		return ctx.Err()
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want cancelled", err)
	}
	if after := contents(t, b); after != before {
		t.Errorf("a change that failed was kept: was\n%s\nis\n%s", before, after)
	}
}

func testPages(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	const n = 1234 // more than two pages
	change(t, b, func(tx *logbook.Tx) error {
		for i := range n {
			if _, err := tx.Put(site(fmt.Sprint("s", i), ""), stamp(0, "")); err != nil {
				return err
			}
		}
		return nil
	})
	// The records come in the order in which they were put, though all at one
	// instant, and may be changed on the way.
	seen := 0
	change(t, b, func(tx *logbook.Tx) error {
		for r, err := range tx.Records("site") {
			if err != nil {
				return err
			}
			if want := fmt.Sprint("s", seen); r.Fields["code"] != want {
				return fmt.Errorf("record %d is %s, want %s", seen, r.Fields["code"], want)
			}
			seen++
			if _, err := tx.Correct(r.Key, map[string]string{"note": "seen"}, stamp(1, "")); err != nil {
				return err
			}
		}
		return nil
	})
	if seen != n {
		t.Errorf("saw %d records, want %d", seen, n)
	}
	view(t, b, func(tx *logbook.Tx) error {
		revisions := 0
		for v, err := range tx.Revisions() {
			if err != nil {
				return err
			}
			if v.Action == logbook.Revise && v.Changed["note"].Is() != "seen" {
				t.Errorf("revision %+v", v)
			}
			revisions++
		}
		if revisions != 2*n {
			t.Errorf("%d revisions, want %d", revisions, 2*n)
		}
		for range tx.Records("site") {
			break // stopping early is no error
		}
		return nil
	})
	whole(t, b)
}
