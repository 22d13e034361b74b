package paper

import (
	_ "embed"
	"strconv"
	"sync"

	"github.com/BurntSushi/toml"

	"soakline/internal/figure"
	"soakline/internal/leaf"
	"soakline/internal/words"
)

// Grid is a sheet of labels, mm.
type Grid struct {
	Name   string  `toml:"name"`
	Paper  string  `toml:"paper"`
	Width  float64 `toml:"width"`
	Height float64 `toml:"height"`
	Left   float64 `toml:"left"`
	Top    float64 `toml:"top"`
	StepX  float64 `toml:"step_x"`
	StepY  float64 `toml:"step_y"`
	Across int     `toml:"across"`
	Down   int     `toml:"down"`
	Cut    bool    `toml:"cut"` // plain paper: marks to cut along
}

//go:embed labels.toml
var gridText string

// Grids are the sheets of labels, in the order of the file.
var Grids = sync.OnceValue(func() []Grid {
	var f struct {
		Grid []Grid `toml:"grid"`
	}
	if _, err := toml.Decode(gridText, &f); err != nil {
		panic("paper: labels.toml: " + err.Error()) // the build is broken, not the data
	}
	return f.Grid
})

// Label is one label: a large text, a small one, and a code where there is one.
type Label struct{ Large, Small, Code string }

// LabelOptions say how labels are printed.
type LabelOptions struct {
	Lang           words.Language
	Grid           Grid
	Labels         []Label
	Skip           int     // labels of the first sheet that are gone already
	ShiftX, ShiftY float64 // what a printer prints too far left and too high, mm
	Title          string
}

// StakeLabels are those of a row's stakes: number large, row small.
func StakeLabels(rows []Row) []Label {
	var out []Label
	for _, r := range rows {
		for i := range r.Baits {
			out = append(out, Label{Large: strconv.Itoa(i + 1), Small: r.ID})
		}
	}
	return out
}

// BagLabels are one for each row's bag: the row large, and its code.
func BagLabels(rows []Row, l words.Language) []Label {
	var out []Label
	for _, r := range rows {
		small := join(r.Site, r.Habitat, r.BaitBatch, l.Say("paper.label.stakes", words.P{"n": r.Baits}))
		out = append(out, Label{Large: r.ID, Small: small, Code: r.ID})
	}
	return out
}

// Labels prints labels. Errors: *NoGlyph, *NoCode, *NoRoom.
func Labels(o LabelOptions) ([]byte, error) { return write(labelPages(o), o.Lang, o.Title) }

func labelPages(o LabelOptions) []*page {
	g := o.Grid
	size := A4
	for _, s := range Sizes {
		if s.Name == g.Paper {
			size = s
		}
	}
	per := g.Across * g.Down
	var pages []*page
	var p *page
	for i, l := range o.Labels {
		at := (i + o.Skip) % per
		if p == nil || at == 0 {
			p = newPage(size, o.Lang)
			pages = append(pages, p)
			if g.Cut {
				p.cutMarks(g, o.ShiftX, o.ShiftY)
			}
		}
		x := g.Left + float64(at%g.Across)*g.StepX + o.ShiftX
		y := g.Top + float64(at/g.Across)*g.StepY + o.ShiftY
		p.label(l, x, y, g.Width, g.Height)
	}
	return pages
}

// label sets one label inside its rectangle, 1.5 mm from every edge.
func (p *page) label(l Label, x, y, w, h float64) {
	const edge = 1.5
	if err := leaf.Check("", l.Small); err != nil { // lines are wrapped from a cleaned text
		p.Fault(err)
		return
	}
	right := x + w - edge
	if l.Code != "" {
		side := codeSide(l.Code, min(h-1, w*0.45))
		if side > h-0.5 || side > w*0.6 {
			p.Fault(&NoRoom{What: l.Code})
			return
		}
		p.code(l.Code, x+w-side, y+(h-side)/2, side)
		right = x + w - side
	}
	room := right - x - edge
	st := small
	if l.Code == "" {
		st = strong.Sized(3.4) // a stake's row is read at arm's length, too
	}
	lines := st.Wrap(l.Small, room)
	if len(lines) > 2 {
		st, lines = st.Sized(2.1), st.Sized(2.1).Wrap(l.Small, room)
	}
	if len(lines) > 3 {
		lines = lines[:3]
	}
	tall := float64(len(lines)) * st.SizeMM * leading
	big, parts := largest(l.Large, room, h-2*edge-tall-1)
	if big.SizeMM < 1.9 {
		p.Fault(&NoRoom{What: l.Large})
		return
	}
	capital := big.SizeMM * 0.66 // height of figures and capitals of the font
	deep := capital + float64(len(parts)-1)*big.SizeMM
	top := y + (h-deep-1-tall)/2
	for i, part := range parts {
		p.Set(big, x+edge, top+capital+float64(i)*big.SizeMM, figure.Start, part)
	}
	t := top + deep + 1
	for _, line := range lines {
		p.SetFit(st, x+edge, t+st.SizeMM, room, figure.Start, line)
		t += st.SizeMM * leading
	}
}

// largest sets a text as large as w and h let it be, never cut: where it would
// be too small in one line, in two or three.
func largest(t string, w, h float64) (style, []string) {
	r := []rune(t)
	var st style
	var parts []string
	for n := 1; n <= 3; n++ {
		parts = nil
		for i := range n {
			parts = append(parts, string(r[i*len(r)/n:(i+1)*len(r)/n]))
		}
		st = strong.Sized(min(h/float64(n), 11))
		for _, part := range parts {
			if have := st.Width(part); have > w {
				st.SizeMM *= w / have * 0.999
			}
		}
		if st.SizeMM >= 2.6 {
			break
		}
	}
	return st, parts
}

// cutMarks draws short lines outside the grid, where a rule is laid.
func (p *page) cutMarks(g Grid, dx, dy float64) {
	const gap, long = 1.0, 5.0
	x0, y0 := g.Left+dx, g.Top+dy
	x1 := x0 + float64(g.Across-1)*g.StepX + g.Width
	y1 := y0 + float64(g.Down-1)*g.StepY + g.Height
	for i := range g.Across + 1 {
		x := x0 + float64(i)*g.StepX
		p.Rule(x, y0-gap-long, x, y0-gap, hairMM)
		p.Rule(x, y1+gap, x, y1+gap+long, hairMM)
	}
	for i := range g.Down + 1 {
		y := y0 + float64(i)*g.StepY
		p.Rule(x0-gap-long, y, x0-gap, y, hairMM)
		p.Rule(x1+gap, y, x1+gap+long, y, hairMM)
	}
}
