package publish

import (
	"context"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/methods"
)

// fitRows is the most rows for which the model is fitted when publishing.
const fitRows = 20000

// fit fits the model that model.R fits again, on exactly the published rows.
func (r *release) fit(ctx context.Context) error {
	var ds []assay.Deployment
	err := r.each(func(d row) error {
		one := *d.Deployment
		one.Key = d.Event // rows of several teams may share a deployment_id
		ds = append(ds, one)
		return nil
	})
	if err != nil {
		return err
	}
	o := compare.Options{Seed: 1, Protocols: r.in.Protocols, Default: r.in.Usual}
	if len(r.keep) > fitRows {
		r.say("no-fit", "n", fitRows)
	}
	if r.in.NoFit || len(r.keep) > fitRows {
		r.fitted, err = compare.FrameOnly(ds, o)
		return err
	}
	r.fitted, err = compare.ForRefit(ctx, ds, o)
	return err
}

// model writes the script that fits the published comparison again, and the
// frame that it reads.
func (w *writer) model() error {
	r := w.r
	if err := r.fit(w.ctx); err != nil {
		return err
	}
	frame, err := methods.FrameCSV(r.fitted)
	if err != nil {
		return err
	}
	if err := w.bytes(methods.FrameName, frame); err != nil {
		return err
	}
	return w.bytes("model.R", methods.ModelR(r.fitted, clean(r.m.Title), r.in.Invented))
}
