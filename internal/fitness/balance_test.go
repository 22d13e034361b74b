package fitness

import (
	"context"
	"strings"
	"testing"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/words"
)

// rows of two habitats at six sites, to be changed.
func rowsFor(change func(i int, d *assay.Deployment)) []assay.Deployment {
	truth := model
	truth.Sites, truth.RowsPerHabitat = 6, 1
	ds := truth.Season(2, 0)
	for i := range ds {
		set := time.Date(2026, 3, 2+i/2, 9, 0, 0, 0, time.UTC)
		move := set.Sub(ds[i].SetOut.At)
		ds[i].SetOut.At = set
		for k := range ds[i].Checks {
			ds[i].Checks[k].At.At = ds[i].Checks[k].At.At.Add(move)
		}
		change(i, &ds[i])
	}
	return ds
}

func messagesOf(t *testing.T, ds []assay.Deployment) []string {
	t.Helper()
	r, err := Look(context.Background(), ds, compare.Options{Seed: 1}, Options{Seasons: 99, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, m := range r.Messages {
		for _, l := range words.Languages {
			if s := m.In(l); strings.ContainsAny(s, "⟨⟩") {
				t.Errorf("%s in %s: %s", m.Slug, l, s)
			}
		}
		out = append(out, m.Slug+": "+m.In(words.English))
	}
	return out
}

// A batch, an observer, a team, the light or the course of the season that
// coincides with a habitat is told; one that is shared, or differs from row to
// row, is not.
func TestWhatCoincides(t *testing.T) {
	shift := func(d *assay.Deployment, by time.Duration) {
		d.SetOut.At = d.SetOut.At.Add(by)
		for k := range d.Checks {
			d.Checks[k].At.At = d.Checks[k].At.At.Add(by)
		}
	}
	for _, c := range []struct {
		name, want string
		change     func(i int, d *assay.Deployment)
	}{
		{"nothing", "", func(int, *assay.Deployment) {}},
		{"batch", "bait batch (batch of reef)", func(_ int, d *assay.Deployment) { d.BaitBatch = "batch of " + d.Habitat }},
		{"one row of the other", "", func(i int, d *assay.Deployment) {
			d.BaitBatch = "batch of " + d.Habitat
			if i == 0 {
				d.BaitBatch = "batch of sand"
			}
		}},
		{"team", "team (reef people)", func(_ int, d *assay.Deployment) { d.Team = d.Habitat + " people" }},
		{"observers", "observers (reef reader)", func(_ int, d *assay.Deployment) { d.Observers = d.Habitat + " reader" }},
		{"reader", "reader (reef reader)", func(_ int, d *assay.Deployment) { d.Checks[0].Reader = d.Habitat + " reader" }},
		{"one each", "", func(i int, d *assay.Deployment) { d.BaitBatch = string(rune('a' + i)) }},
		{"not known", "", func(i int, d *assay.Deployment) {
			if i > 1 {
				d.BaitBatch = "batch of " + d.Habitat
			}
		}},
		{"light", "(day)", func(_ int, d *assay.Deployment) {
			if d.Habitat == "sand" {
				shift(d, 12*time.Hour)
			}
		}},
		{"tide", "tide at setting out (rising)", func(i int, d *assay.Deployment) {
			d.Derived = map[string]float64{"tide_from_high_h": 1 + float64(i%3)}
			if d.Habitat == "reef" {
				d.Derived["tide_from_high_h"] = -1 - float64(i%4)
			}
		}},
		{"tide known of some", "", func(i int, d *assay.Deployment) {
			if d.Habitat == "reef" && i > 4 {
				d.Derived = map[string]float64{"tide_from_high_h": -1}
			}
		}},
		{"before", "reef was set out (2026-03-02 to 2026-03-07) before all others", func(_ int, d *assay.Deployment) {
			if d.Habitat == "sand" {
				shift(d, 24*20*time.Hour)
			}
		}},
		{"after", "reef was set out (2026-03-22 to 2026-03-27) after all others", func(_ int, d *assay.Deployment) {
			if d.Habitat == "reef" {
				shift(d, 24*20*time.Hour)
			}
		}},
	} {
		got := strings.Join(messagesOf(t, rowsFor(c.change)), "\n")
		if c.want == "" && got != "" || !strings.Contains(got, c.want) || strings.Count(got, "\n") > 0 {
			t.Errorf("%s: told %q, want %q", c.name, got, c.want)
		}
	}
}

// Counted by hand: six rows of each habitat, by batch.
func TestBalanceTable(t *testing.T) {
	r, err := Look(context.Background(), rowsFor(func(i int, d *assay.Deployment) {
		switch {
		case i < 4:
			d.BaitBatch = "a"
		case i < 11:
			d.BaitBatch = "b"
		}
	}), compare.Options{Seed: 1}, Options{Seasons: 99, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range r.Balance {
		if b.Factor != "batch" {
			continue
		}
		if b.Values[0].Rows[0] != 2 || b.Values[0].Rows[1] != 2 || b.Values[1].Rows[0] != 4 || b.Values[1].Rows[1] != 3 || b.Missing[0] != 0 || b.Missing[1] != 1 {
			t.Errorf("batches by habitat: %+v", b)
		}
		return
	}
	t.Error("no batches in the balance")
}

// Every test that cannot be made says why, in every language, and nothing fails:
// no rows, nothing consumed, one row, one habitat.
func TestHardSeasons(t *testing.T) {
	nothing := model.Season(1, 0)
	for i := range nothing {
		for k := range nothing[i].Checks {
			nothing[i].Checks[k].Consumed = assay.Some(0)
		}
	}
	one := model.Season(1, 0)
	for i := range one {
		one[i].Habitat = "reef"
	}
	for name, ds := range map[string][]assay.Deployment{"none": nil, "nothing consumed": nothing, "one row": model.Season(1, 0)[:1], "two rows": model.Season(1, 0)[:2], "one habitat": one} {
		r, err := Look(context.Background(), ds, compare.Options{Seed: 1}, Options{Seasons: 99, Seed: 1})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(r.Tests) != 8 {
			t.Errorf("%s: %d tests told", name, len(r.Tests))
		}
		for _, v := range r.Tests {
			for _, l := range words.Languages {
				if s := v.Sentence(l) + v.Name(l); strings.ContainsAny(s, "⟨⟩") || s == "" {
					t.Errorf("%s, %s in %s: %s", name, v.Slug, l, s)
				}
			}
			if !v.P.Known() && v.Why == "" {
				t.Errorf("%s: %s was not made and nobody knows why", name, v.Slug)
			}
		}
	}
}

// Every sentence, fine and off, has its parameters in every language.
func TestSentences(t *testing.T) {
	truth := model
	truth.Stakes = true
	r, err := Look(context.Background(), truth.Season(1, 0), compare.Options{Seed: 1}, Options{Seasons: 99, Refits: 5, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Off()) != 0 {
		t.Errorf("off: %+v", r.Off())
	}
	for _, v := range r.Tests {
		for _, off := range []bool{false, true} {
			v.Off = off
			for _, l := range words.Languages {
				if s := v.Sentence(l) + v.Plain(l); strings.ContainsAny(s, "⟨⟩") {
					t.Errorf("%s in %s: %s", v.Slug, l, s)
				}
			}
		}
	}
}
