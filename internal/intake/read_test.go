package intake

import (
	"fmt"
	"soakline/internal/assay"
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

// A block above the table gives day and position for all its lines.
func TestBlockAboveTheTable(t *testing.T) {
	r := readAll(t, Context{}, "day.csv", `Invented class outing
Site: Mill Steps
Date: 23/06/2026
Coordinates: 54.2083 N 3.0850 W
Time zone: Europe/London
row,habitat,set,baits,time 1 h,eaten 1 h
A,sand,09:00,25,10:05,2
B,rock,09:20,25,10:19,11
`)
	if len(r.Faults) > 0 || len(r.Records) != 2 {
		t.Fatal(report(r))
	}
	checkShape(t, "block", r, map[string]string{"A site": "Mill Steps", "A deployed_at": "2026-06-23T09:00+01:00[Europe/London]", "B check1_at": "2026-06-23T10:19+01:00[Europe/London]",
		"B latitude": "54.2083", "A longitude": "-3.0850"})
}

// The datasheet's own columns take no halves: a day alone is not a time.
func TestOwnColumnsWantBothHalves(t *testing.T) {
	r := readAll(t, Context{}, "c.csv", "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed\nD1,dock,sand,36.95,-8.2,2026-07-01,25\n")
	if len(r.Faults) != 1 || r.Faults[0].Wrong.Slug != "sheet.instant.wrong" {
		t.Fatal(report(r))
	}
}

// A local time without offset in the canonical sheet is asked about once, and
// read by the site list's zone where there is one.
func TestBareTimes(t *testing.T) {
	const text = "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1\nD1,dock,sand,36.9512,-8.2034,2026-07-01 09:00,25,2026-07-01T10:00,3,0\n" +
		"D2,dock,sand,36.9512,-8.2034,2026-03-29T01:30,25,2026-03-29T03:00,3,0\n"
	r := readAll(t, Context{Answers: map[string]string{"zone": "Europe/Lisbon"}}, "c.csv", text)
	// On 2026-03-29 at 01:00 the clock in Lisbon goes to 02:00: 01:30 never came.
	if len(r.Questions) != 1 || r.Questions[0].Key != "clock:Europe/Lisbon:2026-03-29 01:30" || r.Questions[0].Slug != "intake.ask-clock-never" {
		t.Fatal(report(r))
	}
	for _, o := range r.Questions[0].Options {
		if o.Value != "2026-03-29T02:30+01:00[Europe/Lisbon]" && o.Value != "2026-03-29T00:30Z[Europe/Lisbon]" {
			t.Errorf("option %s", o.Value)
		}
	}
	for _, wrong := range []string{"Lisbon", "Mars/Base", "+25:00"} {
		r := readAll(t, Context{Answers: map[string]string{"zone": wrong}}, "c.csv", text)
		if len(r.Faults) != 1 || r.Faults[0].Wrong.Slug != "intake.zone-unknown" {
			t.Errorf("zone %s: %s", wrong, report(r))
		}
	}
	r = readAll(t, Context{Answers: map[string]string{"zone": "+01:00"}}, "c.csv", text)
	checkShape(t, "offset", r, map[string]string{"D1 deployed_at": "2026-07-01T09:00+01:00", "D2 deployed_at": "2026-03-29T01:30+01:00"})
	r = readAll(t, Context{Sites: []assay.Site{{Name: "dock", Zone: "Atlantic/Azores"}}}, "c.csv", text)
	checkShape(t, "list", r, map[string]string{"D1 deployed_at": "2026-07-01T09:00Z[Atlantic/Azores]"})
}

// Values that differ from the lists are asked with the likeliest entry.
func TestLists(t *testing.T) {
	c := Context{Habitats: []Entry{{Name: "seagrass", Synonyms: []string{"zostera"}}, {Name: "sand"}}, Sites: []assay.Site{{Name: "North Dock", Zone: "UTC"}}}
	r := readAll(t, c, "v.csv", "id,site,habitat,lat,lon,set out,baits\n1,north dock,ZOSTERA,1,2,2026-07-01T09:00Z,25\n2,Nort Dock,arena,1,2,2026-07-01T09:00Z,25\n3,Far Reef,SG,1,2,2026-07-01T09:00Z,25\n4,Far Reef,kelp,1,2,2026-07-01T09:00Z,25\n")
	var got []string
	for _, q := range r.Questions {
		got = append(got, q.Key+"="+q.Proposal)
	}
	want := "value:site:Nort Dock=North Dock|value:habitat:arena=sand|value:habitat:SG=seagrass|value:habitat:kelp=new"
	if g := strings.Join(got, "|"); g != want {
		t.Errorf("asked %s, want %s", g, want)
	}
	checkShape(t, "lists", r, map[string]string{"1 site": "North Dock", "1 habitat": "seagrass", "3 site": "Far Reef"})
	c.Answers = map[string]string{"value:habitat:kelp": "moon"}
	r = readAll(t, c, "v.csv", "id,site,habitat,lat,lon,set out,baits\n4,Far Reef,kelp,1,2,2026-07-01T09:00Z,25\n")
	if len(r.Faults) != 1 || r.Faults[0].Wrong.Slug != "intake.answer-unknown" {
		t.Error(report(r))
	}
}

// Checks and sightings beside the deployments; lines that name no deployment,
// or disagree, are faults.
func TestTablesTogether(t *testing.T) {
	const rows = "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed\nD1,dock,sand,36.9512,-8.2034,2026-07-01T09:00Z,4\n"
	r := readAll(t, Context{}, "d.csv", rows,
		"c.csv", "deployment_id,check,checked_at,consumed,lost,unread\nD1,2,2026-07-02T09:00Z,3,1,0\nD1,1,2026-07-01T10:00Z,1,0,1\n",
		"s.csv", "deployment_id,from,to,method,effort,effort_unit,taxon,count,took_bait,absence_looked_for\nD1,2026-07-01T09:10Z,2026-07-01T09:40Z,video,30,min,Diplodus vulgaris,3,yes,no\n",
		"t.csv", "deployment_id,stake,check,fate,how\nD1,1,1,consumed,bait gone\nD1,2,1,present,\n")
	if !r.Whole() || len(r.Records) != 1 {
		t.Fatal(report(r))
	}
	d, faults := r.Records[0].Deployment()
	if len(faults) > 0 || len(d.Checks) != 2 || d.Checks[0].Unread.Or(0) != 1 || d.Checks[1].Lost.Or(0) != 1 || len(d.Stakes) != 2 || d.Stakes[0].How != assay.BaitGone ||
		len(d.Sightings) != 1 || d.Sightings[0].Count.Or(0) != 3 || d.Sightings[0].From.At.Minute() != 10 {
		t.Errorf("%+v %v", d, faults)
	}
	r = readAll(t, Context{}, "d.csv", rows, "c.csv", "deployment_id,check,checked_at,consumed,lost\nD9,1,2026-07-02T09:00Z,3,1\nD1,1,2026-07-01T10:00Z,1,0\nD1,1,2026-07-01T10:00Z,2,0\nD1,x,2026-07-01T10:00Z,2,0\n")
	var got []string
	for _, f := range r.Faults {
		got = append(got, fmt.Sprintf("%d %s", f.Line, f.Wrong.Slug))
	}
	if g := strings.Join(got, "|"); g != "2 intake.id-unknown|4 intake.lines-disagree|5 sheet.count.wrong" {
		t.Errorf("%s\n%s", g, report(r))
	}
	// Alone, a table of checks that names sites makes the deployments itself.
	r = readAll(t, Context{}, "long.csv", "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check,checked_at,consumed,lost\nD1,dock,sand,36.95,-8.2,2026-07-01T09:00Z,25,1,2026-07-01T10:00Z,3,0\nD1,dock,sand,36.95,-8.2,2026-07-01T09:00Z,25,2,2026-07-02T10:00Z,9,0\n")
	if !r.Whole() || len(r.Records) != 1 || r.Records[0].Get("consumed_by_check2") != "9" || r.Records[0].Get("site") != "dock" {
		t.Error(report(r))
	}
}

// What a person says of a column holds against its heading and values.
func TestCorrectedColumn(t *testing.T) {
	const text = "id,site,habitat,lat,lon,set out,baits,gone 1 h,swell\n1,a,b,1,2,2026-07-01T09:00Z,25,3,2.5\n"
	r := readAll(t, Context{Answers: map[string]string{"map:swell": "visibility_m", "map:gone 1 h": "lost_by_check1"}}, "m.csv", text)
	if !r.Whole() || r.Records[0].Get("visibility_m") != "2.5" || r.Records[0].Get("lost_by_check1") != "3" {
		t.Error(report(r))
	}
	r = readAll(t, Context{Answers: map[string]string{"map:swell": "moon", "meaning:gone": "gone"}}, "m.csv", text)
	if len(r.Faults) != 1 || r.Faults[0].Do.Slug != "intake.map-choose" {
		t.Error(report(r))
	}
}

// Names that only look alike stay apart; spellings of one name become one.
func TestNamesApart(t *testing.T) {
	var b strings.Builder
	b.WriteString("deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed\n")
	n := 0
	add := func(site string, times int) {
		for range times {
			n++
			fmt.Fprintf(&b, "D%d,%s,sand,36.95,-8.2,2026-07-01T09:00Z,25\n", n, site)
		}
	}
	for _, s := range []string{"north bay", "south bay", "reef (north)", "reef (south)", "site A", "site B", "site 1", "site 2", "dock+", "dock"} {
		add(s, 1+9*(n%2)) // some often, some once
	}
	add("Site_1", 1)
	r := readAll(t, Context{}, "n.csv", b.String())
	if !r.Whole() {
		t.Fatal(report(r))
	}
	sites := map[string]int{}
	for _, x := range r.Records {
		sites[x.Get("site")]++
	}
	if len(sites) != 10 {
		t.Errorf("%v", sites)
	}
}

// In the datasheet's own columns an empty cell is empty and a clock alone is
// no time: nothing is filled in by habit.
func TestOwnColumnsAreNotFilledIn(t *testing.T) {
	r := readAll(t, Context{}, "c.csv", "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1\n"+
		"D1,dock,sand,36.95,-8.2,2026-07-01T09:00Z,25,2026-07-01T10:00Z,3,\nD2,,,36.95,-8.2,2026-07-01T09:00Z,25,2026-07-01T10:00Z,,\n")
	if !r.Whole() || r.Records[1].Get("habitat") != "" || r.Records[1].Get("consumed_by_check1") != "" || r.Records[0].Get("lost_by_check1") != "" {
		t.Error(report(r))
	}
	for _, at := range []string{"10:02", "0.4"} {
		r = readAll(t, Context{}, "c.csv", "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1\nD1,dock,sand,36.95,-8.2,2026-07-01T09:00Z,25,"+at+",3,0\n")
		if len(r.Faults) != 1 || r.Faults[0].Column != "check1_at" {
			t.Errorf("%s: %s", at, report(r))
		}
	}
}

// What stands beside a table is used for what holds for a whole sheet, and for
// nothing else: a total is not the number of baits, a remark not a row's note.
func TestBesideTheTable(t *testing.T) {
	r := readAll(t, Context{Baits: 25}, "b.csv", "# note: invented\nTotal: 50\nTeam: Blue\nid,site,habitat,set out,gone 1 h,lost 1 h\n1,a,b,2026-07-01T09:00Z,3,0\n")
	if len(r.Questions) != 1 || r.Questions[0].Key != "baits" || r.Questions[0].Proposal != "25" {
		t.Error(report(r))
	}
	x := r.Records[0]
	if x.Get("team") != "Blue" || x.Get("notes") != "" {
		t.Error(report(r))
	}
}

// Bare counts that fall from check to check are baits left only where they
// cannot be counts of each interval.
func TestFallingCounts(t *testing.T) {
	const head = "id,site,habitat,set out,baits,1 h,24 h\n"
	r := readAll(t, Context{}, "f.csv", head+"1,a,b,2026-07-01T09:00Z,25,9,4\n2,a,b,2026-07-01T09:00Z,25,12,11\n3,a,b,2026-07-01T09:00Z,25,3,2\n")
	if len(r.Questions) == 0 || r.Questions[0].Key != "meaning:check" {
		t.Error(report(r))
	}
	r = readAll(t, Context{Answers: map[string]string{"meaning:check": "each"}}, "f.csv", head+"1,a,b,2026-07-01T09:00Z,25,9,4\n2,a,b,2026-07-01T09:00Z,25,12,11\n3,a,b,2026-07-01T09:00Z,25,3,2\n")
	if !r.Whole() || r.Records[1].Get("consumed_by_check2") != "23" {
		t.Error(report(r))
	}
	r = readAll(t, Context{}, "f.csv", head+"1,a,b,2026-07-01T09:00Z,25,22,14\n2,a,b,2026-07-01T09:00Z,25,25,11\n3,a,b,2026-07-01T09:00Z,25,13,2\n")
	if !r.Whole() || r.Records[1].Get("consumed_by_check2") != "14" {
		t.Error(report(r))
	}
}

// Two columns of one name are both kept, and neither takes the other's place.
func TestSameHeadingTwice(t *testing.T) {
	r := readAll(t, Context{}, "t.csv", "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,notes,notes,wind,wind\nD1,a,b,1,2,2026-07-01T09:00Z,25,one,two,3,4\n")
	if !r.Whole() {
		t.Fatal(report(r))
	}
	checkShape(t, "twice", r, map[string]string{"D1 notes": "one", "D1 notes 2": "two", "D1 wind": "3", "D1 wind 2": "4"})
	if r := readAll(t, Context{}, "t.csv", "deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed\n"); len(r.Records) != 0 || len(r.Notices) != 1 {
		t.Error(report(r))
	}
}

// TestNewNamesAreComparedWithEachOther: where a site list exists, a rare
// misspelling of a name that is new in the same file was taken as another new
// site without a word.
func TestNewNamesAreComparedWithEachOther(t *testing.T) {
	var b strings.Builder
	b.WriteString("deployment_id,site,habitat,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1\n")
	for i := range 8 {
		site := "Marnoca"
		if i == 7 {
			site = "Marnocca"
		}
		fmt.Fprintf(&b, "D%d,%s,sand,2026-07-%02dT09:00Z,25,2026-07-%02dT10:00Z,3,0\n", i, site, i+1, i+1)
	}
	tables, faults := Tables("new.csv", []byte(b.String()), Options{})
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	r := Read(tables, Context{Sites: []assay.Site{{Name: "Zarpel"}}})
	if len(r.Questions) != 1 || r.Questions[0].Key != "value:site:Marnocca" || r.Questions[0].Proposal != "Marnoca" {
		t.Errorf("asked %v, want one question about Marnocca", r.Questions)
	}
}
