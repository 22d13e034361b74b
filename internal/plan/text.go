package plan

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// Head is the first line of every plan; the number is that of the form.
const Head = "Soakline analysis plan, form 1"

// What every comparison of this form does with baits and rows, so that the text
// says it without the program.
var fixed = []string{
	"lost baits: leave when last seen",
	"unread baits: count over the longer interval",
	"never in the comparison: control rows, practice rows, records with something impossible in them",
}

// Line is the form of one line's value: what a value may not hold is a line's end
// or another control character, or a blank at either side.
func Line(s string) bool {
	return s == strings.TrimSpace(s) && !strings.ContainsFunc(s, unicode.IsControl) && strings.ToValidUTF8(s, "") == s
}

// lines writes lines "name: value".
type lines struct{ b strings.Builder }

func (w *lines) put(name, value string) { w.b.WriteString(name + ": " + value + "\n") }

func (w *lines) some(name, value string) {
	if value != "" {
		w.put(name, value)
	}
}

func (w *lines) each(name string, values []string) {
	for _, v := range values {
		w.put(name, v)
	}
}

func (w *lines) count(name string, n int) {
	if n > 0 {
		w.put(name, strconv.Itoa(n))
	}
}

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// Text is the canonical text: UTF-8, one decision a line, every line ended by a
// line feed. The same plan is the same text.
func (p Plan) Text() string {
	p.Sort()
	w := &lines{}
	w.b.WriteString(Head + "\n")
	w.put("written", p.Written.Format(time.RFC3339))
	w.put("rows set out or read by then", strconv.Itoa(p.RowsThen))
	w.some("question", p.Question)
	w.some("season", p.Season)
	w.put("compare by", p.By)
	w.each("among", p.Among)
	w.some("reference", p.Reference)
	for _, t := range p.Terms {
		w.put(t.Kind, t.Name)
	}
	w.put("link", p.Link)
	w.put("family", p.Family)
	w.put("check", check(p.Check))
	w.put("bands", p.Bands)
	w.each("random intercept", p.random())
	w.put("controls", p.Controls)
	w.put("adjust", p.Adjust)
	w.put("level", number(p.Level))
	w.put("quadrature points", strconv.Itoa(p.Quadrature))
	w.put("simulated seasons", p.seasons())
	w.put("seed", strconv.FormatUint(p.Seed, 10))
	w.put("protocol", p.Protocol)
	w.put("consumed when more is gone than", number(p.Fraction))
	w.each("counts as consumed", p.Ways)
	for _, h := range p.SoaksH {
		w.put("check after h", number(h))
	}
	for _, l := range fixed {
		w.b.WriteString(l + "\n")
	}
	w.each("leave out", p.LeaveOut)
	w.put("repeat with lost baits and sites changed", yes(p.Repeats))
	w.put("closer look at the model", yes(p.Closer))
	w.count("sites", p.Sites)
	w.count("rows", p.Rows)
	w.count("baits in each row", p.Baits)
	w.each("note", p.Notes)
	return w.b.String()
}

func check(k int) string {
	if k == 0 {
		return "all"
	}
	return strconv.Itoa(k)
}

func (p *Plan) random() []string {
	switch {
	case p.Usual:
		return []string{"usual"}
	case len(p.Random) == 0:
		return []string{"none"}
	}
	return p.Random
}

func (p *Plan) seasons() string {
	if p.Auto {
		return "auto"
	}
	return strconv.Itoa(p.Bootstrap)
}

var errForm = errors.New("plan: not a text of form 1")

// Read reads a canonical text. It refuses anything that Text does not write, to
// the letter: what reads is what was hashed.
func Read(text string) (Plan, error) {
	var p Plan
	head, rest, ok := strings.Cut(text, "\n")
	if !ok || head != Head {
		return p, errForm
	}
	for l := range strings.Lines(rest) {
		l = strings.TrimSuffix(l, "\n")
		if slices.Contains(fixed, l) {
			continue
		}
		name, value, ok := strings.Cut(l, ": ")
		if !ok {
			return p, fmt.Errorf("%w: %q", errForm, l)
		}
		if err := p.take(name, value); err != nil {
			return p, fmt.Errorf("%w: %q", errForm, l)
		}
	}
	if p.Text() != text {
		return p, errForm
	}
	return p, nil
}

// take reads one line.
func (p *Plan) take(name, value string) (err error) {
	texts := map[string]*string{"question": &p.Question, "season": &p.Season, "compare by": &p.By, "reference": &p.Reference, "link": &p.Link, "family": &p.Family,
		"bands": &p.Bands, "controls": &p.Controls, "adjust": &p.Adjust, "protocol": &p.Protocol}
	lists := map[string]*[]string{"among": &p.Among, "random intercept": &p.Random, "counts as consumed": &p.Ways, "leave out": &p.LeaveOut, "note": &p.Notes}
	counts := map[string]*int{"rows set out or read by then": &p.RowsThen, "quadrature points": &p.Quadrature, "sites": &p.Sites, "rows": &p.Rows, "baits in each row": &p.Baits}
	numbers := map[string]*float64{"level": &p.Level, "consumed when more is gone than": &p.Fraction}
	bools := map[string]*bool{"repeat with lost baits and sites changed": &p.Repeats, "closer look at the model": &p.Closer}
	switch {
	case name == "random intercept" && value == "usual":
		p.Usual = true
	case name == "random intercept" && value == "none":
	case texts[name] != nil:
		*texts[name] = value
	case lists[name] != nil:
		*lists[name] = append(*lists[name], value)
	case counts[name] != nil:
		*counts[name], err = strconv.Atoi(value)
	case numbers[name] != nil:
		*numbers[name], err = strconv.ParseFloat(value, 64)
	case bools[name] != nil:
		*bools[name] = value == "yes"
	case slices.Contains(Kinds, name):
		p.Terms = append(p.Terms, Term{name, value})
	case name == "written":
		p.Written, err = time.Parse(time.RFC3339, value)
	case name == "check" && value == "all":
	case name == "check":
		p.Check, err = strconv.Atoi(value)
	case name == "simulated seasons" && value == "auto":
		p.Auto = true
	case name == "simulated seasons":
		p.Bootstrap, err = strconv.Atoi(value)
	case name == "seed":
		p.Seed, err = strconv.ParseUint(value, 10, 64)
	case name == "check after h":
		var h float64
		h, err = strconv.ParseFloat(value, 64)
		p.SoaksH = append(p.SoaksH, h)
	default:
		err = errForm
	}
	return err
}
