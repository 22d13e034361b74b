package quality

import (
	"slices"
	"strings"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// example is the smallest season that raises a rule, and its neighbour that
// does not. The expected answers follow from the rules' own definitions in
// docs/reference/findings.md; tolerances are those of the protocol standard 1.
type example struct {
	slug  string
	field string
	text  string // of the English sentence, a part
	raise func(*season)
	spare func(*season)
}

func examples() []example {
	return slices.Concat(countExamples(), timeExamples(), soakExamples(), protocolExamples(), conditionExamples(),
		positionExamples(), duplicateExamples(), peopleExamples(), stakeExamples(), sightingExamples(), waterExamples())
}

func TestGoodRowHasNoFinding(t *testing.T) {
	s := newSeason()
	s.add(6)
	for _, f := range Judge(s.deps, s.ctx) {
		t.Errorf("a row without fault: %s %s: %s", f.At, f.Slug, words.English.Say("finding."+f.Slug, f.With))
	}
}

func TestEveryRule(t *testing.T) {
	shown := map[string]bool{}
	for _, e := range examples() {
		shown[e.slug] = true
		s := newSeason()
		e.raise(s)
		hits := of(e.slug, Judge(s.deps, s.ctx))
		if len(hits) == 0 {
			t.Errorf("%s: not raised by its example", e.slug)
			continue
		}
		f := hits[0]
		for _, h := range hits { // a rule across rows may speak of several
			if h.DeploymentID == s.d().ID {
				f = h
				break
			}
		}
		if f.Field != e.field {
			t.Errorf("%s: column %s, want %s", e.slug, f.Field, e.field)
		}
		for _, lang := range words.Languages {
			text := lang.Say("finding."+f.Slug, f.With)
			if strings.ContainsAny(text, "⟨⟩") {
				t.Errorf("%s in %s: %s", e.slug, lang, text)
			}
			if !strings.Contains(text, "; ") && !strings.Contains(text, ": ") {
				t.Errorf("%s in %s does not say what to do: %s", e.slug, lang, text)
			}
		}
		if text := words.English.Say("finding."+f.Slug, f.With); e.text == "" || !strings.Contains(text, e.text) {
			t.Errorf("%s: %q does not say %q", e.slug, text, e.text)
		}
		s = newSeason()
		e.spare(s)
		if hits := of(e.slug, Judge(s.deps, s.ctx)); len(hits) > 0 {
			t.Errorf("%s: raised by its neighbour: %s", e.slug, words.English.Say("finding."+e.slug, hits[0].With))
		}
	}
	for _, r := range Rules() {
		if !shown[r.Slug] {
			t.Errorf("rule %s has no example", r.Slug)
		}
	}
}

func of(slug string, all []assay.Finding) (hits []assay.Finding) {
	for _, f := range all {
		if f.Slug == slug {
			hits = append(hits, f)
		}
	}
	return hits
}

// Every rule has a sentence and every sentence a rule; slugs stand once.
func TestEveryRuleHasASentence(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Rules() {
		if seen[r.Slug] {
			t.Errorf("rule %s stands twice", r.Slug)
		}
		seen[r.Slug] = true
		if !words.Has(r.Sentence()) {
			t.Errorf("rule %s has no sentence", r.Slug)
		}
		if (r.one == nil) == (r.across == nil) || r.Group == "" {
			t.Errorf("rule %s has not one function, or no group", r.Slug)
		}
		if !slices.Contains([]assay.Severity{assay.Block, assay.Ask, assay.Note}, r.Severity) {
			t.Errorf("rule %s has severity %q", r.Slug, r.Severity)
		}
	}
	for _, slug := range words.Slugs("finding.") {
		if slug == "finding.place-withheld" {
			continue // no rule's: it stands for a finding that would tell a sensitive place
		}
		if !seen[strings.TrimPrefix(slug, "finding.")] {
			t.Errorf("sentence %s belongs to no rule", slug)
		}
	}
}
