package plan

import (
	"slices"
	"strings"
	"time"
)

// Done is what was done, to be held against a plan: the same decisions, as they
// were taken, and what came in.
type Done struct {
	Plan                  // Random and Usual as asked; Written, Question, Notes and LeaveOut are not looked at
	Used      []string    // the random intercepts that entered
	Pairs     [][2]string // the levels that were set against each other
	Seasons   []string    // of the rows that entered
	Others    []string    // protocols of rows under another than the plan's, with how many: "standard 2 (3)"
	OutByHand int         // rows that somebody withdrew
	BaitsIn   []int       // numbers of baits in a row that occur, ascending
}

// Status of one part of a result.
type Status string

const (
	Planned     Status = "planned"
	Changed     Status = "changed"     // planned one way, done another
	Exploratory Status = "exploratory" // not in the plan
	NotDone     Status = "not-done"    // in the plan, not in this result
	Judge       Status = "judge"       // a rule in words, for a person to hold against what was done
)

// Part is one decision, and what became of it. Planned and Done are values as
// the plan's text writes them, several with a comma between.
type Part struct {
	Part    string `json:"part"`
	Name    string `json:"name"` // of a term or a pair; else empty
	Status  Status `json:"status"`
	Planned string `json:"planned"`
	Done    string `json:"done"`
}

// Other is a further plan of the same logbook.
type Other struct {
	SHA256    string `json:"sha256"`
	WrittenAt string `json:"written_at"`
	Withdrawn bool   `json:"withdrawn"`
	Broken    bool   `json:"broken"` // its text no longer fits its hash
	Why       string `json:"why"`    // it was withdrawn; else empty
}

// Standing is how a result stands to the plan that counts for it.
type Standing struct {
	SHA256    string `json:"sha256"` // empty where the logbook has no plan that was not withdrawn
	WrittenAt string `json:"written_at"`
	// RowsThen is what the plan itself says; RowsBefore counts the rows of the season,
	// as they are known now, that were set out before the plan was written.
	RowsThen   int     `json:"rows_then"`
	RowsBefore int     `json:"rows_before"`
	BeforeData bool    `json:"before_data"`
	Parts      []Part  `json:"parts"`
	Others     []Other `json:"other_plans"`
}

// Choose gives the plan that counts for a comparison by a factor, -1 for none: of
// the plans that were not withdrawn, one that asks about that factor before one that
// does not; of these the one before which the fewest rows were set out; and of those
// the latest where no row was, else the first. So a plan may be bettered until there
// are data, and one made after them never takes the place of an earlier one.
func Choose(plans []Kept, by string, before func(Plan) int) int {
	best := -1
	for i, k := range plans {
		if k.Withdrawn || k.Broken {
			continue
		}
		if best < 0 || better(k, plans[best], by, before) {
			best = i
		}
	}
	return best
}

func better(a, b Kept, by string, before func(Plan) int) bool {
	if x, y := a.By == by, b.By == by; x != y {
		return x
	}
	if x, y := rowsBy(a.Plan, before), rowsBy(b.Plan, before); x != y {
		return x < y
	}
	if rowsBy(a.Plan, before) > 0 {
		return a.Written.Before(b.Written)
	}
	return a.Written.After(b.Written)
}

func rowsBy(p Plan, before func(Plan) int) int { return max(p.RowsThen, before(p)) }

// Stand holds what was done against the plan at a place of plans, -1 for none.
func Stand(plans []Kept, at int, before func(Plan) int, d Done) *Standing {
	s := &Standing{Parts: []Part{}, Others: []Other{}}
	for i, k := range plans {
		if i != at {
			s.Others = append(s.Others, Other{k.SHA256, k.Written.Format(time.RFC3339), k.Withdrawn, k.Broken, k.WithdrawnWhy})
		}
	}
	if at < 0 {
		return s
	}
	k := plans[at]
	s.SHA256, s.WrittenAt = k.SHA256, k.Written.Format(time.RFC3339)
	s.RowsThen, s.RowsBefore = k.RowsThen, before(k.Plan)
	s.BeforeData = s.RowsThen == 0 && s.RowsBefore == 0
	s.Parts = Judged(k.Plan, d)
	return s
}

// Has says whether a plan stands behind the result.
func (s *Standing) Has() bool { return s != nil && s.SHA256 != "" }

// With lists the parts of a status.
func (s *Standing) With(status Status) []Part {
	var out []Part
	for _, p := range s.Parts {
		if p.Status == status {
			out = append(out, p)
		}
	}
	return out
}

// judging gathers parts.
type judging struct {
	p     Plan
	d     Done
	parts []Part
}

func (j *judging) add(part, name string, s Status, planned, done string) {
	j.parts = append(j.parts, Part{part, name, s, planned, done})
}

// same adds a part that is as planned where both texts are one.
func (j *judging) same(part, planned, done string) {
	s := Planned
	if planned != done {
		s = Changed
	}
	j.add(part, "", s, planned, done)
}

// Judged holds every decision of a comparison against a plan, in the order in
// which a reader asks for them.
func Judged(p Plan, d Done) []Part {
	p.Sort()
	d.Sort()
	j := &judging{p: p, d: d}
	j.question()
	j.terms()
	j.model()
	j.rows()
	j.beside()
	return j.parts
}

// question: what is compared, and which pairs.
func (j *judging) question() {
	p, d := j.p, j.d
	if p.By != d.By {
		j.add("by", "", Exploratory, p.By, d.By)
		return // the pairs of another question were not planned, whatever they are called
	}
	j.add("by", "", Planned, p.By, d.By)
	for _, pair := range d.Pairs {
		s := Planned
		if len(p.Among) > 0 && !(slices.Contains(p.Among, pair[0]) && slices.Contains(p.Among, pair[1])) {
			s = Exploratory
		}
		name := pair[0] + " / " + pair[1]
		planned := name
		if s == Exploratory {
			planned = ""
		}
		j.add("pair", name, s, planned, name)
	}
	for _, level := range p.Among {
		if !slices.Contains(d.Among, level) {
			j.add("level", level, NotDone, level, "")
		}
	}
	j.same("reference", p.Reference, d.Reference)
}

// terms: each column beside what is compared, as it enters.
func (j *judging) terms() {
	for _, t := range j.d.Terms {
		if slices.Contains(j.p.Terms, t) {
			j.add(t.Kind, t.Name, Planned, t.Name, t.Name)
		} else {
			j.add(t.Kind, t.Name, Exploratory, "", t.Name)
		}
	}
	for _, t := range j.p.Terms {
		if !slices.Contains(j.d.Terms, t) {
			j.add(t.Kind, t.Name, NotDone, t.Name, "")
		}
	}
}

func (j *judging) model() {
	p, d := j.p, j.d
	j.same("link", p.Link, d.Link)
	j.same("family", p.Family, d.Family)
	j.same("check", check(p.Check), check(d.Check))
	j.same("bands", p.Bands, d.Bands)
	planned, done := strings.Join(p.random(), ", "), strings.Join(d.random(), ", ")
	if used := slices.Sorted(slices.Values(d.Used)); !p.Usual && planned == done && !slices.Equal(used, p.Random) {
		done = strings.Join((&Plan{Random: used}).random(), ", ") // asked for, but the rows do not carry it
	}
	j.same("random", planned, done)
	j.same("controls", p.Controls, d.Controls)
	j.same("adjust", p.Adjust, d.Adjust)
	j.same("level-of-limits", number(p.Level), number(d.Level))
	j.same("quadrature", number(float64(p.Quadrature)), number(float64(d.Quadrature)))
	switch planned, done := p.seasons(), d.seasons(); {
	case planned != "0" && done == "0":
		j.add("simulated", "", NotDone, planned, "")
	case planned == "0" && done != "0":
		j.add("simulated", "", Exploratory, "", done)
	default:
		j.same("simulated", planned, done)
	}
	if (p.seasons() != "0") && d.seasons() != "0" {
		j.same("seed", text(p.Seed), text(d.Seed))
	}
}

// rows: which enter, and what counts as consumed.
func (j *judging) rows() {
	p, d := j.p, j.d
	if p.Season != "" {
		j.same("season", p.Season, strings.Join(d.Seasons, ", "))
	}
	done := p.Protocol
	if len(d.Others) > 0 {
		done = strings.Join(d.Others, ", ")
	}
	j.same("protocol", p.Protocol, done)
	j.same("threshold", number(p.Fraction), number(d.Fraction))
	j.same("ways", strings.Join(p.Ways, ", "), strings.Join(d.Ways, ", "))
	j.same("soaks", hours(p.SoaksH), hours(d.SoaksH))
	j.add("lost-unread", "", Planned, "", "") // one form, one way
	switch n := text(uint64(d.OutByHand)); {
	case len(p.LeaveOut) > 0:
		j.add("left-out", "", Judge, strings.Join(p.LeaveOut, "; "), n)
	case d.OutByHand > 0:
		j.add("left-out", "", Exploratory, "", n)
	default:
		j.add("left-out", "", Planned, "", "")
	}
	for _, c := range []struct {
		part          string
		planned, done int
	}{{"sites", p.Sites, d.Sites}, {"rows", p.Rows, d.Rows}} {
		if c.planned > 0 {
			j.same(c.part, text(uint64(c.planned)), text(uint64(max(0, c.done))))
		}
	}
	if p.Baits > 0 {
		var in []string
		for _, n := range d.BaitsIn {
			in = append(in, text(uint64(n)))
		}
		j.same("baits", text(uint64(p.Baits)), strings.Join(in, ", "))
	}
}

// beside: what stands beside the result.
func (j *judging) beside() {
	for _, c := range []struct {
		part          string
		planned, done bool
	}{{"repeats", j.p.Repeats, j.d.Repeats}, {"closer", j.p.Closer, j.d.Closer}} {
		switch {
		case c.planned && c.done:
			j.add(c.part, "", Planned, "yes", "yes")
		case c.planned:
			j.add(c.part, "", NotDone, "yes", "")
		case c.done:
			j.add(c.part, "", Exploratory, "", "yes")
		}
	}
}
