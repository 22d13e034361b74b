package place

import (
	"math"
	"strconv"
	"strings"
)

// numeral is one number of a text with what was written about it.
type numeral struct {
	text   string
	sign   byte
	mark   kind // kNumber where none stood
	bound  bool // joined to the number before by a colon or a dash
	metres bool
}

// component is one coordinate as written: one to three numbers, and what says
// which axis and which side it is on.
type component struct {
	numerals []numeral
	hemi     []byte // letters N S E W O
	label    byte   // 'a' latitude, 'o' longitude, 0 none
}

// written is everything a text holds, cut into coordinates.
type written struct {
	text   string
	parts  []component
	height string // a third number, that may be a height
	xFirst bool   // a form that puts longitude first
	datum  string
	comma  bool // a comma between digits was taken for a separator
	spaced bool // only a space divides a whole number from one that may be its minutes
}

// mention is a letter or label and how many numbers stand before it.
type mention struct {
	at   int
	what byte
}

// gathering is what the tokens hold, before it is cut into coordinates.
type gathering struct {
	nums         []numeral
	splits       map[int]bool // a coordinate may begin at these numbers
	hemis, named []mention
	join         bool // a colon or dash stands before the next number
}

// gather sorts tokens into numbers and what is said about them.
func (w *written) gather(tokens []token) (*gathering, *Refusal) {
	g := &gathering{splits: map[int]bool{}}
	for _, t := range tokens {
		n := len(g.nums)
		switch t.kind {
		case kNumber:
			g.nums = append(g.nums, numeral{text: t.text, sign: t.sign, mark: kNumber, bound: g.join})
			g.join = false
			g.splits[n] = g.splits[n] || t.sign != 0
		case kDegree, kMinute, kSecond:
			if n == 0 || g.nums[n-1].mark != kNumber {
				return nil, refuse("not-understood", "text", clip(w.text), "piece", "° ' \"")
			}
			g.nums[n-1].mark = t.kind
			g.splits[n-1] = g.splits[n-1] || t.kind == kDegree
		case kMetre:
			if n == 0 {
				return nil, refuse("not-understood", "text", clip(w.text), "piece", "m")
			}
			g.nums[n-1].metres = true
			g.splits[n-1] = true
		case kBind:
			g.join = n > 0
		case kSep:
			g.splits[n] = true
		case kComma:
			g.splits[n] = true
			w.comma = true
		case kHemi:
			g.hemis = append(g.hemis, mention{n, t.what})
			g.splits[n] = true
		case kLabel:
			g.named = append(g.named, mention{n, t.what})
			g.splits[n] = true
		case kPoint:
			w.xFirst = true
		case kDatum:
			w.datum = t.text
		}
	}
	if len(g.nums) == 0 {
		return nil, refuse("not-understood", "text", clip(w.text), "piece", clip(strings.TrimSpace(w.text)))
	}
	return g, nil
}

// assemble sorts tokens into coordinates. want is 2 for a position, 1 for the
// field of one coordinate.
func assemble(text string, tokens []token, want int) (*written, *Refusal) {
	w := &written{text: text}
	g, bad := w.gather(tokens)
	if bad != nil {
		return nil, bad
	}
	at, bad := w.cut(g.nums, g.splits, want)
	if bad != nil {
		return nil, bad
	}
	if w.spaced && len(g.hemis) > 0 { // 36 57.07 N
		return nil, refuse("one-coordinate", "text", clip(text))
	}
	inFront := len(g.named) > 0 && g.named[0].at == 0 // "lat 36.9", not "36.9 lat"
	for _, m := range g.named {
		i := 0
		if want == 2 && (m.at > at || m.at == at && inFront) {
			i = 1
		}
		if w.parts[i].label != 0 && w.parts[i].label != m.what {
			return nil, refuse("not-understood", "text", clip(text), "piece", "lat, lon")
		}
		w.parts[i].label = m.what
	}
	for _, m := range g.hemis {
		i := 0
		// Between the two numbers a letter belongs to the first, unless that
		// has one in front of it already.
		if want == 2 && (m.at > at || m.at == at && len(w.parts[0].hemi) > 0) {
			i = 1
		}
		w.parts[i].hemi = append(w.parts[i].hemi, m.what)
	}
	return w, nil
}

// cut divides the numbers into coordinates and a height; it returns how many
// belong to the first.
func (w *written) cut(nums []numeral, splits map[int]bool, want int) (at int, bad *Refusal) {
	n := len(nums)
	var inner []int
	for i := 1; i < n; i++ {
		if splits[i] && !nums[i].bound {
			inner = append(inner, i)
		}
	}
	if want == 1 {
		if len(inner) > 0 || n > 3 {
			return 0, refuse("two-in-one-field", "text", clip(w.text))
		}
		w.parts = []component{{numerals: nums}}
		return n, nil
	}
	lone := 0
	for _, m := range nums {
		if !m.bound {
			lone++
		}
	}
	switch {
	case len(inner) == 2 && inner[1] == n-1: // the third stands alone
		w.height, nums, n = nums[n-1].text, nums[:n-1], n-1
		at = inner[0]
	case len(inner) == 1:
		at = inner[0]
		// 36.9512 -8.2034 12: what follows decimals is no minute.
		if n-at > 1 && strings.Contains(nums[n-2].text, ".") {
			w.height, nums, n = nums[n-1].text, nums[:n-1], n-1
		}
	case len(inner) == 0 && n == 3 && lone == 3 && strings.Contains(nums[0].text, ".") && strings.Contains(nums[1].text, "."):
		w.height, nums, n, at = nums[2].text, nums[:2], 2, 1
	case len(inner) == 0 && (n == 1 || n == 3 || n == 2 && (lone == 1 || nums[1].mark == kMinute)):
		return 0, refuse("one-coordinate", "text", clip(w.text))
	case len(inner) == 0 && n%2 == 0 && n <= 6 && (lone == n || n == 2 && lone == 2):
		at = n / 2
		second, _ := strconv.ParseFloat(nums[1].text, 64)
		w.spaced = n == 2 && !w.xFirst && !strings.Contains(nums[0].text, ".") && second < 60
	default:
		return 0, refuse("not-two-coordinates", "text", clip(w.text), "count", n)
	}
	if at >= n || at > 3 || n-at > 3 {
		return 0, refuse("not-two-coordinates", "text", clip(w.text), "count", n)
	}
	w.parts = []component{{numerals: nums[:at]}, {numerals: nums[at:]}}
	return at, nil
}

// amount is the size of a coordinate and how finely it was written.
type amount struct {
	deg      float64 // without a sign
	negative bool    // a minus stood in front
	signed   bool    // a plus or a minus stood in front
	parts    int     // numbers: 1 degrees, 2 with minutes, 3 with seconds
	step     float64 // degrees of the last digit
	compact  bool    // written without spaces: DDMM.mm, DDMMSS
}

// measure adds up degrees, minutes and seconds.
func (c component) measure(text string) (amount, *Refusal) {
	a := amount{parts: len(c.numerals), step: 1}
	marks := [3]kind{kDegree, kMinute, kSecond}
	scale := 1.0
	for i, n := range c.numerals {
		if n.metres || (n.mark != kNumber && n.mark != marks[i]) {
			return a, refuse("not-understood", "text", clip(text), "piece", n.text)
		}
		v, err := strconv.ParseFloat(n.text, 64)
		if err != nil || math.IsInf(v, 0) {
			return a, refuse("not-understood", "text", clip(text), "piece", n.text)
		}
		whole, decimals, hasPoint := strings.Cut(n.text, ".")
		if i > 0 && (v >= 60 || len(whole) > 2 || n.sign != 0) {
			return a, refuse("sixty", "text", clip(text), "piece", n.text)
		}
		if hasPoint && i < len(c.numerals)-1 {
			return a, refuse("fraction-inside", "text", clip(text), "piece", n.text)
		}
		if i == 0 {
			a.negative, a.signed = n.sign == '-', n.sign != 0
		}
		a.deg += v / scale
		a.step = 1 / scale / math.Pow10(len(decimals))
		scale *= 60
	}
	if whole := wholeDigits(c.numerals[0].text); a.parts == 1 && (a.deg > 360 || len(whole) > 3) {
		return c.unpack(a)
	}
	return a, nil
}

// unpack reads degrees and minutes written without a space, as instruments
// send them: DDMM.mm and DDDMM.mm, or with seconds DDMMSS and DDDMMSS.
func (c component) unpack(a amount) (amount, *Refusal) {
	n := c.numerals[0]
	whole, decimals, _ := strings.Cut(n.text, ".")
	over := refuse("degrees-range", "piece", n.text)
	if len(whole) < 4 || len(whole) > 7 {
		return a, over
	}
	sec := 0.0
	rest := whole
	last, _ := strconv.ParseFloat("0."+decimals+"0", 64)
	a.step = math.Pow10(-len(decimals)) / 60
	a.parts = 2
	if len(whole) >= 6 {
		s, _ := strconv.Atoi(rest[len(rest)-2:])
		sec, rest = float64(s)+last, rest[:len(rest)-2]
		last = 0
		a.step /= 60
		a.parts = 3
	}
	m, _ := strconv.Atoi(rest[len(rest)-2:])
	d, _ := strconv.Atoi(rest[:len(rest)-2])
	minutes := float64(m) + last
	if minutes >= 60 || sec >= 60 || d > 180 {
		return a, over
	}
	a.deg = float64(d) + minutes/60 + sec/3600
	a.compact = true
	return a, nil
}

// notation names how the coordinate was written.
func (a amount) notation() Notation {
	return [4]Notation{"", DecimalDegrees, DegreesMinutes, DegMinSec}[a.parts]
}
