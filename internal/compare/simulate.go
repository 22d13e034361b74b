package compare

import (
	"math"
	"math/rand/v2"

	"soakline/internal/mixed"
)

// draws is how the counts of new seasons are drawn. Those of a beta-binomial
// vary more than the steps of simulator make them; package mixed draws them,
// with the baits at risk that were seen.
func (f *frame) draws() mixed.Simulator {
	if f.o.Family == "betabinomial" {
		return nil
	}
	return f.simulator()
}

// simulator draws seasons as they were run: in each interval first the baits
// lost, at the share that was lost in that interval of that row, then those
// consumed. So a row that lost many baits has few at risk in every replicate,
// and one whose baits were eaten early has few left to lose.
//
// Rows whose spans do not follow on each other (baits unread at one check, read
// bait by bait) keep the numbers at risk that were seen.
func (f *frame) simulator() mixed.Simulator {
	type part struct{ to, baits int } // where the stretch's pieces end
	type step struct {
		first, pieces int     // pieces of the span in the model's order
		lost          float64 // share lost of those there at the beginning
		chained       bool    // follows on the span before it
		starts        int     // baits at the beginning, of a first span
		parts         []part  // of a span of several stretches
	}
	steps := make([]step, len(f.spans))
	at := 0
	for i, s := range f.spans {
		st := step{first: at, starts: s.atRisk}
		for _, h := range s.stretches() {
			if h.atRisk == 0 && len(s.late) > 0 {
				continue
			}
			st.pieces += f.nPieces(s.row, h)
			st.parts = append(st.parts, part{at + st.pieces, h.atRisk})
		}
		at += st.pieces
		follows := i > 0 && f.spans[i-1].row == s.row && f.spans[i-1].toH == s.fromH
		there := 0
		switch {
		case follows:
			there = f.spans[i-1].atRisk - f.spans[i-1].consumed
		case s.fromH == 0 && (i == 0 || f.spans[i-1].row != s.row) && f.simple(i):
			there = f.rows[s.row].d.Baits
			st.starts = there
		}
		if there >= s.atRisk && there > 0 && f.simple(i) {
			st.lost = 1 - float64(s.atRisk)/float64(there)
			st.chained = follows
		} else {
			st.lost, st.starts = 0, s.atRisk
		}
		steps[i] = st
	}
	logit := f.o.Link == "logit"
	return func(rng *rand.Rand, predictor []float64, events, trials []int) {
		left := 0
		for i, st := range steps {
			if len(st.parts) > 1 { // as many baits as were seen, each over its own stretch
				from := st.first
				for _, p := range st.parts {
					events[i] += binomial(rng, p.baits, probability(predictor[from:p.to], logit))
					from = p.to
				}
				continue
			}
			n := st.starts
			if st.chained {
				n = left
			}
			n -= binomial(rng, n, st.lost)
			p := probability(predictor[st.first:st.first+st.pieces], logit)
			y := binomial(rng, n, p)
			trials[i], events[i] = n, y
			left = n - y
		}
	}
}

// simple says whether the row of span i has spans that follow on each other.
func (f *frame) simple(i int) bool {
	row := f.spans[i].row
	for i > 0 && f.spans[i-1].row == row {
		i--
	}
	if f.spans[i].fromH != 0 || len(f.spans[i].late) > 0 {
		return false
	}
	for i++; i < len(f.spans) && f.spans[i].row == row; i++ {
		if f.spans[i].fromH != f.spans[i-1].toH || len(f.spans[i].late) > 0 {
			return false
		}
	}
	return true
}

// nPieces is the number of pieces that data gives a stretch of a row.
func (f *frame) nPieces(row int, h stretch) int {
	r := f.rows[row]
	n := 1
	if !f.byCheck() && f.o.Check == 0 {
		n = 0
		for _, b := range f.bands {
			if f.overlapH(b-1, h.fromH, h.toH) > 0 {
				n++
			}
		}
	}
	if f.hasControls() && !r.control {
		n *= 2
	}
	return n
}

func probability(predictor []float64, logit bool) float64 {
	if logit {
		return 1 / (1 + math.Exp(-predictor[0]))
	}
	h := 0.0
	for _, v := range predictor {
		h += math.Exp(v)
	}
	return -math.Expm1(-h)
}

// binomial draws by inversion, a sequential search from 0, with p flipped to at
// most one half (Devroye 1986, Non-Uniform Random Variate Generation, X.4.2).
func binomial(rng *rand.Rand, n int, p float64) int {
	switch {
	case n <= 0 || !(p > 0):
		return 0
	case p >= 1:
		return n
	case p > 0.5:
		return n - binomial(rng, n, 1-p)
	}
	if float64(n)*p > 30 { // the first probability would come near underflow
		half := n / 2
		return binomial(rng, half, p) + binomial(rng, n-half, p)
	}
	q, odds := math.Exp(float64(n)*math.Log1p(-p)), p/(1-p)
	u := rng.Float64()
	k := 0
	for u > q && k < n {
		u -= q
		k++
		q *= odds * float64(n-k+1) / float64(k)
	}
	return k
}
