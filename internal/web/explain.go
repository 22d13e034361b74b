package web

import (
	"context"
	"errors"
	"io/fs"
	"net/http"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/logbook"
	"soakline/internal/rates"
	"soakline/internal/task"
	"soakline/internal/words"
)

// problem is an error in words.
type problem struct {
	Lines []string
	Said  string // what a library said, for whom it helps
}

// explain puts an error into words, and says which status goes with it.
func explain(l words.Language, err error) (problem, int) {
	var (
		refused  *task.Refused
		store    *logbook.Error
		values   *task.FaultyValues
		file     *task.FaultyFile
		options  *compare.OptionError
		option   *rates.OptionError
		path     *fs.PathError
		tooLarge *http.MaxBytesError
	)
	one := func(slug string, with map[string]any) problem { return problem{Lines: []string{l.Say(slug, with)}} }
	switch {
	case errors.Is(err, errNotHere):
		return one("web.fail.page", nil), http.StatusNotFound
	case errors.As(err, &values):
		var p problem
		for _, f := range values.Faults {
			p.Lines = append(p.Lines, l.Say("web.fail.value", words.P{"field": fieldRef(f.Column),
				"wrong": words.Ref{Slug: f.Wrong.Slug, With: f.Wrong.With}, "do": words.Ref{Slug: f.Do.Slug, With: f.Do.With}}))
		}
		return p, http.StatusUnprocessableEntity
	case errors.As(err, &file):
		var p problem
		for _, f := range file.Faults {
			p.Lines = append(p.Lines, faultWords(l, f))
		}
		return p, http.StatusUnprocessableEntity
	case errors.As(err, &refused):
		status := http.StatusUnprocessableEntity
		if refused.Slug == "task.no-deployment" || refused.Slug == "task.no-finding" {
			status = http.StatusNotFound
		}
		slug := refused.Slug
		if words.Has("web." + slug) { // the command names its own verbs, a page does not
			slug = "web." + slug
		}
		return one(slug, refused.With), status
	case errors.As(err, &options):
		slug := options.Slug
		if words.Has("web." + slug) {
			slug = "web." + slug
		}
		return one(slug, options.With), http.StatusUnprocessableEntity
	case errors.As(err, &option):
		return one(option.Slug, option.With), http.StatusUnprocessableEntity
	case errors.As(err, &store):
		p := one(store.Slug, store.Params)
		if store.Slug == logbook.SlugDatabase && store.Err != nil {
			p.Said = store.Err.Error()
		}
		return p, http.StatusConflict
	case errors.As(err, &tooLarge):
		return one("web.fail.large", words.P{"mb": int(tooLarge.Limit >> 20)}), http.StatusRequestEntityTooLarge
	case errors.Is(err, context.Canceled):
		return one("web.fail.stopped", nil), http.StatusServiceUnavailable
	case errors.As(err, &path) && errors.Is(err, fs.ErrNotExist):
		return one("cmd.no-file", words.P{"file": path.Path}), http.StatusNotFound
	case errors.As(err, &path):
		return problem{Lines: []string{l.Say("web.fail.file", words.P{"file": path.Path})}, Said: path.Err.Error()}, http.StatusUnprocessableEntity
	}
	return problem{Lines: []string{l.Say("web.fail.other", nil)}, Said: err.Error()}, http.StatusInternalServerError
}

// fail shows an error as a page.
func (d *Desk) fail(w http.ResponseWriter, r *http.Request, b *opened, err error) {
	l := d.language()
	p, status := explain(l, err)
	f := frame{L: l, Lang: htmlLang(l), Page: "fail", Title: l.Say("web.fail.title", nil), Here: "/", Data: p, HasBook: b != nil}
	if b != nil {
		f.Book = bookTitle(b, "")
		b.mu.Lock()
		if b.season != nil {
			f.Book, f.Invented = bookTitle(b, b.season.Settings.Title), b.season.Settings.Invented
		}
		b.mu.Unlock()
	}
	if err := d.write(w, status, "fail", f); err != nil {
		http.Error(w, l.Say("web.fail.other", nil), http.StatusInternalServerError)
	}
}

// faultWords tells a fault in a file: where, what was read, what to do.
func faultWords(l words.Language, f assay.FileError) string {
	return l.Say("web.fault", words.P{"where": placeRef(f.Place),
		"wrong": words.Ref{Slug: f.Wrong.Slug, With: f.Wrong.With}, "do": words.Ref{Slug: f.Do.Slug, With: f.Do.With}})
}

// placeWords is a place in a file, for a line of its own.
func placeWords(l words.Language, p assay.Place) string {
	r := placeRef(p)
	return l.Say(r.Slug, r.With)
}

// placeRef is a place in a file as a sentence of the catalogue.
func placeRef(p assay.Place) words.Ref {
	with := words.P{"file": p.File, "sheet": p.Sheet, "line": p.Line, "column": p.Column}
	slug := "web.place.file"
	switch {
	case p.Line > 0 && p.Column != "":
		slug = "web.place.cell"
	case p.Line > 0:
		slug = "web.place.line"
	case p.Column != "":
		slug = "web.place.column"
	}
	if p.Sheet != "" {
		slug += "-sheet"
	}
	return words.Ref{Slug: slug, With: with}
}
