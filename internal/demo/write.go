package demo

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// filePrefix begins the name of every file, so that no copy passes for data.
const filePrefix = "invented-"

// File is one file of the season.
type File struct {
	Name  string
	Bytes []byte
	// Messy marks a team's own sheet, as against the truth beside it.
	Messy bool
	Team  string // of a messy sheet
}

// The files beside the messy ones.
const (
	CleanFile     = filePrefix + "season.csv"
	StakesFile    = filePrefix + "season-stakes.csv"
	SightingsFile = filePrefix + "season-sightings.csv"
	TruthFile     = filePrefix + "truth.json"
	PlantedFile   = filePrefix + "planted.json"
	AnswersFile   = filePrefix + "answers.json"
	AboutFile     = filePrefix + "about.txt"
)

// mark is the sentence at the top of every sheet, in English.
func (s *Season) mark() string {
	return words.English.Say("demo.mark", map[string]any{"seed": fmt.Sprint(s.Seed)})
}

func (s *Season) file(name string, b []byte) {
	s.files = append(s.files, File{Name: name, Bytes: b})
}

// sheets writes every team's file, then the truth.
func (s *Season) sheets() {
	for _, c := range s.teams {
		var rows []*row
		for _, r := range s.rows {
			if r.crew == c {
				rows = append(rows, r)
			}
		}
		firstFile, firstAnswer := len(s.files), len(s.answers)
		switch c.name {
		case "Brisa":
			s.brisa(rows)
		case "Marea":
			s.marea(c, rows)
			n := 0 // the sheets hold the rows site by site, and so does the truth
			for i, r := range s.rows {
				if r.crew == c {
					s.rows[i] = rows[n]
					n++
				}
			}
		case "Espuma":
			s.espuma(c, rows)
		case "Salina":
			s.salina(c, rows)
		}
		inOrder(s.answers[firstAnswer:])
		for i := firstFile; i < len(s.files); i++ {
			s.files[i].Messy, s.files[i].Team = true, c.name
		}
	}
	clean := s.Clean()
	s.file(CleanFile, Canonical(clean))
	s.file(StakesFile, CanonicalStakes(clean))
	s.file(SightingsFile, CanonicalSightings(clean))
	s.file(TruthFile, indented(s.Truth))
	s.file(PlantedFile, indented(struct {
		Invented string    `json:"invented"`
		Planted  []Planted `json:"planted"`
	}{s.Truth.Invented, s.planted}))
	s.file(AnswersFile, indented(struct {
		Invented string   `json:"invented"`
		Answers  []Answer `json:"answers"`
	}{s.Truth.Invented, s.answers}))
	s.file(AboutFile, []byte(s.Say(words.English)+"\n"+s.Say(words.Spanish)))
}

// Edited is a messy file as it is after the steps Edit of Answers, which change
// the file itself before it can be read; false for a file without such a step.
func (s *Season) Edited(name string) ([]byte, bool) {
	b, ok := s.edited[name]
	return b, ok
}

// Say tells the season and its truth in a few sentences, one a line.
func (s *Season) Say(l words.Language) string {
	m := s.Truth.Model
	var b strings.Builder
	say := func(slug string, with map[string]any) { b.WriteString(l.Say("demo."+slug, with) + "\n") }
	say("mark", map[string]any{"seed": fmt.Sprint(s.Seed)})
	say("size", map[string]any{"deployments": len(s.rows), "teams": len(s.teams), "sites": len(s.Truth.Sites), "seasons": len(seasons)})
	for _, h := range m.Habitats {
		say("habitat", map[string]any{"habitat": h.Habitat, "rate": h.FirstRatePerH, "later": h.LaterRatePerH, "first": h.Mean1H, "day": h.Mean24H})
	}
	for _, r := range s.Truth.Ratios {
		say("ratio", map[string]any{"a": r.A, "b": r.B, "ratio": r.RateRatio})
	}
	say("temperature", map[string]any{"times": math.Exp(m.TemperaturePerC), "at": m.ReferenceC})
	say("spread", map[string]any{"site": m.SDSite, "sitehabitat": m.SDSiteHabitat, "row": m.SDDeployment})
	return b.String()
}

// Write puts every file into dir, which it makes when it is not there. It
// overwrites files of the same names and touches no other. The error names the
// file that could not be written.
func (s *Season) Write(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for _, f := range s.files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Bytes, 0o644); err != nil {
			return err
		}
	}
	return nil
}

func indented(v any) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(v); err != nil {
		panic("demo: " + err.Error())
	}
	return b.Bytes()
}

// csvBytes writes a table, with the lines above it as they are.
func csvBytes(t *table, above [][]string, separator rune) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Comma, w.UseCRLF = separator, true
	for _, line := range above {
		w.Flush()
		b.WriteString(strings.Join(line, string(separator)) + "\r\n")
	}
	if err := w.WriteAll(append([][]string{t.headings()}, t.lines...)); err != nil {
		panic("demo: " + err.Error())
	}
	return b.Bytes()
}

func formatLocal(m assay.Moment) string { return sheet.FormatMoment(m) }
