package leaf

import (
	"math"

	"soakline/internal/figure"
)

// Table is a table of texts: the first column stands left, the others right.
// A column's width is that of its widest cell; where all do not fit, headings
// break at spaces, then the type is set smaller, then first cells break.
type Table struct {
	Caption string
	Head    []string
	Lines   [][]string
	Style   Style
}

const (
	columnGapMM = 4.0
	leastTypeMM = 2.2 // about 6 points: smaller is not read on paper
	lineGapMM   = 1.1
	wholeLines  = 12 // a table of no more lines stays on one page
)

// Table appends a table; its head stands again at the top of every page.
// It is *NoRoom where even the smallest type is too wide.
func (f *Flow) Table(t Table, before float64) error {
	if len(t.Head) == 0 || len(t.Lines) == 0 {
		return nil
	}
	st := t.Style
	widths, ok := t.widths(st, f.Inner())
	for !ok && st.SizeMM > leastTypeMM {
		st.SizeMM = math.Max(st.SizeMM*0.97, leastTypeMM)
		widths, ok = t.widths(st, f.Inner())
	}
	if !ok {
		return &NoRoom{What: t.Caption}
	}
	if t.Caption != "" {
		bold := t.Style
		bold.Bold = true
		f.Text(bold, before, 0, "", t.Caption, true)
	}
	quiet := st
	quiet.Role = figure.Mute
	head := tableLine(quiet, widths, t.Head, true)
	head.Keep, head.Before, head.What = true, 0.8, t.Caption
	f.Add(head)
	again := head
	again.Before = 0
	for i, cells := range t.Lines {
		p := tableLine(st, widths, cells, false)
		p.Again, p.What = &again, t.Caption
		p.Keep = i < len(t.Lines)-1 && (len(t.Lines) <= wholeLines || i == 0 || i == len(t.Lines)-2)
		f.Add(p)
	}
	return nil
}

// widths gives the columns' widths in a style, and whether they fit into w.
func (t Table) widths(s Style, w float64) ([]float64, bool) {
	out := make([]float64, len(t.Head))
	sum := columnGapMM * float64(len(out)-1)
	for c := range out {
		for _, line := range t.Lines {
			if c < len(line) {
				out[c] = math.Max(out[c], s.Width(line[c]))
			}
		}
		out[c] = math.Max(out[c], longestWord(s, t.Head[c]))
		sum += out[c]
	}
	if sum <= w {
		return out, true
	}
	// The first column may break over lines, down to a third of the width.
	if first := out[0] - (sum - w); first >= w/3 && first >= longestWord(s, t.Head[0]) {
		out[0] = first
		return out, true
	}
	return out, false
}

func longestWord(s Style, t string) float64 {
	w, from := 0.0, 0
	for i := 0; i <= len(t); i++ {
		if i == len(t) || t[i] == ' ' {
			w, from = math.Max(w, s.Width(t[from:i])), i+1
		}
	}
	return w
}

// tableLine is one line of a table, with a hairline below it.
func tableLine(s Style, widths []float64, cells []string, head bool) Piece {
	broken := make([][]string, len(cells))
	deep := 1
	for c, text := range cells {
		if c < len(widths) {
			broken[c] = s.Wrap(text, widths[c]+0.05)
			deep = max(deep, len(broken[c]))
		}
	}
	step := s.SizeMM * Leading
	h := float64(deep)*step + lineGapMM
	return Piece{H: h, Draw: func(p *Leaf, left, y float64) {
		for _, text := range cells { // the lines come from a cleaned text
			p.check(text)
		}
		x := left
		for c, lines := range broken {
			if c >= len(widths) {
				break
			}
			top := y
			if head { // headings stand on the line below them
				top += float64(deep-len(lines)) * step
			}
			for k, line := range lines {
				base := top + s.SizeMM + float64(k)*step
				if c == 0 {
					p.Set(s, x, base, figure.Start, line)
				} else {
					p.Set(s, x+widths[c], base, figure.End, line)
				}
			}
			x += widths[c] + columnGapMM
		}
		p.Line([][]figure.Point{{{X: left, Y: y + h - lineGapMM/4}, {X: x - columnGapMM, Y: y + h - lineGapMM/4}}}, figure.Stroke{Role: figure.Hair, WidthMM: 0.2})
	}}
}
