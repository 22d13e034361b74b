package figure

import (
	"fmt"
	"math"
)

// Map shows sites on the coast.
type Map struct {
	Title, Desc string
	Sites       []MapSite
	// Coast is land as closed rings; holes run the other way round.
	Coast [][]LonLat
	// Source says where the shoreline comes from ("shoreline: …"); it stands
	// below every map that shows one. NoShore stands there instead where no land
	// falls within the map.
	Source, NoShore string
	// Kinds are the words for MapSite.Kind, for the key; may be empty.
	Kinds []string
	// Compass letters after degrees, as the reader writes them.
	North, South, East, West string
	Km, M                    string // unit signs of the scale bar; "" is km and m
	Note                     string
}

// MapSite is one mark.
type MapSite struct {
	Label string
	At    LonLat
	Kind  int // index into Kinds: another shape and colour for each
}

// A public shoreline is off by hundreds of metres: below this width of the
// view it is drawn dashed, as a guess.
const sketchyKm = 20

// MostSites is how many marks a map may carry and still be read.
const MostSites = 5000

func (m *Map) check() error {
	if len(m.Sites) > MostSites {
		return fmt.Errorf("figure: a map of %d sites cannot be read; draw at most %d", len(m.Sites), MostSites)
	}
	for i, s := range m.Sites {
		if !s.At.valid() {
			return fmt.Errorf("figure: site %d (%s): longitude %g, latitude %g is no position on Earth", i+1, s.Label, s.At.Lon, s.At.Lat)
		}
		if s.Kind < 0 {
			return fmt.Errorf("figure: site %d (%s): kind %d; give 0 or more", i+1, s.Label, s.Kind)
		}
	}
	for _, d := range []struct {
		s *string
		v string
	}{{&m.North, "N"}, {&m.South, "S"}, {&m.East, "E"}, {&m.West, "W"}, {&m.Km, "km"}, {&m.M, "m"}} {
		if *d.s == "" {
			*d.s = d.v
		}
	}
	return nil
}

// DrawMap draws the map: land, a grid of degrees, marks, labels, scale bar and
// where the shoreline comes from. Where not every label finds room beside its
// mark, marks are numbered and the names stand below; numbers without room are
// listed in Drawing.Left with their names.
func DrawMap(m Map, f Frame) (*Drawing, error) {
	d, err := f.begin(m.Title, m.Desc)
	if err != nil {
		return nil, err
	}
	if err := m.check(); err != nil {
		return nil, err
	}
	if len(m.Sites) == 0 { // no place to show: words, not an empty sea at 0° 0°
		d.H = 1
		for _, t := range []string{m.NoShore, m.Note} {
			if t != "" {
				d.H = d.footer(f, t, d.H)
			}
		}
		return d, nil
	}
	v := m.view(d)
	shore := v.land(d, m)
	v.grid(d, f, m)
	listed := v.sites(d, f, m)
	y := v.frame.Y + v.frame.H + 1.4 + f.Look.SmallMM*leading
	y = v.scaleBar(d, f, m, y+1)
	source := m.Source
	if !shore {
		source = m.NoShore
	}
	if source != "" {
		y = d.footer(f, source, y)
	}
	y = m.keyOf(d, f, y)
	if len(listed) > 0 {
		y = d.list(f, listed, y+1)
	}
	if m.Note != "" {
		y = d.footer(f, m.Note, y+0.5)
	}
	d.H = y + 0.5
	return d, nil
}

// view is the window on the Earth.
type view struct {
	projection
	frame   Rect
	widthKm float64
	taken   []Rect // marks and texts that labels must keep off
}

// view centres on the sites with a margin; it spans at least 2 km, and its
// height follows the sites between 0.55 and 1.1 of the width (0.7 on a wide
// drawing, so that it stays on one screen).
func (m *Map) view(d *Drawing) *view {
	v := &view{frame: Rect{0.2, 0.2, d.W - 0.4, 0}}
	first := m.Sites[0].At
	lo, hi := LonLat{0, first.Lat}, LonLat{0, first.Lat}
	for _, s := range m.Sites {
		e := math.Remainder(s.At.Lon-first.Lon, 360)
		lo = LonLat{min(lo.Lon, e), min(lo.Lat, s.At.Lat)}
		hi = LonLat{max(hi.Lon, e), max(hi.Lat, s.At.Lat)}
	}
	v.lon0 = first.Lon + (lo.Lon+hi.Lon)/2
	v.lat0 = (lo.Lat + hi.Lat) / 2
	v.cos = max(math.Cos(v.lat0*math.Pi/180), 0.02)
	const least = 2 / kmPerDegree
	w := max((hi.Lon-lo.Lon)*v.cos*1.35, least)
	h := max((hi.Lat-lo.Lat)*1.35, least*0.55)
	tallest := 1.1
	if d.W > 160 {
		tallest = 0.7
	}
	v.frame.H = v.frame.W * clamp(h/w, 0.55, tallest)
	v.mmPerDeg = min(v.frame.W/w, v.frame.H/h)
	v.cx, v.cy = v.frame.X+v.frame.W/2, v.frame.Y+v.frame.H/2
	v.widthKm = v.frame.W / v.mmPerDeg * kmPerDegree
	return v
}

// land draws the coast inside the frame and reports whether any was seen.
func (v *view) land(d *Drawing, m Map) bool {
	wide := v.frame.grow(3) // cut edges fall outside the frame, where the group hides them
	var rings [][]Point
	var edges [][]Point
	for _, r := range m.Coast {
		for _, ring := range v.ring(r, wide) {
			if c := clipRing(points(ring), wide); len(c) > 2 {
				rings = append(rings, c)
				edges = append(edges, shores(ring, wide)...)
			}
		}
	}
	d.Begin(Group{ID: "land", Clip: v.frame})
	d.Area(rings, Fill{Role: Land})
	if v.widthKm < sketchyKm {
		edges = dashed(edges, 1.5, 1)
	}
	d.Line(edges, Stroke{Role: Shore, WidthMM: 0.3})
	d.End()
	return len(rings) > 0
}

// degrees writes a position on a grid line with the reader's letter.
func degrees(deg float64, dec int, l Look, plus, minus string) string {
	s := l.numberText(math.Abs(deg), dec) + "°"
	switch {
	case deg < 0:
		s += " " + minus
	case deg > 0:
		s += " " + plus
	}
	return s
}

// grid draws meridians and parallels with their degrees: meridians below the
// frame, parallels inside at the left.
func (v *view) grid(d *Drawing, f Frame, m Map) {
	fr := v.frame
	rules, east := v.meridians(d, f, m)
	parallels, north := v.parallels(f, m)
	d.Begin(Group{ID: "grid"})
	d.Line(append(rules, parallels...), Stroke{Role: Shore, WidthMM: 0.15, Alpha: 0.7})
	d.Line([][]Point{{{fr.X, fr.Y}, {fr.X + fr.W, fr.Y}, {fr.X + fr.W, fr.Y + fr.H}, {fr.X, fr.Y + fr.H}, {fr.X, fr.Y}}}, Stroke{Role: Mute, WidthMM: 0.25})
	for _, t := range append(east, north...) {
		d.Text(t)
	}
	d.End()
}

// meridians are as many, up to five, as their texts below the frame have room.
func (v *view) meridians(d *Drawing, f Frame, m Map) (rules [][]Point, texts []Text) {
	size, fr := f.Look.SmallMM, v.frame
	half := fr.W / 2 / v.mmPerDeg / v.cos
	for n := 5; n >= 1; n-- {
		st, dec := step(2*half, n)
		rules, texts = nil, nil
		for k := math.Ceil((v.lon0 - half) / st); k*st <= v.lon0+half && len(rules) < 20; k++ {
			x := v.point(k*st-v.lon0, v.lat0).X
			rules = append(rules, []Point{{x, fr.Y}, {x, fr.Y + fr.H}})
			lon := math.Remainder(k*st, 360)
			if math.Abs(lon) == 180 {
				lon = 180
			}
			t := Text{X: x, Y: fr.Y + fr.H + 1.2 + size*ascent*0.9, S: degrees(tidy(lon, st), dec, f.Look, m.East, m.West), SizeMM: size, Anchor: Middle, Role: Mute}
			w := t.Box().W
			t.X = clamp(t.X, w/2, d.W-w/2)
			texts = append(texts, t)
		}
		if !touching(texts, size*0.6) {
			return rules, texts
		}
	}
	return nil, nil
}

// parallels carry their texts inside the frame, where labels keep off them.
func (v *view) parallels(f Frame, m Map) (rules [][]Point, texts []Text) {
	fr := v.frame
	half := fr.H / 2 / v.mmPerDeg
	st, dec := step(2*half, 4)
	for k := math.Ceil((v.lat0 - half) / st); k*st <= v.lat0+half && len(rules) < 20; k++ {
		lat := tidy(k*st, st)
		if math.Abs(lat) > 90 {
			continue
		}
		y := v.point(0, lat).Y
		rules = append(rules, []Point{{fr.X, y}, {fr.X + fr.W, y}})
		t := Text{X: fr.X + 1.2, Y: y - 0.8, S: degrees(lat, dec, f.Look, m.North, m.South), SizeMM: f.Look.SmallMM, Role: Mute, Halo: true}
		if b := t.Box(); b.within(fr) {
			texts = append(texts, t)
			v.taken = append(v.taken, b)
		}
	}
	return rules, texts
}

// tidy takes away what k*step has gathered in the last places.
func tidy(v, step float64) float64 {
	if math.Abs(v) < step*1e-9 {
		return 0
	}
	return v
}

func touching(ts []Text, gap float64) bool {
	for i := 1; i < len(ts); i++ {
		if a, b := ts[i-1].Box(), ts[i].Box(); b.X < a.X+a.W+gap {
			return true
		}
	}
	return false
}

// scaleBar draws a round length, at most a third of the frame's width, true at
// the middle of the map.
func (v *view) scaleBar(d *Drawing, f Frame, m Map, y float64) float64 {
	kmPerMM := kmPerDegree / v.mmPerDeg
	most := v.frame.W / 3 * kmPerMM
	s, _ := step(most, 1)
	for s > most*(1+1e-9) {
		s = smaller(s)
	}
	unit, n := m.Km, s
	if s < 1 {
		unit, n = m.M, s*1000
	}
	dec := 0
	if n < 1 {
		dec = 1
	}
	w := s / kmPerMM
	h := f.Look.SmallMM * leading
	mid := y + h/2
	d.Begin(Group{ID: "scale"})
	x := v.frame.X
	d.Line([][]Point{{{x, mid - 1}, {x, mid + 1}}, {{x, mid}, {x + w, mid}}, {{x + w, mid - 1}, {x + w, mid + 1}}}, Stroke{Role: Ink, WidthMM: 0.4})
	d.put([]words{f.small(f.Look.numberText(n, dec) + " " + unit)}, x+w+1.5, y, Start)
	d.End()
	return y + h
}

// smaller is the next lower of 1, 2, 5 times a power of ten.
func smaller(s float64) float64 {
	e := math.Floor(math.Log10(s) + 1e-9)
	switch m := s / math.Pow(10, e); {
	case m > 4:
		return 2 * math.Pow(10, e)
	case m > 1.5:
		return math.Pow(10, e)
	}
	return 5 * math.Pow(10, e-1)
}

// keyOf explains the kinds of marks that occur.
func (m *Map) keyOf(d *Drawing, f Frame, y float64) float64 {
	seen := map[int]bool{}
	for _, s := range m.Sites {
		seen[s.Kind] = true
	}
	var items []keyItem
	for k, w := range m.Kinds {
		if seen[k] && w != "" {
			items = append(items, keyItem{w, func(x, mid float64) { d.mark(k, []Point{{x + 1.6, mid}}, 1.2, seriesRole(k)) }})
		}
	}
	if len(items) == 0 {
		return y
	}
	return d.key(f, items, 4, f.Look.SmallMM*leading, y+0.5)
}
