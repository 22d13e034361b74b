package demo

import (
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/sheet"
)

// reading reads a team's files as package intake does, with the lists of a logbook at that step.
func reading(t *testing.T, s *Season, team string, edited bool, answers map[string]string) *intake.Reading {
	t.Helper()
	var tables []intake.Table
	for _, f := range s.Files() {
		if f.Team != team {
			continue
		}
		b := f.Bytes
		if again, ok := s.Edited(f.Name); ok && edited {
			b = again
		}
		some, faults := intake.Tables(f.Name, b, intake.Options{})
		if len(faults) > 0 {
			t.Fatalf("%s: %v", f.Name, faults[0])
		}
		tables = append(tables, some...)
	}
	var c intake.Context
	c.Answers = answers
	if team != "Brisa" {
		c.Habitats = []intake.Entry{{Name: seagrass}, {Name: sand}, {Name: reef}}
		for _, p := range crews()[0].sites {
			c.Sites = append(c.Sites, assay.Site{Name: p.name})
		}
		for _, a := range s.Answers() {
			if a.Step == List {
				c.Sites = append(c.Sites, assay.Site{Name: a.Written, Zone: a.Value})
			}
		}
	}
	return intake.Read(tables, c)
}

// steps are the answers of one team of one kind.
func steps(s *Season, team, step string) []Answer {
	var out []Answer
	for _, a := range s.Answers() {
		if a.Step == step && strings.HasPrefix(a.File, filePrefix+strings.ToLower(team)) {
			out = append(out, a)
		}
	}
	return out
}

// TestMended takes every team's files the whole way: reading asks exactly what
// Answers replies to, the rules find every planted mistake, and after the steps
// of Answers the records are the true ones.
func TestMended(t *testing.T) {
	for _, seed := range []uint64{DefaultSeed, 1, 2, 3, 4, 5, 6, 7} {
		s := Make(seed)
		clean := s.Clean()
		for _, c := range crews() {
			var want []assay.Deployment
			for _, d := range clean {
				if d.Team == c.name {
					want = append(want, d)
				}
			}
			mendTeam(t, s, c.name, want)
		}
	}
}

func mendTeam(t *testing.T, s *Season, team string, want []assay.Deployment) {
	t.Helper()
	// The file as it is: faults only where a step Edit mends one.
	edits := steps(s, team, Edit)
	asIs := reading(t, s, team, false, nil)
	if len(asIs.Faults) != len(edits) {
		t.Fatalf("seed %d, %s: %d faults, %d edits: %+v", s.Seed, team, len(asIs.Faults), len(edits), asIs.Faults)
	}
	for i, e := range edits {
		if at := asIs.Faults[i].Place; at.Line != e.Line || at.Column != e.Column {
			t.Errorf("%s: the fault stands at %s, the edit mends line %d, %s", team, at, e.Line, e.Column)
		}
	}
	// The questions are those that are replied to.
	var asked, replied []string
	answers := map[string]string{}
	for _, q := range asIs.Questions {
		asked = append(asked, q.Key)
	}
	for _, a := range steps(s, team, Reply) {
		if strings.HasPrefix(a.Question, "twice:") {
			continue // asked when a row is kept, not when it is read
		}
		replied = append(replied, a.Question)
		answers[a.Question] = a.Value
	}
	slices.Sort(asked)
	slices.Sort(replied)
	if d := cmp.Diff(replied, asked); d != "" {
		t.Errorf("seed %d, %s: replied to, and asked: %s", s.Seed, team, d)
	}
	r := reading(t, s, team, true, answers)
	if !r.Whole() {
		t.Fatalf("seed %d, %s: faults %v, questions %v", s.Seed, team, r.Faults, r.Questions)
	}
	var values []map[string]string
	var lines []int
	var sheets []string
	var read []assay.Deployment
	for _, x := range r.Records {
		values, lines, sheets = append(values, x.Values()), append(lines, x.Where().Line), append(sheets, x.Where().Sheet)
		d, faults := x.Deployment()
		if len(faults) > 0 {
			t.Fatalf("%s: %+v", team, faults[0])
		}
		read = append(read, d)
	}
	foundAll(t, s, team, read)
	for _, a := range s.Answers() {
		if a.Step != Correct && a.Step != Withdraw || !strings.HasPrefix(a.File, filePrefix+strings.ToLower(team)) {
			continue
		}
		at := slices.IndexFunc(values, func(v map[string]string) bool { return v["deployment_id"] == a.DeploymentID })
		if exact := slices.Index(lines, a.Line); exact >= 0 && values[exact]["deployment_id"] == strings.TrimSuffix(a.DeploymentID, "-2") && (a.Sheet == "" || sheets[exact] == a.Sheet) {
			at = exact // of two rows of one name, the one that the line tells
		}
		switch {
		case at < 0:
			t.Fatalf("%s: no row %s to mend", team, a.DeploymentID)
		case a.Step == Withdraw:
			values, lines, sheets = slices.Delete(values, at, at+1), slices.Delete(lines, at, at+1), slices.Delete(sheets, at, at+1)
		default:
			values[at][a.Field] = a.Value
		}
	}
	var got []assay.Deployment
	for _, v := range values {
		d, faults := sheet.Deployment(v)
		if len(faults) > 0 {
			t.Fatalf("%s: %+v", team, faults[0])
		}
		got = append(got, d)
	}
	if d := cmp.Diff(want, got, append([]cmp.Option{cmpopts.SortSlices(func(a, b assay.StakeFate) bool { return a.Check*1000+a.Stake < b.Check*1000+b.Stake })}, exact...)...); d != "" {
		t.Errorf("seed %d, %s, true and mended: %s", s.Seed, team, d)
	}
}

// foundAll holds the findings of the unmended records against what was planted.
func foundAll(t *testing.T, s *Season, team string, read []assay.Deployment) {
	t.Helper()
	found := judge(read)
	for _, p := range s.Planted() {
		if p.Finding == "" || !strings.HasPrefix(p.File, filePrefix+strings.ToLower(team)) {
			continue
		}
		if !slices.ContainsFunc(found, func(f assay.Finding) bool {
			return f.DeploymentID == p.DeploymentID && f.Slug == p.Finding && string(f.Severity) == p.FoundBy
		}) {
			t.Errorf("seed %d, %s: %s of row %s is not found as %s %s", s.Seed, team, p.What, p.DeploymentID, p.FoundBy, p.Finding)
			for _, f := range found {
				if f.DeploymentID == p.DeploymentID {
					t.Logf("  found: %s %s check %d", f.Severity, f.Slug, f.Check)
				}
			}
		}
	}
}

// TestTutorialTakesEveryStep: the tutorial mends what Answers mends, with the same values.
func TestTutorialTakesEveryStep(t *testing.T) {
	text, err := os.ReadFile("../../docs/tutorial.md")
	if err != nil {
		t.Fatal(err)
	}
	commands := ""
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "$ ") {
			commands += strings.ReplaceAll(line, `"`, "")
		}
	}
	for _, a := range Make(DefaultSeed).Answers() {
		want := map[string]string{List: a.Written + " --zone " + a.Value, Correct: a.Field + "=" + a.Value, Reply: a.Question + "=" + a.Value, Withdraw: "withdraw season.logbook " + a.DeploymentID,
			Confirm: a.DeploymentID + " " + a.Finding, Edit: "s/;" + a.Written + ";/;" + a.Value + ";/"}[a.Step]
		if !strings.Contains(commands, want) {
			t.Errorf("the tutorial does not %s %s: %s", a.Step, a.DeploymentID, want)
		}
	}
}
