package mixed

import "math"

// logTable holds, for the 128 equal parts of [1, 2], the reciprocal of the nearest
// 128th and minus its logarithm.
var logTable = func() (t [129]struct{ inverse, log float64 }) {
	for i := range t {
		t[i].inverse = 1 / (1 + float64(i)/128)
		t[i].log = -math.Log(t[i].inverse)
	}
	return t
}()

// quickLog is log(x) for ordinary positive x (no zero, no infinity, nothing below
// 2^−1022), to 2e-16 of max(1, |log x|): x = 2^e·c·(1 + r) with c the nearest 128th,
// so that |r| < 1/256 and the series of log(1 + r) ends after seven terms
// (its eighth is under 7e-21). Twice as fast as the library's, which
// counts because one logarithm an observation is most of what a likelihood costs.
func quickLog(x float64) float64 {
	b := math.Float64bits(x)
	e := float64(int(b>>52) - 1023)
	m := b & (1<<52 - 1)
	c := &logTable[(m+1<<44)>>45]
	r := math.Float64frombits(m|1023<<52)*c.inverse - 1
	return e*math.Ln2 + (c.log + r*(1-r*(1.0/2-r*(1.0/3-r*(1.0/4-r*(1.0/5-r*(1.0/6-r*(1.0/7))))))))
}
