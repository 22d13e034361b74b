package paper

import (
	"errors"
	"math"
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/figure"
	"soakline/internal/leaf"
	"soakline/internal/words"
)

// GuideOptions say how the guide is printed.
type GuideOptions struct {
	Lang     words.Language
	Size     Size
	Protocol assay.Protocol
	Title    string
}

// Guide prints the method on one page. Errors: *NoGlyph, *NoRoom.
func Guide(o GuideOptions) ([]byte, error) {
	p, err := guidePage(o)
	if err != nil {
		return nil, err
	}
	return write([]*page{p}, o.Lang, o.Title)
}

// guidePage sets the guide as large as the page lets it be.
func guidePage(o GuideOptions) (*page, error) {
	for k := 1.4; ; k -= 0.02 {
		small := o
		small.Size = Size{Name: o.Size.Name, W: o.Size.W / k, H: o.Size.H / k}
		q, err := guideAt(small)
		if err == nil {
			err = q.Err
		}
		var room *NoRoom
		if errors.As(err, &room) && k > 1 {
			continue
		}
		if err != nil {
			return nil, err
		}
		p := newPage(o.Size, o.Lang)
		p.Title = q.Title
		q.On(leaf.Moved{To: p.Drawing, K: k})
		return p, nil
	}
}

// guideAt sets the guide on a page of any size.
func guideAt(o GuideOptions) (*page, error) {
	p := newPage(o.Size, o.Lang)
	s := fieldSheet{o: SheetOptions{Lang: o.Lang, Size: o.Size, Protocol: o.Protocol}}
	p.Title = p.say("guide.title")
	y := marginMM
	p.Set(strong.Sized(7), p.Left(), y+7, figure.Start, p.Title)
	p.SetFit(plain, p.Left(), y+13, p.Inner(), figure.Start, s.protocol())
	y += 17
	y = p.guideStake(&s, y)
	y = p.guideHead(y, p.say("guide.row"))
	y, err := p.guideRow(&s, y)
	if err != nil {
		return nil, err
	}
	y = p.guideHead(y, p.say("guide.half"))
	y = p.guideHalf(o.Protocol, y)
	y = p.guideHead(y, p.say("guide.steps"))
	for i := 1; i <= guideSteps; i++ {
		p.Set(strong, p.Left()+4, y+textMM, figure.End, strconv.Itoa(i))
		y = p.Paragraph(plain, p.Left()+6, y, p.Inner()-6, p.say("guide.step-"+strconv.Itoa(i), "n", o.Protocol.Baits, "spacing", o.Protocol.SpacingM, "depth", o.Protocol.DepthChangeMaxM)) + 0.5
	}
	text := p.say("caution.field") + " " + p.say("guide.caution")
	st := small
	y = p.Paragraph(st, p.Left(), y+2, p.Inner(), text)
	if y > p.Bottom()+2 {
		return nil, &NoRoom{What: p.Title}
	}
	return p, nil
}

const guideSteps = 7

func (p *page) guideHead(y float64, t string) float64 {
	p.Set(heading, p.Left(), y+2+headMM, figure.Start, t)
	return y + headMM + 4.2
}

// guideStake draws one stake with its bait, and beside it what to mind.
func (p *page) guideStake(s *fieldSheet, y float64) float64 {
	const h = 62.0
	ink := figure.Stroke{Role: figure.Ink, WidthMM: 0.9, Round: true}
	thin := figure.Stroke{Role: figure.Ink, WidthMM: 0.3, Round: true}
	x, bed := p.Left()+22, y+h-8
	// The bed, gently uneven, and the stake: half of it below.
	var line []figure.Point
	for i := range 41 {
		q := float64(i)
		line = append(line, figure.Point{X: p.Left() + q*1.1, Y: bed + 0.5*math.Sin(q/3) + 0.3*math.Sin(q/1.4)})
	}
	p.Line([][]figure.Point{line}, figure.Stroke{Role: figure.Mute, WidthMM: 0.35})
	p.Line([][]figure.Point{{{X: x, Y: y + 4}, {X: x, Y: bed}}}, ink)
	p.Line([][]figure.Point{{{X: x, Y: bed}, {X: x, Y: bed + 6}}}, figure.Stroke{Role: figure.Mute, WidthMM: 0.6})
	// Tape around the line's end, the free line, the bait pierced off centre.
	for i := range 5 {
		t := y + 9 + float64(i)*1.5
		p.Line([][]figure.Point{{{X: x - 1.3, Y: t + 0.5}, {X: x + 1.3, Y: t}}}, figure.Stroke{Role: figure.Ink, WidthMM: 0.5})
	}
	hole := figure.Point{X: x + 11, Y: y + 20}
	var tether []figure.Point
	for i := range 13 {
		q := float64(i) / 12
		tether = append(tether, figure.Point{X: x + 1 + 10*q, Y: y + 13 + 7*q*q})
	}
	p.Discs([]figure.Point{{X: hole.X + 1.5, Y: hole.Y + 3.8}}, 5.8, figure.Fill{Role: figure.Mute, Alpha: 0.35}, thin)
	p.Line([][]figure.Point{tether}, thin)
	p.Discs([]figure.Point{hole}, 0.6, figure.Fill{Role: figure.Paper}, thin)
	tx := p.Left() + 58
	for _, c := range []struct {
		slug string
		at   figure.Point
		y    float64
	}{
		{"guide.tape", figure.Point{X: x + 1.6, Y: y + 10}, y + 6},
		{"guide.free", figure.Point{X: x + 8, Y: y + 16.2}, y + 18},
		{"guide.bait", figure.Point{X: hole.X + 7.4, Y: hole.Y + 3.8}, y + 30},
		{"guide.stake", figure.Point{X: x + 0.8, Y: y + 40}, y + 43},
		{"guide.bed", figure.Point{X: p.Left() + 44, Y: bed}, y + 55},
	} {
		p.Line([][]figure.Point{{c.at, {X: tx - 2, Y: c.y - 1}}}, figure.Stroke{Role: figure.Mute, WidthMM: hairMM})
		p.Paragraph(plain, tx, c.y-textMM, p.Right()-tx, s.say(c.slug, "size", s.o.Protocol.BaitSizeMM, "form", words.Ref{Slug: "paper.form." + s.o.Protocol.BaitForm}))
	}
	return y + h
}

// guideRow draws a row at setting and at its checks; the fates are an example.
func (p *page) guideRow(s *fieldSheet, y float64) (float64, error) {
	n := min(s.baits(), 25)
	row := figure.Row{Title: p.say("guide.row"), Words: figure.FateWords{
		Present: p.say("fate.present-one"), Consumed: p.say("fate.consumed-one"), NotKnown: p.say("fate.not-known-one"), Unread: p.say("fate.unread-one")}}
	row.Lines = append(row.Lines, figure.RowLine{Label: "0 h", Fates: make([]figure.Fate, n)})
	for k, c := range s.o.Protocol.Checks {
		fates := make([]figure.Fate, n)
		for i := range fates {
			switch q := (i*7 + 3) % 25; {
			case q == 24 && k > 0:
				fates[i] = figure.NotKnown
			case q < 4*(k+1)+7*k:
				fates[i] = figure.Consumed
			case q == 20 && k == 0:
				fates[i] = figure.Unread
			}
		}
		row.Lines = append(row.Lines, figure.RowLine{Label: Hours(c.SoakH), Fates: fates})
	}
	if len(row.Lines) > 3 {
		row.Lines = append(row.Lines[:2], row.Lines[len(row.Lines)-1])
	}
	d, err := figure.DrawRow(row, figure.Frame{ID: "row", WidthMM: p.Inner(), Look: figure.Print})
	if err != nil {
		return 0, err
	}
	d.On(leaf.Moved{To: inked{p.Drawing}, X: p.Left(), Y: y, K: 1})
	var f feet
	d.On(&f)
	if len(f.at) > 1 {
		a, b := f.at[0], f.at[1]
		x1, x2, base := p.Left()+a.X, p.Left()+b.X, y+a.Y+2
		p.Rule(x1, base, x2, base, hairMM)
		p.Rule(x1, base-0.8, x1, base+0.8, hairMM)
		p.Rule(x2, base-0.8, x2, base+0.8, hairMM)
		p.Set(small.Sized(2.4), x2+1, base+0.9, figure.Start, p.say("guide.spacing", "spacing", s.o.Protocol.SpacingM))
	}
	return y + d.H, nil
}

// feet is a pen that finds where the stakes of a row's first line stand.
type feet struct {
	extent
	at []figure.Point
}

func (f *feet) Line(paths [][]figure.Point, s figure.Stroke) {
	if len(f.at) > 0 || len(paths) < 2 {
		return
	}
	for _, l := range paths {
		if len(l) != 2 || l[0].X != l[1].X {
			return
		}
	}
	for _, l := range paths {
		f.at = append(f.at, l[0])
	}
}

// guideHalf shows on which side of the threshold a bait lies.
func (p *page) guideHalf(pr assay.Protocol, y float64) float64 {
	const r = 6.0
	edge := 1 - pr.ConsumedFraction
	shares := []float64{1, edge + (1-edge)*0.3, edge - edge*0.3, 0}
	step := p.Inner() / float64(len(shares))
	for i, left := range shares {
		x := p.Left() + step*float64(i) + r + 1
		p.bait(eat(left, bite{angle: 0.6 + float64(i), reach: 1.1, teeth: 11, ripple: 0.05}), x, y+r+1, r)
		slug := "fate.present-one"
		if left < edge {
			slug = "fate.consumed-one"
		}
		tx := x + r + 2
		p.SetFit(strong, tx, y+r, p.Left()+step*float64(i+1)-tx, figure.Start, p.say(slug))
		p.SetFit(small, tx, y+r+4.2, p.Left()+step*float64(i+1)-tx, figure.Start, p.say("guide.left", "left", left))
	}
	return y + 2*r + 2.5
}
