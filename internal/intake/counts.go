package intake

import (
	"strconv"
	"strings"

	"soakline/internal/sheet"
)

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
