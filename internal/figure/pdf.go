package figure

import (
	"bytes"
	"fmt"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// PDF gives the drawing as a PDF of one page of its own size. at is the date
// written into the file; it comes from the data, not from a clock, so that the
// same drawing gives the same bytes. lang is a language tag ("en", "es").
func (d *Drawing) PDF(at time.Time, lang string) ([]byte, error) {
	p := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: d.W, Ht: d.H}})
	p.SetCatalogSort(true)
	p.SetCreationDate(at)
	p.SetModificationDate(at)
	p.SetMargins(0, 0, 0)
	p.SetAutoPageBreak(false, 0)
	p.SetLang(lang)
	title, _ := Clean(d.Title)
	desc, _ := Clean(d.Desc)
	p.SetTitle(title, true)
	p.SetSubject(desc, true)
	p.AddPage()
	d.OnPage(p, 0, 0)
	var b bytes.Buffer
	if err := p.Output(&b); err != nil {
		return nil, fmt.Errorf("figure: write PDF: %w", err)
	}
	return b.Bytes(), nil
}

// OnPage draws on the current page of a PDF in millimetres, its top left at x,
// y. Fonts are registered if need be; colours, widths and the font in force
// are put back. Errors stay in p, as fpdf keeps them.
func (d *Drawing) OnPage(p *fpdf.Fpdf, x, y float64) {
	UseFonts(p)
	dr, dg, db := p.GetDrawColor()
	fr, fg, fb := p.GetFillColor()
	tr, tg, tb := p.GetTextColor()
	width := p.GetLineWidth()
	alpha, blend := p.GetAlpha()
	family, style := p.GetFontFamily(), p.GetFontStyle()
	size, _ := p.GetFontSize()

	p.SetLineJoinStyle("round")
	p.SetDashPattern(nil, 0)
	d.On(&pdfPen{p: p, x: x, y: y, paper: d.Paper})

	p.SetLineJoinStyle("miter")
	p.SetLineCapStyle("butt")
	p.SetDrawColor(dr, dg, db)
	p.SetFillColor(fr, fg, fb)
	p.SetTextColor(tr, tg, tb)
	p.SetLineWidth(width)
	p.SetAlpha(alpha, blend)
	if family != "" {
		p.SetFont(family, style, size)
	}
}

type pdfPen struct {
	p     *fpdf.Fpdf
	x, y  float64
	paper RGB
	clip  []bool
	alpha float64
}

func (q *pdfPen) rgb(r Role) (int, int, int) {
	c := roleRGB[r]
	if r == Paper {
		c = q.paper
	}
	return int(c.R), int(c.G), int(c.B)
}

// setAlpha avoids a new graphics state for every opaque mark.
func (q *pdfPen) setAlpha(a float64) {
	if a <= 0 || a > 1 {
		a = 1
	}
	if a != q.alpha {
		q.p.SetAlpha(a, "Normal")
		q.alpha = a
	}
}

func (q *pdfPen) Begin(g Group) {
	if g.Clip.W > 0 {
		q.p.ClipRect(q.x+g.Clip.X, q.y+g.Clip.Y, g.Clip.W, g.Clip.H, false)
	}
	q.clip = append(q.clip, g.Clip.W > 0)
}

func (q *pdfPen) End() {
	if len(q.clip) == 0 {
		return
	}
	if q.clip[len(q.clip)-1] {
		q.p.ClipEnd()
		q.alpha = 0 // the state saved before the clip is back; set anew
	}
	q.clip = q.clip[:len(q.clip)-1]
}

func (q *pdfPen) pen(s Stroke) {
	q.p.SetDrawColor(q.rgb(s.Role))
	q.p.SetLineWidth(s.WidthMM)
	if s.Round {
		q.p.SetLineCapStyle("round")
	} else {
		q.p.SetLineCapStyle("butt")
	}
	q.setAlpha(s.Alpha)
}

func (q *pdfPen) path(pts []Point) {
	for i, pt := range pts {
		if i == 0 {
			q.p.MoveTo(q.x+pt.X, q.y+pt.Y)
		} else {
			q.p.LineTo(q.x+pt.X, q.y+pt.Y)
		}
	}
}

func (q *pdfPen) Line(paths [][]Point, s Stroke) {
	q.pen(s)
	for _, pts := range paths {
		q.path(pts)
	}
	q.p.DrawPath("S")
}

func (q *pdfPen) Area(rings [][]Point, f Fill) {
	q.p.SetFillColor(q.rgb(f.Role))
	q.setAlpha(f.Alpha)
	for _, pts := range rings {
		q.path(pts)
		q.p.ClosePath()
	}
	q.p.DrawPath("f")
}

func (q *pdfPen) Discs(c []Point, r float64, f Fill, s Stroke) {
	if f.Role != None {
		q.p.SetFillColor(q.rgb(f.Role))
		q.setAlpha(f.Alpha)
		for _, pt := range c {
			q.p.Circle(q.x+pt.X, q.y+pt.Y, r, "F")
		}
	}
	if s.Role != None {
		q.pen(s)
		for _, pt := range c {
			q.p.Circle(q.x+pt.X, q.y+pt.Y, r, "D")
		}
	}
}

func (q *pdfPen) Text(t Text) {
	style := ""
	if t.Bold {
		style = "B"
	}
	q.setAlpha(1)
	q.p.SetFont(FontFamily, style, t.SizeMM*72/25.4)
	x := q.x + t.X
	switch w := q.p.GetStringWidth(t.S); t.Anchor {
	case Middle:
		x -= w / 2
	case End:
		x -= w
	}
	if t.Halo {
		// Text rendering mode 1 strokes the outlines; the ground's colour under
		// the text proper makes the edge.
		q.p.SetDrawColor(q.rgb(Paper))
		q.p.SetLineWidth(2 * haloMM)
		q.p.SetTextRenderingMode(1)
		q.p.SetTextColor(q.rgb(Paper))
		q.p.Text(x, q.y+t.Y, t.S)
		q.p.SetTextRenderingMode(0)
	}
	q.p.SetTextColor(q.rgb(t.Role))
	q.p.Text(x, q.y+t.Y, t.S)
}
