package leaf

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/figure"
)

var testStyle = Style{SizeMM: 4, Role: figure.Ink}

// flowOf is a page 100 mm high without margins but for 10: 80 mm of room,
// 16 lines of 5 mm (4 mm of type with a leading of 1.25).
func flowOf() *Flow { return &Flow{Size: Size{"t", 100, 100}, MarginMM: 10} }

func lineOf(what string) Piece {
	return Piece{H: 5, What: what, Draw: func(p *Leaf, x, y float64) { p.Set(testStyle, x, y+4, figure.Start, what) }}
}

// lines lists the texts of each page.
func lines(t *testing.T, f *Flow) [][]string {
	t.Helper()
	pages, _, err := f.Pages()
	if err != nil {
		t.Fatal(err)
	}
	var out [][]string
	for _, p := range pages {
		var page []string
		for _, x := range p.Texts() {
			page = append(page, x.S)
		}
		out = append(out, page)
	}
	return out
}

// TestHeadingStays: 16 lines fill a page; a heading that would be the 16th goes
// to the next one, with the two lines of its paragraph.
func TestHeadingStays(t *testing.T) {
	for before := 10; before <= 16; before++ {
		f := flowOf()
		for i := range before {
			f.Add(lineOf(fmt.Sprint("line ", i)))
		}
		f.Heading(testStyle, 0, 1, "Heading")
		f.Text(testStyle, 0, 0, "", strings.Repeat("word ", 30), false) // three lines and more
		got := lines(t, f)
		last := got[0][len(got[0])-1]
		if last == "Heading" || len(got[0]) > 16 {
			t.Errorf("%d lines before: the page ends with %q", before, last)
		}
		// By hand: the heading needs itself and two lines.
		if want := before + 3; (want <= 16) != (len(got[0]) > before) {
			t.Errorf("%d lines before: %d on the first page", before, len(got[0]))
		}
	}
}

// TestTableHeadAgain: a table of 40 lines over three pages has its head on each.
func TestTableHeadAgain(t *testing.T) {
	f := flowOf()
	table := Table{Caption: "C", Head: []string{"a", "b"}, Style: testStyle}
	for i := range 40 {
		table.Lines = append(table.Lines, []string{fmt.Sprint("x", i), fmt.Sprint(i)})
	}
	if err := f.Table(table, 0); err != nil {
		t.Fatal(err)
	}
	got := lines(t, f)
	if len(got) < 3 {
		t.Fatalf("%d pages", len(got))
	}
	for i, page := range got {
		if at := map[bool]int{true: 1, false: 0}[i == 0]; page[at] != "a" {
			t.Errorf("page %d begins %v", i+1, page[:3])
		}
	}
}

// TestNothingIsLost: whatever the heights and bonds, every piece stands on a
// page once, in order, inside the page.
func TestNothingIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := flowOf()
		n := rapid.IntRange(1, 60).Draw(t, "pieces")
		var order []int
		for i := range n {
			h := rapid.Float64Range(1, 79).Draw(t, "h")
			f.Add(Piece{H: h, Before: rapid.Float64Range(0, 9).Draw(t, "before"), Keep: rapid.Bool().Draw(t, "keep"), Draw: func(p *Leaf, _, y float64) {
				if y < 10-1e-9 || y+h > 90+1e-6 {
					t.Fatalf("piece %d stands from %g to %g", i, y, y+h)
				}
				order = append(order, i)
			}})
		}
		if _, _, err := f.Pages(); err != nil {
			t.Fatal(err)
		}
		for i, k := range order {
			if i != k {
				t.Fatalf("order %v", order)
			}
		}
		if len(order) != n {
			t.Fatalf("%d of %d pieces", len(order), n)
		}
	})
}

func TestFaults(t *testing.T) {
	f := flowOf()
	f.Add(Piece{H: 81, What: "much"})
	var room *NoRoom
	if _, _, err := f.Pages(); !errors.As(err, &room) || room.What != "much" {
		t.Errorf("%v", err)
	}
	f = flowOf()
	f.Text(testStyle, 0, 0, "", "a 海 b", false)
	var glyph *NoGlyph
	if _, _, err := f.Pages(); !errors.As(err, &glyph) || string(glyph.Runes) != "海" {
		t.Errorf("%v", err)
	}
	if _, err := PDF(nil, nil, File{Title: "t"}); !errors.As(err, &room) {
		t.Errorf("%v", err)
	}
	wide := Table{Caption: "C", Head: []string{"a", "b"}, Lines: [][]string{{"x", strings.Repeat("w", 200)}}, Style: testStyle}
	if err := flowOf().Table(wide, 0); !errors.As(err, &room) {
		t.Errorf("%v", err)
	}
}
