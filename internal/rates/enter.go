package rates

import "soakline/internal/assay"

// Slugs of why a deployment is kept out of results; with NeverRead and Impossible.
const (
	ControlRow  = "control"
	PracticeRow = "practice"
	Blocked     = "blocked"
)

// Excluded is a deployment kept out and why: control, practice, blocked (a
// finding says that it is impossible; Finding is that one's slug), never-read (no
// check with counts and a time) or impossible (its counts or times cannot be,
// though no finding says so).
type Excluded struct {
	DeploymentID string `json:"deployment_id"`
	Slug         string `json:"slug"`
	Finding      string `json:"finding,omitempty"`
}

// Flow counts deployments from plan to result. Planned is at least SetOut; the
// caller raises it where a plan held rows that were never set out.
type Flow struct {
	Planned  int `json:"planned"`
	SetOut   int `json:"set_out"`
	Read     int `json:"read"`
	Analysed int `json:"analysed"`
	// Asked counts the analysed ones with a question that nobody has answered.
	Asked int `json:"with_open_questions"`
}

// Selection is what enters results: places in the slice given, in its order.
type Selection struct {
	In       []int
	Excluded []Excluded
	Flow     Flow
	// Open marks, by place, deployments with an unanswered ask.
	Open []bool

	why map[int]string // slug of Excluded by place
}

// Enter chooses what enters results: no control and no practice rows, nothing
// with a block, nothing that was never read. Deployments with unanswered asks
// enter and are counted. The reasons are tried in the order control, practice,
// blocked, never-read, impossible; the first one that holds is given.
//
// A finding belongs to the deployment with its key; without a key, to the one
// with its identifier in the same line of the same file; where no line fits, to
// every deployment with its identifier.
func Enter(ds []assay.Deployment, findings []assay.Finding) Selection {
	readings := make([]*reading, len(ds))
	for k := range ds {
		readings[k] = read(&ds[k], nil)
	}
	return enter(ds, findings, readings)
}

func enter(ds []assay.Deployment, findings []assay.Finding, readings []*reading) Selection {
	block, open := weigh(ds, findings)
	s := Selection{Open: open, Flow: Flow{Planned: len(ds)}, Excluded: []Excluded{}, why: map[int]string{}}
	for k := range ds {
		d := &ds[k]
		if d.SetOut.Known() {
			s.Flow.SetOut++
		}
		if _, any := d.LastRead(); any || len(readings[k].looks) > 0 {
			s.Flow.Read++
		}
		out := Excluded{DeploymentID: d.ID}
		switch {
		case d.IsControl():
			out.Slug = ControlRow
		case d.IsPractice():
			out.Slug = PracticeRow
		case block[k] != "":
			out.Slug, out.Finding = Blocked, block[k]
		case readings[k].why != "":
			out.Slug = readings[k].why
		default:
			s.In = append(s.In, k)
			if open[k] {
				s.Flow.Asked++
			}
			continue
		}
		s.Excluded = append(s.Excluded, out)
		s.why[k] = out.Slug
	}
	s.Flow.Analysed = len(s.In)
	return s
}

// weigh gives, by place, the slug of the first block and whether an ask is open.
func weigh(ds []assay.Deployment, findings []assay.Finding) (block []string, open []bool) {
	block, open = make([]string, len(ds)), make([]bool, len(ds))
	if len(findings) == 0 {
		return block, open
	}
	type line struct {
		file, sheet string
		line        int
	}
	byKey, byID := map[string][]int{}, map[string][]int{}
	for k := range ds {
		if ds[k].Key != "" {
			byKey[ds[k].Key] = append(byKey[ds[k].Key], k)
		}
		byID[ds[k].ID] = append(byID[ds[k].ID], k)
	}
	for i := range findings {
		f := &findings[i]
		places := byKey[f.Key]
		if f.Key == "" || len(places) == 0 {
			places = byID[f.DeploymentID]
			at := line{f.At.File, f.At.Sheet, f.At.Line}
			var here []int
			for _, k := range places {
				w := ds[k].Where
				if at.line > 0 && at == (line{w.File, w.Sheet, w.Line}) {
					here = append(here, k)
				}
			}
			if here != nil {
				places = here
			}
		}
		for _, k := range places {
			switch {
			case f.Severity == assay.Block && block[k] == "":
				block[k] = f.Slug
			case f.Severity == assay.Ask && !f.Answered:
				open[k] = true
			}
		}
	}
	return block, open
}
