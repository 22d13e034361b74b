package figure

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// An invented day: 36 hours of an invented tide, one window, three visits.
func daySample() Day {
	y := Day{
		Title: "Wednesday 1 July 2026", Desc: "The row may be set out from 07:15 to 09:35; off the flat by 10:30.",
		SpanH: 36, HeightLabel: "water, m above the datum (invented)", BedM: 0.16, BedLabel: "row", WayM: 1.2, WayLabel: "way out",
		Dark:   [][2]float64{{0, 5.2}, {21.1, 29.2}},
		Bars:   []DayBar{{7.25, 9.58, "set out between 07:15 and 09:35 WEST"}},
		Visits: []DayVisit{{8.3, 8.6, "set"}, {9.3, 9.45, "1 h"}, {32.3, 32.6, "24 h"}},
		Leave:  []DayTick{{10.5, "off the flat by 10:30"}},
		Note:   "Predicted water; weather can move it. Not for navigation.",
	}
	for h := 0.0; h <= 36; h += 0.1 {
		y.Water = append(y.Water, DayWater{h, 1.6 + 1.1*math.Cos(2*math.Pi*(h-2.3)/12.42) + 0.2*math.Cos(2*math.Pi*(h-3)/24)})
	}
	for h := 0; h <= 36; h += 3 {
		y.Ticks = append(y.Ticks, DayTick{float64(h), pad2(h%24) + ":00"})
	}
	return y
}

func pad2(n int) string {
	s := strconv.Itoa(n)
	return strings.Repeat("0", 2-len(s)) + s
}

// dayNone is a day without a start: long words, a gap in the water, no way.
func dayNone() Day {
	y := daySample()
	y.Title, y.Desc = "Ningún inicio", "Ningún inicio sirve este día."
	y.WayM, y.Bars, y.Visits, y.Leave = nan, nil, nil, nil
	y.BedLabel, y.Note = "hilera del canal profundo", "Una hilera colocada el 2026-07-01 09:00 WEST quedaría en seco: el 2026-07-01 08:12 WEST el agua está 0.18 m por debajo."
	for i := 100; i < 160; i++ {
		y.Water[i].HeightM = nan
	}
	return y
}

// dayCrowd has more visits than one lane holds and two windows.
func dayCrowd() Day {
	y := daySample()
	y.Bars = append(y.Bars, DayBar{33, 36, "set out between 09:00 and 12:00 WEST = 08:00 and 11:00 WET, and longer, as the range ends here"})
	for _, h := range []float64{10, 10.4, 11, 12, 20, 20.5} {
		y.Visits = append(y.Visits, DayVisit{h, h + 0.1, "check after " + strconv.FormatFloat(h, 'g', -1, 64) + " h"})
	}
	y.Leave = append(y.Leave, DayTick{34.5, "off the flat by 10:30 the next day"}, DayTick{10.5, "and again"})
	y.WayM = 0.18 // its label stands close to the row's
	return y
}

func init() {
	more = append(more, func(both func(string, func(Frame) (*Drawing, error))) {
		of := func(y Day) func(Frame) (*Drawing, error) {
			return func(f Frame) (*Drawing, error) { return DrawDay(y, f) }
		}
		both("day", of(daySample()))
		both("day-none", of(dayNone()))
		both("day-crowd", of(dayCrowd()))
	})
}

// The water's picture, by hand: 0 to 10 m with a bed at 0 is padded by 6 %, so −0.6 to
// 10.6 m over 36 mm; the line's highest point stands 0.6/11.2 of 36 mm, 1.93 mm, under
// the top, and its lowest as far above the bottom.
func TestDayByHand(t *testing.T) {
	d, err := DrawDay(Day{Title: "t", SpanH: 24, WayM: nan, Water: []DayWater{{0, 0}, {12, 10}, {24, 0}}}, frame("d", 800))
	if err != nil {
		t.Fatal(err)
	}
	var sea []Point
	for _, o := range d.ops {
		if l, ok := o.(opLine); ok && l.s.Role == Sea {
			sea = l.paths[0]
		}
	}
	if len(sea) != 3 {
		t.Fatalf("the water is %v", sea)
	}
	if got := sea[0].Y - sea[1].Y; math.Abs(got-dayHeightMM*10/11.2) > 1e-9 {
		t.Errorf("10 m are %g mm", got)
	}
	if mid := (sea[0].X + sea[2].X) / 2; math.Abs(sea[1].X-mid) > 1e-9 {
		t.Errorf("noon stands at %g of %v", sea[1].X, sea)
	}
}

func TestDayRefuses(t *testing.T) {
	for _, y := range []Day{
		{SpanH: 0, WayM: nan}, {SpanH: 1e6, WayM: nan}, {SpanH: 24, BedM: nan, WayM: nan},
		{SpanH: 24, WayM: nan, Water: []DayWater{{2, 1}, {1, 1}}},
		{SpanH: 24, WayM: nan, Bars: []DayBar{{5, 4, ""}}},
	} {
		if _, err := DrawDay(y, frame("d", 800)); err == nil {
			t.Errorf("drawn: %+v", y)
		}
	}
}

func TestDayTextsKeepApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := Day{
			Title: "day", SpanH: rapid.Float64Range(1, 60).Draw(t, "span"), BedM: rapid.Float64Range(-5, 5).Draw(t, "bed"), BedLabel: anyText().Draw(t, "bed label"),
			WayM: nan, HeightLabel: anyText().Draw(t, "height"), Note: anyText().Draw(t, "note"),
		}
		at := rapid.Float64Range(-2, y.SpanH+2)
		if rapid.Bool().Draw(t, "way") {
			y.WayM, y.WayLabel = rapid.Float64Range(-5, 5).Draw(t, "way m"), anyText().Draw(t, "way label")
		}
		for i := range rapid.IntRange(0, 40).Draw(t, "waters") {
			y.Water = append(y.Water, DayWater{float64(i) * y.SpanH / 40, rapid.Float64Range(-6, 9).Draw(t, "m")})
		}
		for range rapid.IntRange(0, 6).Draw(t, "visits") {
			a := at.Draw(t, "at")
			y.Visits = append(y.Visits, DayVisit{a, a + 0.3, anyText().Draw(t, "visit")})
			y.Leave = append(y.Leave, DayTick{at.Draw(t, "leave at"), anyText().Draw(t, "leave")})
			y.Bars = append(y.Bars, DayBar{a, a + 2, anyText().Draw(t, "bar")})
			y.Ticks = append(y.Ticks, DayTick{float64(len(y.Ticks)) * 3, anyText().Draw(t, "tick")})
		}
		d, err := DrawDay(y, anyFrame(t))
		holds(t, d, err)
	})
}
