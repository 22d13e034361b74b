package report

import (
	"bytes"
	"context"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"golang.org/x/net/html"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/demo"
	"soakline/internal/fitness"
	"soakline/internal/methods"
	"soakline/internal/quality"
	"soakline/internal/rates"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// inputs are kept: a comparison takes longer than the tests of its pages.
var inputs sync.Map

// input is the report of the invented season, the caller's own to change.
func input(t testing.TB, l words.Language) Input {
	t.Helper()
	if in, ok := inputs.Load(l); ok {
		in := in.(Input)
		in.Deployments = slices.Clone(in.Deployments)
		return in
	}
	in := makeInput(t, l)
	inputs.Store(l, in)
	in.Deployments = slices.Clone(in.Deployments)
	return in
}

func makeInput(t testing.TB, l words.Language) Input {
	t.Helper()
	ds := demo.Make(demo.DefaultSeed).Clean()
	findings := quality.Judge(ds, quality.Context{})
	r, err := rates.Compute(context.Background(), ds, rates.Options{Group: rates.ByHabitat, Findings: findings, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	r.InWords(l)
	k, err := compare.Run(context.Background(), ds, compare.Options{Findings: findings, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	variants, err := compare.Sensitivity(context.Background(), ds, compare.Options{Findings: findings, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	closer, err := fitness.Look(context.Background(), ds, compare.Options{Findings: findings, Seed: 1}, fitness.Options{Seasons: 199, Refits: 9, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	closer.LeaveOut(k, variants)
	protocols, _ := sheet.Protocols()
	in := Input{Closer: closer, Withdrawn: 1, Taken: []words.Message{{Slug: "test-too-optimistic", With: words.P{"sites": 6, "few": 30}}}}
	in.Input = methods.Input{Lang: l, Title: "T", Version: "0", Invented: true, Deployments: ds, Findings: findings, Protocols: protocols, Usual: sheet.Standard(),
		UsualName: sheet.DefaultProtocol, Sources: []string{"s.csv"}, Hash: "h", Rates: r, Compare: k, Variants: variants, Conf: 0.95}
	return in
}

// TestPageHoldsEverything: the report has each part that a reader looks for,
// and every number of the first sentence is the comparison's.
func TestPageHoldsEverything(t *testing.T) {
	in := input(t, words.English)
	page, err := Page(in)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := Page(in); err != nil || !bytes.Equal(page, again) {
		t.Error("the same input gave other bytes")
	}
	text := string(page)
	for _, part := range []string{`id="answer"`, `id="done"`, `id="rows"`, `id="findings"`, `id="results"`, `id="changes"`, `id="methods"`, `id="deviations"`, `id="made"`,
		"Prentice", "<svg", "Invented places"} {
		if !strings.Contains(text, part) {
			t.Errorf("the report lacks %s", part)
		}
	}
	for _, m := range in.Compare.Means {
		if m.SoakH == 24 && !strings.Contains(Answers(words.English, in.Compare).Shares, words.Number(100*m.Proportion.Or(0), "0")) {
			t.Errorf("the first sentence lacks the share of %s", m.Level)
		}
	}
	if strings.Contains(text, "⟨") {
		t.Errorf("a sentence is missing: %s", text[strings.Index(text, "⟨"):][:60])
	}
	ids := regexp.MustCompile(` id="([^"]+)"`).FindAllStringSubmatch(text, -1)
	seen := map[string]bool{}
	for _, m := range ids {
		if seen[m[1]] {
			t.Errorf("id %s stands twice", m[1])
		}
		seen[m[1]] = true
	}
}

// firstLayerTaboo are a statistician's words, which the first layer does without.
var firstLayerTaboo = regexp.MustCompile(`(?i)\b(hazard|random|link|p-value|significan|confidence|null hypothesis|likelihood)`)

func TestFirstLayerIsPlain(t *testing.T) {
	in := input(t, words.English)
	a := Answers(words.English, in.Compare)
	for _, s := range append([]string{a.Shares, a.Chance, a.Caution}, a.Pairs...) {
		if w := firstLayerTaboo.FindString(s); w != "" {
			t.Errorf("the first layer says %q: %s", w, s)
		}
	}
}

// TestNoStrayStrings: under the pseudo-language every word of the page stands in
// brackets, but for what is data.
func TestNoStrayStrings(t *testing.T) {
	in := input(t, words.Pseudo)
	page, err := Page(in)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	data := map[string]bool{"Soakline 0": true, "T": true, "s.csv": true, "h": true, "SE": true, "z": true, "p": true, "SD": true, "habitat": true, "N": true, "S": true, "E": true, "W": true, "UTC": true, "min": true, "standard 1": true, "Europe/Lisbon": true}
	for i := range in.Deployments {
		d := &in.Deployments[i]
		data[d.ID], data[d.Site], data[d.Habitat], data[d.Team], data[d.BaitKind] = true, true, true, true, true
		data[d.Observers], data[d.BaitBatch] = true, true
		for _, c := range d.Checks {
			data[c.Reader] = true
		}
	}
	for _, f := range in.Compare.Fixed {
		data[f.Term] = true
	}
	for _, c := range in.Compare.Contrasts {
		data[c.A+" / "+c.B] = true
	}
	// The pseudo-language accents every vowel, so that a word with a bare one
	// never went through the catalogue.
	bare := regexp.MustCompile(`^[\p{L}-]*[aeiouAEIOU][\p{L}-]*$`)
	var known []string
	for k := range data {
		known = append(known, strings.FieldsFunc(k, func(r rune) bool { return strings.ContainsRune(" ()/:=,", r) })...)
	}
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && (n.Data == "style" || n.Data == "code" || n.Data == "ul" && class(n) == "references") {
			return // references are cited as printed
		}
		if n.Type == html.TextNode {
			for _, word := range strings.FieldsFunc(n.Data, func(r rune) bool { return strings.ContainsRune(" \n()/:=,.;⟦⟧", r) }) {
				if bare.MatchString(word) && !slices.Contains(known, word) {
					t.Errorf("stray word %q in %q", word, n.Data)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(doc)
}

func class(n *html.Node) string {
	for _, a := range n.Attr {
		if a.Key == "class" {
			return a.Val
		}
	}
	return ""
}

// TestTidyGuard: text that a spreadsheet program would run is guarded; numbers,
// longitudes among them, never are.
func TestTidyGuard(t *testing.T) {
	table := Table{Name: "x", Columns: columns("site", "lower"), Lines: [][]any{{"=1+1", -8.25}, {"@SUM(A1)", nil}, {"-dash", 3}, {"plain", 1e-7}}}
	b, err := CSV(table)
	if err != nil {
		t.Fatal(err)
	}
	want := "site,lower\n'=1+1,-8.25\n'@SUM(A1),\n'-dash,3\nplain,1e-07\n"
	if string(b) != want {
		t.Errorf("CSV = %q, want %q", b, want)
	}
}

func TestTidyColumnsAreExplained(t *testing.T) {
	in := input(t, words.English)
	for _, table := range Tidy(in.Rates, in.Compare) {
		for _, c := range table.Columns {
			if !words.Has("tidy." + c.Name) {
				t.Errorf("column %s of %s has no meaning in the catalogue", c.Name, table.Name)
			}
		}
		for _, line := range table.Lines {
			if len(line) != len(table.Columns) {
				t.Fatalf("table %s has a line of %d cells for %d columns", table.Name, len(line), len(table.Columns))
			}
		}
	}
	a, err := XLSX(words.English, Tidy(in.Rates, in.Compare))
	if err != nil {
		t.Fatal(err)
	}
	b, err := XLSX(words.English, Tidy(in.Rates, in.Compare))
	if err != nil || !bytes.Equal(a, b) {
		t.Error("the same tables gave other workbooks")
	}
}

// TestFiguresAreFiles: each drawing comes as the three kinds, twice the same.
func TestFiguresAreFiles(t *testing.T) {
	in := input(t, words.English)
	files, err := Figures(in)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Figures(in)
	if err != nil {
		t.Fatal(err)
	}
	starts := map[string]string{".svg": "<svg", ".png": "\x89PNG", ".pdf": "%PDF"}
	seen := map[string]bool{}
	for i, f := range files {
		seen[f.Name] = true
		if !bytes.Contains(f.Data[:200], []byte(starts[f.Name[len(f.Name)-4:]])) {
			t.Errorf("%s does not begin as such a file", f.Name)
		}
		if !bytes.Equal(f.Data, again[i].Data) {
			t.Errorf("%s has other bytes the second time", f.Name)
		}
	}
	for _, name := range []string{"shares", "rates", "contrasts", "curves", "map"} {
		for ext := range starts {
			if !seen[name+ext] {
				t.Errorf("no %s%s", name, ext)
			}
		}
	}
}

// TestPairsWithoutSimulation: without simulated seasons every pair was told as
// alike, whatever the limits said. The demo's sand differs from both others by
// far (their limits exclude 1), seagrass and reef do not.
func TestPairsWithoutSimulation(t *testing.T) {
	in := input(t, words.English)
	if in.Compare.Test.PBootstrap.Known() {
		t.Fatal("this test needs a comparison without simulated seasons")
	}
	alike := 0
	for _, s := range Answers(words.English, in.Compare).Pairs {
		if strings.Contains(s, "not told apart") {
			alike++
			if strings.Contains(s, "sand") {
				t.Errorf("sand is told as alike: %s", s)
			}
		}
	}
	if alike != 1 {
		t.Errorf("%d pairs are told as alike, want 1 (seagrass and reef)", alike)
	}
}

func TestSoakWords(t *testing.T) {
	for h, want := range map[float64]string{1.05: "1 h 03 min", 24: "24 h", 0.5: "30 min", -1.5: "−1 h 30 min"} {
		if got := SoakWords(h); got != want {
			t.Errorf("SoakWords(%g) = %q, want %q", h, got, want)
		}
	}
}

// TestChance: a probability is told as a frequency that a person can picture.
func TestChance(t *testing.T) {
	for _, c := range []struct {
		p          float64
		replicates int
		want       string
	}{{0.35, 0, "about 35 in 100"}, {0.042, 0, "about 4 in 100"}, {0.004, 0, "about 4 in 1000"}, {0.0002, 0, "fewer than 1 in 1000"}, {0.001, 999, "fewer than 1 in 1000"}, {0.01, 99, "fewer than 1 in 100"}} {
		if got := Chance(words.English, c.p, c.replicates); got != c.want {
			t.Errorf("Chance(%g, %d) = %s, want %s", c.p, c.replicates, got, c.want)
		}
	}
}

// TestRowPictureByStake: a bait gone at one check stays gone in the next, a
// stake not listed is not read.
func TestRowPictureByStake(t *testing.T) {
	d := assay.Deployment{Baits: 4, Checks: []assay.Check{{Number: 1}, {Number: 2}}, Stakes: []assay.StakeFate{
		{Stake: 1, Check: 1, Fate: assay.Present}, {Stake: 2, Check: 1, Fate: assay.Consumed}, {Stake: 3, Check: 1, Fate: assay.Lost}, {Stake: 4, Check: 1, Fate: assay.Present},
		{Stake: 1, Check: 2, Fate: assay.Consumed}, {Stake: 4, Check: 2, Fate: assay.Present}, {Stake: 3, Check: 2, Fate: assay.Lost},
	}}
	r := RowPicture(words.English, &d, rates.Means, true)
	var got []string
	for _, l := range r.Lines[1:] {
		s := ""
		for _, f := range l.Fates {
			s += string("PCNU"[f])
		}
		got = append(got, s)
	}
	if strings.Join(got, " ") != "PCNP CCNP" {
		t.Errorf("fates drawn as %v, want PCNP CCNP", got)
	}
}
