package paper

import (
	"math"
	"strconv"

	"soakline/internal/figure"
	"soakline/internal/place"
)

// RowMap is one row to be drawn to scale: stakes along a true bearing from the
// position of stake 1.
type RowMap struct {
	ID, About  string
	LatDeg     float64
	LonDeg     float64
	BearingDeg float64
	SpacingM   float64
	Stakes     int
	Near       []Neighbour // other rows of the site, in the water at the same time
}

// Neighbour is another row of the site: a line from its stake 1 where the
// bearing is known, else a point.
type Neighbour struct {
	ID             string
	LatDeg, LonDeg float64
	BearingDeg     float64
	LongM          float64 // from stake 1 to the last; 0 for a point
}

// scales are the ones a ruler reads easily, 1 to so many.
var scales = []float64{50, 100, 200, 250, 500, 1000, 2000, 2500, 5000, 10000, 20000, 25000, 50000}

// rowPlan is a row on paper: where its stakes stand in mm from the middle of
// the box, east and down, and the scale.
type rowPlan struct {
	at     []figure.Point
	scale  float64
	stakes []place.Stake
	near   [][2]figure.Point // ends of each neighbour, as at; outside the box where too far
}

// leastRowMM is how long a row stays on paper when the scale makes room for its
// neighbours.
const leastRowMM = 20.0

// metres is where a position lies from another: east and south.
func metres(lat, lon, toLat, toLon float64) figure.Point {
	d, azimuth, _ := place.Between(lat, lon, toLat, toLon)
	return figure.Point{X: d * math.Sin(azimuth*math.Pi/180), Y: -d * math.Cos(azimuth*math.Pi/180)}
}

// ends of a neighbour in metres from the row's stake 1.
func (m RowMap) ends(n Neighbour) [2]figure.Point {
	a := metres(m.LatDeg, m.LonDeg, n.LatDeg, n.LonDeg)
	out := [2]figure.Point{a, a}
	if n.LongM > 0 {
		lat, lon, _ := place.From(n.LatDeg, n.LonDeg, n.BearingDeg, n.LongM)
		out[1] = metres(m.LatDeg, m.LonDeg, lat, lon)
	}
	return out
}

// fits is the largest scale at which what is drawn fits w by h mm.
func (e extent) fits(w, h float64) (float64, bool) {
	for _, s := range scales {
		if (e.x1-e.x0)*1000/s <= w && (e.y1-e.y0)*1000/s <= h {
			return s, true
		}
	}
	return 0, false
}

// plan places a row's stakes on w by h mm at the largest scale that fits.
func (m RowMap) plan(w, h float64) (rowPlan, error) {
	var r rowPlan
	var err error
	if r.stakes, err = place.RowStakes(m.LatDeg, m.LonDeg, m.BearingDeg, 0, m.SpacingM, m.Stakes); err != nil {
		return r, err
	}
	var e extent
	for _, s := range r.stakes {
		p := metres(m.LatDeg, m.LonDeg, s.LatDeg, s.LonDeg)
		r.at = append(r.at, p)
		e.add(p.X, p.Y, 0)
	}
	var ok bool
	if r.scale, ok = e.fits(w, h); !ok {
		return r, &NoRoom{What: m.ID}
	}
	// Neighbours come in, the nearest first, as long as the row stays large enough.
	long := math.Hypot(r.at[len(r.at)-1].X, r.at[len(r.at)-1].Y)
	for _, n := range m.Near {
		ends := m.ends(n)
		r.near = append(r.near, ends)
		with := e
		with.add(ends[0].X, ends[0].Y, 0)
		with.add(ends[1].X, ends[1].Y, 0)
		if s, ok := with.fits(w, h); ok && long*1000/s >= min(leastRowMM, long*1000/r.scale) {
			e, r.scale = with, s
		}
	}
	k := 1000 / r.scale
	put := func(p figure.Point) figure.Point {
		return figure.Point{X: (p.X - (e.x0+e.x1)/2) * k, Y: (p.Y - (e.y0+e.y1)/2) * k}
	}
	for i, p := range r.at {
		r.at[i] = put(p)
	}
	for i, n := range r.near {
		r.near[i] = [2]figure.Point{put(n[0]), put(n[1])}
	}
	return r, nil
}

// Of a map's half page, mm.
const (
	mapSide   = 96.0
	mapClear  = 9.0 // inside the box, for labels of the ends
	mapHeight = 117.0
)

// rowMap draws one row in the half page that begins at y.
func (p *page) rowMap(m RowMap, y float64) {
	p.Record = m.ID
	defer func() { p.Record = "" }()
	p.ident(m.ID, p.Left(), y+5, p.Inner(), 5)
	st := strong.Sized(5)
	p.SetFit(plain, p.Left()+st.Width(p.say("row", "id", m.ID))+4, y+5, p.Inner()-st.Width(p.say("row", "id", m.ID))-4, figure.Start, m.About)
	top := y + 8
	r, err := m.plan(mapSide-2*mapClear, mapSide-2*mapClear)
	if err != nil {
		p.Fault(err)
		return
	}
	p.box(p.Left(), top, mapSide, mapSide)
	cx, cy := p.Left()+mapSide/2, top+mapSide/2
	first, last := r.at[0], r.at[len(r.at)-1]
	p.Line([][]figure.Point{{{X: cx + first.X, Y: cy + first.Y}, {X: cx + last.X, Y: cy + last.Y}}}, figure.Stroke{Role: figure.Mute, WidthMM: hairMM})
	var dots []figure.Point
	for _, q := range r.at {
		dots = append(dots, figure.Point{X: cx + q.X, Y: cy + q.Y})
	}
	p.Discs(dots, 0.55, figure.Fill{Role: figure.Ink}, figure.Stroke{})
	taken := []figure.Rect{p.endLabel(cx, cy, first, last, "1")}
	if len(r.at) > 1 {
		taken = append(taken, p.endLabel(cx, cy, last, first, strconv.Itoa(len(r.at))))
	}
	p.neighbours(m, r, cx, cy, taken)
	p.north(p.Left()+mapSide-3, top+mapSide+1.5)
	p.scaleBar(p.Left(), top+mapSide+7, r.scale)
	p.mapTable(m, r, p.Left()+mapSide+6, top)
	p.nearWords(m, p.Left()+mapSide+6, top+mapSide-1)
}

// neighbours draws the other rows of the site that lie inside the box, in outline,
// and names each where its name stands clear of everything.
func (p *page) neighbours(m RowMap, r rowPlan, cx, cy float64, taken []figure.Rect) {
	const half = mapSide/2 - 1.5
	inside := func(q figure.Point) bool { return math.Abs(q.X) <= half && math.Abs(q.Y) <= half }
	for _, q := range r.at { // no name on a stake
		taken = append(taken, figure.Rect{X: cx + q.X - 0.8, Y: cy + q.Y - 0.8, W: 1.6, H: 1.6})
	}
	for _, ends := range r.near { // nor on a neighbour's line
		for k := 0.0; k <= 1 && inside(ends[0]) && inside(ends[1]); k += 0.02 {
			taken = append(taken, figure.Rect{X: cx + ends[0].X + k*(ends[1].X-ends[0].X) - 0.3, Y: cy + ends[0].Y + k*(ends[1].Y-ends[0].Y) - 0.3, W: 0.6, H: 0.6})
		}
	}
	for i, ends := range r.near {
		if !inside(ends[0]) || !inside(ends[1]) {
			continue
		}
		a, b := figure.Point{X: cx + ends[0].X, Y: cy + ends[0].Y}, figure.Point{X: cx + ends[1].X, Y: cy + ends[1].Y}
		if a != b {
			p.Line([][]figure.Point{{a, b}}, figure.Stroke{Role: figure.Ink, WidthMM: 0.35})
		}
		p.Discs([]figure.Point{a}, 0.9, figure.Fill{Role: figure.Paper}, figure.Stroke{Role: figure.Ink, WidthMM: 0.35}) // its stake 1
		w := small.Width(m.Near[i].ID)
		for _, at := range []figure.Point{{X: a.X + 1.8, Y: a.Y - 1.2}, {X: a.X + 1.8, Y: a.Y + 3.6}, {X: a.X - 1.8 - w, Y: a.Y + 0.9}, {X: a.X - w/2, Y: a.Y - 2}, {X: a.X - w/2, Y: a.Y + 4.6}} {
			box := figure.Rect{X: at.X, Y: at.Y - small.SizeMM, W: w, H: small.SizeMM * 1.3}
			if box.X < cx-half || box.X+w > cx+half || box.Y < cy-half || box.Y+box.H > cy+half || anyOver(box, taken) {
				continue
			}
			p.Set(small, at.X, at.Y, figure.Start, m.Near[i].ID)
			taken = append(taken, box)
			break
		}
	}
}

func anyOver(a figure.Rect, taken []figure.Rect) bool {
	for _, b := range taken {
		if a.X < b.X+b.W && b.X < a.X+a.W && a.Y < b.Y+b.H && b.Y < a.Y+a.H {
			return true
		}
	}
	return false
}

// mostNear is how many neighbours are told in words under a map.
const mostNear = 4

// nearWords tells the nearest other rows of the site, from stake 1 to stake 1.
func (p *page) nearWords(m RowMap, x, y float64) {
	if len(m.Near) == 0 {
		return
	}
	var list []string
	for _, n := range m.Near[:min(len(m.Near), mostNear)] {
		d, azimuth, _ := place.Between(m.LatDeg, m.LonDeg, n.LatDeg, n.LonDeg)
		list = append(list, p.say("map.near-one", "id", n.ID, "m", d, "bearing", math.Mod(azimuth+360, 360)))
	}
	slug := "map.near"
	if len(m.Near) > mostNear {
		slug = "map.near-more"
	}
	text := p.say(slug, "list", list, "n", len(m.Near)-mostNear)
	st := small
	for st.Tall(text, p.Right()-x) > 12 && st.SizeMM > 2 {
		st.SizeMM -= 0.1
	}
	if st.Tall(text, p.Right()-x) > 12.5 {
		p.Fault(&NoRoom{What: text})
		return
	}
	p.Paragraph(st, x, y, p.Right()-x, text)
}

// endLabel numbers an end of the row, on the side away from the other, and gives
// the room it takes.
func (p *page) endLabel(cx, cy float64, end, other figure.Point, n string) figure.Rect {
	dx, dy := end.X-other.X, end.Y-other.Y
	if d := math.Hypot(dx, dy); d > 0 {
		dx, dy = dx/d, dy/d
	}
	x, y, w := cx+end.X+4.2*dx, cy+end.Y+4.2*dy+textMM*0.35, strong.Width(n)
	p.Set(strong, x, y, figure.Middle, n)
	return figure.Rect{X: x - w/2, Y: y - textMM, W: w, H: textMM * 1.3}
}

// north is an arrow, true north up.
func (p *page) north(x, y float64) {
	p.Area([][]figure.Point{{{X: x, Y: y}, {X: x - 2, Y: y + 6}, {X: x, Y: y + 4.8}, {X: x + 2, Y: y + 6}}}, figure.Fill{Role: figure.Ink})
	p.Set(smallBold, x-3, y+5, figure.End, p.say("map.north"))
}

// scaleBar is a round length in metres, about 30 mm long, with its scale.
func (p *page) scaleBar(x, y, scale float64) {
	m := 1.0
	for _, try := range []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000} {
		if try*1000/scale <= 42 {
			m = try
		}
	}
	w := m * 1000 / scale
	p.Rule(x, y, x+w, y, 0.5)
	p.Rule(x, y-1, x, y+1, 0.3)
	p.Rule(x+w, y-1, x+w, y+1, 0.3)
	p.Set(small, x, y-1.8, figure.Start, p.say("map.scale", "m", m, "scale", scale))
}

// mapTable tells the row in numbers, and every stake's position.
func (p *page) mapTable(m RowMap, r rowPlan, x, y float64) {
	w := p.Right() - x
	n := len(r.stakes)
	y = p.Paragraph(small, x, y, w, p.say("map.row", "bearing", math.Mod(m.BearingDeg+360, 360), "spacing", m.SpacingM, "n", n, "long", float64(n-1)*m.SpacingM)) + 1
	every := 1
	step := small.SizeMM * 1.22
	for float64((n-1)/every+1)*step > mapSide-(small.Tall(" ", w))*3-6 {
		every++
	}
	p.Set(smallBold, x, y+small.SizeMM, figure.Start, p.say("map.stake"))
	p.Set(smallBold, x+14, y+small.SizeMM, figure.Start, p.say("map.position"))
	y += step + 0.6
	for i, s := range r.stakes {
		if i%every != 0 && i != n-1 {
			continue
		}
		p.Set(small, x+8, y+small.SizeMM, figure.End, strconv.Itoa(s.Number))
		p.Set(small, x+14, y+small.SizeMM, figure.Start, strconv.FormatFloat(s.LatDeg, 'f', 6, 64)+", "+strconv.FormatFloat(s.LonDeg, 'f', 6, 64))
		y += step
	}
}

// mapPages draws rows to scale, two on a page.
func (o BookletOptions) mapPages() []*page {
	var pages []*page
	for i, m := range o.Maps {
		if i%2 == 0 {
			p := newPage(o.Size, o.Lang)
			p.Title = p.say("map.title")
			p.Set(heading, p.Left(), marginMM+headMM, figure.Start, p.Title)
			p.textFitQuiet(p.Left()+heading.Width(p.Title)+4, marginMM+headMM, p.say("map.remark"))
			o.bookFoot(p)
			pages = append(pages, p)
		}
		pages[len(pages)-1].rowMap(m, marginMM+7+float64(i%2)*mapHeight)
	}
	return pages
}

func (p *page) textFitQuiet(x, y float64, t string) {
	p.SetFit(quiet, x, y, p.Right()-x, figure.Start, t)
}
