package compare

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/mixed"
	"soakline/internal/words"
)

// fewSites is the number of sites under which chi-squared and Wald tests reject
// too often: with 6 sites and habitat between sites they reject 12 % and 17 %
// at a stated 5 % (docs/methods/compare.md).
const fewSites = 30

// Run compares. It stops with ctx's error, and gives an OptionError for an
// option that cannot be; what the numbers do is an ending and messages.
func Run(ctx context.Context, ds []assay.Deployment, o Options) (*Result, error) {
	return once(ctx, ds, o, nil)
}

// once compares; a repetition is not told about what the first run tells, so
// that Laplace's approximation need not be checked again. near, if not nil, is the fit
// of nearly the same rows, from which a repetition starts.
func once(ctx context.Context, ds []assay.Deployment, o Options, near *mixed.Result) (*Result, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	f, err := build(ds, o)
	if err != nil {
		return nil, err
	}
	return f.answer(ctx, ds, near)
}

// answer fits the frame and tells what the fit says. What stands by itself (the model
// without the factor, the one with a ratio for each band, the check of Laplace's
// approximation, the repetitions with lost baits) is worked side by side and told in
// a fixed order.
func (f *frame) answer(ctx context.Context, ds []assay.Deployment, near *mixed.Result) (*Result, error) {
	f.repeated, f.ctx = near != nil, ctx
	r := f.result()
	if len(f.spans) == 0 || len(f.levels) == 0 {
		f.say("nothing-to-compare")
		r.Ending, r.Messages = string(mixed.NoTrials), f.messages
		return r, ctx.Err()
	}
	data, err := f.data()
	if err != nil {
		return nil, err
	}
	mo := f.modelOptions()
	if near != nil && near.Ending.Usable() {
		mo.From, mo.Starts = near, 2
	}
	fit, err := mixed.Fit(data, mo)
	if err != nil {
		return nil, err
	}
	if err := f.workAhead(ctx, fit); err != nil {
		return nil, err
	}
	f.tell(fit)
	f.fill(r, fit)
	if fit.Ending.Usable() && !f.repeated {
		f.restrict(r, fit)
	}
	if n := r.fewestSites(); fit.Ending.Usable() && len(fit.Random) > 0 && n < fewSites {
		then := "limits-too-narrow-none"
		if r.tellsFew() {
			then = "limits-too-narrow-told"
		}
		f.say("limits-too-narrow", "sites", n, "few", fewSites, "then", words.Ref{Slug: then})
	}
	for _, step := range []func(context.Context, *Result, *mixed.Result) error{f.test, f.overTime, f.testParts, f.profile} {
		if err := step(ctx, r, fit); err != nil {
			return nil, err
		}
	}
	if !f.repeated {
		if err := f.controlsTell(ctx, ds, r); err != nil {
			return nil, err
		}
	}
	if !f.o.NoRepeat {
		if err := f.repeatLost(ctx, ds, r, fit); err != nil {
			return nil, err
		}
	}
	r.Messages = f.messages
	return r, ctx.Err()
}

func (o Options) withDefaults() (Options, error) {
	set := func(to *string, usual string, may ...string) error {
		if *to == "" {
			*to = usual
		}
		if !slices.Contains(append(may, usual), *to) {
			return wrong("compare.no-option", "given", *to, "may", append([]string{usual}, may...))
		}
		return nil
	}
	if o.By == "" {
		o.By = "habitat"
	}
	if o.Level == 0 {
		o.Level = 0.95
	}
	for _, err := range []error{
		set(&o.Link, "cloglog", "logit"), set(&o.Family, "binomial", "betabinomial"), set(&o.Bands, "nominal", "checks"),
		set(&o.Controls, "leave-out", "subtract"), set(&o.Adjust, "holm", "simultaneous", "none"),
	} {
		if err != nil {
			return o, err
		}
	}
	switch {
	case o.Level <= 0 || o.Level >= 1:
		return o, wrong("compare.no-option", "given", strconv.FormatFloat(o.Level, 'g', -1, 64), "may", []string{"0.9", "0.95", "0.99"})
	case o.Family == "betabinomial" && o.Check == 0:
		return o, wrong("compare.betabinomial-check")
	case o.Controls == "subtract" && (o.Link != "cloglog" || o.Family != "binomial"):
		return o, wrong("compare.subtract-cloglog")
	case o.BootstrapAuto && o.Bootstrap == 0:
		o.Bootstrap = MostReplicates
	}
	switch {
	case o.Bootstrap < 0 || o.Quadrature < 0 || o.Check < 0:
		return o, wrong("compare.negative")
	}
	return o, o.checkTerms()
}

func (f *frame) modelOptions() mixed.Options {
	m := mixed.Options{Level: f.o.Level, Quadrature: f.o.Quadrature, Context: f.ctx}
	if f.o.Link == "logit" {
		m.Link = mixed.Logit
	}
	if f.o.Family == "betabinomial" {
		m.Family = mixed.BetaBinomial
	}
	return m
}

// result is the answer as far as the frame alone gives it.
func (f *frame) result() *Result {
	r := &Result{
		Test: Test{Stopped: "none"}, Controls: Controls{Used: "none", Loss: []ControlLoss{}},
		Contract: 1, By: f.o.By, Deployments: len(f.rows), Intervals: len(f.spans), Link: f.o.Link, Family: f.o.Family,
		Bands: f.o.Bands, BandsH: f.bandEndH, Quadrature: max(1, f.o.Quadrature), ConfLevel: f.o.Level, Adjust: f.o.Adjust,
		Seed: f.o.Seed, Excluded: append([]Excluded{}, f.excluded...), Messages: []words.Message{}, Fixed: []Term{}, Random: []Spread{},
		Means: []Mean{}, Contrasts: []Contrast{}, Levels: []Level{},
		Curves: append([]Curve{}, f.curves...), TermTests: []TermTest{}, BandContrasts: []BandContrast{},
	}
	if r.BandsH == nil {
		r.BandsH = []float64{}
	}
	sites := map[string]bool{}
	per := make([]map[string]bool, len(f.levels))
	for _, l := range f.levels {
		r.Levels = append(r.Levels, Level{Level: l})
	}
	for _, e := range f.rows {
		sites[e.d.Site] = true
		if e.level < 0 || e.control {
			continue
		}
		if per[e.level] == nil {
			per[e.level] = map[string]bool{}
		}
		per[e.level][e.d.Site] = true
		r.Levels[e.level].Deployments++
		r.Levels[e.level].Baits += e.d.Baits
	}
	for _, s := range f.spans {
		if l := f.rows[s.row].level; l >= 0 {
			r.Levels[l].Consumed += s.consumed
		}
	}
	for i := range per {
		r.Levels[i].Sites = len(per[i])
	}
	r.Sites = len(sites)
	return r
}

// fewestSites is the smallest number of sites of any level.
func (r *Result) fewestSites() int {
	n := math.MaxInt
	for _, l := range r.Levels {
		n = min(n, l.Sites)
	}
	return n
}

// maybe turns a number that may not exist into one that may be missing.
func maybe(x float64) assay.Maybe[float64] {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return assay.None[float64]()
	}
	return assay.Some(x)
}

func (f *frame) fill(r *Result, fit *mixed.Result) {
	r.Ending, r.Converged = string(fit.Ending), fit.Ending.Usable()
	r.LogLik, r.AIC = maybe(fit.LogLik), maybe(fit.AIC)
	noEstimate := fit.Ending == mixed.NoEvents || fit.Ending == mixed.OnlyEvents || fit.Ending == mixed.StepLimit
	for _, t := range fit.Fixed {
		term := Term{Term: t.Name, Estimate: maybe(t.Estimate), SE: maybe(t.SE), Z: maybe(t.Z), P: maybe(t.P),
			Lower: maybe(t.Lower), Upper: maybe(t.Upper), Bound: Bound(t.Bound), Shrunk: maybe(t.Shrunk)}
		if t.Bound != mixed.UpperOnly && t.Bound != mixed.LowerOnly {
			term.Bound = TwoSided
		}
		r.Fixed = append(r.Fixed, term)
	}
	for _, s := range fit.Random {
		sd := maybe(s.SD)
		if noEstimate {
			sd = assay.None[float64]()
		}
		r.Random = append(r.Random, Spread{Group: s.Group, Levels: s.Levels, SD: sd})
	}
	f.means(r, fit)
	if !noEstimate {
		f.contrasts(r, fit)
	}
}

// test is the likelihood-ratio test of all levels at once, by chi-squared and,
// when asked for, by seasons simulated where nothing differs.
func (f *frame) test(ctx context.Context, r *Result, fit *mixed.Result) error {
	r.Test.DF = len(f.levels) - 1
	if len(f.levels) < 2 {
		f.say("one-level", "level", f.levels[0], "by", f.o.By)
		return nil
	}
	if !fit.Ending.Usable() {
		return nil
	}
	null, err := f.without(fit)
	if err != nil {
		return fmt.Errorf("the model without %s: %w", f.o.By, err)
	}
	ratio := fit.Ratio(null)
	r.Test.Chi2, r.Test.DF, r.Test.P = maybe(ratio.Chi2), ratio.DF, maybe(ratio.P)
	r.Test.SmallestP = f.smallestP()
	defer func() { f.saySmallest(r) }()
	if f.o.Bootstrap == 0 {
		if r.Sites < fewSites {
			f.say("test-too-optimistic", "sites", r.Sites, "few", fewSites)
		}
		return nil
	}
	return f.bootstrap(ctx, r, fit, null)
}

func (f *frame) bootstrap(ctx context.Context, r *Result, fit, null *mixed.Result) error {
	if !null.Ending.Usable() {
		return nil
	}
	_, vectors := f.contrastVectors()
	o := mixed.BootstrapOptions{
		Replicates: f.o.Bootstrap, Seed: f.o.Seed, Workers: f.o.Workers, Simulate: f.draws(), Contrasts: vectors, Progress: f.o.Progress,
	}
	if f.o.BootstrapAuto {
		o.Stop = &mixed.Sequential{Alpha: 1 - f.o.Level, Holm: f.o.Adjust != "none"}
	}
	b, err := mixed.ParametricBootstrap(ctx, fit, null, o)
	if err != nil {
		return err
	}
	f.calibrated(r, fit, b, vectors)
	return nil
}

// sideOf says why a term runs away without end. An effect of a stretch of time is
// set against the first stretch: it also runs up where nothing was consumed there.
func sideOf(n mixed.Notice, all []mixed.Notice) string {
	base, later := "baseline", strings.HasPrefix(n.Term, "interval")
	if strings.HasPrefix(n.Term, "control-interval") {
		base, later = "control", true
	}
	emptyBefore := slices.ContainsFunc(all, func(m mixed.Notice) bool {
		return m.Slug == mixed.SlugSeparation && m.Term == base && m.Value < 0
	})
	switch {
	case later && n.Value > 0 && emptyBefore:
		return "compare.side-none-before"
	case later && n.Value > 0:
		return "compare.side-all-time"
	case later:
		return "compare.side-none-time"
	case n.Value > 0:
		return "compare.side-all"
	}
	return "compare.side-none"
}

// tell passes on what the fit noticed, with the caller's names.
func (f *frame) tell(fit *mixed.Result) {
	for _, n := range fit.Notices {
		switch n.Slug {
		case mixed.SlugSeparation:
			f.say("separation", "term", n.Term, "side", words.Ref{Slug: sideOf(n, fit.Notices)})
		case mixed.SlugAliased:
			f.sayAliased(n)
		case mixed.SlugFewGroups:
			f.sayFewGroups(n.Group, int(n.Value))
		case mixed.SlugLevelsCoincide:
			f.say("levels-coincide", "group", GroupName(n.Group), "other", GroupName(n.Other))
		case mixed.SlugVarianceAtZero, mixed.SlugOneGroup, mixed.SlugSpreadUnbounded:
			f.say(n.Slug, "group", GroupName(n.Group))
		case mixed.SlugBoundNotFound:
			f.say(n.Slug, "term", n.Term)
		case mixed.SlugLaplaceInaccurate:
			f.say(n.Slug, "shift", n.Value)
		default:
			f.say(n.Slug)
		}
	}
	f.checkLaplace(fit)
	if f.o.Link == "logit" && f.unequalSoaks() {
		f.say("logit-unequal-soaks")
	}
}

// checkLaplace says where Laplace's approximation is off.
func (f *frame) checkLaplace(fit *mixed.Result) {
	if n := f.laplaceNotice(fit); n != nil {
		f.say("laplace-inaccurate", "shift", n.Value)
	}
}

// unequalSoaks says whether the soaks of one check differ by more than a tenth.
func (f *frame) unequalSoaks() bool {
	low, high := map[int]float64{}, map[int]float64{}
	for _, s := range f.spans {
		if low[s.check] == 0 || s.toH < low[s.check] {
			low[s.check] = s.toH
		}
		high[s.check] = math.Max(high[s.check], s.toH)
	}
	for k := range low {
		if high[k] > 1.1*low[k] {
			return true
		}
	}
	return false
}
