package web

import (
	"net/http"
	"strconv"
	"strings"

	"soakline/internal/prep"
	"soakline/internal/task"
	"soakline/internal/words"
)

// prepView is what so many rows need, and how helpers share the work.
type prepView struct {
	Wrong           []string
	Rows, Helpers   int
	Form            string
	Size            string
	Sum             string
	Lines           []prepLine
	Cost            string
	Priced          bool
	Before          []string
	Line            string
	Posts           []prepPost
	Kit             string
	Own             bool // the logbook keeps a kit of its own
	KitOpen, Usable bool
}

type prepLine struct{ Item, Need, Spare, Total, Buy, Cost string }

type prepPost struct {
	Steps   string
	Helpers int
	Minutes string
}

func (d *Desk) prepPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showPrep(w, r, b, http.StatusOK, nil, "")
}

// showPrep shows the page; wrong is why a kit could not be kept, and typed the
// text that was sent.
func (d *Desk) showPrep(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong error, typed string) error {
	l := d.language()
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	text, err := task.KeptKit(r.Context(), b.book)
	if err != nil {
		return err
	}
	v := prepView{Rows: atoi(r.FormValue("rows")), Helpers: atoi(r.FormValue("helpers")), Form: r.FormValue("form"), Size: strings.TrimSpace(r.FormValue("bait")), Own: text != "", Kit: text}
	if v.Kit == "" {
		v.Kit = prep.KitText()
	}
	if wrong != nil {
		p, code := explain(l, wrong)
		v.Wrong, status, v.Kit, v.KitOpen = p.Lines, code, typed, true
	}
	if v.Rows == 0 {
		v.Rows = 12
	}
	if v.Helpers == 0 {
		v.Helpers = 2
	}
	if wrong == nil {
		if err := d.reckon(&v, s, text); err != nil {
			p, code := explain(l, err)
			v.Wrong, status = p.Lines, code
		}
	}
	return d.show(w, r, b, status, "prep", l.Say("web.prep.title", nil), v)
}

// reckon fills in the quantities and the production line.
func (d *Desk) reckon(v *prepView, s *task.Season, kitText string) error {
	l := d.language()
	kit, err := task.ReadKit(kitText)
	if err != nil {
		return err
	}
	before := task.BeforeOf(s)
	ask := prep.Ask{Rows: v.Rows, Helpers: v.Helpers, Protocol: usualOf(s), Past: before.Past(), SheetsEach: 1}
	switch f := prep.Form(v.Form); f {
	case prep.Disc, prep.Square:
		ask.Form = f
	}
	if v.Size != "" {
		x, err := strconv.ParseFloat(strings.Replace(v.Size, ",", ".", 1), 64)
		if err != nil || !(x >= 1 && x <= 200) {
			return &task.Refused{Slug: "web.prep.size", With: words.P{"given": v.Size}}
		}
		ask.SizeMM = x
	}
	list, line, err := task.Prepare(kit, ask)
	if err != nil {
		return err
	}
	v.Usable = true
	v.Sum = l.Say("cmd.prep.title", words.P{"n": v.Rows, "baits": ask.Protocol.Baits, "disc": words.Ref{Slug: "cmd.prep." + string(list.Form)}, "size": list.SizeMM, "yield": list.BaitsPerPiece})
	for _, x := range list.Lines {
		v.Lines = append(v.Lines, prepLineOf(l, x))
	}
	if list.Priced > 0 {
		v.Priced, v.Cost = true, l.Say("cmd.prep.cost", words.P{"cost": list.Cost, "n": list.Priced})
	}
	v.Before = beforeWords(l, before)
	v.Line = l.Say("cmd.prep.line", words.P{"n": v.Helpers, "h": line.Minutes / 60, "even": line.Together / 60})
	for _, x := range line.Posts {
		var steps []string
		for _, s := range x.Steps {
			if words.Has("prep.step." + s) {
				s = l.Say("prep.step."+s, nil)
			}
			steps = append(steps, s)
		}
		v.Posts = append(v.Posts, prepPost{strings.Join(steps, "; "), x.Helpers, words.Number(x.Minutes, "0")})
	}
	return nil
}

func prepLineOf(l words.Language, x prep.Line) prepLine {
	amount := func(n float64) string { return strings.TrimSpace(words.Number(n, "") + " " + x.Unit) }
	out := prepLine{Item: l.Say("prep.item."+x.Item, nil), Need: amount(x.Need), Spare: words.Number(x.Spare, "%"), Total: amount(x.Total), Buy: "–", Cost: "–"}
	switch {
	case x.Item == "baits":
	case x.Pack > 1:
		out.Buy = l.Say("cmd.prep.packs", words.P{"n": x.Packs, "pack": amount(x.Pack)})
	default:
		out.Buy = words.Number(float64(x.Packs), "")
	}
	if x.Cost > 0 {
		out.Cost = words.Number(x.Cost, "2")
	}
	return out
}

// beforeWords tells what went short before, and so raises the spare.
func beforeWords(l words.Language, b task.Before) (out []string) {
	if b.BaitsWanted > b.BaitsSet {
		out = append(out, l.Say("cmd.prep.short-before", words.P{"of": b.BaitsWanted, "short": b.BaitsWanted - b.BaitsSet}))
	}
	if b.BaitsRejected > 0 {
		out = append(out, l.Say("cmd.prep.rejected-before", words.P{"of": b.BaitsMeasured, "out": b.BaitsRejected}))
	}
	if b.StakesSet > b.StakesBack {
		out = append(out, l.Say("cmd.prep.lost", words.P{"of": b.StakesSet, "lost": b.StakesSet - b.StakesBack}))
	}
	return out
}

// keepKit keeps the team's own measures, packs, prices and timings, or goes back
// to the usual ones.
func (d *Desk) keepKit(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	l := d.language()
	text := r.PostFormValue("kit")
	if r.PostFormValue("do") == "usual" || strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n")) == strings.TrimSpace(prep.KitText()) {
		text = ""
	}
	if err := task.KeepKit(r.Context(), b.book, text, d.by(l.Say("cmd.prep.keep-kit-why", nil))); err != nil {
		return d.showPrep(w, r, b, http.StatusUnprocessableEntity, err, text)
	}
	d.setFlash(flash{Text: l.Say("web.prep.kept", nil)})
	http.Redirect(w, r, "/prep", http.StatusSeeOther)
	return nil
}
