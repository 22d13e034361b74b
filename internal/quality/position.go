package quality

import (
	"math"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

func positionRules() []Rule {
	ask := assay.Ask
	radius := []string{"site_radius_km"}
	return []Rule{
		{Slug: "position-out-of-range", Severity: assay.Block, one: positionOutOfRange},
		{Slug: "position-missing", Severity: ask, one: positionMissing},
		{Slug: "position-zero", Severity: ask, one: positionZero},
		{Slug: "position-sign", Severity: ask, Tolerances: radius, across: positionSign},
		{Slug: "position-swapped", Severity: ask, Tolerances: radius, across: positionSwapped},
		{Slug: "position-far-from-site", Severity: ask, Tolerances: radius, across: positionFar},
		{Slug: "position-on-land", Severity: ask, Tolerances: []string{"on_land_km"}, across: positionOnLand},
		{Slug: "position-open-sea", Severity: ask, across: positionOpenSea},
		{Slug: "position-decimals", Severity: assay.Note, Tolerances: []string{"position_decimals_min"}, one: positionDecimals},
	}
}

// point is a position in degrees.
type point struct{ lat, lon float64 }

func (p point) String() string { return sheet.FormatNumber(p.lat) + ", " + sheet.FormatNumber(p.lon) }

func (p point) valid() bool { return math.Abs(p.lat) <= 90 && math.Abs(p.lon) <= 180 }

func (p point) km(q point) float64 {
	m, _, _ := place.Between(p.lat, p.lon, q.lat, q.lon)
	return m / 1000
}

// position is the row's position where both coordinates are written.
func (r *row) position() (point, bool) {
	lat, okLat := r.d.Latitude.Get()
	lon, okLon := r.d.Longitude.Get()
	return point{lat, lon}, okLat && okLon
}

// placed is the row's position where it can be one.
func (r *row) placed() (point, bool) {
	p, ok := r.position()
	return p, ok && p.valid() && p != point{}
}

func positionOutOfRange(r *row) {
	say := func(field string, x, most float64) {
		if math.Abs(x) <= most {
			return
		}
		hint := words.Ref{Slug: "quality.no-hint"}
		if p, ok := r.position(); ok {
			if turned := (point{p.lon, p.lat}); turned.valid() {
				hint = words.Ref{Slug: "quality.exchanged", With: map[string]any{"position": turned.String()}}
			}
		}
		r.say(hit{field: field, value: sheet.FormatNumber(x),
			with:  map[string]any{"value": sheet.FormatNumber(x), "most": int(most), "hint": hint},
			about: []any{r.d.Latitude.Or(0), r.d.Longitude.Or(0)}})
	}
	say("latitude", r.d.Latitude.Or(0), 90)
	say("longitude", r.d.Longitude.Or(0), 180)
}

func positionMissing(r *row) {
	switch {
	case !r.d.Latitude.Known():
		r.say(hit{field: "latitude", with: map[string]any{"field": "latitude"}})
	case !r.d.Longitude.Known():
		r.say(hit{field: "longitude", with: map[string]any{"field": "longitude"}})
	}
}

func positionZero(r *row) {
	if p, ok := r.position(); ok && p == (point{}) {
		r.say(hit{field: "latitude", value: "0", about: []any{0, 0}})
	}
}

func positionDecimals(r *row) {
	if n, ok := r.d.PositionDecimals.Get(); ok && n < r.p.PositionDecimalsMin {
		p, known := r.position()
		if !known {
			return
		}
		// One degree of latitude is about 111 km.
		r.say(hit{field: "latitude", value: sheet.FormatNumber(p.lat),
			with: map[string]any{"decimals": n, "least": r.p.PositionDecimalsMin, "size_m": 111000 * math.Pow10(-n)}, about: []any{n, p.String()}})
	}
}

// verdict is what the rules across rows say of one position.
type verdict struct {
	kind   verdictKind
	from   point   // what it was compared with
	km     float64 // from there
	mended point   // of a sign or an exchange
	field  string
	by     compared
	most   float64 // km that were allowed
}

type verdictKind int

const (
	fine verdictKind = iota
	signWrong
	swapped
	farOff
)

// variants of a position that a slip of the pen makes, the likeliest first.
func variants(p point) []struct {
	point
	kind  verdictKind
	field string
} {
	type v = struct {
		point
		kind  verdictKind
		field string
	}
	return []v{
		{point{p.lat, -p.lon}, signWrong, "longitude"},
		{point{-p.lat, p.lon}, signWrong, "latitude"},
		{point{-p.lat, -p.lon}, signWrong, "latitude"},
		{point{p.lon, p.lat}, swapped, "latitude"},
		{point{-p.lon, p.lat}, swapped, "latitude"},
		{point{p.lon, -p.lat}, swapped, "latitude"},
		{point{-p.lon, -p.lat}, swapped, "latitude"},
	}
}

// mend looks for the variant of p that lies within km of where it should be,
// the nearest of them.
func mend(p, should point, km float64) (best verdict, ok bool) {
	nearest := km
	for _, v := range variants(p) {
		if !v.valid() || v.point == p {
			continue
		}
		if d := v.km(should); d <= nearest && (!ok || d < nearest) {
			best = verdict{kind: v.kind, mended: v.point, field: v.field}
			nearest, ok = d, true
		}
	}
	return best, ok
}

// eachVerdict calls with every row that has a position and its verdict.
func (j *judging) eachVerdict(do func(*row, point, verdict)) {
	if j.verdicts == nil {
		j.verdicts = newVerdicts(j)
	}
	for i := range j.rows {
		if p, ok := j.rows[i].placed(); ok {
			do(&j.rows[i], p, j.verdicts[i])
		}
	}
}

func (r *row) sayVerdict(p point, v verdict) {
	with := map[string]any{"position": p.String(), "km": v.km, "compared": v.by.ref(), "most_km": v.most}
	if v.kind != farOff {
		with["mended"] = v.mended.String()
		with["mended_latitude"], with["mended_longitude"] = v.mended.lat, v.mended.lon
	}
	field := v.field
	value := p.lat
	if field == "longitude" {
		value = p.lon
	}
	r.say(hit{field: field, value: sheet.FormatNumber(value), with: with, about: []any{p.lat, p.lon}})
}

func (j *judging) sayKind(kind verdictKind) {
	j.eachVerdict(func(r *row, p point, v verdict) {
		if v.kind == kind {
			r.sayVerdict(p, v)
		}
	})
}

func positionSign(j *judging)    { j.sayKind(signWrong) }
func positionSwapped(j *judging) { j.sayKind(swapped) }
func positionFar(j *judging)     { j.sayKind(farOff) }

// Squares of latitude and longitude in which the way inland is asked for once:
// their side in degrees, and how far any point of one can lie from its middle.
// A degree of a meridian is at most 111.7 km.
const (
	squareDeg = 0.02
	squareKm  = squareDeg / 2 * 111.7 * math.Sqrt2
)

// inland is InlandKm of p where that may lie above land or below -sea, and any
// number between the two where it cannot. The way inland changes by no more
// than the way gone, so most positions are settled by their square's middle,
// which is asked once: to the shore is a long way to measure.
func (j *judging) inland(p point, land, sea float64) float64 {
	middle := point{squareDeg * math.Round(p.lat/squareDeg), squareDeg * math.Round(p.lon/squareDeg)}
	if middle.valid() {
		if km := j.ask(middle); km+squareKm <= land && km-squareKm >= -sea {
			return km
		}
	}
	return j.ask(p)
}

// ask is InlandKm, once for each position.
func (j *judging) ask(p point) float64 {
	km, ok := j.inlandKm[p]
	if !ok {
		km = j.ctx.InlandKm(p.lat, p.lon)
		if j.inlandKm == nil {
			j.inlandKm = map[point]float64{}
		}
		j.inlandKm[p] = km
	}
	return km
}

// positionOnLand leaves out positions that a sign or an exchange explains. The
// shoreline is coarse: it raises the question and cannot settle it.
func positionOnLand(j *judging) {
	j.eachVerdict(func(r *row, p point, v verdict) {
		if v.kind == signWrong || v.kind == swapped {
			return
		}
		if km := j.inland(p, r.p.OnLandKm, openSeaKm); km > r.p.OnLandKm {
			r.say(hit{field: "latitude", value: sheet.FormatNumber(p.lat),
				with:  map[string]any{"position": p.String(), "km": km, "most_km": r.p.OnLandKm, "hint": j.atShore(p, v)},
				about: []any{p.lat, p.lon}})
		}
	})
}

// openSeaKm: a row stands in water that stakes can be set in. Bound of belief,
// no source; far reefs and small islands that the shoreline lacks lie beyond it.
const openSeaKm = 100

func positionOpenSea(j *judging) {
	j.eachVerdict(func(r *row, p point, v verdict) {
		if v.kind == signWrong || v.kind == swapped {
			return
		}
		if km := -j.inland(p, r.p.OnLandKm, openSeaKm); km > openSeaKm {
			r.say(hit{field: "latitude", value: sheet.FormatNumber(p.lat),
				with:  map[string]any{"position": p.String(), "km": km, "most_km": openSeaKm, "hint": j.atShore(p, v)},
				about: []any{p.lat, p.lon}})
		}
	})
}

// atShore says which variants of p lie near a shore: within the distance at
// which the coarse shoreline is still believed, on either side of it. Where the
// row's site has other rows that p agrees with, none is offered.
func (j *judging) atShore(p point, v verdict) words.Ref {
	var found []string
	for _, o := range variants(p) {
		if v.by.kind != nothing && v.kind == fine || !o.valid() || o.point == p {
			continue
		}
		if km := j.ask(o.point); math.Abs(km) <= shoreKm {
			found = append(found, o.String())
		}
	}
	if found == nil {
		return words.Ref{Slug: "quality.no-hint"}
	}
	return words.Ref{Slug: "quality.at-shore", With: map[string]any{"positions": found}}
}

// shoreKm: 95 % of true shore points lie within this of the embedded shoreline
// (measured against GSHHG 2.3.7, see package place).
const shoreKm = 12.7
