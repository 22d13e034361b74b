package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"soakline/internal/figure"
	"soakline/internal/sheet"
	"soakline/internal/sun"
	"soakline/internal/task"
	"soakline/internal/visits"
	"soakline/internal/words"
)

// mostDays bounds the range of one question on the desk.
const mostDays = 62

// daysView is the page that finds the days on which a row can be set out.
type daysView struct {
	Sites    []option
	From, To string
	Ways     []option
	Way      string
	Margin   string
	Setting  string
	Reading  string
	NoSites  bool
	Asked    bool
	Query    string
	Answers  []daysAnswer
	Caution  string
	Wrong    []string
	Invited  string
}

// daysAnswer is what is told of one site.
type daysAnswer struct {
	Key, Name, Told   string
	Heads             []string
	Windows           [][]string
	None              []string
	Hazards, Shelter  string
	Emergency         string
	Gaps, Messages    []string
	Calendar, Picture *picture
	Without           []string // days without a start, with the reason in full
}

// daysAsk reads the question from an address; its values come back in the form.
func (d *Desk) daysAsk(q url.Values, s *task.Season, v *daysView) (k task.PlanAsk, err error) {
	l := d.language()
	or := func(name, usual string) string {
		if q.Has(name) {
			return strings.TrimSpace(q.Get(name))
		}
		return usual
	}
	v.From, v.To = or("from", d.today(0)), or("to", d.today(14))
	v.Margin, v.Setting, v.Reading = or("margin", "0.2"), or("setting", "20"), or("reading", "15")
	v.Asked = q.Has("site")
	for _, x := range s.Sites {
		v.Sites = append(v.Sites, option{x.Name, x.Name, slices.Contains(q["site"], x.Name)})
	}
	v.NoSites = len(s.Sites) == 0
	protocol, ok := s.Protocols[s.Settings.Protocol]
	if !ok {
		protocol = sheet.Standard()
	}
	way := or("way", "")
	for i, w := range protocol.Ways {
		label := l.Say("web.days.way", words.P{"way": task.WayWord(l, w.Name), "min": w.DepthMinM, "max": w.DepthMaxM})
		chosen := w.Name == way || way == "" && i == 0
		if v.Ways = append(v.Ways, option{w.Name, label, chosen}); chosen {
			k.Way = w.Name
		}
	}
	if k.Way == "" {
		k.Way = way
	}
	k.Sites, k.From, k.Protocol = q["site"], v.From, s.Settings.Protocol
	k.Demand.Light = sun.Civil
	if err := daysNumbers(v, &k); err != nil {
		return k, err
	}
	from, errF := time.Parse(time.DateOnly, v.From)
	to, errT := time.Parse(time.DateOnly, v.To)
	switch days := int(to.Sub(from).Hours() / 24); {
	case errF != nil:
		return k, &task.Refused{Slug: "task.no-time", With: words.P{"given": v.From}}
	case errT != nil:
		return k, &task.Refused{Slug: "task.no-time", With: words.P{"given": v.To}}
	case days < 0 || days >= mostDays:
		return k, &task.Refused{Slug: "web.days.range", With: words.P{"most": mostDays}}
	}
	k.To = to.AddDate(0, 0, 1).Format(time.DateOnly) // the last day counts
	return k, nil
}

// daysNumbers reads margin and durations.
func daysNumbers(v *daysView, k *task.PlanAsk) error {
	var faults []*sheet.Fault
	number := func(column, text string, most float64) float64 {
		m, f := sheet.ParseNumber(column, text)
		x := m.Or(0)
		if f == nil && !(x >= 0 && x <= most) {
			f = &sheet.Fault{Column: column}
			f.Wrong.Slug, f.Wrong.With = "web.days.number", words.P{"text": text}
			f.Do.Slug, f.Do.With = "web.days.number-do", words.P{"most": most}
		}
		if f != nil {
			faults = append(faults, f)
		}
		return x
	}
	minutes := func(x float64) time.Duration { return time.Duration(x * float64(time.Minute)).Round(time.Second) }
	k.Demand.MarginM = number("web_margin", v.Margin, 10)
	k.Demand.Setting = minutes(number("web_setting", v.Setting, 600))
	k.Demand.Reading = minutes(number("web_reading", v.Reading, 600))
	k.Demand.Retrieving = k.Demand.Reading
	if len(faults) > 0 {
		return &task.FaultyValues{Faults: faults}
	}
	return nil
}

func (d *Desk) daysPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	v := daysView{Caution: l.Say("windows.caution", nil), Query: r.URL.RawQuery}
	status := http.StatusOK
	k, err := d.daysAsk(r.URL.Query(), s, &v)
	var list []task.Planned
	if err == nil && v.Asked {
		list, err = task.PlanSites(r.Context(), b.book, k)
	}
	if err != nil {
		p, code := explain(l, err)
		v.Wrong, status = p.Lines, code
		v.Asked = false
	}
	g := &drawings{}
	for i := range list {
		a, err := d.daysAnswer(g, &list[i])
		if err != nil {
			return err
		}
		v.Answers = append(v.Answers, a)
	}
	return d.show(w, r, b, status, "days", l.Say("web.days.title", nil), v)
}

// daysAnswer tells one site: the starts, what to mind, the days at a glance and the
// first day that will do.
func (d *Desk) daysAnswer(g *drawings, one *task.Planned) (daysAnswer, error) {
	l := d.language()
	a := daysAnswer{Key: one.Site.Key, Name: one.Site.Name, Hazards: one.Site.Hazards, Shelter: one.Site.Shelter, Emergency: one.Site.Emergency}
	for _, m := range one.Gaps {
		a.Gaps = append(a.Gaps, m.In(l))
	}
	for _, m := range one.Messages {
		a.Messages = append(a.Messages, m.In(l))
	}
	if one.Plan == nil {
		a.Told = l.Say("site.cannot", nil)
		return a, nil
	}
	days := task.CalendarDays(l, one.Plan)
	with := 0
	for _, x := range days {
		if !x.None {
			with++
		} else if x.Why != "" {
			a.Without = append(a.Without, x.Label+": "+x.Why)
		}
	}
	a.Told = l.Say("windows.calendar-told", words.P{"with": with, "of": len(days)})
	for _, m := range one.Plan.NoneBecause() {
		a.None = append(a.None, m.In(l))
	}
	a.windowTable(l, one.Plan)
	short := l.Say("windows.caution-short", nil) // the whole stands once on the page
	cal, err := task.CalendarPicture(l, one.Plan, one.Site.Name, short)
	if err != nil {
		return a, err
	}
	p, err := g.both(func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawCalendar(cal, f) })
	if err != nil {
		return a, err
	}
	a.Calendar = &p
	day := one.Plan.Ask.From.In(one.Zone)
	if len(one.Plan.Windows) > 0 {
		day = one.Plan.Windows[0].From.In(one.Zone)
	}
	datum := one.Datum
	if datum == "" {
		datum = l.Say("site.datum-unstated", nil)
	}
	y, err := task.DayPicture(l, one.Plan, one.Site.Name, datum, day, short)
	if err != nil {
		return a, err
	}
	first, err := g.both(func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawDay(y, f) })
	if err != nil {
		return a, err
	}
	first.Title = l.Say("windows.day-title", words.P{"date": day.Format(time.DateOnly), "zone": one.Zone.String()})
	a.Picture = &first
	return a, nil
}

// windowTable lists every start with the times to leave.
func (a *daysAnswer) windowTable(l words.Language, plan *visits.Plan) {
	k := &plan.Ask
	if len(plan.Windows) == 0 {
		return
	}
	a.Heads = []string{l.Say("cmd.windows.col-from", nil), l.Say("cmd.windows.col-to", nil)}
	if len(plan.Windows[0].LeaveBy) > 0 {
		a.Heads = append(a.Heads, l.Say("cmd.windows.col-leave-setting", nil))
		for _, c := range k.Checks {
			a.Heads = append(a.Heads, l.Say("cmd.windows.col-leave-check", words.P{"soak": c.Hours()}))
		}
	}
	for _, w := range plan.Windows {
		from, to := w.Minutes()
		short := func(t time.Time) string { // the date stands where it is another than the start's
			if t.In(k.Zone).Format(time.DateOnly) == from.In(k.Zone).Format(time.DateOnly) {
				return visits.Local(t, k.Zone)
			}
			return visits.LocalDay(t, k.Zone)
		}
		cells := []string{visits.LocalDay(from, k.Zone), short(to)}
		for _, t := range w.LeaveBy {
			if t.IsZero() {
				cells = append(cells, l.Say("cmd.windows.not-cut", nil))
				continue
			}
			cells = append(cells, short(visits.Minute(t, visits.End)))
		}
		a.Windows = append(a.Windows, cells)
	}
}

// daysCalendar sends the starts as a calendar file.
func (d *Desk) daysCalendar(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	var v daysView
	k, err := d.daysAsk(r.URL.Query(), s, &v)
	if err != nil {
		return err
	}
	list, err := task.PlanSites(r.Context(), b.book, k)
	if err != nil {
		return err
	}
	var named []visits.Named
	for _, one := range list {
		if one.Plan != nil {
			named = append(named, visits.Named{Place: one.Site.Name, Plan: one.Plan, Mind: task.MindOf(d.language(), &one.Site)})
		}
	}
	send(w, "text/calendar; charset=utf-8", fileName(b, "days.ics"), visits.Calendar(named, d.language(), d.o.Now()))
	return nil
}
