package publish

import (
	"maps"
	"slices"
	"sort"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"soakline/internal/assay"
	"soakline/internal/pattern"
)

// people says who may be named. An observer is named only when the metadata
// hold that person's consent with its date and wording; a minor never is.
type people struct {
	by       map[string]*Person // every spelling, lower case
	withheld map[string]bool    // names that were taken out
	notes    int                // notes withheld because a name stands in them
	secret   []string           // names that may stand nowhere, lower case
}

func newPeople(in *Input) *people {
	m := &in.Metadata
	p := &people{by: map[string]*Person{}, withheld: map[string]bool{}}
	for i := range m.People {
		one := &m.People[i]
		for _, n := range append([]string{one.Name}, one.Also...) {
			p.by[strings.ToLower(strings.TrimSpace(n))] = one
			if !one.may() {
				p.hide(n)
			}
		}
	}
	seen := map[string]bool{}
	for i := range in.Deployments {
		p.eachName(&in.Deployments[i], func(n string, who *Person) {
			if key := strings.ToLower(n); who == nil && !seen[key] {
				seen[key] = true
				p.hide(n)
			}
		})
	}
	return p
}

// may says whether this person is published by name.
func (p *Person) may() bool { return p.Named && !p.Minor && p.AgreedOn != "" && p.Wording != "" }

// credit is the name that is published.
func (p *Person) credit() string {
	if p.CreditAs != "" {
		return p.CreditAs
	}
	return p.Name
}

// hide keeps a name out of every text. Names of one or two letters are left,
// since they would be found in any word.
func (p *people) hide(name string) {
	name = strings.ToLower(strings.TrimSpace(name))
	if len([]rune(name)) > 2 && !slices.Contains(p.secret, name) {
		p.secret = append(p.secret, name)
	}
}

// separators stand between the names in one cell.
var separators = pattern.New(`\s*(?:[;,&|/+]|\band\b|\by\b|\be\b)\s*`)

// split gives the names of a cell; the whole cell where it is one known name.
func (p *people) split(cell string) []string {
	if cell == "" {
		return nil
	}
	if p.by[strings.ToLower(strings.TrimSpace(cell))] != nil {
		return []string{cell}
	}
	var out []string
	for _, n := range separators.Split(cell, -1) {
		if n = strings.TrimSpace(n); n != "" {
			out = append(out, n)
		}
	}
	return out
}

// cell is a cell of names as published: as written where everybody in it agreed
// and is credited as written.
func (p *people) cell(cell string) string {
	names := p.split(cell)
	var out []string
	same := true
	for _, n := range names {
		one := p.by[strings.ToLower(n)]
		if one == nil || !one.may() {
			same = false
			continue
		}
		if one.credit() != n {
			same = false
		}
		if !slices.Contains(out, one.credit()) {
			out = append(out, one.credit())
		}
	}
	if same {
		return cell
	}
	return strings.Join(out, "; ")
}

// eachName goes through the names in a record, without those that may be told
// when only hidden ones are wanted.
func (p *people) eachName(d *assay.Deployment, do func(name string, who *Person)) {
	cells := []string{d.Observers}
	for _, c := range d.Checks {
		cells = append(cells, c.Reader)
	}
	for _, cell := range cells {
		for _, n := range p.split(cell) {
			do(n, p.by[strings.ToLower(n)])
		}
	}
}

// forbids says why a record may not be in this release, or nothing: somebody
// gave it under a stricter licence, or not before a later day.
func (p *people) forbids(d *assay.Deployment, m *Metadata) (slug string, with map[string]any) {
	ours, _ := licenceOf(m.Licence)
	if theirs, ok := licenceOf(d.Licence); d.Licence != "" && !ok {
		return "publish.left-licence-other", map[string]any{"licence": d.Licence}
	} else if ok && theirs.strict > ours.strict {
		return "publish.left-licence", map[string]any{"licence": theirs.ID, "ours": ours.ID}
	}
	p.eachName(d, func(_ string, who *Person) {
		if who == nil {
			return
		}
		if theirs, ok := licenceOf(who.Licence); ok && theirs.strict > ours.strict {
			slug, with = "publish.left-licence", map[string]any{"licence": theirs.ID, "ours": ours.ID}
		}
		if who.EmbargoTo > m.Date {
			slug, with = "publish.left-embargo", map[string]any{"day": who.EmbargoTo}
		}
	})
	return slug, with
}

// apply takes out of a copy of a record whoever may not be named.
func (p *people) apply(d *assay.Deployment, out *row) {
	before := d.Observers
	if d.Observers = p.cell(before); d.Observers != before {
		out.withhold("names of people")
	}
	for i := range d.Checks { // the copy's own: see release.row
		before := d.Checks[i].Reader
		if d.Checks[i].Reader = p.cell(before); d.Checks[i].Reader != before {
			out.withhold("names of people")
		}
	}
	keepHome(d)
	if p.spills(d.Notes) {
		d.Notes = ""
		out.withhold("notes that name a person")
	}
	for n, v := range d.Covariates {
		if p.spills(v) {
			d.Covariates = cloneWithout(d.Covariates, n)
			out.withhold("notes that name a person")
		}
	}
}

// keepHome takes out of a copy of a record what serves the team alone: how many
// people were in the water, its watch, the landmarks that lead to the row, and
// what was left behind. None of it is a result, and each may point to a person.
func keepHome(d *assay.Deployment) {
	d.PeopleOut, d.PeopleBack = assay.None[int](), assay.None[int]()
	d.WatchReadAt, d.WatchAgainst = assay.Moment{}, ""
	d.FirstStakeSide, d.Landmarks, d.StakesLeft = "", "", ""
	for i := range d.Checks { // the slice is the copy's own
		d.Checks[i].PeopleOut, d.Checks[i].PeopleBack = assay.None[int](), assay.None[int]()
	}
}

// atHome says whether a finding is about such a column: then it stays, too.
func atHome(column string) bool {
	for _, prefix := range []string{"people_out", "people_back", "watch_", "landmarks", "stakes_left", "first_stake_side"} {
		if strings.HasPrefix(column, prefix) {
			return true
		}
	}
	return false
}

func cloneWithout(m map[string]string, name string) map[string]string {
	out := map[string]string{}
	for k, v := range m {
		if k != name {
			out[k] = v
		}
	}
	return out
}

// spills says whether a text holds the name of somebody who may not be named.
func (p *people) spills(text string) bool {
	if text == "" || len(p.secret) == 0 {
		return false
	}
	lower := strings.ToLower(text)
	for _, s := range p.secret {
		if containsWord(lower, s) {
			return true
		}
	}
	return false
}

// containsWord says whether word stands in text with no letter on either side.
func containsWord(text, word string) bool {
	for from := 0; ; {
		i := strings.Index(text[from:], word)
		if i < 0 {
			return false
		}
		i += from
		before, _ := utf8.DecodeLastRuneInString(text[:i])
		after, _ := utf8.DecodeRuneInString(text[i+len(word):])
		if !unicode.IsLetter(before) && !unicode.IsLetter(after) {
			return true
		}
		from = i + len(word)
	}
}

// tell lists how many are not named.
func (p *people) tell(r *release) {
	for _, i := range r.keep {
		p.eachName(&r.in.Deployments[i], func(n string, who *Person) {
			if who == nil || !who.may() {
				p.withheld[strings.ToLower(n)] = true
			}
		})
	}
	for _, i := range r.keep {
		if p.spills(r.in.Deployments[i].Notes) {
			p.notes++
		}
	}
	if len(p.withheld) > 0 {
		r.say("names-withheld", "n", len(p.withheld))
	}
	if p.notes > 0 {
		r.say("notes-withheld", "n", p.notes)
	}
}

// credited are the people who agreed to be named and stand in a published row.
func (p *people) credited(r *release) []*Person {
	var out []*Person
	for _, i := range r.keep {
		p.eachName(&r.in.Deployments[i], func(_ string, who *Person) {
			if who != nil && who.may() && !slices.Contains(out, who) {
				out = append(out, who)
			}
		})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].credit() < out[j].credit() })
	return out
}

// Named is somebody whose name stands in the records, with the number of rows
// and what is kept of an agreement, if anything.
type Named struct {
	Name   string
	Rows   int
	Person *Person
}

// Names lists everybody who stands in the records, and whoever is kept, by name.
func Names(ds []assay.Deployment, m *Metadata) []Named {
	p := newPeople(&Input{Metadata: *m})
	at := map[string]int{}
	var out []Named
	add := func(name string, who *Person) int {
		key := strings.ToLower(name)
		if who != nil {
			key, name = strings.ToLower(who.Name), who.Name
		}
		if _, there := at[key]; !there {
			at[key] = len(out)
			out = append(out, Named{name, 0, who})
		}
		return at[key]
	}
	for i := range m.People {
		add(m.People[i].Name, &m.People[i])
	}
	for i := range ds {
		seen := map[int]bool{}
		p.eachName(&ds[i], func(name string, who *Person) {
			if k := add(name, who); !seen[k] {
				seen[k] = true
				out[k].Rows++
			}
		})
	}
	sort.SliceStable(out, func(i, j int) bool { return strings.ToLower(out[i].Name) < strings.ToLower(out[j].Name) })
	return out
}

// Coded are records in which whoever has not agreed to be named stands under a
// code, O1, O2 and so on, so that who read a row can still be told from who read
// another. It gives nil where everybody in them may be named. The codes follow the
// alphabet, not the order of the records.
func Coded(ds []assay.Deployment, who []Person) []assay.Deployment {
	p := newPeople(&Input{Deployments: ds, Metadata: Metadata{People: who}})
	codes := map[string]string{}
	for i := range ds {
		p.eachName(&ds[i], func(name string, one *Person) {
			if one == nil || !one.may() {
				codes[p.key(name)] = ""
			}
		})
	}
	if len(codes) == 0 {
		return nil
	}
	for i, key := range slices.Sorted(maps.Keys(codes)) {
		codes[key] = "O" + strconv.Itoa(i+1)
	}
	coded := func(cell string) string {
		var out []string
		for _, name := range p.split(cell) {
			told := codes[p.key(name)]
			if told == "" {
				told = p.by[strings.ToLower(name)].credit()
			}
			out = append(out, told)
		}
		return strings.Join(out, "; ")
	}
	out := slices.Clone(ds)
	for i := range out {
		d := &out[i]
		d.Observers, d.Checks = coded(d.Observers), slices.Clone(d.Checks)
		for k := range d.Checks {
			d.Checks[k].Reader = coded(d.Checks[k].Reader)
		}
	}
	return out
}

// key is the same for every spelling of a person's name that is kept.
func (p *people) key(name string) string {
	if one := p.by[strings.ToLower(name)]; one != nil {
		return strings.ToLower(one.Name)
	}
	return strings.ToLower(name)
}
