package main

import (
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// outside is what stands outside ⟦…⟧ in pseudo-language output: text that never
// went through the catalogue, beside data.
func outside(text string) string {
	depth := 0
	var b strings.Builder
	for _, r := range text {
		switch r {
		case '⟦':
			depth++
		case '⟧':
			depth--
			b.WriteByte(' ')
		default:
			if depth == 0 {
				b.WriteRune(r)
			}
		}
	}
	return b.String()
}

// data are words that output may hold in every language: what the test's own
// season says, names of columns, files, flags, rules and verbs, and the words of
// a flag that are typed as they are.
func data(t *testing.T) map[string]bool {
	t.Helper()
	known := map[string]bool{}
	add := func(s string) {
		for _, w := range letters.FindAllString(s, -1) {
			known[w] = true
		}
	}
	add(edges + plain)
	add(`edges asks csv logbook xlsx json html soakline ours theirs empty damaged Europe Lisbon the dock arena
		deployment_id key standard school day baits m apart read after h and
		p SD latitude longitude Row Place Habitat Date Start Gone answer day-order counts meaning value
		first month cumulative each new left lost gone day-first month-first beyond zone blocks`)
	for _, slug := range findingSlugs(t) {
		add(slug)
	}
	eachVerb(tree(), func(v *cobra.Command) { add(v.CommandPath()) })
	return known
}

var letters = regexp.MustCompile(`\p{L}{2,}`)

func findingSlugs(t *testing.T) []string {
	t.Helper()
	var list []string
	for _, m := range regexp.MustCompile("(?m)^### `([a-z-]+)`").FindAllStringSubmatch(reference(t, "findings.md"), -1) {
		list = append(list, m[1])
	}
	return list
}

// In the pseudo-language every sentence of the catalogue stands in brackets;
// what is left are numbers, marks and data, no English.
func TestNoStrayStrings(t *testing.T) {
	known := data(t)
	season(t)
	put(t, "asks.csv", "Row;Place;Habitat;Date;Start;Baits;Gone 1h;Gone 24h\n1;dock;sand;03/07/2025;9:00;25;5;9\n2;dock;reef;04/07/2025;9:00;25;8;12\n")
	put(t, "unread.csv", strings.Replace(plain, ",9,", ",nine,", 1))
	calls := [][]string{
		{"findings", "edges.csv"}, {"findings", "ours.logbook"}, {"findings", "unread.csv"},
		{"rates", "edges.csv"}, {"rates", "edges.csv", "--group", "site"}, {"rates", "none.csv"},
		{"compare", "edges.csv"}, {"compare", "plain.csv", "--random", "none", "--bootstrap", "3"}, {"compare", "none.csv"},
		{"compare", "plain.csv", "--by", "frog"}, {"compare", "plain.csv", "--random", "frog"},
		{"import", "empty.logbook", "asks.csv"}, {"import", "empty.logbook", "asks.csv", "--yes", "--look", "--reasons"},
		{"import", "ours.logbook", "plain.csv"}, {"import", "ours.logbook", "edges.csv", "--yes"},
		{"merge", "ours.logbook", "theirs.logbook"}, {"verify", "ours.logbook"}, {"verify", "damaged.logbook"},
		{"site", "list", "ours.logbook"}, {"site", "list", "empty.logbook"}, {"habitat", "list", "ours.logbook"}, {"protocol", "list"},
		{"site", "set", "ours.logbook", "dock", "--zone", "Europe/Lisbon"}, {"habitat", "set", "ours.logbook", "sand"},
		{"add", "ours.logbook", "site=dock"}, {"correct", "ours.logbook", "D1", "latitude=36.99", "--why", "x"}, {"correct", "ours.logbook", "D1", "latitude=36.99"},
		{"withdraw", "ours.logbook", "D2", "--why", "x"}, {"undo", "ours.logbook", "D2"}, {"new", "ours.logbook"},
		{"backup", "ours.logbook", "theirs.logbook"}, {"restore", "theirs.logbook", "ours.logbook"}, {"answer", "ours.logbook", "D1", "lost-share-high", "x"},
		{"rates"}, {"frog"}, {"rates", "frog.csv"}, {"rates", "plain.csv", "--interval", "frog"}, {"rates", "plain.csv", "--level", "2"}, {"site"},
	}
	for _, args := range calls {
		_, out, errs := call(t, append(args, "--lang", "xx")...)
		text := out + errs
		if strings.Contains(text, "⟨") {
			t.Errorf("%v: a slug or a parameter is missing: %s", args, line(text, "⟨"))
		}
		if !strings.Contains(text, "⟦") {
			t.Errorf("%v prints nothing of the catalogue: %q", args, text)
		}
		for _, w := range letters.FindAllString(outside(text), -1) {
			if !known[w] && w != "frog" {
				t.Errorf("%v: %q never went through the catalogue: %s", args, w, line(outside(text), w))
			}
		}
	}
}

// Help of every verb, too: what is left are names of verbs, flags and files.
func TestNoStrayStringsInHelp(t *testing.T) {
	eachVerb(tree(), func(v *cobra.Command) {
		_, out, _ := call(t, append(strings.Fields(v.CommandPath())[1:], "--help", "--lang", "xx")...)
		out = strings.ReplaceAll(out, v.Example, "")
		left := outside(out)
		left = regexp.MustCompile(`(?m)^ +soakline .*$`).ReplaceAllString(left, "")                // use lines
		left = regexp.MustCompile(`(?m)^ +(-\w, )?--[a-z-]+( [\w|]+)?`).ReplaceAllString(left, "") // flags and what they take
		left = regexp.MustCompile(`(?m)^  [a-z]+ `).ReplaceAllString(left, "")                     // verbs below it
		left = regexp.MustCompile(`\([a-zà-ž⟦]* ?default .*\)|\(default .*\)`).ReplaceAllString(left, "")
		if m := regexp.MustCompile(`(?m):( [a-z0-9-]+,?)+ *$`).FindString(left); m != "" { // words of a flag
			left = regexp.MustCompile(`(?m):( [a-z0-9-]+,?)+ *$`).ReplaceAllString(left, "")
		}
		if w := letters.FindString(left); w != "" {
			t.Errorf("%s --help: %q never went through the catalogue: %s", v.CommandPath(), w, line(left, w))
		}
	})
}

// line is the first line of a text that holds a word.
func line(text, word string) string {
	for _, l := range strings.Split(text, "\n") {
		if strings.Contains(l, word) {
			return strings.TrimSpace(l)
		}
	}
	return ""
}
