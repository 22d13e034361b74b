package intake

import (
	"strconv"

	"soakline/internal/pattern"
)

// openODS reads all sheets of an OpenDocument spreadsheet (OASIS ODF 1.3,
// part 3, section 9) in one pass: they stand in one part of the archive.
func (k *book) openODS() error {
	r := odsReader{k: k}
	err := k.walk("content.xml", r.event)
	for _, g := range k.grids {
		g.close()
	}
	return err
}

// odsReader reads one table. Repeated cells and lines are written out only when
// they are filled: office programs pad a sheet with a million empty ones.
type odsReader struct {
	k               *book
	g               *grid // nil outside a table
	row, rowRepeat  int
	col, colRepeat  int
	kind            Kind
	fixed           bool // the value stands in an attribute, not in the text
	value           []byte
	inCell, covered bool
	paragraphs      int
	note            int
	cells           []odsCell
}

type odsCell struct {
	col  int
	text string
	kind Kind
}

func (r *odsReader) event(s *scanner, ev event) error {
	name := string(s.name)
	if ev != chars && name == "table" {
		return r.table(s, ev)
	}
	if r.g == nil {
		return nil
	}
	switch {
	case ev == chars:
		if r.inCell && r.paragraphs > 0 && r.note == 0 && !r.fixed {
			if r.value = append(r.value, s.text...); len(r.value) > 6*r.g.limits.CellBytes {
				return tooMuch{"intake.cell-too-long", r.g.limits.CellBytes, r.row + 1}
			}
		}
	case name == "table-row" && ev == start:
		r.rowRepeat, r.col, r.cells = repeat(s, "number-rows-repeated"), 0, r.cells[:0]
	case name == "table-row":
		return r.endRow()
	case name == "table-cell" || name == "covered-table-cell":
		if ev == start {
			r.startCell(s, name == "covered-table-cell")
			return nil
		}
		return r.endCell()
	case name == "annotation":
		if ev == start {
			r.note++
		} else {
			r.note--
		}
	case name == "p" && ev == start && r.inCell && r.note == 0:
		if r.paragraphs++; r.paragraphs > 1 && !r.fixed {
			r.value = append(r.value, '\n')
		}
	case (name == "s" || name == "tab" || name == "line-break") && ev == start && r.inCell && !r.fixed:
		r.value = append(r.value, ' ')
	}
	return nil
}

func (r *odsReader) table(s *scanner, ev event) error {
	if r.g = nil; ev == end {
		return nil
	}
	name, _ := s.attr("name")
	if len(r.k.grids) >= r.k.budget.Sheets {
		return tooMuch{slug: "intake.too-many-sheets", most: r.k.budget.Sheets}
	}
	r.g, r.row, r.inCell = &grid{limits: r.k.budget}, 0, false
	r.k.sheets = append(r.k.sheets, sheetPart{name: name})
	r.k.grids = append(r.k.grids, r.g)
	return nil
}

func repeat(s *scanner, name string) int {
	v, ok := s.attr(name)
	if !ok {
		return 1
	}
	n, err := strconv.Atoi(v)
	if err != nil || n < 1 {
		return 1
	}
	return n
}

func (r *odsReader) startCell(s *scanner, covered bool) {
	r.inCell, r.covered, r.fixed = true, covered, false
	r.colRepeat, r.kind, r.value, r.paragraphs = repeat(s, "number-columns-repeated"), Text, r.value[:0], 0
	wide, _ := s.attr("number-columns-spanned")
	high, _ := s.attr("number-rows-spanned")
	if w, h := atLeast1(wide), atLeast1(high); w*h > 1 && len(r.g.merged) < 10_000 {
		r.g.merged = append(r.g.merged, span{r.col, r.row + 1, r.col + w - 1, r.row + h})
	}
	typ, _ := s.attr("value-type")
	switch typ {
	case "float", "percentage", "currency":
		v, _ := s.attr("value")
		if f, err := strconv.ParseFloat(v, 64); err == nil {
			r.fixed, r.kind, r.value = true, Number, append(r.value, numberText(f)...)
		}
	case "date":
		v, _ := s.attr("date-value")
		text, kind := isoCell([]byte(v))
		r.fixed, r.kind, r.value = true, kind, append(r.value, text...)
	case "time":
		v, _ := s.attr("time-value")
		if sec, ok := isoSpan(v); ok {
			r.fixed, r.kind, r.value = true, Clock, append(r.value, clockText(sec)...)
		}
	case "boolean":
		v, _ := s.attr("boolean-value")
		r.fixed, r.value = true, append(r.value, v...)
	}
}

func atLeast1(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 || n > 1<<20 {
		return 1
	}
	return n
}

var spanPattern = pattern.New(`^PT(\d{1,4})H(\d{1,2})M(\d{1,2})(?:[.,]\d+)?S$`)

// isoSpan reads the duration by which ODF writes a time of day, PT09H05M00S.
func isoSpan(s string) (int, bool) {
	m := spanPattern.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	n := 0
	for i, unit := range []int{3600, 60, 1} {
		v, _ := strconv.Atoi(m[i+1])
		n += v * unit
	}
	return n, true
}

func (r *odsReader) endCell() error {
	if !r.inCell {
		return nil // a tag out of place
	}
	r.inCell = false
	if len(trimCell(r.value)) == 0 || r.covered {
		r.col += min(r.colRepeat, 1<<20)
		return nil
	}
	for range r.colRepeat {
		if r.col >= r.g.limits.Columns {
			return tooMuch{"intake.too-many-columns", r.g.limits.Columns, r.row + 1}
		}
		r.cells = append(r.cells, odsCell{r.col, string(r.value), r.kind})
		r.col++
	}
	return nil
}

func (r *odsReader) endRow() error {
	if len(r.cells) == 0 {
		r.row += min(r.rowRepeat, 1<<21)
		return nil
	}
	for range r.rowRepeat {
		r.row++
		if err := r.g.begin(r.row); err != nil {
			return err
		}
		at := 0
		for _, c := range r.cells {
			for ; at < c.col; at++ {
				if err := r.g.add(nil, Text); err != nil {
					return err
				}
			}
			if err := r.g.add([]byte(c.text), c.kind); err != nil {
				return err
			}
			at++
		}
		r.g.end()
	}
	return nil
}
