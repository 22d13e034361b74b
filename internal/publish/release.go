package publish

import (
	"fmt"
	"iter"
	"net/url"
	"slices"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/quality"
	"soakline/internal/words"
)

// release is what may be told: every writer sees the records through it.
type release struct {
	in       *Input
	m        *Metadata
	licence  Licence
	keep     []int              // places of the published deployments
	ids      []string           // event identifier of each
	names    []string           // published deployment_id of each
	said     map[string][]int32 // places of each record's findings in in.Findings
	scratch  assay.Deployment   // of row
	checks   []assay.Check      // of scratch
	leftOut  []LeftOut
	messages []words.Message
	people   *people
	hidden   *hidden
	columns  []string // of the canonical table
	fitted   *compare.Refit
	told     map[string]bool // deployment_id of the published rows that are named
	single   bool            // no two published rows share a deployment_id
}

// row is one published deployment with what is said of it.
type row struct {
	*assay.Deployment // as published
	Event             string
	Generalised       string // what was done to the position, empty for nothing
	Withheld          string
	from              *assay.Deployment // as kept
}

// withhold says what of the row is not told, each thing once.
func (d *row) withhold(what string) {
	switch {
	case d.Withheld == "":
		d.Withheld = what
	case !strings.Contains(d.Withheld, what):
		d.Withheld += " | " + what
	}
}

func (r *release) say(slug string, pairs ...any) {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	r.messages = append(r.messages, words.Message{Slug: "publish." + slug, With: with})
}

// prepare decides what may be told. It gives Missing, Refused or Blocked.
func prepare(in *Input) (*release, error) {
	if err := in.Metadata.check(); err != nil {
		return nil, err
	}
	r := &release{in: in, m: &in.Metadata}
	r.licence, _ = licenceOf(r.m.Licence)
	r.readFindings()
	r.people = newPeople(in)
	var err error
	if r.hidden, err = newHidden(in); err != nil {
		return nil, err
	}
	if err := r.choose(); err != nil {
		return nil, err
	}
	if len(r.keep) == 0 {
		return nil, refuse("nothing-left", "n", len(in.Deployments))
	}
	r.identify()
	r.chooseColumns()
	r.people.tell(r)
	r.hidden.tell(r)
	return r, nil
}

// choose takes the records that may be published and lists the others.
func (r *release) choose() error {
	var stop []assay.Finding
	for i := range r.in.Deployments {
		d := &r.in.Deployments[i]
		if d.IsPractice() {
			r.leave(d, "publish.left-practice", nil)
			continue
		}
		var blocks []assay.Finding
		for f := range r.findings(d) {
			if f.Severity == assay.Block {
				blocks = append(blocks, *f)
			}
		}
		if len(blocks) > 0 {
			stop = append(stop, blocks...)
			for _, f := range blocks {
				r.leave(d, "finding."+f.Slug, f.With)
			}
			continue
		}
		if slug, with := r.people.forbids(d, r.m); slug != "" {
			r.leave(d, slug, with)
			continue
		}
		r.keep = append(r.keep, i)
	}
	if stop != nil && !r.in.LeaveOutBlocked {
		return &Blocked{stop}
	}
	return nil
}

// leave lists a record that is not published. A finding goes by its own slug.
func (r *release) leave(d *assay.Deployment, slug string, with map[string]any) {
	id := d.ID
	if r.hidden.is(d) {
		id = r.hidden.alias(d)
	}
	text := r.guard(words.English.Say(slug, with), strings.TrimPrefix(slug, "finding."))
	r.leftOut = append(r.leftOut, LeftOut{DeploymentID: id, Slug: strings.TrimPrefix(slug, "finding."), Text: text, With: with})
}

// identify gives each published row its global identifier. A record of a
// logbook has one from the day it was made; a line of a file goes by what
// identifies it (programme, team, season, site and deployment_id).
func (r *release) identify() {
	seen, names, gone := map[string]bool{}, map[string]bool{}, map[string]bool{}
	if r.in.Previous != nil {
		for _, id := range r.in.Previous.Withdrawn {
			gone[id] = true
		}
	}
	r.single, r.told = true, map[string]bool{}
	for _, i := range r.keep {
		d := &r.in.Deployments[i]
		r.told[d.ID] = r.told[d.ID] || !r.hidden.is(d)
		name := d.ID
		if r.hidden.is(d) {
			name = r.hidden.rowName(d)
		}
		id := "urn:uuid:" + d.Key
		switch {
		case d.GlobalID != "" && !r.hidden.is(d) && !r.hidden.spills(d.GlobalID):
			id = clean(d.GlobalID) // given elsewhere, and kept
		case d.Key == "":
			id = r.prefix() + join("row", d.Programme, d.Team, d.Season, r.hidden.siteName(d), name)
		}
		// What a withdrawn row was called is given to no other one; a logbook's
		// row that comes back is that row.
		given, own := id, strings.HasPrefix(id, "urn:uuid:")
		for n := 2; seen[id] || gone[id] && !own; n++ {
			id = fmt.Sprintf("%s:%d", given, n)
		}
		seen[id] = true
		if names[name] {
			r.single = false
		}
		names[name] = true
		r.ids, r.names = append(r.ids, id), append(r.names, name)
	}
}

// prefix begins the identifiers that no logbook gave.
func (r *release) prefix() string {
	if r.m.DatasetID != "" {
		return r.m.DatasetID + "#"
	}
	return "soakline:"
}

// join makes one identifier of several names; what they are made of cannot
// meet the colon between them.
func join(parts ...string) string {
	escaped := make([]string, len(parts))
	for i, p := range parts {
		escaped[i] = strings.ReplaceAll(url.PathEscape(p), ":", "%3A")
	}
	return strings.Join(escaped, ":")
}

// readFindings notes which findings are about which record.
func (r *release) readFindings() {
	r.said = map[string][]int32{}
	places := make([]int32, len(r.in.Findings))
	for i := range places {
		places[i] = int32(i)
	}
	for i := 0; i < len(places); {
		// Findings come record by record, so one list serves for all.
		j, record := i+1, r.in.Findings[i].Record
		for j < len(places) && r.in.Findings[j].Record == record {
			j++
		}
		if before := r.said[record]; before != nil {
			r.said[record] = append(before[:len(before):len(before)], places[i:j]...)
		} else {
			r.said[record] = places[i:j:j]
		}
		i = j
	}
}

// findings goes through what was found of a record, in the order given.
func (r *release) findings(d *assay.Deployment) iter.Seq[*assay.Finding] {
	return func(yield func(*assay.Finding) bool) {
		for _, i := range r.said[quality.Record(d)] {
			if f := &r.in.Findings[i]; !atHome(f.Field) && !yield(f) {
				return
			}
		}
	}
}

// row is published row k. It is made anew at each call, in the same place, so
// that a hundred thousand of them are never held twice: it is good until the
// next call.
func (r *release) row(k int) row {
	from, d := &r.in.Deployments[r.keep[k]], &r.scratch
	*d = *from
	r.checks = append(r.checks[:0], from.Checks...)
	d.Checks = r.checks
	d.ID, d.Key, d.GlobalID, d.Licence = r.names[k], "", "", ""
	out := row{Deployment: d, Event: r.ids[k], from: from}
	r.people.apply(d, &out)
	r.hidden.apply(d, &out)
	return out
}

// each goes through the published rows.
func (r *release) each(do func(row) error) error {
	for k := range r.keep {
		if err := do(r.row(k)); err != nil {
			return err
		}
	}
	return nil
}

// guard gives text unless it holds something that may not be told; then other.
func (r *release) guard(text, other string) string {
	if r.hidden.spills(text) || r.people.spills(text) {
		return other
	}
	return text
}

// remarks are what is declared about a row, or about one check of it: what was
// found, without what the team was asked to do about it, and the answer.
func (r *release) remarks(d row, check int) []string {
	var out []string
	for f := range r.findings(d.from) {
		if f.Severity == assay.Block || f.Check != check {
			continue
		}
		text := r.guard(found(words.English.Say("finding."+f.Slug, f.With)), f.Slug)
		if d.Generalised != "" || r.namesUnpublished(f) {
			text = f.Slug // a sentence could tell the place, or a row that is not told
		}
		switch {
		case f.Answered:
			text += ". " + r.guard(words.English.Say("publish.answered", words.P{"answer": f.Answer}), words.English.Say("publish.answered-withheld", nil))
		case f.Severity == assay.Ask:
			text += ". " + words.English.Say("publish.unanswered", nil)
		}
		if !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	return out
}

// found is the first part of a finding's sentence, up to the last semicolon that
// stands in no brackets: what comes after it is what to do.
func found(sentence string) string {
	depth := 0
	for i := len(sentence) - 1; i >= 0; i-- {
		switch sentence[i] {
		case ')':
			depth++
		case '(':
			depth--
		case ';':
			if depth == 0 {
				return sentence[:i]
			}
		}
	}
	return sentence
}

// namesUnpublished says whether a finding compares its row with one that is not
// published, whose name and counts are not to be told by that.
func (r *release) namesUnpublished(f *assay.Finding) bool {
	other, compares := f.With["other"].(string)
	return compares && !r.told[other]
}
