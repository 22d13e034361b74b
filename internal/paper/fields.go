package paper

import (
	"soakline/internal/figure"
)

// Of fields, mm. A box holds one figure from a gloved hand with a pencil.
const (
	cellW    = 6.8
	cellH    = 8.4
	tickMM   = 6.2 // side of a box to tick
	fieldGap = 4.2
	fieldMM  = smallMM*leading + cellH + 1.2 // label, boxes, air
)

// field is one thing to be written, ticked, or already known.
type field struct {
	label   string
	groups  []int  // boxes for figures, in groups: 2, 2 for a time
	sep     string // between the groups
	unit    string // printed after them
	options []string
	value   string  // known: printed, nothing to fill in
	least   float64 // of a line to write on: its least width
	mark    int     // 1 + the figure.Fate whose mark stands before the boxes; 0 for none
}

func timeField(label string) field { return field{label: label, groups: []int{2, 2}, sep: ":"} }

// countField holds a count up to most.
func countField(label string, most int) field {
	n := 1
	for m := most; m >= 10; m /= 10 {
		n++
	}
	return field{label: label, groups: []int{max(n, 2)}}
}

// orValue makes the field a known one where there is a text.
func (f field) orValue(v string) field {
	if v != "" {
		f.value = v
	}
	return f
}

// writes says whether the field is a line to write on, which takes what room is left.
func (f field) writes() bool { return f.value == "" && f.groups == nil && f.options == nil }

const sepMM, optionGap = 2.2, 3.2

// width is the least width of the field.
func (f field) width() float64 {
	w := 0.0
	switch {
	case f.value != "":
		w = strong.Width(f.value)
	case f.groups != nil:
		for _, n := range f.groups {
			w += float64(n)*cellW + sepMM
		}
		w -= sepMM
		if f.unit != "" {
			w += small.Width(f.unit) + 1
		}
		w += f.markW()
	case f.options != nil:
		for _, o := range f.options {
			w += tickMM + 1.2 + small.Width(o) + optionGap
		}
		w -= optionGap
	default:
		w = f.least
	}
	return max(w, small.Width(f.label))
}

func (f field) markW() float64 {
	if f.mark > 0 {
		return 5.4
	}
	return 0
}

// block is a part of a page: how high it is and how it is drawn. The last block
// that stretches takes what is left of the page.
type block struct {
	what    string
	h       float64
	stretch bool
	draw    func(p *page, y, h float64)
	at      func(p *page, x, y float64) // of fields: the same anywhere on the page
}

// fieldsBlock sets fields one after the other, in as many lines as they need.
func fieldsBlock(what string, width float64, fs ...field) block {
	var lines [][]field
	var line []field
	used := 0.0
	for _, f := range fs {
		w := min(f.width(), width)
		if len(line) > 0 && used+fieldGap+w > width+1e-6 {
			lines, line, used = append(lines, line), nil, 0
		}
		if len(line) > 0 {
			used += fieldGap
		}
		line, used = append(line, f), used+w
	}
	if len(line) > 0 {
		lines = append(lines, line)
	}
	at := func(p *page, x, y float64) {
		for _, line := range lines {
			p.fieldLine(x, y, width, line)
			y += fieldMM
		}
	}
	return block{what: what, h: float64(len(lines)) * fieldMM, at: at, draw: func(p *page, y, _ float64) { at(p, p.Left(), y) }}
}

// fieldLine sets one line of fields; lines to write on share what is left.
func (p *page) fieldLine(x, y, width float64, fs []field) {
	rest, takers := width-fieldGap*float64(len(fs)-1), 0
	for _, f := range fs {
		rest -= min(f.width(), width)
		if f.writes() {
			takers++
		}
	}
	for _, f := range fs {
		w := min(f.width(), width)
		if f.writes() {
			w += rest / float64(takers)
		}
		p.field(f, x, y, w)
		x += w + fieldGap
	}
}

// field draws one field w wide.
func (p *page) field(f field, x, y, w float64) {
	p.SetFit(small, x, y+smallMM, w+0.01, figure.Start, f.label)
	top := y + smallMM*leading + 0.4
	base := top + cellH - 2.4
	switch {
	case f.value != "":
		p.SetFit(strong, x, base, w+0.01, figure.Start, f.value)
	case f.groups != nil:
		p.cells(f, x, top, base)
	case f.options != nil:
		for _, o := range f.options {
			p.box(x, top+(cellH-tickMM)/2, tickMM, tickMM)
			x += tickMM + 1.2
			p.Set(small, x, base-0.4, figure.Start, o)
			x += small.Width(o) + optionGap
		}
	default:
		p.Rule(x, top+cellH, x+w, top+cellH, boxMM)
	}
}

func (p *page) cells(f field, x, top, base float64) {
	if f.mark > 0 {
		p.fate(figure.Fate(f.mark-1), x+2.2, top+cellH, 8)
		x += f.markW()
	}
	for g, n := range f.groups {
		if g > 0 {
			p.Set(strong, x+sepMM/2, base, figure.Middle, f.sep)
			x += sepMM
		}
		for range n {
			p.box(x, top, cellW, cellH)
			x += cellW
		}
	}
	if f.unit != "" {
		p.Set(small, x+1, base, figure.Start, f.unit)
	}
}

// headBlock is a heading with a remark beside it.
func headBlock(title, remark string) block {
	return block{what: title, h: headMM + 2.8, draw: func(p *page, y, _ float64) {
		base := y + 1.6 + headMM
		p.Set(heading, p.Left(), base, figure.Start, title)
		if remark != "" {
			x := p.Left() + heading.Width(title) + 3
			p.SetFit(small, x, base, p.Right()-x, figure.Start, remark)
		}
	}}
}
