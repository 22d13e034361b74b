package compare

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/mixed"
	"soakline/internal/rates"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// span is one observation of the frame: of AtRisk baits of one row present at
// FromH, Consumed were gone at ToH.
type span struct {
	row      int // place among the rows of the frame
	check    int // the check that ends it
	merged   bool
	fromH    float64
	toH      float64
	atRisk   int
	consumed int
	// late are baits not read at the check before, which are counted in consumed
	// together with the atRisk ones: which of them were consumed is not known.
	late []rates.Late
}

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
	extra    []column // covariates
	bandEndH []float64
	soaksH   []float64 // nominal, at which means are told
	bands    []int     // number of each band's effect, 1 is the baseline
	terms    []string
	random   []string
	messages []words.Message
	excluded []Excluded
	seen     map[string]bool
	repeated bool // a repetition with something changed
	controls bool // control rows are among the rows
}

// column is one covariate column of the design.
type column struct {
	term  string
	name  string
	level string // of a text covariate
	mean  float64
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

// OptionError is an option that cannot be, as a slug and its parameters.
type OptionError struct{ assay.Said }

func (e *OptionError) Error() string { return fmt.Sprint(e.Slug, " ", e.With) }

func wrong(slug string, pairs ...any) error {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return &OptionError{assay.Said{Slug: slug, With: with}}
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
	f.nominalSoaks()
	f.takeSpans()
	if err := f.chooseLevels(); err != nil {
		return nil, err
	}
	f.covariateColumns()
	f.chooseBands()
	return f, f.chooseRandom()
}

// checkNames refuses a factor or covariate that no record has.
func (f *frame) checkNames(ds []assay.Deployment, in []int) error {
	for _, name := range append([]string{f.o.By}, f.o.Covariates...) {
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
	case "team":
		return d.Team
	}
	if v, ok := d.Covariates[name]; ok {
		return v
	}
	if _, _, ok := sheet.Find(sheet.Wide, name); ok {
		return sheet.Values(d)[name]
	}
	return ""
}

// takeRows takes the deployments that have a value of everything asked for.
func (f *frame) takeRows(ds []assay.Deployment, in []int) {
	for _, i := range in {
		d := &ds[i]
		if value(d, f.o.By) == "" {
			f.excluded = append(f.excluded, Excluded{d.ID, "no-factor"})
			continue
		}
		missing := false
		for _, name := range f.o.Covariates {
			if value(d, name) == "" {
				missing = true
			}
		}
		if missing {
			f.excluded = append(f.excluded, Excluded{d.ID, "no-covariate"})
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

// protocolOf is the protocol of a deployment.
func (f *frame) protocolOf(d *assay.Deployment) assay.Protocol {
	if p, ok := f.o.Protocols[d.Protocol]; ok {
		return p
	}
	if p, ok := f.o.Protocols[f.o.Default]; ok {
		return p
	}
	return sheet.Standard()
}

// nominalSoaks are the protocol's; where the records' checks do not fit them
// (more checks than it has, or a median soak under half or over twice its
// nominal one), the median soak of each check number stands in.
func (f *frame) nominalSoaks() {
	if len(f.rows) == 0 {
		return
	}
	count := map[string]int{}
	for _, r := range f.rows {
		var b strings.Builder
		for _, c := range f.protocolOf(r.d).Checks {
			b.WriteString(sheet.FormatNumber(c.SoakH) + " ")
		}
		count[b.String()]++
	}
	commonest := ""
	for _, k := range slices.Sorted(maps.Keys(count)) {
		if commonest == "" || count[k] > count[commonest] {
			commonest = k
		}
	}
	if len(count) > 1 {
		f.say("several-schedules", "n", len(count), "soaks", strings.Fields(commonest))
	}
	for _, s := range strings.Fields(commonest) {
		x, _ := strconv.ParseFloat(s, 64)
		f.soaksH = append(f.soaksH, x)
	}
	medians, last := f.medianSoaks()
	fits := last <= len(f.soaksH)
	for k := 1; fits && k <= last; k++ {
		m := medians[k]
		fits = math.IsNaN(m) || m > f.soaksH[k-1]/2 && m < 2*f.soaksH[k-1]
	}
	if fits {
		f.soaksH = f.soaksH[:last]
		return
	}
	f.soaksH = nil
	var told []string
	for k := 1; k <= last; k++ {
		if m := medians[k]; !math.IsNaN(m) && (len(f.soaksH) == 0 || m > f.soaksH[len(f.soaksH)-1]) {
			f.soaksH = append(f.soaksH, m)
			told = append(told, words.Number(m, ""))
		}
	}
	f.say("nominal-soaks-from-records", "soaks", told)
}

// medianSoaks gives the median soak of each check number and the last number.
func (f *frame) medianSoaks() (map[int]float64, int) {
	all := map[int][]float64{}
	last := 0
	for _, r := range f.rows {
		for _, c := range r.d.Checks {
			if soak, ok := r.d.SoakH(c); ok && c.Read() && soak > 0 {
				all[c.Number] = append(all[c.Number], soak)
				last = max(last, c.Number)
			}
		}
	}
	medians := map[int]float64{}
	for k := 1; k <= last; k++ {
		s := all[k]
		if len(s) == 0 {
			medians[k] = math.NaN()
			continue
		}
		sort.Float64s(s)
		medians[k] = (s[(len(s)-1)/2] + s[len(s)/2]) / 2
	}
	return medians, last
}

// takeSpans sets up the observations.
func (f *frame) takeSpans() {
	kept := f.rows[:0]
	for _, r := range f.rows {
		p := f.protocolOf(r.d)
		ivs, _ := rates.Intervals(r.d, p.CountsAsConsumed...)
		spans := spansOf(ivs)
		slug := rates.NeverRead
		if f.o.Check > 0 {
			spans, slug = upTo(r.d, spans, f.o.Check), "no-such-check"
		} else if f.o.Bands == "checks" || f.o.Link == "logit" {
			all := len(spans)
			spans = slices.DeleteFunc(spans, func(s span) bool { return s.merged })
			if len(spans) < all {
				f.say("merged-intervals-left-out")
				slug = "merged-interval"
			}
		}
		if len(spans) == 0 {
			f.excluded = append(f.excluded, Excluded{r.d.ID, slug})
			continue
		}
		for _, s := range spans {
			s.row = len(kept)
			f.spans = append(f.spans, s)
		}
		kept = append(kept, r)
	}
	f.rows = kept
	f.controls = slices.ContainsFunc(f.rows, func(r entrant) bool { return r.control })
}

// spansOf turns a deployment's intervals into spans. One whose consumed baits are
// known only together with those of baits unread before is a span of several
// stretches; where one effect stands for each check it counts as merged.
func spansOf(ivs []rates.Interval) (spans []span) {
	for _, iv := range ivs {
		spans = append(spans, span{check: iv.Check, merged: iv.Merged() || len(iv.Late) > 0, fromH: iv.FromH, toH: iv.ToH,
			atRisk: iv.AtRisk, consumed: iv.Consumed, late: iv.Late})
	}
	return spans
}

// baits is the number of baits that a span tells about.
func (s span) baits() int {
	n := s.atRisk
	for _, l := range s.late {
		n += l.AtRisk
	}
	return n
}

// stretch is what one group of baits of a span was exposed to.
type stretch struct {
	fromH, toH float64
	atRisk     int
}

// stretches of a span: one, or one more for each group of baits unread before.
func (s span) stretches() []stretch {
	all := []stretch{{s.fromH, s.toH, s.atRisk}}
	for _, l := range s.late {
		all = append(all, stretch{l.FromH, s.toH, l.AtRisk})
	}
	return all
}

// upTo puts all spans up to check k together: consumed by then, of the baits
// consumed by then or read at it.
func upTo(d *assay.Deployment, spans []span, k int) []span {
	s := span{check: k}
	for _, c := range d.Checks {
		if soak, ok := d.SoakH(c); ok && c.Number == k && (c.Read() || stakesAt(d, k)) {
			s.toH = soak
		}
	}
	for _, v := range spans {
		if v.check > k {
			continue
		}
		s.consumed += v.consumed
		if v.check == k {
			s.atRisk += v.baits() - v.consumed
		}
	}
	s.atRisk += s.consumed
	if s.toH <= 0 || s.atRisk == 0 {
		return nil
	}
	return []span{s}
}

func stakesAt(d *assay.Deployment, k int) bool {
	return slices.ContainsFunc(d.Stakes, func(f assay.StakeFate) bool { return f.Check == k })
}

// chooseLevels lists the factor's levels, the reference first, else byte order.
func (f *frame) chooseLevels() error {
	seen := map[string]bool{}
	for _, r := range f.rows {
		if !r.control {
			seen[value(r.d, f.o.By)] = true
		}
	}
	f.levels = slices.Sorted(maps.Keys(seen))
	if ref := f.o.Reference; ref != "" && len(f.levels) > 0 {
		i := slices.Index(f.levels, ref)
		if i < 0 {
			return wrong("compare.no-level", "level", ref, "by", f.o.By, "levels", f.levels)
		}
		f.levels = append([]string{ref}, slices.Delete(f.levels, i, i+1)...)
	}
	for i := range f.rows {
		if !f.rows[i].control {
			f.rows[i].level = slices.Index(f.levels, value(f.rows[i].d, f.o.By))
		}
	}
	return nil
}

// covariateColumns makes a column of each numeric covariate and one of each
// level but the first of a text covariate.
func (f *frame) covariateColumns() {
	for _, name := range f.o.Covariates {
		texts := make([]string, len(f.rows))
		numeric := true
		levels := map[string]bool{}
		for i, r := range f.rows {
			if r.control {
				continue
			}
			texts[i] = value(r.d, name)
			levels[texts[i]] = true
			if x, err := strconv.ParseFloat(texts[i], 64); err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
				numeric = false
			}
		}
		if numeric {
			f.addColumn(column{term: name, name: name}, func(i int) float64 { x, _ := strconv.ParseFloat(texts[i], 64); return x })
			continue
		}
		for _, l := range slices.Sorted(maps.Keys(levels))[1:] {
			f.addColumn(column{term: name + "=" + l, name: name, level: l}, func(i int) float64 {
				if texts[i] == l {
					return 1
				}
				return 0
			})
		}
	}
}

func (f *frame) addColumn(c column, at func(i int) float64) {
	n := 0
	for i := range f.rows {
		x := 0.0
		if !f.rows[i].control {
			x = at(i)
			c.mean += x
			n++
		}
		f.rows[i].x = append(f.rows[i].x, x)
	}
	if n > 0 {
		c.mean /= float64(n)
	}
	f.extra = append(f.extra, c)
}

// chooseBands cuts time at the nominal soaks and keeps the bands that some
// span touches; with one effect for each check a band is a check number.
func (f *frame) chooseBands() {
	touched := map[int]bool{}
	if f.byCheck() {
		for _, s := range f.spans {
			touched[s.check] = true
		}
	} else {
		f.bandEndH = slices.Clone(f.soaksH)
		if f.o.Check > 0 {
			f.bandEndH = nil // one check: one stretch
		}
		for _, s := range f.spans {
			for _, h := range s.stretches() {
				for b := range f.nBands() {
					if f.overlapH(b, h.fromH, h.toH) > 0 {
						touched[b+1] = true
					}
				}
			}
		}
	}
	if f.o.Check > 0 {
		touched = map[int]bool{1: true}
	}
	f.bands = slices.Sorted(maps.Keys(touched))
	f.terms = append(f.terms, "baseline")
	for _, b := range f.bands[min(1, len(f.bands)):] {
		f.terms = append(f.terms, "interval"+strconv.Itoa(b))
	}
	for _, l := range f.levels[min(1, len(f.levels)):] {
		f.terms = append(f.terms, f.o.By+"="+l)
	}
	for _, c := range f.extra {
		f.terms = append(f.terms, c.term)
	}
	if f.hasControls() {
		f.terms = append(f.terms, "control")
		for _, b := range f.bands[min(1, len(f.bands)):] {
			f.terms = append(f.terms, "control-interval"+strconv.Itoa(b))
		}
	}
}

// byCheck says whether there is one effect for each check number.
func (f *frame) byCheck() bool { return f.o.Bands == "checks" || f.o.Link == "logit" }

func (f *frame) hasControls() bool { return f.controls }

func (f *frame) nBands() int { return max(1, len(f.bandEndH)) }

// overlapH is the part of a stretch of soak that lies in band b (from 0); the
// last band has no end.
func (f *frame) overlapH(b int, fromH, toH float64) float64 {
	lo, hi := 0.0, math.Inf(1)
	if b > 0 {
		lo = f.bandEndH[b-1]
	}
	if b < len(f.bandEndH)-1 {
		hi = f.bandEndH[b]
	}
	return math.Max(0, math.Min(hi, toH)-math.Max(lo, fromH))
}

// chooseRandom settles which random intercepts enter.
func (f *frame) chooseRandom() error {
	known := []string{"site", "site-habitat", "deployment"}
	if f.o.Random != nil {
		for _, g := range f.o.Random {
			if !slices.Contains(known, g) {
				return wrong("compare.no-random", "group", g, "groups", known)
			}
		}
		for _, g := range known { // outermost first, whatever the order given
			if slices.Contains(f.o.Random, g) {
				f.random = append(f.random, g)
			}
		}
	} else {
		f.random = []string{"site", "deployment"}
		if f.siteHabitatSeparable() {
			f.random = known
		} else {
			f.say("site-habitat-not-separable")
		}
	}
	if f.o.By == "site" {
		f.random = slices.DeleteFunc(f.random, func(g string) bool { return g == "site" || g == "site-habitat" })
		f.say("site-is-compared")
	}
	if f.o.Family == "betabinomial" {
		f.random = slices.DeleteFunc(f.random, func(g string) bool { return g == "deployment" })
	}
	return nil
}

// siteHabitatSeparable says whether some site has two or more rows in each of
// two or more habitats.
func (f *frame) siteHabitatSeparable() bool {
	rows := map[[2]string]int{}
	for _, r := range f.rows {
		if !r.control {
			rows[[2]string{r.d.Site, r.d.Habitat}]++
		}
	}
	full := map[string]int{}
	for k, n := range rows {
		if n >= 2 {
			full[k[0]]++
		}
	}
	for _, n := range full {
		if n >= 2 {
			return true
		}
	}
	return false
}

// groups numbers the group of each row at each random level.
func (f *frame) groups() [][]int {
	out := make([][]int, len(f.rows))
	for _, level := range f.random {
		number := map[string]int{}
		for i, r := range f.rows {
			key := strconv.Itoa(i)
			switch level {
			case "site":
				key = r.d.Site
			case "site-habitat":
				key = r.d.Site + "\x1f" + r.d.Habitat
			}
			n, ok := number[key]
			if !ok {
				n = len(number)
				number[key] = n
			}
			out[i] = append(out[i], n)
		}
	}
	return out
}

// data fills the model's observations, one for each span, and says which span
// each is.
func (f *frame) data() (*mixed.Data, error) {
	d := mixed.NewData(f.terms, f.random)
	groups := f.groups()
	for _, s := range f.spans {
		r := f.rows[s.row]
		var pieces []mixed.Piece
		if f.byCheck() || f.o.Check > 0 {
			exposure := s.toH - s.fromH
			if f.o.Link == "logit" {
				exposure = 1
			}
			b := s.check
			if f.o.Check > 0 {
				b = f.bands[0]
			}
			pieces = f.pieces(pieces, r, slices.Index(f.bands, b), exposure)
		} else {
			if len(s.late) > 0 {
				if err := f.addSum(d, s, groups[s.row]); err != nil {
					return nil, fmt.Errorf("row %s: %w", r.d.ID, err)
				}
				continue
			}
			pieces = f.bandPieces(r, s.fromH, s.toH)
		}
		if err := d.Add(s.consumed, s.atRisk, groups[s.row], pieces...); err != nil {
			return nil, fmt.Errorf("row %s: %w", r.d.ID, err)
		}
	}
	return d, nil
}

// bandPieces are the stretches of a soak in each band.
func (f *frame) bandPieces(r entrant, fromH, toH float64) (pieces []mixed.Piece) {
	for k, b := range f.bands {
		if h := f.overlapH(b-1, fromH, toH); h > 0 {
			pieces = f.pieces(pieces, r, k, h)
		}
	}
	return pieces
}

// addSum adds a span of several stretches: the likelihood of the sum of their
// binomial counts.
func (f *frame) addSum(d *mixed.Data, s span, groups []int) error {
	var parts []mixed.Part
	for _, h := range s.stretches() {
		if h.atRisk > 0 {
			parts = append(parts, mixed.Part{Trials: h.atRisk, Pieces: f.bandPieces(f.rows[s.row], h.fromH, h.toH)})
		}
	}
	return d.AddSum(s.consumed, groups, parts...)
}

// pieces adds the piece of the k-th band, and beside it, where control rows
// enter, the hazard that they share.
func (f *frame) pieces(to []mixed.Piece, r entrant, k int, exposure float64) []mixed.Piece {
	if !r.control {
		to = append(to, mixed.Piece{Exposure: exposure, X: f.design(k, r.level, r.x)})
	}
	if f.hasControls() {
		to = append(to, mixed.Piece{Exposure: exposure, X: f.controlDesign(k), Background: true})
	}
	return to
}

// design is a row of the design: band k, level and covariates.
func (f *frame) design(k, level int, x []float64) []float64 {
	row := make([]float64, len(f.terms))
	row[0] = 1
	if k > 0 {
		row[k] = 1
	}
	at := max(1, len(f.bands))
	if level > 0 {
		row[at+level-1] = 1
	}
	copy(row[at+max(0, len(f.levels)-1):], x)
	return row
}

func (f *frame) controlDesign(k int) []float64 {
	row := make([]float64, len(f.terms))
	at := len(f.terms) - len(f.bands)
	row[at] = 1
	if k > 0 {
		row[at+k] = 1
	}
	return row
}
