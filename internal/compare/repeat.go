package compare

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"soakline/internal/assay"
	"soakline/internal/mixed"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// Variant is the comparison repeated with something changed.
type Variant struct {
	Slug   string // lost-survived, lost-consumed, without-open, without-site
	Site   string // of without-site
	Result *Result
}

// Name of the variant in the catalogue.
func (v Variant) Name() words.Ref {
	return words.Ref{Slug: "variant." + v.Slug, With: map[string]any{"site": v.Site}}
}

// lostTo gives the deployments with every lost bait survived, or consumed; any
// says whether there was one.
func lostTo(ds []assay.Deployment, o Options, consumed bool) (out []assay.Deployment, any bool) {
	out = slices.Clone(ds)
	f := &frame{o: o}
	for i := range out {
		if !out[i].IsControl() && f.loseTo(&out[i], consumed) {
			any = true
		}
	}
	return out, any
}

// loseTo turns the lost baits of one deployment; it says whether there were any.
func (f *frame) loseTo(d *assay.Deployment, consumed bool) (any bool) {
	checks := d.Checks
	var lost []int
	if len(d.Stakes) > 0 {
		p := f.protocolOf(d)
		var baits int
		checks, baits, _ = rates.FromStakes(d, p.CountsAsConsumed...)
		d.Baits, d.Stakes = baits, nil
		counted := *d
		counted.Checks = checks
		lost, _ = rates.Lost(&counted)
	} else {
		lost, _ = rates.Lost(d)
	}
	d.Checks = slices.Clone(checks)
	for k := range d.Checks {
		c := &d.Checks[k]
		if lost[k] > 0 && c.Read() {
			any = true
			if consumed {
				c.Consumed = assay.Some(c.Consumed.Or(0) + lost[k])
			}
		}
		c.Lost = assay.Some(0)
	}
	d.StakesRetrieved = assay.None[int]()
	return any
}

// towardLost is one step from the fit towards that with every lost bait survived, or
// consumed; nil where nothing was lost or the step does not tell.
func (f *frame) towardLost(fit *mixed.Result, consumed bool) *mixed.Result {
	w := *f
	w.spans = make([]span, 0, len(f.spans))
	any, at := false, 0
	for i, r := range f.rows {
		from := at
		for at < len(f.spans) && f.spans[at].row == i {
			at++
		}
		d := *r.d
		if r.control || !f.loseTo(&d, consumed) {
			w.spans = append(w.spans, f.spans[from:at]...)
			continue
		}
		any = true
		spans, _ := f.spansOf(&d)
		for _, s := range spans {
			s.row = i
			w.spans = append(w.spans, s)
			if (f.byCheck() && f.o.Check == 0) && !slices.Contains(f.bands, s.check) {
				return nil
			}
		}
	}
	if !any {
		return nil
	}
	data, err := w.data()
	if err != nil {
		return nil
	}
	return fit.Toward(data)
}

// cannotTurn says that one step towards other counts leaves the conclusion far from
// turning: every contrast that is told apart keeps at least half of its distance from
// none, and the root of the test's chi-squared at least half of its distance, and half a unit,
// from the value at which it would be decided otherwise.
func (f *frame) cannotTurn(r *Result, fit, to *mixed.Result) bool {
	chi2, ok := r.Test.Chi2.Get()
	if to == nil || !ok || r.Test.DF < 1 {
		return false
	}
	terms := f.factorTerms()
	was, will := fit.WaldChi2(terms...), to.WaldChi2(terms...)
	edge := math.Sqrt(distuv.ChiSquared{K: float64(r.Test.DF)}.Quantile(f.o.Level))
	before := math.Sqrt(chi2) - edge
	after := math.Sqrt(chi2*will/was) - edge
	if !(before*after > 0 && math.Abs(after) > 0.5 && math.Abs(after) > math.Abs(before)/2 && will < 4*was) {
		return false
	}
	pairs, vectors := f.contrastVectors()
	if len(pairs) != len(r.Contrasts) {
		return false
	}
	for i, c := range r.Contrasts {
		if p, ok := c.PAdjusted.Get(); !ok || !(p < 1-f.o.Level) {
			if !ok {
				return false
			}
			continue
		}
		a, b := fit.Estimate(vectors[i]), to.Estimate(vectors[i])
		if !(b/a > 0.5) {
			return false
		}
	}
	return true
}

// repeatLost says loss-decides where the direction of a contrast or the
// decision of the test would turn if every lost bait had survived, or had been
// consumed. The comparison is repeated only where one step towards it leaves that open.
func (f *frame) repeatLost(ctx context.Context, ds []assay.Deployment, r *Result, fit *mixed.Result) error {
	if !r.Converged || len(f.levels) < 2 {
		return nil
	}
	o := f.o
	o.NoRepeat, o.Bootstrap, o.BootstrapAuto = true, 0, false
	var others [2]*Result
	var work []func() error
	for i := range others {
		if f.cannotTurn(r, fit, f.ahead.toward[i]) {
			continue
		}
		changed, any := lostTo(ds, o, i == 1)
		if !any {
			return nil
		}
		work = append(work, func() (err error) { others[i], err = once(ctx, changed, o, fit); return err })
	}
	if err := sideBySide(ctx, work); err != nil {
		return err
	}
	for i, slug := range []string{"loss-decides-survived", "loss-decides-consumed"} {
		if others[i] != nil && Turns(r, others[i]) {
			f.say("loss-decides", "how", words.Ref{Slug: slug})
			return nil
		}
	}
	return nil
}

// Turns says whether a repetition turns the conclusion: another side of the
// level for the test, or another direction of a contrast that was told apart.
func Turns(r, other *Result) bool {
	alpha := 1 - r.ConfLevel
	p, okP := r.Test.P.Get()
	q, okQ := other.Test.P.Get()
	if okP != okQ || okP && (p < alpha) != (q < alpha) {
		return true
	}
	for _, a := range r.Contrasts {
		for _, b := range other.Contrasts {
			if a.A != b.A || a.B != b.B {
				continue
			}
			x, y := a.RateRatio.Or(a.OddsRatio.Or(1)), b.RateRatio.Or(b.OddsRatio.Or(1))
			if pa, ok := a.PAdjusted.Get(); ok && pa < alpha && math.Log(x)*math.Log(y) < 0 {
				return true
			}
		}
	}
	return false
}

// Sensitivity repeats the comparison with all lost baits survived, with all
// consumed, without rows that have open questions, and without each site in
// turn; each only where it is another comparison.
func Sensitivity(ctx context.Context, ds []assay.Deployment, o Options) ([]Variant, error) {
	o.NoRepeat, o.Bootstrap, o.BootstrapAuto = true, 0, false
	var out []Variant
	run := func(v Variant, ds []assay.Deployment) error {
		r, err := once(ctx, ds, o, &mixed.Result{})
		v.Result = r
		out = append(out, v)
		return err
	}
	for _, consumed := range []bool{false, true} {
		if changed, any := lostTo(ds, o, consumed); any {
			slug := "lost-survived"
			if consumed {
				slug = "lost-consumed"
			}
			if err := run(Variant{Slug: slug}, changed); err != nil {
				return nil, err
			}
		}
	}
	selection := rates.Enter(ds, o.Findings)
	var answered []assay.Deployment
	for i := range ds {
		if !selection.Open[i] {
			answered = append(answered, ds[i])
		}
	}
	if len(answered) < len(ds) {
		if err := run(Variant{Slug: "without-open"}, answered); err != nil {
			return nil, err
		}
	}
	err := withoutSites(ds, selection.In, run)
	return out, err
}

// WithoutSites repeats the comparison without each site in turn, where three or
// more are left.
func WithoutSites(ctx context.Context, ds []assay.Deployment, o Options) ([]Variant, error) {
	o.NoRepeat, o.Bootstrap, o.BootstrapAuto = true, 0, false
	var out []Variant
	err := withoutSites(ds, rates.Enter(ds, o.Findings).In, func(v Variant, ds []assay.Deployment) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		r, err := once(ctx, ds, o, &mixed.Result{})
		v.Result = r
		out = append(out, v)
		return err
	})
	return out, err
}

// withoutSites repeats without each site in turn, where three or more are left.
func withoutSites(ds []assay.Deployment, in []int, run func(Variant, []assay.Deployment) error) error {
	sites := map[string]bool{}
	for _, i := range in {
		sites[ds[i].Site] = true
	}
	if len(sites) < 4 {
		return nil
	}
	var names []string
	for s := range sites {
		names = append(names, s)
	}
	slices.Sort(names)
	for _, s := range names {
		rest := slices.DeleteFunc(slices.Clone(ds), func(d assay.Deployment) bool { return d.Site == s })
		if err := run(Variant{Slug: "without-site", Site: s}, rest); err != nil {
			return err
		}
	}
	return nil
}

// Repeated is what a repetition with something changed came to.
type Repeated struct {
	Variant     string     `json:"variant"` // lost-survived, lost-consumed, without-open, without-site
	Site        string     `json:"site"`    // left out, with without-site; else empty
	Deployments int        `json:"deployments"`
	Converged   bool       `json:"converged"`
	Ending      string     `json:"ending"`
	Means       []Mean     `json:"means"`
	Contrasts   []Contrast `json:"contrasts"`
	Test        Test       `json:"test"`
	Turns       bool       `json:"turns"` // the conclusion is another one
}

// Repeat sets what the repetitions came to beside the result.
func (r *Result) Repeat(variants []Variant) {
	r.Sensitivity = []Repeated{}
	for _, v := range variants {
		r.Sensitivity = append(r.Sensitivity, Repeated{Variant: v.Slug, Site: v.Site, Deployments: v.Result.Deployments, Converged: v.Result.Converged,
			Ending: v.Result.Ending, Means: v.Result.Means, Contrasts: v.Result.Contrasts, Test: v.Result.Test, Turns: Turns(r, v.Result)})
	}
}
