package scan

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
)

const pngHead = "\x89PNG\r\n\x1a\n"

// drawing are the chunks that a picture is drawn from.
var drawing = map[string]bool{"IHDR": true, "PLTE": true, "IDAT": true, "IEND": true, "tRNS": true, "gAMA": true, "cHRM": true, "sRGB": true, "sBIT": true, "bKGD": true, "pHYs": true}

// cleanPNG copies the chunks that draw the picture; texts, times, Exif, colour
// profiles with a device's name and all private chunks are left out, and what
// follows the end.
func cleanPNG(data []byte) ([]byte, error) {
	var out bytes.Buffer
	out.WriteString(pngHead)
	drawn := false
	for at := len(pngHead); ; {
		if at+12 > len(data) {
			return nil, fault("damaged")
		}
		n := int64(binary.BigEndian.Uint32(data[at:]))
		end := int64(at) + 12 + n
		if end > int64(len(data)) {
			return nil, fault("damaged")
		}
		name, chunk := string(data[at+4:at+8]), data[at:end]
		if at == len(pngHead) && name != "IHDR" {
			return nil, fault("damaged")
		}
		if drawing[name] {
			if crc32.ChecksumIEEE(chunk[4:8+n]) != binary.BigEndian.Uint32(chunk[8+n:]) {
				return nil, fault("damaged")
			}
			out.Write(chunk)
		}
		drawn = drawn || name == "IDAT"
		at = int(end)
		if name == "IEND" {
			break
		}
	}
	if !drawn {
		return nil, fault("damaged")
	}
	return out.Bytes(), nil
}
