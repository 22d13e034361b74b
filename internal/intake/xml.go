package intake

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"strconv"
	"unicode/utf8"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// scanner reads the parts of a workbook tag by tag. It keeps one tag or one run
// of text at a time, each bounded, so that no part can make it grow: a general
// XML reader holds a run of text whole, however long. Names come without their
// prefix; a document type is refused, and with it every entity of its own.
type scanner struct {
	r    *bufio.Reader
	most int // longest tag or text, bytes

	tag     []byte // of the current tag, without < and >
	name    []byte // local name
	text    []byte // of the current text, entities resolved
	inTag   bool   // the < of the next tag has been read
	pending bool   // an empty element still owes its end
}

type event uint8

const (
	start event = iota
	end
	chars
)

var (
	errRunTooLong = errors.New("a run of text or a tag is too long")
	errDocType    = errors.New("a document type declaration")
	errXML        = errors.New("not well-formed")
)

func newScanner(r io.Reader, most int) *scanner {
	br := bufio.NewReaderSize(r, 32<<10)
	if b, _ := br.Peek(2); len(b) == 2 && (b[0] == 0xFE && b[1] == 0xFF || b[0] == 0xFF && b[1] == 0xFE) {
		br = bufio.NewReaderSize(transform.NewReader(br, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewDecoder()), 32<<10)
	}
	return &scanner{r: br, most: most}
}

// next returns the next tag or text; io.EOF at the end.
func (s *scanner) next() (event, error) {
	if s.pending {
		s.pending = false
		return end, nil
	}
	for {
		if !s.inTag {
			s.text = s.text[:0]
			raw, err := s.upTo('<', s.text)
			if err != nil {
				return chars, err
			}
			s.inTag = true
			if s.text = unescape(raw[:len(raw)-1]); len(s.text) > 0 {
				return chars, nil
			}
		}
		s.inTag = false
		ev, skip, err := s.markup()
		if err != nil {
			return chars, err
		}
		if !skip {
			return ev, nil
		}
	}
}

func (s *scanner) upTo(delim byte, buf []byte) ([]byte, error) {
	for {
		part, err := s.r.ReadSlice(delim)
		if len(buf)+len(part) > s.most {
			return nil, errRunTooLong
		}
		buf = append(buf, part...)
		if err == nil {
			return buf, nil
		}
		if err != bufio.ErrBufferFull {
			return nil, err
		}
	}
}

// markup reads one tag; skip is true for comments and instructions.
func (s *scanner) markup() (ev event, skip bool, err error) {
	s.tag = s.tag[:0]
	for {
		if s.tag, err = s.upTo('>', s.tag); err != nil {
			if err == io.EOF {
				err = io.ErrUnexpectedEOF
			}
			s.tag = s.tag[:0]
			return 0, false, err
		}
		switch t := s.tag; {
		case bytes.HasPrefix(t, []byte("!--")):
			if len(t) >= 6 && bytes.HasSuffix(t, []byte("-->")) {
				return 0, true, nil
			}
		case bytes.HasPrefix(t, []byte("![CDATA[")):
			if bytes.HasSuffix(t, []byte("]]>")) {
				s.text = append(s.text[:0], t[8:len(t)-3]...)
				return chars, len(s.text) == 0, nil
			}
		case bytes.HasPrefix(t, []byte("!")):
			return 0, false, errDocType
		case bytes.HasPrefix(t, []byte("?")):
			return 0, true, nil
		default:
			if closed(t) {
				return s.named()
			}
		}
	}
}

// closed says whether the > that ends t stands outside quotes.
func closed(t []byte) bool {
	var quote byte
	for _, c := range t {
		switch {
		case quote != 0 && c == quote:
			quote = 0
		case quote == 0 && (c == '"' || c == '\''):
			quote = c
		}
	}
	return quote == 0
}

func (s *scanner) named() (event, bool, error) {
	t := s.tag[:len(s.tag)-1]
	ev := start
	if len(t) > 0 && t[0] == '/' {
		ev, t = end, t[1:]
	} else if len(t) > 0 && t[len(t)-1] == '/' {
		s.pending, t = true, t[:len(t)-1]
	}
	n := bytes.IndexAny(t, " \t\r\n")
	if n < 0 {
		n = len(t)
	}
	s.tag = t
	s.name = t[:n]
	if colon := bytes.IndexByte(s.name, ':'); colon >= 0 {
		s.name = s.name[colon+1:]
	}
	if len(s.name) == 0 {
		return 0, false, errXML
	}
	return ev, false, nil
}

// attr is the value of an attribute of the current tag by its local name.
func (s *scanner) attr(name string) (string, bool) {
	t := s.tag
	if n := bytes.IndexAny(t, " \t\r\n"); n >= 0 {
		t = t[n:]
	} else {
		return "", false
	}
	for {
		eq := bytes.IndexByte(t, '=')
		if eq < 0 {
			return "", false
		}
		key := bytes.TrimSpace(t[:eq])
		t = bytes.TrimLeft(t[eq+1:], " \t\r\n")
		if len(t) == 0 || t[0] != '"' && t[0] != '\'' {
			return "", false
		}
		end := bytes.IndexByte(t[1:], t[0])
		if end < 0 {
			return "", false
		}
		val := t[1 : 1+end]
		t = t[2+end:]
		if colon := bytes.IndexByte(key, ':'); colon >= 0 {
			key = key[colon+1:]
		}
		if string(key) == name {
			if bytes.IndexByte(val, '&') < 0 {
				return string(val), true
			}
			return string(unescape(append([]byte(nil), val...))), true
		}
	}
}

// unescape resolves the five entities of XML and numbers, in place.
func unescape(b []byte) []byte {
	at := bytes.IndexByte(b, '&')
	if at < 0 {
		return b
	}
	out := b[:at]
	for i := at; i < len(b); {
		if b[i] != '&' {
			out = append(out, b[i])
			i++
			continue
		}
		semi := bytes.IndexByte(b[i:min(len(b), i+12)], ';')
		if semi < 0 {
			out = append(out, b[i])
			i++
			continue
		}
		r := entity(b[i+1 : i+semi])
		if r < 0 {
			out = append(out, b[i])
			i++
			continue
		}
		out = utf8.AppendRune(out, r) // never longer than the entity was
		i += semi + 1
	}
	return out
}

func entity(name []byte) rune {
	switch string(name) {
	case "amp":
		return '&'
	case "lt":
		return '<'
	case "gt":
		return '>'
	case "quot":
		return '"'
	case "apos":
		return '\''
	}
	if len(name) < 2 || name[0] != '#' {
		return -1
	}
	digits, base := string(name[1:]), 10
	if digits[0] == 'x' || digits[0] == 'X' {
		digits, base = digits[1:], 16
	}
	n, err := strconv.ParseInt(digits, base, 32)
	if err != nil || n == 0 || !utf8.ValidRune(rune(n)) {
		return -1
	}
	return rune(n)
}
