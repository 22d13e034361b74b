package water

import (
	"math"
	"slices"
	"time"

	"soakline/internal/assay"
)

// Logged are the values of a logger in order of time; NaN where a line has none.
type Logged struct {
	At                             []time.Time
	LevelM, TemperatureC, Salinity []float64 // nil for a column that is not there
}

// OpenLogger reads a logger's series of a site: any of a level with its unit, a
// temperature and a salinity. Times must say their clock, in the file or in g.
//
// It returns a *Faulty for cells that cannot be read, and a *tide.Refusal for a
// file with none of the columns or without a clock.
func OpenLogger(g assay.Logger, data []byte) (*Logged, error) {
	clock, err := clockOf(g.Clock)
	if err != nil {
		return nil, err
	}
	f, err := read(g.File, data)
	if err != nil {
		return nil, err
	}
	times, err := timesOf(f, clock)
	if err != nil {
		return nil, err
	}
	level, toM := f.length(true, levelNames...)
	temperature, toC := f.temperature()
	salinity := f.column("salinity", "salinity_psu", "sal", "practical_salinity", "salinidad")
	if level < 0 && temperature < 0 && salinity < 0 {
		return nil, f.needs("temperature_c", "temperature_c", "salinity", "level_m")
	}
	l := &Logged{}
	values := func(col int, of func(float64) float64, i int, list *[]float64) {
		if col >= 0 {
			*list = append(*list, of(f.number(i, col)))
		}
	}
	for i := range f.Len() {
		at, ok := times.read(i)
		if !ok {
			continue
		}
		l.At = append(l.At, at)
		values(level, func(x float64) float64 { return x * toM }, i, &l.LevelM)
		values(temperature, toC, i, &l.TemperatureC)
		values(salinity, func(x float64) float64 { return x }, i, &l.Salinity)
	}
	if err := f.refused(); err != nil {
		return nil, err
	}
	if times.bare && times.zone == nil {
		return nil, refuse("tide.logger-clock", "file", g.File)
	}
	l.order()
	return l, nil
}

// temperature finds a column of temperature and how its values become °C.
func (f *file) temperature() (int, func(float64) float64) {
	names := []string{"temperature", "temp", "water_temperature", "water_temp", "sea_temperature", "temperatura"}
	for _, n := range names {
		if c := f.column(n+"_f", n+"_degf"); c >= 0 {
			return c, func(x float64) float64 { return (x - 32) / 1.8 }
		}
		if c := f.column(n+"_c", n+"_degc", n); c >= 0 {
			return c, func(x float64) float64 { return x }
		}
	}
	return -1, nil
}

// order sorts the lines by time.
func (l *Logged) order() {
	by := make([]int, len(l.At))
	for i := range by {
		by[i] = i
	}
	slices.SortStableFunc(by, func(a, b int) int { return l.At[a].Compare(l.At[b]) })
	at := make([]time.Time, len(by))
	for k, i := range by {
		at[k] = l.At[i]
	}
	l.At = at
	for _, list := range []*[]float64{&l.LevelM, &l.TemperatureC, &l.Salinity} {
		if *list == nil {
			continue
		}
		out := make([]float64, len(by))
		for k, i := range by {
			out[k] = (*list)[i]
		}
		*list = out
	}
}

// Spell is what a logger says over a stretch of time.
type Spell struct {
	N              int
	Mean, Min, Max float64
	MinAt          time.Time // of the first lowest value
	// GapH is the longest time without a value, hours, ends of the stretch included.
	GapH float64
}

// Over sums up one column of the series over [from, to]; false where it has no
// value there. The mean is that of the values, so a gap weighs nothing: GapH says
// how long it was.
func (l *Logged) Over(column []float64, from, to time.Time) (Spell, bool) {
	s := Spell{Min: math.Inf(1), Max: math.Inf(-1)}
	if column == nil {
		return s, false
	}
	first, _ := slices.BinarySearchFunc(l.At, from, time.Time.Compare)
	last, sum := from, 0.0
	for i := first; i < len(l.At) && !l.At[i].After(to); i++ {
		x := column[i]
		if math.IsNaN(x) {
			continue
		}
		s.N++
		sum += x
		if x < s.Min {
			s.Min, s.MinAt = x, l.At[i]
		}
		s.Max = math.Max(s.Max, x)
		s.GapH = math.Max(s.GapH, l.At[i].Sub(last).Hours())
		last = l.At[i]
	}
	if s.N == 0 {
		return Spell{}, false
	}
	s.GapH = math.Max(s.GapH, to.Sub(last).Hours())
	s.Mean = sum / float64(s.N)
	return s, true
}
