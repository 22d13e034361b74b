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
}

// scales are the ones a ruler reads easily, 1 to so many.
var scales = []float64{50, 100, 200, 250, 500, 1000, 2000, 2500, 5000, 10000, 20000, 25000, 50000}

// rowPlan is a row on paper: where its stakes stand in mm from the middle of
// the box, east and down, and the scale.
type rowPlan struct {
	at     []figure.Point
	scale  float64
	stakes []place.Stake
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
		d, azimuth, _ := place.Between(m.LatDeg, m.LonDeg, s.LatDeg, s.LonDeg)
		x, y := d*math.Sin(azimuth*math.Pi/180), -d*math.Cos(azimuth*math.Pi/180)
		r.at = append(r.at, figure.Point{X: x, Y: y})
		e.add(x, y, 0)
	}
	wide, tall := e.x1-e.x0, e.y1-e.y0
	for _, r.scale = range scales {
		if wide*1000/r.scale <= w && tall*1000/r.scale <= h {
			break
		}
	}
	if wide*1000/r.scale > w || tall*1000/r.scale > h {
		return r, &NoRoom{What: m.ID}
	}
	k := 1000 / r.scale
	for i, p := range r.at {
		r.at[i] = figure.Point{X: (p.X - (e.x0+e.x1)/2) * k, Y: (p.Y - (e.y0+e.y1)/2) * k}
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
	p.endLabel(cx, cy, first, last, "1")
	if len(r.at) > 1 {
		p.endLabel(cx, cy, last, first, strconv.Itoa(len(r.at)))
	}
	p.north(p.Left()+mapSide-3, top+mapSide+1.5)
	p.scaleBar(p.Left(), top+mapSide+7, r.scale)
	p.mapTable(m, r, p.Left()+mapSide+6, top)
}

// endLabel numbers an end of the row, on the side away from the other.
func (p *page) endLabel(cx, cy float64, end, other figure.Point, n string) {
	dx, dy := end.X-other.X, end.Y-other.Y
	if d := math.Hypot(dx, dy); d > 0 {
		dx, dy = dx/d, dy/d
	}
	p.Set(strong, cx+end.X+4.2*dx, cy+end.Y+4.2*dy+textMM*0.35, figure.Middle, n)
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
