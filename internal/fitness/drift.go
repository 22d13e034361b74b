package fitness

import (
	"math"
	"slices"
	"sort"

	"soakline/internal/words"
)

// fewestRows: below it a drift is not looked for.
const fewestRows = 6

// earlyLate asks whether baits of one level went earlier, or later, than the
// model says, against those of other levels: the row's normal score at its last
// check less that at its first, in which the row's own rate cancels for the most
// part; sum over levels of rows × (mean of the level − mean of all)².
func (l *look) earlyLate(z [][]float64) {
	first, last := l.ends()
	var rows []int
	level := map[string]int{}
	for i, r := range l.rows {
		if last[i] > first[i] && !r.Control {
			rows = append(rows, i)
			if _, ok := level[r.Level]; !ok {
				level[r.Level] = len(level)
			}
		}
	}
	switch {
	case len(level) < 2:
		l.cannot(EarlyLate, "one-level")
		return
	case len(rows) < fewestRows:
		l.cannot(EarlyLate, "few-rows")
		return
	}
	t := make([]float64, len(z))
	for s := range z {
		sum, n := make([]float64, len(level)), make([]float64, len(level))
		total := 0.0
		for _, i := range rows {
			d := z[s][last[i]] - z[s][first[i]]
			k := level[l.rows[i].Level]
			sum[k] += d
			n[k]++
			total += d
		}
		mean := total / float64(len(rows))
		for k := range sum {
			t[s] += n[k] * (sum[k]/n[k] - mean) * (sum[k]/n[k] - mean)
		}
	}
	l.made(EarlyLate, "seasons", len(z)-1, t[0], monteCarlo(t), words.P{"levels": l.earlyLevel(first, last, z[0])})
}

// earlyLevel names the level whose rows lie farthest to one side.
func (l *look) earlyLevel(first, last []int, z []float64) string {
	best, name := -1.0, ""
	for _, level := range l.r.Levels {
		sum, n := 0.0, 0.0
		for i, r := range l.rows {
			if last[i] > first[i] && r.Level == level && !r.Control {
				sum += z[last[i]] - z[first[i]]
				n++
			}
		}
		if n > 0 && math.Abs(sum/n) > best {
			best, name = math.Abs(sum/n), level
		}
	}
	return name
}

// drift asks whether the rows' residuals go with the date and with the time of
// day of setting out. The reference is the simulated seasons, not a permutation
// of rows: rows of one site are alike and were often set on one day.
func (l *look) drift(rows [][]float64) {
	var at []int
	var day, hour []float64
	for i, r := range l.r.Rows {
		d, ok := r.Day.Get()
		if ok && !l.rows[i].Control {
			at, day, hour = append(at, i), append(day, d), append(hour, r.HourLocal.Or(0))
		}
	}
	if len(at) < fewestRows {
		l.cannot(Date, "few-rows")
		l.cannot(TimeOfDay, "few-rows")
		return
	}
	pick := func(s int) []float64 {
		out := make([]float64, len(at))
		for j, i := range at {
			out[j] = rows[s][i]
		}
		return out
	}
	if days := midranks(day); allEqual(days) {
		l.cannot(Date, "one-date")
	} else {
		t := make([]float64, len(rows))
		var seen float64
		for s := range rows {
			rho := correlation(midranks(pick(s)), days)
			if s == 0 {
				seen = rho
			}
			t[s] = math.Abs(rho)
		}
		l.made(Date, "seasons", len(rows)-1, seen, monteCarlo(t), nil)
	}
	t := make([]float64, len(rows))
	for s := range rows {
		t[s] = circular(midranks(pick(s)), hour)
	}
	if math.IsNaN(t[0]) {
		l.cannot(TimeOfDay, "one-time")
		return
	}
	l.made(TimeOfDay, "seasons", len(rows)-1, t[0], monteCarlo(t), nil)
}

func allEqual(x []float64) bool {
	for _, v := range x {
		if v != x[0] {
			return false
		}
	}
	return true
}

// midranks are ranks from 1, equal values sharing the mean of theirs.
func midranks(x []float64) []float64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return x[order[a]] < x[order[b]] })
	out := make([]float64, len(x))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && x[order[j]] == x[order[i]] {
			j++
		}
		for _, k := range order[i:j] {
			out[k] = float64(i+j+1) / 2
		}
		i = j
	}
	return out
}

// correlation is Pearson's; of midranks it is Spearman's (Spearman 1904, Am. J.
// Psychol. 15:72–101). NaN where one of the two does not vary.
func correlation(x, y []float64) float64 {
	if len(x) != len(y) {
		panic("fitness: correlation: x and y differ in length")
	}
	mx, my := mean(x), mean(y)
	var sxx, syy, sxy float64
	for i := range x {
		a, b := x[i]-mx, y[i]-my
		sxx += a * a
		syy += b * b
		sxy += a * b
	}
	return sxy / math.Sqrt(sxx*syy)
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v
	}
	return s / float64(len(x))
}

// circular is the squared correlation of x with a time of day, both its sine and
// cosine: R² of Mardia & Jupp (2000), Directional Statistics, eq. 11.2.1. Where
// all times lie on one line through the circle's middle it is the squared
// correlation with the one that varies more; NaN where the time does not vary.
func circular(x, hour []float64) float64 {
	c, s := make([]float64, len(hour)), make([]float64, len(hour))
	for i, h := range hour {
		s[i], c[i] = math.Sincos(2 * math.Pi * h / 24)
	}
	if slices.Max(hour)-slices.Min(hour) < 1.0/60 {
		return math.NaN()
	}
	xc, xs, cs := correlation(x, c), correlation(x, s), correlation(c, s)
	switch {
	case math.IsNaN(xc):
		return xs * xs
	case math.IsNaN(xs):
		return xc * xc
	case 1-cs*cs < 1e-9:
		return math.Max(xc*xc, xs*xs)
	}
	return (xc*xc + xs*xs - 2*xc*xs*cs) / (1 - cs*cs)
}
