package intake

import (
	"bytes"
	"errors"
	"strings"

	"soakline/internal/assay"
)

// Tables reads a file of any kind into its tables. name is told in messages
// only; what the file is, its first bytes say. With a fault there are no
// tables: a file is read whole or not at all.
func Tables(name string, data []byte, o Options) ([]Table, []Fault) {
	lim := o.limits()
	b := &budget{Limits: lim}
	refuse := func(wrong, do assay.Said) ([]Table, []Fault) {
		return nil, []Fault{{Place: assay.Place{File: name}, Wrong: wrong, Do: do}}
	}
	switch {
	case len(data) > lim.FileBytes:
		return refuse(said("intake.file-too-large", "mb", len(data)>>20, "most", lim.FileBytes>>20), said("intake.split-file"))
	case len(bytes.TrimSpace(data)) == 0:
		return refuse(said("intake.file-empty"), said("intake.check-file"))
	}
	if what := foreign(data); what != "" {
		return refuse(said("intake."+what), said("intake."+what+"-do"))
	}
	if bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("PK\x05\x06")) {
		return workbook(name, data, b)
	}
	text, notices, fault := decode(name, data, o)
	if fault != nil {
		return nil, []Fault{*fault}
	}
	g, sep, comments, fault := readCSV(name, text, b)
	if fault != nil {
		return nil, []Fault{*fault}
	}
	t := Table{File: name, Separator: sep, g: g, Notices: notices}
	for _, c := range comments {
		if k, v, ok := keyValue(c.text); ok {
			t.Meta = append(t.Meta, Pair{Key: k, Value: v, Line: c.line})
		}
	}
	if !t.findHeader() {
		return refuse(said("intake.no-table"), said("intake.no-table-do"))
	}
	if f := t.abreast(); f != nil {
		return nil, []Fault{*f}
	}
	return []Table{t}, nil
}

// foreign names a kind of file that is known and not read; empty else.
func foreign(data []byte) string {
	head := data[:min(len(data), 1024)]
	low := bytes.ToLower(bytes.TrimSpace(head))
	switch {
	case bytes.HasPrefix(data, []byte{0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1}):
		if bytes.Contains(data, utf16Text("EncryptedPackage")) {
			return "locked"
		}
		return "old-xls"
	case bytes.HasPrefix(head, []byte("%PDF")):
		return "pdf"
	case bytes.HasPrefix(low, []byte("<html")), bytes.HasPrefix(low, []byte("<!doctype html")), bytes.HasPrefix(low, []byte("<table")):
		return "html"
	case bytes.HasPrefix(head, []byte("SQLite format 3\x00")):
		return "database"
	case bytes.HasPrefix(head, []byte("\x89PNG")), bytes.HasPrefix(head, []byte{0xFF, 0xD8, 0xFF}):
		return "picture"
	}
	return ""
}

func utf16Text(s string) []byte {
	b := make([]byte, 0, 2*len(s))
	for i := range len(s) {
		b = append(b, s[i], 0)
	}
	return b
}

// workbook reads XLSX or ODS and makes a table of every sheet that holds one;
// a sheet of keys and values is added to every table.
func workbook(name string, data []byte, b *budget) ([]Table, []Fault) {
	book, err := openBook(data, b)
	if err != nil {
		return nil, []Fault{*limitFault(name, "", err)}
	}
	var tables []Table
	var meta []Pair
	var notices []Notice
	var faults []Fault
	for i, s := range book.sheets {
		g, err := book.read(i, b)
		if err != nil {
			return nil, []Fault{*limitFault(name, s.name, err)}
		}
		if len(g.lines) == 0 {
			continue
		}
		if s.hidden {
			notices = append(notices, Notice{assay.Place{File: name, Sheet: s.name}, said("intake.hidden-sheet", "sheet", s.name)})
			continue
		}
		if pairs, ok := pairsOf(g); ok {
			for _, p := range pairs {
				p.Sheet = s.name
				meta = append(meta, p)
			}
			notices = append(notices, Notice{assay.Place{File: name, Sheet: s.name}, said("intake.meta-sheet", "sheet", s.name, "n", len(pairs))})
			continue
		}
		t := Table{File: name, Sheet: s.name, g: g, Date1904: book.date1904, Workbook: true}
		if !t.findHeader() {
			notices = append(notices, Notice{assay.Place{File: name, Sheet: s.name}, said("intake.no-table-sheet", "sheet", s.name)})
			continue
		}
		if f := t.abreast(); f != nil {
			faults = append(faults, *f)
		}
		tables = append(tables, t)
	}
	if len(faults) > 0 {
		return nil, faults
	}
	if len(tables) == 0 {
		return nil, []Fault{{Place: assay.Place{File: name}, Wrong: said("intake.no-table"), Do: said("intake.no-table-do")}}
	}
	for i := range tables {
		tables[i].Meta = append(tables[i].Meta, meta...)
	}
	tables[0].Notices = append(notices, tables[0].Notices...)
	return tables, nil
}

// limitFault turns what stopped a reader into words.
func limitFault(file, sheet string, err error) *Fault {
	f := &Fault{Place: assay.Place{File: file, Sheet: sheet}}
	var much tooMuch
	switch {
	case errors.As(err, &much):
		f.Line = much.at
		f.Wrong, f.Do = said(much.slug, "most", much.most), said("intake.split-file")
	case errors.Is(err, errDocType):
		f.Wrong, f.Do = said("intake.doctype"), said("intake.save-again")
	case errors.Is(err, errRunTooLong):
		f.Wrong, f.Do = said("intake.run-too-long"), said("intake.save-again")
	case errors.Is(err, errNotBook):
		f.Wrong, f.Do = said("intake.not-a-workbook"), said("intake.not-a-workbook-do")
	case errors.Is(err, errXLSB):
		f.Wrong, f.Do = said("intake.old-xls"), said("intake.old-xls-do")
	default:
		f.Wrong, f.Do = said("intake.damaged", "why", strings.TrimPrefix(err.Error(), "zip: ")), said("intake.save-again")
	}
	return f
}
