package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/spf13/cobra"
)

const schemas = "../../docs/reference/json"

// schemaOf names the schema of a verb: its path with dashes.
func schemaOf(v *cobra.Command) string {
	return strings.Join(strings.Fields(v.CommandPath())[1:], "-") + ".schema.json"
}

// Every verb that prints JSON has a published schema, and every schema a verb.
func TestEveryJSONHasSchema(t *testing.T) {
	wanted := map[string]bool{}
	eachVerb(tree(), func(v *cobra.Command) {
		if v.Flags().Lookup("json") != nil {
			wanted[schemaOf(v)] = true
		}
	})
	found, err := filepath.Glob(schemas + "/*.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for _, f := range found {
		there[filepath.Base(f)] = true
		if !wanted[filepath.Base(f)] {
			t.Errorf("%s belongs to no verb with --json", f)
		}
	}
	for name := range wanted {
		if !there[name] {
			t.Errorf("docs/reference/json/%s is missing", name)
		}
	}
}

// The seasons that outputs are taken from: the invented one, one whose rows are
// at every edge, and a sheet that asks.
const (
	edges = `deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1,unread_at_check1,check2_at,consumed_by_check2,lost_by_check2,check3_at,consumed_by_check3,lost_by_check3,control
E1,dock,sand,36.9512,-8.2034,2025-07-01T09:00Z,25,2025-07-01T10:00Z,10,0,0,2025-07-02T09:00Z,13,10,,,,none
E2,dock,reef,36.9522,-8.2044,2025-07-01T09:10Z,25,2025-07-01T10:00Z,0,0,2,2025-07-02T09:00Z,0,0,2025-07-03T09:00Z,4,0,none
E3,quay,reef,36.9532,-8.2154,2025-07-01T09:20Z,25,2025-07-01T10:00Z,25,0,0,2025-07-02T09:00Z,25,0,,,,none
E4,quay,sand,36.9542,-8.2164,2025-07-01T09:30Z,25,2025-07-01T10:00Z,5,0,0,2025-07-02T09:00Z,9,0,2025-07-03T09:00Z,15,1,none
E5,quay,sand,36.9552,-8.2174,2025-07-01T09:40Z,25,2025-07-01T10:00Z,26,0,0,,,,,,,none
E6,quay,sand,36.9562,-8.2184,2025-07-01T09:50Z,25,2025-07-01T10:00Z,1,0,0,,,,,,,shielded
E7,dock,mud,36.9572,-8.2194,2025-07-01T09:50Z,25,2025-07-01T11:00Z,0,25,0,,,,,,,none
E8,quay,mud,36.9582,-8.2204,2025-07-01T09:55Z,25,2025-07-01T11:00Z,0,0,0,2025-07-02T10:00Z,0,0,,,,none
`
	controls = `deployment_id,site,habitat,control,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1
D1,dock,sand,none,36.9512,-8.2034,2025-07-01T09:00Z,25,2025-07-01T10:02Z,9,0
D2,dock,seagrass,none,36.9522,-8.2044,2025-07-01T09:20Z,25,2025-07-01T10:21Z,12,0
C1,dock,sand,shielded,36.9532,-8.2034,2025-07-01T09:10Z,25,2025-07-01T10:12Z,1,0
C2,dock,seagrass,shielded,36.9542,-8.2044,2025-07-01T09:25Z,25,2025-07-01T10:26Z,2,0
`
	plain = `deployment_id,site,habitat,latitude,longitude,deployed_at,baits_deployed,check1_at,consumed_by_check1,lost_by_check1
D1,dock,sand,36.9512,-8.2034,2025-07-01T09:00Z,25,2025-07-01T10:02Z,9,0
D2,dock,seagrass,36.9522,-8.2044,2025-07-01T09:20Z,25,2025-07-01T10:21Z,12,0
`
)

func put(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// season makes a folder with a logbook, two copies of it that disagree, one
// that is damaged, and the sheets.
func season(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	put(t, "edges.csv", edges)
	put(t, "plain.csv", plain)
	if err := os.Mkdir("corrected", 0o755); err != nil {
		t.Fatal(err)
	}
	put(t, "corrected/plain.csv", strings.Replace(plain, ",12,", ",13,", 1))
	put(t, "controls.csv", controls)
	put(t, "none.csv", strings.NewReplacer(",9,", ",0,", ",12,", ",0,").Replace(plain))
	must := func(args ...string) {
		t.Helper()
		if code, out, errs := call(t, args...); code > exitUnmet {
			t.Fatalf("%v: exit %d\n%s%s", args, code, out, errs)
		}
	}
	must("demo", "--out", "demo")
	must("place", "rows", "plain.csv", "--out", "rows.gpx")
	must("new", "empty.logbook")
	must("new", "ours.logbook", "--zone", "Europe/Lisbon")
	must("import", "ours.logbook", "plain.csv")
	must("site", "set", "ours.logbook", "dock", "--latitude", "36.95", "--longitude", "-8.2", "--also", "the dock")
	must("habitat", "set", "ours.logbook", "sand", "--also", "arena")
	put(t, "cosine.csv", "name,amplitude_m,phase_deg\nZ0,2,0\nS2,1,0\n")
	put(t, "logger.csv", "at,temperature_c\n2025-07-01T09:00Z,18.5\n2025-07-01T10:00Z,18.7\n")
	must("new", "sea.logbook")
	must("site", "set", "sea.logbook", "spit", "--latitude", "36.95", "--longitude", "-8.2", "--bed", "0.2,0.1", "--constituents", "cosine.csv", "--access", "1.5",
		"--walk", "25m", "--permit", "A1", "--permit", "A2=2026-06-01", "--logger", "logger.csv", "--sensitive", "yes")
	must("site", "set", "sea.logbook", "bare")
	must("batch", "new", "ours.logbook", "B1", "--kind", "squid", "--form", "disc", "--size", "13")
	must("batch", "check", "ours.logbook", "B1", "--sizes", "13 12 15", "--on", "2026-06-21")
	must("cards", "answers", "ours.logbook", "Ana", "111111222222", "--seed", "3")
	must("cards", "answers", "ours.logbook", "Ben", "111111111111", "--seed", "3")
	must("new", "planned.logbook")
	must("plan", "analysis", "planned.logbook", "--covariate", "temperature_c", "--leave-out", "rows that fell dry")
	must("import", "planned.logbook", "plain.csv")
	must("backup", "ours.logbook", "theirs.logbook")
	must("correct", "ours.logbook", "D1", "latitude=36.96", "--why", "here")
	must("correct", "theirs.logbook", "D1", "latitude=36.97", "--why", "there")
	b, err := os.ReadFile("theirs.logbook")
	if err != nil {
		t.Fatal(err)
	}
	for i := len(b) / 3; i < len(b)*2/3; i++ {
		b[i] ^= 0x55
	}
	put(t, "damaged.logbook", string(b))
}

// outputs are calls whose JSON is held against the schema of the verb.
var outputs = map[string][][]string{
	"findings.schema.json": {{"findings", "edges.csv"}, {"findings", "ours.logbook"}, {"findings", "empty.logbook"}, {"findings", "demo/invented-season.logbook"}},
	"rates.schema.json": {{"rates", "edges.csv"}, {"rates", "edges.csv", "--group", "site", "--interval", "jeffreys"}, {"rates", "edges.csv", "--group", "none"},
		{"rates", "empty.logbook"}, {"rates", "demo/invented-season.logbook"}},
	"compare.schema.json": {{"compare", "edges.csv"}, {"compare", "edges.csv", "--link", "logit", "--check", "1"}, {"compare", "none.csv"}, {"compare", "empty.logbook"},
		{"compare", "plain.csv", "--random", "none", "--bootstrap", "3"}, {"compare", "controls.csv", "--controls", "subtract", "--random", "none"}, {"compare", "edges.csv", "--sensitivity"}, {"compare", "planned.logbook"}, {"compare", "planned.logbook", "--by", "site"}, {"compare", "demo/invented-season.logbook"}},
	"import.schema.json": {{"import", "ours.logbook", "plain.csv"}, {"import", "ours.logbook", "corrected/plain.csv", "--look"}, {"import", "ours.logbook", "edges.csv", "--yes"}},
	"publish.schema.json": {
		{"publish", "plain.csv", "--out", "open", "--title", "T", "--licence", "CC0-1.0", "--contact-name", "A", "--contact-email", "a@example.org", "--date", "2026-01-31"},
		{"publish", "edges.csv", "--preview", "--title", "T", "--licence", "CC0-1.0", "--contact-name", "A", "--contact-email", "a@example.org", "--date", "2026-01-31"},
	},
	"prep.schema.json":          {{"prep", "--rows", "24", "--helpers", "4"}, {"prep", "edges.csv", "--rows", "3", "--form", "square", "--bait", "10"}},
	"stakes.schema.json":        {{"stakes", "ours.logbook"}, {"stakes", "ours.logbook", "--at", "2025-08-01"}, {"stakes", "empty.logbook"}},
	"batch-list.schema.json":    {{"batch", "list", "ours.logbook"}, {"batch", "list", "empty.logbook"}},
	"batch-show.schema.json":    {{"batch", "show", "ours.logbook", "B1"}},
	"cards-readers.schema.json": {{"cards", "readers", "ours.logbook"}, {"cards", "readers", "empty.logbook"}},
	"plan-analysis.schema.json": {{"plan", "analysis", "ours.logbook", "--question", "?"}, {"plan", "analysis", "planned.logbook"}},
	"plan-list.schema.json":     {{"plan", "list", "planned.logbook"}, {"plan", "list", "empty.logbook"}},
	"plan-show.schema.json":     {{"plan", "show", "planned.logbook"}},
	"verify.schema.json":        {{"verify", "ours.logbook"}, {"verify", "damaged.logbook"}},
	"merge.schema.json":         {{"merge", "ours.logbook", "theirs.logbook"}, {"merge", "ours.logbook", "theirs.logbook", "--answer", "D1.latitude=theirs"}},
	"site-list.schema.json":     {{"site", "list", "ours.logbook"}, {"site", "list", "empty.logbook"}, {"site", "list", "sea.logbook"}},
	"site-show.schema.json":     {{"site", "show", "ours.logbook", "dock"}, {"site", "show", "sea.logbook", "spit", "--on", "2026-07-01"}},
	"habitat-list.schema.json":  {{"habitat", "list", "ours.logbook"}, {"habitat", "list", "empty.logbook"}},
	"protocol-list.schema.json": {{"protocol", "list"}, {"protocol", "list", "ours.logbook"}},
}

// What every verb prints with --json is what its schema says: contract first,
// no clock time, the same bytes when asked again, nothing on stderr mixed in.
func TestJSONFitsSchema(t *testing.T) {
	compiled := map[string]*jsonschema.Schema{}
	for name := range outputs {
		c := jsonschema.NewCompiler()
		s, err := c.Compile(filepath.Join(schemas, name))
		if err != nil {
			t.Fatal(err)
		}
		compiled[name] = s
	}
	season(t)
	year := regexp.MustCompile(`"20[0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-9:]+\.[0-9]+Z"`)
	for name, calls := range outputs {
		for _, args := range calls {
			args = append(args, "--json")
			code, out, errs := call(t, args...)
			if code > exitUnmet {
				t.Errorf("%v: exit %d: %s", args, code, errs)
				continue
			}
			v, err := jsonschema.UnmarshalJSON(strings.NewReader(out))
			if err != nil {
				t.Errorf("%v: %v", args, err)
				continue
			}
			if err := compiled[name].Validate(v); err != nil {
				t.Errorf("%v: %v", args, err)
			}
			if !strings.HasPrefix(out, "{\n  \"contract\": 1,\n") {
				t.Errorf("%v does not begin with its contract: %.40s", args, out)
			}
			if s := year.FindString(out); s != "" {
				t.Errorf("%v holds a time of the clock: %s", args, s)
			}
			if args[0] == "import" || args[0] == "merge" || args[0] == "publish" {
				continue // the second call finds it done
			}
			if _, again, _ := call(t, args...); again != out {
				t.Errorf("%v gives other bytes when asked again", args)
			}
			if _, spanish, _ := call(t, append(args, "--lang", "es")...); spanish != out {
				t.Errorf("%v depends on the language", args)
			}
		}
	}
}

// A key too many, too few or of another type does not pass: the test above can fail.
func TestSchemaRefuses(t *testing.T) {
	s, err := jsonschema.NewCompiler().Compile(filepath.Join(schemas, "rates.schema.json"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	put(t, "edges.csv", edges)
	_, out, _ := call(t, "rates", "edges.csv", "--json")
	for _, change := range []func(m map[string]any){
		func(m map[string]any) { m["made_at"] = "now" },
		func(m map[string]any) { delete(m, "seed") },
		func(m map[string]any) { m["contract"] = 2 },
		func(m map[string]any) { m["deployments"].([]any)[0].(map[string]any)["rate"] = 1 },
	} {
		var m map[string]any
		if err := json.NewDecoder(bytes.NewReader([]byte(out))).Decode(&m); err != nil {
			t.Fatal(err)
		}
		change(m)
		if s.Validate(m) == nil {
			t.Error("a changed result passes its schema")
		}
	}
}
