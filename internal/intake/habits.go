package intake

import (
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/pattern"
	"soakline/internal/sheet"
)

// habits settles how values are written, over all tables together where one
// person's habit shows in any of them: order of day and month, decimal sign.
func (p *plan) habits() {
	p.dayOrder()
	p.decimals()
	for _, s := range p.shapes {
		p.serials(s)
		p.counts(s)
		p.blanks(s)
		p.checkDates(s)
		p.fillDown(s)
		p.sides(s)
		p.fateMarks(s)
		p.missing(s)
	}
}

// daySigns is what the dates of two short numbers say of their order: the
// first that can only be read one way, and how many read both ways.
type daySigns struct {
	day, month, open     string
	dayAt, monthAt, atUn assay.Place
	n                    int
	halfDays             bool   // clocks with am and pm
	heading              string // the order that a heading spells out
}

func (d *daySigns) look(s *shape, c int) {
	if u := strings.ToLower(s.tables[0].Header[c].Unit); strings.HasPrefix(u, "dd") {
		d.heading = "day-first"
	} else if strings.HasPrefix(u, "mm/dd") || strings.HasPrefix(u, "mm-dd") {
		d.heading = "month-first"
	}
	for _, t := range s.tables {
		for i := range t.Len() {
			text, k := t.Cell(i, c)
			if k != Text || text == "" || len(text) > 40 || len(text) > 4 && text[4] == '-' {
				continue // ISO dates say their order
			}
			d.halfDays = d.halfDays || text[len(text)-1]|0x20 == 'm'
			if len(text) >= 6 && text[0] >= '0' && text[0] <= '9' {
				d.one(text, func() assay.Place { return t.Place(i, c) })
			}
		}
	}
}

func (d *daySigns) one(text string, where func() assay.Place) {
	open, day, month := dayOrderOf(text)
	switch {
	case day && d.day == "":
		d.dayAt, d.day = where(), text
	case month && d.month == "":
		d.monthAt, d.month = where(), text
	case open:
		if d.n++; d.n == 1 {
			d.atUn, d.open = where(), text
		}
	}
}

// dayOrder looks for a day above 12 in any date of two short numbers.
func (p *plan) dayOrder() {
	var d daySigns
	var unsettled []*shape
	for _, s := range p.shapes {
		if s.m.DayOrder == "" {
			unsettled = append(unsettled, s)
			for _, c := range s.instants() {
				d.look(s, c)
			}
			for _, t := range s.tables {
				if m, ok := metaValue(t, "deployed_at:date"); ok && m.Kind == Text && !s.dated() {
					d.one(m.Value, func() assay.Place { return placeOfPair(t, m) })
				}
			}
		}
	}
	v := ""
	q := Question{Key: "day-order", Options: options("day-first", "month-first"), Proposal: "day-first"}
	switch {
	case d.day != "" && d.month == "":
		v = "day-first"
		p.a.reason(d.dayAt, said("intake.why-day-first", "text", d.day))
	case d.month != "" && d.day == "":
		v = "month-first"
		p.a.reason(d.monthAt, said("intake.why-month-first", "text", d.month))
	case d.day != "":
		q.Said, q.Where, q.Why = said("intake.ask-day-order-mixed", "day", d.day, "month", d.month), d.dayAt, said("intake.because-both")
		v, _ = p.a.ask(q)
	case d.n == 0:
		return
	case d.heading != "":
		v = d.heading
		p.a.reason(d.atUn, said("intake.why-order-heading"))
	default:
		q.Said, q.Where, q.Why = said("intake.ask-day-order", "text", d.open, "n", d.n), d.atUn, said("intake.because-most-places")
		if d.halfDays {
			q.Proposal, q.Why = "month-first", said("intake.because-half-days")
		}
		v, _ = p.a.ask(q)
	}
	for _, s := range unsettled {
		s.m.DayOrder = v
	}
}

var (
	commaNumber = pattern.New(`^[-+−]?\d+,\d+$`)
	pointNumber = pattern.New(`^[-+−]?\d+\.\d+$`)
)

// commaSigns is what numbers say of the decimal sign.
type commaSigns struct {
	commas, points, unclear int
	first                   string
	at                      assay.Place
}

func (d *commaSigns) look(s *shape, c int, degrees bool) {
	s.sample(c, func(text string, k Kind) {
		switch {
		case k != Text:
		case pointNumber.MatchString(text):
			d.points++
		case commaNumber.MatchString(text):
			if _, frac, _ := strings.Cut(text, ","); len(frac) == 3 && !degrees {
				d.unclear++
			} else {
				d.commas++
			}
			if d.first == "" {
				d.at, d.first = s.where(c), text
			}
		}
	})
}

// decimals looks at columns of numbers and positions. A comma with other than
// three digits behind it can only be the decimal sign.
func (p *plan) decimals() {
	var d commaSigns
	var unsettled []*shape
	for _, s := range p.shapes {
		if s.m.Decimal != "" {
			continue
		}
		unsettled = append(unsettled, s)
		for c, col := range s.m.Columns {
			if def, _, ok := p.find(s.m.Table, col.To); ok && (def.Kind == sheet.Number || def.Kind == sheet.Degrees) {
				d.look(s, c, def.Kind == sheet.Degrees)
			}
		}
	}
	v := ""
	q := Question{Key: "decimal", Said: said("intake.ask-decimal", "text", d.first), Where: d.at, Options: options("comma", "point")}
	switch {
	case d.first == "" && d.points == 0:
	case d.first == "":
		v = "point"
	case d.commas > 0 && d.points == 0:
		v = "comma"
		p.a.reason(d.at, said("intake.why-comma", "text", d.first))
	case d.commas > 0:
		// Both signs, each unmistakable: both are read as decimal signs.
		v = "comma"
		p.a.reason(d.at, said("intake.why-both-signs", "text", d.first))
	case d.points > 0:
		q.Proposal, q.Why = "point", said("intake.because-points", "n", d.points)
		v, _ = p.a.ask(q)
	default:
		q.Proposal, q.Why = "comma", said("intake.because-thousands")
		v, _ = p.a.ask(q)
	}
	for _, s := range unsettled {
		s.m.Decimal = v
	}
}

// serials settles the date system of bare numbers in columns of times.
func (p *plan) serials(s *shape) {
	if s.m.Serials != "" {
		return
	}
	n, at, first := 0, -1, ""
	book := false
	for _, c := range s.instants() {
		s.sample(c, func(text string, k Kind) {
			if k == Text || k == Number {
				if v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64); err == nil && serialKind(v) != Number {
					if n++; at < 0 {
						at, first = c, text
					}
					book = book || k == Number
				}
			}
		})
	}
	if n == 0 {
		return
	}
	if book && s.tables[0].Workbook {
		s.m.Serials = serialsOf(s.tables[0])
		p.a.reason(s.where(at), said("intake.why-serials-book", "text", first, "system", s.m.Serials))
		return
	}
	f, _ := strconv.ParseFloat(strings.Replace(first, ",", ".", 1), 64)
	if f < 1 {
		s.m.Serials = "1900"
		return
	}
	t1900, _ := serialTime(f, false)
	t1904, _ := serialTime(f, true)
	q := Question{Key: "serials", Where: s.where(at), Options: options("1900", "1904"), Proposal: "1900",
		Said: said("intake.ask-serials", "text", first, "a", t1900.Format("2006-01-02"), "b", t1904.Format("2006-01-02")), Why: said("intake.because-most-programs")}
	s.m.Serials, _ = p.a.ask(q)
}

// checkDates: a check with a time of day and no date of its own.
func (p *plan) checkDates(s *shape) {
	if s.m.CheckDates != "" {
		return
	}
	for c, col := range s.m.Columns {
		base, ending := cutEnding(col.To)
		if ending != asTime || !strings.HasPrefix(base, "check") || s.to(base+asDate) >= 0 || s.to(base) >= 0 {
			continue
		}
		q := Question{Key: "check-dates", Said: said("intake.ask-check-dates", "heading", col.Heading), Where: s.where(c),
			Options: options("nominal", "same-day"), Proposal: "nominal", Why: said("intake.because-nominal")}
		s.m.CheckDates, _ = p.a.ask(q)
		return
	}
}

// canonical says whether the sheet is the datasheet itself, by its own names:
// there an empty cell is empty.
func (s *shape) canonical() bool {
	for _, name := range []string{"deployment_id", "deployed_at", "baits_deployed"} {
		if c := s.to(name); c < 0 || s.m.Columns[c].Heading != name {
			return false
		}
	}
	return true
}

// fillDown: a site or habitat written once above several lines.
func (p *plan) fillDown(s *shape) {
	if s.m.FillDown != "" || s.canonical() || s.m.Table != sheet.Wide && s.m.Table != sheet.Checks && s.m.Table != sheet.Stakes {
		return
	}
	for _, name := range []string{"site", "habitat", "deployment_id", "deployed_at:date"} {
		c := s.to(name)
		if c < 0 || name == "deployment_id" && s.m.Table == sheet.Wide {
			continue
		}
		empty := 0
		for _, t := range s.tables {
			for i := range t.Len() {
				if text, _ := t.Cell(i, c); text != "" {
					continue
				} else if i == 0 {
					empty = -1 << 30 // the first line has none to take over
				}
				empty++
			}
		}
		if empty <= 0 {
			continue
		}
		q := Question{Key: "fill-down", Said: said("intake.ask-fill-down", "heading", s.headings[c], "n", empty), Where: s.where(c),
			Options: options("same", "empty"), Proposal: "same", Why: said("intake.because-above")}
		s.m.FillDown, _ = p.a.ask(q)
		return
	}
}
