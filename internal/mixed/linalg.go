package mixed

import "math"

// cholesky overwrites the lower triangle of the n × n row-major a with its
// Cholesky factor; false if a is not positive definite.
func cholesky(a []float64, n int) bool {
	for j := 0; j < n; j++ {
		for i := j; i < n; i++ {
			s := a[i*n+j]
			for k := 0; k < j; k++ {
				s -= a[i*n+k] * a[j*n+k]
			}
			if i == j {
				if !(s > 0) || math.IsInf(s, 0) {
					return false
				}
				a[j*n+j] = math.Sqrt(s)
			} else {
				a[i*n+j] = s / a[j*n+j]
			}
		}
	}
	return true
}

// cholSolve solves L L' x = b in place of b.
func cholSolve(l []float64, n int, b []float64) {
	for i := 0; i < n; i++ {
		s := b[i]
		for k := 0; k < i; k++ {
			s -= l[i*n+k] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		s := b[i]
		for k := i + 1; k < n; k++ {
			s -= l[k*n+i] * b[k]
		}
		b[i] = s / l[i*n+i]
	}
}

// cholInverse returns the inverse of L L'.
func cholInverse(l []float64, n int) []float64 {
	inv := make([]float64, n*n)
	col := make([]float64, n)
	for j := 0; j < n; j++ {
		for i := range col {
			col[i] = 0
		}
		col[j] = 1
		cholSolve(l, n, col)
		for i := range col {
			inv[i*n+j] = col[i]
		}
	}
	return inv
}

func logDetChol(l []float64, n int) float64 {
	s := 0.0
	for i := 0; i < n; i++ {
		s += 2 * math.Log(l[i*n+i])
	}
	return s
}

func dot(a, b []float64) float64 {
	s := 0.0
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// basis is the outcome of orthogonalising weighted rows: which columns stand
// by themselves, and how the others are made of them.
type basis struct {
	p, rank int
	kept    []int       // columns that stand, in their order
	aliased []int       // columns that do not
	coef    [][]float64 // for each aliased column, its coefficients on kept
	toBeta  []float64   // p × rank: β = toBeta·γ, with Σ w (x'toBeta)(x'toBeta)' = (Σ w)·I
}

// aliasTolerance: a column whose part outside the earlier columns is smaller
// than this share of it is taken as made of them (as general-purpose linear
// model programs do).
const aliasTolerance = 1e-7

// newBasis orthogonalises the columns of the rows (n × p) with weights w ≥ 0 by
// Gram–Schmidt, twice over, earlier columns first: a QR decomposition that
// pivots only what is dependent to the end (Golub & Van Loan, Matrix
// Computations, 5.2 and 5.4; "twice is enough" of Parlett).
// A column of nothing but zeros counts as aliased with no others.
func newBasis(rows, w []float64, n, p int) *basis {
	b := &basis{p: p}
	total := 0.0
	for _, v := range w {
		total += v
	}
	var q [][]float64 // orthonormal columns over sqrt(w)-weighted rows
	var r [][]float64 // r[k][i]: q_i component of kept column k
	for j := 0; j < p; j++ {
		col := make([]float64, n)
		norm0 := 0.0
		for i := range col {
			col[i] = math.Sqrt(w[i]) * rows[i*p+j]
			norm0 += col[i] * col[i]
		}
		rj := make([]float64, len(q))
		for pass := 0; pass < 2; pass++ {
			for k := range q {
				c := dot(q[k], col)
				rj[k] += c
				for i := range col {
					col[i] -= c * q[k][i]
				}
			}
		}
		norm := math.Sqrt(dot(col, col))
		if norm0 == 0 || norm <= aliasTolerance*math.Sqrt(norm0) {
			b.aliased = append(b.aliased, j)
			b.coef = append(b.coef, rj)
			continue
		}
		for i := range col {
			col[i] /= norm
		}
		q = append(q, col)
		r = append(r, append(rj, norm))
		b.kept = append(b.kept, j)
	}
	b.rank = len(b.kept)
	b.backSubstitute(r, math.Sqrt(total))
	return b
}

// backSubstitute turns the triangle r into the coefficients of aliased columns
// and into toBeta = R⁻¹·scale.
func (b *basis) backSubstitute(r [][]float64, scale float64) {
	for a, rj := range b.coef {
		c := make([]float64, b.rank)
		for k := len(rj) - 1; k >= 0; k-- {
			s := rj[k]
			for m := k + 1; m < len(rj); m++ {
				s -= r[m][k] * c[m]
			}
			c[k] = s / r[k][k]
		}
		b.coef[a] = c
	}
	b.toBeta = make([]float64, b.p*b.rank)
	for g := 0; g < b.rank; g++ {
		c := make([]float64, b.rank)
		for k := g; k >= 0; k-- {
			s := 0.0
			if k == g {
				s = scale
			}
			for m := k + 1; m <= g; m++ {
				s -= r[m][k] * c[m]
			}
			c[k] = s / r[k][k]
		}
		for k, j := range b.kept {
			b.toBeta[j*b.rank+g] = c[k]
		}
	}
}

// estimable reports whether c'β is the same for every β that gives the rows
// the same linear predictors.
func (b *basis) estimable(c []float64) bool {
	for a, j := range b.aliased {
		s, scale := c[j], math.Abs(c[j])
		for k, kj := range b.kept {
			s -= b.coef[a][k] * c[kj]
			scale += math.Abs(b.coef[a][k] * c[kj])
		}
		if math.Abs(s) > 1e-6*(scale+1e-300) && scale > 0 {
			return false
		}
	}
	return true
}
