package quality

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"
	"sort"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

func duplicateRules() []Rule {
	return []Rule{
		{Slug: "identifier-twice", Severity: assay.Block, across: identifierTwice},
		{Slug: "same-row-twice", Severity: assay.Ask, across: sameRowTwice},
		{Slug: "near-in-place-and-time", Severity: assay.Ask, Tolerances: []string{"near_m", "near_h"}, across: nearInPlaceAndTime},
	}
}

// twins are the rows that a rule across rows found to be one of a kind with
// others, shared by the rules of this file.
type twins struct {
	identifier [][]*row
	same       map[*row]*row // a row and one it repeats
	taken      []bool        // by place in the input: part of either
}

func (j *judging) findTwins() *twins {
	if j.twins == nil {
		t := &twins{taken: make([]bool, len(j.rows))}
		t.identifier = j.sameIdentifier()
		for _, group := range t.identifier {
			for _, r := range group {
				t.taken[r.i] = true
			}
		}
		t.same = j.sameRows()
		for r := range t.same {
			t.taken[r.i] = true
		}
		j.twins = t
	}
	return j.twins
}

// order compares rows by what is written in them and where, never by their
// place in the input, so that the same records in another order give the same.
func order(a, b *row) int {
	return cmp.Or(strings.Compare(a.d.ID, b.d.ID), strings.Compare(a.d.Programme, b.d.Programme),
		strings.Compare(a.d.Team, b.d.Team), strings.Compare(a.d.Season, b.d.Season), strings.Compare(a.site, b.site),
		strings.Compare(a.d.Key, b.d.Key), strings.Compare(a.d.Where.File, b.d.Where.File), strings.Compare(a.d.Where.Sheet, b.d.Where.Sheet), cmp.Compare(a.d.Where.Line, b.d.Where.Line))
}

// groups gathers rows by a key, each group in the order of what is written, and
// keeps those of two or more.
func groups[K comparable](j *judging, key func(*row) (K, bool)) [][]*row {
	last := make(map[K]int, len(j.rows)) // the last row with a key
	before := make([]int, len(j.rows))   // the one before it, or -1
	size := make([]int, len(j.rows))     // how many up to it
	for i := range j.rows {
		k, ok := key(&j.rows[i])
		if !ok {
			continue
		}
		before[i], size[i] = -1, 1
		if p, more := last[k]; more {
			before[i], size[i] = p, size[p]+1
		}
		last[k] = i
	}
	var out [][]*row
	for _, i := range last {
		if size[i] < 2 {
			continue
		}
		g := make([]*row, 0, size[i])
		for ; i >= 0; i = before[i] {
			g = append(g, &j.rows[i])
		}
		slices.SortFunc(g, order)
		out = append(out, g)
	}
	return out
}

// identity is that within which an identifier is given once.
type identity struct{ programme, team, season, site, id string }

func (r *row) identity() identity {
	return identity{plain(r.d.Programme), plain(r.d.Team), plain(r.d.Season), r.site, strings.TrimSpace(r.d.ID)}
}

func (j *judging) sameIdentifier() [][]*row {
	return groups(j, func(r *row) (identity, bool) { return r.identity(), !blank(r.d.ID) })
}

// sayTwin says of a row which other it is a twin of.
func (r *row) sayTwin(other *row, field, value string, with map[string]any, about ...any) {
	all := map[string]any{"other": other.d.ID, "other_place": other.called()}
	for k, v := range with {
		all[k] = v
	}
	r.say(hit{field: field, value: value, with: all, about: about})
}

// called names a row for the sentence about another: its identifier and where
// it stands in a file.
func (r *row) called() string {
	at := r.d.Where
	at.Column = ""
	if s := at.String(); s != "" {
		return r.d.ID + " (" + s + ")"
	}
	return r.d.ID
}

func identifierTwice(j *judging) {
	for _, group := range j.findTwins().identifier {
		for k, r := range group {
			other := group[0]
			if k == 0 {
				other = group[1]
			}
			r.sayTwin(other, "deployment_id", r.d.ID, map[string]any{"id": r.d.ID, "n": len(group), "site": r.d.Site}, r.d.ID, r.d.Site)
		}
	}
}

// reading is what two copies of one row share.
type reading struct{ site, habitat, control, counts string }

// written is the row's times and counts as one text, which answers are kept by.
func (r *row) written() string {
	list := []any{r.d.SetOut.At, r.d.Baits}
	for _, c := range r.checks {
		list = append(list, c.Number, c.At.At, c.Consumed.Or(-1), c.Lost.Or(-1))
	}
	return values(list)
}

// counted is the same for the same times and counts, and shorter; false for a row
// without any count, which says too little to be a copy.
func (r *row) counted() (string, bool) {
	var room [256]byte
	b := room[:0]
	moment := func(m assay.Moment) {
		b = binary.AppendVarint(binary.AppendVarint(b, m.At.Unix()), int64(m.At.Nanosecond()))
	}
	moment(r.d.SetOut)
	b = binary.AppendVarint(b, int64(r.d.Baits))
	read := false
	for _, c := range r.checks {
		read = read || c.Read()
		moment(c.At)
		for _, n := range [3]int{c.Number, c.Consumed.Or(-1), c.Lost.Or(-1)} {
			b = binary.AppendVarint(b, int64(n))
		}
	}
	return string(b), read && r.d.SetOut.Known()
}

// sameRows finds for each row another with the same site, habitat, times and
// counts, standing at the same position or with no position to tell by. Rows
// with one identifier are identifierTwice's.
func (j *judging) sameRows() map[*row]*row {
	out := map[*row]*row{}
	for _, group := range groups(j, func(r *row) (reading, bool) {
		w, ok := r.counted()
		return reading{r.site, plain(r.d.Habitat), string(r.d.Control), w}, ok
	}) {
		byPlace := map[point][]*row{}
		var unplaced []*row
		for _, r := range group {
			if p, ok := r.position(); ok {
				byPlace[p] = append(byPlace[p], r)
			} else {
				unplaced = append(unplaced, r)
			}
		}
		for _, r := range group {
			candidates := group
			if p, ok := r.position(); ok {
				candidates = byPlace[p]
				if other := differing(candidates, r); other != nil {
					out[r] = other
					continue
				}
				candidates = unplaced
			}
			if other := differing(candidates, r); other != nil {
				out[r] = other
			}
		}
	}
	return out
}

// differing is a row of a sorted list with another identity than r's. Rows of
// one identity stand together in it, so if there is such a row the first or the
// last is one.
func differing(list []*row, r *row) *row {
	if len(list) == 0 {
		return nil
	}
	for _, o := range []*row{list[0], list[len(list)-1]} {
		if o != r && o.identity() != r.identity() {
			return o
		}
	}
	return nil
}

func sameRowTwice(j *judging) {
	t := j.findTwins()
	for i := range j.rows {
		r := &j.rows[i]
		if other := t.same[r]; other != nil {
			w := r.written()
			r.sayTwin(other, "deployment_id", r.d.ID, map[string]any{"at": r.d.SetOut.Local(), "site": r.d.Site}, other.d.ID, w)
		}
	}
}

// cell is a cube of space that rows of one habitat and kind share.
type cell struct {
	habitat, control string
	x, y, z          int32
}

// grid finds rows near in place and time. Space is cut into cubes twice: small
// ones, of which any two points lie within nearM, so that a crowd of rows at one
// place is settled by its neighbours in time; and cubes of the largest nearM,
// whose 27 neighbours hold every other row that can be near.
type grid struct {
	small, large   map[cell][]*row
	smallM, largeM float64
}

// chord is the position in metres from the Earth's centre on WGS84; at the
// distances asked about here a chord is as long as the geodesic.
func (p point) chord() [3]float64 {
	const a, e2 = 6378137.0, 0.00669437999014 // WGS84, NIMA TR8350.2
	sinLat, cosLat := math.Sincos(p.lat * math.Pi / 180)
	sinLon, cosLon := math.Sincos(p.lon * math.Pi / 180)
	n := a / math.Sqrt(1-e2*sinLat*sinLat)
	return [3]float64{n * cosLat * cosLon, n * cosLat * sinLon, n * (1 - e2) * sinLat}
}

func (r *row) cell(p point, sizeM float64) cell {
	c := p.chord()
	at := func(k int) int32 { return int32(math.Floor(c[k] / sizeM)) }
	return cell{plain(r.d.Habitat), string(r.d.Control), at(0), at(1), at(2)}
}

// newGrid leaves out rows that are twins already: they are asked about.
func newGrid(j *judging) *grid {
	g := &grid{small: map[cell][]*row{}, large: map[cell][]*row{}, smallM: math.Inf(1)}
	use := func(r *row) (point, bool) {
		p, ok := r.placed()
		return p, ok && r.d.SetOut.Known() && !j.findTwins().taken[r.i] && r.p.NearM > 0 && r.p.NearH > 0
	}
	for i := range j.rows {
		if _, ok := use(&j.rows[i]); ok {
			m := j.rows[i].p.NearM
			// The diagonal of a cube of half nearM is 0.87 of nearM.
			g.smallM, g.largeM = min(g.smallM, m/2), max(g.largeM, m)
		}
	}
	for i := range j.rows {
		r := &j.rows[i]
		if p, ok := use(r); ok {
			s, l := r.cell(p, g.smallM), r.cell(p, g.largeM)
			g.small[s] = append(g.small[s], r)
			g.large[l] = append(g.large[l], r)
		}
	}
	byTime := func(a, b *row) int {
		return cmp.Or(a.d.SetOut.At.Compare(b.d.SetOut.At), order(a, b))
	}
	for _, m := range []map[cell][]*row{g.small, g.large} {
		for _, rows := range m {
			slices.SortFunc(rows, byTime)
		}
	}
	return g
}

// apartH is the time between two settings out, hours.
func apartH(a, b *row) float64 { return math.Abs(a.d.SetOut.At.Sub(b.d.SetOut.At).Hours()) }

// crowd is the row set out nearest in time in r's own small cube.
func (g *grid) crowd(r *row, p point) *row {
	rows := g.small[r.cell(p, g.smallM)]
	k, _ := slices.BinarySearchFunc(rows, r, func(a, b *row) int {
		return cmp.Or(a.d.SetOut.At.Compare(b.d.SetOut.At), order(a, b))
	})
	var best *row
	for n := max(k-1, 0); n <= min(k+1, len(rows)-1); n++ {
		if rows[n] != r && apartH(r, rows[n]) <= r.p.NearH && (best == nil || apartH(r, rows[n]) < apartH(r, best)) {
			best = rows[n]
		}
	}
	return best
}

// around looks through the 27 large cubes about r, within its hours.
func (g *grid) around(r *row, p point) *row {
	c := r.cell(p, g.largeM)
	var best *row
	for dx := int32(-1); dx <= 1; dx++ {
		for dy := int32(-1); dy <= 1; dy++ {
			for dz := int32(-1); dz <= 1; dz++ {
				n := c
				n.x, n.y, n.z = c.x+dx, c.y+dy, c.z+dz
				best = nearer(r, p, g.large[n], best)
			}
		}
	}
	return best
}

func nearer(r *row, p point, rows []*row, best *row) *row {
	from := sort.Search(len(rows), func(k int) bool {
		return r.d.SetOut.At.Sub(rows[k].d.SetOut.At).Hours() <= r.p.NearH
	})
	for _, o := range rows[from:] {
		h := apartH(r, o)
		if h > r.p.NearH {
			break
		}
		q, _ := o.placed()
		if o == r || 1000*p.km(q) > r.p.NearM {
			continue
		}
		if best == nil || cmp.Or(cmp.Compare(h, apartH(r, best)), order(o, best)) < 0 {
			best = o
		}
	}
	return best
}

func nearInPlaceAndTime(j *judging) {
	g := newGrid(j)
	for i := range j.rows {
		r := &j.rows[i]
		p, ok := r.placed()
		if !ok || !r.d.SetOut.Known() || j.findTwins().taken[i] || r.p.NearM <= 0 || r.p.NearH <= 0 {
			continue
		}
		other := g.crowd(r, p)
		if other == nil {
			other = g.around(r, p)
		}
		if other == nil {
			continue
		}
		q, _ := other.placed()
		r.sayTwin(other, "latitude", sheet.FormatNumber(p.lat), map[string]any{"m": 1000 * p.km(q), "hours": apartH(r, other),
			"most_m": r.p.NearM, "most_h": r.p.NearH}, p.lat, p.lon, r.d.SetOut.At, other.d.ID)
	}
}
