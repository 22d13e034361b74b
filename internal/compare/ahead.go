package compare

import (
	"context"
	"errors"
	"sync"

	"soakline/internal/assay"
	"soakline/internal/mixed"
)

// ahead is what was worked side by side.
type ahead struct {
	null, apart *mixed.Result
	wide        *frame
	laplace     *mixed.Notice
	told        bool      // whether Laplace was checked already
	lost        []*Result // with every lost bait survived, and consumed
}

// workAhead works what stands by itself on as many cores as there are.
func (f *frame) workAhead(ctx context.Context, ds []assay.Deployment, fit *mixed.Result) error {
	f.ahead = ahead{}
	if !fit.Ending.Usable() {
		return nil
	}
	a := &f.ahead
	var work []func() error
	if len(f.levels) > 1 {
		work = append(work, func() (err error) { a.null, err = fit.Without(f.factorTerms()...); return err })
	}
	if f.asksOverTime(fit) && !f.withTime() {
		a.wide = f.bandsApart() // here, since it copies the frame
		work = append(work, func() (err error) { a.apart, err = a.wide.fitFrom(fit); return err })
	}
	if f.checksLaplace(fit) {
		work = append(work, func() error { a.laplace = f.laplaceNotice(fit); return nil })
	}
	if !f.o.NoRepeat && len(f.levels) > 1 {
		work = append(work, f.lostAhead(ctx, ds, fit)...)
	}
	errs := make([]error, len(work))
	var wait sync.WaitGroup
	for i := range work {
		wait.Add(1)
		go func() {
			defer wait.Done()
			errs[i] = work[i]()
		}()
	}
	wait.Wait()
	return errors.Join(append(errs, ctx.Err())...)
}

// lostAhead are the repetitions with every lost bait survived and consumed; none where
// nothing was lost.
func (f *frame) lostAhead(ctx context.Context, ds []assay.Deployment, fit *mixed.Result) (work []func() error) {
	o := f.o
	o.NoRepeat, o.Bootstrap, o.BootstrapAuto = true, 0, false
	for i := range 2 {
		changed, any := lostTo(ds, o, i == 1)
		if !any {
			return nil // the first finds that nothing was lost
		}
		f.ahead.lost = append(f.ahead.lost, nil)
		work = append(work, func() (err error) { f.ahead.lost[i], err = once(ctx, changed, o, fit); return err })
	}
	return work
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

// laplaceNotice compares Laplace's approximation with quadrature: first with
// three nodes, and where that moves anything, with nine.
func (f *frame) laplaceNotice(fit *mixed.Result) *mixed.Notice {
	if f.ahead.told || !f.checksLaplace(fit) {
		return f.ahead.laplace
	}
	f.ahead.told = true
	if shift, _ := fit.LaplaceShift(3); shift < 0.1 {
		return nil
	}
	_, n := fit.LaplaceShift(9)
	return n
}

// fitFrom fits the frame, a model around that of another fit, from there.
func (f *frame) fitFrom(fit *mixed.Result) (*mixed.Result, error) {
	data, err := f.data()
	if err != nil {
		return nil, err
	}
	o := f.modelOptions()
	o.NoSeparated, o.From, o.Starts = true, fit, 2
	return mixed.Fit(data, o)
}
