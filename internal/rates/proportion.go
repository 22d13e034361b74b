package rates

import (
	"math"

	"soakline/internal/assay"
)

// curve is the product-limit (or, with late baits, maximum-likelihood) curve of
// one deployment at its looks.
type curve struct {
	r        *reading
	survival []float64 // at look k, place k+1; [0] is 1 at setting out
	known    []bool    // by the same place
	hazard   []float64 // q: share consumed in the interval that ends at the look, of those at risk
	exposed  []float64 // effective number at risk behind hazard
	from     []int     // place at which that interval begins
	// cov[i][j] is the covariance of log(1−q_i) and log(1−q_j), places from 1;
	// nil off-diagonals where the intervals are independent.
	cov  [][]float64
	diag []float64
}

// newCurve is the estimator of docs/methods/rates.md, "Product limit".
//
// Hand-worked: n = 25, C = (10, 13), L = (0, 10). r = (25 − 0 − 0, 25 − 10 − 10)
// = (25, 5), y = (10, 3); S = (1 − 10/25)(1 − 3/5) = 0.6 × 0.4 = 0.24, p = 0.76,
// bounds 13/25 = 0.52 and 23/25 = 0.92.
func newCurve(r *reading) *curve {
	n := len(r.looks) + 1
	c := &curve{
		r: r, survival: make([]float64, n), known: make([]bool, n),
		hazard: make([]float64, n), exposed: make([]float64, n), diag: make([]float64, n),
		from: make([]int, n),
	}
	for place := 1; place < n; place++ {
		c.from[place] = place - 1
	}
	c.survival[0], c.known[0] = 1, true
	if r.late {
		c.maximise()
		return c
	}
	for k, at := range r.looks {
		s, ok := c.survival[k], c.known[k]
		switch {
		case !ok:
		case at.atRisk > 0:
			q := float64(at.y) / float64(at.atRisk)
			c.hazard[k+1], c.exposed[k+1] = q, float64(at.atRisk)
			if at.y < at.atRisk {
				c.diag[k+1] = float64(at.y) / (float64(at.atRisk) * float64(at.atRisk-at.y))
			}
			s *= 1 - q
			if at.y == at.atRisk {
				s = 0
			}
		case s > 0: // a bait may survive, and none is left to tell
			ok = false
		}
		c.survival[k+1], c.known[k+1] = s, ok
	}
	return c
}

// varLog is the variance of Σ weight_i log(1−q_i), places from 1 to last.
func (c *curve) varLog(weight func(place int) float64, last int) float64 {
	v := 0.0
	for i := 1; i <= last; i++ {
		if c.cov == nil {
			v += weight(i) * weight(i) * c.diag[i]
			continue
		}
		for j := 1; j <= last; j++ {
			v += weight(i) * weight(j) * c.cov[i][j]
		}
	}
	return v
}

// seen is the number of baits whose fate by look place is known.
func (c *curve) seen(place int) float64 {
	at := c.r.looks[place-1]
	return float64(c.r.n - at.l - at.u)
}

// effective is n_e = p(1−p)/Var(p), Var(p) = S² Var(log S) by Greenwood's
// formula; the baits whose fate is known where p is 0 or 1.
func effective(s, varLogS, known float64) float64 {
	if s <= 0 || s >= 1 || varLogS <= 0 {
		return known
	}
	return (1 - s) / (s * varLogS)
}

// proportionAt is the proportion consumed by look place with its limits.
func (c *curve) proportionAt(place int, o *Options) Estimate {
	if !c.known[place] {
		return Estimate{}
	}
	s := c.survival[place]
	ne := effective(s, c.varLog(func(int) float64 { return 1 }, place), c.seen(place))
	return limited(1-s, ne, o)
}

func limited(p, ne float64, o *Options) Estimate {
	lower, upper, err := o.Interval.Limits(p, ne, o.Level)
	if err != nil { // no bait at all is behind it
		return Estimate{}
	}
	return Estimate{assay.Some(p), assay.Some(lower), assay.Some(upper)}
}

// beyond is how far past the last look, as a multiple of its soak, a proportion
// is still told: a choice of ours, so that a check made after 19 h speaks for 24 h
// and one after 1 h does not.
const beyond = 1.5

// proportionAtSoak is the proportion consumed by soak hours, the rate taken as
// constant between looks and, past the last one, as in the last interval. It is
// modelled unless soak is that of a look.
// docs/methods/rates.md, "Proportion at the nominal soak".
func (c *curve) proportionAtSoak(soakH float64, o *Options) Nominal {
	out := Nominal{SoakH: soakH, Modelled: true}
	place, soak := c.before(soakH)
	if place > 0 && math.Abs(soak-soakH) < 1e-9 {
		out.Modelled = false
		out.set(c.proportionAt(place, o))
		return out
	}
	next := place + 1
	for next < len(c.known) && !c.known[next] {
		next++
	}
	share := 0.0
	switch {
	case next < len(c.known):
		share = (soakH - soak) / (c.soakH(next) - soak)
	case place == 0 || soakH > beyond*soak:
		return out
	default: // the last interval goes on
		next, place = place, c.from[place]
		share = (soakH - c.soakH(place)) / (soak - c.soakH(place))
	}
	switch {
	case c.survival[place] == 0:
		out.set(c.proportionAt(place, o))
		return out
	case c.survival[next] == 0 && share > 1:
		out.set(c.proportionAt(next, o))
		return out
	case c.survival[next] == 0: // somewhere between what the two looks say
		out.Lower, out.Upper = assay.Some(0.0), assay.Some(1.0)
		if place > 0 {
			out.Lower = c.proportionAt(place, o).Lower
		}
		return out
	}
	logS := math.Log(c.survival[place]) + share*math.Log1p(-c.hazard[next])
	s := math.Exp(logS)
	v := c.varLog(func(i int) float64 {
		if i == next {
			return share
		}
		return 1
	}, next)
	out.set(limited(-math.Expm1(logS), effective(s, v, c.seen(next)), o))
	return out
}

// before is the last place with a known proportion whose soak is not past soakH.
func (c *curve) before(soakH float64) (place int, soak float64) {
	for k := range c.r.looks {
		if c.known[k+1] && c.soakH(k+1) <= soakH+1e-9 {
			place, soak = k+1, c.soakH(k+1)
		}
	}
	return place, soak
}

func (c *curve) soakH(place int) float64 {
	if place == 0 {
		return 0
	}
	return c.r.looks[place-1].soakH
}

// rateIn is the rate in the interval that ends at look place.
func (c *curve) rateIn(place int, level float64) Estimate {
	if !c.known[place] || c.exposed[place] <= 0 {
		return Estimate{}
	}
	length := c.soakH(place) - c.soakH(c.from[place])
	return rateOf(c.hazard[place], c.exposed[place], length, level)
}

// rateOf is the rate of q consumed of r at risk over length hours with its
// profile-likelihood limits; one-sided at q = 0 and q = 1 as ConstantRate. r need
// not be whole.
func rateOf(q, r, lengthH, level float64) Estimate {
	drop := -math.Log1p(-level)
	switch {
	case q <= 0:
		return Estimate{assay.Some(0.0), assay.Some(0.0), assay.Some(drop / (r * lengthH))}
	case q >= 1:
		return Estimate{Lower: assay.Some(-math.Log1p(-math.Exp(-drop/r)) / lengthH)}
	}
	h := -math.Log1p(-q)
	at := func(x float64) (ll, score float64) {
		h := math.Exp(x)
		s, _ := groupScore(q, 1, h)
		return r * (q*log1mexp(h) - (1-q)*h), r * s
	}
	x, half := math.Log(h), chi1(level)/2
	top, _ := at(x)
	cut := func(x float64) (float64, float64) { ll, s := at(x); return ll - top + half, s }
	_, curve := groupScore(q, 1, h)
	below, above, okBelow, okAbove := either(cut, x, math.Sqrt(-2*half/(r*curve)), logLimit)
	e := Estimate{Estimate: assay.Some(h / lengthH)}
	if okBelow {
		e.Lower = assay.Some(math.Exp(below) / lengthH)
	}
	if okAbove {
		e.Upper = assay.Some(math.Exp(above) / lengthH)
	}
	return e
}

// halfGone are the soaks of the looks between which half of the baits went.
func (c *curve) halfGone() (after, by assay.Maybe[float64]) {
	for place := range c.survival {
		if !c.known[place] {
			continue
		}
		if c.survival[place] > 0.5 {
			after = assay.Some(c.soakH(place))
		} else if !by.Known() {
			by = assay.Some(c.soakH(place))
		}
	}
	return after, by
}
