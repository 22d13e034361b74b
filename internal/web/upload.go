package web

import (
	"errors"
	"io"
	"net/http"
	"path/filepath"
	"strings"
)

// errNoUpload is a form that came without a file.
var errNoUpload = errors.New("no file came with the form")

// eachUpload calls take for every file that came in the field "file" of a form,
// by its bare name, until take says stop. Past most bytes it ends with
// *http.MaxBytesError, after letting the rest go by unread: a browser that is
// cut off while it sends shows an error of its own in place of our page.
func eachUpload(r *http.Request, most int64, take func(name string, data io.Reader) error) error {
	whole := r.Body
	r.Body = http.MaxBytesReader(nil, whole, most)
	parts, err := r.MultipartReader()
	if err != nil {
		return errNoUpload
	}
	n := 0
	for {
		p, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil && p.FormName() == "file" && p.FileName() != "" {
			n++
			err = take(filepath.Base(strings.ReplaceAll(p.FileName(), `\`, "/")), p)
		}
		var large *http.MaxBytesError
		if errors.As(err, &large) {
			_, _ = io.Copy(io.Discard, io.LimitReader(whole, 4<<30))
		}
		if err != nil {
			return err
		}
	}
	if n == 0 {
		return errNoUpload
	}
	return nil
}
