package prep

import (
	"errors"
	"slices"
	"testing"

	"soakline/internal/words"
)

// TestPackingByHand: two rows of 25 to set, one to read, one of 25 to take out,
// three people. Baited stakes: 50 x 1.04 = 52. Sheets: four rows, four. Pencils:
// six. Spacing line: 2 x 0.1, one. Stakes to come back: 25, none taken along.
func TestPackingByHand(t *testing.T) {
	got := Packing(kit(t, ""), Day{RowsOut: 2, StakesOut: 50, RowsRead: 1, RowsIn: 1, StakesIn: 25, People: 3})
	for name, want := range map[string]Packed{
		"baited-stakes": {"baited-stakes", 52, -1}, "stakes-in": {"stakes-in", 0, 25}, "bags-in": {"bags-in", 1, 1}, "sheets": {"sheets", 4, 4},
		"pencils": {"pencils", 6, 6}, "spacing-line": {"spacing-line", 1, 1}, "first-aid": {"first-aid", 1, 1}, "person-kit": {"person-kit", 3, 3},
	} {
		if !slices.Contains(got, want) {
			t.Errorf("no line %+v in %+v", want, got)
		}
		if !words.Has("prep.take." + name) {
			t.Errorf("%s has no words", name)
		}
	}
	for _, x := range kit(t, "").Take {
		if !words.Has("prep.take." + x.Name) {
			t.Errorf("%s has no words", x.Name)
		}
	}
	// Nothing is set: no bait, no line for the spacing.
	for _, x := range Packing(kit(t, ""), Day{RowsRead: 1, People: 2}) {
		if x.Name == "baited-stakes" || x.Name == "spacing-line" || x.Name == "stakes-in" {
			t.Errorf("a day of reading takes along %+v", x)
		}
	}
	if got := Packing(kit(t, ""), Day{}); len(got) != 0 {
		t.Errorf("a day without rows: %+v", got)
	}
	own := kit(t, "[[take]]\nname = \"kayak\"\nper = \"person\"\nn = 0.5\nback = true")
	if got := Packing(own, Day{RowsOut: 1, StakesOut: 25, People: 3}); len(got) != 1 || got[0] != (Packed{"kayak", 2, 2}) {
		t.Errorf("%+v", got)
	}
	_, err := ReadKit("[[take]]\nname = \"kayak\"\nper = \"boat\"\nn = 1")
	var f *Fault
	if !errors.As(err, &f) || f.Slug != "prep.kit-take" || !words.Has(f.Slug) {
		t.Errorf("%v", err)
	}
}
