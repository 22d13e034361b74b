package tide

import (
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// model is the linear model of a record: mean, trend if asked, and for each
// constituent f cos(V+u) and f sin(V+u), whose coefficients are A cos g and A sin g.
type model struct {
	o        Analysing
	chosen   []*Constituent
	inferred []inferred
	times    []float64 // hours from the epoch, in order
}

// first is the column of the first constituent.
func (m *model) first() int {
	if m.o.Trend {
		return 2
	}
	return 1
}

func (m *model) columns() int { return m.first() + 2*len(m.chosen) }

func (m *model) middle() float64     { return (m.times[0] + m.times[len(m.times)-1]) / 2 }
func (m *model) trendScale() float64 { return math.Max(1, (m.times[len(m.times)-1]-m.times[0])/2) }

// factors are f and u (degrees) of the chosen constituents, then of the inferred.
type factors struct{ f, u []float64 }

func (m *model) factorsAt(hours float64) factors {
	n := nodesAt(skyAt(hours, m.o.Nodal), m.o.Nodal, m.o.LatitudeDeg)
	var k factors
	add := func(c *Constituent) {
		f, u := n.factor(c)
		k.f, k.u = append(k.f, f), append(k.u, u)
	}
	for _, c := range m.chosen {
		add(c)
	}
	if !m.o.InferAfter {
		for _, in := range m.inferred {
			add(in.c)
		}
	}
	return k
}

// pieces are the node factors of each year of the record, at its middle; one for
// a record of up to a year.
func (m *model) pieces() (list []factors, length float64) {
	span := m.times[len(m.times)-1] - m.times[0]
	n := int(math.Ceil(span/(366*24) - 1e-9))
	n = max(n, 1)
	length = span / float64(n)
	for i := range n {
		list = append(list, m.factorsAt(m.times[0]+(float64(i)+0.5)*length))
	}
	return list, length
}

// reduced brings degrees to radians near zero, where sines are exact and fast.
func reduced(deg float64) float64 { return (deg - 360*math.Floor(deg/360)) * rad }

// fill writes the coefficients of every time, one row of the design after another.
func (m *model) fill(design []float64) {
	pieces, length := m.pieces()
	p := m.columns()
	mid, scale := m.middle(), m.trendScale()
	for i, t := range m.times {
		row := design[i*p : (i+1)*p]
		row[0] = 1
		var k factors
		if m.o.EachTime {
			k = m.factorsAt(t)
		} else {
			year := 0
			if length > 0 {
				year = min(int((t-m.times[0])/length), len(pieces)-1)
			}
			k = pieces[year]
		}
		s := skyAt(t, m.o.Nodal)
		if m.o.Trend {
			row[1] = (t - mid) / scale
		}
		for j, c := range m.chosen {
			sin, cos := math.Sincos(reduced(c.argument(s) + k.u[j]))
			row[m.first()+2*j], row[m.first()+2*j+1] = k.f[j]*cos, k.f[j]*sin
		}
		if !m.o.InferAfter {
			m.addInferred(row, s, k)
		}
	}
}

// addInferred puts the inferred constituents into the columns of their
// references: r f cos(V+u − (g − d)), with the same unknowns A cos g, A sin g.
func (m *model) addInferred(row []float64, s sky, k factors) {
	for q, in := range m.inferred {
		n := len(m.chosen) + q
		j := m.first() + 2*slices.Index(m.chosen, in.from)
		sin, cos := math.Sincos(reduced(in.c.argument(s) + k.u[n] + in.lagDiff))
		row[j] += in.ratio * k.f[n] * cos
		row[j+1] += in.ratio * k.f[n] * sin
	}
}

// solution is the least-squares answer.
type solution struct {
	x         []float64
	inverse   *mat.SymDense // of the scaled normal equations
	scale     []float64
	residuals []float64
	rss       float64
	condition float64
}

// cov is an entry of the inverse of the normal equations.
func (f *solution) cov(i, j int) float64 { return f.inverse.At(i, j) / f.scale[i] / f.scale[j] }

// worstCondition is that beyond which a solution says more about rounding and
// noise than about water: neighbours are then told apart by a hundredth of a cycle.
const worstCondition = 100

// solve fits the levels, once or, for Robust, with weights until they settle.
func (m *model) solve(levels []float64) (*solution, error) {
	n, p := len(levels), m.columns()
	if n <= p {
		return nil, refuse("tide.too-few", "used", n, "unknowns", p)
	}
	design := make([]float64, n*p)
	m.fill(design)
	f, err := fitWeighted(design, levels, nil, p)
	if err != nil || !m.o.Robust {
		return f, err
	}
	weights := make([]float64, n)
	for range 50 {
		scale := 1.4826 * medianAbs(f.residuals)
		if scale < 1e-9 {
			return f, nil
		}
		for i, r := range f.residuals {
			weights[i] = math.Min(1, 1.345*scale/math.Max(math.Abs(r), 1e-12))
		}
		g, err := fitWeighted(design, levels, weights, p)
		if err != nil {
			return nil, err
		}
		moved := 0.0
		for i := range g.x {
			moved = math.Max(moved, math.Abs(g.x[i]-f.x[i]))
		}
		f = g
		if moved < 1e-7 {
			break
		}
	}
	return f, nil
}

// fitWeighted solves the normal equations, scaled so that every column has
// length 1, by Cholesky. The columns of a tide are near orthogonal: at a condition
// of 100 the squared one still leaves eleven digits.
func fitWeighted(design, levels, weights []float64, p int) (*solution, error) {
	n := len(levels)
	normal, right := make([]float64, p*p), make([]float64, p)
	accumulate(design, levels, weights, normal, right, p)
	f := &solution{scale: make([]float64, p), x: make([]float64, p), residuals: make([]float64, n)}
	for i := range p {
		f.scale[i] = math.Sqrt(normal[i*p+i])
		if !(f.scale[i] > 0) {
			return nil, refuse("tide.cannot-solve")
		}
	}
	sym := mat.NewSymDense(p, nil)
	b := mat.NewVecDense(p, nil)
	for i := range p {
		for j := i; j < p; j++ {
			sym.SetSym(i, j, normal[i*p+j]/f.scale[i]/f.scale[j])
		}
		b.SetVec(i, right[i]/f.scale[i])
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(sym, false) {
		return nil, refuse("tide.cannot-solve")
	}
	values := eigen.Values(nil)
	f.condition = math.Sqrt(values[p-1] / math.Max(values[0], 1e-300))
	var chol mat.Cholesky
	if f.condition > worstCondition || !chol.Factorize(sym) {
		return nil, refuse("tide.cannot-solve")
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, b); err != nil {
		return nil, refuse("tide.cannot-solve")
	}
	f.inverse = mat.NewSymDense(p, nil)
	if err := chol.InverseTo(f.inverse); err != nil {
		return nil, refuse("tide.cannot-solve")
	}
	for i := range p {
		f.x[i] = x.AtVec(i) / f.scale[i]
	}
	for i := range n {
		r := levels[i]
		for j, a := range design[i*p : (i+1)*p] {
			r -= a * f.x[j]
		}
		f.residuals[i] = r
		if weights != nil {
			f.rss += weights[i] * r * r
		} else {
			f.rss += r * r
		}
	}
	return f, nil
}

// accumulate adds up the upper triangle of the normal equations, four times at
// once so that each sum is read and written a quarter as often.
func accumulate(design, levels, weights, normal, right []float64, p int) {
	n := len(levels)
	buf := make([]float64, 4*p)
	for i := 0; i < n; i += 4 {
		clear(buf)
		var y [4]float64
		for k := 0; k < 4 && i+k < n; k++ {
			w := 1.0
			if weights != nil {
				w = math.Sqrt(weights[i+k])
			}
			for j, a := range design[(i+k)*p : (i+k+1)*p] {
				buf[k*p+j] = w * a
			}
			y[k] = w * levels[i+k]
		}
		r0, r1, r2, r3 := buf[:p], buf[p:2*p], buf[2*p:3*p], buf[3*p:4*p]
		for j := range p {
			a0, a1, a2, a3 := r0[j], r1[j], r2[j], r3[j]
			right[j] += a0*y[0] + a1*y[1] + a2*y[2] + a3*y[3]
			out := normal[j*p : (j+1)*p]
			for k := j; k < p; k++ {
				out[k] += a0*r0[k] + a1*r1[k] + a2*r2[k] + a3*r3[k]
			}
		}
	}
}

func medianAbs(r []float64) float64 {
	a := make([]float64, len(r))
	for i, x := range r {
		a[i] = math.Abs(x)
	}
	slices.Sort(a)
	return quantile(a, 0.5)
}

// correct takes an inferred constituent out of its reference after the fit:
// Foreman (1977), section 2.3.4, as a complex division by
// 1 + r (f_i/f_r) e^{i(Δ(V+u) + d)} sin x / x, x half the difference of speeds
// times the span, all at mid-record.
func (m *model) correct(e Estimate, in inferred) Estimate {
	mid := m.middle()
	s := skyAt(mid, m.o.Nodal)
	n := nodesAt(s, m.o.Nodal, m.o.LatitudeDeg)
	fi, ui := n.factor(in.c)
	fr, ur := n.factor(in.from)
	x := (in.c.SpeedDegPerH - in.from.SpeedDegPerH) * rad / 2 * (m.times[len(m.times)-1] - m.times[0])
	sinc := 1.0
	if x != 0 {
		sinc = math.Sin(x) / x
	}
	angle := (in.c.argument(s) + ui - in.from.argument(s) - ur + in.lagDiff) * rad
	z := cmplx.Rect(e.AmplitudeM, -e.PhaseDeg*rad) / (1 + cmplx.Rect(in.ratio*fi/fr*sinc, angle))
	k := cmplx.Abs(z) / math.Max(e.AmplitudeM, 1e-300)
	e.AmplitudeM, e.AmplitudeSEM = cmplx.Abs(z), e.AmplitudeSEM*k
	e.PhaseDeg = turn(-cmplx.Phase(z) / rad)
	return e
}
