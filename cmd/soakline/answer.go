package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/fitness"
	"soakline/internal/paper"
	"soakline/internal/rates"
	"soakline/internal/report"
	"soakline/internal/task"
	"soakline/internal/words"
)

// reading are the flags of every verb that reads a source.
type reading struct {
	yes     bool
	answers []string
}

func (a *app) readingFlags(c *cobra.Command, r *reading) {
	c.Flags().BoolVar(&r.yes, "yes", false, a.say("cmd.flag.yes"))
	c.Flags().StringArrayVar(&r.answers, "answer", nil, a.say("cmd.flag.answer"))
}

func (a *app) loadOptions(c *cobra.Command, r reading) (task.LoadOptions, error) {
	answers, err := a.pairs(c, r.answers)
	return task.LoadOptions{Now: a.now(), Answers: answers, Yes: r.yes}, err
}

// load reads a source for one verb and tells what was seen and assumed.
func (a *app) load(c *cobra.Command, sources []string, r reading) (*task.Season, error) {
	o, err := a.loadOptions(c, r)
	if err != nil {
		return nil, err
	}
	s, err := task.Load(c.Context(), sources, o)
	if err != nil {
		return nil, err
	}
	for _, n := range s.Notices {
		a.print(a.err, a.at(n.Place)+a.lang.Say(n.Slug, n.With))
	}
	for _, m := range s.Taken {
		a.print(a.err, m.In(a.lang))
	}
	return s, nil
}

func (a *app) ratesCmd() *cobra.Command {
	var r reading
	var asJSON bool
	var method, group, out string
	var each bool
	var level float64
	var seed uint64
	c := a.command("rates SOURCE…", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		if err := a.checkLevel(c, level); err != nil {
			return err
		}
		s, err := a.load(c, args, r)
		if err != nil {
			return err
		}
		if out != "" {
			s = s.Outward() // a file is there to be passed on
		}
		g := rates.Group(group)
		if group == "none" {
			g = rates.NoGroup
		}
		result, err := s.Rates(c.Context(), rates.Options{Interval: rates.Method(method), Level: level, Group: g, Seed: a.seed(c, seed)})
		if err != nil {
			return err
		}
		if out != "" {
			return a.writeResults(c, out, s, result, nil)
		}
		if asJSON {
			result.InWords(english)
			return a.json(result)
		}
		result.InWords(a.lang)
		a.printRates(result, each)
		return nil
	})
	a.readingFlags(c, &r)
	a.jsonFlag(c, &asJSON)
	a.choice(c, &method, "interval", []string{"wilson", "clopper-pearson", "jeffreys"}, "cmd.rates.flag-interval")
	a.choice(c, &group, "group", []string{"habitat", "site", "none"}, "cmd.rates.flag-group")
	c.Flags().Float64Var(&level, "level", 0.95, a.say("cmd.flag.level"))
	c.Flags().Uint64Var(&seed, "seed", 1, a.say("cmd.flag.seed"))
	c.Flags().StringVar(&out, "out", "", a.say("cmd.rates.flag-out"))
	c.Flags().BoolVar(&each, "single-rows", false, a.say("cmd.rates.flag-single-rows"))
	return c
}

func (a *app) checkLevel(c *cobra.Command, level float64) error {
	if !(level > 0 && level < 1) {
		return a.usage(c, "cmd.usage.number", "flag", "--level", "given", strconv.FormatFloat(level, 'g', -1, 64), "wanted", words.Ref{Slug: "cmd.wanted.level"})
	}
	return nil
}

// seed is the one given, or the default one; either is printed with results.
func (a *app) seed(_ *cobra.Command, seed uint64) uint64 { return seed }

// printRates prints the rows and the curves; with each, also what every row says by
// itself.
func (a *app) printRates(r *rates.Result, each bool) {
	pct := fmt.Sprintf("%g %%", 100*r.Level)
	t := a.table(a.say("cmd.rates.col-row"), a.say("cmd.rates.col-site"), a.say("cmd.rates.col-habitat"), a.say("cmd.rates.col-check"), a.say("cmd.rates.col-soak"),
		a.say("cmd.rates.col-gone"), a.say("cmd.rates.col-lost"), a.say("cmd.rates.col-share"), pct, a.say("cmd.rates.col-bounds"), a.say("cmd.rates.col-rate"), pct)
	for _, d := range r.Deployments {
		for i, k := range d.Checks {
			name, site, habitat, rate, limits := "", "", "", "", ""
			if i == 0 {
				name, site, habitat = d.DeploymentID, d.Site, d.Habitat
				rate, limits = number(d.RatePerH.Estimate, ""), number(d.RatePerH.Lower, "")+" – "+number(d.RatePerH.Upper, "")
			}
			t.row(name, site, habitat, k.Check, words.Number(k.SoakH, "2"), fmt.Sprintf("%d / %d", k.Consumed, d.Baits), k.Lost,
				number(k.Proportion, "2"), number(k.Lower, "2")+" – "+number(k.Upper, "2"),
				words.Number(k.IfLostSurvived, "2")+" – "+words.Number(k.IfLostConsumed, "2"), rate, limits)
		}
	}
	t.print()
	if each {
		a.printNumbers(report.RowTables(a.lang, r))
	}
	for _, g := range r.Groups {
		a.print(a.out, "")
		a.print(a.out, a.say("cmd.rates.group", "group", g.Group, "n", g.Deployments, "sites", g.Sites))
		t := a.table(a.say("cmd.rates.col-from"), a.say("cmd.rates.col-to"), a.say("cmd.rates.col-still"), pct)
		for _, s := range g.Survival {
			t.row(words.Number(s.FromH, "2"), words.Number(s.ToH, "2"), words.Number(s.Survival, "2"), number(s.Lower, "2")+" – "+number(s.Upper, "2"))
		}
		t.print()
	}
	a.printFoot(len(r.Excluded), func(f func(id, slug string)) {
		for _, e := range r.Excluded {
			f(e.DeploymentID, e.Slug)
		}
	})
	for _, m := range r.Messages {
		a.print(a.out, m.Text) // it names its row or group
	}
	a.print(a.out, a.say("cmd.seed", "seed", strconv.FormatUint(r.Seed, 10)))
}

// printNumbers prints tables of numbers with their captions and notes.
func (a *app) printNumbers(tables []report.NumberTable) {
	for _, n := range tables {
		a.print(a.out, "")
		a.print(a.out, n.Caption)
		t := a.table(n.Head...)
		for _, line := range n.Lines {
			cells := make([]any, len(line))
			for i, c := range line {
				cells[i] = c
			}
			t.row(cells...)
		}
		t.print()
		for _, note := range n.Notes {
			a.print(a.out, note)
		}
	}
}

// printFoot lists what did not enter, by reason.
func (a *app) printFoot(n int, each func(func(id, slug string))) {
	if n == 0 {
		return
	}
	var order []string
	by := map[string][]string{}
	each(func(id, slug string) {
		if by[slug] == nil {
			order = append(order, slug)
		}
		by[slug] = append(by[slug], id)
	})
	a.print(a.out, "")
	for _, slug := range order {
		a.print(a.out, a.say("cmd.left-out", "why", words.Ref{Slug: "left-out." + slug}, "n", len(by[slug]), "ids", by[slug]))
	}
}

func (a *app) compareCmd() *cobra.Command {
	var r reading
	var o compare.Options
	var asJSON, repeat bool
	var random, out, folder, closer string
	var refits int
	var to planned
	c := a.command("compare SOURCE…", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		if err := a.checkLevel(c, o.Level); err != nil {
			return err
		}
		if err := a.notNegative(c, "bootstrap", "quadrature", "check", "refits"); err != nil {
			return err
		}
		takeRandom(c, &o, random)
		for _, dir := range []string{folder, closer} {
			if dir != "" {
				if err := task.EmptyFolder(dir); err != nil {
					return err
				}
			}
		}
		s, err := a.load(c, args, r)
		if err != nil {
			return err
		}
		if s, err = to.take(c, s, &o, &repeat); err != nil {
			return err
		}
		if out != "" || folder != "" || closer != "" {
			s = s.Outward().Unnamed() // files are there to be passed on
		}
		done := a.progress(&o.Progress, "cmd.compare.progress")
		result, err := s.Compare(c.Context(), o)
		done()
		if err != nil {
			return err
		}
		var variants []compare.Variant
		if repeat {
			if variants, err = s.Sensitivity(c.Context(), o); err != nil {
				return err
			}
			result.Repeat(variants)
		}
		look, err := a.lookCloser(c, s, o, result, closer, refits)
		if err != nil {
			return err
		}
		s.Stand(o, result, task.Beside{Closer: look != nil})
		if folder != "" {
			names, err := task.WritePaper(c.Context(), s, result, variants, task.PaperOptions{Lang: a.lang, Version: Version, Asked: o, Closer: look}, folder)
			if err != nil {
				return err
			}
			a.print(a.err, a.say("cmd.compare.methods-done", "n", len(names), "folder", folder))
		}
		if out != "" {
			return a.writeResults(c, out, s, nil, result)
		}
		if asJSON {
			if result.Messages == nil {
				result.Messages = []words.Message{} // a list, also when empty
			}
			return a.json(struct {
				*compare.Result
				Closer *fitness.Result `json:"closer,omitempty"`
			}{result, look})
		}
		a.printCompare(result)
		a.printCloser(look, closer)
		a.printPlan(result.Plan)
		return nil
	})
	a.readingFlags(c, &r)
	a.jsonFlag(c, &asJSON)
	f := c.Flags()
	a.comparisonFlags(c, &o, &random)
	f.Var(&seasons{&o.Bootstrap, &o.BootstrapAuto}, "bootstrap", a.say("cmd.compare.flag-bootstrap"))
	f.StringVar(&out, "out", "", a.say("cmd.rates.flag-out"))
	f.BoolVar(&repeat, "sensitivity", false, a.say("cmd.compare.flag-sensitivity"))
	f.StringVar(&folder, "methods", "", a.say("cmd.compare.flag-methods"))
	f.StringVar(&closer, "look-closer", "", a.say("cmd.compare.flag-look-closer"))
	f.IntVar(&refits, "refits", task.CloserRefits, a.say("cmd.compare.flag-refits"))
	a.plannedFlags(c, &to)
	return c
}

// comparisonFlags are the flags that say how a comparison is made; the random
// intercepts come as one text.
func (a *app) comparisonFlags(c *cobra.Command, o *compare.Options, random *string) {
	f := c.Flags()
	f.StringVar(&o.By, "by", "habitat", a.say("cmd.compare.flag-by"))
	f.StringArrayVar(&o.Covariates, "covariate", nil, a.say("cmd.compare.flag-covariate"))
	f.StringArrayVar(&o.Squared, "squared", nil, a.say("cmd.compare.flag-squared"))
	f.StringArrayVar(&o.Curves, "curve", nil, a.say("cmd.compare.flag-curve"))
	f.StringArrayVar(&o.Split, "split", nil, a.say("cmd.compare.flag-split"))
	f.StringArrayVar(&o.AsWords, "as-words", nil, a.say("cmd.compare.flag-as-words"))
	f.StringArrayVar(&o.Together, "together", nil, a.say("cmd.compare.flag-together"))
	f.StringArrayVar(&o.Profile, "profile", nil, a.say("cmd.compare.flag-profile"))
	f.StringVar(random, "random", "site,site-habitat,deployment", a.say("cmd.compare.flag-random"))
	a.choice(c, &o.Link, "link", []string{"cloglog", "logit"}, "cmd.compare.flag-link")
	f.IntVar(&o.Check, "check", 0, a.say("cmd.compare.flag-check"))
	a.choice(c, &o.Family, "family", []string{"binomial", "betabinomial"}, "cmd.compare.flag-family")
	a.choice(c, &o.Bands, "bands", []string{"nominal", "checks"}, "cmd.compare.flag-bands")
	f.StringVar(&o.Reference, "reference", "", a.say("cmd.compare.flag-reference"))
	a.choice(c, &o.Controls, "controls", []string{"leave-out", "subtract"}, "cmd.compare.flag-controls")
	a.choice(c, &o.Adjust, "adjust", []string{"holm", "simultaneous", "none"}, "cmd.compare.flag-adjust")
	f.Float64Var(&o.Level, "level", 0.95, a.say("cmd.flag.level"))
	f.IntVar(&o.Quadrature, "quadrature", 1, a.say("cmd.compare.flag-quadrature"))
	f.Uint64Var(&o.Seed, "seed", 1, a.say("cmd.flag.seed"))
}

// takeRandom takes the random intercepts where they were given.
func takeRandom(c *cobra.Command, o *compare.Options, random string) {
	if !c.Flags().Changed("random") {
		return
	}
	o.Random = []string{}
	for _, g := range strings.Split(random, ",") {
		if g = strings.TrimSpace(g); g != "" && g != "none" {
			o.Random = append(o.Random, g)
		}
	}
}

// notNegative refuses numbers below 0.
func (a *app) notNegative(c *cobra.Command, names ...string) error {
	for _, name := range names {
		if f := c.Flags().Lookup(name); strings.HasPrefix(f.Value.String(), "-") {
			return a.usage(c, "cmd.usage.number", "flag", "--"+name, "given", f.Value.String(), "wanted", words.Ref{Slug: "cmd.wanted.positive"})
		}
	}
	return nil
}

// seasons is a number of simulated seasons, or the word auto.
type seasons struct {
	n    *int
	auto *bool
}

func (s *seasons) String() string {
	switch {
	case s.n == nil:
		return "0"
	case *s.auto:
		return "auto"
	}
	return strconv.Itoa(*s.n)
}

func (s *seasons) Set(text string) error {
	if text == "auto" {
		*s.n, *s.auto = 0, true
		return nil
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		return err
	}
	*s.n, *s.auto = n, false
	return nil
}

// Type is what stands behind the flag in its help.
func (s *seasons) Type() string { return "N|auto" }

// writeResults writes tidy tables with their dictionary, as .csv or .xlsx.
func (a *app) writeResults(c *cobra.Command, out string, s *task.Season, r *rates.Result, k *compare.Result) error {
	if err := task.WriteTidy(c.Context(), out, a.lang, s, r, k); err != nil {
		return err
	}
	a.print(a.out, a.say("cmd.rates.written", "file", out))
	return nil
}

func (a *app) reportCmd() *cobra.Command {
	var r reading
	var o task.ReportOptions
	var out, figures, size, margin string
	var to planned
	c := a.command("report SOURCE…", a.argCount(1, -1), func(c *cobra.Command, args []string) error {
		if err := a.checkLevel(c, o.Level); err != nil {
			return err
		}
		m, err := a.decimal(c, "--margin", margin, 0, 10, "cmd.windows.wanted-metres")
		if err != nil {
			return err
		}
		o.MarginM = assay.Some(m)
		s, err := a.load(c, args, r)
		if err != nil {
			return err
		}
		if s, err = to.takeReport(c, s, &o); err != nil {
			return err
		}
		o.Lang, o.Version, o.Size = a.lang, Version, paperSize(size)
		done := a.progress(&o.Progress, "cmd.compare.progress")
		err = task.WriteReport(c.Context(), s, o, out, figures)
		done()
		if err != nil {
			return err
		}
		a.print(a.out, a.say("cmd.report.done", "file", out))
		if o.Wall != "" {
			a.print(a.out, a.say("cmd.report.done", "file", o.Wall))
		}
		if figures != "" {
			a.print(a.out, a.say("cmd.report.figures-done", "folder", figures))
		}
		return nil
	})
	a.readingFlags(c, &r)
	f := c.Flags()
	f.StringVar(&out, "out", "report.html", a.say("cmd.report.flag-out"))
	a.choice(c, &size, "size", []string{paper.A4.Name, paper.Letter.Name}, "cmd.report.flag-size")
	f.StringVar(&o.Wall, "wall", "", a.say("cmd.report.flag-wall"))
	f.StringVar(&figures, "figures", "", a.say("cmd.report.flag-figures"))
	f.StringVar(&o.Way, "way", "", a.say("cmd.report.flag-way"))
	f.StringVar(&margin, "margin", "0.2", a.say("cmd.report.flag-margin"))
	f.StringVar(&o.By, "by", "habitat", a.say("cmd.compare.flag-by"))
	f.StringVar(&o.Title, "title", "", a.say("cmd.report.flag-title"))
	f.Float64Var(&o.Level, "level", 0.95, a.say("cmd.flag.level"))
	o.Bootstrap = -1
	f.Var(&seasons{&o.Bootstrap, &o.BootstrapAuto}, "bootstrap", a.say("cmd.report.flag-bootstrap"))
	f.Uint64Var(&o.Seed, "seed", 1, a.say("cmd.flag.seed"))
	a.plannedFlags(c, &to)
	return c
}
