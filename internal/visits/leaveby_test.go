package visits

import (
	"testing"
	"time"

	"soakline/internal/sun"
	"soakline/internal/tide"
)

// When to leave, by hand, at three invented sites. Each time is where the water
// passes the level of the way less the margin, rising, less the walk, cut down to
// the second.
func TestLeaveByByHand(t *testing.T) {
	table := func() Source {
		var lines []tide.Water
		for _, l := range []struct {
			at string
			m  float64
		}{{"2026-07-01T04:00:00Z", 3.4}, {"2026-07-01T10:10:00Z", 0.4}, {"2026-07-01T16:22:00Z", 3.6}, {"2026-07-01T22:40:00Z", 0.5}, {"2026-07-02T05:00:00Z", 3.5}, {"2026-07-02T11:00:00Z", 0.5}, {"2026-07-02T17:00:00Z", 3.5}} {
			lines = append(lines, tide.Water{At: utc(l.at), HeightM: l.m})
		}
		tab, _, err := tide.NewTable(lines, tide.Secondary{})
		if err != nil {
			t.Fatal(err)
		}
		return FromTable(tab)
	}
	for _, c := range []struct {
		name   string
		src    Source
		ask    Ask
		starts string // a start inside the window
		want   []string
	}{
		{
			// The flat: h = 2 + cos(30° (t − 2 h)). Way open up to 1.5 m, margin 0.2 m: 1.3 m,
			// cos x = −0.7, rising at x = 360° − 134.427° = 225.573°, 7.51910 h after the high
			// of 02:00: 09:31:08.7; less 25 min: 09:06:08. The next day the same.
			"flat", cosine(t, 2, 1, 2),
			Ask{AccessM: 1.5, MarginM: 0.2, Walking: 25 * time.Minute, Checks: []time.Duration{time.Hour, 24 * time.Hour}, WorkMaxM: 5},
			"2026-07-01T07:00:00Z",
			[]string{"2026-07-01T09:06:08Z", "2026-07-01T09:06:08Z", "2026-07-02T09:06:08Z"},
		},
		{
			// The bar, from a table: low 0.40 m at 10:10, high 3.60 m at 16:22, 372 min.
			// Half cosine: h = 2.00 − 1.60 cos(180° u). Way open up to 1.6 m: cos = 0.25,
			// 75.5225°, u = 0.419569, 156.080 min after the low: 12:46:04.8; less 40 min:
			// 12:06:04.
			"bar", table(),
			Ask{AccessM: 1.6, Walking: 40 * time.Minute, Checks: []time.Duration{time.Hour}, WorkMaxM: 5},
			"2026-07-01T10:30:00Z",
			[]string{"2026-07-01T12:06:04Z", "2026-07-01T12:06:04Z"},
		},
		{
			// The islet: h = 1 + 1.5 cos(30° (t − 6 h)), high at 06:00 and 18:00. Way open up
			// to 2.0 m, margin 0.3 m: 1.7 m, cos x = 0.466667, x = 62.1823°, 2.07274 h before
			// the high: 03:55:38.1; less 15 min 30 s: 03:40:08. After 12 h again: 15:40:08.
			"islet", cosine(t, 1, 1.5, 6),
			Ask{AccessM: 2, MarginM: 0.3, Walking: 15*time.Minute + 30*time.Second, Checks: []time.Duration{12 * time.Hour}, WorkMaxM: 5},
			"2026-07-01T02:00:00Z",
			[]string{"2026-07-01T03:40:08Z", "2026-07-01T15:40:08Z"},
		},
	} {
		a := c.ask
		a.Zone, a.Light = time.UTC, sun.None
		a.From, a.To = utc("2026-07-01T00:00:00Z").Add(5*time.Hour), utc("2026-07-01T12:00:00Z")
		if c.name == "islet" {
			a.From = utc("2026-07-01T01:00:00Z")
		}
		a.ShallowBedM, a.DeepBedM, a.WorkMinM = -1, -1, 0
		start := utc(c.starts)
		found := false
		for _, w := range find(t, c.src, a).Windows {
			if start.Before(w.From) || start.After(w.To) {
				continue
			}
			found = true
			if len(w.LeaveBy) != len(c.want) {
				t.Fatalf("%s: %d times to leave, want %d", c.name, len(w.LeaveBy), len(c.want))
			}
			for i, want := range c.want {
				if got := w.LeaveBy[i].Format(time.RFC3339); got != want {
					t.Errorf("%s, visit %d: leave by %s, by hand %s", c.name, i, got, want)
				}
			}
		}
		if !found {
			t.Errorf("%s: no window holds %s", c.name, c.starts)
		}
	}
}
