package publish

import (
	"io"
	"strconv"

	"github.com/xuri/excelize/v2"

	"soakline/internal/sheet"
)

// workbookRows is the most rows of stakes for which the workbook is written:
// beyond it a spreadsheet program is of no use, and memory is.
const workbookRows = 20000

// The first sheet and its first line, by which a workbook of ours is known.
const dictionarySheet = "dictionary"

var dictionaryHead = []string{"table", "column", "type", "unit", "values", "meaning"}

// workbook writes all tables into one workbook, the dictionary first. Texts
// stand in cells typed as text, so that none is ever run as a formula.
func (w *writer) workbook() error {
	if len(w.r.keep) > workbookRows {
		return nil
	}
	f := excelize.NewFile()
	defer f.Close()
	tables := w.r.resources()
	if err := f.SetSheetName("Sheet1", dictionarySheet); err != nil {
		return err
	}
	dictionary := [][]any{texts(dictionaryHead)}
	for _, t := range tables {
		dictionary = append(dictionary, []any{t.name, "", "", "", "", t.about})
		for _, c := range t.fields {
			dictionary = append(dictionary, []any{t.name, c.name, c.kind, c.unit, list(c.words), c.about})
		}
	}
	err := fill(f, dictionarySheet, func(write func([]any) error) error {
		for _, line := range dictionary {
			if err := write(line); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, t := range tables {
		if _, err := f.NewSheet(t.name); err != nil {
			return err
		}
		err := fill(f, t.name, func(write func([]any) error) error {
			if err := write(texts(t.header())); err != nil {
				return err
			}
			return t.each(w.stopping(func(cells []string) error { return write(typed(t, cells)) }))
		})
		if err != nil {
			return err
		}
	}
	b, err := sheet.WorkbookBytes(f)
	if err != nil {
		return err
	}
	return w.file("tables.xlsx", func(to io.Writer) error { _, err := to.Write(b); return err })
}

func list(words []string) string {
	s := ""
	for i, w := range words {
		if i > 0 {
			s += ", "
		}
		s += w
	}
	return s
}

func texts(cells []string) []any {
	out := make([]any, len(cells))
	for i, c := range cells {
		out[i] = c
	}
	return out
}

// typed gives numbers as numbers where the number reads back as the same text
// (spreadsheets keep 15 digits), and everything else as text.
func typed(t resource, cells []string) []any {
	out := make([]any, len(cells))
	for i, c := range cells {
		out[i] = c
		if c == "" {
			out[i] = nil
			continue
		}
		if k := t.fields[i].kind; k == "number" || k == "integer" {
			if x, err := strconv.ParseFloat(c, 64); err == nil && len(c) <= 15 && strconv.FormatFloat(x, 'f', -1, 64) == c {
				out[i] = x
			}
		}
	}
	return out
}

func fill(f *excelize.File, name string, do func(func([]any) error) error) error {
	s, err := f.NewStreamWriter(name)
	if err != nil {
		return err
	}
	n := 0
	err = do(func(cells []any) error {
		n++
		at, err := excelize.CoordinatesToCellName(1, n)
		if err != nil {
			return err
		}
		return s.SetRow(at, cells)
	})
	if err != nil {
		return err
	}
	return s.Flush()
}
