package web

import (
	"html/template"
	"strconv"

	"soakline/internal/figure"
)

// Widths of drawings, CSS pixels: the narrow one fits a phone of 360, the wide
// one the page at its full width. The row of a list has one size for both.
const (
	narrowPX  = 328
	widePX    = 860
	compactPX = 320
)

// drawings hands out drawings for one page, each with an id of its own.
type drawings struct{ n int }

func (g *drawings) frame(px float64) figure.Frame {
	g.n++
	return figure.Frame{ID: "d" + strconv.Itoa(g.n), WidthMM: figure.ScreenMM(px), Look: figure.Screen}
}

// picture is a drawing in two widths; the page shows the one that fits.
type picture struct {
	Title        string // heading; empty where the page has one already
	Wide, Narrow template.HTML
}

// both draws in both widths. SVG of our own pen is safe in a page: every text
// in it is escaped there.
func (g *drawings) both(draw func(figure.Frame) (*figure.Drawing, error)) (picture, error) {
	var p picture
	for _, x := range []struct {
		px float64
		to *template.HTML
	}{{widePX, &p.Wide}, {narrowPX, &p.Narrow}} {
		d, err := draw(g.frame(x.px))
		if err != nil {
			return p, err
		}
		*x.to = template.HTML(d.SVG())
	}
	return p, nil
}

func (g *drawings) row(r figure.Row) (picture, error) {
	return g.both(func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawRow(r, f) })
}

func (g *drawings) compact(r figure.Row) (template.HTML, error) {
	d, err := figure.DrawRowCompact(r, g.frame(compactPX))
	if err != nil {
		return "", err
	}
	return template.HTML(d.SVG()), nil
}

func (g *drawings) curves(c figure.Curves) (picture, error) {
	return titled(c.Title)(g.both(func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawCurves(c, f) }))
}

func (g *drawings) strips(s figure.Strips) (picture, error) {
	return titled(s.Title)(g.both(func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawStrips(s, f) }))
}

func (g *drawings) siteMap(m figure.Map) (picture, error) {
	return g.both(func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawMap(m, f) })
}

// titled puts a heading above a picture.
func titled(title string) func(picture, error) (picture, error) {
	return func(p picture, err error) (picture, error) {
		p.Title = title
		return p, err
	}
}
