package intake

import (
	"sync"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// Reading is what tables hold, as canonical texts. Its records are to be used
// only when it is Whole; with faults or open questions it shows what a person
// has to mend or say, and its records are read by the proposals.
type Reading struct {
	Maps      []Map // as used, to be kept
	Records   []Record
	Reasons   []Reason
	Questions []Question
	Taken     []Taken
	Faults    []Fault
	Notices   []Notice

	columns []string
	slots   map[string]int

	laying sync.Mutex
	laid   *sheet.Layout // see layout
}

// layout is that of the records: made once, and again where a column was added.
func (r *Reading) layout() *sheet.Layout {
	r.laying.Lock()
	defer r.laying.Unlock()
	if r.laid == nil || r.laid.Columns() != len(r.columns) {
		r.laid = sheet.NewLayout(r.columns)
	}
	return r.laid
}

// Whole says whether everything was read and nothing is open.
func (r *Reading) Whole() bool { return len(r.Faults) == 0 && len(r.Questions) == 0 }

// Record is one deployment as canonical texts.
type Record struct {
	r      *Reading
	values []string
	table  *Table
	line   int
	shape  *shape
}

// Get is the canonical text of a column; empty when there is none.
func (x Record) Get(column string) string {
	if slot, ok := x.r.slots[column]; ok && slot < len(x.values) {
		return x.values[slot]
	}
	return ""
}

// Values are the canonical texts by column, empty ones left out.
func (x Record) Values() map[string]string {
	out := make(map[string]string, len(x.values))
	for slot, v := range x.values {
		if v != "" {
			out[x.r.columns[slot]] = v
		}
	}
	return out
}

// Where is the line the record was read from.
func (x Record) Where() assay.Place { return x.table.Place(x.line, -1) }

// Headings are the headings by canonical column, shared between the records of
// one layout: not to be changed.
func (x Record) Headings() map[string]string { return x.shape.asWritten() }

// Deployment is the record as the trade's type, with its place.
func (x Record) Deployment() (assay.Deployment, []*sheet.Fault) {
	d, faults := x.r.layout().Deployment(x.values)
	d.Where = x.Where()
	d.ColumnsAsWritten = x.Headings()
	return d, faults
}

func (s *shape) asWritten() map[string]string {
	if s.written == nil {
		s.written = map[string]string{}
		for _, c := range s.m.Columns {
			base, ending := cutEnding(c.To)
			switch {
			case c.To == toSkip:
			case c.To == toPosition:
				s.written["latitude"], s.written["longitude"] = c.Heading, c.Heading
			case len(base) > len(toCovar) && base[:len(toCovar)] == toCovar:
				s.written[base[len(toCovar):]] = c.Heading
			default:
				if _, ok := s.written[base]; !ok || ending == asTime {
					s.written[base] = c.Heading
				}
			}
		}
	}
	return s.written
}

// slot is the place of a column in every record.
func (r *Reading) slot(column string) int {
	n, ok := r.slots[column]
	if !ok {
		n = len(r.columns)
		r.slots[column] = n
		r.columns = append(r.columns, column)
	}
	return n
}

func (x *Record) set(column, v string) { x.put(x.r.slot(column), v) }

func (x *Record) put(slot int, v string) {
	if v == "" && slot >= len(x.values) {
		return
	}
	for len(x.values) <= slot {
		x.values = append(x.values, make([]string, max(slot+1, len(x.r.columns))-len(x.values))...)
	}
	x.values[slot] = v
}
