package intake

import (
	"regexp"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/sheet"
	"soakline/internal/words"
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

// dayOrder looks for a day above 12 in any date of two short numbers.
func (p *plan) dayOrder() {
	var open int
	var dayAt, monthAt, openAt assay.Place
	var dayText, monthText, openText string
	hint := ""
	halfDays := false // clocks with am and pm
	var unsettled []*shape
	for _, s := range p.shapes {
		if s.m.DayOrder != "" {
			continue
		}
		unsettled = append(unsettled, s)
		for _, c := range s.instants() {
			if u := strings.ToLower(s.tables[0].Header[c].Unit); strings.HasPrefix(u, "dd") {
				hint = "day-first"
			} else if strings.HasPrefix(u, "mm/dd") || strings.HasPrefix(u, "mm-dd") {
				hint = "month-first"
			}
			for _, t := range s.tables {
				for i := range t.Len() {
					text, k := t.Cell(i, c)
					if k == Text && len(text) < 24 && (text != "") && (text[len(text)-1]|0x20 == 'm') {
						halfDays = true
					}
					if k != Text || len(text) < 6 || len(text) > 40 || text[0] < '0' || text[0] > '9' {
						continue
					}
					if len(text) > 4 && text[4] == '-' {
						continue // ISO
					}
					o, day, month := dayOrderOf(text)
					switch {
					case day && dayText == "":
						dayAt, dayText = t.Place(i, c), text
					case month && monthText == "":
						monthAt, monthText = t.Place(i, c), text
					case o:
						if open++; open == 1 {
							openAt, openText = t.Place(i, c), text
						}
					}
				}
			}
		}
	}
	set := func(v string) {
		for _, s := range unsettled {
			s.m.DayOrder = v
		}
	}
	q := Question{Key: "day-order", Options: options("day-first", "month-first")}
	switch {
	case dayText != "" && monthText == "":
		set("day-first")
		p.a.reason(dayAt, said("intake.why-day-first", "text", dayText))
		return
	case monthText != "" && dayText == "":
		set("month-first")
		p.a.reason(monthAt, said("intake.why-month-first", "text", monthText))
		return
	case dayText != "":
		q.Said, q.Where = said("intake.ask-day-order-mixed", "day", dayText, "month", monthText), dayAt
		q.Proposal, q.Why = "day-first", said("intake.because-both")
	case open == 0:
		return
	case hint != "":
		set(hint)
		p.a.reason(openAt, said("intake.why-order-heading"))
		return
	default:
		q.Said, q.Where = said("intake.ask-day-order", "text", openText, "n", open), openAt
		q.Proposal, q.Why = "day-first", said("intake.because-most-places")
		if halfDays {
			q.Proposal, q.Why = "month-first", said("intake.because-half-days")
		}
	}
	v, _ := p.a.ask(q)
	set(v)
}

var (
	commaNumber = regexp.MustCompile(`^[-+−]?\d+,\d+$`)
	pointNumber = regexp.MustCompile(`^[-+−]?\d+\.\d+$`)
)

// decimals looks at columns of numbers and positions. A comma with other than
// three digits behind it can only be the decimal sign.
func (p *plan) decimals() {
	commas, points, unclear := 0, 0, 0
	var at assay.Place
	var first string
	var unsettled []*shape
	for _, s := range p.shapes {
		if s.m.Decimal != "" {
			continue
		}
		unsettled = append(unsettled, s)
		for c, col := range s.m.Columns {
			def, _, ok := p.find(s.m.Table, col.To)
			if !ok || def.Kind != sheet.Number && def.Kind != sheet.Degrees {
				continue
			}
			where := s.where(c)
			s.sample(c, func(text string, k Kind) {
				switch {
				case k != Text:
				case pointNumber.MatchString(text):
					points++
				case commaNumber.MatchString(text):
					_, frac, _ := strings.Cut(text, ",")
					if len(frac) == 3 && def.Kind != sheet.Degrees {
						unclear++
					} else {
						commas++
					}
					if first == "" {
						at, first = where, text
					}
				}
			})
		}
	}
	set := func(v string) {
		for _, s := range unsettled {
			s.m.Decimal = v
		}
	}
	q := Question{Key: "decimal", Where: at, Options: options("comma", "point")}
	switch {
	case first == "":
		if points > 0 {
			set("point")
		}
		return
	case commas > 0 && points == 0:
		set("comma")
		p.a.reason(at, said("intake.why-comma", "text", first))
		return
	case commas > 0:
		// Both signs, each unmistakable: both are read as decimal signs.
		set("comma")
		p.a.reason(at, said("intake.why-both-signs", "text", first))
		return
	case points > 0:
		q.Said, q.Proposal, q.Why = said("intake.ask-decimal", "text", first), "point", said("intake.because-points", "n", points)
	default:
		q.Said, q.Proposal, q.Why = said("intake.ask-decimal", "text", first), "comma", said("intake.because-thousands")
	}
	v, _ := p.a.ask(q)
	set(v)
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

// counts settles whether the counts of later checks hold those of the earlier
// ones. Canonical names say so; other headings may; else the values decide
// where they can: a count that falls is no running total, and counts that
// together pass the number of baits are no parts.
func (p *plan) counts(s *shape) {
	if s.m.Counts != "" {
		return
	}
	var cols []int
	open := false
	for c, col := range s.m.Columns {
		base, ending := cutEnding(col.To)
		if !strings.HasPrefix(base, "consumed_by_check") && !strings.HasPrefix(base, "lost_by_check") || ending == asLeft {
			continue
		}
		cols = append(cols, c)
		open = open || ending == "" && !strings.EqualFold(col.Heading, base) && !meaningOf(s.tables[0].Header[c]).sofar
	}
	if s.m.Table == sheet.Checks {
		p.countsLong(s)
		return
	}
	eaten := 0
	for _, c := range cols {
		if strings.HasPrefix(s.m.Columns[c].To, "consumed") {
			eaten++
		}
	}
	each := false
	for _, c := range cols {
		_, ending := cutEnding(s.m.Columns[c].To)
		each = each || ending == asEach
	}
	if each && !open {
		s.m.Counts = "cumulative" // what is each says so by its ending
		p.a.reason(s.where(cols[0]), said("intake.why-each-heading"))
		return
	}
	if !open || eaten < 2 {
		return
	}
	s.m.Counts = p.decideCounts(s, s.parts())
}

// series are the counts of one row in the order of its checks, and its baits.
type series struct {
	counts []int
	baits  int
}

func (s *shape) parts() (out []series) {
	baits := s.to("baits_deployed")
	for _, t := range s.tables {
		for i := range t.Len() {
			x := series{}
			for k := 1; k <= sheet.MaxChecks; k++ {
				c := s.to("consumed_by_check" + strconv.Itoa(k))
				if c < 0 {
					break
				}
				text, _ := t.Cell(i, c)
				if n, err := strconv.Atoi(text); err == nil {
					x.counts = append(x.counts, n)
				}
			}
			if text, _ := t.Cell(i, baits); baits >= 0 {
				x.baits, _ = strconv.Atoi(text)
			}
			out = append(out, x)
		}
	}
	return out
}

func (p *plan) decideCounts(s *shape, rows []series) string {
	falls, over, n := 0, 0, 0
	for _, x := range rows {
		sum, fell, slip := 0, false, false
		for i, v := range x.counts {
			sum += v
			slip = slip || v > x.baits // a count above the baits tells nothing
			fell = fell || i > 0 && v < x.counts[i-1]
		}
		if len(x.counts) > 1 {
			n++
			if fell {
				falls++
			}
			if x.baits > 0 && sum > x.baits && !slip {
				over++
			}
		}
	}
	where := s.tables[0].Place(-1, -1)
	switch {
	case n == 0:
		return "" // nothing to tell by, and nothing that it would change
	case over*20 > n && over > falls && falls*20 <= n:
		p.a.reason(where, said("intake.why-cumulative", "n", over))
		return "cumulative"
	case falls*20 > n && over*20 <= n && falls > over:
		p.a.reason(where, said("intake.why-each", "n", falls))
		return "each"
	}
	q := Question{Key: "counts", Said: said("intake.ask-counts"), Where: where, Options: options("cumulative", "each"), Proposal: "cumulative", Why: said("intake.because-rising", "n", n-falls)}
	if falls > over {
		q.Proposal, q.Why = "each", said("intake.because-falling", "n", falls)
	}
	v, _ := p.a.ask(q)
	return v
}

// countsLong is counts for a table with one line per check.
func (p *plan) countsLong(s *shape) {
	c, id, check := s.to("consumed"), s.to("deployment_id"), s.to("check")
	if c < 0 || id < 0 || check < 0 || strings.EqualFold(s.m.Columns[c].Heading, "consumed") {
		return
	}
	at := map[string]int{}
	var rows []series
	for _, t := range s.tables {
		for i := range t.Len() {
			name, _ := t.Cell(i, id)
			text, _ := t.Cell(i, c)
			n, err := strconv.Atoi(text)
			if err != nil {
				continue
			}
			k, ok := at[name]
			if !ok {
				k = len(rows)
				at[name] = k
				rows = append(rows, series{baits: p.a.c.Baits})
			}
			rows[k].counts = append(rows[k].counts, n)
		}
	}
	s.m.Counts = p.decideCounts(s, rows)
}

// blanks settles what an empty count means. The canonical datasheet says
// unread; another sheet may leave a nought out.
func (p *plan) blanks(s *shape) {
	for _, x := range []struct {
		base string
		to   *string
	}{{"consumed", &s.m.BlankEaten}, {"lost", &s.m.BlankLost}} {
		if *x.to != "" {
			continue
		}
		blank, zero, col := 0, 0, -1
		for c, m := range s.m.Columns {
			base, _ := cutEnding(m.To)
			if !strings.HasPrefix(base, x.base) || strings.EqualFold(m.Heading, base) {
				continue
			}
			if def, _, ok := p.find(s.m.Table, base); !ok || def.Kind != sheet.Count {
				continue
			}
			if b, z := s.blanksIn(c); b+z > 0 {
				if blank += b; col < 0 {
					col = c
				}
				zero += z
			}
		}
		switch {
		case blank == 0:
		case zero > 0:
			*x.to = "unread"
			p.a.reason(s.where(col), said("intake.why-zeros-written", "n", zero))
		default:
			q := Question{Key: "blank:" + x.base, Said: said("intake.ask-blank", "heading", s.headings[col], "n", blank), Where: s.where(col),
				Options: options("zero", "unread"), Proposal: "zero", Why: said("intake.because-no-zero")}
			*x.to, _ = p.a.ask(q)
		}
	}
}

// blanksIn counts, on the lines where something of the same check is filled,
// the empty cells of a column of counts and its noughts.
func (s *shape) blanksIn(c int) (blank, zero int) {
	base, _ := cutEnding(s.m.Columns[c].To)
	digits := strings.TrimLeft(base, "abcdefghijklmnopqrstuvwxyz_")
	var near []int
	for o, m := range s.m.Columns {
		b, _ := cutEnding(m.To)
		if o != c && (digits != "" && strings.HasSuffix(strings.TrimSuffix(b, "_at"), "check"+digits) || digits == "" && (b == "checked_at" || b == "consumed" || b == "lost")) {
			near = append(near, o)
		}
	}
	if len(near) == 0 {
		// Nothing else is said of that check: any other count of the line.
		for o, m := range s.m.Columns {
			b, _ := cutEnding(m.To)
			if o != c && (strings.HasPrefix(b, "consumed") || strings.HasPrefix(b, "lost")) {
				near = append(near, o)
			}
		}
	}
	for _, t := range s.tables {
		for i := range t.Len() {
			text, _ := t.Cell(i, c)
			switch {
			case text == "0":
				zero++
			case text == "":
				for _, o := range near {
					if other, _ := t.Cell(i, o); other != "" && !isBlank(other) {
						blank++
						break
					}
				}
			}
		}
	}
	return blank, zero
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

// fillDown: a site or habitat written once above several lines.
func (p *plan) fillDown(s *shape) {
	if s.m.FillDown != "" || s.m.Table != sheet.Wide && s.m.Table != sheet.Checks && s.m.Table != sheet.Stakes {
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

// missing looks for what a table of deployments must have and has no column
// for: the block of keys and values, the sheet's name, else a question.
func (p *plan) missing(s *shape) {
	if s.m.Table != sheet.Wide || s.kept {
		return
	}
	s.m.Constants = map[string]string{}
	if !s.has("deployment_id") {
		q := Question{Key: "identifier", Said: said("intake.ask-identifier"), Where: s.tables[0].Place(-1, -1), Options: options("number"), Proposal: "number", Why: said("intake.because-no-id")}
		s.m.Identifier, _ = p.a.ask(q)
	}
	if !s.has("site") && !p.inMeta(s, "site") {
		p.siteOfSheet(s)
	}
	if !s.has("baits_deployed") && !p.inMeta(s, "baits_deployed") {
		q := Question{Key: "baits", Said: said("intake.ask-baits"), Where: s.tables[0].Place(-1, -1), Free: true}
		if p.a.c.Baits > 0 {
			q.Proposal, q.Why = strconv.Itoa(p.a.c.Baits), said("intake.because-protocol")
			q.Options = plainOptions([]string{q.Proposal})
		}
		if v, _ := p.a.ask(q); v != "" {
			s.m.Constants["baits_deployed"] = v
		}
	}
	for _, name := range []string{"habitat", "deployed_at"} {
		if !s.has(name) && !p.inMeta(s, name) {
			p.a.faults = append(p.a.faults, Fault{Place: s.tables[0].Place(-1, -1), Wrong: said("intake.column-missing", "column", name), Do: said("intake.column-missing-do", "column", name)})
		}
	}
}

// inMeta says whether every table of the shape has a pair for the column.
func (p *plan) inMeta(s *shape, column string) bool {
	for _, t := range s.tables {
		if _, ok := metaValue(t, column); !ok {
			return false
		}
	}
	return true
}

func (p *plan) siteOfSheet(s *shape) {
	t := s.tables[0]
	name := t.Sheet
	if name == "" {
		p.a.faults = append(p.a.faults, Fault{Place: t.Place(-1, -1), Wrong: said("intake.column-missing", "column", "site"), Do: said("intake.column-missing-do", "column", "site")})
		return
	}
	q := Question{Key: "sheet-name", Said: said("intake.ask-sheet-name", "sheet", name), Where: t.Place(-1, -1), Options: options("site", "none"), Proposal: "site", Why: said("intake.because-no-site")}
	s.m.SheetName, _ = p.a.ask(q)
}

// metaValue is what the pairs beside a table say for a column.
func metaValue(t *Table, column string) (Pair, bool) {
	for _, m := range t.Meta {
		if x, ok := readHeading(m.Key); ok && x.target == column {
			return m, true
		}
	}
	return Pair{}, false
}

// whichColumn looks, for a column that a table of deployments needs and no
// heading names, among those with unknown headings for values that would fit.
func (p *plan) whichColumn(s *shape) {
	if s.m.Table != sheet.Wide {
		return
	}
	for _, name := range []string{"deployed_at", "site", "habitat", "baits_deployed"} {
		if s.has(name) || p.inMeta(s, name) {
			continue
		}
		q := Question{Key: "column:" + name, Said: said("intake.ask-column", "column", words.Ref{Slug: "column." + name}), Where: s.where(-1)}
		for c, col := range s.m.Columns {
			if strings.HasPrefix(col.To, toCovar) && p.fits(s, c, name) {
				q.Options = append(q.Options, Option{Value: col.Heading})
			}
		}
		if len(q.Options) == 0 {
			continue
		}
		q.Proposal, q.Why = q.Options[0].Value, said("intake.because-fits", "heading", q.Options[0].Value)
		q.Options = append(q.Options, options("none")...)
		v, _ := p.a.ask(q)
		for c := range s.m.Columns {
			if col := &s.m.Columns[c]; col.Heading == v && strings.HasPrefix(col.To, toCovar) {
				col.To = name
				if name == "deployed_at" {
					col.To += p.timeEnding(s, c, "")
				}
				break
			}
		}
	}
}

// fits says whether the values of column c could be those of a needed column.
func (p *plan) fits(s *shape, c int, name string) bool {
	n, good := 0, 0
	seen := map[string]bool{}
	s.sample(c, func(text string, k Kind) {
		n++
		seen[text] = true
		switch name {
		case "deployed_at":
			if st, ok := readStamp(text, k, "", ""); ok && st.hasDate && st.hasClock {
				good++
			}
		case "baits_deployed":
			if v, ok := number(text); ok && v >= 5 && v <= 200 {
				good++
			}
		default:
			if k == Text && !looksValue(text) && len(text) <= 40 {
				good++
			}
		}
	})
	return n > 0 && good*10 >= n*9 && (name == "deployed_at" || len(seen)*2 <= n+1)
}
