package paper

import (
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/entry"
	"soakline/internal/figure"
	"soakline/internal/words"
)

// Row is one row for which a sheet is printed. What is known is printed; what
// is empty becomes a field to fill in. Texts are in the reader's language.
type Row struct {
	ID                           string // empty: a line to write it on, and no code
	Site, Habitat, Team, Names   string
	Season, BaitBatch, Bearing   string
	FirstPosition, Permit, Notes string
	Emergency, Ashore            string // whom to call; who waits, and until when
	Date, SetOut, SetOutUntil    string // local, as 2026-07-01 and 09:00
	Zone                         string // the clock by which times are told
	Baits                        int    // stakes of the row
	Control, Practice            bool
	Setting                      Due   // when to set out, where it is planned
	Due                          []Due // of each check, where known
}

// Due is when a visit is due, and from when to when it counts as on time: times
// of day, with the date where it is another day. Water, Light and LeaveBy are
// told where they are known: the depth then ("0.8 m"), when light begins or ends
// ("until 21:04"), the time to turn back.
type Due struct{ At, From, To, Water, Light, LeaveBy string }

// told is a visit in one line, empty where nothing is known.
func (s *fieldSheet) told(d Due) string {
	var parts []string
	switch {
	case d.At != "" && d.From != "":
		parts = append(parts, s.say("due", "at", d.At, "from", d.From, "to", d.To))
	case d.At != "":
		parts = append(parts, s.say("due-at", "at", d.At))
	}
	for _, x := range []struct{ slug, value string }{{"due-water", d.Water}, {"due-light", d.Light}, {"due-leave-by", d.LeaveBy}} {
		if x.value != "" {
			parts = append(parts, s.say(x.slug, "value", x.value))
		}
	}
	return join(parts...)
}

// toldBlock is that line on the page, never cut.
func (s *fieldSheet) toldBlock(d Due) block {
	t := s.told(d)
	if t == "" {
		return block{}
	}
	return s.lineBlock(smallBold.Sized(3), t)
}

// lineBlock is a paragraph between the fields.
func (s *fieldSheet) lineBlock(st style, t string) block {
	return block{what: t, h: st.Tall(t, s.inner()) + 0.8, draw: func(p *page, y, _ float64) { p.Paragraph(st, p.Left(), y+0.2, s.inner(), t) }}
}

// Level is how finely fates are written down.
type Level string

// The levels: how many of each fate, or the fate of every stake.
const (
	Counts Level = "counts"
	Stakes Level = "stakes"
)

// SheetOptions say how field sheets are printed.
type SheetOptions struct {
	Lang     words.Language
	Size     Size
	Level    Level
	PerPage  int // rows on one page: 1, or 2 to 4 with counts
	Protocol assay.Protocol
	Invented bool   // rows of the demo: every page says so
	Rows     []Row  // in the order of printing
	Title    string // of the file
}

// Sheets prints the field sheets. Errors: *NoGlyph, *NoCode, *NoRoom.
func Sheets(o SheetOptions) ([]byte, error) {
	pages, err := sheetPages(o)
	if err != nil {
		return nil, err
	}
	return write(pages, o.Lang, o.Title)
}

func sheetPages(o SheetOptions) ([]*page, error) {
	if o.PerPage > 1 {
		return stripPages(o)
	}
	var pages []*page
	for i := range o.Rows {
		s := fieldSheet{o: o, r: o.Rows[i]}
		got, err := s.pages(o.Rows[i].ID)
		if err != nil {
			return nil, err
		}
		pages = append(pages, got...)
	}
	return pages, nil
}

// fieldSheet is one row's sheet in the making.
type fieldSheet struct {
	o SheetOptions
	r Row
}

func (s *fieldSheet) say(slug string, pairs ...any) string {
	with := words.P{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return s.o.Lang.Say("paper."+slug, with)
}

// Of head and foot, mm.
const (
	headMMTall = 22.5
	footMMTall = 21.0
	codeMM     = 20.0
)

// pages flows the blocks over as many pages as they need; each has the row's
// identifier and code at its top and at its bottom.
func (s *fieldSheet) pages(id string) ([]*page, error) {
	blocks := s.blocks()
	room := s.o.Size.H - 2*marginMM - headMMTall - footMMTall
	var groups [][]block
	var group []block
	used := 0.0
	for _, b := range blocks {
		if b.h > room+1e-6 {
			return nil, &NoRoom{What: b.what}
		}
		if used+b.h > room+1e-6 {
			groups, group, used = append(groups, group), nil, 0
		}
		group, used = append(group, b), used+b.h
	}
	groups = append(groups, group)
	var out []*page
	for i, g := range groups {
		p := newPage(s.o.Size, s.o.Lang)
		p.Title, p.Record = id, id
		s.head(p, i+1, len(groups))
		y, rest, takers := marginMM+headMMTall, room, 0
		for _, b := range g {
			rest -= b.h
			if b.stretch {
				takers++
			}
		}
		for _, b := range g {
			h := b.h
			if b.stretch {
				h += rest / float64(takers)
			}
			b.draw(p, y, h)
			y += h
		}
		s.foot(p)
		out = append(out, p)
	}
	return out, nil
}

// head is the top of a page: code, identifier in letters, where and what.
func (s *fieldSheet) head(p *page, n, of int) {
	x, y := p.Left(), marginMM
	right := p.Right()
	if s.r.ID != "" {
		side := codeSide(s.r.ID, codeMM)
		p.code(s.r.ID, x-2, y-1.5, side)
		x += side + 1
	}
	note := ""
	if of > 1 {
		note = s.say("sheet.part", "n", n, "of", of)
	}
	if s.o.Invented {
		note = strings.TrimSpace(s.o.Lang.Say("invented", nil) + "  " + note)
	}
	if s.r.Practice {
		note = strings.TrimSpace(s.say("sheet.practice") + "  " + note)
	}
	if s.r.Control {
		note = strings.TrimSpace(s.say("sheet.control") + "  " + note)
	}
	p.SetFit(smallBold, right, y+2.6, right-x, figure.End, note)
	p.ident(s.r.ID, x, y+9.6, right-x, 7.5)
	base := y + 15.5
	if where := join(s.r.Site, s.r.Habitat); where != "" {
		p.SetFit(strong.Sized(4), x, y+15, right-x, figure.Start, where)
		base = y + 19.2
	}
	p.SetFit(small, x, base, right-x, figure.Start, join(s.protocol(), s.r.Season, s.r.Team))
}

// ident sets the identifier, never cut: smaller until it fits, else an error.
func (p *page) ident(id string, x, base, w, size float64) {
	if id == "" {
		label := p.say("row-blank")
		p.Set(strong.Sized(4), x, base, figure.Start, label)
		p.Rule(x+strong.Sized(4).Width(label)+2, base+0.5, x+min(w, 110), base+0.5, boxMM)
		return
	}
	st := strong.Sized(size)
	t := p.say("row", "id", id)
	if have := st.Width(t); have > w {
		st.SizeMM *= w / have * 0.999
	}
	if st.SizeMM < 2.6 {
		p.Fault(&NoRoom{What: id})
		return
	}
	p.Set(st, x, base, figure.Start, t)
}

// foot is the bottom of a page: cautions, identifier, code.
func (s *fieldSheet) foot(p *page) {
	y := p.Bottom() - footMMTall
	right := p.Right()
	p.Rule(p.Left(), y+1.2, right, y+1.2, hairMM)
	if s.r.ID != "" {
		side := codeSide(s.r.ID, codeMM)
		p.code(s.r.ID, right-side+2, p.Bottom()-side+1.5, side)
		right -= side + 2
	}
	st := small.Sized(2.45)
	text := s.say("caution.field")
	for st.Tall(text, right-p.Left()) > footMMTall-7.5 && st.SizeMM > 2.1 {
		st.SizeMM -= 0.05
	}
	if st.Tall(text, right-p.Left()) > footMMTall-7.5 {
		p.Fault(&NoRoom{What: text})
	}
	p.Paragraph(st, p.Left(), y+2.2, right-p.Left(), text)
	p.ident(s.r.ID, p.Left(), p.Bottom()-0.4, right-p.Left(), 4.6)
}

func join(parts ...string) string {
	var keep []string
	for _, t := range parts {
		if t != "" {
			keep = append(keep, t)
		}
	}
	return strings.Join(keep, " · ")
}

// section puts a heading over blocks; they stay on one page.
func section(title, remark string, of ...block) block {
	h := headBlock(title, remark)
	all := block{what: title, h: h.h}
	for _, b := range of {
		all.h += b.h // one without a drawing is empty
		all.stretch = all.stretch || b.stretch
	}
	all.draw = func(p *page, y, height float64) {
		h.draw(p, y, h.h)
		y += h.h
		for _, b := range of {
			take := b.h
			if b.stretch {
				take += height - all.h
			}
			if b.draw != nil {
				b.draw(p, y, take)
			}
			y += take
		}
	}
	return all
}

// blocks are the parts of a sheet in the order in which they are used.
func (s *fieldSheet) blocks() []block {
	out := []block{s.who(), s.before(), s.setting()}
	if s.r.Notes != "" {
		out = append(out[:1], append([]block{s.lineBlock(small, s.say("notes-planned", "notes", s.r.Notes))}, out[1:]...)...)
	}
	for k := range s.o.Protocol.Checks {
		out = append(out, s.check(k))
	}
	return append(out, s.after(), s.sketch())
}

func (s *fieldSheet) inner() float64 { return s.o.Size.W - 2*marginMM }

func (s *fieldSheet) write(slug, value string, least float64) field {
	return field{label: s.say(slug), value: value, least: least}
}

// who: what a plan may already know.
func (s *fieldSheet) who() block {
	fs := []field{}
	if s.r.Site == "" {
		fs = append(fs, s.write("field.site", "", 55))
	}
	if s.r.Habitat == "" {
		fs = append(fs, s.write("field.habitat", "", 40))
	}
	fs = append(fs,
		field{label: s.say("field.date"), groups: []int{4, 2, 2}, sep: "-", value: s.date()},
		s.write("field.names", s.r.Names, 60),
		s.write("field.permit", s.r.Permit, 40))
	return fieldsBlock("who", s.inner(), fs...)
}

// date is the day with the clock by which times are told.
func (s *fieldSheet) date() string {
	if s.r.Date == "" || s.r.Zone == "" {
		return s.r.Date
	}
	return s.r.Date + " (" + s.r.Zone + ")"
}

// before: the people, the watch, and whom to call.
func (s *fieldSheet) before() block {
	return section(s.say("head.before"), s.say("head.before-remark"), fieldsBlock("before", s.inner(),
		timeField(s.say("field.watch")), s.write("field.watch-against", "", 30),
		s.write("field.emergency", s.r.Emergency, 48), s.write("field.ashore", s.r.Ashore, 48)))
}

// setting: times, stakes, depth, positions.
func (s *fieldSheet) setting() block {
	n := s.baits()
	return section(s.say("head.setting"), s.say("head.setting-remark", "n", n, "spacing", s.o.Protocol.SpacingM), s.toldBlock(s.r.Setting), fieldsBlock("setting", s.inner(),
		countField(s.say("field.heads-out"), 99), countField(s.say("field.heads-back"), 99),
		timeField(s.say("field.first-in")).orValue(s.r.SetOut), timeField(s.say("field.last-in")).orValue(s.r.SetOutUntil),
		countField(s.say("field.stakes-out"), n),
		field{label: s.say("field.depth-min"), groups: []int{2, 1}, sep: ".", unit: "m"},
		field{label: s.say("field.depth-max"), groups: []int{2, 1}, sep: ".", unit: "m"},
		timeField(s.say("field.depth-at")),
		s.write("field.first-position", s.r.FirstPosition, 62), s.write("field.last-position", "", 62),
		field{label: s.say("field.bearing"), groups: []int{3}, unit: "°", value: s.r.Bearing},
		s.write("field.batch", s.r.BaitBatch, 30),
		field{label: s.say("field.temperature"), groups: []int{2, 1}, sep: ".", unit: "°C"},
		field{label: s.say("field.visibility"), groups: []int{2}, unit: "m"},
		field{label: s.say("field.near"), options: numbered([]string{s.say("yes"), s.say("no")})}))
}

func (s *fieldSheet) baits() int {
	if s.r.Baits > 0 {
		return s.r.Baits
	}
	return s.o.Protocol.Baits
}

// check is one visit: times, counts or stakes, and why it was not made.
func (s *fieldSheet) check(k int) block {
	n := s.baits()
	remark := s.say("head.check-remark")
	due := block{}
	if k < len(s.r.Due) {
		due = s.toldBlock(s.r.Due[k])
	}
	title := s.say("head.check", "n", k+1, "soak", Hours(s.o.Protocol.Checks[k].SoakH))
	fates := fieldsBlock("counts", s.inner(),
		timeField(s.say("field.read-from")), timeField(s.say("field.read-until")),
		s.fateCount("fate.present", figure.Present, n), s.fateCount("fate.consumed", figure.Consumed, n),
		s.fateCount("fate.not-known", figure.NotKnown, n), s.fateCount("fate.unread", figure.Unread, n),
		s.write("field.reader", "", 22))
	parts := []block{due, fates}
	if s.o.Level == Stakes {
		parts = append(parts, s.stakeBoxes(n))
	}
	return section(title, remark, append(parts, s.whyNot())...)
}

func (s *fieldSheet) fateCount(slug string, f figure.Fate, n int) field {
	c := countField(s.say(slug), n)
	c.mark = 1 + int(f)
	return c
}

// Hours is a soak as people write it: 1 h, 0.5 h.
func Hours(h float64) string { return strconv.FormatFloat(h, 'f', -1, 64) + " h" }

// whyNot is one line: what to tick when a check was not made, and at its end
// the people who went in and came out again.
func (s *fieldSheet) whyNot() block {
	var options []string
	for _, w := range entry.WhyNot {
		options = append(options, s.say("why."+w))
	}
	options = numbered(options)
	label, heads := s.say("field.why-not"), []string{s.say("field.heads-out"), s.say("field.heads-back")}
	const tick = 5.2
	return block{what: label, h: cellH + 1.6, draw: func(p *page, y, _ float64) {
		base := y + cellH/2 + 1
		x := p.Right()
		for i := len(heads) - 1; i >= 0; i-- {
			x -= 2 * cellW
			p.box(x, y, cellW, cellH)
			p.box(x+cellW, y, cellW, cellH)
			p.Set(small, x-1, base, figure.End, heads[i])
			x -= 1 + small.Width(heads[i]) + 2.4
		}
		st, room := small, x-p.Left()-small.Width(label)-2
		need := func() float64 {
			w := 0.0
			for _, o := range options {
				w += tick + 0.8 + st.Width(o) + 1.8
			}
			return w
		}
		for need() > room && st.SizeMM > 2 {
			st.SizeMM -= 0.05
		}
		if need() > room {
			p.Fault(&NoRoom{What: label})
		}
		x = p.Left()
		p.Set(small, x, base, figure.Start, label)
		x += small.Width(label) + 2
		for _, o := range options {
			p.box(x, y+(cellH-tick)/2, tick, tick)
			p.Set(st, x+tick+0.8, base, figure.Start, o)
			x += tick + 0.8 + st.Width(o) + 1.8
		}
	}}
}

// numbered puts before each choice the figure by which it is typed in.
func numbered(options []string) []string {
	out := make([]string, len(options))
	for i, o := range options {
		out[i] = strconv.Itoa(i+1) + " " + o
	}
	return out
}

// stakeBoxes has one box for each stake, in lines of 13, the first stake first.
func (s *fieldSheet) stakeBoxes(n int) block {
	const per, h = 13, 8.6
	lines := (n + per - 1) / per
	key := s.say("stakes.key")
	keyH := small.Tall(key, s.inner())
	return block{what: key, h: keyH + float64(lines)*h + 1.6, draw: func(p *page, y, _ float64) {
		y = p.Paragraph(small, p.Left(), y-0.4, s.inner(), key) + 0.4
		w := s.inner() / per
		for i := range n {
			x, t := p.Left()+float64(i%per)*w, y+float64(i/per)*h
			p.box(x, t, w, h)
			p.Set(quietest, x+0.8, t+2.5, figure.Start, strconv.Itoa(i+1))
		}
	}}
}

// after: every stake and every head counted.
func (s *fieldSheet) after() block {
	n := s.baits()
	return section(s.say("head.after"), s.say("head.after-remark"), fieldsBlock("after", s.inner(),
		countField(s.say("field.stakes-back", "n", n), n), timeField(s.say("field.back-at")),
		s.write("field.stakes-left", "", 60)))
}

// sketch is the box for landmarks, with the side stake 1 is on; on a page with
// much room, lines for notes follow.
func (s *fieldSheet) sketch() block {
	var sides []string
	for _, x := range entry.Sides {
		sides = append(sides, s.say("side."+x))
	}
	drawing := block{what: s.say("head.sketch"), h: 27, stretch: true, draw: func(p *page, y, h float64) {
		bottom := y + h - 1.5
		if h > 110 {
			bottom = y + 85
			p.Set(heading, p.Left(), bottom+8, figure.Start, s.say("head.notes"))
			for line := bottom + 19; line < y+h-1; line += 9.5 {
				p.Rule(p.Left(), line, p.Right(), line, hairMM)
			}
		}
		p.box(p.Left(), y, s.inner(), bottom-y)
		ticks := fieldsBlock("side", s.inner()-4,
			field{label: s.say("field.stake-1"), options: numbered(sides)})
		ticks.at(p, p.Left()+2, y+1.5)
		p.SetFit(small, p.Right()-2, y+1.5+smallMM, s.inner()/3, figure.End, s.say("field.north"))
	}}
	return section(s.say("head.sketch"), s.say("head.sketch-remark"), drawing)
}

// protocol is the row in one line, in the reader's language.
func (s *fieldSheet) protocol() string {
	var soaks []string
	for _, c := range s.o.Protocol.Checks {
		soaks = append(soaks, Hours(c.SoakH))
	}
	return s.say("sheet.protocol", "n", s.baits(), "spacing", s.o.Protocol.SpacingM, "soaks", soaks)
}
