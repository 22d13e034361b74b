package main

import (
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"soakline/internal/task"
	"soakline/internal/visits"
	"soakline/internal/words"
)

type windowsJSON struct {
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
func windowsOf(one *task.Planned) windowsJSON {
	h := func(x float64) float64 { return decimals(x, 6) }
	p := one.Plan
	ask := &p.Ask
	j := windowsJSON{
		Datum: one.Datum, Zone: ask.Zone.String(), ShallowM: toTenthMM(ask.ShallowBedM), DeepM: toTenthMM(ask.DeepBedM),
		Windows: []windowJSON{}, NoneBecause: notNil(p.NoneBecause()), Days: []windowDayJSON{}, Messages: notNil(one.Messages),
		Hours: hoursJSON{h(p.Hours.Total), h(p.Hours.Covered), h(p.Hours.Workable), h(p.Hours.Light), h(p.Hours.Accessible), h(p.Hours.Slow), h(p.Hours.Kept), h(p.Hours.All)},
	}
	if one.Nodal != "" {
		j.Nodal = &one.Nodal
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
// their clock, days without a start with the reason; or, by day, a calendar.
func (a *app) printWindows(one *task.Planned, byDay bool) {
	p := one.Plan
	ask := &p.Ask
	z := ask.Zone
	a.print(a.out, a.say("cmd.windows.title", "latitude", ask.LatDeg, "longitude", ask.LonDeg, "from", visits.LocalDay(ask.From, z), "to", visits.LocalDay(ask.To, z)))
	switch {
	case byDay:
		a.printByDay(p)
	case len(p.Windows) > 0:
		heads := []string{a.say("cmd.windows.col-from"), a.say("cmd.windows.col-to")}
		if !math.IsNaN(ask.AccessM) {
			heads = append(heads, a.say("cmd.windows.col-leave-setting"))
			for _, c := range ask.Checks {
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
	a.printWhyNone(p, byDay)
	a.print(a.out, "")
	a.print(a.out, a.say("cmd.tide.datum", "datum", one.Datum))
}

// cellsADay is how many signs stand for a day in the terminal's calendar: one for
// every half hour.
const cellsADay = 48

// printByDay draws one line a day: dark, light, starts, and the starts in words.
func (a *app) printByDay(p *visits.Plan) {
	days := task.CalendarDays(a.lang, p)
	if len(days) == 0 {
		return
	}
	last := days[len(days)-1]
	pic, err := p.Picture(days[0].Date, last.Date.Add(last.Length), 24*time.Hour)
	if err != nil {
		return // Find has looked at the same light
	}
	wide := 0
	for _, d := range days {
		wide = max(wide, utf8.RuneCountInString(d.Label))
	}
	pad := func(s string) string { return s + strings.Repeat(" ", wide-utf8.RuneCountInString(s)) }
	for _, d := range days {
		if d.Month != "" {
			a.print(a.out, d.Month)
			a.print(a.out, pad("")+"  "+"0           6           12          18          24")
		}
		line := make([]rune, cellsADay)
		for i := range line {
			from := d.Date.Add(time.Duration(i) * 30 * time.Minute)
			to := from.Add(30 * time.Minute)
			line[i] = ' '
			for _, n := range pic.Dark {
				if mid := from.Add(15 * time.Minute); !mid.Before(n.From) && mid.Before(n.To) {
					line[i] = '░'
				}
			}
			for _, s := range d.Starts {
				if s[0].Before(to) && !s[1].Before(from) {
					line[i] = '█'
				}
			}
		}
		a.print(a.out, pad(d.Label)+"  "+string(line)+"  "+d.Words)
	}
	a.print(a.out, a.say("cmd.windows.by-day-key"))
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
func (a *app) printWhyNone(p *visits.Plan, byDay bool) {
	if len(p.Windows) == 0 {
		a.print(a.out, a.say("windows.none"))
		for _, m := range p.NoneBecause() {
			a.print(a.out, "  "+m.In(a.lang))
		}
	}
	if byDay {
		return // the calendar has told it day by day
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
