package booktest

import (
	"context"
	"testing"

	"soakline/internal/logbook"
)

// testFrozen: what a list of revisions says stays, whatever happens after.
func testFrozen(t *testing.T, open func(*testing.T) *logbook.Book) {
	book := open(t)
	ctx := context.Background()
	var keys [3]string
	var list logbook.Frozen
	change(t, book, func(tx *logbook.Tx) error {
		for i, code := range []string{"a", "b", "c"} {
			v, err := tx.Put(site(code, "first"), stamp(i, ""))
			if err != nil {
				return err
			}
			keys[i] = v.Record
		}
		if _, err := tx.Correct(keys[1], map[string]string{"note": "second"}, stamp(4, "")); err != nil {
			return err
		}
		if _, err := tx.Withdraw(keys[2], stamp(5, "a slip")); err != nil {
			return err
		}
		var err error
		list, err = tx.Freeze(func(kind string) bool { return kind == "site" })
		return err
	})
	change(t, book, func(tx *logbook.Tx) error {
		if _, err := tx.Correct(keys[0], map[string]string{"note": "third", "code": "z"}, stamp(6, "")); err != nil {
			return err
		}
		if _, err := tx.Reinstate(keys[2], stamp(7, "no slip")); err != nil {
			return err
		}
		_, err := tx.Put(site("d", "new"), stamp(8, ""))
		return err
	})
	err := book.View(ctx, func(tx *logbook.Tx) error {
		then := tx.At(list)
		got := map[string]string{}
		for r, err := range then.Records("site") {
			if err != nil {
				return err
			}
			got[r.Fields["code"]] = r.Fields["note"] + " " + string(r.State)
		}
		if len(got) != 3 || got["a"] != "first live" || got["b"] != "second live" || got["c"] != "first withdrawn" {
			t.Errorf("then: %v", got)
		}
		if r, found, err := then.FindIdentity("site", logbook.Identity{Code: "a"}); err != nil || !found || r.Key != keys[0] {
			t.Errorf("a was %s: %v, %v", r.Key, found, err)
		}
		if _, found, _ := then.FindIdentity("site", logbook.Identity{Code: "c"}); found {
			t.Error("c was withdrawn, and is found")
		}
		n := 0
		for _, err := range then.Revisions() {
			if err != nil {
				return err
			}
			n++
		}
		if n != 5 {
			t.Errorf("%d revisions had happened, not 5", n)
		}
		if _, err := then.Put(site("x", ""), stamp(9, "")); err == nil {
			t.Error("the past was changed")
		}
		if why, err := then.Reasons(); err != nil || len(why) != 1 || why[keys[2]] != "a slip" {
			t.Errorf("the reasons were %v: %v", why, err)
		}
		if why, err := tx.Reasons(); err != nil || why[keys[2]] != "no slip" {
			t.Errorf("the reasons are %v: %v", why, err)
		}
		if now, err := tx.Freeze(func(string) bool { return true }); err != nil || len(now) != 4 || len(now[keys[0]]) != 2 || len(now[keys[2]]) != 3 {
			t.Errorf("now: %v, %v", now, err)
		}
		list[keys[0]] = append(list[keys[0]], "00000000-0000-7000-8000-000000000000")
		for _, err := range tx.At(list).Records("site") {
			if err != nil {
				return nil
			}
		}
		t.Error("a revision that is not there was not missed")
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
