package visits

import (
	"math"
	"slices"
	"time"

	"soakline/internal/sun"
)

// Window is a stretch of starts that will do, both ends to the second.
type Window struct {
	From, To time.Time
	// ClippedFrom and ClippedTo say that the range asked for, not a limit of water,
	// light or way, ends the window there.
	ClippedFrom, ClippedTo bool
	// LeaveBy is, for the setting and each check, the latest time to leave the row so
	// as to be over the way before it is cut; zero where it is not cut within a day
	// after the visit. Empty where no way was asked about.
	LeaveBy []time.Time
	// WayOpens is, for each of the same visits, when the way opened before it; zero
	// where it has been open for a day.
	WayOpens []time.Time
}

// Clipped reports that the range ends the window on one side or both.
func (w Window) Clipped() bool { return w.ClippedFrom || w.ClippedTo }

// Hours are hours of starts inside the range.
type Hours struct {
	Total                       float64
	Covered                     float64 // over the soak
	Workable, Light, Accessible float64 // at the setting and every check
	Slow, Kept                  float64 // rate of rise and fall; weekdays and quiet hours
	All                         float64 // every demand at once, the windows
}

// Plan is the answer: the windows, and what is needed to say why there are none.
type Plan struct {
	Ask     Ask
	Windows []Window
	Hours   Hours
	// UnknownFrom is where the water stops being known although starts of the range
	// ask for it; zero where it is known throughout.
	UnknownFrom time.Time

	source     Source
	water      *water
	light      set
	way        set
	conditions []condition
}

// kind names a demand.
type kind string

const (
	covered    kind = "covered"
	workable   kind = "workable"
	light      kind = "light"
	accessible kind = "accessible"
	slow       kind = "slow"
	kept       kind = "kept"
)

// condition is one demand: the times it is met, and the starts at which it is met
// as often and as long as asked.
type condition struct {
	kind   kind
	times  set
	starts set
}

// dayS is a day, seconds: as long before and after the visits the way is followed.
const dayS = 86400

// Find gives every start inside the range that will do.
//
// It returns a *Refusal for what cannot be meant, a *sun.Refusal for a position or
// year without light, and a *tide.Refusal for years without a tide.
func Find(src Source, ask Ask) (*Plan, error) {
	if err := ask.check(); err != nil {
		return nil, err
	}
	from, to := seconds(ask.From), seconds(ask.To)
	w, err := src.water(from-dayS, to+ask.ahead()+dayS)
	if err != nil {
		return nil, err
	}
	p := &Plan{Ask: ask, source: src, water: w}
	spans, err := sun.Light(ask.LatDeg, ask.LonDeg, ask.From.Add(-time.Hour), instant(to+ask.ahead()+3600), ask.Light)
	if err != nil {
		return nil, err
	}
	for _, s := range spans {
		p.light = p.light.add(span{seconds(s.From), seconds(s.To)})
	}
	p.demand(from, to)
	all := set{{from, to}}
	for _, c := range p.conditions {
		all = all.and(c.starts)
	}
	p.count(all)
	for _, s := range all {
		if w, ok := p.window(s, from, to); ok {
			p.Windows = append(p.Windows, w)
		}
	}
	p.unknown(from, to)
	return p, nil
}

// bands are the heights of the water between which people can work, and the one
// from which on the row is covered.
func (a *Ask) bands() (cover, low, high float64) {
	return a.ShallowBedM + a.CoverM + a.MarginM, a.ShallowBedM + a.WorkMinM + a.MarginM, a.DeepBedM + a.WorkMaxM - a.MarginM
}

// demand makes the conditions, with their starts inside the range.
func (p *Plan) demand(from, to float64) {
	a, w := &p.Ask, p.water
	cover, low, high := a.bands()
	under := w.above(cover)
	p.conditions = []condition{{covered, under, under.held(0, a.Soak.Seconds()).within(from, to)}}
	everyVisit := func(k kind, times set, before, after float64) {
		starts := set{{from, to}}
		for _, v := range a.visits() {
			starts = starts.and(times.held(v.after-before, before+v.long+after))
		}
		p.conditions = append(p.conditions, condition{k, times, starts})
	}
	everyVisit(workable, w.above(low).and(w.below(high)), 0, 0)
	everyVisit(light, p.light, 0, 0)
	if !math.IsNaN(a.AccessM) {
		p.way = w.below(a.AccessM - a.MarginM)
		before := 0.0
		if a.WayIn {
			before = a.Walking.Seconds()
		}
		everyVisit(accessible, p.way, before, a.Walking.Seconds())
	}
	if a.MaxRateMPerH > 0 {
		everyVisit(slow, w.slow(a.MaxRateMPerH), 0, 0)
	}
	if len(a.Weekdays) > 0 || a.QuietFrom != a.QuietTo {
		everyVisit(kept, a.keptTimes(from-dayS, to+a.ahead()+dayS), 0, 0)
	}
}

func (p *Plan) count(all set) {
	h := &p.Hours
	h.Total = p.Ask.To.Sub(p.Ask.From).Hours()
	h.Accessible, h.Slow, h.Kept = h.Total, h.Total, h.Total
	to := map[kind]*float64{covered: &h.Covered, workable: &h.Workable, light: &h.Light, accessible: &h.Accessible, slow: &h.Slow, kept: &h.Kept}
	for _, c := range p.conditions {
		*to[c.kind] = c.starts.hours()
	}
	h.All = all.hours()
}

// window rounds a stretch inwards to whole seconds; false when none is left.
func (p *Plan) window(s span, from, to float64) (Window, bool) {
	a, b := firstSecond(s.from), lastSecond(s.to)
	if b <= a {
		return Window{}, false
	}
	w := Window{From: instant(a), To: instant(b), ClippedFrom: s.from <= from+hair, ClippedTo: s.to >= to-hair}
	if p.way == nil && math.IsNaN(p.Ask.AccessM) {
		return w, true
	}
	for _, v := range p.Ask.visits() {
		leave, opens := time.Time{}, time.Time{}
		// All starts of the window share one opening of the way: it lies open from the
		// first one's visit to the last one's.
		if open, ok := p.way.at(s.from + v.after); ok {
			if cut := open.to; cut < s.to+v.after+v.long+p.Ask.Walking.Seconds()+dayS && p.knows(cut) {
				leave = instant(lastSecond(cut - p.Ask.Walking.Seconds()))
			}
			if open.from > s.from+v.after-dayS && p.knows(open.from) {
				opens = instant(firstSecond(open.from))
			}
		}
		w.LeaveBy, w.WayOpens = append(w.LeaveBy, leave), append(w.WayOpens, opens)
	}
	return w, true
}

// knows reports whether the water is known on both sides of a time: that an
// opening ends there for a tide, not for want of knowledge.
func (p *Plan) knows(s float64) bool {
	k, ok := p.water.known().at(s)
	return ok && k.from < s-1 && k.to > s+1
}

// unknown finds the first time that starts of the range ask about and that the
// water is not known for.
func (p *Plan) unknown(from, to float64) {
	at := from
	for _, k := range p.water.known() {
		if k.from <= at+hair && k.to > at {
			at = k.to
		}
	}
	if at < to+p.Ask.ahead()-hair {
		p.UnknownFrom = instant(at)
	}
}

// keptTimes is the set of times on the chosen weekdays and outside quiet hours, by
// the zone's clock.
func (a *Ask) keptTimes(from, to float64) set {
	var out set
	begin := instant(from).In(a.Zone)
	for y, m, d, i := begin.Year(), begin.Month(), begin.Day(), 0; ; i++ {
		day := time.Date(y, m, d+i, 12, 0, 0, 0, time.UTC)
		if seconds(day) > to+2*dayS {
			return out
		}
		if len(a.Weekdays) > 0 && !slices.Contains(a.Weekdays, day.Weekday()) {
			continue
		}
		for _, s := range sun.Spans(day.Year(), day.Month(), day.Day(), a.Zone) {
			one := set{{seconds(s.From), seconds(s.To)}}
			for _, o := range a.openHours(day) {
				for _, x := range one.and(set{o}) {
					out = out.add(x)
				}
			}
		}
	}
}

// openHours are the stretches of a day outside its quiet hours.
func (a *Ask) openHours(day time.Time) []span {
	clock := func(minute int) float64 {
		return seconds(time.Date(day.Year(), day.Month(), day.Day(), 0, minute, 0, 0, a.Zone))
	}
	begin, end := clock(0)-dayS, clock(24*60)+dayS
	from, to := clock(a.QuietFrom), clock(a.QuietTo)
	switch {
	case a.QuietFrom == a.QuietTo:
		return []span{{begin, end}}
	case a.QuietFrom < a.QuietTo:
		return []span{{begin, from}, {to, end}}
	}
	return []span{{to, from}}
}
