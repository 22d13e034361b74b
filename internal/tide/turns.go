package tide

import (
	"math"
	"time"
)

// Turns gives every high and low water inside (from, to), in order, to the
// second. Double waters are listed each; two turns that fall on the same second
// are none.
//
// The rate of the curve is looked at on a grid of an eighth of the shortest period
// (at most 18 minutes). A change of its sign holds one turn. Where it does not
// change sign but bends towards zero and away again inside a step, its extreme is
// found first, so that a close pair, a water about to vanish, is not missed.
func (c *Curve) Turns(from, to time.Time) ([]Turn, error) {
	if _, err := stepsIn(from, to, 24*time.Hour); err != nil {
		return nil, err
	}
	fastest := 0.0
	for _, l := range c.lines {
		fastest = math.Max(fastest, math.Abs(l.c.SpeedDegPerH))
	}
	if fastest == 0 {
		return []Turn{}, nil
	}
	s := scan{step: math.Min(0.3, 45/fastest), lo: hoursOf(from), hi: hoursOf(to)}
	c.days(s.lo, s.hi, s.day)
	return s.turns(), nil
}

// scan gathers the zeros of the rate.
type scan struct {
	step, lo, hi float64
	roots        []root
	last         float64 // the rate at the end of the piece before
	begun        bool
	rate, bend   []float64
}

type root struct {
	hours, height float64
	high          bool
}

func (s *scan) day(p *piece, from, to float64) {
	if to <= from {
		return
	}
	n := int(math.Ceil((to - from) / s.step))
	h := (to - from) / float64(n)
	dt0 := from - p.start
	s.slopes(p, n+1, dt0, h)
	if s.begun && (s.last > 0) != (s.rate[0] > 0) {
		s.found(p, dt0, s.last > 0) // on the seam of two days
	}
	for i := 0; i < n; i++ {
		a, b := dt0+float64(i)*h, dt0+float64(i+1)*h
		r0, r1 := s.rate[i], s.rate[i+1]
		if (r0 > 0) != (r1 > 0) {
			s.found(p, p.turnIn(a, b, r0 > 0), r0 > 0)
			continue
		}
		if r0*s.bend[i] >= 0 || r1*s.bend[i+1] <= 0 {
			continue
		}
		m := zero(p.bendAt, a, b, s.bend[i] > 0)
		if rm := p.rateAt(m); (rm > 0) != (r0 > 0) {
			s.found(p, p.turnIn(a, m, r0 > 0), r0 > 0)
			s.found(p, p.turnIn(m, b, rm > 0), rm > 0)
		}
	}
	s.last, s.begun = s.rate[n], true
}

// slopes fills rate and bend at n even times.
func (s *scan) slopes(p *piece, n int, dt0, h float64) {
	if cap(s.rate) < n {
		s.rate, s.bend = make([]float64, n), make([]float64, n)
	}
	s.rate, s.bend = s.rate[:n], s.bend[:n]
	clear(s.rate)
	clear(s.bend)
	for _, w := range p.waves {
		z := w.spin(dt0, h)
		relative := 0.0
		if w.a0 > 0 {
			relative = w.grow / w.a0
		}
		w2, rw := w.speed*w.speed, 2*relative*w.speed
		for i := range s.rate {
			s.rate[i] += relative*z.re - w.speed*z.im
			s.bend[i] -= w2*z.re + rw*z.im
			z.re, z.im = z.re*z.cos-z.im*z.sin, z.re*z.sin+z.im*z.cos
		}
	}
}

func (p *piece) rateAt(dt float64) float64 { _, r, _ := p.at(dt); return r }
func (p *piece) bendAt(dt float64) float64 { _, _, b := p.at(dt); return b }

func (s *scan) found(p *piece, dt float64, high bool) {
	hours := p.start + dt
	if hours <= s.lo || hours >= s.hi {
		return
	}
	h, _, _ := p.at(dt)
	s.roots = append(s.roots, root{hours, h, high})
}

// turnIn finds where the rate changes sign between a and b by Newton's steps,
// halving where one leaves the bracket; positive says whether the water rises at a.
func (p *piece) turnIn(a, b float64, positive bool) float64 {
	const tiny = 0.003 / 3600
	x := (a + b) / 2
	for i := 0; i < 60 && b-a > tiny; i++ {
		_, rate, bend := p.at(x)
		if (rate > 0) == positive {
			a = x
		} else {
			b = x
		}
		next := (a + b) / 2
		if bend != 0 {
			if n := x - rate/bend; n >= a && n <= b {
				next = n
			}
		}
		if math.Abs(next-x) < tiny {
			return next
		}
		x = next
	}
	return x
}

// zero finds where f changes sign between a and b to a hundredth of a second;
// positive says whether f is above zero at a. Bisection with secant steps.
func zero(f func(float64) float64, a, b float64, positive bool) float64 {
	const tiny = 0.01 / 3600
	fa, fb := f(a), f(b)
	for i := 0; i < 80 && b-a > tiny; i++ {
		m := (a + b) / 2
		if i%3 != 2 && fa != fb {
			m = a - fa*(b-a)/(fb-fa)
			pad := math.Max((b-a)*1e-3, tiny/4)
			m = math.Min(math.Max(m, a+pad), b-pad)
		}
		fm := f(m)
		if (fm > 0) == positive {
			a, fa = m, fm
		} else {
			b, fb = m, fm
		}
	}
	return (a + b) / 2
}

// turns rounds to the second and drops pairs that fall together.
func (s *scan) turns() []Turn {
	list := []Turn{}
	for _, r := range s.roots {
		t := Turn{timeOf(r.hours).Round(time.Second), r.height, r.high}
		if !t.At.After(timeOf(s.lo)) || !t.At.Before(timeOf(s.hi)) {
			continue
		}
		if n := len(list); n > 0 && !list[n-1].At.Before(t.At) {
			list = list[:n-1]
			continue
		}
		list = append(list, t)
	}
	return list
}

// Crossings gives the times inside [from, to] at which the water passes a level,
// to the second, and whether it rises there. Between two turns it does so once
// at most.
func (c *Curve) Crossings(levelM float64, from, to time.Time) ([]Crossing, error) {
	turns, err := c.Turns(from, to)
	if err != nil {
		return nil, err
	}
	list := []Crossing{}
	level := c.reader()
	at, h := from, c.At(from)
	pass := func(next time.Time, hn float64) {
		if (h > levelM) != (hn > levelM) {
			a, b := hoursOf(at), hoursOf(next)
			z := zero(func(x float64) float64 { return level(x) - levelM }, a, b, h > levelM)
			list = append(list, Crossing{timeOf(z).Round(time.Second), hn > h})
		}
		at, h = next, hn
	}
	for _, t := range turns {
		pass(t.At, t.HeightM)
	}
	pass(to, c.At(to))
	return list, nil
}

// reader gives the height at hours from the epoch, and keeps the day last asked for.
func (c *Curve) reader() func(hours float64) float64 {
	var day piece
	begun := false
	return func(hours float64) float64 {
		if start := math.Floor(hours/dayH) * dayH; !begun || start != day.start {
			day, begun = c.pieceOf(start, c.edgeAt(start), c.edgeAt(start+dayH)), true
		}
		h, _, _ := day.at(hours - day.start)
		return h
	}
}

// Crossing is the water passing a level.
type Crossing struct {
	At     time.Time
	Rising bool
}
