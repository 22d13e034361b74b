package intake

import (
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/pattern"
	"soakline/internal/sheet"
)

// halves is a time whose day and clock may stand in two cells.
type halves struct {
	date, clock stamp
	hasDate     bool
	hasClock    bool
	dateC, c    int
	depth       bool
}

// pending is a bare local time, to be read by its site's clock.
type pending struct {
	rec    int
	column string
	local  time.Time
	t      *Table
	i, c   int
	into   map[string]string // of a sighting; nil for the record
}

// afterHours is a check given by hours since setting out.
type afterHours struct {
	rec    int
	column string
	hours  float64
}

// time reads one cell of a column of times.
func (l *lineReader) time(f *field, raw string, kind Kind) {
	if isBlank(raw) {
		return
	}
	if kind == Text && f.ending == "" {
		if isInstant(raw) {
			l.setOwnTime(f, raw)
			return
		}
		if m, fault := sheet.ParseMoment(f.base, raw); fault == nil {
			if !strings.Contains(raw, "T") {
				raw = sheet.FormatMoment(m)
			}
			l.setOwnTime(f, raw)
			return
		}
	}
	if f.ending == asAfter {
		l.hours(f, raw, kind)
		return
	}
	st, ok := readStamp(raw, kind, l.s.m.DayOrder, l.s.m.Serials)
	if ok && f.ending == asDate && !st.hasDate || ok && f.ending == asTime && !st.hasClock || ok && f.ending == "" && st.hasDate && !st.hasClock {
		ok = false
	}
	if !ok {
		_, fault := sheet.ParseMoment(f.base, raw)
		if fault == nil {
			fault = &sheet.Fault{Wrong: said("sheet.instant.wrong", "value", raw, "column", f.base), Do: said("sheet.instant.do", "value", raw, "column", f.base)}
		}
		if fault.Wrong.Slug == "sheet.instant-zone.wrong" {
			fault.Wrong.Slug, fault.Do.Slug = "sheet.instant.wrong", "sheet.instant.do"
		}
		l.fault(f.c, fault)
		return
	}
	if l.times == nil {
		l.times = map[string]*halves{}
	}
	h := l.times[f.base]
	if h == nil {
		h = &halves{c: f.c, dateC: f.c, depth: f.def.Kind == sheet.Depth}
		l.times[f.base] = h
	}
	switch f.ending {
	case asDate:
		h.date, h.hasDate, h.dateC = st, true, f.c
	case asTime:
		h.clock, h.hasClock, h.c = st, true, f.c
		if st.hasDate && !h.hasDate {
			h.date, h.hasDate = st, true
		}
	default:
		if st.hasDate {
			h.date, h.hasDate = st, true
		}
		h.clock, h.hasClock, h.c = st, st.hasClock, f.c
	}
}

var hoursPattern = pattern.New(`(?i)^(\d{1,3}(?:[.,]\d+)?)\s*(?:h|hr|hrs|horas?|hours?)?$`)

func (l *lineReader) hours(f *field, raw string, kind Kind) {
	hours := -1.0
	if m := hoursPattern.FindStringSubmatch(raw); m != nil && kind != Clock {
		hours, _ = strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64)
	} else if st, ok := clockOf(raw); ok {
		hours = float64(st.sec) / 3600
	}
	if hours < 0 {
		l.fault(f.c, &sheet.Fault{Wrong: said("intake.hours", "value", raw), Do: said("intake.hours-do")})
		return
	}
	l.noteMet(f.base)
	l.b.after = append(l.b.after, afterHours{l.at, f.base, hours})
}

// setTime files a canonical instant under its column, or beside the record.
func (l *lineReader) setTime(base, text string) {
	if _, _, wide := sheet.Find(sheet.Wide, base); !wide {
		l.own[base] = text
		return
	}
	l.noteMet(base)
	l.x.set(base, text)
}

// setOwnTime is setTime for a column that is already looked up.
func (l *lineReader) setOwnTime(f *field, text string) {
	if f.slot < 0 {
		l.own[f.base] = text
		return
	}
	l.x.put(f.slot, text)
}

func (l *lineReader) noteMet(base string) {
	if _, k, ok := sheet.Find(sheet.Wide, base); ok && k > 0 {
		if l.met == nil {
			l.met = map[int]bool{}
		}
		l.met[k] = true
	}
}

// joinTimes puts days and clocks together, setting out first: a check without
// a day of its own is counted from it.
func (l *lineReader) joinTimes() {
	if len(l.times) == 0 {
		return
	}
	if h := l.times["deployed_at"]; h != nil && !h.hasDate && l.day.hasDate {
		h.date, h.hasDate = l.day, true
	}
	names := sortedKeys(l.times)
	sort.SliceStable(names, func(i, j int) bool { return names[i] == "deployed_at" && names[j] != "deployed_at" })
	for _, base := range names {
		h := l.times[base]
		switch {
		case h.hasDate && h.hasClock:
		case h.hasDate:
			l.b.halfTimes(l.t, l.i, h.dateC, base)
			continue
		default:
			if !l.findDay(base, h) {
				l.b.r.Faults = append(l.b.r.Faults, Fault{Place: l.t.Place(l.i, h.c), Wrong: said("intake.no-day", "column", base), Do: said("intake.no-day-do")})
				continue
			}
		}
		l.whole(base, h)
	}
}

// halfTimes notes a date without its time of day, once for each column.
func (b *builder) halfTimes(t *Table, i, c int, column string) {
	for k := range b.notices {
		if n := &b.notices[k]; n.Slug == "intake.date-without-time" && n.With["column"] == column && n.File == t.File && n.Sheet == t.Sheet {
			n.With["n"] = n.With["n"].(int) + 1
			return
		}
	}
	b.notices = append(b.notices, Notice{t.Place(i, c), said("intake.date-without-time", "column", column, "n", 1)})
}

// whole files a time that has day and clock.
func (l *lineReader) whole(base string, h *halves) {
	st := h.date
	st.sec, st.hasClock = h.clock.sec, true
	zone := h.clock
	if !zone.hasZone {
		zone = h.date
	}
	if zone.hasZone {
		offset := zone.offset
		if !zone.full.IsZero() {
			_, offset = zone.full.Zone()
		}
		at := st.local().Add(-time.Duration(offset) * time.Second)
		l.setTime(base, sheet.FormatMoment(assay.Moment{At: at, OffsetS: offset, Zone: zone.zone}))
		return
	}
	p := pending{rec: l.at, column: base, local: st.local(), t: l.t, i: l.i, c: h.c}
	if _, _, wide := sheet.Find(sheet.Wide, base); !wide {
		p.into = l.own
	}
	l.noteMet(base)
	l.b.pending = append(l.b.pending, p)
}

// findDay gives a bare clock its day: of the check's nominal hours, of the time
// it ends, or of setting out.
func (l *lineReader) findDay(base string, h *halves) bool {
	out, ok := l.outLocal()
	if !ok {
		return false
	}
	_, k, _ := sheet.Find(sheet.Wide, base)
	want := out
	switch {
	case base == "deployed_at":
		return false
	case base == "deployed_until", base == "depth_at":
	case k > 0 && l.s.m.CheckDates == "nominal":
		hours := 0.0
		if k <= len(l.s.m.Hours) {
			hours = l.s.m.Hours[k-1]
		} else if k <= len(l.b.p.a.c.NominalH) {
			hours = l.b.p.a.c.NominalH[k-1]
		}
		want = out.Add(time.Duration(hours * float64(time.Hour)))
	case k > 0 && l.s.m.CheckDates == "same-day":
		day := out.Truncate(24 * time.Hour)
		h.date, h.hasDate = ofTime(day, false), true
		return true
	default:
		return false
	}
	// The day on which this clock reading comes nearest to the time wanted.
	day := want.Truncate(24 * time.Hour)
	best, gap := day, math.Inf(1)
	for _, d := range []int{-1, 0, 1} {
		t := day.AddDate(0, 0, d)
		if g := math.Abs(t.Add(time.Duration(h.clock.sec) * time.Second).Sub(want).Hours()); g < gap {
			best, gap = t, g
		}
	}
	h.date, h.hasDate = ofTime(best, false), true
	return true
}

// outLocal is the clock reading of setting out, in UTC only by name.
func (l *lineReader) outLocal() (time.Time, bool) {
	if h := l.times["deployed_at"]; h != nil && h.hasDate && h.hasClock {
		st := h.date
		st.sec = h.clock.sec
		return st.local(), true
	}
	m, fault := sheet.ParseMoment("deployed_at", l.x.Get("deployed_at"))
	if fault != nil || !m.Known() {
		return time.Time{}, false
	}
	return m.At.Add(time.Duration(m.OffsetS) * time.Second), true
}

// afterHours turns hours since setting out into instants.
func (b *builder) afterHours() {
	for _, a := range b.after {
		if a.rec >= len(b.r.Records) {
			continue
		}
		x := &b.r.Records[a.rec]
		m, fault := sheet.ParseMoment("deployed_at", x.Get("deployed_at"))
		if fault != nil || !m.Known() {
			continue
		}
		at := assay.Moment{At: m.At.Add(time.Duration(math.Round(a.hours*3600)) * time.Second), OffsetS: m.OffsetS}
		if m.Zone != "" {
			if loc, err := time.LoadLocation(m.Zone); err == nil {
				_, at.OffsetS = at.At.In(loc).Zone()
				at.Zone = m.Zone
			}
		}
		x.set(a.column, sheet.FormatMoment(at))
	}
}
