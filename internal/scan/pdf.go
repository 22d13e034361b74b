package scan

import (
	"bytes"
)

// pdfPages takes the JPEG pictures out of a PDF, as scanners and phones write
// them: streams whose dictionary has the filter DCTDecode and no other. Pictures
// that are packed in another way are not found; nor are those of a PDF that is
// encrypted.
func pdfPages(data []byte) []Page {
	var pages []Page
	if bytes.Contains(data, []byte("/Encrypt")) {
		return nil
	}
	for at := 0; len(pages) < MaxPages; {
		i := bytes.Index(data[at:], []byte("stream"))
		if i < 0 {
			return pages
		}
		start := at + i + len("stream")
		at = start
		if i >= 3 && bytes.HasSuffix(data[:start], []byte("endstream")) {
			continue
		}
		from := max(0, start-2000)
		dict := data[from : start-len("stream")]
		if k := bytes.LastIndex(dict, []byte("endobj")); k >= 0 {
			dict = dict[k:]
		}
		if !bytes.Contains(dict, []byte("/DCTDecode")) || bytes.Count(dict, []byte("Decode")) != bytes.Count(dict, []byte("/DCTDecode"))+bytes.Count(dict, []byte("/DecodeParms"))+bytes.Count(dict, []byte("/Decode[")) {
			continue
		}
		body := bytes.TrimLeft(data[start:min(len(data), start+2)], "\r\n")
		start += min(len(data), start+2) - start - len(body)
		end := bytes.Index(data[start:], []byte("endstream"))
		if end < 0 {
			return pages
		}
		at = start + end
		if jpeg := data[start : start+end]; has(jpeg, "\xff\xd8\xff") {
			if b, err := cleanJPEG(jpeg); err == nil {
				pages = append(pages, Page{JPEG, b})
			}
		}
	}
	return pages
}
