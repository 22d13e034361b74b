package booktest

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/internal/logbook"
)

// testDialect holds what databases are known to do differently: the order of
// texts, the precision and zone of instants, odd letters, empty values.
func testDialect(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	odd := map[string]string{"quotes": `'"` + "`\\", "letters": "é e\u0301 Ω 海 🐟", "lines": "a\r\nb\tc\u2028d",
		"json": `{"a":["<&>",null]}`, "sign": "-33.9", "dollar": "$1 ? :x %s", "spaces": "  ", "Ä field with spaces": "x"}
	zone := time.FixedZone("", 5*3600+45*60)
	s := logbook.Stamp{Who: "Ñandú", When: time.Date(2026, 1, 1, 3, 0, 0, 999_999_999, zone), Why: "1 ≤ 2"}
	key := put(t, b, logbook.Record{Kind: "odd", Fields: odd}, s).Record
	if r := get(t, b, key); !maps.Equal(r.Fields, odd) {
		t.Errorf("fields %q, want %q", r.Fields, odd)
	}
	v := history(t, b, key)[0]
	want := time.Date(2025, 12, 31, 21, 15, 0, 999_000_000, time.UTC)
	if !v.When.Equal(want) || v.When.Location() != time.UTC || v.Who != s.Who || v.Why != s.Why || v.Source != "" || v.Line != 0 {
		t.Errorf("revision %+v, want the instant %v and no source", v, want)
	}
	// texts sort by their bytes: capitals first, letters with marks last
	names := []string{"Zoo", "apple", "zebra", "Émile", "émile", ""}
	change(t, b, func(tx *logbook.Tx) error {
		for _, name := range names {
			if err := tx.AddAlias(logbook.Alias{Record: key, Source: name}); err != nil {
				return err
			}
		}
		return nil
	})
	view(t, b, func(tx *logbook.Tx) error {
		all, err := tx.Aliases(key)
		var got []string
		for _, a := range all {
			got = append(got, a.Source)
		}
		slices.Sort(names) // Go sorts by bytes
		if !slices.Equal(got, names) {
			t.Errorf("order %q, want %q", got, names)
		}
		return err
	})
	// an empty database answers with zero, not with null
	view(t, b, func(tx *logbook.Tx) error {
		live, withdrawn, err := tx.Count("nothing")
		if live != 0 || withdrawn != 0 {
			t.Errorf("%d and %d of no kind", live, withdrawn)
		}
		return err
	})
	whole(t, b)
}

// noDigest has the form of a checksum.
const noDigest = "0000000000000000000000000000000000000000000000000000000000000000"

// testSchemaRefuses writes past the program what must not be, and expects the
// tables themselves to refuse it.
func testSchemaRefuses(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	v := put(t, b, deployment("north", "D1"), stamp(0, ""))
	change(t, b, func(tx *logbook.Tx) error { _, _, err := tx.AddSource("x.csv", []byte("x"), stamp(0, "")); return err })
	before := contents(t, b)
	other := strings.Repeat("0", 8) + "-0000-7000-8000-" + strings.Repeat("0", 12)
	at := "2026-07-01T09:00:00.000Z"
	revision := func(id string, seq int, who, action, state, changes, source string) string {
		return fmt.Sprintf(`insert into revision (id, record, seq, at, who, why, source, line, action, state, changes, digest)
			values ('%s', '%s', %d, '%s', '%s', '', %s, 0, '%s', '%s', '%s', '`+noDigest+`')`, id, v.Record, seq, at, who, source, action, state, changes)
	}
	record := func(key, kind, state, head, code string) string {
		return fmt.Sprintf(`insert into record (key, kind, state, fields, head, seq, programme, team, season, site, code)
			values ('%s', '%s', '%s', '{}', '%s', 1, 'shore', 'north', '2026', 'dock', '%s')`, key, kind, state, head, code)
	}
	for what, query := range map[string]string{
		"a revision deleted":           `delete from revision`,
		"a revision changed":           `update revision set changes = '{}'`,
		"a revision's time changed":    `update revision set at = '` + at + `', seq = 7`,
		"a record deleted":             `delete from record`,
		"an original deleted":          `delete from source`,
		"an original changed":          `update source set original_hash = '` + strings.Repeat("0", 64) + `'`,
		"a second line about the book": `insert into logbook (one, id, made_by, made_at) values (2, '` + other + `', 'x', '` + at + `')`,
		"a revision by nobody":         revision(other, 2, "", "revise", "live", "{}", "null"),
		"a revision of no known kind":  revision(other, 2, "Ada", "delete", "live", "{}", "null"),
		"a second beginning":           revision(other, 2, "Ada", "create", "live", "{}", "null"),
		"a revision with no number":    revision(other, 0, "Ada", "revise", "live", "{}", "null"),
		"a withdrawal without reason":  revision(other, 2, "Ada", "withdraw", "withdrawn", "{}", "null"),
		"a third state":                revision(other, 2, "Ada", "revise", "gone", "{}", "null"),
		"changes that are no JSON":     revision(other, 2, "Ada", "revise", "live", "{", "null"),
		"a revision from nowhere":      revision(other, 2, "Ada", "revise", "live", "{}", "'none'"),
		"one id twice":                 revision(v.ID, 2, "Ada", "revise", "live", "{}", "null"),
		"a record without revisions":   record(other, "site", "live", other, ""),
		"one identity twice":           record(other, "deployment", "live", v.ID, "D1"),
		"an alias of nobody":           `insert into alias (record, source_name, earlier, line) values ('x', 'x', 'x', 0)`,
		"a redaction without reason": `insert into redaction (id, at, who, why, record, field, hash) values ('` + other + `', '` + at +
			`', 'Ada', '', '` + v.Record + `', 'notes', '` + strings.Repeat("0", 64) + `')`,
	} {
		if _, err := b.DB().ExecContext(context.Background(), query); err == nil {
			t.Errorf("the tables took %s", what)
		}
	}
	if after := contents(t, b); after != before {
		t.Errorf("was\n%s\nis\n%s", before, after)
	}
	whole(t, b)
}

// testVerify damages what the tables cannot protect, and expects to be told.
func testVerify(t *testing.T, open func(*testing.T) *logbook.Book) {
	for what, c := range map[string]struct {
		query   string
		slug    string
		rebuilt bool // Rebuild mends it
	}{
		"fields that no revision gave":  {`update record set fields = '{"code":"x"}' where key = $1`, logbook.FaultCurrent, true},
		"a state that no revision gave": {`update record set state = 'withdrawn' where key = $1`, logbook.FaultCurrent, true},
		"a number that is not the last": {`update record set seq = 9 where key = $1`, logbook.FaultCurrent, true},
		"an identity that is not so":    {`update record set site = 'pier' where key = $1`, logbook.FaultIdentity, true},
		"fields that are no fields":     {`update record set fields = '[]' where key = $1`, logbook.SlugContentUnreadable, false},
		"a missing revision": {`insert into revision (id, record, seq, at, who, why, source, line, action, state, changes, digest)
			values ('00000000-0000-7000-8000-000000000000', $1, 5, '2026-07-01T09:00:00.000Z', 'Ada', '', null, 0, 'revise', 'live', '{}', '` + noDigest + `')`,
			logbook.FaultHistoryGap, false},
		"a revision that does not fit its checksum": {`insert into revision (id, record, seq, at, who, why, source, line, action, state, changes, digest)
			values ('00000000-0000-7000-8000-000000000000', $1, 3, '2026-07-01T09:00:00.000Z', 'Ada', '', null, 0, 'revise', 'live', '{}', '` + noDigest + `')`,
			logbook.FaultHistoryRevision, false},
		"a change of what was not so": {`insert into revision (id, record, seq, at, who, why, source, line, action, state, changes, digest)
			values ('00000000-0000-7000-8000-000000000000', $1, 3, '2026-07-01T09:00:00.000Z', 'Ada', '', null, 0, 'revise', 'live', '{"note":["a","b"]}', '` + noDigest + `')`,
			logbook.FaultHistoryWas, false},
		"changes of no meaning": {`insert into revision (id, record, seq, at, who, why, source, line, action, state, changes, digest)
			values ('00000000-0000-7000-8000-000000000000', $1, 3, '2026-07-01T09:00:00.000Z', 'Ada', '', null, 0, 'revise', 'live', '{"note":7}', '` + noDigest + `')`,
			logbook.SlugContentUnreadable, false},
	} {
		b := open(t)
		key := put(t, b, site("dock", "muddy"), stamp(0, "")).Record
		correct(t, b, key, "note", "sandy", stamp(1, ""))
		whole(t, b)
		before := contents(t, b)
		if _, err := b.DB().ExecContext(context.Background(), c.query, key); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		faults, err := b.Verify(context.Background())
		if err != nil || !slices.ContainsFunc(faults, func(f logbook.Fault) bool { return f.Slug == c.slug }) {
			t.Errorf("%s: faults %v, %v; want %s", what, faults, err, c.slug)
		}
		if !c.rebuilt {
			continue
		}
		change(t, b, func(tx *logbook.Tx) error {
			n, err := tx.Rebuild()
			if n != 1 {
				t.Errorf("%s: rebuilding mended %d records, want 1", what, n)
			}
			return err
		})
		whole(t, b)
		if after := contents(t, b); after != before {
			t.Errorf("%s: rebuilt\n%s\nwas\n%s", what, after, before)
		}
	}
}

func testRedaction(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	r := site("dock", "by the house of Ada Example, phone 555-0100")
	key := put(t, b, r, stamp(0, "")).Record
	correct(t, b, key, "note", "by the house of A. Example", stamp(1, ""))
	var src logbook.Source
	change(t, b, func(tx *logbook.Tx) (err error) {
		src, _, err = tx.AddSource("dock.csv", []byte("note\nAda Example, 555-0100\n"), stamp(2, ""))
		return err
	})
	for slug, work := range map[string]func(tx *logbook.Tx) error{
		logbook.SlugWhyMissing:     func(tx *logbook.Tx) error { _, err := tx.RedactField(key, "note", stamp(3, "")); return err },
		logbook.SlugRedactIdentity: func(tx *logbook.Tx) error { _, err := tx.RedactField(key, "code", stamp(3, "asked")); return err },
		logbook.SlugNoSource:       func(tx *logbook.Tx) error { _, err := tx.RedactSource("none", nil, stamp(3, "asked")); return err },
	} {
		wantSlug(t, b.Change(context.Background(), work), slug)
	}
	change(t, b, func(tx *logbook.Tx) error {
		if _, err := tx.RedactField(key, "note", stamp(3, "asked by letter")); err != nil {
			return err
		}
		_, err := tx.RedactSource(src.ID, []byte("note\n-\n"), stamp(3, "asked by letter"))
		return err
	})
	if all := contents(t, b); strings.Contains(all, "Example") || strings.Contains(all, "555") {
		t.Errorf("the logbook still holds the text:\n%s", all)
	}
	if r := get(t, b, key); r.Fields["note"] != logbook.RedactedText || r.Fields["code"] != "dock" {
		t.Errorf("record %+v", r)
	}
	view(t, b, func(tx *logbook.Tx) error {
		now, err := tx.Source(src.ID)
		if now.Redacted == nil || now.Redacted.Why != "asked by letter" || now.Redacted.Hash != src.ID || now.Bytes != src.Bytes {
			t.Errorf("source %+v, want hash, date and reason kept", now)
		}
		all, err2 := tx.Redactions(key)
		if len(all) != 1 || all[0].Field != "note" || len(all[0].Hash) != 64 {
			t.Errorf("redactions %v", all)
		}
		if err2 != nil {
			return err2
		}
		return err
	})
	change(t, b, func(tx *logbook.Tx) error { // the file comes by again
		_, known, err := tx.AddSource("dock.csv", []byte("note\nAda Example, 555-0100\n"), stamp(4, ""))
		if !known {
			t.Error("a redacted original came back")
		}
		return err
	})
	err := b.Change(context.Background(), func(tx *logbook.Tx) error {
		_, err := tx.RedactSource(src.ID, nil, stamp(5, "again"))
		return err
	})
	wantSlug(t, err, logbook.SlugRedactTwice)
	correct(t, b, key, "note", "by the red house", stamp(6, ""))
	whole(t, b)
}
