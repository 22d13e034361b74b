package compare

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"soakline/internal/mixed"
	"soakline/internal/words"
)

func source(t *testing.T, pattern string) string {
	t.Helper()
	files, err := filepath.Glob(pattern)
	if err != nil || len(files) == 0 {
		t.Fatal(pattern, err)
	}
	var b strings.Builder
	for _, f := range files {
		if strings.HasSuffix(f, "_test.go") {
			continue
		}
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		b.Write(text)
	}
	return b.String()
}

// told fails where a message has no sentence, or lacks a parameter, in any language.
func told(t *testing.T, messages []words.Message) {
	t.Helper()
	for _, m := range messages {
		if !words.Has(m.Slug) {
			t.Errorf("no sentence for %s", m.Slug)
			continue
		}
		for _, l := range words.Languages {
			if s := m.In(l); strings.ContainsAny(s, "⟨⟩") {
				t.Errorf("%s in %s: %s", m.Slug, l, s)
			}
		}
	}
}

// TestEveryNoticeIsTold: whatever package mixed can notice has its sentence, with
// its parameters, in every language; so has every way in which a fit can end.
func TestEveryNoticeIsTold(t *testing.T) {
	text := source(t, "../mixed/notice.go")
	slugs := regexp.MustCompile(`(?m)^\tSlug\w+ += "([a-z-]+)"`).FindAllStringSubmatch(text, -1)
	endings := regexp.MustCompile(`(?m)^\t\w+ +Ending = "([a-z-]+)"`).FindAllStringSubmatch(text, -1)
	if len(slugs) < 14 || len(endings) != 7 {
		t.Fatalf("%d slugs, %d endings found", len(slugs), len(endings))
	}
	for _, m := range append(slugs, []string{"", string(mixed.NoTrials)}) {
		for _, value := range []float64{-1, 1, 3} {
			f := &frame{seen: map[string]bool{}}
			f.tell(&mixed.Result{Notices: []mixed.Notice{{Slug: m[1], Term: "habitat=sand", Group: "site", Other: "deployment", Value: value}}})
			if len(f.messages) != 1 {
				t.Errorf("%s is not told", m[1])
			}
			told(t, f.messages)
		}
	}
	for _, m := range endings {
		if !words.Has("ending." + m[1]) {
			t.Errorf("no words for the ending %s", m[1])
		}
	}
}

// TestEverySayingHasItsSentence: what this room's code says stands in the
// catalogue, with no parameter that the code does not give; reasons of leaving out
// and names of variants have theirs.
func TestEverySayingHasItsSentence(t *testing.T) {
	text := source(t, "*.go")
	call := regexp.MustCompile(`\b(?:f\.say|wrong)\(((?:[^()]|\([^()]*\)|\((?:[^()]|\([^()]*\))*\))*)\)`)
	literal := regexp.MustCompile(`^"([a-z0-9.-]+)"`)
	name := regexp.MustCompile(`, "([a-z0-9_]+)", `)
	n := 0
	for _, m := range call.FindAllStringSubmatch(text, -1) {
		slug := literal.FindStringSubmatch(m[1])
		if slug == nil {
			if strings.HasPrefix(m[1], "n.Slug") || strings.HasPrefix(m[1], "slug string") {
				continue // notices, told above; the declaration
			}
			t.Errorf("a slug that this test cannot see: %s", m[1])
			continue
		}
		n++
		var given []string
		for _, p := range name.FindAllStringSubmatch(m[1], -1) {
			given = append(given, p[1])
		}
		if !words.Has(slug[1]) {
			t.Errorf("no sentence for %s", slug[1])
			continue
		}
		with := map[string]any{}
		for _, p := range given {
			with[p] = 2
		}
		told(t, []words.Message{{Slug: slug[1], With: with}})
	}
	if n < 18 {
		t.Errorf("only %d sayings found in the code", n)
	}
	for _, s := range []string{"variant.lost-survived", "variant.lost-consumed", "variant.without-open", "variant.without-site",
		"loss-decides-survived", "loss-decides-consumed", "limits-too-narrow-told", "limits-too-narrow-none", "compare.side-none", "compare.side-all", "compare.side-none-time", "compare.side-all-time", "compare.side-none-before",
		"left-out.no-factor", "left-out.no-covariate", "left-out.no-such-check", "left-out.merged-interval", "left-out.never-read",
		"random.site", "random.site-habitat", "random.date", "random.deployment", "random.column", "left-out.no-group"} {
		if !words.Has(s) {
			t.Errorf("no words for %s", s)
		}
	}
}

// TestNoSentenceIsIdle: nothing stands in this room's file that nothing says.
func TestNoSentenceIsIdle(t *testing.T) {
	toml := source(t, "../words/en/compare.toml")
	code := source(t, "*.go") + source(t, "../mixed/*.go")
	var idle []string
	for _, m := range regexp.MustCompile(`(?m)^"([a-z0-9.-]+)" = `).FindAllStringSubmatch(toml, -1) {
		if s := m[1]; !strings.Contains(code, `"`+s+`"`) && !strings.Contains(code, `"`+strings.TrimPrefix(s, "variant.")+`"`) {
			idle = append(idle, s)
		}
	}
	slices.Sort(idle)
	if len(idle) > 0 {
		t.Errorf("said by nothing: %v", idle)
	}
}
