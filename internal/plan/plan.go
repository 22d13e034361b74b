// Package plan answers: what was to be compared before the data came, and what
// of a result is that? A plan is a short text of one line for each decision, in
// a fixed order and with fixed names, so that the same plan is the same bytes
// and its SHA-256 can be worked out by anybody who has the text. A result is
// held against it part by part.
//
// It knows neither how a comparison is worked out nor where a plan is kept, and
// it does not judge whether a part that was not planned is a good idea. The
// date in a plan is that of the computer's clock; that it was made then is shown
// by its hash in the hands of somebody else.
package plan

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"
)

// Plan is what was to be compared, and how. Its lists are sorted; an empty text
// or list, and a number of 0 for Check, Sites, Rows and Baits, is what was left open.
type Plan struct {
	Written  time.Time // UTC, whole seconds
	RowsThen int       // rows of the plan's season that were set out or read by then

	Question string   // in free words
	Season   string   // the rows of which season; empty for all
	By       string   // what is compared
	Among    []string // its levels; empty for all that come in
	Terms    []Term

	Link, Family, Bands, Controls, Adjust, Reference string

	Check      int
	Random     []string // the random intercepts, where Usual is false; none for none
	Usual      bool     // as many as the rows can carry
	Quadrature int      // points; 1 is Laplace
	Level      float64
	Bootstrap  int
	Auto       bool // simulating stops by itself
	Seed       uint64

	Protocol string   // name and version
	Fraction float64  // a bait is consumed when more than this share is gone
	Ways     []string // what counts as consumed
	SoaksH   []float64

	LeaveOut    []string // rules in words by which rows are to be left out
	Repeats     bool     // the comparison again with lost baits and sites changed
	Closer      bool     // does the model go with the rows
	Sites, Rows int      // that were to be read
	Baits       int      // in each row
	Notes       []string
}

// Term is a column beside what is compared, and how it enters.
type Term struct {
	Kind string // one of Kinds
	Name string
}

// Kinds of terms: a covariate as it is, with its square, as a smooth curve, split
// into between and within sites, its numbers as names; a pair whose effects depend
// on each other; and a term that gets profile-likelihood limits.
var Kinds = []string{"covariate", "squared", "curve", "split", "as-words", "together", "profile"}

// Sort puts the lists into their order and leaves out what stands twice.
func (p *Plan) Sort() {
	p.Terms = slices.Clone(p.Terms)
	slices.SortFunc(p.Terms, func(a, b Term) int {
		if a.Kind != b.Kind {
			return slices.Index(Kinds, a.Kind) - slices.Index(Kinds, b.Kind)
		}
		return strings.Compare(a.Name, b.Name)
	})
	p.Terms = slices.Compact(p.Terms)
	for _, list := range []*[]string{&p.Among, &p.Random, &p.Ways} {
		*list = slices.Compact(slices.Sorted(slices.Values(*list)))
	}
	p.Written = p.Written.UTC().Truncate(time.Second)
}

// Same says whether two plans plan the same, whenever they were written.
func (p Plan) Same(q Plan) bool {
	p.Written, p.RowsThen = q.Written, q.RowsThen
	return p.Text() == q.Text()
}

// Hash is the SHA-256 of a plan's text, hexadecimal.
func Hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// Kept is a plan as a logbook keeps it.
type Kept struct {
	Plan
	Text   string
	SHA256 string // of Text
	Key    string
	Who    string
	Broken bool // Text does not fit SHA256, or does not read: it counts for nothing
	// Of a plan that was withdrawn; it stays.
	Withdrawn    bool
	WithdrawnAt  time.Time
	WithdrawnBy  string
	WithdrawnWhy string
}

// Day is the date of a plan, UTC.
func (k Kept) Day() string { return k.Written.Format(time.DateOnly) }

// Short is the beginning of a plan's hash, enough to tell plans apart by eye.
func (k Kept) Short() string { return k.SHA256[:min(12, len(k.SHA256))] }
