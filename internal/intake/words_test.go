package intake

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"soakline/internal/words"
)

// Every slug this package writes down has its sentence, and every sentence of
// this room is used.
func TestWordsOfThisRoom(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var code strings.Builder
	for _, f := range files {
		if !strings.HasSuffix(f, "_test.go") {
			b, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			code.Write(b)
		}
	}
	for _, m := range regexp.MustCompile(`"(intake\.[a-z0-9.-]+[a-z0-9])"`).FindAllStringSubmatch(code.String(), -1) {
		if !words.Has(m[1]) {
			t.Errorf("no sentence for %s", m[1])
		}
	}
	for _, slug := range words.Slugs("intake.") {
		used := strings.Contains(code.String(), `"`+slug+`"`)
		short := strings.TrimPrefix(slug, "intake.")
		word, isOption := strings.CutPrefix(short, "option.")
		kind := strings.TrimSuffix(short, "-do") // told of foreign files by kind
		if !used && !(isOption && (strings.Contains(code.String(), `"`+word+`"`) || word == "present" || word == "consumed")) && !strings.HasPrefix(short, "list-") &&
			!strings.Contains(code.String(), `return "`+kind+`"`) {
			t.Errorf("%s is used nowhere", slug)
		}
	}
}
