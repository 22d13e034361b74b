package publish

import (
	"context"
	"fmt"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/sheet"
)

// fitRows is the most rows for which the model is fitted when publishing.
const fitRows = 5000

// fit fits the model that model.R fits again, on exactly the published rows.
func (r *release) fit(ctx context.Context) error {
	if r.in.NoFit {
		return nil
	}
	if len(r.keep) > fitRows {
		r.say("no-fit", "n", fitRows)
		return nil
	}
	var ds []assay.Deployment
	err := r.each(func(d row) error {
		one := *d.Deployment
		one.Key = d.Event // rows of several teams may share a deployment_id
		ds = append(ds, one)
		return nil
	})
	if err != nil {
		return err
	}
	r.fitted, err = compare.Run(ctx, ds, compare.Options{Bands: "checks", NoRepeat: true, Seed: 1, Protocols: r.in.Protocols, Default: r.in.Usual})
	return err
}

// modelR is an R script that reads the package's intervals, fits the model of
// `soakline compare --bands checks` again with glmmTMB and prints what it finds
// beside the published numbers.
//
// The model: consumed of at_risk ~ binomial, complementary log-log link, one
// effect for each check number, offset log of the interval's length, random
// intercepts as published (Prentice & Gloeckler 1978, Biometrics 34:57-67).
func (r *release) modelR() []byte {
	k := r.fitted
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	p("# Refits the published model of %s", oneLine(r.m.Title))
	if r.in.Invented {
		p("# Invented data: no such programme, places or people.")
	}
	p("# Needs R with glmmTMB. Run it in any folder: Rscript model.R")
	p("suppressPackageStartupMessages(library(glmmTMB))")
	p(`file <- sub("^--file=", "", grep("^--file=", commandArgs(FALSE), value = TRUE))`)
	p(`here <- if (length(file)) dirname(file[1]) else "."`)
	p(`d <- read.csv(file.path(here, "datapackage", "intervals.csv"), fileEncoding = "UTF-8", colClasses = c(%s = "character", site = "character", habitat = "character"), na.strings = character(0))`, r.rowKey())
	p(`d <- d[d$in_model == "yes", ]`)
	p("# levels in byte order, so that the first one is the reference as published")
	p(`d$habitat <- factor(d$habitat, levels = sort(unique(d$habitat), method = "radix"))`)
	p(`d$interval <- factor(d$check)`)
	p(`d$site <- factor(d$site)`)
	p(`d$site_habitat <- interaction(d$site, d$habitat, drop = TRUE)`)
	p(`d$row <- factor(d$%s)`, r.rowKey())
	p(`d$length_h <- d$to_h - d$from_h`)
	fixed := []string{}
	p(`terms <- c(%s)`, strings.Join(quoteAll(r.randomTerms()), ", "))
	fixed = append(fixed, `if (nlevels(d$interval) > 1) "interval"`, `if (nlevels(d$habitat) > 1) "habitat"`, `terms`, `"offset(log(length_h))"`)
	p(`f <- as.formula(paste("cbind(consumed, at_risk - consumed) ~", paste(c(%s), collapse = " + ")))`, strings.Join(fixed, ", "))
	p(`m <- glmmTMB(f, family = binomial("cloglog"), data = d)`)
	p(`cat("Refitted with glmmTMB", as.character(packageVersion("glmmTMB")), "\n")`)
	p(`print(summary(m)$coefficients$cond, digits = 8)`)
	p(`for (g in names(VarCorr(m)$cond)) cat(sprintf("sd of %%s: %%.6f\n", g, attr(VarCorr(m)$cond[[g]], "stddev")))`)
	p(`cat(sprintf("loglik: %%.6f   deployments: %%d   intervals: %%d\n", as.numeric(logLik(m)), nlevels(d$row), nrow(d)))`)
	r.published(&b, k)
	return []byte(b.String())
}

// randomTerms are the random intercepts of the published fit; without one, site
// and row, or row alone where there is one site.
func (r *release) randomTerms() []string {
	in := map[string]string{"site": "(1 | site)", "site-habitat": "(1 | site_habitat)", "deployment": "(1 | row)"}
	var out []string
	if k := r.fitted; k != nil {
		for _, g := range k.Random {
			if t, ok := in[g.Group]; ok {
				out = append(out, t)
			}
		}
		return out
	}
	sites := map[string]bool{}
	for _, i := range r.keep {
		sites[r.in.Deployments[i].Site] = true
	}
	if len(sites) > 1 {
		out = append(out, in["site"])
	}
	return append(out, in["deployment"])
}

func quoteAll(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = rString(s)
	}
	return out
}

// published writes the numbers of our own fit as comments and prints them.
func (r *release) published(b *strings.Builder, k *compare.Result) {
	p := func(format string, a ...any) { fmt.Fprintf(b, format+"\n", a...) }
	if k == nil || !k.Converged {
		p(`cat("No published fit stands beside this one.\n")`)
		return
	}
	p(`cat("\nPublished (soakline compare --bands checks):\n")`)
	var terms, est, se []string
	for _, t := range k.Fixed {
		terms = append(terms, rString(t.Term))
		est, se = append(est, rNumber(maybeNumber(t.Estimate))), append(se, rNumber(maybeNumber(t.SE)))
	}
	p("print(data.frame(term = c(%s),\n  estimate = c(%s),\n  se = c(%s)), digits = 8, row.names = FALSE)", strings.Join(terms, ", "), strings.Join(est, ", "), strings.Join(se, ", "))
	for _, g := range k.Random {
		if x, ok := g.SD.Get(); ok {
			p(`cat("sd of %s: %s\n")`, g.Group, number(x, 6))
		}
	}
	if x, ok := k.LogLik.Get(); ok {
		p(`cat("loglik: %s   deployments: %d   intervals: %d\n")`, number(x, 6), k.Deployments, k.Intervals)
		p("# both maximise the same likelihood; they stop at slightly different places")
		p(`cat(sprintf("largest difference of the log-likelihoods: %%.2e\n", abs(as.numeric(logLik(m)) - (%s))))`, sheet.FormatNumber(x))
	}
}

func rNumber(s string) string {
	if s == "" {
		return "NA"
	}
	return s
}

// rString is a text as R reads it between double quotes.
func rString(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(oneLine(s)) + `"`
}

func oneLine(s string) string { return clean(s) }
