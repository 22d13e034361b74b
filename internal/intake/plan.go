package intake

import (
	"slices"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/sheet"
)

// plan is the work on one set of tables: their shapes, and what was asked.
type plan struct {
	a      asker
	shapes []*shape
	of     map[*Table]*shape
}

// Proposal is what Propose found: a map for each shape of table, how each guess
// was come to, and what is open.
type Proposal struct {
	Maps      []Map
	Reasons   []Reason
	Questions []Question
	Taken     []Taken
	Faults    []Fault // answers that are none
}

// Propose says how the tables are to be read: the kept map of a shape, or one
// made from its headings and values.
func Propose(tables []Table, c Context) Proposal {
	p := newPlan(tables, c)
	p.spellings()
	var out Proposal
	for _, s := range p.shapes {
		out.Maps = append(out.Maps, s.m)
	}
	out.Reasons, out.Questions, out.Taken, out.Faults = p.a.reasons, p.a.questions, p.a.taken, p.a.faults
	return out
}

func newPlan(tables []Table, c Context) *plan {
	if c.NominalH == nil {
		c.NominalH = []float64{1, 24}
	}
	p := &plan{a: asker{c: &c, done: map[string]bool{}}, of: map[*Table]*shape{}}
	byPrint := map[string]*shape{}
	for i := range tables {
		t := &tables[i]
		print := Fingerprint(t)
		s := byPrint[print]
		if s == nil {
			s = &shape{m: Map{Fingerprint: print, Name: baseName(t.File)}}
			for _, h := range t.Header {
				s.headings = append(s.headings, h.String())
			}
			byPrint[print] = s
			p.shapes = append(p.shapes, s)
		}
		s.tables = append(s.tables, t)
		p.of[t] = s
	}
	for _, s := range p.shapes {
		for _, kept := range c.Maps {
			if kept.Fingerprint == s.m.Fingerprint && len(kept.Columns) == len(s.headings) {
				s.m, s.kept = kept.clone(), true
				p.a.reason(s.tables[0].Place(-1, -1), said("intake.why-kept-map", "name", kept.Name))
			}
		}
		if !s.kept {
			p.proposeColumns(s)
		}
	}
	p.habits()
	for _, s := range p.shapes {
		s.ready()
	}
	return p
}

// ready notes what reading asks of a shape line by line.
func (s *shape) ready() {
	for _, col := range s.m.Columns {
		base, ending := cutEnding(col.To)
		if _, k, ok := sheet.Find(sheet.Wide, base); ok {
			s.checks = max(s.checks, k)
		}
		s.left = s.left || ending == asLeft
	}
}

func (m Map) clone() Map {
	m.Columns = slices.Clone(m.Columns)
	m.Hours = slices.Clone(m.Hours)
	values := map[string]map[string]string{}
	for k, v := range m.Values {
		values[k] = map[string]string{}
		for a, b := range v {
			values[k][a] = b
		}
	}
	m.Values = values
	constants := map[string]string{}
	for k, v := range m.Constants {
		constants[k] = v
	}
	m.Constants = constants
	return m
}

func baseName(file string) string {
	if i := strings.LastIndexAny(file, `/\`); i >= 0 {
		file = file[i+1:]
	}
	if i := strings.LastIndexByte(file, '.'); i > 0 {
		file = file[:i]
	}
	return file
}

// meanings settles columns of counts whose heading leaves open whether they
// hold baits gone or baits left.
func (p *plan) meanings(s *shape, says []sayOf) {
	t := s.tables[0]
	for c, x := range says {
		base, ending := cutEnding(s.m.Columns[c].To)
		if _, told := p.a.c.Answers["map:"+x.heading]; told || !x.weak || ending != "" || !strings.HasPrefix(base, "consumed") {
			continue
		}
		col := &s.m.Columns[c]
		if x.target == "" {
			// A bare check: do the counts rise or fall from check to check?
			rise, fall, over := p.trend(s, says)
			switch {
			case rise >= 2 && fall == 0:
				p.a.reason(t.Place(-1, c), said("intake.why-rising", "n", rise))
				continue
			case fall >= 2 && rise == 0 && over >= 1:
				// Counts of each interval may fall too, but not add up to more
				// than the baits.
				col.To = base + asLeft
				p.a.reason(t.Place(-1, c), said("intake.why-falling", "n", fall))
				continue
			}
		}
		if x.target != "" && s.has("lost"+strings.TrimPrefix(base, "consumed")) {
			p.a.reason(t.Place(-1, c), said("intake.why-lost-apart", "heading", x.heading))
			continue
		}
		// One question for the same word at every check.
		word, _, _, _ := checkOf(plain(x.heading))
		if word = significant(word); word == "" {
			word = "check"
		}
		q := Question{Key: "meaning:" + word, Said: said("intake.ask-meaning", "heading", x.heading), Where: t.Place(-1, c),
			Options: options("gone", "left", "lost", "each"), Proposal: "gone", Why: said("intake.because-usual-word")}
		if rise, fall, _ := p.trend(s, says); x.target == "" && fall > rise {
			q.Proposal, q.Why = "each", said("intake.because-falling", "n", fall)
		}
		v, _ := p.a.ask(q)
		switch v {
		case "left":
			col.To = base + asLeft
		case "each":
			col.To = base + asEach
		case "lost":
			col.To = "lost" + strings.TrimPrefix(base, "consumed")
		}
	}
	p.contradictedLeft(s)
}

// contradictedLeft asks about baits said to be left whose number grows from
// check to check: then the heading, or our reading of it, is wrong.
func (p *plan) contradictedLeft(s *shape) {
	var cols []int
	for c, col := range s.m.Columns {
		if base, ending := cutEnding(col.To); ending == asLeft && strings.HasPrefix(base, "consumed_by_check") {
			cols = append(cols, c)
		}
	}
	if len(cols) < 2 {
		return
	}
	rise, fall, _ := s.compare(cols)
	if rise < 2 || rise <= fall {
		return
	}
	q := Question{Key: "left-rises", Said: said("intake.ask-left-rises", "heading", s.headings[cols[0]], "n", rise), Where: s.tables[0].Place(-1, cols[0]),
		Options: options("left", "gone"), Proposal: "gone", Why: said("intake.because-rising", "n", rise)}
	if v, _ := p.a.ask(q); v == "gone" {
		for _, c := range cols {
			s.m.Columns[c].To = cutBase(s.m.Columns[c].To)
		}
	}
}

// trend counts the lines on which bare counts rise and fall between checks, and
// those on which they add up to more than the baits.
func (p *plan) trend(s *shape, says []sayOf) (rise, fall, over int) {
	var cols []int
	for c, x := range says {
		if x.target == "" && x.known && strings.HasPrefix(s.m.Columns[c].To, "consumed") {
			cols = append(cols, c)
		}
	}
	return s.compare(cols)
}

func (s *shape) compare(cols []int) (rise, fall, over int) {
	baitsAt := s.to("baits_deployed")
	for _, t := range s.tables {
		for i := range min(t.Len(), 4000) {
			last, up, down, sum := -1, false, false, 0
			baits := 0
			if baitsAt >= 0 {
				text, _ := t.Cell(i, baitsAt)
				baits, _ = strconv.Atoi(text)
			}
			for _, c := range cols {
				text, _ := t.Cell(i, c)
				n, err := strconv.Atoi(text)
				if err != nil {
					continue
				}
				up, down = up || last >= 0 && n > last, down || last >= 0 && n < last
				last = n
				sum += n
			}
			if baits > 0 && sum > baits {
				over++
			}
			if up {
				rise++
			}
			if down {
				fall++
			}
		}
	}
	return rise, fall, over
}

// to finds the column that goes to a target; -1 when none does.
func (s *shape) to(target string) int {
	return slices.IndexFunc(s.m.Columns, func(c Column) bool { return c.To == target })
}

// has says whether any column goes to base, whole or in part.
func (s *shape) has(base string) bool {
	return slices.ContainsFunc(s.m.Columns, func(c Column) bool { return cutBase(c.To) == base })
}

// instants are the columns of times of one shape.
func (s *shape) instants() []int {
	var out []int
	for c, col := range s.m.Columns {
		base, ending := cutEnding(col.To)
		def, _, ok := sheet.Find(s.m.Table, base)
		if !ok {
			def, _, ok = sheet.Find(sheet.Wide, base)
		}
		if ok && def.Kind == sheet.Instant && ending != asAfter {
			out = append(out, c)
		}
	}
	return out
}

// where is the place of a shape's heading.
func (s *shape) where(c int) assay.Place { return s.tables[0].Place(-1, c) }
