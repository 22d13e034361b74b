package main

import (
	"errors"
	"math"
	"sort"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"soakline/internal/pattern"
	"soakline/internal/sheet"
	"soakline/internal/sun"
	"soakline/internal/task"
	"soakline/internal/words"
)

func (a *app) sunCmd() *cobra.Command {
	var latitude, longitude, date, zone, at string
	var asJSON bool
	c := a.command("sun", a.argCount(0, 0), func(c *cobra.Command, args []string) error {
		lat, lon, err := a.positionFlags(c, latitude, longitude)
		if err != nil {
			return err
		}
		z, err := a.zoneFlag(c, zone)
		if err != nil {
			return err
		}
		day, err := a.dateFlag(c, date, z)
		if err != nil {
			return err
		}
		moonAt := time.Date(day.Year(), day.Month(), day.Day(), 12, 0, 0, 0, time.UTC)
		if at != "" {
			if moonAt, err = a.momentFlag(c, "--at", at, z); err != nil {
				return err
			}
		}
		light, err := sun.OfDay(lat, lon, day.Year(), day.Month(), day.Day(), z)
		if err != nil {
			return lightError(err)
		}
		if y := moonAt.UTC().Year(); y < sun.FirstYear || y > sun.LastYear {
			return a.usage(c, "sun.years", "first", sun.FirstYear, "last", sun.LastYear)
		}
		s := &sunDay{lat: lat, lon: lon, date: day, zone: z, light: light, moon: sun.MoonAt(moonAt), next: sun.NextPhases(moonAt)}
		if asJSON {
			return a.json(s.json())
		}
		a.printSun(s)
		return nil
	})
	f := c.Flags()
	f.StringVar(&latitude, "latitude", "", a.say("cmd.site.flag-latitude"))
	f.StringVar(&longitude, "longitude", "", a.say("cmd.site.flag-longitude"))
	f.StringVar(&date, "date", "", a.say("cmd.sun.flag-date"))
	f.StringVar(&zone, "zone", "UTC", a.say("cmd.sun.flag-zone"))
	f.StringVar(&at, "at", "", a.say("cmd.sun.flag-at"))
	a.jsonFlag(c, &asJSON)
	return c
}

// sunDay is what the verb tells.
type sunDay struct {
	lat, lon float64
	date     time.Time // its year, month and day only
	zone     *time.Location
	light    sun.Day
	moon     sun.Moon
	next     []sun.PhaseAt
}

type sunJSON struct {
	Contract  int       `json:"contract"`
	Date      string    `json:"date"`
	Zone      string    `json:"zone"`
	Latitude  float64   `json:"latitude"`
	Longitude float64   `json:"longitude"`
	Sunrise   []string  `json:"sunrise"`
	Sunset    []string  `json:"sunset"`
	CivilDawn []string  `json:"civil_dawn"`
	CivilDusk []string  `json:"civil_dusk"`
	Sun       sun.State `json:"sun"`
	Civil     sun.State `json:"civil"`
	Moon      moonJSON  `json:"moon"`
}

type moonJSON struct {
	At       string      `json:"at"`
	Fraction float64     `json:"illuminated_fraction"`
	Elong    float64     `json:"elongation_deg"`
	Next     []phaseJSON `json:"next"`
}

type phaseJSON struct {
	Phase sun.Phase `json:"phase"`
	At    string    `json:"at"`
}

func (s *sunDay) json() sunJSON {
	list := func(ts []time.Time) []string {
		out := []string{}
		for _, t := range ts {
			out = append(out, t.Format(time.RFC3339))
		}
		return out
	}
	elongation := decimals(s.moon.ElongationDeg, 4)
	if elongation >= 360 {
		elongation = 0
	}
	j := sunJSON{
		Contract: 1, Date: s.date.Format(time.DateOnly), Zone: s.zone.String(), Latitude: s.lat, Longitude: s.lon,
		Sunrise: list(s.light.Sunrise), Sunset: list(s.light.Sunset), CivilDawn: list(s.light.CivilDawn), CivilDusk: list(s.light.CivilDusk),
		Sun: s.light.Sun, Civil: s.light.Civil,
		Moon: moonJSON{At: s.moon.At.Format(time.RFC3339Nano), Fraction: decimals(s.moon.IlluminatedFraction, 4), Elong: elongation, Next: []phaseJSON{}},
	}
	for _, p := range s.next {
		j.Moon.Next = append(j.Moon.Next, phaseJSON{p.Phase, p.At.Format(time.RFC3339)})
	}
	return j
}

// printSun shows minutes on the zone's clock, rounded to the safe side: light
// begins at the next full minute and ends at the last one.
func (a *app) printSun(s *sunDay) {
	a.print(a.out, a.say("cmd.sun.title", "date", s.date.Format(time.DateOnly), "latitude", s.lat, "longitude", s.lon, "zone", s.zone.String()))
	type line struct {
		at    time.Time
		what  string
		begin bool
	}
	var lines []line
	for _, l := range []struct {
		list  []time.Time
		slug  string
		begin bool
	}{{s.light.CivilDawn, "dawn", true}, {s.light.Sunrise, "sunrise", true}, {s.light.Sunset, "sunset", false}, {s.light.CivilDusk, "dusk", false}} {
		for _, t := range l.list {
			lines = append(lines, line{t, a.say("cmd.sun." + l.slug), l.begin})
		}
	}
	sort.SliceStable(lines, func(i, j int) bool { return lines[i].at.Before(lines[j].at) })
	if len(lines) > 0 {
		t := a.table(a.say("cmd.sun.col-event"), a.say("cmd.sun.col-local"), a.say("cmd.sun.col-utc"))
		for _, l := range lines {
			t.row(l.what, safeMinute(l.at, l.begin).In(s.zone).Format("15:04 -07:00"), l.at.Format("2006-01-02 15:04:05"))
		}
		t.print()
	}
	if s.light.Sun != sun.Changes {
		a.print(a.out, a.say("cmd.sun.state-"+string(s.light.Sun)))
	}
	if s.light.Civil != sun.Changes {
		a.print(a.out, a.say("cmd.sun.state-"+string(s.light.Civil)))
	}
	if n := len(s.light.Spans); n > 0 {
		first, last := s.light.Spans[0].From.In(s.zone), s.light.Spans[n-1].To.Add(-time.Second).In(s.zone)
		if _, from := first.Zone(); from != offsetOf(last) {
			a.print(a.out, a.say("cmd.sun.clock-change", "from", first.Format("-07:00"), "to", last.Format("-07:00")))
		}
	}
	a.print(a.out, "")
	half := "cmd.sun.moon-growing"
	if s.moon.ElongationDeg >= 180 {
		half = "cmd.sun.moon-shrinking"
	}
	a.print(a.out, a.say(half, "at", s.moon.At.In(s.zone).Format("2006-01-02 15:04 -07:00"), "share", s.moon.IlluminatedFraction))
	t := a.table(a.say("cmd.sun.col-phase"), a.say("cmd.sun.col-local"), a.say("cmd.sun.col-utc"))
	for _, p := range s.next {
		t.row(a.say("cmd.sun.phase-"+strings.ReplaceAll(string(p.Phase), " ", "-")), p.At.In(s.zone).Format("2006-01-02 15:04 -07:00"), p.At.Format("2006-01-02 15:04:05"))
	}
	t.print()
	a.print(a.out, a.say("cmd.sun.caution"))
}

func offsetOf(t time.Time) int {
	_, offset := t.Zone()
	return offset
}

// safeMinute is the full minute at or after an instant at which something
// begins, and at or before one at which it ends.
func safeMinute(t time.Time, begin bool) time.Time {
	m := t.Truncate(time.Minute)
	if begin && m.Before(t) {
		m = m.Add(time.Minute)
	}
	return m
}

// decimals keeps d decimals, and no minus before a zero.
func decimals(x float64, d int) float64 {
	p := math.Pow(10, float64(d))
	r := math.Round(x*p) / p
	if math.Abs(x) > 1e15/p { // the digits are not there
		r = x
	}
	return r + 0
}

// lightError puts what package sun refuses into the words of a refusal.
func lightError(err error) error {
	var r *sun.Refusal
	if errors.As(err, &r) {
		return &task.Refused{Slug: r.Slug, With: r.With}
	}
	return err
}

// positionFlags reads --latitude and --longitude, decimal degrees.
func (a *app) positionFlags(c *cobra.Command, latitude, longitude string) (lat, lon float64, err error) {
	if latitude == "" || longitude == "" {
		return 0, 0, a.usage(c, "cmd.usage.position")
	}
	if lat, err = a.decimal(c, "--latitude", latitude, -90, 90, "cmd.wanted.latitude"); err != nil {
		return 0, 0, err
	}
	lon, err = a.decimal(c, "--longitude", longitude, -180, 180, "cmd.wanted.longitude")
	return lat, lon, err
}

// decimal reads a number written out in a word of the command, within bounds.
func (a *app) decimal(c *cobra.Command, name, given string, low, high float64, wanted string) (float64, error) {
	x, err := strconv.ParseFloat(strings.ReplaceAll(given, "−", "-"), 64)
	if err != nil || !(x >= low && x <= high) || strings.ContainsAny(given, "xXpP_") {
		return 0, a.usage(c, "cmd.usage.number", "flag", name, "given", given, "wanted", words.Ref{Slug: wanted})
	}
	return x + 0, nil // no minus before a zero
}

var offsetZone = pattern.New(`^(?:UTC)?([+-])(\d{1,2})(?::?([0-5]\d))?$`)

// zoneFlag is a time zone of the IANA list, or an offset written as UTC+9:30.
func (a *app) zoneFlag(c *cobra.Command, given string) (*time.Location, error) {
	if m := offsetZone.FindStringSubmatch(given); m != nil {
		hours, _ := strconv.Atoi(m[2])
		minutes, _ := strconv.Atoi("0" + m[3])
		if s := hours*3600 + minutes*60; s <= 14*3600 {
			if m[1] == "-" {
				s = -s
			}
			return time.FixedZone(given, s), nil
		}
	} else if given != "" && given != "Local" {
		if z, err := time.LoadLocation(given); err == nil {
			return z, nil
		}
	}
	return nil, a.usage(c, "cmd.usage.number", "flag", "--zone", "given", given, "wanted", words.Ref{Slug: "cmd.wanted.zone"})
}

// dateFlag is the day given, or today on the zone's clock.
func (a *app) dateFlag(c *cobra.Command, given string, z *time.Location) (time.Time, error) {
	if given == "" {
		return a.now().In(z), nil
	}
	d, err := time.Parse(time.DateOnly, given)
	if err != nil {
		return time.Time{}, a.usage(c, "cmd.usage.number", "flag", "--date", "given", given, "wanted", words.Ref{Slug: "cmd.wanted.date"})
	}
	return d, nil
}

// momentFlag is an instant of ISO 8601; without an offset it is read on the
// zone's clock, where it must occur once.
func (a *app) momentFlag(c *cobra.Command, name, given string, z *time.Location) (time.Time, error) {
	t, hasOffset, ok := sheet.ParseTime(given)
	if !ok {
		return time.Time{}, a.usage(c, "cmd.usage.number", "flag", name, "given", given, "wanted", words.Ref{Slug: "cmd.wanted.moment"})
	}
	if hasOffset {
		return t.UTC(), nil
	}
	at := sheet.InZone(t, z)
	if len(at) != 1 {
		return time.Time{}, a.usage(c, "cmd.usage.clock", "flag", name, "given", given, "zone", z.String(), "n", len(at))
	}
	return at[0].At, nil
}
