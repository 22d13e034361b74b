package figure

import "math"

// Fate is what became of one bait by one check.
type Fate uint8

// The fates, each a shape of its own: a stake with its bait; a bare stake; a
// broken stake with a question mark (stake or line missing); a stake with an
// open disc.
const (
	Present Fate = iota
	Consumed
	NotKnown
	Unread
	fates
)

// stakes gathers the marks of one line of stakes, so that each kind is one
// path and 40 rows on a page stay small.
type stakes struct {
	u       float64 // mm per unit of the large drawing (1 unit = 1 CSS pixel at full size)
	compact bool
	whole   [][]Point // stakes of baits present or unread
	bare    [][]Point
	stub    [][]Point
	broken  [][]Point
	query   [][]Point
	dots    []Point // of question marks
	tether  [][]Point
	torn    [][]Point
	bait    []Point
	open    []Point
}

// Heights in units: of a stake, and of everything above the bed.
const (
	stakeUnits   = 26.0
	compactUnits = 15.0
)

func (m *stakes) at(x, y, dx, dy float64) Point { return Point{x + dx*m.u, y - dy*m.u} }

// add places one mark with its foot at x, y.
func (m *stakes) add(f Fate, x, y float64) {
	h := stakeUnits
	if m.compact {
		h = compactUnits
	}
	switch f {
	case Present, Unread:
		m.whole = append(m.whole, []Point{{x, y}, m.at(x, y, 0, h)})
		centre := m.at(x, y, 6, h-11)
		if m.compact {
			centre = m.at(x, y, 3.7, h-5)
		} else {
			m.tether = append(m.tether, []Point{m.at(x, y, 0, h-3), m.at(x, y, 2.4, h-3.7), m.at(x, y, 4.3, h-5.2), m.at(x, y, 5.4, h-7.3)})
		}
		if f == Present {
			m.bait = append(m.bait, centre)
		} else {
			m.open = append(m.open, centre)
		}
	case Consumed:
		m.bare = append(m.bare, []Point{{x, y}, m.at(x, y, 0, h)})
		if !m.compact {
			m.torn = append(m.torn, []Point{m.at(x, y, 0, h-3), m.at(x, y, 2, h-3.6), m.at(x, y, 3.3, h-5.2)})
		}
	default:
		m.notKnown(x, y, h)
	}
}

// notKnown draws a stub, the broken end beside it, and a question mark above.
func (m *stakes) notKnown(x, y, h float64) {
	low, size := 9.5, 11.0
	if m.compact {
		low, size = 4.5, 8.6
	}
	m.stub = append(m.stub, []Point{{x, y}, m.at(x, y, 0, low)})
	if !m.compact {
		m.broken = append(m.broken, []Point{m.at(x, y, 1.2, low+1.2), m.at(x, y, 6.4, low-3.6)})
	}
	// The question mark: a bow, a stem, a dot, in a box of size high.
	top := h + 0.5
	r := size * 0.26
	cx, cy := 0.0, top-r
	var bow []Point
	for i := 0; i <= 10; i++ {
		s, c := math.Sincos(math.Pi * (1 - 1.25*float64(i)/10))
		bow = append(bow, m.at(x, y, cx+r*c, cy+r*s))
	}
	bow = append(bow, m.at(x, y, cx, cy-r*1.25), m.at(x, y, cx, cy-r*1.75))
	m.query = append(m.query, bow)
	m.dots = append(m.dots, m.at(x, y, cx, top-size))
}

// draw hands the gathered marks to the drawing.
func (m *stakes) draw(d *Drawing) {
	w, thin, r := 1.8*m.u, 0.9*m.u, 3.8*m.u
	if m.compact {
		w, thin, r = 1.3*m.u, 1.1*m.u, 2.7*m.u
	}
	d.Line(m.whole, Stroke{Role: Ink, WidthMM: w, Round: true})
	d.Line(m.tether, Stroke{Role: Ink, WidthMM: thin})
	d.Line(m.bare, Stroke{Role: Gone, WidthMM: w, Round: true})
	d.Line(m.torn, Stroke{Role: Gone, WidthMM: thin * 1.2, Round: true})
	d.Line(m.stub, Stroke{Role: NoNews, WidthMM: w, Round: true})
	d.Line(m.broken, Stroke{Role: NoNews, WidthMM: w, Round: true})
	d.Line(m.query, Stroke{Role: NoNews, WidthMM: 1.35 * m.u, Round: true})
	d.Discs(m.dots, 0.95*m.u, Fill{Role: NoNews}, Stroke{})
	d.Discs(m.bait, r, Fill{Role: Bait}, Stroke{})
	d.Discs(m.open, r-0.55*m.u, Fill{Role: Paper}, Stroke{Role: Ink, WidthMM: 1.1 * m.u})
}
