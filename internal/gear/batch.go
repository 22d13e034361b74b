package gear

import (
	"math"
	"strings"
	"time"

	"soakline/internal/assay"
)

// Batch is one purchase or preparation of bait. Days are written 2026-07-01;
// what is not known is empty.
type Batch struct {
	Code        string
	Kind        string
	Source      string
	Form        string // disc or square
	SizeMM      assay.Maybe[float64]
	ThicknessMM assay.Maybe[float64]
	PreparedOn  string
	By          string
	Stored      string
	ExpiresOn   string
	Notes       string
	Samples     []Sample
}

// Sample is one measuring of some baits of a batch.
type Sample struct {
	On, By    string
	SizesMM   []float64
	TethersMM []float64 // free line between stake and bait
}

// FreeLineMM is the most line that may be free between bait and stake (common
// practice, no source).
const FreeLineMM = 10

// Summary of measured lengths.
type Summary struct {
	N       int
	Mean    float64
	SD      float64 // of the sample, n - 1 below; 0 for one
	Min     float64
	Max     float64
	Outside int // out of the protocol
}

// Summarise sums lengths up; outside says which are out of the protocol. It is
// false for none.
func Summarise(mm []float64, outside func(float64) bool) (Summary, bool) {
	if len(mm) == 0 {
		return Summary{}, false
	}
	s := Summary{N: len(mm), Min: mm[0], Max: mm[0]}
	sum := 0.0
	for _, x := range mm {
		sum += x
		s.Min, s.Max = min(s.Min, x), max(s.Max, x)
		if outside(x) {
			s.Outside++
		}
	}
	s.Mean = sum / float64(s.N)
	if s.N > 1 {
		squares := 0.0
		for _, x := range mm {
			squares += (x - s.Mean) * (x - s.Mean)
		}
		s.SD = math.Sqrt(squares / float64(s.N-1))
	}
	return s, true
}

// slack keeps a length of exactly the tolerance inside it.
const slack = 1e-9

// SizeOutside says whether a size is out of the protocol for the batch's form;
// without a form, any form of the protocol will do.
func SizeOutside(b Batch, p assay.Protocol) func(float64) bool {
	return func(x float64) bool {
		for _, f := range append([]assay.BaitForm{{Form: p.BaitForm, SizeMM: p.BaitSizeMM}}, p.OtherForms...) {
			if (b.Form == "" || strings.EqualFold(b.Form, f.Form)) && math.Abs(x-f.SizeMM) <= p.BaitSizeToleranceMM+slack {
				return false
			}
		}
		return true
	}
}

// LineOutside says whether more line is free than the protocol has it.
func LineOutside(x float64) bool { return x > FreeLineMM+slack }

// Sizes are the measured sizes of all samples, Lines the free lines.
func (b Batch) Sizes() (mm []float64) {
	for _, s := range b.Samples {
		mm = append(mm, s.SizesMM...)
	}
	return mm
}

// Lines are the measured free lines of all samples.
func (b Batch) Lines() (mm []float64) {
	for _, s := range b.Samples {
		mm = append(mm, s.TethersMM...)
	}
	return mm
}

// Day reads a day written 2026-07-01.
func Day(s string) (time.Time, bool) {
	t, err := time.Parse(time.DateOnly, s)
	return t, err == nil && t.Year() >= 1900 && t.Year() < 2200
}

// AgainstDay says whether baits were used on a local day before they were
// prepared, or after they expired.
func (b Batch) AgainstDay(day string) (early, late bool) {
	d, ok := Day(day)
	if !ok {
		return false, false
	}
	if p, ok := Day(b.PreparedOn); ok && d.Before(p) {
		early = true
	}
	if e, ok := Day(b.ExpiresOn); ok && d.After(e) {
		late = true
	}
	return early, late
}
