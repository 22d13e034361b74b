package figure

import (
	"errors"
	"fmt"
	"math"
)

// Calendar shows many days at a glance: one strip a day from its first instant on,
// dark and light, and the starts that will do, in words beside it. Times are hours
// from the day's first instant.
type Calendar struct {
	Title, Desc string
	Heading     string    // drawn above all, for a file that stands alone
	SpanH       float64   // of the longest day: 24, 25 where a clock goes back
	Ticks       []DayTick // above the strips; those without room are left out
	Days        []CalendarDay
	// Keys name what the strips show; empty ones are left out.
	StartsKey, DarkKey string
	Note               string
}

// CalendarDay is one strip.
type CalendarDay struct {
	Head   string // set above the strip, bold: the month, where one begins
	Label  string
	SpanH  float64 // of this day
	Dark   [][2]float64
	Starts [][2]float64
	Words  string
	// None says that no start will do: the words are the reason.
	None bool
}

// mostCalendarDays bounds a drawing.
const mostCalendarDays = 400

func (c Calendar) check() error {
	if !(c.SpanH > 0 && c.SpanH <= 30) {
		return fmt.Errorf("figure: a day of %g hours cannot be drawn; give more than 0 and at most 30", c.SpanH)
	}
	if len(c.Days) == 0 || len(c.Days) > mostCalendarDays {
		return fmt.Errorf("figure: a calendar of %d days cannot be drawn; give 1 to %d", len(c.Days), mostCalendarDays)
	}
	if len(c.Ticks) > 100 {
		return errors.New("figure: more than 100 hours cannot be told above a calendar")
	}
	for _, d := range c.Days {
		for _, list := range [][][2]float64{d.Dark, d.Starts} {
			for _, s := range list {
				if !finite(s[0]) || !finite(s[1]) || s[1] < s[0] {
					return fmt.Errorf("figure: a stretch from %g to %g h cannot be drawn", s[0], s[1])
				}
			}
		}
	}
	return nil
}

// sheetOf is where the parts of a calendar stand.
type sheetOf struct {
	label, strip, stripTo, words float64 // left edges, mm
	wordsW                       float64
	below                        bool // the words stand under their strip
	x                            axis
}

// leastStrip is the shortest strip on which a day can be read, mm.
const leastStrip = 34

// easyStrip is a strip long enough to give words beside it some lines, mm.
const easyStrip = 90

// DrawCalendar draws the days one below the other.
func DrawCalendar(c Calendar, f Frame) (*Drawing, error) {
	d, err := f.begin(c.Title, c.Desc)
	if err != nil {
		return nil, err
	}
	if err := c.check(); err != nil {
		return nil, err
	}
	s := c.columns(d, f)
	d.note(c.Heading)
	y := c.clock(d, f, s, d.put(f.bold(c.Heading).wrap(d.W-1), 0, 0, Start))
	for i, day := range c.Days {
		d.Begin(Group{ID: fmt.Sprintf("day-%d", i), Title: day.Label + ": " + day.Words})
		if day.Head != "" {
			d.note(day.Head)
			y = d.put(f.bold(day.Head).wrap(d.W-1), 0, y+1.2, Start)
		}
		y = c.day(d, f, s, day, y)
		d.End()
	}
	y = c.keys(d, f, s, y+1.4)
	if c.Note != "" {
		y = d.footer(f, c.Note, y+0.8)
	}
	d.H = y + 0.5
	return d, nil
}

// columns settles how wide labels, strips and words are.
func (c Calendar) columns(d *Drawing, f Frame) sheetOf {
	var s sheetOf
	gap := f.Look.TextMM * 0.6
	wide := 0.0
	for _, day := range c.Days {
		d.note(day.Label, day.Words)
		s.label = math.Max(s.label, f.main(day.Label).width())
		wide = math.Max(wide, f.main(day.Words).width())
	}
	s.label = math.Min(s.label, d.W*0.3)
	s.strip = s.label + gap
	s.wordsW = math.Min(wide, d.W*0.36)
	s.stripTo = d.W - 0.5
	room := s.stripTo - s.strip - s.wordsW - gap
	// Words that would break in two beside a short strip stand below it.
	if room >= leastStrip && (wide <= s.wordsW || room >= easyStrip) {
		s.words = s.stripTo - s.wordsW
		s.stripTo = s.words - gap
	} else {
		s.below, s.words, s.wordsW = true, s.strip, s.stripTo-s.strip
	}
	s.x = axis{lo: 0, hi: c.SpanH, from: s.strip, to: s.stripTo}
	return s
}

// clock sets the hours above the strips, every so many that they stay apart.
func (c Calendar) clock(d *Drawing, f Frame, s sheetOf, top float64) float64 {
	size := f.Look.SmallMM
	x := s.x
	for every := 1; every <= max(1, len(c.Ticks)); every++ {
		x.ticks = nil
		for i := 0; i < len(c.Ticks); i += every {
			text, _ := Clean(c.Ticks[i].Label)
			if x.holds(c.Ticks[i].AtH) && textWidth(text, size, Regular) <= d.W {
				x.ticks = append(x.ticks, tick{c.Ticks[i].AtH, text})
			}
		}
		if x.roomFor(x.ticks, size, d.W) {
			break
		}
	}
	for _, t := range x.ticks {
		d.Text(Text{X: x.textX(t, size, d.W), Y: top + size*ascent, S: t.text, SizeMM: size, Anchor: Middle, Role: Mute})
	}
	return top + size*leading
}

// day draws one strip with its label and words, and gives the y below.
func (c Calendar) day(d *Drawing, f Frame, s sheetOf, day CalendarDay, top float64) float64 {
	line := f.Look.TextMM * leading
	pad := line * 0.12
	role := Ink
	if day.None {
		role = Mute
	}
	label, told := f.main(day.Label).wrap(s.label), f.main(day.Words)
	told.role = role
	text := told.wrap(s.wordsW)
	tall := math.Max(line, height(label))
	if !s.below {
		tall = math.Max(tall, height(text))
	}
	d.put(label, 0, top, Start)
	y0, y1 := top+pad, top+line-pad
	box := func(a, b, y0, y1 float64) []Point { return []Point{{a, y0}, {b, y0}, {b, y1}, {a, y1}} }
	end := s.x.at(math.Min(day.SpanH, c.SpanH))
	var dark, starts [][]Point
	for _, n := range day.Dark {
		dark = append(dark, box(s.x.at(n[0]), math.Min(s.x.at(n[1]), end), y0, y1))
	}
	d.Area(dark, Fill{Role: Land})
	d.Line([][]Point{{{s.strip, y1}, {end, y1}}}, Stroke{Role: Shore, WidthMM: 0.2})
	for _, n := range day.Starts {
		a, b := s.x.at(n[0]), s.x.at(n[1])
		starts = append(starts, box(a, math.Max(b, a+0.6), y0, y1))
	}
	d.Area(starts, Fill{Role: Sea})
	if s.below {
		return d.put(text, s.words, top+tall, Start) + pad
	}
	d.put(text, s.words, top, Start)
	return top + tall
}

// keys says what the strips show.
func (c Calendar) keys(d *Drawing, f Frame, s sheetOf, top float64) float64 {
	line := f.Look.TextMM * leading
	for _, k := range []struct {
		text string
		role Role
	}{{c.StartsKey, Sea}, {c.DarkKey, Land}} {
		if k.text == "" {
			continue
		}
		d.note(k.text)
		mid := top + line/2
		d.Area([][]Point{{{0, mid - 1.4}, {6, mid - 1.4}, {6, mid + 1.4}, {0, mid + 1.4}}}, Fill{Role: k.role})
		top = d.put(f.main(k.text).wrap(d.W-8.5), 8, top, Start)
	}
	return top
}
