package figure

import (
	"math"
	"strings"
)

// tick is a place on an axis with its text.
type tick struct {
	v    float64
	text string
}

// axis maps values lo..hi to mm from..to, linearly or by logarithm.
type axis struct {
	log      bool
	lo, hi   float64
	from, to float64
	ticks    []tick
}

// at gives the place of v, held inside the axis.
func (a axis) at(v float64) float64 {
	v = clamp(v, a.lo, a.hi)
	lo, hi := a.lo, a.hi
	if a.log {
		v, lo, hi = math.Log(v), math.Log(lo), math.Log(hi)
	}
	return a.from + (a.to-a.from)*(v-lo)/(hi-lo)
}

func (a axis) holds(v float64) bool { return v >= a.lo && v <= a.hi }

// textX is the middle of a tick's text: at the tick, but inside a drawing of
// the given width.
func (a axis) textX(t tick, size, width float64) float64 {
	w := textWidth(t.text, size, Regular)
	return clamp(a.at(t.v), w/2, width-w/2)
}

// newAxis chooses ticks whose texts do not touch at the given size, when set
// along the axis inside a drawing of the given width, or, when width is 0,
// beside it.
func newAxis(log bool, lo, hi, from, to, size float64, l Look, width float64) axis {
	a := axis{log: log, lo: lo, hi: hi, from: from, to: to}
	for want := 9; want >= 1; want-- {
		var t []tick
		if log {
			t = logTicks(lo, hi, want, l)
		} else {
			t = linearTicks(lo, hi, want, l)
		}
		if a.roomFor(t, size, width) {
			a.ticks = t
			return a
		}
	}
	return a
}

// newHourAxis is newAxis for hours: ticks fall on what a clock or a calendar
// counts (a quarter hour to a week), so that a day ends at 24, not at 25.
func newHourAxis(hi, from, to, size float64, l Look, width float64) axis {
	a := axis{hi: hi, from: from, to: to}
	for _, st := range [...]float64{0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 72, 168, 336, 672} {
		if hi/st > 9 || hi < st {
			continue
		}
		var ts []tick
		dec := 0
		if st < 1 {
			dec = 2
		}
		for k := 0.0; k*st <= hi*(1+1e-9); k++ {
			ts = append(ts, tick{k * st, l.tickText(k*st, st, dec)})
		}
		if a.roomFor(ts, size, width) {
			a.ticks = ts
			return a
		}
	}
	return newAxis(false, 0, hi, from, to, size, l, width)
}

// roomFor reports whether neighbouring tick texts keep apart.
func (a axis) roomFor(ts []tick, size, width float64) bool {
	for i := 1; i < len(ts); i++ {
		d := math.Abs(a.at(ts[i].v) - a.at(ts[i-1].v))
		need := size * leading
		if width > 0 {
			d = a.textX(ts[i], size, width) - a.textX(ts[i-1], size, width)
			need = (textWidth(ts[i].text, size, Regular)+textWidth(ts[i-1].text, size, Regular))/2 + 0.6*size
		}
		if d < need {
			return false
		}
	}
	return true
}

// step is the least 1, 2 or 5 times a power of ten that cuts span into at
// most n pieces; decimals is how many places its multiples need.
func step(span float64, n int) (s float64, decimals int) {
	raw := span / float64(max(n, 1))
	e := math.Floor(math.Log10(raw))
	for _, m := range [...]float64{1, 2, 5, 10} {
		s = m * math.Pow(10, e)
		if s >= raw*(1-1e-9) {
			break
		}
	}
	return s, max(0, int(-math.Floor(math.Log10(s)+1e-9)))
}

func linearTicks(lo, hi float64, n int, l Look) []tick {
	if !(hi > lo) || !finite(hi-lo) {
		return nil
	}
	s, dec := step(hi-lo, n)
	var ts []tick
	for k := math.Ceil(lo/s - 1e-9); k*s <= hi+s*1e-9 && len(ts) < 50; k++ {
		ts = append(ts, tick{k * s, l.tickText(k*s, s, dec)})
	}
	return ts
}

// tickText avoids long strings of zeros by powers of ten, where two digits
// before the power say the whole number.
func (l Look) tickText(v, step float64, dec int) string {
	big := math.Max(math.Abs(v), step)
	if v == 0 {
		return "0"
	}
	if big < 1e6 && dec <= 4 {
		return l.numberText(v, dec)
	}
	e := math.Floor(math.Log10(math.Abs(v)) + 1e-9)
	m := v / math.Pow(10, e)
	if math.Abs(m-math.Round(m*10)/10)*math.Pow(10, e) > step*1e-6 {
		return l.numberText(v, dec)
	}
	s := l.numberText(m, 1)
	s = strings.TrimSuffix(strings.TrimSuffix(s, ".0"), ",0")
	p := "10" + superscript(int(e))
	switch s {
	case "1":
		return p
	case "−1":
		return "−" + p
	}
	return s + "×" + p
}

func superscript(e int) string {
	const digits = "⁰¹²³⁴⁵⁶⁷⁸⁹"
	s := ""
	neg := e < 0
	if neg {
		e = -e
	}
	for first := true; first || e > 0; first = false {
		s = string([]rune(digits)[e%10]) + s
		e /= 10
	}
	if neg {
		s = "⁻" + s
	}
	return s
}

// logTicks are powers of ten with as many of 2 and 5 (or 3) between as n
// allows, or every second, third, … power.
func logTicks(lo, hi float64, n int, l Look) []tick {
	if !(lo > 0 && hi > lo) || !finite(hi) {
		return nil
	}
	for _, set := range [][]float64{{1, 2, 5}, {1, 3}, {1}} {
		if ts := logTicksOf(lo, hi, set, 1, l); len(ts) <= n && len(ts) >= 2 {
			return ts
		}
	}
	for every := 2; every < 400; every++ {
		if ts := logTicksOf(lo, hi, []float64{1}, every, l); len(ts) <= n && len(ts) >= 1 {
			return ts
		}
	}
	return linearTicks(lo, hi, n, l) // less than a step of 1, 2, 5: an even division reads better
}

func logTicksOf(lo, hi float64, set []float64, every int, l Look) []tick {
	var ts []tick
	from, to := int(math.Floor(math.Log10(lo))), int(math.Ceil(math.Log10(hi)))
	for e := from; e <= to && len(ts) < 100; e++ {
		if e%every != 0 {
			continue
		}
		for _, m := range set {
			v := m * math.Pow(10, float64(e))
			if v >= lo*(1-1e-9) && v <= hi*(1+1e-9) {
				ts = append(ts, tick{v, l.tickText(v, v, max(0, -e))})
			}
		}
	}
	return ts
}

// horizontal draws an axis along y: ticks, texts below, hairlines up to top
// where that is above y. It gives the y below the texts.
func (d *Drawing) horizontal(a axis, f Frame, y, top float64) float64 {
	size := f.Look.SmallMM
	var marks, rules [][]Point
	for _, t := range a.ticks {
		x := a.at(t.v)
		marks = append(marks, []Point{{x, y}, {x, y + 1}})
		if top < y {
			rules = append(rules, []Point{{x, top}, {x, y}})
		}
	}
	d.Line(rules, Stroke{Role: Hair, WidthMM: 0.2})
	d.Line(append(marks, []Point{{a.from, y}, {a.to, y}}), Stroke{Role: Mute, WidthMM: 0.25})
	for _, t := range a.ticks {
		d.Text(Text{X: a.textX(t, size, d.W), Y: y + 1.4 + size*ascent*0.9, S: t.text, SizeMM: size, Anchor: Middle, Role: Mute})
	}
	return y + 1.4 + size*leading
}

// shape is a mark that tells groups apart without colour.
type shape int

const shapes = 7

// mark draws shape k with half-width r at each place.
func (d *Drawing) mark(k int, at []Point, r float64, role Role) {
	poly := func(turn ...float64) {
		var rings [][]Point
		for _, c := range at {
			var ring []Point
			for i := 0; i+1 < len(turn); i += 2 {
				ring = append(ring, Point{c.X + turn[i]*r, c.Y + turn[i+1]*r})
			}
			rings = append(rings, ring)
		}
		d.Area(rings, Fill{Role: role})
	}
	edge := Stroke{Role: role, WidthMM: r * 0.45}
	switch shape(k % shapes) {
	case 0:
		d.Discs(at, r, Fill{Role: role}, Stroke{})
	case 1:
		poly(-.9, -.9, .9, -.9, .9, .9, -.9, .9)
	case 2:
		poly(0, -1.15, 1.1, .85, -1.1, .85)
	case 3:
		poly(0, -1.3, 1.1, 0, 0, 1.3, -1.1, 0)
	case 4:
		d.Discs(at, r*0.85, Fill{Role: Paper}, edge)
	case 5:
		var paths [][]Point
		for _, c := range at {
			paths = append(paths, []Point{{c.X - r, c.Y}, {c.X + r, c.Y}}, []Point{{c.X, c.Y - r}, {c.X, c.Y + r}})
		}
		d.Line(paths, Stroke{Role: role, WidthMM: r * 0.6})
	case 6:
		poly(0, 1.15, 1.1, -.85, -1.1, -.85)
	}
}

func seriesRole(k int) Role { return Series0 + Role(k%seriesCount) }
