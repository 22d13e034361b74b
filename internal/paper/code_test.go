package paper

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/figure"
	"soakline/internal/words"
)

// decode reads a QR code of version 1 to 3, level M, from its modules, apart
// from the encoder: format and mask, the zigzag of data bits, and the segments
// (numeric, alphanumeric, byte). Without errors on the paper the check words
// need no solving. Source: ISO/IEC 18004:2015, 7.3 to 7.9 (from memory).
func decode(t failer, black func(x, y int) bool, size int) string {
	version := (size - 17) / 4
	if version > 3 {
		t.Fatalf("version %d: this decoder reads 1 to 3", version)
	}
	format := 0
	for i := range 6 {
		format = format<<1 | bit(black(i, 8))
	}
	format = format<<1 | bit(black(7, 8))
	format = format<<1 | bit(black(8, 8))
	format = format<<1 | bit(black(8, 7))
	for i := 5; i >= 0; i-- {
		format = format<<1 | bit(black(8, i))
	}
	format ^= 0b101010000010010
	if level := format >> 13; level != 0 {
		t.Fatalf("level bits %02b are not M", level)
	}
	mask := masks[format>>10&7]
	var bits []int
	up := true
	for x := size - 1; x > 0; x -= 2 {
		if x == 6 {
			x--
		}
		for k := range size {
			y := k
			if up {
				y = size - 1 - k
			}
			for _, c := range []int{x, x - 1} {
				if !reserved(c, y, size, version) {
					bits = append(bits, bit(black(c, y) != mask(y, c)))
				}
			}
		}
		up = !up
	}
	return segments(t, bits[:8*[]int{0, 16, 28, 44}[version]])
}

type failer interface{ Fatalf(string, ...any) }

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// masks by number; i is the line, j the column.
var masks = []func(i, j int) bool{
	func(i, j int) bool { return (i+j)%2 == 0 },
	func(i, j int) bool { return i%2 == 0 },
	func(i, j int) bool { return j%3 == 0 },
	func(i, j int) bool { return (i+j)%3 == 0 },
	func(i, j int) bool { return (i/2+j/3)%2 == 0 },
	func(i, j int) bool { return i*j%2+i*j%3 == 0 },
	func(i, j int) bool { return (i*j%2+i*j%3)%2 == 0 },
	func(i, j int) bool { return ((i+j)%2+i*j%3)%2 == 0 },
}

// reserved modules hold no data: finders with their format, timing, alignment.
func reserved(x, y, size, version int) bool {
	if x < 9 && y < 9 || x < 9 && y >= size-8 || x >= size-8 && y < 9 || x == 6 || y == 6 {
		return true
	}
	a := size - 7 // the one alignment pattern of versions 2 and 3
	return version > 1 && x >= a-2 && x <= a+2 && y >= a-2 && y <= a+2
}

func segments(t failer, bits []int) string {
	take := func(n int) int {
		v := 0
		for range n {
			v, bits = v<<1|bits[0], bits[1:]
		}
		return v
	}
	const alnum = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
	var out strings.Builder
	for len(bits) >= 4 {
		switch mode := take(4); mode {
		case 0:
			return out.String()
		case 1:
			n := take(10)
			for ; n >= 3; n -= 3 {
				v := take(10)
				out.WriteString(string([]byte{byte('0' + v/100), byte('0' + v/10%10), byte('0' + v%10)}))
			}
			switch n {
			case 2:
				v := take(7)
				out.WriteString(string([]byte{byte('0' + v/10), byte('0' + v%10)}))
			case 1:
				out.WriteByte(byte('0' + take(4)))
			}
		case 2:
			n := take(9)
			for ; n >= 2; n -= 2 {
				v := take(11)
				out.WriteByte(alnum[v/45])
				out.WriteByte(alnum[v%45])
			}
			if n == 1 {
				out.WriteByte(alnum[take(6)])
			}
		case 4:
			for n := take(8); n > 0; n-- {
				out.WriteByte(byte(take(8)))
			}
		default:
			t.Fatalf("mode %04b", mode)
		}
	}
	return out.String()
}

func TestCodesReadBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		text := rapid.OneOf(
			rapid.StringMatching(`[0-9]{1,40}`), rapid.StringMatching(`[A-Z0-9 $%*+./:-]{1,30}`), rapid.StringMatching(`[a-zA-Z0-9éñ_-]{1,20}`),
		).Draw(rt, "text")
		p := newPage(A4, words.English)
		side := codeSide(text, codeMM)
		p.code(text, 30, 40, side)
		if p.Err != nil {
			rt.Fatal(p.Err)
		}
		rings := record(p).areas[0]
		black, size, module := grid(t, rings)
		if got := decode(rt, black, size); got != text {
			rt.Fatalf("the code of %q reads %q", text, got)
		}
		if module < codeModuleMM-1e-9 {
			rt.Fatalf("a module is %g mm wide; wet paper wants %g", module, codeModuleMM)
		}
		var e extent
		e.Area(rings, figure.Fill{})
		if quiet := min(e.x0-30, 30+side-e.x1, e.y0-40, 40+side-e.y1); quiet < 4*module-1e-9 {
			rt.Fatalf("the white edge is %g mm, less than 4 modules of %g", quiet, module)
		}
	})
}

func TestNoCode(t *testing.T) {
	p := newPage(A4, words.English)
	p.code(strings.Repeat("x", 5000), 0, 0, 20)
	var none *NoCode
	if !errors.As(p.Err, &none) {
		t.Errorf("5000 letters: %v", p.Err)
	}
}
