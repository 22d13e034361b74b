package main

import (
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"soakline/internal/words"
)

// TestPageIsWhatWasCounted: docs/methods/studies.md says what the sums kept say,
// every line of every study is there, and wherever a rate is not held the program
// said so in at least 8 of 10 such seasons, by a message that stands in the
// catalogue.
func TestPageIsWhatWasCounted(t *testing.T) {
	page, err := render(everyStudy(), "results")
	if err != nil {
		t.Fatal(err)
	}
	printed, err := os.ReadFile("../../docs/methods/studies.md")
	if err != nil {
		t.Fatal(err)
	}
	if page != string(printed) {
		t.Error("docs/methods/studies.md is not what tools/studies/results gives; run make studies")
	}
	for _, s := range everyStudy() {
		kept, err := load("results", s.name)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range s.lines {
			tally := kept[l.name]
			if tally == nil || tally.Draws < 10 {
				t.Errorf("%s: %q was not drawn often enough", s.name, l.name)
				continue
			}
			s.heldOrSaid(t, l, tally)
		}
	}
}

func (s study) heldOrSaid(t *testing.T, l line, tally *tally) {
	t.Helper()
	for k, c := range s.columns {
		if tally.verdict(k, c) != missed {
			continue
		}
		if c.told == "" {
			t.Errorf("%s, %s: %s is %.4f and nothing says so", s.name, l.name, c.name, tally.mean(k))
			continue
		}
		if share := s.toldShare(tally, c.told); share < 0.8 {
			t.Errorf("%s, %s: %s is %.3f, and `%s` was said in %.0f %% only", s.name, l.name, c.name, tally.mean(k), c.told, 100*share)
		}
	}
}

func TestMessagesExist(t *testing.T) {
	for _, s := range everyStudy() {
		for _, c := range s.columns {
			for _, slug := range slugs(c.told) {
				if !words.Has(slug) {
					t.Errorf("%s tells of %s, which the catalogue lacks", s.name, slug)
				}
			}
		}
	}
}

// TestBrokenOffRunGoesOn: half of the draws, and then all of them, give the sums of
// one run, to the byte.
func TestBrokenOffRunGoesOn(t *testing.T) {
	s := lossStudy()
	s.lines = s.lines[:2]
	for i := range s.lines {
		s.lines[i].draws = 40
	}
	once, twice := t.TempDir(), t.TempDir()
	for _, r := range []struct {
		dir   string
		times float64
	}{{once, 1}, {twice, 0.5}, {twice, 1}, {twice, 1}} {
		if err := s.run(r.dir, r.times); err != nil {
			t.Fatal(err)
		}
	}
	a, err := os.ReadFile(filepath.Join(once, "loss.json"))
	b, err2 := os.ReadFile(filepath.Join(twice, "loss.json"))
	if err != nil || err2 != nil || string(a) != string(b) {
		t.Errorf("%v %v\n%s\n%s", err, err2, a, b)
	}
	if err := os.WriteFile(filepath.Join(twice, "loss.json"), []byte("{"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := s.run(twice, 1); err == nil {
		t.Error("a broken file of sums was taken")
	}
}

// TestSeasonIsWhatItSays: the mean proportion of drawn baits is the marginal one,
// and that of a row without differences is 1 − exp(−H), by hand.
func TestSeasonIsWhatItSays(t *testing.T) {
	s := season{sites: 400, rows: 5, baits: 25, habitats: []habitat{{"reef", 0.3}}, later: 0.2, site: 0.5, sh: 0.5, row: 0.4, soaksH: onTime}
	sum := [2]float64{}
	ds := s.draw(rand.New(rand.NewPCG(1, 1)))
	for _, d := range ds {
		for k, c := range d.Checks {
			sum[k] += float64(c.Consumed.Or(0)) / 25 / float64(len(ds))
		}
	}
	for k, h := range []float64{1, 24} {
		// the SD of such a mean over 400 sites is under 0.012
		if want := s.marginal(0.3, h); math.Abs(sum[k]-want) > 0.035 {
			t.Errorf("%.4f of the baits by %g h, expected %.4f", sum[k], h, want)
		}
	}
	flat := season{later: 0.2}
	if got, want := flat.marginal(0.3, 24), 1-math.Exp(-0.3-0.06*23); math.Abs(got-want) > 1e-9 {
		t.Errorf("%.9f, by hand %.9f", got, want)
	}
}
