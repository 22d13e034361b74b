package mixed

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Profile-likelihood limits: the values at which the largest likelihood under them has
// fallen from the maximum by half the chi-squared quantile with one degree of freedom
// (Venzon & Moolgavkar 1988, Appl. Stat. 37:87–94). Other parameters follow.

// profileFarthest bounds how far from an SD its lower limit is looked for, as a logarithm.
const profileFarthest = 10.0

// ProfileSD returns the profile limits of an SD (by its place in Random) at the fit's
// level. The lower is 0 where the likelihood without that spread has not fallen far
// enough; with a likelihood at its boundary the interval is then wider than it needs to
// be. The upper is NaN where the likelihood never falls so far up to an SD of 30.
func (r *Result) ProfileSD(k int) (lower, upper float64) {
	nan := math.NaN()
	if !r.Ending.Usable() || r.opts.Family == BetaBinomial && len(r.Random) == 0 {
		return nan, nan
	}
	p := &sdProfile{r: r, k: k, c: &climber{f: r.fit.m.frame, nodes: r.Quadrature, tol: 1e-9, stop: r.opts.stop()}}
	sd := r.Random[k].SD
	if sd > 0 && p.depth(math.Inf(-1)) > 0 {
		lower = math.Exp(p.root(math.Log(sd), -1, math.Log(sd)-profileFarthest))
	}
	upper = math.Exp(p.root(math.Log(math.Max(sd, 0.05)), 1, logSDMax))
	return lower, upper
}

// sdProfile walks along one SD.
type sdProfile struct {
	r    *Result
	k    int
	c    *climber
	last []float64 // θ where the last climb ended, of the model with every other SD
}

// depth is how far beyond the limits the likelihood has fallen with the SD held at
// e^logSD, in standard normal units: √(2·drop) − z; NaN if no climb ended.
func (p *sdProfile) depth(logSD float64) float64 {
	m := *p.r.fit.m
	m.held, m.heldSD = p.k+1, math.Exp(logSD)
	m.active = nil
	theta := append([]float64(nil), p.r.fit.theta[:m.q]...)
	for k := range p.r.Random {
		if k != p.k { // one that is zero in the fit may rise when another is held
			m.active = append(m.active, k)
			theta = append(theta, math.Log(math.Max(p.r.Random[k].SD, 0.1)))
		}
	}
	if m.kappaFree {
		theta = append(theta, p.r.fit.theta[len(p.r.fit.theta)-1])
	}
	if p.last != nil {
		copy(theta, p.last)
		for i := range m.active {
			theta[m.q+i] = math.Max(theta[m.q+i], logSmall)
		}
	}
	up := p.c.climb(&m, theta, p.c.tol, nil)
	p.last = up.theta
	best := p.c.subModels(up).value
	if math.IsInf(best, -1) || math.IsNaN(best) {
		return math.NaN()
	}
	return depthOf(p.r.LogLik-best, p.r.Level)
}

func depthOf(drop, level float64) float64 {
	return math.Sqrt(2*math.Max(drop, 0)) - distuv.UnitNormal.Quantile(0.5+level/2)
}

// root is where depth crosses zero, from a place inside towards the end on that side; NaN
// if it does not before it.
func (p *sdProfile) root(from, side, end float64) float64 {
	in, fin := from, p.depth(from)
	step := 0.5
	for fin <= 0 && in != end {
		out := in + side*step
		if side*(out-end) > 0 {
			out = end
		}
		fout := p.depth(out)
		if fout > 0 {
			return illinois(p.depth, in, fin, out, fout, 1e-5)
		}
		in, fin = out, fout
		step *= 1.6
	}
	return math.NaN()
}

// ProfileContrast returns the profile limits of c'β at the fit's level; NaN where it has
// no ordinary estimate, or the likelihood does not fall so far.
func (r *Result) ProfileContrast(c []float64) (lower, upper float64) {
	nan := math.NaN()
	w := r.Contrast(c)
	if w.Separated || !(w.SE > 0) {
		return nan, nan
	}
	depth := func(x float64) float64 {
		if r.opts.stopped() != nil {
			return nan
		}
		return depthOf(r.LogLik-r.at(c, x), r.Level)
	}
	side := func(sign float64) float64 {
		in, fin := w.Estimate, depthOf(0, r.Level)
		z := distuv.UnitNormal.Quantile(0.5 + r.Level/2)
		for k := range 8 {
			out := w.Estimate + sign*w.SE*z*math.Pow(1.4, float64(k))
			fout := depth(out)
			if fout > 0 {
				return illinois(depth, in, fin, out, fout, 1e-5*w.SE)
			}
			in, fin = out, fout
		}
		return nan
	}
	return side(-1), side(1)
}
