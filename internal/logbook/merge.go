package logbook

import (
	"iter"
	"slices"
)

// Slugs of what a merge asks and refuses.
const (
	AskBothChanged   = "logbook.ask-both-changed"       // record, kind, field, was, ours, theirs, ours_by, theirs_by
	AskWithdrawn     = "logbook.ask-withdrawn"          // record, kind, ours, theirs, ours_by, theirs_by
	AskSameIdentity  = "logbook.ask-same-identity"      // record, kind, other, identity
	AskRedaction     = "logbook.ask-redaction"          // record, kind, field, theirs_by
	SlugMergeDiffers = "logbook.merge-revision-differs" // record
)

// Ask names one question of a merge, the same in every run of it.
type Ask struct {
	Slug   string
	Record string // key; of a redacted original its id
	Field  string // empty where the question is not about a field
}

// Question is what two logbooks disagree on and the program must not decide.
type Question struct {
	Ask
	Kind   string
	Was    string // at their common state
	Ours   string // text, or state for AskWithdrawn
	Theirs string
	// OursBy and TheirsBy are who last changed it, where it was changed.
	OursBy, TheirsBy string
	Other            string   // AskSameIdentity: key of our record with that identity
	Identity         Identity // AskSameIdentity
}

// Params are the values for the question's sentence.
func (q Question) Params() map[string]any {
	return map[string]any{"record": q.Record, "field": q.Field, "kind": q.Kind, "was": q.Was, "ours": q.Ours,
		"theirs": q.Theirs, "ours_by": q.OursBy, "theirs_by": q.TheirsBy, "other": q.Other, "identity": q.Identity.String()}
}

// Answers of questions: for AskBothChanged the text that the field is to have;
// for AskWithdrawn "live" or "withdrawn"; for AskSameIdentity "ours" (theirs
// comes in withdrawn) or "theirs" (ours is withdrawn); for AskRedaction "yes".
// Any other answer leaves the question open.
type Answers map[Ask]string

// MergeReport says what a merge did.
type MergeReport struct {
	Added     int // records we did not have
	Revised   int // records of ours that took revisions
	Unchanged int // records that had nothing new for us
	Revisions int // revisions taken over
	Sources   int // originals taken over
	Redacted  int // redactions taken over
	Questions []Question
}

// merging is one merge under way.
type merging struct {
	to, from *Tx
	stamp    Stamp
	answers  Answers
	report   MergeReport
}

// Merge takes into this logbook what another logbook of the team holds and
// this one does not: the union of their revisions, matched by id. Revisions
// come over as they are; the stamp, with a reason, goes on the answers.
//
// Where both changed a field since their common state, or one withdrew what
// the other changed, or two records claim one identity, or they redacted what
// we have not, the question is returned and that record left as it is in ours;
// merging again with the answer takes it over. Merging the same again changes
// nothing, and without questions it does not matter which logbook takes the
// other in.
//
// from is untrusted: the room that opened it has verified it, and what is read
// is checked again here. An error leaves the merge half done; return it, so
// that Change keeps nothing.
func (tx *Tx) Merge(from *Tx, answers Answers, s Stamp) (MergeReport, error) {
	if s.Why == "" {
		return MergeReport{}, newError(SlugWhyMissing, nil)
	}
	if err := s.check(); err != nil {
		return MergeReport{}, err
	}
	m := &merging{to: tx, from: from, stamp: s, answers: answers}
	err := m.sources()
	if err == nil {
		err = m.records()
	}
	return m.report, err
}

// sources takes over the originals we do not have.
func (m *merging) sources() error {
	theirs, err := m.from.Sources()
	if err != nil {
		return err
	}
	for _, src := range theirs {
		ours, known, err := m.to.source(src.ID)
		if err != nil {
			return err
		}
		switch {
		case !known:
			err = m.source(src)
		case ours.Redacted == nil && src.Redacted != nil:
			err = m.redactSource(src)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (m *merging) source(src Source) error {
	content, err := m.from.Original(src.ID)
	if err != nil {
		return err
	}
	hash := hashOf(content)
	if src.Redacted == nil && hash != src.ID {
		return newError(SlugContentUnreadable, nil, "what", "source")
	}
	if err := checkText("name", src.Name, 4*maxNameBytes); err != nil {
		return err
	}
	if err := (Stamp{Who: src.Who, When: src.When}).check(); err != nil {
		return err
	}
	m.report.Sources++
	if err := m.to.writeSource(src, hash, content); err != nil || src.Redacted == nil {
		return err
	}
	m.report.Redacted++
	return m.writeRedaction(*src.Redacted)
}

// redactSource takes over that an original was redacted, if we are to.
func (m *merging) redactSource(src Source) error {
	q := Question{Ask: Ask{Slug: AskRedaction, Record: src.ID}, TheirsBy: src.Redacted.Who}
	if m.answers[q.Ask] != "yes" {
		m.report.Questions = append(m.report.Questions, q)
		return nil
	}
	content, err := m.from.Original(src.ID)
	if err != nil {
		return err
	}
	m.report.Redacted++
	if err := m.writeRedaction(*src.Redacted); err != nil {
		return err
	}
	return m.to.replaceOriginal(src.ID, content)
}

func (m *merging) writeRedaction(r Redaction) error {
	if !keyForm.MatchString(r.ID) || len(r.Hash) != 64 {
		return newError(SlugContentUnreadable, nil, "what", "redaction")
	}
	if err := redactable(Stamp{Who: r.Who, When: r.When, Why: r.Why}); err != nil {
		return err
	}
	return m.to.writeRedaction(r)
}

// allRecords goes through every record in the order of the keys.
func (tx *Tx) allRecords() iter.Seq2[Record, error] {
	return paged(func(after string) ([]Record, error) {
		var page []Record
		err := tx.rows(selectRecord+` where key > $1 order by key limit $2`, []any{after, int64(pageSize)},
			func(scan func(...any) error) error {
				r, err := scanRecord(scan)
				page = append(page, r)
				return err
			})
		return page, err
	}, func(r Record) string { return r.Key })
}

// records takes over record after record. One whose identity is still taken
// waits until the others are done: what has it now may be about to give it up.
func (m *merging) records() error {
	var waiting []Record
	for r, err := range m.from.allRecords() {
		if err != nil {
			return err
		}
		waits, err := m.record(r, false)
		if err != nil {
			return err
		}
		if waits {
			waiting = append(waiting, Record{Key: r.Key, Kind: r.Kind})
		}
	}
	for len(waiting) > 0 {
		still, err := m.each(waiting, false)
		if err == nil && len(still) == len(waiting) { // no more give way by themselves
			if still, err = m.exchange(waiting); err == nil && len(still) == len(waiting) {
				_, err = m.each(still, true)
				still = nil
			}
		}
		if err != nil {
			return err
		}
		waiting = still
	}
	return nil
}

// each takes over the records that waited, and lists those that wait still.
func (m *merging) each(waiting []Record, last bool) (still []Record, err error) {
	for _, r := range waiting {
		waits, err := m.record(r, last)
		if err != nil {
			return nil, err
		}
		if waits {
			still = append(still, r)
		}
	}
	return still, nil
}

// exchange takes over records that wait for each other: D1 and D2 were mixed
// up, and one logbook put them right. It lists those left.
func (m *merging) exchange(waiting []Record) (left []Record, err error) {
	plans := map[string]*plan{}
	for _, r := range waiting {
		p, err := m.plan(r)
		if err != nil {
			return nil, err
		}
		if p != nil {
			plans[r.Key] = p
		}
	}
	for again := true; again; { // leave out what cannot be, until the rest can
		again = false
		wanted := map[string]string{}
		for _, key := range sortedNames(plans) {
			now := plans[key].now
			taker, taken, err := m.taken(now)
			if err != nil {
				return nil, err
			}
			slot := now.Kind + "\x00" + IdentityOf(now.Kind, now.Fields).slot()
			if taken && plans[taker.Key] == nil || wanted[slot] != "" {
				delete(plans, key)
				again = true
				continue
			}
			wanted[slot] = key
		}
	}
	keys := sortedNames(plans)
	for _, key := range keys { // free the identities, so that each finds its own free
		if err := m.to.exec(`update record set code = '' where key = $1`, key); err != nil {
			return nil, err
		}
	}
	for _, key := range keys {
		if err := m.carryOut(plans[key]); err != nil {
			return nil, err
		}
	}
	return slices.DeleteFunc(slices.Clone(waiting), func(r Record) bool { return plans[r.Key] != nil }), nil
}

// record takes over one record. It waits, changing nothing, when its identity
// is taken; with last it asks instead.
func (m *merging) record(r Record, last bool) (waits bool, err error) {
	p, err := m.plan(r)
	if err != nil || p == nil {
		return false, err
	}
	taker, taken, err := m.taken(p.now)
	if err != nil {
		return false, err
	}
	if taken && !last {
		return true, nil
	}
	if taken {
		q := Question{Ask: Ask{Slug: AskSameIdentity, Record: r.Key}, Kind: r.Kind, Other: taker.Key,
			Identity: IdentityOf(p.now.Kind, p.now.Fields)}
		switch m.answers[q.Ask] {
		case "ours":
			p.settle = append(p.settle, Revision{Action: Withdraw, State: Withdrawn})
			p.now.State = Withdrawn
		case "theirs":
			if _, err := m.to.Withdraw(taker.Key, m.stamp); err != nil {
				return false, err
			}
		default:
			m.report.Questions = append(m.report.Questions, q)
			return false, nil
		}
	}
	return false, m.carryOut(p)
}

// taken finds another live record of ours with the identity a record is to
// have.
func (m *merging) taken(now Record) (Record, bool, error) {
	if now.State != Live {
		return Record{}, false, nil
	}
	other, found, err := m.to.FindIdentity(now.Kind, IdentityOf(now.Kind, now.Fields))
	return other, found && other.Key != now.Key, err
}

// aliases takes over what the record was called.
func (m *merging) aliases(key string) error {
	all, err := m.from.Aliases(key)
	if err != nil {
		return err
	}
	for _, a := range all {
		if err := m.to.AddAlias(a); err != nil {
			return err
		}
	}
	return nil
}

// withoutCommon lists the revisions of all that are not in common.
func withoutCommon(all []Revision, common map[string]bool) []Revision {
	return slices.DeleteFunc(slices.Clone(all), func(v Revision) bool { return common[v.ID] })
}
