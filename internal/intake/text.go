package intake

import (
	"bytes"
	"sort"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"soakline/internal/assay"
)

// charmaps are the one-byte encodings a person may name.
var charmaps = map[string]*charmap.Charmap{
	"windows-1250": charmap.Windows1250, "windows-1251": charmap.Windows1251, "windows-1252": charmap.Windows1252,
	"windows-1253": charmap.Windows1253, "windows-1254": charmap.Windows1254, "windows-1257": charmap.Windows1257,
	"iso-8859-1": charmap.ISO8859_1, "iso-8859-2": charmap.ISO8859_2, "iso-8859-5": charmap.ISO8859_5,
	"iso-8859-7": charmap.ISO8859_7, "iso-8859-15": charmap.ISO8859_15, "macintosh": charmap.Macintosh,
}

// Encodings lists the names Options.Encoding knows, besides utf-8 and utf-16.
func Encodings() []string {
	names := make([]string, 0, len(charmaps))
	for n := range charmaps {
		names = append(names, n)
	}
	sort.Strings(names)
	return names
}

// decode turns a text file into UTF-8: a byte order mark decides, then what is
// valid UTF-8, then the sender's likely code page, which is told.
func decode(file string, data []byte, o Options) (text []byte, notices []Notice, fault *Fault) {
	switch name := strings.ToLower(o.Encoding); {
	case name == "" || name == "utf-8" || name == "utf-16":
	case charmaps[name] != nil:
		out, err := charmaps[name].NewDecoder().Bytes(data)
		if err != nil {
			return nil, nil, &Fault{Place: assay.Place{File: file}, Wrong: said("intake.encoding-failed", "encoding", name), Do: said("intake.save-utf8")}
		}
		return out, nil, nil
	default:
		return nil, nil, &Fault{Place: assay.Place{File: file}, Wrong: said("intake.encoding-unknown", "encoding", o.Encoding),
			Do: said("intake.encoding-choose", "known", Encodings())}
	}
	switch {
	case bytes.HasPrefix(data, []byte{0xEF, 0xBB, 0xBF}):
		data = data[3:]
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE}), bytes.HasPrefix(data, []byte{0xFE, 0xFF}):
		return decodeUTF16(file, data, unicode.UseBOM, unicode.LittleEndian, nil)
	}
	if order, ok := looksUTF16(data); ok {
		return decodeUTF16(file, data, unicode.IgnoreBOM, order, []Notice{{assay.Place{File: file}, said("intake.utf16-no-mark")}})
	}
	if at := bytes.IndexByte(data, 0); at >= 0 {
		return nil, nil, &Fault{Place: assay.Place{File: file, Line: lineOf(data, at)}, Wrong: said("intake.nul"), Do: said("intake.save-again")}
	}
	if utf8.Valid(data) {
		return data, nil, nil
	}
	good, bad, at := tally(data)
	where := assay.Place{File: file, Line: lineOf(data, at)}
	if good > bad {
		return bytes.ToValidUTF8(data, []byte("\uFFFD")), []Notice{{where, said("intake.utf8-mended", "bytes", bad)}}, nil
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return nil, nil, &Fault{Place: where, Wrong: said("intake.encoding-failed", "encoding", "windows-1252"), Do: said("intake.save-utf8")}
	}
	return out, []Notice{{where, said("intake.windows-1252", "word", wordAt(out, lineOf(data, at)))}}, nil
}

func decodeUTF16(file string, data []byte, mark unicode.BOMPolicy, order unicode.Endianness, n []Notice) ([]byte, []Notice, *Fault) {
	var dec *encoding.Decoder = unicode.UTF16(order, mark).NewDecoder()
	out, err := dec.Bytes(data)
	if err != nil || bytes.IndexByte(out, 0) >= 0 {
		return nil, nil, &Fault{Place: assay.Place{File: file}, Wrong: said("intake.encoding-failed", "encoding", "utf-16"), Do: said("intake.save-utf8")}
	}
	if bad := bytes.Count(out, []byte("\uFFFD")); bad > 0 {
		n = append(n, Notice{assay.Place{File: file}, said("intake.utf16-mended", "places", bad)})
	}
	return out, n, nil
}

// looksUTF16 sees UTF-16 without its mark: Latin text then has a NUL in every
// second place, always on the same side.
func looksUTF16(data []byte) (unicode.Endianness, bool) {
	head := data[:min(len(data), 1024)&^1]
	var even, odd int
	for i, b := range head {
		if b == 0 && i%2 == 0 {
			even++
		} else if b == 0 {
			odd++
		}
	}
	half := len(head) / 2
	switch {
	case half < 4:
		return unicode.LittleEndian, false
	case odd > half*3/4 && even == 0:
		return unicode.LittleEndian, true
	case even > half*3/4 && odd == 0:
		return unicode.BigEndian, true
	}
	return unicode.LittleEndian, false
}

// tally counts the good longer sequences and the bad bytes of almost-UTF-8, and
// where the first bad one stands.
func tally(data []byte) (good, bad, first int) {
	first = -1
	for i := 0; i < len(data); {
		if data[i] < utf8.RuneSelf {
			i++
			continue
		}
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n == 1 {
			bad++
			if first < 0 {
				first = i
			}
		} else {
			good++
		}
		i += n
	}
	return good, bad, max(first, 0)
}

func lineOf(data []byte, at int) int {
	head := data[:at]
	n := bytes.Count(head, []byte{'\n'})
	if n == 0 {
		n = bytes.Count(head, []byte{'\r'})
	}
	return n + 1
}

// wordAt is the first word with a letter beyond ASCII from line n on: shown so
// that a person sees at once whether the code page was right.
func wordAt(text []byte, n int) string {
	for _, line := range bytes.Split(text, []byte{'\n'})[max(0, n-1):] {
		for _, w := range strings.FieldsFunc(string(line), func(r rune) bool { return strings.ContainsRune(" ,;\t\"\r|", r) }) {
			if strings.IndexFunc(w, func(r rune) bool { return r >= utf8.RuneSelf }) >= 0 {
				return w
			}
		}
	}
	return ""
}
