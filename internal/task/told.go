package task

import (
	"soakline/internal/assay"
	"soakline/internal/words"
)

// FindingLine is a finding as told to a person: where, what is wrong, what to do.
// "dock.csv line 2, column consumed_by_check1: 26 baits consumed of 25 deployed; …"
func FindingLine(l words.Language, f assay.Finding) string {
	s := PlaceLine(l, f)
	if s != "" {
		s += ": "
	}
	s += l.Say("finding."+f.Slug, f.With)
	if f.Answered {
		s += " " + l.Say("task.answered", words.P{"answer": f.Answer})
	}
	return s
}

// PlaceLine says where a finding is: the line of a file, or the row.
func PlaceLine(l words.Language, f assay.Finding) string {
	if f.At.File == "" || f.At.Line == 0 {
		return l.Say("task.row-field", words.P{"id": f.DeploymentID, "field": f.Field})
	}
	s := f.At.File
	if f.At.Sheet != "" {
		s += l.Say("cmd.place.sheet", words.P{"sheet": f.At.Sheet})
	}
	s += " " + l.Say("cmd.place.line", words.P{"line": f.At.Line})
	if f.At.Column != "" {
		s += ", " + l.Say("cmd.place.column", words.P{"column": f.At.Column})
	}
	return s
}

// FindingJSON is a finding in the contract of `soakline findings --json`.
type FindingJSON struct {
	Slug         string         `json:"slug"`
	Severity     assay.Severity `json:"severity"`
	DeploymentID string         `json:"deployment_id"`
	Check        *int           `json:"check"`
	Field        string         `json:"field"`
	Value        string         `json:"value"`
	File         string         `json:"file"`
	Sheet        string         `json:"sheet"`
	Line         *int           `json:"line"`
	Column       string         `json:"column"`
	Text         string         `json:"text"`
	Answered     bool           `json:"answered"`
	Answer       string         `json:"answer"`
}

// FindingCounts counts findings by severity.
type FindingCounts struct {
	Block int `json:"block"`
	Ask   int `json:"ask"`
	Note  int `json:"note"`
}

// FindingList is the answer of `soakline findings --json`.
type FindingList struct {
	Contract int           `json:"contract"`
	Findings []FindingJSON `json:"findings"`
	Counts   FindingCounts `json:"counts"`
}

// Count counts findings by severity.
func Count(list []assay.Finding) FindingCounts {
	var c FindingCounts
	for _, f := range list {
		switch f.Severity {
		case assay.Block:
			c.Block++
		case assay.Ask:
			c.Ask++
		case assay.Note:
			c.Note++
		}
	}
	return c
}

// FindingsJSON turns findings into the contract's form, English.
func FindingsJSON(list []assay.Finding) FindingList {
	out := FindingList{Contract: 1, Findings: []FindingJSON{}, Counts: Count(list)}
	number := func(n int) *int {
		if n == 0 {
			return nil
		}
		return &n
	}
	for _, f := range list {
		out.Findings = append(out.Findings, FindingJSON{
			Slug: f.Slug, Severity: f.Severity, DeploymentID: f.DeploymentID, Check: number(f.Check), Field: f.Field, Value: f.Value,
			File: f.At.File, Sheet: f.At.Sheet, Line: number(f.At.Line), Column: f.At.Column,
			Text: words.English.Say("finding."+f.Slug, f.With), Answered: f.Answered, Answer: f.Answer,
		})
	}
	return out
}
