package compare

import (
	"slices"
	"strconv"

	"soakline/internal/words"
)

// chain are the random intercepts of the trade, outermost first; any column of the
// sheet may stand beside them.
var chain = []string{"site", "site-habitat", "date", "deployment"}

// mostCrossed bounds the groups of one column that cuts across sites: the cost of a
// fit grows with their square.
const mostCrossed = 100

// chooseRandom settles which random intercepts enter.
func (f *frame) chooseRandom() error {
	if f.o.Random == nil {
		f.random = []string{"site", "deployment"}
		if f.siteHabitatSeparable() {
			f.random = []string{"site", "site-habitat", "deployment"}
		} else {
			f.say("site-habitat-not-separable")
		}
	} else if err := f.placeRandom(); err != nil {
		return err
	}
	if f.o.By == "site" {
		f.random = slices.DeleteFunc(f.random, func(g string) bool {
			return g == "site" || g == "site-habitat" || !slices.Contains(chain, g) && f.withinSite(g)
		})
		f.say("site-is-compared")
	}
	if f.o.Family == "betabinomial" {
		f.random = slices.DeleteFunc(f.random, func(g string) bool { return g == "deployment" })
	}
	if len(f.crossed) > 0 && f.o.Quadrature > 1 {
		return wrong("compare.quadrature-crossed", "groups", f.crossed)
	}
	return nil
}

// randomColumns are the columns of the sheet among the random intercepts asked for.
func (o Options) randomColumns() []string {
	return slices.DeleteFunc(slices.Clone(o.Random), func(g string) bool { return slices.Contains(chain, g) })
}

// placeRandom puts what was asked for in its place, whatever the order given: the chain
// outermost first; a column that is the same in all rows of each site outside the site; one
// of whose values each is of one site inside it; any other across the chain.
func (f *frame) placeRandom() error {
	has := func(g string) bool { return slices.Contains(f.o.Random, g) }
	var outer, inSite, inHabitat []string
	for _, g := range f.o.randomColumns() {
		if g == f.o.By || slices.Contains(f.o.covariates(), g) {
			return wrong("compare.twice", "column", g)
		}
		switch n := f.values(g); {
		case f.withinSite(g) && !slices.ContainsFunc(outer, func(h string) bool { return !f.nested(g, h) && !f.nested(h, g) }):
			outer = append(outer, g)
		case f.inside(g, func(r entrant) string { return siteHabitat(r) }):
			inHabitat = append(inHabitat, g)
		case f.inside(g, func(r entrant) string { return r.d.Site }) && !has("site-habitat"):
			inSite = append(inSite, g)
		case n > mostCrossed:
			return wrong("compare.random-many", "group", g, "n", n, "most", mostCrossed)
		default:
			f.crossed = append(f.crossed, g)
		}
	}
	slices.SortStableFunc(outer, func(a, b string) int { return f.values(a) - f.values(b) })
	f.random = outer
	for _, g := range chain {
		if g == "date" {
			f.random = append(append(f.random, inSite...), inHabitat...)
		}
		if has(g) {
			f.random = append(f.random, g)
		}
	}
	return nil
}

func siteHabitat(r entrant) string { return r.d.Site + "\x1f" + r.d.Habitat }

// values counts the values of a column.
func (f *frame) values(name string) int {
	seen := map[string]bool{}
	for _, r := range f.rows {
		if !r.control {
			seen[value(r.d, name)] = true
		}
	}
	return len(seen)
}

// inside says whether all rows of each value of a column have one group.
func (f *frame) inside(name string, group func(entrant) string) bool {
	return f.decides(func(r entrant) string { return value(r.d, name) }, group)
}

// withinSite says whether all rows of each site have one value of a column.
func (f *frame) withinSite(name string) bool {
	return f.decides(func(r entrant) string { return r.d.Site }, func(r entrant) string { return value(r.d, name) })
}

// nested says whether each value of a goes with one value of b.
func (f *frame) nested(a, b string) bool {
	return f.inside(a, func(r entrant) string { return value(r.d, b) })
}

func (f *frame) decides(from, to func(entrant) string) bool {
	of := map[string]string{}
	for _, r := range f.rows {
		if r.control {
			continue
		}
		a, b := from(r), to(r)
		if c, ok := of[a]; ok && c != b {
			return false
		}
		of[a] = b
	}
	return true
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

// groups numbers the group of each row at each random level, the chain's and then the
// crossed ones; groups of different sites have different numbers.
func (f *frame) groups() [][]int {
	wide := len(f.random) + len(f.crossed)
	all := make([]int, len(f.rows)*wide)
	out := make([][]int, len(f.rows))
	for i := range out {
		out[i] = all[i*wide : (i+1)*wide]
	}
	for k, level := range slices.Concat(f.random, f.crossed) {
		number := map[string]int{}
		for i, r := range f.rows {
			var key string
			switch level {
			case "deployment":
				out[i][k] = i
				continue
			case "site":
				key = r.d.Site
			case "site-habitat":
				key = siteHabitat(r)
			case "date":
				key = r.d.Site + "\x1f" + dateOf(r.d)
				if slices.Contains(f.random, "site-habitat") {
					key = siteHabitat(r) + "\x1f" + dateOf(r.d)
				}
			default:
				key = value(r.d, level)
			}
			n, ok := number[key]
			if !ok {
				n = len(number)
				number[key] = n
			}
			out[i][k] = n
		}
	}
	return out
}

// GroupName is a random intercept in words.
func GroupName(group string) words.Ref {
	if slices.Contains(chain, group) {
		return words.Ref{Slug: "random." + group}
	}
	return words.Ref{Slug: "random.column", With: map[string]any{"column": group}}
}

// sayFewGroups says that a spread rests on few groups; what is a column of the sheet can
// as well be taken as fixed.
func (f *frame) sayFewGroups(group string, n int) {
	if slices.Contains(chain, group) {
		f.say("few-groups", "group", GroupName(group), "n", n)
		return
	}
	f.say("few-groups-fixed", "column", group, "n", strconv.Itoa(n))
}
