package figure

import (
	"math"
	"strconv"
	"testing"
)

// An invented fortnight over the turn of a month: starts wander by 50 minutes a
// day, three days have none, one has two, one has 25 hours.
func calendarSample() Calendar {
	c := Calendar{
		Title: "Kell Spit (invented)", Desc: "Starts at Kell Spit from 24 October to 6 November.", SpanH: 25,
		StartsKey: "set out at any time in here", DarkKey: "dark", Note: "Predicted water; weather can move it. Not for navigation.",
	}
	for h := 0; h <= 24; h += 3 {
		c.Ticks = append(c.Ticks, DayTick{float64(h), pad2(h%24) + ":00"})
	}
	for i := range 14 {
		day := CalendarDay{Label: []string{"Sat", "Sun", "Mon", "Tue", "Wed", "Thu", "Fri"}[i%7] + " " + strconv.Itoa((23+i)%31+1), SpanH: 24, Dark: [][2]float64{{0, 7}, {18, 24}}}
		from := 7.2 + float64(i)*0.83
		switch {
		case i >= 5 && i <= 7:
			day.None, day.Words = true, "falls dry"
		case i == 9:
			day.Starts, day.Words = [][2]float64{{7.1, 8.5}, {14.2, 16.8}}, "07:06–08:30, 14:12–16:48"
		default:
			hm := func(h float64) string { m := int(h*60 + 0.5); return pad2(m/60) + ":" + pad2(m%60) }
			day.Starts, day.Words = [][2]float64{{from, from + 1.5}}, hm(from)+"–"+hm(from+1.5)
		}
		if i == 1 {
			day.SpanH, day.Dark = 25, [][2]float64{{0, 8}, {18, 25}}
		}
		if i == 0 || i == 8 {
			day.Head = map[int]string{0: "October 2026", 8: "November 2026"}[i]
		}
		c.Days = append(c.Days, day)
	}
	return c
}

func init() {
	more = append(more, func(both func(string, func(Frame) (*Drawing, error))) {
		both("calendar", func(f Frame) (*Drawing, error) { return DrawCalendar(calendarSample(), f) })
	})
}

// A strip by hand: the starts of hours 6 to 12 of a day of 24 cover the second
// quarter of the strip, and lie inside it from top to bottom.
func TestCalendarByHand(t *testing.T) {
	c := Calendar{Title: "t", SpanH: 24, Days: []CalendarDay{{Label: "Mon 1", SpanH: 24, Starts: [][2]float64{{6, 12}}, Dark: [][2]float64{{0, 24}}, Words: "06:00"}}}
	d, err := DrawCalendar(c, frame("d", 800))
	if err != nil {
		t.Fatal(err)
	}
	var dark, starts []Point
	for _, o := range d.ops {
		if a, ok := o.(opArea); ok && a.f.Role == Land && dark == nil {
			dark = a.rings[0]
		} else if ok && a.f.Role == Sea && starts == nil {
			starts = a.rings[0]
		}
	}
	from, to := dark[0].X, dark[1].X
	if math.Abs(starts[0].X-(from+(to-from)/4)) > 1e-9 || math.Abs(starts[1].X-(from+(to-from)/2)) > 1e-9 || starts[0].Y != dark[0].Y || starts[2].Y != dark[2].Y {
		t.Errorf("starts %v in a strip of %v", starts, dark)
	}
}

func TestCalendarRefuses(t *testing.T) {
	good := calendarSample()
	for _, spoil := range []func(*Calendar){
		func(c *Calendar) { c.Days = nil },
		func(c *Calendar) { c.SpanH = math.NaN() },
		func(c *Calendar) { c.Days = make([]CalendarDay, mostCalendarDays+1) },
		func(c *Calendar) { c.Days[0].Starts = [][2]float64{{3, 2}} },
		func(c *Calendar) { c.Days[0].Dark = [][2]float64{{0, math.Inf(1)}} },
	} {
		c := good
		c.Days = append([]CalendarDay{}, good.Days...)
		spoil(&c)
		if _, err := DrawCalendar(c, frame("d", 800)); err == nil {
			t.Errorf("%+v was drawn", c.Title)
		}
	}
}
