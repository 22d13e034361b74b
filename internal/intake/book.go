package intake

import (
	"archive/zip"
	"bytes"
	"errors"
	"io"
	"path"
	"strings"
)

var (
	errNotBook = errors.New("a zip archive without a workbook")
	errXLSB    = errors.New("a binary workbook")
)

// book is an opened workbook: its sheets in their order and how to read one.
type book struct {
	parts    map[string]*zip.File
	sheets   []sheetPart
	date1904 bool
	shared   *strs
	dates    []Kind  // of each cell style: Number, or the kind of date it shows
	grids    []*grid // of an ODS, read when it was opened
	budget   *budget
	unpacked int64
}

type sheetPart struct {
	name, part string
	hidden     bool
}

// openBook checks the archive before it unpacks anything, then reads its
// directory of sheets.
func openBook(data []byte, b *budget) (*book, error) {
	// The archive reader trusts the directory and keeps some 300 bytes an
	// entry, so entries are counted first, by their signature.
	if n := bytes.Count(data, []byte("PK\x01\x02")); n > b.Entries {
		return nil, tooMuch{slug: "intake.too-many-parts", most: b.Entries}
	}
	zr, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	k := &book{parts: map[string]*zip.File{}, budget: b}
	for _, f := range zr.File {
		k.parts[partName(f.Name)] = f
	}
	switch {
	case k.parts["xl/workbook.bin"] != nil:
		return nil, errXLSB
	case k.parts["content.xml"] != nil:
		return k, k.openODS()
	}
	return k, k.openXLSX()
}

func partName(name string) string {
	return strings.ToLower(strings.TrimPrefix(path.Clean(strings.ReplaceAll(name, `\`, "/")), "/"))
}

// read gives the cells of sheet i.
func (k *book) read(i int, b *budget) (*grid, error) {
	if k.grids != nil {
		return k.grids[i], nil
	}
	return k.xlsxSheet(k.sheets[i], b)
}

// scan opens a part; what it says it unpacks to is checked before, and what it
// does unpack to while reading.
func (k *book) scan(name string) (*scanner, io.Closer, error) {
	f := k.parts[partName(name)]
	if f == nil {
		return nil, nil, errNotBook
	}
	if left := int64(k.budget.ExpandedBytes) - k.unpacked; f.UncompressedSize64 > uint64(max(left, 0)) {
		return nil, nil, tooMuch{slug: "intake.too-much-unpacked", most: k.budget.ExpandedBytes >> 20}
	}
	rc, err := f.Open()
	if err != nil {
		return nil, nil, err
	}
	// A cell may need up to six bytes for one (&quot;), a tag far less.
	return newScanner(&metered{rc, k}, 6*k.budget.CellBytes+1024), rc, nil
}

// metered counts what is unpacked and stops at the limit.
type metered struct {
	r io.Reader
	k *book
}

func (m *metered) Read(p []byte) (int, error) {
	n, err := m.r.Read(p)
	if m.k.unpacked += int64(n); m.k.unpacked > int64(m.k.budget.ExpandedBytes) {
		return 0, tooMuch{slug: "intake.too-much-unpacked", most: m.k.budget.ExpandedBytes >> 20}
	}
	return n, err
}

// walk calls do for every event of a part until the end.
func (k *book) walk(name string, do func(s *scanner, ev event) error) error {
	s, c, err := k.scan(name)
	if err != nil {
		return err
	}
	defer c.Close()
	for {
		ev, err := s.next()
		if err == io.EOF {
			return nil
		}
		if err == nil {
			err = do(s, ev)
		}
		if err != nil {
			return err
		}
	}
}

// strs is a list of texts in one piece of memory.
type strs struct {
	text []byte
	ends []uint32
}

func (s *strs) at(i int) ([]byte, bool) {
	if i < 0 || i >= len(s.ends) {
		return nil, false
	}
	from := uint32(0)
	if i > 0 {
		from = s.ends[i-1]
	}
	return s.text[from:s.ends[i]], true
}
