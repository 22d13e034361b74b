package intake

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Kind is what a cell is by itself, before anyone says what its column means.
type Kind uint8

// The kinds. A text file has only Text; a workbook marks numbers and dates.
const (
	Text   Kind = iota
	Number      // a decimal number, decimal point, at most 15 significant digits
	Moment      // local date and time, 2026-07-01T09:00:00
	Day         // a date, 2026-07-01
	Clock       // a time of day or a span, 09:00:00 (hours may pass 24)
)

// grid is the filled cells of one sheet, line by line. Texts stand in blocks of
// about a megabyte that the cells share: a cell costs four bytes and its text.
type grid struct {
	lines  []lineRef
	blocks []block
	merged []span

	limits  *budget
	maxLine int

	text  []byte
	ends  []uint32
	kinds []Kind
	typed bool
	open  bool
}

type lineRef struct {
	block, first, number uint32
	cells                uint16
}

type block struct {
	text  string
	ends  []uint32
	kinds []Kind // nil when all are Text
}

// span is a merged range of cells, columns and line numbers inclusive, from 0
// and from 1.
type span struct{ col1, line1, col2, line2 int }

// budget counts what is left of the limits over all sheets of a file.
type budget struct {
	Limits
	cells, bytes int
}

const (
	blockBytes = 1 << 20
	blockLines = 4096
)

func (g *grid) begin(number int) error {
	if number > g.limits.Lines {
		return tooMuch{"intake.too-many-lines", g.limits.Lines, number}
	}
	g.lines = append(g.lines, lineRef{block: uint32(len(g.blocks)), first: uint32(len(g.ends)), number: uint32(number)})
	g.maxLine = max(g.maxLine, number)
	g.open = true
	return nil
}

// add appends a cell to the line begun last; outer blanks go.
func (g *grid) add(text []byte, k Kind) error {
	l := &g.lines[len(g.lines)-1]
	text = trimCell(text)
	if int(l.cells) >= g.limits.Columns {
		if len(text) == 0 {
			return nil
		}
		return tooMuch{"intake.too-many-columns", g.limits.Columns, int(l.number)}
	}
	if len(text) > g.limits.CellBytes {
		return tooMuch{"intake.cell-too-long", g.limits.CellBytes, int(l.number)}
	}
	g.limits.cells++
	g.limits.bytes += len(text)
	if g.limits.cells > g.limits.Cells {
		return tooMuch{"intake.too-many-cells", g.limits.Cells, int(l.number)}
	}
	if g.limits.bytes > g.limits.TextBytes {
		return tooMuch{"intake.too-much-text", g.limits.TextBytes >> 20, int(l.number)}
	}
	if utf8.Valid(text) {
		g.text = append(g.text, text...)
	} else {
		g.text = append(g.text, strings.ToValidUTF8(string(text), "\uFFFD")...)
	}
	g.ends = append(g.ends, uint32(len(g.text)))
	g.kinds = append(g.kinds, k)
	g.typed = g.typed || k != Text
	l.cells++
	return nil
}

// end closes the line: empty cells at its end go, and an empty line goes whole.
func (g *grid) end() {
	l := &g.lines[len(g.lines)-1]
	for l.cells > 0 && g.width(len(g.ends)-1) == 0 {
		g.ends, g.kinds = g.ends[:len(g.ends)-1], g.kinds[:len(g.kinds)-1]
		l.cells--
	}
	g.open = false
	if l.cells == 0 {
		g.lines = g.lines[:len(g.lines)-1]
	}
	if len(g.text) >= blockBytes || len(g.ends) >= 16*blockLines {
		g.flush()
	}
}

func (g *grid) width(cell int) int {
	if cell == 0 {
		return int(g.ends[0])
	}
	return int(g.ends[cell] - g.ends[cell-1])
}

func (g *grid) flush() {
	if len(g.ends) == 0 {
		return
	}
	b := block{text: string(g.text), ends: append([]uint32(nil), g.ends...)}
	if g.typed {
		b.kinds = append([]Kind(nil), g.kinds...)
	}
	g.blocks = append(g.blocks, b)
	g.text, g.ends, g.kinds, g.typed = g.text[:0], g.ends[:0], g.kinds[:0], false
}

// close ends reading; the buffers go.
func (g *grid) close() {
	g.flush()
	g.text, g.ends, g.kinds = nil, nil, nil
}

func (g *grid) cell(i, col int) (string, Kind) {
	l := g.lines[i]
	if col < 0 || col >= int(l.cells) {
		return "", Text
	}
	b := &g.blocks[l.block]
	at := int(l.first) + col
	from := uint32(0)
	if at > 0 {
		from = b.ends[at-1]
	}
	k := Text
	if b.kinds != nil {
		k = b.kinds[at]
	}
	return b.text[from:b.ends[at]], k
}

// mergedDown gives an empty cell the text of the merged cell it belongs to.
func (g *grid) mergedDown(i, col int) (string, Kind) {
	number := int(g.lines[i].number)
	for _, m := range g.merged {
		if m.line2 > m.line1 && number > m.line1 && number <= m.line2 && col >= m.col1 && col <= m.col2 {
			for up := i - 1; up >= 0 && int(g.lines[up].number) >= m.line1; up-- {
				if int(g.lines[up].number) == m.line1 {
					return g.cell(up, m.col1)
				}
			}
		}
	}
	return "", Text
}

func (g *grid) filled(i int) int {
	n := 0
	for c := range int(g.lines[i].cells) {
		if s, _ := g.cell(i, c); s != "" {
			n++
		}
	}
	return n
}

// trimCell takes blanks, no-break and zero-width spaces off both ends.
func trimCell(b []byte) []byte {
	for len(b) > 0 {
		r, n := utf8.DecodeRune(b)
		if !blankRune(r) {
			break
		}
		b = b[n:]
	}
	for len(b) > 0 {
		r, n := utf8.DecodeLastRune(b)
		if !blankRune(r) {
			break
		}
		b = b[:len(b)-n]
	}
	return b
}

func blankRune(r rune) bool {
	return unicode.IsSpace(r) || r == '\u200b' || r == '\ufeff' || r == '\u2060'
}

// tooMuch is a limit that a file passes.
type tooMuch struct {
	slug     string
	most, at int
}

func (t tooMuch) Error() string { return t.slug }
