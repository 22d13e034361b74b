package figure

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// Curves shows the share of baits still there over time, by group.
type Curves struct {
	Title, Desc    string
	XLabel, YLabel string // along the time axis; above the share axis
	Groups         []CurveGroup
	// Scale turns a share into the number on the axis: 100 for "of 100"; 0 is 100.
	Scale float64
	Note  string
	// DeterminedWord and OpenWord explain, in the key, a full line (the share is
	// known over that time) and a dotted one (it fell somewhere in between).
	DeterminedWord, OpenWord, BandWord string
}

// CurveGroup is one group's curve.
type CurveGroup struct {
	Label, Sub string // at the line's end
	Stretches  []Stretch
}

// Stretch is a span of time over which the share is determined. Between one
// stretch and the next it falls, nobody knows when. Lower and Upper are NaN
// where there is no band.
type Stretch struct{ FromH, ToH, Survival, Lower, Upper float64 }

func (c Curves) check() error {
	for _, g := range c.Groups {
		last := math.Inf(-1)
		for i, s := range g.Stretches {
			if !finite(s.FromH) || !finite(s.ToH) || s.FromH < 0 || s.ToH < s.FromH || s.FromH < last {
				return fmt.Errorf("figure: group %q, stretch %d runs from %g to %g h; give stretches in order of time from 0 on", g.Label, i+1, s.FromH, s.ToH)
			}
			if !(s.Survival >= 0 && s.Survival <= 1) {
				return fmt.Errorf("figure: group %q, stretch %d: a share of %g is outside 0 to 1", g.Label, i+1, s.Survival)
			}
			last = s.ToH
		}
	}
	if len(c.Groups) > 1000 {
		return errors.New("figure: more than 1000 groups cannot be told apart in one drawing")
	}
	return nil
}

// DrawCurves draws survival curves with bands and labels at the lines' ends.
func DrawCurves(c Curves, f Frame) (*Drawing, error) {
	d, err := f.begin(c.Title, c.Desc)
	if err != nil {
		return nil, err
	}
	if err := c.check(); err != nil {
		return nil, err
	}
	if c.Scale == 0 {
		c.Scale = 100
	}
	d.note(c.YLabel, c.XLabel)
	y := d.put(f.small(c.YLabel).wrap(d.W), 0, 0, Start) + 1.5
	p := c.layout(d, f, y)
	d.Begin(Group{ID: "axes"})
	bottom := d.horizontal(p.x, f, p.bottom, p.bottom)
	at := p.x.from
	if at+f.small(c.XLabel).width() > d.W {
		at = 0
	}
	bottom = d.put(f.small(c.XLabel).wrap(d.W), at, bottom, Start)
	p.shareAxis(d, f)
	d.End()
	d.Begin(Group{ID: "bands"}) // under every line, so that no line is dimmed
	for i, g := range c.Groups {
		p.band(d, i, g)
	}
	d.End()
	for i, g := range c.Groups {
		d.Begin(Group{ID: fmt.Sprintf("group-%d", i), Title: g.Label})
		p.curve(d, i, len(c.Groups), g)
		d.End()
	}
	p.endLabels(d, f, c.Groups)
	bottom = c.keyBelow(d, f, bottom+1)
	if c.Note != "" {
		bottom = d.footer(f, c.Note, bottom+1)
	}
	d.H = bottom + 0.5
	return d, nil
}

// plot is where the curves stand.
type plot struct {
	x, y        axis // y of share times Scale
	top, bottom float64
	labelX      float64
	labels      [][]words
	scale       float64
}

// layout gives left room to the share axis, right room to the labels, and as
// much height as the labels need.
func (c Curves) layout(d *Drawing, f Frame, top float64) *plot {
	p := &plot{top: top, scale: c.Scale}
	column := d.W * 0.36
	need, tall := 0.0, 0.0
	for _, g := range c.Groups {
		d.note(g.Label, g.Sub)
		ws := append(f.bold(g.Label).wrap(column), f.small(g.Sub).wrap(column)...)
		p.labels = append(p.labels, ws)
		need = max(need, widest(ws))
		tall += height(ws) + f.Look.SmallMM*0.35
	}
	leader := 0.0
	if need > 0 {
		leader = 6
	}
	h := max(clamp(d.W*0.45, 45, 95), tall)
	p.bottom = top + h
	p.y = newAxis(false, 0, c.Scale, p.bottom, top, f.Look.SmallMM, f.Look, 0)
	left := 0.0
	for _, t := range p.y.ticks {
		left = max(left, textWidth(t.text, f.Look.SmallMM, Regular))
	}
	left += 2
	right := d.W - need - leader - 1
	p.labelX = d.W - need
	// A little room after the last check, so that whiskers at it stand apart.
	p.x = newHourAxis(c.horizon()*1.025, left, max(right, left+10), f.Look.SmallMM, f.Look, d.W)
	return p
}

// horizon is the last time of any stretch, h; 24 when there is none.
func (c Curves) horizon() float64 {
	h := 0.0
	for _, g := range c.Groups {
		for _, s := range g.Stretches {
			h = max(h, s.ToH)
		}
	}
	if h <= 0 {
		return 24
	}
	return h
}

func (p *plot) shareAxis(d *Drawing, f Frame) {
	var rules [][]Point
	for _, t := range p.y.ticks {
		y := p.y.at(t.v)
		if y < p.bottom-1e-6 {
			rules = append(rules, []Point{{p.x.from, y}, {p.x.to, y}})
		}
		d.Text(Text{X: p.x.from - 1.4, Y: y + f.Look.SmallMM*0.33, S: t.text, SizeMM: f.Look.SmallMM, Anchor: End, Role: Mute})
	}
	d.Line(rules, Stroke{Role: Hair, WidthMM: 0.2})
}

func (p *plot) at(h, share float64) Point { return Point{p.x.at(h), p.y.at(share * p.scale)} }

// whiskerMM is the width of a stretch up to which its band is a whisker.
const whiskerMM = 2.5

func (s Stretch) banded() bool {
	return finite(s.Lower) && finite(s.Upper) && s.Upper > s.Lower
}

// band shades the bands of the stretches that are wide enough to be seen.
func (p *plot) band(d *Drawing, k int, g CurveGroup) {
	var band, rim [][]Point
	for _, s := range g.Stretches {
		lo, hi := p.at(s.FromH, s.Lower), p.at(s.ToH, s.Upper)
		if !s.banded() || hi.X-lo.X <= whiskerMM {
			continue
		}
		a, b := Point{lo.X, hi.Y}, Point{hi.X, lo.Y}
		band = append(band, []Point{a, hi, b, lo})
		rim = append(rim, []Point{a, hi}, []Point{lo, b})
	}
	d.Area(band, Fill{Role: seriesRole(k), Alpha: 0.16})
	d.Line(rim, Stroke{Role: seriesRole(k), WidthMM: 0.25})
}

// curve draws one group: open falls dotted, determined stretches full,
// marks at their ends.
func (p *plot) curve(d *Drawing, k, n int, g CurveGroup) {
	role := seriesRole(k)
	dodge := 0.0 // whiskers of groups read at one time stand side by side
	if n > 1 && n <= seriesCount {
		dodge = (float64(k) - float64(n-1)/2) * 0.9
	}
	var full, open, whisk [][]Point
	var ends []Point
	for i, s := range g.Stretches {
		a, b := p.at(s.FromH, s.Survival), p.at(s.ToH, s.Survival)
		full = append(full, []Point{a, b})
		ends = append(ends, a, b)
		if s.banded() && b.X-a.X <= whiskerMM {
			lo, hi := p.at(s.FromH, s.Lower), p.at(s.ToH, s.Upper)
			x := clamp((a.X+b.X)/2+dodge, p.x.from, p.x.to)
			whisk = append(whisk, []Point{{x, lo.Y}, {x, hi.Y}}, []Point{{x - .7, lo.Y}, {x + .7, lo.Y}}, []Point{{x - .7, hi.Y}, {x + .7, hi.Y}})
		}
		if i > 0 {
			prev := g.Stretches[i-1]
			open = append(open, []Point{p.at(prev.ToH, prev.Survival), a})
		}
	}
	d.Line(whisk, Stroke{Role: role, WidthMM: 0.35})
	d.Line(dashed(open, 0.25, 1.1), Stroke{Role: role, WidthMM: 0.5, Round: true})
	d.Line(full, Stroke{Role: role, WidthMM: 0.75, Round: true})
	d.mark(k, thin(ends, 3.5), 1.1, role)
}

// thin keeps the first and last place and those at least gap mm apart.
func thin(at []Point, gap float64) []Point {
	var out []Point
	for i, q := range at {
		if len(out) == 0 || dist(out[len(out)-1], q) >= gap {
			out = append(out, q)
		} else if i == len(at)-1 && dist(out[len(out)-1], q) > 0 {
			if len(out) > 1 {
				out[len(out)-1] = q
			} else {
				out = append(out, q)
			}
		}
	}
	return out
}

// endLabels sets each group's label where its line ends, moved apart so that
// none touch, with a thin line from end to label.
func (p *plot) endLabels(d *Drawing, f Frame, groups []CurveGroup) {
	type end struct {
		k int
		p Point
	}
	var ends []end
	for k, g := range groups {
		at := Point{p.x.to, p.bottom}
		if n := len(g.Stretches); n > 0 {
			at = p.at(g.Stretches[n-1].ToH, g.Stretches[n-1].Survival)
		}
		if len(p.labels[k]) > 0 {
			ends = append(ends, end{k, at})
		}
	}
	sort.SliceStable(ends, func(i, j int) bool { return ends[i].p.Y < ends[j].p.Y })
	var c, h []float64
	for _, e := range ends {
		c = append(c, e.p.Y)
		h = append(h, height(p.labels[e.k])+f.Look.SmallMM*0.35)
	}
	d.Begin(Group{ID: "labels"})
	for i, y := range spread(c, h, p.top-f.Look.TextMM*0.5, p.bottom) {
		e := ends[i]
		role := seriesRole(e.k)
		if len(groups[e.k].Stretches) > 0 {
			first := y - height(p.labels[e.k])/2 + f.Look.TextMM*leading/2
			d.Line([][]Point{{{e.p.X + 1.3, e.p.Y}, {p.x.to + 2, e.p.Y}, {p.labelX - 2.6, first}}}, Stroke{Role: role, WidthMM: 0.25})
			d.mark(e.k, []Point{{p.labelX - 1.6, first}}, 0.9, role)
		}
		d.put(p.labels[e.k], p.labelX, y-height(p.labels[e.k])/2, Start)
	}
	d.End()
}

// keyBelow explains full, dotted and band.
func (c Curves) keyBelow(d *Drawing, f Frame, y float64) float64 {
	var items []keyItem
	if c.DeterminedWord != "" {
		items = append(items, keyItem{c.DeterminedWord, func(x, m float64) {
			d.Line([][]Point{{{x + .5, m}, {x + 6, m}}}, Stroke{Role: Ink, WidthMM: 0.75, Round: true})
		}})
	}
	if c.OpenWord != "" {
		items = append(items, keyItem{c.OpenWord, func(x, m float64) {
			d.Line(dashed([][]Point{{{x + .5, m}, {x + 6, m}}}, 0.25, 1.1), Stroke{Role: Ink, WidthMM: 0.5, Round: true})
		}})
	}
	if c.BandWord != "" {
		items = append(items, keyItem{c.BandWord, func(x, m float64) {
			d.Area([][]Point{{{x + .5, m - 1.4}, {x + 6, m - 1.4}, {x + 6, m + 1.4}, {x + .5, m + 1.4}}}, Fill{Role: Ink, Alpha: 0.16})
			d.Line([][]Point{{{x + .5, m - 1.4}, {x + 6, m - 1.4}}, {{x + .5, m + 1.4}, {x + 6, m + 1.4}}}, Stroke{Role: Ink, WidthMM: 0.25})
		}})
	}
	if len(items) == 0 {
		return y
	}
	return d.key(f, items, 7.6, f.Look.SmallMM*leading, y)
}
