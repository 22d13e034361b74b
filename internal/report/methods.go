package report

import (
	"slices"
	"strings"

	"soakline/internal/fitness"
	"soakline/internal/methods"
)

// methodsInput is what the methods section is written from.
func methodsInput(in Input) methods.Input {
	m := in.Input
	m.Checks = checksOf(in)
	return m
}

// checksOf puts a closer look into what the methods section tells of it.
func checksOf(in Input) *methods.Checks {
	r := in.Closer
	if r == nil {
		return nil
	}
	c := &methods.Checks{Seasons: r.Seasons, Refits: r.Refits, Balance: BalanceSentences(in.Lang, r)}
	for _, t := range r.Tests {
		c.Sentences = append(c.Sentences, t.Sentence(in.Lang))
		c.Runs = c.Runs || t.Slug == fitness.Runs && t.P.Known()
		c.Distance = c.Distance || t.Slug == fitness.Distance && t.P.Known()
	}
	sites := map[string]bool{}
	for _, w := range r.WithoutSite {
		if w.Site == "" {
			continue
		}
		sites[w.Site] = true
		if w.Turns && !slices.Contains(c.Turned, w.Site) {
			c.Turned = append(c.Turned, w.Site)
		}
	}
	c.Sites = len(sites)
	return c
}

// methodsSection writes the methods section, and the works it rests on.
func methodsSection(in Input) (paragraphs, references []string) {
	d := methods.Write(methodsInput(in))
	for _, s := range d.Sections {
		if s.Slug == "remarks" {
			continue // the report lists what the comparison told by itself
		}
		text := strings.Join(s.Paragraphs, " ")
		if len(s.Symbols) > 0 {
			text += " " + strings.Join(s.Symbols, "; ") + "."
		}
		paragraphs = append(paragraphs, s.Title+". "+text)
	}
	for _, r := range d.References {
		references = append(references, r.Text())
	}
	return paragraphs, references
}

// File is one file of the folder for a paper.
type File struct {
	Name string
	Data []byte
}

// Paper writes what a paper needs of a comparison: the methods section as
// Markdown and as text, its references as BibTeX, and the tables as CSV.
func Paper(in Input) ([]File, error) {
	d := methods.Write(methodsInput(in))
	files := []File{
		{"methods.md", d.Markdown(in.Lang)}, {"methods.txt", d.Plain(in.Lang)}, {"references.bib", methods.Bib(d.References)},
	}
	tables := PaperTables(in)
	for _, t := range append(tables, Dictionary(in.Lang, tables)) {
		data, err := CSV(t)
		if err != nil {
			return nil, err
		}
		files = append(files, File{"table-" + t.Name + ".csv", data})
	}
	return files, nil
}

func soakList(in Input) string {
	var s []string
	for _, c := range in.Usual.Checks {
		s = append(s, SoakWords(c.SoakH))
	}
	return strings.Join(s, ", ")
}
