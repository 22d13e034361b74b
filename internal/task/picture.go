package task

import (
	"math"
	"strconv"
	"strings"
	"time"

	"soakline/internal/figure"
	"soakline/internal/sun"
	"soakline/internal/visits"
	"soakline/internal/words"
)

// pictureDays bounds the days of one drawing of a day.
const pictureDays = 4

// DayPicture is what a drawing of one day shows: water and light at the row, the
// starts of that day, the visits of the earliest of them and when to have left; up
// to the end of the day of the last visit. name stands before the date; datum is
// what heights are above. Where no start will do the reason is told.
// caution is what stands at the foot: the whole of it in a file of its own, the short
// one where the whole stands beside the drawing.
func DayPicture(l words.Language, plan *visits.Plan, name, datum string, day time.Time, caution string) (figure.Day, error) {
	a := &plan.Ask
	z := a.Zone
	y, m, d := day.Date()
	midnight := func(days int) time.Time { return time.Date(y, m, d+days, 0, 0, 0, 0, z) }
	from, to := midnight(0), midnight(1)
	var windows []visits.Window
	for _, w := range plan.Windows {
		if w.To.After(from) && w.From.Before(to) {
			windows = append(windows, w)
		}
	}
	if n := len(a.Checks); len(windows) > 0 && n > 0 {
		last := windows[0].From.Add(a.Checks[n-1] + a.Reading + a.Retrieving + a.Walking)
		for days := 1; to.Before(last) && days < pictureDays; days++ {
			to = midnight(days + 1)
		}
	}
	pic, err := dayPicture(l, plan, windows, name, datum, from, to, caution)
	if err == nil && len(windows) > 0 {
		dayVisits(l, plan, windows[0], &pic, func(t time.Time) float64 { return t.Sub(from).Hours() })
	}
	return pic, err
}

// dayPicture is the water, the light and the starts from one midnight to another.
func dayPicture(l words.Language, plan *visits.Plan, windows []visits.Window, name, datum string, from, to time.Time, caution string) (figure.Day, error) {
	a := &plan.Ask
	z := a.Zone
	at := func(t time.Time) float64 { return t.Sub(from).Hours() }
	pic, err := plan.Picture(from, to, 6*time.Minute)
	if err != nil {
		return figure.Day{}, waterRefusal(err)
	}
	title := l.Say("windows.day-title", words.P{"date": from.Format(time.DateOnly), "zone": z.String()})
	if name != "" {
		title = name + ": " + title
	}
	y := figure.Day{
		Title: title, SpanH: at(to), HeightLabel: l.Say("windows.day-height", words.P{"datum": datum}),
		BedM: a.ShallowBedM, BedLabel: l.Say("windows.day-row", nil), WayM: a.AccessM - a.MarginM, WayLabel: l.Say("windows.day-way", nil), Note: caution,
	}
	for _, h := range pic.Heights {
		y.Water = append(y.Water, figure.DayWater{AtH: at(h.At), HeightM: h.HeightM})
	}
	for _, s := range pic.Dark {
		y.Dark = append(y.Dark, [2]float64{at(s.From), at(s.To)})
	}
	for t := from; !t.After(to); t = t.Add(3 * time.Hour) {
		y.Ticks = append(y.Ticks, figure.DayTick{AtH: at(t), Label: t.In(z).Format("15:04")})
	}
	for _, w := range windows {
		first, last := w.Minutes()
		label := l.Say("windows.day-starts", words.P{"from": clockOf(first, from, to, z), "to": clockOf(last, from, to, z)})
		y.Bars = append(y.Bars, figure.DayBar{FromH: at(first), ToH: at(last), Label: label})
		y.Desc += label + ". "
	}
	if len(windows) > 0 {
		return y, nil
	}
	y.Desc = l.Say("windows.none", nil)
	for _, d := range plan.Days() {
		if d.Date == from.Format(time.DateOnly) && len(d.Because) > 0 {
			y.Desc = d.Because[0].In(l)
		}
	}
	y.Note = strings.TrimSpace(y.Desc + " " + y.Note)
	return y, nil
}

// clockOf is a time of day; with its date where it is not on the days drawn.
func clockOf(t, from, to time.Time, z *time.Location) string {
	if t.Before(from) || !t.Before(to) {
		return visits.LocalDay(t, z)
	}
	return visits.Local(t, z)
}

// dayVisits adds the visits of the earliest start of a window and when to leave.
func dayVisits(l words.Language, plan *visits.Plan, w visits.Window, y *figure.Day, at func(time.Time) float64) {
	k := &plan.Ask
	z := k.Zone
	start, _ := w.Minutes()
	add := func(label string, t time.Time, long time.Duration) {
		y.Visits = append(y.Visits, figure.DayVisit{FromH: at(t), ToH: at(t.Add(long)), Label: label + " " + t.In(z).Format("15:04")})
	}
	add(l.Say("windows.day-set", nil), start, k.Setting)
	for i, c := range k.Checks {
		long := k.Reading
		if i == len(k.Checks)-1 {
			long += k.Retrieving
		}
		add(l.Say("windows.day-check", words.P{"soak": c.Hours()}), start.Add(c), long)
	}
	seen := map[time.Time]bool{}
	for _, t := range w.LeaveBy {
		if m := visits.Minute(t, visits.End); !t.IsZero() && !seen[m] && at(m) <= y.SpanH {
			seen[m] = true
			y.Leave = append(y.Leave, figure.DayTick{AtH: at(m), Label: l.Say("windows.day-leave", words.P{"at": visits.Local(m, z)})})
		}
	}
}

// CalendarDay is one day of a plan as people read it.
type CalendarDay struct {
	Date   time.Time // its first instant
	Length time.Duration
	Label  string // weekday and day of the month
	Month  string // where one begins, or the list does
	Starts [][2]time.Time
	Words  string // the starts, or in a few words why there are none
	None   bool
	Why    string // the whole sentence where there are none
}

// CalendarDays tells a plan day by day.
func CalendarDays(l words.Language, plan *visits.Plan) []CalendarDay {
	z := plan.Ask.Zone
	var out []CalendarDay
	for _, d := range plan.Days() {
		date, err := time.Parse(time.DateOnly, d.Date)
		if err != nil {
			continue // Days writes none such
		}
		spans := sun.Spans(date.Year(), date.Month(), date.Day(), z)
		if len(spans) == 0 {
			continue
		}
		from, to := spans[0].From, spans[len(spans)-1].To
		c := CalendarDay{Date: from, Length: to.Sub(from)}
		c.Label = l.Say("windows.weekday-"+strconv.Itoa(int(date.Weekday())), nil) + " " + strconv.Itoa(date.Day())
		if len(out) == 0 || date.Day() == 1 {
			c.Month = l.Say("windows.month-"+strconv.Itoa(int(date.Month())), nil) + " " + strconv.Itoa(date.Year())
		}
		for _, w := range plan.Windows {
			a, b := w.Minutes()
			if b.Before(from) || !a.Before(to) {
				continue
			}
			c.addStarts(laterOf(a, from), earlierOf(b, to), z)
		}
		if len(c.Starts) == 0 {
			c.None = true
			if len(d.Because) > 0 {
				c.Words, c.Why = l.Say("windows.short-"+d.Because[0].Slug[len("windows."):], nil), d.Because[0].In(l)
			}
		}
		out = append(out, c)
	}
	return out
}

func (c *CalendarDay) addStarts(from, to time.Time, z *time.Location) {
	c.Starts = append(c.Starts, [2]time.Time{from, to})
	end := to.In(z).Format("15:04")
	if !to.Before(c.Date.Add(c.Length)) {
		end = "24:00"
	}
	if c.Words != "" {
		c.Words += ", "
	}
	c.Words += from.In(z).Format("15:04") + "–" + end
	if _, a := c.Date.In(z).Zone(); c.clockChanges(z, a) {
		c.Words += " " + from.In(z).Format("MST")
	}
}

// clockChanges says whether another offset is in force at the end of the day.
func (c *CalendarDay) clockChanges(z *time.Location, offset int) bool {
	_, b := c.Date.Add(c.Length - time.Second).In(z).Zone()
	return b != offset
}

func laterOf(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlierOf(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// CalendarPicture is the drawing of many days; caution as in DayPicture.
func CalendarPicture(l words.Language, plan *visits.Plan, name, caution string) (figure.Calendar, error) {
	z := plan.Ask.Zone
	c := figure.Calendar{
		SpanH: 24, StartsKey: l.Say("windows.calendar-starts", nil), DarkKey: l.Say("windows.calendar-dark", nil), Note: strings.TrimSpace(l.Say("windows.calendar-clock", words.P{"zone": z.String()}) + " " + caution),
	}
	for h := 0; h <= 24; h += 3 {
		c.Ticks = append(c.Ticks, figure.DayTick{AtH: float64(h), Label: strconv.Itoa(h) + ":00"})
	}
	days := CalendarDays(l, plan)
	if len(days) == 0 {
		return c, refuse("no-days")
	}
	first, last := days[0], days[len(days)-1]
	c.Title = l.Say("windows.calendar-heading", words.P{"place": name, "from": first.Date.In(z).Format(time.DateOnly), "to": last.Date.In(z).Format(time.DateOnly)})
	pic, err := plan.Picture(first.Date, last.Date.Add(last.Length), 24*time.Hour)
	if err != nil {
		return c, waterRefusal(err)
	}
	with := 0
	for _, d := range days {
		at := func(t time.Time) float64 { return t.Sub(d.Date).Hours() }
		day := figure.CalendarDay{Head: d.Month, Label: d.Label, SpanH: d.Length.Hours(), Words: d.Words, None: d.None}
		c.SpanH = math.Max(c.SpanH, day.SpanH)
		for _, s := range pic.Dark {
			if s.To.After(d.Date) && s.From.Before(d.Date.Add(d.Length)) {
				day.Dark = append(day.Dark, [2]float64{math.Max(0, at(s.From)), math.Min(day.SpanH, at(s.To))})
			}
		}
		for _, s := range d.Starts {
			day.Starts = append(day.Starts, [2]float64{at(s[0]), at(s[1])})
		}
		if !d.None {
			with++
		}
		c.Days = append(c.Days, day)
	}
	c.Desc = l.Say("windows.calendar-told", words.P{"with": with, "of": len(days)})
	return c, nil
}
