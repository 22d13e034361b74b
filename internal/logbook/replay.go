package logbook

import (
	"maps"
	"slices"
	"strings"
)

// before tells the order of a record's revisions: by sequence number, then by
// time, then by id. Two revisions share a number when they were made in two
// copies of a logbook that did not know of each other.
func before(a, b Revision) int {
	if a.Seq != b.Seq {
		if a.Seq < b.Seq {
			return -1
		}
		return 1
	}
	if c := a.When.Compare(b.When); c != 0 {
		return c
	}
	return strings.Compare(a.ID, b.ID)
}

// touchesState tells whether a revision decides if its record counts; any
// other only notes the state in which it found it.
func (r Revision) touchesState() bool {
	return r.Action == Create || r.Action == Withdraw || r.Action == Reinstate
}

// replay works a record's fields and state out from its revisions in order.
func replay(history []Revision) (fields map[string]string, state State) {
	fields, state = map[string]string{}, Live
	for _, v := range history {
		apply(fields, v.Changed)
		if v.touchesState() {
			state = v.State
		}
	}
	return fields, state
}

// replayed is the record that its revisions, in order, come to.
func replayed(kind string, history []Revision) Record {
	last := history[len(history)-1]
	r := Record{Kind: kind, Key: last.Record, Head: last.ID, Seq: last.Seq}
	r.Fields, r.State = replay(history)
	return r
}

// same tells whether two records say the same.
func same(a, b Record) bool {
	return a.Kind == b.Kind && a.Key == b.Key && a.State == b.State && a.Head == b.Head && a.Seq == b.Seq &&
		maps.Equal(a.Fields, b.Fields)
}

// sameRevision tells whether two revisions are one.
func sameRevision(a, b Revision) bool {
	return a.ID == b.ID && a.Record == b.Record && a.Seq == b.Seq && a.Who == b.Who && a.Why == b.Why &&
		a.When.Equal(b.When) && a.Source == b.Source && a.Line == b.Line &&
		a.Action == b.Action && a.State == b.State && maps.Equal(a.Changed, b.Changed)
}

// checkRevision refuses a revision that no Put could have written, whatever
// the database holding it allows.
func checkRevision(v Revision) error {
	bad := func(what string) error {
		return newError(SlugContentUnreadable, nil, "what", what)
	}
	switch {
	case !keyForm.MatchString(v.ID), !keyForm.MatchString(v.Record):
		return bad("id")
	case v.Seq < 1 || v.Seq > 1<<31:
		return bad("seq")
	case !slices.Contains([]Action{Create, Revise, Withdraw, Reinstate, Settle}, v.Action):
		return bad("action")
	case v.State != Live && v.State != Withdrawn:
		return bad("state")
	case v.Action == Withdraw && v.State != Withdrawn, (v.Action == Reinstate || v.Action == Create) && v.State != Live:
		return bad("state")
	}
	if err := v.Stamp.check(); err != nil {
		return err
	}
	for side := range 2 {
		fields := make(map[string]string, len(v.Changed))
		for name, c := range v.Changed {
			fields[name] = c[side]
		}
		if err := checkFields(fields); err != nil {
			return err
		}
	}
	return nil
}

// Slugs of what can be wrong with a record's history.
const (
	FaultHistoryEmpty    = "logbook.fault-no-revisions" // record
	FaultHistoryStart    = "logbook.fault-no-beginning" // record
	FaultHistoryGap      = "logbook.fault-gap"          // record, seq
	FaultHistoryWas      = "logbook.fault-was"          // record, seq, field
	FaultHistoryRevision = "logbook.fault-revision"     // record, seq
	FaultCurrent         = "logbook.fault-current"      // record
	FaultIdentity        = "logbook.fault-identity"     // record
	FaultRecord          = "logbook.fault-record"       // record
	FaultSource          = "logbook.fault-source"       // source, name
)

// checkHistory lists what is wrong with the revisions of one record, given in
// order: none, no beginning or two, a missing number, or a change of something
// that was not so. Where two copies of a logbook were merged a change need
// only start from some earlier text of its field.
func checkHistory(key string, history []Revision) []Fault {
	if len(history) == 0 {
		return []Fault{{FaultHistoryEmpty, map[string]any{"record": key}}}
	}
	var faults []Fault
	add := func(slug string, seq int64, more ...any) {
		p := newError(slug, nil, more...).Params
		p["record"] = key
		if slug != FaultHistoryStart {
			p["seq"] = int(seq)
		}
		faults = append(faults, Fault{slug, p})
	}
	merged := false
	for i, v := range history {
		if (v.Action == Create) != (i == 0) || (i == 0 && v.Seq != 1) {
			add(FaultHistoryStart, v.Seq)
			return faults
		}
		if i > 0 && v.Seq > history[i-1].Seq+1 {
			add(FaultHistoryGap, history[i-1].Seq+1)
		}
		if i > 0 && v.Seq == history[i-1].Seq {
			merged = true
		}
		if v.spoilt || checkRevision(v) != nil || v.Record != key {
			add(FaultHistoryRevision, v.Seq)
		}
	}
	fields := map[string]string{}
	earlier := map[string]map[string]bool{} // every text a field has had
	for _, v := range history {
		for _, name := range sortedNames(v.Changed) {
			c := v.Changed[name]
			right := fields[name] == c.Was()
			if merged {
				right = right || c.Was() == "" || earlier[name][c.Was()]
			}
			if !right {
				add(FaultHistoryWas, v.Seq, "field", name)
			}
			if earlier[name] == nil {
				earlier[name] = map[string]bool{}
			}
			earlier[name][c.Is()] = true
		}
		apply(fields, v.Changed)
	}
	return faults
}
