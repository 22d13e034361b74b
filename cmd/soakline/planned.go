package main

import (
	"strings"

	"github.com/spf13/cobra"

	"soakline/internal/compare"
	"soakline/internal/plan"
	"soakline/internal/task"
)

// planned says whether a comparison is made as a kept plan says, and which.
type planned struct {
	counting bool   // the plan that answers are held against
	which    string // a date or the beginning of a hash
}

func (a *app) plannedFlags(c *cobra.Command, p *planned) {
	c.Flags().BoolVar(&p.counting, "planned", false, a.say("cmd.compare.flag-planned"))
	c.Flags().StringVar(&p.which, "plan", "", a.say("cmd.compare.flag-plan"))
}

func (p *planned) asked() bool { return p.counting || p.which != "" }

// find gives the plan that was asked for.
func (p *planned) find(s *task.Season, by string) (plan.Kept, error) {
	if p.which != "" {
		return s.FindPlan(p.which)
	}
	return s.CountingPlan(by)
}

// take sets a comparison as the plan says, but for what flags were given for, and
// keeps to the rows of its season.
func (p *planned) take(c *cobra.Command, s *task.Season, o *compare.Options, repeat *bool) (*task.Season, error) {
	if !p.asked() {
		return s, nil
	}
	k, err := p.find(s, o.By)
	if err != nil {
		return nil, err
	}
	to := task.OptionsOf(k.Plan)
	for name, set := range overlay(&to, *o) {
		if c.Flags().Changed(name) {
			set()
		}
	}
	to.Progress = o.Progress
	*o = to
	if !c.Flags().Changed("sensitivity") {
		*repeat = k.Repeats
	}
	return s.Only(k.Season)
}

// overlay are the choices of a comparison by the name of their flag, each of which
// goes over that of a plan.
func overlay(to *compare.Options, o compare.Options) map[string]func() {
	return map[string]func(){
		"by": func() { to.By = o.By }, "covariate": func() { to.Covariates = o.Covariates }, "squared": func() { to.Squared = o.Squared },
		"curve": func() { to.Curves = o.Curves }, "split": func() { to.Split = o.Split }, "as-words": func() { to.AsWords = o.AsWords },
		"together": func() { to.Together = o.Together }, "profile": func() { to.Profile = o.Profile }, "random": func() { to.Random = o.Random },
		"link": func() { to.Link = o.Link }, "check": func() { to.Check = o.Check }, "family": func() { to.Family = o.Family }, "bands": func() { to.Bands = o.Bands },
		"reference": func() { to.Reference = o.Reference }, "controls": func() { to.Controls = o.Controls }, "adjust": func() { to.Adjust = o.Adjust },
		"level": func() { to.Level = o.Level }, "quadrature": func() { to.Quadrature = o.Quadrature }, "seed": func() { to.Seed = o.Seed },
		"bootstrap": func() { to.Bootstrap, to.BootstrapAuto = o.Bootstrap, o.BootstrapAuto },
	}
}

// takeReport sets a report as the plan says, but for what flags were given for.
func (p *planned) takeReport(c *cobra.Command, s *task.Season, o *task.ReportOptions) (*task.Season, error) {
	if !p.asked() {
		return s, nil
	}
	k, err := p.find(s, o.By)
	if err != nil {
		return nil, err
	}
	o.Asked = task.OptionsOf(k.Plan)
	for name, set := range map[string]func(){
		"by": func() { o.By = k.By }, "level": func() { o.Level = k.Level }, "seed": func() { o.Seed = k.Seed }, "bootstrap": func() { o.Bootstrap = k.Bootstrap },
	} {
		if c.Flags().Changed(name) {
			if name == "bootstrap" {
				o.Asked.BootstrapAuto = false
			}
			continue
		}
		set()
	}
	return s.Only(k.Season)
}

// printPlan tells how the answer stands to the plans of its logbook.
func (a *app) printPlan(s *plan.Standing) {
	lines := s.Sentences(a.lang)
	if len(lines) == 0 {
		return
	}
	a.print(a.out, "")
	for _, l := range lines {
		a.print(a.out, strings.TrimSpace(l))
	}
}
