package intake

import (
	"strconv"
	"strings"
)

// xlsxSheet reads one worksheet in a single pass. Only filled cells count: a
// sheet painted to its last column is no larger than what stands in it.
func (k *book) xlsxSheet(s sheetPart, b *budget) (*grid, error) {
	r := sheetReader{k: k, g: &grid{limits: b}, col: -1}
	err := k.walk(s.part, r.event)
	if err == nil {
		err = r.flush()
	}
	if err != nil {
		return nil, err
	}
	r.g.close()
	return r.g, nil
}

type sheetReader struct {
	k      *book
	g      *grid
	row    int // line number being read
	col    int // column being read
	typ    string
	style  int
	value  []byte
	take   int // depth inside an element whose text is the value
	inCell bool
	mute   int      // depth inside a phonetic run
	cells  [][]byte // of the line being read, kept for the next
	kinds  []Kind
	width  int
}

func (r *sheetReader) event(s *scanner, ev event) error {
	if ev == chars {
		if r.inCell && r.take > 0 && r.mute == 0 {
			if r.value = append(r.value, s.text...); len(r.value) > 6*r.g.limits.CellBytes {
				return tooMuch{"intake.cell-too-long", r.g.limits.CellBytes, r.row}
			}
		}
		return nil
	}
	switch string(s.name) {
	case "row":
		return r.startRow(s, ev)
	case "c":
		if ev == start {
			return r.startCell(s)
		}
		if !r.inCell || r.col < 0 {
			return nil // a tag out of place
		}
		r.inCell = false
		return r.keep()
	case "v", "t":
		if ev == start {
			r.take++
		} else {
			r.take--
		}
	case "rPh":
		if ev == start {
			r.mute++
		} else {
			r.mute--
		}
	case "mergeCell":
		if ref, ok := s.attr("ref"); ok && ev == start && len(r.g.merged) < 10_000 {
			from, to, _ := strings.Cut(ref, ":")
			c1, l1 := cellRef(from)
			c2, l2 := cellRef(to)
			if c1 >= 0 && c2 >= c1 && l2 >= l1 {
				r.g.merged = append(r.g.merged, span{c1, l1, c2, l2})
			}
		}
	}
	return nil
}

func (r *sheetReader) startRow(s *scanner, ev event) error {
	if err := r.flush(); err != nil || ev == end {
		return err
	}
	r.inCell = false
	r.row++
	if v, ok := s.attr("r"); ok {
		if n, err := strconv.Atoi(v); err == nil && n >= 1 {
			r.row = n
		}
	}
	r.col = -1
	return nil
}

func (r *sheetReader) startCell(s *scanner) error {
	r.inCell, r.value, r.take, r.mute = true, r.value[:0], 0, 0
	r.typ, _ = s.attr("t")
	r.style = -1
	if v, ok := s.attr("s"); ok {
		r.style, _ = strconv.Atoi(v)
	}
	r.col++
	if v, ok := s.attr("r"); ok {
		if col, line := cellRef(v); col >= 0 {
			r.col = col
			if line != r.row {
				// A cell that names another line than it stands in.
				if err := r.flush(); err != nil {
					return err
				}
				r.row = line
			}
		}
	}
	return nil
}

// keep puts the cell just read into its line.
func (r *sheetReader) keep() error {
	text, kind := r.value, Text
	switch r.typ {
	case "s":
		n, err := strconv.Atoi(string(text))
		if err != nil {
			return nil
		}
		if text, _ = r.k.shared.at(n); len(text) > r.g.limits.CellBytes {
			return tooMuch{"intake.cell-too-long", r.g.limits.CellBytes, r.row}
		}
	case "str", "inlineStr":
		text = unescapeX(text)
	case "e": // an error of a formula, as #N/A: kept as written
	case "b":
		text = []byte(map[bool]string{true: "true", false: "false"}[string(text) == "1"])
	case "d":
		text, kind = isoCell(text)
	default:
		text, kind = r.number(text)
	}
	if len(trimCell(text)) == 0 {
		return nil
	}
	if r.col >= r.g.limits.Columns {
		return tooMuch{"intake.too-many-columns", r.g.limits.Columns, r.row}
	}
	for len(r.cells) <= r.col {
		r.cells, r.kinds = append(r.cells, nil), append(r.kinds, Text)
	}
	for r.width <= r.col {
		r.cells[r.width], r.kinds[r.width] = r.cells[r.width][:0], Text
		r.width++
	}
	r.cells[r.col], r.kinds[r.col] = append(r.cells[r.col][:0], text...), kind
	return nil
}

func (r *sheetReader) number(raw []byte) ([]byte, Kind) {
	if wholeNumber(raw) && (r.style < 0 || r.style >= len(r.k.dates) || r.k.dates[r.style] == Number) {
		return raw, Number
	}
	v, err := strconv.ParseFloat(string(trimCell(raw)), 64)
	if err != nil {
		return raw, Text
	}
	if r.style >= 0 && r.style < len(r.k.dates) {
		if kind := r.k.dates[r.style]; kind != Number {
			if text, k, ok := serialText(v, r.k.date1904, kind); ok {
				return []byte(text), k
			}
		}
	}
	return numberText(v), Number
}

// wholeNumber says whether raw is digits that need no rewriting.
func wholeNumber(raw []byte) bool {
	if len(raw) == 0 || len(raw) > 15 || raw[0] == '0' && len(raw) > 1 {
		return false
	}
	for _, c := range raw {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

// numberText writes a cell's number as its 15 digits: the file holds binary
// noise such as 36.951200000000003, which would pass for thirteen decimals.
func numberText(v float64) []byte {
	s := strconv.FormatFloat(v, 'g', 15, 64)
	if strings.Contains(s, "e") {
		if w, err := strconv.ParseFloat(s, 64); err == nil {
			s = strconv.FormatFloat(w, 'f', -1, 64)
			if len(s) > 40 {
				s = strconv.FormatFloat(w, 'g', 15, 64)
			}
		}
		return []byte(s)
	}
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return []byte(s)
}

// flush writes the line being read into the grid.
func (r *sheetReader) flush() error {
	if r.width == 0 {
		return nil
	}
	if err := r.g.begin(r.row); err != nil {
		return err
	}
	for c := range r.width {
		if err := r.g.add(r.cells[c], r.kinds[c]); err != nil {
			return err
		}
	}
	r.g.end()
	r.width = 0
	return nil
}
