package compare

import (
	"slices"
	"strconv"
)

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
