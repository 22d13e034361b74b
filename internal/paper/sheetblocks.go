package paper

import (
	"strconv"

	"soakline/internal/entry"
	"soakline/internal/figure"
)

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
