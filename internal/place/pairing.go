package place

import (
	"math"
	"slices"
)

// pairing makes a position of two coordinates: which is the latitude, which
// side of equator and meridian, and what of that is in doubt.
type pairing struct {
	text   string
	o      Options
	c      [2]component
	a      [2]amount
	xFirst bool // the form puts longitude first
	fields bool // two fields of a sheet: the columns say which is which
	doubts []Question
}

// axis returns 'a' where letters or label say latitude, 'o' for longitude, 0
// where nothing does, '?' where they disagree.
func (c component) axis() byte {
	axis := c.label
	for _, h := range c.hemi {
		x := byte('o')
		if h == 'N' || h == 'S' {
			x = 'a'
		}
		if axis != 0 && axis != x {
			return '?'
		}
		axis = x
	}
	return axis
}

// read settles axis and sides and judges the result.
func (p *pairing) read() (Reading, *Refusal) {
	if bad := p.settleAxes(); bad != nil {
		return Reading{}, bad
	}
	lats, latDoubts := p.sides(0)
	lons, lonDoubts := p.sides(1)
	if bad := p.limit(lats, lons); bad != nil {
		return Reading{}, bad
	}
	r := Reading{Notation: p.a[0].notation(), ResolutionM: resolution(lats[0], p.a[0].step, p.a[1].step), Questions: p.doubts}
	if n := p.a[1].notation(); n != r.Notation {
		r.Notation = MixedNotation
	}
	if p.a[0].compact || p.a[1].compact {
		r.Questions = append(r.Questions, ask("compact", "text", clip(p.text)))
	}
	for i, v := range lons { // 0..360 is a habit of some charts and models
		if v > 180 {
			lons[i] = v - 360
			r.Questions = append(r.Questions, ask("over-180", "piece", v))
		}
	}
	sideDoubts := append(latDoubts, lonDoubts...)
	var all []Candidate
	for _, lat := range lats {
		for _, lon := range lons {
			why := ask("reading", "latitude", lat+0, "longitude", lon+0)
			all = append(all, Candidate{lat + 0, lon + 0, why})
		}
	}
	r.settle(all, sideDoubts, p.o)
	if r.Known() {
		r.judge(p)
	}
	return r, nil
}

// settle picks one of the positions a text may mean: the only one, or the only
// one that is where it should be. Else there is none.
func (r *Reading) settle(all []Candidate, doubts []Question, o Options) {
	if len(all) > 1 {
		var fit []Candidate
		for _, c := range all {
			if o.asked() && o.fits(c.LatDeg, c.LonDeg) {
				fit = append(fit, c)
			}
		}
		if len(fit) != 1 {
			r.LatDeg, r.LonDeg = math.NaN(), math.NaN()
			r.Questions = append(r.Questions, doubts...)
			r.Candidates = append(r.Candidates, all...)
			return
		}
		all, doubts = fit, nil
	}
	r.LatDeg, r.LonDeg = all[0].LatDeg, all[0].LonDeg
	r.Questions = append(r.Questions, doubts...)
}

// settleAxes puts the latitude into c[0], a[0].
func (p *pairing) settleAxes() *Refusal {
	x := [2]byte{p.c[0].axis(), p.c[1].axis()}
	if x[0] == '?' || x[1] == '?' || len(p.c[0].hemi) > 1 || len(p.c[1].hemi) > 1 {
		return refuse("letters-clash", "text", clip(p.text))
	}
	if x[0] != 0 && x[0] == x[1] {
		return refuse("same-axis", "text", clip(p.text))
	}
	given := x[0] != 0 || x[1] != 0
	turn := x[0] == 'o' || x[1] == 'a'
	if !given {
		turn = p.xFirst
		if !p.xFirst && p.a[0].deg > 90 && p.a[1].deg <= 90 {
			turn = true
			if p.fields {
				p.doubts = append(p.doubts, ask("fields-order", "piece", p.a[0].deg))
			} else {
				p.doubts = append(p.doubts, ask("order", "text", clip(p.text)))
			}
		}
	}
	if turn {
		p.c[0], p.c[1] = p.c[1], p.c[0]
		p.a[0], p.a[1] = p.a[1], p.a[0]
		if p.fields && given {
			p.doubts = append(p.doubts, ask("fields-swapped"))
		}
	}
	return nil
}

// axisName begins the slugs that differ by axis.
var axisName = [2]string{"latitude", "longitude"}

// sides returns the signed values a coordinate (0 latitude, 1 longitude) may
// have, and the doubts that hold if there are several.
func (p *pairing) sides(i int) ([]float64, []Question) {
	c, a, other := p.c[i], p.a[i], p.a[1-i]
	piece := a.deg
	if len(c.hemi) == 1 {
		h := c.hemi[0]
		west := h == 'S' || h == 'W'
		switch {
		case h == 'O' && a.negative:
			return []float64{-a.deg}, []Question{ask("sign-and-letter", "letter", "O")}
		case h == 'O':
			return []float64{-a.deg, a.deg}, []Question{ask("letter-o", "piece", piece)}
		case a.negative && west:
			return []float64{-a.deg}, []Question{ask("sign-and-letter", "letter", string(h))}
		case a.negative || a.signed && west:
			return []float64{-a.deg, a.deg}, []Question{ask("sign-against-letter", "letter", string(h))}
		case west:
			return []float64{-a.deg}, nil
		}
		return []float64{a.deg}, nil
	}
	switch {
	case a.negative:
		return []float64{-a.deg}, nil
	case a.signed || a.deg == 0:
		return []float64{a.deg}, nil
	case a.deg > 180: // 0..360 needs no side
		return []float64{a.deg}, nil
	case len(p.c[1-i].hemi) == 1:
		return []float64{a.deg, -a.deg}, []Question{ask(axisName[i]+"-letter-missing", "piece", piece)}
	case a.parts > 1 && !other.signed:
		// Degrees and minutes are written with letters; without, and without
		// any sign, the side was left out.
		return []float64{a.deg, -a.deg}, []Question{ask(axisName[i]+"-side-missing", "piece", piece)}
	}
	return []float64{a.deg}, nil
}

// limit refuses what lies outside the Earth's coordinates.
func (p *pairing) limit(lats, lons []float64) *Refusal {
	for _, v := range lats {
		if math.Abs(v) > 90 {
			return refuse("latitude-range", "piece", v)
		}
	}
	for _, v := range lons {
		if v < -180 || v > 360 || v > 180 && len(p.c[1].hemi) > 0 {
			return refuse("longitude-range", "piece", v)
		}
	}
	return nil
}

// judge adds the doubts that the place raises: nothing where it should be, a
// slip that would put it there, 0, 0.
func (r *Reading) judge(p *pairing) {
	if r.LatDeg == 0 && r.LonDeg == 0 {
		r.Questions = append(r.Questions, ask("zero"))
	}
	if p != nil && len(p.c[0].numerals) == 1 && r.LatDeg == r.LonDeg && r.LatDeg != 0 {
		r.Questions = append(r.Questions, ask("same-twice", "piece", r.LatDeg))
	}
	o := Options{}
	if p != nil {
		o = p.o
	}
	r.compare(o)
}

// compare asks where a position is not where it should be.
func (r *Reading) compare(o Options) {
	if !o.asked() || o.fits(r.LatDeg, r.LonDeg) {
		return
	}
	var better []Variant
	for _, v := range slips(r.LatDeg, r.LonDeg) {
		if o.fits(v.LatDeg, v.LonDeg) {
			better = append(better, v)
		}
	}
	if len(better) == 0 {
		if o.Near != nil {
			r.Questions = append(r.Questions, ask("far", "km", math.Round(o.farKm(r.LatDeg, r.LonDeg)), "within_km", o.withinKm()))
		} else {
			r.Questions = append(r.Questions, ask("outside-region"))
		}
		return
	}
	seen := []string{}
	for _, v := range better {
		q := Question{Slug: v.Slug, With: params([]any{"latitude", v.LatDeg, "longitude", v.LonDeg})}
		if !slices.Contains(seen, v.Slug) {
			seen = append(seen, v.Slug)
			r.Questions = append(r.Questions, q)
		}
		r.Candidates = append(r.Candidates, Candidate{v.LatDeg, v.LonDeg, q})
	}
}
