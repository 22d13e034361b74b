package prep

import "math"

// Piece is one dried piece laid flat: a strip that narrows evenly from its wide
// end to its tail, with a stiff midline along its length.
type Piece struct {
	LengthMM  float64 `toml:"length_mm"`
	WidthMM   float64 `toml:"width_mm"`
	TailMM    float64 `toml:"tail_mm"`
	MidlineMM float64 `toml:"midline_mm"` // width of the middle that is not used
	GapMM     float64 `toml:"gap_mm"`     // between cuts
}

// Form of a bait.
type Form string

// The forms, by the words of the datasheet.
const (
	Disc   Form = "disc"
	Square Form = "square"
)

// Yield counts the baits of a size (diameter or side, mm) that one piece gives:
// lines of baits across each half of the piece, clear of the midline, each line
// as wide as the piece at that line's narrow edge. Discs are also tried in
// staggered lines, and the better is taken. It is 0 where none fits.
//
// It never counts a bait that reaches over an edge, and may miss a few that a
// person would squeeze in at the taper.
func (p Piece) Yield(form Form, sizeMM float64) int {
	if !(sizeMM > 0) {
		return 0
	}
	n := p.lines(sizeMM, sizeMM+p.GapMM, 0)
	if form == Disc {
		pitch := sizeMM + p.GapMM
		n = max(n, p.lines(sizeMM, pitch*math.Sqrt(3)/2, pitch/2))
	}
	return 2 * n
}

// lines counts the baits of one half: lines step apart, every second one
// shifted away from the midline.
func (p Piece) lines(size, step, shift float64) int {
	const slip = 1e-9 // 65 mm hold five of 13
	n := 0
	for i := 0; ; i++ {
		from := float64(i) * step
		to := from + size
		if to > p.LengthMM+slip {
			return n
		}
		width := min(p.widthAt(from), p.widthAt(to))
		half := (width - p.MidlineMM) / 2
		if i%2 == 1 {
			half -= shift
		}
		if fit := math.Floor((half + p.GapMM + slip) / (size + p.GapMM)); fit > 0 {
			n += int(fit)
		}
	}
}

func (p Piece) widthAt(x float64) float64 {
	return p.WidthMM + (p.TailMM-p.WidthMM)*x/p.LengthMM
}
