package main

import (
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// A closer look's JSON fits the schema where everything, something and nothing
// could be looked at, and does not depend on the language.
func TestCloserFitsSchema(t *testing.T) {
	s, err := jsonschema.NewCompiler().Compile(schemas + "/compare.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	season(t)
	for _, args := range [][]string{{"demo/invented-season.logbook"}, {"edges.csv"}, {"none.csv"}, {"empty.logbook"},
		{"controls.csv", "--controls", "subtract", "--random", "none"}, {"edges.csv", "--check", "1", "--family", "betabinomial"}} {
		var outs []string
		for _, lang := range []string{"en", "es"} {
			code, out, errs := call(t, append([]string{"compare", "--json", "--refits", "3", "--lang", lang, "--look-closer", t.TempDir()}, args...)...)
			if code != 0 {
				t.Fatalf("%v: exit %d: %s", args, code, errs)
			}
			outs = append(outs, out)
		}
		if outs[0] != outs[1] {
			t.Errorf("%v: the JSON of a closer look depends on the language", args)
		}
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(outs[0]))
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(v); err != nil {
			t.Errorf("%v: %v", args, err)
		}
		if !strings.Contains(outs[0], `"closer": {`) {
			t.Errorf("%v: no closer look in the JSON", args)
		}
	}
}
