package intake

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestAnswerKindsAreWhole: every question that the code asks has its kind in
// AnswerKinds, else its answer would be refused.
func TestAnswerKindsAreWhole(t *testing.T) {
	key := regexp.MustCompile(`Key:\s*"([a-z-]+)`)
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range key.FindAllStringSubmatch(string(b), -1) {
			found++
			if !slices.Contains(AnswerKinds, m[1]) {
				t.Errorf("%s asks %s, which is no kind of answer", f, m[1])
			}
		}
	}
	if found < 10 {
		t.Fatalf("only %d questions found in the code", found)
	}
}
