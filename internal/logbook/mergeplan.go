package logbook

import (
	"maps"
	"slices"
)

// plan is what is to be done to one of our records: the revisions to take
// over, those that settle what both changed, and what the record then says.
type plan struct {
	kind   string
	fresh  bool // we have no such record
	take   []Revision
	settle []Revision // action, state and changes; the rest is filled in
	redact []Redaction
	now    Record
}

// plan compares the two histories of a record. It returns nil when there is
// nothing to do, or a question that has no answer yet.
func (m *merging) plan(r Record) (*plan, error) {
	theirs, err := m.from.History(r.Key)
	if err != nil {
		return nil, err
	}
	if !kindForm.MatchString(r.Kind) || len(checkHistory(r.Key, theirs)) > 0 {
		return nil, newError(SlugContentUnreadable, nil, "what", "revision "+r.Key)
	}
	theirRedactions, err := m.from.Redactions(r.Key)
	if err != nil {
		return nil, err
	}
	ours, found, err := m.to.entry(r.Key)
	if err != nil {
		return nil, err
	}
	if !found {
		return &plan{kind: r.Kind, fresh: true, take: theirs, redact: theirRedactions, now: replayed(r.Kind, theirs)}, nil
	}
	if ours.Kind != r.Kind {
		return nil, newError(SlugMergeDiffers, nil, "record", r.Key)
	}
	history, err := m.to.History(r.Key)
	if err != nil {
		return nil, err
	}
	redactions, err := m.to.Redactions(r.Key)
	if err != nil {
		return nil, err
	}
	p := &plan{kind: r.Kind}
	if m.newRedactions(p, r, redactions, theirRedactions) {
		return nil, nil
	}
	all := append(slices.Clone(redactions), p.redact...)
	wash(history, all)
	wash(theirs, append(all, theirRedactions...))
	common, err := commonRevisions(history, theirs)
	if err != nil {
		return nil, err
	}
	p.take = withoutCommon(theirs, common)
	if len(p.take) == 0 && len(p.redact) == 0 {
		m.report.Unchanged++
		return nil, m.aliases(r.Key)
	}
	return m.reconcile(p, history, common)
}

// newRedactions puts into the plan the redactions that are theirs and not
// ours; open when one of them is a question without an answer.
func (m *merging) newRedactions(p *plan, r Record, ours, theirs []Redaction) (open bool) {
	for _, t := range theirs {
		if slices.ContainsFunc(ours, func(o Redaction) bool { return o.ID == t.ID }) {
			continue
		}
		q := Question{Ask: Ask{Slug: AskRedaction, Record: r.Key, Field: t.Field}, Kind: r.Kind, TheirsBy: t.Who}
		if m.answers[q.Ask] == "yes" {
			p.redact = append(p.redact, t)
			continue
		}
		open = true
		if !slices.ContainsFunc(m.report.Questions, func(other Question) bool { return other.Ask == q.Ask }) {
			m.report.Questions = append(m.report.Questions, q)
		}
	}
	return open
}

// commonRevisions finds the revisions that both have; one that differs under
// the same id was not written by this program.
func commonRevisions(ours, theirs []Revision) (map[string]bool, error) {
	byID := make(map[string]Revision, len(ours))
	for _, v := range ours {
		byID[v.ID] = v
	}
	common := map[string]bool{}
	for _, t := range theirs {
		o, both := byID[t.ID]
		if !both {
			continue
		}
		if !sameRevision(o, t) {
			return nil, newError(SlugMergeDiffers, nil, "record", t.Record)
		}
		common[t.ID] = true
	}
	if len(common) == 0 { // one key given twice: forged, or a copied seed
		return nil, newError(SlugMergeDiffers, nil, "record", theirs[0].Record)
	}
	return common, nil
}

// reconcile finds what both sides changed since their common state, and works
// out what the record says once their revisions are one history.
func (m *merging) reconcile(p *plan, ours []Revision, common map[string]bool) (*plan, error) {
	base := slices.DeleteFunc(slices.Clone(ours), func(v Revision) bool { return !common[v.ID] })
	was, stateWas := replay(base)
	mine := withoutCommon(ours, common)
	us, them := sideOf(mine), sideOf(p.take)
	union := append(slices.Clone(ours), p.take...)
	slices.SortFunc(union, before)
	p.now = replayed(p.kind, union)
	settled := map[string]Change{}
	open := false
	ask := func(q Question, allowed ...string) string {
		answer, given := m.answers[q.Ask]
		if !given || allowed != nil && !slices.Contains(allowed, answer) {
			m.report.Questions = append(m.report.Questions, q)
			open = true
		}
		return answer
	}
	for _, field := range sortedNames(us.fields) {
		mineLast, theirsLast := us.fields[field], them.fields[field]
		if theirsLast.ID == "" || mineLast.Changed[field].Is() == theirsLast.Changed[field].Is() {
			continue
		}
		answer := ask(Question{Ask: Ask{AskBothChanged, p.now.Key, field}, Kind: p.kind, Was: was[field],
			Ours: mineLast.Changed[field].Is(), Theirs: theirsLast.Changed[field].Is(),
			OursBy: mineLast.Who, TheirsBy: theirsLast.Who})
		if err := checkText(field, answer, maxTextBytes); err != nil {
			return nil, err
		}
		settled[field] = Change{p.now.Fields[field], answer}
	}
	if len(settled) > 0 {
		p.settle = append(p.settle, Revision{Action: Settle, State: p.now.State, Changed: settled})
	}
	if us.disagrees(them, stateWas) {
		q := Question{Ask: Ask{Slug: AskWithdrawn, Record: p.now.Key}, Kind: p.kind,
			Ours: string(us.stateOr(stateWas)), Theirs: string(them.stateOr(stateWas)), OursBy: us.last.Who, TheirsBy: them.last.Who}
		switch State(ask(q, string(Live), string(Withdrawn))) {
		case Live:
			p.settle = append(p.settle, Revision{Action: Reinstate, State: Live})
			p.now.State = Live
		case Withdrawn:
			p.settle = append(p.settle, Revision{Action: Withdraw, State: Withdrawn})
			p.now.State = Withdrawn
		}
	}
	if open {
		return nil, nil
	}
	apply(p.now.Fields, settled)
	return p, nil
}

// side is what one logbook did to a record since the common state.
type side struct {
	fields map[string]Revision // last revision that touched each field
	state  State               // last state it decided on; empty for none
	last   Revision
}

func sideOf(revisions []Revision) side {
	s := side{fields: map[string]Revision{}}
	for _, v := range revisions {
		for name := range maps.Keys(v.Changed) {
			s.fields[name] = v
		}
		if v.touchesState() {
			s.state = v.State
		}
		s.last = v
	}
	return s
}

func (s side) stateOr(was State) State {
	if s.state == "" {
		return was
	}
	return s.state
}

// disagrees tells whether the two sides leave open if the record counts: both
// decided, differently, or one took it out while the other went on with it.
func (s side) disagrees(t side, was State) bool {
	a, b := s.stateOr(was), t.stateOr(was)
	if a == b {
		return false
	}
	if s.state != "" && t.state != "" {
		return true
	}
	withdrawer, other := s, t
	if b == Withdrawn {
		withdrawer, other = t, s
	}
	return withdrawer.state == Withdrawn && len(other.fields) > 0
}

// carryOut does what a plan says.
func (m *merging) carryOut(p *plan) error {
	key := p.now.Key
	if p.fresh {
		m.report.Added++
	} else {
		m.report.Revised++
	}
	m.report.Revisions += len(p.take)
	for i, v := range p.settle {
		id, err := m.to.book.keys.next(m.stamp.When)
		if err != nil {
			return err
		}
		v.ID, v.Record, v.Seq, v.Stamp = id, key, p.now.Seq+1, m.stamp
		if v.Changed == nil {
			v.Changed = map[string]Change{}
		}
		p.settle[i] = v
		p.now.Head, p.now.Seq = v.ID, v.Seq
	}
	for _, v := range slices.Concat(p.take, p.settle) {
		if err := m.to.writeRevision(v); err != nil {
			return err
		}
	}
	if err := m.to.writeRecord(p.now, p.fresh); err != nil {
		return err
	}
	for _, r := range p.redact {
		m.report.Redacted++
		if r.Record != key {
			return newError(SlugContentUnreadable, nil, "what", "redaction")
		}
		if p.fresh { // came over redacted
			if err := m.writeRedaction(r); err != nil {
				return err
			}
			continue
		}
		if err := redactable(Stamp{Who: r.Who, When: r.When, Why: r.Why}); err != nil || !keyForm.MatchString(r.ID) || len(r.Hash) != 64 {
			return newError(SlugContentUnreadable, err, "what", "redaction")
		}
		if err := m.to.redact(r); err != nil {
			return err
		}
	}
	return m.aliases(key)
}
