package figure_test

import (
	"fmt"

	"soakline/internal/figure"
)

// A row of five stakes by count, for a page 360 pixels wide.
func ExampleDrawRow() {
	d, err := figure.DrawRow(figure.Row{
		Title: "Row D1 at each check",
		Desc:  "After 1 h 2 of 5 baits were gone.",
		Lines: []figure.RowLine{
			{Label: "0 h", Sub: "09:00", Counts: figure.FateCounts{Present: 5}},
			{Label: "1 h", Sub: "10:02", Result: "2 gone", Counts: figure.FateCounts{Present: 3, Consumed: 2}},
		},
		Words: figure.FateWords{Present: "bait there", Consumed: "bait gone", NotKnown: "not known (stake or line missing)", Unread: "not read"},
	}, figure.Frame{ID: "d1", WidthMM: figure.ScreenMM(360), Look: figure.Screen})
	if err != nil {
		fmt.Println(err)
		return
	}
	svg := d.SVG() // d.PNG(11.81) and d.PDF(at, "en") give the same drawing
	fmt.Println(string(svg[:4]), len(d.Missing))
	for _, t := range d.Texts() {
		fmt.Println(t.S)
	}
	// Output:
	// <svg 0
	// 0 h
	// 09:00
	// 1 h
	// 10:02
	// 2 gone
	// bait there
	// bait gone
}
