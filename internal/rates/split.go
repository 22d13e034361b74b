package rates

import "math"

// Split is the likelihood of one interval given the summed hazard H of each of
// its groups: hs[0] for the baits at risk, hs[1], … for Late. It gives the log
// of the probability that the groups' binomial counts add up to Consumed,
// binomial constants included, and fills in the expected number consumed in each
// group given that sum (expected may be nil).
//
// With one group that is the binomial itself. With several, the sum over all
// splits is done exactly, by multiplying the groups' generating polynomials with
// the odds scaled by the largest so that nothing under- or overflows.
// Hazards are > 0 and finite, except that H = 0 gives probability 0 of consumption.
// docs/methods/rates.md, "Baits not read at one check".
func (i *Interval) Split(hs, expected []float64) (logLik float64) {
	if len(i.Late) == 0 {
		if expected != nil {
			expected[0] = float64(i.Consumed)
		}
		return logChoose(i.AtRisk, i.Consumed) + binomialLogLik(i.Consumed, i.AtRisk, hs[0])
	}
	return i.splitMany(hs, expected)
}

// binomialLogLik is y log(1 − e^(−h)) − (r − y) h, without the constant.
func binomialLogLik(y, r int, h float64) float64 {
	s := 0.0
	if y > 0 {
		s = float64(y) * log1mexp(h)
	}
	if r > y {
		s -= float64(r-y) * h
	}
	return s
}

// log1mexp is log(1 − e^(−h)) for h > 0: Mächler (2012), "Accurately computing
// log(1 − exp(−|a|))", note to the R package Rmpfr (from memory).
func log1mexp(h float64) float64 {
	if h < math.Ln2 {
		return math.Log(-math.Expm1(-h))
	}
	return math.Log1p(-math.Exp(-h))
}

// logOdds is log((1 − e^(−h)) / e^(−h)) = log(e^h − 1).
func logOdds(h float64) float64 {
	if h > 30 {
		return h
	}
	return math.Log(math.Expm1(h))
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

func (i *Interval) splitMany(hs, expected []float64) float64 {
	groups := len(i.Late) + 1
	size := func(g int) int {
		if g == 0 {
			return i.AtRisk
		}
		return i.Late[g-1].AtRisk
	}
	most := math.Inf(-1)
	logLik := 0.0
	for g := range groups {
		most = max(most, logOdds(hs[g]))
		logLik -= float64(size(g)) * hs[g]
	}
	y := i.Consumed
	if math.IsInf(most, -1) { // nothing can be consumed
		if y > 0 {
			return math.Inf(-1)
		}
		clear(expected)
		return 0
	}
	polys := make([][]float64, groups)
	for g := range groups {
		polys[g] = oddsPolynomial(size(g), y, logOdds(hs[g])-most)
	}
	whole := []float64{1}
	for _, p := range polys {
		whole = multiply(whole, p, y)
	}
	if len(whole) <= y || whole[y] <= 0 {
		return math.Inf(-1)
	}
	if expected != nil {
		for g := range groups {
			others := []float64{1}
			for o, p := range polys {
				if o != g {
					others = multiply(others, p, y)
				}
			}
			sum := 0.0
			for j, p := range polys[g] {
				if y-j < len(others) {
					sum += float64(j) * p * others[y-j]
				}
			}
			expected[g] = sum / whole[y]
		}
	}
	return logLik + float64(y)*most + math.Log(whole[y])
}

// oddsPolynomial is C(m, j) o^j for j = 0 … min(m, y), o = exp(logO) <= 1.
func oddsPolynomial(m, y int, logO float64) []float64 {
	p := make([]float64, min(m, y)+1)
	for j := range p {
		p[j] = math.Exp(logChoose(m, j) + scaled(j, logO))
	}
	return p
}

// scaled is j·logO with 0·(−∞) = 0.
func scaled(j int, logO float64) float64 {
	if j == 0 {
		return 0
	}
	return float64(j) * logO
}

// multiply is the product of two polynomials up to the power y.
func multiply(a, b []float64, y int) []float64 {
	c := make([]float64, min(len(a)+len(b)-1, y+1))
	for i, x := range a {
		for j, z := range b {
			if i+j < len(c) {
				c[i+j] += x * z
			}
		}
	}
	return c
}
