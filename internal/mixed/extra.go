package mixed

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
)

// Extra is the test of variation beyond what a fit has.
type Extra struct {
	SD   float64 // of the added intercept, at the maximum; 0 where none is seen
	Chi2 float64 // twice the gain in log-likelihood
	// P is the bootstrap's; NaN without replicates. PMixture is half the tail of
	// the chi-squared distribution with one degree of freedom, since an SD cannot
	// be negative (Self & Liang 1987, J. Am. Stat. Assoc. 82:605–610, case 5).
	P, PMixture float64
	// Dispersion is the mean of (y − rp)²/(rp(1 − p)) over the observations with
	// 0 < p < 1, p at the intercepts' modes; DispersionP the bootstrap's, of large
	// values. NaN where no observation has one.
	Dispersion, DispersionP float64
	Replicates, Failed      int
	// DrawnChi2 and DrawnDispersion are those of each refitted season; NaN where failed.
	DrawnChi2, DrawnDispersion []float64
}

// Extra asks whether the observations vary more than the fit says: wider is
// the model of the same observations, in the same order, with one random level
// more. Seasons are drawn from the fit and both models refitted to each, so that
// the test keeps its size although the counts are few and the intercepts are
// estimated from them. p = (1 + number at least as large) / (replicates + 1);
// a failed refit counts as at least as large. With 0 replicates the statistics
// and PMixture stand alone.
//
// It returns an error if a fit is not usable, the data differ, or ctx ends.
func (r *Result) Extra(ctx context.Context, wider *Result, o BootstrapOptions) (*Extra, error) {
	if !r.Ending.Usable() || !wider.Ending.Usable() {
		return nil, fmt.Errorf("the test of extra variation needs two fits with estimates; these ended %q and %q", r.Ending, wider.Ending)
	}
	if r.data.Len() != wider.data.Len() {
		return nil, errors.New("the test of extra variation needs two models of the same observations")
	}
	e := &Extra{P: math.NaN(), DispersionP: math.NaN(), Replicates: o.Replicates}
	e.Chi2, e.Dispersion = math.Max(0, 2*(wider.LogLik-r.LogLik)), r.dispersion()
	e.PMixture = 1
	if e.Chi2 > 0 {
		e.PMixture = distuv.ChiSquared{K: 1}.Survival(e.Chi2) / 2
	}
	for _, v := range wider.Random {
		if !slices.ContainsFunc(r.Random, func(u SD) bool { return u.Group == v.Group }) {
			e.SD = v.SD
		}
	}
	if o.Replicates < 1 {
		return e, nil
	}
	o.Seed = purposeSeed(o.Seed, purposeExtra)
	chi2, dispersion, err := r.extraReplicates(ctx, wider, o)
	if err != nil {
		return nil, err
	}
	var failed int
	e.DrawnChi2, e.DrawnDispersion = chi2, dispersion
	e.P, e.Failed = tail(e.Chi2, chi2)
	if !math.IsNaN(e.Dispersion) {
		e.DispersionP, failed = tail(e.Dispersion, dispersion)
	}
	e.Failed = max(e.Failed, failed)
	return e, nil
}

// tail is the Monte Carlo p of large values; NaN counts as at least as large.
func tail(seen float64, drawn []float64) (p float64, failed int) {
	n := 0
	for _, v := range drawn {
		if math.IsNaN(v) {
			failed++
		}
		// A maximum is found to about 1e-9; two zeros must not differ by that.
		if !(v < seen-1e-9) {
			n++
		}
	}
	return float64(1+n) / float64(1+len(drawn)), failed
}

// extraReplicates refits both models to seasons drawn from r.
func (r *Result) extraReplicates(ctx context.Context, wider *Result, o BootstrapOptions) (chi2, dispersion []float64, err error) {
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	chi2, dispersion = make([]float64, o.Replicates), make([]float64, o.Replicates)
	var wait sync.WaitGroup
	var mu sync.Mutex
	next, done := 0, 0
	for range min(o.Workers, o.Replicates) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			s := newSimulation(r, o)
			for {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= o.Replicates || ctx.Err() != nil {
					return
				}
				chi2[i], dispersion[i] = s.extra(r, wider, uint64(i))
				mu.Lock()
				done++
				if o.Progress != nil {
					o.Progress(done, o.Replicates)
				}
				mu.Unlock()
			}
		}()
	}
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, nil, fmt.Errorf("stopped after %d of %d simulated seasons: %w", done, o.Replicates, err)
	}
	return chi2, dispersion, nil
}

// extra draws one season and refits both models.
func (s *simulation) extra(r, wider *Result, rep uint64) (chi2, dispersion float64) {
	s.draw(rep)
	refit := func(of *Result) *Result {
		f, err := newFrame(of.whole.layout, s.events, s.trials, of.opts.Link, of.opts.Family)
		if err != nil {
			return nil
		}
		if end := f.trivial(); end == NoEvents || end == OnlyEvents {
			return &Result{Ending: end}
		}
		o := of.opts
		o.NoSeparated, o.Starts, o.near, o.LikelihoodOnly = true, 1, of.known(), true
		if o.near != nil {
			o.near.modes = nil
		}
		return fitFrame(of.data, f, o, of.dropped)
	}
	a := refit(r)
	if a == nil {
		return math.NaN(), math.NaN()
	}
	if a.Ending == NoEvents || a.Ending == OnlyEvents {
		return 0, 0 // nothing varies
	}
	b := refit(wider)
	if b == nil || !a.Ending.Usable() || !b.Ending.Usable() {
		return math.NaN(), math.NaN()
	}
	return math.Max(0, 2*(b.LogLik-a.LogLik)), a.dispersion()
}

// dispersion is the mean squared Pearson residual at the modes of the random
// intercepts; sums of several stretches are left out.
func (r *Result) dispersion() float64 {
	ws, m := r.fit.ws, r.fit.m
	if math.IsInf(ws.eval(r.fit.theta, nil), -1) {
		return math.NaN()
	}
	sum, n := 0.0, 0
	for j := 0; j+1 < len(m.leafStart); j++ {
		shift := ws.leaf.shift[j]
		for i := m.leafStart[j]; i < m.leafStart[j+1]; i++ {
			if m.r[i] == 0 || m.sum(int(i)) != nil {
				continue
			}
			h := math.Exp(math.Min(ws.w[i]+shift, maxV))
			p := -math.Expm1(-h)
			if m.link == Logit {
				p = 1 / (1 + 1/h)
			} else if m.hasBack {
				p = -math.Expm1(-h - ws.back[i])
			}
			variance := m.r[i] * p * (1 - p)
			if m.family == BetaBinomial {
				variance *= (1 + ws.kappa*m.r[i]) / (1 + ws.kappa)
			}
			if variance > 0 {
				d := m.y[i] - m.r[i]*p
				sum += d * d / variance
				n++
			}
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}
