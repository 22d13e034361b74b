package report

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/figure"
	"soakline/internal/place"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// SoakWords writes a soak as people say it: "1 h 03 min".
func SoakWords(soakH float64) string {
	m := int(math.Round(soakH * 60))
	if m < 0 {
		return "−" + SoakWords(-soakH) // a check before setting out, which a finding blocks
	}
	if m < 60 {
		return strconv.Itoa(m) + " min"
	}
	if m%60 == 0 {
		return strconv.Itoa(m/60) + " h"
	}
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}

// FateWords are the words of the row's key.
func FateWords(l words.Language) figure.FateWords {
	return figure.FateWords{
		Present: l.Say("fate.present", nil), Consumed: l.Say("fate.consumed", nil),
		NotKnown: l.Say("fate.not-known", nil), Unread: l.Say("fate.unread", nil),
	}
}

// RowPicture turns a deployment into the drawing of its row. means are the ways
// of being gone that its protocol counts as consumed. Without words it is the
// row of a list: no setting line, no labels.
func RowPicture(l words.Language, d *assay.Deployment, means []assay.How, full bool) figure.Row {
	checks, baits, _ := rates.FromStakes(d, means...)
	counted := *d
	counted.Checks, counted.Baits = checks, baits
	lost, _ := rates.Lost(&counted)
	r := figure.Row{Title: l.Say("row.title", words.P{"id": d.ID, "site": d.Site, "habitat": d.Habitat})}
	var said []string
	if full {
		r.Words = FateWords(l)
		sub := localTime(d.SetOut, true)
		if d.SetOutUntil.Known() {
			sub = l.Say("row.from-to", words.P{"from": sub, "to": localTime(d.SetOutUntil, false)})
		}
		r.Lines = append(r.Lines, figure.RowLine{Label: l.Say("row.set", nil), Sub: sub, Counts: figure.FateCounts{Present: baits},
			Result: l.Say("row.baits", words.P{"n": baits})})
	}
	fates := fatesByCheck(d, means, len(checks))
	ordered := true
	for k, c := range checks {
		line := figure.RowLine{Label: l.Say("row.check", words.P{"n": c.Number}), Sub: localTime(c.At, true)}
		if soak, ok := d.SoakH(c); ok {
			line.Label = SoakWords(soak)
		}
		if !c.Read() {
			line.Result = l.Say("row.not-read", nil)
			if c.WhyNot != "" {
				line.Result = l.Say("why-not."+c.WhyNot, nil)
			}
			r.Lines = append(r.Lines, line)
			continue
		}
		gone := c.Consumed.Or(0)
		line.Fates = fates[k]
		if line.Fates == nil {
			ordered = false
			line.Counts = figure.FateCounts{Consumed: clamp(gone), NotKnown: clamp(lost[k]), Unread: clamp(c.Unread.Or(0)),
				Present: clamp(baits - gone - lost[k] - c.Unread.Or(0))}
		}
		line.Result = l.Say("row.gone", words.P{"n": gone})
		line.Desc = l.Say("row.line", words.P{"soak": line.Label, "n": gone, "of": baits, "lost": lost[k]})
		said = append(said, line.Desc)
		r.Lines = append(r.Lines, line)
	}
	r.Desc = strings.Join(said, " ")
	if full && !ordered {
		r.Note = l.Say("row.by-count", nil)
	}
	return r
}

// clamp keeps a count drawable whatever a blocked record says.
func clamp(n int) int { return max(0, min(n, 200)) }

// fatesByCheck gives the drawing's fates by stake for checks read stake by stake.
func fatesByCheck(d *assay.Deployment, means []assay.How, n int) [][]figure.Fate {
	out := make([][]figure.Fate, n)
	most := 0
	for _, f := range d.Stakes {
		most = max(most, f.Stake)
	}
	if most == 0 || most > 200 {
		return out
	}
	gone := map[int]bool{}
	for k, c := range d.Checks {
		if k >= n {
			break
		}
		for _, f := range d.Stakes {
			if f.Check != c.Number || f.Stake < 1 {
				continue
			}
			if out[k] == nil {
				out[k] = make([]figure.Fate, most)
				for i := range out[k] {
					out[k][i] = figure.Unread
				}
			}
			switch rates.FateUnder(f, means) {
			case assay.Present:
				out[k][f.Stake-1] = figure.Present
			case assay.Consumed:
				gone[f.Stake] = true
			case assay.Lost:
				out[k][f.Stake-1] = figure.NotKnown
			}
		}
		for s := range gone {
			if out[k] != nil {
				out[k][s-1] = figure.Consumed
			}
		}
	}
	return out
}

func localTime(m assay.Moment, day bool) string {
	if !m.Known() {
		return ""
	}
	if day {
		return m.Local().Format("2006-01-02 15:04")
	}
	return m.Local().Format("15:04")
}

// number is a value that may be missing, NaN when it is.
func number(m assay.Maybe[float64]) float64 { return m.Or(math.NaN()) }

// CurvesPicture shows the share of baits still there, by group.
func CurvesPicture(l words.Language, r *rates.Result) figure.Curves {
	c := figure.Curves{
		Title: l.Say("curves.title", nil), XLabel: l.Say("curves.x", nil), YLabel: l.Say("curves.y", nil),
		DeterminedWord: l.Say("curves.known", nil), OpenWord: l.Say("curves.open", nil), BandWord: l.Say("curves.band", words.P{"level": r.Level}),
	}
	var said []string
	for _, g := range r.Groups {
		group := figure.CurveGroup{Label: g.Group, Sub: l.Say("curves.rows", words.P{"n": g.Deployments, "sites": g.Sites})}
		for _, s := range g.Survival {
			group.Stretches = append(group.Stretches, figure.Stretch{FromH: s.FromH, ToH: s.ToH, Survival: s.Survival, Lower: number(s.Lower), Upper: number(s.Upper)})
		}
		if n := len(g.Survival); n > 0 {
			said = append(said, l.Say("curves.end", words.P{"group": g.Group, "share": g.Survival[n-1].Survival, "h": g.Survival[n-1].ToH}))
		}
		c.Groups = append(c.Groups, group)
	}
	c.Desc = strings.Join(said, " ")
	return c
}

// SharesPicture shows what share of baits was gone by the last nominal soak in
// each group, with every row behind it.
func SharesPicture(l words.Language, k *compare.Result, r *rates.Result) figure.Strips {
	soak := 0.0
	for _, m := range k.Means {
		soak = math.Max(soak, m.SoakH)
	}
	s := figure.Strips{Title: l.Say("shares.title", words.P{"soak": SoakWords(soak)}), AxisLabel: l.Say("shares.axis", words.P{"soak": SoakWords(soak)}),
		Lo: 0, Hi: 100, Note: l.Say("shares.note", words.P{"level": k.ConfLevel})}
	var said []string
	for _, m := range k.Means {
		if m.SoakH != soak {
			continue
		}
		lower, upper := m.HeadlineLimits()
		strip := figure.Strip{Label: m.Level, Estimate: 100 * number(m.Proportion), Lower: 100 * number(lower), Upper: 100 * number(upper)}
		for _, lv := range k.Levels {
			if lv.Level == m.Level {
				strip.Sub = l.Say("curves.rows", words.P{"n": lv.Deployments, "sites": lv.Sites})
			}
		}
		if p, ok := m.Proportion.Get(); ok {
			strip.Value = l.Say("shares.of-100", words.P{"n": 100 * p})
			strip.ValueSub = rangeWords(l, lower, upper, 100)
			said = append(said, l.Say("shares.said", words.P{"level": m.Level, "n": 100 * p}))
		}
		if k.By == "habitat" || k.By == "site" {
			strip.Points = rowPoints(k, r, m.Level)
		}
		s.Groups = append(s.Groups, strip)
	}
	s.Desc = strings.Join(said, " ")
	return s
}

func rangeWords(l words.Language, lo, hi assay.Maybe[float64], times float64) string {
	if !lo.Known() || !hi.Known() {
		return ""
	}
	return l.Say("shares.range", words.P{"lower": times * lo.Or(0), "upper": times * hi.Or(0)})
}

// rowPoints are the rows' own shares at their last check.
func rowPoints(k *compare.Result, r *rates.Result, level string) []figure.StripDot {
	var dots []figure.StripDot
	for _, d := range r.Deployments {
		if of := d.Habitat; (k.By == "habitat" && of != level) || (k.By == "site" && d.Site != level) || len(d.Checks) == 0 {
			continue
		}
		if p, ok := d.Checks[len(d.Checks)-1].Proportion.Get(); ok {
			dots = append(dots, figure.StripDot{Value: 100 * p})
		}
	}
	return dots
}

// RatesPicture shows the consumption rate of a typical row of each group over
// the whole soak, with every row's own rate behind it.
func RatesPicture(l words.Language, k *compare.Result, r *rates.Result) figure.Strips {
	soak := 0.0
	for _, m := range k.Means {
		soak = math.Max(soak, m.SoakH)
	}
	s := figure.Strips{Title: l.Say("rates-figure.title", nil), AxisLabel: l.Say("rates-figure.axis", nil), Log: true, Note: l.Say("rates-figure.note", nil)}
	for _, lv := range k.Levels {
		strip := figure.Strip{Label: lv.Level, Sub: l.Say("curves.rows", words.P{"n": lv.Deployments, "sites": lv.Sites}), Estimate: math.NaN(), Lower: math.NaN(), Upper: math.NaN()}
		for _, m := range k.Means {
			if m.Level == lv.Level && m.SoakH == soak {
				slow, quick := m.HeadlineRateLimits()
				strip.Estimate, strip.Lower, strip.Upper = number(m.RateTypicalPerH), number(slow), number(quick)
				strip.Value = words.Number(strip.Estimate, "")
			}
		}
		for _, d := range r.Deployments {
			if (k.By == "habitat" && d.Habitat != lv.Level) || (k.By == "site" && d.Site != lv.Level) || (k.By != "habitat" && k.By != "site") {
				continue
			}
			if dot, ok := rateDot(d.RatePerH); ok {
				strip.Points = append(strip.Points, dot)
			}
		}
		s.Groups = append(s.Groups, strip)
	}
	return s
}

func rateDot(e rates.Estimate) (figure.StripDot, bool) {
	if x, ok := e.Estimate.Get(); ok && x > 0 {
		return figure.StripDot{Value: x}, true
	}
	if x, ok := e.Upper.Get(); ok && x > 0 {
		return figure.StripDot{Value: x, Side: figure.AtMost}, true
	}
	if x, ok := e.Lower.Get(); ok && x > 0 {
		return figure.StripDot{Value: x, Side: figure.AtLeast}, true
	}
	return figure.StripDot{}, false
}

// ContrastsPicture shows the ratios between groups.
func ContrastsPicture(l words.Language, k *compare.Result) figure.Strips {
	s := figure.Strips{Title: l.Say("contrasts.title", nil), AxisLabel: l.Say("contrasts.axis", nil), Log: true, Mark: 1, MarkOn: true,
		MarkLeft: l.Say("contrasts.left", nil), MarkRight: l.Say("contrasts.right", nil), Note: l.Say("contrasts.note", words.P{"level": k.ConfLevel})}
	if k.Test.Replicates > 0 {
		s.Note = l.Say("contrasts.note-simulated", words.P{"level": k.ConfLevel, "n": k.Test.Replicates})
	}
	for _, c := range k.Contrasts {
		ratio := c.RateRatio
		if !ratio.Known() {
			ratio = c.OddsRatio
		}
		lower, upper := c.HeadlineLimits()
		strip := figure.Strip{Label: l.Say("contrasts.pair", words.P{"a": c.A, "b": c.B}), Estimate: number(ratio), Lower: number(lower), Upper: number(upper)}
		if x, ok := ratio.Get(); ok {
			strip.Value = words.Number(x, "2")
		}
		if !c.PBootstrap.Known() && len(k.Contrasts) > 1 && c.LowerSimultaneous.Known() && c.UpperSimultaneous.Known() {
			strip.LowerAll, strip.UpperAll = number(c.LowerSimultaneous), number(c.UpperSimultaneous)
		}
		bands := bandStrips(l, k, c)
		if len(bands) > 0 {
			strip.Sub = l.Say("contrasts.average", nil)
		}
		s.Groups = append(append(s.Groups, strip), bands...)
	}
	return s
}

// bandStrips are the ratios of a pair in each stretch of time, where the one ratio
// is an average over them.
func bandStrips(l words.Language, k *compare.Result, c compare.Contrast) []figure.Strip {
	var out []figure.Strip
	for _, b := range k.BandContrasts {
		if b.A != c.A || b.B != c.B {
			continue
		}
		strip := figure.Strip{Label: BandWords(l, b), Sub: l.Say("contrasts.pair", words.P{"a": c.A, "b": c.B}), Estimate: number(b.RateRatio), Lower: number(b.Lower), Upper: number(b.Upper)}
		if x, ok := b.RateRatio.Get(); ok {
			strip.Value = words.Number(x, "2")
		}
		out = append(out, strip)
	}
	return out
}

// MapPicture shows the sites on the public coastline: one mark a site, at the
// middle of its rows. It says false where no site has a position, or where
// there are more than a map can show.
func MapPicture(l words.Language, ds []assay.Deployment) (figure.Map, bool) {
	type sum struct{ lat, lon, n float64 }
	sites := map[string]*sum{}
	for i := range ds {
		lat, okLat := ds[i].Latitude.Get()
		lon, okLon := ds[i].Longitude.Get()
		if !okLat || !okLon || !place.ValidPosition(lat, lon) {
			continue
		}
		s := sites[ds[i].Site]
		if s == nil {
			s = &sum{}
			sites[ds[i].Site] = s
		}
		if s.n > 0 && math.Abs(lon-s.lon/s.n) > 180 {
			lon += math.Copysign(360, s.lon/s.n-lon)
		}
		s.lat, s.lon, s.n = s.lat+lat, s.lon+lon, s.n+1
	}
	m := figure.Map{
		Title: l.Say("map.title", nil), Source: l.Say("map.source", nil), NoShore: l.Say("map.no-shore", nil), Note: l.Say("map.note", nil),
		North: l.Say("map.north", nil), South: l.Say("map.south", nil), East: l.Say("map.east", nil), West: l.Say("map.west", nil),
	}
	var names []string
	for n := range sites {
		names = append(names, n)
	}
	sort.Strings(names)
	box := place.Box{LatMin: 90, LatMax: -90, LonMin: 1000, LonMax: -1000}
	for _, n := range names {
		s := sites[n]
		at := figure.LonLat{Lon: s.lon / s.n, Lat: s.lat / s.n}
		m.Sites = append(m.Sites, figure.MapSite{Label: n, At: at})
		box.LatMin, box.LatMax = math.Min(box.LatMin, at.Lat), math.Max(box.LatMax, at.Lat)
		box.LonMin, box.LonMax = math.Min(box.LonMin, at.Lon), math.Max(box.LonMax, at.Lon)
	}
	if len(names) == 0 || len(names) > figure.MostSites {
		return m, false
	}
	// Room round the sites for the drawing to choose its frame in.
	pad := math.Max(0.3, 1.2*math.Max(box.LatMax-box.LatMin, (box.LonMax-box.LonMin)*math.Cos(box.LatMax*math.Pi/180)))
	wide := pad / math.Max(0.05, math.Cos((box.LatMin+box.LatMax)/2*math.Pi/180))
	box = place.Box{LatMin: math.Max(-90, box.LatMin-pad), LatMax: math.Min(90, box.LatMax+pad), LonMin: box.LonMin - wide, LonMax: box.LonMax + wide}
	if box.LonMax-box.LonMin > 360 {
		box.LonMin, box.LonMax = -180, 180
	}
	for _, ring := range place.Shoreline(box, place.Fine).Land {
		coast := make([]figure.LonLat, len(ring))
		for i, p := range ring {
			coast[i] = figure.LonLat{Lon: p.LonDeg, Lat: p.LatDeg}
		}
		m.Coast = append(m.Coast, coast)
	}
	m.Desc = l.Say("map.desc", words.P{"sites": names})
	return m, true
}
