package intake

import (
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// Read reads tables into records: each table by the map of its shape, tables of
// checks, stakes and sightings joined to the deployments they name. Everything
// that cannot be read and everything that is open comes back in one pass.
//
// Reading the same tables with the same context gives the same records.
func Read(tables []Table, c Context) *Reading {
	p := newPlan(tables, c)
	p.spellings()
	r := &Reading{slots: map[string]int{}}
	for _, col := range sheet.Columns(sheet.Wide) {
		if !col.PerCheck() && col.Required {
			r.slot(col.Name)
		}
	}
	b := &builder{p: p, r: r, byID: map[string][]int{}, numbers: map[string]int{}, fates: map[fateKey][]assay.StakeFate{}, seen: map[int][]map[string]string{}, long: map[int]*longCounts{}}
	b.conclusion(tables)
	for _, t := range tables {
		r.Notices = append(r.Notices, t.Notices...)
	}
	for _, s := range p.shapes {
		r.Maps = append(r.Maps, s.m)
	}
	r.Reasons, r.Questions, r.Taken = p.a.reasons, p.a.questions, p.a.taken
	r.Faults = append(p.a.faults, r.Faults...)
	r.Notices = append(r.Notices, b.notices...)
	return r
}

// builder makes records line by line.
type builder struct {
	p       *plan
	r       *Reading
	byID    map[string][]int // records by identifier
	numbers map[string]int   // rows numbered so far, by site
	pending []pending
	after   []afterHours
	fates   map[fateKey][]assay.StakeFate
	seen    map[int][]map[string]string
	long    map[int]*longCounts
	notices []Notice
}

// conclusion reads the deployments first, then what belongs to them.
func (b *builder) conclusion(tables []Table) {
	wide := false
	for i := range tables {
		s := b.p.of[&tables[i]]
		if s.m.Table == sheet.Wide {
			wide = true
			b.wide(s, &tables[i])
		}
	}
	for _, kind := range []sheet.Table{sheet.Checks, sheet.Stakes, sheet.Sightings} {
		for i := range tables {
			if s := b.p.of[&tables[i]]; s.m.Table == kind {
				b.beside(s, &tables[i], wide)
			}
		}
		// Without deployments a table of checks that names sites makes them.
		wide = wide || len(b.r.Records) > 0
	}
	b.sumUp()
	b.resolve()
	b.afterHours()
	b.writeFates()
	b.writeSightings()
}

// wide reads a table with one line per deployment.
func (b *builder) wide(s *shape, t *Table) {
	fields := b.p.fields(s, b.r)
	var constants [][2]string
	for _, col := range sheet.Columns(sheet.Wide) {
		if col.PerCheck() || s.has(col.Name) {
			continue
		}
		if v, ok := s.m.Constants[col.Name]; ok {
			constants = append(constants, [2]string{col.Name, v})
		} else if m, ok := metaValue(t, col.Name); ok && col.Kind != sheet.Instant && col.Kind != sheet.Degrees {
			f := field{base: col.Name, def: col, values: s.m.Values[col.Name]}
			v, fault := f.text(&s.m, m.Value)
			if fault != nil {
				b.r.Faults = append(b.r.Faults, Fault{Place: placeOfPair(t, m), Wrong: fault.Wrong, Do: fault.Do})
			}
			constants = append(constants, [2]string{col.Name, v})
			if key := "block!" + m.Key + m.Value; !b.p.a.done[key] {
				b.p.a.done[key] = true
				b.p.a.reason(placeOfPair(t, m), said("intake.why-block", "value", m.Value, "column", col.Name))
			}
		}
	}
	if s.m.SheetName == "site" {
		v := t.Sheet
		if to, ok := s.m.Values["site"][v]; ok {
			v = to
		}
		constants = append(constants, [2]string{"site", v})
	}
	day, position := b.besideTable(s, t)
	above := make([]string, len(s.m.Columns))
	for i := range t.Len() {
		x := Record{r: b.r, values: make([]string, len(b.r.columns)), table: t, line: i, shape: s}
		for _, c := range constants {
			x.set(c[0], c[1])
		}
		l := lineReader{b: b, s: s, t: t, i: i, x: &x, at: len(b.r.Records), above: above, day: day, pos: position}
		for k := range fields {
			l.field(&fields[k])
		}
		if !l.any {
			continue
		}
		l.finish()
		b.keep(&x)
	}
}

// besideTable reads a day of setting out and a position that the block of keys
// and values gives for all lines.
func (b *builder) besideTable(s *shape, t *Table) (day stamp, position string) {
	if m, ok := metaValue(t, "deployed_at:date"); ok && !s.dated() {
		if day, ok = readStamp(m.Value, m.Kind, s.m.DayOrder, ""); !ok || !day.hasDate {
			b.r.Faults = append(b.r.Faults, Fault{Place: placeOfPair(t, m), Wrong: said("sheet.instant.wrong", "value", m.Value, "column", "deployed_at"), Do: said("intake.no-day-do")})
		}
	}
	if s.has("latitude") || s.has("longitude") || s.has(toPosition) {
		return day, ""
	}
	if m, ok := metaValue(t, toPosition); ok {
		return day, m.Value
	}
	lat, ok1 := metaValue(t, "latitude")
	lon, ok2 := metaValue(t, "longitude")
	if ok1 && ok2 {
		return day, lat.Value + " " + lon.Value
	}
	return day, ""
}

// dated says whether the shape has days of setting out in its columns.
func (s *shape) dated() bool { return s.to("deployed_at") >= 0 || s.to("deployed_at:date") >= 0 }

// keep gives a record its identifier where the sheet has none, and files it.
func (b *builder) keep(x *Record) {
	id := x.Get("deployment_id")
	if id == "" && x.shape.m.Identifier == "number" {
		site := x.Get("site")
		b.numbers[site]++
		id = strings.TrimSpace(site + " " + strconv.Itoa(b.numbers[site]))
		x.set("deployment_id", id)
	}
	if id == "" {
		b.r.Faults = append(b.r.Faults, Fault{Place: x.table.Place(x.line, x.shape.to("deployment_id")), Wrong: said("intake.id-missing"), Do: said("intake.id-missing-do")})
	}
	b.byID[id] = append(b.byID[id], len(b.r.Records))
	b.r.Records = append(b.r.Records, *x)
}

// lineReader reads one line into one record.
type lineReader struct {
	b      *builder
	s      *shape
	t      *Table
	i      int
	x      *Record
	at     int // index the record has or will have
	above  []string
	any    bool
	day    stamp             // of setting out, where the block beside the table gives it
	own    map[string]string // of a table beside the deployments: its own columns
	times  map[string]*halves
	met    map[int]bool // checks with a time
	left   map[int]bool // checks whose count of consumed is still a count of baits left
	each   map[string]bool
	latLon [2]*field
	pos    string
	posC   int
	marks  []stakeMark
}

func (l *lineReader) fault(c int, f *sheet.Fault) {
	l.b.r.Faults = append(l.b.r.Faults, faultAt(l.t, l.i, c, f))
}

func (l *lineReader) field(f *field) {
	raw, kind := l.t.Cell(l.i, f.c)
	if raw == "" && l.s.m.FillDown == "same" && (f.base == "site" || f.base == "habitat" || f.base == "deployment_id" && l.s.m.Table != sheet.Wide || f.base == "deployed_at" && f.ending == asDate) {
		raw = l.above[f.c]
	} else {
		l.above[f.c] = raw
		if raw == "" {
			return
		}
		l.any = true
	}
	switch {
	case f.base == "check" && f.def.Table != sheet.Wide:
		return // read before, by beside
	case f.base == toPosition:
		l.pos, l.posC = raw, f.c
		return
	case strings.HasPrefix(f.base, toFate):
		l.marks = append(l.marks, stakeMark{f.base[len(toFate):], raw, f.c})
		return
	case f.def.Kind == sheet.Instant:
		l.time(f, raw, kind)
		return
	case f.base == "latitude" || f.base == "longitude": // those of the last stake are plain numbers
		k := 0
		if f.base == "longitude" {
			k = 1
		}
		if !isBlank(raw) {
			l.latLon[k] = f
		}
		return
	case f.def.Kind == sheet.Depth && !strings.EqualFold(raw, "datum") && !isBlank(raw):
		l.time(f, raw, kind)
		return
	}
	v, fault := f.text(&l.s.m, raw)
	if fault != nil {
		l.fault(f.c, fault)
		return
	}
	if f.slot < 0 {
		l.own[f.base] = v
	} else {
		l.x.put(f.slot, v)
	}
	if f.ending == asLeft {
		if l.left == nil {
			l.left = map[int]bool{}
		}
		l.left[f.check] = v != ""
	}
	if f.ending == asEach {
		if l.each == nil {
			l.each = map[string]bool{}
		}
		l.each[f.def.Name] = true
	}
}

// finish joins what stands in several cells of the line.
func (l *lineReader) finish() {
	l.position()
	l.joinTimes()
	if l.s.m.Table == sheet.Wide {
		l.counts(l.s.checks, func(base string) bool { return l.s.has(base) })
	}
}

// counts fills blanks that mean nought, then turns counts since the check
// before into running totals and baits left into baits consumed.
func (l *lineReader) counts(last int, has func(base string) bool) {
	m := &l.s.m
	if m.BlankEaten != "zero" && m.BlankLost != "zero" && m.Counts != "each" && l.each == nil && l.left == nil {
		return
	}
	for k := 1; k <= last; k++ {
		n := strconv.Itoa(k)
		eaten, lost := "consumed_by_check"+n, "lost_by_check"+n
		visited := l.met[k] || l.x.Get("check"+n+"_at") != "" || !has("check"+n+"_at")
		noEaten, noLost := l.x.Get(eaten) == "" && has(eaten), l.x.Get(lost) == "" && has(lost)
		if m.BlankEaten == "zero" && noEaten && (visited || l.x.Get(lost) != "") {
			l.x.set(eaten, "0")
		}
		if m.BlankLost == "zero" && noLost && (visited || !noEaten && has(eaten)) {
			l.x.set(lost, "0")
		}
	}
	for _, name := range []string{"lost_by_check", "consumed_by_check"} {
		if m.Counts == "each" && !l.s.left || l.each[name+"{K}"] {
			l.addUp(name, last)
		}
	}
	for k := 1; k <= last; k++ {
		if l.left[k] {
			l.fromLeft(k)
		}
	}
}

func (l *lineReader) addUp(name string, last int) {
	sum := 0
	for k := 1; k <= last; k++ {
		column := name + strconv.Itoa(k)
		if n, err := strconv.Atoi(l.x.Get(column)); err == nil {
			sum += n
			l.x.set(column, strconv.Itoa(sum))
		}
	}
}

// fromLeft: baits deployed, less those still there, less those lost by then.
func (l *lineReader) fromLeft(k int) {
	n := strconv.Itoa(k)
	baits, err := strconv.Atoi(l.x.Get("baits_deployed"))
	left, err2 := strconv.Atoi(l.x.Get("consumed_by_check" + n))
	if err != nil || err2 != nil {
		if err2 == nil {
			l.x.set("consumed_by_check"+n, "")
			l.b.r.Faults = append(l.b.r.Faults, Fault{Place: l.t.Place(l.i, l.s.to("consumed_by_check"+n+asLeft)), Wrong: said("intake.left-without-baits", "value", strconv.Itoa(left)), Do: said("intake.left-without-baits-do")})
		}
		return
	}
	lost, _ := strconv.Atoi(l.x.Get("lost_by_check" + n))
	l.x.set("consumed_by_check"+n, strconv.Itoa(baits-left-lost))
}
