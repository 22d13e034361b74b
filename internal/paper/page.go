package paper

import (
	"soakline/internal/figure"
	"soakline/internal/leaf"
	"soakline/internal/words"
)

// Size is a size of paper.
type Size = leaf.Size

// The sizes of paper.
var (
	A4     = leaf.A4
	Letter = leaf.Letter
)

// Sizes a person may choose, by name.
var Sizes = leaf.Sizes

// Lengths common to all pages, mm.
const (
	marginMM = 11.0 // what printers leave white, and a thumb's hold
	smallMM  = 2.7  // 7.7 points: labels of fields
	textMM   = 3.3  // 9.4 points
	headMM   = 4.2
	hairMM   = 0.18
	boxMM    = 0.32 // edge of a box to write in: stays after a copy in grey
	leading  = leaf.Leading
)

// NoGlyph is a text with letters that the embedded font does not hold.
type NoGlyph = leaf.NoGlyph

// NoRoom is a part that fits no page.
type NoRoom = leaf.NoRoom

// page is one page with the language it is in.
type page struct {
	*leaf.Leaf
	l words.Language
}

func newPage(s Size, l words.Language) *page { return &page{leaf.New(s, marginMM), l} }

func (p *page) say(slug string, pairs ...any) string {
	with := words.P{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return p.l.Say("paper."+slug, with)
}

// style is how a text is set.
type style = leaf.Style

var (
	small     = style{SizeMM: smallMM, Bold: false, Role: figure.Ink}
	plain     = style{SizeMM: textMM, Bold: false, Role: figure.Ink}
	strong    = style{SizeMM: textMM, Bold: true, Role: figure.Ink}
	heading   = style{SizeMM: headMM, Bold: true, Role: figure.Ink}
	quiet     = style{SizeMM: smallMM, Bold: false, Role: figure.Mute}
	quietest  = style{SizeMM: 2.3, Bold: false, Role: figure.Mute}
	smallBold = style{SizeMM: smallMM, Bold: true, Role: figure.Ink}
)

// box draws the edge of a box to write in.
func (p *page) box(x, y, w, h float64) { p.Box(x, y, w, h, boxMM) }

// write makes the PDF of pages of one size. It holds no date: a sheet says by
// itself what it is for, and the same sheets are the same bytes whenever they
// are printed.
func write(pages []*page, l words.Language, title string) ([]byte, error) {
	leaves := make([]*leaf.Leaf, len(pages))
	for i, p := range pages {
		leaves[i] = p.Leaf
	}
	return leaf.PDF(leaves, nil, leaf.File{Title: title, Lang: string(l)})
}
