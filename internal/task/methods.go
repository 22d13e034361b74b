package task

import (
	"context"
	"os"
	"path/filepath"

	"soakline/internal/compare"
	"soakline/internal/fitness"
	"soakline/internal/methods"
	"soakline/internal/rates"
	"soakline/internal/report"
	"soakline/internal/words"
)

// PaperOptions say how a comparison is written up for a paper.
type PaperOptions struct {
	Lang    words.Language
	Version string
	Asked   compare.Options // what the comparison was asked to do
	Closer  *fitness.Result // the closer look that was taken; nil for none
}

// EmptyFolder refuses a folder that holds files, before long work.
func EmptyFolder(folder string) error {
	if list, err := os.ReadDir(folder); err == nil && len(list) > 0 {
		return refuse("folder-full", "folder", folder)
	}
	return nil
}

// WritePaper writes into a new or empty folder what a paper needs of a
// comparison that was made: the methods section, references, tables, and the
// frame with a script for R that fits it again. It gives the names of the files.
func WritePaper(ctx context.Context, s *Season, result *compare.Result, variants []compare.Variant, o PaperOptions, folder string) ([]string, error) {
	if err := EmptyFolder(folder); err != nil {
		return nil, err
	}
	files, err := PaperFiles(ctx, s, result, variants, o)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return nil, err
	}
	var names []string
	for _, f := range files {
		if err := report.WriteBeside(filepath.Join(folder, f.Name), f.Data); err != nil {
			return nil, err
		}
		names = append(names, f.Name)
	}
	return names, nil
}

// PaperFiles are the files of WritePaper.
func PaperFiles(ctx context.Context, s *Season, result *compare.Result, variants []compare.Variant, o PaperOptions) ([]report.File, error) {
	group := rates.ByHabitat
	if result.By == "site" {
		group = rates.BySite
	}
	r, err := s.Rates(ctx, rates.Options{Level: result.ConfLevel, Group: group, Seed: result.Seed})
	if err != nil {
		return nil, err
	}
	r.InWords(o.Lang)
	in := s.told(o.Lang, o.Version)
	in.Rates, in.Compare, in.Variants, in.Conf, in.Closer = r, result, variants, result.ConfLevel, o.Closer
	files, err := report.Paper(*in)
	if err != nil {
		return nil, err
	}
	asked := o.Asked
	asked.Protocols, asked.Default, asked.Findings = s.Protocols, s.Settings.Protocol, s.Findings
	refit, err := compare.ForRefit(ctx, s.Deployments, asked)
	if err != nil {
		return nil, err
	}
	frame, err := methods.FrameCSV(refit)
	if err != nil {
		return nil, err
	}
	return append(files, report.File{Name: methods.FrameName, Data: frame}, report.File{Name: "model.R", Data: methods.ModelR(refit, in.Title, in.Invented, planLine(result)...)}), nil
}

// planLine is the line of a script's head that names the plan behind a result.
func planLine(k *compare.Result) []string {
	if !k.Plan.Has() {
		return nil
	}
	return []string{k.Plan.Head(words.English) + " SHA-256 " + k.Plan.SHA256}
}

// told is what every written result tells of the season it comes from.
func (s *Season) told(l words.Language, version string) *report.Input {
	in := &report.Input{Withdrawn: s.Withdrawn, Taken: s.Taken}
	in.Input = methods.Input{
		Lang: l, Title: s.Settings.Title, Version: version, Invented: s.Settings.Invented, Deployments: s.Deployments, Findings: s.tellable(),
		Protocols: s.Protocols, Usual: s.usual(), UsualName: s.Settings.Protocol, Sources: s.Sources, Hash: s.Hash(),
	}
	if in.Title == "" {
		in.Title = l.Say("task.report-title", nil)
	}
	return in
}

// Sensitivity repeats a comparison with something changed; see compare.Sensitivity.
func (s *Season) Sensitivity(ctx context.Context, o compare.Options) ([]compare.Variant, error) {
	o.Protocols, o.Default, o.Findings = s.Protocols, s.Settings.Protocol, s.Findings
	return compare.Sensitivity(ctx, s.Deployments, o)
}
