package leaf

import (
	"soakline/internal/figure"
)

// Piece is what is never broken over pages: a line of text, a drawing, a line of
// a table.
type Piece struct {
	H      float64 // mm
	Before float64 // air above it, mm; none at the top of a page
	// Keep holds the piece on the page of the next one: a heading, the first line
	// of a paragraph, the last but one.
	Keep bool
	// Again is drawn first where the piece begins a page: the head of its table.
	Again *Piece
	Draw  func(p *Leaf, x, y float64)
	Mark  *Mark
	What  string // said where it fits no page
}

// Flow is a text in the making that may take any number of pages.
type Flow struct {
	Size     Size
	MarginMM float64
	FootMM   float64 // kept free at the bottom, above the margin
	// Foot draws what stands at the bottom of page n of so many.
	Foot   func(p *Leaf, n, of int)
	pieces []Piece
}

// Inner is the width of a line, mm.
func (f *Flow) Inner() float64 { return f.Size.W - 2*f.MarginMM }

// Room is the height of a page, mm.
func (f *Flow) Room() float64 { return f.Size.H - 2*f.MarginMM - f.FootMM }

// Add appends pieces.
func (f *Flow) Add(p ...Piece) { f.pieces = append(f.pieces, p...) }

// Text appends a paragraph: before is the air above it, indent how far in it
// stands, sign what stands before its first line (a bullet, a number), keep
// holds its end to what follows. Its first two and its last two lines stay
// together.
func (f *Flow) Text(s Style, before, indent float64, sign, text string, keep bool) {
	if err := Check("", text); err != nil {
		f.Add(Piece{What: text, Draw: func(p *Leaf, _, _ float64) { p.Fault(err) }})
		return
	}
	lines := s.Wrap(text, f.Inner()-indent)
	for i, line := range lines {
		first, last := i == 0, i == len(lines)-1
		p := Piece{H: s.SizeMM * Leading, Keep: keep && last || !last && (first || i == len(lines)-2), What: text}
		p.Draw = func(l *Leaf, x, y float64) {
			base := y + s.SizeMM
			if first && sign != "" {
				l.Set(s, x+indent-1.5, base, figure.End, sign)
			}
			l.Set(s, x+indent, base, figure.Start, line)
		}
		if first {
			p.Before = before
		}
		f.Add(p)
	}
}

// Heading appends a heading: a paragraph that holds to what follows, and an
// entry of the outline.
func (f *Flow) Heading(s Style, before float64, level int, text string) {
	at := len(f.pieces)
	f.Text(s, before, 0, "", text, true)
	if at < len(f.pieces) {
		f.pieces[at].Mark = &Mark{Text: text, Level: level}
	}
	for i := at; i < len(f.pieces); i++ {
		f.pieces[i].Keep = true
	}
}

// Figure appends a drawing as it is.
func (f *Flow) Figure(d *figure.Drawing, before float64) {
	f.Add(Piece{H: d.H, Before: before, What: d.Title, Draw: func(p *Leaf, x, y float64) { d.On(Moved{p.Drawing, x, y, 1}) }})
}

// Pages sets the pieces on pages: as many as fit on each, those that hold
// together on one. Errors: *NoRoom, *NoGlyph.
func (f *Flow) Pages() ([]*Leaf, [][]Mark, error) {
	var pages []*Leaf
	var marks [][]Mark
	y := 0.0
	begin := func() {
		pages, marks, y = append(pages, New(f.Size, f.MarginMM)), append(marks, nil), 0
	}
	begin()
	for i := 0; i < len(f.pieces); {
		n, h := f.held(i, y == 0)
		if y > 0 && y+h > f.Room()+1e-6 {
			begin()
			continue
		}
		if h > f.Room()+1e-6 { // too much to hold together: as much as fits
			n = 1
		}
		for range n {
			q := f.pieces[i]
			if y == 0 && q.Again != nil {
				y = f.set(pages, marks, *q.Again, y)
			}
			if y+q.H > f.Room()+1e-6 && y == 0 {
				return nil, nil, &NoRoom{What: q.What}
			}
			y = f.set(pages, marks, q, y)
			i++
		}
	}
	for i, p := range pages {
		if f.Foot != nil {
			f.Foot(p, i+1, len(pages))
		}
		if p.Err != nil {
			return nil, nil, p.Err
		}
	}
	return pages, marks, nil
}

// held is how many pieces from i on stay on one page, and how high they are.
func (f *Flow) held(i int, top bool) (n int, h float64) {
	for ; i < len(f.pieces); i++ {
		q := f.pieces[i]
		if n > 0 || !top {
			h += q.Before
		} else if q.Again != nil {
			h += q.Again.H
		}
		h += q.H
		n++
		if !q.Keep {
			break
		}
	}
	return n, h
}

// set draws a piece at y of the last page and gives the y below it.
func (f *Flow) set(pages []*Leaf, marks [][]Mark, q Piece, y float64) float64 {
	if y > 0 {
		y += q.Before
	}
	last := len(pages) - 1
	p := pages[last]
	if q.Mark != nil {
		m := *q.Mark
		m.Y = f.MarginMM + y
		marks[last] = append(marks[last], m)
	}
	if q.Draw != nil {
		q.Draw(p, f.MarginMM, f.MarginMM+y)
	}
	return y + q.H
}
