package intake

import (
	"bytes"

	"soakline/internal/assay"
)

// separators in the order in which an even score is settled.
var separators = []byte{',', ';', '\t', '|'}

// quoteLines is the most lines one quoted cell may hold; a longer one is a
// quote that was never closed and would swallow the file.
const quoteLines = 200

// readCSV splits decoded text into a grid. Cells may be quoted as in RFC 4180,
// with line breaks inside; a line that begins with # is a comment and comes
// back beside the grid. A quote inside an unquoted cell is an ordinary letter.
func readCSV(file string, text []byte, b *budget) (*grid, byte, []comment, *Fault) {
	sep, skip := directive(text)
	if sep == 0 {
		sep = chooseSeparator(text)
	}
	return readCSVSep(file, text, sep, b, skip)
}

// readCSVSep reads with the separator given, from byte skip on.
func readCSVSep(file string, text []byte, sep byte, b *budget, skip int) (*grid, byte, []comment, *Fault) {
	hash := hashIsData(text, sep)
	g := &grid{limits: b}
	var comments []comment
	p := splitter{text: text[skip:], sep: sep, line: 1 + lineBreaks(text[:skip])}
	for len(p.text) > 0 {
		if p.text[0] == '#' && !hash && !(len(p.text) > 1 && p.text[1] == sep) {
			line := p.rest()
			comments = append(comments, comment{p.line - 1, string(trimCell(line[1:]))})
			continue
		}
		at := p.line
		if err := g.begin(at); err != nil {
			return nil, sep, nil, limitFault(file, "", err)
		}
		for more := true; more; {
			var cell []byte
			var ok bool
			cell, more, ok = p.cell()
			if !ok {
				return nil, sep, nil, &Fault{Place: assay.Place{File: file, Line: p.quoteLine}, Wrong: said("intake.quote-open"), Do: said("intake.quote-close")}
			}
			if err := g.add(cell, Text); err != nil {
				return nil, sep, nil, limitFault(file, "", err)
			}
		}
		g.end()
	}
	g.close()
	return g, sep, comments, nil
}

// comment is a line that begins with #.
type comment struct {
	line int
	text string
}

// splitter cuts text into cells.
type splitter struct {
	text      []byte
	sep       byte
	line      int // of the next byte
	quoteLine int // where the quote being read was opened
	buf       []byte
}

// rest takes everything to the end of the line.
func (p *splitter) rest() []byte {
	end := bytes.IndexAny(p.text, "\r\n")
	if end < 0 {
		end = len(p.text)
	}
	line := p.text[:end]
	p.text = p.text[end:]
	p.newline()
	return line
}

// newline steps over one line break: LF, CR LF or CR.
func (p *splitter) newline() {
	if len(p.text) == 0 {
		p.line++
		return
	}
	n := 1
	if p.text[0] == '\r' && len(p.text) > 1 && p.text[1] == '\n' {
		n = 2
	}
	p.text = p.text[n:]
	p.line++
}

// cell reads one cell and what ends it; more is false at the end of the line.
// It is not ok when a quote stays open.
func (p *splitter) cell() (cell []byte, more, ok bool) {
	at := 0
	for at < len(p.text) && p.text[at] == ' ' {
		at++
	}
	if at < len(p.text) && p.text[at] == '"' {
		return p.quoted(at)
	}
	for i, c := range p.text {
		if c == p.sep {
			cell, p.text = p.text[:i], p.text[i+1:]
			return cell, true, true
		}
		if c == '\n' || c == '\r' {
			cell, p.text = p.text[:i], p.text[i:]
			p.newline()
			return cell, false, true
		}
	}
	cell, p.text = p.text, nil
	return cell, false, true
}

func (p *splitter) quoted(at int) (cell []byte, more, ok bool) {
	p.quoteLine = p.line
	p.buf = p.buf[:0]
	i := at + 1
	for {
		n := bytes.IndexByte(p.text[i:], '"')
		if n < 0 {
			return nil, false, false
		}
		part := p.text[i : i+n]
		if p.line += lineBreaks(part); p.line-p.quoteLine > quoteLines {
			return nil, false, false
		}
		p.buf = append(p.buf, part...)
		i += n + 1
		if i < len(p.text) && p.text[i] == '"' {
			p.buf = append(p.buf, '"')
			i++
			continue
		}
		break
	}
	// What stands between the closing quote and the separator belongs to the
	// cell: spreadsheets write it so when a quote was not doubled.
	p.text = p.text[i:]
	kept := p.buf
	tail, more, ok := p.unquoted()
	return append(kept, tail...), more, ok
}

func (p *splitter) unquoted() ([]byte, bool, bool) {
	for i, c := range p.text {
		if c == p.sep {
			tail := p.text[:i]
			p.text = p.text[i+1:]
			return tail, true, true
		}
		if c == '\n' || c == '\r' {
			tail := p.text[:i]
			p.text = p.text[i:]
			p.newline()
			return tail, false, true
		}
	}
	tail := p.text
	p.text = nil
	return tail, false, true
}

func lineBreaks(b []byte) int {
	n := bytes.Count(b, []byte{'\n'})
	for i, c := range b {
		if c == '\r' && (i+1 == len(b) || b[i+1] != '\n') {
			n++
		}
	}
	return n
}

// directive reads a first line "sep=;", which some spreadsheet programs write.
func directive(text []byte) (sep byte, skip int) {
	if len(text) >= 5 && bytes.EqualFold(text[:4], []byte("sep=")) && (len(text) == 5 || text[5] == '\n' || text[5] == '\r') {
		skip = 5
		for skip < len(text) && skip < 7 && (text[skip] == '\n' || text[skip] == '\r') {
			skip++
			if text[skip-1] == '\n' {
				break
			}
		}
		return text[4], skip
	}
	return 0, 0
}

// chooseSeparator takes the separator that cuts the first lines into the most
// columns most evenly: with decimal commas the comma cuts too, but into fewer.
func chooseSeparator(text []byte) byte {
	head := text[:min(len(text), 64<<10)]
	best, bestScore := byte(','), -1.0
	for _, sep := range separators {
		counts := map[int]int{}
		lines := 0
		p := splitter{text: head, sep: sep}
		for len(p.text) > 0 && lines < 100 {
			if p.text[0] == '#' {
				p.rest()
				continue
			}
			n := 0
			filled := false
			for more := true; more; {
				var cell []byte
				var ok bool
				cell, more, ok = p.cell()
				if !ok {
					p.text, more = nil, false
				}
				filled = filled || len(trimCell(cell)) > 0
				n++
			}
			if filled {
				counts[n]++
				lines++
			}
		}
		// Sorted by width so that the sum is the same on every run.
		score := 0.0
		for width, n := range counts {
			if s := float64(n) * float64(width-1) * float64(n) / float64(max(lines, 1)); s > score {
				score = s
			}
		}
		if score > bestScore {
			best, bestScore = sep, score
		}
	}
	return best
}

// hashIsData says whether lines beginning with # are data: identifiers such as
// #1 down most of the file.
func hashIsData(text []byte, sep byte) bool {
	lines, hash := 0, 0
	for _, l := range bytes.SplitN(text[:min(len(text), 64<<10)], []byte{'\n'}, 200) {
		l = trimCell(l)
		if len(l) == 0 {
			continue
		}
		lines++
		if len(l) > 1 && l[0] == '#' && l[1] >= '0' && l[1] <= '9' && bytes.IndexByte(l, sep) > 0 {
			hash++
		}
	}
	return hash*2 > lines && hash > 1
}
