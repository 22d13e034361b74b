package place

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestEverySlugHasItsSentence: what the code can say stands in the catalogue,
// with no parameter that the code does not give; and nothing else stands there.
// (That both languages agree is the catalogue's own test.)
func TestEverySlugHasItsSentence(t *testing.T) {
	raw, err := os.ReadFile("../words/en/place.toml")
	if err != nil {
		t.Fatal(err)
	}
	sentences := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^"place\.([a-z0-9-]+)" = "(.*)"$`).FindAllStringSubmatch(string(raw), -1) {
		sentences[m[1]] = m[2]
	}
	said := map[string][]string{}
	call := regexp.MustCompile(`\b(?:ask|refuse)\((axisName\[i\]\+)?"([a-z0-9-]+)"([^\n]*)`)
	name := regexp.MustCompile(`, "([a-z_]+)", `)
	files, _ := filepath.Glob("*.go")
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range call.FindAllStringSubmatch(string(b), -1) {
			var names []string
			for _, n := range name.FindAllStringSubmatch(m[3], -1) {
				names = append(names, n[1])
			}
			slugs := []string{m[2]}
			if m[1] != "" {
				slugs = []string{"latitude" + m[2], "longitude" + m[2]}
			}
			for _, s := range slugs {
				said[s] = names
			}
		}
		for _, m := range regexp.MustCompile(`Slug: "place\.([a-z-]+)", LatDeg`).FindAllStringSubmatch(string(b), -1) {
			said[m[1]] = []string{"latitude", "longitude"}
		}
	}
	if len(said) < 40 {
		t.Fatalf("only %d slugs found in the code", len(said))
	}
	for s, names := range said {
		text, ok := sentences[s]
		if !ok {
			t.Errorf("no sentence for %s", s)
		}
		for _, p := range regexp.MustCompile(`\{([a-z_]+)`).FindAllStringSubmatch(text, -1) {
			if !slices.Contains(names, p[1]) {
				t.Errorf("%s wants %s, the code gives %v", s, p[1], names)
			}
		}
	}
	for s := range sentences {
		if _, ok := said[s]; !ok {
			t.Errorf("nothing says %s", s)
		}
	}
}
