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

// limited is a frame taken to the limit of its separated directions.
type limited struct {
	f   *frame    // what is left to fit (the frame itself if nothing is separated)
	a   affine    // the part of the parameter space that f can tell apart
	ran []float64 // sum of the directions found, nil if none
	// before holds the frame and space before the first direction in which an
	// observation that stays lost a piece; there the likelihood decides.
	before *limited
}

// heldSE: where every linear predictor has a standard error below this at the maximum without
// intercepts, nothing runs away; what does has one of a thousand, by the looser ridge.
const heldSE = 2.0

// held proves that nothing runs away: the log-likelihood without intercepts of one-piece
// observations is concave in γ, so that a maximum around which it falls in every direction
// leaves none in which it never falls. It returns that maximum; nil if it proves nothing.
// start may be nil.
func (f *frame) held(a affine, start []float64) []float64 {
	m := f.plain(a)
	if !m.plainCloglog() || m.multi || a.q == 0 {
		return nil
	}
	ws := newWorkspace(m)
	from := f.flatStart(a)
	if start == nil {
		start = from
	}
	gamma, v := ws.glmFrom(start, from, ridgeLoose)
	if math.IsInf(v, -1) {
		return nil
	}
	grad, info := make([]float64, a.q), make([]float64, a.q*a.q)
	ws.eval(gamma, grad)
	ws.fixedInformation(info)
	if !cholesky(info, a.q) {
		return nil
	}
	xg := ws.rowsInGamma()
	x := make([]float64, a.q)
	for i, w := range f.usedRows() {
		row := xg[i*a.q : (i+1)*a.q]
		copy(x, row)
		cholSolve(info, a.q, x)
		if w > 0 && !(dot(row, x) < heldSE*heldSE) {
			return nil
		}
	}
	copy(x, grad)
	cholSolve(info, a.q, x)
	if !(dot(x, grad) < 1e-3) { // the maximum of the likelihood itself is as near as that
		return nil
	}
	return gamma
}

// limit takes the frame to the limit of its separated directions.
func (f *frame) limit(a affine) limited {
	l := limited{f: f, a: a}
	for round := 0; round <= len(f.terms); round++ {
		next, d := l.f.step(l.a, l.f.surrogate())
		if next == nil && (f.multi || f.hasBack) {
			own := *l.f
			own.family = Binomial
			next, d = l.f.step(l.a, &own)
		}
		if next == nil {
			break
		}
		n := limited{f: next.f, a: next.a, ran: add(l.ran, d), before: l.before}
		if next.before != nil && n.before == nil {
			was := l
			n.before = &was
		}
		l = n
	}
	return l
}

func add(a, b []float64) []float64 {
	c := append([]float64(nil), b...)
	for j := range a {
		c[j] += a[j]
	}
	return c
}

// step looks for one direction with the likelihood of g and takes it if that is
// proved to lose nothing; before of the answer is set if observations that stay lost
// a piece.
func (f *frame) step(a affine, g *frame) (*limited, []float64) {
	d := g.direction(a)
	if d == nil {
		return nil, nil
	}
	next, lossy := f.remove(d)
	if next == nil {
		return nil, nil
	}
	l := &limited{f: next, a: next.narrow(a)}
	if lossy {
		if next.plainMaximum(l.a) < f.plainMaximum(a)-1e-5 {
			return nil, nil
		}
		l.before = l
	}
	return l, d
}

// plainMaximum is the largest log-likelihood without random intercepts.
func (f *frame) plainMaximum(a affine) float64 {
	own := *f
	own.family = Binomial
	ws := newWorkspace(own.plain(a))
	_, v := ws.glm(own.flatStart(a), ridgeTight)
	return v
}

// project returns the γ whose linear predictors are those of β, as nearly as a
// allows.
func (f *frame) project(a affine, beta []float64) []float64 {
	p := len(f.terms)
	gamma := make([]float64, a.q)
	total := 0.0
	for i, w := range f.usedRows() {
		if w == 0 {
			continue
		}
		total += w
		row := f.rows[i*p : (i+1)*p]
		v := dot(row, beta) - dot(row, a.base)
		for g := range gamma {
			x := 0.0
			for j, z := range row {
				x += z * a.toBeta[j*a.q+g]
			}
			gamma[g] += w * x * v
		}
	}
	for g := range gamma {
		gamma[g] /= math.Max(total, 1)
	}
	return gamma
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
	ws := newWorkspace(f.plain(a))
	start := f.flatStart(a)
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
	l := *f.layout.asOne()
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
	bad := false
	for i := range f.y {
		if f.r[i] > 0 && (f.y[i] == 0 || f.y[i] == f.r[i]) {
			bad = true
			break
		}
	}
	return bad && !f.rowsHeld()
}

// rowsHeld says whether every distinct row in use has an observation of its own with
// an event and one with something else, so that its predictor can neither fall nor rise.
func (f *frame) rowsHeld() bool {
	const down, up = 1, 2
	held := make([]byte, f.nRows)
	for i := range f.y {
		if s := f.pieceStart[i]; f.r[i] > 0 && f.pieceStart[i+1] == s+1 && !math.IsInf(f.logExp[s], -1) {
			if f.y[i] > 0 {
				held[f.row[s]] |= down
			}
			if f.y[i] < f.r[i] {
				held[f.row[s]] |= up
			}
		}
	}
	for row, w := range f.usedRows() {
		if w > 0 && held[row] != down|up {
			return false
		}
	}
	return true
}

// remove proves direction d and returns the frame at its limit; nil if d loses
// likelihood somewhere or changes nothing. lossy says that an observation that
// stays lost a piece of its hazard, which may cost likelihood or gain it.
func (f *frame) remove(d []float64) (next *frame, lossy bool) {
	p := len(f.terms)
	n := *f
	n.logExp = append([]float64(nil), f.logExp...)
	n.exposure = append([]float64(nil), f.exposure...)
	n.y, n.r = append([]float64(nil), f.y...), append([]float64(nil), f.r...)
	changed := false
	for i := range f.y {
		if f.r[i] == 0 {
			continue
		}
		top := math.Inf(-1)
		off := false
		sum := f.sum(i) != nil
		for s := f.pieceStart[i]; s < f.pieceStart[i+1]; s++ {
			if math.IsInf(f.logExp[s], -1) {
				continue
			}
			move := dot(f.rows[int(f.row[s])*p:(int(f.row[s])+1)*p], d)
			top = math.Max(top, move)
			if move < -flatTolerance {
				n.logExp[s], n.exposure[s] = math.Inf(-1), 0
				changed, off = true, true
			}
		}
		switch {
		case f.y[i] == 0 && top > flatTolerance,
			f.y[i] > 0 && top < -flatTolerance,
			(sum || f.y[i] < f.r[i]) && f.y[i] > 0 && top > flatTolerance:
			return nil, false
		case f.y[i] == 0 && top < -flatTolerance:
			n.r[i] = 0 // certain to have no event: likelihood 1
		case f.y[i] > 0 && top > flatTolerance:
			n.y[i], n.r[i] = 0, 0 // certain to have events: likelihood 1
			changed = true
		default:
			lossy = lossy || off
		}
	}
	if !changed {
		return nil, false
	}
	return &n, lossy
}
