package mixed

import (
	"math"
	"runtime"
	"sort"
	"sync"

	"gonum.org/v1/gonum/stat/distuv"
)

// Holm returns the p-values adjusted by Holm's sequentially rejective method
// (Holm 1979, Scand. J. Stat. 6:65–70). NaN counts as 1 and stays in the
// family: a contrast without a p-value was looked at all the same.
func Holm(p []float64) []float64 {
	order := make([]int, len(p))
	v := make([]float64, len(p))
	for i := range p {
		order[i] = i
		v[i] = p[i]
		if math.IsNaN(v[i]) {
			v[i] = 1
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return v[order[a]] < v[order[b]] })
	out := make([]float64, len(p))
	top := 0.0
	for k, i := range order {
		top = math.Max(top, math.Min(1, float64(len(p)-k)*v[i]))
		out[i] = top
	}
	return out
}

// MaxNormal gives probabilities of the largest absolute value among standard
// normals with a stated correlation matrix, which may be singular.
//
// Method: the sequential transformation of Genz (1992, J. Comput. Graph. Stat.
// 1:141–149) after a pivoted Cholesky factorisation; every constraint is taken
// with the last variable it needs, so dependent ones cost no dimension; points of
// a Kronecker lattice (square roots of primes) under seeded shifts, folded. Ranks
// 1 and 2 (two levels, three levels) need no lattice and are exact.
type MaxNormal struct {
	rank   int
	load   [][]float64 // constraints sorted by their last variable
	last   []int
	points [][]float64
}

const (
	latticePoints = 2039
	latticeShifts = 12
)

// NewMaxNormal takes the n × n correlation matrix, row-major. Diagonal elements
// that are NaN or 0 leave that variable out.
func NewMaxNormal(corr []float64, n int, seed uint64) *MaxNormal {
	m := &MaxNormal{}
	m.factor(append([]float64(nil), corr...), n)
	if m.rank <= 2 {
		return m // no lattice is needed
	}
	rng := stream(seed, purposeLattice, 0)
	for s := 0; s < latticeShifts; s++ {
		shift := make([]float64, m.rank)
		for k := range shift {
			shift[k] = rng.Float64()
		}
		for i := 1; i <= latticePoints; i++ {
			u := make([]float64, m.rank)
			for k := range u {
				x := float64(i)*math.Sqrt(float64(prime(k))) + shift[k]
				x -= math.Floor(x)
				u[k] = math.Abs(2*x - 1)
			}
			m.points = append(m.points, u)
		}
	}
	return m
}

func prime(k int) int {
	for p, n := 2, 0; ; p++ {
		is := true
		for d := 2; d*d <= p; d++ {
			if p%d == 0 {
				is = false
				break
			}
		}
		if is {
			if n == k {
				return p
			}
			n++
		}
	}
}

// factor is the pivoted Cholesky factorisation of a, kept as loadings.
func (m *MaxNormal) factor(a []float64, n int) {
	load := make([][]float64, n)
	use := []int{}
	for i := range load {
		if a[i*n+i] > 0 {
			use = append(use, i)
		}
	}
	res := map[int]float64{}
	for _, i := range use {
		res[i] = a[i*n+i]
	}
	for {
		pivot, best := -1, 1e-9
		for _, i := range use {
			if res[i] > best {
				pivot, best = i, res[i]
			}
		}
		if pivot < 0 {
			break
		}
		k := m.rank
		root := math.Sqrt(best)
		pl := append([]float64(nil), load[pivot]...)
		for _, i := range use {
			v := a[i*n+pivot] - dot(pl, load[i][:k])
			load[i] = append(load[i], v/root)
			res[i] -= v / root * v / root
		}
		res[pivot] = 0
		m.rank++
	}
	for k := 0; k < m.rank; k++ {
		for _, i := range use {
			if lastLoading(load[i]) == k {
				m.load = append(m.load, load[i][:k+1])
				m.last = append(m.last, k)
			}
		}
	}
}

func lastLoading(l []float64) int {
	for k := len(l) - 1; k >= 0; k-- {
		if math.Abs(l[k]) > 1e-6 {
			return k
		}
	}
	return -1
}

// Inside returns the probability that every absolute value is at most c.
func (m *MaxNormal) Inside(c float64) float64 {
	switch m.rank {
	case 0:
		return 1
	case 1:
		return m.inside1(c)
	case 2:
		return m.inside2(c)
	}
	// each shift's points are summed by themselves, so that the answer does not
	// depend on the number of cores
	sums := make([]float64, latticeShifts)
	var wait sync.WaitGroup
	next := make(chan int, latticeShifts)
	for s := range sums {
		next <- s
	}
	close(next)
	for range min(runtime.GOMAXPROCS(0), latticeShifts) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for s := range next {
				sums[s] = m.insideShift(s, c)
			}
		}()
	}
	wait.Wait()
	sum := 0.0
	for _, v := range sums {
		sum += v
	}
	return sum / float64(len(m.points))
}

// insideShift sums the probability over the points of one shift.
func (m *MaxNormal) insideShift(shift int, c float64) float64 {
	g := make([]float64, m.rank)
	sum := 0.0
	for _, u := range m.points[shift*latticePoints : (shift+1)*latticePoints] {
		prob := 1.0
		next := 0
		for k := 0; k < m.rank; k++ {
			lo, hi := math.Inf(-1), math.Inf(1)
			for ; next < len(m.load) && m.last[next] == k; next++ {
				l := m.load[next]
				s := dot(l[:k], g[:k])
				a, b := (-c-s)/l[k], (c-s)/l[k]
				if a > b {
					a, b = b, a
				}
				lo, hi = math.Max(lo, a), math.Min(hi, b)
			}
			d, e := distuv.UnitNormal.CDF(lo), distuv.UnitNormal.CDF(hi)
			if hi <= lo || e <= d {
				prob = 0
				break
			}
			prob *= e - d
			if k < m.rank-1 {
				g[k] = distuv.UnitNormal.Quantile(math.Min(math.Max(d+u[k]*(e-d), 1e-300), 1-1e-16))
			}
		}
		sum += prob
	}
	return sum
}

// Critical returns c with Inside(c) = level, found on the fixed points, so that
// the same matrix and seed give the same number.
func (m *MaxNormal) Critical(level float64) float64 {
	if m.rank == 0 {
		return math.NaN()
	}
	// between the values for one normal and for as many independent ones
	n := float64(len(m.load))
	lo := distuv.UnitNormal.Quantile(0.5+level/2) - 0.01
	hi := distuv.UnitNormal.Quantile(0.5+math.Pow(level, 1/n)/2) + 0.01 // Šidák 1967, J. Am. Stat. Assoc. 62:626–633
	f := func(c float64) float64 { return m.Inside(c) - level }
	if m.rank > 2 { // the first shift alone says nearly where
		rough := func(c float64) float64 { return m.insideShift(0, c)/latticePoints - level }
		at := illinois(rough, lo, rough(lo), hi, rough(hi), 1e-4)
		const near = 0.01
		if a, b := f(at-near), f(at+near); a < 0 && b > 0 {
			return illinois(f, at-near, a, at+near, b, 1e-6)
		}
	}
	return illinois(f, lo, f(lo), hi, f(hi), 1e-6)
}

// SimultaneousCritical returns, for contrasts of one fit, the multiple of the standard
// error that makes all limits hold together at the fit's level. Contrasts without a
// standard error are left out of the maximum.
func (r *Result) SimultaneousCritical(contrasts [][]float64, seed uint64) float64 {
	m, _ := r.maxNormal(contrasts, seed)
	return m.Critical(r.Level)
}

// Simultaneous returns SimultaneousCritical and the adjusted p of each contrast, NaN for
// those without a standard error. Where n times the plain p is under 1e-7, which bounds the
// adjusted one, that is taken.
func (r *Result) Simultaneous(contrasts [][]float64, seed uint64) (critical float64, p []float64) {
	m, sd := r.maxNormal(contrasts, seed)
	p = make([]float64, len(contrasts))
	for i, c := range contrasts {
		p[i] = math.NaN()
		if sd[i] > 0 && r.opts.stopped() == nil {
			t := math.Abs(dot(c, r.beta) / sd[i])
			if p[i] = float64(len(contrasts)) * 2 * distuv.UnitNormal.Survival(t); p[i] > 1e-7 {
				p[i] = math.Max(0, 1-m.Inside(t))
			}
		}
	}
	return m.Critical(r.Level), p
}

// maxNormal is the largest of the contrasts' studentised errors, with their standard errors.
func (r *Result) maxNormal(contrasts [][]float64, seed uint64) (*MaxNormal, []float64) {
	n := len(contrasts)
	corr := make([]float64, n*n)
	sd := make([]float64, n)
	for i, c := range contrasts {
		if v := r.Covariance(c, c); v > 0 {
			sd[i] = math.Sqrt(v)
		}
	}
	for i, a := range contrasts {
		for j, b := range contrasts {
			if sd[i] > 0 && sd[j] > 0 {
				corr[i*n+j] = r.Covariance(a, b) / (sd[i] * sd[j])
			}
		}
	}
	return NewMaxNormal(corr, n, seed), sd
}
