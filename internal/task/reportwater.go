package task

import (
	"slices"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/figure"
	"soakline/internal/publish"
	"soakline/internal/report"
	"soakline/internal/sun"
	"soakline/internal/visits"
	"soakline/internal/water"
	"soakline/internal/words"
)

// What a report asks of a start where nobody said otherwise: metres of margin, and
// minutes of work. Common practice, no source.
const (
	reportMarginM  = 0.2
	reportSetting  = 20 * time.Minute
	reportReading  = 15 * time.Minute
	mostReportDays = 92 // of one calendar
	mostPictures   = 24 // of days, over all sites; at least one a site
)

// reportWater is the part of a report on water and light: every site of the season
// whose tide is known, but those that are kept from the public, whose tide would tell
// where they are. It is nil where no site has a tide.
func (s *Season) reportWater(o ReportOptions) (*report.Water, error) {
	rows := map[string][]*assay.Deployment{}
	for i := range s.Deployments {
		d := &s.Deployments[i]
		if site, err := FindSite(s.Sites, d.Site); err == nil && d.SetOut.Known() && s.tides[site.Name] != nil {
			rows[site.Name] = append(rows[site.Name], d)
		}
	}
	if len(rows) == 0 {
		return nil, nil
	}
	usual := s.usual()
	k := PlanAsk{Way: o.Way, Demand: visits.Ask{MarginM: o.MarginM.Or(reportMarginM), Setting: reportSetting, Reading: reportReading, Light: sun.Civil}}
	if o.Way == "" {
		k.WorkMinM, k.WorkMaxM = anyWay(&usual)
	}
	if err := k.by(&usual); err != nil {
		return nil, err
	}
	w := &report.Water{}
	var shown []assay.Site
	for _, site := range s.Sites {
		switch {
		case rows[site.Name] == nil:
		case s.keptBack(&site):
			w.Withheld++
		default:
			shown = append(shown, site)
		}
	}
	for _, site := range shown {
		one, err := s.siteWater(o.Lang, site, rows[site.Name], k, max(1, mostPictures/len(shown)))
		if err != nil {
			return nil, err
		}
		w.Sites = append(w.Sites, one)
	}
	return w, nil
}

// anyWay is from the least to the greatest depth of a protocol's ways of working.
func anyWay(p *assay.Protocol) (least, most float64) {
	for i, w := range p.Ways {
		if i == 0 {
			least, most = w.DepthMinM, w.DepthMaxM
		}
		least, most = min(least, w.DepthMinM), max(most, w.DepthMaxM)
	}
	return least, most
}

// keptBack says whether a site is kept from the public, by the site book or by what
// is said of a publication under any of its names.
func (s *Season) keptBack(site *assay.Site) bool {
	if yes, _ := site.Sensitive.Get(); yes {
		return true
	}
	return slices.ContainsFunc(s.Publication.Sensitive, func(p publish.Sensitive) bool {
		return p.Site == site.Name || slices.Contains(site.Synonyms, p.Site)
	})
}

// siteWater is the calendar and the days of one site.
func (s *Season) siteWater(l words.Language, site assay.Site, rows []*assay.Deployment, k PlanAsk, most int) (report.SiteWater, error) {
	out := report.SiteWater{Site: site.Name}
	tell := func(slug string, with words.P) { out.Told = append(out.Told, l.Say(slug, with)) }
	days := daysOf(rows, siteZone(&site))
	first, last := days[0], days[len(days)-1]
	long := int(last.Sub(first).Hours()/24+0.5) + 1
	if long > mostReportDays {
		tell("report.water-cut", words.P{"n": mostReportDays, "of": long})
		last = first.AddDate(0, 0, mostReportDays-1)
	}
	k.From, k.To = first.Format(time.DateOnly), last.AddDate(0, 0, 1).Format(time.DateOnly)
	p, err := planSite(site, k, func() (*water.Opened, error) { return s.tides[site.Name], nil })
	if refused, ok := err.(*Refused); ok {
		tell("report.water-cannot", words.P{"text": l.Say(refused.Slug, refused.With)})
		return out, nil
	}
	if err != nil {
		return out, err
	}
	if p.Plan == nil {
		tell("report.water-cannot", words.P{"text": p.Gaps[0].In(l)})
		return out, nil
	}
	datum, way := p.Datum, ""
	if datum == "" {
		datum = l.Say("site.datum-unstated", nil)
	}
	if k.Way != "" {
		way = l.Say("report.water-way", words.P{"way": WayWord(l, k.Way)})
	}
	a := &p.Plan.Ask
	tell("report.water-asked", words.P{"min": a.WorkMinM, "max": a.WorkMaxM, "way": way, "margin": a.MarginM, "setting": a.Setting.Minutes(), "reading": a.Reading.Minutes(), "soak": a.Soak.Hours(), "datum": datum})
	if out.Calendar, err = CalendarPicture(l, p.Plan, site.Name, ""); err != nil {
		return out, err
	}
	tell("windows.calendar-told", words.P{"with": withStart(out.Calendar.Days), "of": len(out.Calendar.Days)})
	for _, m := range p.Messages {
		out.Told = append(out.Told, m.In(l))
	}
	if len(days) > most {
		tell("report.water-days-cut", words.P{"n": most, "of": len(days)})
		days = days[:most]
	}
	for _, day := range days {
		y, err := s.dayMade(l, &p, s.tides[site.Name].Source, datum, day, rows)
		if err != nil {
			return out, err
		}
		out.Days = append(out.Days, y)
	}
	return out, nil
}

func withStart(days []figure.CalendarDay) (n int) {
	for _, d := range days {
		if !d.None {
			n++
		}
	}
	return n
}

// daysOf are the days on which rows were set out, midnights of a zone, in order.
func daysOf(rows []*assay.Deployment, z *time.Location) (days []time.Time) {
	for _, d := range rows {
		y, m, day := d.SetOut.At.In(z).Date()
		days = append(days, time.Date(y, m, day, 0, 0, 0, 0, z))
	}
	slices.SortFunc(days, time.Time.Compare)
	return slices.CompactFunc(days, time.Time.Equal)
}

// dayMade draws one day of setting out with the visits as they were made: those of
// one kind together, from the first to the last.
func (s *Season) dayMade(l words.Language, p *Planned, src visits.Source, datum string, day time.Time, rows []*assay.Deployment) (figure.Day, error) {
	made, last := s.visitsMade(day, rows)
	to := day.AddDate(0, 0, 1)
	for days := 1; to.Before(last) && days < pictureDays; days++ {
		to = day.AddDate(0, 0, days+1)
	}
	var windows []visits.Window
	for _, w := range p.Plan.Windows {
		if w.To.After(day) && w.From.Before(day.AddDate(0, 0, 1)) {
			windows = append(windows, w)
		}
	}
	y, err := dayPicture(l, p.Plan, windows, p.Site.Name, datum, day, to, "")
	if err != nil {
		return y, err
	}
	k := &p.Plan.Ask
	at := func(t time.Time) float64 { return t.Sub(day).Hours() }
	var seen []time.Time
	for _, v := range made {
		if at(v.to) > y.SpanH {
			continue
		}
		y.Visits = append(y.Visits, figure.DayVisit{FromH: at(v.from), ToH: at(v.to), Label: v.label(l, k.Zone)})
		y.Desc += v.label(l, k.Zone) + ". "
		leave, _ := leaveAt(src, k.AccessM-k.MarginM, k.Walking, v.to)
		if !p.Site.AccessM.Known() || leave.IsZero() || at(leave) > y.SpanH || slices.ContainsFunc(seen, leave.Equal) {
			continue
		}
		seen = append(seen, leave)
		y.Leave = append(y.Leave, figure.DayTick{AtH: at(leave), Label: l.Say("windows.day-leave", words.P{"at": visits.Local(leave, k.Zone)})})
	}
	y.Desc = strings.TrimSpace(y.Desc)
	return y, nil
}

// visitMade are the visits of one kind on one day: check 0 is setting out.
type visitMade struct {
	check    int
	soakH    float64
	n        int
	from, to time.Time
}

func (v visitMade) label(l words.Language, z *time.Location) string {
	text := l.Say("windows.day-set", nil)
	if v.check > 0 {
		text = l.Say("windows.day-check", words.P{"soak": v.soakH})
	}
	text += " " + v.from.In(z).Format("15:04")
	if to := v.to.In(z).Format("15:04"); v.to.Sub(v.from) >= time.Minute {
		text += "–" + to
	}
	if v.n > 1 {
		text += " (" + l.Say("report.water-rows", words.P{"n": v.n}) + ")"
	}
	return text
}

// visitsMade gathers the visits to the rows set out on a day, and the end of the last.
func (s *Season) visitsMade(day time.Time, rows []*assay.Deployment) (list []visitMade, last time.Time) {
	by := map[int]*visitMade{}
	add := func(check int, soakH float64, from, until assay.Moment) {
		if !from.Known() {
			return
		}
		end := from.At
		if until.Known() && until.At.After(end) {
			end = until.At
		}
		v := by[check]
		if v == nil {
			v = &visitMade{check: check, soakH: soakH, from: from.At, to: end}
			by[check] = v
		}
		v.n++
		if from.At.Before(v.from) {
			v.from = from.At
		}
		v.to, last = laterOf(v.to, end), laterOf(last, end)
	}
	for _, d := range rows {
		if d.SetOut.At.Before(day) || !d.SetOut.At.Before(day.AddDate(0, 0, 1)) {
			continue
		}
		add(0, 0, d.SetOut, d.SetOutUntil)
		p := s.protocolOf(d)
		for _, c := range d.Checks {
			soakH, ok := d.SoakH(c)
			if n := c.Number - 1; n >= 0 && n < len(p.Checks) {
				soakH, ok = p.Checks[n].SoakH, true
			}
			if ok && c.At.Known() && c.At.At.Sub(day).Abs() <= longestSoak {
				add(c.Number, soakH, c.At, c.Until)
			}
		}
	}
	for _, v := range by {
		list = append(list, *v)
	}
	slices.SortFunc(list, func(a, b visitMade) int {
		if c := a.from.Compare(b.from); c != 0 {
			return c
		}
		return a.check - b.check
	})
	return list, last
}
