package quality

import (
	"flag"
	"fmt"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

var update = flag.Bool("update", false, "write severities, tolerances and examples into docs/reference/findings.md")

const document = "../../docs/reference/findings.md"

// section is what the document says of one rule.
type section struct {
	slug, head, meaning, example string
}

var sectionForm = regexp.MustCompile("(?m)^### `([a-z-]+)`\n\n(.*)\n\n([^>#]*?)\n\n> (.*)$")

func sections(t *testing.T, text string) []section {
	t.Helper()
	var all []section
	for _, m := range sectionForm.FindAllStringSubmatch(text, -1) {
		all = append(all, section{m[1], m[2], m[3], m[4]})
	}
	if headings := strings.Count(text, "\n### "); headings != len(all) {
		t.Errorf("%s has %d headings of rules, %d of them with all their parts", document, headings, len(all))
	}
	return all
}

// head is the line that the document gives for a rule: severity, tolerances.
func (r Rule) head() string {
	if len(r.Tolerances) == 0 {
		return fmt.Sprintf("**%s**, no tolerance of the protocol", r.Severity)
	}
	return fmt.Sprintf("**%s**, tolerance `%s`", r.Severity, strings.Join(r.Tolerances, "`, `"))
}

// shown is the example of a rule as the command prints it.
func shown(slug string) string {
	for _, e := range examples() {
		if e.slug != slug {
			continue
		}
		s := newSeason()
		e.raise(s)
		for _, f := range of(slug, Judge(s.deps, s.ctx)) {
			if f.DeploymentID == s.d().ID {
				return f.At.String() + ": " + words.English.Say("finding."+slug, f.With)
			}
		}
	}
	return ""
}

// Every rule stands in the document, in the order of Rules, with its severity,
// its tolerances, a meaning and an example that the rule itself makes.
func TestDocument(t *testing.T) {
	b, err := os.ReadFile(document)
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	if *update {
		text = sectionForm.ReplaceAllStringFunc(text, func(old string) string {
			m := sectionForm.FindStringSubmatch(old)
			for _, r := range Rules() {
				if r.Slug == m[1] {
					return fmt.Sprintf("### `%s`\n\n%s\n\n%s\n\n> %s", r.Slug, r.head(), m[3], shown(r.Slug))
				}
			}
			return old
		})
		if err := os.WriteFile(document, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var inDocument, inRules []string
	written := map[string]section{}
	for _, s := range sections(t, text) {
		inDocument = append(inDocument, s.slug)
		written[s.slug] = s
	}
	for _, r := range Rules() {
		inRules = append(inRules, r.Slug)
		s, ok := written[r.Slug]
		if !ok {
			t.Errorf("%s says nothing of rule %s", document, r.Slug)
			continue
		}
		if s.head != r.head() {
			t.Errorf("rule %s: the document says %q, the rule is %q", r.Slug, s.head, r.head())
		}
		if want := shown(r.Slug); s.example != want || want == "" {
			t.Errorf("rule %s: the document's example is %q, the rule says %q", r.Slug, s.example, want)
		}
		if len(strings.TrimSpace(s.meaning)) < 15 {
			t.Errorf("rule %s has no meaning in the document", r.Slug)
		}
	}
	if !slices.Equal(inDocument, inRules) {
		t.Errorf("the document lists\n%v\nthe rules are\n%v", inDocument, inRules)
	}
}

// loosen changes the protocol of a rule's example so that the finding goes.
var loosen = map[string]func(*assay.Protocol){
	"lost-share-high":               func(p *assay.Protocol) { p.LostShareMax = 0.32 },
	"span-too-long":                 func(p *assay.Protocol) { p.SettingMaxH = 3 },
	"soak-fits-other-check":         func(p *assay.Protocol) { p.Checks = []assay.Nominal{{SoakH: 24, ToleranceH: 1}} },
	"soak-far-off":                  func(p *assay.Protocol) { p.Checks[1].ToleranceH = 9 },
	"soak-off-nominal":              func(p *assay.Protocol) { p.Checks[1].SoakH = 20 },
	"missed-without-reason":         func(p *assay.Protocol) { p.Checks = p.Checks[:1] },
	"baits-unlike-protocol":         func(p *assay.Protocol) { p.Baits = 24 },
	"form-unlike-protocol":          func(p *assay.Protocol) { p.OtherForms = []assay.BaitForm{{Form: "strip", SizeMM: 13}} },
	"size-unlike-protocol":          func(p *assay.Protocol) { p.BaitSizeToleranceMM = 3 },
	"batch-unlike-protocol":         func(p *assay.Protocol) { p.BaitSizeToleranceMM = 3 },
	"spacing-unlike-protocol":       func(p *assay.Protocol) { p.SpacingToleranceM = 0.6 },
	"depth-change-large":            func(p *assay.Protocol) { p.DepthChangeMaxM = 2.1 },
	"checks-unlike-protocol":        func(p *assay.Protocol) { p.Checks = append(p.Checks, assay.Nominal{SoakH: 48, ToleranceH: 2}) },
	"threshold-unlike-default":      func(p *assay.Protocol) { p.ConsumedFraction = 0.5 },
	"consumed-means-unlike-default": func(p *assay.Protocol) { p.CountsAsConsumed = []assay.How{assay.TetherGone, assay.BaitGone} },
	"temperature-unlikely":          func(p *assay.Protocol) { p.TemperatureMaxC = 70 },
	"salinity-unlikely":             func(p *assay.Protocol) { p.SalinityMax = 360 },
	"depth-unlikely":                func(p *assay.Protocol) { p.DepthMaxM = 150 },
	"position-sign":                 func(p *assay.Protocol) { p.SiteRadiusKm = 2000 },
	"position-swapped":              func(p *assay.Protocol) { p.SiteRadiusKm = 8000 },
	"position-far-from-site":        func(p *assay.Protocol) { p.SiteRadiusKm = 6 },
	"position-on-land":              func(p *assay.Protocol) { p.OnLandKm = 500 },
	"position-decimals":             func(p *assay.Protocol) { p.PositionDecimalsMin = 2 },
	"near-in-place-and-time":        func(p *assay.Protocol) { p.NearH = 0.9 },
	"how-unlike-protocol":           func(p *assay.Protocol) { p.CountsAsConsumed = []assay.How{assay.StakeGone} },
}

// Every tolerance is a field of the protocol's file, and the rule takes it from
// there: loosened, its example raises nothing.
func TestTolerancesComeFromTheProtocol(t *testing.T) {
	known := fields(reflect.TypeFor[assay.Protocol](), "")
	for _, r := range Rules() {
		for _, f := range r.Tolerances {
			if !slices.Contains(known, f) {
				t.Errorf("rule %s: %s is no field of the protocol", r.Slug, f)
			}
		}
		if loosen[r.Slug] == nil != (r.Tolerances == nil) {
			t.Errorf("rule %s: tolerances %v, but loosened %v", r.Slug, r.Tolerances, loosen[r.Slug] != nil)
		}
	}
	for _, e := range examples() {
		change := loosen[e.slug]
		if change == nil {
			continue
		}
		s := newSeason()
		e.raise(s)
		if s.ctx.Protocols == nil {
			s.ctx.Protocols, _ = sheet.Protocols()
		}
		p := s.ctx.Protocols[s.d().Protocol]
		p.Checks = slices.Clone(p.Checks)
		change(&p)
		s.ctx.Protocols[s.d().Protocol] = p
		if hits := of(e.slug, Judge(s.deps, s.ctx)); len(hits) > 0 {
			t.Errorf("%s is raised under a protocol that allows it: %v", e.slug, hits[0].With)
		}
	}
}

// fields are the names in a protocol's file.
func fields(t reflect.Type, prefix string) (names []string) {
	for i := range t.NumField() {
		name := prefix + t.Field(i).Tag.Get("toml")
		names = append(names, name)
		if ft := t.Field(i).Type; ft.Kind() == reflect.Slice && ft.Elem().Kind() == reflect.Struct {
			names = append(names, fields(ft.Elem(), name+".")...)
		}
	}
	return names
}
