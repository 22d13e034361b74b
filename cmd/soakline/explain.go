package main

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"soakline/internal/assay"
	"soakline/internal/compare"
	"soakline/internal/desktop"
	"soakline/internal/logbook"
	"soakline/internal/rates"
	"soakline/internal/task"
	"soakline/internal/words"
)

// explain tells an error in words and gives the exit code that goes with it.
func (a *app) explain(err error) int {
	var (
		wrong     *usageError
		refused   *task.Refused
		store     *logbook.Error
		values    *task.FaultyValues
		file      *task.FaultyFile
		questions *task.Questions
		path      *fs.PathError
		desk      *desktop.Refused
		comparing *compare.OptionError
		rating    *rates.OptionError
	)
	switch {
	case errors.As(err, &wrong):
		a.print(a.err, wrong.text)
		a.print(a.err, a.say("cmd.usage.help", "path", wrong.path))
	case errors.As(err, &file):
		for _, f := range file.Faults {
			a.print(a.err, fileFault(a.lang, f))
		}
		slug := "cmd.file-refused"
		if slices.ContainsFunc(file.Faults, func(f assay.FileError) bool { return f.Column == "" }) {
			slug = "cmd.file-refused-whole" // not about cells alone
		}
		a.print(a.err, a.say(slug, "n", len(file.Faults)))
	case errors.As(err, &questions):
		a.ask(questions)
		return exitUnmet
	case errors.As(err, &values):
		for _, f := range values.Faults {
			a.print(a.err, a.say("cmd.value-fault", "column", f.Column, "wrong", a.lang.Say(f.Wrong.Slug, f.Wrong.With), "do", a.lang.Say(f.Do.Slug, f.Do.With)))
		}
	case errors.As(err, &desk):
		a.print(a.err, desk.Text)
	case errors.As(err, &refused):
		a.print(a.err, a.lang.Say(refused.Slug, refused.With))
	case errors.As(err, &comparing):
		a.print(a.err, a.lang.Say(comparing.Slug, comparing.With))
	case errors.As(err, &rating):
		a.print(a.err, a.lang.Say(rating.Slug, rating.With))
	case errors.As(err, &store):
		a.print(a.err, a.lang.Say(store.Slug, store.Params))
		if store.Slug == logbook.SlugDatabase && store.Err != nil {
			a.print(a.err, store.Err.Error())
		}
	case errors.As(err, &path) && errors.Is(err, fs.ErrNotExist):
		a.print(a.err, a.say("cmd.no-file", "file", path.Path))
	case errors.As(err, &path):
		a.print(a.err, a.say("cmd.file-closed", "file", path.Path, "said", path.Err.Error()))
	default:
		a.print(a.err, a.say("cmd.failed", "said", err.Error()))
	}
	return exitUsage
}

// at is a place in a file as told to a person, a colon and a space behind it;
// empty for no place.
func (a *app) at(p assay.Place) string {
	s := p.File
	if p.Sheet != "" {
		s += a.say("cmd.place.sheet", "sheet", p.Sheet)
	}
	if p.Line > 0 {
		s += " " + a.say("cmd.place.line", "line", p.Line)
	}
	if p.Column != "" {
		s += ", " + a.say("cmd.place.column", "column", p.Column)
	}
	if s = strings.TrimLeft(s, ", "); s == "" {
		return ""
	}
	return s + ": "
}

// fileFault is a fault in a file as told to the person who wrote it:
// "FILE: line N, column NAME: what was read; what to do".
func fileFault(l words.Language, f assay.FileError) string {
	s := f.File
	if f.Sheet != "" {
		s += l.Say("cmd.place.sheet", words.P{"sheet": f.Sheet})
	}
	s += ":"
	if f.Line > 0 {
		s += " " + l.Say("cmd.place.line", words.P{"line": f.Line})
	}
	if f.Column != "" {
		if f.Line > 0 {
			s += ","
		}
		s += " " + l.Say("cmd.place.column", words.P{"column": f.Column})
	}
	if f.Line > 0 || f.Column != "" {
		s += ":"
	}
	return fmt.Sprintf("%s %s; %s", s, l.Say(f.Wrong.Slug, f.Wrong.With), l.Say(f.Do.Slug, f.Do.With))
}
