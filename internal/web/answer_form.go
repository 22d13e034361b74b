package web

import (
	"net/url"
	"slices"
	"sort"
	"strconv"

	"soakline/internal/compare"
	"soakline/internal/task"
	"soakline/internal/words"
)

// answerForm is how the comparison is set, on the second layer.
type answerForm struct {
	By, Link, Family, Bands, Adjust, Controls, Reference string
	Level, Check, Quadrature, Intercepts                 string
	Bys, Links, Families, BandsList, Adjusts             []option
	ControlList, Levels, Checks, Quadratures             []option
	InterceptsList                                       []option
	Covariates                                           []option
	chosen                                               []string // covariates
}

// The random intercepts that can be chosen on the desk, as one word each.
var intercepts = []struct {
	name  string
	usual bool
	list  []string
}{
	{"usual", true, nil},
	{"site-row", false, []string{"site", "deployment"}},
	{"all", false, []string{"site", "site-habitat", "deployment"}},
	{"row", false, []string{"deployment"}},
	{"none", false, []string{}},
}

// shownChecks bounds the checks that can be chosen.
const shownChecks = 50

// quadratures are the numbers of points that can be chosen.
var quadratures = []string{"1", "5", "9", "15"}

// optionsOf reads the comparison's settings from an address.
func optionsOf(q url.Values) (o compare.Options, form answerForm) {
	pick := func(name, usual string, list ...string) string {
		if v := q.Get(name); slices.Contains(list, v) {
			return v
		}
		return usual
	}
	form.By = q.Get("by")
	if form.By == "" {
		form.By = "habitat"
	}
	form.Link = pick("link", "cloglog", "logit")
	form.Family = pick("family", "binomial", "betabinomial")
	form.Bands = pick("bands", "nominal", "checks")
	form.Adjust = pick("adjust", "holm", "simultaneous", "none")
	form.Controls = pick("controls", "leave-out", "subtract")
	form.Level = pick("level", "0.95", "0.9", "0.99")
	form.Quadrature = pick("quadrature", "1", quadratures...)
	form.Reference = q.Get("reference")
	form.Check = "0"
	if n, err := strconv.Atoi(q.Get("check")); err == nil && n > 0 && n < 1000 {
		form.Check = strconv.Itoa(n)
	}
	o = compare.Options{By: form.By, Link: form.Link, Family: form.Family, Bands: form.Bands, Adjust: form.Adjust, Controls: form.Controls, Reference: form.Reference, Seed: 1}
	o.Level, _ = strconv.ParseFloat(form.Level, 64)
	o.Check, _ = strconv.Atoi(form.Check)
	o.Quadrature, _ = strconv.Atoi(form.Quadrature)
	form.Intercepts = "usual"
	for _, c := range intercepts {
		if c.name == q.Get("intercepts") {
			form.Intercepts, o.Random = c.name, c.list
		}
	}
	for _, c := range q["covariate"] {
		if c != "" && !slices.Contains(o.Covariates, c) {
			o.Covariates = append(o.Covariates, c)
		}
	}
	sort.Strings(o.Covariates)
	form.chosen = o.Covariates
	return o, form
}

// query writes settings back into an address; the usual ones give "".
func query(o compare.Options) string {
	q := url.Values{}
	set := func(name, v, usual string) {
		if v != usual {
			q.Set(name, v)
		}
	}
	set("by", o.By, "habitat")
	set("link", o.Link, "cloglog")
	set("family", o.Family, "binomial")
	set("bands", o.Bands, "nominal")
	set("adjust", o.Adjust, "holm")
	set("controls", o.Controls, "leave-out")
	set("reference", o.Reference, "")
	set("level", sheetNumber(o.Level), "0.95")
	set("check", strconv.Itoa(o.Check), "0")
	set("quadrature", strconv.Itoa(o.Quadrature), "1")
	for _, c := range intercepts {
		if !c.usual && o.Random != nil && slices.Equal(c.list, o.Random) {
			q.Set("intercepts", c.name)
		}
	}
	for _, c := range o.Covariates {
		q.Add("covariate", c)
	}
	return q.Encode()
}

func sheetNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// fill offers what can be chosen.
func (f *answerForm) fill(l words.Language, s *task.Season) {
	list := func(chosen, prefix string, values ...string) []option {
		var out []option
		for _, x := range values {
			out = append(out, option{x, l.Say(prefix+x, nil), x == chosen})
		}
		return out
	}
	f.Bys = list(f.By, "web.by.", "habitat", "site", "season", "team")
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
	seen := map[string]bool{}
	last := 0
	for i := range s.Deployments {
		d := &s.Deployments[i]
		for _, c := range d.Checks {
			last = max(last, c.Number)
		}
		for _, n := range d.CovariateNames() {
			seen[n] = true
		}
		for n, known := range map[string]bool{"temperature_c": d.TemperatureC.Known(), "salinity": d.Salinity.Known(), "visibility_m": d.VisibilityM.Known(), "depth_min_m": d.DepthMinM.Known()} {
			if known {
				seen[n] = true
			}
		}
	}
	for _, n := range s.DerivedKnown() {
		seen[n] = true
	}
	names := make([]string, 0, len(seen))
	for n := range seen {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		f.Covariates = append(f.Covariates, option{n, fieldName(l, n), slices.Contains(f.chosen, n)})
	}
	f.Checks = []option{{"0", l.Say("web.check.all", nil), f.Check == "0"}}
	for k := 1; k <= min(last, shownChecks); k++ {
		n := strconv.Itoa(k)
		f.Checks = append(f.Checks, option{n, l.Say("web.check.one", words.P{"n": k}), n == f.Check})
	}
}
