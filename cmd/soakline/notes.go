package main

import "soakline/internal/assay"

// fewNotes is how many notes of one kind are printed in full; a season read by
// one clock has the same note on every row.
const fewNotes = 3

// tell prints findings: those that block or ask one by one, notes of one kind
// only the first few and then their number, unless all are wanted.
func (a *app) tell(list []assay.Finding, all bool) {
	alike := sitesOf(list)
	notes := map[string]int{}
	var order []string
	for _, f := range list {
		if f.Severity == assay.Note && !all {
			if notes[f.Slug]++; notes[f.Slug] > fewNotes {
				if notes[f.Slug] == fewNotes+1 {
					order = append(order, f.Slug)
				}
				continue
			}
		}
		if alike[f.DeploymentID] > 1 {
			f.DeploymentID += " (" + f.Site + ")"
		}
		a.print(a.out, a.finding(f))
	}
	for _, slug := range order {
		a.print(a.out, a.say("cmd.findings.more", "n", notes[slug]-fewNotes, "slug", slug))
	}
}

// sitesOf counts the sites whose rows go by one identifier.
func sitesOf(list []assay.Finding) map[string]int {
	seen := map[[2]string]bool{}
	n := map[string]int{}
	for _, f := range list {
		if at := [2]string{f.DeploymentID, f.Site}; !seen[at] {
			seen[at] = true
			n[f.DeploymentID]++
		}
	}
	return n
}
