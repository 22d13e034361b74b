package paper

import (
	"strconv"

	"soakline/internal/figure"
	"soakline/internal/leaf"
)

// Visit is one stop of a team's day.
type Visit struct {
	Row, What, Where string // the row, what is done there, site and habitat
	Due              Due
	Sheet            string // empty: in this booklet; else the day its sheet is of
}

// PackLine is one line of a packing list; Back is −1 for what is used up.
type PackLine struct {
	What    string
	N, Back int
}

// BookletOptions say how a team's day is printed: the plan, the sheets of the
// rows that are set out, the rows drawn to scale, what to take along.
type BookletOptions struct {
	SheetOptions
	Team, Day, Zone string
	Names, Permit   string
	Emergency       string
	Ashore          string
	Visits          []Visit // in the order of the day
	Maps            []RowMap
	NoMap           []string // rows of which no position and bearing are known
	Packing         []PackLine
}

// Booklet prints a team's day. Errors: *NoGlyph, *NoCode, *NoRoom.
func Booklet(o BookletOptions) ([]byte, error) {
	pages, err := bookletPages(o)
	if err != nil {
		return nil, err
	}
	return write(pages, o.Lang, o.Title)
}

func bookletPages(o BookletOptions) ([]*page, error) {
	pages, err := o.planPages()
	if err != nil {
		return nil, err
	}
	if len(o.Packing) > 0 {
		pages = append(pages, o.packPage())
	}
	if len(o.Rows) > 0 {
		sheets, err := sheetPages(o.SheetOptions)
		if err != nil {
			return nil, err
		}
		pages = append(pages, sheets...)
	}
	return append(pages, o.mapPages()...), nil
}

// bookFoot says at the bottom of a page whose day it belongs to.
func (o BookletOptions) bookFoot(p *page) {
	what := join(o.Team, o.Day)
	if o.Invented {
		what = join(o.Lang.Say("invented", nil), what)
	}
	p.SetFit(quiet, p.Left(), p.Bottom(), p.Inner(), figure.Start, what)
}

// bookTop begins a page of the booklet and gives the y below its title.
func (o BookletOptions) bookTop(title string) (*page, float64) {
	p := newPage(o.Size, o.Lang)
	p.Title = title
	p.SetFit(strong.Sized(7), p.Left(), marginMM+6, p.Inner(), figure.Start, title)
	what := o.Day
	if o.Zone != "" {
		what += " (" + o.Zone + ")"
	}
	p.SetFit(strong.Sized(4.4), p.Left(), marginMM+12.4, p.Inner(), figure.Start, join(o.Team, what))
	o.bookFoot(p)
	return p, marginMM + 15
}

// column is one column of a booklet's table: where it begins, as a share of the
// width, and its heading.
type column struct {
	at   float64
	head string
}

const visitMM = 11.0 // of one stop: a gloved hand ticks it

// planPages list the day's stops in the order of time.
func (o BookletOptions) planPages() ([]*page, error) {
	p, y := o.bookTop(o.Lang.Say("paper.book.plan", nil))
	b := fieldsBlock("team", p.Inner(), field{label: p.say("field.names"), value: o.Names, least: 60}, field{label: p.say("field.permit"), value: o.Permit, least: 40},
		countField(p.say("book.people"), 99), timeField(p.say("field.watch")), field{label: p.say("field.watch-against"), least: 30},
		field{label: p.say("field.emergency"), value: o.Emergency, least: 48}, field{label: p.say("field.ashore"), value: o.Ashore, least: 48})
	b.at(p, p.Left(), y)
	y += b.h + 2
	pages := []*page{p}
	columns := []column{{0, p.say("book.col-time")}, {0.15, p.say("book.col-row")}, {0.33, p.say("book.col-what")}, {0.6, p.say("book.col-where")}, {0.93, p.say("book.col-done")}}
	y = p.bookHead(columns, y)
	caution := p.say("caution.field")
	foot := small.Tall(caution, p.Inner()) + 8
	for _, v := range o.Visits {
		if y+visitMM > p.Bottom()-foot {
			if p, y = o.bookTop(p.Title); y+visitMM > p.Bottom()-foot {
				return nil, &NoRoom{What: p.Title}
			}
			pages = append(pages, p)
			y = p.bookHead(columns, y)
		}
		p.visit(v, columns, y)
		y += visitMM
	}
	if len(o.NoMap) > 0 {
		y = p.Paragraph(small, p.Left(), y+1, p.Inner(), p.say("book.no-map", "rows", o.NoMap))
	}
	p.Paragraph(small, p.Left(), p.Bottom()-foot+2, p.Inner(), caution)
	if y > p.Bottom()-foot+2 {
		p.Fault(&NoRoom{What: p.say("book.no-map", "rows", o.NoMap)})
	}
	return pages, nil
}

// bookHead sets the headings of a table and gives the y below them.
func (p *page) bookHead(columns []column, y float64) float64 {
	for i, c := range columns {
		end := 1.0
		if i+1 < len(columns) {
			end = columns[i+1].at
		}
		p.SetFit(smallBold, p.Left()+c.at*p.Inner(), y+smallMM, (end-c.at)*p.Inner()-1, figure.Start, c.head)
	}
	p.Rule(p.Left(), y+smallMM+1.4, p.Right(), y+smallMM+1.4, boxMM)
	return y + smallMM + 2
}

// visit is one stop, with a box to tick.
func (p *page) visit(v Visit, columns []column, y float64) {
	p.Record = v.Row
	defer func() { p.Record = "" }()
	x := func(i int) float64 { return p.Left() + columns[i].at*p.Inner() }
	w := func(i int) float64 { return (columns[i+1].at-columns[i].at)*p.Inner() - 2 }
	base, below := y+textMM+1.6, y+textMM+1.6+smallMM*leading+0.6
	p.SetFit(strong.Sized(3.8), x(0), base, w(0), figure.Start, v.Due.At)
	if v.Due.From != "" {
		p.SetFit(small, x(0), below, w(0), figure.Start, p.say("book.from-to", "from", v.Due.From, "to", v.Due.To))
	}
	p.SetFit(strong.Sized(3.8), x(1), base, w(1), figure.Start, v.Row)
	p.SetFit(plain, x(2), base, w(2), figure.Start, v.What)
	if v.Sheet != "" {
		p.SetFit(small, x(2), below, w(2), figure.Start, p.say("book.sheet-of", "day", v.Sheet))
	}
	p.SetFit(plain, x(3), base, w(3), figure.Start, v.Where)
	more := []string{}
	for _, q := range []struct{ slug, value string }{{"due-water", v.Due.Water}, {"due-light", v.Due.Light}, {"due-leave-by", v.Due.LeaveBy}} {
		if q.value != "" {
			more = append(more, p.say(q.slug, "value", q.value))
		}
	}
	p.SetFit(small, x(3), below, w(3), figure.Start, join(more...))
	p.box(x(4), y+1.6, 7.4, 7.4)
	p.Line([][]figure.Point{{{X: p.Left(), Y: y + visitMM}, {X: p.Right(), Y: y + visitMM}}}, figure.Stroke{Role: figure.Hair, WidthMM: hairMM})
}

// packPage is the packing list: ticked when it goes along, counted when it
// comes back.
func (o BookletOptions) packPage() *page {
	p, y := o.bookTop(o.Lang.Say("paper.book.pack", nil))
	runOut := o.Lang.Say("prep.run-out", nil)
	foot := small.Tall(runOut, p.Inner()) + 9
	step := min(10.4, (p.Bottom()-foot-y-smallMM-2)/float64(len(o.Packing)))
	columns := []column{{0, p.say("book.col-item")}, {0.56, p.say("book.col-count")}, {0.68, p.say("book.col-along")}, {0.82, p.say("book.col-back")}}
	y = p.bookHead(columns, y)
	if step < 6.6 {
		p.Fault(&leaf.NoRoom{What: p.Title})
	}
	side := min(step-1.2, 7.4)
	for _, l := range o.Packing {
		x := func(i int) float64 { return p.Left() + columns[i].at*p.Inner() }
		base := y + step/2 + textMM*0.35
		p.SetFit(plain, x(0), base, 0.55*p.Inner(), figure.Start, l.What)
		if l.N > 0 {
			p.Set(strong, x(1), base, figure.Start, strconv.Itoa(l.N))
			p.box(x(2), y+(step-side)/2, side, side)
		}
		if l.Back >= 0 {
			p.box(x(3), y+(step-side)/2, side*1.6, side)
			p.Set(small, x(3)+side*1.6+1.4, base, figure.Start, p.say("book.of", "n", l.Back))
		}
		y += step
		p.Line([][]figure.Point{{{X: p.Left(), Y: y}, {X: p.Right(), Y: y}}}, figure.Stroke{Role: figure.Hair, WidthMM: hairMM})
	}
	p.Paragraph(small, p.Left(), p.Bottom()-foot+2, p.Inner(), runOut)
	return p
}
