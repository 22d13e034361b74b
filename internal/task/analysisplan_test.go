package task

import (
	"context"
	"errors"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"soakline/internal/compare"
	"soakline/internal/logbook"
	"soakline/internal/plan"
	"soakline/internal/report"
)

// notPlanned are the fields of a comparison's options that are no decision: what
// the season brings, and how the work is done.
var notPlanned = []string{"Workers", "Protocols", "Default", "Findings", "NoRepeat", "Progress"}

// Every decision that a comparison takes stands in a plan, and comes back from
// its text: a new option without a place in a plan fails here.
func TestEveryOptionIsPlanned(t *testing.T) {
	ty := reflect.TypeFor[compare.Options]()
	base := compare.Options{By: "habitat", Covariates: []string{"a", "b"}}
	settled, err := PlanIn(plan.Plan{Protocol: "standard 1"}, base)
	if err != nil {
		t.Fatal(err)
	}
	other := map[string]string{"Link": "logit", "Family": "betabinomial", "Bands": "checks", "Controls": "subtract", "Adjust": "none"}
	for i := range ty.NumField() {
		f := ty.Field(i)
		if !f.IsExported() || slices.Contains(notPlanned, f.Name) {
			continue
		}
		o := base
		v := reflect.ValueOf(&o).Elem().Field(i)
		switch v.Kind() {
		case reflect.String:
			v.SetString("x")
			if s := other[f.Name]; s != "" {
				v.SetString(s)
			}
		case reflect.Slice:
			v.Set(reflect.ValueOf([]string{"a"}))
		case reflect.Int:
			v.SetInt(3)
		case reflect.Uint64:
			v.SetUint(3)
		case reflect.Float64:
			v.SetFloat(0.9)
		case reflect.Bool:
			v.SetBool(true)
		default:
			t.Fatalf("%s is of a kind this test does not know", f.Name)
		}
		switch f.Name {
		case "Family":
			o.Check = 1
		case "Together":
			o.Together = []string{"time,a"}
		}
		p, err := PlanIn(plan.Plan{Protocol: "standard 1"}, o)
		if err != nil {
			t.Errorf("%s: %v", f.Name, err)
			continue
		}
		if p.Same(settled) {
			t.Errorf("%s has no place in a plan", f.Name)
		}
		q, err := plan.Read(p.Text())
		if err != nil {
			t.Errorf("%s: %v", f.Name, err)
			continue
		}
		again, err := PlanIn(plan.Plan{Protocol: "standard 1"}, OptionsOf(q))
		if err != nil || !again.Same(p) {
			t.Errorf("%s is lost on the way to the text and back: %v\n%s", f.Name, err, cmp.Diff(p, again))
		}
	}
}

// plannedRows are two habitats at two sites, set out on and after 1 July 2025.
func plannedRows() []map[string]string {
	var rows []map[string]string
	for i, consumed := range []string{"4", "12", "6", "14"} {
		day := string(rune('1' + i))
		rows = append(rows, map[string]string{"deployment_id": "D" + day, "site": []string{"north", "south"}[i/2], "habitat": []string{"sand", "reef"}[i%2], "season": "2025",
			"latitude": "36.95", "longitude": "-8.2", "baits_deployed": "25", "deployed_at": "2025-07-0" + day + "T09:00:00Z", "check1_at": "2025-07-0" + day + "T10:00:00Z", "consumed_by_check1": consumed, "lost_by_check1": "0"})
	}
	return rows
}

func on(day string) By {
	at, err := time.Parse("2006-01-02 15:04", day+" 12:00")
	if err != nil {
		panic(err)
	}
	return By{Who: "Ana Ejemplo", When: at, Why: "invented"}
}

func compared(t *testing.T, book *logbook.Book, o compare.Options) *plan.Standing {
	t.Helper()
	s, err := Of(context.Background(), book, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	o.Random = []string{}
	k, err := s.Compare(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	return k.Plan
}

// By hand: rows set out on 1, 2, 3 and 4 July. A plan of 1 June is before the data,
// one of 2 July noon after two rows, whenever the rows were typed in.
func TestPlanAndData(t *testing.T) {
	ctx := context.Background()
	book := bookOf(t, filepath.Join(t.TempDir(), "a.logbook"), nil, on("2025-05-01"))
	early, fresh, err := KeepPlan(ctx, book, plan.Plan{}, compare.Options{Random: []string{}}, on("2025-06-01"))
	if err != nil || !fresh || early.RowsThen != 0 {
		t.Fatal(early, fresh, err)
	}
	if again, fresh, err := KeepPlan(ctx, book, plan.Plan{}, compare.Options{Random: []string{}}, on("2025-06-09")); err != nil || fresh || again.SHA256 != early.SHA256 {
		t.Error("the same plan is kept twice", err)
	}
	mid, _, err := KeepPlan(ctx, book, plan.Plan{}, compare.Options{Random: []string{}, Link: "logit"}, on("2025-07-02"))
	if err != nil || mid.RowsThen != 0 { // nothing has been typed in yet
		t.Fatal(mid.RowsThen, err)
	}
	for _, v := range plannedRows() {
		if _, err := Add(ctx, book, v, on("2025-07-08")); err != nil {
			t.Fatal(err)
		}
	}
	s := compared(t, book, compare.Options{Covariates: nil})
	if s.SHA256 != early.SHA256 || !s.BeforeData || s.RowsBefore != 0 || len(s.With(plan.Changed)) > 0 || len(s.Others) != 1 {
		t.Errorf("%+v", s)
	}
	if got, err := KeepPlan3(ctx, book); err != nil || got.RowsThen != 4 {
		t.Errorf("a plan kept with four rows there says %d, %v", got.RowsThen, err)
	}
	if _, err := WithdrawPlan(ctx, book, early.Short(), false, on("2025-07-09")); err != nil {
		t.Fatal(err)
	}
	s = compared(t, book, compare.Options{})
	if s.SHA256 != mid.SHA256 || s.BeforeData || s.RowsThen != 0 || s.RowsBefore != 2 {
		t.Errorf("without the early plan: %+v", s)
	}
	if len(s.Others) != 2 || !s.Others[0].Withdrawn || s.Others[0].Why != "invented" {
		t.Errorf("the withdrawn plan left no trace: %+v", s.Others)
	}
	var refused *Refused
	if _, err := WithdrawPlan(ctx, book, early.Short(), false, on("2025-07-09")); !errors.As(err, &refused) || refused.Slug != "task.plan-is-withdrawn" {
		t.Error("withdrawn twice", err)
	}
	if _, err := WithdrawPlan(ctx, book, "2025-06-01", true, on("2025-07-10")); err != nil {
		t.Fatal(err)
	}
	if s = compared(t, book, compare.Options{}); s.SHA256 != early.SHA256 {
		t.Error("a plan brought back does not count")
	}
	// A withdrawn row is a decision after the fact.
	if err := Withdraw(ctx, book, "D4", on("2025-07-11")); err != nil {
		t.Fatal(err)
	}
	s = compared(t, book, compare.Options{})
	if out := s.With(plan.Exploratory); len(out) != 1 || out[0].Part != "left-out" || out[0].Done != "1" {
		t.Errorf("%+v", out)
	}
}

// KeepPlan3 is a third plan, with all rows there.
func KeepPlan3(ctx context.Context, book *logbook.Book) (plan.Kept, error) {
	k, _, err := KeepPlan(ctx, book, plan.Plan{Season: "2025"}, compare.Options{Random: []string{}, Level: 0.9}, on("2025-07-20"))
	return k, err
}

// A plan for one season counts its rows alone, and is run on them alone.
func TestPlanOfOneSeason(t *testing.T) {
	ctx := context.Background()
	book := bookOf(t, filepath.Join(t.TempDir(), "a.logbook"), plannedRows(), on("2025-07-08"))
	k, _, err := KeepPlan(ctx, book, plan.Plan{Season: "2026"}, compare.Options{Random: []string{}}, on("2026-06-01"))
	if err != nil || k.RowsThen != 0 {
		t.Fatal(k.RowsThen, err)
	}
	s, err := Of(ctx, book, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	var refused *Refused
	if _, err := s.Only("2026"); !errors.As(err, &refused) {
		t.Error("a season without rows is compared", err)
	}
	for _, v := range plannedRows() {
		v["season"], v["deployed_at"], v["check1_at"] = "2026", strings.Replace(v["deployed_at"], "2025", "2026", 1), strings.Replace(v["check1_at"], "2025", "2026", 1)
		if _, err := Add(ctx, book, v, on("2026-07-08")); err != nil {
			t.Fatal(err)
		}
	}
	st := compared(t, book, compare.Options{})
	if !st.BeforeData || len(st.With(plan.Changed)) != 1 || st.With(plan.Changed)[0].Done != "2025, 2026" {
		t.Errorf("all seasons: %+v", st.With(plan.Changed))
	}
	if s, err = Of(ctx, book, time.Time{}); err != nil {
		t.Fatal(err)
	}
	if s, err = s.Only("2026"); err != nil || len(s.Deployments) != 4 {
		t.Fatal(err)
	}
	r, err := s.Compare(ctx, compare.Options{Random: []string{}})
	if err != nil || !r.Plan.BeforeData || r.Deployments != 4 || len(r.Plan.With(plan.Changed)) != 0 {
		t.Errorf("%v %+v", err, r.Plan)
	}
}

// Plans of two copies of one logbook stand beside each other after a merge, and a
// row that the other copy held before the plan is counted.
func TestPlansMerge(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	ours, theirs := filepath.Join(dir, "ours.logbook"), filepath.Join(dir, "theirs.logbook")
	book := bookOf(t, ours, nil, on("2025-05-01"))
	if err := Backup(ctx, book, theirs); err != nil {
		t.Fatal(err)
	}
	other, err := Open(ctx, theirs, false)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range plannedRows()[:2] {
		if _, err := Add(ctx, other, v, on("2025-07-02")); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err := KeepPlan(ctx, other, plan.Plan{}, compare.Options{Adjust: "none"}, on("2025-07-03")); err != nil {
		t.Fatal(err)
	}
	other.Close()
	k, _, err := KeepPlan(ctx, book, plan.Plan{}, compare.Options{}, on("2025-07-02"))
	if err != nil || k.RowsThen != 0 {
		t.Fatal(k.RowsThen, err)
	}
	if m, err := Merge(ctx, book, theirs, nil, on("2025-07-05")); err != nil || len(m.Questions) > 0 {
		t.Fatal(m, err)
	}
	s := compared(t, book, compare.Options{})
	if s.BeforeData || s.RowsThen != 0 || s.RowsBefore != 2 || len(s.Others) != 1 {
		t.Errorf("%+v", s)
	}
	if faults, err := Verify(ctx, ours); err != nil || len(faults) > 0 {
		t.Error(faults, err)
	}
}

// A text that no longer fits its hash counts for nothing, and verify says so; the
// rest of the logbook works on.
func TestPlanBroken(t *testing.T) {
	ctx := context.Background()
	book := bookOf(t, filepath.Join(t.TempDir(), "a.logbook"), plannedRows(), on("2025-07-08"))
	k, _, err := KeepPlan(ctx, book, plan.Plan{}, compare.Options{}, on("2025-07-09"))
	if err != nil {
		t.Fatal(err)
	}
	err = book.Change(ctx, func(tx *logbook.Tx) error {
		_, err := tx.Correct(k.Key, map[string]string{"text": strings.Replace(k.Text, "seed: 0", "seed: 2", 1)}, on("2025-07-10").stamp())
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	s := compared(t, book, compare.Options{})
	if s.Has() || len(s.Others) != 1 || !s.Others[0].Broken {
		t.Errorf("%+v", s)
	}
	path := filepath.Join(t.TempDir(), "copy.logbook")
	if err := Backup(ctx, book, path); err != nil {
		t.Fatal(err)
	}
	if faults, err := Verify(ctx, path); err != nil || len(faults) != 1 || faults[0].Slug != "task.plan-broken" {
		t.Error(faults, err)
	}
}

// The report and the folder for a paper say what was planned; a logbook without a
// plan says so in one line.
func TestReportTellsThePlan(t *testing.T) {
	ctx := context.Background()
	book := bookOf(t, filepath.Join(t.TempDir(), "a.logbook"), nil, on("2025-05-01"))
	say := func() string {
		s, err := Of(ctx, book, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		in, err := ReportInput(ctx, s, ReportOptions{Lang: "en", Asked: compare.Options{Random: []string{}}})
		if err != nil {
			t.Fatal(err)
		}
		page, err := report.Page(*in)
		if err != nil {
			t.Fatal(err)
		}
		return string(page)
	}
	if _, _, err := KeepPlan(ctx, book, plan.Plan{Repeats: true, Closer: true}, compare.Options{Random: []string{}, Level: 0.9}, on("2025-06-01")); err != nil {
		t.Fatal(err)
	}
	for _, v := range plannedRows() {
		if _, err := Add(ctx, book, v, on("2025-07-08")); err != nil {
			t.Fatal(err)
		}
	}
	page := say()
	for _, want := range []string{"Analysis plan of 2025-06-01", "kept before the first row was set out", "confidence level (planned 0.9, done 0.95)", "closer look at the model"} {
		if !strings.Contains(page, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	if strings.Contains(page, "Planned, but not in this result") {
		t.Error("a report repeats the comparison and looks closer, so nothing planned is missing")
	}
}
