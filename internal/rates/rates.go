// Package rates answers how fast the baits of a deployment, a habitat or a site
// were consumed, from counts at a few checks: proportions with limits, a
// constant rate, the rate of each interval, and a survival curve for groups.
//
// Method: risk sets that let lost baits go before the interval in which they
// were lost; product-limit proportions; maximum likelihood of interval-censored
// counts; Turnbull's estimator with bands that resample whole deployments.
// docs/methods/rates.md states each once, with its source and the assumption
// that breaks it.
//
// Units: soaks are hours (H), rates 1/h, proportions 0 to 1. Baits of one row are
// taken as independent in everything that is told of one deployment; groups take
// only deployments (or sites) as independent.
//
// It leaves out comparison between habitats (package compare), judgement of the
// records (quality), and sentences: what is to be told leaves as a slug.
package rates

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// Group is by what deployments are put together for a survival curve.
type Group string

// The groups; no group gives none.
const (
	NoGroup   Group = ""
	ByHabitat Group = "habitat"
	BySite    Group = "site"
)

// Options of Compute; the zero value is Wilson limits at 0.95 without groups.
type Options struct {
	Interval Method
	Level    float64
	Group    Group
	Seed     uint64
	// Replicates is how often a group of 20 clusters or more is resampled; 0 is 400.
	Replicates int
	// Protocols by the name that deployments give ("standard 1"); "" stands for
	// those whose protocol is not there. They hold the nominal soaks and what
	// counts as consumed; without one: 1 h and 24 h, and Means.
	Protocols map[string]*assay.Protocol
	// Findings say what is blocked and what is still asked.
	Findings []assay.Finding
	// Planned is the number of rows of the plan, where there was one.
	Planned int
}

func (o *Options) fill() error {
	if o.Interval == "" {
		o.Interval = Wilson
	}
	if o.Level == 0 {
		o.Level = 0.95
	}
	if o.Replicates == 0 {
		o.Replicates = 400
	}
	switch {
	case !slices.Contains(Methods, o.Interval):
		return &OptionError{Said: assay.Said{Slug: "rates-option-interval", With: map[string]any{"read": string(o.Interval)}}}
	case !(o.Level > 0 && o.Level < 1):
		return &OptionError{Said: assay.Said{Slug: "rates-option-level", With: map[string]any{"read": o.Level}}}
	case o.Group != NoGroup && o.Group != ByHabitat && o.Group != BySite:
		return &OptionError{Said: assay.Said{Slug: "rates-option-group", With: map[string]any{"read": string(o.Group)}}}
	case o.Replicates < 100:
		return &OptionError{Said: assay.Said{Slug: "rates-option-replicates", With: map[string]any{"read": o.Replicates}}}
	}
	return nil
}

// OptionError is an option of Compute that cannot be.
type OptionError struct{ assay.Said }

func (e *OptionError) Error() string { return words.English.Say(e.Slug, e.With) }

func (o *Options) protocol(d *assay.Deployment) *assay.Protocol {
	if p := o.Protocols[d.Protocol]; p != nil {
		return p
	}
	return o.Protocols[""]
}

func (o *Options) means(d *assay.Deployment) []assay.How {
	if p := o.protocol(d); p != nil && p.CountsAsConsumed != nil {
		return p.CountsAsConsumed
	}
	return Means
}

var defaultSoaksH = []float64{1, 24}

func (o *Options) soaksH(d *assay.Deployment) []float64 {
	p := o.protocol(d)
	if p == nil || len(p.Checks) == 0 {
		return defaultSoaksH
	}
	soaks := make([]float64, len(p.Checks))
	for k, c := range p.Checks {
		soaks[k] = c.SoakH
	}
	return soaks
}

// Result is the answer of `rates … --json`, its keys in order.
type Result struct {
	Contract    int          `json:"contract"`
	Level       float64      `json:"level"`
	Interval    Method       `json:"interval"`
	Group       Group        `json:"group"`
	Seed        uint64       `json:"seed"`
	Deployments []Deployment `json:"deployments"`
	Groups      []Curve      `json:"groups"`
	Excluded    []Excluded   `json:"excluded"`
	Flow        Flow         `json:"flow"`
	Messages    []Message    `json:"messages"`
}

// Message is a thing to be told; InWords gives it its text.
type Message struct {
	Slug         string         `json:"slug"`
	DeploymentID string         `json:"deployment_id,omitempty"`
	Group        string         `json:"group,omitempty"`
	Text         string         `json:"text"`
	With         map[string]any `json:"-"`
}

// InWords fills in the text of every message in language l.
func (r *Result) InWords(l words.Language) {
	for k := range r.Messages {
		m := &r.Messages[k]
		m.Text = l.Say(m.Slug, m.With)
	}
}

// Deployment is what one row of stakes says.
type Deployment struct {
	DeploymentID string  `json:"deployment_id"`
	Site         string  `json:"site"`
	Habitat      string  `json:"habitat"`
	Baits        int     `json:"baits_deployed"`
	Checks       []Check `json:"checks"`
	// RatePerH is the constant rate over the whole soak.
	RatePerH Estimate                `json:"rate_per_h"`
	LogLik   assay.Maybe[float64]    `json:"loglik"`
	Constant assay.Maybe[Constancy]  `json:"constancy"`
	Nominal  []Nominal               `json:"nominal"`
	Weibull  assay.Maybe[WeibullFit] `json:"weibull"`
	// MedianH is the soak by which half the baits are gone under the constant rate.
	MedianH Estimate `json:"median_h"`
	// HalfGone are the soaks of the checks between which half of them went.
	HalfGone HalfGone `json:"half_gone_between_h"`
	// Place in the slice given to Compute.
	Place int `json:"-"`
}

// Check is one check that was read. AtRisk is r: the baits read at this check
// that were not known to be consumed before. Lost and Unread are cumulative and
// of this check alone, as the records say or as Lost derives them.
type Check struct {
	Check              int                  `json:"check"`
	SoakH              float64              `json:"soak_h"`
	AtRisk             int                  `json:"at_risk"`
	Consumed           int                  `json:"consumed"`
	ConsumedInInterval int                  `json:"consumed_in_interval"`
	Lost               int                  `json:"lost"`
	Unread             int                  `json:"unread"`
	Proportion         assay.Maybe[float64] `json:"proportion"`
	Lower              assay.Maybe[float64] `json:"lower"`
	Upper              assay.Maybe[float64] `json:"upper"`
	// The bounds whatever became of baits that were lost: every one survived,
	// every one was consumed.
	IfLostSurvived float64  `json:"proportion_if_lost_survived"`
	IfLostConsumed float64  `json:"proportion_if_lost_consumed"`
	FromH          float64  `json:"from_h"`
	RateInInterval Estimate `json:"rate_in_interval_per_h"`
}

// Nominal is the proportion consumed by a soak of the protocol's schedule.
type Nominal struct {
	SoakH      float64              `json:"soak_h"`
	Proportion assay.Maybe[float64] `json:"proportion"`
	Lower      assay.Maybe[float64] `json:"lower"`
	Upper      assay.Maybe[float64] `json:"upper"`
	Modelled   bool                 `json:"modelled"`
}

func (n *Nominal) set(e Estimate) { n.Proportion, n.Lower, n.Upper = e.Estimate, e.Lower, e.Upper }

// HalfGone is a stretch of soak; ToH is missing when half were never gone.
type HalfGone struct {
	FromH assay.Maybe[float64] `json:"from_h"`
	ToH   assay.Maybe[float64] `json:"to_h"`
}

// RateNotConstant is the message that the rate changed over the soak.
const RateNotConstant = "rate-not-constant"

// Compute does all of it. It keeps the order of ds, gives the same bytes for the
// same records, options and seed on any number of cores, and stops with ctx's
// error when that is done; an OptionError says that an option cannot be.
func Compute(ctx context.Context, ds []assay.Deployment, o Options) (*Result, error) {
	if err := o.fill(); err != nil {
		return nil, err
	}
	readings := make([]*reading, len(ds))
	err := inParallel(ctx, len(ds), 64, func(k int) { readings[k] = read(&ds[k], o.means(&ds[k])) })
	if err != nil {
		return nil, err
	}
	in := enter(ds, o.Findings, readings)
	in.Flow.Planned = max(in.Flow.Planned, o.Planned)
	res := &Result{
		Contract: 1, Level: o.Level, Interval: o.Interval, Group: o.Group, Seed: o.Seed,
		Deployments: make([]Deployment, len(in.In)), Groups: []Curve{},
		Excluded: in.Excluded, Flow: in.Flow, Messages: []Message{},
	}
	err = inParallel(ctx, len(in.In), 64, func(i int) {
		k := in.In[i]
		res.Deployments[i] = one(&ds[k], readings[k], &o)
		res.Deployments[i].Place = k
	})
	if err != nil {
		return nil, err
	}
	for i := range res.Deployments {
		res.tell(&res.Deployments[i], readings[in.In[i]], o.Level)
	}
	if n := res.fewCounted(); n > 0 {
		res.Messages = append(res.Messages, Message{Slug: limitsFew, With: map[string]any{"n": n, "few": fewest}})
	}
	for k, r := range readings {
		if r.why == Impossible && in.why[k] == Impossible {
			with := map[string]any{"deployment": ds[k].ID, "what": r.with["what"]}
			res.Messages = append(res.Messages, Message{Slug: impossibleHow, DeploymentID: ds[k].ID, With: with})
		}
	}
	if o.Group != NoGroup {
		if err := res.group(ctx, ds, in.In, readings, &o); err != nil {
			return nil, err
		}
	}
	return res, nil
}

func (r *Result) tell(d *Deployment, from *reading, level float64) {
	add := func(slug string, with map[string]any) {
		all := map[string]any{"deployment": d.DeploymentID}
		for k, v := range with {
			all[k] = v
		}
		r.Messages = append(r.Messages, Message{Slug: slug, DeploymentID: d.DeploymentID, With: all})
	}
	for _, s := range from.said {
		add(s.Slug, s.With)
	}
	if t, ok := d.Constant.Get(); ok && t.P < 1-level {
		add(RateNotConstant, map[string]any{"p": t.P})
	}
}

// one is what a single deployment says.
func one(d *assay.Deployment, r *reading, o *Options) Deployment {
	c := newCurve(r)
	out := Deployment{
		DeploymentID: d.ID, Site: d.Site, Habitat: d.Habitat, Baits: r.n,
		Checks: make([]Check, len(r.looks)), Nominal: []Nominal{},
	}
	for k, at := range r.looks {
		p := c.proportionAt(k+1, o)
		low, high := r.bounds(k)
		out.Checks[k] = Check{
			Check: at.number, SoakH: at.soakH, FromH: c.soakH(c.from[k+1]), AtRisk: at.atRisk,
			Consumed: at.c, ConsumedInInterval: at.y, Lost: at.l, Unread: at.u,
			Proportion: p.Estimate, Lower: p.Lower, Upper: p.Upper,
			IfLostSurvived: low, IfLostConsumed: high, RateInInterval: c.rateIn(k+1, o.Level),
		}
	}
	rate, ll := ConstantRate(r.intervals, o.Level)
	out.RatePerH = rate
	if !math.IsNaN(ll) {
		out.LogLik = assay.Some(ll)
	}
	out.MedianH = median(rate)
	out.HalfGone.FromH, out.HalfGone.ToH = c.halfGone()
	out.Constant = constancy(r.intervals, rate)
	for _, soak := range o.soaksH(d) {
		out.Nominal = append(out.Nominal, c.proportionAtSoak(soak, o))
	}
	if len(r.looks) >= 3 {
		if w := Weibull(r.intervals, o.Level); w.LogLik.Known() {
			out.Weibull = assay.Some(w)
		}
	}
	return out
}

// bounds are C_k/n and (C_k + L_k)/n; a bait not read at this check counts in the
// upper one unless the counts say that it was found present later: at most as many
// as were found consumed later, and those never read again.
func (r *reading) bounds(k int) (low, high float64) {
	at, n := r.looks[k], float64(r.n)
	never := at.u
	for _, later := range r.looks[k+1:] {
		never = min(never, later.u)
	}
	if r.contrary {
		never = at.u
	}
	perhaps := never + min(at.u-never, r.looks[len(r.looks)-1].c-at.c)
	return float64(at.c) / n, float64(at.c+at.l+perhaps) / n
}

// median is ln 2 over the rate; the limits change places.
func median(rate Estimate) Estimate {
	turn := func(m assay.Maybe[float64]) assay.Maybe[float64] {
		if v, ok := m.Get(); ok && v > 0 {
			return assay.Some(math.Ln2 / v)
		}
		return assay.None[float64]()
	}
	return Estimate{turn(rate.Estimate), turn(rate.Upper), turn(rate.Lower)}
}

// inParallel calls do(0) … do(n−1) on all cores, a block at a time, until ctx is done.
func inParallel(ctx context.Context, n, block int, do func(k int)) error {
	blocks := make(chan int)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n/block+1) {
		wg.Go(func() {
			for b := range blocks {
				for k := b; k < min(b+block, n); k++ {
					do(k)
				}
			}
		})
	}
	var err error
	for b := 0; b < n && err == nil; b += block {
		select {
		case blocks <- b:
		case <-ctx.Done():
			err = fmt.Errorf("rates: %w", ctx.Err())
		}
	}
	close(blocks)
	wg.Wait()
	return err
}
