package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"soakline/internal/sheet"
	"soakline/internal/words"
)

var update = flag.Bool("update", false, "write what the program says of itself into docs/reference")

func reference(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("../../docs/reference", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// section is the part of a document under a heading, up to the next of its level.
func section(text, heading string) string {
	_, rest, ok := strings.Cut(text, "\n"+heading+"\n")
	if !ok {
		return ""
	}
	level, _, _ := strings.Cut(heading, " ")
	if end := strings.Index(rest, "\n"+level+" "); end >= 0 {
		rest = rest[:end]
	}
	return rest
}

// verbSection is what command.md says of a verb before any note of its own: use,
// meaning, examples, flags.
func verbSection(v *cobra.Command) string {
	var b strings.Builder
	fmt.Fprintf(&b, "\n%s\n\n```console\n%s\n", v.Long, v.UseLine())
	for _, line := range strings.Split(v.Example, "\n") {
		fmt.Fprintf(&b, "$ %s\n", strings.TrimSpace(line))
	}
	b.WriteString("```\n\n")
	flags := 0
	v.LocalNonPersistentFlags().VisitAll(func(f *pflag.Flag) {
		if f.Name == "help" {
			return
		}
		if flags++; flags == 1 {
			b.WriteString("| flag | what it does | without it |\n|---|---|---|\n")
		}
		fmt.Fprintf(&b, "| `--%s` | %s | %s |\n", f.Name, f.Usage, plainDefault(f))
	})
	if flags > 0 {
		b.WriteString("\n")
	}
	return b.String()
}

func plainDefault(f *pflag.Flag) string {
	switch f.DefValue {
	case "false", "[]", "":
		return ""
	}
	return "`" + f.DefValue + "`"
}

// docs/reference/command.md has a section for every verb, with its use line,
// examples and flags as the program itself tells them. What stands below them
// in a section is written by hand; -update keeps it.
func TestCommandDocument(t *testing.T) {
	text := reference(t, "command.md")
	known := map[string]bool{}
	var b strings.Builder
	head, _, _ := strings.Cut(text, "\n## `soakline ")
	b.WriteString(strings.TrimRight(head, "\n") + "\n")
	eachVerb(tree(), func(v *cobra.Command) {
		heading := "## `" + v.CommandPath() + "`"
		known[heading] = true
		own, should := section(text, heading), verbSection(v)
		fmt.Fprintf(&b, "\n%s\n%s", heading, should)
		if notes := notesOf(own); notes != "" {
			b.WriteString(notes + "\n")
		}
		if !*update && !strings.HasPrefix(own, should) && own != strings.TrimRight(should, "\n") && own+"\n" != should {
			t.Errorf("command.md: %s is not told as the program tells it; run go test ./cmd/soakline -run Document -update", heading)
		}
	})
	for _, m := range regexp.MustCompile("(?m)^## `soakline .*`$").FindAllString(text, -1) {
		if !known[m] {
			t.Errorf("command.md: there is no verb %s", m)
		}
	}
	tree().PersistentFlags().VisitAll(func(f *pflag.Flag) {
		if !strings.Contains(head, "\n| `--"+f.Name+"` |") {
			t.Errorf("command.md: no line for --%s above the verbs", f.Name)
		}
	})
	rewrite(t, "command.md", strings.TrimRight(b.String(), "\n")+"\n")
}

// notesOf is what is written by hand in a section: below the last table or code.
func notesOf(own string) string {
	end := max(strings.LastIndex(own, "\n|"), strings.LastIndex(own, "\n```\n"))
	if end < 0 {
		return ""
	}
	_, notes, _ := strings.Cut(own[end+1:], "\n")
	return strings.TrimSpace(notes)
}

func rewrite(t *testing.T, name, text string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(filepath.Join("../../docs/reference", name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// docs/reference/json.md names every key of every schema under the heading of its verb.
func TestJSONDocument(t *testing.T) {
	text := reference(t, "json.md")
	files, err := filepath.Glob(schemas + "/*.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		var s map[string]any
		if err := json.Unmarshal(b, &s); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		own := section(text, "## `"+s["title"].(string)+"`")
		if own == "" {
			t.Errorf("json.md has no section ## `%s`", s["title"])
			continue
		}
		for _, key := range keysOf(s) {
			if !regexp.MustCompile("[`.]" + regexp.QuoteMeta(key) + `(\[\])?[\x60.]`).MatchString(own) {
				t.Errorf("json.md: %s: no key %s", s["title"], key)
			}
		}
	}
}

// keysOf lists the property names anywhere in a schema.
func keysOf(v any) []string {
	var keys []string
	switch x := v.(type) {
	case map[string]any:
		if p, ok := x["properties"].(map[string]any); ok {
			for k := range p {
				keys = append(keys, k)
			}
		}
		for _, inner := range x {
			keys = append(keys, keysOf(inner)...)
		}
	case []any:
		for _, inner := range x {
			keys = append(keys, keysOf(inner)...)
		}
	}
	return keys
}

// docs/reference/datasheet.md has one line for every column of every table, with
// meaning, unit, words, range and when it is required, as package sheet has them.
func TestDatasheetDocument(t *testing.T) {
	text := reference(t, "datasheet.md")
	for _, table := range []sheet.Table{sheet.Wide, sheet.Checks, sheet.Stakes, sheet.Sightings} {
		heading := "## Table `" + string(table) + "`"
		own := section(text, heading)
		if own == "" {
			t.Errorf("datasheet.md has no section %s", heading)
			continue
		}
		should := "| column | meaning | holds | believable | |\n|---|---|---|---|---|\n"
		for _, c := range sheet.Columns(table) {
			should += columnLine(c) + "\n"
		}
		is := tableOf(own)
		if is != should && !*update {
			t.Errorf("datasheet.md: %s differs from package sheet; run go test ./cmd/soakline -run Document -update", heading)
		}
		text = inSection(text, heading, is, should)
	}
	rewrite(t, "datasheet.md", text)
}

// tableOf is the first table of a section.
func tableOf(own string) string {
	return regexp.MustCompile(`(?m)(^\|.*\n)+`).FindString(own)
}

// inSection puts should in the place of is below a heading.
func inSection(text, heading, is, should string) string {
	from := strings.Index(text, "\n"+heading+"\n")
	return text[:from] + strings.Replace(text[from:], is, should, 1)
}

// columnLine is the line of datasheet.md for one column.
func columnLine(c sheet.Column) string {
	holds := map[sheet.Kind]string{
		sheet.Text: "text", sheet.Count: "whole number", sheet.Number: "number", sheet.Degrees: "decimal degrees",
		sheet.Instant: "time", sheet.Word: "one of: " + strings.Join(c.Words, ", "), sheet.Flag: "yes or no", sheet.Depth: "time, or the word datum",
	}[c.Kind]
	if c.Unit != "" && c.Kind != sheet.Degrees {
		holds += ", " + c.Unit
	}
	between := ""
	if c.Max > c.Min {
		between = fmt.Sprintf("%s to %s", sheet.FormatNumber(c.Min), sheet.FormatNumber(c.Max))
	}
	when := "optional"
	switch {
	case c.Required:
		when = "required"
	case c.Asked:
		when = "wanted"
	}
	return fmt.Sprintf("| `%s` | %s | %s | %s | %s |", c.Name, words.English.Say(c.Slug(), nil), holds, between, when)
}

// told are the slugs that stand in JSON, by section of messages.md, and how the
// catalogue names them.
var told = []struct {
	heading, prefix string
	is              func(slug string) bool
}{
	{"## Why a row is left out", "left-out.", func(s string) bool { return true }},
	{"## Messages of `rates`", "rate", func(s string) bool {
		return !strings.HasPrefix(s, "rates-option-") && !strings.HasPrefix(s, "rates-impossible-") && !strings.Contains(s, ".")
	}},
	{"## Messages of `compare`", "", func(s string) bool {
		// Slugs of other rooms have a prefix; these bare ones are no messages of a
		// comparison.
		others := []string{"invented", "control", "practice", "blocked", "never-read", "impossible"}
		return !strings.Contains(s, ".") && !strings.HasPrefix(s, "rate") && !strings.HasPrefix(s, "loss-decides-") && !strings.HasPrefix(s, "limits-too-narrow-") && !slices.Contains(others, s)
	}},
	{"## How a fit ended", "ending.", func(s string) bool { return true }},
	{"## Questions of `merge`", "logbook.ask-", func(s string) bool { return true }},
	{"## Faults found by `verify`", "logbook.fault-", func(s string) bool { return true }},
}

// docs/reference/messages.md has a line for every slug that stands in JSON, with
// the sentence that people read and, written by hand, what to do.
func TestMessagesDocument(t *testing.T) {
	text := reference(t, "messages.md")
	cell := regexp.MustCompile("(?m)^\\| `([a-z.-]+)` \\| .* \\| (.*) \\|$")
	for _, k := range told {
		own := section(text, k.heading)
		advice := map[string]string{}
		for _, m := range cell.FindAllStringSubmatch(own, -1) {
			advice[m[1]] = m[2]
		}
		should := "| slug | sentence | what to do |\n|---|---|---|\n"
		for _, slug := range words.Slugs(k.prefix) {
			if !k.is(slug) {
				continue
			}
			name := slug
			if strings.HasSuffix(k.prefix, ".") {
				name = strings.TrimPrefix(slug, k.prefix)
			}
			if advice[name] == "" {
				t.Errorf("messages.md: %s: nobody says what to do about %s: %s", k.heading, name, words.English.Say(slug, nil))
			}
			should += fmt.Sprintf("| `%s` | %s | %s |\n", name, strings.ReplaceAll(words.English.Say(slug, nil), "|", "/"), advice[name])
		}
		is := tableOf(own)
		if is != should && !*update {
			t.Errorf("messages.md: %s differs from the catalogue; run go test ./cmd/soakline -run Document -update", k.heading)
		}
		text = inSection(text, k.heading, is, should)
	}
	rewrite(t, "messages.md", text)
}
