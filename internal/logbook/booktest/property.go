package booktest

import (
	"context"
	"fmt"
	"maps"
	"strings"
	"testing"
	"time"

	"soakline/internal/logbook"

	"pgregory.net/rapid"
)

func containsAny(s string, parts ...string) bool {
	for _, p := range parts {
		if strings.Contains(s, p) {
			return true
		}
	}
	return false
}

// snapshot is what the model expects a record to say.
type snapshot struct {
	fields map[string]string
	state  logbook.State
}

// player does to a logbook what people do, at random, and keeps in plain maps
// what each record should say after each accepted step.
type player struct {
	b    *logbook.Book
	who  string
	keys []string
	past map[string][]snapshot // what each record said after each revision
	step int
}

func (p *player) stamp(rt *rapid.T) logbook.Stamp {
	p.step++
	// clocks of two people disagree: the step alone does not give the time
	drift := rapid.IntRange(-30, 30).Draw(rt, "drift")
	return logbook.Stamp{Who: p.who, When: Day.Add(time.Duration(p.step*10+drift) * time.Second), Why: "because"}
}

var (
	anyCode  = rapid.SampledFrom([]string{"", "A", "B", "C", "D"})
	anyField = rapid.SampledFrom([]string{"note", "zone", "depth", "code"})
	anyText  = rapid.SampledFrom([]string{"", "1", "2", "é \"x\"", "[1]"})
)

// play does one step; what is refused for a taken identity leaves no trace.
func (p *player) play(t testing.TB, rt *rapid.T) {
	s := p.stamp(rt)
	what := rapid.SampledFrom([]string{"new", "field", "field", "field", "same", "withdraw", "reinstate", "undo"}).Draw(rt, "what")
	if len(p.keys) == 0 {
		what = "new"
	}
	key := ""
	if what != "new" {
		key = rapid.SampledFrom(p.keys).Draw(rt, "record")
	}
	var last snapshot
	if n := len(p.past[key]); n > 0 {
		last = p.past[key][n-1]
	}
	next := snapshot{maps.Clone(last.fields), last.state}
	var work func(tx *logbook.Tx) (logbook.Revision, error)
	switch what {
	case "new":
		r := site(anyCode.Draw(rt, "code"), anyText.Draw(rt, "note"))
		next = snapshot{map[string]string{}, logbook.Live}
		for name, text := range r.Fields {
			if text != "" {
				next.fields[name] = text
			}
		}
		work = func(tx *logbook.Tx) (logbook.Revision, error) { return tx.Put(r, s) }
	case "field":
		field, text := anyField.Draw(rt, "field"), anyText.Draw(rt, "text")
		if field == "code" {
			text = anyCode.Draw(rt, "code")
		}
		next.fields[field] = text
		if text == "" {
			delete(next.fields, field)
		}
		work = func(tx *logbook.Tx) (logbook.Revision, error) {
			return tx.Correct(key, map[string]string{field: text}, s)
		}
	case "same":
		work = func(tx *logbook.Tx) (logbook.Revision, error) {
			r, err := tx.Record(key)
			if err != nil {
				return logbook.Revision{}, err
			}
			return tx.Put(r, s)
		}
	case "withdraw":
		next.state = logbook.Withdrawn
		work = func(tx *logbook.Tx) (logbook.Revision, error) { return tx.Withdraw(key, s) }
	case "reinstate":
		next.state = logbook.Live
		work = func(tx *logbook.Tx) (logbook.Revision, error) { return tx.Reinstate(key, s) }
	case "undo":
		if n := len(p.past[key]); n > 1 {
			next = p.past[key][n-2]
		} else {
			next.state = logbook.Withdrawn
		}
		work = func(tx *logbook.Tx) (logbook.Revision, error) { return tx.Undo(key, s) }
	}
	var v logbook.Revision
	err := p.b.Change(context.Background(), func(tx *logbook.Tx) (err error) { v, err = work(tx); return err })
	switch {
	case logbook.SlugOf(err) == logbook.SlugIdentityTaken:
		return
	case err != nil:
		t.Fatal(err)
	case what == "new":
		key = v.Record
		p.keys = append(p.keys, key)
	case v.Happened() == (last.state == next.state && maps.Equal(last.fields, next.fields)):
		rt.Fatalf("%s took %v to %v and made %+v", what, last, next, v)
	}
	if v.Happened() {
		p.past[key] = append(p.past[key], next)
	}
}

// check compares the logbook with the model.
func (p *player) check(t testing.TB, rt *rapid.T) {
	for _, key := range p.keys {
		r := get(t, p.b, key)
		past := p.past[key]
		want := past[len(past)-1]
		if !maps.Equal(r.Fields, want.fields) || r.State != want.state {
			rt.Fatalf("record %s says %v %v, want %v", key, r.State, r.Fields, want)
		}
		if h := history(t, p.b, key); len(h) != len(past) || h[len(h)-1].ID != r.Head {
			rt.Fatalf("record %s has %d revisions, want %d", key, len(h), len(past))
		}
	}
}

// testReplayProperty: after any steps the logbook says what the steps say, is
// whole, has nothing to rebuild, and gives its identities to one live record
// each (else the tables would have refused).
func testReplayProperty(t *testing.T, open func(*testing.T) *logbook.Book) {
	b := open(t)
	rapid.Check(t, func(rt *rapid.T) {
		p := &player{b: b, who: "Ada", past: map[string][]snapshot{}}
		free(t, b)
		for range rapid.IntRange(1, 25).Draw(rt, "steps") {
			p.play(t, rt)
		}
		p.check(t, rt)
		whole(t, b)
		change(t, b, func(tx *logbook.Tx) error {
			if n, err := tx.Rebuild(); n != 0 || err != nil {
				rt.Fatalf("rebuilding mended %d records, %v", n, err)
			}
			return nil
		})
	})
}

// free withdraws all that earlier rounds left, so that their identities are
// free: one file serves every round.
func free(t testing.TB, b *logbook.Book) {
	t.Helper()
	change(t, b, func(tx *logbook.Tx) error {
		for r, err := range tx.Records("site") {
			if err != nil {
				return err
			}
			if _, err := tx.Withdraw(r.Key, stamp(0, "round over")); err != nil {
				return err
			}
		}
		return nil
	})
}

// testMergeProperty: two logbooks go on from a common state. Whichever takes
// the other in, both then hold the same; merging again changes nothing; and
// once the questions are answered in one, the other asks none.
func testMergeProperty(t *testing.T, open func(*testing.T) *logbook.Book) {
	rapid.Check(t, func(rt *rapid.T) {
		a := open(t)
		defer a.Close()
		ada := &player{b: a, who: "Ada", past: map[string][]snapshot{}}
		for range rapid.IntRange(0, 6).Draw(rt, "common") {
			ada.play(t, rt)
		}
		b := copyOf(t, a, open)
		defer b.Close()
		cy := &player{b: b, who: "Cy", past: map[string][]snapshot{}, keys: append([]string(nil), ada.keys...), step: ada.step}
		for key, past := range ada.past {
			cy.past[key] = append([]snapshot(nil), past...)
		}
		for range rapid.IntRange(0, 8).Draw(rt, "each") {
			ada.play(t, rt)
			cy.play(t, rt)
		}
		ab, ba := copyOf(t, a, open), copyOf(t, b, open)
		defer ab.Close()
		defer ba.Close()
		one, other := merge(t, ab, b, nil), merge(t, ba, a, nil)
		// a question may hide another in one of them: an identity is not asked
		// for while what has it is itself in question
		if (len(one.Questions) == 0) != (len(other.Questions) == 0) {
			rt.Fatalf("one asks %+v, the other %+v", one.Questions, other.Questions)
		}
		whole(t, ab)
		if len(one.Questions) == 0 {
			same(t, ab, ba)
		}
		settleAll(t, rt, ab, b)
		before := contents(t, ab)
		if r := merge(t, ab, b, nil); r.Revisions != 0 || len(r.Questions) != 0 || contents(t, ab) != before {
			rt.Fatalf("merging again did %+v", r)
		}
		for _, left := range []*logbook.Book{a, b, ba} {
			if r := merge(t, left, ab, nil); len(r.Questions) != 0 {
				rt.Fatalf("after the answers it asks %+v", r.Questions)
			}
			same(t, left, ab)
			whole(t, left)
		}
	})
}

// settleAll merges and answers at random until nothing is asked.
func settleAll(t testing.TB, rt *rapid.T, to, from *logbook.Book) {
	answers := logbook.Answers{}
	for range 20 {
		r := merge(t, to, from, answers)
		if len(r.Questions) == 0 {
			return
		}
		for _, q := range r.Questions {
			choices := []string{"ours", "theirs"}
			switch q.Slug {
			case logbook.AskBothChanged:
				if q.Ours == q.Theirs {
					rt.Fatalf("asks about nothing: %+v", q)
				}
				choices = []string{q.Ours, q.Theirs, fmt.Sprint("settled ", q.Record)}
			case logbook.AskWithdrawn:
				choices = []string{"live", "withdrawn"}
			}
			answers[q.Ask] = rapid.SampledFrom(choices).Draw(rt, "answer")
		}
	}
	rt.Fatal("twenty rounds of answers left questions")
}
