package mixed

import "math"

// Separation. A likelihood of counts has no maximum if some direction d of β
// lets linear predictors run away without ever losing likelihood: no event
// where they fall, nothing but events where they rise (Albert & Anderson 1984,
// Biometrika 71:1–10). Random intercepts change nothing about it.
//
// The direction is found by climbing with two very small ridges: a term with a
// maximum hardly moves between them, one without moves by the logarithm of
// their ratio. The direction is then proved, observation by observation,
// so that a merely weak term is never called separated. What runs away is
// taken to its limit (a hazard of zero; an observation of certain events), and
// the rest is an ordinary problem whose maximum is the supremum of the whole.
const (
	ridgeLoose    = 1e-6
	ridgeTight    = 1e-10
	runaway       = 3.0  // move of a linear predictor between the two ridges; about log(1e4) = 9.2 if separated
	flatTolerance = 2e-3 // share of the largest move that counts as none
)

// limit takes the frame to the limit of its separated directions. It returns
// the frame to fit (f itself if nothing is separated), the part of a that frame
// can tell apart, and the sum of the directions found (nil if none).
func (f *frame) limit(a affine) (*frame, affine, []float64) {
	var total []float64
	for round := 0; round <= len(f.terms); round++ {
		d := f.direction(a)
		if d == nil {
			break
		}
		next := f.remove(d)
		if next == nil {
			break
		}
		if total == nil {
			total = make([]float64, len(d))
		}
		for j := range d {
			total[j] += d[j]
		}
		f = next
		a = f.narrow(a)
	}
	return f, a, total
}

// narrow returns the part of a that the frame can still tell apart.
func (f *frame) narrow(a affine) affine {
	p := len(f.terms)
	rows := make([]float64, f.nRows*a.q)
	for i := 0; i < f.nRows; i++ {
		for j, x := range f.rows[i*p : (i+1)*p] {
			if x == 0 {
				continue
			}
			for g := 0; g < a.q; g++ {
				rows[i*a.q+g] += x * a.toBeta[j*a.q+g]
			}
		}
	}
	b := newBasis(rows, f.usedRows(), f.nRows, a.q)
	n := affine{base: a.base, q: b.rank, toBeta: make([]float64, p*b.rank)}
	for j := 0; j < p; j++ {
		for g := 0; g < b.rank; g++ {
			for k := 0; k < a.q; k++ {
				n.toBeta[j*n.q+g] += a.toBeta[j*a.q+k] * b.toBeta[k*b.rank+g]
			}
		}
	}
	return n
}

// direction returns how the linear predictors of the distinct rows move between
// the two ridges, scaled to a largest move of 1, as a change of β; nil if they
// hardly move.
func (f *frame) direction(a affine) []float64 {
	if a.q == 0 || !f.maySeparate() {
		return nil
	}
	g := f.surrogate()
	ws := newWorkspace(g.plain(a))
	start := g.flatStart(a)
	loose, v := ws.glm(start, ridgeLoose)
	if math.IsInf(v, -1) {
		return nil
	}
	tight, v := ws.glmFrom(loose, start, ridgeTight)
	if math.IsInf(v, -1) {
		return nil
	}
	p := len(f.terms)
	d := make([]float64, p)
	for j := range d {
		for g := range tight {
			d[j] += a.toBeta[j*a.q+g] * (tight[g] - loose[g])
		}
	}
	most := 0.0
	for i, w := range f.usedRows() {
		if w > 0 {
			most = math.Max(most, math.Abs(dot(f.rows[i*p:(i+1)*p], d)))
		}
	}
	if most < runaway {
		return nil
	}
	for j := range d {
		d[j] /= most
	}
	return d
}

// surrogate is the frame with the logit of the log hazard in place of the link
// and no background apart. What can run away is the same, since it depends only on
// which linear predictors may fall or rise for ever; but here both sides run
// at the same speed, while with the complementary log-log link a probability
// nears 1 so fast that the predictor hardly moves between the ridges.
func (f *frame) surrogate() *frame {
	l := *f.layout
	l.hasBack = false
	l.background = make([]bool, len(l.row))
	g := *f
	g.layout = &l
	g.link, g.family = Logit, Binomial
	return &g
}

// maySeparate is a cheap necessary condition: some observation has no event
// or nothing but events, or a background that can take all events on itself.
func (f *frame) maySeparate() bool {
	if f.hasBack {
		return true
	}
	for i := range f.y {
		if f.r[i] > 0 && (f.y[i] == 0 || f.y[i] == f.r[i]) {
			return true
		}
	}
	return false
}

// remove proves direction d and returns the frame at its limit; nil if d loses
// likelihood somewhere or changes nothing.
func (f *frame) remove(d []float64) *frame {
	p := len(f.terms)
	n := *f
	n.logExp = append([]float64(nil), f.logExp...)
	n.y, n.r = append([]float64(nil), f.y...), append([]float64(nil), f.r...)
	changed := false
	for i := range f.y {
		if f.r[i] == 0 {
			continue
		}
		top := math.Inf(-1)
		for s := f.pieceStart[i]; s < f.pieceStart[i+1]; s++ {
			if math.IsInf(f.logExp[s], -1) {
				continue
			}
			move := dot(f.rows[int(f.row[s])*p:(int(f.row[s])+1)*p], d)
			top = math.Max(top, move)
			if move < -flatTolerance {
				n.logExp[s] = math.Inf(-1)
				changed = true
			}
		}
		switch {
		case f.y[i] == 0 && top > flatTolerance,
			f.y[i] > 0 && top < -flatTolerance,
			f.y[i] > 0 && f.y[i] < f.r[i] && top > flatTolerance:
			return nil
		case f.y[i] == 0 && top < -flatTolerance:
			n.r[i] = 0 // certain to have no event: likelihood 1
		case f.y[i] > 0 && top > flatTolerance:
			n.y[i], n.r[i] = 0, 0 // certain to have events: likelihood 1
			changed = true
		}
	}
	if !changed {
		return nil
	}
	return &n
}
