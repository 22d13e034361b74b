package mixed_test

import (
	"fmt"

	"soakline/internal/mixed"
)

// Two habitats at four sites, two intervals each; the second check of the last
// row was not made, so its interval covers both bands.
func ExampleFit() {
	d := mixed.NewData([]string{"band1", "band2", "reef"}, []string{"site"})
	counts := [][4]int{{5, 9, 8, 10}, {2, 7, 6, 9}, {9, 10, 12, 9}, {4, 8, 3, 12}}
	for site, c := range counts {
		for reef := 0; reef < 2; reef++ {
			x := float64(reef)
			first := mixed.Piece{Exposure: 1, X: []float64{1, 0, x}}
			second := mixed.Piece{Exposure: 23, X: []float64{0, 1, x}}
			y1, y2 := c[2*reef], c[2*reef+1]
			if site == 3 && reef == 1 {
				d.Add(y1+y2, 25, []int{site}, first, second)
				continue
			}
			d.Add(y1, 25, []int{site}, first)
			d.Add(y2, 25-y1, []int{site}, second)
		}
	}
	r, err := mixed.Fit(d, mixed.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	null, _ := r.Without("reef")
	fmt.Println(r.Ending)
	fmt.Printf("log rate ratio %.3f (se %.3f)\n", r.Fixed[2].Estimate, r.Fixed[2].SE)
	fmt.Printf("SD of %s %.3f\n", r.Random[0].Group, r.Random[0].SD)
	fmt.Printf("likelihood ratio p %.3f\n", r.Ratio(null).P)
	m := r.Mean([]mixed.Piece{{Exposure: 1, X: []float64{1, 0, 1}}})
	fmt.Printf("proportion on the reef after 1 h %.2f (%.2f to %.2f)\n", m.Proportion, m.Lower, m.Upper)
	// Output:
	// converged
	// log rate ratio 0.439 (se 0.185)
	// SD of site 0.313
	// likelihood ratio p 0.017
	// proportion on the reef after 1 h 0.31 (0.21 to 0.44)
}
