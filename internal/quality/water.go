package quality

import (
	"math"
	"slices"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/sheet"
	"soakline/internal/sun"
	"soakline/internal/words"
)

// Sea is what the site book and its files say of one row.
type Sea struct {
	// Dry is the lowest predicted water over the soak, where it stands below the
	// row's bed; LoggerDry the lowest that a logger of the site measured.
	Dry, LoggerDry *DryBed
	// LoggerGap is the longest time in the soak without a value of the site's logger;
	// nil where there is no logger, or none worth telling.
	LoggerGap *LoggerGap
}

// DryBed is water that stands below a row's bed.
type DryBed struct {
	At      time.Time
	Zone    *time.Location
	HeightM float64 // of the water above the datum
	BedM    float64 // of the row's shallow end above the datum
	BedFrom BedFrom
}

// BedFrom says what a row's bed was taken from.
type BedFrom string

// The row's own depth above the datum, its depth at a stated time and the predicted
// water then, the site book.
const (
	BedDepth    BedFrom = "depth"
	BedSounding BedFrom = "sounding"
	BedSite     BedFrom = "site"
	BedLogger   BedFrom = "logger" // no datum: heights count from the bed under the logger
)

// LoggerGap is how long a logger told nothing in a soak.
type LoggerGap struct {
	GapH, SoakH float64
	File        string
	// None says that no value of the logger falls in the soak.
	None bool
}

func waterRules() []Rule {
	return []Rule{
		{Slug: "predicted-dry", Severity: assay.Ask, one: predictedDry},
		{Slug: "logger-dry", Severity: assay.Ask, one: loggerDry},
		{Slug: "visit-in-dark", Severity: assay.Note, one: visitInDark},
		{Slug: "logger-gap", Severity: assay.Note, one: loggerGap},
		{Slug: "state-with-habitat", Severity: assay.Note, across: stateWithHabitat},
	}
}

// sea is what is known of the row's water; nil where nothing is.
func (r *row) sea() *Sea {
	if r.j.ctx.Sea == nil {
		return nil
	}
	return r.j.ctx.Sea(r.d)
}

func predictedDry(r *row) {
	if s := r.sea(); s != nil && s.Dry != nil {
		r.sayDry(s.Dry)
	}
}

func loggerDry(r *row) {
	if s := r.sea(); s != nil && s.LoggerDry != nil {
		r.sayDry(s.LoggerDry)
	}
}

func (r *row) sayDry(x *DryBed) {
	r.say(hit{field: "deployed_at", value: sheet.FormatMoment(r.d.SetOut), with: map[string]any{
		"at": x.At.In(x.Zone).Format("2006-01-02 15:04 MST"), "by": x.BedM - x.HeightM, "height": x.HeightM, "bed": x.BedM, "bed_from": words.Ref{Slug: "quality.bed-" + string(x.BedFrom)},
	}, about: []any{r.d.SetOut, x.At.Truncate(time.Minute), math.Round(x.BedM * 100)}})
}

// gapWorthH is the shortest time without a value that is told, hours: half a tide.
// Common practice, no source.
const gapWorthH = 6

func loggerGap(r *row) {
	s := r.sea()
	if s == nil || s.LoggerGap == nil || !s.LoggerGap.None && s.LoggerGap.GapH < gapWorthH {
		return
	}
	g := s.LoggerGap
	r.say(hit{field: "deployed_at", value: sheet.FormatMoment(r.d.SetOut), with: map[string]any{"gap": g.GapH, "soak": g.SoakH, "file": g.File},
		about: []any{r.d.SetOut, g.File, math.Round(g.GapH * 10)}})
}

// darkDeg is the altitude of the sun at which civil twilight ends.
const darkDeg = -6

// sunAt is the altitude of the sun at the row, degrees; false without a position or
// a year with light.
func (r *row) sunAt(at time.Time) (float64, bool) {
	p, ok := r.lit(at)
	if !ok {
		return 0, false
	}
	return sun.AltitudeDeg(p.lat, p.lon, at), true
}

// lit is where the row's light is told for, if it can be told at that time.
func (r *row) lit(at time.Time) (point, bool) {
	p, ok := r.placed()
	if !ok {
		if s, listed := r.j.sites.listed[r.site]; listed {
			p.lat, p.lon, ok = s.Placed()
		}
	}
	y := at.UTC().Year()
	return p, ok && place.ValidPosition(p.lat, p.lon) && y >= sun.FirstYear && y <= sun.LastYear
}

// darkAt is the altitude of the sun where it is below darkDeg.
func (r *row) darkAt(at time.Time) (float64, bool) {
	p, ok := r.lit(at)
	if !ok || sun.RoughAltitudeDeg(p.lat, p.lon, at) > darkDeg+1 { // most visits are by day
		return 0, false
	}
	deg := sun.AltitudeDeg(p.lat, p.lon, at)
	return deg, deg < darkDeg
}

// visitInDark speaks of every visit without civil twilight: either a time on the
// wrong clock, or a visit that the method has no light for.
func visitInDark(r *row) {
	look := func(check int, field string, m assay.Moment) {
		if !m.Known() {
			return
		}
		if deg, dark := r.darkAt(m.At); dark {
			r.say(hit{check: check, field: field, value: sheet.FormatMoment(m), with: map[string]any{
				"visit": visitRef(check), "below": -deg, "at": m.Local().Format("15:04"),
			}})
		}
	}
	look(0, "deployed_at", r.d.SetOut)
	for _, c := range r.d.Checks {
		look(c.Number, column(atCol, c.Number), c.At)
	}
}

func visitRef(check int) words.Ref {
	if check == 0 {
		return words.Ref{Slug: "quality.visit-setting"}
	}
	return words.Ref{Slug: "quality.visit-check", With: map[string]any{"check": check}}
}

// seaStates are the states at setting out that may coincide with a habitat, each
// with the least difference between the middles of two habitats that is worth
// telling: rows of one week and of the next differ in the sun by less. Common
// practice, no source.
var seaStates = []struct {
	name  string
	least float64
}{{"sun_altitude_deg", 10}, {"tide_height_m", 0.2}, {"tide_range_m", 0.2}, {"tide_from_high_h", 1}}

// state is a state of tide or light of a row at setting out.
func (r *row) state(name string) (float64, bool) {
	if name == "sun_altitude_deg" {
		if !r.d.SetOut.Known() {
			return 0, false
		}
		return r.sunAt(r.d.SetOut.At)
	}
	x, ok := r.d.Derived[name]
	return x, ok && !math.IsNaN(x)
}

// apartChance is the chance, were habitats drawn by lot, below which a complete
// separation is told. With n and m rows it is 2 / C(n+m, n): the two extreme ones of
// all orders. Five and five rows make 0.8 %.
const apartChance = 0.01

// stateWithHabitat speaks of habitats whose rows were all set out at another state
// of tide or light than those of another habitat: what differs between them may be
// the tide or the hour. It looks at one season of one programme at a time, at rows
// that are neither controls nor practice.
func stateWithHabitat(j *judging) {
	type group struct{ programme, season string }
	rows := map[group]map[string][]*row{}
	var order []group
	for i := range j.rows {
		r := &j.rows[i]
		if r.d.IsControl() || r.d.IsPractice() || r.d.Habitat == "" {
			continue
		}
		k := group{r.d.Programme, r.d.Season}
		if rows[k] == nil {
			rows[k] = map[string][]*row{}
			order = append(order, k)
		}
		rows[k][plain(r.d.Habitat)] = append(rows[k][plain(r.d.Habitat)], r)
	}
	for _, k := range order {
		habitatsApart(rows[k])
	}
}

// habitatsApart says of each habitat, at its first row, from which earlier ones in
// byte order it is apart, and in what.
func habitatsApart(by map[string][]*row) {
	var names []string
	for n := range by {
		names = append(names, n)
	}
	slices.Sort(names)
	spans := map[string]map[string]stateSpan{}
	for _, n := range names {
		spans[n] = spansOf(by[n])
	}
	for i, b := range names {
		var others, states []string
		for _, a := range names[:i] {
			for _, s := range seaStates {
				if spans[a][s.name].apart(spans[b][s.name], s.least) {
					if !slices.Contains(others, by[a][0].d.Habitat) {
						others = append(others, by[a][0].d.Habitat)
					}
					if !slices.Contains(states, s.name) {
						states = append(states, s.name)
					}
				}
			}
		}
		if len(others) == 0 {
			continue
		}
		first := by[b][0]
		first.say(hit{field: "habitat", value: first.d.Habitat, with: map[string]any{
			"habitat": first.d.Habitat, "others": others, "states": stateRefs(states), "names": states,
		}, about: []any{first.d.Habitat, len(by[b]), strings.Join(others, "\x1f"), strings.Join(states, " ")}})
	}
}

func stateRefs(states []string) (list words.List) {
	for _, s := range states {
		list = append(list, words.Ref{Slug: "quality.state-" + s})
	}
	return list
}

// stateSpan is between which values a state of n rows lies.
type stateSpan struct {
	n      int
	lo, hi float64
}

func spansOf(rows []*row) map[string]stateSpan {
	out := map[string]stateSpan{}
	for _, state := range seaStates {
		name := state.name
		s := stateSpan{lo: math.Inf(1), hi: math.Inf(-1)}
		for _, r := range rows {
			if x, ok := r.state(name); ok {
				s.n++
				s.lo, s.hi = math.Min(s.lo, x), math.Max(s.hi, x)
			}
		}
		out[name] = s
	}
	return out
}

// apart says whether no value of one lies among those of the other, their middles
// differ by least or more, and this is no play of chance.
func (s stateSpan) apart(t stateSpan, least float64) bool {
	if s.n == 0 || t.n == 0 || s.lo <= t.hi && t.lo <= s.hi || math.Abs(s.lo+s.hi-t.lo-t.hi)/2 < least {
		return false
	}
	// 2 / C(n+m, n) by logarithms of factorials.
	lf := func(n int) float64 { g, _ := math.Lgamma(float64(n) + 1); return g }
	return math.Log(2)+lf(s.n)+lf(t.n)-lf(s.n+t.n) <= math.Log(apartChance)
}
