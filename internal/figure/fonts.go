package figure

import (
	"embed"
	"fmt"
	"sync"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// fontFiles holds Source Sans 3 (3.052, SIL Open Font License 1.1) as
// published in the npm package source-sans 3.52.0. "Source" is a reserved font
// name, so the files stay byte for byte as they came (fonts/SHA256SUMS).
//
//go:embed fonts/*.ttf fonts/*.woff2 fonts/LICENSE.md
var fontFiles embed.FS

// FontFamily is the name under which UseFonts registers the fonts in a PDF.
const FontFamily = "sourcesans3"

// Face is one cut of the embedded font.
type Face uint8

// The cuts that are embedded.
const (
	Regular Face = iota
	Bold
	Italic
	faces
)

var faceFile = [faces]string{"SourceSans3-Regular", "SourceSans3-Bold", "SourceSans3-It"}

// TTF gives a fresh copy of the face's TrueType file.
func (f Face) TTF() []byte { return fontFile("fonts/" + faceFile[f] + ".ttf") }

// WOFF2 gives a fresh copy of the face's file for pages.
func (f Face) WOFF2() []byte { return fontFile("fonts/" + faceFile[f] + ".ttf.woff2") }

// FileName is the name of the face's file without its ending.
func (f Face) FileName() string { return faceFile[f] }

// FontLicence gives the text of the licence that goes along with the fonts.
func FontLicence() []byte { return fontFile("fonts/LICENSE.md") }

func fontFile(name string) []byte {
	b, err := fontFiles.ReadFile(name)
	if err != nil {
		panic("figure: embedded font: " + err.Error()) // the build is broken, not the data
	}
	return b
}

// UseFonts registers the three faces in a PDF under FontFamily, styles "", "B"
// and "I". Doing it twice is harmless.
func UseFonts(p *fpdf.Fpdf) {
	for f, style := range [faces]string{"", "B", "I"} {
		p.AddUTF8FontFromBytes(FontFamily, style, Face(f).TTF())
	}
}

// metrics is a parsed face with its advances and glyph outlines.
type metrics struct {
	font *sfnt.Font
	mu   sync.Mutex // guards buf and the caches
	buf  sfnt.Buffer
	adv  map[rune]float64 // advance in em
	box  map[rune][2]float64
}

var parsed [faces]func() *metrics

func init() {
	for f := range parsed {
		parsed[f] = sync.OnceValue(func() *metrics {
			ft, err := sfnt.Parse(Face(f).TTF())
			if err != nil {
				panic(fmt.Sprintf("figure: embedded font %s: %v", faceFile[f], err))
			}
			return &metrics{font: ft, adv: map[rune]float64{}, box: map[rune][2]float64{}}
		})
	}
}

// em is the size in pixels at which metrics are read: the font's own grid, so
// nothing is rounded.
const em = 1000

// has reports whether the face holds a glyph for r.
func (m *metrics) has(r rune) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	g, err := m.font.GlyphIndex(&m.buf, r)
	return err == nil && g != 0
}

// rune gives advance and vertical extent (top above, bottom below the
// baseline, both upwards positive) of r in em.
func (m *metrics) rune(r rune) (adv, bottom, top float64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if a, ok := m.adv[r]; ok {
		b := m.box[r]
		return a, b[0], b[1]
	}
	g, err := m.font.GlyphIndex(&m.buf, r)
	if err != nil {
		return 0, 0, 0
	}
	bounds, a, err := m.font.GlyphBounds(&m.buf, g, fixed.I(em), font.HintingNone)
	if err != nil {
		return 0, 0, 0
	}
	m.adv[r] = float64(a) / 64 / em
	m.box[r] = [2]float64{-float64(bounds.Max.Y) / 64 / em, -float64(bounds.Min.Y) / 64 / em}
	return m.adv[r], m.box[r][0], m.box[r][1]
}

// textWidth is the width in mm of s set in a face at sizeMM, without kerning
// (which only narrows).
func textWidth(s string, sizeMM float64, f Face) float64 {
	m := parsed[f]()
	w := 0.0
	for _, r := range s {
		a, _, _ := m.rune(r)
		w += a
	}
	return w * sizeMM
}
