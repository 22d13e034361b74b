package compare

import (
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// base is one number that every row has, made of one column of the sheet: the
// number itself, its square, a piece of a curve, the mean of the row's site, or 1 for
// one level of a column with words.
type base struct {
	term, name, level string
	typical           float64 // at which means and ratios are told
}

// atom is one factor of a column of the design.
type atom struct {
	kind atomKind
	at   int // level of the factor, band, or place among the bases
}

type atomKind int

const (
	always atomKind = iota
	ofLevel
	ofBand
	ofBase
)

// value at the k-th band, a level, and the numbers of a row.
func (a atom) value(k, level int, x []float64) float64 {
	switch a.kind {
	case ofLevel:
		return oneIf(a.at == level)
	case ofBand:
		return oneIf(a.at == k)
	case ofBase:
		return x[a.at]
	}
	return 1
}

func oneIf(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

// column is one column of the design beside the bands' and the factor's: a base, or
// the product of two things that are taken together.
type column struct {
	term string
	a, b atom
}

func (c column) value(k, level int, x []float64) float64 {
	return c.a.value(k, level, x) * c.b.value(k, level, x)
}

// touches says whether a column changes with the factor, or with the band.
func (c column) touches(kind atomKind) bool { return c.a.kind == kind || c.b.kind == kind }

// part is a group of terms that is tested by itself.
type part struct {
	terms []string
	names []string // of the columns or factor it is made of
}

// theTime is the word for the bands in a pair that is taken together.
const theTime = "time"

// covariates are the columns that enter, each once, in the order first named; one
// that is only named in a pair enters by itself too.
func (o Options) covariates() []string {
	var all []string
	take := func(names ...string) {
		for _, n := range names {
			if !slices.Contains(all, n) {
				all = append(all, n)
			}
		}
	}
	take(o.Covariates...)
	take(o.Squared...)
	take(o.Curves...)
	take(o.Split...)
	for _, pair := range o.pairs() {
		for _, n := range pair {
			if n != o.By && n != theTime {
				take(n)
			}
		}
	}
	return all
}

// pairs of Together.
func (o Options) pairs() [][2]string {
	var out [][2]string
	for _, t := range o.Together {
		a, b, _ := strings.Cut(t, ",")
		out = append(out, [2]string{strings.TrimSpace(a), strings.TrimSpace(b)})
	}
	return out
}

// checkTerms refuses what cannot stand in one model.
func (o Options) checkTerms() error {
	shapes := map[string]int{}
	for _, list := range [][]string{o.Squared, o.Curves, o.Split, o.AsWords} {
		for _, n := range list {
			shapes[n]++
			if shapes[n] > 1 {
				return wrong("compare.one-shape", "column", n)
			}
		}
	}
	for _, n := range o.covariates() {
		if n == o.By {
			return wrong("compare.twice", "column", o.By)
		}
	}
	seen := map[[2]string]bool{}
	for i, p := range o.pairs() {
		if p[0] == "" || p[1] == "" || p[0] == p[1] || strings.Contains(p[1], ",") {
			return wrong("compare.pair", "given", o.Together[i])
		}
		if seen[p] || seen[[2]string{p[1], p[0]}] {
			return wrong("compare.twice", "column", o.Together[i])
		}
		seen[p] = true
	}
	for _, n := range o.AsWords {
		if !slices.Contains(o.covariates(), n) {
			return wrong("compare.as-words", "column", n)
		}
	}
	return nil
}

// covariateColumns makes the bases of every covariate and the columns of the
// design: a base by itself, then the products of what is taken together.
func (f *frame) covariateColumns() error {
	for _, name := range f.o.covariates() {
		if err := f.addCovariate(name); err != nil {
			return err
		}
	}
	for i, b := range f.bases {
		f.extra = append(f.extra, column{term: b.term, a: atom{ofBase, i}})
	}
	f.ownParts()
	for _, p := range f.o.pairs() {
		if err := f.addPair(p); err != nil {
			return err
		}
	}
	for i, c := range f.extra {
		if slices.ContainsFunc(f.extra[:i], func(d column) bool { return d.term == c.term }) {
			return wrong("compare.twice", "column", c.term)
		}
	}
	return nil
}

// addCovariate makes the bases of one column.
func (f *frame) addCovariate(name string) error {
	texts, numbers := make([]string, len(f.rows)), make([]float64, len(f.rows))
	numeric := !slices.Contains(f.o.AsWords, name)
	levels := map[string]bool{}
	for i, r := range f.rows {
		if r.control {
			continue
		}
		texts[i] = value(r.d, name)
		levels[texts[i]] = true
		x, err := strconv.ParseFloat(texts[i], 64)
		if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
			numeric = false
		}
		numbers[i] = x
	}
	shaped := slices.Contains(slices.Concat(f.o.Squared, f.o.Curves, f.o.Split), name)
	if !numeric {
		if shaped {
			return wrong("compare.not-number", "column", name)
		}
		for _, l := range slices.Sorted(maps.Keys(levels))[min(1, len(levels)):] {
			f.addBase(base{term: name + "=" + l, name: name, level: l}, func(i int) float64 { return oneIf(texts[i] == l) })
			f.bases[len(f.bases)-1].typical = f.meanOf(func(i int) float64 { return oneIf(texts[i] == l) })
		}
		return nil
	}
	of := func(i int) float64 { return numbers[i] }
	mean := f.meanOf(of)
	switch {
	case slices.Contains(f.o.Split, name):
		site := f.siteMeans(numbers)
		f.addBase(base{term: name + "-between", name: name, typical: mean}, func(i int) float64 { return site[f.rows[i].d.Site] })
		f.addBase(base{term: name + "-within", name: name}, func(i int) float64 { return numbers[i] - site[f.rows[i].d.Site] })
	case slices.Contains(f.o.Squared, name):
		f.addBase(base{term: name, name: name, typical: mean}, of)
		f.addBase(base{term: name + "-squared", name: name, typical: mean * mean}, func(i int) float64 { return numbers[i] * numbers[i] })
	case slices.Contains(f.o.Curves, name):
		f.addBase(base{term: name, name: name, typical: mean}, of)
		f.addCurve(name, numbers, mean)
	default:
		f.addBase(base{term: name, name: name, typical: mean}, of)
	}
	return nil
}

// addBase gives every row its number; control rows, which have no covariates, 0.
func (f *frame) addBase(b base, at func(i int) float64) {
	for i := range f.rows {
		x := 0.0
		if !f.rows[i].control {
			x = at(i)
		}
		f.rows[i].x = append(f.rows[i].x, x)
	}
	f.bases = append(f.bases, b)
}

// meanOf is the mean over the rows that are no controls.
func (f *frame) meanOf(at func(i int) float64) float64 {
	s, n := 0.0, 0
	for i := range f.rows {
		if !f.rows[i].control {
			s += at(i)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return s / float64(n)
}

// siteMeans are the means of a number over the rows of each site.
func (f *frame) siteMeans(x []float64) map[string]float64 {
	sum, n := map[string]float64{}, map[string]float64{}
	for i, r := range f.rows {
		if !r.control {
			sum[r.d.Site] += x[i]
			n[r.d.Site]++
		}
	}
	for s := range sum {
		sum[s] /= n[s]
	}
	return sum
}

// atomsOf are the columns that a name of a pair stands for, with their terms.
func (f *frame) atomsOf(name string) (atoms []atom, terms []string) {
	switch name {
	case f.o.By:
		for l := 1; l < len(f.levels); l++ {
			atoms, terms = append(atoms, atom{ofLevel, l}), append(terms, f.o.By+"="+f.levels[l])
		}
	case theTime:
		for k := 1; k < len(f.bands); k++ {
			atoms, terms = append(atoms, atom{ofBand, k}), append(terms, "interval"+strconv.Itoa(f.bands[k]))
		}
	default:
		for i, b := range f.bases {
			if b.name == name {
				atoms, terms = append(atoms, atom{ofBase, i}), append(terms, b.term)
			}
		}
	}
	return atoms, terms
}

// addPair adds the products of everything that two names stand for.
func (f *frame) addPair(pair [2]string) error {
	as, at := f.atomsOf(pair[0])
	bs, bt := f.atomsOf(pair[1])
	var p part
	for i, a := range as {
		for j, b := range bs {
			c := column{term: at[i] + " with " + bt[j], a: a, b: b}
			f.extra = append(f.extra, c)
			p.terms = append(p.terms, c.term)
		}
	}
	if len(p.terms) == 0 {
		f.say("pair-of-one", "a", pair[0], "b", pair[1])
		return nil
	}
	p.names = pair[:]
	f.parts = slices.DeleteFunc(f.parts, func(q part) bool { // what stands in a product is not tested alone
		return len(q.names) == 1 && slices.Contains(p.names, q.names[0])
	})
	f.parts = append(f.parts, p)
	f.sayWhatPairsMean(pair)
	return nil
}

// sayWhatPairsMean tells at what the means and ratios stand when the factor is taken
// together with something.
func (f *frame) sayWhatPairsMean(pair [2]string) {
	other := ""
	switch f.o.By {
	case pair[0]:
		other = pair[1]
	case pair[1]:
		other = pair[0]
	default:
		return
	}
	if other == theTime {
		f.say("ratio-averaged-over-time", "by", f.o.By)
		return
	}
	for _, b := range f.bases {
		if b.name == other {
			if b.level != "" {
				f.say("ratio-at-shares", "by", f.o.By, "column", other)
			} else {
				f.say("ratio-at-mean", "by", f.o.By, "column", other, "mean", b.typical)
			}
			return
		}
	}
}

// ownParts are the groups of terms of each covariate that are tested: all levels of
// one with words; of a bent line what bends it; else each term.
func (f *frame) ownParts() {
	for _, name := range f.o.covariates() {
		var linear, bent, words []string
		for _, b := range f.bases {
			switch {
			case b.name != name:
			case b.level != "":
				words = append(words, b.term)
			case b.term == name || strings.HasSuffix(b.term, "-between") || strings.HasSuffix(b.term, "-within"):
				linear = append(linear, b.term)
			default:
				bent = append(bent, b.term)
			}
		}
		switch {
		case len(words) > 0:
			f.parts = append(f.parts, part{terms: words, names: []string{name}})
		case len(bent) > 0:
			f.parts = append(f.parts, part{terms: bent, names: []string{name}})
		default:
			for _, t := range linear {
				f.parts = append(f.parts, part{terms: []string{t}, names: []string{name}})
			}
		}
	}
}

// typical are the numbers of the row at which means and ratios are told: every
// covariate at its mean over the rows, one with words in the shares of its levels.
func (f *frame) typical() []float64 {
	x := make([]float64, len(f.bases))
	for i, b := range f.bases {
		x[i] = b.typical
	}
	return x
}

// factorTerms are all terms that change with the level of the factor.
func (f *frame) factorTerms() []string {
	var out []string
	for _, l := range f.levels[min(1, len(f.levels)):] {
		out = append(out, f.o.By+"="+l)
	}
	for _, c := range f.extra {
		if c.touches(ofLevel) {
			out = append(out, c.term)
		}
	}
	return out
}
