package paper

import (
	"slices"
	"strings"

	"soakline/internal/figure"
)

// MaxPerPage is how many rows stand on one page at most: with more, boxes are
// no longer for a gloved hand.
const MaxPerPage = 3

// stripPages prints several rows on a page, with counts. Each row is a strip of
// its own that says which row it is at both ends.
func stripPages(o SheetOptions) ([]*page, error) {
	if o.PerPage > MaxPerPage || o.Level == Stakes {
		return nil, &NoRoom{What: string(o.Level)}
	}
	var pages []*page
	for from := 0; from < len(o.Rows); from += o.PerPage {
		p := newPage(o.Size, o.Lang)
		rows := o.Rows[from:min(from+o.PerPage, len(o.Rows))]
		s := fieldSheet{o: o, r: shared(rows)}
		y := p.stripTop(&s)
		foot := 13.0
		h := (p.Bottom() - foot - y) / float64(o.PerPage)
		for i, r := range rows {
			s := fieldSheet{o: o, r: r}
			p.Record = r.ID
			if s.r.Date == shared(rows).Date {
				s.r.Date = "" // said at the top
			}
			s.strip(p, y+float64(i)*h, h)
		}
		p.Record = ""
		text := p.say("sheet.order") + " " + p.say("caution.field")
		st := small.Sized(2.3)
		if y := p.Paragraph(st, p.Left(), p.Bottom()-foot+2, p.Inner(), text); y > p.Size.H-5 {
			p.Fault(&NoRoom{What: text})
		}
		p.Title = join(ids(rows)...)
		pages = append(pages, p)
	}
	return pages, nil
}

func ids(rows []Row) []string {
	var out []string
	for _, r := range rows {
		out = append(out, r.ID)
	}
	return out
}

// shared is what all rows of a page have in common.
func shared(rows []Row) Row {
	r := rows[0]
	same := func(f func(Row) string) string {
		for _, x := range rows {
			if f(x) != f(r) {
				return ""
			}
		}
		return f(r)
	}
	return Row{
		Date: same(func(r Row) string { return r.Date }), Zone: same(func(r Row) string { return r.Zone }),
		Names: same(func(r Row) string { return r.Names }), Permit: same(func(r Row) string { return r.Permit }),
		Emergency: Emergencies(rows), Ashore: same(func(r Row) string { return r.Ashore }),
	}
}

// Emergencies are whom to call at the sites of rows: one line where it is the same
// for all, else each once with its site, so that none is taken for another's.
func Emergencies(rows []Row) string {
	var lines []string
	one := true
	for _, r := range rows {
		one = one && r.Emergency == rows[0].Emergency
		if line := r.Site + ": " + r.Emergency; r.Emergency != "" && !slices.Contains(lines, line) {
			lines = append(lines, line)
		}
	}
	if one && len(rows) > 0 {
		return rows[0].Emergency
	}
	return strings.Join(lines, "; ")
}

// stripTop is what the rows of a page share: people, watch, whom to call.
func (p *page) stripTop(s *fieldSheet) float64 {
	y := marginMM
	if s.o.Invented {
		p.Set(smallBold, p.Right(), y+1.5, figure.End, s.o.Lang.Say("invented", nil))
		y += 3
	}
	visits := make([]int, min(1+len(s.o.Protocol.Checks), 4))
	for i := range visits {
		visits[i] = 2
	}
	b := fieldsBlock("top", s.inner(),
		field{label: s.say("field.date"), groups: []int{4, 2, 2}, sep: "-", value: s.date()},
		field{label: s.say("field.heads-out-each"), groups: visits}, field{label: s.say("field.heads-back-each"), groups: visits},
		timeField(s.say("field.watch")), s.write("field.watch-against", "", 26), s.write("field.names", s.r.Names, 60),
		s.write("field.emergency", s.r.Emergency, 50), s.write("field.ashore", s.r.Ashore, 50), s.write("field.permit", s.r.Permit, 34))
	b.draw(p, y, b.h)
	return y + b.h
}

// strip is one row on a page of several.
func (s *fieldSheet) strip(p *page, y, h float64) {
	n := s.baits()
	p.Rule(p.Left(), y, p.Right(), y, boxMM*1.6)
	x, right := p.Left(), p.Right()
	about := join(s.r.Site, s.r.Habitat, s.date(), s.leaveBy())
	if s.r.ID != "" {
		side := codeSide(s.r.ID, 17.4)
		p.code(s.r.ID, x-2, y+0.4, side)
		p.code(s.r.ID, right-side+2, y+h-side-0.4, side)
		p.ident(s.r.ID, x+side, y+6.4, 60, 5)
		p.SetFit(plain, x+side+62, y+6.2, right-x-side-62, figure.Start, about)
		x += side
	} else {
		p.ident("", x, y+6.4, 60, 5)
		p.SetFit(plain, x+114, y+6.2, right-x-114, figure.Start, about)
	}
	fs := []field{}
	if s.r.Site == "" {
		fs = append(fs, s.write("field.site-habitat", "", 20))
	}
	fs = append(fs, timeField(s.say("field.first-in")).orValue(s.r.SetOut), timeField(s.say("field.last-in")).orValue(s.r.SetOutUntil),
		countField(s.say("field.stakes-out"), n))
	t := y + 7.6
	t = p.flow(x, t, right-x, fs)
	x = p.Left()
	full := right - x
	for k, c := range s.o.Protocol.Checks {
		due := Hours(c.SoakH)
		if k < len(s.r.Due) {
			due += " (" + s.r.Due[k].At + ")"
		}
		fs := []field{timeField(due + " " + s.say("field.from")), timeField(s.say("field.until")),
			s.fateCount("fate.consumed", figure.Consumed, n), s.fateCount("fate.not-known", figure.NotKnown, n),
			s.fateCount("fate.unread", figure.Unread, n), s.write("field.why-not-short", "", 24)}
		t = p.flow(x, t, full, fs)
	}
	side := 0.0
	if s.r.ID != "" {
		side = codeSide(s.r.ID, 17.4)
		p.ident(s.r.ID, x, y+h-1.6, full-side, 3.6)
	}
	t = p.flow(x, t, full-side, []field{countField(s.say("field.stakes-back", "n", n), n), timeField(s.say("field.back-at")),
		s.write("field.first-position", s.r.FirstPosition, 40), s.write("field.last-position", "", 40)})
	limit := y + h - 5.5
	if rest := limit - t; rest > 24 { // two rows on a page: room for landmarks
		p.Set(smallBold, x, t+smallMM+0.6, figure.Start, s.say("head.sketch"))
		p.SetFit(small, x+smallBold.Width(s.say("head.sketch"))+2, t+smallMM+0.6, full-side-smallBold.Width(s.say("head.sketch"))-4, figure.Start, s.say("head.sketch-remark"))
		p.box(x, t+5, full-side-2, rest-6)
	}
	if t > limit+1+1e-6 {
		p.Fault(&NoRoom{What: join(s.r.ID, s.say("sheet.several"))})
	}
}

// leaveBy lists the times to turn back, of setting and of each check.
func (s *fieldSheet) leaveBy() string {
	var at []string
	for _, d := range append([]Due{s.r.Setting}, s.r.Due...) {
		if d.LeaveBy != "" && !slices.Contains(at, d.LeaveBy) {
			at = append(at, d.LeaveBy)
		}
	}
	if len(at) == 0 {
		return ""
	}
	return s.say("due-leave-by", "value", strings.Join(at, ", "))
}

// flow sets fields in as many lines as they need and gives the y below them.
func (p *page) flow(x, y, width float64, fs []field) float64 {
	b := fieldsBlock("flow", width, fs...)
	b.at(p, x, y)
	return y + b.h
}
