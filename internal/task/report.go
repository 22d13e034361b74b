package task

import (
	"context"
	"os"
	"path/filepath"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/fitness"
	"soakline/internal/leaf"
	"soakline/internal/rates"
	"soakline/internal/report"
	"soakline/internal/words"
)

// ReportOptions say what a report tells.
type ReportOptions struct {
	Lang      words.Language
	Version   string
	Title     string    // empty for the logbook's, or a plain one
	Size      leaf.Size // of paper, of what is PDF; A4 where it is left out
	Wall      string    // where to write the result on one page for a wall; empty for nowhere
	By        string
	Level     float64
	Bootstrap int // −1: 999 where there are fewer than 30 sites, else none
	// BootstrapAuto stops simulating as soon as it is settled on which side of the
	// level every p lies.
	BootstrapAuto bool
	Seed          uint64
	// Asked is how the comparison is set otherwise: link, covariates and so on.
	Asked    compare.Options
	Progress func(done, of int)
	// Way is the way of working that the water's part asks for, empty for any of the
	// protocol; MarginM what weather may move the water by, 0.2 where it is left out.
	Way     string
	MarginM assay.Maybe[float64]
}

// reportReplicates is how many seasons a report simulates where sites are few.
const (
	reportReplicates = 999
	reportFewSites   = 30
)

// Report writes a season's report as one HTML file.
func Report(ctx context.Context, s *Season, o ReportOptions) ([]byte, error) {
	in, err := ReportInput(ctx, s, o)
	if err != nil {
		return nil, err
	}
	return report.Page(*in)
}

// ReportInput computes everything a report tells.
func ReportInput(ctx context.Context, s *Season, o ReportOptions) (*report.Input, error) {
	if o.By == "" {
		o.By = "habitat"
	}
	if o.Level == 0 {
		o.Level = 0.95
	}
	sea, err := s.reportWater(o)
	if err != nil {
		return nil, err
	}
	s = s.Outward().Unnamed() // a report is there to be passed on
	group := rates.ByHabitat
	if o.By == "site" {
		group = rates.BySite
	}
	r, err := s.Rates(ctx, rates.Options{Level: o.Level, Group: group, Seed: o.Seed})
	if err != nil {
		return nil, err
	}
	r.InWords(o.Lang)
	ko := o.Asked
	ko.By, ko.Level, ko.Seed, ko.Bootstrap, ko.Progress = o.By, o.Level, o.Seed, o.Bootstrap, o.Progress
	ko.BootstrapAuto = o.BootstrapAuto
	if o.Bootstrap < 0 && !o.BootstrapAuto {
		ko.Bootstrap = 0
		if s.sites() < reportFewSites {
			ko.Bootstrap = reportReplicates
		}
	}
	refits := min(ko.Bootstrap, CloserRefits)
	if o.BootstrapAuto {
		refits = CloserRefits
	}
	in := s.told(o.Lang, o.Version)
	in.Rates, in.Conf, in.Water = r, o.Level, sea
	if o.Title != "" {
		in.Title = o.Title
	}
	if r.Flow.Analysed == 0 {
		return in, nil
	}
	if in.Compare, err = s.Compare(ctx, ko); err != nil {
		return nil, err
	}
	if in.Closer, err = s.lookCloser(ctx, ko, fitness.Options{Refits: refits, Seed: ko.Seed, Progress: ko.Progress}); err != nil {
		return nil, err
	}
	if in.Compare.Converged {
		if in.Variants, err = s.Sensitivity(ctx, ko); err != nil {
			return nil, err
		}
		in.Closer.LeaveOut(in.Compare, in.Variants)
	}
	s.Stand(ko, in.Compare, Beside{Repeats: in.Compare.Converged, Closer: true})
	return in, nil
}

// reportFile is a report in the kind that the file's name ends in.
func reportFile(in report.Input, o ReportOptions, out string) ([]byte, error) {
	if strings.EqualFold(filepath.Ext(out), ".pdf") {
		return ReportPDF(in, o.size())
	}
	return report.Page(in)
}

// ReportPDF writes a report as PDF for paper.
func ReportPDF(in report.Input, size leaf.Size) ([]byte, error) {
	b, err := report.PDF(in, size)
	return b, paperRefusal(err)
}

// WallPDF writes the result on one page for a wall.
func WallPDF(in report.Input, size leaf.Size) ([]byte, error) {
	b, err := report.Wall(in, size)
	return b, paperRefusal(err)
}

func (o ReportOptions) size() leaf.Size {
	if o.Size.W == 0 {
		return leaf.A4
	}
	return o.Size
}

// WriteReport writes a report as one file, PDF where its name ends in .pdf,
// else HTML, and where figures names a
// folder, each of its drawings there as SVG, PNG and PDF. The report takes the
// place of an earlier one; a folder must be new or empty.
func WriteReport(ctx context.Context, s *Season, o ReportOptions, out, figures string) error {
	if figures != "" {
		if list, err := os.ReadDir(figures); err == nil && len(list) > 0 {
			return refuse("folder-full", "folder", figures)
		}
	}
	in, err := ReportInput(ctx, s, o)
	if err != nil {
		return err
	}
	page, err := reportFile(*in, o, out)
	if err != nil {
		return err
	}
	var wall []byte
	if o.Wall != "" {
		if wall, err = WallPDF(*in, o.size()); err != nil {
			return err
		}
	}
	if figures != "" {
		files, err := report.Figures(*in)
		if err != nil {
			return err
		}
		if err := os.MkdirAll(figures, 0o755); err != nil {
			return err
		}
		for _, f := range files {
			if err := report.WriteBeside(filepath.Join(figures, f.Name), f.Data); err != nil {
				return err
			}
		}
	}
	if o.Wall != "" {
		if err := report.WriteBeside(o.Wall, wall); err != nil {
			return err
		}
	}
	return report.WriteBeside(out, page)
}

// sites counts the sites of the season's rows.
func (s *Season) sites() int {
	seen := map[string]bool{}
	for i := range s.Deployments {
		seen[s.Deployments[i].Site] = true
	}
	return len(seen)
}

// WriteTidy writes results as tidy tables with their dictionary: a workbook for
// a name that ends in .xlsx, CSV files in a .zip, or for .csv the first table,
// with the dictionary in a file beside it. Nothing that is there is overwritten.
// The season's tide, light and loggers go with them; nil leaves them out.
func WriteTidy(ctx context.Context, path string, l words.Language, s *Season, r *rates.Result, k *compare.Result) error {
	tables := append(report.Tidy(r, k), s.Conditions()...)
	files := map[string][]byte{}
	var err error
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case ".xlsx":
		files[path], err = report.XLSX(l, tables)
	case ".zip":
		files[path], err = report.ZIP(l, tables)
	case ".csv":
		for i, t := range append(tables, report.Dictionary(l, tables)) {
			name := path
			if i > 0 {
				name = strings.TrimSuffix(path, filepath.Ext(path)) + "-" + t.Name + ".csv"
			}
			if files[name], err = report.CSV(t); err != nil {
				return err
			}
		}
	default:
		return refuse("out-kind", "file", path, "kinds", []string{".xlsx", ".csv", ".zip"})
	}
	if err != nil {
		return err
	}
	for name := range files {
		if _, err := os.Lstat(name); err == nil {
			return refuse("out-there", "file", name)
		}
	}
	for name, data := range files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := report.WriteBeside(name, data); err != nil {
			return err
		}
	}
	return nil
}
