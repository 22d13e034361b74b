package report

import (
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/figure"
	"soakline/internal/leaf"
	"soakline/internal/words"
)

// Of the printed report, mm; 3.5 mm are about 10 points.
const (
	printMarginMM = 18.0
	printFootMM   = 7.0
)

var (
	printTitle = leaf.Style{SizeMM: 7.4, Bold: true, Role: figure.Ink}
	printH2    = leaf.Style{SizeMM: 5, Bold: true, Role: figure.Ink}
	printH3    = leaf.Style{SizeMM: 3.9, Bold: true, Role: figure.Ink}
	printLead  = leaf.Style{SizeMM: 4.6, Role: figure.Ink}
	printText  = leaf.Style{SizeMM: 3.5, Role: figure.Ink}
	printCare  = leaf.Style{SizeMM: 3.5, Role: figure.Warm}
	printQuiet = leaf.Style{SizeMM: 3, Role: figure.Mute}
	printTable = leaf.Style{SizeMM: 3.1, Role: figure.Ink}
	printBold  = leaf.Style{SizeMM: 3.5, Bold: true, Role: figure.Ink}
)

// PDF writes the report for paper: what Page shows, from the same words and
// numbers, with its drawings as vectors, the fonts embedded, numbered pages and
// an outline. Errors: *leaf.NoGlyph, which names the row, and *leaf.NoRoom.
func PDF(in Input, size leaf.Size) ([]byte, error) {
	if err := printable(in); err != nil {
		return nil, err
	}
	pages, marks, err := printPages(in, size, true)
	if err != nil {
		return nil, err
	}
	return leaf.PDF(pages, marks, leaf.File{Title: in.Title, Subject: Answers(in.Lang, in.Compare).Shares, Lang: string(in.Lang), At: LastSetOut(in.Deployments)})
}

// printable looks for letters that the font lacks in what people wrote, record
// by record, so that the fault can name the row.
func printable(in Input) error {
	for i := range in.Deployments {
		d := &in.Deployments[i]
		if err := leaf.Check(d.ID, d.ID, d.Site, d.Habitat, d.Team, d.Season, d.Protocol); err != nil {
			return err
		}
	}
	for _, f := range in.Findings {
		if err := leaf.Check(f.DeploymentID, in.Lang.Say("finding."+f.Slug, f.With), f.Answer); err != nil {
			return err
		}
	}
	if in.Compare != nil {
		if err := leaf.Check("", in.Compare.Plan.Sentences(in.Lang)...); err != nil {
			return err
		}
	}
	return leaf.Check("", append([]string{in.Title, in.UsualName}, in.Sources...)...)
}

// printer is a report on its way to paper.
type printer struct {
	view
	f   *leaf.Flow
	err error
}

func printPages(in Input, size leaf.Size, foot bool) ([]*leaf.Leaf, [][]leaf.Mark, error) {
	p := &printer{view: viewOf(in), f: &leaf.Flow{Size: size, MarginMM: printMarginMM, FootMM: printFootMM}}
	if foot {
		p.f.Foot = p.foot
	}
	if in.Invented {
		p.f.Text(printBold, 0, 0, "", p.say("invented"), true)
	}
	p.f.Heading(printTitle, 2, 0, in.Title)
	pictures, err := drawn(in, size.W-2*printMarginMM)
	if err != nil {
		return nil, nil, err
	}
	p.answer(pictures["shares"])
	p.done(pictures["map"])
	if err := p.rows(); err != nil {
		return nil, nil, err
	}
	if err := p.water(size.W - 2*printMarginMM); err != nil {
		return nil, nil, err
	}
	p.findings()
	p.results(pictures)
	p.changes()
	p.methods()
	if err := p.closer(size.W - 2*printMarginMM); err != nil {
		return nil, nil, err
	}
	p.deviations()
	p.made()
	if len(p.RowNumbers) > 0 {
		p.h2("report.h-row-numbers")
		for _, t := range p.RowNumbers {
			p.numbers(t)
		}
	}
	if p.err != nil {
		return nil, nil, p.err
	}
	return p.f.Pages()
}

// drawn gives the report's drawings at a width, by name.
func drawn(in Input, widthMM float64) (map[string]*figure.Drawing, error) {
	out := map[string]*figure.Drawing{}
	for _, p := range pictures(in) {
		d, err := p.draw(figure.Frame{ID: p.id, WidthMM: widthMM, Look: figure.Print})
		if err != nil {
			return nil, fmt.Errorf("drawing %s: %w", p.id, err)
		}
		out[p.id] = d
	}
	return out, nil
}

func (p *printer) say(slug string, pairs ...any) string {
	with := words.P{}
	for i := 0; i+1 < len(pairs); i += 2 {
		with[pairs[i].(string)] = pairs[i+1]
	}
	return p.Lang.Say(slug, with)
}

// foot numbers the pages, and says on each what it is a page of.
func (p *printer) foot(l *leaf.Leaf, n, of int) {
	base := l.Size.H - printMarginMM + 2
	number := p.say("report.page", "n", n, "of", of)
	l.Set(printQuiet, l.Right(), base, figure.End, number)
	what := p.Title
	if p.Invented {
		what = p.say("invented") + " · " + what
	}
	l.SetFit(printQuiet, l.Left(), base, l.Inner()-printQuiet.Width(number)-6, figure.Start, what)
}

func (p *printer) h2(slug string) { p.f.Heading(printH2, 8, 1, p.say(slug)) }
func (p *printer) h3(text string) {
	p.f.Text(printH3, 4, 0, "", text, true)
}
func (p *printer) para(s leaf.Style, text string) { p.f.Text(s, 1.6, 0, "", text, false) }

// item is one of a list, with its sign.
func (p *printer) item(sign, text string) { p.f.Text(printText, 0.9, 5, sign, text, false) }

func (p *printer) figure(d *figure.Drawing) {
	if d != nil {
		p.f.Text(printBold, 5, 0, "", d.Title, true)
		p.f.Figure(d, 1.5)
	}
}

func (p *printer) table(caption string, head []string, lines [][]string) {
	if err := p.f.Table(leaf.Table{Caption: caption, Head: head, Lines: lines, Style: printTable}, 5); err != nil && p.err == nil {
		p.err = err
	}
}

// numbers prints a table of numbers with its notes. One that is too wide for the
// page, with long names of rows or terms, stands as a list: nothing is left out.
func (p *printer) numbers(t NumberTable) {
	err := p.f.Table(leaf.Table{Caption: t.Caption, Head: t.Head, Lines: t.Lines, Style: printTable}, 5)
	var wide *leaf.NoRoom
	switch {
	case errors.As(err, &wide):
		p.h3(t.Caption)
		for _, line := range t.Lines {
			var cells []string
			for i, c := range line[1:] {
				cells = append(cells, t.Head[i+1]+" "+c)
			}
			p.item("•", line[0]+": "+strings.Join(cells, "; "))
		}
	case err != nil && p.err == nil:
		p.err = err
	}
	for _, n := range t.Notes {
		p.para(printQuiet, n)
	}
}

func (p *printer) answer(shares *figure.Drawing) {
	p.h2("report.h-answer")
	a := p.Answer
	p.para(printLead, strings.TrimSpace(a.Shares+" "+a.Chance))
	for _, t := range a.Pairs {
		p.para(printText, t)
	}
	if a.Caution != "" {
		p.para(printCare, a.Caution)
	}
	for _, t := range p.Off {
		p.para(printCare, t)
	}
	if p.ChangesSummary != "" {
		p.para(printText, p.ChangesSummary)
	}
	switch {
	case p.NotPlanned:
		p.para(printCare, p.Planned)
	case p.Planned != "":
		p.para(printText, p.Planned)
	}
	p.figure(shares)
}

func (p *printer) done(where *figure.Drawing) {
	p.h2("report.h-done")
	for _, t := range p.Done {
		p.para(printText, t)
	}
	p.flowLine()
	if len(p.LeftOut) > 0 {
		p.f.Text(printText, 1.6, 0, "", p.say("report.left-out"), true)
		for _, o := range p.LeftOut {
			p.item("•", o.Why+": "+strings.Join(o.IDs, ", "))
		}
	}
	if p.Withdrawn > 0 {
		p.para(printText, p.say("report.withdrawn", "n", p.Withdrawn))
	}
	p.figure(where)
}

// flowLine is the count of rows from plan to result, side by side.
func (p *printer) flowLine() {
	big := leaf.Style{SizeMM: 5.4, Bold: true, Role: figure.Ink}
	p.f.Add(leaf.Piece{H: 7.6, Before: 2.4, What: p.say("report.h-done"), Draw: func(l *leaf.Leaf, x, y float64) {
		step := l.Inner() / float64(len(p.Flow))
		for _, s := range p.Flow {
			n := strconv.Itoa(s.N)
			l.Set(big, x, y+5.4, figure.Start, n)
			at := x + big.Width(n) + 1.6
			l.SetFit(printText, at, y+5.4, x+step-at-1, figure.Start, s.Text)
			x += step
		}
	}})
}

// rows draws the rows along the shore, site by site, two side by side; a site's
// name stays with its first rows.
func (p *printer) rows() error {
	p.h2("report.h-rows")
	p.para(printText, p.say("report.rows-key"))
	order := map[string][]*assay.Deployment{}
	var sites []string
	for i := range p.Deployments {
		d := &p.Deployments[i]
		if order[d.Site] == nil {
			sites = append(sites, d.Site)
		}
		order[d.Site] = append(order[d.Site], d)
	}
	sort.Strings(sites)
	for _, site := range sites {
		p.h3(site)
		for ds := order[site]; len(ds) > 0; {
			two := ds[:min(2, len(ds))]
			ds = ds[len(two):]
			if err := p.twoRows(two); err != nil {
				return err
			}
		}
	}
	return nil
}

// twoRows sets one or two rows of stakes beside each other.
func (p *printer) twoRows(ds []*assay.Deployment) error {
	const gap, scale = 8.0, 0.8
	wide := (p.f.Inner() - gap) / 2
	words := printBold.SizeMM * leaf.Leading
	pictures := make([]*figure.Drawing, len(ds))
	tall := 0.0
	for i, d := range ds {
		var err error
		if pictures[i], err = figure.DrawRowCompact(p.listRow(d), figure.Frame{ID: "row", WidthMM: wide / scale, Look: figure.Print}); err != nil {
			return err
		}
		tall = max(tall, pictures[i].H*scale)
	}
	p.f.Add(leaf.Piece{H: words + tall + 1, Before: 2, What: ds[0].ID, Draw: func(l *leaf.Leaf, x, y float64) {
		base := y + printBold.SizeMM
		for i, d := range ds {
			l.Record = d.ID
			text := RowText(p.Lang, d)
			right := printText.Width(text)
			l.Set(printText, x+wide, base, figure.End, text)
			bold, id := printBold.Fit(d.ID, wide-right-3)
			l.Set(bold, x, base, figure.Start, id)
			at := bold.Width(id) + 2
			if room := wide - right - 3 - at; room > 8 {
				l.SetFit(printQuiet, x+at, base, room, figure.Start, d.Habitat+" · "+dateOf(d.SetOut))
			}
			pictures[i].On(leaf.Moved{To: l.Drawing, X: x, Y: y + words + 0.6, K: scale})
			x += wide + gap
		}
		l.Record = ""
	}})
	return nil
}

func (p *printer) findings() {
	p.h2("report.h-findings")
	for _, part := range []struct {
		slug, sign string
		texts      []string
	}{{"report.h-blocks", "×", p.Blocks}, {"report.h-open", "?", p.Open}, {"report.h-answered", "•", p.Answered}} {
		if len(part.texts) == 0 {
			continue
		}
		p.h3(p.say(part.slug))
		for _, t := range part.texts {
			p.item(part.sign, t)
		}
	}
	if len(p.Blocks) == 0 && len(p.Open) == 0 {
		p.para(printText, p.say("report.no-findings"))
	}
}

func (p *printer) results(pictures map[string]*figure.Drawing) {
	p.h2("report.h-results")
	for _, id := range []string{"curves", "rates", "contrasts"} {
		p.figure(pictures[id])
	}
	for _, t := range p.Controls {
		p.para(printText, t)
	}
	for _, t := range p.Results {
		p.numbers(t)
	}
}

func (p *printer) changes() {
	if len(p.Changes) == 0 {
		return
	}
	p.h2("report.h-changes")
	p.para(printText, p.ChangesSummary)
	for _, c := range p.Changes {
		t := c.Name + ": " + c.Text
		if c.Turns {
			t += " " + p.say("change.mark")
		}
		p.item("•", t)
	}
}

func (p *printer) methods() {
	p.h2("report.h-methods")
	for _, t := range p.Methods {
		p.para(printText, t)
	}
	for _, t := range p.Messages {
		p.item("•", t)
	}
	for _, t := range p.Numbers {
		p.numbers(t)
	}
	if len(p.References) > 0 {
		p.h3(p.say("report.h-references"))
		for _, t := range p.References {
			p.item("•", t)
		}
	}
}

// closer prints the closer look: each drawing under its sentences.
func (p *printer) closer(widthMM float64) error {
	if p.Closer == nil {
		return nil
	}
	p.h2("closer.title")
	p.para(printText, p.say("closer.about"))
	for _, c := range CloserPictures(p.Lang, p.Closer) {
		p.h3(c.Title)
		style := printText
		if c.Off {
			style = printCare
		}
		for _, t := range c.Sentences {
			p.para(style, t)
		}
		d, err := c.Draw(figure.Frame{ID: "closer-" + c.Name, WidthMM: widthMM, Look: figure.Print})
		if err != nil {
			return fmt.Errorf("drawing %s: %w", c.Name, err)
		}
		p.figure(d)
	}
	if len(p.BalanceLines) > 0 {
		p.table(p.say("closer.balance.table", "by", p.Closer.ByWord(p.Lang)), p.BalanceHead, p.BalanceLines)
	}
	for _, t := range p.CloserRest {
		p.item("•", t)
	}
	return nil
}

func (p *printer) deviations() {
	p.h2("report.h-deviations")
	for _, n := range p.Notes {
		t := n.Text
		if n.N > 1 {
			t = p.say("report.note-times", "n", n.N, "text", n.Text)
		}
		p.item("•", t+" ("+strings.Join(n.IDs, ", ")+")")
	}
	if len(p.Notes) == 0 {
		p.para(printText, p.say("report.no-deviations"))
	}
}

func (p *printer) made() {
	p.h2("report.h-made")
	pair := func(slug, value string) {
		p.f.Text(printQuiet, 1.6, 0, "", p.say(slug), true)
		p.f.Text(printText, 0, 0, "", value, false)
	}
	pair("report.made-by", "Soakline "+p.Version)
	pair("report.made-from", strings.Join(p.Sources, ", "))
	pair("report.made-hash", p.Hash)
	if p.Compare != nil {
		pair("report.made-seed", fmt.Sprint(p.Compare.Seed))
	}
	if len(p.Taken) > 0 {
		p.f.Text(printText, 3, 0, "", p.say("report.taken"), true)
		for _, m := range p.Taken {
			p.item("•", m.In(p.Lang))
		}
	}
	p.para(printQuiet, p.say("report.care"))
}
