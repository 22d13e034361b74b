package figure

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"
)

// Look holds the sizes of a medium, mm.
type Look struct {
	TextMM  float64 // main text (em)
	SmallMM float64 // second text: times, ticks, notes
	Paper   RGB     // the ground the drawing stands on
	Comma   bool    // numbers on axes with a decimal comma
}

// The two usual looks: on a page in a browser (16 CSS pixels, none smaller)
// and in print (9 and 8 points).
var (
	Screen = Look{TextMM: 16 / pxPerMM, SmallMM: 16 / pxPerMM, Paper: RGB{0xfb, 0xfa, 0xf5}}
	Print  = Look{TextMM: 9 * 25.4 / 72, SmallMM: 8 * 25.4 / 72, Paper: RGB{0xff, 0xff, 0xff}}
)

// Frame is what every drawing is told besides its numbers.
type Frame struct {
	ID      string // unique on the page; letters, digits, - and _
	WidthMM float64
	Look    Look
}

// ScreenMM turns a width in CSS pixels into mm.
func ScreenMM(px float64) float64 { return px / pxPerMM }

// The widths a drawing can be asked for, mm.
const (
	minWidthMM = 40
	maxWidthMM = 2000
)

// begin checks the frame and opens a drawing of its width.
func (f Frame) begin(title, desc string) (*Drawing, error) {
	if !(f.WidthMM >= minWidthMM && f.WidthMM <= maxWidthMM) {
		return nil, fmt.Errorf("figure: a width of %g mm cannot be drawn; give %d to %d mm", f.WidthMM, minWidthMM, maxWidthMM)
	}
	if l := f.Look; !(l.TextMM >= 1 && l.TextMM <= 20 && l.SmallMM >= 1 && l.SmallMM <= 20) {
		return nil, fmt.Errorf("figure: text of %g and %g mm cannot be set; give a Look with 1 to 20 mm (Screen, Print)", l.TextMM, l.SmallMM)
	}
	return &Drawing{ID: f.ID, Title: title, Desc: desc, W: f.WidthMM, Paper: f.Look.Paper}, nil
}

// leading is the step from line to line in ems. Two lines of it never touch:
// the highest and lowest glyphs of the font in use by us span less.
const leading = 1.32

// words is text to be set: a string, a size, a cut and a role.
type words struct {
	s    string
	size float64
	bold bool
	role Role
}

func (f Frame) main(s string) words  { return words{s, f.Look.TextMM, false, Ink} }
func (f Frame) bold(s string) words  { return words{s, f.Look.TextMM, true, Ink} }
func (f Frame) small(s string) words { return words{s, f.Look.SmallMM, false, Mute} }

func (w words) face() Face {
	if w.bold {
		return Bold
	}
	return Regular
}

// width is the width in mm of the words on one line.
func (w words) width() float64 {
	s, _ := Clean(w.s)
	return textWidth(s, w.size, w.face())
}

// wrap breaks the words into lines no wider than maxMM: at spaces, and inside
// a word only when it is wider than a line by itself. Nothing is cut off. An
// empty string gives no lines.
func (w words) wrap(maxMM float64) []words {
	s, _ := Clean(w.s)
	var out []words
	line := ""
	flush := func() {
		if line != "" {
			out = append(out, words{line, w.size, w.bold, w.role})
			line = ""
		}
	}
	for _, word := range strings.Fields(s) {
		joined := word
		if line != "" {
			joined = line + " " + word
		}
		if textWidth(joined, w.size, w.face()) <= maxMM+1e-6 {
			line = joined
			continue
		}
		flush()
		for textWidth(word, w.size, w.face()) > maxMM+1e-6 {
			head := w.fits(word, maxMM)
			line = word[:head]
			word = word[head:]
			if word == "" {
				break
			}
			flush()
		}
		if word != "" {
			line = word
		}
	}
	flush()
	return out
}

// fits counts the bytes of word that fit in maxMM, at least one rune.
func (w words) fits(word string, maxMM float64) int {
	n, x := 0, 0.0
	for i, r := range word {
		x += textWidth(string(r), w.size, w.face())
		if i > 0 && x > maxMM {
			return i
		}
		n = i + utf8.RuneLen(r)
	}
	return n
}

// put sets lines one below the other, the first in a line box that begins at
// top, and gives the y below the last.
func (d *Drawing) put(lines []words, x, top float64, a Anchor) float64 {
	for _, l := range lines {
		d.Text(Text{X: x, Y: top + l.size*ascent, S: l.s, SizeMM: l.size, Bold: l.bold, Anchor: a, Role: l.role})
		top += l.size * leading
	}
	return top
}

// ascent is where the baseline stands in a line box, in ems.
const ascent = 0.98

func height(lines []words) float64 {
	h := 0.0
	for _, l := range lines {
		h += l.size * leading
	}
	return h
}

func widest(lines []words) float64 {
	w := 0.0
	for _, l := range lines {
		w = max(w, l.width())
	}
	return w
}

// note adds what Clean could not keep in texts that were wrapped beforehand.
func (d *Drawing) note(texts ...string) {
	for _, t := range texts {
		_, missing := Clean(t)
		for _, r := range missing {
			d.Missing = addRune(d.Missing, r)
		}
	}
}

// footer sets a note in small text over the whole width from top on.
func (d *Drawing) footer(f Frame, s string, top float64) float64 {
	d.note(s)
	return d.put(f.small(s).wrap(d.W-1), 0, top, Start)
}

// spread moves the centres of boxes of given heights apart until none overlap,
// as little as may be in the least-squares sense, inside lo..hi when they fit
// there. centres must be in ascending order; the result is too.
//
// Method: pool adjacent violators on centres less the space before them.
func spread(centres, heights []float64, lo, hi float64) []float64 {
	n := len(centres)
	if len(heights) != n {
		panic("figure: spread: centres and heights differ in number")
	}
	offset := make([]float64, n) // where a box would stand if all were stacked from 0
	for i := 1; i < n; i++ {
		offset[i] = offset[i-1] + (heights[i-1]+heights[i])/2
	}
	type block struct {
		sum float64
		n   int
	}
	var blocks []block
	for i := range centres {
		b := block{centres[i] - offset[i], 1}
		for len(blocks) > 0 {
			last := blocks[len(blocks)-1]
			if last.sum/float64(last.n) <= b.sum/float64(b.n) {
				break
			}
			b.sum, b.n = b.sum+last.sum, b.n+last.n
			blocks = blocks[:len(blocks)-1]
		}
		blocks = append(blocks, b)
	}
	out := make([]float64, 0, n)
	for _, b := range blocks {
		for range b.n {
			at := b.sum / float64(b.n)
			if n > 0 {
				at = min(at, hi-heights[n-1]/2-offset[n-1]) // order matters: the top end wins
				at = max(at, lo+heights[0]/2)
			}
			out = append(out, at+offset[len(out)])
		}
	}
	return out
}

// numberText prints an axis number: no exponent, the true minus sign, and the
// reader's decimal sign.
func (l Look) numberText(v float64, decimals int) string {
	s := fmt.Sprintf("%.*f", max(decimals, 0), v)
	if neg := strings.HasPrefix(s, "-"); neg {
		s = s[1:]
		if strings.Trim(s, "0.") != "" {
			s = "−" + s
		}
	}
	if l.Comma {
		s = strings.ReplaceAll(s, ".", ",")
	}
	return s
}

func clamp(v, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, v)) }
