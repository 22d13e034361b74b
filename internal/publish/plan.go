package publish

import (
	"fmt"
	"strconv"
)

// Plan is an analysis plan that goes with a publication.
type Plan struct {
	Day    string // it was kept on, UTC
	SHA256 string // of Text
	Text   string
	Rows   int // set out by then; 0: it was made before the data
	// Withdrawn plans are named with the reason, without their text.
	Withdrawn bool
	Why       string
}

// planTexts say which plans there are, one sentence each. A text that tells a
// sensitive place is withheld; its hash tells nothing.
func (r *release) planTexts() []string {
	var out []string
	n := 0
	for _, p := range r.in.Plans {
		when := "before the first row was set out"
		if p.Rows > 0 {
			when = "when " + many(p.Rows, "row") + " of it stood already: no plan made before the data"
		}
		t := fmt.Sprintf("Analysis plan of %s, kept %s; SHA-256 of its text %s", p.Day, when, p.SHA256)
		switch {
		case p.Withdrawn && r.hidden.spills(p.Why):
			t += "; withdrawn later."
		case p.Withdrawn:
			t += "; withdrawn later: " + clean(p.Why)
		case r.hidden.spills(p.Text):
			t += "; its text is withheld, since it tells a place that is told roughly here."
		default:
			n++
			t += "; text: " + planFile(n) + "."
		}
		out = append(out, t)
	}
	return out
}

// planFiles are the plans whose text is published, in the order of their files.
func (r *release) planFiles() []Plan {
	var out []Plan
	for _, p := range r.in.Plans {
		if !p.Withdrawn && !r.hidden.spills(p.Text) {
			out = append(out, p)
		}
	}
	return out
}

// planFile names the file of a plan's text: analysis-plan.txt, analysis-plan-2.txt, …
func planFile(n int) string {
	if n == 1 {
		return "analysis-plan.txt"
	}
	return "analysis-plan-" + strconv.Itoa(n) + ".txt"
}

// plans writes the texts, to the byte as they were hashed.
func (w *writer) plans() error {
	for i, p := range w.r.planFiles() {
		if err := w.bytes(planFile(i+1), []byte(p.Text)); err != nil {
			return err
		}
	}
	return nil
}
