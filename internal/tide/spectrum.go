package tide

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// spectrum is the residuals' variance by frequency, for standard errors: a
// coefficient's error takes up the noise next to its own frequency, and the sea
// is noisier at some than at others (after Pawlowicz et al. 2002, section 3, who
// average the periodogram in bands; here the nearest clear lines are averaged).
type spectrum struct {
	white float64   // variance of the residuals
	speed []float64 // degrees an hour of each clear line, in order
	power []float64 // scaled so that white noise gives its variance
}

// newSpectrum takes the periodogram of the residuals, gaps filled with 0, without
// the lines within a cycle of the span of a fitted constituent, whose noise the
// fit has taken.
func newSpectrum(m *model, f *solution) *spectrum {
	n := len(m.times)
	s := &spectrum{white: f.rss / float64(max(1, n-len(f.x)))}
	span := m.times[n-1] - m.times[0]
	step := usualStep(m.times)
	if step <= 0 || span/step > 5e6 {
		return s
	}
	grid := make([]float64, int(math.Round(span/step))+1)
	used := 0.0
	for i, t := range m.times {
		k := min(int(math.Round((t-m.times[0])/step)), len(grid)-1)
		grid[k] = f.residuals[i]
		used++
	}
	if len(grid) < 16 {
		return s
	}
	c := fourier.NewFFT(len(grid)).Coefficients(nil, grid)
	for k := 1; k < len(c)-1; k++ {
		speed := 360 * float64(k) / (float64(len(grid)) * step)
		if !m.nearFitted(speed, 360/span) {
			s.speed = append(s.speed, speed)
			s.power = append(s.power, (real(c[k])*real(c[k])+imag(c[k])*imag(c[k]))/used)
		}
	}
	return s
}

func (m *model) nearFitted(speed, within float64) bool {
	if speed < within {
		return true // the mean
	}
	for _, c := range m.chosen {
		if math.Abs(c.SpeedDegPerH-speed) < within {
			return true
		}
	}
	return false
}

// at is the noise near a speed: the mean of the twelve nearest clear lines, of
// four below one cycle in two days, where it falls off fast. With fewer lines
// than that it is the variance of all residuals.
func (s *spectrum) at(speed float64) float64 {
	want := 12
	if speed < 7.5 {
		want = 4
	}
	if len(s.speed) < want {
		return s.white
	}
	hi, _ := slices.BinarySearch(s.speed, speed)
	lo, sum := hi-1, 0.0
	for range want {
		if hi >= len(s.speed) || (lo >= 0 && speed-s.speed[lo] <= s.speed[hi]-speed) {
			sum += s.power[lo]
			lo--
		} else {
			sum += s.power[hi]
			hi++
		}
	}
	return sum / float64(want)
}

// usualStep is the median step, in hours.
func usualStep(times []float64) float64 {
	if len(times) < 2 {
		return 0
	}
	d := make([]float64, len(times)-1)
	for i := range d {
		d[i] = times[i+1] - times[i]
	}
	slices.Sort(d)
	return d[len(d)/2]
}
