package main

import (
	"fmt"
	"math"
	"strings"
)

const head = `# Studies

Do the methods hold the rates they state? Written by ` + "`make studies`" + ` (` + "`tools/studies`" + `),
which draws seasons from known truths, bait by bait and without the code under
test, runs the program's own estimators on them and counts. Every figure stands
with its Monte Carlo standard error; *draws* is the number of seasons. Seeded
(20260501): the same tables on every machine.

Limits are of a stated 95 %, tests at a stated 5 %. A rate counts as held where
limits hold the truth in 93.5 % or more and a test finds what is not there in
6.5 % or less (our own limits). **Bold**: missed by more than two standard errors; then
the message in the last column is what the program says at that place, and in how
many of those seasons it did. (?): missed by less, so that more draws would tell.
A run goes on where the last one stopped; where *draws* are few, chance is large.

`

// render writes the page from the sums kept.
func render(studies []study, dir string) (string, error) {
	var b strings.Builder
	b.WriteString(head)
	for _, s := range studies {
		kept, err := load(dir, s.name)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(&b, "## %s\n\n%s\n\n", s.title, s.about)
		b.WriteString(s.table(kept))
		b.WriteString("\n")
	}
	return b.String(), nil
}

func (s study) table(kept map[string]*tally) string {
	var b strings.Builder
	b.WriteString("| truth | draws |")
	rule := "|---|---|"
	for _, c := range s.columns {
		if c.kind != said {
			fmt.Fprintf(&b, " %s |", c.name)
			rule += "---|"
		}
	}
	b.WriteString(" said |\n" + rule + "---|\n")
	for _, l := range s.lines {
		t := kept[l.name]
		if t == nil || len(t.Sums) != len(s.columns) {
			continue
		}
		fmt.Fprintf(&b, "| %s | %d |", l.name, t.Draws)
		for k, c := range s.columns {
			if c.kind != said {
				fmt.Fprintf(&b, " %s |", t.cell(k, c))
			}
		}
		fmt.Fprintf(&b, " %s |\n", s.messages(t))
	}
	return b.String()
}

// verdict on a column's rate: held, missed within two standard errors (more draws
// would tell), or missed.
type verdict int

const (
	held verdict = iota
	doubtful
	missed
)

func (t *tally) verdict(k int, c column) verdict {
	if t.Sums[k][0] == 0 {
		return held
	}
	m, short := t.mean(k), 0.0
	if c.kind == atLeast || c.kind == within {
		short = math.Max(short, c.low-m)
	}
	if c.kind == atMost || c.kind == within {
		short = math.Max(short, m-c.high)
	}
	switch {
	case short <= 0:
		return held
	case short <= 2*t.se(k):
		return doubtful
	}
	return missed
}

func (t *tally) cell(k int, c column) string {
	if t.Sums[k][0] == 0 {
		return ""
	}
	text := fmt.Sprintf("%.3f ± %.3f", t.mean(k), t.se(k))
	if c.kind == share || c.kind == atLeast || c.kind == atMost {
		text = fmt.Sprintf("%.1f ± %.1f %%", 100*t.mean(k), 100*t.se(k))
	} else if math.Abs(t.mean(k)) < 0.01 {
		text = fmt.Sprintf("%.4f ± %.4f", t.mean(k), t.se(k))
	}
	switch t.verdict(k, c) {
	case doubtful:
		return text + " (?)"
	case missed:
		return "**" + text + "**"
	}
	return text
}

// messages names what the program says on a line where a rate is not held.
func (s study) messages(t *tally) string {
	var all []string
	for _, slug := range s.missed(t) {
		all = append(all, fmt.Sprintf("`%s` %.0f %%", slug, 100*s.toldShare(t, slug)))
	}
	return strings.Join(all, ", ")
}

// missed are the messages that a line must have for its rates not held.
func (s study) missed(t *tally) (slugs []string) {
	for k, c := range s.columns {
		if c.kind == said || t.verdict(k, c) != missed || c.told == "" || strings.Contains(strings.Join(slugs, " "), c.told) {
			continue
		}
		slugs = append(slugs, c.told)
	}
	return slugs
}

// toldShare is the share of draws in which a message was given.
func (s study) toldShare(t *tally, slug string) float64 {
	for k, c := range s.columns {
		if c.kind == said && c.name == slug && t.Sums[k][0] > 0 {
			return t.mean(k)
		}
	}
	return 0
}

// slugs of a column's told: one message, or two of which either will do.
func slugs(told string) []string {
	if told == "" {
		return nil
	}
	return strings.Split(told, either)
}

// either stands between two slugs, as it is printed.
const either = "` or `"
