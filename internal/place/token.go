package place

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

type kind int

const (
	kNumber kind = iota
	kDegree
	kMinute
	kSecond
	kMetre
	kHemi  // letter in what: N S E W, or O for a letter that may be west or east
	kLabel // what: 'a' latitude, 'o' longitude
	kSep   // between the two coordinates
	kComma // between digits, without a space: a separator or a decimal sign
	kBind  // colon or dash between the parts of one coordinate
	kPoint // longitude comes first, as in the text form of geometries
	kDatum // another datum than WGS84
)

// token is one piece of a text.
type token struct {
	kind kind
	what byte
	text string
	sign byte // of a number: '-', '+' or 0
	glue bool // nothing between it and the piece before
}

var hemispheres = map[string]byte{
	"n": 'N', "north": 'N', "norte": 'N', "nord": 'N',
	"s": 'S', "south": 'S', "sur": 'S', "sud": 'S', "sul": 'S',
	"e": 'E', "east": 'E', "este": 'E', "est": 'E', "leste": 'E', "ost": 'E',
	"w": 'W', "west": 'W', "oeste": 'W', "ouest": 'W',
	"o": 'O', // oeste and ouest, but Ost in German
}

var units = map[string]kind{
	"d": kDegree, "deg": kDegree, "degs": kDegree, "degree": kDegree, "degrees": kDegree, "grado": kDegree, "grados": kDegree,
	"min": kMinute, "mins": kMinute, "minute": kMinute, "minutes": kMinute, "minuto": kMinute, "minutos": kMinute,
	"sec": kSecond, "secs": kSecond, "second": kSecond, "seconds": kSecond, "seg": kSecond, "segundo": kSecond, "segundos": kSecond,
}

var labels = map[string]byte{
	"lat": 'a', "latitude": 'a', "latitud": 'a', "decimallatitude": 'a', "y": 'a',
	"lon": 'o', "long": 'o', "lng": 'o', "longitude": 'o', "longitud": 'o', "decimallongitude": 'o', "x": 'o',
}

// Words that say nothing new: WGS84 itself, and frames within two metres of it.
var idle = map[string]bool{
	"wgs84": true, "wgs": true, "gps": true, "geo": true, "position": true, "pos": true, "posicion": true, "coordinates": true, "coordenadas": true,
	"etrs89": true, "nad83": true, "gda94": true, "gda2020": true, "sirgas2000": true, "sirgas": true, "nzgd2000": true, "epsg4326": true,
}

// Datums that lie tens to hundreds of metres from WGS84 (EPSG data set, from memory).
var datums = map[string]bool{
	"ed50": true, "nad27": true, "sad69": true, "psad56": true, "osgb36": true, "agd66": true, "agd84": true, "nzgd49": true, "tokyo": true, "lisbon": true, "pulkovo": true, "minna": true, "arc1960": true,
}

// lexer cuts a text into tokens.
type lexer struct {
	text string
	at   int
	out  []token
	gap  bool // something blank was passed since the last token
}

const longestText = 200 // bytes; a coordinate is far shorter

// lex returns the pieces of a text, or why it cannot be one of a coordinate.
func lex(text string) ([]token, *Refusal) {
	if len(text) > longestText || !utf8.ValidString(text) {
		return nil, refuse("not-understood", "text", clip(text), "piece", clip(text))
	}
	l := &lexer{text: text}
	for l.at < len(l.text) {
		r, size := utf8.DecodeRuneInString(l.text[l.at:])
		var bad *Refusal
		switch {
		case r >= '0' && r <= '9', r == '.' && l.digitAt(l.at+1) && !l.afterDigit():
			bad = l.number(0)
		case r == '-' || r == '−' || r == '–' || r == '+':
			bad = l.sign(r, size)
		case unicode.IsLetter(r) && r != 'º' && r != 'ª':
			bad = l.word()
		default:
			bad = l.mark(r, size)
		}
		if bad != nil {
			return nil, bad
		}
	}
	return l.out, nil
}

func clip(s string) string {
	s = strings.ToValidUTF8(s, "?")
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}

func (l *lexer) digitAt(i int) bool { return i < len(l.text) && l.text[i] >= '0' && l.text[i] <= '9' }

func (l *lexer) afterDigit() bool { return l.at > 0 && l.digitAt(l.at-1) }

func (l *lexer) add(t token) {
	t.glue = len(l.out) > 0 && !l.gap
	l.gap = false
	l.out = append(l.out, t)
}

func (l *lexer) last() *token {
	if len(l.out) == 0 {
		return &token{kind: kSep}
	}
	return &l.out[len(l.out)-1]
}

// number reads digits with a decimal point; a comma is left for later.
func (l *lexer) number(sign byte) *Refusal {
	start := l.at
	for l.digitAt(l.at) {
		l.at++
	}
	if l.at < len(l.text) && l.text[l.at] == '.' {
		if l.at++; l.at > start+1 || l.digitAt(l.at) {
			for l.digitAt(l.at) {
				l.at++
			}
		}
	}
	n := l.text[start:l.at]
	if l.at < len(l.text) && l.text[l.at] == '.' { // 1.234.567
		return refuse("not-understood", "text", clip(l.text), "piece", clip(l.text[start:]))
	}
	if rest := l.text[l.at:]; len(rest) > 2 && (rest[0] == 'e' || rest[0] == 'E') && (rest[1] == '+' || rest[1] == '-') && rest[2] >= '0' && rest[2] <= '9' {
		return refuse("exponent", "text", clip(l.text))
	}
	l.add(token{kind: kNumber, text: n, sign: sign})
	return nil
}

// sign reads a plus, a minus or a dash: the sign of the number that follows, or
// the join between degrees and minutes (36-57-04).
func (l *lexer) sign(r rune, size int) *Refusal {
	s := byte('-')
	if r == '+' {
		s = '+'
	}
	glued := len(l.out) > 0 && !l.gap
	last := l.last()
	l.at += size
	if !l.digitAt(l.at) && !(l.at+1 < len(l.text) && l.text[l.at] == '.' && l.digitAt(l.at+1)) {
		// "- 8.2" at the start of a coordinate is a minus; elsewhere nobody knows.
		rest := strings.TrimLeft(l.text[l.at:], " ")
		if rest == "" || rest[0] < '0' || rest[0] > '9' || (last.kind != kSep && last.kind != kLabel && last.kind != kBind) {
			return refuse("dash", "text", clip(l.text))
		}
		l.at = len(l.text) - len(rest)
	}
	whole := last.kind == kNumber && !strings.Contains(last.text, ".")
	if s == '-' && glued && (last.kind == kDegree && !l.fraction(len(l.out)-2) || whole && last.sign == 0) {
		l.add(token{kind: kBind})
		return l.number(0)
	}
	return l.number(s)
}

// fraction reports whether token i is a number with decimals.
func (l *lexer) fraction(i int) bool {
	return i >= 0 && l.out[i].kind == kNumber && strings.Contains(l.out[i].text, ".")
}

// word reads letters: a hemisphere, a unit, a label, a datum.
func (l *lexer) word() *Refusal {
	start := l.at
	for l.at < len(l.text) {
		r, size := utf8.DecodeRuneInString(l.text[l.at:])
		if !unicode.IsLetter(r) || r == 'º' || r == 'ª' {
			break
		}
		l.at += size
	}
	raw := l.text[start:l.at]
	w := plain(raw)
	glued := len(l.out) > 0 && !l.gap && l.last().kind == kNumber
	// Names that end in digits: WGS84, ED50, EPSG:4326.
	end := l.at
	if w == "epsg" && end < len(l.text) && l.text[end] == ':' {
		end++
	}
	if w == "wgs" {
		for end < len(l.text) && l.text[end] == ' ' {
			end++
		}
	}
	for l.digitAt(end) {
		end++
	}
	named := strings.NewReplacer(" ", "", ":", "").Replace(w + l.text[l.at:end])
	switch {
	case idle[named]:
		l.at, l.gap = end, true
		if l.at < len(l.text) && l.text[l.at] == ':' {
			l.at++
		}
		return nil
	case datums[named]:
		l.at = end
		l.add(token{kind: kDatum, text: l.text[start:end]})
		return nil
	case w == "point":
		l.add(token{kind: kPoint})
		return nil
	case raw == "o" && glued && l.digitAt(l.at): // 8o12: a raised letter for the degree sign
		l.add(token{kind: kDegree})
		return nil
	}
	return l.letters(w, raw, start, glued)
}

// letters tells apart what single letters and unit words mean.
func (l *lexer) letters(w, raw string, start int, glued bool) *Refusal {
	if len(w) == 2 && glued && hemispheres[w[1:]] != 0 && (w[0] == 'd' || w[0] == 'm' || w[0] == 's') {
		// 04sN: a unit and a hemisphere run together.
		if bad := l.letters(w[:1], raw[:1], start, true); bad != nil {
			return bad
		}
		l.add(token{kind: kHemi, what: hemispheres[w[1:]]})
		return nil
	}
	switch {
	case w == "m":
		k := kMetre
		if l.partOf() == 2 {
			k = kMinute
		}
		l.add(token{kind: k})
	case w == "s" && glued && l.partOf() == 3 && (raw == "s" || l.lettered()):
		l.add(token{kind: kSecond})
	case hemispheres[w] != 0:
		l.add(token{kind: kHemi, what: hemispheres[w]})
	case units[w] != 0:
		l.add(token{kind: units[w]})
	case labels[w] != 0 && !(glued && len(w) == 1): // 36.95x is a slip of the finger, not "this was x"
		l.add(token{kind: kLabel, what: labels[w]})
	default:
		return refuse("not-understood", "text", clip(l.text), "piece", clip(raw))
	}
	return nil
}

// partOf returns which part of a coordinate the last number is: 2 after one
// with a degree mark, 3 after one with a minute mark, else 1.
func (l *lexer) partOf() int {
	for i := len(l.out) - 2; i >= 0; i-- {
		switch l.out[i].kind {
		case kDegree:
			return 2
		case kMinute:
			return 3
		case kBind:
		default:
			return 1
		}
	}
	return 1
}

// lettered reports whether the degrees of this coordinate were marked by a
// letter, as in 36d57m04s, so that an S may mean seconds too.
func (l *lexer) lettered() bool { return strings.ContainsAny(l.text, "dD") }

// mark reads a sign that is no letter, digit or minus.
func (l *lexer) mark(r rune, size int) *Refusal {
	switch r {
	case '°', 'º', '˚', '∘', 'ª':
		l.add(token{kind: kDegree})
	case '\'', '′', '’', '‘', '´', '`', 'ʹ':
		if l.last().kind == kMinute && !l.gap { // two single quotes: seconds
			l.out[len(l.out)-1].kind = kSecond
		} else {
			l.add(token{kind: kMinute})
		}
	case '"', '″', '”', '“', '„', 'ʺ':
		l.add(token{kind: kSecond})
	case ',':
		if l.afterDigit() && l.digitAt(l.at+1) {
			l.add(token{kind: kComma})
		} else {
			l.add(token{kind: kSep})
		}
	case '.':
		// Lat. 36.9 and 8 grad. 12 min.: the point of an abbreviation.
		if k := l.last().kind; len(l.out) == 0 || l.gap || k == kNumber || k == kSep || k == kComma {
			return refuse("not-understood", "text", clip(l.text), "piece", string(r))
		}
		l.gap = true
	case ';', '|', '\t', '\n', '\r', '/':
		l.add(token{kind: kSep})
	case ':', '=':
		if l.last().kind == kNumber {
			l.add(token{kind: kBind})
		} else {
			l.gap = true
		}
	case '(', ')', '[', ']', '{', '}', ' ', '\u00a0', '\u202f', '\u2009', '\ufeff':
		l.gap = true
	default:
		return refuse("not-understood", "text", clip(l.text), "piece", string(r))
	}
	l.at += size
	return nil
}

// plain returns a word in lower case without accents.
func plain(w string) string {
	return strings.Map(func(r rune) rune {
		switch r = unicode.ToLower(r); r {
		case 'á', 'à', 'â':
			return 'a'
		case 'é', 'è', 'ê':
			return 'e'
		case 'í':
			return 'i'
		case 'ó', 'ô':
			return 'o'
		case 'ú', 'ü':
			return 'u'
		}
		return r
	}, w)
}
