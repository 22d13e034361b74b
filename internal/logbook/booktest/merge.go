package booktest

import (
	"context"
	"testing"

	"soakline/internal/logbook"
)

// merge takes from into to and fails the test on an error.
func merge(t testing.TB, to, from *logbook.Book, answers logbook.Answers) (r logbook.MergeReport) {
	t.Helper()
	r, err := tryMerge(to, from, answers)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func tryMerge(to, from *logbook.Book, answers logbook.Answers) (r logbook.MergeReport, err error) {
	ctx := context.Background()
	err = from.View(ctx, func(f *logbook.Tx) error {
		return to.Change(ctx, func(tx *logbook.Tx) (err error) {
			r, err = tx.Merge(f, answers, logbook.Stamp{Who: "Bo", When: Day.AddDate(0, 0, 7), Why: "merged"})
			return err
		})
	})
	return r, err
}

// copyOf makes a second copy of a logbook by merging it into an empty one.
func copyOf(t *testing.T, b *logbook.Book, open func(*testing.T) *logbook.Book) *logbook.Book {
	t.Helper()
	c := open(t)
	if r := merge(t, c, b, nil); len(r.Questions) > 0 {
		t.Fatalf("an empty logbook asks %v", r.Questions)
	}
	if contents(t, c) != contents(t, b) {
		t.Fatal("a copy differs")
	}
	return c
}

// same checks that two logbooks hold the same.
func same(t testing.TB, a, b *logbook.Book) {
	t.Helper()
	if x, y := contents(t, a), contents(t, b); x != y {
		t.Fatalf("one holds\n%s\nthe other\n%s", x, y)
	}
}

func testMerge(t *testing.T, open func(*testing.T) *logbook.Book) {
	a := open(t)
	var src logbook.Source
	change(t, a, func(tx *logbook.Tx) (err error) {
		src, _, err = tx.AddSource("dock.csv", []byte("x"), stamp(0, ""))
		return err
	})
	s := stamp(0, "")
	s.Source, s.Line = src.ID, 2
	shared := put(t, a, site("dock", "muddy"), s).Record
	change(t, a, func(tx *logbook.Tx) error {
		return tx.AddAlias(logbook.Alias{Record: shared, Source: "dock.csv", Earlier: "D", Line: 2})
	})
	b := copyOf(t, a, open)
	// each goes on by itself: different fields of one record, a record each
	correct(t, a, shared, "note", "sandy", stamp(10, ""))
	put(t, a, site("pier", ""), stamp(11, ""))
	correct(t, b, shared, "zone", "Europe/Lisbon", stamp(5, "")) // earlier by the clock
	put(t, b, site("reef", ""), stamp(12, ""))
	c := copyOf(t, b, open)
	r := merge(t, c, a, nil)
	if r.Added != 1 || r.Revised != 1 || r.Revisions != 2 || len(r.Questions) != 0 {
		t.Errorf("report %+v", r)
	}
	merge(t, a, b, nil)
	same(t, a, c) // it does not matter which takes which in
	now := get(t, a, shared)
	if now.Fields["note"] != "sandy" || now.Fields["zone"] != "Europe/Lisbon" || now.Seq != 2 {
		t.Errorf("record %+v", now)
	}
	before := contents(t, a)
	for _, other := range []*logbook.Book{a2(t, a, open), b, c} {
		if r := merge(t, a, other, nil); r.Added+r.Revised+r.Revisions+r.Sources != 0 || len(r.Questions) != 0 {
			t.Errorf("merging again did %+v", r)
		}
	}
	if contents(t, a) != before {
		t.Error("merging again changed the logbook")
	}
	whole(t, a)
	whole(t, c)
	// work goes on after a merge, and travels on
	correct(t, a, shared, "note", "rocky", stamp(20, ""))
	change(t, a, func(tx *logbook.Tx) error { _, err := tx.Undo(shared, stamp(21, "undone")); return err })
	if get(t, a, shared).Fields["note"] != "sandy" {
		t.Error("undo after a merge")
	}
	merge(t, c, a, nil)
	same(t, a, c)
	whole(t, c)
}

func a2(t *testing.T, a *logbook.Book, open func(*testing.T) *logbook.Book) *logbook.Book {
	return copyOf(t, a, open)
}

func testMergeAsks(t *testing.T, open func(*testing.T) *logbook.Book) {
	a := open(t)
	key := put(t, a, site("dock", "muddy"), stamp(0, "")).Record
	free := put(t, a, site("pier", ""), stamp(0, "")).Record
	b := copyOf(t, a, open)
	correct(t, a, key, "note", "sandy", stamp(10, ""))
	v := correct(t, b, key, "note", "rocky", logbook.Stamp{Who: "Cy", When: Day, Why: "saw it"})
	correct(t, b, free, "note", "steep", stamp(11, ""))
	before := get(t, a, key)
	r := merge(t, a, b, nil)
	ask := logbook.Ask{Slug: logbook.AskBothChanged, Record: key, Field: "note"}
	if len(r.Questions) != 1 || r.Questions[0].Ask != ask {
		t.Fatalf("questions %+v", r.Questions)
	}
	if q := r.Questions[0]; q.Was != "muddy" || q.Ours != "sandy" || q.Theirs != "rocky" || q.OursBy != "Ada" || q.TheirsBy != "Cy" {
		t.Errorf("question %+v", q)
	}
	if now := get(t, a, key); now.Fields["note"] != "sandy" || now.Head != before.Head {
		t.Errorf("an open question changed the record to %+v", now)
	}
	if get(t, a, free).Fields["note"] != "steep" {
		t.Error("a record without a question waited")
	}
	r = merge(t, a, b, logbook.Answers{ask: "sandy over rock"})
	h := history(t, a, key)
	last := h[len(h)-1]
	if len(r.Questions) != 0 || len(h) != 4 || last.Action != logbook.Settle || last.Who != "Bo" ||
		last.Changed["note"].Is() != "sandy over rock" || get(t, a, key).Fields["note"] != "sandy over rock" {
		t.Errorf("report %+v, history %+v", r, h)
	}
	if h[1].ID == v.ID == (h[2].ID == v.ID) {
		t.Errorf("their revision %s is not kept once in %+v", v.ID, h)
	}
	whole(t, a)
	// the other logbook takes the answer without a question
	if r := merge(t, b, a, nil); len(r.Questions) != 0 {
		t.Errorf("the other asks %+v", r.Questions)
	}
	same(t, a, b)
	// both came to the same text: nothing to ask
	correct(t, a, key, "note", "sand", stamp(30, ""))
	correct(t, b, key, "note", "gravel", stamp(31, ""))
	correct(t, b, key, "note", "sand", stamp(32, ""))
	if r := merge(t, a, b, nil); len(r.Questions) != 0 || get(t, a, key).Fields["note"] != "sand" {
		t.Errorf("the same text on both sides: %+v", r)
	}
	merge(t, b, a, nil)
	same(t, a, b)
	whole(t, a)
	// one withdrew what the other went on with
	change(t, a, func(tx *logbook.Tx) error { _, err := tx.Withdraw(key, stamp(40, "not ours")); return err })
	correct(t, b, key, "zone", "Europe/Lisbon", stamp(41, ""))
	r = merge(t, b, a, nil)
	ask = logbook.Ask{Slug: logbook.AskWithdrawn, Record: key}
	if len(r.Questions) != 1 || r.Questions[0].Ask != ask || r.Questions[0].Ours != "live" || r.Questions[0].Theirs != "withdrawn" {
		t.Fatalf("questions %+v", r.Questions)
	}
	if r := merge(t, b, a, logbook.Answers{ask: "perhaps"}); len(r.Questions) != 1 {
		t.Errorf("an answer that is none: %+v", r)
	}
	merge(t, b, a, logbook.Answers{ask: "live"})
	if now := get(t, b, key); now.State != logbook.Live || now.Fields["zone"] != "Europe/Lisbon" {
		t.Errorf("record %+v", now)
	}
	if r := merge(t, a, b, nil); len(r.Questions) != 0 {
		t.Errorf("the other asks %+v", r.Questions)
	}
	same(t, a, b)
	whole(t, a)
}

func testMergeIdentity(t *testing.T, open func(*testing.T) *logbook.Book) {
	for _, answer := range []string{"ours", "theirs"} {
		a, b := open(t), open(t)
		ours := put(t, a, deployment("north", "D1", "notes", "ours"), stamp(0, "")).Record
		theirs := put(t, b, deployment("north", "D1", "notes", "theirs"), stamp(1, "")).Record
		r := merge(t, a, b, nil)
		ask := logbook.Ask{Slug: logbook.AskSameIdentity, Record: theirs}
		if len(r.Questions) != 1 || r.Questions[0].Ask != ask || r.Questions[0].Other != ours || r.Added != 0 {
			t.Fatalf("questions %+v", r.Questions)
		}
		merge(t, a, b, logbook.Answers{ask: answer})
		withdrawn, live := theirs, ours
		if answer == "theirs" {
			withdrawn, live = ours, theirs
		}
		if get(t, a, withdrawn).State != logbook.Withdrawn || get(t, a, live).State != logbook.Live {
			t.Errorf("answer %s: %s", answer, contents(t, a))
		}
		if r := merge(t, b, a, nil); len(r.Questions) != 0 {
			t.Errorf("the other asks %+v", r.Questions)
		}
		same(t, a, b)
		whole(t, a)
	}
	// D1 and D2 were mixed up, and one logbook put them right
	a := open(t)
	one := put(t, a, deployment("north", "D1", "notes", "shallow"), stamp(0, "")).Record
	two := put(t, a, deployment("north", "D2", "notes", "deep"), stamp(1, "")).Record
	b := copyOf(t, a, open)
	for _, step := range [][2]string{{one, "D0"}, {two, "D1"}, {one, "D2"}} {
		correct(t, a, step[0], "deployment_id", step[1], stamp(2, "mixed up"))
	}
	if r := merge(t, b, a, nil); len(r.Questions) != 0 {
		t.Errorf("an exchange asks %+v", r.Questions)
	}
	same(t, a, b)
	whole(t, b)
}

func testMergeRedaction(t *testing.T, open func(*testing.T) *logbook.Book) {
	a := open(t)
	key := put(t, a, site("dock", "Ada Example's house"), stamp(0, "")).Record
	var src logbook.Source
	change(t, a, func(tx *logbook.Tx) (err error) {
		src, _, err = tx.AddSource("x.csv", []byte("Ada Example"), stamp(0, ""))
		return err
	})
	b := copyOf(t, a, open)
	change(t, a, func(tx *logbook.Tx) error {
		if _, err := tx.RedactField(key, "note", stamp(10, "asked")); err != nil {
			return err
		}
		_, err := tx.RedactSource(src.ID, nil, stamp(10, "asked"))
		return err
	})
	redacted := contents(t, a)
	if r := merge(t, a, b, nil); len(r.Questions) != 0 || contents(t, a) != redacted {
		t.Errorf("a merge brought redacted text back, or asked: %+v", r)
	}
	r := merge(t, b, a, nil)
	if len(r.Questions) != 2 {
		t.Fatalf("questions %+v, want one for the original and one for the field", r.Questions)
	}
	answers := logbook.Answers{}
	for _, q := range r.Questions {
		answers[q.Ask] = "yes"
	}
	// b went on, not knowing: what it carries of the text is taken out too
	correct(t, b, key, "note", "Ada Example's new house", stamp(5, ""))
	correct(t, b, key, "zone", "Europe/Lisbon", stamp(20, ""))
	merge(t, a, b, nil)
	if r := merge(t, b, a, answers); len(r.Questions) != 0 || r.Redacted != 2 {
		t.Errorf("report %+v", r)
	}
	same(t, a, b)
	if all := contents(t, b); containsAny(all, "Example") {
		t.Errorf("redacted text is left:\n%s", all)
	}
	whole(t, a)
	whole(t, b)
	same(t, a, copyOf(t, a, open))
}

func testMergeDistrusts(t *testing.T, open func(*testing.T) *logbook.Book) {
	a := open(t)
	key := put(t, a, site("dock", "muddy"), stamp(0, "")).Record
	for what, queries := range map[string][]string{
		"a current line that its revisions do not give": {`update record set fields = '{"code":"forged"}'`},
		"a revision of its own making": {`insert into revision (id, record, seq, at, who, why, source, line, action, state, changes, digest)
			values ('not a uuid: thirty-six letters in it', '` + key + `', 2, '2026-07-01T09:00:00.000Z', 'Ada', '', null, 0, 'revise', 'live', '{"note":["muddy","x"]}', '` + noDigest + `')`},
		"an instant that is none": {`insert into revision (id, record, seq, at, who, why, source, line, action, state, changes, digest)
			values ('00000000-0000-7000-8000-000000000000', '` + key + `', 2, 'twenty-four letters here', 'Ada', '', null, 0, 'revise', 'live', '{}', '` + noDigest + `')`},
	} {
		b := copyOf(t, a, open)
		for _, q := range queries {
			if _, err := b.DB().ExecContext(context.Background(), q); err != nil {
				t.Fatal(err)
			}
		}
		before := contents(t, a)
		r, err := tryMerge(a, b, nil)
		if err == nil && r.Revisions > 0 {
			t.Errorf("%s was taken over", what)
		}
		if contents(t, a) != before {
			t.Errorf("%s changed our logbook", what)
		}
	}
	// the same revision id with another content
	b := open(t)
	change(t, b, func(tx *logbook.Tx) error {
		_, err := tx.Put(logbook.Record{Kind: "site", Key: key, Fields: map[string]string{"code": "forged"}}, stamp(0, ""))
		return err
	})
	_, err := tryMerge(a, b, nil)
	wantSlug(t, err, logbook.SlugMergeDiffers)
}
