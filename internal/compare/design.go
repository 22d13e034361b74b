package compare

import (
	"fmt"
	"maps"
	"slices"

	"soakline/internal/mixed"
)

// chooseLevels lists the factor's levels, the reference first, else byte order.
func (f *frame) chooseLevels() error {
	seen := map[string]bool{}
	for _, r := range f.rows {
		if !r.control {
			seen[value(r.d, f.o.By)] = true
		}
	}
	f.levels = slices.Sorted(maps.Keys(seen))
	if ref := f.o.Reference; ref != "" && len(f.levels) > 0 {
		i := slices.Index(f.levels, ref)
		if i < 0 {
			return wrong("compare.no-level", "level", ref, "by", f.o.By, "levels", f.levels)
		}
		f.levels = append([]string{ref}, slices.Delete(f.levels, i, i+1)...)
	}
	for i := range f.rows {
		if !f.rows[i].control {
			f.rows[i].level = slices.Index(f.levels, value(f.rows[i].d, f.o.By))
		}
	}
	return nil
}

// data fills the model's observations, one for each span, and says which span
// each is.
func (f *frame) data() (*mixed.Data, error) {
	random := f.random
	if f.bySpan {
		random = append(slices.Clip(random), "interval")
	}
	d := mixed.NewData(f.terms, random).Crossed(f.crossed...)
	d.Grow(len(f.spans))
	groups := f.groups()
	f.rowsOfX = map[[2]int][]float64{}
	defer func() { f.rowsOfX = nil }()
	var pieces []mixed.Piece
	for i, s := range f.spans {
		r, in := f.rows[s.row], groups[s.row]
		if f.bySpan { // the innermost of the chain, before what cuts across it
			in = slices.Insert(slices.Clone(in), len(f.random), i)
		}
		pieces = pieces[:0]
		if f.byCheck() || f.o.Check > 0 {
			exposure := s.toH - s.fromH
			if f.o.Link == "logit" {
				exposure = 1
			}
			b := s.check
			if f.o.Check > 0 {
				b = f.bands[0]
			}
			pieces = f.pieces(pieces, r, slices.Index(f.bands, b), exposure)
		} else {
			if len(s.late) > 0 {
				if err := f.addSum(d, s, in); err != nil {
					return nil, fmt.Errorf("row %s: %w", r.d.ID, err)
				}
				continue
			}
			pieces = f.bandPieces(pieces, r, s.fromH, s.toH)
		}
		if err := d.Add(s.consumed, s.atRisk, in, pieces...); err != nil {
			return nil, fmt.Errorf("row %s: %w", r.d.ID, err)
		}
	}
	return d, nil
}

// bandPieces are the stretches of a soak in each band.
func (f *frame) bandPieces(pieces []mixed.Piece, r entrant, fromH, toH float64) []mixed.Piece {
	for k, b := range f.bands {
		if h := f.overlapH(b-1, fromH, toH); h > 0 {
			pieces = f.pieces(pieces, r, k, h)
		}
	}
	return pieces
}

// addSum adds a span of several stretches: the likelihood of the sum of their
// binomial counts.
func (f *frame) addSum(d *mixed.Data, s span, groups []int) error {
	var parts []mixed.Part
	for _, h := range s.stretches() {
		if h.atRisk > 0 {
			parts = append(parts, mixed.Part{Trials: h.atRisk, Pieces: f.bandPieces(nil, f.rows[s.row], h.fromH, h.toH)})
		}
	}
	return d.AddSum(s.consumed, groups, parts...)
}

// pieces adds the piece of the k-th band, and beside it, where control rows
// enter, the hazard that they share.
func (f *frame) pieces(to []mixed.Piece, r entrant, k int, exposure float64) []mixed.Piece {
	if !r.control {
		to = append(to, mixed.Piece{Exposure: exposure, X: f.designOf(k, r)})
	}
	if f.hasControls() {
		to = append(to, mixed.Piece{Exposure: exposure, X: f.controlDesign(k), Background: true})
	}
	if f.o.controlAt > 0 && f.o.Link == "cloglog" { // known, so that no term belongs to it
		to = append(to, mixed.Piece{Exposure: exposure * f.o.controlAt, X: make([]float64, len(f.terms)), Background: true})
	}
	return to
}

// designOf is the design's row of an entrant; without further columns one row serves
// all entrants of a level.
func (f *frame) designOf(k int, r entrant) []float64 {
	if f.rowsOfX == nil || len(f.extra) > 0 && len(r.x) > 0 {
		return f.design(k, r.level, r.x)
	}
	at := [2]int{k, r.level}
	row, ok := f.rowsOfX[at]
	if !ok {
		row = f.design(k, r.level, r.x)
		f.rowsOfX[at] = row
	}
	return row
}

// design is a row of the design: band k, level, and the numbers of the bases.
func (f *frame) design(k, level int, x []float64) []float64 {
	row := make([]float64, len(f.terms))
	row[0] = 1
	if k > 0 {
		row[k] = 1
	}
	at := max(1, len(f.bands))
	if level > 0 {
		row[at+level-1] = 1
	}
	at += max(0, len(f.levels)-1)
	for i, c := range f.extra {
		row[at+i] = c.value(k, level, x)
	}
	return row
}

func (f *frame) controlDesign(k int) []float64 {
	row := make([]float64, len(f.terms))
	at := len(f.terms) - len(f.bands)
	row[at] = 1
	if k > 0 {
		row[at+k] = 1
	}
	return row
}

func (f *frame) hasControls() bool { return f.controls }
