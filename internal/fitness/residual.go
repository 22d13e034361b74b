package fitness

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"time"

	"soakline/internal/assay"
)

// stream is the random stream of one part of one purpose.
func stream(seed uint64, purpose string, part int) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte("fitness " + purpose))
	a := mix(seed ^ mix(h.Sum64()))
	return rand.New(rand.NewPCG(a, mix(a^mix(uint64(part)))))
}

// mix is the finaliser of SplitMix64: Steele, Lea and Flood (2014), OOPSLA.
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

const (
	usualSeasons = 999
	leastSeasons = 99
	// cells bounds seasons × observations kept in memory.
	cells = 4_000_000
)

// seasonsFor is how many seasons are simulated for n observations; 0 where even
// the fewest are too many to keep.
func seasonsFor(asked, n int) int {
	if asked <= 0 {
		asked = usualSeasons
	}
	if most := cells/max(n, 1) - 1; most < asked {
		asked = most
		if asked < leastSeasons {
			return 0
		}
	}
	return asked
}

// ranked holds, for every span and season (0 the one that was seen), the
// residual of the count by that span: its place among all seasons' counts.
type ranked struct {
	n, seasons int
	u          [][]float64 // [season][span], in 0..1
}

// residuals simulates seasons and tests what they say. All seasons, the one seen
// among them, are treated alike: were the parameters the true ones, it would be
// exchangeable with them, its residuals exactly uniform and its p values exact
// (Barnard 1963, J. R. Stat. Soc. B 25:294; Besag & Clifford 1989, Biometrika
// 76:633–642). As the parameters are estimated, the p values are a little too
// large (docs/methods/checks.md).
func (l *look) residuals() error {
	seasons := seasonsFor(l.o.Seasons, len(l.spans))
	if seasons == 0 {
		for _, slug := range []string{Uniform, EarlyLate, Date, TimeOfDay, Distance} {
			l.cannot(slug, "too-many-rows")
		}
		return nil
	}
	l.r.Seasons = seasons
	q, err := l.rank(seasons)
	if err != nil {
		return err
	}
	scores := q.normal()
	l.tellResiduals(q, scores)
	l.uniform(q)
	rows := l.rowScores(scores)
	l.tellRows(rows, scores)
	l.earlyLate(scores)
	l.drift(rows)
	l.distance(rows[0])
	return nil
}

// rank draws the seasons and ranks every span's count, cumulated over the row,
// among its counts in all seasons; ties are broken at random (Dunn & Smyth 1996,
// J. Comput. Graph. Stat. 5:236–244).
func (l *look) rank(seasons int) (*ranked, error) {
	draw, err := l.k.Seasons(l.o.Seed)
	if err != nil {
		return nil, err
	}
	n := len(l.spans)
	counts := make([][]int32, seasons+1)
	seen := make([]int, n)
	for i, s := range l.spans {
		seen[i] = s.Consumed
	}
	counts[0] = l.cumulated(seen)
	for s := 1; s <= seasons; s++ {
		if err := l.ctx.Err(); err != nil {
			return nil, err
		}
		counts[s] = l.cumulated(draw(uint64(s)))
	}
	q := &ranked{n: n, seasons: seasons, u: make([][]float64, seasons+1)}
	for s := range q.u {
		q.u[s] = make([]float64, n)
	}
	type entry struct {
		count  int32
		tie    float64
		season int
	}
	all := make([]entry, seasons+1)
	for i := range n {
		rng := stream(l.o.Seed, "ties", i)
		for s := range all {
			all[s] = entry{counts[s][i], rng.Float64(), s}
		}
		slices.SortFunc(all, func(a, b entry) int {
			switch {
			case a.count != b.count:
				return int(a.count) - int(b.count)
			case a.tie < b.tie:
				return -1
			case a.tie > b.tie:
				return 1
			}
			return a.season - b.season
		})
		for place, e := range all {
			q.u[e.season][i] = (float64(place) + rng.Float64()) / float64(seasons+1)
		}
	}
	return q, nil
}

// cumulated gives the baits gone by the end of each span, over its row.
func (l *look) cumulated(consumed []int) []int32 {
	out := make([]int32, len(consumed))
	for i, c := range consumed {
		out[i] = int32(c)
		if i > 0 && l.spans[i-1].Row == l.spans[i].Row {
			out[i] += out[i-1]
		}
	}
	return out
}

// normalScore turns a place in 0..1 into a standard normal value.
func normalScore(u float64) float64 {
	u = math.Min(math.Max(u, 1e-12), 1-1e-12)
	return math.Sqrt2 * math.Erfinv(2*u-1)
}

func (q *ranked) normal() [][]float64 {
	z := make([][]float64, len(q.u))
	for s, us := range q.u {
		z[s] = make([]float64, len(us))
		for i, u := range us {
			z[s][i] = normalScore(u)
		}
	}
	return z
}

func (l *look) tellResiduals(q *ranked, z [][]float64) {
	gone := 0
	for i, s := range l.spans {
		if i == 0 || l.spans[i-1].Row != s.Row {
			gone = 0
		}
		gone += s.Consumed
		r := l.rows[s.Row]
		l.r.Residuals = append(l.r.Residuals, Residual{DeploymentID: r.Deployment.ID, Site: r.Deployment.Site, Level: r.Level, Check: s.Check,
			Consumed: gone, Residual: q.u[0][i], Normal: z[0][i], row: s.Row})
	}
}

// monteCarlo is the share of seasons, the one seen counted in, whose statistic
// is at least as large as its own.
func monteCarlo(statistics []float64) float64 {
	n := 0
	for _, t := range statistics {
		if !(t < statistics[0]) { // a season that has none counts
			n++
		}
	}
	return float64(n) / float64(len(statistics))
}

// uniform tests the residuals of all rows and checks together: the largest
// distance between their distribution and the straight line (Kolmogorov's), in
// the season seen against that in the simulated ones, since residuals of one row
// or site go together.
func (l *look) uniform(q *ranked) {
	d := make([]float64, q.seasons+1)
	sorted := make([]float64, q.n)
	places := envelopePlaces(q.n)
	at := make([][]float64, len(places)) // [place][season]
	for s := range d {
		copy(sorted, q.u[s])
		d[s] = kolmogorov(sorted)
		for j, i := range places {
			at[j] = append(at[j], sorted[i])
		}
	}
	for j, i := range places {
		o := Ordered{Expected: (float64(i) + 0.5) / float64(q.n), Seen: at[j][0]}
		sort.Float64s(at[j])
		k := int(0.025 * float64(len(at[j])))
		o.Lower, o.Upper = at[j][k], at[j][len(at[j])-1-k]
		l.r.Envelope = append(l.r.Envelope, o)
	}
	l.made(Uniform, "seasons", q.seasons, d[0], monteCarlo(d), nil)
}

// envelopePlaces are at most 100 places among n ordered residuals.
func envelopePlaces(n int) []int {
	m := min(n, 100)
	out := make([]int, m)
	for j := range out {
		out[j] = (2*j + 1) * n / (2 * m)
	}
	return out
}

// kolmogorov is the largest distance between the distribution of u, which it
// sorts, and the uniform one.
func kolmogorov(u []float64) float64 {
	sort.Float64s(u)
	n, d := float64(len(u)), 0.0
	for i, v := range u {
		d = math.Max(d, math.Max(float64(i+1)/n-v, v-float64(i)/n))
	}
	return d
}

// rowScores takes each row's normal scores together: their mean, ranked again
// among the seasons, since scores of one row go together and their mean's spread
// differs from row to row.
func (l *look) rowScores(z [][]float64) [][]float64 {
	seasons := len(z)
	out := make([][]float64, seasons)
	for s := range out {
		out[s] = make([]float64, len(l.rows))
		n := make([]int, len(l.rows))
		for i, sp := range l.spans {
			out[s][sp.Row] += z[s][i]
			n[sp.Row]++
		}
		for r := range n {
			out[s][r] /= float64(n[r])
		}
	}
	order := make([]int, seasons)
	for r := range l.rows {
		for s := range order {
			order[s] = s
		}
		sort.SliceStable(order, func(a, b int) bool { return out[order[a]][r] < out[order[b]][r] })
		rng := stream(l.o.Seed, "rows", r)
		for place, s := range order {
			out[s][r] = normalScore((float64(place) + rng.Float64()) / float64(seasons))
		}
	}
	return out
}

// tellRows writes what the rows of the season seen came to.
func (l *look) tellRows(rows, z [][]float64) {
	first, last := l.ends()
	var origin time.Time
	for _, r := range l.rows {
		if d := localDay(r.Deployment); !d.IsZero() && (origin.IsZero() || d.Before(origin)) {
			origin = d
		}
	}
	if !origin.IsZero() {
		l.r.FirstDay = origin.Format("2006-01-02")
	}
	for i, r := range l.rows {
		v := RowResidual{DeploymentID: r.Deployment.ID, Site: r.Deployment.Site, Level: r.Level, Normal: rows[0][i],
			Residual: math.Erfc(-rows[0][i]/math.Sqrt2) / 2}
		if d := localDay(r.Deployment); !d.IsZero() {
			at := r.Deployment.SetOut.Local()
			v.Day = assay.Some(math.Round(d.Sub(origin).Hours() / 24))
			v.HourLocal = assay.Some(float64(at.Hour()) + float64(at.Minute())/60 + float64(at.Second())/3600)
		}
		if last[i] > first[i] {
			v.LaterMinus = assay.Some(z[0][last[i]] - z[0][first[i]])
		}
		l.r.Rows = append(l.r.Rows, v)
	}
}

// localDay is the calendar day of setting out on the local clock, as midnight
// UTC; zero when not known.
func localDay(d *assay.Deployment) time.Time {
	if !d.SetOut.Known() {
		return time.Time{}
	}
	t := d.SetOut.Local()
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}

// ends are the places of the first and last span of each row.
func (l *look) ends() (first, last []int) {
	first, last = make([]int, len(l.rows)), make([]int, len(l.rows))
	for i := range first {
		first[i], last[i] = -1, -1
	}
	for i, s := range l.spans {
		if first[s.Row] < 0 {
			first[s.Row] = i
		}
		last[s.Row] = i
	}
	return first, last
}
