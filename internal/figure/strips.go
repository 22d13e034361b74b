package figure

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Strips shows estimates with their limits, one strip each, over one axis:
// rates or shares per habitat with every deployment behind them, or ratios
// between habitats with a line at 1.
type Strips struct {
	Title, Desc string
	AxisLabel   string
	Log         bool
	// Lo and Hi fix the axis where Hi > Lo; else it follows the numbers.
	Lo, Hi float64
	// Mark draws a line across all strips (1 for ratios) when MarkOn is set.
	Mark   float64
	MarkOn bool
	// MarkLeft and MarkRight say beside the line what lies on either side of it
	// ("more in the second"); both may be empty.
	MarkLeft, MarkRight string
	Groups              []Strip
	Note                string
}

// Strip is one estimate. A number that is not known is NaN.
type Strip struct {
	Label, Sub         string // left
	Value, ValueSub    string // right, or above the strip on a narrow drawing
	Estimate           float64
	Lower, Upper       float64    // NaN or infinite on the side without a limit: drawn as an arrow
	LowerAll, UpperAll float64    // a second, wider pair of limits (for all comparisons at once); both 0 for none
	Points             []StripDot // single deployments
}

// StripDot is one deployment's own estimate, or the limit on one side of it.
type StripDot struct {
	Value float64
	Side  Side
}

// Side says of which kind a number is.
type Side uint8

// The sides.
const (
	Exact   Side = iota
	AtLeast      // the true value is this or more
	AtMost
)

func (s Strips) check() error {
	if len(s.Groups) > 2000 {
		return errors.New("figure: more than 2000 strips cannot be read in one drawing")
	}
	if s.Hi > s.Lo && (!finite(s.Lo) || !finite(s.Hi) || s.Log && s.Lo <= 0) {
		return fmt.Errorf("figure: an axis from %g to %g cannot be drawn", s.Lo, s.Hi)
	}
	return nil
}

// numbers lists the finite numbers the axis must hold, positive ones when it is logarithmic.
func (s Strips) numbers() []float64 {
	var vs []float64
	add := func(v float64) {
		if finite(v) && (!s.Log || v > 0) && math.Abs(v) < 1e12 && (!s.Log || v > 1e-12) {
			vs = append(vs, v)
		}
	}
	for _, g := range s.Groups {
		add(g.Estimate)
		add(g.Lower)
		add(g.Upper)
		if g.twoPairs() {
			add(g.LowerAll)
			add(g.UpperAll)
		}
		for _, p := range g.Points {
			add(p.Value)
		}
	}
	if s.MarkOn {
		add(s.Mark)
	}
	return vs
}

func (g Strip) twoPairs() bool { return g.LowerAll != 0 || g.UpperAll != 0 }

// hasZero reports whether a logarithmic axis needs a place for nothing at all.
func (s Strips) hasZero() bool {
	for _, g := range s.Groups {
		if g.Estimate <= 0 {
			return s.Log
		}
		for _, p := range g.Points {
			if p.Value <= 0 {
				return s.Log
			}
		}
	}
	return false
}

// span chooses the axis: a linear one begins at 0 when nothing is negative; a
// logarithmic one is at most eight powers of ten about the middle number, and
// what lies beyond gets an arrow.
func (s Strips) span() (lo, hi float64) {
	if s.Hi > s.Lo {
		return s.Lo, s.Hi
	}
	vs := s.numbers()
	if len(vs) == 0 {
		if s.Log {
			return 0.1, 10
		}
		return 0, 1
	}
	slices.Sort(vs)
	lo, hi = vs[0], vs[len(vs)-1]
	if s.Log {
		mid := vs[len(vs)/2]
		lo, hi = max(lo, mid*1e-4), min(hi, mid*1e4)
		lo, hi = lo/1.15, hi*1.15
		if hi/lo < 4 {
			m := math.Sqrt(4 / (hi / lo))
			lo, hi = lo/m, hi*m
		}
		return lo, hi
	}
	if lo >= 0 {
		lo = 0
	}
	if hi <= lo {
		hi = lo + 1
	}
	st, _ := step(hi-lo, 6)
	return math.Floor(lo/st+1e-9) * st, math.Ceil(hi/st-1e-9) * st
}

// DrawStrips draws the strips.
func DrawStrips(s Strips, f Frame) (*Drawing, error) {
	d, err := f.begin(s.Title, s.Desc)
	if err != nil {
		return nil, err
	}
	if err := s.check(); err != nil {
		return nil, err
	}
	b := s.bench(d, f)
	y := s.markWords(d, f, b)
	top := y
	for _, g := range s.Groups {
		b.at = append(b.at, y+b.height(f, g))
		y += b.height(f, g)
	}
	if len(s.Groups) == 0 {
		y += 6
	}
	d.Begin(Group{ID: "axis"})
	b.rules(d, f, s, top, y+1)
	bottom := d.horizontal(b.axis, f, y+1, y+1)
	if b.zero {
		d.Line([][]Point{{{b.from, y + 1}, {b.from + 3, y + 1}}, {{b.from, y + 1}, {b.from, y + 2}}}, Stroke{Role: Mute, WidthMM: 0.25})
		d.Text(Text{X: b.from, Y: y + 2.4 + f.Look.SmallMM*ascent*0.9, S: "0", SizeMM: f.Look.SmallMM, Anchor: Middle, Role: Mute})
	}
	d.End()
	for i, g := range s.Groups {
		d.Begin(Group{ID: fmt.Sprintf("strip-%d", i), Title: g.Label + ": " + g.Value})
		b.strip(d, f, g, b.at[i])
		d.End()
	}
	d.note(s.AxisLabel)
	label := f.small(s.AxisLabel)
	if w := label.width(); b.axis.from+w <= d.W {
		bottom = d.put(label.wrap(d.W), b.from, bottom, Start)
	} else {
		bottom = d.put(label.wrap(d.W-1), 0, bottom, Start)
	}
	if s.Note != "" {
		bottom = d.footer(f, s.Note, bottom+0.5)
	}
	d.H = bottom + 0.5
	return d, nil
}

// rules draws hairlines at the ticks and the marked value across the strips;
// on a narrow drawing only behind each strip, so that they cross no text.
func (b *bench) rules(d *Drawing, f Frame, s Strips, top, bottom float64) {
	spans := [][2]float64{{top, bottom}}
	if b.stacked {
		spans = nil
		for i, g := range s.Groups {
			y := b.lineY(f, g, b.at[i])
			spans = append(spans, [2]float64{y - stripUp*0.6, y + b.below(g)})
		}
		spans = append(spans, [2]float64{bottom - 1.5, bottom})
	}
	across := func(v float64) (out [][]Point) {
		for _, s := range spans {
			out = append(out, []Point{{b.axis.at(v), s[0]}, {b.axis.at(v), s[1]}})
		}
		return out
	}
	var hair [][]Point
	for _, t := range b.axis.ticks {
		hair = append(hair, across(t.v)...)
	}
	d.Line(hair, Stroke{Role: Hair, WidthMM: 0.2})
	if s.MarkOn && b.axis.holds(s.Mark) {
		d.Line(across(s.Mark), Stroke{Role: Ink, WidthMM: 0.35})
	}
}

// bench is where strips stand: labels left of from (beside), or above each
// strip (stacked).
type bench struct {
	axis    axis
	from    float64 // left end, with the place for 0
	zero    bool
	stacked bool
	pad     float64
	left    float64 // width for labels
	valueX  float64
	right   float64 // width for values
	at      []float64
}

func (s Strips) bench(d *Drawing, f Frame) *bench {
	b := &bench{zero: s.hasZero(), pad: f.Look.TextMM * 0.9}
	for _, g := range s.Groups {
		d.note(g.Label, g.Sub, g.Value, g.ValueSub)
		b.left = max(b.left, f.bold(g.Label).width(), f.small(g.Sub).width())
		b.right = max(b.right, f.main(g.Value).width(), f.small(g.ValueSub).width())
	}
	b.left, b.right = min(b.left, d.W*0.26), min(b.right, d.W*0.2)
	size := f.Look.SmallMM
	b.from = b.left + b.pad
	to := d.W - b.right - b.pad
	if b.stacked = to-b.from < 75; b.stacked {
		b.left, b.from, to = d.W, size*0.6, d.W-size*0.9
		b.right = d.W
	}
	b.valueX = to + b.pad
	left := b.from
	if b.zero {
		left += 9
	}
	lo, hi := s.span()
	b.axis = newAxis(s.Log, lo, hi, left, to, size, f.Look, d.W)
	return b
}

// stripUp is the room a strip's marks need above and below its line, mm.
const stripUp = 3.2

func (b *bench) words(f Frame, g Strip) (label, value []words) {
	label = append(f.bold(g.Label).wrap(b.left), f.small(g.Sub).wrap(b.left)...)
	value = append(f.main(g.Value).wrap(b.right), f.small(g.ValueSub).wrap(b.right)...)
	return label, value
}

// height is the whole height of a strip with its texts.
func (b *bench) height(f Frame, g Strip) float64 {
	label, value := b.words(f, g)
	if !b.stacked {
		return max(height(label), height(value), stripUp+b.below(g)) + 2.4
	}
	return b.textsHeight(label, value) + stripUp + b.below(g) + 3
}

// below is the room a strip's marks need under its line.
func (b *bench) below(g Strip) float64 { return max(stripUp, stripUp/2+b.rain(g)) }

// paired sets the two lines of label and value on the same lines when each
// pair fits, as on a narrow drawing it mostly does.
func (b *bench) paired(label, value []words) bool {
	for i := 0; i < min(len(label), len(value)); i++ {
		if label[i].width()+value[i].width()+b.pad > b.left {
			return false
		}
	}
	return true
}

func (b *bench) textsHeight(label, value []words) float64 {
	if b.paired(label, value) {
		return max(height(label), height(value))
	}
	return height(label) + height(value)
}

// lineY is where a strip's line stands when its room ends at bottom.
func (b *bench) lineY(f Frame, g Strip, bottom float64) float64 {
	if b.stacked {
		return bottom - 0.5 - b.below(g)
	}
	return bottom - (b.height(f, g)-stripUp-b.below(g))/2 - b.below(g)
}

// markWords sets what lies left and right of the marked value above the
// strips, and gives the y below.
func (s Strips) markWords(d *Drawing, f Frame, b *bench) float64 {
	if !s.MarkOn || s.MarkLeft == "" && s.MarkRight == "" || !b.axis.holds(s.Mark) {
		return 0
	}
	d.note(s.MarkLeft, s.MarkRight)
	x, gap := b.axis.at(s.Mark), 1.6
	left, right := f.small("← "+s.MarkLeft), f.small(s.MarkRight+" →")
	if s.MarkLeft == "" {
		left.s = ""
	}
	if s.MarkRight == "" {
		right.s = ""
	}
	if left.width() <= x-gap && right.width() <= d.W-x-gap {
		d.put(left.wrap(d.W), x-gap, 0, End)
		return d.put(f.line(right, left), x+gap, 0, Start)
	}
	if left.width()+right.width()+gap <= d.W {
		d.put(left.wrap(d.W), 0, 0, Start)
		return d.put(f.line(right, left), d.W, 0, End)
	}
	y := d.put(left.wrap(d.W), 0, 0, Start)
	for _, w := range right.wrap(d.W) {
		y = d.put([]words{w}, d.W, y, End)
	}
	return y
}

// line gives w as one line, or an empty line of its height where it says nothing.
func (f Frame) line(w, like words) []words {
	if w.s == "" {
		return []words{{size: like.size}}
	}
	return w.wrap(math.Inf(1))
}
