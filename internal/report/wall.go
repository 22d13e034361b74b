package report

import (
	"math"
	"sort"

	"soakline/internal/figure"
	"soakline/internal/leaf"
	"soakline/internal/words"
)

// Of the wall sheet, mm: read from a few steps away.
var (
	wallTitle = leaf.Style{SizeMM: 10, Bold: true, Role: figure.Ink}
	wallSay   = leaf.Style{SizeMM: 7, Role: figure.Ink}
	wallName  = leaf.Style{SizeMM: 6.4, Bold: true, Role: figure.Ink}
	wallText  = leaf.Style{SizeMM: 4.4, Role: figure.Ink}
	wallBold  = leaf.Style{SizeMM: 4.4, Bold: true, Role: figure.Ink}
	wallQuiet = leaf.Style{SizeMM: 3.8, Role: figure.Mute}
)

const wallMarginMM = 16.0

// wallGroup is one group as a row of stakes: share of its baits gone.
type wallGroup struct {
	name  string
	share float64
}

// tally counts baits of rows at their last check.
type tally struct{ set, gone, notKnown int }

func (t *tally) add(o tally) {
	t.set, t.gone, t.notKnown = t.set+o.set, t.gone+o.gone, t.notKnown+o.notKnown
}

// Wall writes the result on one page for a wall, in plain words: one sentence,
// each group as one big row of stakes, and how many baits went where. It tells
// what Page tells first, and counts the rows that are in the result.
// Errors: *leaf.NoGlyph, which names the row, and *leaf.NoRoom.
func Wall(in Input, size leaf.Size) ([]byte, error) {
	if err := printable(in); err != nil {
		return nil, err
	}
	p, err := wallPage(in, size)
	if err != nil {
		return nil, err
	}
	return leaf.PDF([]*leaf.Leaf{p}, nil, leaf.File{Title: in.Title, Lang: string(in.Lang), At: LastSetOut(in.Deployments)})
}

func wallPage(in Input, size leaf.Size) (*leaf.Leaf, error) {
	p := leaf.New(size, wallMarginMM)
	p.Title = in.Title
	say := func(slug string, pairs ...any) string {
		with := words.P{}
		for i := 0; i+1 < len(pairs); i += 2 {
			with[pairs[i].(string)] = pairs[i+1]
		}
		return in.Lang.Say(slug, with)
	}
	y := wallMarginMM
	if in.Invented {
		p.Area([][]figure.Point{{{X: p.Left(), Y: y}, {X: p.Right(), Y: y}, {X: p.Right(), Y: y + 8}, {X: p.Left(), Y: y + 8}}}, figure.Fill{Role: figure.Ink})
		white := wallBold
		white.Role = figure.Paper
		p.Set(white, size.W/2, y+5.6, figure.Middle, say("invented"))
		y += 12
	}
	y = p.Paragraph(wallTitle, p.Left(), y, p.Inner(), in.Title) + 2
	y = p.Paragraph(wallSay, p.Left(), y, p.Inner(), wallSentence(in)) + 4
	groups := wallGroups(in)
	y, err := wallRows(p, in, groups, y, say)
	if err != nil {
		return nil, err
	}
	how := wallHow(in, say)
	foot := p.Bottom() - wallQuiet.Tall(how, p.Inner()) - 1
	if !wallWhere(p, in, y, foot-3, say) {
		return nil, &leaf.NoRoom{What: say("wall.where")}
	}
	p.Paragraph(wallQuiet, p.Left(), foot, p.Inner(), how)
	return p, p.Err
}

// wallSentence is the answer, with how sure it is in the fewest words.
func wallSentence(in Input) string {
	t := Answers(in.Lang, in.Compare).Shares
	k := in.Compare
	if k == nil || !k.Converged || len(k.Levels) < 2 {
		return t
	}
	if chance, _, ok := headline(k); ok {
		slug := "wall.alike"
		switch {
		case chance < (1-k.ConfLevel)/5:
			slug = "wall.clear"
		case chance < 1-k.ConfLevel:
			slug = "wall.likely"
		}
		t += " " + in.Lang.Say(slug, nil)
	}
	return t
}

// wallGroups are the groups with most gone first: as the comparison has them,
// or as they were counted where there is no comparison.
func wallGroups(in Input) []wallGroup {
	var out []wallGroup
	if k := in.Compare; k != nil && k.Converged {
		soak := 0.0
		for _, m := range k.Means {
			soak = math.Max(soak, m.SoakH)
		}
		for _, m := range k.Means {
			if share, ok := m.Proportion.Get(); ok && m.SoakH == soak {
				out = append(out, wallGroup{m.Level, share})
			}
		}
	}
	if len(out) == 0 {
		counts := map[string]tally{}
		for _, c := range wallCounts(in) {
			t := counts[c.habitat]
			t.add(c.tally)
			counts[c.habitat] = t
		}
		for name, t := range counts {
			if t.set > t.notKnown {
				out = append(out, wallGroup{name, float64(t.gone) / float64(t.set-t.notKnown)})
			}
		}
		sort.Slice(out, func(i, j int) bool { return out[i].name < out[j].name })
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].share > out[j].share })
	return out
}

// wallRows draws each group as one row of the protocol's stakes, as wide as the
// page, and below them what the two marks mean.
func wallRows(p *leaf.Leaf, in Input, groups []wallGroup, y float64, say func(string, ...any) string) (float64, error) {
	n := min(max(in.Usual.Baits, 5), 40)
	const most = 8 // groups that one page shows as rows
	for i, g := range groups {
		if i == most {
			y = p.Paragraph(wallText, p.Left(), y, p.Inner(), say("wall.more", "n", len(groups)-most)) + 2
			break
		}
		gone := int(math.Round(g.share * float64(n)))
		row := figure.Row{Title: g.name, Lines: []figure.RowLine{{Counts: figure.FateCounts{Consumed: gone, Present: n - gone}}}}
		d, err := figure.DrawRowCompact(row, figure.Frame{ID: "row", WidthMM: 120, Look: figure.Print})
		if err != nil {
			return y, err
		}
		value := say("wall.gone", "n", gone, "of", n)
		p.Set(wallName, p.Right(), y+wallName.SizeMM, figure.End, value)
		p.SetFit(wallName, p.Left(), y+wallName.SizeMM, p.Inner()-wallName.Width(value)-5, figure.Start, g.name)
		y += wallName.SizeMM + 1.6
		k := p.Inner() / d.W
		if len(groups) > 4 {
			k *= 0.7
		}
		d.On(leaf.Moved{To: p.Drawing, X: p.Left(), Y: y, K: k})
		y += d.H*k + 4
	}
	if len(groups) == 0 {
		return y, nil
	}
	return p.Paragraph(wallQuiet, p.Left(), y, p.Inner(), say("wall.key", "n", n)) + 5, nil
}

// wallCount is what one row of stakes came to.
type wallCount struct {
	site, habitat string
	tally
}

func wallCounts(in Input) []wallCount {
	var out []wallCount
	for _, d := range in.Rates.Deployments {
		if len(d.Checks) == 0 {
			continue
		}
		c := d.Checks[len(d.Checks)-1]
		out = append(out, wallCount{d.Site, d.Habitat, tally{d.Baits, c.Consumed, c.Lost + c.Unread}})
	}
	return out
}

// wallWhere is the table of baits gone of baits set, site by habitat, in the
// largest type that fits above limit; where none does, habitats alone.
func wallWhere(p *leaf.Leaf, in Input, y, limit float64, say func(string, ...any) string) bool {
	counts := map[string]map[string]tally{}
	all := map[string]tally{}
	var sites, habitats []string
	for _, c := range wallCounts(in) {
		if counts[c.site] == nil {
			counts[c.site] = map[string]tally{}
			sites = append(sites, c.site)
		}
		if _, ok := all[c.habitat]; !ok {
			habitats = append(habitats, c.habitat)
		}
		for _, m := range []map[string]tally{counts[c.site], all} {
			t := m[c.habitat]
			t.add(c.tally)
			m[c.habitat] = t
		}
	}
	sort.Strings(sites)
	sort.Strings(habitats)
	lines := [][]string{append([]string{""}, habitats...)}
	cells := func(name string, m map[string]tally) []string {
		line := []string{name}
		for _, h := range habitats {
			text := "–"
			if t := m[h]; t.set > 0 {
				text = say("wall.of", "n", t.gone, "of", t.set)
			}
			line = append(line, text)
		}
		return line
	}
	for _, s := range sites {
		lines = append(lines, cells(s, counts[s]))
	}
	lines = append(lines, cells(say("wall.all"), all))
	if len(habitats) == 0 {
		return true
	}
	p.Set(wallBold, p.Left(), y+wallBold.SizeMM, figure.Start, say("wall.where"))
	y += wallBold.SizeMM + 2.4
	for _, lines := range [][][]string{lines, {lines[0], lines[len(lines)-1]}} {
		for size := wallText.SizeMM; size >= 2.8; size -= 0.2 {
			if wallTable(p, lines, size, y, limit) {
				return true
			}
		}
	}
	return false
}

// wallTable sets the table in one size, or tells that it does not fit. The
// first line heads it, the last sums it up.
func wallTable(p *leaf.Leaf, lines [][]string, size, y, limit float64) bool {
	step := size * 1.45
	if y+step*float64(len(lines)) > limit || len(lines[0]) < 2 {
		return false
	}
	st, bold := wallText.Sized(size), wallBold.Sized(size)
	first := 0.0
	for _, l := range lines {
		first = max(first, bold.Width(l[0]))
	}
	first = min(first+4, p.Inner()*0.45)
	each := (p.Inner() - first) / float64(len(lines[0])-1)
	for _, l := range lines {
		for _, c := range l[1:] {
			if bold.Width(c) > (each-2)/0.7 {
				return false
			}
		}
	}
	for i, l := range lines {
		s := st
		if i == 0 || i == len(lines)-1 {
			s = bold
		}
		base := y + step*float64(i) + size
		p.SetFit(s, p.Left(), base, first-2, figure.Start, l[0])
		for k, c := range l[1:] {
			p.SetFit(s, p.Left()+first+each*float64(k+1), base, each-2, figure.End, c)
		}
		if i == 0 || i == len(lines)-2 {
			p.Rule(p.Left(), base+size*0.36, p.Right(), base+size*0.36, 0.3)
		}
	}
	return true
}

// wallHow says in a few sentences how it was found out, and whether it was planned.
func wallHow(in Input, say func(string, ...any) string) string {
	rows, all, sites := 0, tally{}, map[string]bool{}
	for _, c := range wallCounts(in) {
		rows++
		all.add(c.tally)
		sites[c.site] = true
	}
	t := say("wall.how", "baits", all.set, "rows", rows, "sites", len(sites), "soaks", soakList(in), "share", in.Usual.ConsumedFraction)
	if all.notKnown > 0 {
		t += " " + say("wall.not-known", "n", all.notKnown)
	}
	if in.Compare != nil && in.Compare.Plan.Has() {
		t += " " + in.Compare.Plan.Plain(in.Lang)
	}
	return t
}
