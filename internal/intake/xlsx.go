package intake

import (
	"bytes"
	"path"
	"strconv"
	"strings"
)

// XLSX (ISO/IEC 29500) is read by our own scanner rather than by excelize: its
// reader gives texts without their kind unless the whole sheet is held, and
// fills the empty cells before a far one before it can be stopped. The tests
// read what excelize writes.

func (k *book) openXLSX() error {
	wb := "xl/workbook.xml"
	if k.parts["_rels/.rels"] != nil {
		err := k.walk("_rels/.rels", func(s *scanner, ev event) error {
			if typ, _ := s.attr("Type"); ev == start && strings.HasSuffix(typ, "/officeDocument") {
				wb, _ = s.attr("Target")
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	wb = partName(wb)
	sheets, texts, styles, err := k.relations(wb)
	if err != nil {
		return err
	}
	if err := k.listSheets(wb, sheets); err != nil {
		return err
	}
	if err := k.readStyles(styles); err != nil {
		return err
	}
	return k.readShared(texts)
}

// relations reads which parts a workbook points to: sheets by identifier, the
// table of texts, the styles.
func (k *book) relations(wb string) (sheets map[string]string, texts, styles string, err error) {
	sheets = map[string]string{}
	err = k.walk(path.Dir(wb)+"/_rels/"+path.Base(wb)+".rels", func(s *scanner, ev event) error {
		if ev != start || string(s.name) != "Relationship" {
			return nil
		}
		id, _ := s.attr("Id")
		typ, _ := s.attr("Type")
		to, _ := s.attr("Target")
		if strings.HasPrefix(to, "/") {
			to = partName(to)
		} else {
			to = partName(path.Join(path.Dir(wb), to))
		}
		switch path.Base(typ) {
		case "worksheet":
			sheets[id] = to
		case "sharedStrings":
			texts = to
		case "styles":
			styles = to
		}
		return nil
	})
	return sheets, texts, styles, err
}

// listSheets reads the sheets in their order, and the date system.
func (k *book) listSheets(wb string, parts map[string]string) error {
	return k.walk(wb, func(s *scanner, ev event) error {
		if ev != start {
			return nil
		}
		switch string(s.name) {
		case "workbookPr":
			v, _ := s.attr("date1904")
			k.date1904 = v == "1" || v == "true"
		case "sheet":
			name, _ := s.attr("name")
			id, _ := s.attr("id")
			state, _ := s.attr("state")
			if parts[id] != "" {
				k.sheets = append(k.sheets, sheetPart{name, parts[id], state == "hidden" || state == "veryHidden"})
			}
			if len(k.sheets) > k.budget.Sheets {
				return tooMuch{slug: "intake.too-many-sheets", most: k.budget.Sheets}
			}
		}
		return nil
	})
}

// readShared reads the table of texts that the cells point into.
func (k *book) readShared(part string) error {
	k.shared = &strs{}
	if part == "" || k.parts[part] == nil {
		return nil
	}
	// Once and for all: growing would cost several times as much.
	k.shared.text = make([]byte, 0, min(k.parts[part].UncompressedSize64, uint64(k.budget.TextBytes)))
	depth, phonetic := 0, 0
	var one []byte
	return k.walk(part, func(s *scanner, ev event) error {
		switch name := string(s.name); {
		case ev == chars:
			if depth > 0 && phonetic == 0 {
				one = append(one, s.text...)
				if len(one) > 6*k.budget.CellBytes {
					return tooMuch{slug: "intake.cell-too-long", most: k.budget.CellBytes}
				}
			}
		case name == "t" && ev == start:
			depth++
		case name == "t":
			depth--
		case name == "rPh" && ev == start:
			phonetic++
		case name == "rPh":
			phonetic--
		case name == "si" && ev == start:
			one = one[:0]
		case name == "si":
			if len(k.shared.ends) >= k.budget.Cells || len(k.shared.text)+len(one) > k.budget.TextBytes {
				return tooMuch{slug: "intake.too-much-text", most: k.budget.TextBytes >> 20}
			}
			k.shared.text = append(k.shared.text, unescapeX(one)...)
			k.shared.ends = append(k.shared.ends, uint32(len(k.shared.text)))
		}
		return nil
	})
}

// unescapeX resolves _x000D_, by which XLSX writes letters XML cannot hold.
func unescapeX(b []byte) []byte {
	if !bytes.Contains(b, []byte("_x")) {
		return b
	}
	var out []byte
	for i := 0; i < len(b); i++ {
		if i+7 <= len(b) && b[i] == '_' && b[i+1] == 'x' && b[i+6] == '_' {
			if n, err := strconv.ParseUint(string(b[i+2:i+6]), 16, 16); err == nil {
				if n == 0 {
					n = ' '
				}
				out = append(out, string(rune(n))...)
				i += 6
				continue
			}
		}
		out = append(out, b[i])
	}
	return out
}

// readStyles notes which cell styles show dates.
func (k *book) readStyles(part string) error {
	if part == "" || k.parts[part] == nil {
		return nil
	}
	custom := map[int]Kind{}
	inCells := false
	return k.walk(part, func(s *scanner, ev event) error {
		switch name := string(s.name); {
		case ev == chars:
		case name == "cellXfs":
			inCells = ev == start
		case ev == start && name == "numFmt":
			id, _ := s.attr("numFmtId")
			code, _ := s.attr("formatCode")
			if n, err := strconv.Atoi(id); err == nil && len(custom) < 10_000 {
				custom[n] = dateFormat(code)
			}
		case ev == start && name == "xf" && inCells:
			id, _ := s.attr("numFmtId")
			n, _ := strconv.Atoi(id)
			kind, ok := custom[n]
			if !ok {
				kind = builtinDate(n)
			}
			if len(k.dates) < 100_000 {
				k.dates = append(k.dates, kind)
			}
		}
		return nil
	})
}

// builtinDate is the kind of the number formats that need no definition:
// ISO/IEC 29500-1, 18.8.30 (numFmt), with the East Asian ones.
func builtinDate(id int) Kind {
	switch {
	case id == 22:
		return Moment
	case id >= 14 && id <= 17, id >= 27 && id <= 31, id == 36, id >= 50 && id <= 58:
		return Day
	case id >= 18 && id <= 21, id >= 32 && id <= 35, id >= 45 && id <= 47:
		return Clock
	}
	return Number
}

// dateFormat judges a format of the user's own by its letters outside quotes,
// brackets and escapes: y and d make a date, h and s a time.
func dateFormat(code string) Kind {
	code = strings.ToLower(code)
	day, clock, m := false, false, false
	for i := 0; i < len(code); i++ {
		switch c := code[i]; c {
		case '"':
			n := strings.IndexByte(code[i+1:], '"')
			if n < 0 {
				i = len(code)
			} else {
				i += n + 1
			}
		case '\\', '_', '*':
			i++
		case '[':
			n := strings.IndexByte(code[i:], ']')
			if n < 0 {
				i = len(code)
				break
			}
			if in := strings.Trim(code[i+1:i+n], "hms"); in == "" && n > 1 {
				clock = true
			}
			i += n
		case ';':
			i = len(code)
		case 'y', 'd':
			day = true
		case 'h', 's':
			clock = true
		case 'm':
			m = true
		case 'g':
			if strings.HasPrefix(code[i:], "general") {
				i += len("general") - 1
			}
		}
	}
	switch {
	case day && clock:
		return Moment
	case clock:
		return Clock
	case day, m:
		return Day
	}
	return Number
}

// cellRef reads "AB12" into a column from 0 and a line from 1; a missing or
// broken reference gives -1, the next cell.
func cellRef(ref string) (col, line int) {
	i := 0
	for i < len(ref) && i < 4 && (ref[i] >= 'A' && ref[i] <= 'Z' || ref[i] >= 'a' && ref[i] <= 'z') {
		col = col*26 + int(ref[i]&^0x20-'A') + 1
		i++
	}
	line, err := strconv.Atoi(ref[i:])
	if err != nil || i == 0 || line < 1 {
		return -1, -1
	}
	return col - 1, line
}
