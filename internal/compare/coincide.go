package compare

import (
	"slices"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/mixed"
	"soakline/internal/words"
)

// companions are columns that should not go together with what is compared; further
// columns with words join them.
var companions = []string{"site", "date", "bait_batch", "observers", "team", "season", tideState}

// tideState is no column: whether the water rose or fell when the row was set out, by
// the tide of its site.
const tideState = "tide state"

var tideWords = map[string]string{assay.TideRising: "compare.tide-rising", assay.TideFalling: "compare.tide-falling"}

// dateOf is the day on which a row was set out, as its people wrote it.
func dateOf(d *assay.Deployment) string {
	if !d.SetOut.Known() {
		return ""
	}
	return d.SetOut.At.Format(time.DateOnly)
}

func companion(d *assay.Deployment, name string) string {
	if name == "date" {
		if v := d.Covariates["date"]; v != "" {
			return v
		}
		return dateOf(d)
	}
	if name == tideState {
		return d.TideState()
	}
	return value(d, name)
}

// sayCoincides names what goes together with the factor: a level all of whose rows, two
// or more, have one value of a column that no other row has. What that column does
// cannot then be told from what the level does. And it says when all rows of one level
// were set out before all of another.
func (f *frame) sayCoincides() {
	if f.repeated || len(f.levels) < 2 {
		return
	}
	for _, name := range f.companions() {
		only := make([]string, len(f.levels)) // the one value of a level's rows
		rows := make([]int, len(f.levels))
		several := make([]bool, len(f.levels))
		has := map[string]int{} // value to the level of its rows, −1 for several
		for _, r := range f.rows {
			if r.control {
				continue
			}
			v := companion(r.d, name)
			if rows[r.level] > 0 && v != only[r.level] || v == "" {
				several[r.level] = true
			}
			only[r.level] = v
			rows[r.level]++
			if l, ok := has[v]; !ok {
				has[v] = r.level
			} else if l != r.level {
				has[v] = -1
			}
		}
		var pairs words.List
		var column any = name
		for l, v := range only {
			switch {
			case several[l] || rows[l] < 2 || has[v] != l:
			case name == tideState:
				column = words.Ref{Slug: "compare.tide"}
				pairs = append(pairs, words.Ref{Slug: tideWords[v], With: map[string]any{"level": f.levels[l]}})
			default:
				pairs = append(pairs, f.levels[l]+": "+v)
			}
		}
		if len(pairs) > 0 {
			f.say("coincides", "by", f.o.By, "column", column, "pairs", pairs)
		}
	}
	f.sayDatesApart()
}

// companions are the columns looked at, in byte order after the known ones.
func (f *frame) companions() []string {
	out := slices.DeleteFunc(slices.Clone(companions), func(n string) bool { return n == f.o.By })
	further := map[string]bool{}
	for _, r := range f.rows {
		for n := range r.d.Covariates {
			further[n] = true
		}
	}
	var names []string
	for n := range further {
		if n != f.o.By && !slices.Contains(out, n) && !slices.Contains(f.o.covariates(), n) {
			names = append(names, n)
		}
	}
	slices.Sort(names)
	return append(out, names...)
}

// sayDatesApart says which levels lie wholly before others, each set out on two days
// or more; one day each is told by sayCoincides.
func (f *frame) sayDatesApart() {
	first, last := make([]string, len(f.levels)), make([]string, len(f.levels))
	for _, r := range f.rows {
		if r.control {
			continue
		}
		d := dateOf(r.d)
		if d == "" {
			return
		}
		if first[r.level] == "" || d < first[r.level] {
			first[r.level] = d
		}
		last[r.level] = max(last[r.level], d)
	}
	for a := range f.levels {
		for b := range f.levels {
			if last[a] < first[b] && (first[a] < last[a] || first[b] < last[b]) {
				f.say("dates-apart", "before", f.levels[a], "after", f.levels[b])
			}
		}
	}
}

// sayAliased tells of a term that is left out: of what it is made, or that it is the
// same in every row.
func (f *frame) sayAliased(n mixed.Notice) {
	switch n.Other {
	case "", "baseline":
		f.say("aliased-constant", "term", n.Term)
	default:
		f.say("aliased", "term", n.Term, "other", strings.ReplaceAll(n.Other, "baseline, ", ""))
	}
}
