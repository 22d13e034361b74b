package tide

import (
	"math"
	"slices"
	"sort"
	"time"
)

// Water is one line of a local table: a high or a low water. Kind is "high",
// "low" or "", when its neighbours say which.
type Water struct {
	At      time.Time
	HeightM float64
	Kind    string
}

// Secondary are the differences of a secondary place to the standard port of the
// table: minutes later, metres added, and a factor of the height (0 stands for 1),
// each for high and for low water. The factor comes before the addition.
type Secondary struct {
	HighLater, LowLater time.Duration
	HighAddM, LowAddM   float64
	HighTimes, LowTimes float64
}

// Table gives the height between the high and low waters of a local table, on
// the half cosine from one to the next (the usual handbook rule, common practice,
// no source). It is wrong, by half a metre in places, where the tide stands or
// has double waters. It gives nothing outside its first and last line, or in a
// gap of more than two usual intervals.
type Table struct {
	waters  []Water
	longest time.Duration
}

// NewTable makes a table, in any order of lines. It refuses fewer than two lines
// (tide.table-short), a time or height that is none (tide.table-value), one time
// twice (tide.table-twice), and a kind that its neighbours contradict, or cannot
// give (tide.table-kind). The messages tell gaps and signs of standing or double
// waters.
func NewTable(lines []Water, place Secondary) (*Table, []Message, error) {
	if len(lines) < 2 {
		return nil, nil, refuse("tide.table-short")
	}
	t := &Table{waters: slices.Clone(lines)}
	if err := t.order(); err != nil {
		return nil, nil, err
	}
	for i := range t.waters {
		if err := t.settleKind(i); err != nil {
			return nil, nil, err
		}
	}
	if err := t.shift(place); err != nil {
		return nil, nil, err
	}
	return t, t.look(), nil
}

func (t *Table) order() error {
	slices.SortStableFunc(t.waters, func(a, b Water) int { return a.At.Compare(b.At) })
	for i, w := range t.waters {
		if math.IsNaN(w.HeightM) || math.Abs(w.HeightM) > 1000 {
			return refuse("tide.table-value", "at", stamp(w.At))
		}
		if i > 0 && w.At.Equal(t.waters[i-1].At) {
			return refuse("tide.table-twice", "at", stamp(w.At))
		}
	}
	return inCalendar(t.waters[0].At, t.waters[len(t.waters)-1].At)
}

// settleKind holds the kind of a line against its neighbours. Two highs in a row
// are taken when the table says so: double waters are listed like that.
func (t *Table) settleKind(i int) error {
	w := &t.waters[i]
	above, below := false, false
	for _, j := range []int{i - 1, i + 1} {
		if j < 0 || j >= len(t.waters) || t.waters[j].Kind == w.Kind && w.Kind != "" {
			continue
		}
		above = above || w.HeightM > t.waters[j].HeightM
		below = below || w.HeightM < t.waters[j].HeightM
	}
	switch {
	case w.Kind == "" && above && !below:
		w.Kind = "high"
	case w.Kind == "" && below && !above:
		w.Kind = "low"
	case w.Kind == "", w.Kind == "high" && below, w.Kind == "low" && above:
		return refuse("tide.table-kind", "at", stamp(w.At), "height", w.HeightM)
	}
	return nil
}

// shift brings the table to the secondary place.
func (t *Table) shift(p Secondary) error {
	for i := range t.waters {
		w := &t.waters[i]
		later, add, times := p.LowLater, p.LowAddM, p.LowTimes
		if w.Kind == "high" {
			later, add, times = p.HighLater, p.HighAddM, p.HighTimes
		}
		if times == 0 {
			times = 1
		}
		w.At, w.HeightM = w.At.Add(later), w.HeightM*times+add
		if i > 0 && !w.At.After(t.waters[i-1].At) {
			return refuse("tide.table-shifted", "at", stamp(w.At))
		}
	}
	return nil
}

// look finds gaps, and intervals so uneven that the water must stand or double.
func (t *Table) look() (list []Message) {
	var all []time.Duration
	var rise, fall, rises, falls float64
	double := 0
	for i := 1; i < len(t.waters); i++ {
		a, b := t.waters[i-1], t.waters[i]
		d := b.At.Sub(a.At)
		all = append(all, d)
		switch {
		case a.Kind == b.Kind:
			double++
		case b.Kind == "high":
			rise, rises = rise+d.Hours(), rises+1
		default:
			fall, falls = fall+d.Hours(), falls+1
		}
	}
	sorted := slices.Clone(all)
	slices.Sort(sorted)
	usual := sorted[len(sorted)/2]
	t.longest = max(16*time.Hour, usual*11/5)
	gaps, uneven := 0, 0
	for _, d := range all {
		switch {
		case d > t.longest:
			gaps++
		case d < usual*3/5 || d > usual*8/5:
			uneven++
		}
	}
	if gaps > 0 {
		list = append(list, say("tide.table-gaps", "n", gaps))
	}
	lopsided := rises > 3 && falls > 3 && math.Abs(rise/rises-fall/falls) > 1.5
	if double > 0 || uneven > 0 || lopsided {
		list = append(list, say("tide.table-stands", "n", double+uneven, "rise", rise/math.Max(1, rises), "fall", fall/math.Max(1, falls)))
	}
	return list
}

// Range is the time from the first to the last line.
func (t *Table) Range() (from, to time.Time) {
	return t.waters[0].At, t.waters[len(t.waters)-1].At
}

// piece is the pair of lines around a time.
func (t *Table) piece(at time.Time) (a, b Water, ok bool) {
	i := sort.Search(len(t.waters), func(i int) bool { return t.waters[i].At.After(at) })
	if i == len(t.waters) && i > 0 && t.waters[i-1].At.Equal(at) {
		i--
	}
	if i == 0 || i == len(t.waters) {
		return a, b, false
	}
	a, b = t.waters[i-1], t.waters[i]
	return a, b, b.At.Sub(a.At) <= t.longest
}

// At is the height at a time; false outside the table and in its gaps.
func (t *Table) At(at time.Time) (heightM float64, ok bool) {
	a, b, ok := t.piece(at)
	if !ok {
		return math.NaN(), false
	}
	x := at.Sub(a.At).Seconds() / b.At.Sub(a.At).Seconds()
	return (a.HeightM+b.HeightM)/2 + (a.HeightM-b.HeightM)/2*math.Cos(math.Pi*x), true
}

// Heights gives the height at every step from `from` on, and at `to`. It refuses
// a range that the table does not hold whole (tide.table-outside), and what
// Curve.Heights refuses.
func (t *Table) Heights(from, to time.Time, step time.Duration) ([]Height, error) {
	n, err := stepsIn(from, to, step)
	if err != nil {
		return nil, err
	}
	list := make([]Height, 0, n+2)
	add := func(at time.Time) error {
		h, ok := t.At(at)
		if !ok {
			first, last := t.Range()
			return refuse("tide.table-outside", "at", stamp(at), "from", stamp(first), "to", stamp(last))
		}
		list = append(list, Height{at, h})
		return nil
	}
	for i := 0; i <= n; i++ {
		if err := add(from.Add(time.Duration(i) * step)); err != nil {
			return nil, err
		}
	}
	if list[len(list)-1].At.Before(to) {
		if err := add(to); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// Turns are the lines in [from, to].
func (t *Table) Turns(from, to time.Time) []Turn {
	list := []Turn{}
	for _, w := range t.waters {
		if !w.At.Before(from) && !w.At.After(to) {
			list = append(list, Turn{w.At, w.HeightM, w.Kind == "high"})
		}
	}
	return list
}

// Crossings gives the times inside [from, to] at which the water passes a level,
// to the second: the half cosine turned round. Gaps hold none.
func (t *Table) Crossings(levelM float64, from, to time.Time) []Crossing {
	list := []Crossing{}
	for i := 1; i < len(t.waters); i++ {
		a, b := t.waters[i-1], t.waters[i]
		long := b.At.Sub(a.At)
		if (a.HeightM > levelM) == (b.HeightM > levelM) || long > t.longest {
			continue
		}
		x := math.Acos(math.Max(-1, math.Min(1, (2*levelM-a.HeightM-b.HeightM)/(a.HeightM-b.HeightM)))) / math.Pi
		at := a.At.Add(time.Duration(x * float64(long))).Round(time.Second)
		if !at.Before(from) && !at.After(to) {
			list = append(list, Crossing{at, b.HeightM > a.HeightM})
		}
	}
	return list
}
