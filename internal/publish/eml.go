package publish

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// emlXML is the description of the data set (EML 2.2.0). Coverage is computed
// from what is published, methods come from the protocols the rows name.
func (r *release) emlXML(lv *levels, packageID string, changes []change) ([]byte, error) {
	taxa, err := r.taxa()
	if err != nil {
		return nil, err
	}
	d := newDoc()
	d.inside("eml:eml", func() {
		d.inside("dataset", func() {
			r.emlHead(d)
			r.emlCoverage(d, lv, taxa)
			r.emlMaintenance(d, changes)
			r.party(d, "contact", r.m.Contact)
			if r.m.Publisher != "" {
				d.inside("publisher", func() { d.text("organizationName", r.m.Publisher) })
			}
			r.emlMethods(d, lv)
			r.emlProject(d)
		})
		d.inside("additionalMetadata", func() {
			d.inside("metadata", func() {
				d.inside("gbif", func() {
					d.text("dateStamp", r.m.Date+"T00:00:00Z")
					d.text("hierarchyLevel", "dataset")
					d.text("citation", r.citation())
				})
			})
		})
	}, "xmlns:eml", "https://eml.ecoinformatics.org/eml-2.2.0", "packageId", packageID, "system", "soakline", "xml:lang", r.language())
	return d.bytes(), nil
}

func (r *release) language() string {
	if r.m.Language != "" {
		return r.m.Language
	}
	return "en"
}

// citation is how the data set is cited, as the metadata say it.
func (r *release) citation() string {
	var names []string
	for _, c := range r.m.creators() {
		if c.Name != "" {
			names = append(names, c.Name)
		} else {
			names = append(names, c.Organisation)
		}
	}
	s := strings.Join(names, "; ") + " (" + r.m.Date[:4] + "). " + strings.TrimRight(r.m.Title, ".") + "."
	if r.m.Version != "" {
		s += " Version " + r.m.Version + "."
	}
	if r.m.Publisher != "" {
		s += " " + r.m.Publisher + "."
	}
	if r.m.DatasetID != "" {
		s += " " + r.m.DatasetID
	}
	return s
}

func (r *release) emlHead(d *doc) {
	d.text("alternateIdentifier", r.m.DatasetID)
	d.text("title", r.m.Title, "xml:lang", r.language())
	for _, c := range r.m.creators() {
		r.party(d, "creator", c)
	}
	r.party(d, "metadataProvider", r.m.Contact)
	for _, p := range r.people.credited(r) {
		r.party(d, "associatedParty", Party{Name: p.credit(), ORCID: p.ORCID, Role: "observer"})
	}
	d.text("pubDate", r.m.Date)
	d.text("language", r.language())
	abstract := paragraphs(r.m.Abstract)
	if r.in.Invented {
		abstract = append(abstract, "Invented data: no such programme, places or people.")
	}
	if len(abstract) > 0 {
		d.inside("abstract", func() {
			for _, p := range abstract {
				d.text("para", p)
			}
		})
	}
	if len(r.m.Keywords) > 0 {
		d.inside("keywordSet", func() {
			for _, k := range r.m.Keywords {
				d.text("keyword", k)
			}
		})
	}
	d.inside("intellectualRights", func() {
		// One line, as the archives read it.
		d.indent()
		d.b.WriteString(`<para>This work is licensed under a <ulink url="` + escape(r.licence.LegalCode) + `"><citetitle>` + escape(r.licence.Title) + "</citetitle></ulink>.</para>\n")
	})
	d.inside("licensed", func() {
		d.text("licenseName", r.licence.Name)
		d.text("url", "https://spdx.org/licenses/"+r.licence.ID+".html")
		d.text("identifier", r.licence.ID)
	})
}

// paragraphs splits a text at its empty lines.
func paragraphs(s string) []string {
	var out []string
	for _, p := range strings.Split(strings.ReplaceAll(s, "\r\n", "\n"), "\n\n") {
		if p = clean(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

func (r *release) party(d *doc, element string, p Party) {
	d.inside(element, func() {
		if p.Name != "" {
			// The schema wants a surname; which part of a name that is differs
			// between peoples, so the whole name stands there, as written.
			d.inside("individualName", func() { d.text("surName", p.Name) })
		}
		d.text("organizationName", p.Organisation)
		d.text("electronicMailAddress", p.Email)
		if p.ORCID != "" {
			d.text("userId", bareORCID(p.ORCID), "directory", "https://orcid.org/")
		}
		if p.ROR != "" {
			d.text("userId", "https://ror.org/"+bareROR(p.ROR), "directory", "https://ror.org/")
		}
		if element == "associatedParty" {
			d.text("role", p.Role)
		}
	})
}

func (r *release) emlCoverage(d *doc, lv *levels, taxa []Taxon) {
	all := &lv.all
	d.inside("coverage", func() {
		if all.box.any {
			r.emlGeography(d, lv)
		}
		d.inside("temporalCoverage", func() {
			d.inside("rangeOfDates", func() {
				d.inside("beginDate", func() { d.text("calendarDate", all.from.UTC().Format(time.DateOnly)) })
				d.inside("endDate", func() { d.text("calendarDate", all.to.UTC().Format(time.DateOnly)) })
			})
		})
		if len(taxa) > 0 {
			d.inside("taxonomicCoverage", func() {
				d.text("generalTaxonomicCoverage", "Animals seen or filmed near the rows, and animals looked for and not seen")
				for _, t := range taxa {
					d.inside("taxonomicClassification", func() {
						d.text("taxonRankName", t.Rank)
						d.text("taxonRankValue", t.ScientificName)
						if t.ScientificNameID != "" {
							d.text("taxonId", t.ScientificNameID, "provider", "as given in the list of taxa")
						}
					})
				}
			})
		}
	})
}

func (r *release) emlGeography(d *doc, lv *levels) {
	all := &lv.all
	w, s, e, n := all.box.bounds()
	var sites []string
	for _, l := range lv.order {
		addOnce(&sites, l.site)
	}
	slices.Sort(sites)
	text := many(len(sites), "site")
	if len(sites) <= 50 {
		text += ": " + strings.Join(sites, ", ")
	}
	d.inside("geographicCoverage", func() {
		d.text("geographicDescription", text)
		d.inside("boundingCoordinates", func() {
			d.text("westBoundingCoordinate", number(w, 6))
			d.text("eastBoundingCoordinate", number(e, 6))
			d.text("northBoundingCoordinate", number(n, 6))
			d.text("southBoundingCoordinate", number(s, 6))
			if lo, ok := all.depthMin.Get(); ok {
				d.inside("boundingAltitudes", func() {
					d.text("altitudeMinimum", number(-all.depthMax.Or(lo), 2))
					d.text("altitudeMaximum", number(-lo, 2))
					d.text("altitudeUnits", "meter")
				})
			}
		})
	})
}

func (r *release) emlMaintenance(d *doc, changes []change) {
	d.inside("maintenance", func() {
		d.inside("description", func() { d.text("para", "A later version lists what was added, corrected and withdrawn.") })
		d.text("maintenanceUpdateFrequency", "asNeeded")
		for _, c := range changes {
			d.inside("changeHistory", func() {
				d.text("changeScope", c.Event)
				d.text("oldValue", c.Kind)
				d.text("changeDate", r.m.Date)
				d.text("comment", c.Why)
			})
		}
	})
}

func (r *release) emlMethods(d *doc, lv *levels) {
	step := func(text string) {
		d.inside("methodStep", func() { d.inside("description", func() { d.text("para", text) }) })
	}
	d.inside("methods", func() {
		for _, t := range r.methodTexts() {
			step(t)
		}
		d.inside("sampling", func() {
			all := &lv.all
			d.inside("studyExtent", func() {
				d.inside("description", func() {
					d.text("para", fmt.Sprintf("%s with %s in %s: %s.", many(all.rows, "row"), many(all.baits, "bait"), many(len(all.habitats), "habitat"), strings.Join(all.habitats, ", ")))
				})
			})
			d.inside("samplingDescription", func() {
				d.text("para", "Each row is one event; each check of it is an event below it. Rows belong to the visit of a team to a site on one day, visits to a season, seasons to a programme.")
			})
		})
		d.inside("qualityControl", func() {
			d.inside("description", func() {
				for _, t := range r.qualityTexts() {
					d.text("para", t)
				}
			})
		})
	})
}

// usedProtocols are those the published rows name, by name.
func (r *release) usedProtocols() []assay.Protocol {
	seen := map[string]bool{}
	var names []string
	for _, i := range r.keep {
		name := r.in.Deployments[i].Protocol
		if name == "" {
			name = r.in.Usual
		}
		if _, ok := r.in.Protocols[name]; ok && !seen[name] {
			seen[name] = true
			names = append(names, name)
		}
	}
	slices.Sort(names)
	out := make([]assay.Protocol, len(names))
	for i, n := range names {
		out[i] = r.in.Protocols[n]
	}
	return out
}

// methodTexts tell how it was done, one text for each protocol used and one for
// what the words mean.
func (r *release) methodTexts() []string {
	out := []string{"A row of thin stakes is set out in one habitat at one depth, each stake with one dried bait on a short tether. At each check the baits that are gone are counted. Counts are cumulative from setting out."}
	for _, p := range r.usedProtocols() {
		var checks, how []string
		for _, c := range p.Checks {
			checks = append(checks, fmt.Sprintf("%s h (tolerance %s h)", number(c.SoakH, 3), number(c.ToleranceH, 3)))
		}
		for _, h := range p.CountsAsConsumed {
			how = append(how, string(h))
		}
		out = append(out, fmt.Sprintf("Protocol %s (%s): %s a row, %s m apart; bait form %s, %s mm; checks after %s; a bait counts as consumed when more than %s %% of it is gone (%s); depth change along the row at most %s m.",
			sheet.ProtocolName(p), p.Title, many(p.Baits, "bait"), number(p.SpacingM, 2), p.BaitForm, number(p.BaitSizeMM, 1), strings.Join(checks, " and "),
			number(100*p.ConsumedFraction, 1), strings.Join(how, ", "), number(p.DepthChangeMaxM, 2)))
	}
	if kinds := r.baitKinds(); len(kinds) > 0 {
		out = append(out, "Bait used: "+strings.Join(kinds, ", ")+".")
	}
	out = append(out, r.planTexts()...)
	return append(out, "A lost bait was never found again: its fate is not known and it is not counted as consumed. A bait not read at a check was read later. A check that was not made has an event without counts; no count is written as zero that was not read.")
}

// baitKinds are the kinds of bait of the published rows, in byte order.
func (r *release) baitKinds() []string {
	seen := map[string]bool{}
	_ = r.each(func(d row) error {
		if d.BaitKind != "" {
			seen[clean(d.BaitKind)] = true
		}
		return nil
	})
	return slices.Sorted(maps.Keys(seen))
}

// qualityTexts tell what was checked and what came of it.
func (r *release) qualityTexts() []string {
	asks, notes, answered := 0, 0, 0
	for _, i := range r.keep {
		for f := range r.findings(&r.in.Deployments[i]) {
			switch f.Severity {
			case assay.Ask:
				asks++
			case assay.Note:
				notes++
			}
			if f.Answered {
				answered++
			}
		}
	}
	left := map[string]bool{}
	for _, l := range r.leftOut {
		left[l.DeploymentID+"\n"+l.Slug] = true
	}
	return []string{
		"Every record was judged by rules on counts, times, soaks, positions, duplicates and deviations from the protocol. Impossible records are not published. What was probably wrong was asked, and the answer stands in the remarks of the event; deviations are declared there.",
		fmt.Sprintf("Published rows: %s asked (%s answered), %s declared. Left out: %s.", many(asks, "question"), strconv.Itoa(answered), many(notes, "deviation"), many(len(left), "record")),
	}
}

func (r *release) emlProject(d *doc) {
	programmes := map[string]bool{}
	title := ""
	for _, i := range r.keep {
		if p := r.in.Deployments[i].Programme; p != "" && !r.hidden.spills(p) {
			programmes[p] = true
			title = p
		}
	}
	if len(programmes) != 1 && len(r.m.Funding) == 0 {
		return
	}
	if len(programmes) != 1 {
		title = r.m.Title
	}
	d.inside("project", func() {
		d.text("title", title)
		d.inside("personnel", func() {
			d.inside("individualName", func() { d.text("surName", r.m.Contact.Name) })
			d.text("role", "contact")
		})
		for _, f := range r.m.Funding {
			d.inside("award", func() {
				d.text("funderName", f.Funder)
				if f.ROR != "" {
					d.text("funderIdentifier", "https://ror.org/"+bareROR(f.ROR))
				}
				d.text("awardNumber", f.Award)
				title := f.Title
				if title == "" {
					title = f.Award
				}
				if title == "" {
					title = f.Funder
				}
				d.text("title", title)
			})
		}
	})
}
