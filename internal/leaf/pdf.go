package leaf

import (
	"bytes"
	"fmt"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"soakline/internal/figure"
)

// Mark is an entry of a PDF's outline.
type Mark struct {
	Text  string
	Level int
	Y     float64 // mm from the top of its page
}

// File is what a PDF says about itself.
type File struct {
	Title, Subject, Lang string
	At                   time.Time // from the data, never a clock
}

// noDay is the date of a file whose data hold none.
var noDay = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// PDF writes pages as one file; marks has the outline's entries of each page,
// or is nil where every page's title is one. It is *NoRoom without a page, or
// the first fault of a page.
func PDF(pages []*Leaf, marks [][]Mark, about File) ([]byte, error) {
	if len(pages) == 0 {
		return nil, &NoRoom{What: about.Title}
	}
	if about.At.IsZero() {
		about.At = noDay
	}
	s := pages[0].Size
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: s.W, Ht: s.H}})
	f.SetCatalogSort(true)
	f.SetCreationDate(about.At)
	f.SetModificationDate(about.At)
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	f.SetLang(about.Lang)
	f.SetTitle(about.Title, true)
	f.SetSubject(about.Subject, true)
	figure.UseFonts(f)
	f.SetFont(figure.FontFamily, "", 10) // else the outline's texts are taken for Latin-1
	for i, p := range pages {
		if p.Err != nil {
			return nil, p.Err
		}
		f.AddPage()
		switch {
		case marks != nil:
			for _, m := range marks[i] {
				f.Bookmark(m.Text, m.Level, m.Y)
			}
		case p.Title != "":
			f.Bookmark(p.Title, 0, 0)
		}
		p.OnPage(f, 0, 0)
	}
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		return nil, fmt.Errorf("leaf: write PDF: %w", err)
	}
	return b.Bytes(), nil
}
