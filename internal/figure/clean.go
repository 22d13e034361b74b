package figure

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// NoGlyph stands where the font has no glyph.
const NoGlyph = '□'

// Clean makes a string printable by every pen and gives the runes it could not
// keep, in order of first appearance.
//
// Accents are composed (NFC); line breaks, tabs and other controls become one
// space; marks that only steer the direction of writing are dropped; a rune
// above U+FFFF (fpdf panics on it), one without a glyph in regular or bold,
// and a byte that is not UTF-8 become □.
func Clean(s string) (string, []rune) {
	var missing []rune
	plain := true
	for i := 0; i < len(s) && plain; i++ {
		plain = s[i] >= ' ' && s[i] < 0x7f
	}
	if plain {
		return s, nil
	}
	var b strings.Builder
	for _, r := range norm.NFC.String(strings.ToValidUTF8(s, string(utf8.RuneError))) {
		switch {
		case unicode.IsControl(r) || unicode.IsSpace(r) && !hasGlyph(r):
			if !strings.HasSuffix(b.String(), " ") {
				b.WriteByte(' ')
			}
		case unicode.In(r, unicode.Cf):
		case r > 0xFFFF || !hasGlyph(r):
			b.WriteRune(NoGlyph)
			missing = addRune(missing, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String(), missing
}

func hasGlyph(r rune) bool {
	return parsed[Regular]().has(r) && parsed[Bold]().has(r)
}

func addRune(rs []rune, r rune) []rune {
	for _, x := range rs {
		if x == r {
			return rs
		}
	}
	return append(rs, r)
}

// xmlText keeps what XML 1.0 allows in a title or description, which a screen
// reader speaks and no font has to draw.
func xmlText(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case r < ' ' || r == 0xFFFE || r == 0xFFFF || r >= 0x7f && r < 0xa0:
			return -1
		}
		return r
	}, norm.NFC.String(strings.ToValidUTF8(s, "\uFFFD")))
	return xmlEscape.Replace(s)
}

var xmlEscape = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")
