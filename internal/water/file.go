package water

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/intake"
	"soakline/internal/tide"
)

// A file is a table of numbers over names or times, read from any file that
// intake reads, with every cell that cannot be read.
type file struct {
	intake.Table
	name   string
	faults []assay.FileError
}

// Faulty is a file with cells that cannot be read, each with its place.
type Faulty struct{ Faults []assay.FileError }

func (f *Faulty) Error() string { return "water: cells that cannot be read" }

func refuse(slug string, pairs ...any) error { return &tide.Refusal{Slug: slug, With: with(pairs...)} }

func with(pairs ...any) map[string]any {
	m := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		m[pairs[i].(string)] = pairs[i+1]
	}
	return m
}

func read(name string, data []byte) (*file, error) {
	tables, faults := intake.Tables(name, data, intake.Options{})
	if len(faults) > 0 {
		return nil, &Faulty{faults}
	}
	for _, t := range tables {
		if t.Len() > 0 {
			return &file{Table: t, name: name}, nil
		}
	}
	return nil, refuse("tide.file-empty", "file", name)
}

// heading is a column's heading as compared: lower case, one kind of joint.
func heading(s string) string {
	s = strings.ToLower(strings.TrimSpace(s))
	s = strings.NewReplacer("(", " ", ")", " ", "[", " ", "]", " ", ",", " ", "-", " ", ".", " ", "/", " ", "_", " ", "°", "deg").Replace(s)
	return strings.Join(strings.Fields(s), "_")
}

// column finds the first column under one of these headings; -1 for none.
func (f *file) column(names ...string) int {
	for _, n := range names {
		for i, h := range f.Header {
			if heading(h.String()) == n || (h.Unit != "" && heading(h.Text+" "+h.Unit) == n) {
				return i
			}
		}
	}
	return -1
}

func (f *file) heading(col int) string { return f.Header[col].String() }

// needs says that a column is missing.
func (f *file) needs(name string, forms ...string) error {
	var there []string
	for _, h := range f.Header {
		there = append(there, h.String())
	}
	return &Faulty{[]assay.FileError{{
		Place: assay.Place{File: f.name, Sheet: f.Sheet, Line: f.HeaderLine},
		Wrong: assay.Said{Slug: "tide.column-missing", With: with("column", name, "there", there)},
		Do:    assay.Said{Slug: "tide.column-missing.do", With: with("forms", forms)},
	}}}
}

func (f *file) fault(i, col int, slug string, pairs ...any) {
	f.faults = append(f.faults, assay.FileError{
		Place: assay.Place{File: f.name, Sheet: f.Sheet, Line: f.Line(i), Column: f.heading(col)},
		Wrong: assay.Said{Slug: slug, With: with(pairs...)},
		Do:    assay.Said{Slug: slug + ".do", With: with(pairs...)},
	})
}

// refused is the error of all faults so far, or nil.
func (f *file) refused() error {
	if len(f.faults) == 0 {
		return nil
	}
	if len(f.faults) > 50 {
		f.faults = f.faults[:50]
	}
	return &Faulty{f.faults}
}

// number reads one cell; empty is NaN and no fault. One comma may be a decimal
// sign, as intake's separator tells the two apart.
func (f *file) number(i, col int) float64 {
	text, _ := f.Cell(i, col)
	text = strings.TrimSpace(text)
	switch strings.ToLower(text) {
	case "", "nan", "na", "-", "null":
		return math.NaN()
	}
	s := strings.Replace(text, "−", "-", 1)
	if f.Separator != ',' && strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) {
		f.fault(i, col, "tide.not-a-number", "text", text)
		return math.NaN()
	}
	return x
}

// units of lengths that headings end in, in metres.
var metresIn = map[string]float64{"m": 1, "cm": 0.01, "mm": 0.001, "ft": 0.3048}

// length finds a column of a length under one of the names with its unit, or
// bare when bare is allowed, and gives its factor to metres.
func (f *file) length(bare bool, names ...string) (col int, toM float64) {
	for _, n := range names {
		for _, unit := range []string{"m", "cm", "mm", "ft"} {
			if c := f.column(n + "_" + unit); c >= 0 {
				return c, metresIn[unit]
			}
		}
	}
	if bare {
		return f.column(names...), 1
	}
	return -1, 1
}

// Stated are the settings that a file of constituents may carry for itself.
type Stated struct {
	Nodal       tide.Nodal
	LatitudeDeg float64 // NaN when not stated
	Datum       string
	From, To    time.Time // of the record they were found in
}

// Constituents reads name, amplitude and phase lag of each constituent.
//
// It returns a *Faulty for what cannot be read, a *tide.Refusal for a file
// without lines.
func Constituents(name string, data []byte) ([]tide.Harmonic, Stated, error) {
	s := Stated{LatitudeDeg: math.NaN()}
	f, err := read(name, data)
	if err != nil {
		return nil, s, err
	}
	nameCol := f.column("name", "constituent")
	amp, toM := f.length(true, "amplitude", "amp")
	lag := f.column("phase_deg", "lag_deg", "phase_lag_deg", "greenwich_lag_deg", "phase", "g_deg", "g")
	switch {
	case nameCol < 0:
		return nil, s, f.needs("name", "name", "constituent")
	case amp < 0:
		return nil, s, f.needs("amplitude_m", "amplitude_m", "amplitude_cm", "amplitude_ft")
	case lag < 0:
		return nil, s, f.needs("phase_deg", "phase_deg")
	}
	seen := map[string]bool{}
	var list []tide.Harmonic
	for i := range f.Len() {
		text, _ := f.Cell(i, nameCol)
		k, ok := tide.Find(text)
		a, g := f.number(i, amp), f.number(i, lag)
		switch {
		case !ok:
			f.fault(i, nameCol, "tide.unknown-constituent", "name", text)
		case seen[k.Name]:
			f.fault(i, nameCol, "tide.constituent-twice", "name", text)
		case math.IsNaN(a):
			if t, _ := f.Cell(i, amp); t == "" {
				f.fault(i, amp, "tide.not-a-number", "text", t)
			}
		case a < 0 && k.Name != "Z0", math.Abs(a*toM) > 1000:
			f.fault(i, amp, "tide.amplitude", "name", k.Name)
		case math.IsNaN(g) && k.Name != "Z0":
			if t, _ := f.Cell(i, lag); t == "" {
				f.fault(i, lag, "tide.not-a-number", "text", t)
			}
		}
		if ok {
			seen[k.Name] = true
		}
		if math.IsNaN(g) {
			g = 0
		}
		list = append(list, tide.Harmonic{Name: text, AmplitudeM: a * toM, PhaseDeg: g})
	}
	f.readStated(&s)
	return list, s, f.refused()
}

// readStated takes the settings from their columns, where there are any.
func (f *file) readStated(s *Stated) {
	first := func(col string) string {
		if c := f.column(col); c >= 0 {
			for i := range f.Len() {
				if t, _ := f.Cell(i, c); t != "" {
					return t
				}
			}
		}
		return ""
	}
	if n := tide.Nodal(first("nodal")); slices.Contains([]tide.Nodal{tide.Schureman, tide.Satellites}, n) {
		s.Nodal = n
	}
	if x, err := strconv.ParseFloat(first("latitude"), 64); err == nil {
		s.LatitudeDeg = x
	}
	s.Datum = first("datum")
	s.From, _ = time.Parse(time.RFC3339, first("record_from"))
	s.To, _ = time.Parse(time.RFC3339, first("record_to"))
}
