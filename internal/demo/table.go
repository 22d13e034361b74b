package demo

import (
	"soakline/internal/assay"
)

// table is one table of texts as it will stand in a file.
type table struct {
	file, sheet string
	columns     []column
	lines       [][]string
	firstLine   int // line number in the file of lines[0]
	records     []*row
	index       map[*row]int // record -> index in lines
}

// column is one heading; over stands above it in a header of two lines. key
// names the column here, where two may have the same heading.
type column struct{ key, over, text string }

// newTable makes a table whose headings are their own keys.
func newTable(file string, firstLine int, headings ...string) *table {
	t := &table{file: file, firstLine: firstLine, index: map[*row]int{}}
	for _, h := range headings {
		t.columns = append(t.columns, column{key: h, text: h})
	}
	return t
}

// record adds the line of a row; cells go by key.
func (t *table) record(r *row, cells map[string]string) {
	t.index[r] = len(t.lines)
	t.records = append(t.records, r)
	t.add(cells)
}

func (t *table) add(cells map[string]string) {
	line := make([]string, len(t.columns))
	for key, v := range cells {
		line[t.at(key)] = v
	}
	t.lines = append(t.lines, line)
}

func (t *table) at(key string) int {
	for i, c := range t.columns {
		if c.key == key {
			return i
		}
	}
	panic("demo: no column " + key)
}

func (t *table) get(i int, key string) string { return t.lines[i][t.at(key)] }
func (t *table) put(i int, key, text string)  { t.lines[i][t.at(key)] = text }
func (t *table) line(i int) int               { return t.firstLine + i }
func (t *table) headings() []string {
	out := make([]string, len(t.columns))
	for i, c := range t.columns {
		out[i] = c.text
	}
	return out
}

// heading is a column's heading as told to a person: "24 h check / Left".
func (t *table) heading(key string) string {
	c := t.columns[t.at(key)]
	if c.over != "" {
		return c.over + " / " + c.text
	}
	return c.text
}

// pick is the first ordinary row without a mistake for which ok holds, from the
// from-th of the table on; nil when the seed gave none.
func (t *table) pick(from int, ok func(r *row) bool) *row {
	for _, r := range t.records {
		if t.index[r] >= from && !r.marked && ordinary(r) && ok(r) {
			return r
		}
	}
	return nil
}

// ordinary says whether nothing is odd about the row as it is.
func ordinary(r *row) bool {
	return !r.IsControl() && !r.IsPractice() && len(r.Checks) == 2 && r.Checks[0].Read() && r.Baits == 25 &&
		!r.lateByPlan && r.TemperatureC.Known() && r.Checks[1].Lost.Or(0) <= manyLost
}

func anyRow(*row) bool { return true }

func consumedBy(r *row, check int) int { return r.Checks[check-1].Consumed.Or(0) }

// clock writes a moment as the team's clock showed it; empty when unknown.
func clock(m assay.Moment, layout string) string {
	if !m.Known() {
		return ""
	}
	return m.Local().Format(layout)
}
