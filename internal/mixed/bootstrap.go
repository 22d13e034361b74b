package mixed

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
)

// Simulator draws new counts. predictor holds, for every piece in the order of
// Data, its linear predictor: log exposure + x'β + random intercepts (a
// background piece has none), so that its hazard is exp(predictor); with the
// logit link it is the logit. ±Inf where the null model's likelihood is only a
// supremum. It fills events and trials, one an observation in the order of
// Data; on entry trials are the observed ones and events zero. It must draw from
// rng alone and may be called from several goroutines at once.
type Simulator func(rng *rand.Rand, predictor []float64, events, trials []int)

// BootstrapOptions says how a parametric bootstrap is run.
type BootstrapOptions struct {
	Replicates int
	Seed       uint64
	Workers    int         // 0: one per core; the answer does not depend on it
	Simulate   Simulator   // nil: each observation drawn by itself with its observed trials
	Contrasts  [][]float64 // studentised contrasts to be tested as well
	Stop       *Sequential // nil: all Replicates; else they are the most
	Progress   func(done, of int)
}

// Bootstrap is the outcome. P values are (1 + replicates at least as large) /
// (replicates + 1), where a failed refit counts as at least as large (Davison &
// Hinkley 1997, Bootstrap Methods and their Application, eq. 4.11).
type Bootstrap struct {
	Replicates int
	Failed     int // replicates in which a refit found no maximum
	P          float64
	Chi2       []float64 // by replicate; NaN where failed
	ContrastP  []float64 // NaN where the observed contrast has no standard error
	// ContrastFailed counts replicates in which the contrast has no standard error.
	ContrastFailed []int
	// PLower and PUpper are limits of P for its being simulated: with Stop those of
	// PLimits, else Clopper and Pearson's at 99 %.
	PLower, PUpper float64
	// ContrastT are the |t*| of each contrast, by replicate, NaN where failed.
	ContrastT [][]float64
	Settled   bool // Stop was reached before the most replicates
}

type replicate struct {
	chi2 float64
	t    []float64
}

// ParametricBootstrap simulates from the null model (see Without) and refits
// both models to each replicate: the null distribution of the likelihood ratio
// and of the studentised contrasts (c'β* − c'β₀)/SE*.
//
// It returns an error if a fit is not usable or ctx is cancelled.
func ParametricBootstrap(ctx context.Context, full, null *Result, o BootstrapOptions) (*Bootstrap, error) {
	if !full.Ending.Usable() || !null.Ending.Usable() {
		return nil, fmt.Errorf("a bootstrap needs two fits with estimates; these ended %q and %q", full.Ending, null.Ending)
	}
	if o.Replicates < 1 {
		return nil, fmt.Errorf("%d replicates cannot be; give at least 1, better 999", o.Replicates)
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	slots := make([]replicate, o.Replicates)
	run := newRun(ctx, full, null, o, slots)
	n := o.Replicates
	if o.Stop != nil {
		n = min(n, lookEvery-1)
	}
	for from := 0; ; {
		run.until(from, n)
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("bootstrap stopped after %d of %d replicates: %w", run.done, o.Replicates, err)
		}
		// Decided at the same numbers of replicates on any number of cores.
		if o.Stop != nil {
			test, contrasts := counts(full, null, slots[:n], o)
			if o.Stop.settled(n, test, contrasts) {
				b := tally(full, null, slots[:n], o)
				b.Settled = true
				return b, nil
			}
		}
		if n >= o.Replicates {
			return tally(full, null, slots, o), nil
		}
		from, n = n, min(n+lookEvery, o.Replicates)
	}
}

// bootstrapRun is a bootstrap at work.
type bootstrapRun struct {
	ctx     context.Context
	full    *Result
	o       BootstrapOptions
	slots   []replicate
	workers []*simulation
	mu      sync.Mutex
	done    int
}

func newRun(ctx context.Context, full, null *Result, o BootstrapOptions, slots []replicate) *bootstrapRun {
	r := &bootstrapRun{ctx: ctx, full: full, o: o, slots: slots}
	for range min(o.Workers, o.Replicates) {
		r.workers = append(r.workers, newSimulation(null, o))
	}
	return r
}

// until fills the slots from and up to n.
func (r *bootstrapRun) until(from, n int) {
	var wg sync.WaitGroup
	next := from
	for _, s := range r.workers {
		wg.Go(func() {
			for {
				r.mu.Lock()
				i := next
				next++
				r.mu.Unlock()
				if i >= n || r.ctx.Err() != nil {
					return
				}
				r.slots[i] = s.run(r.full, uint64(i))
				r.mu.Lock()
				r.done++
				if r.o.Progress != nil {
					r.o.Progress(r.done, r.o.Replicates)
				}
				r.mu.Unlock()
			}
		})
	}
	wg.Wait()
}

// counts are the replicates at least as large as what was observed: of the test,
// and of every contrast that has an observed value.
func counts(full, null *Result, slots []replicate, o BootstrapOptions) (test int, contrasts []int) {
	seen := full.Ratio(null).Chi2
	for _, s := range slots {
		if !(s.chi2 < seen) {
			test++
		}
	}
	for k, c := range o.Contrasts {
		t := math.Abs(full.studentised(c, null))
		if math.IsNaN(t) {
			continue
		}
		n := 0
		for _, s := range slots {
			if !(s.abs(k) < t) {
				n++
			}
		}
		contrasts = append(contrasts, n)
	}
	return test, contrasts
}

// abs is |t*| of contrast k, NaN where there is none.
func (s replicate) abs(k int) float64 {
	if k < len(s.t) {
		return math.Abs(s.t[k])
	}
	return math.NaN()
}

// tally counts the replicates at least as large as what was observed.
func tally(full, null *Result, slots []replicate, o BootstrapOptions) *Bootstrap {
	b := &Bootstrap{Replicates: len(slots), ContrastFailed: make([]int, len(o.Contrasts))}
	seen := full.Ratio(null).Chi2
	atLeast := 0
	for _, s := range slots {
		b.Chi2 = append(b.Chi2, s.chi2)
		if math.IsNaN(s.chi2) {
			b.Failed++
		}
		if !(s.chi2 < seen) {
			atLeast++
		}
	}
	b.P = float64(1+atLeast) / float64(1+len(slots))
	if o.Stop != nil {
		risk := o.Stop.Risk
		if risk == 0 {
			risk = DefaultRisk
		}
		b.PLower, b.PUpper = PLimits(len(slots), atLeast, risk)
	} else {
		b.PLower, b.PUpper = fixedLimits(len(slots), atLeast)
	}
	for k, c := range o.Contrasts {
		t := math.Abs(full.studentised(c, null))
		n := 0
		var all []float64
		for _, s := range slots {
			v := s.abs(k)
			all = append(all, v)
			if math.IsNaN(v) {
				b.ContrastFailed[k]++
			}
			if !(v < t) {
				n++
			}
		}
		b.ContrastT = append(b.ContrastT, all)
		p := float64(1+n) / float64(1+len(slots))
		if math.IsNaN(t) {
			p = math.NaN()
		}
		b.ContrastP = append(b.ContrastP, p)
	}
	return b
}

// studentised returns (c'β − c'β₀)/SE with β₀ the null model's.
func (r *Result) studentised(c []float64, null *Result) float64 {
	if !r.Ending.Usable() {
		return math.NaN()
	}
	if r.cov == nil || !r.rank.estimable(c) || r.ran != nil && !r.red.estimable(c) {
		return math.NaN()
	}
	w := r.wald(c)
	return (w.Estimate - dot(c, null.beta)) / w.SE
}

// simulation holds one worker's memory.
type simulation struct {
	null           *Result
	o              BootstrapOptions
	base           []float64 // predictor without intercepts, by piece of Data
	events, trials []int
	predictor      []float64
	levels         [][]float64
	near, wide     *known // of the null model, and of the full one from there
}

// nearFull is what is known of the full model's fit to a season without a difference.
func (s *simulation) nearFull(full *Result) *known {
	if s.wide == nil {
		if s.wide = full.known(); s.wide != nil && s.near != nil && s.near.beta != nil {
			s.wide.beta = s.near.beta
		}
		if s.wide != nil {
			s.wide.modes = nil
		}
	}
	return s.wide
}

func newSimulation(null *Result, o BootstrapOptions) *simulation {
	d := null.data
	s := &simulation{null: null, o: o, near: null.known(), base: make([]float64, len(d.exposure)), predictor: make([]float64, len(d.exposure)),
		events: make([]int, d.Len()), trials: make([]int, d.Len())}
	if s.near != nil {
		s.near.modes = nil // of other seasons
	}
	f, whole := null.fit.m.frame, null.whole
	p := len(whole.terms)
	for i, obs := range whole.order {
		from := d.firstPiece(obs)
		for k := whole.pieceStart[i]; k < whole.pieceStart[i+1]; k++ {
			v := whole.logExp[k] + dot(whole.rows[int(whole.row[k])*p:(int(whole.row[k])+1)*p], null.beta)
			switch {
			case whole.r[i] > 0 && f.r[i] == 0 && whole.y[i] > 0:
				v = math.Inf(1)
			case math.IsInf(f.logExp[k], -1):
				v = math.Inf(-1)
			}
			s.base[from+int(k-whole.pieceStart[i])] = v
		}
	}
	for _, n := range whole.size {
		s.levels = append(s.levels, make([]float64, n))
	}
	return s
}

func (d *Data) firstPiece(i int) int {
	if i == 0 {
		return 0
	}
	return d.pieceEnd[i-1]
}

// draw makes the predictors and counts of one replicate.
func (s *simulation) draw(rep uint64) {
	d, whole := s.null.data, s.null.whole
	rng := stream(s.o.Seed, purposeIntercepts, rep)
	for k := range s.levels {
		sd := 0.0
		if k < len(whole.levels) {
			sd = s.null.Random[k].SD
		}
		for n := range s.levels[k] {
			s.levels[k][n] = sd * rng.NormFloat64()
			if k > 0 {
				s.levels[k][n] += s.levels[k-1][whole.parent[k][n]]
			}
		}
	}
	s.drawCrossed(rng)
	copy(s.predictor, s.base)
	if k := len(s.levels); k > 0 {
		for leaf, u := range s.levels[k-1] {
			for i := whole.leafStart[leaf]; i < whole.leafStart[leaf+1]; i++ {
				obs := whole.order[i]
				for p := d.firstPiece(obs); p < d.pieceEnd[obs]; p++ {
					if !d.background[p] {
						s.predictor[p] += u
					}
				}
			}
		}
	}
	copy(s.trials, d.trials)
	for i := range s.events {
		s.events[i] = 0
	}
	rng = stream(s.o.Seed, purposeCounts, rep)
	if s.o.Simulate != nil {
		s.o.Simulate(rng, s.predictor, s.events, s.trials)
		return
	}
	s.independent(rng)
}

// independent draws every observation by itself with its observed trials.
func (s *simulation) independent(rng *rand.Rand) {
	d, o := s.null.data, s.null.opts
	for i := range s.events {
		if sum, ok := d.sums[i]; ok {
			s.events[i] = s.drawSum(rng, i, sum)
			continue
		}
		h := 0.0
		for p := d.firstPiece(i); p < d.pieceEnd[i]; p++ {
			h += math.Exp(s.predictor[p])
		}
		prob := -math.Expm1(-h)
		if o.Link == Logit {
			prob = 1 / (1 + 1/h)
		}
		for b := 0; b < d.trials[i]; b++ {
			q := prob
			if o.Family == BetaBinomial && b > 0 {
				// Pólya's urn: the beta-binomial one trial at a time
				k := s.null.Kappa
				q = (prob + k*float64(s.events[i])) / (1 + k*float64(b))
			}
			if rng.Float64() < q {
				s.events[i]++
			}
		}
	}
}

// drawSum draws the events of an observation known only as a sum, part by part.
func (s *simulation) drawSum(rng *rand.Rand, i int, sum sumParts) (events int) {
	from := s.null.data.firstPiece(i)
	for g, to := range sum.pieceEnd {
		h := 0.0
		for ; from < int(to); from++ {
			h += math.Exp(s.predictor[from])
		}
		for range sum.trials[g] {
			if rng.Float64() < -math.Expm1(-h) {
				events++
			}
		}
	}
	return events
}

// run simulates and refits one replicate.
func (s *simulation) run(full *Result, rep uint64) replicate {
	s.draw(rep)
	out := replicate{chi2: math.NaN()}
	f, err := newFrame(s.null.whole.layout, s.events, s.trials, s.null.opts.Link, s.null.opts.Family)
	if err != nil {
		return out
	}
	o := full.opts
	o.NoSeparated, o.Starts, o.near, o.Context = true, 1, s.nearFull(full), nil
	if f.trivial() == NoEvents || f.trivial() == OnlyEvents {
		// both models reach likelihood 1: a ratio of zero, no contrast
		out.chi2 = 0
		return out
	}
	o.LikelihoodOnly = len(s.o.Contrasts) == 0
	alt := fitFrame(s.null.data, f, o, full.dropped)
	o.LikelihoodOnly, o.near = true, s.near
	null := fitFrame(s.null.data, f, o, s.null.dropped)
	if !alt.Ending.Usable() || !null.Ending.Usable() {
		return out
	}
	out.chi2 = alt.Ratio(null).Chi2
	for _, c := range s.o.Contrasts {
		out.t = append(out.t, alt.studentised(c, s.null))
	}
	return out
}
