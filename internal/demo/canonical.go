package demo

import (
	"bytes"
	"encoding/csv"
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// canonicalColumns are the datasheet's columns for these records, in the order
// of the datasheet with the checks side by side: the required ones, those that
// some record fills, and the covariates.
func canonicalColumns(all []assay.Deployment) []string {
	used, checks := map[string]bool{}, 0
	covariates := map[string]bool{}
	var further []string
	for i := range all {
		for name := range sheet.Values(&all[i]) {
			used[name] = true
		}
		for _, name := range all[i].CovariateNames() {
			if !covariates[name] {
				covariates[name] = true
				further = append(further, name)
			}
		}
		for _, c := range all[i].Checks {
			checks = max(checks, c.Number)
		}
	}
	var out []string
	columns := sheet.Columns(sheet.Wide)
	for i := 0; i < len(columns); i++ {
		if c := columns[i]; !c.PerCheck() {
			if c.Required || used[c.Name] {
				out = append(out, c.Name)
			}
			continue
		}
		last := i
		for last+1 < len(columns) && columns[last+1].PerCheck() {
			last++
		}
		for k := 1; k <= checks; k++ {
			for _, c := range columns[i : last+1] {
				if name := c.For(k); used[name] {
					out = append(out, name)
				}
			}
		}
		i = last
	}
	return append(out, further...)
}

// Canonical writes deployments as the canonical datasheet: UTF-8 CSV, RFC 4180,
// one line each. Fates of single stakes and sightings have tables of their own.
func Canonical(all []assay.Deployment) []byte {
	columns := canonicalColumns(all)
	lines := [][]string{columns}
	for i := range all {
		v := sheet.Values(&all[i])
		line := make([]string, len(columns))
		for c, name := range columns {
			line[c] = v[name]
		}
		lines = append(lines, line)
	}
	return plainCSV(lines)
}

// CanonicalStakes writes the fates of single stakes, one a line, beside
// Canonical; a column says that they are invented.
func CanonicalStakes(all []assay.Deployment) []byte {
	lines := [][]string{{"deployment_id", "stake", "check", "fate", "how", "notes"}}
	for _, d := range all {
		for _, f := range d.Stakes {
			lines = append(lines, []string{d.ID, strconv.Itoa(f.Stake), strconv.Itoa(f.Check), string(f.Fate), string(f.How), Invented})
		}
	}
	return plainCSV(lines)
}

// CanonicalSightings writes the animals seen, one sighting a line.
func CanonicalSightings(all []assay.Deployment) []byte {
	lines := [][]string{{"deployment_id", "from", "to", "method", "effort", "effort_unit", "taxon", "count", "took_bait", "absence_looked_for", "notes"}}
	for _, d := range all {
		for _, s := range d.Sightings {
			count := ""
			if n, ok := s.Count.Get(); ok {
				count = strconv.Itoa(n)
			}
			effort := ""
			if x, ok := s.Effort.Get(); ok {
				effort = number(x)
			}
			lines = append(lines, []string{d.ID, sheet.FormatMoment(s.From), sheet.FormatMoment(s.To), s.Method, effort, s.EffortUnit, s.Taxon, count,
				yesNo(s.TookBait), yesNo(s.AbsenceLooked), Invented})
		}
	}
	return plainCSV(lines)
}

func plainCSV(lines [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	if err := w.WriteAll(lines); err != nil {
		panic("demo: " + err.Error())
	}
	return b.Bytes()
}
