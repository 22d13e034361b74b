package fitness

import (
	"slices"
	"strings"
	"time"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/sun"
	"soakline/internal/words"
)

// Balance is how many rows of each level have each value of something that
// might be mistaken for what is compared. Rows without a value are counted in
// Missing.
type Balance struct {
	Factor  string         `json:"factor"` // light, tide, batch, observers, reader, team, month
	Values  []BalanceValue `json:"values"`
	Missing []int          `json:"missing"` // by level
}

// BalanceValue is one value and its rows, by level.
type BalanceValue struct {
	Value string `json:"value"`
	Rows  []int  `json:"rows"`
}

// word is a value as a sentence of the catalogue, or as the records have it.
func (b Balance) word(value string) any {
	if slug := "fitness." + b.Factor + "." + value; words.Has(slug) && (b.Factor == "light" || b.Factor == "tide") {
		return words.Ref{Slug: slug}
	}
	return value
}

// ValueWord is a value in a language: day and night, rising and falling; what people
// wrote as they wrote it.
func (b Balance) ValueWord(l words.Language, value string) string {
	if ref, ok := b.word(value).(words.Ref); ok {
		return ref.In(l)
	}
	return value
}

// Light at setting out: the sun's middle above −0.833° (upper limb and usual
// refraction, as for sunrise) is day.
const (
	dayLight   = "day"
	nightDark  = "night"
	horizonDeg = -0.833
)

// factors give the value of a row, empty where not known.
var factors = []struct {
	name  string
	value func(*assay.Deployment) string
}{
	{"light", lightOf},
	{"tide", (*assay.Deployment).TideState},
	{"batch", func(d *assay.Deployment) string { return d.BaitBatch }},
	{"observers", func(d *assay.Deployment) string { return d.Observers }},
	{"reader", readerOf},
	{"team", func(d *assay.Deployment) string { return d.Team }},
	{"month", func(d *assay.Deployment) string {
		if !d.SetOut.Known() {
			return ""
		}
		return d.SetOut.Local().Format("2006-01")
	}},
}

func lightOf(d *assay.Deployment) string {
	lat, ok1 := d.Latitude.Get()
	lon, ok2 := d.Longitude.Get()
	if !ok1 || !ok2 || !d.SetOut.Known() {
		return ""
	}
	if sun.AltitudeDeg(lat, lon, d.SetOut.At) > horizonDeg {
		return dayLight
	}
	return nightDark
}

// readerOf is who read the checks, where the sheet names them one by one.
func readerOf(d *assay.Deployment) string {
	var names []string
	for _, c := range d.Checks {
		if c.Reader != "" && !slices.Contains(names, c.Reader) {
			names = append(names, c.Reader)
		}
	}
	return strings.Join(names, ", ")
}

// balance counts rows by level and value, and says where a value, or the date,
// coincides with a level.
func (l *look) balance() {
	at := map[string]int{}
	for i, v := range l.r.Levels {
		at[v] = i
	}
	var rows []compare.FittedRow
	for _, r := range l.rows {
		if !r.Control {
			rows = append(rows, r)
		}
	}
	for _, f := range factors {
		b := Balance{Factor: f.name, Missing: make([]int, len(l.r.Levels))}
		place := map[string]int{}
		for _, r := range rows {
			v := f.value(r.Deployment)
			if v == "" {
				b.Missing[at[r.Level]]++
				continue
			}
			k, ok := place[v]
			if !ok {
				k = len(b.Values)
				place[v] = k
				b.Values = append(b.Values, BalanceValue{Value: v, Rows: make([]int, len(l.r.Levels))})
			}
			b.Values[k].Rows[at[r.Level]]++
		}
		if len(b.Values) == 0 {
			continue
		}
		slices.SortFunc(b.Values, func(x, y BalanceValue) int { return strings.Compare(x.Value, y.Value) })
		l.r.Balance = append(l.r.Balance, b)
		if f.name != "month" { // dates are told by their order below
			l.coincides(b)
		}
	}
	l.dates(rows)
}

// coincides says where a level has values of its own: none of them is found at
// another level, none of theirs here, and at least two rows share one, so that
// the level and the values cannot be told apart.
func (l *look) coincides(b Balance) {
	if len(l.r.Levels) < 2 || len(b.Values) < 2 {
		return
	}
	said := 0
	for k, level := range l.r.Levels {
		var own []string
		rows, shared := 0, false
		for _, v := range b.Values {
			here := v.Rows[k]
			if here == 0 {
				continue
			}
			rows += here
			own = append(own, v.Value)
			for j, n := range v.Rows {
				shared = shared || j != k && n > 0
			}
		}
		elsewhere := 0
		for _, v := range b.Values {
			for j, n := range v.Rows {
				if j != k {
					elsewhere += n
				}
			}
		}
		if shared || len(own) == 0 || elsewhere == 0 || len(own) == rows || b.Missing[k] > 0 {
			continue
		}
		if len(l.r.Levels) == 2 && said > 0 {
			return // of two levels, one says it for both
		}
		said++
		var values words.List
		for _, v := range own {
			values = append(values, b.word(v))
		}
		l.r.Messages = append(l.r.Messages, words.Message{Slug: "own-values", With: words.P{"by": byWord(l.r.By), "level": level,
			"factor": words.Ref{Slug: "fitness.factor." + b.Factor}, "values": values}})
	}
}

// dates says where all rows of a level were set out before, or after, all
// others: the season's course and the level cannot be told apart.
func (l *look) dates(rows []compare.FittedRow) {
	if len(l.r.Levels) < 2 {
		return
	}
	for _, level := range l.r.Levels {
		var from, to, otherFrom, otherTo time.Time
		n, unknown := 0, false
		for _, r := range rows {
			d := localDay(r.Deployment)
			if d.IsZero() {
				unknown = true
				continue
			}
			a, b := &otherFrom, &otherTo
			if r.Level == level {
				a, b = &from, &to
				n++
			}
			if a.IsZero() || d.Before(*a) {
				*a = d
			}
			if b.IsZero() || d.After(*b) {
				*b = d
			}
		}
		if unknown || n < 2 || otherFrom.IsZero() {
			continue
		}
		slug := ""
		switch {
		case to.Before(otherFrom):
			slug = "all-before"
		case from.After(otherTo):
			slug = "all-after"
		default:
			continue
		}
		l.r.Messages = append(l.r.Messages, words.Message{Slug: slug, With: words.P{"by": byWord(l.r.By), "level": level,
			"from": from.Format("2006-01-02"), "to": to.Format("2006-01-02")}})
		if len(l.r.Levels) == 2 {
			return
		}
	}
}
