package web

import (
	"net/url"
	"slices"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/compare"
)

// answerForm is how the comparison is set, on the second layer.
type answerForm struct {
	By, Link, Family, Bands, Adjust, Controls, Reference string
	Level, Check, Quadrature, Intercepts, Seed           string
	Bys, Links, Families, BandsList, Adjusts             []option
	ControlList, Levels, Checks, Quadratures             []option
	InterceptsList                                       []option
	Columns                                              []enterColumn   // further columns, and how each enters
	Across                                               []option        // further random intercepts
	Pairs                                                []pairChoice    // what is taken together
	Profiles                                             []option        // what gets profile limits
	Seasons                                              []option        // how many are simulated
	Asked                                                compare.Options // as it was read
}

// enterColumn is one further column and the ways in which it may enter.
type enterColumn struct {
	Column string
	Label  string
	Ways   []option
}

// pairChoice is one pair of things that are taken together.
type pairChoice struct {
	N    int
	A, B []option
}

// The random intercepts that can be chosen on the desk, as one word each; further
// columns may stand beside them.
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

// enterWays are how a further column can enter, by the name of its parameter in an address.
var enterWays = []string{"covariate", "squared", "curve", "split", "words"}

// shownChecks bounds the checks that can be chosen.
const shownChecks = 50

// mostPairs bounds the pairs that can be taken together.
const mostPairs = 6

// quadratures are the numbers of points that can be chosen.
var quadratures = []string{"1", "5", "9", "15"}

// optionsOf reads the comparison's settings from an address: the one that query
// writes, or the one that the form sends.
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
	if n, err := strconv.ParseUint(q.Get("seed"), 10, 64); err == nil {
		o.Seed = n
	}
	form.Seed = strconv.FormatUint(o.Seed, 10)
	o.Level, _ = strconv.ParseFloat(form.Level, 64)
	o.Check, _ = strconv.Atoi(form.Check)
	o.Quadrature, _ = strconv.Atoi(form.Quadrature)
	columnsOf(q, &o)
	form.Intercepts = randomOf(q, &o)
	o.Together = pairsOf(q)
	o.Profile = chosen(q["profile"])
	form.Asked = o
	return o, form
}

// chosen are the values of a parameter that may stand several times, each once.
func chosen(values []string) []string {
	var out []string
	for _, v := range values {
		if v != "" && !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	sort.Strings(out)
	return out
}

// columnsOf reads the further columns: curve=NAME, or as the form sends them
// enter=curve:NAME.
func columnsOf(q url.Values, o *compare.Options) {
	by := map[string][]string{}
	for _, w := range enterWays {
		by[w] = q[w]
	}
	for _, e := range q["enter"] {
		if w, name, ok := strings.Cut(e, ":"); ok && slices.Contains(enterWays, w) {
			by[w] = append(slices.Clone(by[w]), name)
		}
	}
	o.AsWords = chosen(by["words"])
	o.Covariates = chosen(append(by["covariate"], o.AsWords...))
	o.Squared, o.Curves, o.Split = chosen(by["squared"]), chosen(by["curve"]), chosen(by["split"])
}

// randomOf reads the random intercepts, and gives the word of the chain.
func randomOf(q url.Values, o *compare.Options) string {
	name := "usual"
	for _, c := range intercepts {
		if c.name == q.Get("intercepts") {
			name, o.Random = c.name, c.list
		}
	}
	across := chosen(q["across"])
	if len(across) == 0 {
		return name
	}
	if o.Random == nil { // what the rows cannot carry of it is left out, and said
		o.Random = []string{"site", "site-habitat", "deployment"}
	}
	o.Random = append(slices.Clone(o.Random), across...)
	return name
}

// splitRandom is the word of the chain that random intercepts are made of, and what
// stands beside it.
func splitRandom(random []string) (name string, across []string) {
	if random == nil {
		return "usual", nil
	}
	for _, c := range intercepts {
		if c.usual || len(random) < len(c.list) || !slices.Equal(random[:len(c.list)], c.list) {
			continue
		}
		rest := random[len(c.list):]
		if slices.ContainsFunc(rest, func(g string) bool { return g == "site-habitat" || g == "deployment" || g == "site" }) {
			continue
		}
		return c.name, rest
	}
	return "usual", nil
}

// pairsOf reads what is taken together: together=A,B, or as the form sends them two
// values of pair, one after the other.
func pairsOf(q url.Values) []string {
	all := slices.Clone(q["together"])
	for p := q["pair"]; len(p) >= 2; p = p[2:] {
		if p[0] != "" && p[1] != "" {
			all = append(all, p[0]+","+p[1])
		}
	}
	all = chosen(all)
	return all[:min(len(all), mostPairs)]
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
	set("seed", strconv.FormatUint(o.Seed, 10), "1")
	name, across := splitRandom(o.Random)
	set("intercepts", name, "usual")
	add := func(name string, values []string) {
		for _, v := range values {
			q.Add(name, v)
		}
	}
	add("across", across)
	add("words", o.AsWords)
	add("covariate", slices.DeleteFunc(slices.Clone(o.Covariates), func(n string) bool { return slices.Contains(o.AsWords, n) }))
	add("squared", o.Squared)
	add("curve", o.Curves)
	add("split", o.Split)
	add("together", o.Together)
	add("profile", o.Profile)
	return q.Encode()
}

func sheetNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }
