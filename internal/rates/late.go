package rates

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// maximise fills in the curve of a deployment in which some baits were not read
// at one check but at a later one: the maximum-likelihood hazards q of the
// intervals between looks, by expectation and maximisation over where the late
// baits were consumed and, with counts alone, which of them were. With no late
// bait it would give the product limit.
// docs/methods/rates.md, "Baits not read at one check".
func (c *curve) maximise() {
	e := newLateFit(c.r)
	e.run()
	score, d, n := make([]float64, e.steps), make([]float64, e.steps), make([]float64, e.steps)
	e.expect(e.q, d, n)
	for s := range e.q {
		// Below this the steps of the algorithm only creep towards the edge.
		if d[s] < 1e-7 {
			e.q[s] = 0
		}
		if n[s]-d[s] < 1e-7 {
			e.q[s] = 1
		}
	}
	cov := e.covariance(score, d, n)
	places := len(c.survival)
	c.cov = make([][]float64, places)
	for i := range c.cov {
		c.cov[i] = make([]float64, places)
	}
	step := 0
	for place := 1; place < places; place++ {
		c.survival[place], c.known[place] = c.survival[place-1], c.known[place-1]
		if step >= e.steps || e.end[step] != place {
			c.known[place] = false // nobody was read here
			if c.survival[place-1] == 0 && c.known[place-1] {
				c.known[place] = true
			}
			continue
		}
		c.known[place] = e.covered[step] && (step == 0 || c.known[e.end[step-1]])
		if step > 0 {
			c.from[place] = e.end[step-1]
		} else {
			c.from[place] = 0
		}
		base := c.survival[c.from[place]]
		if base == 0 {
			c.known[place] = true
		}
		q := e.q[step]
		c.survival[place] = base * (1 - q)
		c.hazard[place], c.exposed[place] = q, n[step]
		if v := cov[step][step]; q > 0 && q < 1 && v > 0 {
			// Effective number at risk: q(1−q) over the variance of q.
			c.exposed[place] = q / ((1 - q) * v)
		}
		for other := range step + 1 {
			c.cov[place][e.end[other]] = cov[step][other]
			c.cov[e.end[other]][place] = cov[step][other]
		}
		step++
	}
}

// lateFit works on the steps between looks at which some bait was read.
type lateFit struct {
	ivs     []Interval
	steps   int
	end     []int       // the place at which a step ends
	at      map[int]int // place -> number of steps that end at or before it
	covered []bool
	q       []float64
	size    int // groups in the largest interval
}

func newLateFit(r *reading) *lateFit {
	e := &lateFit{ivs: r.intervals, at: map[int]int{0: 0}}
	used := map[int]bool{}
	for k := range e.ivs {
		used[e.ivs[k].to] = true
		e.size = max(e.size, 1+len(e.ivs[k].Late))
	}
	for place := 1; place <= len(r.looks); place++ {
		if used[place] {
			e.end = append(e.end, place)
		}
		e.at[place] = len(e.end)
	}
	e.steps = len(e.end)
	e.covered = make([]bool, e.steps)
	e.q = make([]float64, e.steps)
	for k := range e.ivs {
		e.eachGroup(&e.ivs[k], func(_, from, to, baits int) {
			for s := from; s < to && baits > 0; s++ {
				e.covered[s] = true
			}
		})
	}
	for s := range e.q {
		e.q[s] = 0.5
		if !e.covered[s] {
			e.q[s] = 0
		}
	}
	return e
}

// eachGroup calls do for the groups of iv with the steps from … to−1 they span.
func (e *lateFit) eachGroup(iv *Interval, do func(g, from, to, baits int)) {
	to := e.at[iv.to]
	do(0, e.at[iv.from], to, iv.AtRisk)
	for g, l := range iv.Late {
		do(g+1, e.at[l.from], to, l.AtRisk)
	}
}

// expect fills in the expected number consumed d and at risk n in each step.
func (e *lateFit) expect(q, d, n []float64) {
	clear(d)
	clear(n)
	hs, ex := make([]float64, e.size), make([]float64, e.size)
	for k := range e.ivs {
		iv := &e.ivs[k]
		e.hazards(iv, q, hs)
		iv.Split(hs[:1+len(iv.Late)], ex[:1+len(iv.Late)])
		e.eachGroup(iv, func(g, from, to, baits int) {
			alive, sum := 1.0, -math.Expm1(-hs[g])
			left := ex[g] // expected consumed in steps not yet passed
			for s := from; s < to; s++ {
				n[s] += float64(baits) - ex[g] + left
				if sum > 0 {
					here := ex[g] * alive * q[s] / sum
					d[s] += here
					left = max(left-here, 0)
				}
				alive *= 1 - q[s]
			}
		})
	}
}

func (e *lateFit) hazards(iv *Interval, q, hs []float64) {
	e.eachGroup(iv, func(g, from, to, _ int) {
		hs[g] = 0
		for s := from; s < to; s++ {
			hs[g] -= math.Log1p(-min(q[s], 1-1e-12))
		}
	})
}

func (e *lateFit) run() {
	d, n := make([]float64, e.steps), make([]float64, e.steps)
	for range 5000 {
		e.expect(e.q, d, n)
		moved := 0.0
		for s := range e.q {
			if n[s] > 0 {
				next := min(d[s]/n[s], 1)
				moved = max(moved, math.Abs(next-e.q[s]))
				e.q[s] = next
			}
		}
		if moved < 1e-13 {
			return
		}
	}
}

// covariance is that of log(1−q_s), from the observed information in the logits
// of the q inside (0, 1): the score there is d − n q (Fisher's identity), and its
// derivative is taken by central differences.
func (e *lateFit) covariance(score, d, n []float64) [][]float64 {
	cov := make([][]float64, e.steps)
	for i := range cov {
		cov[i] = make([]float64, e.steps)
	}
	var inside []int
	for s, q := range e.q {
		if q > 0 && q < 1 {
			inside = append(inside, s)
		}
	}
	if len(inside) == 0 {
		return cov
	}
	info := mat.NewDense(len(inside), len(inside), nil)
	q := make([]float64, e.steps)
	const h = 1e-4
	for j, s := range inside {
		for _, side := range []float64{1, -1} {
			copy(q, e.q)
			theta := math.Log(q[s]/(1-q[s])) + side*h
			q[s] = 1 / (1 + math.Exp(-theta))
			e.expect(q, d, n)
			for i, t := range inside {
				score[t] = d[t] - n[t]*q[t]
				info.Set(i, j, info.At(i, j)-side*score[t]/(2*h))
			}
		}
	}
	var inv mat.Dense
	if err := inv.Inverse(info); err != nil {
		return cov // not determined: the limits then stand on the baits known
	}
	for i, s := range inside {
		for j, t := range inside {
			cov[s][t] = e.q[s] * e.q[t] * (inv.At(i, j) + inv.At(j, i)) / 2
		}
	}
	e.expect(e.q, d, n)
	return cov
}
