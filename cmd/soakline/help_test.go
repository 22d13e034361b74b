package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"soakline/internal/words"
)

// tree is the tree of verbs, fresh each time.
func tree() *cobra.Command {
	return (&app{lang: words.English, out: os.Stdout, err: os.Stderr}).root()
}

// eachVerb goes through every verb and verb below a verb that is ours.
func eachVerb(c *cobra.Command, f func(c *cobra.Command)) {
	for _, s := range c.Commands() {
		if s.Name() == "help" || s.Name() == "completion" || s.Hidden {
			continue
		}
		f(s)
		eachVerb(s, f)
	}
}

// parses says why a line that a person may type is not one the program takes;
// nil when it is. It runs nothing.
func parses(line string) (*cobra.Command, error) {
	args, err := shellWords(line)
	if err != nil {
		return nil, err
	}
	root := tree()
	args = guardNumbers(root, args[1:])
	c, rest, err := root.Find(args)
	if err != nil {
		return nil, err
	}
	c.InitDefaultHelpFlag()
	if err := c.ParseFlags(rest); err != nil {
		return c, err
	}
	if c.PreRunE != nil {
		if err := c.PreRunE(c, nil); err != nil {
			return c, err
		}
	}
	if c.HasSubCommands() && c.HasParent() && c.Annotations[bareVerb] == "" {
		return c, c.RunE(c, nil)
	}
	return c, c.ValidateArgs(c.Flags().Args())
}

// shellWords parts a line as a shell does: quotes, and no more; it ends at > or |.
func shellWords(line string) ([]string, error) {
	var list []string
	var b strings.Builder
	var quote rune
	started, escaped := false, false
	flush := func() {
		if started {
			list = append(list, b.String())
			b.Reset()
			started = false
		}
	}
	for _, r := range line {
		switch {
		case escaped:
			b.WriteRune(r)
			escaped = false
		case r == '\\' && quote != '\'':
			escaped, started = true, true
		case quote != 0 && r == quote:
			quote = 0
		case quote != 0:
			b.WriteRune(r)
		case r == '"' || r == '\'':
			quote, started = r, true
		case r == ' ':
			flush()
		case r == '>' || r == '|':
			flush()
			return list, nil
		default:
			b.WriteRune(r)
			started = true
		}
	}
	flush()
	if quote != 0 {
		return nil, &usageError{text: "a quote without its end: " + line}
	}
	return list, nil
}

// Help of every verb has a use line, a sentence and examples, and each example
// is a line that the program takes.
func TestHelpOfEveryVerb(t *testing.T) {
	for _, lang := range []string{"en", "es"} {
		eachVerb(tree(), func(v *cobra.Command) {
			path := strings.Fields(v.CommandPath())[1:]
			code, out, errs := call(t, append(path, "--help", "--lang", lang)...)
			if code != exitDone || errs != "" {
				t.Errorf("%s --help: exit %d, %s", v.CommandPath(), code, errs)
			}
			if !strings.Contains(out, v.UseLine()) {
				t.Errorf("%s --help does not say %s", v.CommandPath(), v.UseLine())
			}
			if strings.Contains(out, "⟨") {
				t.Errorf("%s --help --lang %s lacks a sentence:\n%s", v.CommandPath(), lang, out)
			}
			if strings.TrimSpace(v.Example) == "" {
				t.Errorf("%s has no example", v.CommandPath())
			}
			for _, line := range strings.Split(v.Example, "\n") {
				line = strings.TrimSpace(line)
				if !strings.Contains(out, line) {
					t.Errorf("%s --help does not show its example %s", v.CommandPath(), line)
				}
				c, err := parses(line)
				if err != nil {
					t.Errorf("example of %s: %s: %v", v.CommandPath(), line, err)
					continue
				}
				if !strings.HasPrefix(c.CommandPath()+" ", v.CommandPath()+" ") {
					t.Errorf("example of %s calls %s: %s", v.CommandPath(), c.CommandPath(), line)
				}
			}
		})
	}
}

// Without a verb of its own, help lists every verb.
func TestHelpListsEveryVerb(t *testing.T) {
	_, out, _ := call(t, "--help")
	for _, v := range tree().Commands() {
		if !v.Hidden && !regexp.MustCompile(`(?m)^  `+v.Name()+` `).MatchString(out) {
			t.Errorf("soakline --help does not list %s", v.Name())
		}
	}
}

// Every line of a document that calls the program is one that it takes.
func TestLinesInDocumentsParse(t *testing.T) {
	var files []string
	for _, glob := range []string{"../../docs/*.md", "../../docs/reference/*.md", "../../README.md"} {
		found, err := filepath.Glob(glob)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, found...)
	}
	lines := 0
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(b), "\n") {
			line, typed := strings.CutPrefix(strings.TrimSpace(line), "$ ")
			line = strings.TrimPrefix(line, "./")
			if !typed || !strings.HasPrefix(line, "soakline ") {
				continue
			}
			lines++
			if _, err := parses(line); err != nil {
				t.Errorf("%s:%d: %s: %v", filepath.Base(file), i+1, line, err)
			}
		}
	}
	if lines < 40 {
		t.Errorf("only %d lines of the documents call the program", lines)
	}
}

// Flags say what they do, in both languages, and take no English word of cobra.
func TestFlagsAreSaid(t *testing.T) {
	eachVerb(tree(), func(v *cobra.Command) {
		v.Flags().VisitAll(func(f *pflag.Flag) {
			if strings.TrimSpace(f.Usage) == "" || strings.Contains(f.Usage, "⟨") {
				t.Errorf("%s --%s says %q", v.CommandPath(), f.Name, f.Usage)
			}
		})
	})
}

// TestVerbsByName: a command line that begins with a verb makes that verb alone,
// under the name that the list gives it; any other makes them all.
func TestVerbsByName(t *testing.T) {
	a := &app{lang: words.English, out: os.Stdout, err: os.Stderr}
	made := func(args ...string) (names []string) {
		for _, c := range a.root(args...).Commands() {
			if c.GroupID != "" && c.Name() != "help" && c.Name() != "completion" {
				names = append(names, c.Name())
			}
		}
		return names
	}
	for _, v := range a.verbs() {
		if name := v.make().Name(); name != v.name {
			t.Errorf("the verb %s is listed as %s", name, v.name)
		}
		if got := made(v.name, "--json"); !slices.Equal(got, []string{v.name}) {
			t.Errorf("%s makes %v", v.name, got)
		}
	}
	for _, args := range [][]string{nil, {"help"}, {"completion", "bash"}, {"__complete", "co"}, {"compar"}, {"--lang", "es", "compare"}} {
		if got := made(args...); len(got) != len(a.verbs()) {
			t.Errorf("%v makes %d verbs of %d", args, len(got), len(a.verbs()))
		}
	}
}
