package intake

import (
	"slices"
	"sort"
	"strings"

	"soakline/internal/assay"
)

// Context is what is known besides the file.
type Context struct {
	Sites    []assay.Site // the site list, with zones
	Habitats []Entry      // the habitat list
	Zone     string       // zone of sites that have none, when already settled
	Maps     []Map        // kept maps, found by their fingerprint
	Answers  map[string]string
	Yes      bool      // take every proposal and list it
	NominalH []float64 // soak of each check by the protocol; nil stands for 1 h and 24 h
	Baits    int       // number of baits by the protocol, for a sheet that does not say; 0 for none
}

// Entry is one entry of a list and the spellings that mean it.
type Entry struct {
	Name     string
	Synonyms []string
}

// Question is what only a person can say. Key names it: answers come back by
// key, and the same key is the same question in the next reading of the file:
// zone, zone:SITE, clock:ZONE:TIME, day-order, decimal, serials, counts,
// meaning:WORD, left-rises, blank:consumed, blank:lost, check-dates, fill-down,
// identifier, baits, sheet-name, side:HEADING, column:COLUMN, position:TEXT,
// value:COLUMN:WRITTEN. An answer with the key map:HEADING, which is never
// asked, says what a column is; its values are those of Column.To.
type Question struct {
	Key string
	assay.Said
	Where    assay.Place
	Options  []Option
	Free     bool   // any other text is an answer too
	Proposal string // value of the option proposed; empty when none can be
	Why      assay.Said
}

// FreeHint is the slug of what an answer in one's own words may be.
func (q Question) FreeHint() string {
	if AnswerKind(q.Key) == "zone" {
		return "intake.free-zone"
	}
	return "intake.free"
}

// AnswerKinds are the first parts of the keys that answers may have.
var AnswerKinds = []string{"zone", "clock", "day-order", "decimal", "serials", "counts", "meaning", "left-rises", "blank", "check-dates",
	"fill-down", "identifier", "baits", "sheet-name", "side", "column", "position", "value", "map"}

// AnswerKind is the first part of an answer's key: "value" of "value:site:Kel".
func AnswerKind(key string) string {
	kind, _, _ := strings.Cut(key, ":")
	return kind
}

// Option is one answer. Its Said is empty where the value speaks for itself.
type Option struct {
	Value string
	assay.Said
}

// Taken is a proposal that was taken without asking.
type Taken struct {
	Question
	Value string
}

// Reason says how something was settled without a person.
type Reason struct {
	Where       assay.Place
	Heading, To string // for a column
	assay.Said
}

// asker settles questions from answers, or gathers them.
type asker struct {
	c         *Context
	questions []Question
	taken     []Taken
	reasons   []Reason
	faults    []Fault
	done      map[string]bool
}

// ask gives the answer to q, or its proposal with ok false while it is open.
func (a *asker) ask(q Question) (value string, ok bool) {
	if v, given := a.c.Answers[q.Key]; given {
		if q.Free && v != "" || slices.ContainsFunc(q.Options, func(o Option) bool { return o.Value == v }) {
			return v, true
		}
		if !a.done[q.Key] {
			a.done[q.Key] = true
			var known []string
			for _, o := range q.Options {
				known = append(known, o.Value)
			}
			a.faults = append(a.faults, Fault{Place: q.Where, Wrong: said("intake.answer-unknown", "value", v, "key", q.Key), Do: said("intake.answer-choose", "known", known)})
		}
		return q.Proposal, false
	}
	if a.c.Yes && q.Proposal != "" {
		if !a.done[q.Key] {
			a.done[q.Key] = true
			a.taken = append(a.taken, Taken{q, q.Proposal})
		}
		return q.Proposal, true
	}
	if !a.done[q.Key] {
		a.done[q.Key] = true
		a.questions = append(a.questions, q)
	}
	return q.Proposal, false
}

func (a *asker) reason(where assay.Place, s assay.Said) {
	a.reasons = append(a.reasons, Reason{Where: where, Said: s})
}

// options makes options whose words are intake.option.VALUE.
func options(values ...string) []Option {
	out := make([]Option, len(values))
	for i, v := range values {
		out[i] = Option{v, said("intake.option." + v)}
	}
	return out
}

// plainOptions makes options that speak for themselves.
func plainOptions(values []string) []Option {
	out := make([]Option, len(values))
	for i, v := range values {
		out[i] = Option{Value: v}
	}
	return out
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}
