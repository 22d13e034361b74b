package paper

import (
	"strconv"
	"strings"

	"soakline/internal/assay"
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

// Hours is a soak as people write it: 1 h, 0.5 h.
func Hours(h float64) string { return strconv.FormatFloat(h, 'f', -1, 64) + " h" }

// protocol is the row in one line, in the reader's language.
func (s *fieldSheet) protocol() string {
	var soaks []string
	for _, c := range s.o.Protocol.Checks {
		soaks = append(soaks, Hours(c.SoakH))
	}
	return s.say("sheet.protocol", "n", s.baits(), "spacing", s.o.Protocol.SpacingM, "soaks", soaks)
}
