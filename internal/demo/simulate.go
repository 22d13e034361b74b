package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"time"

	"soakline/internal/assay"
	"soakline/internal/place"
)

// Invented is what the notes of every record hold.
const Invented = "invented"

// draw lays out the season and draws every count.
func (s *Season) draw() {
	m := theModel()
	s.Truth = Truth{Invented: "Invented data: no such programme, places or people. Datos inventados.", Seed: s.Seed, Model: m}
	n := uint64(0) // sites, over all teams
	for _, c := range s.teams {
		for _, p := range c.sites {
			p.effect = m.SDSite * stream(s.Seed, forSite, n).NormFloat64()
			p.effectInHabitat = map[string]float64{}
			for h, name := range habitats { // drawn for all three, so that a habitat less changes no other number
				p.effectInHabitat[name] = m.SDSiteHabitat * stream(s.Seed, forSiteHabitat, n*8+uint64(h)).NormFloat64()
			}
			n++
		}
	}
	for i, c := range s.teams {
		rows := s.layOut(uint64(i), c)
		for _, r := range rows {
			s.count(&m, r, uint64(len(s.rows)))
			s.rows = append(s.rows, r)
			s.Truth.add(r)
		}
	}
	for i, r := range s.rows {
		s.sight(r, uint64(i))
		r.crew.keep(r)
	}
	s.Truth.close(s)
}

// day is one visit of a team to a site: rows are set out in the morning and
// read one and twenty-four hours later.
type day struct {
	visit, site int
	date        time.Time // midnight of the local clock, in UTC fields
	temperature float64
}

// days: two visits to each site in the first season and one in the second, a
// site every second day. Team i begins i days after the first.
func (c *crew) days(i uint64) []day {
	first := []time.Time{time.Date(2025, 7, 7, 0, 0, 0, 0, time.UTC), time.Date(2025, 7, 16, 0, 0, 0, 0, time.UTC), time.Date(2026, 7, 6, 0, 0, 0, 0, time.UTC)}
	var out []day
	for v, d := range first {
		for p := range c.sites {
			out = append(out, day{visit: v, site: p, date: d.AddDate(0, 0, 2*p+int(i))})
		}
	}
	return out
}

// layOut makes the rows of team i with everything but their counts, numbered
// in the order in which they are set out.
func (s *Season) layOut(i uint64, c *crew) []*row {
	var rows []*row
	for n, d := range c.days(i) {
		rng := stream(s.Seed, forDay, i*100+uint64(n))
		p := c.sites[d.site]
		d.temperature = p.summerC + 0.8*rng.NormFloat64()
		if d.visit == 2 {
			d.temperature += 0.6
		}
		order := slices.Clone(p.habitats)
		rng.Shuffle(len(order), func(a, b int) { order[a], order[b] = order[b], order[a] })
		var today []*row
		for _, h := range order {
			today = append(today, &row{Deployment: assay.Deployment{Habitat: h, Control: assay.NoControl, Practice: assay.Some(false)}})
		}
		if d.site == 0 && slices.Contains(c.controls, d.visit) {
			today = append(today, &row{Deployment: assay.Deployment{Habitat: sand, Control: assay.Shielded, Practice: assay.Some(false)}})
		}
		if n == 0 {
			for range c.practice {
				today = append(today, &row{Deployment: assay.Deployment{Habitat: sand, Control: assay.NoControl, Practice: assay.Some(true)}})
			}
		}
		for k, r := range today {
			r.crew, r.site, r.visit = c, p, d.visit
			r.ID = fmt.Sprintf(c.format, len(rows)+1)
			s.set(r, d, k, stream(s.Seed, forRow, i*1000+uint64(len(rows))))
			rows = append(rows, r)
		}
	}
	c.oddities(rows)
	return rows
}

// set fills in place, times and covariates of the k-th row of a day.
func (s *Season) set(r *row, d day, k int, rng *rand.Rand) {
	r.Programme, r.Season, r.Team, r.Site = Programme, seasons[d.visit/2], r.crew.name, r.site.name
	r.Protocol, r.Notes = "standard 1", Invented
	r.Observers = r.crew.observers[rng.IntN(len(r.crew.observers))]
	along := map[string]float64{seagrass: 0, sand: 160, reef: 330}[r.Habitat] + 6 + 9*float64(d.visit) + 3*rng.Float64()
	switch {
	case r.IsControl():
		along += 55
	case r.IsPractice():
		along -= 70
	}
	r.position(along)
	r.Baits, r.BaitKind, r.BaitForm, r.BaitSizeMM, r.BaitBatch = 25, "dried squid", "disc", assay.Some(13.0), "batch "+r.Season
	r.SpacingM, r.RowBearingDeg = assay.Some(2.0), assay.Some(r.site.bearingDeg)
	shallow := 1.5 + 2*rng.Float64()
	r.DepthMinM, r.DepthMaxM = assay.Some(tenth(shallow)), assay.Some(tenth(shallow+0.2+rng.Float64()))
	r.TemperatureC = assay.Some(tenth(d.temperature + 0.1*rng.NormFloat64()))
	r.Covariates = map[string]string{"swell": []string{"low", "low", "moderate"}[rng.IntN(3)]}

	minutes := func(from, to int) time.Duration { return time.Duration(from+rng.IntN(to-from)) * time.Minute }
	start := d.date.Add(8*time.Hour + 35*time.Minute + time.Duration(k)*38*time.Minute + minutes(0, 8))
	setting := minutes(12, 20)
	first, second := start.Add(minutes(55, 72)), start.Add(minutes(23*60+25, 25*60+10))
	if r.lateByPlan = rng.Float64() < 0.07; r.lateByPlan {
		second = start.Add(minutes(26*60+25, 29*60))
	}
	r.SetOut, r.SetOutUntil = r.at(start), r.at(start.Add(setting))
	for n, t := range []time.Time{first, second} {
		r.Checks = append(r.Checks, assay.Check{Number: n + 1, At: r.at(t), Until: r.at(t.Add(minutes(7, 15)))})
	}
	r.RetrievedAt = r.at(r.Checks[1].Until.Local().Add(minutes(2, 12)))
}

// position puts the row alongM metres from the site's own position. Five
// decimals, the last one never a nought: a spreadsheet drops noughts, and with
// them how finely the position was read.
func (r *row) position(alongM float64) {
	lat, lon, _ := place.From(r.site.latDeg, r.site.lonDeg, r.site.bearingDeg, alongM)
	r.Latitude, r.Longitude, r.PositionDecimals = assay.Some(fiveDecimals(lat)), assay.Some(fiveDecimals(lon)), assay.Some(5)
}

func fiveDecimals(deg float64) float64 {
	n := math.Round(deg * 1e5)
	if math.Mod(n, 10) == 0 {
		n++
	}
	return n / 1e5
}

func tenth(x float64) float64 { return math.Round(x*10) / 10 }

// at is the moment of a reading of the team's clock, given in UTC fields.
func (r *row) at(local time.Time) assay.Moment {
	clock := time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), local.Minute(), 0, 0, time.UTC)
	return assay.Moment{At: clock.Add(-time.Duration(r.crew.offsetS) * time.Second), Zone: r.crew.zone, OffsetS: r.crew.offsetS}
}

// oddities are what happens in any season and is true: a check that the weather
// forbade, one that nobody made, a row that lost its stakes, a row of 24.
func (c *crew) oddities(rows []*row) {
	for _, r := range rows {
		r.lossShare = theModel().LossShare
	}
	pick := func(visit, site int) *row {
		for _, r := range rows {
			if r.visit == visit && r.site == c.sites[site] && !r.IsControl() && !r.IsPractice() {
				return r
			}
		}
		panic("demo: no row at that visit")
	}
	switch c.name {
	case "Brisa":
		pick(2, 1).Checks[0] = assay.Check{Number: 1, WhyNot: "weather"}
	case "Marea":
		pick(1, 2).Baits = 24
		pick(2, 0).TemperatureC = assay.None[float64]()
	case "Espuma":
		r := pick(1, 1)
		r.Checks, r.RetrievedAt = r.Checks[:1], assay.Moment{}
	case "Salina":
		pick(1, 0).lossShare[1] = 0.45
		pick(2, 2).TemperatureC = assay.None[float64]()
	}
}

// count draws the fates of every bait of the row and its counts.
func (s *Season) count(m *Model, r *row, i uint64) {
	r.effect = m.SDDeployment * stream(s.Seed, forDeployment, i).NormFloat64()
	r.later = m.LaterOverFirst
	// A row without a temperature still lay in water: that of its site.
	eta := r.site.effect + r.site.effectInHabitat[r.Habitat] + r.effect + m.TemperaturePerC*(r.TemperatureC.Or(r.site.summerC)-m.ReferenceC)
	r.ratePerH = m.rate(r.Habitat) * math.Exp(eta)
	if r.IsControl() {
		r.ratePerH, r.later = m.ControlPerH, 1
	}
	rng := stream(s.Seed, forBaits, i)
	for stake := 1; stake <= r.Baits; stake++ {
		s.bait(m, r, stake, rng)
	}
	for k := range r.Checks {
		c := &r.Checks[k]
		if !c.At.Known() {
			continue
		}
		var consumed, lost, unread int
		for _, f := range r.Stakes {
			if f.Check != c.Number {
				continue
			}
			switch f.Fate {
			case assay.Consumed:
				consumed++
			case assay.Lost:
				lost++
			case assay.Unread:
				unread++
			}
		}
		c.Consumed, c.Lost, c.Unread = assay.Some(consumed), assay.Some(lost), assay.Some(unread)
		if k == len(r.Checks)-1 {
			r.StakesRetrieved = assay.Some(r.Baits - lost)
		}
	}
	slices.SortStableFunc(r.Stakes, func(a, b assay.StakeFate) int { return a.Check - b.Check })
}

// bait draws one bait: in each interval it is first lost or not, then consumed
// or not at the row's rate. It takes the same number of draws whatever happens.
func (s *Season) bait(m *Model, r *row, stake int, rng *rand.Rand) {
	threshold := rng.ExpFloat64() // the cumulative hazard at which it goes
	u := [2]float64{rng.Float64(), rng.Float64()}
	unread := rng.Float64() < m.UnreadShare && r.crew.unread
	how := assay.BaitGone
	if rng.Float64() < 0.15 {
		how = assay.TetherGone
	}
	fate := assay.StakeFate{Stake: stake, Fate: assay.Present}
	for k, c := range r.Checks {
		if !c.At.Known() {
			continue
		}
		soakH, _ := r.SoakH(c)
		if fate.Fate == assay.Present {
			switch {
			case u[k] < r.lossShare[k]:
				fate.Fate, fate.How = assay.Lost, assay.StakeGone
			case threshold <= hazard(r.ratePerH, r.later, r.soakAsKept(c, soakH)):
				fate.Fate, fate.How = assay.Consumed, how
			}
		}
		fate.Check = c.Number
		// A bait unread at the first check and not there at the second would be
		// lost from the first on; so only those seen again are left unread.
		seenAgain := fate.Fate == assay.Consumed || fate.Fate == assay.Present && u[1] >= r.lossShare[1]
		if seen := fate; unread && k == 0 && len(r.Checks) > 1 && seenAgain {
			seen.Fate, seen.How = assay.Unread, ""
			r.Stakes = append(r.Stakes, seen)
			continue
		}
		r.Stakes = append(r.Stakes, fate)
	}
}

// soakAsKept is the soak by the times that the team's sheet holds: only Brisa
// writes when setting and reading ended, and truth is kept in what can be read.
func (r *row) soakAsKept(c assay.Check, spanH float64) float64 {
	if r.crew.name == "Brisa" {
		return spanH
	}
	return c.At.At.Sub(r.SetOut.At).Hours()
}

// sight gives some rows of the team that films an animal seen in the first
// hour. The names are real species; the sightings are not.
func (s *Season) sight(r *row, i uint64) {
	if r.crew.name != "Salina" || r.IsControl() || i%5 != 0 {
		return
	}
	rng := stream(s.Seed, forSightings, i)
	from := r.SetOut.Local().Add(time.Duration(5+rng.IntN(5)) * time.Minute)
	effort := 30 + 5*rng.IntN(3)
	one := assay.Sighting{
		From: r.at(from), To: r.at(from.Add(time.Duration(effort) * time.Minute)), Method: "video",
		Effort: assay.Some(float64(effort)), EffortUnit: "min",
	}
	if rng.IntN(4) == 0 {
		one.Taxon, one.Count, one.AbsenceLooked = "Octopus vulgaris", assay.Some(0), assay.Some(true)
	} else {
		one.Taxon = []string{"Diplodus sargus", "Diplodus vulgaris", "Coris julis"}[rng.IntN(3)]
		one.Count, one.TookBait = assay.Some(1+rng.IntN(6)), assay.Some(rng.IntN(2) == 0)
	}
	r.Sightings = []assay.Sighting{one}
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
