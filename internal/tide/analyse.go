package tide

import (
	"math"
	"slices"
	"time"
)

// Sample is one line of a logger's series; LevelM is NaN where the logger has none.
type Sample struct {
	At     time.Time
	LevelM float64
}

// Inference is a constituent too close to another one to be told from it, taken
// as a fixed share of it: amplitude Ratio × that of From, lag that of From less
// LagDiffDeg.
type Inference struct {
	Name, From        string
	Ratio, LagDiffDeg float64
}

// Analysing says how a series is analysed. The zero value is the default.
type Analysing struct {
	Nodal        Nodal // "" is Schureman
	LatitudeDeg  float64
	Constituents []string // nil is Foreman's standard list
	Rayleigh     float64  // least separation in cycles of the span; 0 is 1
	Infer        []Inference
	// InferAfter corrects the reference after the fit, as Foreman (1977) and
	// Pawlowicz et al. (2002) do; else the inferred constituent stands in the
	// equations, which also frees its neighbours of it.
	InferAfter bool
	Robust     bool // reweighted least squares, Huber's weights
	Trend      bool
	EachTime   bool // node factors at every time instead of mid-record
	KeepAll    bool // leave no value out as spike, stuck or out of water
}

// Estimate is one constituent found.
type Estimate struct {
	Name         string
	SpeedDegPerH float64
	AmplitudeM   float64
	AmplitudeSEM float64
	PhaseDeg     float64 // Greenwich lag, 0 to 360
	PhaseSEDeg   float64
	Significant  bool // amplitude / se > 2.45
	InferredFrom string
}

// Flag is a line left out.
type Flag struct {
	At     time.Time
	LevelM float64
	Slug   string // spike, stuck-value, sensor-out-of-water, same-time
}

// Analysis is what a series says.
type Analysis struct {
	Nodal         Nodal
	LatitudeDeg   float64 // of the satellites
	Constituents  []Estimate
	MeanM         float64
	MeanSEM       float64
	TrendMPerYear float64 // NaN without Trend
	ResidualSDM   float64
	Condition     float64 // of the scaled equations, 1 when all are independent
	From, To      time.Time
	SpanDays      float64 // between first and last value used
	Used, Missing int
	Flagged       []Flag
	Residuals     []Sample // of the values used
	Messages      []Message
}

// significance is the ratio of amplitude to its standard error beyond which a
// constituent is told from nothing: the root of the 95 % point of chi-squared
// with two degrees of freedom, 5.991.
const significance = 2.45

// Analyse finds the constituents of a series by least squares. Lines need not be
// even in time or in order.
//
// It refuses (tide.too-short) a series that cannot show a single constituent,
// (tide.too-few) one with fewer values than unknowns, (tide.cannot-solve) one
// whose gaps leave the equations undetermined, unknown names, and inferences that
// name no constituent of the fit.
func Analyse(series []Sample, o Analysing) (*Analysis, error) {
	if o.Nodal == "" {
		o.Nodal = Schureman
	}
	if o.Nodal == Satellites && !(math.Abs(o.LatitudeDeg) <= 90) {
		return nil, refuse("tide.latitude", "latitude", o.LatitudeDeg)
	}
	if o.Rayleigh == 0 {
		o.Rayleigh = 1
	}
	if !(o.Rayleigh > 0 && o.Rayleigh <= 10) {
		return nil, refuse("tide.rayleigh", "given", o.Rayleigh)
	}
	a := &Analysis{Nodal: o.Nodal, LatitudeDeg: o.LatitudeDeg, TrendMPerYear: math.NaN(), Flagged: []Flag{}}
	times, levels, err := a.take(series)
	if err != nil {
		return nil, err
	}
	if !o.KeepAll {
		times, levels = a.flag(times, levels)
	}
	if len(times) == 0 {
		return nil, refuse("tide.no-values")
	}
	a.Used = len(times)
	a.From, a.To = timeOf(times[0]).Round(time.Second), timeOf(times[len(times)-1]).Round(time.Second)
	span := times[len(times)-1] - times[0]
	a.SpanDays = span / 24
	chosen, err := choose(o, span)
	if err != nil {
		return nil, err
	}
	m := &model{o: o, chosen: chosen.fitted, inferred: chosen.inferred, times: times}
	fit, err := m.solve(levels)
	if err != nil {
		return nil, err
	}
	a.read(m, fit)
	a.Messages = append(a.Messages, chosen.messages...)
	a.tellRecord(o, fit)
	return a, nil
}

// take sorts the lines, counts the empty ones and leaves out repeated times.
func (a *Analysis) take(series []Sample) (times, levels []float64, err error) {
	byTime := func(x, y Sample) int { return x.At.Compare(y.At) }
	sorted := series
	if !slices.IsSortedFunc(series, byTime) {
		sorted = slices.Clone(series)
		slices.SortStableFunc(sorted, byTime)
	}
	var last time.Time
	for _, s := range sorted {
		switch {
		case math.IsNaN(s.LevelM) || math.IsInf(s.LevelM, 0):
			a.Missing++
			continue
		case len(times) > 0 && s.At.Equal(last):
			a.Flagged = append(a.Flagged, Flag{s.At, s.LevelM, "same-time"})
			continue
		}
		last = s.At
		times, levels = append(times, hoursOf(s.At)), append(levels, s.LevelM)
	}
	if len(times) == 0 {
		return nil, nil, refuse("tide.no-values")
	}
	return times, levels, inCalendar(timeOf(times[0]), timeOf(times[len(times)-1]))
}

// read turns the solution into amplitudes and lags with their errors.
func (a *Analysis) read(m *model, f *solution) {
	noise := newSpectrum(m, f)
	a.MeanM = f.x[0]
	a.MeanSEM = math.Sqrt(f.cov(0, 0) * noise.at(0))
	if m.o.Trend {
		a.TrendMPerYear = f.x[1] / m.trendScale() * yearH
	}
	a.ResidualSDM = math.Sqrt(f.rss / float64(max(1, len(m.times)-len(f.x))))
	a.Condition = f.condition
	for i, h := range m.times {
		a.Residuals = append(a.Residuals, Sample{timeOf(h).Round(time.Second), f.residuals[i]})
	}
	for i, c := range m.chosen {
		j := m.first() + 2*i
		x, y := f.x[j], f.x[j+1]
		s := noise.at(c.SpeedDegPerH)
		e := estimate(c, x, y, s*f.cov(j, j), s*f.cov(j+1, j+1), s*f.cov(j, j+1))
		var more []Estimate
		for _, in := range m.inferred {
			if in.from != c {
				continue
			}
			if m.o.InferAfter {
				e = m.correct(e, in)
			}
			q := e
			q.Name, q.SpeedDegPerH, q.InferredFrom = in.c.Name, in.c.SpeedDegPerH, c.Name
			q.AmplitudeM, q.AmplitudeSEM = in.ratio*e.AmplitudeM, in.ratio*e.AmplitudeSEM
			q.PhaseDeg = turn(e.PhaseDeg - in.lagDiff)
			more = append(more, q)
		}
		a.Constituents = append(append(a.Constituents, e), more...)
	}
	slices.SortStableFunc(a.Constituents, func(p, q Estimate) int {
		switch {
		case p.SpeedDegPerH < q.SpeedDegPerH:
			return -1
		case p.SpeedDegPerH > q.SpeedDegPerH:
			return 1
		}
		return 0
	})
}

// estimate turns X = A cos g and Y = A sin g with their variances and covariance
// into amplitude and lag; errors to first order.
func estimate(c *Constituent, x, y, vx, vy, cxy float64) Estimate {
	e := Estimate{Name: c.Name, SpeedDegPerH: c.SpeedDegPerH, AmplitudeM: math.Hypot(x, y), PhaseDeg: turn(math.Atan2(y, x) / rad)}
	if a2 := x*x + y*y; a2 > 0 {
		e.AmplitudeSEM = math.Sqrt(math.Max(0, x*x*vx+y*y*vy+2*x*y*cxy) / a2)
		e.PhaseSEDeg = math.Min(180, math.Sqrt(math.Max(0, y*y*vx+x*x*vy-2*x*y*cxy))/a2/rad)
	} else {
		e.AmplitudeSEM, e.PhaseSEDeg = math.Sqrt(math.Max(0, (vx+vy)/2)), 180
	}
	e.Significant = e.AmplitudeM > significance*e.AmplitudeSEM
	return e
}

// turn brings degrees into [0, 360).
func turn(deg float64) float64 {
	deg = math.Mod(deg, 360)
	if deg < 0 {
		deg += 360
	}
	if deg >= 360 {
		deg = 0
	}
	return deg
}

// Harmonics are the constituents for a prediction, with the mean level as Z0.
func (a *Analysis) Harmonics() []Harmonic {
	list := []Harmonic{{"Z0", a.MeanM, 0}}
	for _, e := range a.Constituents {
		list = append(list, Harmonic{e.Name, e.AmplitudeM, e.PhaseDeg})
	}
	return list
}

// Margin proposes how far the water may stand below a prediction: the levels of
// residual, in metres and at most 0, that 5 % and 1 % of the values fell below
// (Hyndman & Fan 1996, definition 7). They hold weather and surge of the record's
// season only.
func (a *Analysis) Margin() (low5, low1 float64) {
	r := make([]float64, len(a.Residuals))
	for i, s := range a.Residuals {
		r[i] = s.LevelM
	}
	slices.Sort(r)
	return math.Min(0, quantile(r, 0.05)), math.Min(0, quantile(r, 0.01))
}

// quantile interpolates a sorted slice.
func quantile(sorted []float64, p float64) float64 {
	if len(sorted) == 0 {
		return 0
	}
	h := p * float64(len(sorted)-1)
	i := int(h)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

// tellRecord adds what the record itself cannot do.
func (a *Analysis) tellRecord(o Analysing, f *solution) {
	days := int(math.Round(a.SpanDays))
	if a.SpanDays < 18.6*365.25 {
		a.Messages = append(a.Messages, say("tide.mean-of-record", "days", days))
	}
	if f.condition > 5 {
		a.Messages = append(a.Messages, say("tide.condition", "condition", f.condition))
	}
	if n := len(a.Flagged); n > 0 {
		a.Messages = append(a.Messages, say("tide.left-out-lines", "n", n))
	}
	for _, in := range o.Infer {
		slug := "tide.inferred"
		if o.InferAfter {
			slug = "tide.inferred-after"
		}
		a.Messages = append(a.Messages, say(slug, "name", in.Name, "from", in.From, "ratio", in.Ratio))
	}
}
