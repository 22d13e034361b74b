package figure

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// maxPixels bounds a picture: 64 million pixels are 256 MB while it is drawn.
const maxPixels = 64 << 20

// Image draws the drawing at a scale of pixels per mm (96 dpi is 3.78, 300 dpi
// 11.81) on an opaque ground of the drawing's paper.
//
// It returns an error when the scale is not a positive number or the picture
// would exceed 64 million pixels.
func (d *Drawing) Image(pixelsPerMM float64) (*image.RGBA, error) {
	if !(pixelsPerMM > 0) || math.IsInf(pixelsPerMM, 1) {
		return nil, errors.New("figure: pixels per mm must be a positive number")
	}
	w, h := math.Ceil(d.W*pixelsPerMM), math.Ceil(d.H*pixelsPerMM)
	if w*h > maxPixels {
		return nil, fmt.Errorf("figure: a picture of %.0f by %.0f pixels is larger than %d million pixels; draw it smaller or as SVG", w, h, maxPixels>>20)
	}
	p := newPNGPen(int(max(w, 1)), int(max(h, 1)), pixelsPerMM, d.Paper)
	d.On(p)
	return p.img, nil
}

// PNG encodes Image.
func (d *Drawing) PNG(pixelsPerMM float64) ([]byte, error) {
	img, err := d.Image(pixelsPerMM)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return nil, fmt.Errorf("figure: encode PNG: %w", err)
	}
	return b.Bytes(), nil
}

type pngPen struct {
	img   *image.RGBA
	scale float64
	paper RGB
	clips []image.Rectangle // the clip in force is the last one
	buf   sfnt.Buffer

	raster vector.Rasterizer // kept for its buffers
}

func newPNGPen(w, h int, scale float64, paper RGB) *pngPen {
	p := &pngPen{img: image.NewRGBA(image.Rect(0, 0, w, h)), scale: scale, paper: paper}
	draw.Draw(p.img, p.img.Bounds(), image.NewUniform(p.rgba(Paper, 1)), image.Point{}, draw.Src)
	p.clips = []image.Rectangle{p.img.Bounds()}
	return p
}

func (p *pngPen) rgba(r Role, alpha float64) color.NRGBA {
	c := roleRGB[r]
	if r == Paper {
		c = p.paper
	}
	if alpha <= 0 || alpha > 1 {
		alpha = 1
	}
	return color.NRGBA{c.R, c.G, c.B, uint8(math.Round(alpha * 255))}
}

func (p *pngPen) Begin(g Group) {
	clip := p.clips[len(p.clips)-1]
	if g.Clip.W > 0 {
		c := g.Clip
		clip = clip.Intersect(image.Rect(int(math.Round(c.X*p.scale)), int(math.Round(c.Y*p.scale)),
			int(math.Round((c.X+c.W)*p.scale)), int(math.Round((c.Y+c.H)*p.scale))))
	}
	p.clips = append(p.clips, clip)
}

func (p *pngPen) End() {
	if len(p.clips) > 1 {
		p.clips = p.clips[:len(p.clips)-1]
	}
}

// outline collects closed rings in pixels and knows the box they fill.
type outline struct {
	rings  [][][2]float64
	lo, hi [2]float64
}

func newOutline() *outline {
	return &outline{lo: [2]float64{math.Inf(1), math.Inf(1)}, hi: [2]float64{math.Inf(-1), math.Inf(-1)}}
}

func (o *outline) add(ring [][2]float64) {
	for _, q := range ring {
		for k := range q {
			o.lo[k], o.hi[k] = min(o.lo[k], q[k]), max(o.hi[k], q[k])
		}
	}
	o.rings = append(o.rings, ring)
}

// fill rasterises an outline inside the clip in force. The rasteriser covers
// only the outline's own box, so many small marks cost little.
func (p *pngPen) fill(o *outline, c color.NRGBA) {
	if len(o.rings) == 0 || !(o.lo[0] <= o.hi[0]) || math.IsInf(o.hi[0]-o.lo[0], 0) || math.IsInf(o.hi[1]-o.lo[1], 0) {
		return
	}
	box := image.Rect(int(math.Floor(max(o.lo[0], -1e6))), int(math.Floor(max(o.lo[1], -1e6))),
		int(math.Ceil(min(o.hi[0], 1e6)))+1, int(math.Ceil(min(o.hi[1], 1e6)))+1)
	box = box.Intersect(p.clips[len(p.clips)-1])
	if box.Empty() {
		return
	}
	z := &p.raster
	z.Reset(box.Dx(), box.Dy())
	for _, r := range o.rings {
		for i, q := range r {
			x, y := float32(q[0]-float64(box.Min.X)), float32(q[1]-float64(box.Min.Y))
			if i == 0 {
				z.MoveTo(x, y)
			} else {
				z.LineTo(x, y)
			}
		}
		z.ClosePath()
	}
	z.Draw(p.img, box, image.NewUniform(c), image.Point{})
}

func (p *pngPen) px(q Point) [2]float64 { return [2]float64{q.X * p.scale, q.Y * p.scale} }

// disc is a ring of enough corners to look round (a sagitta under a tenth of
// a pixel), wound like the quads of a stroke.
func disc(c [2]float64, r float64) [][2]float64 {
	n := int(clamp(math.Ceil(math.Pi*math.Sqrt(5*math.Max(r, 0)))+4, 8, 128))
	ring := make([][2]float64, n)
	for i := range ring {
		s, co := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		ring[i] = [2]float64{c[0] + r*co, c[1] + r*s}
	}
	return ring
}

// stroke turns a polyline into a quad per segment and a disc per joint, all
// wound the same way, so that one non-zero fill covers overlaps once.
func (o *outline) stroke(pts [][2]float64, width float64, round bool) {
	h := width / 2
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		dx, dy := b[0]-a[0], b[1]-a[1]
		l := math.Hypot(dx, dy)
		if l == 0 {
			continue
		}
		nx, ny := -dy/l*h, dx/l*h
		o.add([][2]float64{{a[0] - nx, a[1] - ny}, {b[0] - nx, b[1] - ny}, {b[0] + nx, b[1] + ny}, {a[0] + nx, a[1] + ny}})
	}
	for i, q := range pts {
		if round || i > 0 && i < len(pts)-1 {
			o.add(disc(q, h))
		}
	}
}

func (p *pngPen) Line(paths [][]Point, s Stroke) {
	for _, q := range paths { // one fill each: polylines far apart would share a huge box
		o := newOutline()
		pts := make([][2]float64, len(q))
		for i := range q {
			pts[i] = p.px(q[i])
		}
		o.stroke(pts, max(s.WidthMM*p.scale, 0.6), s.Round)
		p.fill(o, p.rgba(s.Role, s.Alpha))
	}
}

func (p *pngPen) Area(rings [][]Point, f Fill) {
	o := newOutline()
	for _, q := range rings {
		ring := make([][2]float64, len(q))
		for i := range q {
			ring[i] = p.px(q[i])
		}
		o.add(ring)
	}
	p.fill(o, p.rgba(f.Role, f.Alpha))
}

func (p *pngPen) Discs(c []Point, r float64, f Fill, s Stroke) {
	for _, q := range c {
		if f.Role != None {
			o := newOutline()
			o.add(disc(p.px(q), r*p.scale))
			p.fill(o, p.rgba(f.Role, f.Alpha))
		}
		if s.Role != None {
			ring := disc(p.px(q), r*p.scale)
			o := newOutline()
			o.stroke(append(ring, ring[0]), max(s.WidthMM*p.scale, 0.6), true)
			p.fill(o, p.rgba(s.Role, s.Alpha))
		}
	}
}

// Text fills the glyphs' outlines at their unhinted places.
func (p *pngPen) Text(t Text) {
	m := parsed[t.face()]()
	x := t.Box().X * p.scale
	y := t.Y * p.scale
	size := t.SizeMM * p.scale
	var glyphs []*outline
	for _, r := range t.S {
		adv, _, _ := m.rune(r)
		if o := p.glyph(m.font, r, x, y, size); o != nil {
			glyphs = append(glyphs, o)
		}
		x += adv * size
	}
	if t.Halo {
		for _, g := range glyphs {
			o := newOutline()
			for _, r := range g.rings {
				o.stroke(append(r, r[0]), 2*haloMM*p.scale, true)
			}
			p.fill(o, p.rgba(Paper, 1))
		}
	}
	for _, g := range glyphs {
		p.fill(g, p.rgba(t.Role, 1))
	}
}

// glyph gives a glyph's outline in pixels, curves cut into chords.
func (p *pngPen) glyph(f *sfnt.Font, r rune, x, y, size float64) *outline {
	g, err := f.GlyphIndex(&p.buf, r)
	if err != nil {
		return nil
	}
	segs, err := f.LoadGlyph(&p.buf, g, fixed.I(em), nil)
	if err != nil {
		return nil
	}
	at := func(q fixed.Point26_6) [2]float64 {
		return [2]float64{x + float64(q.X)/64/em*size, y + float64(q.Y)/64/em*size}
	}
	o := newOutline()
	var ring [][2]float64
	for _, s := range segs {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if len(ring) > 2 {
				o.add(ring)
			}
			ring = [][2]float64{at(s.Args[0])}
		case sfnt.SegmentOpLineTo:
			ring = append(ring, at(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			ring = bend(ring, at(s.Args[0]), at(s.Args[0]), at(s.Args[1]), 2)
		case sfnt.SegmentOpCubeTo:
			ring = bend(ring, at(s.Args[0]), at(s.Args[1]), at(s.Args[2]), 3)
		}
	}
	if len(ring) > 2 {
		o.add(ring)
	}
	return o
}

// bend appends a Bézier of degree 2 (b unused) or 3 from the ring's last point.
func bend(ring [][2]float64, a, b, end [2]float64, degree int) [][2]float64 {
	from := ring[len(ring)-1]
	const steps = 8
	for i := 1; i <= steps; i++ {
		t := float64(i) / steps
		u := 1 - t
		var q [2]float64
		for k := range q {
			if degree == 2 {
				q[k] = u*u*from[k] + 2*u*t*a[k] + t*t*end[k]
			} else {
				q[k] = u*u*u*from[k] + 3*u*u*t*a[k] + 3*u*t*t*b[k] + t*t*t*end[k]
			}
		}
		ring = append(ring, q)
	}
	return ring
}
