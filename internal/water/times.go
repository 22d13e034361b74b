package water

import (
	"strconv"
	"strings"
	"time"

	"soakline/internal/pattern"
	"soakline/internal/tide"
)

// timeColumn reads the times of a water file: where they stand, on which clock,
// and in which order day and month are written.
type timeColumn struct {
	f          *file
	at, day    int            // day is a column of its own, or -1
	zone       *time.Location // of times without an offset; nil when nobody said
	bare       bool           // a time without an offset was read
	monthFirst bool
}

var (
	timeNames  = []string{"at", "time", "datetime", "date_time", "timestamp", "date_and_time", "time_as", "fecha_hora", "fecha_y_hora", "hora"}
	dayNames   = []string{"date", "day", "fecha"}
	headerZone = pattern.New(`(?i)\b(?:utc|gmt)\s*([+−-]\s*\d{1,2}(?::?\d{2})?)?`)
	dayMonth   = pattern.New(`^(\d{1,2})([/.-])(\d{1,2})[/.-](\d{4}|\d{2})[ T,]+(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?\s*([AaPp]\.?[Mm]\.?)?$`)
)

// timesOf finds the column of times. A heading that names UTC or GMT says the
// clock, unless the person has.
func timesOf(f *file, zone *time.Location) (*timeColumn, error) {
	c := &timeColumn{f: f, at: -1, day: -1, zone: zone}
	for _, n := range timeNames {
		for i, h := range f.Header {
			text := strings.ReplaceAll(h.String(), "_", " ")
			bare := heading(headerZone.ReplaceAllString(text, ""))
			if c.at >= 0 || bare != n {
				continue
			}
			c.at = i
			if m := headerZone.FindStringSubmatch(text); m != nil && zone == nil {
				if h, ok := Offset("UTC" + strings.ReplaceAll(m[1], " ", "")); ok {
					c.zone = fixedZone(h)
				}
			}
		}
	}
	c.day = f.column(dayNames...)
	switch {
	case c.at < 0 && c.day < 0:
		return nil, f.needs("at", "at", "time", "date and time")
	case c.at < 0:
		c.at, c.day = c.day, -1
	}
	return c, c.findOrder()
}

func (c *timeColumn) text(i int) string {
	s, _ := c.f.Cell(i, c.at)
	if c.day >= 0 {
		d, _ := c.f.Cell(i, c.day)
		s = d + " " + s
	}
	return strings.TrimSpace(s)
}

// findOrder settles whether 03/04/2026 is in March or April: the order in which
// every date exists, and else the one in which the lines follow each other.
func (c *timeColumn) findOrder() error {
	var jumps [2]int
	var last [2]time.Time
	any := false
	for i := range c.f.Len() {
		m := dayMonth.FindStringSubmatch(c.text(i))
		if m == nil {
			continue
		}
		any = true
		for k := range 2 {
			t, ok := split(m, k == 1, time.UTC)
			if d := t.Sub(last[k]); !ok {
				jumps[k] += 1000
			} else {
				if !last[k].IsZero() && (d < 0 || d > 20*24*time.Hour) {
					jumps[k]++
				}
				last[k] = t
			}
		}
	}
	if any && jumps[0] == jumps[1] {
		return refuse("tide.date-order", "file", c.f.name)
	}
	c.monthFirst = jumps[1] < jumps[0]
	return nil
}

// split makes a time of the parts of a date with day and month in figures.
func split(m []string, monthFirst bool, zone *time.Location) (time.Time, bool) {
	n := func(s string) int { x, _ := strconv.Atoi(s); return x }
	d, mo, y, h := n(m[1]), n(m[3]), n(m[4]), n(m[5])
	if monthFirst {
		d, mo = mo, d
	}
	if len(m[4]) == 2 {
		y += 2000
	}
	if half := strings.ToLower(m[8]); half != "" {
		if h < 1 || h > 12 {
			return time.Time{}, false
		}
		h %= 12
		if half[0] == 'p' {
			h += 12
		}
	}
	t := time.Date(y, time.Month(mo), d, h, n(m[6]), n(m[7]), 0, zone)
	return t, mo >= 1 && mo <= 12 && d >= 1 && t.Day() == d && h < 24 && n(m[6]) < 60 && n(m[7]) < 60
}

// read gives the time of a line; what cannot be read is a fault of the file.
func (c *timeColumn) read(i int) (time.Time, bool) {
	text := c.text(i)
	s := strings.NewReplacer(" UTC", "Z", " GMT", "Z", " Z", "Z").Replace(text)
	s = strings.ReplaceAll(s, "/", "-")
	if len(s) > 10 && s[4] == '-' && s[10] == ' ' {
		s = s[:10] + "T" + strings.TrimSpace(s[11:])
	}
	for _, layout := range []string{"2006-01-02T15:04:05Z07:00", "2006-01-02T15:04Z07:00", "2006-01-02T15:04:05Z0700", "2006-01-02T15:04Z0700"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t.UTC(), true
		}
	}
	zone := c.zone
	if zone == nil {
		zone = time.UTC
	}
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04"} {
		if t, err := time.ParseInLocation(layout, s, zone); err == nil {
			return c.once(i, t, s, layout)
		}
	}
	if m := dayMonth.FindStringSubmatch(text); m != nil {
		if wall, ok := split(m, c.monthFirst, time.UTC); ok {
			t, _ := split(m, c.monthFirst, zone)
			const layout = "2006-01-02T15:04:05"
			return c.once(i, t, wall.Format(layout), layout)
		}
	}
	c.f.fault(i, c.at, "tide.not-a-time", "text", text)
	return time.Time{}, false
}

// once refuses a local time that a change of clocks skips or repeats.
func (c *timeColumn) once(i int, t time.Time, wall, layout string) (time.Time, bool) {
	c.bare = true
	zone := t.Location()
	skipped := false
	if f := t.Format(layout); !strings.HasPrefix(wall, f) {
		skipped = true
	}
	repeated := t.Add(time.Hour).In(zone).Format(layout) == t.Format(layout) || t.Add(-time.Hour).In(zone).Format(layout) == t.Format(layout)
	if skipped || repeated {
		c.f.fault(i, c.at, "tide.clock-change", "text", c.text(i), "zone", zone.String())
		return t, false
	}
	return t.UTC(), true
}

// clockMessage tells the clock that times without an offset were read on.
func (c *timeColumn) clockMessage() []tide.Message {
	switch {
	case !c.bare:
		return nil
	case c.zone == nil:
		return []tide.Message{{Slug: "tide.clock-utc"}}
	}
	return []tide.Message{{Slug: "tide.clock", With: with("clock", c.zone.String())}}
}
