package place

import (
	"math"
	"strings"
	"time"
	"unicode"
)

// Wanted is a row whose position is looked for in a receiver's file: its
// identifier, and when it was set out (To may be zero: one time is known).
type Wanted struct {
	Name     string
	From, To time.Time
}

// How a position was found.
type How string

// The ways, the surest first.
const (
	ByName  How = "waypoint by name"
	ByTime  How = "waypoint by time"
	ByTrack How = "track by time"
	NotMade How = "" // nothing fits
)

// Match is the position found for a row.
type Match struct {
	How            How
	LatDeg, LonDeg float64 // NaN when nothing fits
	Source         string  // name of the waypoint or track
	// Off is how far in time the waypoint, or the nearer point of the track,
	// is from the setting out; 0 inside it or when a time is missing.
	Off time.Duration
	// Others counts further waypoints that fit as well: a doubt to be asked.
	Others int
}

// Match looks for each row's position, for a person to confirm: a waypoint that
// bears its identifier (capitals, spaces and signs aside); else the waypoint,
// of no other row's name, marked while it was set out or nearest to that, not
// more than near away; else the place of a track at the middle of the setting
// out, between two points not more than twice near apart. The result is as long
// as wanted.
func (g GPX) Match(wanted []Wanted, near time.Duration) []Match {
	names := map[string]int{} // how many rows bear it
	for _, w := range wanted {
		names[bare(w.Name)]++
	}
	out := make([]Match, len(wanted))
	for i, w := range wanted {
		out[i] = g.byName(w)
		if out[i].How == NotMade {
			out[i] = g.byTime(w, near, names)
		}
		if out[i].How == NotMade {
			out[i] = g.byTrack(w, near)
		}
	}
	return out
}

// bare is a name by its letters and digits alone.
func bare(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, name)
}

func noMatch() Match { return Match{LatDeg: math.NaN(), LonDeg: math.NaN()} }

// away is how far an instant lies outside the setting out.
func (w Wanted) away(at time.Time) time.Duration {
	to := w.To
	if to.Before(w.From) {
		to = w.From
	}
	switch {
	case at.IsZero() || w.From.IsZero():
		return 0
	case at.Before(w.From):
		return w.From.Sub(at)
	case at.After(to):
		return at.Sub(to)
	}
	return 0
}

func (g GPX) byName(w Wanted) Match {
	m := noMatch()
	if bare(w.Name) == "" {
		return m
	}
	for _, p := range g.Waypoints {
		if bare(p.Name) != bare(w.Name) {
			continue
		}
		if m.How != NotMade {
			m.Others++
			if w.away(p.At) >= m.Off {
				continue
			}
		}
		m = Match{How: ByName, LatDeg: p.LatDeg, LonDeg: p.LonDeg, Source: p.Name, Off: w.away(p.At), Others: m.Others}
	}
	return m
}

func (g GPX) byTime(w Wanted, near time.Duration, names map[string]int) Match {
	m := noMatch()
	if w.From.IsZero() {
		return m
	}
	for _, p := range g.Waypoints {
		off := w.away(p.At)
		if p.At.IsZero() || off > near || names[bare(p.Name)] > 0 && bare(p.Name) != "" {
			continue
		}
		if m.How != NotMade {
			m.Others++
			if off >= m.Off {
				continue
			}
		}
		m = Match{How: ByTime, LatDeg: p.LatDeg, LonDeg: p.LonDeg, Source: p.Name, Off: off, Others: m.Others}
	}
	return m
}

func (g GPX) byTrack(w Wanted, near time.Duration) Match {
	m := noMatch()
	if w.From.IsZero() {
		return m
	}
	at := w.From
	if w.To.After(w.From) {
		at = at.Add(w.To.Sub(w.From) / 2)
	}
	for _, t := range g.Tracks {
		for _, s := range t.Segments {
			for i := 1; i < len(s); i++ {
				a, b := s[i-1], s[i]
				if a.At.IsZero() || b.At.IsZero() || a.At.After(at) || b.At.Before(at) || b.At.Sub(a.At) > 2*near {
					continue
				}
				share := 0.0
				if b.At.After(a.At) {
					share = float64(at.Sub(a.At)) / float64(b.At.Sub(a.At))
				}
				metres, azimuth, _ := Between(a.LatDeg, a.LonDeg, b.LatDeg, b.LonDeg)
				lat, lon, _ := From(a.LatDeg, a.LonDeg, azimuth, share*metres)
				if m.How != NotMade {
					if lat != m.LatDeg || lon != m.LonDeg { // not the point where two steps meet
						m.Others++
					}
					continue
				}
				m = Match{How: ByTrack, LatDeg: lat, LonDeg: lon, Source: t.Name, Off: min(at.Sub(a.At), b.At.Sub(at))}
			}
		}
	}
	return m
}
