package intake

import (
	"fmt"
	"soakline/internal/words"
	"strings"
	"testing"
)

// report writes what a reading says, for comparison with the files kept beside
// the shapes: questions, taken, notices, faults, then every record's fields.
func report(r *Reading) string {
	var b strings.Builder
	for _, m := range r.Maps {
		fmt.Fprintf(&b, "table %s\n", m.Table)
		for _, c := range m.Columns {
			fmt.Fprintf(&b, "  %q -> %s", c.Heading, c.To)
			if c.Unit != "" {
				fmt.Fprintf(&b, " (%s)", c.Unit)
			}
			b.WriteString("\n")
		}
	}
	for _, x := range r.Reasons {
		if x.To == "" {
			fmt.Fprintf(&b, "settled %s: %s\n", x.Where, en(x.Slug, x.With))
		}
	}
	for _, q := range r.Questions {
		var o []string
		for _, x := range q.Options {
			o = append(o, x.Value)
		}
		fmt.Fprintf(&b, "question %s\n  %s: %s\n  of %s; proposed %q: %s\n", q.Key, q.Where, en(q.Slug, q.With), strings.Join(o, ", "), q.Proposal, en(q.Why.Slug, q.Why.With))
	}
	for _, x := range r.Taken {
		fmt.Fprintf(&b, "taken %s = %s\n", x.Key, x.Value)
	}
	for _, n := range r.Notices {
		fmt.Fprintf(&b, "notice %s: %s\n", n.Place, en(n.Slug, n.With))
	}
	for _, f := range r.Faults {
		fmt.Fprintf(&b, "fault %s: %s; %s\n", f.Place, en(f.Wrong.Slug, f.Wrong.With), en(f.Do.Slug, f.Do.With))
	}
	for _, x := range r.Records {
		fmt.Fprintf(&b, "record %s\n", x.Where())
		v := x.Values()
		for _, k := range sortedKeys(v) {
			fmt.Fprintf(&b, "  %s = %s\n", k, v[k])
		}
	}
	return b.String()
}

func readAll(t testing.TB, c Context, files ...string) *Reading {
	t.Helper()
	var all []Table
	for i := 0; i+1 < len(files); i += 2 {
		tables, faults := Tables(files[i], []byte(files[i+1]), Options{})
		if len(faults) > 0 {
			t.Fatalf("%s: %+v", files[i], faults)
		}
		all = append(all, tables...)
	}
	return Read(all, c)
}

const canonical = `deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1,check2_at,consumed_by_check2,lost_by_check2,control,practice,notes,turbidity
D1,dock,sand,36.9512,-8.2034,2026-07-01T09:00+01:00,25,2026-07-01T10:02+01:00,3,0,2026-07-02T09:10+01:00,12,1,none,no,"calm, clear",4.5
D2,dock,seagrass,36.9513,-8.2030,2026-07-01T09:00Z,25,2026-07-01T10:02Z,26,0,,,,,,,
`

// The canonical sheet is read as it stands, without a question.
func TestCanonicalReadsByItself(t *testing.T) {
	r := readAll(t, Context{}, "c.csv", canonical)
	if !r.Whole() || len(r.Notices) > 0 || len(r.Records) != 2 {
		t.Fatal(report(r))
	}
	d, faults := r.Records[0].Deployment()
	if len(faults) > 0 || d.ID != "D1" || d.Covariates["turbidity"] != "4.5" || d.Notes != "calm, clear" || len(d.Checks) != 2 || d.Checks[1].Consumed.Or(-1) != 12 || d.Where.Line != 2 || d.PositionDecimals.Or(0) != 4 {
		t.Errorf("%+v %v", d, faults)
	}
	if d.ColumnsAsWritten["consumed_by_check2"] != "consumed_by_check2" {
		t.Errorf("headings %v", d.ColumnsAsWritten)
	}
	// 26 of 25 is impossible and reads well: that is for quality to judge.
	if got := r.Records[1].Get("consumed_by_check1"); got != "26" {
		t.Errorf("an impossible count came as %q", got)
	}
	for _, v := range []string{"check2_at", "consumed_by_check2", "lost_by_check2", "control"} {
		if got := r.Records[1].Get(v); got != "" {
			t.Errorf("empty %s came as %q", v, got)
		}
	}
}

// All faults in one pass, each with file, line, heading and value.
func TestFaultsInOnePass(t *testing.T) {
	r := readAll(t, Context{}, "bad.csv", `deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1,control
D1,dock,sand,36.95,-8.20,2026-07-01T09:00Z,25,9.65,3,0,
D2,dock,sand,north,-8.20,2026-07-01T09:00Z,twenty,2026-07-01T10:00Z,3.5,0,perhaps
`)
	var got []string
	for _, f := range r.Faults {
		got = append(got, f.Place.String()+" "+f.Wrong.Slug)
	}
	want := "bad.csv line 2, column check1_at sheet.instant.wrong|bad.csv line 3, column baits_deployed sheet.count.wrong|bad.csv line 3, column consumed_by_check1 sheet.count.wrong|bad.csv line 3, column control sheet.word.wrong|bad.csv line 3, column latitude place."
	if g := strings.Join(got, "|"); !strings.HasPrefix(g, want) || len(got) != 5 {
		t.Errorf("got\n%s\nwant\n%s", strings.ReplaceAll(g, "|", "\n"), strings.ReplaceAll(want, "|", "\n"))
	}
	if en(r.Faults[0].Wrong.Slug, r.Faults[0].Wrong.With) != `"9.65" is not a time` {
		t.Error(en(r.Faults[0].Wrong.Slug, r.Faults[0].Wrong.With))
	}
}

func en(slug string, with map[string]any) string {
	if slug == "" {
		return "-"
	}
	return words.English.Say(slug, with)
}
