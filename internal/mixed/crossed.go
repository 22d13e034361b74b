package mixed

import (
	"errors"
	"math"
	"math/rand/v2"
)

// Crossed factors. With z = (tree, border), the Hessian is
//
//	K = [T B; B' C],  det K = det T · det S,  S = C − B'T⁻¹B
//
// T is the tree, eliminated as ever; S is dense and as small as the crossed factors'
// groups together. A leaf j with weight w sees the border through a_j, which has σ_f at
// the group it belongs to of each factor f and 0 elsewhere: C = I + Σ w a a', and
// the tree takes from S, node by node, σ²vv'/D with v = Σ w a below, its children
// eliminated (Bates & DebRoy 2004, J. Multivariate Anal. 91:1–17, do the same with a
// general sparse factor; from memory).

var errCrossedQuadrature = errors.New("adaptive quadrature needs random intercepts that are nested; with crossed ones use Laplace's approximation")

// nSD is the number of SDs: the named levels of the tree, then the crossed factors.
func (l *layout) nSD() int { return len(l.levels) + len(l.crossed) }

func (l *layout) sdName(k int) string {
	if k < len(l.levels) {
		return l.levels[k]
	}
	return l.crossed[k-len(l.levels)]
}

// groupsOf is the number of groups of an SD.
func (l *layout) groupsOf(k int) int {
	if k < len(l.levels) {
		return l.size[k]
	}
	return l.crossSize[k-len(l.levels)]
}

// buildCrossed numbers the groups of the crossed factors by leaf and leaves out those
// with one group, or with the same groups as a level or an earlier factor.
func (l *layout) buildCrossed(d *Data, kept [][]int32) {
	stride := len(d.levels) + len(d.crossed)
	type partition struct {
		name string
		of   []int32
		n    int
	}
	var seen []partition
	for k, name := range l.levels {
		seen = append(seen, partition{name, kept[k], l.size[k]})
	}
next:
	for c, name := range d.crossed {
		of := make([]int32, d.Len())
		number := map[int]int32{}
		for i, o := range l.order {
			g := d.groups[o*stride+len(d.levels)+c]
			if _, ok := number[g]; !ok {
				number[g] = int32(len(number))
			}
			of[i] = number[g]
		}
		if len(number) <= 1 {
			l.notices = append(l.notices, Notice{Slug: SlugOneGroup, Group: name})
			continue
		}
		for _, p := range seen {
			if p.n == len(number) && same(p.of, of) {
				l.notices = append(l.notices, Notice{Slug: SlugLevelsCoincide, Group: name, Other: p.name})
				continue next
			}
		}
		seen = append(seen, partition{name, of, len(number)})
		l.crossed = append(l.crossed, name)
		l.crossSize = append(l.crossSize, len(number))
		l.crossOf = append(l.crossOf, of) // by observation here; by leaf below
	}
	for c, of := range l.crossOf {
		leaves := kept[len(kept)-1]
		by := make([]int32, l.size[len(l.size)-1])
		for i, g := range of {
			by[leaves[i]] = g
		}
		l.crossOf[c] = by
	}
}

// same says whether two numberings with as many groups put together the same.
func same(a, b []int32) bool {
	to := map[int32]int32{}
	for i, g := range a {
		if h, ok := to[g]; ok && h != b[i] {
			return false
		}
		to[g] = b[i]
	}
	return true
}

// border holds the numbers of the crossed factors' groups, all in one list.
type border struct {
	n        int       // groups of all factors
	first    []int     // place of each factor's first group
	sigma    []float64 // by factor
	z, zNew  []float64
	delta    []float64
	raw, c   []float64 // sums of the leaves' derivatives and coefficients
	factor   []float64 // n × n, Cholesky factor of S
	v, h     [][]float64
	g        []float64 // by leaf
	row, tmp []float64
}

func (l *layout) newBorder() *border {
	if len(l.crossed) == 0 {
		return nil
	}
	b := &border{sigma: make([]float64, len(l.crossed))}
	for _, n := range l.crossSize {
		b.first = append(b.first, b.n)
		b.n += n
	}
	n := b.n
	b.z, b.zNew, b.delta = make([]float64, n), make([]float64, n), make([]float64, n)
	b.raw, b.c, b.factor = make([]float64, n), make([]float64, n), make([]float64, n*n)
	b.row, b.tmp = make([]float64, n), make([]float64, n)
	for _, k := range l.size {
		b.v, b.h = append(b.v, make([]float64, k*n)), append(b.h, make([]float64, k*n))
	}
	b.g = make([]float64, l.size[len(l.size)-1])
	return b
}

// shift is what the border adds to leaf j at x (z or a step).
func (ws *workspace) borderShift(j int, x []float64) float64 {
	b := ws.border
	s := 0.0
	for f, of := range ws.m.crossOf {
		s += b.sigma[f] * x[b.first[f]+int(of[j])]
	}
	return s
}

// factorBorder makes the Cholesky factor of S at the weights and pivots of the last
// elimination; false if S is not positive definite.
func (ws *workspace) factorBorder() bool {
	b, m := ws.border, ws.m
	n, last := b.n, len(ws.levels)-1
	S := b.factor
	for i := range S {
		S[i] = 0
	}
	for i := 0; i < n; i++ {
		S[i*n+i] = 1
	}
	for k := range b.v {
		clear(b.v[k])
	}
	for j, w := range ws.levels[last].s {
		v := b.v[last][j*n : (j+1)*n]
		for f, of := range m.crossOf {
			at := b.first[f] + int(of[j])
			v[at] = w * b.sigma[f]
			for f2, of2 := range m.crossOf {
				S[at*n+b.first[f2]+int(of2[j])] += w * b.sigma[f] * b.sigma[f2]
			}
		}
	}
	for k := last; k >= 0; k-- {
		lv := &ws.levels[k]
		s2 := ws.sigma[k] * ws.sigma[k]
		for node, d := range lv.d {
			v := b.v[k][node*n : (node+1)*n]
			var up []float64
			if k > 0 {
				par := int(m.parent[k][node])
				up = b.v[k-1][par*n : (par+1)*n]
			}
			for i, x := range v {
				if x == 0 {
					continue
				}
				if up != nil {
					up[i] += x / d
				}
				if s2 > 0 {
					f := s2 * x / d
					for o := 0; o <= i; o++ {
						S[i*n+o] -= f * v[o]
					}
				}
			}
		}
	}
	return cholesky(S, n)
}

// solve solves K·δ = r at the weights of the leaves: r is σ·Σg below each node, less z
// if withZ. It returns r'K⁻¹r and whether K is positive definite; clip takes negative
// weights as zero. With again the border's factor still stands. On return delta and
// dsh of the levels and delta of the border hold the solution.
func (ws *workspace) solve(g []float64, withZ, clip, again bool) (gain float64, proper bool) {
	proper = ws.eliminate(g, withZ, clip)
	for k := range ws.levels {
		lv := &ws.levels[k]
		for n, d := range lv.d {
			gain += lv.rhs[n] * lv.rhs[n] / d
		}
	}
	ws.substitute()
	b := ws.border
	if b == nil {
		return gain, proper
	}
	if !again && !ws.factorBorder() {
		return gain, false
	}
	last := &ws.levels[len(ws.levels)-1]
	for i := range b.delta {
		b.delta[i] = 0
		if withZ {
			b.delta[i] = -b.z[i]
		}
	}
	for j, s := range last.s {
		r := g[j] - s*last.dsh[j]
		for f, of := range ws.m.crossOf {
			b.delta[b.first[f]+int(of[j])] += b.sigma[f] * r
		}
	}
	copy(b.tmp, b.delta)
	cholSolve(b.factor, b.n, b.delta)
	gain += dot(b.tmp, b.delta)
	for j, s := range last.s {
		b.g[j] = g[j] - s*ws.borderShift(j, b.delta)
	}
	ws.eliminate(b.g, withZ, clip)
	ws.substitute()
	return gain, proper
}

// borderVariances adds to the posterior variances of the leaves' shifts what the
// border's uncertainty brings, and to the gradient in every log SD its part of the
// log-determinant: −Σ (1 − posterior variance) over the groups of that SD. The response
// of a node's shift to the border is h = (h above − σ²v)/D; of its own intercept −σ(v + S·h above)/D.
func (ws *workspace) borderVariances(grad []float64) {
	b, m := ws.border, ws.m
	n, last := b.n, len(ws.levels)-1
	sums := make([]float64, m.nSD())
	above := make([]float64, n)
	for k := range ws.levels {
		lv := &ws.levels[k]
		sg := ws.sigma[k]
		for node, d := range lv.d {
			clear(above)
			if k > 0 {
				par := int(m.parent[k][node])
				copy(above, b.h[k-1][par*n:(par+1)*n])
			}
			v, h := b.v[k][node*n:(node+1)*n], b.h[k][node*n:(node+1)*n]
			for i := range h {
				h[i] = (above[i] - sg*sg*v[i]) / d
				b.row[i] = sg * (v[i] + lv.s[node]*above[i]) / d
			}
			if sg > 0 {
				sums[k] += b.norm(b.row)
			}
			if k == last {
				copy(b.row, h)
				for f, of := range m.crossOf {
					b.row[b.first[f]+int(of[node])] += b.sigma[f]
				}
				ws.leaf.a[node] = lv.a[node] + b.norm(b.row)
			}
		}
	}
	inv := cholInverse(b.factor, n)
	for f, size := range m.crossSize {
		for i := b.first[f]; i < b.first[f]+size; i++ {
			sums[len(m.levels)+f] -= 1 - inv[i*n+i]
		}
	}
	for a, k := range m.active {
		grad[m.q+a] += sums[k]
	}
}

// norm is x'S⁻¹x; x is overwritten.
func (b *border) norm(x []float64) float64 {
	n, s := b.n, 0.0
	for i := 0; i < n; i++ {
		v := x[i]
		for o, l := range b.factor[i*n : i*n+i] {
			v -= l * x[o]
		}
		v /= b.factor[i*n+i]
		x[i] = v
		s += v * v
	}
	return s
}

// borderSums sums raw derivatives and coefficients of the leaves into the border.
func (ws *workspace) borderSums() {
	b := ws.border
	clear(b.raw)
	clear(b.c)
	for f, of := range ws.m.crossOf {
		for j, g := range of {
			b.raw[b.first[f]+int(g)] += ws.leaf.raw[j]
			b.c[b.first[f]+int(g)] += ws.leaf.c[j]
		}
	}
}

// borderSlope is the rest of the gradient in a crossed factor's log SD, over σ.
func (ws *workspace) borderSlope(f int) float64 {
	b := ws.border
	s := 0.0
	for i := b.first[f]; i < b.first[f]+ws.m.crossSize[f]; i++ {
		s += b.c[i]*b.z[i] - b.delta[i]*b.raw[i]/2
	}
	return s
}

// drawCrossed adds the draws of the crossed factors to those of the leaves.
func (s *simulation) drawCrossed(rng *rand.Rand) {
	whole := s.null.whole
	for f, of := range whole.crossOf {
		sd := s.null.Random[len(whole.levels)+f].SD
		draws := make([]float64, whole.crossSize[f])
		for g := range draws {
			draws[g] = sd * rng.NormFloat64()
		}
		last := s.levels[len(s.levels)-1]
		for j, g := range of {
			last[j] += draws[g]
		}
	}
}

// borderInformation appends to a leaf's sums its part in the border, so that the tree
// eliminates both at once: vec is by leaf, qq = q + n wide.
func (ws *workspace) borderInformation(info, vec, wt []float64, qq int) {
	b, q := ws.border, ws.m.q
	for j, w := range wt {
		v := vec[j*qq : (j+1)*qq]
		for f, of := range ws.m.crossOf {
			at := q + b.first[f] + int(of[j])
			v[at] = w * b.sigma[f]
			for a := 0; a < q; a++ {
				info[at*qq+a] += v[a] * b.sigma[f]
			}
			for f2, of2 := range ws.m.crossOf {
				info[at*qq+q+b.first[f2]+int(of2[j])] += w * b.sigma[f] * b.sigma[f2]
			}
		}
	}
	for i := q; i < qq; i++ {
		info[i*qq+i]++
	}
}

// eliminateBorder takes the border out of the information (lower triangle of all) and
// leaves what it tells about γ in info.
func (ws *workspace) eliminateBorder(all, info []float64, qq int) {
	q, n := ws.m.q, ws.border.n
	c := make([]float64, n*n)
	for i := 0; i < n; i++ {
		copy(c[i*n:i*n+i+1], all[(q+i)*qq+q:(q+i)*qq+q+i+1])
	}
	ok := cholesky(c, n)
	x := make([]float64, n)
	for a := 0; a < q; a++ {
		for i := range x {
			x[i] = all[(q+i)*qq+a]
		}
		if ok {
			cholSolve(c, n, x)
		} else {
			clear(x)
		}
		for o := 0; o <= a; o++ {
			s := all[a*qq+o]
			for i := range x {
				s -= x[i] * all[(q+i)*qq+o]
			}
			info[a*q+o] = s
		}
	}
}

// stepTo sets zNew to z + step·delta.
func (b *border) stepTo(step float64) {
	if b == nil {
		return
	}
	for i, d := range b.delta {
		b.zNew[i] = b.z[i] + step*d
	}
}

func (b *border) accept() {
	if b != nil {
		b.z, b.zNew = b.zNew, b.z
	}
}

// logDet is log det S; 0 without a border.
func (b *border) logDet() float64 {
	if b == nil {
		return 0
	}
	return logDetChol(b.factor, b.n)
}

// prior is ½ z'z of the border.
func (b *border) prior(z []float64) float64 { return dot(z, z) / 2 }

// isFinite says whether x is a number.
func isFinite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
