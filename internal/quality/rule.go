package quality

import (
	"strconv"
	"strings"

	"soakline/internal/assay"
)

// Rule is one rule as listed for people. Its sentence stands in the catalogue
// under "finding." and the slug, its meaning in docs/reference/findings.md.
type Rule struct {
	Slug     string
	Severity assay.Severity
	Group    string
	// Tolerances are the fields of the protocol's file whose values decide.
	Tolerances []string
	// one judges one row, across all of them; a rule has one of the two.
	one    func(*row)
	across func(*judging)
}

// Sentence is the slug of the rule's sentence in the catalogue.
func (r Rule) Sentence() string { return "finding." + r.Slug }

// Rules lists every rule, by group and in the order of the documents.
func Rules() []Rule {
	var all []Rule
	for _, g := range []struct {
		name  string
		rules []Rule
	}{
		{"counts", countRules()},
		{"times", timeRules()},
		{"soak", soakRules()},
		{"protocol", protocolRules()},
		{"conditions", conditionRules()},
		{"position", append(positionRules(), lastPositionRules()...)},
		{"duplicates", duplicateRules()},
		{"people", append(peopleRules(), batchRules()...)},
		{"stakes", stakeRules()},
		{"sightings", sightingRules()},
		{"water", waterRules()},
	} {
		for _, r := range g.rules {
			r.Group = g.name
			all = append(all, r)
		}
	}
	return all
}

// column is the name of the column per check for check k.
func column(name string, k int) string {
	return strings.Replace(name, "{K}", strconv.Itoa(k), 1)
}

func itoa(n int) string { return strconv.Itoa(n) }
