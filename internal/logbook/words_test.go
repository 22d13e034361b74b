package logbook

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"soakline/internal/words"
)

// TestSentences: every slug of this room has its sentence in every language,
// no sentence is left over, and each uses only the parameters that stand
// beside the slug's constant.
func TestSentences(t *testing.T) {
	constant := regexp.MustCompile(`(?m)^\s+(?:Slug|Ask|Fault)\w+\s*= "(logbook\.[a-z-]+)"(?:[ \t]*//[ \t]?(.*))?$`)
	params := map[string][]string{}
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".go") {
			continue
		}
		text, err := os.ReadFile(e.Name())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range constant.FindAllStringSubmatch(string(text), -1) {
			list, _, _ := strings.Cut(m[2], ";")
			params[m[1]] = strings.FieldsFunc(list, func(r rune) bool { return r == ',' || r == ' ' })
		}
	}
	if len(params) < 50 {
		t.Fatalf("found only %d slugs", len(params))
	}
	for _, slug := range words.Slugs("logbook.") {
		if _, ok := params[slug]; !ok {
			t.Errorf("a sentence for %s, which nothing says", slug)
		}
	}
	for slug, names := range params {
		with := map[string]any{}
		for _, name := range names {
			with[name] = "value"
		}
		for _, lang := range words.Languages {
			if s := lang.Say(slug, with); strings.ContainsAny(s, "⟨⟩") {
				t.Errorf("%s in %s: %s (parameters %v)", slug, lang, s, names)
			}
		}
	}
	if !slices.Contains(words.Slugs("logbook."), SlugBusy) {
		t.Error("no sentence for a busy logbook")
	}
}
