package task

import (
	"time"

	"soakline/internal/plan"
	"soakline/internal/publish"
)

// PlannedSeasons is how many seasons a plan says are simulated, unless it is told.
const PlannedSeasons = 999

// PlanJSON is a plan in the contract of `soakline plan show --json`.
type PlanJSON struct {
	Contract  int    `json:"contract"`
	SHA256    string `json:"sha256"`
	WrittenAt string `json:"written_at"`
	Who       string `json:"who"`
	RowsThen  int    `json:"rows_then"`
	Withdrawn bool   `json:"withdrawn"`
	Text      string `json:"text"`
}

// PlanAsJSON is a plan in the contract's form.
func PlanAsJSON(k plan.Kept) PlanJSON {
	return PlanJSON{1, k.SHA256, k.Written.Format(time.RFC3339), k.Who, k.RowsThen, k.Withdrawn, k.Text}
}

// publishedPlans are the plans that go with a publication.
func (s *Season) publishedPlans() []publish.Plan {
	var out []publish.Plan
	for _, k := range s.Plans {
		if !k.Broken {
			out = append(out, publish.Plan{Day: k.Day(), SHA256: k.SHA256, Text: k.Text, Rows: max(k.RowsThen, s.setOutBefore(k.Plan)), Withdrawn: k.Withdrawn, Why: k.WithdrawnWhy})
		}
	}
	return out
}

// PlanLine is a plan in the list of a logbook's plans.
type PlanLine struct {
	SHA256       string `json:"sha256"`
	WrittenAt    string `json:"written_at"`
	Who          string `json:"who"`
	Question     string `json:"question"`
	By           string `json:"by"`
	Season       string `json:"season"`
	RowsThen     int    `json:"rows_then"`
	RowsBefore   int    `json:"rows_before"`
	Counts       bool   `json:"counts"` // answers by its factor are held against it
	Withdrawn    bool   `json:"withdrawn"`
	WithdrawnWhy string `json:"withdrawn_why"`
	Broken       bool   `json:"broken"` // its text no longer fits its hash
}

// PlanListing is the answer of `soakline plan list --json`.
type PlanListing struct {
	Contract int        `json:"contract"`
	Plans    []PlanLine `json:"plans"`
}

// PlanList lists the plans of the season's logbook, the first one first.
func (s *Season) PlanList() PlanListing {
	out := PlanListing{1, []PlanLine{}}
	for i, k := range s.Plans {
		out.Plans = append(out.Plans, PlanLine{k.SHA256, k.Written.Format(time.RFC3339), k.Who, k.Question, k.By, k.Season, k.RowsThen, s.setOutBefore(k.Plan),
			plan.Choose(s.Plans, k.By, s.setOutBefore) == i, k.Withdrawn, k.WithdrawnWhy, k.Broken})
	}
	return out
}
