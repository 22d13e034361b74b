package paper

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"soakline/internal/figure"
	"soakline/internal/words"
)

// Size is a size of paper, upright, mm.
type Size struct {
	Name string
	W, H float64
}

// The sizes of paper: ISO 216 A4, and US Letter (8.5 by 11 inches).
var (
	A4     = Size{"a4", 210, 297}
	Letter = Size{"letter", 215.9, 279.4}
)

// Sizes a person may choose, by name.
var Sizes = []Size{A4, Letter}

// Lengths common to all pages, mm.
const (
	marginMM = 11.0 // what printers leave white, and a thumb's hold
	smallMM  = 2.7  // 7.7 points: labels of fields
	textMM   = 3.3  // 9.4 points
	headMM   = 4.2
	hairMM   = 0.18
	boxMM    = 0.32 // edge of a box to write in: stays after a copy in grey
	leading  = 1.25
)

// NoGlyph is a text with letters that the embedded font does not hold.
type NoGlyph struct {
	Text  string
	Runes []rune
}

func (e *NoGlyph) Error() string {
	return fmt.Sprintf("paper: the font has no glyph for %q in %q", string(e.Runes), e.Text)
}

// NoRoom is a part that fits no page.
type NoRoom struct{ What string }

func (e *NoRoom) Error() string { return "paper: no room on the page for " + e.What }

// page is a drawing of one page with what its parts need.
type page struct {
	*figure.Drawing
	size Size
	l    words.Language
	err  error // the first fault
}

func newPage(s Size, l words.Language) *page {
	d := &figure.Drawing{W: s.W, H: s.H, Paper: figure.RoleRGB(figure.Paper)}
	return &page{Drawing: d, size: s, l: l}
}

// left, right and width of what may be printed on.
func (p *page) left() float64   { return marginMM }
func (p *page) right() float64  { return p.size.W - marginMM }
func (p *page) inner() float64  { return p.size.W - 2*marginMM }
func (p *page) bottom() float64 { return p.size.H - marginMM }

func (p *page) say(slug string, pairs ...any) string {
	with := words.P{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return p.l.Say("paper."+slug, with)
}

// fault keeps the first fault.
func (p *page) fault(err error) {
	if p.err == nil {
		p.err = err
	}
}

// type style is how a text is set.
type style struct {
	size float64
	bold bool
	role figure.Role
}

var (
	small     = style{smallMM, false, figure.Ink}
	plain     = style{textMM, false, figure.Ink}
	strong    = style{textMM, true, figure.Ink}
	heading   = style{headMM, true, figure.Ink}
	quiet     = style{smallMM, false, figure.Mute}
	quietest  = style{2.3, false, figure.Mute}
	smallBold = style{smallMM, true, figure.Ink}
)

func (s style) sized(mm float64) style { s.size = mm; return s }

func (s style) width(t string) float64 {
	t, _ = figure.Clean(t)
	return figure.Text{S: t, SizeMM: s.size, Bold: s.bold}.Box().W
}

// text sets one line; y is its baseline.
func (p *page) text(s style, x, y float64, a figure.Anchor, t string) {
	if clean, missing := figure.Clean(t); len(missing) > 0 {
		p.fault(&NoGlyph{Text: clean, Runes: missing})
	}
	p.Text(figure.Text{X: x, Y: y, S: t, SizeMM: s.size, Bold: s.bold, Anchor: a, Role: s.role})
}

// fit makes a text no wider than w: smaller down to seven tenths, then cut with
// an ellipsis. Identifiers never pass here cut (see ident).
func (s style) fit(t string, w float64) (style, string) {
	t, _ = figure.Clean(t)
	if have := s.width(t); have > w && have > 0 {
		s.size = max(s.size*w/have*0.999, s.size*0.7)
	}
	if s.width(t) <= w {
		return s, t
	}
	r := []rune(t)
	for len(r) > 1 && s.width(string(r)+"…") > w {
		r = r[:len(r)-1]
	}
	return s, strings.TrimRight(string(r), " ") + "…"
}

// textFit sets a text within w.
func (p *page) textFit(s style, x, y, w float64, a figure.Anchor, t string) {
	if clean, missing := figure.Clean(t); len(missing) > 0 {
		p.fault(&NoGlyph{Text: clean, Runes: missing})
	}
	s, t = s.fit(t, w)
	p.text(s, x, y, a, t)
}

// wrap breaks a text at spaces into lines no wider than w; a word wider than a
// line is cut between letters.
func (s style) wrap(t string, w float64) []string {
	t, _ = figure.Clean(t)
	var out []string
	line := ""
	for _, word := range strings.Fields(t) {
		if try := strings.TrimSpace(line + " " + word); s.width(try) <= w {
			line = try
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		r := []rune(word)
		for s.width(string(r)) > w && len(r) > 1 {
			n := len(r) - 1
			for n > 1 && s.width(string(r[:n])) > w {
				n--
			}
			out, r = append(out, string(r[:n])), r[n:]
		}
		line = string(r)
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// paragraph sets a text in lines from top on and gives the y below them.
func (p *page) paragraph(s style, x, top, w float64, t string) float64 {
	if clean, missing := figure.Clean(t); len(missing) > 0 {
		p.fault(&NoGlyph{Text: clean, Runes: missing})
	}
	for _, line := range s.wrap(t, w) {
		p.text(s, x, top+s.size, figure.Start, line)
		top += s.size * leading
	}
	return top
}

// tall is the height a paragraph takes.
func (s style) tall(t string, w float64) float64 {
	return float64(len(s.wrap(t, w))) * s.size * leading
}

// rule draws a line.
func (p *page) rule(x1, y1, x2, y2, width float64) {
	p.Line([][]figure.Point{{{X: x1, Y: y1}, {X: x2, Y: y2}}}, figure.Stroke{Role: figure.Ink, WidthMM: width})
}

// box draws the edge of a rectangle.
func (p *page) box(x, y, w, h float64) {
	p.Line([][]figure.Point{{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}, {X: x, Y: y}}}, figure.Stroke{Role: figure.Ink, WidthMM: boxMM})
}

// madeAt is the date in every file: none, since a sheet says by itself what it
// is for, and the same sheets are the same bytes whenever they are printed.
var madeAt = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// write makes the PDF of pages of one size.
func write(pages []*page, l words.Language, title string) ([]byte, error) {
	if len(pages) == 0 {
		return nil, &NoRoom{What: title}
	}
	s := pages[0].size
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: s.W, Ht: s.H}})
	f.SetCatalogSort(true)
	f.SetCreationDate(madeAt)
	f.SetModificationDate(madeAt)
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	f.SetLang(string(l))
	f.SetTitle(title, true)
	for _, p := range pages {
		if p.err != nil {
			return nil, p.err
		}
		f.AddPage()
		if p.Title != "" {
			f.Bookmark(p.Title, 0, 0)
		}
		p.OnPage(f, 0, 0)
	}
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		return nil, fmt.Errorf("paper: write PDF: %w", err)
	}
	return b.Bytes(), nil
}
