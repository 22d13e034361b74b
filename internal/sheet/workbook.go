package sheet

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// workbookDate is the date that workbooks of ours carry: none of theirs.
const workbookDate = "2000-01-01T00:00:00Z"

// WorkbookBytes writes a workbook so that the same content gives the same
// bytes: excelize writes the parts in the order of a map and with the clock.
func WorkbookBytes(f *excelize.File) ([]byte, error) {
	props, err := f.GetDocProps()
	if err != nil {
		return nil, fmt.Errorf("reading the workbook's properties: %w", err)
	}
	props.Created, props.Modified = workbookDate, workbookDate
	if err := f.SetDocProps(props); err != nil {
		return nil, fmt.Errorf("setting the workbook's properties: %w", err)
	}
	var raw, out bytes.Buffer
	if err := f.Write(&raw); err != nil {
		return nil, err
	}
	r, err := zip.NewReader(bytes.NewReader(raw.Bytes()), int64(raw.Len()))
	if err != nil {
		return nil, err
	}
	parts := slices.Clone(r.File)
	// "[Content_Types].xml" sorts before every letter, as readers expect it.
	slices.SortFunc(parts, func(a, b *zip.File) int { return strings.Compare(a.Name, b.Name) })
	w := zip.NewWriter(&out)
	for _, p := range parts {
		to, err := w.CreateHeader(&zip.FileHeader{Name: p.Name, Method: zip.Deflate, Modified: time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return nil, err
		}
		from, err := p.Open()
		if err != nil {
			return nil, err
		}
		if _, err := io.Copy(to, from); err != nil {
			return nil, err
		}
		if err := from.Close(); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
