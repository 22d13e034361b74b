package report

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"math"
	"sort"
	"strconv"
	"time"

	"github.com/xuri/excelize/v2"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/rates"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

// Table is one tidy table: one observation a line, one value a cell.
type Table struct {
	Name    string
	Columns []TableColumn
	Lines   [][]any // string, int, float64 or nil for missing
}

// TableColumn is one column of a tidy table; its meaning stands in the catalogue
// under "tidy." and its name.
type TableColumn struct{ Name, Unit string }

// Tidy puts results into tables; r or k may be nil.
func Tidy(r *rates.Result, k *compare.Result) []Table {
	var out []Table
	if r != nil {
		out = append(out, tidyChecks(r), tidyRows(r))
		if len(r.Groups) > 0 {
			out = append(out, tidyCurves(r))
		}
	}
	if k != nil {
		out = append(out, tidyMeans(k), tidyContrasts(k), tidyTerms(k))
	}
	return out
}

func value(m assay.Maybe[float64]) any {
	x, ok := m.Get()
	if !ok || math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return x
}

func columns(names ...string) []TableColumn {
	units := map[string]string{"soak_h": "h", "from_h": "h", "to_h": "h", "rate_per_h": "1/h", "rate_lower_per_h": "1/h", "rate_upper_per_h": "1/h", "rate_typical_per_h": "1/h", "median_h": "h",
		"tide_height_m": "m", "tide_range_m": "m", "tide_lowest_m": "m", "tide_from_high_h": "h", "sun_altitude_deg": "°", "logger_gap_h": "h",
		"logger_temperature_c": "°C", "logger_temperature_min_c": "°C", "logger_temperature_max_c": "°C"}
	var out []TableColumn
	for _, n := range names {
		out = append(out, TableColumn{n, units[n]})
	}
	return out
}

func tidyChecks(r *rates.Result) Table {
	t := Table{Name: "checks", Columns: columns("deployment_id", "site", "habitat", "check", "soak_h", "baits_deployed", "at_risk", "consumed", "consumed_in_interval", "lost",
		"proportion", "lower", "upper", "proportion_if_lost_survived", "proportion_if_lost_consumed")}
	for _, d := range r.Deployments {
		for _, c := range d.Checks {
			t.Lines = append(t.Lines, []any{d.DeploymentID, d.Site, d.Habitat, c.Check, c.SoakH, d.Baits, c.AtRisk, c.Consumed, c.ConsumedInInterval, c.Lost,
				value(c.Proportion), value(c.Lower), value(c.Upper), c.IfLostSurvived, c.IfLostConsumed})
		}
	}
	return t
}

func tidyRows(r *rates.Result) Table {
	t := Table{Name: "deployments", Columns: columns("deployment_id", "site", "habitat", "baits_deployed", "rate_per_h", "rate_lower_per_h", "rate_upper_per_h", "median_h")}
	for _, d := range r.Deployments {
		t.Lines = append(t.Lines, []any{d.DeploymentID, d.Site, d.Habitat, d.Baits, value(d.RatePerH.Estimate), value(d.RatePerH.Lower), value(d.RatePerH.Upper), value(d.MedianH.Estimate)})
	}
	return t
}

func tidyCurves(r *rates.Result) Table {
	t := Table{Name: "curves", Columns: columns("group", "from_h", "to_h", "survival", "lower", "upper")}
	for _, g := range r.Groups {
		for _, s := range g.Survival {
			t.Lines = append(t.Lines, []any{g.Group, s.FromH, s.ToH, s.Survival, value(s.Lower), value(s.Upper)})
		}
	}
	return t
}

func tidyMeans(k *compare.Result) Table {
	t := Table{Name: "means", Columns: columns("level", "soak_h", "proportion", "lower", "upper", "proportion_typical", "rate_typical_per_h", "lower_t", "upper_t", "df")}
	for _, m := range k.Means {
		t.Lines = append(t.Lines, []any{m.Level, m.SoakH, value(m.Proportion), value(m.Lower), value(m.Upper), value(m.ProportionTypical), value(m.RateTypicalPerH),
			value(m.LowerT), value(m.UpperT), value(m.DF)})
	}
	return t
}

func tidyContrasts(k *compare.Result) Table {
	t := Table{Name: "contrasts", Columns: columns("a", "b", "rate_ratio", "odds_ratio", "lower", "upper", "lower_simultaneous", "upper_simultaneous", "p", "p_adjusted", "p_bootstrap", "p_bootstrap_adjusted", "lower_bootstrap", "upper_bootstrap",
		"lower_t", "upper_t", "df")}
	for _, c := range k.Contrasts {
		t.Lines = append(t.Lines, []any{c.A, c.B, value(c.RateRatio), value(c.OddsRatio), value(c.Lower), value(c.Upper), value(c.LowerSimultaneous), value(c.UpperSimultaneous),
			value(c.P), value(c.PAdjusted), value(c.PBootstrap), value(c.PBootstrapAdjusted), value(c.LowerBootstrap), value(c.UpperBootstrap),
			value(c.LowerT), value(c.UpperT), value(c.DF)})
	}
	return t
}

func tidyTerms(k *compare.Result) Table {
	t := Table{Name: "terms", Columns: columns("term", "estimate", "se", "z", "p", "lower", "upper", "bound", "shrunk")}
	for _, f := range k.Fixed {
		t.Lines = append(t.Lines, []any{f.Term, value(f.Estimate), value(f.SE), value(f.Z), value(f.P), value(f.Lower), value(f.Upper), string(f.Bound), value(f.Shrunk)})
	}
	return t
}

// dictionary explains every column of every table.
func dictionary(l words.Language, tables []Table) Table {
	d := Table{Name: "dictionary", Columns: columns("table", "column", "unit", "meaning")}
	for _, t := range tables {
		for _, c := range t.Columns {
			d.Lines = append(d.Lines, []any{t.Name, c.Name, c.Unit, l.Say("tidy."+c.Name, nil)})
		}
	}
	return d
}

// XLSX writes tables as a workbook, the dictionary first, text in text cells
// and numbers in number cells.
func XLSX(l words.Language, tables []Table) ([]byte, error) {
	f := excelize.NewFile()
	defer f.Close()
	all := append([]Table{dictionary(l, tables)}, tables...)
	for i, t := range all {
		if i == 0 {
			if err := f.SetSheetName("Sheet1", t.Name); err != nil {
				return nil, err
			}
		} else if _, err := f.NewSheet(t.Name); err != nil {
			return nil, err
		}
		w, err := f.NewStreamWriter(t.Name)
		if err != nil {
			return nil, err
		}
		if err := w.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
			return nil, err
		}
		head := make([]any, len(t.Columns))
		for c, col := range t.Columns {
			head[c] = col.Name
		}
		if err := w.SetRow("A1", head); err != nil {
			return nil, err
		}
		for n, line := range t.Lines {
			if err := w.SetRow("A"+strconv.Itoa(n+2), line); err != nil {
				return nil, err
			}
		}
		if err := w.Flush(); err != nil {
			return nil, err
		}
	}
	if err := f.SetDocProps(&excelize.DocProperties{Creator: "Soakline"}); err != nil {
		return nil, err
	}
	return sheet.WorkbookBytes(f)
}

// CSV writes a table for a spreadsheet program: text that such a program would
// take for a formula is guarded by an apostrophe; numbers never are.
func CSV(t Table) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	head := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		head[i] = c.Name
	}
	if err := w.Write(head); err != nil {
		return nil, err
	}
	for _, line := range t.Lines {
		cells := make([]string, len(line))
		for i, v := range line {
			cells[i] = cell(v)
		}
		if err := w.Write(cells); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

func cell(v any) string {
	switch x := v.(type) {
	case nil:
		return ""
	case int:
		return strconv.Itoa(x)
	case float64:
		return strconv.FormatFloat(x, 'g', 10, 64)
	case string:
		if x != "" && (x[0] == '=' || x[0] == '+' || x[0] == '-' || x[0] == '@' || x[0] == '\t' || x[0] == '\r') {
			return "'" + x
		}
		return x
	}
	return ""
}

// Pack puts files into one archive; the same files give the same bytes.
func Pack(files []File) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		w, err := z.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Deflate, Modified: time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(f.Data); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil { // the list of files stands at the end
		return nil, err
	}
	return b.Bytes(), nil
}

// ZIP packs tables as CSV files with their dictionary; the same tables give the
// same bytes.
func ZIP(l words.Language, tables []Table) ([]byte, error) {
	all := append([]Table{dictionary(l, tables)}, tables...)
	sort.SliceStable(all, func(i, j int) bool { return all[i].Name < all[j].Name })
	files := make([]File, len(all))
	for i, t := range all {
		text, err := CSV(t)
		if err != nil {
			return nil, err
		}
		files[i] = File{t.Name + ".csv", text}
	}
	return Pack(files)
}

// Dictionary of tables, in a language.
func Dictionary(l words.Language, tables []Table) Table { return dictionary(l, tables) }
