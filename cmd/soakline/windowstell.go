package main

import (
	"math"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/figure"
	"soakline/internal/visits"
	"soakline/internal/words"
)

type windowsJSON struct {
	Contract    int             `json:"contract"`
	Datum       string          `json:"datum"`
	Nodal       *string         `json:"nodal"`
	Zone        string          `json:"zone"`
	ShallowM    float64         `json:"shallow_bed_m"`
	DeepM       float64         `json:"deep_bed_m"`
	Windows     []windowJSON    `json:"windows"`
	Hours       hoursJSON       `json:"hours"`
	NoneBecause []words.Message `json:"none_because"`
	Days        []windowDayJSON `json:"days"`
	Messages    []words.Message `json:"messages"`
}

type windowJSON struct {
	From        string    `json:"from"`
	To          string    `json:"to"`
	Clipped     bool      `json:"clipped"`
	ClippedFrom bool      `json:"clipped_from"`
	ClippedTo   bool      `json:"clipped_to"`
	LeaveBy     []*string `json:"leave_by"`
	WayOpens    []*string `json:"way_opens"`
}

type hoursJSON struct {
	Total      float64 `json:"total"`
	Covered    float64 `json:"covered"`
	Workable   float64 `json:"workable"`
	Light      float64 `json:"light"`
	Accessible float64 `json:"accessible"`
	Slow       float64 `json:"slow"`
	Kept       float64 `json:"kept"`
	All        float64 `json:"all"`
}

type windowDayJSON struct {
	Date    string          `json:"date"`
	StartsH float64         `json:"starts_h"`
	Because []words.Message `json:"because"`
}

// windowsOf is the answer for another program: instants in UTC to the second.
func windowsOf(q *windowsQuestion, p *visits.Plan) windowsJSON {
	h := func(x float64) float64 { return decimals(x, 6) }
	j := windowsJSON{
		Contract: 1, Datum: q.datum, Zone: q.ask.Zone.String(), ShallowM: toTenthMM(q.ask.ShallowBedM), DeepM: toTenthMM(q.ask.DeepBedM),
		Windows: []windowJSON{}, NoneBecause: notNil(p.NoneBecause()), Days: []windowDayJSON{}, Messages: notNil(q.messages),
		Hours: hoursJSON{h(p.Hours.Total), h(p.Hours.Covered), h(p.Hours.Workable), h(p.Hours.Light), h(p.Hours.Accessible), h(p.Hours.Slow), h(p.Hours.Kept), h(p.Hours.All)},
	}
	if q.nodal != "" {
		j.Nodal = &q.nodal
	}
	instants := func(list []time.Time) []*string {
		out := []*string{}
		for _, t := range list {
			if t.IsZero() {
				out = append(out, nil)
				continue
			}
			s := utcText(t)
			out = append(out, &s)
		}
		return out
	}
	for _, w := range p.Windows {
		j.Windows = append(j.Windows, windowJSON{utcText(w.From), utcText(w.To), w.Clipped(), w.ClippedFrom, w.ClippedTo, instants(w.LeaveBy), instants(w.WayOpens)})
	}
	for _, d := range p.Days() {
		j.Days = append(j.Days, windowDayJSON{d.Date, h(d.StartsH), notNil(d.Because)})
	}
	return j
}

func notNil(list []words.Message) []words.Message {
	if list == nil {
		return []words.Message{}
	}
	return list
}

// fewDays is how many days without a start are told one by one.
const fewDays = 31

// printWindows is the answer for people: minutes on the safe side, local times with
// their clock, days without a start with the reason.
func (a *app) printWindows(q *windowsQuestion, p *visits.Plan) {
	z := q.ask.Zone
	a.print(a.out, a.say("cmd.windows.title", "latitude", q.ask.LatDeg, "longitude", q.ask.LonDeg, "from", visits.LocalDay(q.ask.From, z), "to", visits.LocalDay(q.ask.To, z)))
	if len(p.Windows) > 0 {
		heads := []string{a.say("cmd.windows.col-from"), a.say("cmd.windows.col-to")}
		if !math.IsNaN(q.ask.AccessM) {
			heads = append(heads, a.say("cmd.windows.col-leave-setting"))
			for _, c := range q.ask.Checks {
				heads = append(heads, a.say("cmd.windows.col-leave-check", "soak", c.Hours()))
			}
		}
		t := a.table(heads...)
		for _, w := range p.Windows {
			t.row(a.windowCells(w, z)...)
		}
		t.print()
	}
	a.print(a.out, a.say("cmd.windows.hours", "all", p.Hours.All, "total", p.Hours.Total, "covered", p.Hours.Covered, "workable", p.Hours.Workable, "light", p.Hours.Light, "accessible", p.Hours.Accessible))
	a.printWhyNone(p)
	a.print(a.out, "")
	a.print(a.out, a.say("cmd.tide.datum", "datum", q.datum))
	for _, m := range q.messages {
		a.print(a.out, m.In(a.lang))
	}
	a.print(a.out, a.say("windows.caution"))
}

func (a *app) windowCells(w visits.Window, z *time.Location) []any {
	from, to := w.Minutes()
	ends := func(text string, clipped bool) string {
		if clipped {
			return a.say("cmd.windows.clipped", "at", text)
		}
		return text
	}
	cells := []any{ends(visits.LocalDay(from, z), w.ClippedFrom), ends(visits.LocalDay(to, z), w.ClippedTo)}
	for _, t := range w.LeaveBy {
		if t.IsZero() {
			cells = append(cells, a.say("cmd.windows.not-cut"))
			continue
		}
		cells = append(cells, visits.LocalDay(visits.Minute(t, visits.End), z))
	}
	return cells
}

// printWhyNone tells why there is no start, on the range or on each day.
func (a *app) printWhyNone(p *visits.Plan) {
	if len(p.Windows) == 0 {
		a.print(a.out, a.say("cmd.windows.none"))
		for _, m := range p.NoneBecause() {
			a.print(a.out, "  "+m.In(a.lang))
		}
	}
	told := 0
	for _, d := range p.Days() {
		if len(d.Because) == 0 {
			continue
		}
		switch told++; {
		case told == 1:
			a.print(a.out, "")
			a.print(a.out, a.say("cmd.windows.days-without"))
			fallthrough
		case told <= fewDays:
			a.print(a.out, "  "+d.Date+"  "+d.Because[0].In(a.lang))
		}
	}
	if told > fewDays {
		a.print(a.out, a.say("cmd.windows.more-days", "n", told-fewDays))
	}
}

// pictureDays bounds the days of a drawing.
const pictureDays = 4

// drawDay draws the day of the first window, or the one named, up to the end of
// the day of the last visit.
func (a *app) drawDay(c *cobra.Command, p *windowsFlags, q *windowsQuestion, plan *visits.Plan) ([]byte, error) {
	z := q.ask.Zone
	day := q.ask.From.In(z)
	if len(plan.Windows) > 0 {
		day = plan.Windows[0].From.In(z)
	}
	if p.day != "" {
		d, err := time.ParseInLocation(time.DateOnly, p.day, z)
		if err != nil {
			return nil, a.wanted(c, "--day", p.day, "cmd.wanted.date")
		}
		day = d
	}
	midnight := func(days int) time.Time {
		return time.Date(day.Year(), day.Month(), day.Day()+days, 0, 0, 0, 0, z)
	}
	from, to := midnight(0), midnight(1)
	var windows []visits.Window
	for _, w := range plan.Windows {
		if w.To.After(from) && w.From.Before(to) {
			windows = append(windows, w)
		}
	}
	if n := len(q.ask.Checks); len(windows) > 0 && n > 0 {
		last := windows[0].From.Add(q.ask.Checks[n-1] + q.ask.Reading + q.ask.Retrieving + q.ask.Walking)
		for days := 1; to.Before(last) && days < pictureDays; days++ {
			to = midnight(days + 1)
		}
	}
	y, err := a.dayPicture(q, plan, windows, from, to)
	if err != nil {
		return nil, err
	}
	d, err := figure.DrawDay(y, figure.Frame{ID: "day-" + from.Format(time.DateOnly), WidthMM: figure.ScreenMM(1040), Look: figure.Screen})
	if err != nil {
		return nil, err
	}
	return d.SVG(), nil
}

// dayPicture gathers what the drawing shows. The visits are those of the earliest
// start of the first window.
func (a *app) dayPicture(q *windowsQuestion, plan *visits.Plan, windows []visits.Window, from, to time.Time) (figure.Day, error) {
	z := q.ask.Zone
	at := func(t time.Time) float64 { return t.Sub(from).Hours() }
	pic, err := plan.Picture(from, to, 6*time.Minute)
	if err != nil {
		return figure.Day{}, visitsError(err)
	}
	y := figure.Day{
		Title: a.say("cmd.windows.day-title", "date", from.Format(time.DateOnly), "zone", z.String()), SpanH: at(to), HeightLabel: a.say("cmd.windows.day-height", "datum", q.datum),
		BedM: q.ask.ShallowBedM, BedLabel: a.say("cmd.windows.day-row"), WayM: q.ask.AccessM - q.ask.MarginM, WayLabel: a.say("cmd.windows.day-way"), Note: a.say("windows.caution"),
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
	desc := ""
	for _, w := range windows {
		first, last := w.Minutes()
		label := a.say("cmd.windows.day-starts", "from", visits.Local(first, z), "to", visits.Local(last, z))
		y.Bars = append(y.Bars, figure.DayBar{FromH: at(first), ToH: at(last), Label: label})
		desc += label + ". "
	}
	if len(windows) > 0 {
		a.dayVisits(q, windows[0], &y, at)
	} else {
		desc = a.say("cmd.windows.none")
		for _, d := range plan.Days() {
			if d.Date == from.Format(time.DateOnly) && len(d.Because) > 0 {
				desc = d.Because[0].In(a.lang)
			}
		}
		y.Note = desc + " " + y.Note
	}
	y.Desc = desc
	return y, nil
}

// dayVisits adds the visits of the earliest start of a window and when to leave.
func (a *app) dayVisits(q *windowsQuestion, w visits.Window, y *figure.Day, at func(time.Time) float64) {
	z, k := q.ask.Zone, q.ask
	start, _ := w.Minutes()
	add := func(label string, t time.Time, long time.Duration) {
		y.Visits = append(y.Visits, figure.DayVisit{FromH: at(t), ToH: at(t.Add(long)), Label: label + " " + t.In(z).Format("15:04")})
	}
	add(a.say("cmd.windows.day-set"), start, k.Setting)
	for i, c := range k.Checks {
		long := k.Reading
		if i == len(k.Checks)-1 {
			long += k.Retrieving
		}
		add(a.say("cmd.windows.day-check", "soak", c.Hours()), start.Add(c), long)
	}
	seen := map[time.Time]bool{}
	for _, t := range w.LeaveBy {
		if m := visits.Minute(t, visits.End); !t.IsZero() && !seen[m] && at(m) <= y.SpanH {
			seen[m] = true
			y.Leave = append(y.Leave, figure.DayTick{AtH: at(m), Label: a.say("cmd.windows.day-leave", "at", visits.Local(m, z))})
		}
	}
}
