package compare

import (
	"cmp"
	"context"
	"slices"

	"soakline/internal/assay"
	"soakline/internal/rates"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// entrant is one deployment of the frame.
type entrant struct {
	d       *assay.Deployment
	level   int // of the factor; −1 for a control row
	x       []float64
	control bool
}

// frame is what is fitted: the deployments that entered, their spans, the
// columns of the design and the random intercepts.
type frame struct {
	o        Options
	rows     []entrant
	spans    []span
	levels   []string // of the factor, the reference first
	bases    []base   // numbers of every row that columns are made of
	extra    []column // of the design, beside bands and levels
	parts    []part   // groups of terms that are tested
	curves   []Curve
	bandEndH []float64
	soaksH   []float64 // nominal, at which means are told
	bands    []int     // number of each band's effect, 1 is the baseline
	terms    []string
	random   []string // the chain, outermost first
	crossed  []string // what cuts across it
	messages []words.Message
	excluded []Excluded
	seen     map[string]bool
	repeated bool // a repetition with something changed
	controls bool // control rows are among the rows
	bySpan   bool // an intercept for each span is added, the innermost
	ahead    ahead
	rowsOfX  map[[2]int][]float64 // rows of the design by band and level, while data are made
	ctx      context.Context      // of the comparison, which stops its fits
}

func (f *frame) say(slug string, pairs ...any) {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	m := words.Message{Slug: slug, With: with}
	if key := m.In(words.English); !f.seen[key] {
		f.seen[key] = true
		f.messages = append(f.messages, m)
	}
}

// build makes the frame of the deployments that may enter.
func build(ds []assay.Deployment, o Options) (*frame, error) {
	f := &frame{o: o, seen: map[string]bool{}}
	selection := rates.Enter(ds, o.Findings)
	in := selection.In
	for _, e := range selection.Excluded {
		f.excluded = append(f.excluded, Excluded{e.DeploymentID, e.Slug})
	}
	if err := f.checkNames(ds, in); err != nil {
		return nil, err
	}
	f.takeRows(ds, in)
	if o.Controls == "subtract" {
		f.takeControls(ds)
	}
	f.order()
	f.nominalSoaks()
	f.takeSpans()
	if err := f.chooseLevels(); err != nil {
		return nil, err
	}
	f.chooseBands()
	if err := f.covariateColumns(); err != nil {
		return nil, err
	}
	f.nameTerms()
	f.sayCoincides()
	return f, f.chooseRandom()
}

// order puts the rows into an order of their own: by when they were set out and what
// was read, and only where that is the same by their names. Simulated seasons draw row
// by row, so without it they would be others for the same lines in another order.
func (f *frame) order() {
	count := func(m assay.Maybe[int]) int { return m.Or(-1) }
	slices.SortStableFunc(f.rows, func(a, b entrant) int {
		if a.control != b.control {
			if a.control {
				return 1
			}
			return -1
		}
		c := cmp.Or(a.d.SetOut.At.Compare(b.d.SetOut.At), cmp.Compare(a.d.Baits, b.d.Baits), cmp.Compare(len(a.d.Checks), len(b.d.Checks)))
		for k := 0; c == 0 && k < len(a.d.Checks); k++ {
			x, y := &a.d.Checks[k], &b.d.Checks[k]
			c = cmp.Or(x.At.At.Compare(y.At.At), cmp.Compare(count(x.Consumed), count(y.Consumed)), cmp.Compare(count(x.Lost), count(y.Lost)), cmp.Compare(count(x.Unread), count(y.Unread)))
		}
		return cmp.Or(c, cmp.Compare(a.d.Site, b.d.Site), cmp.Compare(a.d.Habitat, b.d.Habitat), cmp.Compare(a.d.ID, b.d.ID), cmp.Compare(a.d.Key, b.d.Key))
	})
}

// checkNames refuses a factor or covariate that no record has.
func (f *frame) checkNames(ds []assay.Deployment, in []int) error {
	for _, name := range slices.Concat([]string{f.o.By}, f.o.covariates(), f.o.randomColumns()) {
		found := false
		for _, i := range in {
			if value(&ds[i], name) != "" {
				found = true
				break
			}
		}
		if !found && len(in) > 0 {
			return wrong("compare.no-column", "column", name)
		}
	}
	return nil
}

// value is the text of a column of a deployment, a covariate or one of the datasheet's.
func value(d *assay.Deployment, name string) string {
	switch name {
	case "habitat":
		return d.Habitat
	case "site":
		return d.Site
	case "season":
		return d.Season
	case "observers":
		return d.Observers
	case "bait_batch":
		return d.BaitBatch
	case "team":
		return d.Team
	}
	if v, ok := d.Covariates[name]; ok {
		return v
	}
	if _, _, ok := sheet.Find(sheet.Wide, name); ok {
		return sheet.Values(d)[name]
	}
	if x, ok := d.Derived[name]; ok { // a column that was written goes first
		return sheet.FormatNumber(x)
	}
	return ""
}

// takeRows takes the deployments that have a value of everything asked for.
func (f *frame) takeRows(ds []assay.Deployment, in []int) {
	names := f.o.covariates()
	for _, i := range in {
		d := &ds[i]
		if value(d, f.o.By) == "" {
			f.excluded = append(f.excluded, Excluded{d.ID, "no-factor"})
			continue
		}
		missing := false
		for _, name := range names {
			if value(d, name) == "" {
				missing = true
			}
		}
		if missing {
			f.excluded = append(f.excluded, Excluded{d.ID, "no-covariate"})
			continue
		}
		if slices.ContainsFunc(f.o.randomColumns(), func(g string) bool { return value(d, g) == "" }) {
			f.excluded = append(f.excluded, Excluded{d.ID, "no-group"})
			continue
		}
		f.rows = append(f.rows, entrant{d: d})
	}
}

// takeControls takes the shielded rows that could be read and have no block;
// other kinds of control rows measure something else and stay out.
func (f *frame) takeControls(ds []assay.Deployment) {
	blocked := map[int]bool{}
	ordinary := make([]assay.Deployment, 0, 8)
	places := make([]int, 0, 8)
	for i := range ds {
		if ds[i].Control == assay.Shielded && !ds[i].IsPractice() {
			d := ds[i]
			d.Control = assay.NoControl
			ordinary, places = append(ordinary, d), append(places, i)
		}
	}
	selection := rates.Enter(ordinary, f.o.Findings)
	for _, j := range selection.In {
		blocked[places[j]] = true
		d := &ds[places[j]]
		f.rows = append(f.rows, entrant{d: d, control: true, level: -1})
		f.excluded = slices.DeleteFunc(f.excluded, func(e Excluded) bool { return e.DeploymentID == d.ID && e.Slug == rates.ControlRow })
	}
	if len(selection.In) == 0 {
		f.say("no-controls")
	}
}
