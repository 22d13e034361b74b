package figure

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Day is the tide line of a day at a row: water and light, the row's bed and the
// level of the way, the starts that will do, the visits, and when to have left.
// Times are hours from the left edge; heights are metres above the datum.
type Day struct {
	Title, Desc string
	Heading     string // drawn above all, for a file that stands alone
	SpanH       float64
	Ticks       []DayTick  // what the clock shows; those without room are left out
	Water       []DayWater // in order of time; NaN where it is not known
	HeightLabel string     // of the axis of heights: "m above chart datum"
	Dark        [][2]float64
	BedM        float64
	BedLabel    string
	WayM        float64 // highest water that the way can be crossed at; NaN for no way
	WayLabel    string
	Bars        []DayBar // starts that will do
	Visits      []DayVisit
	Leave       []DayTick // latest times to leave, told in warm ink
	Note        string
}

// DayTick is a time with its words.
type DayTick struct {
	AtH   float64
	Label string
}

// DayWater is the height of the water at a time.
type DayWater struct{ AtH, HeightM float64 }

// DayBar is a stretch of starts.
type DayBar struct {
	FromH, ToH float64
	Label      string
}

// DayVisit is a stay at the row.
type DayVisit struct {
	FromH, ToH float64
	Label      string
}

func (y Day) check() error {
	if !(y.SpanH > 0 && y.SpanH <= 24*14) {
		return fmt.Errorf("figure: a day of %g hours cannot be drawn; give more than 0 and at most 336", y.SpanH)
	}
	if !finite(y.BedM) || math.IsInf(y.WayM, 0) || math.Abs(y.BedM) > 1e4 || math.Abs(y.WayM) > 1e4 {
		return fmt.Errorf("figure: a bed at %g m and a way at %g m cannot be drawn", y.BedM, y.WayM)
	}
	if len(y.Water) > 100_000 || len(y.Bars)+len(y.Visits)+len(y.Leave)+len(y.Ticks) > 1000 {
		return errors.New("figure: more than 1000 marks cannot be read in one drawing of a day")
	}
	last := math.Inf(-1)
	for i, w := range y.Water {
		if !finite(w.AtH) || w.AtH < last || math.IsInf(w.HeightM, 0) || math.Abs(w.HeightM) > 1e4 {
			return fmt.Errorf("figure: water %d is %g m at %g h; give heights in order of time", i+1, w.HeightM, w.AtH)
		}
		last = w.AtH
	}
	for _, s := range y.stretches() {
		if !finite(s[0]) || !finite(s[1]) || s[1] < s[0] {
			return fmt.Errorf("figure: a stretch from %g to %g h cannot be drawn", s[0], s[1])
		}
	}
	return nil
}

// stretches lists every stretch of time that is drawn.
func (y Day) stretches() [][2]float64 {
	out := slices.Clone(y.Dark)
	for _, b := range y.Bars {
		out = append(out, [2]float64{b.FromH, b.ToH})
	}
	for _, v := range y.Visits {
		out = append(out, [2]float64{v.FromH, v.ToH})
	}
	for _, t := range append(slices.Clone(y.Leave), y.Ticks...) {
		out = append(out, [2]float64{t.AtH, t.AtH})
	}
	return out
}

// DrawDay draws the tide line.
func DrawDay(y Day, f Frame) (*Drawing, error) {
	d, err := f.begin(y.Title, y.Desc)
	if err != nil {
		return nil, err
	}
	if err := y.check(); err != nil {
		return nil, err
	}
	d.note(y.HeightLabel, y.BedLabel, y.WayLabel)
	t := y.tank(d, f)
	marks := y.dayWords(f, t)
	// Words of visits and times to leave stand in lanes above the water, the
	// height's name above them.
	d.note(y.Heading)
	top := d.put(f.bold(y.Heading).wrap(d.W-1), 0, 0, Start)
	top = d.put(f.small(y.HeightLabel).wrap(d.W), 0, top, Start)
	top = d.lanes(f, marks, top+0.6) + 0.8
	t.place(top)
	d.Begin(Group{ID: "water"})
	y.nights(d, t)
	y.sea(d, t)
	d.End()
	d.Begin(Group{ID: "levels"})
	y.levels(d, f, t)
	d.End()
	d.Begin(Group{ID: "axis"})
	bottom := d.horizontal(t.x, f, t.bottom, t.bottom)
	d.End()
	d.Begin(Group{ID: "visits"})
	y.poles(d, t, marks)
	d.End()
	bottom = y.bars(d, f, t, bottom+0.8)
	if y.Note != "" {
		bottom = d.footer(f, y.Note, bottom+0.8)
	}
	d.H = bottom + 0.5
	return d, nil
}

// tank is where the water stands.
type tank struct {
	x, y        axis
	top, bottom float64
	column      float64
	tall        float64 // mm: the usual height, or what the level labels need
}

// dayHeightMM is the height of the water's picture.
const dayHeightMM = 36

func (y Day) tank(d *Drawing, f Frame) *tank {
	t := &tank{}
	lo, hi := y.BedM, y.BedM
	add := func(v float64) {
		if !math.IsNaN(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	add(y.WayM)
	for _, w := range y.Water {
		add(w.HeightM)
	}
	pad := math.Max((hi-lo)*0.06, 0.1)
	size := f.Look.SmallMM
	t.y = newAxis(false, lo-pad, hi+pad, dayHeightMM, 0, size, f.Look, 0)
	for _, k := range t.y.ticks {
		t.column = max(t.column, textWidth(k.text, size, Regular))
	}
	for _, s := range []string{y.BedLabel, y.WayLabel} {
		t.column = max(t.column, min(f.main(s).width(), d.W*0.24))
	}
	t.tall = math.Max(dayHeightMM, height(f.main(y.BedLabel).wrap(t.column))+height(f.main(y.WayLabel).wrap(t.column)))
	from := t.column + size*0.5
	t.x = axis{lo: 0, hi: y.SpanH, from: from, to: d.W - size*0.4}
	for every := 1; every <= max(1, len(y.Ticks)); every++ {
		t.x.ticks = nil
		for i := 0; i < len(y.Ticks); i += every {
			if k := y.Ticks[i]; t.x.holds(k.AtH) {
				text, _ := Clean(k.Label)
				if textWidth(text, size, Regular) > d.W {
					continue // wider than the drawing
				}
				t.x.ticks = append(t.x.ticks, tick{k.AtH, text})
			}
		}
		if t.x.roomFor(t.x.ticks, size, d.W) {
			break
		}
	}
	return t
}

// place moves the tank down to where its top is.
func (t *tank) place(top float64) {
	t.top, t.bottom = top, top+t.tall
	t.y.from, t.y.to = t.bottom, t.top
}

// dayWord is a word above the water with the time it stands for.
type dayWord struct {
	x     float64
	lines []words
	warm  bool
	from  float64 // hours
	to    float64
	lane  float64 // y below its words, once laid
}

// dayWords are the words of visits and of times to leave, from left to right.
func (y Day) dayWords(f Frame, t *tank) []dayWord {
	var out []dayWord
	wide := (t.x.to - t.x.from) * 0.6
	for _, v := range y.Visits {
		out = append(out, dayWord{x: t.x.at((v.FromH + v.ToH) / 2), lines: f.main(v.Label).wrap(wide), from: v.FromH, to: v.ToH})
	}
	for _, v := range y.Leave {
		w := f.bold(v.Label)
		w.role = Warm
		out = append(out, dayWord{x: t.x.at(v.AtH), lines: w.wrap(wide), warm: true, from: v.AtH, to: v.AtH})
	}
	slices.SortStableFunc(out, func(a, b dayWord) int {
		return int(math.Copysign(1, a.x-b.x)) * map[bool]int{true: 0, false: 1}[a.x == b.x]
	})
	return out
}

// lanes sets words in as few lanes as keep their words apart, and gives the y below.
func (d *Drawing) lanes(f Frame, list []dayWord, top float64) float64 {
	type lane struct{ end, tall float64 }
	var lanes []lane
	in := make([]int, len(list))
	left := make([]float64, len(list))
	gap := f.Look.TextMM * 0.7
	for i, g := range list {
		w := widest(g.lines)
		left[i] = clamp(g.x-w/2, 0, math.Max(0, d.W-w-0.5))
		k := 0
		for k < len(lanes) && lanes[k].end > left[i] {
			k++
		}
		if k == len(lanes) {
			lanes = append(lanes, lane{})
		}
		lanes[k].end = left[i] + w + gap
		lanes[k].tall = max(lanes[k].tall, height(g.lines))
		in[i] = k
	}
	y := make([]float64, len(lanes)+1)
	for k := len(lanes) - 1; k >= 0; k-- { // the first lane nearest to the water
		y[k] = top
		top += lanes[k].tall
	}
	d.Begin(Group{ID: "words"})
	for i := range list {
		at := y[in[i]] + lanes[in[i]].tall - height(list[i].lines)
		list[i].lane = d.put(list[i].lines, left[i], at, Start)
	}
	d.End()
	return top
}

// nights shades the dark.
func (y Day) nights(d *Drawing, t *tank) {
	var rings [][]Point
	for _, n := range y.Dark {
		a, b := t.x.at(n[0]), t.x.at(n[1])
		if b > a {
			rings = append(rings, []Point{{a, t.top}, {b, t.top}, {b, t.bottom}, {a, t.bottom}})
		}
	}
	d.Area(rings, Fill{Role: Land})
}

// sea draws the water, in pieces where it is not known.
func (y Day) sea(d *Drawing, t *tank) {
	var line []Point
	var lines, rings [][]Point
	flush := func() {
		if len(line) > 1 {
			lines = append(lines, line)
			ring := append([]Point{{line[0].X, t.bottom}}, line...)
			rings = append(rings, append(ring, Point{line[len(line)-1].X, t.bottom}))
		}
		line = nil
	}
	for _, w := range y.Water {
		if math.IsNaN(w.HeightM) || !t.x.holds(w.AtH) {
			flush()
			continue
		}
		line = append(line, Point{t.x.at(w.AtH), t.y.at(w.HeightM)})
	}
	flush()
	d.Area(rings, Fill{Role: Sea, Alpha: 0.16})
	d.Line(lines, Stroke{Role: Sea, WidthMM: 0.5})
}

// levels draws the row's bed, the level of the way, and the heights beside them.
func (y Day) levels(d *Drawing, f Frame, t *tank) {
	type level struct {
		at    float64
		lines []words
	}
	list := []level{{t.y.at(y.BedM), f.main(y.BedLabel).wrap(t.column)}}
	across := func(v, on, off float64, role Role) {
		d.Line(dashed([][]Point{{{t.x.from, t.y.at(v)}, {t.x.to, t.y.at(v)}}}, on, off), Stroke{Role: role, WidthMM: 0.3})
	}
	across(y.BedM, 0.4, 1, Ink)
	if !math.IsNaN(y.WayM) {
		way := f.main(y.WayLabel).wrap(t.column)
		for i := range way {
			way[i].role = Warm
		}
		list = append(list, level{t.y.at(y.WayM), way})
		across(y.WayM, 2, 1, Warm)
	}
	slices.SortStableFunc(list, func(a, b level) int {
		return int(math.Copysign(1, a.at-b.at)) * map[bool]int{true: 0, false: 1}[a.at == b.at]
	})
	var at, tall []float64
	for _, l := range list {
		at, tall = append(at, l.at), append(tall, height(l.lines))
	}
	at = spread(at, tall, t.top, t.bottom)
	edge := t.x.from - f.Look.SmallMM*0.5
	for i, l := range list {
		d.put(l.lines, edge, at[i]-tall[i]/2, End)
	}
	size := f.Look.SmallMM
	for _, k := range t.y.ticks {
		v, free := t.y.at(k.v), true
		for i := range list {
			free = free && math.Abs(v-at[i]) > (tall[i]+size*leading)/2
		}
		// Not below the water's picture, where the clock stands.
		if free && v > t.top+size*0.3 && v < t.bottom-size*0.3 {
			d.Text(Text{X: edge, Y: v + size*0.35, S: k.text, SizeMM: size, Anchor: End, Role: Mute})
			d.Line([][]Point{{{t.x.from, v}, {t.x.from + 1, v}}}, Stroke{Role: Mute, WidthMM: 0.25})
		}
	}
}

// heightAt is the water at a time, on the straight line between its neighbours.
func (y Day) heightAt(h float64) float64 {
	i, _ := slices.BinarySearchFunc(y.Water, h, func(w DayWater, h float64) int {
		if w.AtH < h {
			return -1
		}
		return 1
	})
	if i == 0 || i == len(y.Water) {
		return math.NaN()
	}
	a, b := y.Water[i-1], y.Water[i]
	if b.AtH == a.AtH {
		return b.HeightM
	}
	return a.HeightM + (b.HeightM-a.HeightM)*(h-a.AtH)/(b.AtH-a.AtH)
}

// poles draws a line at each visit, as wide as it lasts, with a ring where the
// water stands then; a broken warm line at each time to leave.
func (y Day) poles(d *Drawing, t *tank, list []dayWord) {
	for _, g := range list {
		if !t.x.holds(g.from) {
			continue
		}
		a, b := t.x.at(g.from), t.x.at(g.to)
		up := t.top - 0.6
		if g.warm {
			d.Line(dashed([][]Point{{{a, up}, {a, t.bottom}}}, 1.4, 0.9), Stroke{Role: Warm, WidthMM: 0.55})
			continue
		}
		if b-a > 0.4 {
			d.Area([][]Point{{{a, t.top}, {b, t.top}, {b, t.bottom}, {a, t.bottom}}}, Fill{Role: Ink, Alpha: 0.12})
		}
		d.Line([][]Point{{{a, up}, {a, t.bottom}}}, Stroke{Role: Ink, WidthMM: 0.3})
		if h := y.heightAt(g.from); !math.IsNaN(h) {
			d.Discs([]Point{{a, t.y.at(h)}}, 0.9, Fill{Role: Paper}, Stroke{Role: Ink, WidthMM: 0.4})
		}
	}
}

// bars draws the starts that will do below the clock, each with its words beside
// it, or under it where there is no room.
func (y Day) bars(d *Drawing, f Frame, t *tank, top float64) float64 {
	thick, line := 2.6, f.Look.TextMM*leading
	for i, b := range y.Bars {
		d.Begin(Group{ID: fmt.Sprintf("starts-%d", i), Title: b.Label})
		d.note(b.Label)
		from, to := t.x.at(b.FromH), t.x.at(b.ToH)
		to = math.Max(to, from+0.5)
		mid := top + line/2
		d.Area([][]Point{{{from, mid - thick/2}, {to, mid - thick/2}, {to, mid + thick/2}, {from, mid + thick/2}}}, Fill{Role: Sea})
		w, gap := f.main(b.Label), 1.6
		switch width := w.width(); {
		case to+gap+width <= d.W-0.5:
			top = d.put(w.wrap(d.W), to+gap, top, Start)
		case from-gap-width >= 0:
			top = d.put(w.wrap(d.W), from-gap, top, End)
		default:
			top = d.put(w.wrap(d.W-1), 0, top+line*0.85, Start)
		}
		top = math.Max(top, mid+thick/2+0.6)
		d.End()
	}
	return top
}
