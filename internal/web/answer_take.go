package web

import (
	"context"
	"net/http"
	"strconv"
	"strings"
	"time"

	"soakline/internal/compare"
	"soakline/internal/fitness"
	"soakline/internal/report"
	"soakline/internal/task"
)

// makeReport begins the report as work of its own: where sites are few it
// simulates seasons.
func (d *Desk) makeReport(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, o, err := d.asked(r, b)
	if err != nil {
		return err
	}
	l := d.language()
	bootstrap := -1 // as many as the season needs
	if d.o.Replicates != exactReplicates {
		bootstrap = d.o.Replicates
	}
	ask := task.ReportOptions{Lang: l, Version: d.o.Version, By: o.By, Level: o.Level, Bootstrap: bootstrap, Seed: o.Seed, Asked: o}
	if e := d.jobs.newest("exact", d.keyOf(s, o)+"#"); e != nil { // the report tells what the page tells
		var same compare.Options
		_, choice, _ := strings.Cut(e.key, "#")
		d.simulate(&same, choice)
		ask.Bootstrap, ask.BootstrapAuto = same.Bootstrap, same.BootstrapAuto
	}
	j := d.jobs.start("report", stateOf(s)+"?"+query(o)+string(l), l.Say("web.work.report", nil), answerHref(query(o)), func(ctx context.Context, j *job) (any, error) {
		ask.Progress = j.progress
		return task.ReportInput(ctx, s, ask)
	})
	j.settle(r.Context(), quickWait) // a short one is there when the page is
	http.Redirect(w, r, answerHref(query(o))+"#report", http.StatusSeeOther)
	return nil
}

func (d *Desk) getReport(w http.ResponseWriter, r *http.Request, b *opened) error {
	j := d.jobs.byID(r.PathValue("id"))
	if j == nil || j.kind != "report" {
		return errNotHere
	}
	_, _, ended, result, err := j.state()
	if err != nil {
		return err
	}
	if !ended {
		return d.working(w, r, b, j)
	}
	in, size := *result.(*report.Input), sizeOf(r)
	data, kind, name := []byte(nil), "application/pdf", "report.pdf"
	switch r.URL.Query().Get("as") {
	case "pdf":
		data, err = task.ReportPDF(in, size)
	case "wall":
		name = "wall.pdf"
		data, err = task.WallPDF(in, size)
	default:
		kind, name = "text/html; charset=utf-8", "report.html"
		data, err = report.Page(in)
	}
	if err != nil {
		return err
	}
	send(w, kind, fileName(b, name), data)
	return nil
}

// getResults sends the results as tidy tables with their dictionary.
func (d *Desk) getResults(w http.ResponseWriter, r *http.Request, b *opened) error {
	s, err := b.of(r.Context(), d.o.Now())
	if err != nil {
		return err
	}
	l := d.language()
	o, _ := optionsOf(r.URL.Query())
	j := d.quickJob(s, o)
	if !j.settle(r.Context(), time.Minute) {
		return d.working(w, r, b, j)
	}
	_, _, _, result, err := j.state()
	if err != nil {
		return err
	}
	c := result.(*computed)
	var v answerView
	d.exactState(&v, s, o, &c)
	if out := s.ToldFor(o); out != s { // a file is there to be passed on
		rough, err := compute(r.Context(), out, o, l)
		if err != nil {
			return err
		}
		if o.By == "habitat" && c.compare != nil {
			rough.compare = c.compare // which names no site
		}
		c = rough
	}
	if r.PathValue("kind") == "paper" {
		return d.sendPaper(w, r, b, s, o, c)
	}
	tables := append(report.Tidy(c.rates, c.compare), s.Outward().Conditions()...)
	switch r.PathValue("kind") {
	case "xlsx":
		data, err := report.XLSX(l, tables)
		if err != nil {
			return err
		}
		send(w, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", fileName(b, "results.xlsx"), data)
	case "csv":
		data, err := report.ZIP(l, tables)
		if err != nil {
			return err
		}
		send(w, "application/zip", fileName(b, "results.zip"), data)
	default:
		return errNotHere
	}
	return nil
}

// sendPaper sends what a paper needs of the comparison, in one archive: the methods
// section, its references, the tables, the frame and a script for R. Repetitions are
// in it where a closer look made them.
func (d *Desk) sendPaper(w http.ResponseWriter, r *http.Request, b *opened, s *task.Season, o compare.Options, c *computed) error {
	if c.compare == nil {
		return errNotHere
	}
	var variants []compare.Variant
	var closer *fitness.Result
	out := s.ToldFor(o)
	if j := d.jobs.newest("closer", d.keyOf(s, o)); j != nil && out == s {
		if _, _, ended, result, err := j.state(); ended && err == nil {
			looked := result.(*closerResult)
			variants, closer = looked.variants, looked.fitness
		}
	}
	l := d.language()
	files, err := task.PaperFiles(r.Context(), out, c.compare, variants, task.PaperOptions{Lang: l, Version: d.o.Version, Asked: o, Closer: closer})
	if err != nil {
		return err
	}
	data, err := report.Pack(files)
	if err != nil {
		return err
	}
	send(w, "application/zip", fileName(b, "paper.zip"), data)
	return nil
}

// send gives a file to keep.
func send(w http.ResponseWriter, kind, name string, data []byte) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	_, _ = w.Write(data)
}

// fileName is the logbook's name with an ending, in letters every system takes.
func fileName(b *opened, ending string) string {
	name := strings.Map(func(r rune) rune {
		if r == '-' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			return r
		}
		return '-'
	}, bookTitle(b, ""))
	return strings.Trim(name, "-") + "-" + ending
}
