package compare

import (
	"context"
	"errors"

	"soakline/internal/assay"
	"soakline/internal/mixed"
)

// Fitted is a comparison kept open behind its numbers, for a look at how well
// the model goes with the rows: which rows and intervals entered, and seasons
// drawn from the fit.
type Fitted struct {
	Result *Result // without test, repetitions and bootstrap
	f      *frame
	fit    *mixed.Result
}

// FittedRow is one deployment of the fit.
type FittedRow struct {
	Deployment *assay.Deployment
	Level      string // of what is compared; empty for a control row
	Control    bool
	CountsAs   []assay.How // ways of being gone that its protocol counts as consumed
}

// FittedSpan is one observation of the fit: Consumed of AtRisk baits of the row
// (its place among the rows) went between the soaks FromH and ToH.
type FittedSpan struct {
	Row, Check       int
	FromH, ToH       float64
	AtRisk, Consumed int
}

// ErrNotFitted says that no estimate stands, so that nothing can be drawn.
var ErrNotFitted = errors.New("the comparison has no estimate")

// Open fits the comparison as Run does and keeps it open. Where no estimate
// stands, the error is ErrNotFitted and the rows and spans can still be read.
func Open(ctx context.Context, ds []assay.Deployment, o Options) (*Fitted, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	f, err := build(ds, o)
	if err != nil {
		return nil, err
	}
	f.repeated = true
	k := &Fitted{Result: f.result(), f: f}
	if len(f.spans) == 0 || len(f.levels) == 0 {
		return k, ErrNotFitted
	}
	data, err := f.data()
	if err != nil {
		return nil, err
	}
	if k.fit, err = mixed.Fit(data, f.modelOptions()); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	f.fill(k.Result, k.fit)
	if !k.fit.Ending.Usable() {
		return k, ErrNotFitted
	}
	return k, nil
}

// Rows are the deployments that entered.
func (k *Fitted) Rows() []FittedRow {
	out := make([]FittedRow, len(k.f.rows))
	for i, r := range k.f.rows {
		out[i] = FittedRow{Deployment: r.d, Control: r.control, CountsAs: k.f.protocolOf(r.d).CountsAsConsumed}
		if r.level >= 0 && !r.control {
			out[i].Level = k.f.levels[r.level]
		}
	}
	return out
}

// Levels are the levels of what is compared, the reference first.
func (k *Fitted) Levels() []string { return append([]string(nil), k.f.levels...) }

// Spans are the observations, a row's own one after the other in order of time.
func (k *Fitted) Spans() []FittedSpan {
	out := make([]FittedSpan, len(k.f.spans))
	for i, s := range k.f.spans {
		out[i] = FittedSpan{Row: s.row, Check: s.check, FromH: s.fromH, ToH: s.toH, AtRisk: s.baits(), Consumed: s.consumed}
	}
	return out
}

// Seasons gives a function that draws the consumed baits of every span of
// simulated season rep, random intercepts anew, losses as they were seen. What
// it gives holds until its next call; one goroutine at a time.
func (k *Fitted) Seasons(seed uint64) (func(rep uint64) []int, error) {
	if k.fit == nil || !k.fit.Ending.Usable() {
		return nil, ErrNotFitted
	}
	s, err := k.fit.Seasons(seed, k.f.draws())
	if err != nil {
		return nil, err
	}
	return func(rep uint64) []int {
		events, _ := s.Draw(rep)
		return events
	}, nil
}

// ErrNoExtra says that a row has one interval only, or a spread of its own
// kind within rows, so that more of it cannot be told apart.
var ErrNoExtra = errors.New("no row has several intervals")

// Extra tests whether baits of one row and interval vary more than the model
// says: an intercept for each row and interval is added (see mixed.Extra).
func (k *Fitted) Extra(ctx context.Context, replicates int, seed uint64, workers int, progress func(done, of int)) (*mixed.Extra, error) {
	if k.fit == nil || !k.fit.Ending.Usable() {
		return nil, ErrNotFitted
	}
	if k.f.o.Family == "betabinomial" || len(k.f.spans) == len(k.f.rows) {
		return nil, ErrNoExtra
	}
	wide := *k.f
	wide.bySpan = true
	data, err := wide.data()
	if err != nil {
		return nil, err
	}
	fit, err := mixed.Fit(data, k.f.modelOptions())
	if err != nil {
		return nil, err
	}
	if !fit.Ending.Usable() {
		return nil, ErrNoExtra
	}
	return k.fit.Extra(ctx, fit, mixed.BootstrapOptions{Replicates: replicates, Seed: seed, Workers: workers, Simulate: k.f.draws(), Progress: progress})
}
