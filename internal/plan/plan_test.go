package plan

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/internal/words"
)

var june = time.Date(2026, 6, 1, 8, 0, 0, 0, time.UTC)

func usual() Plan {
	return Plan{Written: june, By: "habitat", Link: "cloglog", Family: "binomial", Bands: "nominal", Controls: "leave-out", Adjust: "holm", Usual: true, Quadrature: 1, Level: 0.95,
		Bootstrap: 999, Seed: 1, Protocol: "standard 1", Fraction: 0.5, Ways: []string{"bait gone", "tether gone"}, SoaksH: []float64{1, 24}, Repeats: true}
}

// The text of a plan, written out by hand; its hash was worked out by coreutils'
// sha256sum 9.1 from a file with these lines.
func TestText(t *testing.T) {
	p := usual()
	p.Question, p.Among, p.Sites = "more in seagrass?", []string{"seagrass", "sand"}, 8
	p.Terms = []Term{{"squared", "depth_min_m"}, {"covariate", "temperature_c"}, {"covariate", "temperature_c"}}
	want := `Soakline analysis plan, form 1
written: 2026-06-01T08:00:00Z
rows set out or read by then: 0
question: more in seagrass?
compare by: habitat
among: sand
among: seagrass
covariate: temperature_c
squared: depth_min_m
link: cloglog
family: binomial
check: all
bands: nominal
random intercept: usual
controls: leave-out
adjust: holm
level: 0.95
quadrature points: 1
simulated seasons: 999
seed: 1
protocol: standard 1
consumed when more is gone than: 0.5
counts as consumed: bait gone
counts as consumed: tether gone
check after h: 1
check after h: 24
lost baits: leave when last seen
unread baits: count over the longer interval
never in the comparison: control rows, practice rows, records with something impossible in them
repeat with lost baits and sites changed: yes
closer look at the model: no
sites: 8
`
	if got := p.Text(); got != want {
		t.Errorf("text is\n%s\nwant\n%s", got, want)
	}
	if got, want := Hash(want), "20dcf4901ca3a1da01e3988d8150ec02107c3cce15a356efbf87c65c4b813565"; got != want {
		t.Errorf("hash %s, want %s", got, want)
	}
}

// Whatever is planned reads back as the same plan, to the letter.
func TestReadBack(t *testing.T) {
	line := rapid.StringMatching(`[a-zé:,;=" ]{0,20}`).Filter(Line)
	some := rapid.StringMatching(`[a-z:,]{1,9}`)
	rapid.Check(t, func(t *rapid.T) {
		p := usual()
		p.Written = june.Add(time.Duration(rapid.IntRange(0, 1e8).Draw(t, "at")) * time.Second)
		p.RowsThen, p.Question, p.Season = rapid.IntRange(0, 99).Draw(t, "rows"), line.Draw(t, "question"), line.Draw(t, "season")
		p.By, p.Reference = some.Draw(t, "by"), line.Draw(t, "reference")
		p.Among, p.LeaveOut, p.Notes = rapid.SliceOf(some).Draw(t, "among"), rapid.SliceOf(some).Draw(t, "out"), rapid.SliceOf(some).Draw(t, "notes")
		for _, k := range rapid.SliceOf(rapid.SampledFrom(Kinds)).Draw(t, "kinds") {
			p.Terms = append(p.Terms, Term{k, some.Draw(t, "term")})
		}
		p.Usual = rapid.Bool().Draw(t, "usual")
		if !p.Usual {
			p.Random = rapid.SliceOf(rapid.SampledFrom([]string{"site", "site-habitat", "deployment", "observers"})).Draw(t, "random")
		}
		if p.Auto = rapid.Bool().Draw(t, "auto"); p.Auto {
			p.Bootstrap = 0
		}
		p.Check, p.Level, p.Seed = rapid.IntRange(0, 9).Draw(t, "check"), rapid.Float64Range(0.5, 0.999).Draw(t, "level"), rapid.Uint64().Draw(t, "seed")
		p.Sites, p.Rows, p.Baits = rapid.IntRange(0, 9).Draw(t, "sites"), rapid.IntRange(0, 9).Draw(t, "n"), rapid.IntRange(0, 9).Draw(t, "baits")
		p.Closer = rapid.Bool().Draw(t, "closer")
		text := p.Text()
		q, err := Read(text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if q.Text() != text || !q.Same(p) {
			t.Fatalf("%s\nreads back as\n%s", text, q.Text())
		}
	})
}

// A text that Text does not write is refused, so that no plan reads otherwise than it was hashed.
func TestReadRefuses(t *testing.T) {
	good := usual().Text()
	if _, err := Read(good); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"", good + "\n", strings.Replace(good, "form 1", "form 2", 1), strings.Replace(good, "seed: 1", "seed: 01", 1), strings.Replace(good, "seed: 1\n", "", 1),
		strings.Replace(good, "level: 0.95", "level: x", 1), strings.ReplaceAll(good, "\n", "\r\n"), good + "surprise: yes\n", strings.Replace(good, "lost baits: leave when last seen\n", "", 1)} {
		if _, err := Read(bad); err == nil {
			t.Errorf("taken as a plan:\n%s", bad)
		}
	}
}

func kept(p Plan, days int) Kept {
	p.Written = june.AddDate(0, 0, days)
	return Kept{Plan: p, Text: p.Text(), SHA256: Hash(p.Text())}
}

// Rows are set out on days 10, 20 and 30: the plan that counts asks about the same
// factor, has the fewest rows before it, and is the latest of those without rows, else the first.
func TestChoose(t *testing.T) {
	before := func(p Plan) int {
		n := 0
		for _, day := range []int{10, 20, 30} {
			if !p.Written.Before(june.AddDate(0, 0, day)) {
				n++
			}
		}
		return n
	}
	site := usual()
	site.By = "site"
	gone := kept(usual(), 6)
	gone.Withdrawn = true
	late := kept(usual(), 8)
	late.RowsThen = 4 // typed in with dates that are wrong, or brought in later
	for _, c := range []struct {
		plans []Kept
		by    string
		want  int
	}{
		{nil, "habitat", -1},
		{[]Kept{gone}, "habitat", -1},
		{[]Kept{kept(usual(), 0), kept(usual(), 5), kept(usual(), 25)}, "habitat", 1}, // an amendment before the data counts, one after does not
		{[]Kept{kept(usual(), 0), gone}, "habitat", 0},
		{[]Kept{kept(usual(), 15), kept(usual(), 40)}, "habitat", 0},
		{[]Kept{kept(usual(), 15), kept(usual(), 16)}, "habitat", 0}, // with a row there, the first of two
		{[]Kept{kept(usual(), 0), kept(site, 2)}, "habitat", 0},
		{[]Kept{kept(usual(), 0), kept(site, 25)}, "site", 1},
		{[]Kept{kept(site, 0)}, "habitat", 0},
		{[]Kept{kept(usual(), 0), late}, "habitat", 0},
	} {
		if got := Choose(c.plans, c.by, before); got != c.want {
			t.Errorf("%d plans by %s: %d, want %d", len(c.plans), c.by, got, c.want)
		}
	}
}

// each part's status where one thing is done otherwise than planned
func TestJudged(t *testing.T) {
	for _, c := range []struct {
		name   string
		part   string
		of     string
		change func(p *Plan, d *Done)
		want   Status
		say    string
	}{
		{"link", "link", "", func(p *Plan, d *Done) { d.Link = "logit" }, Changed, "link (planned complementary log-log, done logit)"},
		{"family", "family", "", func(p *Plan, d *Done) { p.Family = "betabinomial" }, Changed, "distribution of the counts (planned beta-binomial, done binomial)"},
		{"bands", "bands", "", func(p *Plan, d *Done) { d.Bands = "checks" }, Changed, "time bands (planned cut at the nominal soaks, done one for each check number)"},
		{"check", "check", "", func(p *Plan, d *Done) { d.Check = 2 }, Changed, "checks compared (planned all, done 2)"},
		{"level", "level-of-limits", "", func(p *Plan, d *Done) { d.Level = 0.9 }, Changed, "confidence level (planned 0.95, done 0.9)"},
		{"adjust", "adjust", "", func(p *Plan, d *Done) { d.Adjust = "none" }, Changed, "adjustment for several pairs (planned Holm, done none)"},
		{"controls", "controls", "", func(p *Plan, d *Done) { d.Controls = "subtract" }, Changed, "control rows (planned left out, done subtracted)"},
		{"quadrature", "quadrature", "", func(p *Plan, d *Done) { d.Quadrature = 9 }, Changed, "integration points (planned 1, done 9)"},
		{"reference", "reference", "", func(p *Plan, d *Done) { d.Reference = "sand" }, Changed, "reference (planned the first level, done sand)"},
		{"threshold", "threshold", "", func(p *Plan, d *Done) { d.Fraction = 0.25 }, Changed, "share gone that counts as consumed (planned 0.5, done 0.25)"},
		{"ways", "ways", "", func(p *Plan, d *Done) { d.Ways = []string{"bait gone", "stake gone"} }, Changed, "what counts as consumed (planned bait gone from its tether, tether cut or bitten off, done bait gone from its tether, stake gone)"},
		{"protocol", "protocol", "", func(p *Plan, d *Done) { d.Others = []string{"other 1 (3)"} }, Changed, "protocol (planned standard 1, done other 1 (3))"},
		{"soaks", "soaks", "", func(p *Plan, d *Done) { d.SoaksH = []float64{1} }, Changed, "checks after hours (planned 1, 24, done 1)"},
		{"seed", "seed", "", func(p *Plan, d *Done) { d.Seed = 7 }, Changed, "seed (planned 1, done 7)"},
		{"seasons", "simulated", "", func(p *Plan, d *Done) { d.Bootstrap = 99 }, Changed, "simulated seasons (planned 999, done 99)"},
		{"no seasons", "simulated", "", func(p *Plan, d *Done) { d.Bootstrap = 0 }, NotDone, "simulated seasons (999)"},
		{"more seasons", "simulated", "", func(p *Plan, d *Done) { p.Bootstrap = 0 }, Exploratory, "simulated seasons (999)"},
		{"auto", "simulated", "", func(p *Plan, d *Done) { p.Auto, p.Bootstrap, d.Auto, d.Bootstrap = true, 0, true, 0 }, Planned, "simulated seasons"},
		{"random", "random", "", func(p *Plan, d *Done) { d.Usual, d.Random = false, []string{"site"} }, Changed, "random intercepts (planned those the rows can carry, done site)"},
		{"random carried", "random", "", func(p *Plan, d *Done) {
			p.Usual, d.Usual, p.Random, d.Random = false, false, []string{"site", "deployment"}, []string{"site", "deployment"}
		}, Planned, "random intercepts"},
		{"random not carried", "random", "", func(p *Plan, d *Done) {
			p.Usual, d.Usual, p.Random, d.Random, d.Used = false, false, []string{"site", "deployment"}, []string{"site", "deployment"}, []string{"deployment"}
		}, Changed, "random intercepts (planned row within site, site, done row within site)"},
		{"covariate added", "covariate", "salinity", func(p *Plan, d *Done) { d.Terms = []Term{{"covariate", "salinity"}} }, Exploratory, "covariate salinity"},
		{"covariate dropped", "covariate", "salinity", func(p *Plan, d *Done) { p.Terms = []Term{{"covariate", "salinity"}} }, NotDone, "covariate salinity"},
		{"covariate bent", "squared", "salinity", func(p *Plan, d *Done) {
			p.Terms, d.Terms = []Term{{"covariate", "salinity"}}, []Term{{"squared", "salinity"}}
		}, Exploratory, "salinity with its square"},
		{"pair of terms", "together", "habitat,time", func(p *Plan, d *Done) { d.Terms = []Term{{"together", "habitat,time"}} }, Exploratory, "habitat and time depending on each other"},
		{"pair", "pair", "reef / sand", func(p *Plan, d *Done) { p.Among = []string{"mud", "sand"} }, Exploratory, "the pair reef / sand"},
		{"level missing", "level", "mud", func(p *Plan, d *Done) { p.Among = []string{"mud", "reef", "sand"} }, NotDone, "mud among what is compared"},
		{"question", "by", "", func(p *Plan, d *Done) { d.By = "site" }, Exploratory, "the whole question (planned: to compare by habitat; done: by site)"},
		{"withdrawn", "left-out", "", func(p *Plan, d *Done) { d.OutByHand = 2 }, Exploratory, "rows withdrawn by hand (2)"},
		{"rule", "left-out", "", func(p *Plan, d *Done) { p.LeaveOut, d.OutByHand = []string{"fell dry"}, 2 }, Judge, "rows withdrawn by hand (2), where the plan leaves out: fell dry"},
		{"season", "season", "", func(p *Plan, d *Done) { p.Season, d.Seasons = "2026", []string{"2025", "2026"} }, Changed, "season (planned 2026, done 2025, 2026)"},
		{"sites", "sites", "", func(p *Plan, d *Done) { p.Sites, d.Sites = 8, 7 }, Changed, "number of sites (planned 8, done 7)"},
		{"rows", "rows", "", func(p *Plan, d *Done) { p.Rows, d.Rows = 8, 8 }, Planned, "number of rows"},
		{"baits", "baits", "", func(p *Plan, d *Done) { p.Baits, d.BaitsIn = 25, []int{20, 25} }, Changed, "baits in each row (planned 25, done 20, 25)"},
		{"repeats", "repeats", "", func(p *Plan, d *Done) { d.Repeats = false }, NotDone, "the comparison again with lost baits and sites changed"},
		{"closer", "closer", "", func(p *Plan, d *Done) { d.Closer = true }, Exploratory, "closer look at the model"},
	} {
		p, d := usual(), Done{Plan: usual(), Used: []string{"site", "deployment"}, Pairs: [][2]string{{"reef", "sand"}}}
		d.Among = []string{"reef", "sand"}
		for _, x := range Judged(p, d) {
			if x.Status != Planned {
				t.Fatalf("as planned, but %+v", x)
			}
		}
		c.change(&p, &d)
		found := false
		for _, x := range Judged(p, d) {
			if x.Part != c.part || x.Name != c.of {
				continue
			}
			found = true
			if x.Status != c.want || x.Status != Planned && x.Sentence(words.English) != c.say {
				t.Errorf("%s: %s, %q; want %s, %q", c.name, x.Status, x.Sentence(words.English), c.want, c.say)
			}
		}
		if !found {
			t.Errorf("%s: no part %s %s", c.name, c.part, c.of)
		}
	}
}

// Every part and status has its words in every language.
func TestWords(t *testing.T) {
	p, d := usual(), Done{Plan: usual(), Pairs: [][2]string{{"a", "b"}}, OutByHand: 1}
	p.Among, p.Season, p.Sites, p.Rows, p.Baits, p.Closer = []string{"a", "c"}, "x", 1, 1, 1, true
	for _, k := range Kinds {
		p.Terms = append(p.Terms, Term{k, "n,m"})
	}
	s := Stand([]Kept{kept(p, 0), kept(p, 1)}, 0, func(Plan) int { return 1 }, d)
	s.Others[0].Withdrawn = true
	for _, l := range words.Languages {
		for _, text := range append(s.Sentences(l), (&Standing{}).Sentences(l)...) {
			if strings.ContainsAny(text, "⟨⟩") {
				t.Errorf("%s: %s", l, text)
			}
		}
	}
	if (*Standing)(nil).Sentences(words.English) != nil {
		t.Error("a result from files tells of plans")
	}
}
