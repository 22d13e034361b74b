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
	var err error
	ds := r.asPublished()
	o := compare.Options{Seed: 1, Protocols: r.in.Protocols, Default: r.in.Usual}
	if r.in.NoFit || len(r.keep) > fitRows {
		r.fitted, err = compare.FrameOnly(ds, o)
		return err
	}
	r.fitted, err = compare.ForRefit(ctx, ds, o)
	return err
}

// asPublished are all published rows at once, as the model takes them: by their
// event, since rows of several teams may share a deployment_id. Who read a check
// is not told. Where the season may be used up they take its place, so that this
// is the last look at it; nothing is said of findings after that either.
func (r *release) asPublished() []assay.Deployment {
	var ds []assay.Deployment
	if r.in.Spend {
		r.in.Findings, r.said = nil, nil
		ds = r.in.Deployments[:len(r.keep)] // a row is never before its own place
	} else {
		ds = make([]assay.Deployment, len(r.keep))
	}
	for k, i := range r.keep {
		checks := r.in.Deployments[i].Checks
		d := r.row(k)
		ds[k] = *d.Deployment
		ds[k].Key, ds[k].Checks = d.Event, checks
	}
	if r.in.Spend {
		clear(r.in.Deployments[len(ds):])
	}
	return ds
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
	return w.bytes("model.R", methods.ModelR(r.fitted, clean(r.m.Title), r.in.Invented, r.planTexts()...))
}
