package mixed

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
)

// Options says what is fitted and how. The zero value is the complementary
// log-log link, binomial, 95 %, Laplace.
type Options struct {
	Link       Link
	Family     Family
	Level      float64 // two-sided confidence; 0 means 0.95
	Quadrature int     // adaptive Gauss–Hermite nodes per level; 0 and 1 mean Laplace
	Starts     int     // starting vectors of SDs; 0 means all
	// NoSeparated leaves out the one-sided bounds and the penalised values of
	// separated terms, which cost several fits each.
	NoSeparated bool
	// From, if set, is a fit of a model inside this one or around it, or of nearly the
	// same data, with the same levels: the first climb starts there.
	From *Result

	// Context, if set, stops a fit, which then is no result but the context's error.
	Context context.Context

	// LikelihoodOnly leaves out the covariance, and with it standard errors and limits.
	LikelihoodOnly bool

	near  *known // where the first climb starts
	every bool   // every start and sub-model is climbed, whatever is sure
}

// stop says whether the fit is to be given up; nil if it never is.
func (o Options) stop() func() bool {
	if o.Context == nil {
		return nil
	}
	return func() bool { return o.Context.Err() != nil }
}

// stopped is the context's error.
func (o Options) stopped() error {
	if o.Context == nil {
		return nil
	}
	return o.Context.Err()
}

func (o Options) filled() (Options, error) {
	if o.Level == 0 {
		o.Level = 0.95
	}
	if !(o.Level > 0 && o.Level < 1) {
		return o, fmt.Errorf("a confidence level of %v cannot be; give one between 0 and 1, such as 0.95", o.Level)
	}
	if o.Quadrature < 0 || o.Quadrature > maxNodes {
		return o, fmt.Errorf("%d quadrature nodes cannot be; give 1 (Laplace) to %d", o.Quadrature, maxNodes)
	}
	if o.Quadrature == 0 {
		o.Quadrature = 1
	}
	if o.Starts <= 0 {
		o.Starts = 5
	}
	return o, nil
}

const maxNodes = 101

// Bound says which sides of a term's limits are given.
type Bound string

const (
	TwoSided  Bound = "two-sided"
	UpperOnly Bound = "upper" // the term runs to −∞: only an upper bound exists
	LowerOnly Bound = "lower" // the term runs to +∞
	NoBound   Bound = "none"
)

// Term is one fixed effect. Values that do not exist are NaN: all of an
// aliased term; estimate, SE, Z, P and the infinite side of a separated one.
type Term struct {
	Name               string
	Estimate, SE, Z, P float64
	Lower, Upper       float64
	Bound              Bound
	Shrunk             float64 // penalised value of a separated term, else NaN
	Aliased, Separated bool
	Dropped            bool // left out by Without
}

// SD is one random level.
type SD struct {
	Group  string
	Levels int     // groups at this level
	SD     float64 // 0 where the likelihood is highest without it
	LogSE  float64 // standard error of log SD; NaN at zero
}

// Result is a fit. If Ending is not usable, it holds no estimate.
type Result struct {
	Ending       Ending
	Notices      []Notice
	LogLik       float64 // binomial constants included; the supremum if separated
	AIC          float64 // 2·DF − 2·LogLik
	DF           int     // fixed effects + SDs (also those at zero) + κ
	Observations int     // with trials
	Fixed        []Term
	Random       []SD
	Kappa        float64 // beta-binomial κ; 0 otherwise
	Level        float64
	Quadrature   int
	Evaluations  int // of the marginal likelihood, by all climbs

	opts       Options
	data       *Data
	whole      *frame // before separation was taken to its limit
	start      affine // parameter space of whole
	rank       *basis // of the rows of whole
	red        *basis // of the rows of the fitted frame
	fit        *fitted
	beta       []float64 // aliased terms 0; meaningless along separated directions
	cov        []float64 // of θ: (γ, log σ active, log κ)
	ran        []float64 // separated direction, nil if none
	bounds     map[string]keptBound
	boundsLock sync.Mutex
	dropped    []bool
}

// Fit finds the maximum likelihood of the model.
//
// It returns an error for data or options that make no model; whatever the
// numbers themselves do is an Ending and Notices.
func Fit(d *Data, o Options) (*Result, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	if from := o.From; from != nil && o.near == nil {
		o.near = from.known()
	}
	o.From = nil // not to be kept alive
	if d.Len() == 0 {
		return nil, errors.New("there are no observations; add at least one")
	}
	if len(d.crossed) > 0 && o.Quadrature > 1 {
		return nil, errCrossedQuadrature
	}
	l := newLayout(d)
	f, err := newFrame(l, d.events, d.trials, o.Link, o.Family)
	if err != nil {
		return nil, err
	}
	r := fitFrame(d, f, o, make([]bool, len(f.terms)))
	return r, o.stopped()
}

// fitFrame fits the frame with the terms marked in drop left out.
func fitFrame(d *Data, f *frame, o Options, drop []bool) *Result {
	r := &Result{opts: o, data: d, whole: f, dropped: drop, Level: o.Level, Quadrature: o.Quadrature, LogLik: math.NaN(), AIC: math.NaN(), Kappa: math.NaN()}
	r.Notices = append(r.Notices, f.notices...)
	r.rank = newBasis(f.rowsWithout(drop), f.usedRows(), f.nRows, len(f.terms))
	r.start = r.rank.affine()
	r.emptyTables()
	if end := f.trivial(); end != "" {
		r.Ending = end
		r.Notices = append(r.Notices, Notice{Slug: string(end)})
		return r
	}
	best, l, evals := f.fitLimited(r.start, o.Quadrature, f.startsOf(o.Starts), o)
	r.Evaluations, r.ran = evals, l.ran
	r.red = newBasis(l.f.rowsWithout(drop), l.f.usedRows(), l.f.nRows, len(f.terms))
	r.take(best)
	if r.Ending.Usable() && r.ran != nil && !o.NoSeparated {
		r.separatedTerms()
	}
	return r
}

// manyObservations: from here on two starts stand for all; with so many the
// likelihood has never been seen to have a second maximum (our own limit).
const manyObservations = 4000

func (f *frame) startsOf(starts int) int {
	if f.nObs() >= manyObservations {
		return min(starts, 2)
	}
	return starts
}

// rowsWithout returns the distinct rows with the marked columns zero.
func (f *frame) rowsWithout(drop []bool) []float64 {
	any := false
	for _, v := range drop {
		any = any || v
	}
	if !any {
		return f.rows
	}
	rows := append([]float64(nil), f.rows...)
	for i := range rows {
		if drop[i%len(drop)] {
			rows[i] = 0
		}
	}
	return rows
}

// trivial names data that hold no estimate whatever the model; "" if none.
func (f *frame) trivial() Ending {
	var y, r float64
	for i := range f.y {
		y += f.y[i]
		r += f.r[i]
	}
	switch {
	case r == 0:
		return NoTrials
	case y == 0:
		return NoEvents
	case y == r:
		return OnlyEvents
	}
	return ""
}

// emptyTables makes the tables of terms and levels with nothing known.
func (r *Result) emptyTables() {
	nan := math.NaN()
	f := r.whole
	for _, name := range f.terms {
		r.Fixed = append(r.Fixed, Term{Name: name, Estimate: nan, SE: nan, Z: nan, P: nan, Lower: nan, Upper: nan, Bound: NoBound, Shrunk: nan})
	}
	for a, j := range r.rank.aliased {
		if r.dropped[j] {
			r.Fixed[j].Dropped = true
			continue
		}
		r.Fixed[j].Aliased = true
		of := ""
		for k, v := range r.rank.coef[a] {
			if math.Abs(v) > 1e-7 {
				if of != "" {
					of += ", "
				}
				of += f.terms[r.rank.kept[k]]
			}
		}
		r.Notices = append(r.Notices, Notice{Slug: SlugAliased, Term: f.terms[j], Other: of})
	}
	for k := range f.nSD() {
		name, n := f.sdName(k), f.groupsOf(k)
		r.Random = append(r.Random, SD{Group: name, Levels: n, SD: nan, LogSE: nan})
		if n < fewGroups {
			r.Notices = append(r.Notices, Notice{Slug: SlugFewGroups, Group: name, Value: float64(n)})
		}
	}
	for i := range f.r {
		if f.r[i] > 0 {
			r.Observations++
		}
	}
}

// fewGroups: an SD from fewer groups is hardly known (common practice, no source).
const fewGroups = 5

// take fills the result from the place where the climb ended.
func (r *Result) take(f *fitted) {
	r.fit = f
	if !r.opts.LikelihoodOnly {
		finish(f, r.opts.Quadrature)
	}
	if f.end == searchLimit || f.end == searchStuck || math.IsInf(f.value, -1) {
		r.Ending = StepLimit
		r.Notices = append(r.Notices, Notice{Slug: SlugStepLimit})
		if f.m.hasBack && f.end == searchStuck {
			r.Notices = append(r.Notices, Notice{Slug: SlugLaplaceBreaks})
		}
		for a, k := range f.m.active {
			if f.theta[f.m.q+a] > logSDMax-0.1 {
				r.Notices = append(r.Notices, Notice{Slug: SlugSpreadUnbounded, Group: f.m.sdName(k)})
			}
		}
		return
	}
	r.LogLik = f.value
	r.DF = r.rank.rank + r.whole.nSD()
	if r.opts.Family == BetaBinomial {
		r.DF++
	}
	r.AIC = 2*float64(r.DF) - 2*r.LogLik
	r.Ending = Converged
	r.beta = f.beta()
	if !r.opts.LikelihoodOnly {
		r.cov = f.covariance()
	}
	if r.cov == nil && !r.opts.LikelihoodOnly {
		r.Notices = append(r.Notices, Notice{Slug: SlugInformation})
	}
	r.takeRandom()
	r.takeFixed()
}

func (r *Result) takeRandom() {
	f, m := r.fit, r.fit.m
	n := len(f.theta)
	for k := range r.Random {
		r.Random[k].SD = 0
	}
	for a, k := range m.active {
		r.Random[k].SD = math.Exp(f.theta[m.q+a])
		if r.cov != nil {
			r.Random[k].LogSE = math.Sqrt(r.cov[(m.q+a)*n+m.q+a])
		}
	}
	for k := range r.Random {
		if r.Random[k].SD == 0 {
			r.Ending = VarianceAtZero
			r.Notices = append(r.Notices, Notice{Slug: SlugVarianceAtZero, Group: r.Random[k].Group})
		}
	}
	r.Kappa = 0
	if m.kappaFree {
		r.Kappa = math.Exp(f.theta[n-1])
	} else if r.opts.Family == BetaBinomial {
		r.Ending = VarianceAtZero
		r.Notices = append(r.Notices, Notice{Slug: SlugDispersionAtZero})
	}
}

func (r *Result) takeFixed() {
	p := len(r.whole.terms)
	unit := make([]float64, p)
	for j := range r.Fixed {
		t := &r.Fixed[j]
		if t.Aliased || t.Dropped {
			continue
		}
		unit[j] = 1
		if r.ran != nil && !r.red.estimable(unit) {
			t.Separated = true
			r.Ending = Separation
			side := math.Copysign(1, r.ran[j])
			r.Notices = append(r.Notices, Notice{Slug: SlugSeparation, Term: t.Name, Value: side})
		} else {
			w := r.wald(unit)
			t.Estimate, t.SE, t.Z, t.P, t.Lower, t.Upper, t.Bound = w.Estimate, w.SE, w.Z, w.P, w.Lower, w.Upper, TwoSided
		}
		unit[j] = 0
	}
	if r.ran != nil {
		r.Ending = Separation
	}
}

// Wald is a linear combination of fixed effects with its Wald test and limits.
type Wald struct {
	Estimate, SE, Z, P, Lower, Upper float64
}

// wald evaluates c'β; SE and what follows are NaN without a covariance.
func (r *Result) wald(c []float64) Wald {
	w := Wald{Estimate: dot(c, r.beta), SE: math.NaN(), Z: math.NaN(), P: math.NaN(), Lower: math.NaN(), Upper: math.NaN()}
	if r.cov == nil {
		return w
	}
	g := r.toTheta(c)
	w.SE = math.Sqrt(quadForm(r.cov, g, g))
	w.Z = w.Estimate / w.SE
	w.P = 2 * distuv.UnitNormal.Survival(math.Abs(w.Z))
	q := distuv.UnitNormal.Quantile(0.5 + r.Level/2)
	w.Lower, w.Upper = w.Estimate-q*w.SE, w.Estimate+q*w.SE
	return w
}

// toTheta returns the gradient of c'β in θ.
func (r *Result) toTheta(c []float64) []float64 {
	m := r.fit.m
	g := make([]float64, len(r.fit.theta))
	for j, v := range c {
		if v == 0 {
			continue
		}
		for k := 0; k < m.q; k++ {
			g[k] += v * m.toBeta[j*m.q+k]
		}
	}
	return g
}

// quadForm returns a'Vb.
func quadForm(v, a, b []float64) float64 {
	n := len(a)
	s := 0.0
	for i, x := range a {
		if x != 0 {
			s += x * dot(v[i*n:(i+1)*n], b)
		}
	}
	return s
}
