package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"soakline/internal/gear"
	"soakline/internal/logbook"
	"soakline/internal/task"
	"soakline/internal/words"
)

// gearView is what the team has in its hands and in the water.
type gearView struct {
	Wrong   []string
	Sum     string
	Out     []outItem
	More    int // rows behind those
	Batches []batchItem
	Fields  []string // of a batch
	Typed   map[string]string
	Cards   []string
	Pairs   []string
	Teams   []string
	Today   string
}

type outItem struct {
	Key, ID, Where, State, For, Position, Last, Seen string
	Where2                                           []string // landmarks, and what was written of stakes left
	Open, Set                                        int
	Written                                          bool // how many came back is written
}

type batchItem struct {
	Code, Says string
	Lines      []string
	Now        map[string]string // its fields as they are written
}

func (d *Desk) gearPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	return d.showGear(w, r, b, http.StatusOK, nil, nil)
}

func (d *Desk) showGear(w http.ResponseWriter, r *http.Request, b *opened, status int, wrong error, typed map[string]string) error {
	l := d.language()
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	v := gearView{Fields: task.BatchFields, Typed: typed, Today: d.o.Now().Format("2006-01-02")}
	if wrong != nil {
		p, code := explain(l, wrong)
		v.Wrong, status = p.Lines, code
	}
	list, err := task.StakesOut(r.Context(), b.book, s, d.o.Now())
	if err != nil {
		return err
	}
	v.Sum = stakesSum(l, list)
	v.More = max(0, len(list)-shownOut)
	for _, o := range list[:min(len(list), shownOut)] {
		v.Out = append(v.Out, outOf(l, o))
	}
	for _, x := range s.Batches {
		v.Batches = append(v.Batches, batchOf(l, x, s))
	}
	v.Teams = teamsOf(s)
	err = b.book.View(r.Context(), func(tx *logbook.Tx) error {
		cards, err := task.CardsRead(tx)
		out := task.ReadersList(cards)
		for _, c := range out.Cards {
			v.Cards = append(v.Cards, l.Say("web.gear.card", words.P{"reader": c.Reader, "card": int(c.Card), "right": c.Right, "of": c.Baits}))
		}
		for _, p := range out.Pairs {
			v.Pairs = append(v.Pairs, l.Say("web.gear.pair", words.P{"a": p.A, "b": p.B, "same": p.Same, "of": p.Baits, "kappa": kappa(p)}))
		}
		return err
	})
	if err != nil {
		return err
	}
	return d.show(w, r, b, status, "gear", l.Say("web.gear.title", nil), v)
}

// shownOut bounds the rows listed on one page; the sum counts them all.
const shownOut = 30

func kappa(p task.PairJSON) string {
	k, ok := p.Kappa.Get()
	if !ok {
		return "–"
	}
	return words.Number(k, "2")
}

func teamsOf(s *task.Season) []string {
	teams := map[string]string{}
	for i := range s.Deployments {
		if t := s.Deployments[i].Team; t != "" {
			teams[t] = ""
		}
	}
	return sortedNames(teams)
}

// stakesSum says in one sentence how many stakes should be back; empty when all are.
func stakesSum(l words.Language, list []gear.Out) string {
	rows, stakes := gear.Overdue(list)
	if rows == 0 {
		return ""
	}
	return l.Say("web.gear.sum", words.P{"n": rows, "stakes": stakes})
}

func outOf(l words.Language, o gear.Out) outItem {
	x := outItem{Key: o.Key, ID: o.ID, Where: joined(o.Site, o.Habitat), State: l.Say("gear.state."+string(o.State), nil), Open: o.Open, Set: o.Set, Written: o.Back.Known(), Seen: dateOf(o.LastSeen)}
	if h, ok := o.OutH.Get(); ok {
		x.For = l.Say("gear.days", words.P{"n": int(h / 24)})
		if h < 48 {
			x.For = l.Say("gear.hours", words.P{"h": int(h)})
		}
	}
	lat, okLat := o.Latitude.Get()
	lon, okLon := o.Longitude.Get()
	if okLat && okLon {
		x.Position = strconv.FormatFloat(lat, 'f', 5, 64) + ", " + strconv.FormatFloat(lon, 'f', 5, 64)
	}
	lat, okLat = o.LastLatitude.Get()
	lon, okLon = o.LastLongitude.Get()
	if okLat && okLon {
		x.Last = strconv.FormatFloat(lat, 'f', 5, 64) + ", " + strconv.FormatFloat(lon, 'f', 5, 64)
	}
	for _, t := range []string{o.Landmarks, o.Left} {
		if t != "" {
			x.Where2 = append(x.Where2, t)
		}
	}
	if len(o.Stakes) > 0 {
		var list []string
		for _, n := range o.Stakes {
			list = append(list, strconv.Itoa(n))
		}
		x.State += " (" + l.Say("gear.stakes", words.P{"list": list, "n": len(list)}) + ")"
	}
	return x
}

func batchOf(l words.Language, b gear.Batch, s *task.Season) batchItem {
	j := task.BatchAsJSON(b, s)
	x := batchItem{Code: b.Code, Now: task.BatchTexts(b), Says: joined(b.Kind, b.PreparedOn, b.Stored, l.Say("web.gear.batch-rows", words.P{"n": j.Rows}))}
	if b.ExpiresOn != "" {
		x.Lines = append(x.Lines, sentence(l.Say("task.label-expires", words.P{"day": b.ExpiresOn}))+".")
	}
	for _, t := range []struct {
		slug string
		s    *task.SummaryJSON
	}{{"gear.sizes", j.Sizes}, {"gear.lines", j.Lines}} {
		if t.s != nil {
			x.Lines = append(x.Lines, l.Say(t.slug, words.P{"n": t.s.N, "mean": t.s.MeanMM, "sd": t.s.SDMM, "min": t.s.MinMM, "max": t.s.MaxMM, "outside": t.s.Outside}))
		}
	}
	return x
}

// gearDone leads back to the page with what was done, or says what was wrong.
func (d *Desk) gearDone(w http.ResponseWriter, r *http.Request, b *opened, err error, fl flash, at string) error {
	if err != nil {
		typed := map[string]string{}
		for name := range r.PostForm {
			typed[name] = r.PostForm.Get(name)
		}
		return d.showGear(w, r, b, http.StatusUnprocessableEntity, err, typed)
	}
	b.forget()
	d.setFlash(fl)
	http.Redirect(w, r, "/gear"+at, http.StatusSeeOther)
	return nil
}

// settleOut keeps what became of a row's stakes: back, found later, or left.
func (d *Desk) settleOut(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	l := d.language()
	key := r.PostFormValue("key")
	n, err := strconv.Atoi(strings.TrimSpace(r.PostFormValue("n")))
	if err != nil {
		return d.gearDone(w, r, b, &task.Refused{Slug: "web.gear.how-many"}, flash{}, "")
	}
	fl := flash{Text: l.Say("web.done.stakes", nil), Back: "/gear"}
	switch r.PostFormValue("how") {
	case "found":
		fl.Undo, _, err = task.FindStakes(r.Context(), b.book, key, n, r.PostFormValue("at"), r.PostFormValue("where"), d.by(l.Say("web.why.found", nil)))
	case "left":
		why := r.PostFormValue("why")
		fl.Undo, _, err = task.WriteOffStakes(r.Context(), b.book, key, n, r.PostFormValue("where"), why, d.by(why))
	default:
		if n < 0 {
			err = &task.Refused{Slug: "web.gear.how-many"}
		} else {
			_, err = task.StakesBack(r.Context(), b.book, key, n, "", d.by(l.Say("web.why.back", nil)))
			fl.Undo = key
		}
	}
	return d.gearDone(w, r, b, err, fl, "#out")
}

func (d *Desk) saveBatch(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	fields := map[string]string{}
	for _, f := range task.BatchFields {
		fields[f] = strings.TrimSpace(r.PostFormValue(f))
	}
	l := d.language()
	err := task.SaveBatch(r.Context(), b.book, r.PostFormValue("code"), fields, r.PostFormValue("change") != "", d.by(l.Say("web.why.batch", nil)))
	return d.gearDone(w, r, b, err, flash{Text: l.Say("cmd.batch.done", words.P{"batch": r.PostFormValue("code")})}, "#batches")
}

func (d *Desk) checkBatch(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	l := d.language()
	_, err := task.CheckBatch(r.Context(), b.book, r.PostFormValue("code"), "", r.PostFormValue("sizes"), r.PostFormValue("lines"), d.by(l.Say("web.why.batch", nil)))
	return d.gearDone(w, r, b, err, flash{Text: l.Say("cmd.batch.done", words.P{"batch": r.PostFormValue("code")})}, "#batches")
}

func (d *Desk) keepCard(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	l := d.language()
	card, err := strconv.ParseUint(strings.TrimSpace(r.PostFormValue("card")), 10, 64)
	if err != nil {
		return d.gearDone(w, r, b, &task.Refused{Slug: "web.gear.card-number"}, flash{}, "")
	}
	c, err := task.KeepCardRead(r.Context(), b.book, r.PostFormValue("reader"), card, r.PostFormValue("answers"), d.by(l.Say("web.why.card", nil)))
	return d.gearDone(w, r, b, err, flash{Text: l.Say("web.gear.card", words.P{"reader": c.Reader, "card": int(card), "right": c.Same, "of": c.N})}, "#readers")
}

// packView is a team's packing list of one day.
type packView struct {
	task.PackList
	Lines []packItem
	Before,
	Short string
}

type packItem struct {
	N    int // place in the list
	Name string
	Own  bool
	task.PackLine
	BackText string
}

func (d *Desk) packPage(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	p, err := task.Packing(r.Context(), b.book, s, r.FormValue("team"), r.FormValue("day"), atoi(r.FormValue("rows")), atoi(r.FormValue("people")))
	if err != nil {
		return d.gearDone(w, r, b, err, flash{}, "")
	}
	l := d.language()
	v := packView{PackList: p}
	short := words.List{}
	for i, x := range p.Lines {
		item := packItem{N: i, Name: x.Item, Own: x.Own, PackLine: x}
		if !x.Own {
			item.Name = l.Say("prep.take."+x.Item, nil)
		}
		if x.Back >= 0 {
			item.BackText = strconv.Itoa(x.Back)
		}
		if n := x.Short(); n > 0 {
			short = append(short, l.Say("web.pack.short-one", words.P{"n": n, "item": item.Name}))
		}
		v.Lines = append(v.Lines, item)
	}
	if len(short) > 0 {
		v.Short = l.Say("web.pack.short", words.P{"list": short})
	}
	if p.SetBefore > p.BackBefore {
		v.Before = l.Say("cmd.prep.lost", words.P{"of": p.SetBefore, "lost": p.SetBefore - p.BackBefore})
	}
	return d.show(w, r, b, http.StatusOK, "packing", l.Say("web.pack.title", words.P{"day": p.Day}), v)
}

func (d *Desk) keepPacking(w http.ResponseWriter, r *http.Request, b *opened) error {
	if err := r.ParseForm(); err != nil {
		return err
	}
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	rows, people := atoi(r.PostFormValue("rows")), atoi(r.PostFormValue("people"))
	p, err := task.Packing(r.Context(), b.book, s, r.PostFormValue("team"), r.PostFormValue("day"), rows, people)
	if err != nil {
		return d.gearDone(w, r, b, err, flash{}, "")
	}
	for i := range p.Lines {
		n := strconv.Itoa(i)
		p.Lines[i].Taken = r.PostFormValue("taken"+n) != ""
		p.Lines[i].Back = -1
		if x, err := strconv.Atoi(strings.TrimSpace(r.PostFormValue("back" + n))); err == nil && x >= 0 {
			p.Lines[i].Back = x
		}
	}
	l := d.language()
	if err := task.KeepPacking(r.Context(), b.book, p, r.PostFormValue("own"), d.by(l.Say("web.why.pack", nil))); err != nil {
		return d.gearDone(w, r, b, err, flash{}, "")
	}
	b.forget()
	d.setFlash(flash{Text: l.Say("web.done.pack", nil)})
	http.Redirect(w, r, "/packing?"+url.Values{"team": {p.Team}, "day": {p.Day}}.Encode(), http.StatusSeeOther)
	return nil
}
