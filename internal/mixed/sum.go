package mixed

import (
	"errors"
	"fmt"
	"math"
)

// Part is a group of trials in an observation of which only the sum of events
// is known: trials that were last looked at at another time than the others, say.
type Part struct {
	Trials int
	Pieces []Piece
}

// AddSum appends an observation of several parts whose events are known only
// together: events among all their trials. Given the intercepts, the parts' counts
// are independent binomials with their own hazards, and the likelihood is that of
// their sum. One part is Add. Only with Cloglog and Binomial. Errors as Add's.
func (d *Data) AddSum(events int, groups []int, parts ...Part) error {
	var pieces []Piece
	trials := 0
	for _, p := range parts {
		if p.Trials < 0 || len(p.Pieces) == 0 {
			return fmt.Errorf("observation %d: a part of %d trials and %d pieces cannot be", len(d.events)+1, p.Trials, len(p.Pieces))
		}
		trials += p.Trials
		pieces = append(pieces, p.Pieces...)
	}
	if err := d.Add(events, trials, groups, pieces...); err != nil {
		return err
	}
	if len(parts) < 2 {
		return nil
	}
	s := sumParts{}
	end := d.firstPiece(d.Len() - 1)
	for _, p := range parts {
		end += len(p.Pieces)
		s.trials = append(s.trials, p.Trials)
		s.pieceEnd = append(s.pieceEnd, int32(end))
	}
	if d.sums == nil {
		d.sums = map[int]sumParts{}
	}
	d.sums[d.Len()-1] = s
	return nil
}

// sumParts are the parts of one observation: trials, and where its pieces end.
type sumParts struct {
	trials   []int
	pieceEnd []int32
}

var errSum = errors.New("events known only as a sum over parts need the complementary log-log link and the binomial family")

// takeSums gives the layout the parts of the observation of Data that stands at
// place i, whose pieces begin at from.
func (l *layout) takeSums(d *Data, i, obs, from int) {
	s, ok := d.sums[obs]
	if !ok {
		return
	}
	if l.sumOf == nil {
		l.sumOf = make([]int32, d.Len())
	}
	here := sumParts{trials: s.trials}
	first := d.firstPiece(obs)
	for _, e := range s.pieceEnd {
		here.pieceEnd = append(here.pieceEnd, int32(from)+e-int32(first))
	}
	l.sums = append(l.sums, here)
	l.sumOf[i] = int32(len(l.sums))
}

// sum returns the parts of observation i; nil if it is an ordinary one.
func (l *layout) sum(i int) *sumParts {
	if l.sumOf == nil || l.sumOf[i] == 0 {
		return nil
	}
	return &l.sums[l.sumOf[i]-1]
}

// asOne is the layout with the parts of every observation taken as one: what the
// search for separated directions looks at. A direction is proved piece by piece,
// so that this can miss one, never invent one.
func (l *layout) asOne() *layout {
	if l.sumOf == nil {
		return l
	}
	c := *l
	c.sumOf, c.sums = nil, nil
	return &c
}

// sumSpace holds a sum's numbers: by part, log hazard without intercepts,
// background, and derivatives of the observation's log-likelihood.
type sumSpace struct {
	w, back    []float64
	main, side [][3]float64 // ∂, ∂∂v, ∂∂v² with ∂ in the part's log hazard, in its log background
}

func (l *layout) sumSpaces() []sumSpace {
	var out []sumSpace
	for _, s := range l.sums {
		n := len(s.trials)
		out = append(out, sumSpace{make([]float64, n), make([]float64, n), make([][3]float64, n), make([][3]float64, n)})
	}
	return out
}

// predictSum fills a sum's part hazards, and share within each part.
func (ws *workspace) predictSum(i int, s *sumParts) {
	m := ws.m
	sp := &ws.sums[m.sumOf[i]-1]
	from := m.pieceStart[i]
	for g, to := range s.pieceEnd {
		main, back := 0.0, 0.0
		for p := from; p < to; p++ {
			ws.share[p] = math.Exp(math.Min(ws.lin[m.row[p]]+m.logExp[p], maxV))
			if m.background[p] {
				back += ws.share[p]
			} else {
				main += ws.share[p]
			}
		}
		for p := from; p < to; p++ {
			switch {
			case m.background[p] && back > 0:
				ws.share[p] /= back
			case !m.background[p] && main > 0:
				ws.share[p] /= main
			}
		}
		sp.w[g], sp.back[g] = math.Log(main), back
		from = to
	}
	ws.w[i], ws.back[i] = 0, 0
}

// jet is a generating polynomial of a part's events with its derivatives: by power j,
// the value, ∂v and ∂v² (at), and the same of its derivative in the part's
// log hazard (main) and log background (side).
type jet struct {
	at, main, side [][3]float64
}

// partJet: the probability of j events is exp(a_j), a_j = log C(r, j) + the binomial
// log-likelihood of j of r; its derivatives follow from those of a_j. Everything
// is scaled by exp(−top).
func (ws *workspace) partJet(r, y int, w, back float64) (k jet, top float64) {
	n := min(r, y) + 1
	k = jet{make([][3]float64, n), make([][3]float64, n), make([][3]float64, n)}
	terms := make([]term, n)
	top = math.Inf(-1)
	for j := range terms {
		switch t := &terms[j]; {
		case math.IsInf(w, -1) && back == 0:
			if j > 0 {
				t.l = w
			}
		default:
			*t = backgroundTerm(float64(j), float64(r), w, back)
			t.l += lchoose(float64(r), float64(j))
		}
		top = math.Max(top, terms[j].l)
	}
	for j, t := range terms {
		if math.IsInf(t.l, -1) {
			continue
		}
		a := math.Exp(t.l - top)
		second, third := t.vv+t.v*t.v, t.vvv+3*t.v*t.vv+t.v*t.v*t.v
		k.at[j] = [3]float64{a, a * t.v, a * second}
		k.main[j] = [3]float64{a * t.v, a * second, a * third}
		k.side[j] = [3]float64{a * t.s, a * (t.sv + t.s*t.v), a * (t.svv + 2*t.sv*t.v + t.s*second)}
	}
	return k, top
}

// product is the coefficients up to the power y of the product of two jets' values.
func product(a, b [][3]float64, y int) [][3]float64 {
	c := make([][3]float64, min(len(a)+len(b)-1, y+1))
	for i, p := range a {
		for j, q := range b {
			if i+j < len(c) {
				d := &c[i+j]
				d[0] += p[0] * q[0]
				d[1] += p[1]*q[0] + p[0]*q[1]
				d[2] += p[2]*q[0] + 2*p[1]*q[1] + p[0]*q[2]
			}
		}
	}
	return c
}

// coefficient is the power y of the product.
func coefficient(a, b [][3]float64, y int) (c [3]float64) {
	for i, p := range a {
		if j := y - i; j >= 0 && j < len(b) {
			q := b[j]
			c[0] += p[0] * q[0]
			c[1] += p[1]*q[0] + p[0]*q[1]
			c[2] += p[2]*q[0] + 2*p[1]*q[1] + p[0]*q[2]
		}
	}
	return c
}

// sumTerm is the term of an observation known only as a sum, at shift t of every
// part: the coefficient of the power y in the product of the parts' generating
// polynomials, exactly, with its derivatives by Leibniz' rule. The derivatives by
// part stay in the workspace.
func (ws *workspace) sumTerm(i int, t float64) (k term) {
	m := ws.m
	s, sp := m.sum(i), &ws.sums[m.sumOf[i]-1]
	y := int(m.y[i])
	jets := make([]jet, len(s.trials))
	for g, r := range s.trials {
		var top float64
		jets[g], top = ws.partJet(r, y, sp.w[g]+t, sp.back[g])
		k.l += top
	}
	whole := [][3]float64{{1}}
	for _, j := range jets {
		whole = product(whole, j.at, y)
	}
	if len(whole) <= y || !(whole[y][0] > 0) {
		return term{l: math.Inf(-1)}
	}
	L := whole[y]
	k.l += math.Log(L[0])
	a, b := L[1]/L[0], L[2]/L[0]
	k.v, k.vv = a, b-a*a
	for g := range jets {
		others := [][3]float64{{1}}
		for o, j := range jets {
			if o != g {
				others = product(others, j.at, y)
			}
		}
		logDerivatives := func(c [3]float64) [3]float64 {
			p, q, r := c[0]/L[0], c[1]/L[0], c[2]/L[0]
			return [3]float64{p, q - p*a, r - 2*q*a - p*b + 2*p*a*a}
		}
		sp.main[g] = logDerivatives(coefficient(jets[g].main, others, y))
		sp.side[g] = logDerivatives(coefficient(jets[g].side, others, y))
		k.vvv += sp.main[g][2]
	}
	return k
}

// sumCoefficients adds an observation's part of the gradient by design row; it
// returns the sum over parts, its coefficient in the shift.
func (ws *workspace) sumCoefficients(i int, s *sumParts, a, p float64) (c float64) {
	m := ws.m
	sp := &ws.sums[m.sumOf[i]-1]
	from := m.pieceStart[i]
	for g, to := range s.pieceEnd {
		main := sp.main[g][0] + a*sp.main[g][2]/2 - p*sp.main[g][1]/2
		side := sp.side[g][0] + a*sp.side[g][2]/2 - p*sp.side[g][1]/2
		c += main
		for k := from; k < to; k++ {
			if m.background[k] {
				ws.coef[m.row[k]] += side * ws.share[k]
			} else {
				ws.coef[m.row[k]] += main * ws.share[k]
			}
		}
		from = to
	}
	return c
}

// sumExpected is expected for a sum, taken as one binomial whose hazard is the
// parts' mean; it steers searches and enters the penalty of separated terms.
func (ws *workspace) sumExpected(i int, s *sumParts, t float64, xg, gr []float64) (w, sv float64) {
	m, q := ws.m, ws.m.q
	sp := &ws.sums[m.sumOf[i]-1]
	h, main := 0.0, 0.0
	for g, r := range s.trials {
		b := float64(r) / m.r[i] * math.Exp(math.Min(sp.w[g]+t, maxV))
		main += b
		h += b + float64(r)/m.r[i]*sp.back[g]
	}
	h = math.Max(h, 1e-300)
	from := m.pieceStart[i]
	for g, to := range s.pieceEnd {
		part := float64(s.trials[g]) / m.r[i] / h
		for k := from; k < to; k++ {
			f := part * ws.share[k]
			if m.background[k] {
				f *= sp.back[g]
			} else {
				f *= math.Exp(math.Min(sp.w[g]+t, maxV))
			}
			for j, x := range xg[int(m.row[k])*q : (int(m.row[k])+1)*q] {
				gr[j] += f * x
			}
		}
		from = to
	}
	_, qh, _ := logAndQ(0, h)
	return m.r[i] * h * qh, main / h
}
