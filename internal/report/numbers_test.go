package report

import (
	"archive/zip"
	"bytes"
	"html"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/figure"
	"soakline/internal/fitness"
	"soakline/internal/rates"
	"soakline/internal/words"
)

func some(x float64) assay.Maybe[float64] { return assay.Some(x) }

func tableOf(t *testing.T, all []NumberTable, name string) NumberTable {
	t.Helper()
	i := slices.IndexFunc(all, func(n NumberTable) bool { return n.Name == name })
	if i < 0 {
		t.Fatalf("no table %s", name)
	}
	for _, line := range all[i].Lines {
		if len(line) != len(all[i].Head) {
			t.Errorf("%s: %d cells under %d headings", name, len(line), len(all[i].Head))
		}
	}
	return all[i]
}

// simulated is a comparison whose numbers are all different, so that each is known
// where it stands: large-sample limits 2 and 8, simulated ones 1.5 and 11.
func simulated() *compare.Result {
	return &compare.Result{
		By: "habitat", Converged: true, ConfLevel: 0.95, Adjust: "holm", Link: "cloglog", Sites: 6,
		Levels: []compare.Level{{Level: "reef"}, {Level: "sand"}, {Level: "weed"}},
		Test: compare.Test{Chi2: some(9.5), DF: 2, P: some(0.0086), PBootstrap: some(0.031), PBootstrapLower: some(0.022), PBootstrapUpper: some(0.044),
			Replicates: 999, Failed: 3, SmallestP: some(0.0125)},
		Contrasts: []compare.Contrast{
			{A: "reef", B: "sand", RateRatio: some(4), Lower: some(2), Upper: some(8), LowerSimultaneous: some(1.8), UpperSimultaneous: some(9), P: some(0.001), PAdjusted: some(0.003),
				PBootstrap: some(0.012), PBootstrapAdjusted: some(0.036), LowerBootstrap: some(1.5), UpperBootstrap: some(11), Bound: compare.TwoSided},
			{A: "weed", B: "sand", RateRatio: some(0.5), Lower: some(0.3), Upper: some(0.7), P: some(0.002), PAdjusted: some(0.004),
				PBootstrap: some(0.021), PBootstrapAdjusted: some(0.042), Bound: compare.TwoSided}, // too few seasons for limits
			{A: "weed", B: "reef", Upper: some(0.09), P: some(0.005), PAdjusted: some(0.006), PBootstrap: some(0.025), PBootstrapAdjusted: some(0.045), Bound: compare.UpperBound},
		},
	}
}

// Beside a simulated p stand simulated limits, or none: large-sample limits are in a
// table of their own that says what they are.
func TestSimulatedLimitsBesideSimulatedP(t *testing.T) {
	k := simulated()
	all := NumberTables(words.English, k)
	first := tableOf(t, all, "contrasts")
	want := [][]string{
		{"reef / sand", "4.00", "1.50", "11.00", "0.0360", "0.0120"},
		{"weed / sand", "0.50", "–", "–", "0.0420", "0.0210"},
		{"weed / reef", "–", "–", "≤ 0.09", "0.0450", "0.0250"},
	}
	if !slices.EqualFunc(first.Lines, want, slices.Equal) {
		t.Errorf("%v, want %v", first.Lines, want)
	}
	if !strings.Contains(first.Caption, "999 simulated seasons") || len(first.Notes) != 1 {
		t.Errorf("%q %v", first.Caption, first.Notes)
	}
	quick := tableOf(t, all, "contrasts-quick")
	if got := quick.Lines[0]; !slices.Equal(got, []string{"reef / sand", "4.00", "2.00", "8.00", "1.80", "9.00", "0.0010", "0.0030"}) || !strings.Contains(quick.Caption, "Wald") {
		t.Errorf("%q %v", quick.Caption, got)
	}
	tests := tableOf(t, all, "tests").Lines[0]
	if !slices.Equal(tests[1:], []string{"9.50", "2", "0.0086", "0.0310", "0.0220 – 0.0440", "999", "3"}) {
		t.Errorf("%v", tests)
	}
	// the first layer tells the simulated ones, too, and none where there are none
	a := Answers(words.English, k)
	if !strings.Contains(a.Pairs[0], "between 1.5 and 11.0") || strings.Contains(a.Pairs[1], "0.3") || !strings.Contains(a.Pairs[1], "too few seasons") || !strings.Contains(a.Pairs[2], "at most 0.09") {
		t.Errorf("%q", a.Pairs)
	}
	if !strings.Contains(a.Chance, "3 in 100") {
		t.Errorf("%q", a.Chance)
	}
	p := ContrastsPicture(words.English, k)
	if g := p.Groups[0]; g.Lower != 1.5 || g.Upper != 11 || g.LowerAll != 0 {
		t.Errorf("drawn %+v", g)
	}
	if g := p.Groups[1]; !math.IsNaN(g.Lower) || !math.IsNaN(g.Upper) {
		t.Errorf("drawn %+v", g)
	}
	// without simulated seasons there is one table
	k.Test.Replicates = 0
	for i := range k.Contrasts {
		c := &k.Contrasts[i]
		c.PBootstrap, c.PBootstrapAdjusted, c.LowerBootstrap, c.UpperBootstrap = assay.None[float64](), assay.None[float64](), assay.None[float64](), assay.None[float64]()
	}
	all = NumberTables(words.English, k)
	if got := tableOf(t, all, "contrasts").Lines[0][2]; got != "2.00" || slices.ContainsFunc(all, func(n NumberTable) bool { return n.Name == "contrasts-quick" }) {
		t.Errorf("without simulated seasons: lower %s", got)
	}
}

// A ratio that changes with time is told as an average, with each stretch beside it,
// in sentences, table and drawing.
func TestRatioOfEachStretch(t *testing.T) {
	k := simulated()
	k.Contrasts = k.Contrasts[1:2]
	k.Contrasts[0].LowerBootstrap, k.Contrasts[0].UpperBootstrap = some(0.25), some(0.8)
	k.BandsTest = compare.BandsTest{Chi2: some(12), DF: 1, P: some(0.0005)}
	k.BandContrasts = []compare.BandContrast{
		{A: "weed", B: "sand", Band: 1, FromH: some(0), ToH: some(1), RateRatio: some(0.1), Lower: some(0.05), Upper: some(0.2), P: some(0.0001), Bound: compare.TwoSided},
		{A: "weed", B: "sand", Band: 2, FromH: some(1), Upper: some(0.8), P: some(0.04), Bound: compare.UpperBound},
	}
	all := NumberTables(words.English, k)
	bands := tableOf(t, all, "bands")
	if !slices.Equal(bands.Lines[0], []string{"0 to 1 h", "weed / sand", "0.10", "0.05", "0.20", "0.0001"}) || !slices.Equal(bands.Lines[1], []string{"from 1 h on", "weed / sand", "–", "–", "≤ 0.80", "0.0400"}) {
		t.Errorf("%v", bands.Lines)
	}
	if got := tableOf(t, all, "tests").Lines[1]; got[1] != "12.00" || got[3] != "0.0005" {
		t.Errorf("%v", got)
	}
	// told the other way round, since sand was the faster: 1/0.1 = 10, and at least 1/0.8 = 1.25
	pairs := Answers(words.English, k).Pairs
	if len(pairs) != 2 || !strings.Contains(pairs[0], "in sand as in weed") || !strings.Contains(pairs[1], "average") || !strings.Contains(pairs[1], "10.0 times 0 to 1 h") || !strings.Contains(pairs[1], "at least 1.2 times from 1 h on") {
		t.Errorf("%q", pairs)
	}
	p := ContrastsPicture(words.English, k)
	if len(p.Groups) != 3 || p.Groups[0].Sub == "" || p.Groups[1].Estimate != 0.1 {
		t.Errorf("%+v", p.Groups)
	}
}

// Control rows, kind by kind, with one-sided limits where nothing went, and what the
// zero loss of shielded rows leaves possible, carried on.
func TestControlTables(t *testing.T) {
	k := simulated()
	k.Controls = compare.Controls{Used: "shielded", Loss: []compare.ControlLoss{
		{Kind: "shielded", Check: 1, SoakH: 1, Deployments: 2, Baits: 50, Proportion: some(0), Upper: some(0.058), Bound: compare.UpperBound},
		{Kind: "shielded", Check: 2, SoakH: 24, Deployments: 2, Baits: 50, Proportion: some(0), Upper: some(0.058), Bound: compare.UpperBound},
		{Kind: "handling", Check: 1, SoakH: 1, Deployments: 1, Baits: 20, Consumed: 2, Proportion: some(0.1), Lower: some(0.012), Upper: some(0.317), Bound: compare.TwoSided},
	}, AtUpperBound: &compare.ControlBound{RateUpperPerH: 0.0025, BaitHours: 1200, Turns: true,
		Contrasts: []compare.Contrast{{A: "reef", B: "sand", RateRatio: some(6), Lower: some(3), Upper: some(12), P: some(0.2), PAdjusted: some(0.3), Bound: compare.TwoSided}},
		Means:     []compare.Mean{{Level: "reef", SoakH: 24, Proportion: some(0.5)}}}}
	all := NumberTables(words.English, k)
	c := tableOf(t, all, "controls")
	want := [][]string{
		{"shielded from consumers", "1", "1.00", "2", "0 / 50", "0.000", "–", "≤ 0.058"},
		{"shielded from consumers", "2", "24.00", "2", "0 / 50", "0.000", "–", "≤ 0.058"},
		{"for handling", "1", "1.00", "1", "2 / 20", "0.100", "0.012", "0.317"},
	}
	if !slices.EqualFunc(c.Lines, want, slices.Equal) {
		t.Errorf("%v", c.Lines)
	}
	b := tableOf(t, all, "at-bound")
	if b.Lines[0][1] != "6.00" || !strings.Contains(b.Caption, "1200 bait-hours") || !strings.Contains(b.Notes[0], "another") {
		t.Errorf("%+v", b)
	}
	tableOf(t, all, "means-at-bound")
	said := strings.Join(ControlSentences(words.English, k), "\n")
	for _, want := range []string{"none of 50 baits was gone after 24 h in the 2 control rows shielded from consumers (at most 6 of 100)", "2 of 20 baits were gone after 1 h in the one control row for handling (it may well be 1 to 32 of 100)", "would be another one"} {
		if !strings.Contains(said, want) {
			t.Errorf("not said: %q in %q", want, said)
		}
	}
	if w := firstLayerTaboo.FindString(said); w != "" {
		t.Errorf("the first layer says %q", w)
	}
}

// One row of 25 baits at 1, 6 and 24 h, C = (9, 15, 21): the rate of an interval is
// −ln(1 − y/r)/Δ: −ln(16/25)/1 = 0.44629, −ln(10/16)/5 = 0.09400, and with one lost
// bait −ln(3/9)/18 = 0.06103. Median survival is ln 2 over the rate.
func TestRowTables(t *testing.T) {
	at := func(h float64) assay.Moment {
		return assay.Moment{At: time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC).Add(time.Duration(h * float64(time.Hour)))}
	}
	check := func(n int, h float64, gone, lost int) assay.Check {
		return assay.Check{Number: n, At: at(h), Consumed: assay.Some(gone), Lost: assay.Some(lost)}
	}
	ds := []assay.Deployment{
		{ID: "D1", Site: "dock", Habitat: "sand", SetOut: at(0), Baits: 25, Checks: []assay.Check{check(1, 1, 9, 0), check(2, 6, 15, 0), check(3, 24, 21, 1)}},
		{ID: "D1", Site: "pier", Habitat: "sand", SetOut: at(0), Baits: 25, Checks: []assay.Check{check(1, 1, 0, 0), check(2, 25, 0, 0)}},
		{ID: "D2", Site: "pier", Habitat: "sand", SetOut: at(0), Baits: 25, Checks: []assay.Check{check(1, 1, 25, 0)}},
	}
	r, err := rates.Compute(t.Context(), ds, rates.Options{})
	if err != nil {
		t.Fatal(err)
	}
	all := RowTables(words.English, r)
	iv := tableOf(t, all, "row-intervals")
	for i, want := range []string{"0.4463", "0.094", "0.06103", "0", "0"} {
		if iv.Lines[i][6] != want {
			t.Errorf("interval %d: %v, want %s", i, iv.Lines[i], want)
		}
	}
	// nothing of 25 over 1 h: at most −ln(0.05)/25 = 0.1198; all of 25: at least −ln(1 − 0.05^(1/25)) = 2.181
	if iv.Lines[3][8] != "≤ 0.1198" || iv.Lines[3][0] != "D1 (pier)" || iv.Lines[5][6] != "–" || iv.Lines[5][7] != "≥ 2.181" {
		t.Errorf("%v %v", iv.Lines[3], iv.Lines[5])
	}
	c := tableOf(t, all, "row-constant")
	rate, median := r.Deployments[0].RatePerH.Estimate.Or(0), r.Deployments[0].MedianH.Estimate.Or(0)
	if math.Abs(median-math.Ln2/rate) > 1e-12 || c.Lines[0][6] != words.Number(math.Ln2/rate, "") || c.Lines[0][9] != "1.00 – 6.00" || c.Lines[1][9] != "> 25.00" {
		t.Errorf("%v", c.Lines)
	}
	// no check at 24 h in the second row: marked as modelled
	n := tableOf(t, all, "row-nominal")
	if n.Lines[0][2] != "0.360" || n.Lines[3][2] != "0.000 *" || len(n.Notes) != 1 {
		t.Errorf("%v", n)
	}
	if w := tableOf(t, all, "row-weibull"); len(w.Lines) != 1 || w.Lines[0][0] != "D1 (dock)" {
		t.Errorf("%v", w.Lines)
	}
	if said := RowPlain(words.English, r.Deployments[0], r.Level); len(said) != 1 || !strings.Contains(said[0], "faster at first") {
		t.Errorf("%q", said)
	}
	// two intervals at one rate: 20 of 25 left after 1 h, 16 of 20 after 2 h
	even, err := rates.Compute(t.Context(), []assay.Deployment{{ID: "E", SetOut: at(0), Baits: 25, Checks: []assay.Check{check(1, 1, 5, 0), check(2, 2, 9, 0)}}}, rates.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if said := RowPlain(words.English, even.Deployments[0], 0.95); len(said) != 2 || !strings.Contains(said[1], "3 h 06 min") { // ln 2 / −ln 0.8 = 3.106 h
		t.Errorf("%q", said)
	}
}

// The report holds every table of numbers, on the page and on paper; a table that is
// too wide for paper stands there as a list, whole.
func TestReportHoldsTheNumbers(t *testing.T) {
	in := input(t, words.English)
	page, err := Page(in)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range append(NumberTables(words.English, in.Compare), RowTables(words.English, in.Rates)...) {
		if !strings.Contains(string(page), "<caption>"+html.EscapeString(n.Caption)+"</caption>") {
			t.Errorf("the page lacks %q", n.Caption)
		}
		for _, line := range n.Lines {
			if last := line[len(line)-1]; !strings.Contains(string(page), "<td>"+html.EscapeString(last)+"</td>") {
				t.Errorf("%s lacks %s", n.Name, last)
			}
		}
	}
}

// An archive of tables can be opened, and holds each table and the dictionary: it was
// once cut off before its list of files.
func TestArchiveOpens(t *testing.T) {
	in := input(t, words.English)
	tables := Tidy(in.Rates, in.Compare)
	data, err := ZIP(words.English, tables)
	if err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	if len(z.File) != len(tables)+1 {
		t.Errorf("%d files for %d tables", len(z.File), len(tables))
	}
	if again, err := ZIP(words.English, tables); err != nil || !bytes.Equal(again, data) {
		t.Error("the same tables gave other bytes")
	}
}

// Every check of the model has its drawing with its sentence, on the page and on paper;
// what could not be looked at says why, and is drawn nowhere.
func TestEveryCheckHasItsFigure(t *testing.T) {
	in := input(t, words.English)
	drawn := map[string]CloserPicture{}
	for _, p := range CloserPictures(words.English, in.Closer) {
		d, err := p.Draw(figure.Frame{ID: p.Name, WidthMM: 160, Look: figure.Print})
		if err != nil {
			t.Fatal(err)
		}
		if len(p.Sentences) == 0 || len(p.Sentences[0]) < 20 || d.Title == "" {
			t.Errorf("%s: %q under %q", p.Name, p.Sentences, d.Title)
		}
		drawn[p.Name] = p
	}
	for name, test := range map[string]string{"residuals": fitness.Uniform, "early-late": fitness.EarlyLate, "extra-variation": fitness.Extra, "dispersion": fitness.Dispersion,
		"runs": fitness.Runs, "date": fitness.Date, "time-of-day": fitness.TimeOfDay, "distance": fitness.Distance} {
		x, ok := in.Closer.Test(test)
		if !ok || !x.P.Known() {
			t.Errorf("%s was not made", test)
			continue
		}
		if p := drawn[name]; !slices.Contains(p.Sentences, x.Sentence(words.English)) {
			t.Errorf("the drawing %s does not say what %s says", name, test)
		}
	}
	for _, name := range []string{"without-site", "balance"} {
		if drawn[name].Draw == nil {
			t.Errorf("no drawing %s", name)
		}
	}
	if rest := CloserUndrawn(words.English, in.Closer); len(rest) > 0 {
		t.Errorf("without a drawing: %q", rest)
	}
	page, err := Page(in)
	if err != nil {
		t.Fatal(err)
	}
	for name, p := range drawn {
		for _, s := range p.Sentences {
			if !strings.Contains(string(page), html.EscapeString(s)) {
				t.Errorf("the page lacks the sentence of %s", name)
			}
		}
	}
}
