package scan

import (
	"bytes"
	"encoding/binary"
)

// Markers of a JPEG file, T.81 table B.1.
const (
	soi  = 0xd8
	eoi  = 0xd9
	sos  = 0xda
	app0 = 0xe0
	app1 = 0xe1
	appE = 0xee
	com  = 0xfe
)

// cleanJPEG copies what draws the picture: tables, frame, scans, and of the
// application segments only JFIF's and Adobe's short ones, which say how colours
// are meant. What follows the first end of image is left out: phones put further
// pictures there.
func cleanJPEG(data []byte) ([]byte, error) {
	var out bytes.Buffer
	out.Write(data[:2])
	frame, scanned, first := false, false, true
	for at := 2; ; {
		marker, next, ok := markerAt(data, at)
		if !ok || marker == eoi {
			break
		}
		if marker == 0x01 || marker >= 0xd0 && marker <= 0xd7 || marker == soi {
			return nil, fault("damaged")
		}
		if next+2 > len(data) {
			return nil, fault("damaged")
		}
		n := int(binary.BigEndian.Uint16(data[next:]))
		if n < 2 || next+n > len(data) {
			return nil, fault("damaged")
		}
		body := data[next+2 : next+n]
		at = next + n
		if !keepSegment(marker, body) {
			continue
		}
		if first && marker != app0 { // behind JFIF's own segment, which must come first
			first = false
			out.Write(turnSegment(turnOf(data)))
		}
		out.Write([]byte{0xff, marker})
		out.Write(data[next : next+n])
		frame = frame || marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc
		if marker == sos {
			scanned = true
			end := scanEnd(data, at)
			out.Write(data[at:end])
			at = end
		}
	}
	if !frame || !scanned {
		return nil, fault("damaged")
	}
	out.Write([]byte{0xff, eoi})
	return out.Bytes(), nil
}

// markerAt finds the next marker, fill bytes passed over.
func markerAt(data []byte, at int) (marker byte, next int, ok bool) {
	for at < len(data) && data[at] != 0xff {
		at++
	}
	for at < len(data) && data[at] == 0xff {
		at++
	}
	if at >= len(data) {
		return 0, at, false
	}
	return data[at], at + 1, true
}

// scanEnd is where the coded data of a scan end: at the next marker that is
// neither a stuffed zero nor a restart.
func scanEnd(data []byte, at int) int {
	for ; at+1 < len(data); at++ {
		if data[at] == 0xff && data[at+1] != 0 && data[at+1] != 0xff && (data[at+1] < 0xd0 || data[at+1] > 0xd7) {
			return at
		}
	}
	return len(data)
}

func keepSegment(marker byte, body []byte) bool {
	switch {
	case marker == com:
		return false
	case marker == app0:
		return has(body, "JFIF\x00") && len(body) == 14 // without a thumbnail
	case marker == appE:
		return has(body, "Adobe") && len(body) == 12
	case marker >= 0xe0 && marker <= 0xef, marker >= 0xf0 && marker <= 0xfd:
		return false
	}
	return true
}

// turnOf looks for the orientation in the segments before the first scan.
func turnOf(data []byte) int {
	for at := 2; ; {
		marker, next, ok := markerAt(data, at)
		if !ok || marker == sos || marker == eoi || next+2 > len(data) {
			return 0
		}
		n := int(binary.BigEndian.Uint16(data[next:]))
		if n < 2 || next+n > len(data) {
			return 0
		}
		if marker == app1 {
			if o := orientation(data[next+2 : next+n]); o > 0 {
				return o
			}
		}
		at = next + n
	}
}

// orientation reads tag 274 of the first directory of an Exif segment; 0 where
// there is none.
func orientation(body []byte) int {
	if !has(body, "Exif\x00\x00") {
		return 0
	}
	tiff := body[6:]
	if len(tiff) < 8 {
		return 0
	}
	var order binary.ByteOrder = binary.LittleEndian
	switch string(tiff[:2]) {
	case "II":
	case "MM":
		order = binary.BigEndian
	default:
		return 0
	}
	at := int64(order.Uint32(tiff[4:]))
	if at < 8 || at+2 > int64(len(tiff)) {
		return 0
	}
	n := int64(order.Uint16(tiff[at:]))
	for i := range n {
		e := at + 2 + 12*i
		if e+12 > int64(len(tiff)) {
			return 0
		}
		if order.Uint16(tiff[e:]) == 274 && order.Uint16(tiff[e+2:]) == 3 {
			if o := int(order.Uint16(tiff[e+8:])); o >= 1 && o <= 8 {
				return o
			}
			return 0
		}
	}
	return 0
}

// turnSegment is an Exif segment that holds an orientation and nothing else;
// empty where the picture stands upright.
func turnSegment(o int) []byte {
	if o < 2 {
		return nil
	}
	body := append([]byte("Exif\x00\x00II*\x00\x08\x00\x00\x00\x01\x00\x12\x01\x03\x00\x01\x00\x00\x00"), byte(o), 0, 0, 0, 0, 0, 0, 0)
	out := []byte{0xff, app1, 0, 0}
	binary.BigEndian.PutUint16(out[2:], uint16(len(body)+2))
	return append(out, body...)
}
