package rates

import (
	"math"
	"slices"
)

// pooled is the data of one group, kept by cluster so that clusters can be taken
// or left as a whole.
type pooled struct {
	grid     []float64 // every soak at which an interval begins or ends, ascending
	pairs    []span    // the distinct ends of intervals; weights are scratch
	clusters []cluster
	baits    float64
	mixed    bool
	rounded  bool // soaks were rounded to the minute
}

// cluster lists how many baits it has in which of the pairs.
type cluster struct {
	entries []entry
	mixed   []mixedEntry
}

type entry struct {
	pair   int
	weight float64
}

// mixedEntry is an interval with late baits of which only the total consumed is
// known, with the pair and the ends on the grid of each of its groups.
type mixedEntry struct {
	iv    Interval
	pairs []int
}

type timeSpan struct{ fromH, toH, weight float64 }

// spansOf turns the intervals of a deployment into spans: consumed between the
// ends of an interval, or not seen to be after the soak at which last seen.
func spansOf(r *reading) (spans []timeSpan, mixed []Interval) {
	alive := make([]int, len(r.looks)+1) // seen present at a place and not seen again
	alive[0] = r.n
	for k := range r.intervals {
		iv := &r.intervals[k]
		alive[iv.from] -= iv.AtRisk
		for _, l := range iv.Late {
			alive[l.from] -= l.AtRisk
		}
		alive[iv.to] += iv.Baits() - iv.Consumed
		if iv.Late != nil {
			mixed = append(mixed, *iv)
			continue
		}
		if iv.Consumed > 0 {
			spans = append(spans, timeSpan{iv.FromH, iv.ToH, float64(iv.Consumed)})
		}
	}
	for place := 1; place < len(alive); place++ { // place 0: never seen again, tells nothing
		if alive[place] > 0 {
			spans = append(spans, timeSpan{r.looks[place-1].soakH, math.Inf(1), float64(alive[place])})
		}
	}
	return spans, mixed
}

// pool puts the readings of clusters together; round, when above 0, is the step
// in hours that soaks are rounded to.
func pool(clusters [][]*reading, round float64) *pooled {
	p := &pooled{clusters: make([]cluster, len(clusters))}
	spans := make([][]timeSpan, len(clusters))
	mixed := make([][]Interval, len(clusters))
	grid := []float64{0}
	at := func(h float64) float64 {
		if round > 0 && !math.IsInf(h, 1) {
			return math.Round(h/round) * round
		}
		return h
	}
	for c, rs := range clusters {
		for _, r := range rs {
			s, m := spansOf(r)
			spans[c], mixed[c] = append(spans[c], s...), append(mixed[c], m...)
		}
		for k := range spans[c] {
			s := &spans[c][k]
			s.fromH, s.toH = at(s.fromH), at(s.toH)
			grid = append(grid, s.fromH, s.toH)
			p.baits += s.weight
		}
		for _, iv := range mixed[c] {
			grid = append(grid, at(iv.FromH), at(iv.ToH))
			for _, l := range iv.Late {
				grid = append(grid, at(l.FromH))
			}
			p.baits += float64(iv.Consumed)
		}
	}
	slices.Sort(grid)
	grid = slices.Compact(grid)
	if math.IsInf(grid[len(grid)-1], 1) {
		grid = grid[:len(grid)-1]
	}
	p.grid = grid
	p.index(spans, mixed, at)
	return p
}

func (p *pooled) index(spans [][]timeSpan, mixed [][]Interval, at func(float64) float64) {
	known := map[[2]int]int{}
	place := func(h float64) int {
		k, _ := slices.BinarySearch(p.grid, h) // +Inf: beyond the grid
		return k
	}
	pair := func(fromH, toH float64) int {
		l, r := place(fromH), place(toH)
		if r <= l { // rounding closed it
			r = l + 1
		}
		n, ok := known[[2]int{l, r}]
		if !ok {
			n = len(p.pairs)
			known[[2]int{l, r}] = n
			p.pairs = append(p.pairs, span{l: l, r: r})
		}
		return n
	}
	for c := range p.clusters {
		in := &p.clusters[c]
		for _, s := range spans[c] {
			in.entries = append(in.entries, entry{pair(s.fromH, s.toH), s.weight})
		}
		slices.SortStableFunc(in.entries, func(a, b entry) int { return a.pair - b.pair })
		merged := in.entries[:0]
		for _, e := range in.entries {
			if n := len(merged); n > 0 && merged[n-1].pair == e.pair {
				merged[n-1].weight += e.weight
				continue
			}
			merged = append(merged, e)
		}
		in.entries = merged
		for _, iv := range mixed[c] {
			m := mixedEntry{iv: iv, pairs: []int{pair(at(iv.FromH), at(iv.ToH))}}
			for _, l := range iv.Late {
				m.pairs = append(m.pairs, pair(at(l.FromH), at(iv.ToH)))
			}
			in.mixed = append(in.mixed, m)
			p.mixed = true
		}
	}
}

// fit is the curve with each cluster taken so many times; it lives in d. It is nil when nothing is left. Late baits with a total only
// are split as the curve expects, the curve is fitted to the split, and so on
// until it stands still.
func (p *pooled) fit(times []float64, tol float64, d *bench) *turnbull {
	d.spans = append(d.spans[:0], p.pairs...)
	spans := d.spans
	for c, n := range times {
		if n == 0 {
			continue
		}
		for _, e := range p.clusters[c].entries {
			spans[e.pair].weight += n * e.weight
		}
	}
	if !p.mixed {
		return fitTurnbull(p.grid, spans, tol, &d.workroom)
	}
	whole := make([]float64, len(spans))
	for k := range spans {
		whole[k] = spans[k].weight
	}
	p.split(times, spans, nil)
	t := fitTurnbull(p.grid, spans, tol, &d.workroom)
	was := p.values(t)
	for range 500 {
		if t == nil {
			return nil
		}
		for k := range spans {
			spans[k].weight = whole[k]
		}
		p.split(times, spans, was)
		t = fitTurnbull(p.grid, spans, tol, &d.workroom)
		now := p.values(t)
		moved := 0.0
		for k := range now {
			moved = max(moved, math.Abs(now[k]-was[k]))
		}
		was = now
		if moved < 1e-9 {
			break
		}
	}
	return t
}

// bench is memory for the fits of one pool, one after another.
type bench struct {
	workroom
	spans []span
}

func (p *pooled) values(t *turnbull) []float64 {
	if t == nil {
		return nil
	}
	return t.values(p.grid)
}

// split adds the expected consumed of mixed intervals to spans; by size of the
// groups where there is no curve yet.
func (p *pooled) split(times []float64, spans []span, survival []float64) {
	var hs, ex []float64
	for c, n := range times {
		if n == 0 {
			continue
		}
		for k := range p.clusters[c].mixed {
			m := &p.clusters[c].mixed[k]
			groups := len(m.pairs)
			hs, ex = slices.Grow(hs[:0], groups)[:groups], slices.Grow(ex[:0], groups)[:groups]
			for g, pair := range m.pairs {
				hs[g] = 1
				if survival != nil {
					l, r := p.pairs[pair].l, min(p.pairs[pair].r, len(p.grid)-1)
					hs[g] = math.Log(max(survival[l], 1e-12)) - math.Log(max(survival[r], 1e-13))
					hs[g] = max(hs[g], 1e-9)
				}
			}
			m.iv.Split(hs, ex)
			for g, pair := range m.pairs {
				spans[pair].weight += n * ex[g]
			}
		}
	}
}
