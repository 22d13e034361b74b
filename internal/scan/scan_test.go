package scan

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"
)

// secret are texts that no shared picture may hold: an invented position and device.
var secret = []string{"36.9512", "Camera X100", "SN-778899", "2026:07:01"}

func picture() image.Image {
	m := image.NewRGBA(image.Rect(0, 0, 40, 24))
	for y := range 24 {
		for x := range 40 {
			m.Set(x, y, color.RGBA{uint8(x * 6), uint8(y * 10), 90, 255})
		}
	}
	return m
}

func segment(marker byte, body string) []byte {
	b := []byte{0xff, marker, 0, 0}
	binary.BigEndian.PutUint16(b[2:], uint16(len(body)+2))
	return append(b, body...)
}

// exif is an Exif segment's body with an orientation in the given byte order and
// a text that stands for all the rest.
func exif(order binary.AppendByteOrder, head string, turn uint16) string {
	b := []byte(head)
	b = order.AppendUint16(b, 42)
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 2)
	for _, e := range []struct{ tag, kind uint16 }{{271, 2}, {274, 3}} {
		b = order.AppendUint16(b, e.tag)
		b = order.AppendUint16(b, e.kind)
		b = order.AppendUint32(b, 1)
		b = order.AppendUint16(b, turn)
		b = append(b, 0, 0)
	}
	return "Exif\x00\x00" + string(b) + strings.Join(secret, " ")
}

// dressed is the picture as a phone would write it: every field filled in, and a
// second picture behind the end.
func dressed(t *testing.T, turn uint16, order binary.AppendByteOrder, head string) (plain, full []byte) {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture(), nil); err != nil {
		t.Fatal(err)
	}
	plain = b.Bytes()
	full = append([]byte{}, plain[:2]...)
	full = append(full, segment(0xe1, exif(order, head, turn))...)
	full = append(full, segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>"+secret[0]+"</x:xmpmeta>")...)
	full = append(full, segment(0xe2, "ICC_PROFILE\x00\x01\x01"+secret[1])...)
	full = append(full, segment(0xed, "Photoshop 3.0\x00"+secret[2])...)
	full = append(full, segment(0xfe, secret[3])...)
	full = append(full, plain[2:]...)
	full = append(full, plain...)
	return plain, append(full, secret[0]...)
}

func clean(t *testing.T, data []byte) []Page {
	t.Helper()
	pages, err := Shareable(data)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range pages {
		for _, s := range secret {
			if bytes.Contains(p.Data, []byte(s)) {
				t.Errorf("what is shared holds %q", s)
			}
		}
	}
	return pages
}

// The standard library's decoder, which shares no code with us, sees the same
// pixels in the cleaned picture; the orientation is all that is left of Exif.
func TestJPEG(t *testing.T) {
	for turn, order := range map[uint16]binary.AppendByteOrder{6: binary.LittleEndian, 3: binary.BigEndian, 1: binary.LittleEndian} {
		head := "II"
		if order == binary.AppendByteOrder(binary.BigEndian) {
			head = "MM"
		}
		plain, full := dressed(t, turn, order, head)
		pages := clean(t, full)
		if len(pages) != 1 || pages[0].Media() != "image/jpeg" {
			t.Fatalf("%d pages", len(pages))
		}
		want, err := jpeg.Decode(bytes.NewReader(plain))
		if err != nil {
			t.Fatal(err)
		}
		got, err := jpeg.Decode(bytes.NewReader(pages[0].Data))
		if err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(got) != fmt.Sprint(want) {
			t.Error("the pixels changed")
		}
		if o := turnOf(pages[0].Data); turn > 1 && o != int(turn) || turn == 1 && o != 0 {
			t.Errorf("turned %d, want %d", o, turn)
		}
		again := clean(t, pages[0].Data)
		if !bytes.Equal(again[0].Data, pages[0].Data) {
			t.Error("cleaning twice changes more")
		}
		// By hand: picture as encoded, and 2+2+6+8+2+12+4 = 36 bytes of orientation.
		if n := len(pages[0].Data) - len(plain); turn > 1 && n != 36 || turn == 1 && n != 0 {
			t.Errorf("%d bytes more than the bare picture", n)
		}
	}
}

func chunk(name, body string) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	b = append(b, name+body...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE([]byte(name+body)))
}

func TestPNG(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, picture()); err != nil {
		t.Fatal(err)
	}
	plain := b.Bytes()
	head := len(pngHead) + 25 // IHDR: 4 + 4 + 13 + 4
	full := append([]byte{}, plain[:head]...)
	for _, c := range []string{"tEXt", "iTXt", "eXIf", "tIME", "iCCP", "prVt"} {
		full = append(full, chunk(c, strings.Join(secret, " "))...)
	}
	full = append(full, plain[head:]...)
	full = append(full, secret[1]...)
	pages := clean(t, full)
	if !bytes.Equal(pages[0].Data, plain) {
		t.Error("a cleaned PNG is not the bare one")
	}
	full[head+30]++ // inside a chunk that is left out: no harm
	clean(t, full)
	broken := bytes.Clone(plain)
	broken[head+10]++
	if _, err := Shareable(broken); err == nil {
		t.Error("a PNG with a wrong checksum passed")
	}
}

func TestPDF(t *testing.T) {
	plain, full := dressed(t, 8, binary.LittleEndian, "II")
	var b bytes.Buffer
	b.WriteString("%PDF-1.4\n1 0 obj <</Author (" + secret[1] + ")>> endobj\n")
	fmt.Fprintf(&b, "2 0 obj <</Type/XObject/Subtype/Image/Filter/DCTDecode/Length %d>>\nstream\r\n%s\nendstream endobj\n", len(full), full)
	fmt.Fprintf(&b, "3 0 obj <</Subtype/Image/Filter[/FlateDecode /DCTDecode]/Length 9>>\nstream\n%s\nendstream endobj\n", plain)
	fmt.Fprintf(&b, "4 0 obj <</Filter /DCTDecode/Length %d>>\nstream\n%s\nendstream endobj\n", len(plain), plain)
	b.WriteString("trailer <<>>\n%%EOF")
	pages := clean(t, b.Bytes())
	if len(pages) != 2 {
		t.Fatalf("%d pictures of a PDF with two that can be shown", len(pages))
	}
	for _, p := range pages {
		if _, err := jpeg.Decode(bytes.NewReader(p.Data)); err != nil {
			t.Error(err)
		}
	}
	locked := bytes.Replace(b.Bytes(), []byte("trailer <<"), []byte("trailer <</Encrypt 9 0 R"), 1)
	if pages, err := Shareable(locked); err != nil || len(pages) != 0 {
		t.Errorf("an encrypted PDF gave %d pictures, %v", len(pages), err)
	}
}

func TestRefused(t *testing.T) {
	for what, data := range map[string]string{
		"scan.empty": "", "scan.kind": "ftypheic", "scan.damaged": "\xff\xd8\xff\xe0\x00\x01",
		"scan.too-large": strings.Repeat("x", MaxBytes+1),
	} {
		var f *Fault
		if _, err := Shareable([]byte(data)); !errors.As(err, &f) || f.Slug != what {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// Nothing that is thrown at it makes it panic, and what passes is clean.
func FuzzShareable(f *testing.F) {
	var b bytes.Buffer
	_ = jpeg.Encode(&b, picture(), nil)
	f.Add(b.Bytes())
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x10Exif\x00\x00II*\x00\xff\xff\xff\xff"))
	f.Add([]byte(pngHead + "\xff\xff\xff\xffIHDR"))
	f.Add([]byte("%PDF-1.4 /DCTDecode stream\xff\xd8\xff\xda\x00\x02endstream stream"))
	f.Fuzz(func(t *testing.T, data []byte) {
		pages, err := Shareable(data)
		if err != nil {
			return
		}
		for _, p := range pages {
			if _, err := Shareable(p.Data); err != nil {
				t.Errorf("what is shared is not read again: %v", err)
			}
		}
	})
}

// TestHEICIsNamed: what telephones save is told by its name, with what to do; any
// other file with such a box is no picture of the family.
func TestHEICIsNamed(t *testing.T) {
	for text, want := range map[string]string{
		"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00": "scan.heic", "\x00\x00\x00\x1cftypmif1": "scan.heic", "\x00\x00\x00\x1cftypavif": "scan.heic",
		"\x00\x00\x00\x18ftypisom": "scan.kind", "ftypheic": "scan.kind", "\x00\x00\x00\x18ftyp": "scan.kind",
	} {
		_, err := KindOf([]byte(text))
		if f, ok := err.(*Fault); !ok || f.Slug != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}
