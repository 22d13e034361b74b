package quality

import (
	"slices"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/words"
)

// siteNames folds the spellings of a site to one, by the site list.
type siteNames struct {
	spelling map[string]string
	listed   map[string]assay.Site
}

func newSiteNames(list []assay.Site) siteNames {
	n := siteNames{spelling: map[string]string{}, listed: map[string]assay.Site{}}
	for _, s := range list {
		name := plain(s.Name)
		n.listed[name] = s
		n.spelling[name] = name
	}
	for _, s := range list {
		for _, other := range s.Synonyms {
			if _, taken := n.spelling[plain(other)]; !taken {
				n.spelling[plain(other)] = plain(s.Name)
			}
		}
	}
	return n
}

// plain is a name without regard to case and to the spaces about and in it.
func plain(s string) string {
	simple := true
	for i := range len(s) {
		c := s[i]
		simple = simple && (c > ' ' && c < 'A' || c > 'Z' && c < 0x7f || c == ' ' && i > 0 && i < len(s)-1 && s[i-1] != ' ')
	}
	if simple {
		return s
	}
	return strings.ToLower(strings.Join(strings.Fields(s), " "))
}

func (n siteNames) fold(site string) string {
	p := plain(site)
	if one, ok := n.spelling[p]; ok {
		return one
	}
	return p
}

// teamKm is how far a team's rows of one season may lie from their middle for
// a lone row elsewhere to be taken as a slip. Bound of belief, no source.
const teamKm = 500

// groupKey names a site's or a team's rows.
type groupKey struct{ a, b, c string }

// newVerdicts compares every row with the place of its site: the site list's
// where it has one; else the middle of the site's rows, when more than half of
// them lie within the site's radius of it. A row whose site has no such place,
// being alone there or at odds with the others, is held against the rows of its
// team and season, within teamKm, but only for a sign or an exchange.
func newVerdicts(j *judging) []verdict {
	sites, teams := map[groupKey][]int{}, map[groupKey][]int{}
	for i := range j.rows {
		r := &j.rows[i]
		if _, ok := r.placed(); !ok {
			continue
		}
		k := groupKey{r.d.Programme, r.d.Team, r.site}
		if _, listed := j.sites.listed[r.site]; listed {
			k = groupKey{c: r.site}
		}
		sites[k] = append(sites[k], i)
		t := groupKey{r.d.Programme, r.d.Team, r.d.Season}
		teams[t] = append(teams[t], i)
	}
	teamPlace := map[groupKey]point{}
	for t, rows := range teams {
		if c, ok := j.middle(rows, func(*row) float64 { return teamKm }); ok && len(rows) > 2 {
			teamPlace[t] = c
		}
	}
	out := make([]verdict, len(j.rows))
	for k, rows := range sites {
		j.judgeSite(k, rows, teamPlace, out)
	}
	return out
}

func siteRadius(r *row) float64 { return r.p.SiteRadiusKm }

func (j *judging) judgeSite(k groupKey, rows []int, teamPlace map[groupKey]point, out []verdict) {
	should, ok, inList := point{}, false, ""
	if s, listed := j.sites.listed[k.c]; listed && s.Latitude.Known() && s.Longitude.Known() {
		p := point{s.Latitude.Or(0), s.Longitude.Or(0)}
		if p.valid() {
			should, ok, inList = p, true, s.Name
		}
	}
	if !ok && len(rows) > 2 {
		should, ok = j.middle(rows, siteRadius)
	}
	if ok {
		for _, i := range rows {
			by := j.otherRows(i, rows)
			if inList != "" {
				by = compared{kind: siteList, site: inList}
			}
			out[i] = j.against(i, should, by, siteRadius(&j.rows[i]), true)
		}
		return
	}
	for _, i := range rows {
		out[i] = j.withoutPlace(i, rows, teamPlace)
	}
}

// compared is what a position was held against, said when it is needed.
type compared struct {
	kind comparedKind
	site string
	n    int // other rows
}

type comparedKind int

const (
	nothing comparedKind = iota
	otherRows
	siteList
	teamRows
)

func (c compared) ref() words.Ref {
	switch c.kind {
	case otherRows:
		return words.Ref{Slug: "quality.other-rows", With: map[string]any{"site": c.site, "n": c.n}}
	case siteList:
		return words.Ref{Slug: "quality.site-list", With: map[string]any{"site": c.site}}
	}
	return words.Ref{Slug: "quality.team-rows"}
}

// otherRows names the other rows of row i's site, by its own spelling of it.
func (j *judging) otherRows(i int, rows []int) compared {
	return compared{otherRows, j.rows[i].d.Site, len(rows) - 1}
}

// withoutPlace judges a row whose site's rows do not agree on where it is.
func (j *judging) withoutPlace(i int, rows []int, teamPlace map[groupKey]point) verdict {
	d := j.rows[i].d
	team, ok := teamPlace[groupKey{d.Programme, d.Team, d.Season}]
	if ok {
		if v := j.against(i, team, compared{kind: teamRows}, teamKm, false); v.kind != fine {
			return v
		}
	}
	if len(rows) == 1 {
		return verdict{}
	}
	should := j.others(i, rows)
	if ok && len(rows) == 2 && should.km(team) > teamKm {
		// The other row is the one that is out of place, when it is.
		if p, _ := j.rows[i].placed(); p.km(team) <= teamKm {
			return verdict{}
		}
	}
	return j.against(i, should, j.otherRows(i, rows), siteRadius(&j.rows[i]), true)
}

// others is the middle of the other rows of a site whose rows disagree: with
// two rows the other one, with more the middle of all, which is near enough.
func (j *judging) others(i int, rows []int) point {
	if len(rows) == 2 {
		o := rows[0]
		if o == i {
			o = rows[1]
		}
		p, _ := j.rows[o].placed()
		return p
	}
	return j.median(rows)
}

// against judges one row by where it should be.
func (j *judging) against(i int, should point, by compared, km float64, far bool) verdict {
	p, _ := j.rows[i].placed()
	d := p.km(should)
	if d <= km {
		return verdict{by: by}
	}
	v, ok := mend(p, should, km)
	if !ok && !far {
		return verdict{}
	}
	if !ok {
		v = verdict{kind: farOff, field: "latitude"}
	}
	v.from, v.km, v.by, v.most = should, d, by, km
	return v
}

// middle is the middle of those rows that lie within their radius of the
// median position, when they are more than half.
func (j *judging) middle(rows []int, radiusKm func(*row) float64) (point, bool) {
	c := j.median(rows)
	var inside []int
	for _, i := range rows {
		if p, _ := j.rows[i].placed(); p.km(c) <= radiusKm(&j.rows[i]) {
			inside = append(inside, i)
		}
	}
	if 2*len(inside) <= len(rows) {
		return point{}, false
	}
	return j.median(inside), true
}

// median takes latitude and longitude each by itself, which one row out of
// place cannot move far. Longitudes are cut where the circle is emptiest, so
// that rows on both sides of ±180° stay together.
func (j *judging) median(rows []int) point {
	lats, lons := make([]float64, len(rows)), make([]float64, len(rows))
	for k, i := range rows {
		p, _ := j.rows[i].placed()
		lats[k], lons[k] = p.lat, p.lon
	}
	slices.Sort(lats)
	slices.Sort(lons)
	n := len(lons)
	cut, widest := 0, lons[0]+360-lons[n-1]
	for k := 1; k < n; k++ {
		if gap := lons[k] - lons[k-1]; gap > widest {
			cut, widest = k, gap
		}
	}
	at := func(k int) float64 {
		if k += cut; k < n {
			return lons[k]
		}
		return lons[k-n] + 360
	}
	return point{(lats[(n-1)/2] + lats[n/2]) / 2, place.NormalLongitude((at((n-1)/2) + at(n/2)) / 2)}
}
