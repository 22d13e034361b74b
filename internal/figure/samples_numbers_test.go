package figure

import (
	"fmt"
	"math"
	"math/rand/v2"
)

var nan = math.NaN()

func curvesSample() Curves {
	return Curves{
		Title: "Baits still there, by habitat", Desc: "After a day 38 of 100 baits were left in seagrass, 52 on rock reef, 83 on bare sand.",
		XLabel: "hours in the water", YLabel: "baits still there, of 100",
		DeterminedWord: "known over this time", OpenWord: "fell somewhere here", BandWord: "where the curve may well lie",
		Groups: []CurveGroup{
			{Label: "seagrass", Sub: "14 rows", Stretches: []Stretch{{0, 0.9, 1, nan, nan}, {1.3, 22.5, 0.71, 0.55, 0.83}, {25.8, 27, 0.38, 0.22, 0.55}}},
			{Label: "rock reef", Sub: "12 rows", Stretches: []Stretch{{0, 1, 1, nan, nan}, {1.1, 23.4, 0.76, 0.6, 0.88}, {24.6, 26, 0.52, 0.34, 0.69}}},
			{Label: "bare sand", Sub: "15 rows", Stretches: []Stretch{{0, 0.95, 1, nan, nan}, {1.2, 23, 0.95, 0.9, 0.98}, {25, 26, 0.83, 0.71, 0.91}}},
			{Label: "mangrove edge by the old jetty", Sub: "3 rows, too few for a band", Stretches: []Stretch{{0, 1, 1, nan, nan}, {1.2, 23, 0.92, nan, nan}, {25, 26, 0.84, nan, nan}}},
		},
	}
}

// curvesAtOnce has every check at one time: points, not stretches.
func curvesAtOnce() Curves {
	c := Curves{Title: "Three sites", XLabel: "horas en el agua", YLabel: "cebos que quedan, de cada 100"}
	for i, l := range []string{"Kell Spit", "Low Ostrel", "Harl Stones"} {
		a, b := 0.9-0.02*float64(i), 0.6-0.03*float64(i)
		c.Groups = append(c.Groups, CurveGroup{Label: l, Stretches: []Stretch{{0, 0, 1, nan, nan}, {1, 1, a, a - .1, a + .06}, {24, 24, b, b - .15, b + .15}}})
	}
	return c
}

func ratesSample() Strips {
	r := rand.New(rand.NewPCG(1, 2))
	dots := func(n int, p float64) []StripDot {
		var out []StripDot
		for range n {
			v := math.Round(clamp(p+r.NormFloat64()*0.18, 0, 1)*25) * 4
			out = append(out, StripDot{Value: v})
		}
		return out
	}
	return Strips{
		Title: "Baits gone within 24 h, by habitat", Desc: "Seagrass 62 of 100, rock reef 48, bare sand 17.",
		AxisLabel: "baits gone within 24 h, of 100. A tick is one row; the bar, where the habitat's mean may well lie",
		Lo:        0, Hi: 100,
		Groups: []Strip{
			{Label: "seagrass", Sub: "14 rows, 6 sites", Value: "62 of 100", ValueSub: "45 to 78", Estimate: 62, Lower: 45, Upper: 78, Points: dots(14, .62)},
			{Label: "rock reef", Sub: "12 rows, 6 sites", Value: "48 of 100", ValueSub: "31 to 66", Estimate: 48, Lower: 31, Upper: 66, Points: dots(12, .48)},
			{Label: "bare sand", Sub: "15 rows, 6 sites", Value: "17 of 100", ValueSub: "9 to 29", Estimate: 17, Lower: 9, Upper: 29, Points: dots(15, .17)},
		},
	}
}

func ratesLog() Strips {
	return Strips{
		Title: "Consumption rate by habitat", Desc: "Invented.", AxisLabel: "consumption rate, 1/h", Log: true,
		Groups: []Strip{
			{Label: "seagrass", Sub: "5 rows", Value: "0.21", ValueSub: "0.09 to 0.44", Estimate: 0.21, Lower: 0.09, Upper: 0.44,
				Points: []StripDot{{0.11, Exact}, {0.2, Exact}, {0.2, Exact}, {0.34, Exact}, {2.9, AtLeast}}},
			{Label: "bare sand", Sub: "4 rows", Value: "0.004", ValueSub: "0.001 to 0.012", Estimate: 0.004, Lower: 0.001, Upper: 0.012,
				Points: []StripDot{{0, Exact}, {0, Exact}, {0.003, Exact}, {0.009, Exact}}},
			{Label: "shielded cage control", Sub: "3 rows", Value: "at most 0.005", ValueSub: "no bait was gone", Estimate: nan, Lower: nan, Upper: 0.005,
				Points: []StripDot{{0, Exact}, {0, Exact}, {0.005, AtMost}}},
			{Label: "reef pass", Sub: "2 rows", Value: "at least 0.9", ValueSub: "every bait was gone at the first check", Estimate: nan, Lower: 0.9, Upper: nan, Points: []StripDot{{1.4, AtLeast}, {1.4, AtLeast}}},
			{Label: "kelp", Sub: "no rows", Value: "not known", Estimate: nan, Lower: nan, Upper: nan},
		},
	}
}

func contrastsSample() Strips {
	return Strips{
		Title: "Ratios of consumption rates", Desc: "Invented.", AxisLabel: "times as fast; thin bars hold for all comparisons at once", Log: true, Mark: 1, MarkOn: true,
		MarkLeft: "slower in the first", MarkRight: "faster in the first",
		Groups: []Strip{
			{Label: "seagrass against bare sand", Value: "5.2 times", ValueSub: "2.1 to 12.9", Estimate: 5.2, Lower: 2.1, Upper: 12.9, LowerAll: 1.7, UpperAll: 15.6},
			{Label: "rock reef against bare sand", Value: "3.5 times", ValueSub: "1.4 to 8.8", Estimate: 3.5, Lower: 1.4, Upper: 8.8, LowerAll: 1.1, UpperAll: 10.7},
			{Label: "seagrass against rock reef", Value: "1.5 times", ValueSub: "0.7 to 3.2", Estimate: 1.5, Lower: 0.7, Upper: 3.2, LowerAll: 0.6, UpperAll: 3.9},
			{Label: "reef pass against bare sand", Value: "at least 9 times", Estimate: nan, Lower: 9, Upper: nan},
		},
	}
}

func emptyStrips() Strips {
	return Strips{Title: "Nothing yet", AxisLabel: "baits gone, of 100", Note: "No row has been read yet."}
}

func manyDots() Strips {
	s := Strips{Title: "500 rows", AxisLabel: "baits gone within 24 h, of 100", Lo: 0, Hi: 100}
	r := rand.New(rand.NewPCG(3, 4))
	for k := range 2 {
		g := Strip{Label: fmt.Sprintf("habitat %d", k+1), Sub: "500 rows", Value: "50 of 100", ValueSub: "47 to 53", Estimate: 50, Lower: 47, Upper: 53}
		for range 500 {
			g.Points = append(g.Points, StripDot{Value: float64(r.IntN(26)) * 4})
		}
		s.Groups = append(s.Groups, g)
	}
	return s
}

func init() {
	more = append(more, func(both func(string, func(Frame) (*Drawing, error))) {
		curve := func(c Curves) func(Frame) (*Drawing, error) {
			return func(f Frame) (*Drawing, error) { return DrawCurves(c, f) }
		}
		strip := func(s Strips) func(Frame) (*Drawing, error) {
			return func(f Frame) (*Drawing, error) { return DrawStrips(s, f) }
		}
		both("curves", curve(curvesSample()))
		both("curves-at-once", curve(curvesAtOnce()))
		both("curves-empty", curve(Curves{Title: "Nothing yet", XLabel: "hours in the water", YLabel: "baits still there, of 100", Note: "No row has been read yet."}))
		both("rates", strip(ratesSample()))
		both("rates-log", strip(ratesLog()))
		both("contrasts", strip(contrastsSample()))
		both("strips-empty", strip(emptyStrips()))
		both("strips-500", strip(manyDots()))
	})
}
