package compare

import (
	"context"
	"errors"
	"sync"

	"soakline/internal/mixed"
)

// ahead is what was worked side by side.
type ahead struct {
	null, apart *mixed.Result
	wide        *frame
	laplace     *mixed.Notice
	told        bool             // whether Laplace was checked already
	toward      [2]*mixed.Result // one step towards every lost bait survived, and consumed
}

// workAhead works what stands by itself on as many cores as there are.
func (f *frame) workAhead(ctx context.Context, fit *mixed.Result) error {
	f.ahead = ahead{}
	if !fit.Ending.Usable() {
		return nil
	}
	// Beside the frame, which some of the work copies.
	a := &ahead{}
	defer func() { f.ahead = *a }()
	var work []func() error
	if len(f.levels) > 1 {
		work = append(work, func() (err error) { a.null, err = fit.Without(f.factorTerms()...); return err })
	}
	if f.asksOverTime(fit) && !f.withTime() {
		a.wide = f.bandsApart() // here, since it copies the frame
		work = append(work, func() (err error) { a.apart, err = a.wide.fitFrom(fit, true); return err })
	}
	if f.checksLaplace(fit) {
		work = append(work, func() error { a.laplace, a.told = lookAtLaplace(fit), true; return nil })
	}
	if !f.o.NoRepeat && len(f.levels) > 1 {
		for i := range 2 {
			work = append(work, func() error { a.toward[i] = f.towardLost(fit, i == 1); return nil })
		}
	}
	return sideBySide(ctx, work)
}

// sideBySide does all the work at once and gives its errors in order.
func sideBySide(ctx context.Context, work []func() error) error {
	errs := make([]error, len(work))
	var wait sync.WaitGroup
	for i := range work {
		wait.Go(func() { errs[i] = work[i]() })
	}
	wait.Wait()
	return errors.Join(append(errs, ctx.Err())...)
}

// without is the model without the factor.
func (f *frame) without(fit *mixed.Result) (*mixed.Result, error) {
	if f.ahead.null != nil {
		return f.ahead.null, nil
	}
	return fit.Without(f.factorTerms()...)
}

// checkLaplaceRows bounds the check of Laplace's approximation, whose cost is
// the number of spans times the nodes to the power of the levels. What it finds
// rests on the baits of a group, not on the number of groups.
const checkLaplaceRows = 2500

func (f *frame) checksLaplace(fit *mixed.Result) bool {
	return !f.repeated && f.o.Quadrature <= 1 && fit.Ending.Usable() && len(f.random) > 0 && len(f.rows) <= checkLaplaceRows
}

// laplaceNotice is what lookAtLaplace says, where that is asked for, looked up once.
func (f *frame) laplaceNotice(fit *mixed.Result) *mixed.Notice {
	if !f.ahead.told && f.checksLaplace(fit) {
		f.ahead.laplace, f.ahead.told = lookAtLaplace(fit), true
	}
	return f.ahead.laplace
}

// lookAtLaplace compares Laplace's approximation with quadrature: first with
// three nodes, of a few sites and then of more, and where that moves anything, with nine.
func lookAtLaplace(fit *mixed.Result) *mixed.Notice {
	if fit.LaplaceClose(0.1) {
		return nil
	}
	if shift, _ := fit.LaplaceShift(3); shift < 0.1 {
		return nil
	}
	_, n := fit.LaplaceShift(9)
	return n
}

// fitFrom fits the frame, a model around that of another fit, from there; quick leaves out
// the covariance.
func (f *frame) fitFrom(fit *mixed.Result, quick bool) (*mixed.Result, error) {
	data, err := f.data()
	if err != nil {
		return nil, err
	}
	o := f.modelOptions()
	o.NoSeparated, o.From, o.Starts, o.LikelihoodOnly = true, fit, 2, quick
	return mixed.Fit(data, o)
}
