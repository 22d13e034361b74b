package figure

import (
	"fmt"
	"math"
)

// Row is one row of stakes at its setting and its checks.
type Row struct {
	Title, Desc string // for people who cannot see it: the row in one sentence
	Lines       []RowLine
	// Note stands below, in small text. Where fates by stake are unknown it says
	// that the order is by count, not by place.
	Note  string
	Words FateWords // the key; a fate without a word, or that does not occur, is left out of it
}

// RowLine is the row at one check, or at setting.
type RowLine struct {
	Label, Sub, Result string // "1 h 03 min", "10:12", "9 gone"
	Desc               string // spoken and on hover; may be empty
	// Fates by stake, from the first on. When nil, Counts are drawn: consumed,
	// not known, unread and present together, each kind apart from the next, on a
	// bed that is broken between them. When both are empty the check was not made
	// and the line is a dotted bed.
	Fates  []Fate
	Counts FateCounts
}

// FateCounts is how many baits met each fate by a check.
type FateCounts struct{ Present, Consumed, NotKnown, Unread int }

// FateWords are the words of the key.
type FateWords struct{ Present, Consumed, NotKnown, Unread string }

// maxStakes bounds a line: more is a slip, not a row.
const maxStakes = 1000

// check gives an error for what cannot be drawn.
func (r Row) check() error {
	for i, l := range r.Lines {
		c := l.Counts
		for _, n := range [...]int{c.Present, c.Consumed, c.NotKnown, c.Unread, len(l.Fates)} {
			if n < 0 || n > maxStakes {
				return fmt.Errorf("figure: line %d of the row has %d baits of one fate; give 0 to %d", i+1, n, maxStakes)
			}
		}
		for k, f := range l.Fates {
			if f >= fates {
				return fmt.Errorf("figure: line %d, stake %d: %d is no fate", i+1, k+1, f)
			}
		}
	}
	return nil
}

// runs gives the line as groups of fates: one group when fates are known by
// stake, else one per fate that occurs.
func (l RowLine) runs() [][]Fate {
	if len(l.Fates) > 0 {
		return [][]Fate{l.Fates}
	}
	var out [][]Fate
	c := l.Counts
	for _, g := range []struct {
		f Fate
		n int
	}{{Consumed, c.Consumed}, {NotKnown, c.NotKnown}, {Unread, c.Unread}, {Present, c.Present}} {
		if g.n > 0 {
			run := make([]Fate, g.n)
			for i := range run {
				run[i] = g.f
			}
			out = append(out, run)
		}
	}
	return out
}

func (l RowLine) stakes() int {
	n := 0
	for _, r := range l.runs() {
		n += len(r)
	}
	return n
}

// Distances of the row in units of a CSS pixel.
const (
	fullPitch    = 23.0 // between stakes, at full size
	leastPitch   = 17.0 // below it a row wraps instead
	compactPitch = 12.0
	groupGap     = 0.55 // between groups of one fate, in pitches
	wrapAt       = 13   // a narrow row is cut into lines of so many stakes
)

// grid is where stakes stand.
type grid struct {
	x, pitch, u float64 // mm
	per         int     // stakes in one line
	compact     bool
}

// fit chooses pitch and wrapping for n stakes (and up to gaps breaks between
// groups) in width mm. A row that does not fit is cut into lines of the
// largest multiple of 13 that does, so that it never shrinks to dust.
func fit(n, gaps int, x, width float64, compact bool) grid {
	full, least := fullPitch/pxPerMM, leastPitch/pxPerMM
	if compact {
		full, least = compactPitch/pxPerMM, compactPitch/pxPerMM
	}
	g := grid{x: x, per: max(n, 1), compact: compact}
	room := func(per int) float64 { return width / (float64(per) + groupGap*float64(gaps)) }
	if room(g.per) < least {
		g.per = max(1, int(width/least-groupGap*float64(gaps)))
		if g.per > wrapAt {
			g.per -= g.per % wrapAt
		}
	}
	g.pitch = min(room(g.per), full*1.15)
	if compact {
		g.pitch = min(room(g.per), full)
	}
	g.u = clamp(g.pitch/full, 0.6, 1) / pxPerMM
	return g
}

// length is the room the longest line of n stakes takes, mm.
func (g grid) length(n, gaps int) float64 {
	return g.pitch * (float64(min(n, g.per)) + groupGap*float64(gaps))
}

// pieces cuts the runs into lines of the grid.
func (g grid) pieces(runs [][]Fate) [][][]Fate {
	var out [][][]Fate
	var line [][]Fate
	room := g.per
	for _, r := range runs {
		for len(r) > 0 {
			if room == 0 {
				out, line, room = append(out, line), nil, g.per
			}
			k := min(room, len(r))
			line, r, room = append(line, r[:k]), r[k:], room-k
		}
	}
	return append(out, line)
}

// line draws one line of stakes with the bed at y.
func (g grid) line(d *Drawing, groups [][]Fate, y float64, m *stakes) {
	m.u, m.compact = g.u, g.compact
	x := g.x
	for _, run := range groups {
		to := x + g.pitch*float64(len(run))
		d.bed(x, to, y, g)
		for i, f := range run {
			m.add(f, x+g.pitch*(float64(i)+0.42), y)
		}
		x = to + g.pitch*groupGap
	}
	m.draw(d)
}

// bed draws the sea bed from x to x2: a hairline in the compact drawing, else
// a gently uneven line, the same on every run.
func (d *Drawing) bed(x, x2, y float64, g grid) {
	if g.compact {
		d.Line([][]Point{{{x, y}, {x2, y}}}, Stroke{Role: Hair, WidthMM: 0.9 * g.u})
		return
	}
	var pts []Point
	for s := x; s < x2+1e-9; s += 6 * g.u {
		k := s / g.u
		pts = append(pts, Point{s, y + g.u*(0.8+0.6*math.Sin(k/17)+0.4*math.Sin(k/7.3+1))})
	}
	d.Line([][]Point{pts}, Stroke{Role: Mute, WidthMM: g.u})
}

// DrawRowCompact draws the row as a mark in a list: stakes only, no words but
// title and description. lines that were not made are dotted beds.
func DrawRowCompact(r Row, f Frame) (*Drawing, error) {
	d, err := f.begin(r.Title, r.Desc)
	if err != nil {
		return nil, err
	}
	if err := r.check(); err != nil {
		return nil, err
	}
	n, gaps := r.size()
	g := fit(n, gaps, 0, d.W, true)
	y := 0.0
	for i, l := range r.Lines {
		d.Begin(Group{ID: fmt.Sprintf("line-%d", i), Title: l.Desc})
		parts := g.pieces(l.runs())
		for _, part := range parts {
			if len(part) == 0 {
				y += 5 * g.u
				d.emptyBed(g, y, n)
				y += 2 * g.u
				continue
			}
			y += 20.5 * g.u
			g.line(d, part, y, &stakes{})
			y += 1.5 * g.u
		}
		d.End()
		if len(parts) > 1 {
			y += 4 * g.u
		}
	}
	d.H = max(y, 2)
	d.W = min(d.W, g.length(n, gaps)+1)
	d.W = max(d.W, g.pitch)
	return d, nil
}

// size gives the largest number of stakes and of breaks between groups.
func (r Row) size() (n, gaps int) {
	for _, l := range r.Lines {
		n = max(n, l.stakes())
		gaps = max(gaps, len(l.runs())-1)
	}
	return n, gaps
}

// emptyBed is the bed of a check that was not made.
func (d *Drawing) emptyBed(g grid, y float64, n int) {
	to := g.x + g.pitch*float64(min(max(n, 1), g.per))
	d.Line(dashed([][]Point{{{g.x, y}, {to, y}}}, 1.2*g.u, 4*g.u), Stroke{Role: Mute, WidthMM: 1.2 * g.u, Round: true})
}

// DrawRow draws the row at full size: labels to the left and results to the
// right where there is room, above each line where there is not.
func DrawRow(r Row, f Frame) (*Drawing, error) {
	d, err := f.begin(r.Title, r.Desc)
	if err != nil {
		return nil, err
	}
	if err := r.check(); err != nil {
		return nil, err
	}
	n, gaps := r.size()
	left, right := 0.0, 0.0
	for _, l := range r.Lines {
		left = max(left, f.bold(l.Label).width(), f.small(l.Sub).width())
		right = max(right, f.main(l.Result).width())
	}
	pad := f.Look.TextMM * 0.8
	if left > 0 {
		left += pad
	}
	if right > 0 {
		right += pad
	}
	left, right = min(left, d.W*0.24), min(right, d.W*0.2)
	g := fit(n, gaps, left, d.W-left-right, false)
	var y float64
	if per := g.per; per < n && d.W < 160 || per < wrapAt && per < n {
		g = fit(n, gaps, 0, d.W, false)
		y = d.rowStacked(r, f, g, n)
	} else {
		y = d.rowBeside(r, f, g, left)
	}
	y = d.rowKey(r, f, y)
	if r.Note != "" {
		y = d.footer(f, r.Note, y+f.Look.SmallMM*0.3)
	}
	d.H = max(y, 2)
	return d, nil
}

// rowBeside sets each label left of its stakes and its result right of them.
func (d *Drawing) rowBeside(r Row, f Frame, g grid, left float64) float64 {
	y, pad := 0.0, f.Look.TextMM*0.8
	n, gaps := r.size()
	resultX := g.x + g.length(n, gaps) + pad
	for i, l := range r.Lines {
		d.Begin(Group{ID: fmt.Sprintf("line-%d", i), Title: l.Desc})
		d.note(l.Label, l.Sub, l.Result)
		label := append(f.bold(l.Label).wrap(left-pad), f.small(l.Sub).wrap(left-pad)...)
		result := f.main(l.Result).wrap(d.W - resultX)
		parts := g.pieces(l.runs())
		step := (stakeUnits + 14) * g.u
		block := max(float64(len(parts))*step, height(label), height(result))
		bed := y + (block-float64(len(parts))*step)/2
		for _, part := range parts {
			bed += step
			if len(part) == 0 {
				d.emptyBed(g, bed-5*g.u, n)
			}
			g.line(d, part, bed-5*g.u, &stakes{})
		}
		middle := y + block/2
		d.put(label, 0, middle-height(label)/2, Start)
		d.put(result, resultX, middle-height(result)/2, Start)
		d.End()
		y += block + 4*g.u
	}
	return y
}

// rowStacked sets label, time and result above the stakes of each check.
func (d *Drawing) rowStacked(r Row, f Frame, g grid, n int) float64 {
	y, pad := 0.0, f.Look.TextMM*0.8
	for i, l := range r.Lines {
		d.Begin(Group{ID: fmt.Sprintf("line-%d", i), Title: l.Desc})
		d.note(l.Label, l.Sub, l.Result)
		label, sub, result := f.bold(l.Label), f.small(l.Sub), f.main(l.Result)
		if wl, ws, wr := label.width(), sub.width(), result.width(); wl+ws+wr+2*pad <= d.W {
			top := y
			if h := height(label.wrap(d.W)); h > 0 || ws > 0 || wr > 0 {
				y = top + f.Look.TextMM*leading
			}
			d.put(label.wrap(d.W), 0, top, Start)
			x := wl + pad
			if wl == 0 {
				x = 0
			}
			d.put(sub.wrap(d.W), x, top, Start)
			d.put(result.wrap(d.W), d.W, top, End)
		} else {
			for _, w := range []words{label, sub, result} {
				y = d.put(w.wrap(d.W), 0, y, Start)
			}
		}
		for _, part := range g.pieces(l.runs()) {
			if len(part) == 0 {
				y += 3 * g.u
				d.emptyBed(g, y, n)
				continue
			}
			y += (stakeUnits + 6) * g.u
			g.line(d, part, y, &stakes{})
			y += 6 * g.u
		}
		y += 7 * g.u
		d.End()
	}
	return y
}

// rowKey sets the key below: each mark with its word.
func (d *Drawing) rowKey(r Row, f Frame, y float64) float64 {
	var seen [fates]bool
	for _, l := range r.Lines {
		for _, run := range l.runs() {
			for _, k := range run {
				seen[k] = true
			}
		}
	}
	w := r.Words
	u := 0.8 / pxPerMM
	var items []keyItem
	for k, s := range [fates]string{w.Present, w.Consumed, w.NotKnown, w.Unread} {
		if seen[k] && s != "" {
			fate := Fate(k)
			items = append(items, keyItem{s, func(x, mid float64) {
				m := &stakes{u: u}
				m.add(fate, x+0.8, mid+stakeUnits*u/2)
				m.draw(d)
			}})
		}
	}
	if len(items) == 0 {
		return y
	}
	return d.key(f, items, 4.4, (stakeUnits+5)*u, y+f.Look.SmallMM*0.5)
}

// keyItem is a mark with its word; draw is told the left edge of the mark's
// room and the middle of its line.
type keyItem struct {
	word string
	draw func(x, middle float64)
}

// key sets items one after the other, wrapping at the drawing's width. mark is
// the width a mark takes, least the least height of a line.
func (d *Drawing) key(f Frame, items []keyItem, mark, least, y float64) float64 {
	d.Begin(Group{ID: "key"})
	x, gap := 0.0, f.Look.TextMM*1.1
	line := 0.0 // height of the line in hand
	for _, it := range items {
		d.note(it.word)
		t := f.small(it.word)
		lines := t.wrap(d.W - mark - 1)
		need := mark + widest(lines)
		if x > 0 && x+need > d.W {
			x, y, line = 0, y+line, 0
		}
		h := max(least, height(lines))
		it.draw(x, y+h/2)
		d.put(lines, x+mark, y+(h-height(lines))/2, Start)
		x += need + gap
		line = max(line, h)
	}
	d.End()
	return y + line
}
