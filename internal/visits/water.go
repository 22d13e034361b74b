package visits

import (
	"math"
	"sort"
	"time"

	"soakline/internal/tide"
)

// Source is where the height of the water comes from: FromCurve or FromTable.
type Source interface {
	// water is the water over a range, as far as it is known there.
	water(from, to float64) (*water, error)
	// heightAt is the height at one time; false where it is not known.
	heightAt(at time.Time) (heightM float64, ok bool)
}

// FromCurve takes the water from harmonic constituents; it is known at all times.
func FromCurve(c *tide.Curve) Source { return curveSource{c} }

// FromTable takes the water from a local table of high and low waters; it is not
// known outside the table, nor in its gaps.
func FromTable(t *tide.Table) Source { return tableSource{t} }

type curveSource struct{ c *tide.Curve }

type tableSource struct{ t *tide.Table }

func (s curveSource) heightAt(at time.Time) (float64, bool) { return s.c.At(at), true }
func (s tableSource) heightAt(at time.Time) (float64, bool) { return s.t.At(at) }

// knot is a time with its height; between two knots of one stretch the water only
// rises or only falls.
type knot struct{ at, height float64 }

// water is the height over a range.
type water struct {
	stretches [][]knot // each known without a gap
	f         func(s float64) float64
}

// samplesS is the step of the heights between which a curve is interpolated.
const samplesS = 360

// water samples the curve every six minutes and sets a polynomial of the fifth
// degree through each six of them. For a constituent of 12 cycles a day it is
// wrong by at most 5e-6 of its amplitude; so the crossings are those of the curve
// itself. The turns between which the water is monotone are the curve's own.
func (s curveSource) water(from, to float64) (*water, error) {
	begin := math.Floor(from/samplesS-3) * samplesS
	n := int(math.Ceil(to/samplesS)-begin/samplesS) + 4
	heights, err := s.c.Heights(instant(begin), instant(begin+float64(n)*samplesS), samplesS*time.Second)
	if err != nil {
		return nil, err
	}
	y := make([]float64, len(heights))
	for i, h := range heights {
		y[i] = h.HeightM
	}
	f := func(at float64) float64 { return through(y, (at-begin)/samplesS) }
	turns, err := s.c.Turns(instant(from), instant(to))
	if err != nil {
		return nil, err
	}
	knots := []knot{{from, f(from)}}
	for _, t := range turns {
		knots = append(knots, knot{seconds(t.At), t.HeightM})
	}
	return &water{[][]knot{append(knots, knot{to, f(to)})}, f}, nil
}

// through is the value at x, in steps from the first, of the polynomial through
// the six samples around it (Lagrange's formula).
func through(y []float64, x float64) float64 {
	i := min(max(int(math.Floor(x)), 2), len(y)-4)
	u := x - float64(i)
	a, b, c, d, e, f := u+2, u+1, u, u-1, u-2, u-3
	return -y[i-2]*b*c*d*e*f/120 + y[i-1]*a*c*d*e*f/24 - y[i]*a*b*d*e*f/12 +
		y[i+1]*a*b*c*e*f/12 - y[i+2]*a*b*c*d*f/24 + y[i+3]*a*b*c*d*e/120
}

func (s tableSource) water(from, to float64) (*water, error) {
	f := func(at float64) float64 {
		h, _ := s.t.At(instant(at))
		return h
	}
	w := &water{f: f}
	first, last := s.t.Range()
	from, to = math.Max(from, seconds(first)), math.Min(to, seconds(last))
	if from >= to {
		return w, nil
	}
	// Turns at the ends of the range themselves are knots already.
	var times []float64
	times = append(times, from)
	for _, t := range s.t.Turns(instant(from), instant(to)) {
		if at := seconds(t.At); at > times[len(times)-1] && at < to {
			times = append(times, at)
		}
	}
	times = append(times, to)
	var run []knot
	for i := 1; i < len(times); i++ {
		if math.IsNaN(f((times[i-1] + times[i]) / 2)) { // a gap
			if len(run) > 0 {
				w.stretches = append(w.stretches, run)
			}
			run = nil
			continue
		}
		if len(run) == 0 {
			run = append(run, knot{times[i-1], s.edge(times[i-1], times[i])})
		}
		run = append(run, knot{times[i], s.edge(times[i], times[i-1])})
	}
	if len(run) > 0 {
		w.stretches = append(w.stretches, run)
	}
	return w, nil
}

// edge is the height at a line beside a gap, where At looks only one way.
func (s tableSource) edge(at, inside float64) float64 {
	if h, ok := s.t.At(instant(at)); ok {
		return h
	}
	h, _ := s.t.At(instant(at + math.Copysign(0.001, inside-at)))
	return h
}

// known is the time for which the height is known.
func (w *water) known() set {
	var out set
	for _, k := range w.stretches {
		out = out.add(span{k[0].at, k[len(k)-1].at})
	}
	return out
}

// above is the set of times at which the water stands at a level or higher.
func (w *water) above(level float64) set {
	return w.where(func(h float64) bool { return h >= level }, level)
}

// below is the set of times at which it stands at the level or lower.
func (w *water) below(level float64) set {
	return w.where(func(h float64) bool { return h <= level }, level)
}

func (w *water) where(in func(h float64) bool, level float64) set {
	var out set
	for _, k := range w.stretches {
		for i := 1; i < len(k); i++ {
			a, b := k[i-1], k[i]
			ina, inb := in(a.height), in(b.height)
			switch {
			case ina && inb:
				out = out.add(span{a.at, b.at})
			case ina:
				out = out.add(span{a.at, w.crossing(a, b, level)})
			case inb:
				out = out.add(span{w.crossing(a, b, level), b.at})
			}
		}
	}
	return out
}

// crossing is when the water passes a level between two knots on either side of
// it, to a tenth of a millisecond: halving, with a secant's step in between.
func (w *water) crossing(a, b knot, level float64) float64 {
	rising := b.height > a.height
	lo, hi, flo, fhi := a.at, b.at, a.height-level, b.height-level
	for i := 0; i < 100 && hi-lo > hair; i++ {
		m := (lo + hi) / 2
		if i%3 != 2 && fhi != flo {
			pad := math.Max((hi-lo)*1e-3, hair/4)
			m = math.Min(math.Max(lo-flo*(hi-lo)/(fhi-flo), lo+pad), hi-pad)
		}
		fm := w.f(m) - level
		if (fm >= 0) == rising {
			hi, fhi = m, fm
		} else {
			lo, flo = m, fm
		}
	}
	return (lo + hi) / 2
}

// extremes are the lowest and the highest water in [from, to] and their times;
// false where some of it is not known.
func (w *water) extremes(from, to float64) (low, high knot, ok bool) {
	for _, k := range w.stretches {
		if from < k[0].at-hair || to > k[len(k)-1].at+hair {
			continue
		}
		low = knot{from, w.f(from)}
		high = low
		look := func(x knot) {
			if x.height < low.height {
				low = x
			}
			if x.height > high.height {
				high = x
			}
		}
		for i := sort.Search(len(k), func(i int) bool { return k[i].at > from }); i < len(k) && k[i].at < to; i++ {
			look(k[i])
		}
		look(knot{to, w.f(to)})
		return low, high, true
	}
	return low, high, false
}

// rate is how fast the water rises, in metres an hour (negative: falls).
func (w *water) rate(at, from, to float64) float64 {
	a, b := math.Max(from, at-30), math.Min(to, at+30)
	return (w.f(b) - w.f(a)) / (b - a) * 3600
}

// slow is the set of times at which the water rises or falls at most so many
// metres an hour. The rate is looked at every six minutes, between which a curve's
// hardly bends; an extreme of it between two looks is found by a parabola.
func (w *water) slow(mostMPerH float64) set {
	var out set
	for _, k := range w.stretches {
		from, to := k[0].at, k[len(k)-1].at
		excess := func(s float64) float64 { return math.Abs(w.rate(s, from, to)) - mostMPerH }
		n := int(math.Ceil((to - from) / samplesS))
		step := (to - from) / float64(n)
		for i := 0; i < n; i++ {
			a, b := from+float64(i)*step, from+float64(i+1)*step
			m := (a + b) / 2
			fa, fm, fb := excess(a), excess(m), excess(b)
			if curl := fa - 2*fm + fb; curl != 0 { // the parabola's extreme instead of the middle
				if x := m + (fa-fb)/(2*curl)*(b-a)/2; x > a && x < b {
					m, fm = x, excess(x)
				}
			}
			for _, piece := range [][4]float64{{a, m, fa, fm}, {m, b, fm, fb}} {
				if s, ok := lowPart(excess, piece[0], piece[1], piece[2], piece[3]); ok {
					out = out.add(s)
				}
			}
		}
	}
	return out
}

// lowPart is the part of [a, b] where f, which changes sign there once at most,
// is not above zero.
func lowPart(f func(float64) float64, a, b, fa, fb float64) (span, bool) {
	switch {
	case fa <= 0 && fb <= 0:
		return span{a, b}, true
	case fa > 0 && fb > 0:
		return span{}, false
	}
	lo, hi := a, b
	for hi-lo > hair {
		if m := (lo + hi) / 2; (f(m) <= 0) == (fa <= 0) {
			lo = m
		} else {
			hi = m
		}
	}
	if fa <= 0 {
		return span{a, lo}, true
	}
	return span{hi, b}, true
}
