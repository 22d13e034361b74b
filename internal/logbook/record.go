package logbook

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"soakline/internal/pattern"
)

// State tells whether a record counts.
type State string

const (
	Live      State = "live"
	Withdrawn State = "withdrawn"
)

// Record is one thing the logbook keeps, as it is now.
type Record struct {
	Kind   string            // open: "deployment", "site", "protocol", "answer", …
	Key    string            // a UUID given once; empty asks Put for a new one
	Fields map[string]string // canonical texts; an empty text is the same as no field
	State  State
	Head   string // id of the last revision; if set when put, it must still be the last
	Seq    int64  // sequence number of Head, from 1
}

// Stamp says who makes a change, when, why, and from where.
type Stamp struct {
	Who    string
	When   time.Time
	Why    string
	Source string // id of a source when the change comes from a file, else empty
	Line   int    // its line, 1 for the first; 0 when there is none
}

// Action is what a revision did to its record.
type Action string

const (
	Create    Action = "create"
	Revise    Action = "revise"
	Withdraw  Action = "withdraw"
	Reinstate Action = "reinstate"
	Settle    Action = "settle" // answers what two merged histories disagreed on
)

// Change is one field's text before and after; empty means no such field.
type Change [2]string

func (c Change) Was() string { return c[0] }
func (c Change) Is() string  { return c[1] }

// Revision is one accepted change of one record. State is the record's state
// after it; Changed holds the fields it touched.
type Revision struct {
	ID     string
	Record string
	Seq    int64
	Stamp
	Action  Action
	State   State
	Changed map[string]Change

	spoilt bool // as read: does not fit its checksum
}

// Happened tells whether a change was needed: Put of what is already there
// returns a Revision without an id.
func (r Revision) Happened() bool { return r.ID != "" }

// Identity is what makes a live record the only one of its kind: a team's
// identifier within programme, team, season and site. A record without a Code
// has none.
type Identity struct {
	Programme, Team, Season, Site, Code string
}

// IdentityOf reads the identity from a record's fields. Its code is the field
// deployment_id of a deployment, and the field code of every other kind.
func IdentityOf(kind string, fields map[string]string) Identity {
	names := identityFields(kind)
	if fields[names[4]] == "" {
		return Identity{}
	}
	return Identity{fields[names[0]], fields[names[1]], fields[names[2]], fields[names[3]], fields[names[4]]}
}

// identityFields names the fields that make the identity of a kind's records,
// the code last.
func identityFields(kind string) [5]string {
	names := [5]string{"programme", "team", "season", "site", "code"}
	if kind == "deployment" {
		names[4] = "deployment_id"
	}
	return names
}

func (id Identity) String() string {
	parts := []string{id.Programme, id.Team, id.Season, id.Site, id.Code}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), " / ")
}

// slot is the identity as one text that no other has.
func (id Identity) slot() string {
	return strings.Join([]string{id.Programme, id.Team, id.Season, id.Site, id.Code}, "\x00")
}

// instantLayout has a fixed width, so that its texts sort as the instants do.
const instantLayout = "2006-01-02T15:04:05.000Z"

// formatInstant writes an instant as it is kept: UTC, milliseconds.
func formatInstant(t time.Time) string { return t.UTC().Format(instantLayout) }

func parseInstant(s string) (time.Time, error) {
	t, err := time.Parse(instantLayout, s)
	if err != nil || len(s) != len(instantLayout) {
		return time.Time{}, fmt.Errorf("%q is not an instant as a logbook keeps it", s)
	}
	return t, nil
}

// Limits of what a record may hold: far above any datasheet, and low enough
// that a logbook from elsewhere cannot fill the memory with one record.
const (
	maxTextBytes = 1 << 20
	maxFields    = 2000
	maxNameBytes = 200
)

var (
	keyForm  = pattern.New(`^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$`)
	kindForm = pattern.New(`^[a-z][a-z0-9_-]{0,39}$`)
)

// IsKey says whether a text has the form of a record's key.
func IsKey(s string) bool { return keyForm.MatchString(s) }

// checkText refuses what PostgreSQL cannot hold, so that a laptop's logbook
// can always be sent on.
func checkText(what, s string, max int) error {
	switch {
	case len(s) > max:
		return newError(SlugTextLong, nil, "what", what, "bytes", len(s), "most", max)
	case !utf8.ValidString(s) || strings.IndexByte(s, 0) >= 0:
		return newError(SlugTextBroken, nil, "what", what)
	}
	return nil
}

func checkFields(fields map[string]string) error {
	if len(fields) > maxFields {
		return newError(SlugTextLong, nil, "what", "fields", "bytes", len(fields), "most", maxFields)
	}
	for name, text := range fields {
		if name == "" {
			return newError(SlugFieldNameless, nil)
		}
		if err := checkText(name, name, maxNameBytes); err != nil {
			return err
		}
		if err := checkText(name, text, maxTextBytes); err != nil {
			return err
		}
	}
	return nil
}

func (s Stamp) check() error {
	if s.Who == "" {
		return newError(SlugStampWho, nil)
	}
	if y := s.When.UTC().Year(); s.When.IsZero() || y < 1000 || y > 9999 {
		return newError(SlugStampWhen, nil)
	}
	if s.Line < 0 {
		return newError(SlugStampLine, nil, "line", s.Line)
	}
	if err := checkText("who", s.Who, maxNameBytes); err != nil {
		return err
	}
	return checkText("why", s.Why, maxTextBytes)
}

// withoutEmpty copies the fields that hold text.
func withoutEmpty(fields map[string]string) map[string]string {
	kept := make(map[string]string, len(fields))
	for name, text := range fields {
		if text != "" {
			kept[name] = text
		}
	}
	return kept
}

// difference lists the fields in which is differs from was.
func difference(was, is map[string]string) map[string]Change {
	changed := map[string]Change{}
	for name, text := range is {
		if was[name] != text {
			changed[name] = Change{was[name], text}
		}
	}
	for name, text := range was {
		if is[name] == "" && text != "" {
			changed[name] = Change{text, ""}
		}
	}
	return changed
}

// apply changes fields in place as a revision says.
func apply(fields map[string]string, changed map[string]Change) {
	for name, c := range changed {
		if c.Is() == "" {
			delete(fields, name)
		} else {
			fields[name] = c.Is()
		}
	}
}

// encode writes canonical JSON: keys sorted, nothing escaped that need not be,
// so that equal contents are equal bytes.
func encode(v any) (string, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return "", err
	}
	return strings.TrimSuffix(b.String(), "\n"), nil
}

func decodeFields(text string) (map[string]string, error) {
	var fields map[string]string
	if err := json.Unmarshal([]byte(text), &fields); err != nil || fields == nil {
		return nil, newError(SlugContentUnreadable, err, "what", "fields")
	}
	return fields, nil
}

func decodeChanges(text string) (map[string]Change, error) {
	var pairs map[string][]string
	if err := json.Unmarshal([]byte(text), &pairs); err != nil || pairs == nil {
		return nil, newError(SlugContentUnreadable, err, "what", "changes")
	}
	changed := make(map[string]Change, len(pairs))
	for name, p := range pairs {
		if len(p) != 2 {
			return nil, newError(SlugContentUnreadable, nil, "what", "changes")
		}
		changed[name] = Change{p[0], p[1]}
	}
	return changed, nil
}

// sortedNames lists the keys of a map in byte order.
func sortedNames[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
