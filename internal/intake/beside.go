package intake

import (
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/pattern"
	"soakline/internal/sheet"
)

type fateKey struct{ rec, check int }

// stakeMark is a fate written in a column of its own: of a stake, or of a check.
type stakeMark struct {
	of, raw string
	c       int
}

// longCounts are the counts of one record that came line by line.
type longCounts struct {
	s    *shape
	last int
	met  map[int]bool
	left map[int]bool
	each map[string]bool
}

// beside reads a table of checks, stakes or sightings. Without a table of
// deployments its own columns of site and time make them.
func (b *builder) beside(s *shape, t *Table, wide bool) {
	fields := b.p.fields(s, b.r)
	var numbers map[string]int
	if s.m.Table != sheet.Sightings {
		numbers = b.checkNumbers(s)
	}
	above := make([]string, len(s.m.Columns))
	for i := range t.Len() {
		x := Record{r: b.r, values: make([]string, len(b.r.columns)), table: t, line: i, shape: s}
		l := lineReader{b: b, s: s, t: t, i: i, x: &x, above: above, own: map[string]string{}}
		// The record must be known before times are filed under it.
		if c := s.to("deployment_id"); c >= 0 {
			id, _ := t.Cell(i, c)
			if id == "" && s.m.FillDown == "same" {
				id = above[c]
			}
			x.set("deployment_id", id)
		}
		if !b.anyCell(s, t, i) {
			continue
		}
		b.childContext(&l, fields)
		at, ok := b.owner(&l, wide)
		if !ok {
			continue
		}
		l.at = at
		for k := range fields {
			l.field(&fields[k])
		}
		l.position()
		if !b.childTimes(&l, numbers) {
			continue
		}
		b.child(&l, numbers)
	}
}

func (b *builder) anyCell(s *shape, t *Table, i int) bool {
	for c := range s.m.Columns {
		if text, _ := t.Cell(i, c); text != "" {
			return true
		}
	}
	return false
}

// childContext reads only what tells rows of the same identifier apart.
func (b *builder) childContext(l *lineReader, fields []field) {
	for k := range fields {
		f := &fields[k]
		switch f.base {
		case "site", "team", "season", "programme":
			raw, _ := l.t.Cell(l.i, f.c)
			if raw == "" && l.s.m.FillDown == "same" {
				raw = l.above[f.c]
			}
			v, _ := f.text(&l.s.m, raw)
			l.x.put(f.slot, v)
		}
	}
	if l.s.m.SheetName == "site" {
		l.x.set("site", l.t.Sheet)
	}
}

// owner finds the record a line belongs to, or begins one.
func (b *builder) owner(l *lineReader, wide bool) (int, bool) {
	id := l.x.Get("deployment_id")
	where := l.t.Place(l.i, l.s.to("deployment_id"))
	if id == "" {
		b.r.Faults = append(b.r.Faults, Fault{Place: where, Wrong: said("intake.id-missing"), Do: said("intake.id-missing-do")})
		return 0, false
	}
	found := -1
	for _, at := range b.byID[id] {
		if !b.sameRow(&b.r.Records[at], l.x) {
			continue
		}
		if found >= 0 {
			b.r.Faults = append(b.r.Faults, Fault{Place: where, Wrong: said("intake.id-ambiguous", "id", id), Do: said("intake.id-ambiguous-do")})
			return 0, false
		}
		found = at
	}
	if found >= 0 {
		return found, true
	}
	if wide {
		b.r.Faults = append(b.r.Faults, Fault{Place: where, Wrong: said("intake.id-unknown", "id", id), Do: said("intake.id-unknown-do")})
		return 0, false
	}
	for _, name := range []string{"site", "habitat", "deployed_at", "baits_deployed"} {
		if !l.s.has(name) && !b.p.a.done["column!"+name] {
			b.p.a.done["column!"+name] = true
			b.r.Faults = append(b.r.Faults, Fault{Place: l.t.Place(-1, -1), Wrong: said("intake.column-missing-beside", "column", name), Do: said("intake.column-missing-beside-do")})
		}
	}
	at := len(b.r.Records)
	b.byID[id] = append(b.byID[id], at)
	b.r.Records = append(b.r.Records, Record{r: b.r, values: append([]string(nil), l.x.values...), table: l.t, line: l.i, shape: l.s})
	return at, true
}

func (b *builder) sameRow(rec, x *Record) bool {
	for _, name := range []string{"site", "team", "season", "programme"} {
		if v := x.Get(name); v != "" && rec.Get(name) != "" && v != rec.Get(name) {
			return false
		}
	}
	return true
}

// childTimes settles the check of the line and files its times. It is false
// when the line names no check that can be read.
func (b *builder) childTimes(l *lineReader, numbers map[string]int) bool {
	check := 0
	if l.s.m.Table != sheet.Sightings && l.s.to("check") >= 0 {
		c := l.s.to("check")
		raw, _ := l.t.Cell(l.i, c)
		if check = numbers[raw]; check == 0 {
			_, fault := sheet.ParseCount("check", raw)
			if fault == nil {
				fault = &sheet.Fault{Wrong: said("intake.check-unknown", "value", raw), Do: said("intake.check-unknown-do")}
			}
			l.fault(c, fault)
			return false
		}
		l.own["check"] = strconv.Itoa(check)
		if h := l.times["checked_at"]; h != nil {
			delete(l.times, "checked_at")
			l.times["check"+l.own["check"]+"_at"] = h
		}
		if v := l.own["checked_at"]; v != "" {
			l.setTime("check"+l.own["check"]+"_at", v)
		}
	}
	if l.times["deployed_at"] == nil && l.x.Get("deployed_at") == "" {
		l.x.set("deployed_at", b.r.Records[l.at].Get("deployed_at"))
	}
	l.joinTimes()
	return true
}

// child files what the line says under its record.
func (b *builder) child(l *lineReader, numbers map[string]int) {
	rec := &b.r.Records[l.at]
	for slot, v := range l.x.values {
		if v == "" {
			continue
		}
		name := b.r.columns[slot]
		if old := rec.Get(name); old != "" && old != v {
			_, _, column := sheet.Find(sheet.Wide, name)
			switch {
			case name == "notes":
				rec.put(slot, old+"; "+v)
			case column:
				b.r.Faults = append(b.r.Faults, Fault{Place: l.t.Place(l.i, l.s.to(name)), Wrong: said("intake.lines-disagree", "column", name, "value", v, "before", old), Do: said("intake.lines-disagree-do")})
			case !b.p.a.done["varies!"+name]:
				b.p.a.done["varies!"+name] = true
				b.notices = append(b.notices, Notice{l.t.Place(l.i, l.s.to(toCovar+name)), said("intake.varies", "heading", name)})
			}
			continue
		}
		rec.put(slot, v)
	}
	switch l.s.m.Table {
	case sheet.Checks:
		b.childCounts(l, rec)
	case sheet.Stakes:
		b.childFates(l, numbers)
	case sheet.Sightings:
		delete(l.own, "deployment_id")
		b.seen[l.at] = append(b.seen[l.at], l.own)
	}
}

func (b *builder) childCounts(l *lineReader, rec *Record) {
	n := l.own["check"]
	k, _ := strconv.Atoi(n)
	for own, column := range map[string]string{"consumed": "consumed_by_check" + n, "lost": "lost_by_check" + n, "unread": "unread_at_check" + n} {
		v, ok := l.own[own]
		if !ok || v == "" {
			continue
		}
		if old := rec.Get(column); old != "" && old != v {
			b.r.Faults = append(b.r.Faults, Fault{Place: l.t.Place(l.i, l.s.to("check")), Wrong: said("intake.lines-disagree", "column", column, "value", v, "before", old), Do: said("intake.lines-disagree-do")})
			continue
		}
		rec.set(column, v)
	}
	c := b.long[l.at]
	if c == nil {
		c = &longCounts{s: l.s, met: map[int]bool{}, left: map[int]bool{}, each: map[string]bool{}}
		b.long[l.at] = c
	}
	c.last = max(c.last, k)
	c.met[k] = true
	for name := range l.each {
		c.each[map[string]string{"consumed": "consumed_by_check{K}", "lost": "lost_by_check{K}"}[name]] = true
	}
	if l.left != nil {
		c.left[k] = true
	}
}

// sumUp turns counts that came line by line into running totals of baits gone.
func (b *builder) sumUp() {
	at := make([]int, 0, len(b.long))
	for k := range b.long {
		at = append(at, k)
	}
	sort.Ints(at)
	for _, k := range at {
		c := b.long[k]
		x := &b.r.Records[k]
		l := lineReader{b: b, s: c.s, t: x.table, i: x.line, x: x, at: k, met: c.met}
		if len(c.left) > 0 {
			l.left = c.left
		}
		if len(c.each) > 0 {
			l.each = c.each
		}
		l.counts(c.last, func(base string) bool {
			return c.s.has(strings.TrimRight(strings.TrimSuffix(base, "_by_check"), "0123456789")) || c.s.has(strings.Split(base, "_by_check")[0])
		})
	}
}

// checkNumbers reads what stands in a column of checks: numbers, hours, words.
func (b *builder) checkNumbers(s *shape) map[string]int {
	out := map[string]int{}
	c := s.to("check")
	if c < 0 {
		return out
	}
	hours := map[string]float64{}
	whole := map[string]int{}
	most := 0
	s.each(c, func(text string) {
		if _, done := whole[text]; done || text == "" {
			return
		}
		if n, err := strconv.Atoi(text); err == nil && n > 0 {
			whole[text] = n
			most = max(most, n)
			return
		}
		p := plain(text)
		if n, ok := ordinals[p]; ok {
			out[text] = n
		} else if _, n, h, ok := checkOf(" " + p); ok && n > 0 {
			out[text] = n
		} else if ok && h > 0 {
			hours[text] = h
		}
	})
	// 1 and 24 are hours where no check 2 lies between.
	asHours := most > len(whole) && len(whole) > 0
	for _, n := range whole {
		asHours = asHours && inList(float64(n), b.p.a.c.NominalH)
	}
	for text, n := range whole {
		if asHours {
			hours[text] = float64(n)
		} else if n <= sheet.MaxChecks {
			out[text] = n
		}
	}
	var sorted []float64
	for _, h := range hours {
		if !inList(h, sorted) {
			sorted = append(sorted, h)
		}
	}
	sort.Float64s(sorted)
	for text, h := range hours {
		for k, v := range sorted {
			if v == h {
				out[text] = k + 1
			}
		}
	}
	if len(hours) > 0 && !b.p.a.done["hours!"+s.m.Fingerprint] {
		b.p.a.done["hours!"+s.m.Fingerprint] = true
		b.p.a.reason(s.where(c), said("intake.why-check-hours"))
	}
	return out
}

func inList(h float64, list []float64) bool {
	for _, v := range list {
		if v == h {
			return true
		}
	}
	return false
}

// each calls do for every cell of column c.
func (s *shape) each(c int, do func(text string)) {
	for _, t := range s.tables {
		for i := range t.Len() {
			text, _ := t.Cell(i, c)
			do(text)
		}
	}
}

// childFates files the fates of a line of stakes.
func (b *builder) childFates(l *lineReader, numbers map[string]int) {
	stake, _ := strconv.Atoi(l.own["stake"])
	check, _ := strconv.Atoi(l.own["check"])
	if fate := l.own["fate"]; fate != "" {
		b.fate(l, assay.StakeFate{Stake: stake, Check: max(check, 1), Fate: assay.Fate(fate), How: assay.How(l.own["how"])})
	}
	for _, m := range l.marks {
		f := field{base: "fate", c: m.c, values: l.s.m.Values["fate"]}
		f.def, _, _ = sheet.Find(sheet.Stakes, "fate")
		v, fault := f.text(&l.s.m, m.raw)
		if fault != nil {
			l.fault(m.c, fault)
			continue
		}
		if v == "" {
			continue
		}
		one := assay.StakeFate{Stake: stake, Check: max(check, 1), Fate: assay.Fate(v)}
		if n, ok := strings.CutPrefix(m.of, "stake"); ok {
			one.Stake, _ = strconv.Atoi(n)
		} else if n, ok := strings.CutPrefix(m.of, "check"); ok {
			one.Check, _ = strconv.Atoi(n)
		}
		b.fate(l, one)
	}
}

func (b *builder) fate(l *lineReader, f assay.StakeFate) {
	key := fateKey{l.at, f.Check}
	for _, old := range b.fates[key] {
		if old.Stake == f.Stake {
			if old.Fate != f.Fate || old.How != f.How {
				b.r.Faults = append(b.r.Faults, Fault{Place: l.t.Place(l.i, max(l.s.to("stake"), 0)), Wrong: said("intake.stake-twice", "stake", f.Stake, "check", f.Check), Do: said("intake.lines-disagree-do")})
			}
			return
		}
	}
	b.fates[key] = append(b.fates[key], f)
}

func (b *builder) writeFates() {
	keys := make([]fateKey, 0, len(b.fates))
	for key := range b.fates {
		keys = append(keys, key)
	}
	sort.Slice(keys, func(i, j int) bool {
		return keys[i].rec < keys[j].rec || keys[i].rec == keys[j].rec && keys[i].check < keys[j].check
	})
	for _, key := range keys {
		fates := b.fates[key]
		b.r.Records[key.rec].set("fates_at_check"+strconv.Itoa(key.check), sheet.FormatFates(fates))
	}
}

// writeSightings reads the texts gathered for each record once their times
// stand, and keeps them as one text.
func (b *builder) writeSightings() {
	for at, list := range b.seen {
		out := make([]assay.Sighting, 0, len(list))
		for _, v := range list {
			one, faults := sheet.Sighting(v)
			if len(faults) == 0 {
				out = append(out, one)
			}
		}
		b.r.Records[at].set("sightings", sheet.FormatSightings(out))
	}
}

var markLetter = pattern.New(`^[\p{L}\d]{1,8}$`)

// fateMarks asks what marks for fates mean that are no word of the datasheet.
func (p *plan) fateMarks(s *shape) {
	if s.m.Table != sheet.Stakes {
		return
	}
	def, _, _ := sheet.Find(sheet.Stakes, "fate")
	seen := map[string]int{}
	at := map[string]int{}
	for c, col := range s.m.Columns {
		if col.To != "fate" && !strings.HasPrefix(col.To, toFate) {
			continue
		}
		s.each(c, func(text string) {
			if text != "" && !isBlank(text) {
				seen[text]++
				at[text] = c
			}
		})
	}
	spanish := false
	for _, h := range s.headings {
		spanish = spanish || strings.Contains(" estaca revision fila sitio cebo destino estado ", " "+plain(h)+" ")
	}
	if s.m.Values == nil {
		s.m.Values = map[string]map[string]string{}
	}
	meant := s.m.Values["fate"]
	if meant == nil {
		meant = map[string]string{}
		s.m.Values["fate"] = meant
	}
	for _, w := range sortedKeys(seen) {
		if _, ok := meant[w]; ok {
			continue
		}
		if _, fault := sheet.ParseWord(def, "fate", w); fault == nil {
			continue
		}
		key := plain(w)
		known, sure := wordsFor["fate"][key]
		if sure && !(key == "p" && spanish) {
			continue
		}
		guess := known
		if guess == "" {
			guess = unclearFates[key]
		}
		if guess == "" && !markLetter.MatchString(w) {
			continue // nothing like a mark: told as a fault
		}
		q := Question{Key: "value:fate:" + w, Said: said("intake.ask-fate", "written", w, "n", seen[w]), Where: s.where(at[w]), Options: options(def.Words...), Proposal: guess, Why: said("intake.because-usual-mark")}
		if guess == "" {
			q.Why = assay.Said{}
		}
		if v, _ := p.a.ask(q); v != "" {
			meant[w] = v
		}
	}
}
