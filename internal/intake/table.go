package intake

import (
	"soakline/internal/assay"
)

// Fault is a cell or a file that cannot be read.
type Fault = assay.FileError

// Notice is something done or seen while reading that a person should know but
// need not mend.
type Notice struct {
	assay.Place
	assay.Said
}

func said(slug string, with ...any) assay.Said {
	s := assay.Said{Slug: slug}
	for i := 0; i+1 < len(with); i += 2 {
		if s.With == nil {
			s.With = map[string]any{}
		}
		s.With[with[i].(string)] = with[i+1]
	}
	return s
}

// Heading is the head of one column: the line that names it, and the line
// above where there are two ("24 h check" over "lost"); Unit is a line below
// that holds only units.
type Heading struct {
	Over, Text, Unit string
}

// String is the heading as told to a person.
func (h Heading) String() string {
	switch {
	case h.Over != "" && h.Text != "":
		return h.Over + " / " + h.Text
	case h.Over != "":
		return h.Over
	}
	return h.Text
}

// Pair is one entry of a block of keys and values beside the table.
type Pair struct {
	Key, Value string
	Kind       Kind
	Line       int
	Sheet      string // where it stands on a sheet of its own
}

// Table is one table of cells with its header.
type Table struct {
	File, Sheet string
	Header      []Heading
	HeaderLine  int    // line number of the line that names the columns
	Meta        []Pair // from title lines, comments and a sheet of its own
	Notices     []Notice
	Separator   byte // of a text file, else 0
	Date1904    bool // dates of this workbook count from 1904
	Workbook    bool // cells carry their kind

	tall bool // some data cells are merged over several lines
	g    *grid
	data []int // indices of g's lines that hold data
}

// Len is the number of data lines.
func (t *Table) Len() int { return len(t.data) }

// Line is the line number of data line i as an editor or spreadsheet counts.
func (t *Table) Line(i int) int { return int(t.g.lines[t.data[i]].number) }

// Cell is the text of data line i in column col, outer blanks taken off, and
// its kind; empty beyond the end of a short line. A cell merged over several
// lines of a workbook has its text on each.
func (t *Table) Cell(i, col int) (string, Kind) {
	s, k := t.g.cell(t.data[i], col)
	if s == "" && t.tall {
		return t.g.mergedDown(t.data[i], col)
	}
	return s, k
}

// Place is where that cell stands.
func (t *Table) Place(i, col int) assay.Place {
	p := assay.Place{File: t.File, Sheet: t.Sheet}
	if i >= 0 {
		p.Line = t.Line(i)
	}
	if col >= 0 && col < len(t.Header) {
		p.Column = t.Header[col].String()
		if p.Column == "" {
			p.Column = columnLetters(col)
		}
	}
	return p
}

// columnLetters names a column without a heading as spreadsheets do: A, B, AA.
func columnLetters(col int) string {
	s := ""
	for col++; col > 0; col = (col - 1) / 26 {
		s = string(rune('A'+(col-1)%26)) + s
	}
	return s
}
