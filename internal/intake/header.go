package intake

import (
	"slices"
	"strings"
	"unicode"

	"soakline/internal/assay"
	"soakline/internal/pattern"
)

// headerWithin is how many filled lines from the top may hold the header.
const headerWithin = 40

// findHeader finds the line that names the columns, reads what stands above it
// as title lines and pairs, and leaves out totals below. It is false when the
// cells hold no table of at least two columns.
func (t *Table) findHeader() bool {
	at, score := -1, 0.0
	for i := 0; i < min(len(t.g.lines), headerWithin); i++ {
		if s := t.headerScore(i); s > score {
			at, score = i, s
		}
	}
	if at < 0 {
		return false
	}
	over, unit := -1, -1
	if t.isUnder(at+1, at) {
		over, at = at, at+1
	}
	first := at + 1
	if over < 0 && at > 0 && t.isOver(at-1, at) {
		over = at - 1
	}
	if first < len(t.g.lines) && t.isUnits(first, at) {
		unit = first
		first++
	}
	t.HeaderLine = int(t.g.lines[at].number)
	t.Header = t.headings(over, at, unit)
	top := at
	if over >= 0 {
		top = over
	}
	for i := range top {
		if k, v, kind, ok := t.pairAt(i); ok {
			t.Meta = append(t.Meta, Pair{Key: k, Value: v, Kind: kind, Line: int(t.g.lines[i].number)})
		}
	}
	if top > 0 {
		t.notice(int(t.g.lines[top].number), said("intake.title-lines", "n", top, "header", t.HeaderLine))
	}
	t.takeLines(first, at)
	for _, m := range t.g.merged {
		if m.line1 > t.HeaderLine && m.line2 > m.line1 && len(t.g.merged) <= 500 {
			t.tall = true
		}
	}
	return true
}

func (t *Table) notice(line int, s assay.Said) {
	t.Notices = append(t.Notices, Notice{assay.Place{File: t.File, Sheet: t.Sheet, Line: line}, s})
}

// headerScore rates line i as the header: known headings count most, then
// texts over columns of values; numbers and repeats count against it.
func (t *Table) headerScore(i int) float64 {
	known, texts, numbers := 0, 0, 0
	seen := map[string]bool{}
	repeats := 0
	counted := t.countsUp(i) // stakes 1, 2, 3 … as headings
	for c := range int(t.g.lines[i].cells) {
		s, kind := t.g.cell(i, c)
		switch {
		case s == "":
			continue
		case counted && isDigits(s):
			known++
			continue
		case kind != Text || looksValue(s):
			numbers++
			continue
		}
		texts++
		if p := plain(s); p != "" {
			if seen[p] {
				repeats++
			}
			seen[p] = true
			if m, ok := readHeading(s); ok && !(m.target == "" && i+1 < len(t.g.lines) && t.g.filled(i) < t.g.filled(i+1)) {
				known++
			}
		}
	}
	if texts < 2 && !counted || numbers > texts/2 {
		return 0
	}
	return float64(10*known+texts) - 3*float64(numbers) - float64(repeats) + 1/float64(i+2)
}

// countsUp says whether a line holds at least five numbers in a row that count
// up by one.
func (t *Table) countsUp(i int) bool {
	run, last := 0, -1
	for c := range int(t.g.lines[i].cells) {
		s, _ := t.g.cell(i, c)
		if n, ok := number(s); ok && isDigits(s) && (n == last+1 || run == 0) {
			run, last = run+1, n
		} else if run < 5 {
			run = 0
		}
	}
	return run >= 5
}

var valuePattern = pattern.New(`^[-+−]?\d+([.,:/ -]\d+)*\s*([°'"′″NSEWOnsewo.]|a\.?m\.?|p\.?m\.?|[TZ])*.*$`)

// looksValue says whether a text is a number, date, time or coordinate rather
// than a heading. "24 h" and "1st check" are headings.
func looksValue(s string) bool {
	if !valuePattern.MatchString(s) {
		return false
	}
	letters := 0
	for _, r := range s {
		if unicode.IsLetter(r) {
			letters++
		}
	}
	if letters > 0 {
		if _, _, _, named := checkOf(plain(s)); named {
			return false
		}
	}
	return letters <= 3
}

// isOver says whether the line above the header groups its columns: several
// texts, or merged cells, none of them a value, each over columns that are named.
func (t *Table) isOver(i, header int) bool {
	if t.g.lines[header].number-t.g.lines[i].number > 1 {
		return false
	}
	filled, check := 0, false
	for c := range int(t.g.lines[i].cells) {
		s, kind := t.g.cell(i, c)
		if s == "" {
			continue
		}
		if kind != Text || looksValue(s) || strings.HasSuffix(s, ":") {
			return false
		}
		filled++
		if _, _, _, named := checkOf(plain(s)); named {
			check = true
		}
		if n, ok := t.mergedAcross(i, c); ok && n > 1 && n < int(t.g.lines[header].cells) {
			filled++
		}
	}
	if k, v, _, ok := t.pairAt(i); ok && k != "" && v != "" && !check {
		return false
	}
	if filled >= 2 {
		return t.repeatsIn(header) || check || filled > 2
	}
	return check && filled == 1 && int(t.g.lines[i].cells) > 1
}

// isUnder says whether line i names the columns below a header that names
// their groups: known words only, under groups that name checks.
func (t *Table) isUnder(i, header int) bool {
	if i >= len(t.g.lines) {
		return false
	}
	filled, group := 0, false
	for c := range int(t.g.lines[i].cells) {
		s, kind := t.g.cell(i, c)
		if s == "" {
			continue
		}
		if kind != Text || looksValue(s) {
			return false
		}
		if _, ok := readHeading(s); !ok {
			return false
		}
		filled++
		over, _ := t.g.cell(header, c)
		_, _, _, named := checkOf(plain(over))
		group = group || named
	}
	return filled >= 2 && group
}

// repeatsIn says whether two headings of the line are the same, so that only a
// line above can tell them apart.
func (t *Table) repeatsIn(header int) bool {
	var seen []string
	for c := range int(t.g.lines[header].cells) {
		if s, _ := t.g.cell(header, c); s != "" {
			if slices.Contains(seen, plain(s)) {
				return true
			}
			seen = append(seen, plain(s))
		}
	}
	return false
}

func (t *Table) mergedAcross(i, col int) (columns int, ok bool) {
	number := int(t.g.lines[i].number)
	for _, m := range t.g.merged {
		if m.col1 == col && m.line1 == number {
			return m.col2 - m.col1 + 1, true
		}
	}
	return 1, false
}

var unitWords = map[string]bool{"m": true, "mm": true, "cm": true, "c": true, "°c": true, "ºc": true, "°": true, "h": true, "hh:mm": true, "n": true, "psu": true,
	"dd/mm/yyyy": true, "mm/dd/yyyy": true, "yyyy-mm-dd": true, "dd/mm/aaaa": true, "dd": true, "decimal degrees": true, "degrees": true, "grados": true, "count": true,
	"text": true, "local": true, "local time": true, "hora local": true, "min": true, "deg": true, "number": true, "wgs84": true, "date": true, "time": true, "fecha": true, "hora": true}

// isUnits says whether the line below the header holds units only.
func (t *Table) isUnits(i, header int) bool {
	units, filled := 0, 0
	for c := range int(t.g.lines[i].cells) {
		s, kind := t.g.cell(i, c)
		if s == "" {
			continue
		}
		if kind != Text {
			return false
		}
		filled++
		if unitWords[strings.ToLower(strings.Trim(s, "()[] "))] || strings.HasPrefix(s, "(") && strings.HasSuffix(s, ")") {
			units++
		}
	}
	return units > 0 && units*3 >= filled*2 && filled*3 >= int(t.g.lines[header].cells)
}

// headings puts the lines of the header together. A group reaches over its
// merged cells; in a text file, to the next group.
func (t *Table) headings(over, at, unit int) []Heading {
	width := 0
	for i := at; i < len(t.g.lines); i++ {
		width = max(width, int(t.g.lines[i].cells))
	}
	if over >= 0 {
		width = max(width, int(t.g.lines[over].cells))
	}
	hs := make([]Heading, width)
	group, until := "", -1
	for c := range hs {
		hs[c].Text, _ = t.g.cell(at, c)
		if unit >= 0 {
			u, _ := t.g.cell(unit, c)
			hs[c].Unit = strings.Trim(u, "()[] ")
		} else {
			_, hs[c].Unit = splitUnit(hs[c].Text)
		}
		if over < 0 {
			continue
		}
		if s, _ := t.g.cell(over, c); s != "" {
			n, merged := t.mergedAcross(over, c)
			group, until = s, c+n-1
			if !merged {
				until = width
				if t.Workbook && len(t.g.merged) > 0 {
					until = c
				}
			}
		}
		if c > until {
			group = ""
		}
		hs[c].Over = group
	}
	// A heading merged down over both lines stands in the upper one.
	for c := range hs {
		if hs[c].Text == "" && hs[c].Over != "" {
			if s, _ := t.g.cell(over, c); s == hs[c].Over {
				hs[c] = Heading{Text: s, Unit: hs[c].Unit}
			} else {
				hs[c].Over = ""
			}
		}
	}
	return t.groupsThatHelp(hs)
}

// groupsThatHelp takes a group off a heading it was only carried on to: behind
// the last group of a text file nothing says where it ends, so a heading that
// means something by itself and nothing with the group keeps its own.
func (t *Table) groupsThatHelp(hs []Heading) []Heading {
	for c, h := range hs {
		if h.Over == "" || h.Text == "" {
			continue
		}
		own, okOwn := readHeading(h.Text)
		_, okBoth := readHeading(h.Over + " " + h.Text)
		_, _, _, group := checkOf(plain(h.Over))
		if okOwn && !okBoth && (group || own.check > 0) {
			hs[c].Over = ""
		}
	}
	return hs
}

var totalWords = map[string]bool{"total": true, "totals": true, "totales": true, "sum": true, "suma": true, "sumas": true, "mean": true, "average": true, "avg": true, "media": true,
	"promedio": true, "subtotal": true, "grand total": true, "gran total": true, "total general": true, "sd": true, "se": true, "min": true, "max": true}

// takeLines notes which lines are data: repeated headers (one per printed
// page), totals and lines of remarks below the table are left out and told.
func (t *Table) takeLines(first, header int) {
	named := 0
	for _, h := range t.Header {
		if h.Text != "" {
			named++
		}
	}
	t.data = make([]int, 0, len(t.g.lines)-first)
	lastFull := first - 1
	for i := first; i < len(t.g.lines); i++ {
		line := int(t.g.lines[i].number)
		word, filled := "", 0
		for c := range int(t.g.lines[i].cells) {
			if s, _ := t.g.cell(i, c); s != "" {
				if filled == 0 {
					word = s
				}
				filled++
			}
		}
		switch {
		case len(word) < 24 && totalWords[plain(strings.TrimRight(word, ":= "))]:
			t.notice(line, said("intake.totals-left-out", "word", word))
			continue
		case filled > 1 && t.sameAs(i, header):
			t.notice(line, said("intake.header-again"))
			continue
		}
		t.data = append(t.data, i)
		if filled > 1 {
			lastFull = i
		}
	}
	if len(t.data) == 0 {
		t.notice(t.HeaderLine, said("intake.no-lines"))
	}
	// Single cells below the last full line are remarks, not records.
	if named >= 3 {
		for n := len(t.data); n > 0 && t.data[n-1] > lastFull; n = len(t.data) {
			i := t.data[n-1]
			text := ""
			for c := range int(t.g.lines[i].cells) {
				if s, _ := t.g.cell(i, c); s != "" {
					text = s
				}
			}
			t.notice(int(t.g.lines[i].number), said("intake.remark-left-out", "text", short(text)))
			t.data = t.data[:n-1]
		}
	}
}

func (t *Table) sameAs(i, header int) bool {
	if t.g.lines[i].cells != t.g.lines[header].cells {
		return false
	}
	for c := range int(t.g.lines[i].cells) {
		a, _ := t.g.cell(i, c)
		b, _ := t.g.cell(header, c)
		if a != b {
			return false
		}
	}
	return true
}

// short cuts a text for a message.
func short(s string) string {
	r := []rune(s)
	if len(r) > 60 {
		return string(r[:59]) + "…"
	}
	return s
}

// pairAt reads a line above the header as key and value: two filled cells, or
// one with a colon.
func (t *Table) pairAt(i int) (key, value string, kind Kind, ok bool) {
	var cells []string
	for c := range int(t.g.lines[i].cells) {
		if s, k := t.g.cell(i, c); s != "" {
			cells = append(cells, s)
			kind = k
		}
	}
	switch len(cells) {
	case 1:
		key, value, ok = keyValue(cells[0])
		return key, value, Text, ok
	case 2:
		if !looksValue(cells[0]) {
			return strings.TrimRight(cells[0], " :="), cells[1], kind, true
		}
	}
	return "", "", Text, false
}

// keyValue cuts "site: dock" or "site = dock".
func keyValue(s string) (key, value string, ok bool) {
	i := strings.IndexAny(s, ":=")
	if i <= 0 || i > 60 {
		return "", "", false
	}
	key, value = strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+1:])
	return key, value, key != "" && value != "" && !looksValue(key)
}

// pairsOf reads a sheet as keys and values: no line fills more than two cells
// beside a remark, and some key is a known heading.
func pairsOf(g *grid) ([]Pair, bool) {
	t := Table{g: g}
	if len(g.lines) > 200 {
		return nil, false
	}
	var pairs []Pair
	known, three := 0, 0
	for i := range g.lines {
		n := g.filled(i)
		if n > 3 {
			return nil, false
		}
		if n == 3 {
			three++
		}
		key, _ := g.cell(i, 0)
		value, kind := g.cell(i, 1)
		if n == 1 {
			k, v, _, ok := t.pairAt(i)
			if ok {
				pairs = append(pairs, Pair{Key: k, Value: v, Line: int(g.lines[i].number)})
			}
			continue
		}
		if key == "" || value == "" {
			continue
		}
		key = strings.TrimRight(key, " :=")
		if m, ok := readHeading(key); ok && m.check == 0 {
			known++
			// A value that is itself a heading speaks for a header line.
			if _, also := readHeading(value); also && kind == Text && i == 0 && len(g.lines) > 1 {
				return nil, false
			}
		}
		pairs = append(pairs, Pair{Key: key, Value: value, Kind: kind, Line: int(g.lines[i].number)})
	}
	return pairs, known > 0 && len(pairs) > 0 && three*2 <= len(g.lines)
}
