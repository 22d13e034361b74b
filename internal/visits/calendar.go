package visits

import (
	"crypto/sha256"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"soakline/internal/words"
)

// Named is a plan with what its place is called.
type Named struct {
	Place string
	Plan  *Plan
	// Mind are sentences on the place that stand with every window of it: hazards,
	// shelter, whom to call.
	Mind []string
}

// Calendar writes the windows as an iCalendar file (RFC 5545): one event for each
// window, in UTC, so that every clock shows it rightly, also on a day of a change.
// Its description holds the visits, the times to leave and the caution. An event
// keeps its identifier when the same window is written again; place is what it is
// called and part of it.
func (p *Plan) Calendar(place string, l words.Language, stamp time.Time) []byte {
	return Calendar([]Named{{Place: place, Plan: p}}, l, stamp)
}

// Calendar writes the windows of several places into one file, as Plan.Calendar
// does those of one.
func Calendar(list []Named, l words.Language, stamp time.Time) []byte {
	var c calendar
	c.line("BEGIN", "VCALENDAR")
	c.line("VERSION", "2.0")
	c.line("PRODID", "-//soakline//windows//EN")
	c.line("CALSCALE", "GREGORIAN")
	for _, n := range list {
		n.Plan.events(&c, n, l, stamp)
	}
	c.line("END", "VCALENDAR")
	return []byte(c.b.String())
}

func (p *Plan) events(c *calendar, n Named, l words.Language, stamp time.Time) {
	for i, w := range p.Windows {
		from, to := w.Minutes()
		c.line("BEGIN", "VEVENT")
		c.line("UID", p.uid(n.Place, w))
		c.line("DTSTAMP", icsTime(stamp))
		c.line("DTSTART", icsTime(from))
		c.line("DTEND", icsTime(to))
		c.text("SUMMARY", l.Say("windows.calendar-title", with("place", n.Place)))
		c.line("GEO", fmt.Sprintf("%.6f;%.6f", p.Ask.LatDeg, p.Ask.LonDeg))
		c.text("DESCRIPTION", strings.Join(slices.Concat(p.Sentences(i, l), n.Mind, []string{l.Say("windows.caution", nil)}), "\n"))
		c.line("TRANSP", "TRANSPARENT")
		c.line("END", "VEVENT")
	}
}

// Sentences tell a window to a person: when to start, when each check then falls
// and by when to have left, in minutes on the safe side.
func (p *Plan) Sentences(i int, l words.Language) []string {
	w, z := p.Windows[i], p.Ask.Zone
	from, to := w.Minutes()
	out := []string{l.Say("windows.told-start", with("from", LocalDay(from, z), "to", LocalDay(to, z)))}
	for k, v := range p.Ask.visits() {
		if k > 0 {
			after := time.Duration(v.after * float64(time.Second))
			out = append(out, l.Say("windows.told-check", with("visit", p.named(k), "from", LocalDay(from.Add(after), z), "to", LocalDay(to.Add(after), z))))
		}
		if k < len(w.LeaveBy) && !w.LeaveBy[k].IsZero() {
			out = append(out, l.Say("windows.told-leave", with("visit", p.named(k), "at", LocalDay(Minute(w.LeaveBy[k], End), z))))
		}
	}
	return out
}

// uid is the same for the same place and window: the first 32 digits of a hash of
// both.
func (p *Plan) uid(place string, w Window) string {
	coordinate := func(x float64) string { return strconv.FormatFloat(x+0, 'f', 6, 64) }
	sum := sha256.Sum256([]byte(strings.Join([]string{"v1", place, coordinate(p.Ask.LatDeg), coordinate(p.Ask.LonDeg), icsTime(w.From), icsTime(w.To)}, "\x1f")))
	return fmt.Sprintf("%x@soakline.invalid", sum[:16])
}

func icsTime(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

type calendar struct{ b strings.Builder }

// text is line for a value that is a text: backslash, semicolon, comma and newline
// are escaped (RFC 5545, 3.3.11), other control characters left out.
func (c *calendar) text(name, value string) {
	value = strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' && r != '\t' || r == 0x7f {
			return -1
		}
		return r
	}, value)
	c.line(name, strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\n", `\n`).Replace(value))
}

// line writes one content line, folded so that no line is longer than 75 octets,
// never inside a letter (RFC 5545, 3.1).
func (c *calendar) line(name, value string) {
	s := name + ":" + value
	for room := 75; len(s) > room; room = 74 {
		cut := room
		for cut > 1 && !utf8.RuneStart(s[cut]) {
			cut--
		}
		c.b.WriteString(s[:cut] + "\r\n ")
		s = s[cut:]
	}
	c.b.WriteString(s + "\r\n")
}
