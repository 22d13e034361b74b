package publish

import (
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/rates"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// field is one column of a table of the Data Package.
type field struct {
	name, kind, about, unit string
	words                   []string
	required                bool
	min                     string // inclusive; empty for none
	iri                     string
}

// resource is one table of the Data Package.
type resource struct {
	name, about string
	fields      []field
	key         []string
	// refers: fields of this table that name a line of another one.
	refers   []string
	to       string
	toFields []string
	each     func(write func([]string) error) error
}

// chooseColumns takes the columns of the canonical table that some published
// row fills, and the required ones.
func (r *release) chooseColumns() {
	used, checks := map[string]bool{}, 0
	covariates := map[string]bool{}
	var further []string
	_ = r.each(func(d row) error {
		for name := range sheet.Values(d.Deployment) {
			used[name] = true
		}
		for _, name := range d.CovariateNames() {
			if !covariates[name] {
				covariates[name] = true
				further = append(further, name)
			}
		}
		for _, c := range d.Checks {
			checks = max(checks, c.Number)
		}
		return nil
	})
	columns := sheet.Columns(sheet.Wide)
	for i := 0; i < len(columns); i++ {
		if c := columns[i]; !c.PerCheck() {
			if c.Required || c.Kind == sheet.Degrees || used[c.Name] {
				r.columns = append(r.columns, c.Name)
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
					r.columns = append(r.columns, name)
				}
			}
		}
		i = last
	}
	r.columns = append(r.columns, further...)
}

// rowKey names the columns by which a line of another table finds its row.
func (r *release) rowKey() string {
	if r.single {
		return "deployment_id"
	}
	return "row"
}

// resources are the tables of the package.
func (r *release) resources() []resource {
	list := []resource{r.deployments(), r.identifiers()}
	stakes, seen := false, false
	for _, i := range r.keep {
		stakes = stakes || len(r.in.Deployments[i].Stakes) > 0
		seen = seen || len(r.in.Deployments[i].Sightings) > 0
	}
	if stakes {
		list = append(list, r.stakes())
	}
	if seen {
		list = append(list, r.sightings())
	}
	return append(list, r.intervalTable())
}

var kinds = map[sheet.Kind]string{
	sheet.Text: "string", sheet.Word: "string", sheet.Depth: "string", sheet.Instant: "string", sheet.Count: "integer", sheet.Number: "number",
	sheet.Degrees: "number", sheet.Flag: "string",
}

// fieldOf describes a column of the datasheet.
func fieldOf(t sheet.Table, name string) field {
	c, k, ok := sheet.Find(t, name)
	if !ok {
		return field{name: name, kind: "string", about: "further column, as written on the sheet"}
	}
	f := field{name: name, kind: kinds[c.Kind], unit: c.Unit, words: c.Words, required: c.Required, about: words.English.Say(c.Slug(), words.P{"K": k})}
	switch c.Kind {
	case sheet.Count:
		f.min = strconv.Itoa(int(c.Min))
	case sheet.Flag:
		f.words = []string{"yes", "no"}
	}
	for _, t := range c.Terms {
		f.iri = namespaces["dwc"] + t
		break
	}
	if c.Kind == sheet.Instant {
		f.about += "; ISO 8601 with the offset of the clock it was read by, the zone in brackets where the sheet gave a local time"
	}
	return f
}

func (r *release) deployments() resource {
	x := resource{name: "deployments", about: "One line for each row of stakes and its checks: the canonical datasheet", key: []string{r.rowKey()}}
	if !r.single {
		x.fields = append(x.fields, field{name: "row", kind: "integer", about: "number of the line; deployment_id alone does not tell rows of several teams apart", required: true, min: "1"})
	}
	for _, name := range r.columns {
		x.fields = append(x.fields, fieldOf(sheet.Wide, name))
	}
	x.each = func(write func([]string) error) error {
		cells := make([]string, 0, len(x.fields))
		n := 0
		return r.each(func(d row) error {
			n++
			cells = cells[:0]
			if !r.single {
				cells = append(cells, strconv.Itoa(n))
			}
			v := sheet.Values(d.Deployment)
			for _, name := range r.columns {
				cells = append(cells, v[name])
			}
			return write(cells)
		})
	}
	return x
}

// below makes a table whose lines belong to rows.
func (r *release) below(x resource, do func(d row, key string, write func([]string) error) error) resource {
	about := "the row it belongs to"
	x.fields = append([]field{{name: r.rowKey(), kind: map[bool]string{true: "string", false: "integer"}[r.single], about: about, required: true}}, x.fields...)
	x.refers, x.to, x.toFields = []string{r.rowKey()}, "deployments", []string{r.rowKey()}
	for i, k := range x.key {
		if k == "" {
			x.key[i] = r.rowKey()
		}
	}
	x.each = func(write func([]string) error) error {
		n := 0
		return r.each(func(d row) error {
			n++
			key := d.ID
			if !r.single {
				key = strconv.Itoa(n)
			}
			return do(d, key, write)
		})
	}
	return x
}

func (r *release) identifiers() resource {
	x := resource{name: "identifiers", about: "The identifier of each row that is the same in every version and in the archive", key: []string{""}, fields: []field{
		{name: "event_id", kind: "string", about: "eventID of the row in the archive", required: true, iri: namespaces["dwc"] + "eventID"},
		{name: "licence", kind: "string", about: "SPDX identifier of the licence", required: true, iri: namespaces["dcterms"] + "license"},
		{name: "position_generalised", kind: "string", about: "what was done to the position; empty for nothing", iri: namespaces["dwc"] + "dataGeneralizations"},
		{name: "withheld", kind: "string", about: "what of the row is not told; empty for nothing", iri: namespaces["dwc"] + "informationWithheld"},
		{name: "declared", kind: "string", about: "deviations and answered questions", iri: namespaces["dwc"] + "eventRemarks"},
	}}
	return r.below(x, func(d row, key string, write func([]string) error) error {
		said := r.remarks(d, 0)
		for _, c := range d.Checks {
			said = append(said, r.remarks(d, c.Number)...)
		}
		return write([]string{key, d.Event, r.licence.ID, d.Generalised, d.Withheld, joined(said)})
	})
}

func (r *release) stakes() resource {
	x := resource{name: "stakes", about: "One line for each stake and check where fates were read stake by stake", key: []string{"", "stake", "check"}}
	for _, name := range []string{"stake", "check", "fate", "how"} {
		x.fields = append(x.fields, fieldOf(sheet.Stakes, name))
	}
	return r.below(x, func(d row, key string, write func([]string) error) error {
		for _, f := range d.Stakes {
			if err := write([]string{key, strconv.Itoa(f.Stake), strconv.Itoa(f.Check), string(f.Fate), string(f.How)}); err != nil {
				return err
			}
		}
		return nil
	})
}

var sightingColumns = []string{"from", "to", "method", "effort", "effort_unit", "taxon", "count", "took_bait", "absence_looked_for"}

func (r *release) sightings() resource {
	x := resource{name: "sightings", about: "One line for each animal seen, or looked for and not seen, near a row"}
	for _, name := range sightingColumns {
		x.fields = append(x.fields, fieldOf(sheet.Sightings, name))
	}
	return r.below(x, func(d row, key string, write func([]string) error) error {
		for _, s := range d.Sightings {
			if err := write(append([]string{key}, sightingTexts(s)...)); err != nil {
				return err
			}
		}
		return nil
	})
}

func sightingTexts(s assay.Sighting) []string {
	count := ""
	if n, ok := s.Count.Get(); ok {
		count = strconv.Itoa(n)
	}
	flag := func(m assay.Maybe[bool]) string {
		if b, ok := m.Get(); ok {
			return yesNo(b)
		}
		return ""
	}
	return []string{sheet.FormatMoment(s.From), sheet.FormatMoment(s.To), s.Method, maybeNumber(s.Effort), s.EffortUnit, s.Taxon, count, flag(s.TookBait), flag(s.AbsenceLooked)}
}

// intervalTable is what lies between checks: the risk sets of docs/methods/rates.md.
func (r *release) intervalTable() resource {
	x := resource{name: "intervals", about: "Derived from deployments: of at_risk baits present after from_h hours, consumed were gone after to_h; control rows are marked, and intervals over a check that was not read", fields: []field{
		{name: "site", kind: "string", about: "site", required: true},
		{name: "habitat", kind: "string", about: "habitat", required: true},
		{name: "control", kind: "string", about: "kind of control row, or none", required: true},
		{name: "check", kind: "integer", about: "number of the check that ends it", required: true, min: "1"},
		{name: "from_h", kind: "number", about: "soak at its beginning; where baits not read at the check before are among those at risk, the soak at which the first of them was last seen", unit: "h", required: true},
		{name: "to_h", kind: "number", about: "soak at its end", unit: "h", required: true},
		{name: "at_risk", kind: "integer", about: "baits seen at its beginning, or last seen before it, and read at its end", required: true, min: "0"},
		{name: "consumed", kind: "integer", about: "of those, gone at its end", required: true, min: "0"},
		{name: "in_model", kind: "string", about: "whether the model with one effect for each check (frame.csv) uses it", words: []string{"yes", "no"}, required: true},
	}, key: []string{"", "check"}}
	return r.below(x, func(d row, key string, write func([]string) error) error {
		control := string(d.Control)
		if control == "" {
			control = string(assay.NoControl)
		}
		for _, s := range stretches(r.intervals(d)) {
			enters := !d.IsControl() && !s.merged && s.atRisk > 0 && s.toH > s.fromH
			if err := write([]string{key, d.Site, d.Habitat, control, strconv.Itoa(s.check), number(s.fromH, 9), number(s.toH, 9),
				strconv.Itoa(s.atRisk), strconv.Itoa(s.consumed), yesNo(enters)}); err != nil {
				return err
			}
		}
		return nil
	})
}

// stretch is one line of the table of intervals.
type stretch struct {
	check, atRisk, consumed int
	fromH, toH              float64
	merged                  bool
}

// stretches are the intervals as `compare --bands checks` takes them. One over a
// check that was not read, or over baits unread at one check and counted only
// together with others at the next, is merged and has no place in that model.
func stretches(ivs []rates.Interval) []stretch {
	out := make([]stretch, 0, len(ivs))
	for _, iv := range ivs {
		s := stretch{check: iv.Check, merged: iv.Merged() || len(iv.Late) > 0, fromH: iv.FromH, toH: iv.ToH, atRisk: iv.Baits(), consumed: iv.Consumed}
		for _, l := range iv.Late {
			s.fromH = min(s.fromH, l.FromH)
		}
		out = append(out, s)
	}
	return out
}

// header is the first line of a table.
func (x *resource) header() []string {
	out := make([]string, len(x.fields))
	for i, f := range x.fields {
		out[i] = f.name
	}
	return out
}

// nameOf makes a text fit for the name of a package: lower-case letters, digits
// and hyphens.
func nameOf(s string) string {
	var b strings.Builder
	for _, c := range strings.ToLower(s) {
		switch {
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9':
			b.WriteRune(c)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	out := strings.Trim(b.String(), "-")
	if out == "" {
		return "season"
	}
	return out[:min(len(out), 80)]
}
