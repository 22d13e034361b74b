package task

import (
	"context"
	"os"
	"path/filepath"

	"soakline/internal/compare"
	"soakline/internal/fitness"
	"soakline/internal/report"
	"soakline/internal/words"
)

// CloserRefits is how many seasons are refitted for the test of extra variation
// unless something else is asked for.
const CloserRefits = 199

// Closer takes a closer look at how a comparison goes with the season's rows: k
// is what Compare gave with the same options.
func (s *Season) Closer(ctx context.Context, o compare.Options, k *compare.Result, fo fitness.Options) (*fitness.Result, error) {
	r, err := s.lookCloser(ctx, o, fo)
	o.Protocols, o.Default, o.Findings = s.Protocols, s.Settings.Protocol, s.Findings
	if err != nil || k == nil || !k.Converged || len(k.Levels) < 2 {
		return r, err
	}
	variants, err := compare.WithoutSites(ctx, s.Deployments, o)
	if err != nil {
		return nil, err
	}
	r.LeaveOut(k, variants)
	return r, nil
}

// CloserRepeated is Closer with every repetition of Sensitivity, which it gives beside
// the look: with lost baits survived and consumed, without open questions, and without
// each site in turn.
func (s *Season) CloserRepeated(ctx context.Context, o compare.Options, k *compare.Result, fo fitness.Options) (*fitness.Result, []compare.Variant, error) {
	r, err := s.lookCloser(ctx, o, fo)
	if err != nil || k == nil || !k.Converged || len(k.Levels) < 2 {
		return r, nil, err
	}
	variants, err := s.Sensitivity(ctx, o)
	if err != nil {
		return nil, nil, err
	}
	r.LeaveOut(k, variants)
	return r, variants, nil
}

// lookCloser is Closer without leaving out sites.
func (s *Season) lookCloser(ctx context.Context, o compare.Options, fo fitness.Options) (*fitness.Result, error) {
	o.Protocols, o.Default, o.Findings = s.Protocols, s.Settings.Protocol, s.Findings
	return fitness.Look(ctx, s.Deployments, o, fo)
}

// quickCloserSeasons are simulated for the quick closer look.
const quickCloserSeasons = 199

// CloserQuick is a closer look that takes no longer than an answer: fewer
// seasons, none refitted, no site left out.
func (s *Season) CloserQuick(ctx context.Context, o compare.Options) (*fitness.Result, error) {
	return s.lookCloser(ctx, o, fitness.Options{Seasons: quickCloserSeasons, Seed: o.Seed, Workers: o.Workers})
}

// WriteCloser writes a closer look's drawings as SVG, PNG and PDF and its numbers
// as CSV files with their dictionary into a folder that is new or empty.
func WriteCloser(ctx context.Context, s *Season, folder string, l words.Language, r *fitness.Result) error {
	if err := EmptyFolder(folder); err != nil {
		return err
	}
	files, err := report.CloserFigures(l, r, report.LastSetOut(s.Deployments))
	if err != nil {
		return err
	}
	tables := report.CloserTables(r)
	for _, t := range append(tables, report.Dictionary(l, tables)) {
		text, err := report.CSV(t)
		if err != nil {
			return err
		}
		files = append(files, report.Figure{Name: t.Name + ".csv", Data: text})
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := report.WriteBeside(filepath.Join(folder, f.Name), f.Data); err != nil {
			return err
		}
	}
	return nil
}
