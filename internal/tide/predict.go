package tide

import (
	"fmt"
	"math"
	"time"
)

// Harmonic is a constituent's amplitude and Greenwich phase lag at a place. The
// name Z0 is the mean level above the datum; its phase is not used.
type Harmonic struct {
	Name       string
	AmplitudeM float64
	PhaseDeg   float64
}

// Options say how lags and node factors are meant.
type Options struct {
	Nodal       Nodal   // "" is Schureman
	LatitudeDeg float64 // for Satellites
	// LagClockH is the clock that lags are stated against, in hours east of
	// Greenwich: −5 for lags on the time of UTC−5. 0 is Greenwich.
	LagClockH float64
}

// Height is the water at one time.
type Height struct {
	At      time.Time
	HeightM float64
}

// Turn is a high or a low water.
type Turn struct {
	At      time.Time // to the second
	HeightM float64
	High    bool
}

// Curve predicts from harmonic constituents. It may be used by several
// goroutines at once.
type Curve struct {
	options Options
	mean    float64
	lines   []line
}

type line struct {
	c         *Constituent
	amplitude float64
	lagDeg    float64 // against Greenwich
}

// NewCurve makes a curve of a list of harmonics. It refuses a name that is not
// known (tide.unknown-constituent), a name given twice (tide.constituent-twice),
// a negative or unbounded amplitude, a lag that is no number, and Satellites at an
// impossible latitude.
func NewCurve(list []Harmonic, o Options) (*Curve, error) {
	if o.Nodal == "" {
		o.Nodal = Schureman
	}
	if o.Nodal == Satellites && !(math.Abs(o.LatitudeDeg) <= 90) {
		return nil, refuse("tide.latitude", "latitude", o.LatitudeDeg)
	}
	c := &Curve{options: o}
	seen := map[string]bool{}
	for _, h := range list {
		k, ok := Find(h.Name)
		if !ok {
			return nil, refuse("tide.unknown-constituent", "name", h.Name)
		}
		if seen[k.Name] {
			return nil, refuse("tide.constituent-twice", "name", h.Name)
		}
		seen[k.Name] = true
		if k.Name == "Z0" {
			if math.IsNaN(h.AmplitudeM) || math.IsInf(h.AmplitudeM, 0) {
				return nil, refuse("tide.amplitude", "name", h.Name)
			}
			c.mean = h.AmplitudeM
			continue
		}
		if !(h.AmplitudeM >= 0 && h.AmplitudeM <= 1000) {
			return nil, refuse("tide.amplitude", "name", h.Name)
		}
		if !(math.Abs(h.PhaseDeg) <= 1e6) {
			return nil, refuse("tide.phase", "name", h.Name)
		}
		if h.AmplitudeM > 0 {
			c.lines = append(c.lines, line{k, h.AmplitudeM, h.PhaseDeg - k.SpeedDegPerH*o.LagClockH})
		}
	}
	return c, nil
}

// Nodal is the convention used.
func (c *Curve) Nodal() Nodal { return c.options.Nodal }

// MeanM is the mean level, Z0.
func (c *Curve) MeanM() float64 { return c.mean }

// dayH is the length of the pieces, in hours, over which each constituent's
// amplitude and speed are taken as constant rates between exact values at both
// ends; the second derivative of f over a day changes a height by 1e-8 of it.
const dayH = 24.0

// piece is one day of a curve: every constituent as a cosine whose amplitude
// grows at an even rate and whose phase runs at an even speed.
type piece struct {
	start float64 // hours from the epoch
	mean  float64
	waves []wave
}

type wave struct{ a0, grow, phase, speed float64 } // m, m/h, rad, rad/h

// edge is each line's amplitude and phase at one end of a piece.
type edge struct{ amplitude, v, u []float64 }

func (c *Curve) edgeAt(hours float64) edge {
	k := skyAt(hours, c.options.Nodal)
	n := nodesAt(k, c.options.Nodal, c.options.LatitudeDeg)
	e := edge{make([]float64, len(c.lines)), make([]float64, len(c.lines)), make([]float64, len(c.lines))}
	for i, l := range c.lines {
		f, u := n.factor(l.c)
		e.amplitude[i], e.v[i], e.u[i] = l.amplitude*f, l.c.argument(k), u
	}
	return e
}

// pieceOf is the piece between two edges.
func (c *Curve) pieceOf(start float64, a, b edge) piece {
	p := piece{start: start, mean: c.mean, waves: make([]wave, len(c.lines))}
	for i, l := range c.lines {
		turn := b.v[i] - a.v[i] + math.Remainder(b.u[i]-a.u[i], 360)
		p.waves[i] = wave{
			a0: a.amplitude[i], grow: (b.amplitude[i] - a.amplitude[i]) / dayH,
			phase: math.Remainder(a.v[i]+a.u[i]-l.lagDeg, 360) * rad, speed: turn / dayH * rad,
		}
	}
	return p
}

// days calls f for each day that meets [from, to], hours from the epoch, with
// the part of it inside.
func (c *Curve) days(from, to float64, f func(p *piece, from, to float64)) {
	first := math.Floor(from / dayH)
	a := c.edgeAt(first * dayH)
	for day := first; day*dayH <= to; day++ {
		b := c.edgeAt((day + 1) * dayH)
		p := c.pieceOf(day*dayH, a, b)
		f(&p, math.Max(from, day*dayH), math.Min(to, (day+1)*dayH))
		a = b
	}
}

// at is height, rate (m/h) and change of rate (m/h²) at dt hours into the piece.
func (p *piece) at(dt float64) (h, rate, bend float64) {
	h = p.mean
	for _, w := range p.waves {
		a := w.a0 + w.grow*dt
		s, c := math.Sincos(w.phase + w.speed*dt)
		h += a * c
		rate += w.grow*c - a*w.speed*s
		bend += -a*w.speed*w.speed*c - 2*w.grow*w.speed*s
	}
	return h, rate, bend
}

// At is the height at one time, in metres above the datum.
func (c *Curve) At(t time.Time) float64 {
	hours := hoursOf(t)
	day := math.Floor(hours / dayH)
	p := c.pieceOf(day*dayH, c.edgeAt(day*dayH), c.edgeAt((day+1)*dayH))
	h, _, _ := p.at(hours - p.start)
	return h
}

// maxHeights bounds what Heights makes at once: 20 years at one-minute steps.
const maxHeights = 11_000_000

// Heights gives the height at every step from `from` on, and at `to`. It refuses
// a range that runs backwards, a step under a second, and more than 11 million steps.
func (c *Curve) Heights(from, to time.Time, step time.Duration) ([]Height, error) {
	n, err := stepsIn(from, to, step)
	if err != nil {
		return nil, err
	}
	level := make([]float64, n+1)
	f, stepH := hoursOf(from), step.Hours()
	next := 0
	end := hoursOf(to)
	c.days(f, end, func(p *piece, _, upTo float64) {
		first := next
		for next <= n && (f+float64(next)*stepH < p.start+dayH || next == 0) {
			next++ // at most one addition a height
		}
		if next > first {
			p.fill(level[first:next], f+float64(first)*stepH-p.start, stepH)
		}
	})
	list := make([]Height, 0, n+2)
	for i, h := range level {
		list = append(list, Height{from.Add(time.Duration(i) * step), h})
	}
	if last := list[len(list)-1].At; last.Before(to) {
		list = append(list, Height{to, c.At(to)})
	}
	return list, nil
}

// stepsIn is how many whole steps fit the range.
func stepsIn(from, to time.Time, step time.Duration) (int, error) {
	if to.Before(from) {
		return 0, refuse("tide.range", "from", stamp(from), "to", stamp(to))
	}
	if err := inCalendar(from, to); err != nil {
		return 0, err
	}
	if step < time.Second {
		return 0, refuse("tide.step", "step", step.String())
	}
	n := to.Sub(from) / step
	if n > maxHeights {
		return 0, refuse("tide.too-many-heights", "n", int(n), "most", maxHeights)
	}
	return int(n), nil
}

// inCalendar refuses years for which the mean longitudes were never meant, and
// ranges that a time.Duration could not hold.
func inCalendar(from, to time.Time) error {
	for _, t := range []time.Time{from, to} {
		if y := t.UTC().Year(); y < 1700 || y > 2200 {
			return refuse("tide.year", "year", y)
		}
	}
	if to.Sub(from) > 200*366*24*time.Hour {
		return refuse("tide.range-long", "years", 200)
	}
	return nil
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05Z") }

// spin is a wave that turns by a constant complex factor a step: one sine and
// cosine a wave, not a height.
type spin struct{ re, im, cos, sin float64 }

func (w wave) spin(dt0, stepH float64) spin {
	a := w.a0 + w.grow*dt0
	s, c := math.Sincos(w.phase + w.speed*dt0)
	sin, cos := math.Sincos(w.speed * stepH)
	if a > 0 {
		g := 1 + w.grow*stepH/a
		cos, sin = cos*g, sin*g
	}
	return spin{a * c, a * s, cos, sin}
}

// fill adds up the waves at even steps from dt0 hours into the piece, two at a
// time so that one is not waited for.
func (p *piece) fill(out []float64, dt0, stepH float64) {
	for i := range out {
		out[i] = p.mean
	}
	for k := 0; k < len(p.waves); k += 2 {
		a, b := p.waves[k].spin(dt0, stepH), spin{}
		if k+1 < len(p.waves) {
			b = p.waves[k+1].spin(dt0, stepH)
		}
		for i := range out {
			out[i] += a.re + b.re
			a.re, a.im = a.re*a.cos-a.im*a.sin, a.re*a.sin+a.im*a.cos
			b.re, b.im = b.re*b.cos-b.im*b.sin, b.re*b.sin+b.im*b.cos
		}
	}
}

// String tells the curve shortly, for tests and logs.
func (c *Curve) String() string {
	return fmt.Sprintf("%d constituents, %s", len(c.lines), c.options.Nodal)
}
