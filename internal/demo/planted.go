package demo

import (
	"slices"

	"soakline/internal/words"
)

// Kinds of what was planted.
const (
	Mistake = "mistake" // wrong, to be found and mended
	Habit   = "habit"   // right once understood
	True    = "true"    // looks wrong and is not
)

// What finds a planted mistake.
const (
	ByReason   = "reason"   // settled from headings and values, and told
	ByFault    = "fault"    // the cell cannot be read: the file is refused, with the place
	ByQuestion = "question" // asked while reading the file
	ByBlock    = "block"    // a finding that keeps the record out
	ByAsk      = "ask"      // a finding that wants an answer
	ByNote     = "note"     // a finding that declares it and needs no answer
)

// findings are the slugs of the quality rules that find what was planted.
var findings = map[string]string{
	"swapped": "position-swapped", "sign": "position-sign", "above-deployed": "consumed-over-deployed", "id-twice": "identifier-twice",
	"wrong-year": "check-not-after-setting-out", "checks-swapped": "consumed-falls", "comma-forgotten": "temperature-unlikely",
	"row-twice": "same-row-twice", "count-against-stakes": "fates-unlike-counts", "came-back": "consumed-present-again",
	"many-lost": "lost-share-high", "late": "soak-off-nominal", "row-of-24": "baits-unlike-protocol", "no-check2": "missed-without-reason",
}

// Planted is one thing put into a messy file.
type Planted struct {
	Kind         string `json:"kind"`
	What         string `json:"what"` // slug of the catalogue
	Text         string `json:"text"` // the same in English
	File         string `json:"file"`
	Sheet        string `json:"sheet,omitempty"`
	Line         int    `json:"line,omitempty"`   // as an editor or spreadsheet program counts
	Column       string `json:"column,omitempty"` // the heading as written
	DeploymentID string `json:"deployment_id,omitempty"`
	Written      string `json:"written,omitempty"`
	Right        string `json:"right,omitempty"`
	FoundBy      string `json:"found_by,omitempty"`
	Finding      string `json:"finding,omitempty"` // slug of the quality rule
}

// Steps of mending.
const (
	List     = "list"     // put a site on the list of sites; Written is its name, Value its time zone
	Edit     = "edit"     // change the cell in the team's own file before it can be read
	Reply    = "reply"    // answer a question that reading the file raises
	Correct  = "correct"  // a new value for a field of a record
	Withdraw = "withdraw" // take a record out
	Confirm  = "confirm"  // answer a finding: it is as written
)

// Answer is one step of what a person answers and mends when the sheets of the
// teams are taken into one empty logbook, Brisa's first. That sheet fills the
// lists of sites and habitats; Marea's and Espuma's sites are then listed by
// hand, with their time zones, and Salina's are new
// with its sheet.
type Answer struct {
	Step         string `json:"step"`
	File         string `json:"file"`
	Sheet        string `json:"sheet,omitempty"`
	Line         int    `json:"line,omitempty"`
	Column       string `json:"column,omitempty"`        // the heading as written
	Question     string `json:"question,omitempty"`      // key of the question that a step Reply answers
	DeploymentID string `json:"deployment_id,omitempty"` // as a logbook has it before this step
	Field        string `json:"field,omitempty"`         // canonical column
	Written      string `json:"written,omitempty"`
	Value        string `json:"value,omitempty"`   // canonical text
	Finding      string `json:"finding,omitempty"` // slug of the finding that a step Confirm answers
	Why          string `json:"why"`               // slug of the catalogue
	Text         string `json:"text"`              // the same in English
}

// Says is the sentence of a planted thing in a language.
func (p Planted) Says(l words.Language) string { return l.Say(p.What, nil) }

// Says is the reason of a step in a language.
func (a Answer) Says(l words.Language) string { return l.Say(a.Why, nil) }

func (s *Season) plant(p Planted) {
	p.Finding = findings[p.What]
	p.What = "demo.planted." + p.What
	p.Text = words.English.Say(p.What, nil)
	s.planted = append(s.planted, p)
}

func (s *Season) answer(a Answer) {
	a.Why = "demo.why." + a.Why
	a.Text = words.English.Say(a.Why, nil)
	s.answers = append(s.answers, a)
}

// mistake writes the wrong text into the cell of record r and lists it, under
// the identifier that then stands on the line.
func (s *Season) mistake(t *table, r *row, key, wrong, what, foundBy string) Planted {
	r.marked = true
	i := t.index[r]
	right := t.get(i, key)
	t.put(i, key, wrong)
	at := Planted{Kind: Mistake, What: what, File: t.file, Sheet: t.sheet, Line: t.line(i), Column: t.heading(key), DeploymentID: t.lines[i][0],
		Written: wrong, Right: right, FoundBy: foundBy}
	s.plant(at)
	return at
}

// correct adds the step that gives a field of the record of a mistake its right text.
func (s *Season) correct(at Planted, field, value, why string) {
	s.answer(Answer{Step: Correct, File: at.File, Sheet: at.Sheet, Line: at.Line, Column: at.Column, DeploymentID: at.DeploymentID, Field: field, Value: value, Why: why})
}

// reply adds the answer to a question that reading the file raises, by the
// question's key in package intake.
func (s *Season) reply(t *table, question, value, why string) {
	s.answer(Answer{Step: Reply, File: t.file, Question: question, Value: value, Why: why})
}

// meant adds the reply that a spelling stands for an entry of a list.
func (s *Season) meant(t *table, field, written, value string) {
	s.reply(t, "value:"+field+":"+written, value, "spelling")
}

// listSites adds the steps that put a team's sites on the list.
func (s *Season) listSites(t *table, c *crew) {
	for _, p := range c.sites {
		s.answer(Answer{Step: List, File: t.file, Field: "site", Written: p.name, Value: c.zone, Why: "site-list"})
	}
}

// habit lists a habit of the file, right once understood.
func (s *Season) habit(t *table, key, what, foundBy string) {
	p := Planted{Kind: Habit, What: what, File: t.file, FoundBy: foundBy}
	if key != "" {
		p.Column = t.heading(key)
	}
	s.plant(p)
}

// oddities lists what looks wrong in a team's file and is true, and the
// answers to those findings it raises that want one. The keys are those of the
// cells told: of the first check, the second, baits lost by the second, baits set out.
func (s *Season) oddities(t *table, check1, check2, lost, baits string) {
	for _, r := range t.records {
		i := t.index[r]
		note := func(what, key, foundBy string) {
			p := Planted{Kind: True, What: what, File: t.file, Sheet: t.sheet, Line: t.line(i), Column: t.heading(key), DeploymentID: r.ID,
				Written: t.get(i, key), FoundBy: foundBy}
			s.plant(p)
			if foundBy == ByAsk {
				s.answer(Answer{Step: Confirm, File: t.file, Sheet: t.sheet, Line: p.Line, DeploymentID: r.ID, Finding: findings[what], Why: what})
			}
		}
		last := r.Checks[len(r.Checks)-1]
		switch {
		case len(r.Checks) < 2:
			note("no-check2", check2, ByNote)
		case r.lateByPlan:
			note("late", check2, ByNote)
		}
		if r.Checks[0].WhyNot != "" {
			note("no-check1", check1, "")
		}
		if r.Baits != 25 {
			note("row-of-24", baits, ByNote)
		}
		if last.Lost.Or(0) > manyLost {
			note("many-lost", lost, ByAsk)
		}
	}
}

// manyLost is the number of baits of 25 above which the standard protocol asks
// (lost_share_max = 0.3).
const manyLost = 7

// inOrder puts the steps of one team's files in the order in which they are taken.
func inOrder(answers []Answer) {
	rank := map[string]int{List: -1, Edit: 0, Reply: 1, Correct: 2, Withdraw: 2, Confirm: 3}
	slices.SortStableFunc(answers, func(a, b Answer) int { return rank[a.Step] - rank[b.Step] })
}
