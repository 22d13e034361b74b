package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"os"
	"path/filepath"
	"sort"
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/figure"
	"soakline/internal/fitness"
	"soakline/internal/methods"
	"soakline/internal/quality"
	"soakline/internal/rates"
	"soakline/internal/words"
)

// Input is everything that a report tells. It holds no clock: the same input
// gives the same bytes.
type Input struct {
	methods.Input // what was done and with what; its Checks come from Closer

	Withdrawn int
	Taken     []words.Message
	Closer    *fitness.Result // nil where nothing was looked at more closely
	Water     *Water          // nil where no site's tide is known
}

//go:embed page.html
var pageText string

//go:embed page.css
var pageCSS string

var page = template.Must(template.New("report").Funcs(template.FuncMap{"say": func() string { return "" }, "num": words.Number}).Parse(pageText))

// view is what the template shows.
type view struct {
	Input
	CSS            template.CSS
	Answer         Answer
	Done           []string // what was done
	Flow           []flowStep
	LeftOut        []leftOut
	Open           []string // questions nobody has answered
	Answered       []string
	Blocks         []string
	Notes          []noteCount
	Shares         template.HTML
	Curves         template.HTML
	RatesFigure    template.HTML
	Contrasts      template.HTML
	Map            template.HTML
	Sites          []siteRows
	Changes        []Change
	ChangesSummary string
	Methods        []string
	References     []string
	Messages       []string
	Controls       []string      // what went without consumers, in plain words
	Results        []NumberTable // of the results
	Numbers        []NumberTable // for the methods section
	RowNumbers     []NumberTable // row by row
	WaterParts     []waterPart
	Off            []string // what does not go with the rows, in plain words
	Planned        string   // whether the comparison was planned, in one sentence
	NotPlanned     bool     // some of it was not
	CloserParts    []closerPart
	CloserRest     []string // what could not be looked at
	BalanceHead    []string
	BalanceLines   [][]string
}

type flowStep struct {
	N    int
	Text string
}

type leftOut struct {
	Why string
	IDs []string
}

type noteCount struct {
	Text string
	N    int
	IDs  []string
}

type siteRows struct {
	Site string
	Rows []rowLine
}

type rowLine struct {
	ID, Habitat, Date, Text string
	Picture                 template.HTML
}

// Change is one repetition with something changed, and what it came to.
type Change struct {
	Name, Text string
	Turns      bool // the conclusion is another one
}

// viewOf puts everything but the drawings into words.
func viewOf(in Input) view {
	v := view{Input: in, Answer: Answers(in.Lang, in.Compare), Done: done(in)}
	v.Flow, v.LeftOut = flow(in)
	v.Blocks, v.Open, v.Answered, v.Notes = findings(in)
	v.Changes, v.ChangesSummary = Changes(in.Lang, in.Compare, in.Variants)
	v.Methods, v.References = methodsSection(in)
	v.Controls = ControlSentences(in.Lang, in.Compare)
	for _, t := range NumberTables(in.Lang, in.Compare) {
		if t.Name == "means" || t.Name == "controls" {
			v.Results = append(v.Results, t)
		} else {
			v.Numbers = append(v.Numbers, t)
		}
	}
	v.RowNumbers = RowTables(in.Lang, in.Rates)
	if in.Compare != nil {
		if k := in.Compare.Plan; k.Has() {
			v.Planned, v.NotPlanned = k.Plain(in.Lang), k.Deviates()
		}
		for _, m := range in.Compare.Messages {
			v.Messages = append(v.Messages, m.In(in.Lang))
		}
	}
	v.Off = CloserPlain(in.Lang, in.Closer)
	if in.Closer != nil {
		v.CloserRest = CloserUndrawn(in.Lang, in.Closer)
		v.BalanceHead, v.BalanceLines = CloserBalance(in.Lang, in.Closer)
	}
	return v
}

// Page writes the report as one HTML file with everything in it.
func Page(in Input) ([]byte, error) {
	l := in.Lang
	v := viewOf(in)
	v.CSS = template.CSS(pageCSS)
	if err := v.figures(); err != nil {
		return nil, err
	}
	t, err := page.Clone()
	if err != nil {
		return nil, err
	}
	t.Funcs(template.FuncMap{"say": func(slug string, pairs ...any) string {
		with := words.P{}
		for i := 0; i+1 < len(pairs); i += 2 {
			with[fmt.Sprint(pairs[i])] = pairs[i+1]
		}
		return l.Say(slug, with)
	}})
	var b bytes.Buffer
	if err := t.Execute(&b, v); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// WriteBeside writes a file whole or not at all: beside its place, then renamed.
func WriteBeside(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".soakline-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	if _, err := f.Write(data); err != nil {
		f.Close()
		return err
	}
	if err := f.Chmod(0o644); err != nil {
		f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// done says what was done, from the records.
func done(in Input) []string {
	l := in.Lang
	sites, habitats, teams, seasons := map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	baits := 0
	var first, last assay.Moment
	for i := range in.Deployments {
		d := &in.Deployments[i]
		sites[d.Site], habitats[d.Habitat], teams[d.Team], seasons[d.Season] = true, true, true, true
		baits += d.Baits
		if d.SetOut.Known() && (!first.Known() || d.SetOut.At.Before(first.At)) {
			first = d.SetOut
		}
		if d.SetOut.Known() && d.SetOut.At.After(last.At) {
			last = d.SetOut
		}
	}
	delete(teams, "")
	delete(seasons, "")
	out := []string{l.Say("report.done", words.P{"rows": len(in.Deployments), "baits": baits, "sites": len(sites), "habitats": keys(habitats)})}
	if first.Known() {
		out = append(out, l.Say("report.dates", words.P{"from": first.Local().Format("2006-01-02"), "to": last.Local().Format("2006-01-02")}))
	}
	if len(teams) > 1 {
		out = append(out, l.Say("report.teams", words.P{"n": len(teams), "teams": keys(teams)}))
	}
	out = append(out, l.Say("report.protocol", words.P{"protocol": in.UsualName, "baits": in.Usual.Baits, "spacing": in.Usual.SpacingM, "soaks": soakList(in)}))
	return out
}

func keys(m map[string]bool) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		if k != "" {
			out = append(out, k)
		}
	}
	sort.Strings(out)
	return out
}

// flow counts the rows from plan to result, and lists who fell out and why.
func flow(in Input) ([]flowStep, []leftOut) {
	l := in.Lang
	f := in.Rates.Flow
	steps := []flowStep{
		{f.Planned, l.Say("flow.planned", nil)}, {f.SetOut, l.Say("flow.set-out", nil)},
		{f.Read, l.Say("flow.read", nil)}, {f.Analysed, l.Say("flow.analysed", nil)},
	}
	var order []string
	by := map[string][]string{}
	add := func(id, slug string) {
		if by[slug] == nil {
			order = append(order, slug)
		}
		by[slug] = append(by[slug], id)
	}
	for _, e := range in.Rates.Excluded {
		add(e.DeploymentID, e.Slug)
	}
	if in.Compare != nil {
		seen := map[string]bool{}
		for _, e := range in.Rates.Excluded {
			seen[e.DeploymentID+"\x1f"+e.Slug] = true
		}
		for _, e := range in.Compare.Excluded {
			if !seen[e.DeploymentID+"\x1f"+e.Slug] {
				add(e.DeploymentID, e.Slug)
			}
		}
	}
	var out []leftOut
	for _, slug := range order {
		out = append(out, leftOut{l.Say("left-out."+slug, nil), by[slug]})
	}
	return steps, out
}

// rowNames gives each record its identifier, with its site beside it where rows
// share one: teams number their rows from 1 at every site.
func rowNames(ds []assay.Deployment) map[string]string {
	holders := map[string]int{}
	for i := range ds {
		holders[ds[i].ID]++
	}
	names := make(map[string]string, len(ds))
	for i := range ds {
		name := ds[i].ID
		if holders[name] > 1 && ds[i].Site != "" {
			name += " (" + ds[i].Site + ")"
		}
		names[quality.Record(&ds[i])] = name
	}
	return names
}

// findings sorts what the rules said: blocks, open questions, answered ones,
// and deviations to declare, counted by rule.
func findings(in Input) (blocks, open, answered []string, notes []noteCount) {
	l := in.Lang
	place, names := map[string]int{}, rowNames(in.Deployments)
	for _, f := range in.Findings {
		name := names[f.Record]
		if name == "" {
			name = f.DeploymentID
		}
		text := l.Say("report.finding", words.P{"id": name, "text": l.Say("finding."+f.Slug, f.With)})
		switch {
		case f.Severity == assay.Block:
			blocks = append(blocks, text)
		case f.Severity == assay.Ask && f.Answered:
			answered = append(answered, text+" "+l.Say("report.answered", words.P{"answer": f.Answer}))
		case f.Severity == assay.Ask:
			open = append(open, text)
		default:
			i, ok := place[f.Slug]
			if !ok {
				i = len(notes)
				place[f.Slug] = i
				notes = append(notes, noteCount{Text: l.Say("finding."+f.Slug, f.With)})
			}
			notes[i].N++
			notes[i].IDs = append(notes[i].IDs, name)
		}
	}
	return blocks, open, answered, notes
}

// Changes tells of each repetition whether the conclusion would change, and sums up.
func Changes(l words.Language, k *compare.Result, variants []compare.Variant) ([]Change, string) {
	if k == nil || !k.Converged || len(k.Levels) < 2 {
		return nil, ""
	}
	var out []Change
	turned := 0
	for _, v := range variants {
		c := Change{Name: v.Name().In(l), Turns: compare.Turns(k, v.Result)}
		p, ok := v.Result.Test.P.Get()
		switch {
		case !v.Result.Converged || !ok:
			c.Text = l.Say("change.none", nil)
		default:
			c.Text = l.Say("change.text", words.P{"shares": shares(l, v.Result), "chance": Chance(l, p, 0)})
		}
		if c.Turns {
			turned++
		}
		out = append(out, c)
	}
	switch {
	case len(out) == 0:
		return out, l.Say("change.nothing", nil)
	case turned == 0:
		return out, l.Say("change.stays", words.P{"n": len(out)})
	}
	return out, l.Say("change.turns", words.P{"n": turned, "of": len(out)})
}

// figures draws everything the page shows.
func (v *view) figures() error {
	places := map[string]*template.HTML{"shares": &v.Shares, "curves": &v.Curves, "rates": &v.RatesFigure, "contrasts": &v.Contrasts, "map": &v.Map}
	for _, p := range pictures(v.Input) {
		html, err := both(p)
		if err != nil {
			return err
		}
		*places[p.id] = html
	}
	for _, p := range CloserPictures(v.Lang, v.Closer) {
		html, err := both(picture{"closer-" + p.Name, p.Draw})
		if err != nil {
			return err
		}
		v.CloserParts = append(v.CloserParts, closerPart{p, html})
	}
	if err := v.water(); err != nil {
		return err
	}
	return v.rowList()
}

// rowList draws the rows along the shore, site by site.
func (v *view) rowList() error {
	order := map[string]int{}
	for i := range v.Deployments {
		d := &v.Deployments[i]
		at, ok := order[d.Site]
		if !ok {
			at = len(v.Sites)
			order[d.Site] = at
			v.Sites = append(v.Sites, siteRows{Site: d.Site})
		}
		drawing, err := figure.DrawRowCompact(v.listRow(d), figure.Frame{ID: "row" + strconv.Itoa(i), WidthMM: figure.ScreenMM(330), Look: figure.Screen})
		if err != nil {
			return err
		}
		v.Sites[at].Rows = append(v.Sites[at].Rows, rowLine{ID: d.ID, Habitat: d.Habitat, Date: dateOf(d.SetOut), Text: RowText(v.Lang, d),
			Picture: template.HTML(drawing.SVG())})
	}
	sort.SliceStable(v.Sites, func(i, j int) bool { return v.Sites[i].Site < v.Sites[j].Site })
	return nil
}

// listRow is a row's drawing in the list of rows.
func (v *view) listRow(d *assay.Deployment) figure.Row {
	p, known := v.Protocols[d.Protocol]
	if !known {
		p = v.Usual
	}
	return RowPicture(v.Lang, d, p.CountsAsConsumed, false)
}

func dateOf(m assay.Moment) string {
	if !m.Known() {
		return "–"
	}
	return m.Local().Format("2006-01-02")
}

// RowText tells a row's counts in a few words: "9, then 21 of 25 gone".
func RowText(l words.Language, d *assay.Deployment) string {
	checks, baits, _ := rates.FromStakes(d)
	list := words.List{}
	for _, c := range checks {
		if c.Read() {
			list = append(list, c.Consumed.Or(0))
		}
	}
	switch len(list) {
	case 0:
		return l.Say("row.text-none", words.P{"of": baits})
	case 1:
		return l.Say("row.text-one", words.P{"n": list[0], "of": baits})
	}
	return l.Say("row.text", words.P{"before": list[:len(list)-1], "n": list[len(list)-1], "of": baits})
}
