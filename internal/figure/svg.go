package figure

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// pxPerMM turns mm into the CSS pixel, 1/96 inch.
const pxPerMM = 96 / 25.4

// SVG gives the drawing as a standing SVG document, which is also an element
// that can stand in a page as it is. User units are CSS pixels.
func (d *Drawing) SVG() []byte {
	p := &svgPen{id: svgID(d.ID), paper: d.Paper}
	w, h := num(d.W*pxPerMM), num(d.H*pxPerMM)
	fmt.Fprintf(&p.b, `<svg xmlns="http://www.w3.org/2000/svg" class="figure" id="%s" viewBox="0 0 %s %s" width="%s" height="%s" role="img" aria-labelledby="%s-t`, p.id, w, h, w, h, p.id)
	if d.Desc != "" {
		fmt.Fprintf(&p.b, ` %s-d`, p.id)
	}
	p.b.WriteString(`" font-family="'Source Sans 3','Source Sans Pro',Arial,'Liberation Sans',sans-serif">` + "\n")
	fmt.Fprintf(&p.b, "<title id=\"%s-t\">%s</title>\n", p.id, xmlText(d.Title))
	if d.Desc != "" {
		fmt.Fprintf(&p.b, "<desc id=\"%s-d\">%s</desc>\n", p.id, xmlText(d.Desc))
	}
	d.On(p)
	p.b.WriteString("</svg>\n")
	return []byte(p.b.String())
}

// svgID keeps of an id what may stand in an XML name and in a url().
func svgID(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < 0x80 && (r == '-' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z') {
			return r
		}
		return '-'
	}, s)
	if s == "" || s[0] >= '0' && s[0] <= '9' || s[0] == '-' {
		s = "f" + s
	}
	return s
}

type svgPen struct {
	b     strings.Builder
	id    string
	paper RGB
	clips int
}

// num prints a length in pixels to a hundredth, without trailing zeros or -0.
func num(v float64) string {
	v = math.Round(v*100) / 100
	if v == 0 {
		return "0"
	}
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if strings.HasPrefix(s, "0.") {
		return s[1:]
	}
	if strings.HasPrefix(s, "-0.") {
		return "-" + s[2:]
	}
	return s
}

func (p *svgPen) rgb(r Role) string {
	c := roleRGB[r]
	if r == Paper {
		c = p.paper
	}
	return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
}

func (p *svgPen) Begin(g Group) {
	p.b.WriteString("<g")
	if g.ID != "" {
		fmt.Fprintf(&p.b, ` id="%s-%s"`, p.id, svgID(g.ID))
	}
	clip := ""
	if g.Clip.W > 0 {
		p.clips++
		clip = fmt.Sprintf("%s-c%d", p.id, p.clips)
		fmt.Fprintf(&p.b, ` clip-path="url(#%s)"`, clip)
	}
	p.b.WriteString(">")
	if g.Title != "" {
		p.b.WriteString("<title>" + xmlText(g.Title) + "</title>")
	}
	if g.Desc != "" {
		p.b.WriteString("<desc>" + xmlText(g.Desc) + "</desc>")
	}
	if clip != "" {
		c := g.Clip
		fmt.Fprintf(&p.b, `<clipPath id="%s"><rect x="%s" y="%s" width="%s" height="%s"/></clipPath>`, clip,
			num(c.X*pxPerMM), num(c.Y*pxPerMM), num(c.W*pxPerMM), num(c.H*pxPerMM))
	}
	p.b.WriteString("\n")
}

func (p *svgPen) End() { p.b.WriteString("</g>\n") }

// path writes points as M, L, H and V.
func (p *svgPen) path(pts []Point, closed bool) {
	var lx, ly string
	for i, pt := range pts {
		x, y := num(pt.X*pxPerMM), num(pt.Y*pxPerMM)
		switch {
		case i == 0:
			p.b.WriteString("M" + x + " " + y)
		case x == lx && y == ly && i+1 < len(pts):
		case x == lx:
			p.b.WriteString("V" + y)
		case y == ly:
			p.b.WriteString("H" + x)
		default:
			p.b.WriteString("L" + x + " " + y)
		}
		lx, ly = x, y
	}
	if closed {
		p.b.WriteString("Z")
	}
}

func opacity(name string, a float64) string {
	if a <= 0 || a >= 1 {
		return ""
	}
	return fmt.Sprintf(` %s="%s"`, name, num(a))
}

// classes and attributes of a fill and a stroke
func (p *svgPen) paint(f Fill, s Stroke) string {
	var class, attr string
	if f.Role != None {
		class = "f-" + roleName[f.Role]
		attr = ` fill="` + p.rgb(f.Role) + `"` + opacity("fill-opacity", f.Alpha)
	} else {
		attr = ` fill="none"`
	}
	if s.Role != None {
		class = strings.TrimPrefix(class+" s-"+roleName[s.Role], " ")
		attr += ` stroke="` + p.rgb(s.Role) + `" stroke-width="` + num(s.WidthMM*pxPerMM) + `"` + opacity("stroke-opacity", s.Alpha)
		attr += ` stroke-linejoin="round"`
		if s.Round {
			attr += ` stroke-linecap="round"`
		}
	}
	return ` class="` + class + `"` + attr
}

func (p *svgPen) Line(paths [][]Point, s Stroke) {
	p.b.WriteString("<path" + p.paint(Fill{}, s) + ` d="`)
	for _, q := range paths {
		p.path(q, false)
	}
	p.b.WriteString("\"/>\n")
}

func (p *svgPen) Area(rings [][]Point, f Fill) {
	p.b.WriteString("<path" + p.paint(f, Stroke{}) + ` d="`)
	for _, q := range rings {
		p.path(q, true)
	}
	p.b.WriteString("\"/>\n")
}

func (p *svgPen) Discs(c []Point, r float64, f Fill, s Stroke) {
	p.b.WriteString("<path" + p.paint(f, s) + ` d="`)
	rr, dd := num(r*pxPerMM), num(2*r*pxPerMM)
	for _, q := range c {
		fmt.Fprintf(&p.b, "M%s %sa%s %s 0 1 0 %s 0a%s %s 0 1 0 -%s 0Z", num((q.X-r)*pxPerMM), num(q.Y*pxPerMM), rr, rr, dd, rr, rr, dd)
	}
	p.b.WriteString("\"/>\n")
}

func (p *svgPen) Text(t Text) {
	fmt.Fprintf(&p.b, `<text class="f-%s%s" x="%s" y="%s" font-size="%s" fill="%s"`, roleName[t.Role], map[bool]string{true: " halo"}[t.Halo],
		num(t.X*pxPerMM), num(t.Y*pxPerMM), num(t.SizeMM*pxPerMM), p.rgb(t.Role))
	if t.Bold {
		p.b.WriteString(` font-weight="700"`)
	}
	switch t.Anchor {
	case Middle:
		p.b.WriteString(` text-anchor="middle"`)
	case End:
		p.b.WriteString(` text-anchor="end"`)
	}
	// Where the font is not at hand, another is set to the width that was laid
	// out, so that words still keep apart.
	fmt.Fprintf(&p.b, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, num(t.Box().W*pxPerMM))
	if t.Halo {
		fmt.Fprintf(&p.b, ` stroke="%s" stroke-width="%s" stroke-linejoin="round" paint-order="stroke"`, p.rgb(Paper), num(2*haloMM*pxPerMM))
	}
	p.b.WriteString(">" + xmlText(t.S) + "</text>\n")
}

// haloMM is the width of the edge round a text with a halo.
const haloMM = 0.5
