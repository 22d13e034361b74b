package assay

import "fmt"

// Severity is how much a finding weighs.
type Severity string

// Block: impossible, out of every result until mended. Ask: probably wrong,
// wants an answer. Note: a deviation to declare.
const (
	Block Severity = "block"
	Ask   Severity = "ask"
	Note  Severity = "note"
)

// Place is where something stands in a file somebody wrote.
type Place struct {
	File   string
	Sheet  string // of a workbook
	Line   int    // as an editor or spreadsheet program counts; 0 when there is none
	Column string // the heading as written
}

// String is the place as told to a person: "dock.csv line 14, column check1_at".
func (p Place) String() string {
	s := p.File
	if p.Sheet != "" {
		s += " sheet " + p.Sheet
	}
	if p.Line > 0 {
		if s != "" {
			s += " "
		}
		s += fmt.Sprintf("line %d", p.Line)
	}
	if p.Column != "" {
		if s != "" {
			s += ", "
		}
		s += "column " + p.Column
	}
	return s
}

// Said is one thing to be told: a slug of the catalogue and its parameters.
type Said struct {
	Slug string
	With map[string]any
}

// Finding is one thing a quality rule says about a record.
type Finding struct {
	Slug         string
	Severity     Severity
	DeploymentID string
	Key          string // of the record in a logbook
	Site         string // of the record, as written
	Record       string // Key, or what stands for it in a record read straight from a file
	Check        int    // 0 when it is about no check
	Field        string // canonical column
	Value        string // as read
	At           Place
	With         map[string]any // typed parameters of the sentence
	About        string         // the values it is about, in one canonical text
	// Answer is what a person said to an ask; it stays with the record.
	Answer   string
	Answered bool
}

// AnswerKey says which question was answered: no two findings about one record
// share it.
type AnswerKey struct {
	Record string
	Slug   string
	Check  int
	Field  string
}

// Answer is what a person said to an ask. It stands as long as the finding has
// the same fingerprint, that is, while the values it was about are the same.
type Answer struct {
	Text        string
	Fingerprint string
}

// FileError is a fault in a file somebody wrote, told so they can mend it.
type FileError struct {
	Place
	Wrong Said // what was read and what it clashes with
	Do    Said // the next action
}
