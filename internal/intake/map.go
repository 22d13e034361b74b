package intake

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"

	"github.com/BurntSushi/toml"

	"soakline/internal/sheet"
)

// Map says how one kind of sheet is to be read: what each column is and how
// its values are written. It is kept by name and serves every file with the
// same headings. What is empty has not been settled yet.
type Map struct {
	Name        string      `toml:"name"`
	Fingerprint string      `toml:"fingerprint"`
	Table       sheet.Table `toml:"table"`
	Columns     []Column    `toml:"column"`

	DayOrder   string `toml:"day_order,omitempty"`   // day-first, month-first
	Decimal    string `toml:"decimal,omitempty"`     // comma, point
	Serials    string `toml:"serials,omitempty"`     // 1900, 1904: numbers in columns of times
	Counts     string `toml:"counts,omitempty"`      // cumulative, each (since the check before)
	BlankEaten string `toml:"blank_eaten,omitempty"` // unread, zero: an empty count of baits consumed
	BlankLost  string `toml:"blank_lost,omitempty"`  // unread, zero: an empty count of baits lost
	SheetName  string `toml:"sheet_name,omitempty"`  // the column that the sheet's name stands for, or none
	CheckDates string `toml:"check_dates,omitempty"` // nominal: a check's day follows from its hours after setting out
	Identifier string `toml:"identifier,omitempty"`  // number: rows without an identifier are numbered by site
	FillDown   string `toml:"fill_down,omitempty"`   // same, empty: what an empty cell below a filled site or habitat is

	// Hours are the nominal hours of the checks as the headings name them.
	Hours []float64 `toml:"check_hours,omitempty"`
	// Constants stand for columns that the sheet has none of.
	Constants map[string]string `toml:"constant,omitempty"`
	// Values maps what was written to what is meant, by column.
	Values map[string]map[string]string `toml:"values,omitempty"`
}

// Column is one column of a Map.
type Column struct {
	Heading string `toml:"heading"` // as written; a group above stands before " / "
	// To is a column of the datasheet, perhaps with an ending: ":date" or
	// ":time" for one half of a time, ":after" for hours since setting out,
	// ":left" for baits still there, ":each" for a count since the check
	// before. Or position, fate:stake7, fate:check2, covariate:NAME, skip.
	To string `toml:"to"`
	// Unit is a unit other than the datasheet's, from which values are turned.
	Unit string `toml:"unit,omitempty"`
}

// Fingerprint is the mark of a table's headings: two files with the same one
// have the same shape.
func Fingerprint(t *Table) string {
	h := sha256.New()
	for _, c := range t.Header {
		fmt.Fprintf(h, "%s\x00%s\x00%s\x01", plain(c.Over), strings.ToLower(c.Text), strings.ToLower(c.Unit))
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}

// MarshalText writes the map as TOML.
func (m Map) MarshalText() ([]byte, error) {
	type bare Map
	var b bytes.Buffer
	if err := toml.NewEncoder(&b).Encode(bare(m)); err != nil {
		return nil, fmt.Errorf("intake: writing a column map: %w", err)
	}
	return b.Bytes(), nil
}

// ParseMap reads what MarshalText wrote; it refuses keys it does not know and
// targets that are none.
func ParseMap(text []byte) (Map, error) {
	type bare Map
	var b bare
	md, err := toml.Decode(string(text), &b)
	if err != nil {
		return Map{}, fmt.Errorf("intake: reading a column map: %w", err)
	}
	if un := md.Undecoded(); len(un) > 0 {
		return Map{}, fmt.Errorf("intake: a column map has no key %s", un[0])
	}
	m := Map(b)
	if len(sheet.Columns(m.Table)) == 0 {
		return Map{}, fmt.Errorf("intake: a column map is for no table %q", m.Table)
	}
	for _, c := range m.Columns {
		if !m.knows(c.To) {
			return Map{}, fmt.Errorf("intake: a column map sends %q to %q, which is no column", c.Heading, c.To)
		}
	}
	if len(m.Columns) == 0 {
		return Map{}, errors.New("intake: a column map without columns")
	}
	return m, nil
}

// knows says whether to is a target of this map's table; any table but that of
// deployments may carry the deployments' columns beside its own.
func (m Map) knows(to string) bool {
	switch {
	case to == toSkip, to == toPosition, strings.HasPrefix(to, toCovar), strings.HasPrefix(to, toFate):
		return true
	}
	base, ending := cutEnding(to)
	c, _, ok := sheet.Find(m.Table, base)
	if !ok {
		c, _, ok = sheet.Find(sheet.Wide, base)
	}
	if !ok {
		return false
	}
	switch ending {
	case "":
		return true
	case asDate, asTime, asAfter:
		return c.Kind == sheet.Instant
	case asLeft, asEach:
		return c.Kind == sheet.Count
	}
	return false
}

const (
	asEach = ":each"
	toFate = "fate:"
)

// cutEnding splits "check1_at:date" into the column and its ending.
func cutEnding(to string) (base, ending string) {
	if strings.HasPrefix(to, toCovar) || strings.HasPrefix(to, toFate) {
		return to, ""
	}
	if i := strings.IndexByte(to, ':'); i >= 0 {
		return to[:i], to[i:]
	}
	return to, ""
}
