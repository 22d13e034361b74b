// Package scan answers: what kind of picture is this photo or scan of a paper
// sheet, and what of it may be shown to others?
//
// A photo carries the position, the device, its serial number and the time in
// fields that nobody sees. Shareable gives the picture without them: every
// segment or chunk that is not needed to draw it is left out, and the drawn
// bytes are copied as they are, so no quality is lost. Of a JPEG's orientation
// only the number that turns it upright is written back. Of a PDF the JPEG
// pictures in it are taken out and treated alike; the PDF itself is never shown,
// since its own fields cannot be told apart without reading all of it.
//
// Formats: JPEG by ITU-T T.81 annex B and its Exif segment by CIPA DC-008
// section 4; PNG by its specification (W3C, third edition) section 5; PDF by
// ISO 32000-1 section 7.3.8. Bytes in, bytes out. It leaves out what is in the
// picture itself: a face, a number plate, a name written on the sheet.
package scan

import "fmt"

// Kind of a picture file, by its first bytes.
type Kind string

// The kinds.
const (
	JPEG Kind = "jpeg"
	PNG  Kind = "png"
	PDF  Kind = "pdf"
)

// MaxBytes bounds one photo or scan: far above a phone's, below what makes a
// logbook hard to send.
const MaxBytes = 32 << 20

// MaxPages bounds the pictures shown of one PDF.
const MaxPages = 40

// Fault is a file that cannot be kept: a slug of the catalogue and its parameters.
type Fault struct {
	Slug string
	With map[string]any
}

func (f *Fault) Error() string { return f.Slug + " " + fmt.Sprint(f.With) }

func fault(slug string, pairs ...any) error {
	with := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return &Fault{"scan." + slug, with}
}

// KindOf tells the kind of a file. Errors: *Fault where it is empty, too large,
// or none of the kinds.
func KindOf(data []byte) (Kind, error) {
	switch {
	case len(data) == 0:
		return "", fault("empty")
	case len(data) > MaxBytes:
		return "", fault("too-large", "bytes", len(data), "most", MaxBytes>>20)
	case has(data, "\xff\xd8\xff"):
		return JPEG, nil
	case has(data, pngHead):
		return PNG, nil
	case has(data, "%PDF-"):
		return PDF, nil
	}
	if heif(data) {
		return "", fault("heic")
	}
	return "", fault("kind")
}

// heif says whether a file is of the family in which many telephones save photos:
// a box "ftyp" at its beginning with one of the family's brands (ISO/IEC 23008-12
// section 10, and AV1 in the same box; brands from memory).
func heif(data []byte) bool {
	if len(data) < 12 || string(data[4:8]) != "ftyp" {
		return false
	}
	switch string(data[8:12]) {
	case "heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1", "avif", "avis":
		return true
	}
	return false
}

func has(data []byte, head string) bool {
	return len(data) >= len(head) && string(data[:len(head)]) == head
}

// Page is one picture that may be shown.
type Page struct {
	Kind Kind // JPEG or PNG
	Data []byte
}

// Media is the page's media type.
func (p Page) Media() string { return "image/" + string(p.Kind) }

// Shareable gives what may be shown of a file, without position and device
// data. A PDF of which no picture can be taken out gives none, without an
// error. Errors: *Fault where the file is damaged or of no known kind.
func Shareable(data []byte) ([]Page, error) {
	kind, err := KindOf(data)
	if err != nil {
		return nil, err
	}
	switch kind {
	case JPEG:
		b, err := cleanJPEG(data)
		if err != nil {
			return nil, err
		}
		return []Page{{JPEG, b}}, nil
	case PNG:
		b, err := cleanPNG(data)
		if err != nil {
			return nil, err
		}
		return []Page{{PNG, b}}, nil
	}
	return pdfPages(data), nil
}
