package mixed

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Link says how the linear predictor v becomes the probability of an event.
type Link int

const (
	// Cloglog: probability 1 − exp(−Σ exposure·exp(x'β)·exp(u)), the
	// grouped-time proportional hazards model of Prentice & Gloeckler (1978).
	Cloglog Link = iota
	// Logit: probability 1 / (1 + exp(−v)); one piece per observation, whose
	// log exposure enters as an ordinary offset (exposure 1: no offset).
	Logit
)

// Family is the distribution of the events of one observation given the
// random intercepts.
type Family int

const (
	// Binomial: independent trials.
	Binomial Family = iota
	// BetaBinomial: trials of one observation share a probability that is
	// itself beta distributed, with shape parameters μ/κ and (1−μ)/κ; κ = 0 is
	// the binomial. In other parametrisations the precision is φ = 1/κ and the
	// correlation of two trials κ/(1+κ). Meant for one observation per group.
	BetaBinomial
)

// Piece is one stretch of an observation over which the hazard is constant:
// one time band's share of the interval, say.
type Piece struct {
	// Exposure is the length of the stretch in the unit of the rates (h);
	// positive. 1 where there is no time. Its logarithm is the offset, so any
	// other known factor of the rate is multiplied in here.
	Exposure float64
	// X is the row of the fixed-effects design on this stretch, one value a
	// term. The band enters as a column like any other, so a term that changes
	// with the band needs no more than its product column.
	X []float64
	// Background marks a hazard that adds to the others and takes no random
	// intercept: loss that has another cause. Only with Cloglog and Binomial.
	Background bool
}

// Data holds the observations of one model, in the order they were added.
//
// One observation is y events among r trials over one interval. An interval
// over several bands is one observation of several pieces: its hazard is the
// sum. A trial that was not looked at when the others were belongs to an
// observation of its own over the longer interval; since the trials are
// independent given the intercepts, this is its exact likelihood.
type Data struct {
	terms, levels  []string
	crossed        []string
	events, trials []int
	pieceEnd       []int
	exposure       []float64
	background     []bool
	x              []float64
	groups         []int
	sums           map[int]sumParts // observations known only as a sum
}

// NewData makes an empty set of observations: terms names the columns of the
// fixed-effects design; levels names the nested random intercepts, outermost
// first (none is allowed).
func NewData(terms, levels []string) *Data {
	return &Data{
		terms:  append([]string(nil), terms...),
		levels: append([]string(nil), levels...),
	}
}

// Crossed adds random intercepts that cut across the chain: observers, say, each
// of whom worked at many sites. Every observation's groups then hold, after the
// chain's, the group of each. They enter as a dense border of the tree, so that a fit
// stays linear in the observations, at a cost that grows with the square of the number
// of their groups. Call it before the first Add.
func (d *Data) Crossed(names ...string) *Data {
	if d.Len() > 0 {
		panic("mixed: crossed factors come before the first observation")
	}
	d.crossed = append(d.crossed, names...)
	return d
}

// Grow makes room for so many more observations of one piece.
func (d *Data) Grow(n int) {
	d.events, d.trials, d.pieceEnd = slices.Grow(d.events, n), slices.Grow(d.trials, n), slices.Grow(d.pieceEnd, n)
	d.exposure, d.background = slices.Grow(d.exposure, n), slices.Grow(d.background, n)
	d.groups, d.x = slices.Grow(d.groups, n*(len(d.levels)+len(d.crossed))), slices.Grow(d.x, n*len(d.terms))
}

// Terms returns the names of the columns.
func (d *Data) Terms() []string { return append([]string(nil), d.terms...) }

// Levels returns the names of the random levels, outermost first.
func (d *Data) Levels() []string { return append([]string(nil), d.levels...) }

// Len returns the number of observations.
func (d *Data) Len() int { return len(d.events) }

// Add appends one observation: events of trials, the group it belongs to at
// each level (any whole numbers; a group is a group within its outer group, so
// equal numbers under different outer groups are different groups), and its
// pieces. The pieces are copied.
//
// It returns an error if the counts cannot be, an exposure is not a positive
// finite number, or a design value is not finite. It panics if groups or a
// design row has the wrong length. A fit keeps its Data: add nothing after it.
func (d *Data) Add(events, trials int, groups []int, pieces ...Piece) error {
	if len(groups) != len(d.levels)+len(d.crossed) {
		panic("mixed: groups and levels differ in length")
	}
	if trials < 0 || events < 0 || events > trials {
		return fmt.Errorf("observation %d: %d events of %d trials cannot be; events must be between 0 and trials", len(d.events)+1, events, trials)
	}
	if len(pieces) == 0 {
		return fmt.Errorf("observation %d has no exposure; give it at least one piece", len(d.events)+1)
	}
	for _, p := range pieces {
		if len(p.X) != len(d.terms) {
			panic("mixed: design row and terms differ in length")
		}
		if !(p.Exposure > 0) || math.IsInf(p.Exposure, 0) {
			return fmt.Errorf("observation %d: an exposure of %v cannot be; give a positive number", len(d.events)+1, p.Exposure)
		}
		for j, v := range p.X {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("observation %d, term %s: %v is not a finite number; leave the observation out or give a value", len(d.events)+1, d.terms[j], v)
			}
		}
	}
	d.events = append(d.events, events)
	d.trials = append(d.trials, trials)
	d.groups = append(d.groups, groups...)
	for _, p := range pieces {
		d.exposure = append(d.exposure, p.Exposure)
		d.background = append(d.background, p.Background)
		d.x = append(d.x, p.X...)
	}
	d.pieceEnd = append(d.pieceEnd, len(d.exposure))
	return nil
}

// layout is the part of Data that stays when counts change: observations
// sorted by innermost group, distinct design rows, the tree of groups.
type layout struct {
	terms  []string
	levels []string // levels kept
	origin []int    // position of each kept level in Data
	order  []int    // observation of Data at each place

	pieceStart []int32
	logExp     []float64
	exposure   []float64
	row        []int32
	background []bool
	hasBack    bool
	multi      bool      // some observation has several pieces
	rows       []float64 // distinct design rows × terms
	nRows      int
	rowCount   []float64 // pieces with this row

	parent    [][]int32 // per level of the tree: node → node of the level above
	size      []int     // nodes per level of the tree, which may have one more than levels (see buildTree)
	crossed   []string  // crossed factors kept
	crossOf   [][]int32 // per crossed factor: leaf → group
	crossSize []int     // groups of each
	sumOf     []int32   // by observation: 1 + place among the sums; nil if there are none
	sums      []sumParts
	leafStart []int32 // innermost node → first observation; one leaf if no levels
	notices   []Notice
}

func (l *layout) nObs() int { return len(l.order) }

// newLayout sorts the observations into the tree and finds the distinct rows.
func newLayout(d *Data) *layout {
	n, k := d.Len(), len(d.levels)+len(d.crossed)
	l := &layout{terms: d.terms, order: make([]int, n)}
	for i := range l.order {
		l.order[i] = i
	}
	byGroups := func(a, b int) int { return slices.Compare(d.groups[a*k:(a+1)*k], d.groups[b*k:(b+1)*k]) }
	if !slices.IsSortedFunc(l.order, byGroups) { // a sheet is mostly written site by site
		slices.SortStableFunc(l.order, byGroups)
	}
	l.buildTree(d)
	l.buildRows(d)
	return l
}

// buildTree numbers the groups of each level and leaves out levels that carry
// nothing of their own: a single group, or the same groups as the level above. With
// crossed factors the leaves are cut so fine that each has one group of every factor;
// where that takes a level more, it is the last of size, without a name or an SD.
func (l *layout) buildTree(d *Data) {
	n, k := d.Len(), len(d.levels)
	named, stride := k, k+len(d.crossed)
	if len(d.crossed) > 0 {
		k++
	}
	node := make([][]int32, k)
	size := make([]int, k)
	for j := range node {
		node[j] = make([]int32, n)
	}
	for i := 0; i < n; i++ {
		fresh := i == 0
		for j := 0; j < k; j++ {
			for o := j; !fresh && o < stride && (o == j || j == named); o++ {
				fresh = d.groups[l.order[i]*stride+o] != d.groups[l.order[i-1]*stride+o]
			}
			if fresh {
				size[j]++
			}
			node[j][i] = int32(size[j] - 1)
		}
	}
	last := 1
	lastName := ""
	var kept [][]int32
	for j := 0; j < k; j++ {
		if j == named {
			if size[j] > last {
				l.size = append(l.size, size[j])
				kept = append(kept, node[j])
			}
			break
		}
		if size[j] <= 1 {
			l.notices = append(l.notices, Notice{Slug: SlugOneGroup, Group: d.levels[j]})
			continue
		}
		if size[j] == last {
			l.notices = append(l.notices, Notice{Slug: SlugLevelsCoincide, Group: d.levels[j], Other: lastName})
			continue
		}
		last, lastName = size[j], d.levels[j]
		l.levels = append(l.levels, d.levels[j])
		l.origin = append(l.origin, j)
		l.size = append(l.size, size[j])
		kept = append(kept, node[j])
	}
	l.buildCrossed(d, kept)
	for j := range kept {
		par := make([]int32, l.size[j])
		if j > 0 {
			for i := range kept[j] {
				par[kept[j][i]] = kept[j-1][i]
			}
		}
		l.parent = append(l.parent, par)
	}
	l.leafStart = []int32{0}
	for i := 1; i < n && len(kept) > 0; i++ {
		if in := kept[len(kept)-1]; in[i] != in[i-1] {
			l.leafStart = append(l.leafStart, int32(i))
		}
	}
	l.leafStart = append(l.leafStart, int32(n))
}

func (l *layout) buildRows(d *Data) {
	p, pieces := len(d.terms), len(d.exposure)
	seen := map[string]int32{}
	key := make([]byte, 8*p)
	l.pieceStart = append(make([]int32, 0, len(l.order)+1), 0)
	l.row, l.background = make([]int32, 0, pieces), make([]bool, 0, pieces)
	l.logExp, l.exposure = make([]float64, 0, pieces), make([]float64, 0, pieces)
	for place, i := range l.order {
		l.takeSums(d, place, i, len(l.row))
		from := 0
		if i > 0 {
			from = d.pieceEnd[i-1]
		}
		for s := from; s < d.pieceEnd[i]; s++ {
			x := d.x[s*p : (s+1)*p]
			for j, v := range x {
				b := math.Float64bits(v + 0) // −0 becomes 0
				for o := 0; o < 8; o++ {
					key[8*j+o] = byte(b >> (8 * o))
				}
			}
			id, ok := seen[string(key)]
			if !ok {
				id = int32(l.nRows)
				seen[string(key)] = id
				l.rows = append(l.rows, x...)
				l.rowCount = append(l.rowCount, 0)
				l.nRows++
			}
			l.row = append(l.row, id)
			l.rowCount[id]++
			l.logExp = append(l.logExp, math.Log(d.exposure[s]))
			l.exposure = append(l.exposure, d.exposure[s])
			l.background = append(l.background, d.background[s])
			l.hasBack = l.hasBack || d.background[s]
		}
		l.multi = l.multi || d.pieceEnd[i]-from > 1
		l.pieceStart = append(l.pieceStart, int32(len(l.row)))
	}
}

// frame is a layout with counts: what a likelihood is a likelihood of. Pieces
// whose hazard has gone to zero (see separation.go) have logExp −Inf.
type frame struct {
	*layout
	link     Link
	family   Family
	y, r     []float64
	logExp   []float64
	exposure []float64 // exp(logExp)
	constant float64   // Σ log binomial coefficients
}

var errLogitPieces = errors.New("the logit link takes one piece per observation and no background; use the complementary log-log link for intervals over several bands")

func newFrame(l *layout, events, trials []int, link Link, family Family) (*frame, error) {
	if link == Logit && (l.multi || l.hasBack) {
		return nil, errLogitPieces
	}
	if family == BetaBinomial && l.hasBack {
		return nil, errors.New("a background hazard needs the binomial family")
	}
	if len(l.sums) > 0 && (link == Logit || family == BetaBinomial) {
		return nil, errSum
	}
	if len(l.crossed) > 0 && len(l.size) == 0 {
		panic("mixed: crossed factors without leaves")
	}
	f := &frame{layout: l, link: link, family: family, logExp: l.logExp, exposure: l.exposure,
		y: make([]float64, l.nObs()), r: make([]float64, l.nObs())}
	for i, o := range l.order {
		f.y[i], f.r[i] = float64(events[o]), float64(trials[o])
		if f.sum(i) == nil { // a sum has its coefficients inside
			f.constant += lchoose(f.r[i], f.y[i])
		}
	}
	return f, nil
}

func lchoose(n, k float64) float64 {
	a, _ := math.Lgamma(n + 1)
	b, _ := math.Lgamma(k + 1)
	c, _ := math.Lgamma(n - k + 1)
	return a - b - c
}
