package intake

import (
	"strings"

	"soakline/internal/assay"
)

// rowOnce are the columns that a row of stakes has once, whatever the checks:
// where two of them come back under the same headings, a second table begins.
// Positions are not among them: a row may have one at each end.
var rowOnce = map[string]bool{"deployment_id": true, "site": true, "habitat": true, "deployed_at": true, "baits_deployed": true}

// abreast refuses a sheet on which two tables stand side by side: the lines of
// one would be read as columns of the other.
func (t *Table) abreast() *Fault {
	first, again := map[string]int{}, map[string]int{}
	for c, h := range t.Header {
		x := meaningOf(h)
		if !x.known || !rowOnce[cutBase(x.target)] {
			continue
		}
		key := strings.ToLower(strings.TrimSpace(h.Text))
		if _, seen := first[key]; !seen {
			first[key] = c
		} else if _, seen := again[key]; !seen {
			again[key] = c
		}
	}
	lastFirst, begins := 0, len(t.Header)
	for key, c := range again {
		lastFirst, begins = max(lastFirst, first[key]), min(begins, c)
	}
	if len(again) < 2 || begins <= lastFirst {
		return nil
	}
	return &Fault{
		Place: assay.Place{File: t.File, Sheet: t.Sheet, Line: t.HeaderLine},
		Wrong: said("intake.abreast", "heading", t.Header[begins].Text, "first", columnLetters(first[strings.ToLower(strings.TrimSpace(t.Header[begins].Text))]), "second", columnLetters(begins)),
		Do:    said("intake.abreast-do"),
	}
}
