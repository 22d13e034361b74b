package compare

import (
	"flag"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

var update = flag.Bool("update", false, "rewrite the table of agreement in docs/performance.md")

// agreeing is one data set of testdata/agree: invented, its model, and what each
// engine says of it.
type agreeing struct {
	name, what string
	deployed   []assay.Deployment
	o          Options
	engines    []engine
}

// engine is what one program says: log-likelihood, terms, se:TERM, sd:GROUP, and
// laplace-there, the true Laplace log-likelihood at its estimates (engines.R).
type engine struct {
	name, version string
	value         map[string]float64
}

// agreements reads testdata/agree, made by agree.R there.
func agreements(t testing.TB) []agreeing {
	t.Helper()
	number := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	count := func(s string) assay.Maybe[int] {
		if s == "" {
			return assay.None[int]()
		}
		return assay.Some(int(number(s)))
	}
	rows := map[string][]assay.Deployment{}
	place := map[[2]string]int{}
	for _, l := range table(t, "testdata/agree/rows.csv") {
		d := assay.Deployment{ID: l["id"], Site: l["site"], Habitat: l["habitat"], SetOut: at(0), Baits: int(number(l["baits"])),
			Protocol: l["protocol"], Covariates: map[string]string{"x": l["x"], "x2": l["x2"], "x3": l["x3"], "moon": l["moon"]}}
		if l["control"] == "1" {
			d.Control = assay.Shielded
		}
		place[[2]string{l["set"], l["id"]}] = len(rows[l["set"]])
		rows[l["set"]] = append(rows[l["set"]], d)
	}
	for _, l := range table(t, "testdata/agree/checks.csv") {
		d := &rows[l["set"]][place[[2]string{l["set"], l["id"]}]]
		c := assay.Check{Number: int(number(l["check"])), At: at(number(l["soak_h"]))}
		if c.Consumed = count(l["consumed"]); c.Consumed.Known() {
			c.Lost, c.Unread = count(l["lost"]), count(l["unread"])
		}
		d.Checks = append(d.Checks, c)
	}
	engines := map[string][]engine{}
	for _, l := range table(t, "testdata/agree/golden.csv") {
		es := engines[l["set"]]
		if len(es) == 0 || es[len(es)-1].name != l["engine"] {
			es = append(es, engine{l["engine"], l["version"], map[string]float64{}})
		}
		es[len(es)-1].value[l["name"]] = number(l["value"])
		engines[l["set"]] = es
	}
	var all []agreeing
	for _, l := range table(t, "testdata/agree/sets.csv") {
		o := Options{Bands: l["bands"], Link: l["link"], Family: l["family"], Check: int(number(l["check"])), NoRepeat: true,
			Random: append([]string{}, strings.Fields(l["random"])...), Covariates: strings.Fields(l["covariates"]), Protocols: schedules()}
		if n := int(number(l["soaks"])); n > 2 {
			o.Default = map[int]string{3: "three", 4: "four"}[n]
		}
		if slices.ContainsFunc(rows[l["set"]], func(d assay.Deployment) bool { return d.IsControl() }) {
			o.Controls = "subtract"
		}
		all = append(all, agreeing{l["set"], l["what"], rows[l["set"]], o, engines[l["set"]]})
	}
	return all
}

// schedules are the protocols of the sets with other checks than 1 h and 24 h.
func schedules() map[string]assay.Protocol {
	all := map[string]assay.Protocol{}
	for name, soaks := range map[string][]float64{"two": {1, 24}, "three": {1, 6, 24}, "four": {1, 3, 8, 24}} {
		p := sheet.Standard()
		p.Checks = nil
		for _, s := range soaks {
			p.Checks = append(p.Checks, assay.Nominal{SoakH: s})
		}
		all[name] = p
	}
	return all
}

// distance is how far the answer is from an engine's: log-likelihood (absolute),
// estimates and SDs, standard errors (relative, absolute under 1).
type distance struct{ loglik, estimates, se float64 }

// SDs this small are zero: an engine that searches in log SD never says so.
const noSD = 0.02

// between compares the answer with one engine's values; trouble names what cannot
// be compared as it stands.
func (e engine) between(r *Result) (d distance, trouble []string) {
	d.se = math.NaN()
	got := map[string]assay.Maybe[float64]{"loglik": r.LogLik}
	separated := map[string]bool{}
	for _, f := range r.Fixed {
		got[f.Term], got["se:"+f.Term] = f.Estimate, f.SE
		separated[f.Term] = f.Bound != TwoSided
	}
	for _, s := range r.Random {
		got["sd:"+s.Group] = s.SD
	}
	names := make([]string, 0, len(e.value))
	for n := range e.value {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		want := e.value[n]
		term := strings.TrimPrefix(n, "se:")
		if n == "laplace-there" || separated[term] {
			if n == term && math.Abs(want) < 4 && separated[n] {
				trouble = append(trouble, fmt.Sprintf("%s has no finite maximum here and is %g there", n, want))
			}
			continue
		}
		g, known := got[n].Get()
		off := math.Abs(g-want) / math.Max(1, math.Abs(want))
		switch {
		case !known && strings.HasPrefix(n, "se:"):
		case !known:
			trouble = append(trouble, n+" is missing here")
		case n == "loglik":
			d.loglik = math.Abs(g - want)
		case strings.HasPrefix(n, "sd:") && g < noSD && want < noSD:
		case n != term:
			d.se = math.Max(off, math.Max(d.se, 0))
			if math.IsNaN(d.se) {
				d.se = off
			}
		default:
			d.estimates = math.Max(d.estimates, off)
		}
	}
	return d, trouble
}

// wrongEngines are the fits of other programs that are not what they should be,
// and why. All three kinds end at a place where the true Laplace log-likelihood,
// evaluated in R from scratch (laplace in engines.R), is lower than ours.
var wrongEngines = map[[2]string]string{
	{"crossed", "lme4"}:    "Fisher weights in Laplace's approximation",
	{"checks3", "lme4"}:    "Fisher weights in Laplace's approximation",
	{"rare", "lme4"}:       "Fisher weights in Laplace's approximation",
	{"one_each", "clmm"}:   "stops far below the maximum",
	{"no_band", "glmmTMB"}: "a local maximum with the rows' spread at zero",
}

// tolerance of an engine: log-likelihood, estimates and SDs, standard errors. lme4
// solves for the intercepts less tightly; glm's standard errors with the log-log
// link rest on the expected information.
func (e engine) tolerance() distance {
	switch e.name {
	case "lme4":
		return distance{1e-3, 3e-4, 0}
	case "glm":
		return distance{1e-5, 1e-5, 5e-3}
	}
	return distance{1e-5, 1e-4, 1e-4}
}

// TestAgreement holds every data set of testdata/agree against two engines or
// more, and keeps the table in docs/performance.md true: what is measured here may
// be smaller than what is printed, never larger. -update rewrites the table.
func TestAgreement(t *testing.T) {
	all := agreements(t)
	if len(all) < 30 {
		t.Fatalf("%d data sets", len(all))
	}
	var lines []string
	for _, s := range all {
		t.Run(s.name, func(t *testing.T) {
			r, err := Run(t.Context(), s.deployed, s.o)
			if err != nil {
				t.Fatal(err)
			}
			if len(s.engines) < 2 {
				t.Fatalf("%d engines", len(s.engines))
			}
			lines = append(lines, s.against(t, r))
		})
	}
	keepTable(t, lines)
}

// against compares a set with its engines and gives its line of the table.
func (s agreeing) against(t *testing.T, r *Result) string {
	if s.name == "nothing" || s.name == "everything" {
		for _, e := range s.engines { // the supremum is likelihood 1, which nothing reaches
			if math.Abs(e.value["loglik"]) > 1e-6 || math.Abs(e.value["baseline"]) < 3 {
				t.Errorf("%s: log-likelihood %g at baseline %g, expected to run away", e.name, e.value["loglik"], e.value["baseline"])
			}
		}
		if want := map[string]string{"nothing": "no-events", "everything": "only-events"}[s.name]; r.Ending != want || r.Fixed[0].Estimate.Known() || r.Test.P.Known() {
			t.Errorf("ended %s with baseline %v, expected %s and no estimate", r.Ending, r.Fixed[0].Estimate, want)
		}
		return fmt.Sprintf("| %s | %s | %d | nothing is estimated here (`%s`) | %s run away | | |", s.name, s.what, r.Deployments, r.Ending, names(s.engines))
	}
	var most distance
	var each, wrong []string
	right := 0
	for _, e := range s.engines {
		if why := wrongEngines[[2]string{s.name, e.name}]; why != "" {
			s.exposes(t, e, r, why)
			wrong = append(wrong, fmt.Sprintf("%s: %s (%.4f lower)", e.version, why, r.LogLik.Or(0)-e.value["laplace-there"]))
			continue
		}
		right++
		d, trouble := e.between(r)
		tol := e.tolerance()
		if len(trouble) > 0 || !(d.loglik <= tol.loglik) || !(d.estimates <= tol.estimates) || d.se > tol.se {
			t.Errorf("%s is off by %+v, tolerance %+v; %v", e.version, d, tol, trouble)
		}
		if there, ok := e.value["laplace-there"]; ok && math.Abs(there-r.LogLik.Or(0)) > 1e-5 {
			t.Errorf("written-out Laplace at %s's estimates: %.7f, here %.7f", e.name, there, r.LogLik.Or(0))
		}
		most.loglik = math.Max(most.loglik, d.loglik)
		if e.name != "glm" && d.se > most.se {
			most.se = d.se
		}
		each = append(each, e.version+" "+decade(d.estimates))
	}
	if right < 2 {
		t.Errorf("only %d engines agree", right)
	}
	se := ""
	if most.se > 0 {
		se = decade(most.se)
	}
	return fmt.Sprintf("| %s | %s | %d | %s | %s | %s | %s |", s.name, s.what, r.Deployments, decade(most.loglik), strings.Join(each, ", "), se, strings.Join(wrong, "; "))
}

// exposes holds that an engine that ended wrong did: by the true Laplace
// log-likelihood at its estimates, which is ours or lower everywhere.
func (s agreeing) exposes(t *testing.T, e engine, r *Result, why string) {
	there, ok := e.value["laplace-there"]
	if ours := r.LogLik.Or(math.NaN()); !ok || !(there < ours-5e-4) {
		t.Errorf("%s (%s) ended at %.6f, we at %.6f: it is not lower", e.version, why, there, ours)
	}
	if off, _ := e.between(r); off.loglik < 0.05 || off.estimates < 1e-3 {
		t.Errorf("%s agrees now (%+v); take it out of wrongEngines", e.version, off)
	}
}

func names(es []engine) string {
	var all []string
	for _, e := range es {
		all = append(all, e.version)
	}
	return strings.Join(all, ", ")
}

// decade is the power of ten that x does not exceed, 1e-8 at the least: what two
// machines may differ by in the last digits must not change the table.
func decade(x float64) string {
	return fmt.Sprintf("%.0e", math.Pow(10, math.Max(-8, math.Ceil(math.Log10(x)))))
}

const tableBegin, tableEnd = "<!-- agreement: written by go test ./internal/compare -run TestAgreement -update -->\n", "<!-- /agreement -->\n"

// keepTable compares the lines with those of docs/performance.md: same data sets,
// same engines, no number larger than the one printed.
func keepTable(t *testing.T, lines []string) {
	t.Helper()
	const name = "../../docs/performance.md"
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := strings.Cut(string(b), tableBegin)
	printed, after, ok2 := strings.Cut(rest, tableEnd)
	if !ok || !ok2 {
		t.Fatalf("%s has no table of agreement", name)
	}
	head := "| data set | what is hard in it | rows | log-likelihood | estimates and SDs, by engine | standard errors | engines that are wrong here |\n|---|---|---|---|---|---|---|\n"
	if *update {
		if err := os.WriteFile(name, []byte(before+tableBegin+head+strings.Join(lines, "\n")+"\n"+tableEnd+after), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	number := regexp.MustCompile(`\de-\d\d`)
	was := strings.Split(strings.TrimSuffix(strings.TrimPrefix(printed, head), "\n"), "\n")
	if len(was) != len(lines) {
		t.Fatalf("%s prints %d data sets, there are %d; run with -update", name, len(was), len(lines))
	}
	for i, line := range lines {
		if number.ReplaceAllString(line, "") != number.ReplaceAllString(was[i], "") {
			t.Errorf("%s prints\n%s\nand it is\n%s\nrun with -update", name, was[i], line)
			continue
		}
		then := number.FindAllString(was[i], -1)
		for k, now := range number.FindAllString(line, -1) {
			x, _ := strconv.ParseFloat(now, 64)
			y, _ := strconv.ParseFloat(then[k], 64)
			if x > 10.5*y { // one step for another machine's rounding
				t.Errorf("%s prints %s and it is %s in\n%s", name, then[k], now, line)
			}
		}
	}
}
