package quality

import (
	"slices"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

func timeRules() []Rule {
	block, ask, note := assay.Block, assay.Ask, assay.Note
	setting := []string{"setting_max_h"}
	return []Rule{
		{Slug: "set-out-missing", Severity: block, one: setOutMissing},
		{Slug: "check-not-after-setting-out", Severity: block, one: checkNotAfterSettingOut},
		{Slug: "checks-out-of-order", Severity: block, one: checksOutOfOrder},
		{Slug: "checks-at-same-time", Severity: block, one: checksAtSameTime},
		{Slug: "span-negative", Severity: block, one: spanNegative},
		{Slug: "retrieved-too-early", Severity: block, one: retrievedTooEarly},
		{Slug: "abandoned-too-early", Severity: ask, one: abandonedTooEarly},
		{Slug: "span-too-long", Severity: ask, Tolerances: setting, one: spanTooLong},
		{Slug: "end-without-start", Severity: ask, one: endWithoutStart},
		{Slug: "check-during-setting", Severity: ask, one: checkDuringSetting},
		{Slug: "in-future", Severity: ask, one: inFuture},
		{Slug: "long-ago", Severity: ask, one: longAgo},
		{Slug: "year-unlike-others", Severity: ask, across: yearUnlikeOthers},
		{Slug: "clock-put-back", Severity: ask, one: clockPutBack},
		{Slug: "zone-assumed", Severity: note, one: zoneAssumed},
	}
}

// written is one time of a record with its column.
type written struct {
	check int
	name  string // of the column, without the check's number
	assay.Moment
}

func (t written) field() string { return column(t.name, t.check) }

// eachTime calls with the known times of a record, in the order of the sheet.
func (r *row) eachTime(do func(written)) {
	d := r.d
	say := func(check int, name string, m assay.Moment) {
		if m.Known() {
			do(written{check, name, m})
		}
	}
	say(0, "deployed_at", d.SetOut)
	say(0, "deployed_until", d.SetOutUntil)
	for _, c := range d.Checks {
		say(c.Number, atCol, c.At)
		say(c.Number, untilCol, c.Until)
	}
	say(0, "retrieved_at", d.RetrievedAt)
	say(0, "abandoned_at", d.AbandonedAt)
}

func setOutMissing(r *row) {
	if !r.d.SetOut.Known() {
		r.say(hit{field: "deployed_at"})
	}
}

// checkNotAfterSettingOut also looks at the soak, which by the midpoints of
// setting and reading can be none though the check began later.
func checkNotAfterSettingOut(r *row) {
	for _, c := range r.d.Checks {
		soak, ok := r.d.SoakH(c)
		if ok && (soak <= 0 || !c.At.At.After(r.d.SetOut.At)) {
			r.say(hit{check: c.Number, field: column(atCol, c.Number), value: sheet.FormatMoment(c.At),
				with:  map[string]any{"check": c.Number, "at": c.At.Local(), "set_out": r.d.SetOut.Local()},
				about: []any{c.At, c.Until, r.d.SetOut, r.d.SetOutUntil}})
		}
	}
}

// pairs calls with each check that has a time and the one with a time before it.
func (r *row) pairs(do func(before, c assay.Check)) {
	var before assay.Check
	for _, c := range r.d.Checks {
		if !c.At.Known() {
			continue
		}
		if before.At.Known() {
			do(before, c)
		}
		before = c
	}
}

// checksOutOfOrder also looks at the soaks of the checks that were read, which
// by the midpoints of setting and reading can be out of order where the times
// are not: a record whose soak does not grow has no interval to count in.
func checksOutOfOrder(r *row) {
	said := map[int]bool{}
	say := func(before, c assay.Check) {
		said[c.Number] = true
		r.say(hit{check: c.Number, field: column(atCol, c.Number), value: sheet.FormatMoment(c.At),
			with:  map[string]any{"check": c.Number, "at": c.At.Local(), "check_before": before.Number, "before": before.At.Local()},
			about: []any{c.At, c.Until, before.At, before.Until}})
	}
	r.pairs(func(before, c assay.Check) {
		if c.At.At.Before(before.At.At) {
			say(before, c)
		}
	})
	var last assay.Check
	for _, c := range r.checks {
		soak, ok := r.d.SoakH(c)
		if !ok || !c.Read() {
			continue
		}
		soakBefore, some := r.d.SoakH(last)
		if some && soak <= soakBefore && !said[c.Number] && !c.At.At.Equal(last.At.At) {
			say(last, c)
		}
		last = c
	}
}

func checksAtSameTime(r *row) {
	r.pairs(func(before, c assay.Check) {
		if c.At.At.Equal(before.At.At) {
			r.say(hit{check: c.Number, field: column(atCol, c.Number), value: sheet.FormatMoment(c.At),
				with: map[string]any{"check": c.Number, "at": c.At.Local(), "check_before": before.Number}})
		}
	})
}

// span is the setting of the row or the reading of one check.
type span struct {
	check      int
	field      string // of its end
	from, till assay.Moment
}

// eachSpan calls with the spans whose two ends are known.
func (r *row) eachSpan(do func(span)) {
	if r.d.SetOut.Known() && r.d.SetOutUntil.Known() {
		do(span{0, "deployed_until", r.d.SetOut, r.d.SetOutUntil})
	}
	for _, c := range r.d.Checks {
		if c.At.Known() && c.Until.Known() {
			do(span{c.Number, untilCol, c.At, c.Until})
		}
	}
}

func (r *row) saySpan(s span, with map[string]any) {
	with["from"], with["until"] = s.from.Local(), s.till.Local()
	r.say(hit{check: s.check, field: column(s.field, s.check), value: sheet.FormatMoment(s.till), with: with, about: []any{s.from, s.till}})
}

func spanNegative(r *row) {
	r.eachSpan(func(s span) {
		if s.till.At.Before(s.from.At) {
			r.saySpan(s, map[string]any{})
		}
	})
}

func spanTooLong(r *row) {
	r.eachSpan(func(s span) {
		if h := s.till.At.Sub(s.from.At).Hours(); h > r.p.SettingMaxH {
			r.saySpan(s, map[string]any{"hours": h, "most_h": r.p.SettingMaxH})
		}
	})
}

// endWithoutStart leaves out setting, whose missing begin is blocked, and
// checks with counts, whose missing time is.
func endWithoutStart(r *row) {
	for _, c := range r.checks {
		if c.Until.Known() && !c.At.Known() && !c.Read() {
			r.say(hit{check: c.Number, field: column(atCol, c.Number),
				with: map[string]any{"check": c.Number, "until": c.Until.Local()}, about: []any{c.Until}})
		}
	}
}

// lastSeen is the latest time at which the row is known to have been in the
// water with its baits being read, else the time it was set out.
func (r *row) lastSeen() (m assay.Moment, check int) {
	m = r.d.SetOut
	for _, c := range r.checks {
		if c.Read() && c.At.Known() && c.At.At.After(m.At) {
			m, check = c.At, c.Number
		}
	}
	return m, check
}

func (r *row) tooEarly(field string, m assay.Moment) {
	if seen, check := r.lastSeen(); m.Known() && seen.Known() && m.At.Before(seen.At) {
		r.say(hit{field: field, value: sheet.FormatMoment(m),
			with: map[string]any{"at": m.Local(), "seen": seen.Local(), "when": whenOf(check)}, about: []any{m, seen}})
	}
}

// whenOf says setting out or a check, for a sentence.
func whenOf(check int) words.Ref {
	if check == 0 {
		return words.Ref{Slug: "quality.setting-out"}
	}
	return words.Ref{Slug: "quality.check", With: map[string]any{"check": check}}
}

func retrievedTooEarly(r *row) { r.tooEarly("retrieved_at", r.d.RetrievedAt) }

func abandonedTooEarly(r *row) { r.tooEarly("abandoned_at", r.d.AbandonedAt) }

func checkDuringSetting(r *row) {
	until := r.d.SetOutUntil
	for _, c := range r.d.Checks {
		if until.Known() && c.At.Known() && c.At.At.Before(until.At) && c.At.At.After(r.d.SetOut.At) && r.d.SetOut.Known() {
			r.say(hit{check: c.Number, field: column(atCol, c.Number), value: sheet.FormatMoment(c.At),
				with: map[string]any{"check": c.Number, "at": c.At.Local(), "until": until.Local()}, about: []any{c.At, until}})
		}
	}
}

func inFuture(r *row) {
	if r.j.ctx.Now.IsZero() {
		return
	}
	r.eachTime(func(t written) {
		if t.At.After(r.j.ctx.Now) {
			r.say(hit{check: t.check, field: t.field(), value: sheet.FormatMoment(t.Moment),
				with: map[string]any{"at": t.Local(), "now": r.j.ctx.Now.In(t.Local().Location())}, about: []any{t.Moment}})
		}
	})
}

// oldestYear: a bound of belief, no source. Spreadsheet programs show an empty
// date as 1899, 1900 or 1904, and a two-digit year may land in the 1900s.
const oldestYear = 1950

func longAgo(r *row) {
	if m := r.d.SetOut; m.Known() && m.At.Year() < oldestYear {
		r.say(hit{field: "deployed_at", value: sheet.FormatMoment(m), with: map[string]any{"at": m.Local(), "oldest": oldestYear}})
	}
}

// Of a season: rows needed before one can be unlike the others, and how far
// from their middle a row may be set out. Bounds of belief, no source.
const (
	seasonRowsMin = 4
	seasonHalf    = 183 * 24 * time.Hour
)

// yearUnlikeOthers asks about a row that is more than half a year from the
// middle of its season's rows while the same date in another year is not.
func yearUnlikeOthers(j *judging) {
	seasons := map[string][]*row{}
	for i := range j.rows {
		r := &j.rows[i]
		if r.d.Season != "" && r.d.SetOut.Known() {
			k := strings.Join([]string{r.d.Programme, r.d.Team, r.d.Season}, "\x1f")
			seasons[k] = append(seasons[k], r)
		}
	}
	for _, rows := range seasons {
		if len(rows) < seasonRowsMin {
			continue
		}
		at := make([]int64, len(rows))
		for k, r := range rows {
			at[k] = r.d.SetOut.At.Unix()
		}
		slices.Sort(at)
		middle := time.Unix(at[len(at)/2], 0).UTC()
		for _, r := range rows {
			r.yearUnlike(middle)
		}
	}
}

func (r *row) yearUnlike(middle time.Time) {
	m := r.d.SetOut
	off := func(t time.Time) time.Duration { return t.Sub(middle).Abs() }
	if off(m.At) <= seasonHalf {
		return
	}
	local := m.Local()
	best := local
	for y := middle.Year() - 1; y <= middle.Year()+1; y++ {
		if t := local.AddDate(y-local.Year(), 0, 0); off(t) < off(best) {
			best = t
		}
	}
	if best.Equal(local) || off(best) > seasonHalf {
		return
	}
	r.say(hit{field: "deployed_at", value: sheet.FormatMoment(m),
		with: map[string]any{"at": local, "season": r.d.Season, "middle": middle.Format("2006-01"), "mended": best}})
}

// clockPutBack asks about a local time that the clock showed twice; the first
// of its two readings stands until it is answered, as package sheet gives both.
func clockPutBack(r *row) {
	r.eachTime(func(t written) {
		zone := r.j.zone(t.Zone)
		if zone == nil {
			return // zone-assumed still tells the name
		}
		_, before := t.At.Add(-4 * time.Hour).In(zone).Zone()
		_, after := t.At.Add(4 * time.Hour).In(zone).Zone()
		if before == after {
			return
		}
		l := t.Local()
		reading := time.Date(l.Year(), l.Month(), l.Day(), l.Hour(), l.Minute(), l.Second(), l.Nanosecond(), time.UTC)
		if len(sheet.InZone(reading, zone)) > 1 {
			r.say(hit{check: t.check, field: t.field(), value: sheet.FormatMoment(t.Moment),
				with: map[string]any{"local": l.Format("2006-01-02 15:04"), "zone": t.Zone, "taken": l}})
		}
	})
}

// zone looks a time zone up once; nil when there is none of that name.
func (j *judging) zone(name string) *time.Location {
	if name == "" {
		return nil
	}
	if z, ok := j.zones[name]; ok {
		return z
	}
	z, err := time.LoadLocation(name)
	if err != nil {
		z = nil
	}
	if j.zones == nil {
		j.zones = map[string]*time.Location{}
	}
	j.zones[name] = z
	return z
}

// zoneAssumed speaks once for a record, at the first of its times without an offset.
func zoneAssumed(r *row) {
	n := 0
	var first written
	r.eachTime(func(t written) {
		if t.Zone != "" {
			if n == 0 {
				first = t
			}
			n++
		}
	})
	if n > 0 {
		r.say(hit{check: 0, field: first.field(), value: sheet.FormatMoment(first.Moment),
			with: map[string]any{"zone": first.Zone, "n": n, "at": first.Local()}, about: []any{first.Zone}})
	}
}
