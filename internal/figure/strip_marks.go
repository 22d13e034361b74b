package figure

import (
	"cmp"
	"slices"
)

// strip draws one group; its room ends at bottom.
func (b *bench) strip(d *Drawing, f Frame, g Strip, bottom float64) {
	label, value := b.words(f, g)
	h := b.height(f, g)
	top := bottom - h
	y := b.lineY(f, g, bottom)
	if b.stacked {
		d.put(label, 0, top, Start)
		if b.paired(label, value) {
			d.put(value, d.W, top, End)
		} else {
			d.put(value, 0, top+height(label), Start)
		}
	} else {
		d.put(label, 0, top+(h-height(label))/2, Start)
		d.put(value, b.valueX, top+(h-height(value))/2, Start)
	}
	d.Line([][]Point{{{b.from, y}, {b.axis.to, y}}}, Stroke{Role: Hair, WidthMM: 0.25})
	b.points(d, g.Points, y)
	if g.twoPairs() {
		b.interval(d, g.LowerAll, g.UpperAll, y, 0.45, 0)
	}
	b.interval(d, g.Lower, g.Upper, y, 1.3, 0.45)
	if finite(g.Estimate) {
		switch {
		case b.zero && g.Estimate <= 0:
			d.Discs([]Point{{b.from, y}}, 1.6, Fill{Role: Sea}, Stroke{})
		case b.axis.holds(g.Estimate):
			d.Discs([]Point{{b.axis.at(g.Estimate), y}}, 1.6, Fill{Role: Sea}, Stroke{})
		default:
			x := b.axis.at(g.Estimate)
			b.arrow(d, x, y, x > (b.axis.from+b.axis.to)/2, Sea, 1.6)
		}
	}
}

// interval draws limits as a bar; a side without a limit, or with one beyond
// the axis, ends in an arrow at the axis' end, and the other in a stop.
func (b *bench) interval(d *Drawing, lo, hi, y, width, alpha float64) {
	noLo, noHi := !finite(lo), !finite(hi)
	if noLo && noHi {
		return
	}
	x, x2 := b.axis.from, b.axis.to
	if !noLo {
		x = b.axis.at(lo)
		if b.zero && lo <= 0 {
			x = b.from
		}
	}
	if !noHi {
		x2 = b.axis.at(hi)
	}
	if x2 < x {
		return
	}
	s := Stroke{Role: Sea, WidthMM: width, Alpha: alpha}
	d.Line([][]Point{{{x, y}, {x2, y}}}, s)
	stop := func(x float64) {
		d.Line([][]Point{{{x, y - 1.5}, {x, y + 1.5}}}, Stroke{Role: Sea, WidthMM: 0.45})
	}
	switch {
	case noLo || finite(lo) && !b.zero && lo < b.axis.lo || b.zero && lo > 0 && lo < b.axis.lo:
		b.arrow(d, x, y, false, Sea, 1.5)
	default:
		stop(x)
	}
	switch {
	case noHi || hi > b.axis.hi:
		b.arrow(d, x2, y, true, Sea, 1.5)
	default:
		stop(x2)
	}
}

// arrow is a head of half-height r whose point is at x.
func (b *bench) arrow(d *Drawing, x, y float64, right bool, role Role, r float64) {
	back := r * 1.6
	if right {
		back = -back
	}
	d.Area([][]Point{{{x, y}, {x + back, y - r}, {x + back, y + r}}}, Fill{Role: role})
}

// The stack of ticks under a strip: at most so high, a tick at most so high.
const (
	stackMM = 9.0
	tickMM  = 1.5
	rainMM  = 1.9 // from the strip's line to the first tick
)

// placed is a deployment's tick: where it stands and in which place of the stack.
type placed struct {
	x     float64
	level int
	side  Side
}

// stack gives each deployment the first place under the line where it touches
// no other, so that rows with one result show as many; depth is how many
// places are in use.
func (b *bench) stack(ps []StripDot) (out []placed, depth int) {
	sorted := slices.Clone(ps)
	sorted = slices.DeleteFunc(sorted, func(p StripDot) bool { return !finite(p.Value) })
	slices.SortStableFunc(sorted, func(p, q StripDot) int { return cmp.Compare(p.Value, q.Value) })
	var last []float64 // right end of what stands in each place
	for _, p := range sorted {
		x := b.axis.at(p.Value)
		if b.zero && p.Value <= 0 {
			x = b.from
		}
		lo, hi := x-0.35, x+0.35
		switch p.Side {
		case AtLeast:
			hi += 1.5
		case AtMost:
			lo -= 1.5
		}
		level := 0
		for level < len(last) && last[level] > lo {
			level++
		}
		if level == len(last) {
			last = append(last, hi)
		}
		last[level] = hi
		out = append(out, placed{x, level, p.Side})
	}
	return out, len(last)
}

// rain is how far the ticks under a strip reach.
func (b *bench) rain(g Strip) float64 {
	_, depth := b.stack(g.Points)
	if depth == 0 {
		return 0
	}
	return rainMM - stripUp/2 + min(stackMM, float64(depth)*tickMM)
}

// points draws one tick per deployment below the strip's line. A limit on one
// side is a tick with a small arm to that side.
func (b *bench) points(d *Drawing, ps []StripDot, y float64) {
	marks, depth := b.stack(ps)
	step := min(tickMM, stackMM/float64(max(depth, 1)))
	half := step * 0.4
	var ticks, arms [][]Point
	for _, m := range marks {
		mid := y + rainMM + step*(float64(m.level)+0.5)
		ticks = append(ticks, []Point{{m.x, mid - half}, {m.x, mid + half}})
		if m.side != Exact {
			arm, tip := 1.4, half*0.7
			if m.side == AtMost {
				arm = -arm
			}
			arms = append(arms, []Point{{m.x, mid}, {m.x + arm, mid}}, []Point{{m.x + arm*.5, mid - tip}, {m.x + arm, mid}, {m.x + arm*.5, mid + tip}})
		}
	}
	d.Line(ticks, Stroke{Role: Mute, WidthMM: 0.36})
	d.Line(arms, Stroke{Role: Mute, WidthMM: 0.25})
}
