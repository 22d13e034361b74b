// Package fitness answers: does the model of a comparison go with the rows it
// was fitted to, and where does it not? Residuals by simulated seasons, variation
// within rows beyond the model's, runs of fates along a row, drift with date,
// time of day and distance, how much hangs on one site, and how evenly day,
// night, tide, batch, observer, team and date lie over what is compared.
//
// Method: docs/methods/checks.md states each test once with its source. p values
// are counts of simulated seasons, of permutations, or exact; none rests on a
// large-sample limit unless it says so. Soaks are hours, residuals lie in 0..1
// with their normal score beside them, distances are km.
//
// It leaves out what to do about a misfit, and draws nothing.
package fitness

import (
	"context"
	"errors"
	"math"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/mixed"
	"soakline/internal/words"
)

// Options of a closer look.
type Options struct {
	Seasons  int // simulated for the residuals; 0 takes 999, fewer where the season is large
	Refits   int // seasons refitted for the test of extra variation; 0 tells its large-sample p
	Seed     uint64
	Workers  int // 0: one per core; the result does not depend on it
	Progress func(done, of int)
}

// The tests, by slug.
const (
	Uniform    = "uniform"         // residuals of all rows and checks together
	EarlyLate  = "early-late"      // gone earlier, or later, at one level than at others
	Extra      = "extra-variation" // an intercept for each row and interval
	Dispersion = "dispersion"      // squared residuals about each row's own rate
	Runs       = "runs"            // neighbours along the row share their fate
	Date       = "date"
	TimeOfDay  = "time-of-day"
	Distance   = "distance" // near sites alike
)

// Test is one question put to the fit. A test that cannot be made has no P and
// says in Why, a slug, what is missing.
type Test struct {
	Slug      string               `json:"slug"`
	Statistic assay.Maybe[float64] `json:"statistic"`
	P         assay.Maybe[float64] `json:"p"`
	PAdjusted assay.Maybe[float64] `json:"p_adjusted"` // Holm's, over all tests made
	Off       bool                 `json:"off"`        // p_adjusted under 0.05
	By        string               `json:"by"`         // seasons, refits, permutations, exact, large-sample; empty if not made
	N         int                  `json:"n"`          // how many of them
	Why       string               `json:"why,omitempty"`
	Text      string               `json:"text"` // in the language of InWords
	with      words.P
}

// Residual is where a row's count by one check lies among its simulated ones.
type Residual struct {
	DeploymentID string  `json:"deployment_id"`
	Site         string  `json:"site"`
	Level        string  `json:"level"`
	Check        int     `json:"check"`
	Consumed     int     `json:"consumed"` // by this check, over the row's intervals
	Residual     float64 `json:"residual"` // 0..1, uniform where the model holds
	Normal       float64 `json:"normal"`   // its normal score
	row          int
}

// RowResidual is a row's residuals taken together, with what they may drift with.
type RowResidual struct {
	DeploymentID string               `json:"deployment_id"`
	Site         string               `json:"site"`
	Level        string               `json:"level"`
	Residual     float64              `json:"residual"`
	Normal       float64              `json:"normal"`
	Day          assay.Maybe[float64] `json:"day"`         // days since the first row was set out, on the local calendar
	HourLocal    assay.Maybe[float64] `json:"hour_local"`  // of setting out
	LaterMinus   assay.Maybe[float64] `json:"later_minus"` // normal score at the last check less that at the first
}

// SiteResidual is the mean normal score of a site's rows.
type SiteResidual struct {
	Site      string  `json:"site"`
	Rows      int     `json:"rows"`
	Mean      float64 `json:"mean"`
	Latitude  float64 `json:"latitude"`
	Longitude float64 `json:"longitude"`
}

// Result of a closer look.
type Result struct {
	By          string               `json:"by"`
	Levels      []string             `json:"levels"`
	Seasons     int                  `json:"seasons"`
	Refits      int                  `json:"refits"`
	Seed        uint64               `json:"seed"`
	ExtraSD     assay.Maybe[float64] `json:"extra_sd"`  // of row and interval, on the scale of the link
	FirstDay    string               `json:"first_day"` // the date that days count from
	Tests       []Test               `json:"tests"`
	Residuals   []Residual           `json:"residuals"`
	Rows        []RowResidual        `json:"rows"`
	Sites       []SiteResidual       `json:"sites"`
	Runs        []CheckRuns          `json:"runs"`
	Balance     []Balance            `json:"balance"`
	WithoutSite []WithoutSite        `json:"without_site"`
	Messages    []words.Message      `json:"messages"`

	// For drawings: the residuals in order against a straight line, with where they
	// lie in 95 of 100 simulated seasons; the likelihood ratio for extra variation and
	// the dispersion of the refitted seasons; the runs of each row.
	Envelope   []Ordered `json:"-"`
	ExtraDrawn []float64 `json:"-"`
	Dispersed  []float64 `json:"-"`
	RunsOfRows []RowRuns `json:"-"`
}

// Ordered is one place of the ordered residuals.
type Ordered struct{ Expected, Seen, Lower, Upper float64 }

// RowRuns are the runs of one row at one check.
type RowRuns struct {
	Check, Runs int
	Expected    float64
}

// look is one closer look at work.
type look struct {
	ctx   context.Context
	k     *compare.Fitted
	o     Options
	rows  []compare.FittedRow
	spans []compare.FittedSpan
	r     *Result
}

// Look takes a closer look at a comparison. Where nothing could be fitted the
// tests that need a fit say so; runs along the row and the balance stand anyway.
func Look(ctx context.Context, ds []assay.Deployment, by compare.Options, o Options) (*Result, error) {
	k, err := compare.Open(ctx, ds, by)
	fitted := err == nil
	if err != nil && !errors.Is(err, compare.ErrNotFitted) {
		return nil, err
	}
	l := &look{ctx: ctx, k: k, o: o, rows: k.Rows(), spans: k.Spans()}
	l.r = &Result{By: k.Result.By, Levels: k.Levels(), Seed: o.Seed, Tests: []Test{}, Residuals: []Residual{}, Rows: []RowResidual{},
		Sites: []SiteResidual{}, Runs: []CheckRuns{}, Balance: []Balance{}, WithoutSite: []WithoutSite{}, Messages: []words.Message{}}
	if l.r.Levels == nil {
		l.r.Levels = []string{}
	}
	if fitted {
		if err := l.residuals(); err != nil {
			return nil, err
		}
		if err := l.extra(); err != nil {
			return nil, err
		}
	} else {
		for _, slug := range []string{Uniform, EarlyLate, Extra, Dispersion, Date, TimeOfDay, Distance} {
			l.cannot(slug, "no-fit")
		}
	}
	l.runs()
	l.balance()
	l.judge()
	return l.r, ctx.Err()
}

// made adds a test that was made.
func (l *look) made(slug, by string, n int, statistic, p float64, with words.P) {
	if with == nil {
		with = words.P{}
	}
	with["statistic"], with["p"], with["n"], with["by"] = statistic, p, n, byWord(l.r.By)
	l.r.Tests = append(l.r.Tests, Test{Slug: slug, Statistic: assay.Some(statistic), P: assay.Some(p), By: by, N: n, with: with})
}

// cannot adds a test that could not be made, and why.
func (l *look) cannot(slug, why string) {
	l.r.Tests = append(l.r.Tests, Test{Slug: slug, Why: why, with: words.P{"by": byWord(l.r.By)}})
}

// byWord is the word for what is compared: the catalogue's where it has one.
func byWord(by string) any {
	if slug := "fitness.compared." + by; words.Has(slug) {
		return words.Ref{Slug: slug}
	}
	return by
}

// ByWord is the word for what is compared, in a language.
func (r *Result) ByWord(l words.Language) string {
	if ref, ok := byWord(r.By).(words.Ref); ok {
		return ref.In(l)
	}
	return r.By
}

// offLevel is the level at which a test, all taken together, is told as off.
const offLevel = 0.05

// judge adjusts the p values for one another.
func (l *look) judge() {
	var p []float64
	var at []int
	for i, t := range l.r.Tests {
		if v, ok := t.P.Get(); ok {
			p, at = append(p, v), append(at, i)
		}
	}
	for j, v := range mixed.Holm(p) {
		t := &l.r.Tests[at[j]]
		t.PAdjusted = assay.Some(v)
		t.Off = v < offLevel
	}
}

// extra tests for variation within rows beyond the model's.
func (l *look) extra() error {
	e, err := l.k.Extra(l.ctx, l.o.Refits, l.o.Seed, l.o.Workers, l.o.Progress)
	switch {
	case errors.Is(err, compare.ErrNoExtra), errors.Is(err, compare.ErrNotFitted):
		l.cannot(Extra, "one-interval")
		l.cannot(Dispersion, "one-interval")
		return nil
	case err != nil:
		return err
	}
	l.r.ExtraSD, l.r.Refits, l.r.ExtraDrawn, l.r.Dispersed = assay.Some(e.SD), e.Replicates, e.DrawnChi2, e.DrawnDispersion
	with := words.P{"sd": e.SD, "failed": e.Failed}
	if e.Replicates > 0 {
		l.made(Extra, "refits", e.Replicates, e.Chi2, e.P, with)
	} else {
		l.made(Extra, "large-sample", 0, e.Chi2, e.PMixture, with)
	}
	switch {
	case math.IsNaN(e.Dispersion):
		l.cannot(Dispersion, "no-variance")
	case e.Replicates == 0:
		l.cannot(Dispersion, "no-refits")
	default:
		l.made(Dispersion, "refits", e.Replicates, e.Dispersion, e.DispersionP, words.P{"failed": e.Failed})
	}
	return nil
}

// Off lists the tests that are off.
func (r *Result) Off() []Test {
	var out []Test
	for _, t := range r.Tests {
		if t.Off {
			out = append(out, t)
		}
	}
	return out
}

// Ends are each row's normal scores at its first and last check.
func (r *Result) Ends() [][2]float64 {
	out := make([][2]float64, len(r.Rows))
	seen := make([]bool, len(r.Rows))
	for _, v := range r.Residuals {
		if !seen[v.row] {
			out[v.row][0], seen[v.row] = v.Normal, true
		}
		out[v.row][1] = v.Normal
	}
	return out
}

// Test is the test with a slug.
func (r *Result) Test(slug string) (Test, bool) {
	for _, t := range r.Tests {
		if t.Slug == slug {
			return t, true
		}
	}
	return Test{}, false
}

// Sentence tells a test in the terms of a methods section.
func (t Test) Sentence(l words.Language) string {
	with := words.P{}
	for k, v := range t.with {
		with[k] = v
	}
	switch {
	case !t.P.Known():
		return l.Say("fitness.not", words.P{"test": words.Ref{Slug: "fitness.name." + t.Slug, With: t.with}, "why": words.Ref{Slug: "fitness.why." + t.Why, With: t.with}})
	case t.Off:
		return l.Say("fitness.off."+t.Slug, with) + " " + t.how(l)
	}
	return l.Say("fitness.fine."+t.Slug, with) + " " + t.how(l)
}

// how tells a p and what it was counted from.
func (t Test) how(l words.Language) string {
	return l.Say("fitness.by."+t.By, words.P{"p": t.P.Or(math.NaN()), "adjusted": t.PAdjusted.Or(math.NaN()), "n": t.N})
}

// Name of the test as a heading.
func (t Test) Name(l words.Language) string { return l.Say("fitness.name."+t.Slug, t.with) }

// Plain tells what is off in words of the first layer.
func (t Test) Plain(l words.Language) string { return l.Say("fitness.plain."+t.Slug, t.with) }

// InWords writes the sentences of the tests.
func (r *Result) InWords(l words.Language) {
	for i := range r.Tests {
		r.Tests[i].Text = r.Tests[i].Sentence(l)
	}
}
