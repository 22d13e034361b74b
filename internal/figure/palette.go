package figure

import "math"

// RGB is a colour, each part 0..255.
type RGB struct{ R, G, B uint8 }

// Role is a colour named by its purpose. In SVG it is the class s-NAME on
// strokes and f-NAME on fills, so a page's style sheet can set it anew.
type Role uint8

// The roles. Fates and series use the palette of Okabe and Ito (2008), "Color
// Universal Design", jfly.uni-koeln.de/color; its yellow is left out, since on
// paper it does not show.
const (
	None    Role = iota
	Ink          // text, stakes
	Mute         // second text, axes, ticks of single deployments
	Hair         // hairlines that may go unseen
	Paper        // the ground
	Sea          // estimates
	Warm         // words about what is gone or asked
	Bait         // a bait present (Okabe-Ito blue)
	Gone         // a bait consumed (vermillion)
	NoNews       // not known
	Land         // land on a map
	Shore        // its edge
	Series0      // curves: blue, vermillion, green, purple, sky, black, orange; neighbours differ in grey
	Series1
	Series2
	Series3
	Series4
	Series5
	Series6
	roles
)

// seriesCount is the number of colours for curves; marks go on when they recur.
const seriesCount = 7

var roleName = [roles]string{"none", "ink", "mute", "hair", "paper", "sea", "warm", "bait", "gone", "no-news", "land", "shore",
	"series-0", "series-1", "series-2", "series-3", "series-4", "series-5", "series-6"}

var roleRGB = [roles]RGB{
	Ink: {0x17, 0x25, 0x2c}, Mute: {0x56, 0x66, 0x6d}, Hair: {0xd9, 0xd6, 0xcb}, Paper: {0xff, 0xff, 0xff},
	Sea: {0x0a, 0x5f, 0x73}, Warm: {0xa8, 0x42, 0x0a}, Bait: {0x00, 0x72, 0xb2}, Gone: {0xd5, 0x5e, 0x00},
	NoNews: {0x56, 0x66, 0x6d}, Land: {0xe4, 0xdf, 0xcf}, Shore: {0x8d, 0x8a, 0x7c},
	Series0: {0x00, 0x72, 0xb2}, Series1: {0xd5, 0x5e, 0x00}, Series2: {0x00, 0x9e, 0x73}, Series3: {0xcc, 0x79, 0xa7},
	Series4: {0x56, 0xb4, 0xe9}, Series5: {0x00, 0x00, 0x00}, Series6: {0xe6, 0x9f, 0x00},
}

// Luminance is the relative luminance of a colour, 0 black to 1 white: what is
// left of it on a grey print.
//
// Source: WCAG 2.2, definition of relative luminance (from memory).
func (c RGB) Luminance() float64 {
	lin := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.04045 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*lin(c.R) + 0.7152*lin(c.G) + 0.0722*lin(c.B)
}

// Contrast is the contrast ratio of two colours, 1 to 21 (WCAG 2.2).
func Contrast(a, b RGB) float64 {
	x, y := a.Luminance(), b.Luminance()
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// RoleRGB gives the colour a role has when no style sheet says otherwise.
func RoleRGB(r Role) RGB { return roleRGB[r] }
