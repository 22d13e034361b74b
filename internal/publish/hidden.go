package publish

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/place"
	"soakline/internal/sheet"
)

// hidden is the one rule about sensitive places. Every row of such a site is
// told at one position, the middle of the cell of the site's first row; its
// site, its name, its notes, its footprint and its further columns are not told.
//
// One cell for the whole site: rows rounded one by one would show, where they
// fall into two cells, that the site lies at the edge between them. Rounding to
// cells of whole, tenth or hundredth degrees follows Chapman (2020), Current
// Best Practices for Generalizing Sensitive Species Occurrence Data (from
// memory).
type hidden struct {
	sites  map[string]*hiddenSite // by the site's name as written in the records
	order  []string
	secret []string // texts that may stand nowhere
	known  map[string]bool
	number map[string]int
}

type hiddenSite struct {
	rule         Sensitive
	latitude     float64
	longitude    float64
	uncertaintyM float64
	placed       bool
	rows         int
}

func newHidden(in *Input) (*hidden, error) {
	h := &hidden{sites: map[string]*hiddenSite{}, number: map[string]int{}, known: map[string]bool{}}
	for _, s := range in.Metadata.Sensitive {
		h.sites[s.Site] = &hiddenSite{rule: s}
		h.order = append(h.order, s.Site)
	}
	if len(h.sites) == 0 {
		return h, nil
	}
	first := map[string]*assay.Deployment{}
	for i := range in.Deployments {
		d := &in.Deployments[i]
		s := h.sites[d.Site]
		if s == nil {
			continue
		}
		s.rows++
		h.keepSecret(d, s.rule)
		if _, ok := d.Latitude.Get(); !ok || !d.Longitude.Known() {
			continue
		}
		if f := first[d.Site]; f == nil || d.SetOut.At.Before(f.SetOut.At) || d.SetOut.At.Equal(f.SetOut.At) && d.ID < f.ID {
			first[d.Site] = d
		}
	}
	for _, name := range h.order {
		s := h.sites[name]
		if s.rows == 0 {
			return nil, refuse("sensitive-unknown", "site", name)
		}
		if f := first[name]; f != nil {
			h.place(s, f, in.Deployments)
		}
	}
	sort.Strings(h.secret)
	return h, nil
}

// place finds the site's cell and a radius that holds the cell and every row.
func (h *hidden) place(s *hiddenSite, f *assay.Deployment, all []assay.Deployment) {
	step := math.Pow(10, -float64(s.rule.Decimals))
	// Middles of cells, so that rounding a position never gives the position.
	s.latitude = round(math.Min((math.Floor(f.Latitude.Or(0)/step)+0.5)*step, 90-step/2), s.rule.Decimals+1)
	s.longitude = round((math.Floor(f.Longitude.Or(0)/step)+0.5)*step, s.rule.Decimals+1)
	s.placed = true
	far, _, _ := place.Between(s.latitude, s.longitude, math.Max(-90, s.latitude-step/2), s.longitude-step/2)
	other, _, _ := place.Between(s.latitude, s.longitude, math.Min(90, s.latitude+step/2), s.longitude+step/2)
	far = math.Max(far, other)
	for i := range all {
		d := &all[i]
		lat, ok1 := d.Latitude.Get()
		lon, ok2 := d.Longitude.Get()
		if d.Site == s.rule.Site && ok1 && ok2 {
			m, _, _ := place.Between(s.latitude, s.longitude, lat, lon)
			far = math.Max(far, m)
		}
	}
	// Rounded up to whole kilometres, or the radius would tell a distance.
	s.uncertaintyM = math.Ceil(far/1000) * 1000
}

func round(x float64, decimals int) float64 {
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'f', decimals, 64), 64)
	return y
}

// keepSecret notes what of a record may stand nowhere.
func (h *hidden) keepSecret(d *assay.Deployment, rule Sensitive) {
	add := func(s string) {
		if len(s) < 3 {
			return
		}
		if !h.known[s] {
			h.known[s] = true
			h.secret = append(h.secret, s)
		}
	}
	add(rule.Site)
	add(d.ID)
	v := sheet.Values(d)
	for _, name := range []string{"latitude", "longitude"} {
		if t := strings.TrimPrefix(v[name], "-"); strings.Contains(t, ".") && len(t) >= 5 {
			add(t)
		}
	}
}

func (h *hidden) is(d *assay.Deployment) bool { return h.sites[d.Site] != nil }

// siteName is the site as published.
func (h *hidden) siteName(d *assay.Deployment) string {
	if s := h.sites[d.Site]; s != nil {
		return s.rule.PublishAs
	}
	return d.Site
}

func (h *hidden) alias(d *assay.Deployment) string { return h.siteName(d) }

// rowName stands for a row's own name: from its key, which tells nothing, or its
// number within the site.
func (h *hidden) rowName(d *assay.Deployment) string {
	site := h.siteName(d)
	if d.Key != "" {
		sum := sha256.Sum256([]byte(d.Key))
		return site + " " + hex.EncodeToString(sum[:4])
	}
	h.number[site]++
	return fmt.Sprintf("%s %d", site, h.number[site])
}

// apply generalises a copy of a record.
func (h *hidden) apply(d *assay.Deployment, out *row) {
	s := h.sites[d.Site]
	if s == nil {
		h.quiet(d, out)
		return
	}
	d.Site = s.rule.PublishAs
	d.Notes, d.Covariates, d.RowBearingDeg = "", nil, assay.None[float64]()
	d.Latitude, d.Longitude = assay.None[float64](), assay.None[float64]()
	d.LastLatitude, d.LastLongitude, d.LastDecimals = assay.None[float64](), assay.None[float64](), assay.None[int]()
	d.PositionDecimals, d.CoordinateUncertaintyM = assay.None[int](), assay.None[float64]()
	if s.placed {
		d.Latitude, d.Longitude = assay.Some(s.latitude), assay.Some(s.longitude)
		d.CoordinateUncertaintyM, d.PositionDecimals = assay.Some(s.uncertaintyM), assay.Some(s.rule.Decimals+1)
	}
	h.quiet(d, out)
	cell := strconv.FormatFloat(math.Pow(10, -float64(s.rule.Decimals)), 'f', -1, 64)
	out.Generalised = "position given as the middle of a cell of " + cell + " degrees that holds the site"
	if s.rule.Why != "" && !h.spills(s.rule.Why) {
		out.Generalised += ": " + s.rule.Why
	}
	out.withhold("exact position, name of the site, names of the rows, notes, bearing and further columns")
}

// inMetadata refuses metadata that tell a sensitive place: somebody wrote them,
// and only that person can write them otherwise.
func (h *hidden) inMetadata(m *Metadata) error {
	for _, text := range append([]string{m.Title, m.Abstract, m.Publisher}, m.Keywords...) {
		if h.spills(text) {
			return refuse("sensitive-in-metadata", "text", text)
		}
	}
	return nil
}

// quiet takes out of a copy of any record, of any site, the texts that tell of a
// sensitive place.
func (h *hidden) quiet(d *assay.Deployment, out *row) {
	if len(h.secret) == 0 {
		return
	}
	const said = "texts that tell a sensitive place"
	for _, text := range []*string{&d.Programme, &d.Season, &d.Team, &d.BaitKind, &d.BaitBatch, &d.Observers, &d.Notes} {
		if h.spills(*text) {
			*text = ""
			out.withhold(said)
		}
	}
	if h.spills(d.Habitat) {
		d.Habitat = "withheld"
		out.withhold(said)
	}
	for n, v := range d.Covariates {
		if h.spills(v) || h.spills(n) {
			d.Covariates = cloneWithout(d.Covariates, n)
			out.withhold(said)
		}
	}
	for i := range d.Checks { // the copy's own: see release.row
		if h.spills(d.Checks[i].Reader) {
			d.Checks[i].Reader = ""
			out.withhold(said)
		}
	}
}

// spills says whether a text holds something about a sensitive place.
func (h *hidden) spills(text string) bool {
	for _, s := range h.secret {
		if strings.Contains(text, s) {
			return true
		}
	}
	return false
}

// tell lists what was generalised; by the names that are published.
func (h *hidden) tell(r *release) {
	for _, name := range h.order {
		s := h.sites[name]
		r.say("generalised", "site", s.rule.PublishAs, "n", s.rows, "km", s.uncertaintyM/1000)
	}
}
