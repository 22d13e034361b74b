package web

import (
	"slices"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/task"
	"soakline/internal/words"
)

// seasonsOffered are the numbers of simulated seasons that can be chosen; auto stops
// by its own error.
var seasonsOffered = []string{"999", "auto", "9999"}

// offered gathers what a season's rows leave to choose from.
type offered struct {
	columns []string        // further columns, in byte order
	numbers map[string]bool // those whose values are all numbers
	last    int             // number of the last check
	several map[string]bool // columns with two values or more
}

// measured are columns of the datasheet that hold a number of a row.
func measured(d *assay.Deployment) map[string]bool {
	return map[string]bool{"temperature_c": d.TemperatureC.Known(), "salinity": d.Salinity.Known(), "visibility_m": d.VisibilityM.Known(), "depth_min_m": d.DepthMinM.Known()}
}

func offeredBy(s *task.Season) offered {
	o := offered{numbers: map[string]bool{}, several: map[string]bool{}}
	seen, first := map[string]bool{}, map[string]string{}
	value := func(n, v string) {
		if v == "" {
			return
		}
		if f, ok := first[n]; !ok {
			first[n] = v
		} else if f != v {
			o.several[n] = true
		}
	}
	for i := range s.Deployments {
		d := &s.Deployments[i]
		for _, c := range d.Checks {
			o.last = max(o.last, c.Number)
		}
		for _, n := range d.CovariateNames() {
			v := d.Covariates[n]
			if _, err := strconv.ParseFloat(v, 64); v != "" {
				o.numbers[n] = err == nil && (o.numbers[n] || !seen[n])
			}
			seen[n] = true
			value(n, v)
		}
		for n, known := range measured(d) {
			if known {
				seen[n], o.numbers[n] = true, true
			}
		}
		value("observers", d.Observers)
		value("bait_batch", d.BaitBatch)
		value("team", d.Team)
		value("season", d.Season)
	}
	for _, n := range s.DerivedKnown() {
		seen[n], o.numbers[n] = true, true
	}
	for n := range seen {
		o.columns = append(o.columns, n)
	}
	sort.Strings(o.columns)
	return o
}

// fill offers what can be chosen.
func (f *answerForm) fill(l words.Language, s *task.Season) { f.offer(l, offeredBy(s)) }

func (f *answerForm) offer(l words.Language, offer offered) {
	list := func(chosen, prefix string, values ...string) []option {
		var out []option
		for _, x := range values {
			out = append(out, option{x, l.Say(prefix+x, nil), x == chosen})
		}
		return out
	}
	f.Bys = list(f.By, "web.by.", "habitat", "site", "season", "team")
	for _, n := range offer.columns {
		if !offer.numbers[n] {
			f.Bys = append(f.Bys, option{n, fieldName(l, n), n == f.By})
		}
	}
	f.Links = list(f.Link, "web.link.", "cloglog", "logit")
	f.BandsList = list(f.Bands, "web.bands.", "nominal", "checks")
	f.Adjusts = list(f.Adjust, "web.adjust.", "holm", "simultaneous", "none")
	f.ControlList = list(f.Controls, "web.controls.", "leave-out", "subtract")
	for _, x := range []string{"0.9", "0.95", "0.99"} {
		f.Levels = append(f.Levels, option{x, x, x == f.Level})
	}
	f.Families = list(f.Family, "web.family.", "binomial", "betabinomial")
	var kinds []string
	for _, c := range intercepts {
		kinds = append(kinds, c.name)
	}
	f.InterceptsList = list(f.Intercepts, "web.intercepts.", kinds...)
	for _, x := range quadratures {
		label := l.Say("web.quadrature.points", words.P{"n": x})
		if x == "1" {
			label = l.Say("web.quadrature.laplace", nil)
		}
		f.Quadratures = append(f.Quadratures, option{x, label, x == f.Quadrature})
	}
	f.Checks = []option{{"0", l.Say("web.check.all", nil), f.Check == "0"}}
	for k := 1; k <= min(offer.last, shownChecks); k++ {
		n := strconv.Itoa(k)
		f.Checks = append(f.Checks, option{n, l.Say("web.check.one", words.P{"n": k}), n == f.Check})
	}
	f.Seasons = list(seasonsOffered[0], "web.seasons.", seasonsOffered...)
	f.offerColumns(l, offer)
	f.offerAcross(l, offer)
	f.offerPairs(l, offer)
}

// offerColumns lists the further columns: numbers may bend, be split, or be taken as
// names; words enter as they are.
func (f *answerForm) offerColumns(l words.Language, offer offered) {
	o := f.Asked
	for _, n := range offer.columns {
		if n == f.By {
			continue
		}
		has := map[string]bool{"words": slices.Contains(o.AsWords, n), "squared": slices.Contains(o.Squared, n), "curve": slices.Contains(o.Curves, n), "split": slices.Contains(o.Split, n)}
		has["covariate"] = slices.Contains(o.Covariates, n) && !has["words"]
		c := enterColumn{Column: n, Label: fieldName(l, n), Ways: []option{{"", l.Say("web.enter.not", nil), false}}}
		for _, w := range enterWays {
			if w == "covariate" || offer.numbers[n] {
				c.Ways = append(c.Ways, option{w + ":" + n, l.Say("web.enter."+w, nil), has[w]})
			}
		}
		f.Columns = append(f.Columns, c)
	}
}

// offerAcross lists columns whose values rows may have in common, beside the chain:
// words of the sheet with two values or more, and the day.
func (f *answerForm) offerAcross(l words.Language, offer offered) {
	_, across := splitRandom(f.Asked.Random)
	f.Across = []option{{"date", l.Say("random.date", nil), slices.Contains(across, "date")}}
	var names []string
	for n := range offer.several {
		if n != f.By {
			names = append(names, n)
		}
	}
	sort.Strings(names)
	for _, n := range names {
		f.Across = append(f.Across, option{n, fieldName(l, n), slices.Contains(across, n)})
	}
}

// offerPairs gives as many pairs as were asked for and one more to choose.
func (f *answerForm) offerPairs(l words.Language, offer offered) {
	list := func(chosen string) []option {
		out := []option{{"", l.Say("web.pair.none", nil), chosen == ""}}
		by := f.By
		if words.Has("web.by." + by) {
			by = l.Say("web.by."+by, nil)
		}
		out = append(out, option{f.By, by, chosen == f.By}, option{"time", l.Say("web.pair.time", nil), chosen == "time"})
		for _, n := range offer.columns {
			if n != f.By {
				out = append(out, option{n, fieldName(l, n), chosen == n})
			}
		}
		return out
	}
	for i := 0; i < min(len(f.Asked.Together)+1, mostPairs); i++ {
		a, b := "", ""
		if i < len(f.Asked.Together) {
			a, b, _ = strings.Cut(f.Asked.Together[i], ",")
		}
		f.Pairs = append(f.Pairs, pairChoice{i + 1, list(a), list(b)})
	}
}

// offerProfiles lists what may get profile limits: every spread, and the terms of the
// result.
func (f *answerForm) offerProfiles(l words.Language, k *compare.Result) {
	has := func(n string) bool { return slices.Contains(f.Asked.Profile, n) }
	f.Profiles = []option{{"spread", l.Say("web.profile.spread", nil), has("spread")}}
	if k == nil {
		return
	}
	for _, t := range k.Fixed {
		f.Profiles = append(f.Profiles, option{t.Term, t.Term, has(t.Term)})
	}
}
