package publish

import (
	"fmt"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// writeOccurrences writes the animals seen, and those looked for and not seen.
func (r *release) writeOccurrences(write func([]string) error) (n int, err error) {
	l := newLine(occurrenceTable)
	err = r.each(func(d row) error {
		for i, s := range d.Sightings {
			l.clear()
			r.occurrence(l, d, i+1, s)
			n++
			if err := write(l.cells); err != nil {
				return err
			}
		}
		return nil
	})
	return n, err
}

// absent says whether a sighting tells that an animal was not there: it was
// looked for and none was counted.
func absent(s assay.Sighting) bool {
	n, counted := s.Count.Get()
	return counted && n == 0
}

func (r *release) occurrence(l *line, d row, k int, s assay.Sighting) {
	l.set("eventID", d.Event)
	l.set("occurrenceID", d.Event+":sighting:"+strconv.Itoa(k))
	l.set("basisOfRecord", "HumanObservation")
	if s.Method == "video" {
		l.set("basisOfRecord", "MachineObservation")
	}
	l.set("occurrenceStatus", "present")
	if absent(s) {
		l.set("occurrenceStatus", "absent")
	}
	if n, ok := s.Count.Get(); ok {
		l.set("individualCount", strconv.Itoa(n))
	}
	l.set("verbatimIdentification", s.Taxon)
	l.set("scientificName", s.Taxon)
	if t, ok := r.m.TaxonList[s.Taxon]; ok {
		l.set("scientificName", t.ScientificName)
		l.set("scientificNameID", t.ScientificNameID)
		l.set("taxonRank", t.Rank)
		l.set("kingdom", t.Kingdom)
	}
	if s.TookBait.Or(false) {
		l.set("behavior", "taking bait")
	}
	from, to := s.From, s.To
	if !from.Known() {
		from = d.SetOut
	}
	l.set("eventDate", interval(from.Local(), to.Local()))
	if !to.Known() {
		l.set("eventDate", stamp(from.Local()))
	}
	l.set("samplingProtocol", s.Method)
	if x, ok := s.Effort.Get(); ok && s.EffortUnit != "" {
		l.set("sampleSizeValue", sheet.FormatNumber(x))
		l.set("sampleSizeUnit", s.EffortUnit)
		l.set("samplingEffort", fmt.Sprintf("%s %s, %s", sheet.FormatNumber(x), s.EffortUnit, s.Method))
	}
	var remarks []string
	if looked, ok := s.AbsenceLooked.Get(); ok {
		if looked {
			remarks = append(remarks, "absence was looked for")
		} else {
			remarks = append(remarks, "absence was not looked for")
		}
	}
	if took, ok := s.TookBait.Get(); ok && !took {
		remarks = append(remarks, "did not take bait")
	}
	remarks = append(remarks, r.invented())
	l.set("occurrenceRemarks", joined(remarks))
	r.position(l, d)
	l.set("dataGeneralizations", d.Generalised)
	l.set("license", r.licence.LegalCode)
}

// taxa are the scientific names in the release, for the metadata's coverage.
func (r *release) taxa() ([]Taxon, error) {
	seen := map[string]bool{}
	var out []Taxon
	err := r.each(func(d row) error {
		for _, s := range d.Sightings {
			t, ok := r.m.TaxonList[s.Taxon]
			if !ok {
				t = Taxon{ScientificName: strings.TrimSpace(s.Taxon)}
			}
			if t.ScientificName != "" && !seen[t.ScientificName] {
				seen[t.ScientificName] = true
				out = append(out, t)
			}
		}
		return nil
	})
	return out, err
}
