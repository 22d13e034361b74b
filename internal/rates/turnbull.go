package rates

import (
	"math"
	"slices"
)

// A span is a number of baits (a weight, as splits of late baits are not whole)
// that were consumed after soak place l and by soak place r of a grid of times;
// r = len(grid) means never seen to be consumed.
type span struct {
	l, r   int
	weight float64
}

// turnbull is the nonparametric maximum-likelihood survival curve of
// interval-censored spans: Turnbull (1976), J. R. Stat. Soc. B 38:290-295. Mass
// lies only in the innermost intervals (p, q], between a left end and the right
// end that follows it; inside one the curve is not determined.
type turnbull struct {
	p, q []int     // places on the grid; q = len(grid) is beyond every time
	mass []float64 // sums to 1
	// gap bounds how much log-likelihood is missing (see converge).
	gap float64
}

// fitTurnbull maximises Σ weight log(S(l) − S(r)). grid is ascending; spans of
// weight 0 are passed over. It is nil when no span has weight.
// The answer lives in room and is good until room is used again.
// docs/methods/rates.md, "Turnbull's estimator".
func fitTurnbull(grid []float64, spans []span, tol float64, room *workroom) *turnbull {
	t := room.innermost(len(grid), spans)
	if t == nil {
		return nil
	}
	f := room.start(t, len(grid), spans)
	f.converge(tol)
	for k := range t.mass {
		t.mass[k] = f.cum[k+1] - f.cum[k]
	}
	t.gap = f.gap
	return t
}

// workroom is memory for one fit after another.
type workroom struct {
	left, right []bool
	first, last []int
	curve       turnbull
	search      fit
}

// sized is s with n zeros.
func sized[T any](s []T, n int) []T {
	s = slices.Grow(s[:0], n)[:n]
	clear(s)
	return s
}

// innermost finds the intervals that can hold mass: on the sorted ends, with the
// (closed) right ends before the (open) left ones at a tie, each left end that a
// right end follows at once.
func (w *workroom) innermost(n int, spans []span) *turnbull {
	w.left, w.right = sized(w.left, n+1), sized(w.right, n+1)
	left, right := w.left, w.right
	any := false
	for _, s := range spans {
		if s.weight > 0 {
			left[s.l], right[s.r], any = true, true, true
		}
	}
	if !any {
		return nil
	}
	t := &w.curve
	t.p, t.q = t.p[:0], t.q[:0]
	open := -1
	for k := range n + 1 {
		if right[k] && open >= 0 {
			t.p, t.q = append(t.p, open), append(t.q, k)
			open = -1
		}
		if left[k] {
			open = k
		}
	}
	t.mass = sized(t.mass, len(t.p))
	return t
}

// fit holds the cumulative mass cum[0] = 0 … cum[m] = 1 at the boundaries of the
// innermost intervals, and the spans as ranges a … b−1 of those.
type fit struct {
	a, b        []int
	w           []float64
	total       float64
	cum, next   []float64
	grad, curve []float64 // by boundary
	pull        []float64 // by innermost interval: the derivative in its mass
	gap         float64
	pool        pava
}

// start sets the search up with the mass spread evenly.
func (w *workroom) start(t *turnbull, n int, spans []span) *fit {
	m := len(t.p)
	w.first, w.last = sized(w.first, n+1), sized(w.last, n+1)
	first, last := w.first, w.last
	for k, i := 0, 0; k <= n; k++ { // first interval that begins at k or later
		for i < m && t.p[i] < k {
			i++
		}
		first[k] = i
	}
	for k, i := 0, 0; k <= n; k++ { // number of intervals that end at k or before
		for i < m && t.q[i] <= k {
			i++
		}
		last[k] = i
	}
	f := &w.search
	f.cum, f.next, f.grad = sized(f.cum, m+1), sized(f.next, m+1), sized(f.grad, m+1)
	f.curve, f.pull = sized(f.curve, m+1), sized(f.pull, m+1)
	f.a, f.b, f.w, f.total, f.gap = f.a[:0], f.b[:0], f.w[:0], 0, 0
	for _, s := range spans {
		if s.weight > 0 {
			f.a, f.b = append(f.a, first[s.l]), append(f.b, last[s.r])
			f.w = append(f.w, s.weight)
			f.total += s.weight
		}
	}
	for k := range f.cum {
		f.cum[k] = float64(k) / float64(m)
	}
	return f
}

// logLik of cumulative masses; −Inf where a span has none.
func (f *fit) logLik(cum []float64) float64 {
	ll := 0.0
	for k, w := range f.w {
		p := cum[f.b[k]] - cum[f.a[k]]
		if !(p > 0) {
			return math.Inf(-1)
		}
		ll += w * math.Log(p)
	}
	return ll
}

// converge alternates one step of self-consistency (Turnbull's EM, which never
// goes down) with one of the iterative convex minorant (Groeneboom and Wellner
// 1992; with the line search of Jongbloed 1998, J. Comput. Graph. Stat. 7:310-321;
// together as in Wellner and Zhan 1997, J. Am. Stat. Assoc. 92:945-959). It stops
// when the log-likelihood is provably within tol of its maximum: the gap to it is
// at most the largest derivative in a mass less the total weight, by concavity.
func (f *fit) converge(tol float64) {
	m := len(f.pull) - 1
	if m == 1 {
		return
	}
	for range 20000 {
		f.selfConsistent()
		if f.gap <= tol {
			return
		}
		f.convexMinorant()
	}
}

// selfConsistent is one EM step; it leaves the gap of the masses it started from.
func (f *fit) selfConsistent() {
	m := len(f.pull) - 1
	clear(f.pull)
	for k, w := range f.w {
		d := w / (f.cum[f.b[k]] - f.cum[f.a[k]])
		f.pull[f.a[k]] += d
		f.pull[f.b[k]] -= d
	}
	sum, most, at := 0.0, 0.0, 0.0
	before := f.cum[0]
	for i := range m {
		sum += f.pull[i]
		most = max(most, sum)
		mass := f.cum[i+1] - before
		before = f.cum[i+1]
		at += mass * sum / f.total
		f.cum[i+1] = at
	}
	for i := 1; i <= m; i++ {
		f.cum[i] /= at
	}
	f.cum[m] = 1
	f.gap = most - f.total
}

// convexMinorant is one Newton step with the diagonal of the second derivative,
// projected on ascending values, halved until the likelihood does not fall.
func (f *fit) convexMinorant() {
	m := len(f.pull) - 1
	clear(f.grad)
	clear(f.curve)
	for k, w := range f.w {
		p := f.cum[f.b[k]] - f.cum[f.a[k]]
		g := w / p
		h := g / p
		f.grad[f.b[k]] += g
		f.grad[f.a[k]] -= g
		f.curve[f.b[k]] += h
		f.curve[f.a[k]] += h
	}
	f.pool.reset()
	for j := 1; j < m; j++ {
		if !(f.curve[j] > 0) || math.IsInf(f.curve[j], 1) {
			return
		}
		f.pool.add(f.cum[j]+f.grad[j]/f.curve[j], f.curve[j])
	}
	f.next[0], f.next[m] = 0, 1
	f.pool.write(f.next[1:m])
	for j := 1; j < m; j++ {
		f.next[j] = min(max(f.next[j], 0), 1)
	}
	was := f.logLik(f.cum)
	for range 30 {
		if f.logLik(f.next) >= was {
			copy(f.cum, f.next)
			return
		}
		for j := 1; j < m; j++ {
			f.next[j] = f.cum[j] + (f.next[j]-f.cum[j])/2
		}
	}
}

// pava is weighted isotonic regression by pooling adjacent violators: Ayer,
// Brunk, Ewing, Reid and Silverman (1955), Ann. Math. Stat. 26:641-647.
type pava struct {
	value, weight []float64
	count         []int
}

func (p *pava) reset() { p.value, p.weight, p.count = p.value[:0], p.weight[:0], p.count[:0] }

func (p *pava) add(v, w float64) {
	n := 1
	for k := len(p.value) - 1; k >= 0 && p.value[k] >= v; k-- {
		v = (v*w + p.value[k]*p.weight[k]) / (w + p.weight[k])
		w += p.weight[k]
		n += p.count[k]
		p.value, p.weight, p.count = p.value[:k], p.weight[:k], p.count[:k]
	}
	p.value, p.weight, p.count = append(p.value, v), append(p.weight, w), append(p.count, n)
}

func (p *pava) write(to []float64) {
	k := 0
	for i, v := range p.value {
		for range p.count[i] {
			to[k] = v
			k++
		}
	}
}

// smallMass is a mass that counts as none: the search ends with exact zeros save
// for what the last steps leave.
const smallMass = 1e-8

// stretches are the soaks on which the curve is determined, with its values:
// from 1 at soak 0, each drop lying between two of them.
func (t *turnbull) stretches(grid []float64) []Stretch {
	last := grid[len(grid)-1]
	out := []Stretch{{Survival: 1}}
	s := 1.0
	for k, m := range t.mass {
		if m < smallMass {
			continue
		}
		out[len(out)-1].ToH = grid[t.p[k]]
		s -= m
		if t.q[k] == len(grid) {
			return out
		}
		if s < smallMass {
			s = 0
		}
		out = append(out, Stretch{FromH: grid[t.q[k]], Survival: s})
	}
	out[len(out)-1].ToH = last
	return out
}

// values is the survival at every place of the grid. Where the curve is not
// determined it goes straight from what it was to what it will be, and stays
// where it was when nothing more is known.
func (t *turnbull) values(grid []float64) []float64 {
	v := make([]float64, len(grid))
	s, k := 1.0, 0
	for place := range grid {
		for k < len(t.q) && t.q[k] <= place {
			s -= t.mass[k]
			k++
		}
		v[place] = clamp01(s)
		if k < len(t.q) && t.p[k] < place && t.q[k] < len(grid) {
			share := (grid[place] - grid[t.p[k]]) / (grid[t.q[k]] - grid[t.p[k]])
			v[place] = clamp01(s - t.mass[k]*share)
		}
	}
	return v
}

func clamp01(x float64) float64 {
	switch {
	case x < smallMass:
		return 0
	case x > 1-smallMass:
		return 1
	}
	return x
}
