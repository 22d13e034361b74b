package intake

import (
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/pattern"
	"soakline/internal/sheet"
)

// field is a column of a table made ready for reading.
type field struct {
	c      int
	base   string
	ending string
	def    sheet.Column
	check  int
	unit   string
	slot   int
	values map[string]string
}

// fields makes the columns of a shape ready.
func (p *plan) fields(s *shape, r *Reading) []field {
	var out []field
	for c, col := range s.m.Columns {
		if col.To == toSkip {
			continue
		}
		f := field{c: c, unit: col.Unit, slot: -1}
		f.base, f.ending = cutEnding(col.To)
		switch {
		case strings.HasPrefix(f.base, toCovar):
			f.base = f.base[len(toCovar):]
			f.def = sheet.Column{Name: f.base, Kind: sheet.Text, Table: "covariate"}
			f.slot = r.slot(f.base)
		case f.base == toPosition, strings.HasPrefix(f.base, toFate):
		default:
			f.def, f.check, _ = p.find(s.m.Table, f.base)
			f.values = s.m.Values[f.base]
			if f.def.Table == sheet.Wide {
				f.slot = r.slot(f.base)
			}
		}
		out = append(out, f)
	}
	return out
}

var (
	wholePattern = pattern.New(`^([-+−]?\d+)[.,]0+$`)
	unitEnd      = pattern.New(`(?i)^([-+−]?\d+(?:[.,]\d+)?)\s*(m|mm|cm|°c|º ?c|c|psu|ppt|°|deg|grados)\.?$`)
)

// text turns a cell into the canonical text of its column, for every kind but
// times and positions.
func (f *field) text(s *Map, raw string) (string, *sheet.Fault) {
	if f.def.Table == "covariate" {
		return raw, nil
	}
	switch f.def.Kind {
	case sheet.Text:
		if isBlank(raw) {
			return "", nil
		}
		if v, ok := f.values[raw]; ok {
			return v, nil
		}
		return raw, nil
	case sheet.Count:
		return f.count(raw)
	case sheet.Number, sheet.Degrees:
		return f.number(s, raw)
	case sheet.Flag:
		return f.flag(raw)
	case sheet.Word:
		return f.word(raw)
	}
	if isBlank(raw) {
		return "", nil
	}
	return raw, nil
}

func (f *field) count(raw string) (string, *sheet.Fault) {
	if isDigits(raw) {
		return raw, nil
	}
	if raw == "" || isBlank(raw) {
		return "", nil
	}
	t := raw
	if m := wholePattern.FindStringSubmatch(t); m != nil {
		t = m[1]
	}
	t = strings.Replace(t, "−", "-", 1)
	n, fault := sheet.ParseCount(f.base, t)
	if fault != nil {
		fault.Value = raw
		return "", fault
	}
	if v, _ := n.Get(); len(t) > 1 && (t[0] == '0' || t[0] == '+') {
		t = strconv.Itoa(v)
	}
	return t, nil
}

func (f *field) number(s *Map, raw string) (string, *sheet.Fault) {
	if f.unit == "" && isDecimal(raw) {
		return raw, nil
	}
	if raw == "" || isBlank(raw) {
		return "", nil
	}
	t := raw
	if m := unitEnd.FindStringSubmatch(t); m != nil && f.unit == "" && sameUnit(m[2], f.def.Unit) {
		t = m[1]
	}
	t = strings.Replace(t, "−", "-", 1)
	if s.Decimal == "comma" && commaNumber.MatchString(t) {
		t = strings.Replace(t, ",", ".", 1)
	}
	x, fault := sheet.ParseNumber(f.base, t)
	if fault != nil {
		_, fault = sheet.ParseNumber(f.base, raw)
		if fault == nil { // 1,234 with a point as decimal sign
			return "", &sheet.Fault{}
		}
		return "", fault
	}
	if v, ok := x.Get(); ok && f.unit != "" {
		return sheet.FormatNumber(inUnit(v, f.unit, f.def.Unit)), nil
	}
	return strings.TrimPrefix(t, "+"), nil
}

func sameUnit(written, own string) bool {
	w := strings.ToLower(strings.Trim(written, "°º "))
	o := strings.ToLower(strings.Trim(own, "° "))
	return w == o || o == "" && (w == "psu" || w == "ppt" || w == "deg" || w == "grados")
}

// inUnit turns a value from another unit; rounded to 4 digits behind the point,
// so that 20 cm is 0.2 m and not 0.20000000000000001.
func inUnit(v float64, from, to string) float64 {
	factor := map[string]float64{"cm>m": 0.01, "mm>m": 0.001, "ft>m": 0.3048, "feet>m": 0.3048, "pies>m": 0.3048, "cm>mm": 10, "in>mm": 25.4, "m>mm": 1000}[from+">"+to]
	if from == "f" {
		v, factor = v-32, 5.0/9
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v*factor, 'f', 4, 64), 64)
	if err != nil {
		return v * factor
	}
	return r
}

func (f *field) flag(raw string) (string, *sheet.Fault) {
	if raw == "" || isBlank(raw) {
		return "", nil
	}
	if w, ok := flagWords[plain(raw)]; ok {
		return w, nil
	}
	v, fault := sheet.ParseFlag(f.base, raw)
	if fault != nil {
		return "", fault
	}
	return map[bool]string{true: "yes", false: "no"}[v.Or(false)], nil
}

func (f *field) word(raw string) (string, *sheet.Fault) {
	if raw == "" || isBlank(raw) {
		return "", nil
	}
	if v, ok := f.values[raw]; ok {
		return v, nil
	}
	w, fault := sheet.ParseWord(f.def, f.base, raw)
	if fault == nil {
		return w, nil
	}
	if v, ok := wordsFor[strings.ReplaceAll(f.def.Name, "{K}", "")][plain(raw)]; ok {
		return v, nil
	}
	return "", fault
}

// faultAt is a canonical fault with its place and the heading as written.
func faultAt(t *Table, i, c int, f *sheet.Fault) Fault {
	out := Fault{Place: t.Place(i, c), Wrong: f.Wrong, Do: f.Do}
	if f.Wrong.Slug == "" {
		raw, _ := t.Cell(i, c)
		out.Wrong, out.Do = said("intake.thousands", "value", raw), said("intake.thousands-do")
	}
	return out
}

func placeOfPair(t *Table, m Pair) assay.Place {
	p := assay.Place{File: t.File, Sheet: t.Sheet, Line: m.Line, Column: m.Key}
	if m.Sheet != "" {
		p.Sheet = m.Sheet
	}
	return p
}
