package report

import (
	"fmt"
	"html/template"
	"time"

	"soakline/internal/assay"
	"soakline/internal/figure"
	"soakline/internal/words"
)

// picture is one drawing of the report, for any width.
type picture struct {
	id   string
	draw func(figure.Frame) (*figure.Drawing, error)
}

// pictures are the drawings that a report's numbers allow.
func pictures(in Input) []picture {
	l := in.Lang
	var out []picture
	strips := func(id string, s figure.Strips) {
		out = append(out, picture{id, func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawStrips(s, f) }})
	}
	if k := in.Compare; k != nil && k.Converged {
		strips("shares", SharesPicture(l, k, in.Rates))
		strips("rates", RatesPicture(l, k, in.Rates))
		if len(k.Contrasts) > 0 {
			strips("contrasts", ContrastsPicture(l, k))
		}
	}
	if len(in.Rates.Groups) > 0 {
		c := CurvesPicture(l, in.Rates)
		out = append(out, picture{"curves", func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawCurves(c, f) }})
	}
	if m, ok := MapPicture(l, in.Deployments); ok {
		out = append(out, picture{"map", func(f figure.Frame) (*figure.Drawing, error) { return figure.DrawMap(m, f) }})
	}
	return out
}

// both draws a picture for a wide page and for a phone, whose style sheets show
// one of the two: a drawing scaled down would take its words along.
func both(p picture) (template.HTML, error) {
	var out string
	for _, w := range []struct {
		class string
		px    float64
	}{{"at-wide", 720}, {"at-narrow", 336}} {
		d, err := p.draw(figure.Frame{ID: p.id + "-" + w.class, WidthMM: figure.ScreenMM(w.px), Look: figure.Screen})
		if err != nil {
			return "", fmt.Errorf("drawing %s: %w", p.id, err)
		}
		out += `<div class="` + w.class + `">` + string(d.SVG()) + `</div>`
	}
	return template.HTML(out), nil // our own drawings: their texts are escaped by the pen
}

// Figures of a paper: printed width (mm) and resolution of the PNG.
const (
	printWidthMM = 170
	pngPerMM     = 300 / 25.4
)

// Figure is one drawing as a file.
type Figure struct {
	Name string
	Data []byte
}

// Figures gives every drawing of a report as SVG, PNG at 300 dpi and PDF, all
// three the same drawing. Its PDFs carry the date of the last row set out.
func Figures(in Input) ([]Figure, error) {
	last := LastSetOut(in.Deployments)
	var out []Figure
	all := pictures(in)
	if in.Water != nil {
		for n := range in.Water.Sites {
			all = append(all, in.Water.Sites[n].pictures(in.Lang, n, true)...)
		}
	}
	for _, p := range all {
		files, err := asFiles(p, in.Lang, last)
		if err != nil {
			return nil, err
		}
		out = append(out, files...)
	}
	return out, nil
}

// LastSetOut is the time of the last row set out: the date that files made from
// records carry, since the same records must give the same bytes.
func LastSetOut(ds []assay.Deployment) time.Time {
	last := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range ds {
		if at := ds[i].SetOut.At; at.After(last) {
			last = at
		}
	}
	return last.UTC()
}

// asFiles draws a picture in print and gives it as SVG, PNG and PDF; at is the
// date that the PDF carries.
func asFiles(p picture, l words.Language, at time.Time) ([]Figure, error) {
	d, err := p.draw(figure.Frame{ID: p.id, WidthMM: printWidthMM, Look: figure.Print})
	if err != nil {
		return nil, fmt.Errorf("drawing %s: %w", p.id, err)
	}
	png, err := d.PNG(pngPerMM)
	if err != nil {
		return nil, fmt.Errorf("drawing %s: %w", p.id, err)
	}
	pdf, err := d.PDF(at.UTC(), string(l))
	if err != nil {
		return nil, fmt.Errorf("drawing %s: %w", p.id, err)
	}
	return []Figure{{p.id + ".svg", d.SVG()}, {p.id + ".png", png}, {p.id + ".pdf", pdf}}, nil
}
