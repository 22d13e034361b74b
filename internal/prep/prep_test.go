package prep

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"soakline/internal/assay"
	"soakline/internal/words"
)

// TestYieldByHand: counted on squared paper.
func TestYieldByHand(t *testing.T) {
	for _, c := range []struct {
		name string
		p    Piece
		form Form
		size float64
		want int
	}{
		// Halves 65 mm wide, 13 mm discs without gaps: five in a line; 130 mm long
		// gives ten lines side by side, 2 x 50. Staggered, lines stand 11.258 mm
		// apart: 1 + floor(117 / 11.258) = 11 lines of 5, 4, 5, … (6 of 5, 5 of 4):
		// 50, no more.
		{"squares of 13", Piece{130, 140, 140, 10, 0}, Square, 13, 100},
		{"discs of 13", Piece{130, 140, 140, 10, 0}, Disc, 13, 100},
		// Halves 71.5 mm wide leave room for five in the shifted lines too
		// (6.5 + 65): 11 lines of 5, 2 x 55.
		{"staggered", Piece{130, 153, 153, 10, 0}, Disc, 13, 110},
		{"squares do not stagger", Piece{130, 153, 153, 10, 0}, Square, 13, 100},
		// Halves 43 mm, squares of 10 with gaps of 1: floor(44 / 11) = 4 in a line;
		// 100 mm long: floor(101 / 11) = 9 lines; 2 x 36.
		{"gaps", Piece{100, 100, 100, 14, 1}, Square, 10, 72},
		// Tapering from 60 to 20 over 40 mm, no midline, squares of 10: at 10, 20,
		// 30, 40 mm the piece is 50, 40, 30, 20 wide, its halves 25, 20, 15, 10:
		// 2 + 2 + 1 + 1; 2 x 6.
		{"taper", Piece{40, 60, 20, 0, 0}, Square, 10, 12},
		{"too narrow", Piece{100, 30, 30, 10, 0}, Disc, 13, 0},
		{"too short", Piece{12, 100, 100, 10, 0}, Disc, 13, 0},
		{"no size", Piece{100, 100, 100, 10, 0}, Disc, 0, 0},
	} {
		if got := c.p.Yield(c.form, c.size); got != c.want {
			t.Errorf("%s: %d, counted %d", c.name, got, c.want)
		}
	}
}

func TestYieldNeverTooMany(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		p := Piece{f("length", 1, 400), f("width", 1, 200), f("tail", 1, 200), f("midline", 0, 40), f("gap", 0, 5)}
		size := f("size", 5, 30)
		squares, discs := p.Yield(Square, size), p.Yield(Disc, size)
		area := max(0, p.LengthMM*(p.WidthMM+p.TailMM)/2)
		if float64(squares)*size*size > area+1e-6 {
			t.Fatalf("%d squares of %g on %g mm²", squares, size, area)
		}
		// No packing of equal discs is denser than π/√12 of the plane.
		if float64(discs)*math.Pi*size*size/4 > area*math.Pi/math.Sqrt(12)*1.6+4*size*size {
			t.Fatalf("%d discs of %g on %g mm²", discs, size, area)
		}
		if discs < squares {
			t.Fatalf("%d discs but %d squares of the same size", discs, squares)
		}
	})
}

func standard() assay.Protocol {
	return assay.Protocol{Baits: 25, BaitForm: "disc", BaitSizeMM: 13}
}

func kit(t *testing.T, text string) Kit {
	t.Helper()
	k, err := ReadKit(text)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// TestMaterialsByHand: 12 rows of 25 with 4 helpers.
//
//	stakes  12 × 25 = 300; a tenth more 330; packs of 25: 14 (13.2)
//	baits   300; a fifth more 360
//	pieces  the taper of the default piece, discs of 13 with gaps of 1, halves
//	        (90 − 14)/2 = 38 falling to 18: see below, 32 a piece: 360/32 = 11.25,
//	        12; packs of 5: 3
//	line    300 × 0.1 m = 30 m; 36 m; one pack of 100
//	tape    30 m; 33 m; two of 20
//	labels  300 + 12 = 312; 343.2, so 344; sheets of 65: 6 (5.3)
//	sheets  12 × 2 = 24; 28.8, so 29; one pack of 50
//	blades  360 / 150 = 2.4, so 3; one pack of 10
//	needles 4 × 2 = 8
//	bags    12; 13.2, so 14; one pack of 50
func TestMaterialsByHand(t *testing.T) {
	k := kit(t, "")
	l, err := Materials(k, Ask{Rows: 12, Protocol: standard(), Helpers: 4, SheetsEach: 2})
	if err != nil {
		t.Fatal(err)
	}
	// Lines side by side, 14 mm apart: 12 lines (11 × 14 + 13 = 167; 13 would end
	// at 181). Width of a half at the line's end x: 38 − x/9; discs in it
	// floor((38 − x/9 + 1)/14): x = 13 … 167 gives 36.6 … 19.4, so 2 while
	// 39 − x/9 ≥ 28, x ≤ 99: lines ending at 13, 27, 41, 55, 69, 83, 97 (7 of 2),
	// then 5 of 1: 19 a half, 38 a piece. Staggered, 12.124 mm apart: 14 lines
	// (13 × 12.124 + 13 = 170.6). Straight ones (i even, ends 13, 37.2, 61.5, 85.7,
	// 110, 134.2, 158.5): 2, 2, 2, 2, 1, 1, 1 = 11. Shifted by 7 (ends 25.1, 49.4,
	// 73.6, 97.9, 122.1, 146.4, 170.6): floor((32 − x/9)/14) = 2 while x ≤ 36:
	// 2, then 1 while x ≤ 162: 1, 1, 1, 1, 1, then 0: 7. 18 a half, 36. So 38.
	if l.BaitsPerPiece != 38 {
		t.Errorf("a piece gives %d, counted 38", l.BaitsPerPiece)
	}
	want := map[string][3]float64{ // need, total, packs
		"stakes": {300, 330, 14}, "baits": {300, 360, 0}, "pieces": {10, 10, 2}, "line": {30, 36, 1}, "tape": {30, 33, 2},
		"labels": {312, 344, 6}, "sheets": {24, 29, 1}, "blades": {3, 3, 1}, "needles": {8, 8, 8}, "bags": {12, 14, 1},
	}
	for _, x := range l.Lines {
		if w := want[x.Item]; math.Abs(x.Need-w[0]) > 1e-9 || math.Abs(x.Total-w[1]) > 1e-9 || float64(x.Packs) != w[2] {
			t.Errorf("%s: %g, with spare %g, %d packs; by hand %v", x.Item, x.Need, x.Total, x.Packs, w)
		}
	}
	if len(l.Lines) != len(want) || l.Priced != 0 {
		t.Errorf("%d lines, %d priced", len(l.Lines), l.Priced)
	}
}

// TestSpareFromLosses: 18 of 100 stakes did not come back, so 300 want 354; 30
// of 100 baits were wanting, so 300 want 390, from 390 / 38 = 11 pieces, 3 packs
// of 5; 1 of 100 labels is less than the kit's tenth.
func TestSpareFromLosses(t *testing.T) {
	l, err := Materials(kit(t, ""), Ask{Rows: 12, Protocol: standard(), Helpers: 1, SheetsEach: 1, Past: map[string]float64{"stakes": 0.18, "baits": 0.30, "labels": 0.01}})
	if err != nil {
		t.Fatal(err)
	}
	if x := l.Lines[0]; x.Item != "stakes" || x.Total != 354 || x.Spare != 0.18 || x.From != "past" {
		t.Errorf("%+v", x)
	}
	if x := l.Lines[1]; x.Item != "baits" || x.Total != 390 || x.From != "past" {
		t.Errorf("%+v", x)
	}
	if x := l.Lines[2]; x.Item != "pieces" || x.Total != 11 || x.Packs != 3 {
		t.Errorf("%+v", x)
	}
	if x := l.Lines[5]; x.Item != "labels" || x.Spare != 0.10 || x.From != "kit" {
		t.Errorf("%+v", x)
	}
}

func TestPrices(t *testing.T) {
	k := kit(t, "[item.stakes]\nprice = 7.5\n[item.tape]\nprice = 3\npack = 10\n")
	l, err := Materials(k, Ask{Rows: 4, Protocol: standard(), Helpers: 1, SheetsEach: 1})
	if err != nil {
		t.Fatal(err)
	}
	// 100 stakes and a tenth: 110, 5 packs, 37.5; 10 m of tape and a tenth: 11 m, 2 packs, 6.
	if l.Cost != 43.5 || l.Priced != 2 {
		t.Errorf("%g for %d items; by hand 43.5 for 2", l.Cost, l.Priced)
	}
	if k.Items["stakes"].Pack != 25 || k.Items["stakes"].Spare != 0.1 {
		t.Error("a kit that names a price lost the rest of the item")
	}
}

func TestKitFaults(t *testing.T) {
	for text, slug := range map[string]string{
		"[item.stakes]\nspair = 1":      "prep.kit-field",
		"[item.ropes]\nspare = 1":       "prep.kit-item",
		"[item.stakes]\nspare = -1":     "prep.kit-number",
		"[item.line]\neach_mm = 0":      "prep.kit-number",
		"[piece]\nwidth_mm = 0":         "prep.kit-number",
		"[piece]\nwidth_mm = nan":       "prep.kit-number",
		"[[step]]\nname=\"x\"":          "prep.kit-number",
		"not toml":                      "prep.kit-broken",
		"[item.blades]\nper_baits = 0.": "prep.kit-broken",
	} {
		_, err := ReadKit(text)
		var f *Fault
		if !errors.As(err, &f) || f.Slug != slug || !words.Has(f.Slug) {
			t.Errorf("%q: %v, want %s", text, err, slug)
		}
	}
	for _, a := range []Ask{{Rows: 0, Helpers: 1}, {Rows: MaxRows + 1, Helpers: 1}, {Rows: 1}, {Rows: 1, Helpers: 1, SizeMM: 500}} {
		a.Protocol = standard()
		_, err := Materials(kit(t, ""), a)
		var f *Fault
		if !errors.As(err, &f) || !words.Has(f.Slug) {
			t.Errorf("%+v: %v", a, err)
		}
	}
}

// TestProduceByHand: steps of 10, 40, 30 and 20 s for 60 baits are 10, 40, 30
// and 20 min.
func TestProduceByHand(t *testing.T) {
	steps := []Step{{"a", 10}, {"b", 40}, {"c", 30}, {"d", 20}}
	for _, c := range []struct {
		helpers int
		minutes float64
		posts   []int // steps at each post
		by      []int // helpers at each post
	}{
		{1, 100, []int{4}, []int{1}},
		{2, 50, []int{2, 2}, []int{1, 1}},       // a b | c d: 50, 50
		{3, 50, []int{2, 1, 1}, []int{1, 1, 1}}, // a b | c | d: 50; a | b | c d: 50 too
		{4, 40, []int{1, 1, 1, 1}, []int{1, 1, 1, 1}},
		{5, 30, []int{1, 1, 1, 1}, []int{1, 2, 1, 1}}, // b by two: 20; c is the busiest
		{6, 20, []int{1, 1, 1, 1}, []int{1, 2, 2, 1}},
	} {
		p := Produce(steps, 60, c.helpers)
		if math.Abs(p.Minutes-c.minutes) > 1e-9 || math.Abs(p.Together-100/float64(c.helpers)) > 1e-9 {
			t.Errorf("%d helpers: %g min (evenly %g), by hand %g", c.helpers, p.Minutes, p.Together, c.minutes)
		}
		people := 0
		for _, post := range p.Posts {
			people += post.Helpers
		}
		if people != c.helpers || len(p.Posts) != len(c.posts) {
			t.Errorf("%d helpers: %+v", c.helpers, p.Posts)
			continue
		}
		for i, post := range p.Posts {
			if c.helpers != 3 && (len(post.Steps) != c.posts[i] || post.Helpers != c.by[i]) {
				t.Errorf("%d helpers, post %d: %+v", c.helpers, i+1, post)
			}
		}
	}
	if p := Produce(nil, 60, 2); p.Minutes != 0 || p.Posts != nil {
		t.Errorf("no steps: %+v", p)
	}
}

func TestProduceBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "steps")
		var steps []Step
		for range n {
			steps = append(steps, Step{"s", rapid.Float64Range(1, 100).Draw(t, "seconds")})
		}
		h := rapid.IntRange(1, 12).Draw(t, "helpers")
		a, b := Produce(steps, 100, h), Produce(steps, 100, h+1)
		if a.Minutes < a.Together-1e-9 || b.Minutes > a.Minutes+1e-9 {
			t.Fatalf("%d helpers %g (evenly %g), one more %g", h, a.Minutes, a.Together, b.Minutes)
		}
	})
}
