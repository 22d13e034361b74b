package methods_test

import (
	"context"
	"regexp"
	"strings"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/methods"
	"soakline/internal/rates"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// told is the methods section of a comparison of the invented shore.
func told(t *testing.T, l words.Language, ds []assay.Deployment, o compare.Options) methods.Document {
	t.Helper()
	return toldWith(t, l, ds, o, nil)
}

// toldWith is told after checks of the model.
func toldWith(t *testing.T, l words.Language, ds []assay.Deployment, o compare.Options, checks *methods.Checks) methods.Document {
	t.Helper()
	protocols, _ := sheet.Protocols()
	o.Protocols, o.Default, o.Seed = protocols, sheet.DefaultProtocol, 3
	k, err := compare.Run(context.Background(), ds, o)
	if err != nil {
		t.Fatal(err)
	}
	p := sheet.Standard()
	r, err := rates.Compute(context.Background(), ds, rates.Options{Group: rates.ByHabitat, Protocols: map[string]*assay.Protocol{"": &p}})
	if err != nil {
		t.Fatal(err)
	}
	return methods.Write(methods.Input{Lang: l, Title: "T", Version: "0", Deployments: ds, Protocols: protocols, Usual: p, UsualName: sheet.DefaultProtocol,
		Hash: strings.Repeat("a", 64), Rates: r, Compare: k, Conf: k.ConfLevel, Checks: checks})
}

// What was done is what is told, and nothing else.
func TestTellsWhatWasDone(t *testing.T) {
	for name, c := range map[string]struct {
		o         compare.Options
		says, not []string
	}{
		"terms": {compare.Options{Covariates: []string{"shore"}, Squared: []string{"temperature_c"}, Together: []string{"shore,habitat", "habitat,time"}, Adjust: "simultaneous"},
			[]string{"Further terms: shore.", "With their square: temperature_c.", "shore with habitat", "time", "Hothorn"}, []string{"Holm"}},
		"betabinomial": {compare.Options{Check: 1, Family: "betabinomial", Link: "logit", Random: []string{"site"}, Adjust: "none"},
			[]string{"beta-binomial model with a logit link", "BetaBinomial(n_i", "not adjusted"}, []string{"proportional hazards", "bands end at"}},
		"checks": {compare.Options{Bands: "checks", Random: []string{}, Bootstrap: 5},
			[]string{"one effect for each check", "no random intercepts", "B = 5 seasons"}, []string{"chi-squared", "exact overlap", "u_1"}},
	} {
		t.Run(name, func(t *testing.T) {
			d := told(t, words.English, shore(), c.o)
			text := string(d.Markdown(words.English))
			for _, s := range c.says {
				if !strings.Contains(text, s) {
					t.Errorf("says nothing of %q:\n%s", s, text)
				}
			}
			for _, s := range c.not {
				if strings.Contains(text, s) {
					t.Errorf("tells of %q, which was not done", s)
				}
			}
		})
	}
}

// Every work that a sentence names by author and year is in the references, and
// every reference is named, in both languages; no sentence lacks a parameter.
func TestReferencesAreCited(t *testing.T) {
	named := regexp.MustCompile(`([A-Z][a-zA-Z]+)(?: & [A-Z][a-zA-Z]+| et al\.)? ((?:19|20)\d\d)`)
	for _, l := range words.Languages {
		d := toldWith(t, l, shore(), compare.Options{Bootstrap: 5}, &methods.Checks{Seasons: 99, Refits: 19, Sites: 4, Turned: []string{"Kell"}, Runs: true, Distance: true, Sentences: []string{"S."}})
		text := strings.Join(d.Paragraphs(), " ")
		cited := map[string]bool{"soakline": true}
		for _, m := range named.FindAllStringSubmatch(text, -1) {
			cited[strings.ToLower(m[1])+m[2]] = true
		}
		have := map[string]bool{}
		for _, r := range d.References {
			have[r.Key] = true
			if !cited[r.Key] {
				t.Errorf("%s: %s is no sentence's", l, r.Key)
			}
		}
		for key := range cited {
			if !have[key] {
				t.Errorf("%s: %s is cited but not listed", l, key)
			}
		}
		if strings.ContainsAny(string(d.Plain(l)), "⟨⟩") {
			t.Errorf("%s: a sentence or a parameter is missing:\n%s", l, d.Plain(l))
		}
	}
}

// BibTeX: balanced braces, unique keys, the fields that each kind requires
// (BibTeX's own documentation, btxdoc, Patashnik 1988, section 3.1, from memory).
func TestBib(t *testing.T) {
	d := told(t, words.English, shore(), compare.Options{Bootstrap: 5})
	text := string(methods.Bib(d.References))
	depth := 0
	for _, r := range text {
		switch r {
		case '{':
			depth++
		case '}':
			depth--
		}
		if depth < 0 {
			t.Fatal("a } without its {")
		}
	}
	if depth != 0 {
		t.Fatal("a { without its }")
	}
	need := map[string][]string{"article": {"author", "title", "journal", "year"}, "book": {"author", "title", "publisher", "year"}, "misc": {}}
	keys := map[string]bool{}
	for _, entry := range strings.Split(text, "\n\n") {
		m := regexp.MustCompile(`^@(\w+)\{([a-z0-9]+),\n`).FindStringSubmatch(entry)
		if m == nil {
			t.Fatalf("no entry: %s", entry)
		}
		if keys[m[2]] {
			t.Errorf("%s stands twice", m[2])
		}
		keys[m[2]] = true
		fields, ok := need[m[1]]
		if !ok {
			t.Errorf("%s is no kind", m[1])
		}
		for _, f := range fields {
			if !strings.Contains(entry, "\n  "+f+" = {") {
				t.Errorf("%s lacks %s", m[2], f)
			}
		}
	}
	if len(keys) != len(d.References) {
		t.Errorf("%d entries for %d references", len(keys), len(d.References))
	}
	odd := string(methods.Bib([]methods.Reference{{Key: "x", Kind: "misc", Author: "A & B", Title: "50 % of_it"}}))
	if !strings.Contains(odd, `A \& B`) || !strings.Contains(odd, `50 \% of\_it`) {
		t.Errorf("LaTeX would stumble over %s", odd)
	}
}
