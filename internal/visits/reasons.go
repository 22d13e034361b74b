package visits

import (
	"math"
	"slices"
	"sort"
	"time"

	"soakline/internal/words"
)

// Day is one calendar day of the zone: how long one may start on it, and if not at
// all, why.
type Day struct {
	Date    string // 2026-07-01
	From    time.Time
	To      time.Time
	StartsH float64
	Because []words.Message // empty when there are starts; else the deciding reason first
}

// Days are the days of the range, by the zone's calendar.
func (p *Plan) Days() []Day {
	var out []Day
	z := p.Ask.Zone
	for at := p.Ask.From; at.Before(p.Ask.To); {
		local := at.In(z)
		next := nextDay(at, z)
		if next.After(p.Ask.To) {
			next = p.Ask.To
		}
		d := Day{Date: local.Format(time.DateOnly), From: at, To: next}
		for _, w := range p.Windows {
			from, to := w.From, w.To
			if from.Before(at) {
				from = at
			}
			if to.After(next) {
				to = next
			}
			if to.After(from) {
				d.StartsH += to.Sub(from).Hours()
			}
		}
		if d.StartsH == 0 {
			d.Because = p.because(seconds(at), seconds(next))
		}
		out = append(out, d)
		at = next
	}
	return out
}

// nextDay is the first instant of the next date on the clock of a zone. A clock set
// back over midnight makes the date come twice; then the second piece is one more day.
func nextDay(at time.Time, z *time.Location) time.Time {
	l := at.In(z)
	next := time.Date(l.Year(), l.Month(), l.Day()+1, 0, 0, 0, 0, z).UTC()
	for !next.After(at) {
		next = next.Add(time.Hour)
	}
	// Where midnight does not exist, the date begins up to some hours earlier than
	// time.Date says; it is later than at in any case.
	for prev := next.Add(-30 * time.Minute); prev.After(at) && prev.In(z).Day() != l.Day(); prev = prev.Add(-30 * time.Minute) {
		next = prev
	}
	return next
}

// NoneBecause says why there is no window in the range, the deciding reason first,
// and then the nearest start and the nearest bed that would do. It is empty when
// there is a window.
func (p *Plan) NoneBecause() []words.Message {
	if len(p.Windows) > 0 {
		return nil
	}
	list := p.because(seconds(p.Ask.From), seconds(p.Ask.To))
	if m, ok := p.nearestStart(); ok {
		list = append(list, m)
	}
	if m, ok := p.nearestBed(); ok {
		list = append(list, m)
	}
	return list
}

func say(slug string, pairs ...any) words.Message {
	return words.Message{Slug: slug, With: with(pairs...)}
}

// because tells why no start in [from, to] will do. The deciding demand is the one
// without which there would be most starts, else the one met least; then follow
// those that no start meets by themselves.
func (p *Plan) because(from, to float64) []words.Message {
	a := &p.Ask
	cover, low, high := a.bands()
	if low > high {
		return []words.Message{say("windows.no-band", "least", a.WorkMinM, "most", a.WorkMaxM, "margin", a.MarginM, "low", low, "high", high)}
	}
	judged := p.water.known().held(0, a.ahead()).within(from, to)
	if len(judged) == 0 {
		at := p.UnknownFrom
		if k, ok := p.water.known().at(from); ok {
			at = instant(k.to)
		}
		return []words.Message{say("windows.unknown", "at", LocalDay(at, a.Zone))}
	}
	type part struct {
		condition
		others, own set
	}
	parts := make([]part, len(p.conditions))
	for i, c := range p.conditions {
		parts[i] = part{c, judged, c.starts.within(from, to)}
		for j, d := range p.conditions {
			if i != j {
				parts[i].others = parts[i].others.and(d.starts)
			}
		}
	}
	slices.SortStableFunc(parts, func(x, y part) int {
		if d := y.others.hours() - x.others.hours(); math.Abs(d) > 1e-9 {
			return int(math.Copysign(1, d))
		}
		if d := x.own.hours() - y.own.hours(); math.Abs(d) > 1e-9 {
			return int(math.Copysign(1, d))
		}
		return 0
	})
	var out []words.Message
	for i, q := range parts {
		among := q.others
		if len(among) == 0 {
			among = judged
		}
		if i == 0 || q.own.hours() == 0 {
			out = append(out, p.reason(q.kind, among, cover, low, high))
		}
	}
	if len(out) == 1 && len(parts[0].others) == 0 {
		out = append(out, say("windows.never-together"))
	}
	return out
}

// reason tells how a demand fails at the start among these at which it fails least.
func (p *Plan) reason(k kind, among set, cover, low, high float64) words.Message {
	fails := map[kind]func(float64) miss{
		covered:    func(t float64) miss { return p.uncovered(t, cover) },
		workable:   func(t float64) miss { return p.unworkable(t, low, high) },
		light:      p.dark,
		accessible: p.cutOff,
		slow:       p.fast,
		kept:       p.notKept,
	}[k]
	best := miss{by: math.Inf(1)}
	tries := p.tries(k, among)
	slices.Sort(tries)
	for _, t := range tries { // the first of those that fail alike
		if m := fails(t); m.by < best.by-1e-9 && m.by > 0 {
			best = m
		}
	}
	if best.tell == nil { // met at every try: the two stretches only touch
		return say("windows.moment")
	}
	return best.tell()
}

// miss is by how much a demand fails at a start, in a unit of its own, and how to
// say so.
type miss struct {
	by   float64
	tell func() words.Message
}

// tries are starts among which the least failure is looked for: ends of the
// stretches, turns of the water and events of light as they meet the visits, and
// starts in between.
func (p *Plan) tries(k kind, among set) []float64 {
	var out []float64
	grid := math.Max(600, among.hours()*3600/200)
	for _, s := range among {
		out = append(out, s.from, s.to)
		for t := s.from + grid; t < s.to; t += grid {
			out = append(out, t)
		}
	}
	add := func(at float64) {
		if _, in := among.at(at); in {
			out = append(out, at)
		}
	}
	events := func(at float64) {
		add(at)
		for _, v := range p.Ask.visits() {
			add(at - v.after)
			add(at - v.after - v.long)
		}
		add(at - p.Ask.Soak.Seconds())
	}
	lo, hi := among[0].from, among[len(among)-1].to+p.Ask.ahead()
	if k == light {
		for _, s := range p.light.within(lo, hi) {
			events(s.from)
			events(s.to)
		}
		return out
	}
	for _, run := range p.water.stretches {
		for i := sort.Search(len(run), func(i int) bool { return run[i].at >= lo }); i < len(run) && run[i].at <= hi; i++ {
			events(run[i].at)
		}
	}
	return out
}

// at is an instant for a sentence: the day where it is not the start's.
func (p *Plan) at(s float64, w Way) string {
	if w == Begin {
		return LocalDay(Minute(instant(firstSecond(s)), w), p.Ask.Zone)
	}
	return LocalDay(Minute(instant(lastSecond(s)), w), p.Ask.Zone)
}

// named is a visit as a sentence calls it.
func (p *Plan) named(i int) words.Ref {
	if i == 0 {
		return words.Ref{Slug: "windows.visit-setting"}
	}
	return words.Ref{Slug: "windows.visit-check", With: with("soak", p.Ask.Checks[i-1].Hours())}
}

func (p *Plan) uncovered(t, cover float64) miss {
	low, _, ok := p.water.extremes(t, t+p.Ask.Soak.Seconds())
	if !ok {
		return miss{by: math.Inf(1)}
	}
	depth := low.height - p.Ask.ShallowBedM
	return miss{cover - low.height, func() words.Message {
		if depth < 0 {
			return say("windows.dry", "start", p.at(t, Begin), "at", p.at(low.at, Begin), "by", -depth, "asked", p.Ask.CoverM+p.Ask.MarginM)
		}
		return say("windows.thin", "start", p.at(t, Begin), "at", p.at(low.at, Begin), "depth", depth, "asked", p.Ask.CoverM+p.Ask.MarginM)
	}}
}

// worst is the visit of a start at which a demand fails most.
func (p *Plan) worst(t float64, at func(i int, from, to float64) miss) miss {
	worst := miss{by: math.Inf(-1)}
	for i, v := range p.Ask.visits() {
		if m := at(i, t+v.after, t+v.after+v.long); m.by > worst.by {
			worst = m
		}
	}
	return worst
}

func (p *Plan) unworkable(t, low, high float64) miss {
	return p.worst(t, func(i int, from, to float64) miss {
		l, h, ok := p.water.extremes(from, to)
		if !ok {
			return miss{by: math.Inf(1)}
		}
		a := &p.Ask
		if shallow := low - l.height; shallow >= h.height-high {
			return miss{shallow, func() words.Message {
				return say("windows.shallow", "start", p.at(t, Begin), "visit", p.named(i), "at", p.at(l.at, Begin), "depth", l.height-a.ShallowBedM, "least", a.WorkMinM+a.MarginM)
			}}
		}
		return miss{h.height - high, func() words.Message {
			return say("windows.deep", "start", p.at(t, Begin), "visit", p.named(i), "at", p.at(h.at, Begin), "depth", h.height-a.DeepBedM, "most", a.WorkMaxM-a.MarginM)
		}}
	})
}

func (p *Plan) dark(t float64) miss {
	return p.worst(t, func(i int, from, to float64) miss {
		n := p.light.search(from)
		if n < len(p.light) && p.light[n].from <= from+hair && p.light[n].to >= to-hair {
			return miss{by: 0}
		}
		best := miss{2 * dayS, func() words.Message {
			return say("windows.no-light", "start", p.at(t, Begin), "visit", p.named(i), "at", p.at(from, Begin))
		}}
		if n < len(p.light) && p.light[n].from > from { // light comes later
			if by := p.light[n].from - from; by < best.by {
				best = miss{by, func() words.Message {
					return say("windows.before-light", "start", p.at(t, Begin), "visit", p.named(i), "minutes", minutes(by), "at", p.at(p.light[n].from, Begin))
				}}
			}
		}
		last := n - 1
		if n < len(p.light) && p.light[n].from <= from {
			last = n
		}
		if last >= 0 {
			if by := to - p.light[last].to; by > 0 && by < best.by {
				best = miss{by, func() words.Message {
					return say("windows.after-dark", "start", p.at(t, Begin), "visit", p.named(i), "minutes", minutes(by), "at", p.at(p.light[last].to, End))
				}}
			}
		}
		return best
	})
}

// minutes are whole ones, upwards: a failure is never told as none.
func minutes(s float64) int { return int(math.Ceil(s/60 - hair)) }

func (p *Plan) cutOff(t float64) miss {
	return p.worst(t, func(i int, from, to float64) miss {
		walk := p.Ask.Walking.Seconds()
		open, ok := p.way.at(from)
		switch {
		case !ok:
			_, high, known := p.water.extremes(from, from)
			if !known {
				return miss{by: math.Inf(1)}
			}
			by := high.height - (p.Ask.AccessM - p.Ask.MarginM)
			return miss{dayS + by, func() words.Message {
				return say("windows.way-closed", "start", p.at(t, Begin), "visit", p.named(i), "by", by)
			}}
		case open.to < to+walk:
			by := to + walk - open.to
			return miss{by, func() words.Message {
				return say("windows.way-cut", "start", p.at(t, Begin), "visit", p.named(i), "at", p.at(open.to, End), "minutes", minutes(by))
			}}
		case p.Ask.WayIn && open.from > from-walk:
			by := open.from - from + walk
			return miss{by, func() words.Message {
				return say("windows.way-in", "start", p.at(t, Begin), "visit", p.named(i), "at", p.at(open.from, Begin), "minutes", minutes(by))
			}}
		}
		return miss{by: 0}
	})
}

func (p *Plan) fast(t float64) miss {
	k, _ := p.water.known().at(t)
	return p.worst(t, func(i int, from, to float64) miss {
		most := 0.0
		for n := 0.0; n <= 8; n++ {
			most = math.Max(most, math.Abs(p.water.rate(from+(to-from)*n/8, k.from, k.to)))
		}
		return miss{most - p.Ask.MaxRateMPerH, func() words.Message {
			return say("windows.fast", "start", p.at(t, Begin), "visit", p.named(i), "rate", most, "most", p.Ask.MaxRateMPerH)
		}}
	})
}

func (p *Plan) notKept(t float64) miss {
	times := set(nil)
	for _, c := range p.conditions {
		if c.kind == kept {
			times = c.times
		}
	}
	return p.worst(t, func(i int, from, to float64) miss {
		if s, ok := times.at(from); ok && s.to >= to-hair {
			return miss{by: 0}
		}
		return miss{1, func() words.Message {
			return say("windows.not-kept", "start", p.at(t, Begin), "visit", p.named(i), "at", p.at(from, Begin))
		}}
	})
}

// nearDays is how far before and after the range a start is looked for.
const nearDays = 30

// nearestStart is the window nearest to the range, by the same demands.
func (p *Plan) nearestStart() (words.Message, bool) {
	a := p.Ask
	a.From, a.To = a.From.AddDate(0, 0, -nearDays), a.To.AddDate(0, 0, nearDays)
	if a.To.Sub(a.From) > maxRange {
		return words.Message{}, false
	}
	wide, err := Find(p.source, a)
	if err != nil {
		return words.Message{}, false
	}
	best, found := Window{}, false
	far := func(w Window) time.Duration {
		return max(p.Ask.From.Sub(w.To), w.From.Sub(p.Ask.To))
	}
	for _, w := range wide.Windows {
		if !found || far(w) < far(best) {
			best, found = w, true
		}
	}
	if !found {
		return say("windows.nearest-none", "days", nearDays), true
	}
	return say("windows.nearest-start", "from", LocalDay(Minute(best.From, Begin), a.Zone), "to", LocalDay(Minute(best.To, End), a.Zone)), true
}

// The steps in which another bed is looked for, and how far.
const (
	bedStepM = 0.05
	bedFarM  = 3.0
)

// nearestBed is the bed nearest to the row's with a start of five minutes or more
// in the range.
func (p *Plan) nearestBed() (words.Message, bool) {
	from, to := seconds(p.Ask.From), seconds(p.Ask.To)
	for n := 1; float64(n)*bedStepM <= bedFarM+1e-9; n++ {
		for _, shift := range []float64{-float64(n) * bedStepM, float64(n) * bedStepM} {
			q := &Plan{Ask: p.Ask, water: p.water, light: p.light}
			q.Ask.ShallowBedM += shift
			q.Ask.DeepBedM += shift
			q.demand(from, to)
			all := set{{from, to}}
			for _, c := range q.conditions {
				all = all.and(c.starts)
			}
			for _, s := range all {
				if s.to-s.from >= 300 {
					slug := "windows.nearest-bed-deeper"
					if shift > 0 {
						slug = "windows.nearest-bed-shallower"
					}
					return say(slug, "by", math.Abs(shift), "bed", q.Ask.ShallowBedM, "from", p.at(s.from, Begin), "to", p.at(s.to, End)), true
				}
			}
		}
	}
	return words.Message{}, false
}
