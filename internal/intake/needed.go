package intake

import (
	"strconv"
	"strings"

	"soakline/internal/pattern"
	"soakline/internal/sheet"
	"soakline/internal/words"
)

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

// noSite are the names that programs and people give to any sheet.
var noSite = pattern.New(`^(?:sheet|hoja|data|datos|table|tabla|log|records|registros)(?: \d+)?$`)

func (p *plan) siteOfSheet(s *shape) {
	t := s.tables[0]
	name := t.Sheet
	if name == "" || noSite.MatchString(plain(name)) {
		p.a.faults = append(p.a.faults, Fault{Place: t.Place(-1, -1), Wrong: said("intake.column-missing", "column", "site"), Do: said("intake.column-missing-do", "column", "site")})
		return
	}
	q := Question{Key: "sheet-name", Said: said("intake.ask-sheet-name", "sheet", name), Where: t.Place(-1, -1), Options: options("site", "none"), Proposal: "site", Why: said("intake.because-no-site")}
	s.m.SheetName, _ = p.a.ask(q)
}

// besideColumns are the columns that a block of keys and values may give for
// all lines of its table; what differs from row to row is not among them.
var besideColumns = map[string]bool{"programme": true, "season": true, "team": true, "protocol": true, "site": true, "habitat": true, "observers": true, "baits_deployed": true,
	"bait_kind": true, "bait_form": true, "bait_size_mm": true, "bait_batch": true, "spacing_m": true, "control": true, "practice": true, "temperature_c": true, "salinity": true, "visibility_m": true,
	"deployed_at:date": true, "latitude": true, "longitude": true, toPosition: true}

// metaValue is what the pairs beside a table say for a column. A total or a
// bare n beside a table is a sum over it, not the number of baits of a row.
func metaValue(t *Table, column string) (Pair, bool) {
	if !besideColumns[column] {
		return Pair{}, false
	}
	for _, m := range t.Meta {
		if key := plain(m.Key); totalWords[key] || key == "n" {
			continue
		}
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
