package intake

import (
	"slices"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/pattern"
	"soakline/internal/sheet"
)

// shape is all tables of one layout and their map. What a column's values say
// is looked for in all of them.
type shape struct {
	m        Map
	tables   []*Table
	headings []string
	kept     bool // the map was kept: nothing is proposed anew
	written  map[string]string
	sited    bool // it names sites
	ownTimes bool // of a table beside: its bare date and time are the check's
	checks   int  // highest number of a check its columns name
	left     bool // some column counts baits left
}

// sayOf is what a heading was found to mean, before values are looked at.
type sayOf struct {
	meaning
	each, sofar bool
	known       bool
	heading     string
}

var eachWords = pattern.New(`\b(new|newly|nuevos?|nuevas?|since|interval|intervalo|each|additional|more|desde)\b`)
var sofarWords = pattern.New(`\b(so far|cumulative|cum|acumulados?|acumuladas?|total|totals|hasta ahora|to date|en total|until then)\b`)

// meaningOf reads a heading of one or two lines.
func meaningOf(h Heading) sayOf {
	s := sayOf{heading: h.String()}
	text := plain(h.Text)
	// What stands in brackets counts here: "eaten (new)".
	all := plain(strings.NewReplacer("(", " ", ")", " ", "[", " ", "]", " ").Replace(h.Text))
	if _, _, canonical := sheet.Find(sheet.Wide, strings.ToLower(h.Text)); !canonical {
		if eachWords.MatchString(all) {
			s.each = true
			text = strings.Join(strings.Fields(eachWords.ReplaceAllString(text, " ")), " ")
		}
		if sofarWords.MatchString(all) && text != "total" {
			s.sofar = true
			text = strings.Join(strings.Fields(sofarWords.ReplaceAllString(text, " ")), " ")
		}
		if !s.each && !s.sofar {
			text = h.Text
		}
	} else {
		text = h.Text
	}
	over := plain(h.Over)
	if _, _, _, named := checkOf(over); named {
		if s.meaning, s.known = readHeading(over + " " + text); s.known {
			return s
		}
	}
	if over != "" {
		if g, ok := dictionary()[over]; ok && cutBase(g.target) == "deployed_at" {
			if m, ok := readHeading(text); ok && (isTimeWord(m.target) || m.target == "check{K}_at") {
				_, ending := cutEnding(m.target)
				s.meaning, s.known = meaning{target: "deployed_at" + ending}, true
				return s
			}
		}
	}
	if s.meaning, s.known = readHeading(text); !s.known && over != "" {
		s.meaning, s.known = readHeading(over + " " + text)
	}
	return s
}

func cutBase(to string) string { b, _ := cutEnding(to); return b }

func isTimeWord(target string) bool {
	return strings.HasSuffix(target, asDate) || strings.HasSuffix(target, asTime)
}

// proposeColumns fills the map's table and columns.
func (p *plan) proposeColumns(s *shape) {
	t := s.tables[0]
	says := make([]sayOf, len(t.Header))
	has := map[string]bool{}
	numbered := false
	for c, h := range t.Header {
		says[c] = meaningOf(h)
		if says[c].known {
			has[says[c].target] = true
			numbered = numbered || says[c].check > 0 || says[c].soakH > 0
		}
	}
	s.m.Table = tableKind(has, numbered, says)
	if s.m.Table != sheet.Wide && s.m.Table != sheet.Sightings {
		p.stakeMatrix(s, says)
	}
	s.m.Hours = hoursOf(says)
	if len(s.m.Hours) > 0 {
		// T1 beside T24 means an hour, not a number.
		for c := range says {
			if x := &says[c]; x.known && x.loose && x.check > 0 {
				x.soakH, x.check = float64(x.check), 0
			}
		}
		s.m.Hours = hoursOf(says)
	}
	p.numberChecks(s, says)
	taken := map[string]int{}
	// A table that has no site of its own, or names setting out apart, speaks of
	// the check where it says only "date" and "time".
	s.sited = has["site"]
	s.ownTimes = !has["checked_at"] && !has["checked_at:date"] && (!has["site"] || has["deployed_at"] && has["deployed_at:date"])
	s.m.Columns = make([]Column, len(says))
	for c := range says {
		s.m.Columns[c] = p.column(s, says[c], c, taken)
	}
	p.corrected(s)
	p.meanings(s, says)
	p.whichColumn(s)
	for c := range s.m.Columns {
		col := s.m.Columns[c]
		if col.Heading == "" && col.To == toSkip {
			continue
		}
		p.a.reasons = append(p.a.reasons, Reason{Where: t.Place(-1, c), Heading: col.Heading, To: col.To, Said: p.whyColumn(says[c], col)})
	}
}

// corrected takes what a person said of single columns: answers with the key
// "map:" and the heading, whose values are targets of a Column.
func (p *plan) corrected(s *shape) {
	for c := range s.m.Columns {
		col := &s.m.Columns[c]
		to, ok := p.a.c.Answers["map:"+col.Heading]
		switch {
		case !ok:
		case s.m.knows(to):
			col.To = to
		default:
			p.a.faults = append(p.a.faults, Fault{Place: s.where(c), Wrong: said("intake.answer-unknown", "value", to, "key", "map:"+col.Heading), Do: said("intake.map-choose")})
		}
	}
}

// tableKind is which of the datasheet's tables the headings speak of.
func tableKind(has map[string]bool, numbered bool, says []sayOf) sheet.Table {
	switch {
	case has["taxon"] && !numbered:
		return sheet.Sightings
	case has["fate"], has["stake"] && (numbered || has["check"]):
		return sheet.Stakes
	case has["check"] && !numbered:
		digits := 0
		for _, s := range says {
			if _, err := strconv.Atoi(s.heading); err == nil {
				digits++
			}
		}
		if digits >= 5 {
			return sheet.Stakes
		}
		return sheet.Checks
	}
	return sheet.Wide
}

var stakeHeading = pattern.New(`^(?:stake|estaca|s|e|bait|cebo|peg)? ?(\d{1,3})$`)

// stakeMatrix reads headings that are stakes (1, 2, 3 …) or, beside a column of
// stakes, checks (1 h, 24 h): the cells are fates.
func (p *plan) stakeMatrix(s *shape, says []sayOf) {
	if s.m.Table != sheet.Stakes {
		return
	}
	byStake := false
	for _, x := range says {
		byStake = byStake || x.known && x.target == "stake"
	}
	for c := range says {
		x := &says[c]
		if m := stakeHeading.FindStringSubmatch(plain(x.heading)); m != nil && !byStake {
			x.meaning, x.known = meaning{target: toFate + "stake" + strings.TrimLeft(m[1], "0")}, true
		} else if byStake && x.known && (x.target == "" || x.target == "fate" || x.target == "check{K}_at") && (x.check > 0 || x.soakH > 0) {
			x.target = toFate + "check{K}"
		}
	}
}

func hoursOf(says []sayOf) []float64 {
	var hours []float64
	for _, s := range says {
		if s.known && s.soakH > 0 && !slices.Contains(hours, s.soakH) {
			hours = append(hours, s.soakH)
		}
	}
	sort.Float64s(hours)
	return hours
}

// wideOf are the columns of a table of deployments for those of one of checks.
var wideOf = map[string]string{"consumed": "consumed_by_check{K}", "lost": "lost_by_check{K}", "unread": "unread_at_check{K}", "checked_at": "check{K}_at"}

// numberChecks gives each heading of a check its number: as it says, by the
// order of its hours, or by how often the same heading came before.
func (p *plan) numberChecks(s *shape, says []sayOf) {
	if s.m.Table == sheet.Checks || s.m.Table == sheet.Sightings {
		return
	}
	count := map[string]int{}
	for c := range says {
		x := &says[c]
		if !x.known {
			continue
		}
		if base, ending := cutEnding(x.target); s.m.Table == sheet.Wide && wideOf[base] != "" {
			x.target = wideOf[base] + ending // a check's own names in a table without a column of checks
		}
		if x.soakH > 0 {
			x.check = slices.Index(s.m.Hours, x.soakH) + 1
			continue
		}
		if strings.Contains(x.target, "{K}") && x.check == 0 {
			count[x.target]++
			x.check = count[x.target]
		}
	}
}

// column settles the target of column c from its heading alone.
func (p *plan) column(s *shape, x sayOf, c int, taken map[string]int) Column {
	h := s.tables[0].Header[c]
	col := Column{Heading: x.heading, To: toSkip}
	if x.heading == "" {
		return col
	}
	to := strings.Replace(x.target, "{K}", strconv.Itoa(max(x.check, 1)), 1)
	switch {
	case !x.known:
		to = toCovar + x.heading
	case x.target == "":
		// Only the check is named: its counts or its time, as the values say.
		to = "consumed_by_check" + strconv.Itoa(max(x.check, 1))
		if p.mostlyStamps(s, c) {
			to = "check" + strconv.Itoa(max(x.check, 1)) + "_at"
		}
	}
	if to = p.forTable(s, to); !s.m.knows(to) {
		to = toCovar + x.heading // a column of another kind of table
	}
	base, ending := cutEnding(to)
	if def, _, ok := p.find(s.m.Table, base); ok && def.Kind == sheet.Instant {
		if !strings.EqualFold(h.Text, base) { // the datasheet's own name holds both halves
			ending = p.timeEnding(s, c, ending)
		}
		to = base + ending
		if ending == "" {
			delete(taken, base+asDate)
		}
	} else if ok && def.Kind == sheet.Count {
		if x.each {
			to = base + asEach
		}
	} else if ok && (def.Kind == sheet.Number) {
		col.Unit = otherUnit(def.Unit, h.Unit)
	}
	if at, twice := taken[to]; twice && to != toSkip {
		if x.weak && strings.HasPrefix(base, "consumed_by_check") {
			to = "lost" + strings.TrimPrefix(base, "consumed") // gone beside eaten
			if _, twice = taken[to]; !twice {
				taken[to] = c
				col.To = to
				return col
			}
		}
		if says := s.m.Columns[at]; says.Heading != "" {
			to = toCovar + x.heading
		}
	}
	to = ownName(to, taken)
	taken[to] = c
	col.To = to
	return col
}

// ownName gives a further column a name that no other column has: a second
// "notes" becomes "notes 2", so that neither is lost.
func ownName(to string, taken map[string]int) string {
	if !strings.HasPrefix(to, toCovar) {
		return to
	}
	name := to
	for n := 2; ; n++ {
		_, _, column := sheet.Find(sheet.Wide, name[len(toCovar):])
		if _, twice := taken[name]; !twice && !column {
			return name
		}
		name = to + " " + strconv.Itoa(n)
	}
}

// forTable turns the columns of deployments into those of tables with one line
// per check where the words are the same.
func (p *plan) forTable(s *shape, to string) string {
	t := s.m.Table
	base, ending := cutEnding(to)
	if t == sheet.Checks && base == "deployed_at" && s.ownTimes && (ending != "" || !s.sited) {
		return "checked_at" + ending
	}
	if t == sheet.Checks {
		switch base {
		case "consumed_by_check1":
			return "consumed" + ending
		case "lost_by_check1":
			return "lost" + ending
		case "unread_at_check1":
			return "unread" + ending
		case "check1_at":
			return "checked_at" + ending
		}
	}
	if t == sheet.Sightings && base == "deployed_at" && ending != "" {
		return "from" + ending
	}
	return to
}

// find is the column of table t, or of the deployments, that base names.
func (p *plan) find(t sheet.Table, base string) (sheet.Column, int, bool) {
	if c, k, ok := sheet.Find(t, base); ok {
		return c, k, ok
	}
	return sheet.Find(sheet.Wide, base)
}

// timeEnding corrects what a heading says of a column of times by its cells:
// "Date" over a date with a time holds both.
func (p *plan) timeEnding(s *shape, c int, ending string) string {
	if ending == asAfter {
		return ending
	}
	both, days, clocks := 0, 0, 0
	s.sample(c, func(text string, k Kind) {
		st, ok := readStamp(text, k, "", serialsOf(s.tables[0]))
		switch {
		case !ok:
		case st.hasDate && st.hasClock && (st.sec != 0 || k != Moment):
			both++
		case st.hasDate:
			days++
		case st.hasClock:
			clocks++
		}
	})
	switch {
	case both+days+clocks == 0:
		return ending
	case both >= days && both >= clocks:
		return ""
	case days > clocks:
		return asDate
	}
	return asTime
}

func serialsOf(t *Table) string {
	if t.Date1904 {
		return "1904"
	}
	return "1900"
}

// sample calls do for up to a few thousand filled cells of column c.
func (s *shape) sample(c int, do func(text string, k Kind)) {
	left := 4000
	for _, t := range s.tables {
		for i := 0; i < t.Len() && left > 0; i++ {
			if text, k := t.Cell(i, c); text != "" && !isBlank(text) {
				do(text, k)
				left--
			}
		}
	}
}

// mostlyStamps says whether a column's cells are times rather than counts.
func (p *plan) mostlyStamps(s *shape, c int) bool {
	stamps, n := 0, 0
	s.sample(c, func(text string, k Kind) {
		n++
		if _, err := strconv.Atoi(text); err == nil {
			return
		}
		if _, ok := readStamp(text, k, "", ""); ok {
			stamps++
		}
	})
	return n > 0 && stamps*2 > n
}

// otherUnit is the unit of a heading when it is not the datasheet's own and we
// know how to turn it; empty else.
func otherUnit(own, written string) string {
	u := strings.ToLower(strings.Trim(written, "° º."))
	switch {
	case own == "m" && (u == "cm" || u == "mm" || u == "ft" || u == "feet" || u == "pies"):
		return u
	case own == "mm" && (u == "cm" || u == "in" || u == "m"):
		return u
	case own == "°C" && u == "f":
		return u
	}
	return ""
}

// whyColumn says what the guess for a column stands on.
func (p *plan) whyColumn(x sayOf, col Column) assay.Said {
	base, ending := cutEnding(col.To)
	switch {
	case strings.HasPrefix(col.To, toCovar) && !x.known:
		return said("intake.why-covariate")
	case strings.HasPrefix(col.To, toCovar):
		return said("intake.why-second", "column", x.target)
	case col.To == toSkip:
		return said("intake.why-skip")
	case strings.EqualFold(x.heading, base):
		return said("intake.why-name")
	case p.a.c.Answers["map:"+col.Heading] != "":
		return said("intake.why-told")
	case x.target == "":
		return said("intake.why-check-only")
	case x.soakH > 0:
		return said("intake.why-hours", "hours", x.soakH, "check", x.check)
	case ending == asDate || ending == asTime:
		return said("intake.why-half")
	}
	return said("intake.why-word")
}
