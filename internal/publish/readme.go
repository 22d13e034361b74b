package publish

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
)

// quoted is a text as YAML reads it: JSON strings are YAML strings.
func quoted(s string) string {
	b, err := json.Marshal(clean(s))
	if err != nil {
		panic("publish: " + err.Error())
	}
	return string(b)
}

// cff is CITATION.cff, version 1.2.0 of the Citation File Format.
func (r *release) cff() []byte {
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	p("cff-version: 1.2.0")
	p("message: %s", quoted("If you use these data, please cite them as below."))
	p("type: dataset")
	p("title: %s", quoted(r.m.Title))
	p("authors:")
	for _, c := range r.m.creators() {
		if c.Name == "" {
			p("  - name: %s", quoted(c.Organisation))
			continue
		}
		p("  - family-names: %s", quoted(c.Name))
		if c.Organisation != "" {
			p("    affiliation: %s", quoted(c.Organisation))
		}
		if c.ORCID != "" {
			p("    orcid: %s", quoted("https://orcid.org/"+bareORCID(c.ORCID)))
		}
	}
	p("date-released: %s", quoted(r.m.Date))
	p("license: %s", r.licence.ID)
	if r.m.Version != "" {
		p("version: %s", quoted(r.m.Version))
	}
	if doi, ok := strings.CutPrefix(r.m.DatasetID, "https://doi.org/"); ok {
		p("doi: %s", quoted(doi))
	} else if strings.HasPrefix(r.m.DatasetID, "http") {
		p("url: %s", quoted(r.m.DatasetID))
	}
	if a := strings.Join(paragraphs(r.m.Abstract), " "); a != "" {
		p("abstract: %s", quoted(a))
	}
	return []byte(b.String())
}

// readme tells a stranger what lies here.
func (r *release) readme(out *Result, lv *levels, frozen *Release) []byte {
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	p("# %s\n", clean(r.m.Title))
	if r.in.Invented {
		p("**Invented data: no such programme, places or people.**\n")
	}
	for _, t := range paragraphs(r.m.Abstract) {
		p("%s\n", t)
	}
	p("%s from %s to %s.\n", many(len(r.keep), "row")+" of stakes", lv.all.from.UTC().Format(time.DateOnly), lv.all.to.UTC().Format(time.DateOnly))
	p("Licence: %s (%s). Cite as: %s\n", r.licence.ID, r.licence.Deed, r.citation())
	p("Questions: %s, %s\n", clean(r.m.Contact.Name), r.m.Contact.Email)
	p("## How it was done\n")
	for _, t := range r.methodTexts() {
		p("- %s", clean(t))
	}
	p("\n## What is where\n")
	p("| file | what |\n|---|---|")
	p("| `datapackage/` | the tables as CSV; `datapackage.json` says what every column is. Start with `deployments.csv` |")
	for _, f := range out.Files {
		switch f.Path {
		case "tables.xlsx":
			p("| `tables.xlsx` | the same tables in one workbook, the meaning of every column first |")
		case "archive.zip":
			p("| `archive.zip` | Darwin Core Archive: events (programme, season, site visit, row, check), measurements, animals seen; `eml.xml` describes it |")
		}
	}
	p("| `deployments.geojson` | one point for each row, for maps |")
	p("| `model.R`, `frame.csv` | fits the comparison of habitats again with other programs, and sets both sets of numbers beside each other |")
	if n := len(r.planFiles()); n > 0 {
		p("| `analysis-plan….txt` | what was to be compared, as it was kept; its SHA-256 is that of the file |")
	}
	p("| `release.json` | which rows this version holds, and what changed |")
	p("| `dataset.jsonld`, `datacite.json` | the same description for a page on the web and for the deposit of a DOI |")
	p("| `CITATION.cff`, `SHA256SUMS` | how to cite; checksums (`sha256sum -c SHA256SUMS`) |")
	p("\n## To know before use\n")
	p("- An empty count means not read; 0 means none. Lost baits were never found again: their fate is not known, and they are not counted as consumed.")
	p("- Counts are cumulative from setting out. Times carry their offset from UTC; soaks are elapsed time.")
	p("- Control rows measure bait loss other than by consumers. Keep them out of comparisons of habitats.")
	for _, m := range r.messages {
		p("- %s", clean(m.In("en")))
	}
	r.readmeLeft(p)
	r.readmeChanges(p, frozen)
	return []byte(b.String())
}

// readmeLeft tells how many records are not here, by reason. What is impossible in
// a record is told by the name of the rule, since its sentence is about one record.
func (r *release) readmeLeft(p func(string, ...any)) {
	if len(r.leftOut) == 0 {
		return
	}
	by := map[string]int{}
	var reasons []string
	for _, l := range r.leftOut {
		text := l.Slug
		if strings.HasPrefix(l.Slug, "publish.") {
			text = l.Text
		}
		if by[text]++; by[text] == 1 {
			reasons = append(reasons, text)
		}
	}
	slices.Sort(reasons)
	p("\n## Left out\n")
	for _, s := range reasons {
		p("- %s: %s", many(by[s], "row"), clean(s))
	}
}

func (r *release) readmeChanges(p func(string, ...any), f *Release) {
	if r.in.Previous == nil {
		return
	}
	p("\n## Changes since %s\n", strings.TrimSpace(r.in.Previous.Version+" "+r.in.Previous.Date))
	name := map[string]string{}
	for k, id := range r.ids {
		name[id] = r.names[k] + ", "
	}
	for _, c := range f.Changes {
		text := c.Kind + ": " + name[c.Event] + c.Event
		if c.Why != "" {
			text += " (" + c.Why + ")"
		}
		p("- %s", clean(text))
	}
	if len(f.Changes) == 0 {
		p("None of the rows changed.")
	}
}
