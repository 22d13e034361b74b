package methods

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/pattern"
	"soakline/internal/sheet"
)

// The rest of the script, which is the same for every comparison.
//
//go:embed model.R
var modelText string

// FrameName is the file that the script reads, beside it.
const FrameName = "frame.csv"

// FrameCSV is the frame of a comparison as a table, one line an interval: what
// was seen, the columns of the design under x and a number, the groups of the
// random intercepts under g and a number. What each stands for is in the script.
func FrameCSV(r *compare.Refit) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	head := []string{"row", "deployment_id", "site", "habitat", "compared", "check", "from_h", "to_h", "at_risk", "consumed", "at_limit"}
	for i := range r.Covariates {
		head = append(head, "covariate"+strconv.Itoa(i+1))
	}
	for i := range r.Terms {
		head = append(head, "x"+strconv.Itoa(i+1))
	}
	for i := range r.Groups {
		head = append(head, "g"+strconv.Itoa(i+1))
	}
	if err := w.Write(head); err != nil {
		return nil, err
	}
	rows := map[string]int{}
	for _, o := range r.Lines {
		n, ok := rows[o.Key]
		if !ok {
			n = len(rows) + 1
			rows[o.Key] = n
		}
		limit := "no"
		if o.AtLimit {
			limit = "yes"
		}
		cells := []string{strconv.Itoa(n), o.DeploymentID, o.Site, o.Habitat, o.Level, strconv.Itoa(o.Check), sheet.FormatNumber(o.FromH), sheet.FormatNumber(o.ToH),
			strconv.Itoa(o.AtRisk), strconv.Itoa(o.Consumed), limit}
		for _, name := range r.Covariates {
			cells = append(cells, o.Values[name])
		}
		for _, x := range o.X {
			cells = append(cells, sheet.FormatNumber(x))
		}
		for _, g := range o.Groups {
			cells = append(cells, strconv.Itoa(g+1))
		}
		if err := w.Write(cells); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// ModelR is an R script that reads the frame, fits the model again with
// general-purpose packages and sets its numbers beside ours, each with the
// tolerance within which two programs that maximise the same likelihood agree.
// It ends with status 1 when one is further off.
//
// The model: consumed of at_risk ~ binomial, complementary log-log link, one
// effect for each check, offset log of the interval's length, normal random
// intercepts (Prentice & Gloeckler 1978, Biometrics 34:57-67); or, as the
// comparison was set, the logit link or the beta-binomial family.
//
// about are further lines for its head, as which analysis plan was kept before.
func ModelR(r *compare.Refit, title string, invented bool, about ...string) []byte {
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	k := r.Result
	p("# Fits the comparison again with other programs: %s", oneLine(title))
	if invented {
		p("# Invented data: no such programme, places or people.")
	}
	for _, line := range about {
		p("# %s", oneLine(line))
	}
	p("# Needs R with the package glmmTMB; lme4 is used as well where it is installed.")
	p("# Run it in any folder: Rscript model.R")
	p("")
	p("by <- %s", rText(k.By))
	p("link <- %s", rText(k.Link))
	p("family_name <- %s", rText(k.Family))
	p("covariates <- %s", rTexts(r.Covariates))
	p("use_offset <- %s", rTruth(k.Link == "cloglog"))
	var terms, estimates, errors []string
	for _, t := range k.Fixed {
		terms, estimates, errors = append(terms, t.Term), append(estimates, rMaybe(t.Estimate)), append(errors, rMaybe(t.SE))
	}
	p("terms <- data.frame(")
	p("  column = %s,", rTexts(numbered("x", len(terms))))
	p("  term = %s,", rTexts(terms))
	p("  aliased = %s,", rTruths(len(terms), func(i int) bool { return slices.Contains(r.Aliased(), terms[i]) }))
	p("  tested = %s,", rTruths(len(terms), func(i int) bool { return slices.Contains(r.Tested, terms[i]) }))
	p("  estimate = %s,", rList("numeric(0)", estimates))
	p("  se = %s)", rList("numeric(0)", errors))
	var groups, sds, columns []string
	for _, s := range k.Random {
		i := slices.Index(r.Groups, s.Group)
		if i < 0 {
			continue
		}
		groups, sds, columns = append(groups, s.Group), append(sds, rMaybe(s.SD)), append(columns, "g"+strconv.Itoa(i+1))
	}
	p("spreads <- data.frame(")
	p("  column = %s,", rTexts(columns))
	p("  group = %s,", rTexts(groups))
	p("  sd = %s)", rList("numeric(0)", sds))
	p("ours <- list(fitted = %s, usable = %s, loglik = %s, chi2 = %s, df = %d, deployments = %d, intervals = %d)",
		rTruth(r.Fitted), rTruth(k.Converged), rMaybe(k.LogLik), rMaybe(k.Test.Chi2), k.Test.DF, k.Deployments, k.Intervals)
	p("not_reproduced <- %s", rTexts(NotReproduced(r)))
	p("")
	b.WriteString(modelText)
	return []byte(b.String())
}

// NotReproduced lists, in English, what of the comparison the script does not
// find again, for the script prints English.
func NotReproduced(r *compare.Refit) []string {
	k := r.Result
	var out []string
	add := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if r.Asked.Bands == "nominal" && k.Link == "cloglog" && r.Asked.Check == 0 {
		add("time bands at the nominal soaks with exact overlaps (here: one effect for each check)")
	}
	if r.Controls {
		add("the hazard of control rows, subtracted (here: control rows left out)")
	}
	if k.Has("merged-intervals-left-out") {
		add("intervals over a check that was not read, and baits read late without fates by stake (here: left out)")
	}
	for _, t := range k.Fixed {
		switch {
		case slices.Contains(r.Aliased(), t.Term):
			add("%s: not told apart from other terms, in neither fit", t.Term)
		case r.Fitted && !t.Estimate.Known():
			add("%s: no finite maximum; its bound by the profile likelihood and its penalised value", t.Term)
		}
	}
	if r.Asked.Quadrature > 1 {
		add("adaptive Gauss-Hermite quadrature with %d points (here: Laplace's approximation)", r.Asked.Quadrature)
	}
	if r.Asked.Bootstrap != 0 {
		add("p values and limits from simulated seasons")
	}
	if k.BandsTest.P.Known() || len(k.BandContrasts) > 0 {
		add("the ratio of each band, and the test of one ratio for all")
	}
	if len(k.TermTests) > 0 {
		add("tests of further terms")
	}
	add("means over all rows with their limits, limits that hold for all contrasts together, adjusted p values")
	add("repetitions with something changed, and checks of the model")
	return out
}

func numbered(prefix string, n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = prefix + strconv.Itoa(i+1)
	}
	return out
}

func rMaybe(m assay.Maybe[float64]) string {
	if x, ok := m.Get(); ok {
		return strconv.FormatFloat(x, 'g', 10, 64)
	}
	return "NA"
}

func rTruth(b bool) string {
	if b {
		return "TRUE"
	}
	return "FALSE"
}

func rTruths(n int, is func(int) bool) string {
	list := make([]string, n)
	for i := range list {
		list[i] = rTruth(is(i))
	}
	return rList("logical(0)", list)
}

func rTexts(list []string) string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = rText(s)
	}
	return rList("character(0)", out)
}

func rList(empty string, list []string) string {
	if len(list) == 0 {
		return empty
	}
	return "c(" + strings.Join(list, ", ") + ")"
}

// rText is a text as R reads it between double quotes.
func rText(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(oneLine(s)) + `"`
}

var control = pattern.New(`[\x00-\x1f\x7f]+`)

// oneLine keeps a text within its line of the script.
func oneLine(s string) string { return strings.TrimSpace(control.ReplaceAllString(s, " ")) }
